package monitor

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/holdfast/cohort/internal/testvalues"
	"gonum.org/v1/gonum/stat/distuv"
)

func near(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Max(math.Abs(want), 1e-3)
}

// Hand-worked, with revisions as a Poisson process of rate truth in expected
// time. A line at ln ratio is touched by the first revision. One between ln ratio
// and twice that is touched by two within δ = (2·ln ratio − limit)/(ratio − 1)
// of one another: by all that have two revisions while δ is expected; while up to 2δ is, by
// all that have three, and by those of two that lie within δ: of area E²/2 − (E − δ)²/2.
// One between twice and three times ln ratio: by all that have three while
// (3·ln ratio − limit)/(ratio − 1) is expected.
func TestCrossingByHand(t *testing.T) {
	fewer := func(k int, mean float64) float64 { // P(Poisson < k)
		sum, term := 0.0, math.Exp(-mean)
		for i := range k {
			sum += term
			term *= mean / float64(i+1)
		}
		return sum
	}
	for _, ratio := range []float64{1.5, 2, 4} {
		jump := math.Log(ratio)
		for _, truth := range []float64{.5, 1, 3} {
			for _, c := range []struct {
				name            string
				limit, expected float64
				want            float64
			}{
				{"one revision", jump, 1.7, 1 - math.Exp(-1.7*truth)},
				{"nothing expected", 3 * jump, 0, 0},
				{"two, all near", 1.25 * jump, .7 * jump / (ratio - 1), 1 - fewer(2, truth*.7*jump/(ratio-1))},
				{"three, all near", 2.25 * jump, .7 * jump / (ratio - 1), 1 - fewer(3, truth*.7*jump/(ratio-1))},
				{"two within δ", 1.5 * jump, .8 * jump / (ratio - 1), func() float64 {
					e, near := .8*jump/(ratio-1), .5*jump/(ratio-1)
					return 1 - fewer(3, truth*e) + math.Exp(-truth*e)*truth*truth*(e*e-(e-near)*(e-near))/2
				}()},
			} {
				if got := Crossing(c.limit, ratio, c.expected, truth); math.Abs(got-c.want) > 1e-4 {
					t.Errorf("%s: ratio %v, truth %v: %v, want %v", c.name, ratio, truth, got, c.want)
				}
			}
		}
	}
	// Downward: without a revision the line at limit is reached when limit/(1 − ratio)
	// is expected, and never before.
	limit := 4 * math.Ln2
	if got := Crossing(limit, .5, 2*limit-.05, 1); got != 0 {
		t.Errorf("downward, too early: %v", got)
	}
	if got, want := Crossing(limit, .5, 2*limit+1e-6, 1), math.Exp(-2*limit); got < want || got > 2*want {
		t.Errorf("downward: %v, want at least %v", got, want)
	}
}

// Calculated with testdata/monitor.R, by another chain on a finer grid. A
// downward chain is right to its step.
func TestCrossingReference(t *testing.T) {
	rows := testvalues.Numbers(t, "crossing.csv")
	if len(rows) != 13 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, r := range rows {
		got := Crossing(r["quarters"]*math.Abs(math.Log(r["ratio"]))/4, r["ratio"], r["expected"], r["truth"])
		tolerance := 1e-4
		if r["ratio"] < 1 {
			tolerance = 1e-3
		}
		if math.Abs(got-r["chance"]) > tolerance {
			t.Errorf("%v: %v", r, got)
		}
	}
}

// The chart itself, with revisions drawn one by one.
func TestCrossingSimulated(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 11))
	for _, c := range []struct{ quarters, ratio, expected, truth float64 }{
		{13, 2, 4, 1}, {17, 2, 5, 1}, {17, 2, 5, 2}, {30, 2, 50, 1.3}, {9, 1.3, 7, 1}, {12, 3, 12, 1},
		{12, .5, 9, 1}, {20, .5, 20, .5}, {14, .7, 25, 1},
	} {
		limit := c.quarters * math.Abs(math.Log(c.ratio)) / 4
		const runs = 40000
		touched := 0
		for range runs {
			if drawnTouches(rng, limit, c.ratio, c.expected, c.truth) {
				touched++
			}
		}
		p := Crossing(limit, c.ratio, c.expected, c.truth)
		if got := float64(touched) / runs; math.Abs(got-p) > 1e-3+4*math.Sqrt(p*(1-p)/runs) {
			t.Errorf("%+v: %v touched, want %v", c, got, p)
		}
	}
}

