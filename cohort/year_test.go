package cohort_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival"
)

// A year is reached on day ⌊365.25·y⌋; the days by hand.
func TestDayOfYear(t *testing.T) {
	for years, day := range map[float64]float64{1: 365, 2.5: 913, 3: 1095, 5: 1826, 10: 3652, 15: 5478, 17.5: 6391, 20: 7305} {
		if got := cohort.DayOfYear(years); got != day {
			t.Errorf("%v years: day %v, want %v", years, got, day)
		}
	}
}

// A joint operated on 2022-12-31 and closed on 2023-12-31 has been followed for
// one year.
func TestFirstAnniversaryIsOneYear(t *testing.T) {
	table := "operation_date,joint,procedure,revision_date\n" + strings.Repeat("2022-12-31,hip,total,\n", 40)
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2023-12-31")}, table)
	g, err := c.Tally(nil, cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	for _, counts := range g.Set.All() {
		km, err := survival.KaplanMeier(counts.Table(), cohort.CauseRevision)
		if err != nil {
			t.Fatal(err)
		}
		if p, ok := km.At(cohort.DayOfYear(1), survival.Interval{}); !ok || p.AtRisk != 40 || p.SeenTo != 40 {
			t.Errorf("at one year: %+v %v", p, ok)
		}
	}
}

// The atoms of a table are its joints told apart by all that a published figure
// can state.
func TestAtoms(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01"), Keep: []string{"diagnosis"}}, table(
		"operation_date,joint,procedure,bearing,age,diagnosis,revision_date",
		"2010-01-01,hip,THR,MoP,54,OA,",           // 3652 days: ten years
		"2010-01-02,hip,THR,MoP,55,OA,2011-01-01", // 3651 days
		"2015-01-01,hip,THR,CoC,64,,",
		"2015-01-02,hip,THR,CoC,,,",
	))
	set, err := c.Atoms([]int{55, 65}, []float64{1, 5, 10}, nil, cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"hip total metal-on-polyethylene not recorded not recorded not recorded osteoarthritis 2010 <55 10",
		"hip total metal-on-polyethylene not recorded not recorded not recorded osteoarthritis 2010 55-64 5",
		"hip total ceramic-on-ceramic not recorded not recorded not recorded not recorded 2015 55-64 5",
		"hip total ceramic-on-ceramic not recorded not recorded not recorded not recorded 2015 not recorded 1",
	}
	var got []string
	for _, k := range set.Keys() {
		got = append(got, strings.Join(set.Words(k, "All"), " "))
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}
