package benchmark

import (
	"math"
	"testing"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// TestReachIsTheReading compares the numbers found with the reading of a curve
// of as many joints, all followed for the whole time.
func TestReachIsTheReading(t *testing.T) {
	const days = 3652
	read := func(n, revised int, f Figure) Reading {
		counts := tally.New(1)
		for i := range n {
			if i < revised {
				counts.Add(100+int32(i%7), 1)
			} else {
				counts.Add(days+1, 0)
			}
		}
		km, err := survival.KaplanMeier(counts.Table(), 1)
		if err != nil {
			t.Fatal(err)
		}
		c, err := Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, f, survival.Interval{}, days)
		if err != nil {
			t.Fatal(err)
		}
		return c.Reading
	}
	for _, f := range []Figure{
		{Years: 10, Revision: .05, Lower: nan, Upper: nan},
		{Years: 10, Revision: .05, Lower: .047, Upper: .053},
		{Years: 10, Revision: .2, Lower: .15, Upper: .26},
		{Years: 10, Revision: .01, Lower: .009, Upper: .011},
	} {
		for _, n := range []int{9, 10, 30, 72, 73, 74, 150, 400} {
			r := ReachOf(n, f)
			for k := 0; k <= n && k < 60; k++ {
				got := Compatible
				switch {
				case n-k < FewestAtRisk && n < FewestAtRisk: // nothing is read
					continue
				case n-k < FewestAtRisk:
					continue // of the curve, nothing is read either
				case k >= r.Above:
					got = Above
				case k <= r.Below:
					got = Below
				}
				want := read(n, k, f)
				if want == TooFew {
					want = Compatible // on neither side
				}
				if got != want {
					t.Errorf("%d of %d beside %v: %v, the curve reads %v", k, n, f.Revision, got, want)
				}
			}
			if can := r.Below >= 0; can != (float64(n) >= Needed(f)) {
				t.Errorf("%d joints beside %v: none reads below: %v, needed %v", n, f.Revision, can, Needed(f))
			}
		}
	}
	if r := ReachOf(5, Figure{Revision: .01, Lower: nan, Upper: nan}); r.Above != 6 || r.Below != -1 {
		t.Errorf("five joints: %+v", r)
	}
}

// TestChanceAbove sums the binomial probabilities themselves.
func TestChanceAbove(t *testing.T) {
	for _, r := range []Reach{{Joints: 10, Above: 3}, {Joints: 74, Above: 9}, {Joints: 400, Above: 31}, {Joints: 20, Above: 20}} {
		for _, p := range []float64{.01, .05, .1, .5, .98} {
			want := 0.0
			for k := r.Above; k <= r.Joints; k++ {
				n, x := float64(r.Joints), float64(k)
				a, _ := math.Lgamma(n + 1)
				b, _ := math.Lgamma(x + 1)
				c, _ := math.Lgamma(n - x + 1)
				want += math.Exp(a - b - c + x*math.Log(p) + (n-x)*math.Log1p(-p))
			}
			if got := r.ChanceAbove(p); math.Abs(got-want) > 1e-11 {
				t.Errorf("%+v at %v: %v, want %v", r, p, got, want)
			}
		}
	}
	for _, c := range []struct {
		r       Reach
		p, want float64
	}{{Reach{10, 11, -1}, .9, 0}, {Reach{10, 3, -1}, 0, 0}, {Reach{10, 3, -1}, 1, 1}, {Reach{10, 0, -1}, .2, 1}} {
		if got := c.r.ChanceAbove(c.p); got != c.want {
			t.Errorf("%+v at %v: %v, want %v", c.r, c.p, got, c.want)
		}
	}
}
