package benchmark

import (
	"errors"
	"math"
	"testing"

	"example.org/holdfast/survival"
)

// followed is the life table of n joints: some revised on day 10, some dead on
// day 20, the rest followed to day 1000. Nobody is censored before day 1000, so
// that the proportion revised is binomial.
func followed(n, revised, died float64) *survival.Table {
	return &survival.Table{
		Time:     []float64{10, 20, 1000},
		AtRisk:   []float64{n, n - revised, n - revised - died},
		Event:    [][]float64{{revised, 0, 0}, {0, died, 0}},
		Censored: []float64{0, 0, n - revised - died},
	}
}

func curves(t testing.TB, table *survival.Table) (km, incidence *survival.Curve) {
	t.Helper()
	km, err := survival.KaplanMeier(table, 1)
	if err != nil {
		t.Fatal(err)
	}
	incidence, err = survival.CumulativeIncidence(table, 1)
	if err != nil {
		t.Fatal(err)
	}
	return km, incidence
}

// Years of 100 days in these tests: a figure at 1 year is read on day 100.
const daysPerYear = 100

func at1(revision float64) Figure {
	return Figure{Years: 1, Revision: revision, Lower: math.NaN(), Upper: math.NaN()}
}

func TestMOVER(t *testing.T) {
	wilson := func(x, n float64) (p, l, u float64) {
		// Wilson, JASA 1927;22:209.
		const z = 1.959963984540054 // standard normal quantile at .975
		p = x / n
		middle := (p + z*z/(2*n)) / (1 + z*z/n)
		half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
		return p, middle - half, middle + half
	}
	p1, l1, u1 := wilson(56, 70)
	p2, l2, u2 := wilson(48, 80)
	tests := []struct {
		name               string
		p, l, u, P, L, U   float64
		diff, lower, upper float64
		tolerance          float64
		source             string
	}{
		{name: "per cent", p: 8, l: 4.5, u: 14, P: 5, L: 4.7, U: 5.3, diff: 3, lower: -.51283, upper: 9.00750, tolerance: 5e-6,
			source: "hand-worked: 3 − √(3.5² + .3²), 3 + √(6² + .3²)"},
		{name: "Wilson limits", p: p1, l: l1, u: u1, P: p2, L: l2, U: u2, diff: .2, lower: .05243, upper: .33387, tolerance: 5e-6,
			source: "hand-worked from Wilson's limits; Newcombe, Stat Med 1998;17:873, method 10"},
		{name: "exact", p: .08, l: .045, u: .14, P: .05, L: .05, U: .05, diff: .03, lower: -.005, upper: .09, tolerance: 1e-15,
			source: "the own limits less the figure"},
		{name: "both exact", p: 1, l: 1, u: 1, P: .5, L: .5, U: .5, diff: .5, lower: .5, upper: .5},
	}
	for _, test := range tests {
		diff, lower, upper := MOVER(test.p, test.l, test.u, test.P, test.L, test.U)
		if math.Abs(diff-test.diff) > 1e-15 || math.Abs(lower-test.lower) > test.tolerance || math.Abs(upper-test.upper) > test.tolerance {
			t.Errorf("%s: %v %v %v, want %v %v %v (%s)", test.name, diff, lower, upper, test.diff, test.lower, test.upper, test.source)
		}
	}
	if _, lower, upper := MOVER(.1, math.NaN(), .2, .1, .05, .2); !math.IsNaN(lower) || math.IsNaN(upper) {
		t.Errorf("NaN lower limit: %v %v", lower, upper)
	}
}