func drawnTouches(rng *rand.Rand, limit, ratio, expected, truth float64) bool {
	sum, at := 0.0, 0.0
	for {
		gap := rng.ExpFloat64() / truth
		drift := (1 - ratio) * math.Min(gap, expected-at)
		if ratio < 1 && sum+drift >= limit {
			return true
		}
		if at += gap; at > expected {
			return false
		}
		sum = math.Max(0, sum+drift)
		sum = math.Max(0, sum+math.Log(ratio))
		if ratio > 1 && sum >= limit-touchSlack {
			return true
		}
	}
}

// A longer period, a lower line and faster revisions are touched more often; a
// settled chain is as good as one moved step by step.
func TestCrossingProperties(t *testing.T) {
	for _, ratio := range []float64{.5, 1.4, 2, 3} {
		before := 0.0
		for e := .1; e < 3000; e *= 1.3 {
			p := Crossing(16*math.Abs(math.Log(ratio))/4, ratio, e, 1)
			if !(p >= before-1e-12 && p <= 1) {
				t.Fatalf("ratio %v, %v expected: %v after %v", ratio, e, p, before)
			}
			before = p
		}
		before = 1
		for quarters := 4.0; quarters < 40; quarters++ {
			p := Crossing(quarters*math.Abs(math.Log(ratio))/4, ratio, 12, 1)
			if !(p >= 0 && p <= before) {
				t.Fatalf("ratio %v, %v quarters: %v after %v", ratio, quarters, p, before)
			}
			before = p
		}
	}
	// Between two steps of a chain the chance grows, and evenly.
	for _, ratio := range []float64{.5, 2} {
		limit := 14 * math.Ln2 / 4
		step := newChain(limit, ratio, 1).expected
		from, to := Crossing(limit, ratio, 200*step, 1), Crossing(limit, ratio, 201*step, 1)
		if got := Crossing(limit, ratio, 200.5*step, 1); !(from < to) || !near(got, (from+to)/2, 1e-4) {
			t.Errorf("ratio %v: %v between %v and %v", ratio, got, from, to)
		}
	}
	c := newChain(24*math.Ln2/4, 2, 1)
	sum := 0.0
	for range 20000 {
		sum += c.step()
	}
	if got := Crossing(24*math.Ln2/4, 2, 20000*c.expected, 1); math.Abs(got-sum) > 1e-7 {
		t.Errorf("%v, step by step %v", got, sum)
	}
	if got := Crossing(3*math.Ln2, 2, 1e9, 1); got != 1 {
		t.Errorf("forever: %v", got)
	}
	if got := Crossing(9*math.Ln2, 2, 1e4, 3); got != 1 {
		t.Errorf("three times as fast, for long: %v", got)
	}
}

// The line is the least quarter whose chance is at most the one asked for, and
// two revisions never touch it. The quarters were found with testdata/monitor.R for
// 2 to 50 expected; of 0.01 and 1 they are what the rule says of so few.
func TestLimit(t *testing.T) {
	for expected, quarters := range map[float64]float64{.01: 9, 2: 12, 5: 17, 10: 21, 20: 26, 50: 31} {
		if got := Limit(2, expected, .05); !near(got, quarters*math.Ln2/4, 1e-14) {
			t.Errorf("%v expected: %v quarters, want %v", expected, got*4/math.Ln2, quarters)
		}
	}
	for _, ratio := range []float64{.5, 1.5, 2, 3} {
		quarter := math.Abs(math.Log(ratio)) / 4
		for _, expected := range []float64{0, .3, 4, 15} {
			for _, chance := range []float64{.0009, .05, .3} {
				limit := Limit(ratio, expected, chance)
				if p := Crossing(limit, ratio, expected, 1); p > chance {
					t.Errorf("ratio %v, %v expected, chance %v: the line at %v is touched with %v", ratio, expected, chance, limit, p)
				}
				least := ratio > 1 && limit < 9.5*quarter || limit < 1.5*quarter
				if p := 1.0; !least {
					if p = Crossing(limit-quarter, ratio, expected, 1); p <= chance {
						t.Errorf("ratio %v, %v expected, chance %v: one quarter below %v would do, %v", ratio, expected, chance, limit, p)
					}
				}
				if ratio > 1 && limit <= 2*math.Log(ratio) {
					t.Errorf("ratio %v, %v expected, chance %v: two revisions touch %v", ratio, expected, chance, limit)
				}
			}
		}
	}
}

