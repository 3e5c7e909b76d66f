package survival_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/holdfast/survival"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var noFloor = survival.Interval{MinAtRisk: -1}

// Events at 0 and 3 with censoring at the same times, worked by hand:
// F(0) = 1/4, F(3) = 1/4 + 3/4·1/2 = 5/8.
func TestConventions(t *testing.T) {
	s := survival.Sample{Exit: []float64{0, 0, 3, 3}, Cause: []int{1, 0, 1, 0}}
	c := mustCurve(t, survival.KaplanMeier, s, 1)
	below := math.Nextafter(3, 0)
	for _, x := range []struct{ at, estimate, atRisk, events float64 }{
		{-1, 0, 4, 0},
		{0, 0.25, 4, 1}, // the event of day 0 counts; the one censored on day 0 is at risk for it
		{1, 0.25, 2, 1},
		{below, 0.25, 2, 1},
		{3, 0.625, 2, 2}, // right-continuous; at risk: those with exit ≥ 3
	} {
		p, ok := c.At(x.at, noFloor)
		if !ok || p.Time != x.at || p.Estimate != x.estimate || p.AtRisk != x.atRisk || p.Events != x.events {
			t.Errorf("at %v: got %+v %v, want %+v", x.at, p, ok, x)
		}
	}
	for _, x := range []float64{math.Nextafter(3, 4), 10, math.Inf(1), math.NaN()} {
		p, ok := c.At(x, noFloor)
		for _, number := range []float64{p.Estimate, p.SE, p.Lower, p.Upper} {
			ok = ok || !math.IsNaN(number)
		}
		if ok || p.AtRisk != 0 || p.SeenTo != 0 || p.Level != 0.95 {
			t.Errorf("at %v, beyond follow-up: got %+v", x, p)
		}
	}
	if end, ok := c.LastExit(); end != 3 || !ok {
		t.Errorf("last exit %v %v", end, ok)
	}

	// One who enters at the time of an event is not at risk for it: 1 of 2, not 1 of 3.
	s = survival.Sample{Entry: []float64{0, 0, 2}, Exit: []float64{2, 5, 5}, Cause: []int{1, 0, 0}}
	p, _ := mustCurve(t, survival.KaplanMeier, s, 1).At(2, noFloor)
	if p.Estimate != 0.5 || p.AtRisk != 2 {
		t.Errorf("entry at an event time: got %+v", p)
	}
	// Entry at 0 is not at risk at 0; no late entry is.
	s = survival.Sample{Entry: []float64{math.Inf(-1), 0, -1}, Exit: []float64{0, 5, 5}, Cause: []int{1, 0, 0}}
	if p, _ := mustCurve(t, survival.KaplanMeier, s, 1).At(0, noFloor); p.Estimate != 0.5 || p.AtRisk != 2 {
		t.Errorf("entry at 0: got %+v", p)
	}
}

func TestEmptyCurve(t *testing.T) {
	table := mustTable(t, survival.Sample{}, 1)
	for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
		c, err := estimate(table, 1)
		if err != nil {
			t.Fatal(err)
		}
		if _, ok := c.At(0, noFloor); ok {
			t.Error("a value without a subject")
		}
		if _, ok := c.LastExit(); ok {
			t.Error("a last exit without a subject")
		}
		if q, ok := c.Quantile(0.5, noFloor); ok || !math.IsInf(q.Time, 1) || !math.IsInf(q.Lower, 1) || !math.IsInf(q.Upper, 1) {
			t.Errorf("quantile %+v", q)
		}
		if _, err := c.RestrictedTimeLost(1, noFloor); !errors.Is(err, survival.ErrBeyondFollowUp) {
			t.Errorf("got %v", err)
		}
	}
	h, err := survival.NelsonAalen(table, 1)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := h.At(0, 0.95); ok {
		t.Error("a hazard without a subject")
	}
}