func TestReading(t *testing.T) {
	limited := func(p, l, u float64) Figure { return Figure{Years: 1, Revision: p, Lower: l, Upper: u} }
	tests := []struct {
		name       string
		n, revised float64
		figure     Figure
		want       Reading
		notes      Note
	}{
		// None revised: 1 − .025^(1/Y) must lie below the figure. ln .025/ln .95 =
		// 71.9, ln .025/ln .99 = 367.04, ln .025/ln .956 = 81.98.
		{"5 %, 71 at risk", 71, 0, at1(.05), TooFew, TakenAsExact | ZeroNotBelow},
		{"5 %, 72 at risk", 72, 0, at1(.05), Below, TakenAsExact},
		{"1 %, 367 at risk", 367, 0, at1(.01), TooFew, TakenAsExact | ZeroNotBelow},
		{"1 %, 368 at risk", 368, 0, at1(.01), Below, TakenAsExact},
		{"4.4 %, 81 at risk", 81, 0, at1(.044), TooFew, TakenAsExact | ZeroNotBelow},
		{"4.4 %, 82 at risk", 82, 0, at1(.044), Below, TakenAsExact},
		// The number still at risk counts, not the number of joints.
		{"75 joints, 4 revised, 71 at risk", 75, 4, at1(.05), TooFew, TakenAsExact | ZeroNotBelow},
		{"76 joints, 4 revised, 72 at risk", 76, 4, at1(.05), Compatible, TakenAsExact},
		// With limits: √(.047·.053) = .04991, ln .025/ln .95009 = 72.05.
		{"5 % (4.7-5.3), 72 at risk", 72, 0, limited(.05, .047, .053), TooFew, ZeroNotBelow},
		{"5 % (4.7-5.3), 73 at risk", 73, 0, limited(.05, .047, .053), Below, 0},
		{"limits reach 0", 100000, 0, limited(.02, 0, .06), TooFew, ZeroNotBelow | ReachesZero},
		{"limits reach 0, above", 100, 50, limited(.02, 0, .06), Above, 0},
		// Clopper–Pearson limits of 5 in 100 are 1.64 to 11.28 % (calculated with
		// R 4.2.2, binom.test).
		{"above 1.6 %", 100, 5, at1(.0164), Above, TakenAsExact},
		{"not above 1.7 %", 100, 5, at1(.017), TooFew, TakenAsExact | ZeroNotBelow}, // 215 needed
		{"compatible with 4 %", 100, 5, at1(.04), Compatible, TakenAsExact},         // 91 needed, 95 there
		{"compatible with 11.2 %", 100, 5, at1(.112), Compatible, TakenAsExact},
		{"below 11.3 %", 100, 5, at1(.113), Below, TakenAsExact},
		// Fewer than ten at risk says nothing, however high.
		{"9 at risk", 20, 11, at1(.05), TooFew, TakenAsExact | FewerThanTen},
		{"10 at risk", 21, 11, at1(.05), Above, TakenAsExact},
		{"0 % published, none revised", 5000, 0, at1(0), TooFew, TakenAsExact | ZeroNotBelow | ReachesZero},
		{"0 % published, some revised", 5000, 5, at1(0), Above, TakenAsExact},
		{"100 % published", 12, 0, at1(1), Below, TakenAsExact},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			km, incidence := curves(t, followed(test.n, test.revised, 0))
			for _, e := range []Measure{OneMinusKaplanMeier, Incidence} {
				// Without censoring and deaths both estimates are the proportion, and
				// both intervals are Clopper and Pearson's.
				c, err := Compare(km, incidence, &Series{Estimand: e}, test.figure, survival.Interval{}, daysPerYear)
				if err != nil {
					t.Fatal(err)
				}
				notes := c.Notes &^ NearTheLine // depends on the printed interval; see TestNearTheLine
				if c.Reading != test.want || notes != test.notes {
					t.Errorf("%v: %v (%v), want %v (%v); basis %+v", e, c.Reading, c.Notes, test.want, test.notes, c.Basis)
				}
				if lower, upper := survival.BinomialLimits(test.revised, test.n, .95); math.Abs(c.Basis.Lower-lower) > 1e-9 ||
					test.revised > 0 && math.Abs(c.Basis.Upper-upper) > 1e-9 {
					t.Errorf("%v: basis %v to %v, want %v to %v", e, c.Basis.Lower, c.Basis.Upper, lower, upper)
				}
				if c.PublishedExact != (test.notes&TakenAsExact != 0) || c.NearTheLine != (c.Notes&NearTheLine != 0) || !c.Reached {
					t.Errorf("%v: %+v", e, c)
				}
			}
		})
	}
}

// Needed agrees with the rule it is made from, and with the numbers of joints
// printed in the documentation.
func TestNeeded(t *testing.T) {
	figures := map[Figure]float64{
		at1(.05): 72, at1(.01): 368, at1(.044): 82,
		{Years: 1, Revision: .05, Lower: .047, Upper: .053}: 73,
		{Years: 1, Revision: .05, Level: .9}:                59, // ln .05/ln .95 = 58.4
		{Years: 1, Revision: .02, Lower: 0, Upper: .06}:     math.Inf(1),
		at1(0): math.Inf(1), at1(1): 1,
	}
	for f, want := range figures {
		if got := Needed(f); got != want {
			t.Errorf("%+v: %v, want %v", f, got, want)
		}
		if math.IsInf(want, 1) {
			if zeroReadsBelow(1e9, f) {
				t.Errorf("%+v: can read below", f)
			}
			continue
		}
		if !zeroReadsBelow(want, f) || zeroReadsBelow(want-1, f) {
			t.Errorf("%+v: the rule is not met first at %v", f, want)
		}
	}
}

