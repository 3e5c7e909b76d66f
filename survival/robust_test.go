package survival_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/holdfast/survival"
)

// naive is the cumulative incidence of a cause with every row's derivative by
// its weight, from the definition: F = Σ S(t−)·a with a = d_k/n and S = ∏ (1 −
// d/n), each differentiated row by row at each time.
type naive struct {
	time       []float64
	estimate   []float64
	derivative [][]float64 // [time][row]
}

func influences(s survival.Sample, cause int) naive {
	weight := func(i int) float64 {
		if s.Weight == nil {
			return 1
		}
		return s.Weight[i]
	}
	atRisk := func(i int, at float64) bool {
		return s.Exit[i] >= at && (s.Entry == nil || s.Entry[i] < at)
	}
	var out naive
	n := len(s.Exit)
	free, total := 1.0, 0.0
	dFree, dTotal := make([]float64, n), make([]float64, n)
	for {
		at := math.Inf(1)
		for i, exit := range s.Exit {
			if weight(i) > 0 && exit < at && (len(out.time) == 0 || exit > out.time[len(out.time)-1]) {
				at = exit
			}
		}
		if math.IsInf(at, 1) {
			return out
		}
		var risk, all, own, stay float64
		for i := range n {
			if atRisk(i, at) {
				risk += weight(i)
				if s.Exit[i] == at && s.Cause[i] != 0 {
					all += weight(i)
					if s.Cause[i] == cause {
						own += weight(i)
					}
				} else {
					stay += weight(i)
				}
			}
		}
		a, q := own/risk, stay/risk
		for i := range n {
			var da, dq float64
			if atRisk(i, at) {
				da, dq = -a/risk, (1-q)/risk
				if s.Exit[i] == at && s.Cause[i] != 0 {
					dq = -q / risk
					if s.Cause[i] == cause {
						da += 1 / risk
					}
				}
			}
			dTotal[i] += dFree[i]*a + free*da
			dFree[i] = dFree[i]*q + free*dq
		}
		total += free * a
		free *= q
		out.time = append(out.time, at)
		out.estimate = append(out.estimate, total)
		out.derivative = append(out.derivative, append([]float64(nil), dTotal...))
	}
}

// variance sums the squares of weight·derivative, added up within clusters.
func variance(s survival.Sample, derivative []float64) float64 {
	sums := make(map[int]float64)
	for i, d := range derivative {
		w, c := 1.0, i
		if s.Weight != nil {
			w = s.Weight[i]
		}
		if s.Cluster != nil {
			c = s.Cluster[i]
		}
		sums[c] += w * d
	}
	total := 0.0
	for _, x := range sums {
		total += x * x
	}
	return total
}

// only makes the other causes censoring.
func only(s survival.Sample, cause int) survival.Sample {
	causes := make([]int, len(s.Cause))
	for i, c := range s.Cause {
		if c == cause {
			causes[i] = 1
		}
	}
	s.Cause = causes
	return s
}

func checkRobust(t *testing.T, s survival.Sample, causes int, tolerance float64) {
	t.Helper()
	for _, e := range []survival.Estimand{survival.OneMinusKaplanMeier, survival.Incidence} {
		for cause := 1; cause <= causes; cause++ {
			c, err := survival.Robust(s, causes, cause, e)
			if err != nil {
				t.Fatal(err)
			}
			want := influences(s, cause)
			if e == survival.OneMinusKaplanMeier {
				want = influences(only(s, cause), 1)
			}
			if c.Variance != survival.InfinitesimalJackknife || c.Estimand != e || c.Cause != cause {
				t.Errorf("got %v, %v, cause %d", c.Variance, c.Estimand, c.Cause)
			}
			for i, at := range want.time {
				p, ok := c.At(at, survival.Interval{Method: survival.Plain})
				v := variance(s, want.derivative[i])
				if !ok || math.Abs(p.Estimate-want.estimate[i]) > tolerance || math.Abs(p.SE*p.SE-v) > tolerance*(v+1e-3) {
					t.Fatalf("%+v\n%v of cause %d at %v: got %v, variance %v, want %v, %v", s, e, cause, at, p.Estimate, p.SE*p.SE, want.estimate[i], v)
				}
			}
		}
	}
}

func TestRobustAgainstDefinition(t *testing.T) {
	random := rand.New(rand.NewPCG(10, 20))
	for i := range 3000 {
		causes := 1 + i%3
		s := draw(random, 1+random.IntN(50), 1+random.IntN(15), causes, i%2 == 0, i%3 > 0, i%5 > 1)
		checkRobust(t, s, causes, 1e-10)
	}
}

