package cohort

import (
	"math"
	"testing"
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
		c := mustRead(t, Options{ClosingDate: dayPointer("2024-01-01")}, test.text)
		d := c.Deaths()
		if d.Recorded != test.recorded || d.Column != test.column || d.Used != test.used {
			t.Errorf("%s: %+v", test.name, d)
		}
	}
}

// Hand-worked: 1.2 % a year at 65, twice that at 73, half at 57, at the middle
// of the follow-up; an age not recorded counts as 65.
func TestExpectedDeaths(t *testing.T) {
	for _, test := range []struct {
		age  int
		days int32
		want float64
	}{
		{65, 0, 0},
		{64, 1461, 4 * 0.012 * math.Exp2(1.0/8)}, // four years, middle at 66
		{72, 1461, 4 * 0.024 * math.Exp2(1.0/8)},
		{56, 1461, 4 * 0.006 * math.Exp2(1.0/8)},
		{-1, 1461, 4 * 0.012 * math.Exp2(2.0/8)},
	} {
		if got := expectedDeaths(test.age, test.days); math.Abs(got-test.want) > 1e-15 {
			t.Errorf("age %d, %d days: %v, want %v", test.age, test.days, got, test.want)
		}
	}
}