func TestCompareDifference(t *testing.T) {
	km, _ := curves(t, followed(100, 8, 0))
	f := Figure{Years: 1, Revision: .05, Lower: .047, Upper: .053}
	for _, method := range []survival.Method{survival.LogLog, survival.Log, survival.Plain, survival.BetaProduct} {
		c, err := Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, f, survival.Interval{Method: method}, daysPerYear)
		if err != nil {
			t.Fatal(err)
		}
		p, _ := km.At(100, survival.Interval{Method: method})
		d, l, u := MOVER(p.Estimate, p.Lower, p.Upper, .05, .047, .053)
		if c.Own != p || c.Difference != d || c.DifferenceLower != l || c.DifferenceUpper != u {
			t.Errorf("%v: %+v", method, c)
		}
		if c.Reading != Compatible || c.Basis.Lower != c.Basis.Lower {
			t.Errorf("%v: %v; the reading must not depend on the method", method, c.Reading)
		}
	}
}

// The printed interval and the reading may differ; then the note says so.
func TestNearTheLine(t *testing.T) {
	km, _ := curves(t, followed(1000, 20, 0))
	c, err := Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, at1(.0126), survival.Interval{}, daysPerYear)
	if err != nil {
		t.Fatal(err)
	}
	if !(c.Own.Lower > .0126 && c.Basis.Lower < .0126) {
		t.Fatalf("no longer a case between: %v %v", c.Own.Lower, c.Basis.Lower)
	}
	if c.Reading != Compatible || !c.NearTheLine || c.Notes != TakenAsExact|NearTheLine {
		t.Errorf("%v, notes %v", c.Reading, c.Notes)
	}
	c, _ = Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, at1(.0126), survival.Interval{Method: survival.BetaProduct}, daysPerYear)
	if c.NearTheLine {
		t.Error("near the line though both intervals are one")
	}
	// Of few, the printed interval may say what the reading does not.
	few, _ := curves(t, followed(20, 11, 0))
	c, _ = Compare(few, nil, &Series{Estimand: OneMinusKaplanMeier}, at1(.05), survival.Interval{}, daysPerYear)
	if !(c.DifferenceLower > 0) || c.Reading != TooFew || c.Notes != TakenAsExact|FewerThanTen|NearTheLine {
		t.Errorf("%v, notes %v", c.Reading, c.Notes)
	}
	// Plain limits never decide.
	plain := survival.Interval{Method: survival.Plain}
	p, _ := km.At(100, plain)
	c, _ = Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, at1(p.Upper+.0005), plain, daysPerYear)
	if c.Reading != Compatible || !c.NearTheLine {
		t.Errorf("%v, notes %v", c.Reading, c.Notes)
	}
	// Nothing is near a line that it could not have crossed: of 20 joints not even none revised
	// reads below 16 % (ln .025/ln .84 = 21.2).
	twenty, _ := curves(t, followed(20, 1, 0))
	c, _ = Compare(twenty, nil, &Series{Estimand: OneMinusKaplanMeier}, at1(.16), plain, daysPerYear)
	if !(c.DifferenceUpper < 0) || c.Reading != TooFew || c.Notes != TakenAsExact|ZeroNotBelow {
		t.Errorf("%v, notes %v", c.Reading, c.Notes)
	}
}

func TestCompareLevels(t *testing.T) {
	km, _ := curves(t, followed(100, 5, 0))
	f := Figure{Years: 1, Revision: .05, Lower: .047, Upper: .053, Level: .95}
	c, err := Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, f, survival.Interval{Level: .9}, daysPerYear)
	if err != nil {
		t.Fatal(err)
	}
	if c.Notes != OtherLevel || !math.IsNaN(c.DifferenceLower) || !math.IsNaN(c.DifferenceUpper) || c.Difference != 0 || c.NearTheLine {
		t.Errorf("%+v", c)
	}
	if c.Basis.Level != .95 || c.Own.Level != .9 || c.Reading != Compatible {
		t.Errorf("%+v", c)
	}
	// The reading is made at the figure's level: 90 % limits of 5 in 100 are 1.99
	// to 10.23 % (calculated with R 4.2.2, binom.test).
	for _, level := range []float64{.9, .95} {
		g := at1(.108)
		g.Level = level
		c, _ := Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, g, survival.Interval{}, daysPerYear)
		if want := map[float64]Reading{.9: Below, .95: Compatible}[level]; c.Reading != want {
			t.Errorf("level %v: %v, want %v", level, c.Reading, want)
		}
	}
}