// Without competing events both estimates and their errors are equal to the bit,
// and so are plain limits. The default limits differ, since they are made on
// log(−log S) and log(−log F): with 40 or more at risk by up to 5.2 percentage
// points after one event, 2.6 after ten, 1.4 after thirty (measured on 3,000
// samples like these).
func TestTwoEstimandsWithoutCompetingEvents(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 6))
	differ := 0
	for i := range 500 {
		s := draw(random, 40+random.IntN(400), 5+random.IntN(40), 1, i%2 == 0, false, false)
		causes := 1 + i%3 // causes nobody has had
		km := mustCurve(t, survival.KaplanMeier, s, causes)
		ci := mustCurve(t, survival.CumulativeIncidence, s, causes)
		if !sameBits(km.Time, ci.Time) || !sameBits(km.Incidence, ci.Incidence) || !sameBits(km.SE, ci.SE) {
			t.Fatalf("%+v: the estimates differ", s)
		}
		for _, at := range km.Time {
			p, _ := km.At(at, survival.Interval{})
			q, _ := ci.At(at, survival.Interval{})
			bound := 0.055
			if p.Events >= 10 {
				bound = 0.03
			}
			if p.AtRisk >= 40 && (math.Abs(p.Lower-q.Lower) > bound || math.Abs(p.Upper-q.Upper) > bound) {
				t.Errorf("at %v: default limits %v–%v and %v–%v", at, p.Lower, p.Upper, q.Lower, q.Upper)
			}
			if p.Lower != q.Lower && p.Upper != q.Upper {
				differ++
			}
			p, _ = km.At(at, survival.Interval{Method: survival.Plain})
			q, _ = ci.At(at, survival.Interval{Method: survival.Plain})
			if p.Lower != q.Lower || p.Upper != q.Upper {
				t.Errorf("at %v: plain limits %v–%v and %v–%v", at, p.Lower, p.Upper, q.Lower, q.Upper)
			}
		}
	}
	if differ == 0 {
		t.Error("the default limits never differ")
	}
}

// Every cause's incidence and the event-free proportion sum to 1 at any time.
func TestIncidencesSumToOne(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 7))
	for i := range 500 {
		causes := 1 + random.IntN(4)
		checkSum(t, draw(random, 1+random.IntN(100), 1+random.IntN(30), causes, i%2 == 0, false, false), causes)
	}
}

func checkSum(t *testing.T, s survival.Sample, causes int) {
	t.Helper()
	table := mustTable(t, s, causes)
	free, err := survival.KaplanMeier(table.Pool(), 1)
	if err != nil {
		t.Fatal(err)
	}
	var each []*survival.Curve
	for k := range causes {
		c, err := survival.CumulativeIncidence(table, k+1)
		if err != nil {
			t.Fatal(err)
		}
		each = append(each, c)
	}
	for _, at := range table.Time {
		p, ok := free.At(at, noFloor)
		total := p.Survival().Estimate
		for _, c := range each {
			p, ok2 := c.At(at, noFloor)
			if ok != ok2 {
				t.Fatalf("%+v: at %v the curves end differently", s, at)
			}
			total += p.Estimate
		}
		if ok && math.Abs(total-1) > 1e-12 {
			t.Fatalf("%+v: at %v everything sums to %v", s, at, total)
		}
	}
}

// Limits by their definitions, written out here once more.
func TestLimitsByDefinition(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	// z by the R function qnorm.
	z := map[float64]float64{0.95: 1.959963984540054, 0.9: 1.644853626951473, 0.998: 3.090232306167813}
	clip := func(x float64) float64 { return math.Max(0, math.Min(1, x)) }
	for i := range 300 {
		s := draw(random, 5+random.IntN(100), 3+random.IntN(30), 2, i%2 == 0, false, false)
		for level, z := range z {
			for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
				c := mustCurve(t, estimate, s, 2)
				for j, at := range c.Time {
					f, se := c.Incidence[j], c.SE[j]
					if f >= 1-1e-9 || f == 0 {
						continue
					}
					v := 1 - f
					limits := func(m survival.Method) (lower, upper float64) {
						switch {
						case m == survival.Plain:
							return f - z*se, f + z*se
						case m == survival.Log:
							return 1 - math.Exp(math.Log(v)+z*se/v), 1 - math.Exp(math.Log(v)-z*se/v)
						case c.Estimand == survival.Incidence:
							g, e := math.Log(-math.Log(f)), se/math.Abs(f*math.Log(f))
							return math.Exp(-math.Exp(g + z*e)), math.Exp(-math.Exp(g - z*e))
						default:
							g, e := math.Log(-math.Log(v)), se/math.Abs(v*math.Log(v))
							return 1 - math.Exp(-math.Exp(g-z*e)), 1 - math.Exp(-math.Exp(g+z*e))
						}
					}
					for _, m := range []survival.Method{survival.LogLog, survival.Log, survival.Plain} {
						p, _ := c.At(at, survival.Interval{Level: level, Method: m})
						if p.Level != level {
							t.Fatalf("level %v, want %v", p.Level, level)
						}
						if m == survival.Log && c.Estimand == survival.Incidence {
							m = survival.LogLog
						}
						if p.Method != m {
							t.Fatalf("method %v, want %v", p.Method, m)
						}
						lower, upper := limits(m)
						if math.Abs(p.Lower-clip(lower)) > 1e-10 || math.Abs(p.Upper-clip(upper)) > 1e-10 {
							t.Fatalf("%v, %v at %v, level %v: got %v–%v, want %v–%v", c.Estimand, m, at, level, p.Lower, p.Upper, lower, upper)
						}
					}
				}
			}
		}
	}
}

