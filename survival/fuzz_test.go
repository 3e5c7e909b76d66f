package survival_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// fuzzSample reads a sample from bytes, three or more a row, so that every input
// is a valid sample: the exit day, the cause, and if asked for, time from entry,
// weight and cluster.
func fuzzSample(data []byte, causes int, late, weights, clusters bool) survival.Sample {
	var s survival.Sample
	next := func() int {
		if len(data) == 0 {
			return 0
		}
		b := data[0]
		data = data[1:]
		return int(b)
	}
	for len(data) > 0 && len(s.Exit) < 2000 {
		exit := float64(next())
		s.Exit = append(s.Exit, exit)
		s.Cause = append(s.Cause, next()%(causes+1))
		if late {
			entry := math.Inf(-1)
			if b := next(); b > 0 {
				entry = exit - float64(b)
			}
			s.Entry = append(s.Entry, entry)
		}
		if weights {
			s.Weight = append(s.Weight, float64(next())/10)
		}
		if clusters {
			s.Cluster = append(s.Cluster, next()%8)
		}
	}
	return s
}

func fuzzSeeds(f *testing.F) {
	f.Add([]byte{}, uint8(1), uint8(0))
	f.Add([]byte{3, 1}, uint8(1), uint8(0))                                                                                // one row, an event
	f.Add([]byte{3, 2}, uint8(2), uint8(1))                                                                                // one row, another cause
	f.Add([]byte{0, 1, 0, 2, 0, 0, 3, 1}, uint8(2), uint8(2))                                                              // day 0
	f.Add([]byte{1, 1, 1, 2, 1, 0, 2, 1, 2, 1, 3, 2, 3, 0, 4, 1, 5, 2, 5, 1, 6, 0, 6, 1}, uint8(2), uint8(3))              // ties between causes
	f.Add([]byte{1, 1, 2, 1, 3, 0, 4, 1, 5, 2, 6, 0, 7, 1, 8, 0, 9, 2, 10, 0}, uint8(2), uint8(4))                         // ten hips
	f.Add([]byte{1, 2, 1, 1, 2, 1, 5, 1, 2, 6, 0, 3}, uint8(2), uint8(5))                                                  // late entry, nobody left between
	f.Add([]byte{1, 1, 5, 2, 2, 2, 9, 1, 5, 3, 1, 7, 0, 0, 2, 5, 1, 12, 1, 3}, uint8(3), uint8(7))                         // late entry and weights
	f.Add([]byte{200, 1, 100, 1, 50, 1, 25, 1, 12, 1, 6, 1, 3, 1, 1, 1, 0, 1, 255, 1, 255, 1, 254, 1}, uint8(1), uint8(6)) // all fail
}

// FuzzTable checks the properties that need no reference, for samples without
// weights: everything sums to 1; row order, splitting and merging, and the fast
// and the general path leave every bit the same; another unit of time changes no
// estimate; limits enclose the estimate.
func FuzzTable(f *testing.F) {
	fuzzSeeds(f)
	f.Fuzz(func(t *testing.T, data []byte, causes, choice uint8) {
		k := 1 + int(causes)%4
		random := rand.New(rand.NewPCG(uint64(choice), 1))
		s := fuzzSample(data, k, choice%2 == 1, false, false)
		table := mustTable(t, s, k)
		checkSum(t, s, k)
		checkWeeks(t, s, k)
		if o := mustTable(t, shuffled(s, random), k); !sameTable(table, o) {
			t.Fatalf("order of rows changes the table")
		}
		if s.Entry == nil {
			parts := []*tally.Counts{tally.New(k), tally.New(k), tally.New(k)}
			for i, exit := range s.Exit {
				parts[random.IntN(3)].Add(int32(exit), s.Cause[i])
			}
			for _, i := range random.Perm(2) {
				if err := parts[2].Merge(parts[i]); err != nil {
					t.Fatal(err)
				}
			}
			if !sameTable(table, parts[2].Table()) {
				t.Fatal("the fast path gives another table")
			}
		}
		for cause := 1; cause <= k; cause++ {
			km, err := survival.KaplanMeier(table, cause)
			if err != nil {
				t.Fatal(err)
			}
			ci, err := survival.CumulativeIncidence(table, cause)
			if err != nil {
				t.Fatal(err)
			}
			for i := range ci.Time {
				if ci.Incidence[i] > km.Incidence[i]+1e-12 {
					t.Fatalf("the incidence exceeds 1 − Kaplan–Meier at %v", ci.Time[i])
				}
			}
			checkCurve(t, km)
			checkCurve(t, ci)
		}
		if s.Entry == nil {
			checkUncensored(t, s, k)
		}
	})
}

