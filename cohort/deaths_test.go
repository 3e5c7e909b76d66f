package cohort_test

import (
	"testing"

	"example.org/holdfast/cohort"
)

func TestDeathsRecorded(t *testing.T) {
	repeat := func(heading, row string, n int, more ...string) string {
		lines := []string{heading}
		for range n {
			lines = append(lines, row)
		}
		return table(append(lines, more...)...)
	}
	const headings, alive = "operation_date,revision_date,age,death_date,dead", "2010-01-01,,75,,"
	for _, test := range []struct {
		name             string
		text             string
		recorded, column bool
		used             int
	}{
		{"no column", repeat("operation_date,revision_date", "2020-01-01,", 3), false, false, 0},
		{"a column, none, few expected", repeat(headings, alive, 1), true, true, 0},
		{"a column, none where several are expected", repeat(headings, alive, 100), false, true, 0},
		{"a column, one", repeat(headings, alive, 100, "2010-01-01,,75,2011-01-01,"), true, true, 1},
		{"a column, one without a date", repeat(headings+",last_seen_date", alive+",", 100, "2010-01-01,,75,,yes,2011-01-01"), true, true, 1},
		{"yes or no only", repeat("operation_date,revision_date,dead", "2020-01-01,,no", 3), true, true, 0},
	} {
		c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-01")}, test.text)
		d := c.Deaths()
		if d.Recorded != test.recorded || d.Column != test.column || d.Used != test.used {
			t.Errorf("%s: %+v", test.name, d)
		}
	}
}
