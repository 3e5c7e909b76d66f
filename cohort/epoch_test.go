package cohort_test

import (
	"fmt"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
)

// Days last seen that are numbers counted from 1904, beside days that are not, are
// pointed out; days that end early for another reason, or few, are not. 44926 is 31
// December 2022, and 1462 days less what a spreadsheet that counts from 1904 has.
func TestDaysCountedFrom1904(t *testing.T) {
	for _, test := range []struct {
		name       string
		rows, less int
		more       string
		want       bool
	}{
		{"counted from 1904", 30, 1462, "", true},
		{"counted from 1900", 30, 0, "", false},
		{"two years early", 30, 731, "", false},
		{"too few to say", 4, 1462, "", false},
		{"one is no number", 30, 1462, "2010-01-01,,2018-12-01", false},
		{"some operated on later than the closing date", 30, 1462, "2024-06-01,,", true},
		{"revised later than the closing date", 30, 1462, "2010-01-01,2024-06-01,", true},
		{"later, and counted from 1900", 30, 0, "2024-06-01,,", false},
	} {
		t.Run(test.name, func(t *testing.T) {
			rows := []string{"operation_date,revision_date,Last seen"}
			for i := range test.rows {
				rows = append(rows, fmt.Sprintf("20%02d-12-01,,%d", 10+i%13, 44926-30*(i%10)-test.less))
			}
			if test.more != "" {
				rows = append(rows, test.more)
			}
			c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-12-31")}, table(rows...))
			f := c.Files[0]
			if said := strings.Contains(f.SeenEarly, `"Last seen"`); said != test.want || said != strings.Contains(strings.Join(f.Notes, ""), "1904") {
				t.Errorf("%q, notes %q", f.SeenEarly, f.Notes)
			}
		})
	}
}