// FuzzRobust checks that the infinitesimal jackknife is finite, never negative,
// independent of the order of rows, and what its definition says.
func FuzzRobust(f *testing.F) {
	fuzzSeeds(f)
	f.Fuzz(func(t *testing.T, data []byte, causes, choice uint8) {
		k := 1 + int(causes)%3
		s := fuzzSample(data, k, choice&1 != 0, choice&2 != 0, choice&4 != 0)
		if len(s.Exit) > 60 {
			return // the check is quadratic
		}
		shuffledSame(t, s, k, rand.New(rand.NewPCG(uint64(choice), 2)))
		checkRobust(t, s, k, 1e-9)
		for _, e := range []survival.Estimand{survival.OneMinusKaplanMeier, survival.Incidence} {
			c, err := survival.Robust(s, k, 1, e)
			if err != nil {
				t.Fatal(err)
			}
			checkCurve(t, c)
		}
	})
}

// checkCurve reads a curve by every method at several levels: a proportion that
// never falls, a finite error, and limits in [0, 1] around the estimate.
func checkCurve(t *testing.T, c *survival.Curve) {
	t.Helper()
	times := append([]float64{-1}, c.Time...)
	if end, ok := c.LastExit(); ok {
		times = append(times, end)
	}
	for i, f := range c.Incidence {
		if !(f >= 0 && f <= 1) || i > 0 && f < c.Incidence[i-1] {
			t.Fatalf("%v of cause %d: %v", c.Estimand, c.Cause, c.Incidence)
		}
		if se := c.SE[i]; !(se >= 0) || math.IsInf(se, 1) {
			t.Fatalf("%v of cause %d: SE %v", c.Estimand, c.Cause, c.SE)
		}
	}
	for _, m := range everyMethod {
		for _, level := range []float64{0.001, 0.5, 0.95, 0.998, 0.9999999} {
			for _, at := range times {
				p, ok := c.At(at, survival.Interval{Method: m, Level: level})
				switch {
				case !ok:
				case p.Notes&survival.LimitsUndefined != 0:
					if !math.IsNaN(p.Lower) || !math.IsNaN(p.Upper) {
						t.Fatalf("undefined limits are numbers: %+v", p)
					}
				case !(0 <= p.Lower && p.Lower <= p.Estimate && p.Estimate <= p.Upper && p.Upper <= 1):
					t.Fatalf("%v, cause %d: limits do not enclose: %+v", c.Estimand, c.Cause, p)
				case p.Lower == p.Upper && c.Variance == survival.Greenwood && p.SE == 0:
					t.Fatalf("%v, cause %d: an interval of width 0: %+v", c.Estimand, c.Cause, p)
				}
			}
		}
		if q, ok := c.Quantile(0.4, survival.Interval{Method: m}); ok && (q.Lower > q.Time || q.Upper < q.Time || c.Variance == survival.Greenwood && math.IsNaN(q.Lower+q.Upper)) {
			t.Fatalf("quantile %+v", q)
		}
	}
	if end, ok := c.LastExit(); ok && end >= 0 && c.Variance == survival.Greenwood && (len(c.Time) == 0 || c.Time[0] >= 0) {
		m, err := c.RestrictedTimeLost(end, survival.Interval{})
		if err != nil || !(0 <= m.Lower && m.Lower <= m.Mean && m.Mean <= m.Upper && m.Upper <= end) || math.IsNaN(m.SE) {
			t.Fatalf("time lost to %v: %+v, %v", end, m, err)
		}
	}
}

// checkWeeks compares curves in days and in weeks.
func checkWeeks(t *testing.T, s survival.Sample, causes int) {
	t.Helper()
	weeks := s
	weeks.Exit = nil
	for _, x := range s.Exit {
		weeks.Exit = append(weeks.Exit, x/7)
	}
	if s.Entry != nil {
		weeks.Entry = nil
		for _, x := range s.Entry {
			weeks.Entry = append(weeks.Entry, x/7)
		}
	}
	for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
		d, w := mustCurve(t, estimate, s, causes), mustCurve(t, estimate, weeks, causes)
		if !sameBits(d.Incidence, w.Incidence) || !sameBits(d.SE, w.SE) {
			t.Fatal("weeks give another curve")
		}
		for i := range d.Time {
			if w.Time[i] != d.Time[i]/7 {
				t.Fatal("weeks give other times")
			}
		}
	}
}