func TestCompareWithoutOwnValue(t *testing.T) {
	km, _ := curves(t, followed(100, 5, 0))
	empty, _ := curves(t, &survival.Table{Event: [][]float64{{}, {}}})
	f := Figure{Years: 10.01, Revision: .05, Lower: .047, Upper: .053}
	for name, curve := range map[string]*survival.Curve{"not reached": km, "no curve": nil, "nobody": empty} {
		c, err := Compare(curve, nil, &Series{Estimand: OneMinusKaplanMeier}, f, survival.Interval{}, 1001)
		if err != nil {
			t.Fatal(err)
		}
		if c.Reached || c.Reading != TooFew || c.Notes != NoOwnValue || c.Own.AtRisk != 0 {
			t.Errorf("%s: %+v", name, c)
		}
		for i, x := range []float64{c.Own.Estimate, c.Own.SE, c.Own.Lower, c.Own.Upper, c.Difference, c.DifferenceLower, c.DifferenceUpper, c.Basis.Lower, c.Basis.Upper} {
			if !math.IsNaN(x) {
				t.Errorf("%s: number %d is %v", name, i, x)
			}
		}
	}
	// On the last day of follow-up those closed on it have been seen to it.
	if c, _ := Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, f, survival.Interval{}, 1000); !c.Reached || c.Basis.SeenTo != 95 || c.Reading != Compatible {
		t.Errorf("%+v", c)
	}
}

// With deaths the two estimands read apart. Of 72 joints 10 die: 62 are still at
// risk, too few for Kaplan–Meier, and 62/(62/72) for the incidence.
func TestCompareIncidence(t *testing.T) {
	km, incidence := curves(t, followed(72, 0, 10))
	for _, test := range []struct {
		e     Measure
		want  Reading
		still float64
	}{{OneMinusKaplanMeier, TooFew, 62}, {Incidence, Below, 72}} {
		c, err := Compare(km, incidence, &Series{Estimand: test.e}, at1(.05), survival.Interval{}, daysPerYear)
		if err != nil {
			t.Fatal(err)
		}
		if c.Reading != test.want || math.Abs(c.Basis.SeenTo-test.still) > 1e-9 {
			t.Errorf("%v: %v, %v seen to it", test.e, c.Reading, c.Basis.SeenTo)
		}
	}

	// 10 of 100 die on day 5 and 6 are revised on day 10: F = .06,
	// var F = .06·.94/100, so that n* is 100 and x* is 6.
	table := &survival.Table{
		Time: []float64{5, 10, 1000}, AtRisk: []float64{100, 90, 84},
		Event: [][]float64{{0, 6, 0}, {10, 0, 0}}, Censored: []float64{0, 0, 84},
	}
	km, incidence = curves(t, table)
	c, err := Compare(km, incidence, &Series{Estimand: Incidence}, at1(.05), survival.Interval{}, daysPerYear)
	if err != nil {
		t.Fatal(err)
	}
	lower, upper := survival.BinomialLimits(6, 100, .95)
	if math.Abs(c.Basis.EffectiveNumber-100) > 1e-9 || math.Abs(c.Basis.Lower-lower) > 1e-9 || math.Abs(c.Basis.Upper-upper) > 1e-9 || math.Abs(c.Basis.SeenTo-84/.9) > 1e-9 {
		t.Errorf("%+v, want limits %v to %v", c.Basis, lower, upper)
	}
}

// An early event among many, then few left: the effective number would read
// below, and the few still at risk forbid it.
func TestFewLeftNeverReadBelow(t *testing.T) {
	table := &survival.Table{
		Time: []float64{10, 20, 1000}, AtRisk: []float64{500, 499, 20},
		Event: [][]float64{{1, 0, 0}, {0, 0, 0}}, Censored: []float64{0, 479, 20},
	}
	km, incidence := curves(t, table)
	for _, e := range []Measure{OneMinusKaplanMeier, Incidence} {
		c, err := Compare(km, incidence, &Series{Estimand: e}, at1(.05), survival.Interval{}, daysPerYear)
		if err != nil {
			t.Fatal(err)
		}
		if c.Reading != TooFew || c.Notes&ZeroNotBelow == 0 {
			t.Errorf("%v: %v, basis %+v", e, c.Reading, c.Basis)
		}
	}
}

