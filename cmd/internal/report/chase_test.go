package report

import (
	"testing"

	"example.org/holdfast/cohort"
)

// The first rows are named by number, whatever is wrong with each, and each table once.
func TestRowsAreNamedInOrder(t *testing.T) {
	one := &cohort.Cohort{Files: []cohort.File{{Name: "own.csv"}}}
	two := &cohort.Cohort{Files: []cohort.File{{Name: "book.xlsx", Sheet: "Primaries"}, {Name: "lists/redos.csv"}}}
	rows := func(of ...[2]int) (all []cohort.Problem) {
		for _, r := range of {
			all = append(all, cohort.Problem{File: r[0], Row: r[1]})
		}
		return all
	}
	for _, test := range []struct {
		of   *cohort.Cohort
		rows []cohort.Problem
		want string
	}{
		{one, nil, ""},
		{one, rows([2]int{0, 9}), "9"},
		{one, rows([2]int{0, 9}, [2]int{0, 12}, [2]int{0, 5}, [2]int{0, 7}), "5, 7, 9, …"},
		{one, []cohort.Problem{{Row: 20}, {Row: 4, To: 6}}, "4–6, 20"},
		{two, rows([2]int{0, 9}, [2]int{0, 5}), "5, 9 of Primaries"},
		{two, rows([2]int{1, 2}, [2]int{0, 9}, [2]int{0, 5}), "5, 9 of Primaries, 2 of lists/redos.csv"},
		{two, rows([2]int{1, 2}, [2]int{0, 9}, [2]int{0, 5}, [2]int{1, 1}), "5, 9 of Primaries, 1, … of lists/redos.csv"},
	} {
		if got := whichOf(test.of, test.rows, 3); got != test.want {
			t.Errorf("%v: %q, want %q", test.rows, got, test.want)
		}
	}
}