// checkUncensored makes every censoring an event of cause 1: the estimate is then
// the proportion failed, its variance that of a proportion, the plain interval
// the usual one for a proportion.
func checkUncensored(t *testing.T, s survival.Sample, causes int) {
	t.Helper()
	all := s
	all.Cause = nil
	for _, c := range s.Cause {
		all.Cause = append(all.Cause, max(1, c))
	}
	n := float64(len(all.Exit))
	for cause := 1; cause <= causes; cause++ {
		c, err := survival.CumulativeIncidence(mustTable(t, all, causes), cause)
		if err != nil {
			t.Fatal(err)
		}
		for i, at := range c.Time {
			failed := 0.0
			for j, exit := range all.Exit {
				if exit <= at && all.Cause[j] == cause {
					failed++
				}
			}
			p := failed / n
			se := math.Sqrt(p * (1 - p) / n)
			if math.Abs(c.Incidence[i]-p) > 1e-12 || math.Abs(c.SE[i]*c.SE[i]-se*se) > 1e-12 {
				t.Fatalf("at %v: %v ± %v, want %v ± %v", at, c.Incidence[i], c.SE[i], p, se)
			}
			const z = 1.959963984540054 // qnorm(0.975) by R
			got, _ := c.At(at, survival.Interval{Method: survival.Plain})
			if p < 1-1e-9 && (math.Abs(got.Lower-math.Max(0, p-z*se)) > 1e-9 || math.Abs(got.Upper-math.Min(1, p+z*se)) > 1e-9) {
				t.Fatalf("at %v: %v–%v, want %v ± %v", at, got.Lower, got.Upper, p, z*se)
			}
		}
	}
}

// FuzzNewTable feeds times and weights of any kind: a table that can be checked,
// or an error that names a row; never a panic.
func FuzzNewTable(f *testing.F) {
	f.Add(1.0, 2.0, 3.0, -1.0, 0.5, 1.5)
	f.Add(math.NaN(), 2.0, math.Inf(1), math.Inf(-1), -1.0, 0.0)
	f.Add(0.0, math.Copysign(0, -1), 5e-324, -5e-324, 1e300, 1e-300)
	f.Fuzz(func(t *testing.T, a, b, c, d, e, g float64) {
		s := survival.Sample{
			Entry: []float64{d, math.Inf(-1), a}, Exit: []float64{a, b, c}, Cause: []int{1, 0, 2}, Weight: []float64{e, 1, g},
		}
		table, err := survival.NewTable(s, 2)
		if err != nil {
			return
		}
		if math.Abs(e)+math.Abs(g) < 1e300 {
			if err := table.Check(); err != nil {
				t.Fatalf("%+v: %v", s, err)
			}
		}
		if o := mustTableOrNil(shuffled(s, rand.New(rand.NewPCG(1, 1)))); o == nil || !sameTable(table, o) {
			t.Fatalf("%+v: order of rows changes the table", s)
		}
		if _, err := survival.Robust(s, 2, 1, survival.Incidence); err != nil {
			t.Fatal(err)
		}
		s.Weight = nil
		if table, err := survival.NewTable(s, 2); err == nil {
			if err := table.Check(); err != nil {
				t.Fatalf("%+v: %v", s, err)
			}
		}
	})
}

func mustTableOrNil(s survival.Sample) *survival.Table {
	t, err := survival.NewTable(s, 2)
	if err != nil {
		return nil
	}
	return t
}

// FuzzLimits checks exact limits of counts for any number and level.
func FuzzLimits(f *testing.F) {
	f.Add(0.0, 20.0, 0.95)
	f.Add(3.0, 20.0, 0.95)
	f.Add(20.0, 20.0, 0.5)
	f.Add(250.0, 5000.0, 0.998)
	f.Add(0.5, 1.5, 0.999999)
	f.Fuzz(func(t *testing.T, x, n, level float64) {
		if !(x >= 0 && x <= n && n > 0 && n < 1e7 && level > 1e-6 && level < 1-1e-9) || x > 0 && x < 1e-3 || n-x > 0 && n-x < 1e-3 {
			return
		}
		lower, upper := survival.BinomialLimits(x, n, level)
		if p := x / n; !(0 <= lower && lower <= p+1e-9 && p <= upper+1e-9 && upper <= 1) {
			t.Errorf("binomial %v of %v at %v: %v–%v", x, n, level, lower, upper)
		}
		lower, upper = survival.PoissonLimits(x, level)
		if !(0 <= lower && lower <= x*(1+1e-9) && x <= upper && !math.IsInf(upper, 1)) {
			t.Errorf("Poisson %v at %v: %v–%v", x, level, lower, upper)
		}
	})
}