func TestCompareEverybodyFailed(t *testing.T) {
	table := &survival.Table{Time: []float64{100}, AtRisk: []float64{12}, Event: [][]float64{{12}}, Censored: []float64{0}}
	km, incidence := curves(t, table)
	for _, e := range []Measure{OneMinusKaplanMeier, Incidence} {
		c, err := Compare(km, incidence, &Series{Estimand: e}, at1(.05), survival.Interval{}, daysPerYear)
		if err != nil {
			t.Fatal(err)
		}
		// Clopper–Pearson of 12 in 12: .025^(1/12) to 1.
		if c.Reading != Above || math.Abs(c.Basis.Lower-math.Pow(.025, 1./12)) > 1e-9 || c.Basis.Upper != 1 {
			t.Errorf("%v: %v, %+v", e, c.Reading, c.Basis)
		}
	}
}

// A robust variance has no beta product; the effective number stands in, and
// without revisions nothing is read.
func TestCompareRobust(t *testing.T) {
	sample := survival.Sample{Cluster: []int{}}
	for i := range 200 {
		exit, cause := 1000., 0
		if i%20 == 0 {
			exit, cause = 10, 1
		}
		sample.Exit = append(sample.Exit, exit)
		sample.Cause = append(sample.Cause, cause)
		sample.Cluster = append(sample.Cluster, i)
	}
	curve, err := survival.Robust(sample, 1, 1, survival.OneMinusKaplanMeier)
	if err != nil {
		t.Fatal(err)
	}
	c, err := Compare(curve, nil, &Series{Estimand: OneMinusKaplanMeier}, at1(.05), survival.Interval{}, daysPerYear)
	if err != nil {
		t.Fatal(err)
	}
	if c.Reading != Compatible || math.Abs(c.Basis.EffectiveNumber-200) > 1e-6 {
		t.Errorf("%v, %+v", c.Reading, c.Basis)
	}
}

func TestCompareErrors(t *testing.T) {
	km, incidence := curves(t, followed(100, 5, 5))
	iv := survival.Interval{}
	f := at1(.05)
	call := func(s Series, km, incidence *survival.Curve, f Figure, iv survival.Interval, days float64) error {
		_, err := Compare(km, incidence, &s, f, iv, days)
		return err
	}
	for _, of := range []*Series{nil, {}} {
		if _, err := Compare(km, nil, of, f, iv, 100); err == nil {
			t.Errorf("compared with %v", of)
		}
		if _, err := CompareThreshold(km, of, f, iv, 100); err == nil {
			t.Errorf("compared with a threshold %v", of)
		}
	}
	if err := call(Series{Estimand: Threshold}, km, incidence, f, iv, 100); !errors.Is(err, ErrEstimand) {
		t.Error(err)
	}
	if err := call(Series{Estimand: Pooled}, km, incidence, f, iv, 100); !errors.Is(err, ErrEstimand) {
		t.Error(err)
	}
	if err := call(Series{Estimand: OneMinusKaplanMeier}, incidence, km, f, iv, 100); !errors.Is(err, ErrEstimand) {
		t.Error(err)
	}
	if err := call(Series{Estimand: Incidence}, incidence, km, f, iv, 100); !errors.Is(err, ErrEstimand) {
		t.Error(err)
	}
	if _, err := CompareThreshold(km, &Series{Estimand: OneMinusKaplanMeier}, f, iv, 100); !errors.Is(err, ErrEstimand) {
		t.Error(err)
	}
	for _, err := range []error{
		call(Series{Estimand: OneMinusKaplanMeier}, km, nil, f, survival.Interval{Level: 95}, 100),
		call(Series{Estimand: OneMinusKaplanMeier}, km, nil, at1(math.NaN()), iv, 100),
		call(Series{Estimand: OneMinusKaplanMeier}, km, nil, at1(1.5), iv, 100),
		call(Series{Estimand: OneMinusKaplanMeier}, km, nil, Figure{Years: math.NaN(), Revision: .05}, iv, 100),
		call(Series{Estimand: OneMinusKaplanMeier}, km, nil, Figure{Years: 1, Revision: .05, Level: 95}, iv, 100),
		call(Series{Estimand: OneMinusKaplanMeier}, km, nil, Figure{Years: 1, Revision: .05, Lower: 4, Upper: 6}, iv, 100),
		call(Series{Estimand: OneMinusKaplanMeier}, km, nil, Figure{Years: 1, Revision: .05, Lower: .06, Upper: .07}, iv, 100),
	} {
		if err == nil || errors.Is(err, ErrEstimand) {
			t.Errorf("error %v", err)
		}
	}
}

