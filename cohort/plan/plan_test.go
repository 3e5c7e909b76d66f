package plan_test

import (
	"errors"
	"math"
	"testing"

	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/plan"
)

// exact is a published 5 % without error.
var exact = benchmark.Figure{Years: 10, Revision: .05, Lower: math.NaN(), Upper: math.NaN()}

// Counts that read, chances and smallest ratios beside 5 % taken as exact. Calculated with R 4.2.2: counts with
// qbeta by the rule of the reading, chances with pbinom, ratios with qbeta.
func TestWhatASeriesCanShow(t *testing.T) {
	for _, x := range []struct {
		joints, above, below int
		chances              [4]float64 // of a reading above at ratios 1, 1.5, 2 and 3
		ratio, under         float64
	}{
		{50, 7, -1, [4]float64{.012, .078, .230, .639}, 3.52, math.NaN()},
		{100, 11, 0, [4]float64{.011, .129, .417, .901}, 2.68, .045},
		{200, 17, 3, [4]float64{.024, .332, .793, .998}, 2.01, .23},
		{500, 36, 15, [4]float64{.020, .625, .988, 1}, 1.63, .50},
		{1000, 65, 36, [4]float64{.021, .898, 1, 1}, 1.43, .64},
	} {
		r := benchmark.ReachOf(x.joints, exact)
		if r.Above != x.above || r.Below != x.below {
			t.Errorf("%d joints: above from %d, below to %d, want %d and %d", x.joints, r.Above, r.Below, x.above, x.below)
		}
		for i, ratio := range []float64{1, 1.5, 2, 3} {
			if got := r.ChanceAbove(ratio * .05); math.Abs(got-x.chances[i]) > 5.1e-4 {
				t.Errorf("%d joints: above at %v times with %v, want %v", x.joints, ratio, got, x.chances[i])
			}
		}
		above, below := plan.Smallest(r, .05, .8)
		if math.Abs(above-x.ratio) > .0051 || math.IsNaN(below) != math.IsNaN(x.under) || math.Abs(below-x.under) > .0051 {
			t.Errorf("%d joints: ratios %v and %v, want %v and %v", x.joints, above, below, x.ratio, x.under)
		}
		// The closed form is the root of the exact power.
		if p := r.ChanceAbove(above * .05); math.Abs(p-.8) > 1e-12 {
			t.Errorf("%d joints: power %v", x.joints, p)
		}
		if p := plan.ChanceBelow(r, below*.05); !math.IsNaN(below) && math.Abs(p-.8) > 1e-12 {
			t.Errorf("%d joints: power below %v", x.joints, p)
		}
	}
}

// Joints of which 0 to 10 are revised, and whose upper limit is not above 5 %; and
// joints needed for an 80 % chance of it. Calculated with R 4.2.2 (qbeta, pbinom).
func TestJointsNeeded(t *testing.T) {
	for revised, want := range []int{72, 110, 142, 173, 202, 230, 258, 285, 312, 338, 364} {
		if got := plan.FewestWith(revised, .05, .95); got != want {
			t.Errorf("%d revised: %d joints, want %d", revised, got, want)
		}
	}
	for truth, want := range map[float64]int{.01: 173, .02: 338, .025: 515, .03: 851, .035: 1559, .04: 3594} {
		got, err := plan.JointsNeeded(truth, .05, .8, .95)
		if err != nil || got != want {
			t.Errorf("truth %v: %d joints, %v, want %d", truth, got, err, want)
		}
	}
	if _, err := plan.JointsNeeded(.05, .05, .8, .95); !errors.Is(err, plan.ErrNever) {
		t.Errorf("truth at the bound: %v", err)
	}
	if _, err := plan.JointsNeeded(2, 5, .8, .95); err == nil {
		t.Error("per cent are taken as proportions")
	}
}

// A practice of 100 joints a year, 2 % or 3 % revised at ten years (Weibull, shape .8), 2 % dying a year. An
// independent simulation in R 4.2.2 of 300 runs found the bound of 5 % shown after 12 and 13 years in 77 and 94 %, and
// with 3 % after 12 to 17 years in 25, 42, 61, 69, 76 and 88 %, give or take 3.
func TestWhen(t *testing.T) {
	runs := 400
	if testing.Short() {
		runs = 100
	}
	for _, x := range []struct {
		truth float64
		from  int
		want  []float64
	}{{.02, 12, []float64{.77, .94}}, {.03, 12, []float64{.25, .42, .61, .69, .76, .88}}} {
		truth := func(y float64) float64 { return -math.Expm1(math.Log1p(-x.truth) * math.Pow(y/10, .8)) }
		a := plan.Accrual{PerYear: 100, Dying: -math.Expm1(-.02), Truth: truth, Bound: .05, Years: 10, Level: .95}
		got, err := plan.When(a, x.from+len(x.want)-1, runs, 1)
		if err != nil {
			t.Fatal(err)
		}
		for i, want := range x.want {
			c := got[x.from+i-1]
			// Four standard errors of both simulations.
			if within := 4 * math.Sqrt(want*(1-want)*(1/300.+1/float64(runs))); c.Year != x.from+i || math.Abs(c.Shown-want) > within {
				t.Errorf("%v %% after %d years: shown in %v, want %v ± %v", 100*x.truth, x.from+i, c.Shown, want, within)
			}
		}
		again, _ := plan.When(a, 12, 10, 7)
		if same, _ := plan.When(a, 12, 10, 7); same[11] != again[11] {
			t.Error("the same seed gives other numbers")
		}
	}
	if _, err := plan.When(plan.Accrual{}, 5, 10, 1); err == nil {
		t.Error("nothing is taken for a practice")
	}
}

// Joints that stand so far are continued: 300 followed for nine years of which none was
// revised need no more than the year, while revisions that happened stay.
func TestStanding(t *testing.T) {
	never := func(float64) float64 { return 0 }
	a := plan.Accrual{Truth: never, Bound: .05, Years: 10, Level: .95}
	for range 300 {
		a.Standing = append(a.Standing, plan.Standing{Days: 9 * 365})
	}
	shown := func() []float64 {
		c, err := plan.When(a, 2, 1, 1)
		if err != nil {
			t.Fatal(err)
		}
		return []float64{c[0].Shown, c[1].Shown}
	}
	if got := shown(); got[0] != 0 || got[1] != 1 { // 9·365 + 365 days are 3650, two short of ten years
		t.Errorf("shown %v", got)
	}
	for i := range 20 {
		a.Standing[i] = plan.Standing{Days: 100, Cause: 1}
	}
	if got := shown(); got[1] != 0 {
		t.Errorf("20 of 300 revised, and shown %v", got)
	}
}
