package cohort_test

import (
	"strings"
	"testing"

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
