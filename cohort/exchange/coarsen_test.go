package exchange_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/exchange"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// Days between two whole months become one of them, the days of whole months stay, and
// these are the days on which whole and half years are reached.
func TestDaysAreCoarsened(t *testing.T) {
	for _, test := range []struct {
		to           exchange.Coarse
		first, years int
		most         int32
	}{{exchange.ByMonths, 30, 12, 15}, {exchange.ByQuarters, 91, 4, 45}} {
		if b := exchange.CoarseBound(test.to, 1); b != int32(test.first) {
			t.Errorf("%s: the first is reached on day %d", test.to, b)
		}
		for half := range 80 {
			if b := exchange.CoarseBound(test.to, half*test.years/2); float64(b) != cohort.DayOfYear(float64(half)/2) {
				t.Errorf("%s: %v years are reached on day %d", test.to, float64(half)/2, b)
			}
		}
		if most := exchange.CoarseMost(test.to); most != test.most {
			t.Errorf("%s: a day is moved by %d", test.to, most)
		}
		for part := range 12 * test.years {
			from, to := exchange.CoarseBound(test.to, part), exchange.CoarseBound(test.to, part+1)
			for d := from; d < to; d++ {
				want := (from + to) / 2
				if d == from {
					want = d
				}
				if got := exchange.CoarseDay(test.to, d); got != want {
					t.Fatalf("%s: day %d is told as %d, want %d", test.to, d, got, want)
				}
			}
		}
	}
}

// estimates are cumulative revision, its cumulative incidence, and who is at risk on a day.
func estimates(t *testing.T, c *tally.Counts, day int32) (revision, incidence, atRisk float64) {
	t.Helper()
	km, err := survival.KaplanMeier(c.Table(), 1)
	if err != nil {
		t.Fatal(err)
	}
	aj, err := survival.CumulativeIncidence(c.Table(), 1)
	if err != nil {
		t.Fatal(err)
	}
	p, ok := km.At(float64(day), survival.Interval{})
	if !ok {
		return 0, 0, 0
	}
	q, _ := aj.At(float64(day), survival.Interval{})
	return p.Estimate, q.Estimate, p.AtRisk
}

// Of whatever days some coarsened counts may have been, no estimate at a whole quarter is
// further off than is said, and cumulative revision is never too high; and days that are
// as far off as is said are among them. The days are drawn by chance, and set so that
// revisions come last.
func TestNoErrorOfCoarseningIsGreater(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	reached := 0
	for try := range 400 {
		true_, coarse, last := tally.New(2), tally.New(2), tally.New(2)
		for range 11 + rng.IntN(30) {
			d, cause := rng.Int32N(400), max(0, rng.IntN(5)-2)
			true_.Add(d, cause)
			told := exchange.CoarseDay(exchange.ByQuarters, d)
			coarse.Add(told, cause)
			if cause == 1 && told != d {
				told++ // after all others between the same two days
			}
			last.Add(told, cause)
		}
		for range 10 {
			for _, c := range []*tally.Counts{true_, coarse, last} {
				c.Add(500, 0) // at risk throughout
			}
		}
		said := exchange.CoarseErrorOf(exchange.ByQuarters, coarse)
		worst := 0.0
		for part := range 6 {
			day := exchange.CoarseBound(exchange.ByQuarters, part)
			revision, incidence, atRisk := estimates(t, true_, day)
			told, toldIncidence, toldAtRisk := estimates(t, coarse, day)
			if atRisk != toldAtRisk {
				t.Fatalf("try %d, day %d: %v at risk, told %v", try, day, atRisk, toldAtRisk)
			}
			if low := revision - told; low < -1e-12 || low > said.Revision+1e-12 {
				t.Errorf("try %d, day %d: cumulative revision %v, told %v, which is said to be too low by at most %v", try, day, revision, told, said.Revision)
			}
			if off := math.Abs(incidence - toldIncidence); off > said.Incidence+1e-12 {
				t.Errorf("try %d, day %d: incidence %v, told %v, said to be off by at most %v", try, day, incidence, toldIncidence, said.Incidence)
			}
			revision, _, _ = estimates(t, last, day)
			worst = max(worst, revision-told)
		}
		if math.Abs(worst-said.Revision) < 1e-12 && worst > 0 {
			reached++
		}
	}
	if reached < 350 {
		t.Errorf("the error of cumulative revision is reached in %d of 400 tries", reached)
	}
}

// An audit of coarsened tallies has at whole years the joints at risk and the numbers
// revised of the rows, estimates no further off than it says, and says so.
func TestAuditsOfCoarsenedTallies(t *testing.T) {
	names := sites(t, 3)
	rows, err := audit.Run(read(t, cohort.Options{Keep: audit.Statable()}, names...), audit.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, to := range []exchange.Coarse{exchange.ByMonths, exchange.ByQuarters} {
		pool, err := exchange.NewPool(tallies(t, names, audit.Statable(), exchange.Options{Coarsen: to})...)
		if err != nil {
			t.Fatal(err)
		}
		whole, group, err := pool.CoarseError()
		if err != nil {
			t.Fatal(err)
		}
		a, err := audit.Run(pool, audit.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Groups) != len(rows.Groups) {
			t.Fatalf("%s: %d groups, of the rows %d", to, len(a.Groups), len(rows.Groups))
		}
		compared, differ := 0, 0
		for i, g := range a.Groups {
			of := rows.Groups[i]
			allowed := group
			if g.Pooling == audit.AllJoints {
				allowed = whole
			}
			for j, r := range g.Rows() {
				want := of.Rows()[j]
				if r.KaplanMeier.AtRisk != want.KaplanMeier.AtRisk || r.KaplanMeier.Events != want.KaplanMeier.Events {
					t.Errorf("%s, group %d at %v years: %v at risk, %v revised; of the rows %v and %v", to, i, r.Years, r.KaplanMeier.AtRisk, r.KaplanMeier.Events, want.KaplanMeier.AtRisk, want.KaplanMeier.Events)
				}
				if g.Pooling == audit.Cell || !r.Reached || r.KaplanMeier.AtRisk < 10 {
					continue
				}
				compared++
				low := want.KaplanMeier.Estimate - r.KaplanMeier.Estimate
				if low > 1e-9 {
					differ++
				}
				if low < -1e-12 || low > allowed.Revision+1e-12 || math.Abs(want.Incidence.Estimate-r.Incidence.Estimate) > allowed.Incidence+1e-12 {
					t.Errorf("%s, group %d at %v years: %v and %v, of the rows %v and %v; allowed %+v", to, i, r.Years, r.KaplanMeier.Estimate, r.Incidence.Estimate, want.KaplanMeier.Estimate, want.Incidence.Estimate, allowed)
				}
			}
		}
		if compared < 60 || differ < 20 {
			t.Errorf("%s: %d estimates compared, of which %d differ", to, compared, differ)
		}
		if want := fmt.Sprintf("Days of follow-up were coarsened to %s.", to); len(a.Notes) < 2 || a.Notes[1][:len(want)] != want {
			t.Errorf("%s: notes %q", to, a.Notes)
		}
		t.Logf("%s: %+v, %+v", to, whole, group)
	}
}
