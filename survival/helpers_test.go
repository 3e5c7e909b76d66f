package survival_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/holdfast/survival"
)

var everyMethod = []survival.Method{survival.LogLog, survival.Log, survival.Plain, survival.BetaProduct}

type estimator = func(*survival.Table, int) (*survival.Curve, error)

func mustTable(t testing.TB, s survival.Sample, causes int) *survival.Table {
	t.Helper()
	table, err := survival.NewTable(s, causes)
	if err != nil {
		t.Fatal(err)
	}
	if err := table.Check(); err != nil {
		t.Fatal(err)
	}
	return table
}

func mustCurve(t testing.TB, estimate estimator, s survival.Sample, causes int) *survival.Curve {
	t.Helper()
	curve, err := estimate(mustTable(t, s, causes), 1)
	if err != nil {
		t.Fatal(err)
	}
	return curve
}

func mustPanic(t *testing.T, name string, f func()) {
	t.Helper()
	defer func() {
		if recover() == nil {
			t.Errorf("%s: no panic", name)
		}
	}()
	f()
}

// censoredAt is n subjects censored at one time.
func censoredAt(n int, at float64) survival.Sample {
	s := survival.Sample{Exit: make([]float64, n), Cause: make([]int, n)}
	for i := range s.Exit {
		s.Exit[i] = at
	}
	return s
}

// draw is a random sample on few days, so that there are ties of every kind.
func draw(random *rand.Rand, n, days, causes int, late, weights, clusters bool) survival.Sample {
	s := survival.Sample{Exit: make([]float64, n), Cause: make([]int, n)}
	for i := range n {
		s.Exit[i] = float64(random.IntN(days))
		s.Cause[i] = random.IntN(causes + 1)
	}
	if late {
		s.Entry = make([]float64, n)
		for i := range n {
			s.Entry[i] = math.Inf(-1)
			if random.IntN(3) > 0 {
				s.Entry[i] = float64(random.IntN(int(s.Exit[i])+1)) - 1
			}
		}
	}
	if weights {
		s.Weight = make([]float64, n)
		for i := range n {
			if random.IntN(10) > 0 {
				s.Weight[i] = 0.1 + 3*random.Float64()
			}
		}
	}
	if clusters {
		s.Cluster = make([]int, n)
		for i := range n {
			s.Cluster[i] = random.IntN(n/2 + 1)
		}
	}
	return s
}