func TestCompareThreshold(t *testing.T) {
	s := &Series{Estimand: Threshold}
	tests := []struct {
		n, revised float64
		want       string
	}{
		{100, 20, "above"},
		{72, 0, "not above"},
		{100, 5, "not above"},
		{50, 0, "too few to say"},
	}
	for _, test := range tests {
		km, _ := curves(t, followed(test.n, test.revised, 3))
		c, err := CompareThreshold(km, s, at1(.05), survival.Interval{}, daysPerYear)
		if err != nil {
			t.Fatal(err)
		}
		if test.n == 72 {
			// Three died: 69 are still at risk.
			test.want = "too few to say"
		}
		if got := c.Words(); got != test.want {
			t.Errorf("%v of %v: %q, want %q", test.revised, test.n, got, test.want)
		}
		if c.PublishedExact || c.Notes&TakenAsExact != 0 {
			t.Error("a threshold is exact without being taken as such")
		}
		if math.Abs(c.DifferenceLower-(c.Own.Lower-.05)) > 1e-15 || math.Abs(c.DifferenceUpper-(c.Own.Upper-.05)) > 1e-15 {
			t.Errorf("%+v", c)
		}
	}
	km, _ := curves(t, followed(72, 0, 0))
	if c, _ := CompareThreshold(km, s, at1(.05), survival.Interval{}, daysPerYear); c.Words() != "not above" {
		t.Error(c.Words())
	}
}

func TestWords(t *testing.T) {
	for r, want := range map[Reading]string{Above: "above", Below: "below", Compatible: "compatible with", TooFew: "too few to say", 9: "Reading(9)"} {
		if got := r.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := (TakenAsExact | NearTheLine).String(); got != "published taken as exact; near the line" {
		t.Error(got)
	}
	for e, want := range map[Measure]string{OneMinusKaplanMeier: "1-KM", Incidence: "cumulative incidence", Threshold: "threshold", Pooled: "pooled estimate", 9: "Measure(9)"} {
		if got := e.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
		if own, ok := e.Own(); ok && own.String() != want {
			t.Errorf("%v meets %v", e, own)
		}
	}
}

// No reading is below while fewer joints are at risk than needed, none revised
// reads below or too few, and more revised never reads lower.
func TestReadingProperties(t *testing.T) {
	for _, f := range []Figure{at1(.03), {Years: 1, Revision: .05, Lower: .03, Upper: .09}, {Years: 1, Revision: .08, Lower: .002, Upper: .4}} {
		for _, n := range []float64{12, 40, 80, 150, 400} {
			height := map[Reading]int{Below: 0, TooFew: 1, Compatible: 1, Above: 2}
			last := 0
			for revised := 0.; revised < n-10; revised++ {
				km, _ := curves(t, followed(n, revised, 0))
				c, err := Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, f, survival.Interval{}, daysPerYear)
				if err != nil {
					t.Fatal(err)
				}
				if revised == 0 && c.Reading != Below && c.Reading != TooFew {
					t.Errorf("none of %v: %v", n, c.Reading)
				}
				if c.Basis.SeenTo < Needed(f) && c.Reading != Above && c.Reading != TooFew {
					t.Errorf("%v of %v: %v", revised, n, c.Reading)
				}
				if h := height[c.Reading]; h < last {
					t.Errorf("%v of %v: %v after a higher reading", revised, n, c.Reading)
				} else {
					last = h
				}
			}
		}
	}
}

func BenchmarkCompare(b *testing.B) {
	km, incidence := curves(b, followed(5000, 200, 300))
	s := &Series{Estimand: OneMinusKaplanMeier}
	f := Figure{Years: 1, Revision: .05, Lower: .047, Upper: .053}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Compare(km, incidence, s, f, survival.Interval{}, daysPerYear); err != nil {
			b.Fatal(err)
		}
	}
}