// Without censoring the beta product is Clopper and Pearson's interval.
func TestBetaProductWithoutCensoring(t *testing.T) {
	// n = 20, d = 3: .621073–.967929 of survival, with R's binom.test(17, 20).
	s := censoredAt(20, 9)
	s.Exit[0], s.Exit[1], s.Exit[2] = 1, 4, 4
	s.Cause[0], s.Cause[1], s.Cause[2] = 1, 1, 1
	p, _ := mustCurve(t, survival.KaplanMeier, s, 1).At(5, survival.Interval{Method: survival.BetaProduct})
	if p := p.Survival(); !printed(p.Lower, .621073, 6) || !printed(p.Upper, .967929, 6) {
		t.Errorf("3 of 20: %v–%v", p.Lower, p.Upper)
	}
	random := rand.New(rand.NewPCG(5, 1))
	for range 500 {
		n := 1 + random.IntN(3000)
		days := 1 + random.IntN(40)
		s := draw(random, n, days, 1, false, false, false)
		for i := range s.Cause {
			s.Cause[i] = 1
		}
		level := []float64{0.5, 0.95, 0.998}[random.IntN(3)]
		c := mustCurve(t, survival.KaplanMeier, s, 1)
		for i, at := range c.Time {
			p, _ := c.At(at, survival.Interval{Method: survival.BetaProduct, Level: level})
			lower, upper := survival.BinomialLimits(p.Events, float64(n), level)
			if math.Abs(p.Lower-lower) > 1e-10*lower || math.Abs(p.Upper-upper) > 1e-10*upper {
				t.Fatalf("%v of %d at %v, step %d: got %v–%v, want %v–%v", p.Events, n, level, i, p.Lower, p.Upper, lower, upper)
			}
		}
	}
}

// No event: 0 to 1 − (α/2)^(1/Y), whatever the method; for the incidence Y is
// divided by the proportion free of every event.
func TestNoEventLimits(t *testing.T) {
	// 10 subjects; 2 censored at 2, a competing event each at 3 and 4.
	s := censoredAt(10, 9)
	s.Exit[0], s.Exit[1], s.Exit[2], s.Exit[3] = 2, 2, 3, 4
	s.Cause[2], s.Cause[3] = 2, 2
	for _, x := range []struct{ at, km, incidence, atRisk, competing float64 }{
		{0, 10, 10, 10, 0},
		{2, 10, 10, 10, 0}, // the two censored at 2 have been seen to 2
		{3, 8, 8, 8, 1},    // 7/(7/8)
		{4, 7, 8, 7, 2},    // 6/(3/4)
		{8, 6, 8, 6, 2},
		{9, 6, 8, 6, 2}, // all closed at 9
	} {
		for _, m := range everyMethod {
			for _, level := range []float64{0, 0.9} {
				alpha2 := 0.025
				if level != 0 {
					alpha2 = (1 - level) / 2
				}
				for _, e := range []struct {
					estimate estimator
					y        float64
				}{{survival.KaplanMeier, x.km}, {survival.CumulativeIncidence, x.incidence}} {
					want := 1.0
					if e.y > 0 {
						want = 1 - math.Pow(alpha2, 1/e.y)
					}
					c := mustCurve(t, e.estimate, s, 2)
					p, ok := c.At(x.at, survival.Interval{Method: m, Level: level})
					if !ok || p.Estimate != 0 || p.SE != 0 || p.Lower != 0 || math.Abs(p.Upper-want) > 1e-12 {
						t.Errorf("%v, %v at %v: got %+v, want 0 to %v", c.Estimand, m, x.at, p, want)
					}
					if p.Notes&survival.NoEvents == 0 || p.AtRisk != x.atRisk {
						t.Errorf("%v, %v at %v: got %+v", c.Estimand, m, x.at, p)
					}
					if competing := map[survival.Estimand]float64{survival.Incidence: x.competing}[c.Estimand]; p.Competing != competing {
						t.Errorf("%v at %v: %v competing events, want %v", c.Estimand, x.at, p.Competing, competing)
					}
				}
			}
		}
	}
}