// Weights that differ a million times leave the error its digits, though light
// rows at the end, where S is small, have very steep influences.
func TestRobustUnequalWeights(t *testing.T) {
	random := rand.New(rand.NewPCG(10, 21))
	for i := range 300 {
		s := draw(random, 2+random.IntN(60), 2+random.IntN(30), 2, i%2 == 0, true, i%3 == 0)
		for j := range s.Weight {
			s.Weight[j] = math.Pow(10, 6*random.Float64())
		}
		checkRobust(t, s, 2, 1e-9)
	}
}

// The derivatives of the definition are those by finite differences of the
// weighted estimate in each weight.
func TestRobustAgainstFiniteDifferences(t *testing.T) {
	random := rand.New(rand.NewPCG(30, 20))
	for i := range 60 {
		s := draw(random, 2+random.IntN(25), 2+random.IntN(10), 2, i%2 == 0, true, i%3 == 0)
		for j := range s.Weight {
			s.Weight[j] = math.Max(s.Weight[j], 0.2)
		}
		for _, e := range []survival.Estimand{survival.OneMinusKaplanMeier, survival.Incidence} {
			c, err := survival.Robust(s, 2, 1, e)
			if err != nil {
				t.Fatal(err)
			}
			slope := make([][]float64, len(c.Time)) // [time][row]
			for k := range slope {
				slope[k] = make([]float64, len(s.Exit))
			}
			for j, w := range s.Weight {
				const h = 1e-4
				estimate := func(step float64) []float64 {
					s.Weight[j] = w + step
					c, err := survival.Robust(s, 2, 1, e)
					if err != nil {
						t.Fatal(err)
					}
					return c.Incidence
				}
				// Central differences, extrapolated: the error is of order h⁴.
				a, b, c, d := estimate(h), estimate(-h), estimate(2*h), estimate(-2*h)
				s.Weight[j] = w
				for k := range slope {
					slope[k][j] = (8*(a[k]-b[k]) - (c[k] - d[k])) / (12 * h)
				}
			}
			for k, at := range c.Time {
				got, want := c.SE[k]*c.SE[k], variance(s, slope[k])
				if math.Abs(got-want) > 1e-8*(want+1e-3) {
					t.Fatalf("%+v\n%v at %v: variance %v, by differences %v", s, e, at, got, want)
				}
			}
		}
	}
}

// Weights times a constant change nothing; nor does it matter whether weights of
// 1 are given.
func TestRobustScale(t *testing.T) {
	random := rand.New(rand.NewPCG(30, 2))
	for range 200 {
		s := draw(random, 1+random.IntN(60), 12, 2, true, true, true)
		c, err := survival.Robust(s, 2, 1, survival.Incidence)
		if err != nil {
			t.Fatal(err)
		}
		scaled := s
		scaled.Weight = nil
		for _, w := range s.Weight {
			scaled.Weight = append(scaled.Weight, w*1024) // exact
		}
		d, _ := survival.Robust(scaled, 2, 1, survival.Incidence)
		if !sameBits(c.Incidence, d.Incidence) {
			t.Fatalf("%+v: weights times 1024 change the estimate", s)
		}
		for i := range c.SE {
			if math.Abs(c.SE[i]-d.SE[i]) > 1e-12 {
				t.Fatalf("%+v: weights times 1024 change the error %v to %v", s, c.SE[i], d.SE[i])
			}
		}
		s.Weight = nil
		c, _ = survival.Robust(s, 2, 1, survival.OneMinusKaplanMeier)
		for range s.Exit {
			s.Weight = append(s.Weight, 1)
		}
		d, _ = survival.Robust(s, 2, 1, survival.OneMinusKaplanMeier)
		if !sameCurve(c, d) {
			t.Fatalf("%+v: weights of 1 change the curve", s)
		}
	}
}

// Without weights, clusters and late entry the infinitesimal jackknife is
// Greenwood's variance, and each joint of a pair as its own patient likewise.
func TestRobustAndGreenwood(t *testing.T) {
	random := rand.New(rand.NewPCG(31, 2))
	for range 300 {
		s := draw(random, 1+random.IntN(80), 1+random.IntN(20), 2, false, false, false)
		for _, e := range []struct {
			kind     survival.Estimand
			estimate estimator
		}{{survival.OneMinusKaplanMeier, survival.KaplanMeier}, {survival.Incidence, survival.CumulativeIncidence}} {
			c, _ := survival.Robust(s, 2, 1, e.kind)
			g := mustCurve(t, e.estimate, s, 2)
			if !sameBits(c.Incidence, g.Incidence) {
				t.Fatalf("%+v: %v: the estimates differ", s, e.kind)
			}
			for i := range c.SE {
				if math.Abs(c.SE[i]-g.SE[i]) > 1e-7 { // both near 0 where everybody fails
					t.Fatalf("%+v: %v at %v: %v and %v", s, e.kind, c.Time[i], c.SE[i], g.SE[i])
				}
			}
		}
	}
}

