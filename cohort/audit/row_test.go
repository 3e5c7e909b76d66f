package audit_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testaudit"
)

// Where rows are very many they are made when they are asked for, and are those that an audit
// of fewer years keeps.
func TestRowsOfManyGroups(t *testing.T) {
	const surgeons = 2400
	r := rand.New(rand.NewPCG(7, 8))
	var table strings.Builder
	table.WriteString("operation_date,joint,procedure,surgeon,revision_date,death_date,last_seen_date\n")
	for i := range 2 * surgeons {
		day := func(from, to int) string {
			return fmt.Sprintf("%d-%02d-%02d", from+r.IntN(to-from), 1+r.IntN(12), 1+r.IntN(28))
		}
		op, revised, died, seen := day(2004, 2010), "", "", ""
		switch r.IntN(4) {
		case 0:
			revised = day(2010, 2020)
		case 1:
			died = day(2010, 2020)
		case 2:
			seen = day(2010, 2020)
		}
		fmt.Fprintf(&table, "%s,hip,THR,S%04d,%s,%s,%s\n", op, i%surgeons, revised, died, seen)
	}
	c := testaudit.ReadClosed(t, table.String(), cohort.Options{Keep: []string{"surgeon"}})
	o := audit.Options{By: []string{"surgeon"}, NoCells: true, WorstCase: true}
	read := func(years []float64) *audit.Audit {
		o.Years = years
		return testaudit.Run(t, c, o)
	}
	var years []float64
	for y := range 30 {
		years = append(years, float64(y+1)/2)
	}
	many, kept, more, last := read(years), read(years[:2]), read(years[2:15]), read(years[15:])
	if len(many.Groups) != surgeons+1 || many.Groups[0].Kept == nil || many.Groups[1].Kept != nil || kept.Groups[1].Kept == nil || last.Groups[1].Kept == nil {
		t.Fatalf("%d groups; rows kept of the first: %t, of the next %t", len(many.Groups), many.Groups[0].Kept != nil, many.Groups[1].Kept != nil)
	}
	for i := 0; i < len(many.Groups); i += 20 {
		var want []audit.Row
		for _, a := range []*audit.Audit{kept, more, last} {
			want = append(want, a.Groups[i].Rows()...)
		}
		if d := cmp.Diff(want, many.Groups[i].Rows(), cmpopts.EquateNaNs()); d != "" {
			t.Fatalf("%s (-want +got):\n%s", many.Groups[i].Title(), d)
		}
	}

	// Of several groups at once, in no order.
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(9, uint64(w)))
			for range 500 {
				i := r.IntN(len(many.Groups))
				if got, want := many.Groups[i].At(1).KaplanMeier.AtRisk, kept.Groups[i].At(1).KaplanMeier.AtRisk; got != want {
					t.Errorf("%s: %v at risk, want %v", many.Groups[i].Title(), got, want)
				}
			}
		})
	}
	wg.Wait()
}