// Somebody closed exactly at the time read has been seen to it. Expected values
// are binomial: the beta product is Clopper and Pearson's where nobody is
// censored before (3 of 20 calculated with R's qbeta), and no event of n is
// 1 − .025^(1/n).
func TestClosedExactlyAtTheTimeRead(t *testing.T) {
	closed := func(n, events int) survival.Sample {
		s := censoredAt(n, 4)
		for i := range events {
			s.Exit[i], s.Cause[i] = 2, 1
		}
		return s
	}
	p, _ := mustCurve(t, survival.KaplanMeier, closed(200, 0), 1).At(4, survival.Interval{})
	if math.Abs(p.Upper-.01827534) > 5e-9 || p.SeenTo != 200 {
		t.Errorf("none of 200: %+v", p)
	}
	p, _ = mustCurve(t, survival.KaplanMeier, closed(20, 3), 1).At(4, survival.Interval{Method: survival.BetaProduct})
	if s := p.Survival(); math.Abs(s.Lower-.621073173) > 5e-10 || math.Abs(s.Upper-.967929063) > 5e-10 {
		t.Errorf("3 of 20: %v–%v", s.Lower, s.Upper)
	}

	// Once somebody was censored, what is known about those who died is not
	// what is known about as many more followed to the end.
	for _, x := range []struct {
		died, left int // of 100; at 1, at 2; the others closed at 4
		upper      float64
	}{{50, 45, .308497}, {20, 0, .0362167}} {
		s := censoredAt(100, 4)
		for i := range x.died {
			s.Exit[i], s.Cause[i] = 1, 2
		}
		for i := range x.left {
			s.Exit[x.died+i] = 2
		}
		p, _ := mustCurve(t, survival.CumulativeIncidence, s, 2).At(4, survival.Interval{})
		if math.Abs(p.Upper-x.upper) > 5e-7 {
			t.Errorf("%d died, %d left: %v, want %v", x.died, x.left, p.Upper, x.upper)
		}
	}
}

// What a curve says does not change with the table it was made from.
func TestCurveKeepsItsOwnNumbers(t *testing.T) {
	for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
		table, err := survival.NewTable(draw(rand.New(rand.NewPCG(3, 3)), 60, 20, 2, false, false, false), 2)
		if err != nil {
			t.Fatal(err)
		}
		c, err := estimate(table, 1)
		if err != nil {
			t.Fatal(err)
		}
		iv := survival.Interval{Method: survival.BetaProduct}
		before, _ := c.At(12, iv)
		for _, column := range append([][]float64{table.Time, table.AtRisk, table.Censored}, table.Event...) {
			for i := range column {
				column[i] /= 2
			}
		}
		if after, _ := c.At(12, iv); after != before {
			t.Errorf("%v: got %+v, want %+v", c.Estimand, after, before)
		}
	}
}

// Everybody failed: never an interval of width 0. Five subjects, no censoring:
// the beta product is Clopper and Pearson's, .025^(1/5) to 1.
func TestEverybodyFailed(t *testing.T) {
	s := survival.Sample{Exit: []float64{1, 2, 2, 3, 5}, Cause: []int{1, 1, 1, 1, 1}}
	for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
		c := mustCurve(t, estimate, s, 2)
		for _, m := range everyMethod {
			p, ok := c.At(5, survival.Interval{Method: m})
			want := survival.Point{
				Time: 5, Estimate: 1, Lower: math.Pow(0.025, 0.2), Upper: 1, Level: 0.95, Method: survival.BetaProduct,
				AtRisk: 1, Events: 5, Notes: survival.EverybodyFailed | survival.LastIsEvent | survival.FewAtRisk,
			}
			if c.Estimand == survival.Incidence && (m == survival.Log || m == survival.BetaProduct) {
				want.Notes |= survival.OtherMethod
			}
			if math.Abs(p.Lower-want.Lower) < 1e-12 {
				p.Lower = want.Lower
			}
			if d := cmp.Diff(want, p); d != "" || !ok {
				t.Errorf("%v, %v (-want +got):\n%s", c.Estimand, m, d)
			}
		}
	}
}

// Everybody at risk has had another event; those who come later can't have
// theirs counted, since nobody was free of events any more. The estimate is 0,
// but not for lack of events, and its limits are numbers.
func TestIncidenceAfterNobodyIsLeft(t *testing.T) {
	s := survival.Sample{
		Entry: []float64{0, 0, 3, 3}, Exit: []float64{1, 1, 5, 6}, Cause: []int{2, 2, 1, 0},
	}
	for _, m := range everyMethod {
		c := mustCurve(t, survival.CumulativeIncidence, s, 2)
		p, ok := c.At(5, survival.Interval{Method: m})
		if !ok || p.Estimate != 0 || p.Events != 1 || p.Lower != 0 || !(p.Upper > 0 && p.Upper <= 1) || p.Notes&survival.NoEvents != 0 {
			t.Errorf("%v: got %+v", m, p)
		}
	}
}