// What has no limits with this variance says so and is NaN.
func TestRobustRefusals(t *testing.T) {
	s := survival.Sample{
		Exit: []float64{2, 3, 5, 5, 6}, Cause: []int{2, 1, 0, 1, 1}, Weight: []float64{1, 2, 1, 0.5, 1},
	}
	for _, e := range []survival.Estimand{survival.OneMinusKaplanMeier, survival.Incidence} {
		c, err := survival.Robust(s, 2, 1, e)
		if err != nil {
			t.Fatal(err)
		}
		type expected struct {
			at      float64
			method  survival.Method
			defined bool
			notes   survival.Note
		}
		want := []expected{
			{2, survival.LogLog, false, survival.NoEvents | survival.LimitsUndefined},
			{2, survival.Plain, false, survival.NoEvents | survival.LimitsUndefined},
			{3, survival.LogLog, true, 0},
			{3, survival.Plain, true, 0},
		}
		if e == survival.OneMinusKaplanMeier {
			want = append(want,
				expected{3, survival.Log, true, 0},
				expected{3, survival.BetaProduct, false, survival.LimitsUndefined},
				expected{6, survival.LogLog, false, survival.EverybodyFailed | survival.LastIsEvent | survival.LimitsUndefined})
		} else {
			want = append(want,
				expected{3, survival.Log, true, survival.OtherMethod},
				expected{3, survival.BetaProduct, true, survival.OtherMethod},
				expected{6, survival.LogLog, true, survival.LastIsEvent})
		}
		for _, x := range want {
			p, ok := c.At(x.at, survival.Interval{Method: x.method, MinAtRisk: -1})
			if defined := !math.IsNaN(p.Lower) && !math.IsNaN(p.Upper); !ok || defined != x.defined || p.Notes != x.notes {
				t.Errorf("%v at %v, %v: got %+v, want %+v", e, x.at, x.method, p, x)
			}
		}
		if e == survival.OneMinusKaplanMeier {
			// 1 − Kaplan–Meier is 4/9 at 3 and 1 at 6, where it has no limits.
			q, ok := c.Quantile(0.9, survival.Interval{})
			if !ok || q.Time != 6 || q.Lower != 3 || !math.IsNaN(q.Upper) {
				t.Errorf("quantile .9: got %+v", q)
			}
			q, ok = c.Quantile(0.3, survival.Interval{Method: survival.BetaProduct})
			if !ok || q.Time != 3 || !math.IsNaN(q.Lower) || !math.IsNaN(q.Upper) {
				t.Errorf("quantile .3 by the beta product: got %+v", q)
			}
		}
		if _, err := c.RestrictedTimeLost(4, survival.Interval{}); !errors.Is(err, survival.ErrNoMeanVariance) {
			t.Errorf("%v: restricted mean: got %v", e, err)
		}
	}
	if _, err := survival.NelsonAalen(mustTable(t, s, 2), 1); !errors.Is(err, survival.ErrWeighted) {
		t.Errorf("Nelson–Aalen: got %v", err)
	}
}

// Numbers at risk and of events are sums of weights.
func TestRobustReadsWeights(t *testing.T) {
	s := survival.Sample{
		Exit: []float64{1, 2, 3, 4}, Cause: []int{1, 2, 1, 0}, Weight: []float64{0.5, 2, 1.5, 3}, Cluster: []int{7, 7, -2, 0},
	}
	c, err := survival.Robust(s, 2, 1, survival.Incidence)
	if err != nil {
		t.Fatal(err)
	}
	p, _ := c.At(3, survival.Interval{MinAtRisk: 5})
	if p.AtRisk != 4.5 || p.Events != 2 || p.Competing != 2 || p.Notes != survival.FewAtRisk {
		t.Errorf("got %+v", p)
	}
	q, ok := c.Quantile(0.2, survival.Interval{})
	if !ok || q.Time != 3 {
		t.Errorf("quantile %+v", q)
	}
	empty, err := survival.Robust(survival.Sample{}, 2, 1, survival.Incidence)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := empty.At(0, survival.Interval{}); ok {
		t.Error("a value without a subject")
	}
}