// Where the hazards have an error, the line is higher; its chance is the mean of
// those at the true ratios, here against Gamma distributed ones drawn at random.
func TestLimitWithError(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 20))
	for _, relative := range []float64{.1, .3} {
		l := newLines(2, relative)
		ratios, limit := l.truths, l.limit(8, .05)
		if exact := Limit(2, 8, .05); limit < exact || relative > .2 && limit == exact {
			t.Errorf("error %v: line at %v, exact %v", relative, limit, exact)
		}
		weight, mean, square := 0.0, 0.0, 0.0
		for _, x := range ratios {
			weight += x.weight
			mean += x.weight * x.ratio
			square += x.weight * x.ratio * x.ratio
		}
		if math.Abs(weight-1) > 1e-12 || math.Abs(mean-1) > .002 || math.Abs(math.Sqrt(square-mean*mean)-relative) > .01*relative {
			t.Errorf("error %v: weight %v, mean %v, standard deviation %v", relative, weight, mean, math.Sqrt(square-mean*mean))
		}
		gamma := distuv.Gamma{Alpha: 1 / (relative * relative), Beta: 1 / (relative * relative), Src: rng}
		const runs = 40000
		touched := 0
		for range runs {
			if drawnTouches(rng, limit, 2, 8, gamma.Rand()) {
				touched++
			}
		}
		p := l.crossing(limit, 8, 1)
		if got := float64(touched) / runs; p > .05 || math.Abs(got-p) > 1e-3+4*math.Sqrt(p*(1-p)/runs) {
			t.Errorf("error %v: %v touched, want %v", relative, got, p)
		}
	}
}

// Practices that share lines have the ones they would have by themselves, whoever asks
// first, and the chance of each grows with what is expected.
func TestLinesAreShared(t *testing.T) {
	expected := []float64{18, .4, 3.37, 44, 3.37, 9.999, 120, .4}
	if testing.Short() {
		expected = []float64{3.37, .4, 3.37}
	}
	for _, relative := range []float64{0, .15} {
		shared := newLines(2, relative)
		for _, e := range expected {
			alone := newLines(2, relative)
			limit := shared.limit(e, .002)
			if want := alone.limit(e, .002); limit != want {
				t.Errorf("error %v, %v expected: the line at %v, by itself at %v", relative, e, limit, want)
			}
			for _, truth := range []float64{1, 2} {
				if got, want := shared.crossing(limit, e, truth), alone.crossing(limit, e, truth); got != want {
					t.Errorf("error %v, %v expected, truth %v: %v, by itself %v", relative, e, truth, got, want)
				}
			}
			if p := shared.crossing(limit, e, 1); p > .002 {
				t.Errorf("error %v, %v expected: touched with %v", relative, e, p)
			}
		}
	}
}

func TestLimitPanics(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for name, f := range map[string]func(){
		"limit 0":            func() { Crossing(0, 2, 1, 1) },
		"ratio 1":            func() { Crossing(1, 1, 1, 1) },
		"ratio infinite":     func() { Crossing(1, inf, 1, 1) },
		"negative expected":  func() { Crossing(1, 2, -1, 1) },
		"expected no number": func() { Crossing(1, 2, nan, 1) },
		"truth 0":            func() { Crossing(1, 2, 1, 0) },
		"chance 0":           func() { Limit(2, 1, 0) },
		"chance 1":           func() { Limit(2, 1, 1) },
		"chance no number":   func() { Limit(2, 1, nan) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}

func BenchmarkLimit(b *testing.B) {
	for _, expected := range []float64{2, 20, 200, 20000} {
		b.Run(fmt.Sprintf("expected=%v", expected), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Limit(2, expected, .05)
			}
		})
	}
}
