package cohort_test

import (
	"errors"
	"fmt"
	"testing"

	"example.org/holdfast/cohort"
)

// A table is refused, and not estimated from the rest, where more than half of the
// rows that are not revised would be set aside for one column.
func TestMostSetAsideForOneColumn(t *testing.T) {
	// rows is a table of joints, the first of which have a cell of their own, and
	// the last of which are revised.
	rows := func(column, cell string, bad, good, revised int) string {
		lines := []string{"operation_date,joint,procedure,side,revision_date," + column}
		for i := range bad + good + revised {
			c, rev := "", ""
			if i < bad {
				c = fmt.Sprintf(cell, 1+i%28)
			}
			if i >= bad+good {
				rev = "2014-01-01"
			}
			lines = append(lines, fmt.Sprintf("2012-01-%02d,hip,total,left,%s,%s", 1+i%28, rev, c))
		}
		return table(lines...)
	}
	for _, test := range []struct {
		name, text string
		o          cohort.Options
		want       []string // parts of the error; nil if the table is read
	}{
		{"deaths before every operation", rows("Date of death", "2011-02-%02d", 11, 9, 30), cohort.Options{},
			[]string{`t1.csv: column "Date of death": 11 of the 20 rows that are not revised would be set aside for it (death before operation; row 2 for one)`, `"Date of death" = ""`}},
		{"half of them", rows("Date of death", "2011-02-%02d", 10, 10, 30), cohort.Options{}, nil},
		{"left out", rows("Date of death", "2011-02-%02d", 11, 9, 0), cohort.Options{Columns: map[string]string{"Date of death": ""}}, nil},
		{"ages in months", rows("age", "7%02d", 20, 3, 0), cohort.Options{}, []string{`column "age": 20 of the 23 rows`, "age outside 10 to 110"}},
		{"a handful", rows("age", "7%02d", 4, 1, 0), cohort.Options{}, nil},
		{"in one of two parts", rows("age", "7%02d", 20, 3, 0), cohort.Options{Where: []cohort.Condition{{Column: "side", Value: "left"}}}, []string{`column "age"`}},
	} {
		c, err := tryRead(t, test.o, test.text)
		refused, ok := errors.AsType[*cohort.MostSetAsideError](err)
		if ok != (test.want != nil) || !ok && err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		if !ok {
			continue
		}
		wantError(t, err, test.want...)
		if c == nil || c.Account().SetAside != refused.Rows {
			t.Errorf("%s: the error comes without what can be listed", test.name)
		}
	}
}
