package disclose_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testaudit"
)

// surgeonsOf is a table of eight surgeons with ten joints each, who can be told
// apart by the year of their operations; the last joint of the table is operated
// on in the month given.
func surgeonsOf(month int) string {
	var b strings.Builder
	b.WriteString("operation_date,revision_date,joint,procedure,surgeon\n")
	for i := range 80 {
		m := 1
		if i == 79 {
			m = month
		}
		fmt.Fprintf(&b, "20%02d-%02d-0%d,,hip,total,Name%c\n", 1+i/10, m, 1+i%9, 'A'+i/10)
	}
	return b.String()
}

// order is the surgeons in the order in which their numbers stand, told by their
// implant-years, which fall with the year of operation.
func order(t *testing.T, table string) []int {
	t.Helper()
	c := testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t), Keep: []string{"surgeon"}})
	a := share(t, c, audit.Options{By: []string{"surgeon"}, Years: []float64{1, 2}})
	type numbered struct {
		word  string
		years float64
	}
	var all []numbered
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Pooling == audit.OneField {
			all = append(all, numbered{g.Word("surgeon"), -g.ImplantYears})
		}
	}
	for i, n := range all {
		if want := fmt.Sprintf("surgeon %d", i+1); n.word != want {
			t.Errorf("group %d is %q", i+1, n.word)
		}
	}
	var ranks []int
	for _, n := range all {
		rank := 0
		for _, m := range all {
			if m.years < n.years {
				rank++
			}
		}
		ranks = append(ranks, rank)
	}
	return ranks
}

// TestNumbersFollowNoList: the numbers of words as typed stand in no order that
// somebody with a list of the words knows, and are the same for the same table.
func TestNumbersFollowNoList(t *testing.T) {
	first, again := order(t, surgeonsOf(1)), order(t, surgeonsOf(1))
	if !slices.Equal(first, again) {
		t.Errorf("%v, and the second time %v", first, again)
	}
	if slices.IsSorted(first) {
		t.Errorf("in the order of the alphabet: %v", first)
	}
	// One joint a month later: the exact numbers make the key.
	for month := 2; month <= 12; month++ {
		if other := order(t, surgeonsOf(month)); !slices.Equal(first, other) {
			return
		}
	}
	t.Errorf("the order %v does not depend on the table", first)
}