func TestNotes(t *testing.T) {
	s := censoredAt(60, 10)
	for i := range 40 {
		s.Exit[i] = 4
	}
	s.Cause[0] = 1 // at 4
	s.Cause[59] = 1
	km := mustCurve(t, survival.KaplanMeier, s, 1)
	ci := mustCurve(t, survival.CumulativeIncidence, s, 1)
	for _, x := range []struct {
		c    *survival.Curve
		at   float64
		iv   survival.Interval
		want survival.Note
	}{
		{km, 3, survival.Interval{}, survival.NoEvents},
		{km, 4, survival.Interval{}, 0},
		{km, 5, survival.Interval{}, survival.FewAtRisk},
		{km, 5, survival.Interval{MinAtRisk: 20}, 0},
		{km, 5, survival.Interval{MinAtRisk: 20.5}, survival.FewAtRisk},
		{km, 5, survival.Interval{MinAtRisk: -1}, 0},
		{km, 10, survival.Interval{MinAtRisk: -1}, survival.LastIsEvent},
		{km, 9.5, survival.Interval{MinAtRisk: -1}, 0},
		{ci, 4, survival.Interval{Method: survival.Log}, survival.OtherMethod},
		{ci, 4, survival.Interval{Method: survival.BetaProduct}, survival.OtherMethod},
		{ci, 4, survival.Interval{Method: survival.Plain}, 0},
		{km, 4, survival.Interval{Method: survival.BetaProduct}, 0},
	} {
		p, ok := x.c.At(x.at, x.iv)
		if !ok || p.Notes != x.want {
			t.Errorf("%v at %v, %+v: notes %q, want %q", x.c.Estimand, x.at, x.iv, p.Notes, x.want)
		}
	}
	all := survival.NoEvents | survival.FewAtRisk | survival.EverybodyFailed | survival.LastIsEvent | survival.OtherMethod | survival.LimitsUndefined
	if got, want := all.String(), "no events; few at risk; everybody failed; last observation an event; other method; limits undefined"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := survival.Note(0).String(); got != "" {
		t.Errorf("no note: %q", got)
	}
}

func TestSurvivalSwapsLimits(t *testing.T) {
	s := draw(rand.New(rand.NewPCG(1, 1)), 50, 20, 1, false, false, false)
	c := mustCurve(t, survival.KaplanMeier, s, 1)
	for _, m := range everyMethod {
		p, _ := c.At(7, survival.Interval{Method: m})
		v := p.Survival()
		if v.Estimate != 1-p.Estimate || v.Lower != 1-p.Upper || v.Upper != 1-p.Lower || v.Lower > v.Estimate || v.Upper < v.Estimate {
			t.Errorf("%+v of %+v", v, p)
		}
		v.Estimate, v.Lower, v.Upper = p.Estimate, p.Lower, p.Upper
		if v != p {
			t.Errorf("other fields changed: %+v, %+v", v, p)
		}
	}
}

