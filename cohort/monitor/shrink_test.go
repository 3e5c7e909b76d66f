package monitor

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/holdfast/cohort/internal/testvalues"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/stat/distuv"
)

// samples are the units of shrunk.csv by sample and level, with what R made of them.
func samples(t *testing.T) (units map[[2]float64][]Count, want map[[2]float64][]Estimate) {
	units, want = make(map[[2]float64][]Count), make(map[[2]float64][]Estimate)
	for _, r := range testvalues.Numbers(t, "shrunk.csv") {
		key := [2]float64{r["sample"], r["level"]}
		units[key] = append(units[key], Count{int(r["observed"]), r["expected"]})
		want[key] = append(want[key], Estimate{r["ratio"], r["lower"], r["upper"]})
	}
	return units, want
}

// Calculated with testdata/monitor.R: likelihood by dnbinom, Gamma quantiles by
// pgamma, the most likely values by optim, which finds them to six digits.
func TestShrinkReference(t *testing.T) {
	units, want := samples(t)
	if len(units) != 8 {
		t.Fatalf("%d samples", len(units))
	}
	likeliest := make(map[float64][2]float64)
	for _, r := range testvalues.Numbers(t, "units.csv") {
		likeliest[r["sample"]] = [2]float64{r["mean"], r["variance"]}
	}
	for key, u := range units {
		if testing.Short() && key != [2]float64{1, .95} {
			continue
		}
		s, err := Shrink(u, key[1])
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want[key], s.Units, cmpopts.EquateApprox(1e-7, 0)); diff != "" {
			t.Errorf("sample %v: %s", key, diff)
		}
		if l := likeliest[key[0]]; !near(s.Mean, l[0], 1e-5) || !near(s.Tau*s.Tau, l[1], 1e-5) {
			t.Errorf("sample %v: mean %v, variance %v, want %v", key, s.Mean, s.Tau*s.Tau, l)
		}
	}
}

// At the most likely values the likelihood, summed as its formula stands from the
// probabilities of negative binomial counts, is least changed by small steps; and the
// slope in v at 0 is (Σ(O − μE)² − ΣO)/2.
func TestLikeliest(t *testing.T) {
	direct := func(units []Count, mu, v float64) float64 {
		sum, a := 0.0, 1/v
		for _, u := range units {
			o, m := float64(u.Observed), mu*u.Expected
			up, _ := math.Lgamma(a + o)
			base, _ := math.Lgamma(a)
			sum += up - base + a*math.Log(a/(a+m)) + o*math.Log(m/(a+m))
		}
		return sum
	}
	all, _ := samples(t)
	for _, sample := range []float64{1, 4} {
		units := all[[2]float64{sample, .95}]
		s, err := Shrink(units, .95)
		if err != nil {
			t.Fatal(err)
		}
		v := s.Tau * s.Tau
		best := direct(units, s.Mean, v)
		for _, step := range []float64{-1e-3, 1e-3} {
			if direct(units, s.Mean*(1+step), v) > best || direct(units, s.Mean, v*(1+step)) > best {
				t.Errorf("sample %v: more likely near mean %v, variance %v", sample, s.Mean, v)
			}
		}
	}
	m := gammaPoisson{units: []Count{{2, 1}, {0, 2}, {4, 3}}, observed: 6, expected: 6}
	// μ = 1: (1 + 4 + 1 − 6)/2 = 0, and for 5, 0, 1: (16 + 4 + 4 − 6)/2 = 9.
	if got := m.slope(1, 0); math.Abs(got) > 1e-14 {
		t.Errorf("slope %v", got)
	}
	m.units = []Count{{5, 1}, {0, 2}, {1, 3}}
	if got := m.slope(1, 0); !near(got, 9, 1e-14) {
		t.Errorf("slope %v", got)
	}
	// The two forms of curvature meet; at 0 it is 1/2.
	if a, b := curvature(.02), curvature(math.Nextafter(.02, 1)); !near(a, b, 1e-11) || curvature(0) != .5 {
		t.Errorf("%v and %v", a, b)
	}
}

// Drawn ratios lie between the unit's own and that of all, keep the order of the
// units, and are drawn the more the fewer are expected.
func TestShrinkProperties(t *testing.T) {
	all, _ := samples(t)
	units := all[[2]float64{1, .95}]
	want, err := Shrink(units, .95)
	if err != nil {
		t.Fatal(err)
	}
	for i, e := range want.Units {
		if !(0 < e.Lower && e.Lower < e.Ratio && e.Ratio < e.Upper) {
			t.Errorf("unit %d: %+v", i, e)
		}
		own := float64(units[i].Observed) / units[i].Expected
		if own > 1.4 && !(e.Ratio < own && e.Ratio > 1) || own < .7 && !(e.Ratio > own && e.Ratio < 1.3) {
			t.Errorf("unit %d: %v drawn to %v", i, own, e.Ratio)
		}
	}
	if units[0] != (Count{2, .4}) {
		t.Error("the caller's units were changed")
	}
	reversed := slices.Clone(units)
	slices.Reverse(reversed)
	got, err := Shrink(reversed, .95)
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(got.Units)
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-10, 0)); diff != "" {
		t.Error(diff)
	}

	// A unit of which nothing is expected has what is known of the others.
	got, err = Shrink(append(slices.Clone(units), Count{}), .95)
	if err != nil {
		t.Fatal(err)
	}
	if e := got.Units[12]; !(e.Lower < .6 && e.Ratio > 1 && e.Ratio < 1.3 && e.Upper > 1.7) {
		t.Errorf("nothing expected: %+v", e)
	}
}

func TestShrinkErrors(t *testing.T) {
	if _, err := Shrink([]Count{{1, 1}, {2, 2}, {}}, .95); !errors.Is(err, ErrFewUnits) {
		t.Errorf("%v", err)
	}
	if _, err := Shrink([]Count{{0, 1}, {0, 2}, {0, 3}}, .95); !errors.Is(err, ErrNoRevised) {
		t.Errorf("%v", err)
	}
	if _, err := Shrink([]Count{{0, 1}, {1, 2}, {0, 3}}, .95); err != nil {
		t.Errorf("%v", err)
	}
	for name, f := range map[string]func(){
		"level 1":               func() { _, _ = Shrink(nil, 1) },
		"negative count":        func() { _, _ = Shrink([]Count{{-1, 1}}, .95) },
		"expected not finite":   func() { _, _ = Shrink([]Count{{1, math.Inf(1)}}, .95) },
		"expected no number":    func() { _, _ = Shrink([]Count{{0, math.NaN()}}, .95) },
		"revised, not expected": func() { _, _ = Shrink([]Count{{1, 0}}, .95) },
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

func BenchmarkShrink(b *testing.B) {
	for _, n := range []int{6, 60, 600} {
		b.Run(fmt.Sprintf("units=%d", n), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(1, 1))
			units := make([]Count, n)
			for i := range units {
				e := 15 * rng.Float64()
				units[i] = Count{int(distuv.Poisson{Lambda: e, Src: rng}.Rand()), e}
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Shrink(units, .95); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