func TestNames(t *testing.T) {
	for _, m := range everyMethod {
		got, err := survival.ParseMethod(m.String())
		if err != nil || got != m {
			t.Errorf("%v: got %v, %v", m, got, err)
		}
	}
	if _, err := survival.ParseMethod("log log"); err == nil {
		t.Error("log log is a method")
	}
	for want, got := range map[string]interface{ String() string }{
		"log-log": survival.LogLog, "log": survival.Log, "plain": survival.Plain, "beta-product": survival.BetaProduct,
		"Method(9)": survival.Method(9), "1-KM": survival.OneMinusKaplanMeier, "cumulative incidence": survival.Incidence,
		"Estimand(7)": survival.Estimand(7), "Greenwood variance": survival.Greenwood,
		"infinitesimal jackknife variance": survival.InfinitesimalJackknife, "Variance(5)": survival.Variance(5),
	} {
		if got.String() != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestInvalidInterval(t *testing.T) {
	s := censoredAt(5, 5)
	s.Cause[0] = 1
	c := mustCurve(t, survival.KaplanMeier, s, 1)
	for name, iv := range map[string]survival.Interval{
		"level 1": {Level: 1}, "level 95": {Level: 95}, "level below 0": {Level: -0.5}, "level NaN": {Level: math.NaN()},
		"no such method": {Method: 99},
	} {
		if iv.Check() == nil {
			t.Errorf("%s: no error", name)
		}
		mustPanic(t, name+", At", func() { c.At(1, iv) })
		mustPanic(t, name+", Quantile", func() { c.Quantile(0.5, iv) })
		mustPanic(t, name+", RestrictedMean", func() { c.RestrictedMean(1, iv) })
		mustPanic(t, name+", RestrictedTimeLost", func() { c.RestrictedTimeLost(1, iv) })
	}
	if err := (survival.Interval{Level: 0.5, Method: survival.BetaProduct, MinAtRisk: -3}).Check(); err != nil {
		t.Error(err)
	}
	for _, p := range []float64{0, 1, -1, math.NaN()} {
		mustPanic(t, "Quantile", func() { c.Quantile(p, survival.Interval{}) })
	}
}

// Worked by hand: F is 1/4 on [2, 4), 1/2 on [4, 8), 3/4 from 8; the last exit is
// 10. A proportion met on a whole stretch gives its middle.
func TestQuantile(t *testing.T) {
	s := survival.Sample{Exit: []float64{2, 4, 8, 10}, Cause: []int{1, 1, 1, 0}}
	c := mustCurve(t, survival.KaplanMeier, s, 1)
	for p, want := range map[float64]float64{0.1: 2, 0.25: 3, 0.3: 4, 0.5: 6, 0.6: 8, 0.75: 9} {
		if q, ok := c.Quantile(p, survival.Interval{}); !ok || q.Time != want || q.P != p || q.Level != 0.95 {
			t.Errorf("quantile %v: got %+v, want %v", p, q, want)
		}
	}
	if q, ok := c.Quantile(0.76, survival.Interval{}); ok || !math.IsInf(q.Time, 1) {
		t.Errorf("quantile .76: got %+v", q)
	}
}

// The limits of a quantile are where the curve's own limits reach it.
func TestQuantileLimits(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	for i := range 300 {
		s := draw(random, 10+random.IntN(200), 3+random.IntN(40), 2, i%2 == 0, false, false)
		for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
			c := mustCurve(t, estimate, s, 2)
			for _, m := range everyMethod {
				iv := survival.Interval{Method: m}
				q, ok := c.Quantile(0.37, iv)
				if !(q.Lower <= q.Time && q.Time <= q.Upper) {
					t.Fatalf("%v: %+v", m, q)
				}
				if last := len(c.Time) - 1; last >= 0 && ok != (c.Incidence[last] >= 0.37-1e-9) {
					t.Fatalf("%v: reached %v, curve ends at %v", m, ok, c.Incidence[last])
				}
				for _, limit := range []struct {
					time float64
					of   func(survival.Point) float64
				}{
					{q.Lower, func(p survival.Point) float64 { return p.Upper }},
					{q.Upper, func(p survival.Point) float64 { return p.Lower }},
				} {
					first := math.Inf(1)
					for _, at := range c.Time {
						if p, _ := c.At(at, iv); limit.of(p) >= 0.37 {
							first = at
							break
						}
					}
					if first != limit.time {
						t.Fatalf("%v: limit %v, the curve's limit reaches it at %v", m, limit.time, first)
					}
				}
			}
		}
	}
}

func TestRestrictedMean(t *testing.T) {
	// By hand: S is 1 to 2, 3/4 to 4, 1/2 to 8: 2 + 2·3/4 + 4·1/2 = 5.5 to 8.
	s := survival.Sample{Exit: []float64{2, 4, 8, 10}, Cause: []int{1, 1, 1, 0}}
	c := mustCurve(t, survival.KaplanMeier, s, 1)
	m, err := c.RestrictedMean(8, survival.Interval{})
	if err != nil || m.Mean != 5.5 || m.To != 8 || m.Level != 0.95 {
		t.Errorf("got %+v, %v", m, err)
	}
	lost, err := c.RestrictedTimeLost(8, survival.Interval{})
	if err != nil || lost.Mean != 2.5 || lost.SE != m.SE || lost.Lower != 8-m.Upper || lost.Upper != 8-m.Lower {
		t.Errorf("got %+v beside %+v, %v", lost, m, err)
	}
	// Without censoring it is a mean, its variance that of one, dividing by n:
	// min(t, 8) of 2, 4, 8, 8 has variance 27/4.
	if got, want := m.SE*m.SE, 27.0/4/4; math.Abs(got-want) > 1e-12 {
		t.Errorf("variance %v, want %v", got, want)
	}
	m, err = c.RestrictedMean(0, survival.Interval{})
	if err != nil || m.Mean != 0 || m.SE != 0 || m.Lower != 0 || m.Upper != 0 {
		t.Errorf("to 0: got %+v, %v", m, err)
	}
	if m, err := c.RestrictedMean(1, survival.Interval{}); err != nil || m.Mean != 1 || m.SE != 0 {
		t.Errorf("before the first event: got %+v, %v", m, err)
	}
	if _, err := c.RestrictedMean(10.5, survival.Interval{}); !errors.Is(err, survival.ErrBeyondFollowUp) {
		t.Errorf("beyond: got %v", err)
	}
	ci := mustCurve(t, survival.CumulativeIncidence, s, 1)
	if _, err := ci.RestrictedMean(8, survival.Interval{}); !errors.Is(err, survival.ErrNotSurvival) {
		t.Errorf("incidence: got %v", err)
	}
	if got, err := ci.RestrictedTimeLost(8, survival.Interval{}); err != nil || got != lost {
		t.Errorf("incidence: got %+v, %v", got, err)
	}
	mustPanic(t, "below 0", func() { c.RestrictedMean(-1, survival.Interval{}) })
	mustPanic(t, "NaN", func() { c.RestrictedMean(math.NaN(), survival.Interval{}) })
	early := mustCurve(t, survival.KaplanMeier, survival.Sample{Exit: []float64{-1, 2}, Cause: []int{1, 0}}, 1)
	mustPanic(t, "an event before 0", func() { early.RestrictedMean(1, survival.Interval{}) })
}

// The area is that under the steps, and the error that of the delta method over
// the numbers of events, by numeric derivatives of the area by each day's
// proportions.
func TestRestrictedTimeLostByDefinition(t *testing.T) {
	random := rand.New(rand.NewPCG(12, 4))
	for i := range 200 {
		causes := 1 + i%3
		s := draw(random, 5+random.IntN(60), 3+random.IntN(12), causes, i%2 == 0, false, false)
		table := mustTable(t, s, causes)
		c, _ := survival.CumulativeIncidence(table, 1)
		end, _ := c.LastExit()
		tau := end * random.Float64()
		got, err := c.RestrictedTimeLost(tau, survival.Interval{})
		if err != nil {
			t.Fatal(err)
		}
		p := make([][]float64, len(table.Time)) // proportion of each cause at each time
		for i, n := range table.AtRisk {
			p[i] = make([]float64, causes)
			for k := range p[i] {
				if d := table.Event[k][i]; d > 0 {
					p[i][k] = d / n
				}
			}
		}
		area := func() float64 {
			free, total := 1.0, 0.0
			for i, at := range table.Time {
				if at < tau {
					total += free * p[i][0] * (tau - at)
				}
				for k, all := 0, 0.0; k < causes; k++ {
					if all += p[i][k]; k == causes-1 {
						free *= 1 - all
					}
				}
			}
			return total
		}
		if want := area(); math.Abs(got.Mean-want) > 1e-12*(1+want) {
			t.Fatalf("area %v, want %v", got.Mean, want)
		}
		variance := 0.0
		for i, n := range table.AtRisk {
			slope := make([]float64, causes)
			for k := range slope {
				const h = 1e-4 // the area is linear in each proportion
				old := p[i][k]
				p[i][k] = old + h
				up := area()
				p[i][k] = old - h
				down := area()
				p[i][k] = old
				slope[k] = (up - down) / (2 * h)
			}
			if n == 0 {
				continue
			}
			for k := range slope {
				for l := range slope {
					cov := -p[i][k] * p[i][l]
					if k == l {
						cov += p[i][k]
					}
					variance += slope[k] * slope[l] * cov / n
				}
			}
		}
		if got := got.SE * got.SE; math.Abs(got-variance) > 1e-9*(1e-6+variance) {
			t.Fatalf("variance %v, want %v", got, variance)
		}
	}
}

// Worked by hand: H(1) = 1/4, H(3) = 1/4 + 1/2; variances 1/16 and 1/16 + 1/4.
func TestNelsonAalen(t *testing.T) {
	s := survival.Sample{Exit: []float64{1, 2, 3, 4}, Cause: []int{1, 2, 1, 0}}
	h, err := survival.NelsonAalen(mustTable(t, s, 2), 1)
	if err != nil {
		t.Fatal(err)
	}
	p, ok := h.At(3.5, 0.9)
	if !ok || p.Time != 3.5 || p.Level != 0.9 || p.Estimate != 0.75 || math.Abs(p.SE*p.SE-5.0/16) > 1e-15 {
		t.Errorf("got %+v", p)
	}
	const z = 1.644853626951473 // qnorm(0.95) by R
	if want := math.Exp(math.Log(0.75) - z*p.SE/0.75); math.Abs(p.Lower-want) > 1e-12 {
		t.Errorf("lower %v, want %v", p.Lower, want)
	}
	if want := math.Exp(math.Log(0.75) + z*p.SE/0.75); math.Abs(p.Upper-want) > 1e-12 {
		t.Errorf("upper %v, want %v", p.Upper, want)
	}
	if p, ok := h.At(0.5, 0.95); !ok || p.Estimate != 0 || !math.IsNaN(p.Lower) || !math.IsNaN(p.Upper) {
		t.Errorf("before the first event: got %+v", p)
	}
	for _, x := range []float64{4.5, math.Inf(1), math.NaN()} {
		if _, ok := h.At(x, 0.95); ok {
			t.Errorf("a value at %v", x)
		}
	}
	for _, cause := range []int{0, 3} {
		if _, err := survival.NelsonAalen(mustTable(t, s, 2), cause); !errors.Is(err, survival.ErrTable) {
			t.Errorf("cause %d: got %v", cause, err)
		}
	}
	for _, level := range []float64{0, 1, 95, math.NaN()} {
		mustPanic(t, "level", func() { h.At(1, level) })
	}
}

// The hazard does not fall below −log of the survival's lower bound, and with few
// events the two agree: −log S − H is at most Σ (d/n)².
func TestHazardAndSurvival(t *testing.T) {
	s := draw(rand.New(rand.NewPCG(1, 9)), 3000, 30, 2, false, false, false)
	table := mustTable(t, s, 2)
	h, _ := survival.NelsonAalen(table, 2)
	c, _ := survival.KaplanMeier(table, 2)
	squares := 0.0
	for i, at := range c.Time {
		if i == len(c.Time)-1 {
			break // few are left
		}
		squares += math.Pow(table.Event[1][i]/table.AtRisk[i], 2)
		gap := -math.Log1p(-c.Incidence[i]) - h.Cumulative[i]
		if h.Time[i] != at || gap < 0 || gap > squares {
			t.Errorf("at %v: −log S exceeds H by %v, at most %v", at, gap, squares)
		}
	}
}

// Both curves at once are each by itself, and are read several times as once, to the bit: in
// any order of times, with every kind of interval, and in a room that was used before.
func TestBothAndReader(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	var room survival.Room
	for round := range 120 {
		causes := 1 + round%3
		table, err := survival.NewTable(draw(r, 5+r.IntN(80), 5+r.IntN(40), causes, round%2 == 0, false, false), causes)
		if err != nil {
			t.Fatal(err)
		}
		cause := 1 + r.IntN(causes)
		in := &room
		if in.Clear(); round >= 60 {
			in = nil
		}
		km, incidence, err := survival.Both(in, table, cause)
		if err != nil {
			if _, alone := survival.KaplanMeier(table, cause); alone == nil {
				t.Fatal(err)
			}
			continue
		}
		for _, both := range []struct {
			got      *survival.Curve
			estimate estimator
		}{{km, survival.KaplanMeier}, {incidence, survival.CumulativeIncidence}} {
			alone, err := both.estimate(table, cause)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(alone, both.got, cmp.AllowUnexported(survival.Curve{}), cmpopts.IgnoreFields(survival.Curve{}, "rows"), cmpopts.EquateNaNs()); d != "" {
				t.Fatalf("round %d, %v (-alone +both):\n%s", round, alone.Estimand, d)
			}
			for method := range survival.BetaProduct + 1 {
				iv := survival.Interval{Method: method}
				reader, end := both.got.Reader(iv), table.Time[len(table.Time)-1]
				at := 0.0
				for n := range 60 {
					if at += r.Float64() * end / 20; n%20 == 19 {
						at = r.Float64() * end
					} else if n%3 == 0 {
						at = table.Time[r.IntN(len(table.Time))]
					}
					if n == 30 {
						reader.At(math.NaN()) // says nothing, and changes nothing
					}
					want, ok := alone.At(at, iv)
					if got, gotOK := reader.At(at); gotOK != ok || cmp.Diff(want, got, cmpopts.EquateNaNs()) != "" {
						t.Fatalf("round %d, %v, at %v: got %+v, %t, want %+v, %t", round, alone.Estimand, at, got, gotOK, want, ok)
					}
				}
			}
		}
	}
}
