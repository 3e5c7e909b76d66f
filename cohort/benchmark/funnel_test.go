package benchmark

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/holdfast/cohort/internal/testvalues"
	"example.org/holdfast/survival"
)

func nearTo(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Max(math.Abs(want), 1e-3)
}

// Counts calculated with R 4.2.2 (pgamma and pbeta, uniroot).
func TestFunnelCounts(t *testing.T) {
	for _, c := range []struct{ mean, level, lower, upper float64 }{
		{1, .95, -1, 3.820471}, {6, .95, 1.250433, 11.719063}, {10, .95, 3.833616, 17.127159},
		{10, .998, 1.371477, 21.570600}, {40, .95, 27.604645, 53.345919},
	} {
		if lower, upper := PoissonFunnel(c.mean, c.level); math.Abs(lower-c.lower) > 1e-6 || math.Abs(upper-c.upper) > 1e-6 {
			t.Errorf("%+v: %v to %v", c, lower, upper)
		}
	}
	for _, c := range []struct{ department, share, level, lower, upper float64 }{
		{40, .25, .95, 4.420934, 16.062508}, {40, .25, .998, 1.990916, 19.500320}, {30, .04, .95, -1, 4.136380},
	} {
		if lower, upper := BinomialFunnel(c.department, c.share, c.level); math.Abs(lower-c.lower) > 1e-6 || math.Abs(upper-c.upper) > 1e-6 {
			t.Errorf("%+v: %v to %v", c, lower, upper)
		}
	}
}

// The limits are smooth and narrow as more are expected, and a unit lies outside
// by chance in 5 % at most.
func TestFunnelLimitsProperties(t *testing.T) {
	before := []float64{0, math.Inf(1), 0, math.Inf(1)}
	most := 0.0
	for e := .05; e < 2000; e *= 1.003 {
		l, u := FunnelLimits(e, 1, .95)
		l8, u8 := FunnelLimits(e, 1, .998)
		if !(l8 <= l && l <= 1 && 1 <= u && u <= u8) || l < before[0] || u >= before[1] || l8 < before[2] || u8 >= before[3] {
			t.Fatalf("%v expected: %v %v to %v %v after %v", e, l8, l, u, u8, before)
		}
		before = []float64{l, u, l8, u8}
		by := OutsideByChance(e, 1, .95)
		most = max(most, by)
		sum := 0.0
		if e < 30 {
			for o := range 80 {
				if FunnelSide(float64(o), e, 1, .95) != Compatible {
					sum += distuv.Poisson{Lambda: e}.Prob(float64(o))
				}
			}
			if math.Abs(sum-by) > 1e-9 {
				t.Fatalf("%v expected: %v outside, want %v", e, by, sum)
			}
		}
	}
	if most > .0499 {
		t.Errorf("%v outside by chance", most)
	}
}

// The funnel's limits and Garwood's, of the same count, answer the same question
// from both sides: a count on the funnel's limit has an interval that ends at
// the target.
func TestFunnelMeetsGarwood(t *testing.T) {
	for _, count := range []float64{1, 4, 10, 60} {
		m, _ := survival.PoissonLimits(count, .95) // P(R ≥ count) = 0.025
		if _, upper := PoissonFunnel(m, .95); !nearTo(upper, count, 1e-9) {
			t.Errorf("%v expected: upper count %v, want %v", m, upper, count)
		}
		_, m = survival.PoissonLimits(count, .95) // P(R ≤ count) = 0.025
		if lower, _ := PoissonFunnel(m*(1+1e-12), .95); !nearTo(lower, count, 1e-9) {
			t.Errorf("%v expected: lower count %v, want %v", m, lower, count)
		}
	}
}

// Calculated with testdata/funnel.R.
func TestFunnelLimitsReference(t *testing.T) {
	rows := testvalues.Numbers(t, "funnel-limits.csv")
	if len(rows) != 16*3*2 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, r := range rows {
		lower, upper := FunnelLimits(r["expected"], r["target"], r["level"])
		if !nearTo(lower, r["lower"], 1e-11) || !nearTo(upper, r["upper"], 1e-11) {
			t.Errorf("%v: %v to %v", r, lower, upper)
		}
		if got := OutsideByChance(r["expected"], r["target"], r["level"]); !nearTo(got, r["outside"], 1e-11) {
			t.Errorf("%v: outside by chance %v", r, got)
		}
	}
}

// Ten units, four expected each: z is (observed − 4)/2. Hand-worked. As they
// stand Σz² is 36 + 9 + 4·1 + 4·0 = 49 for 16, 10, four of 2 or 6 and four of 4;
// winsorised, 16 becomes 10 and the lowest, 2, is next to another 2: Σz² is
// 9 + 9 + 4 = 22.
func TestOverDispersionByHand(t *testing.T) {
	var units []Unit
	for _, observed := range []float64{4, 16, 2, 4, 6, 10, 4, 2, 4, 6} {
		units = append(units, Unit{observed, 4})
	}
	units = append(units, Unit{9, .99}, Unit{0, 0}) // passed over
	d, err := OverDispersion(units, 1, DefaultWinsorise)
	if err != nil {
		t.Fatal(err)
	}
	// The 0.95 quantile of χ² on 10 degrees of freedom is 18.307 (printed tables).
	if d.Units != 10 || d.Winsorised != 1 || !nearTo(d.Phi, 2.2, 1e-15) || !nearTo(d.Raw, 4.9, 1e-15) || !d.Widen || !(d.P > .01 && d.P < .025) {
		t.Errorf("%+v", d)
	}
	if checkWidened(t, d, 100); units[0].Observed != 4 {
		t.Error("the caller's units were changed")
	}

	// Not widened where chance is enough: one unit far out is winsorised away.
	units = units[:10]
	units[5].Observed = 4
	if d, err = OverDispersion(units, 1, DefaultWinsorise); err != nil || d.Widen || !nearTo(d.Phi, .5, 1e-15) || !nearTo(d.Raw, 4, 1e-15) {
		t.Errorf("%+v, %v", d, err) // 16 becomes 6: Σz² = 1 + 4·1
	}
	lower, upper := d.Limits(7, 1, .95)
	if l, u := FunnelLimits(7, 1, .95); l != lower || u != upper {
		t.Errorf("%v to %v, though not widened", lower, upper)
	}

	// Nine units, or ten of which one expects too little, are refused.
	units[0].Expected = .99
	if _, err = OverDispersion(units, 1, DefaultWinsorise); !errors.Is(err, ErrFewUnits) {
		t.Errorf("%v", err)
	}
	if _, err = OverDispersion(nil, 1, DefaultWinsorise); !errors.Is(err, ErrFewUnits) {
		t.Errorf("%v", err)
	}
}

// checkWidened checks widened limits against 1 ± 1.959964·√(φ/E).
func checkWidened(t *testing.T, d Dispersion, expected float64) {
	t.Helper()
	lower, upper := d.Limits(expected, 1, .95)
	half := 1.9599639845400545 * math.Sqrt(d.Phi/expected)
	if !nearTo(lower, 1-half, 1e-12) || !nearTo(upper, 1+half, 1e-12) {
		t.Errorf("%v to %v, want 1 ± %v", lower, upper, half)
	}
}

// Calculated with testdata/funnel.R.
func TestOverDispersionReference(t *testing.T) {
	var samples [2][]Unit
	for _, r := range testvalues.Numbers(t, "funnel-units.csv") {
		samples[0] = append(samples[0], Unit{r["alike"], r["expected"]})
		samples[1] = append(samples[1], Unit{r["apart"], r["expected"]})
	}
	rows := testvalues.Numbers(t, "funnel-dispersion.csv")
	if len(samples[0]) != 30 || len(rows) != 12 {
		t.Fatalf("%d units, %d rows", len(samples[0]), len(rows))
	}
	widened := 0
	for _, r := range rows {
		d, err := OverDispersion(samples[int(r["apart"])], r["target"], r["share"])
		if err != nil {
			t.Fatal(err)
		}
		if float64(d.Units) != r["units"] || float64(d.Winsorised) != r["winsorised"] ||
			!nearTo(d.Phi, r["phi"], 1e-12) || !nearTo(d.Raw, r["raw"], 1e-12) || !nearTo(d.P, r["p"], 1e-10) || d.Widen != (r["p"] < .05) {
			t.Errorf("%v: %+v", r, d)
		}
		if d.Widen {
			widened++
		}
	}
	if widened != 3 { // apart: not winsorised around both targets, and 10 % around 1.2
		t.Errorf("%d widened", widened)
	}
}

// Widened limits are never within the exact ones, and are the outer of these and
// 1 ± z·√(φ/E).
func TestDispersionLimits(t *testing.T) {
	for _, phi := range []float64{1.3, 2, 6} {
		d := Dispersion{Phi: phi, Widen: true}
		exact, normal := 0, 0
		for level, z := range map[float64]float64{.95: 1.9599639845400545, .998: 3.090232306167813} { // Normal quantiles, printed tables
			for e := .2; e < 500; e *= 1.02 {
				l, u := FunnelLimits(e, 1, level)
				lower, upper := d.Limits(e, 1, level)
				half := z * math.Sqrt(phi/e)
				if !(0 <= lower && lower <= l && u <= upper) {
					t.Fatalf("φ %v, %v expected: %v to %v, exact %v to %v", phi, e, lower, upper, l, u)
				}
				switch {
				case upper == u:
					exact++
				case nearTo(upper, 1+half, 1e-12):
					normal++
				default:
					t.Fatalf("φ %v, %v expected: upper limit %v", phi, e, upper)
				}
				if want := math.Max(0, 1-half); lower != l && !nearTo(lower, want, 1e-9) {
					t.Fatalf("φ %v, %v expected: lower limit %v, want %v", phi, e, lower, want)
				}
			}
		}
		if normal == 0 || phi < 2 && exact == 0 {
			t.Errorf("φ %v: %d exact, %d Normal", phi, exact, normal)
		}
	}
}

// Without over-dispersion it is found in less than 2 % of samples; if the ratios
// themselves vary by a half around 1, in most.
func TestOverDispersionRate(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 8))
	rate := func(units int, most float64, spread bool) float64 {
		const samples = 2000
		found := 0
		for range samples {
			u := make([]Unit, units)
			for i := range u {
				e := 1 + (most-1)*rng.Float64()
				m := e
				if spread {
					m *= distuv.Gamma{Alpha: 4, Beta: 4, Src: rng}.Rand() // mean 1, standard deviation 1/2
				}
				u[i] = Unit{distuv.Poisson{Lambda: m, Src: rng}.Rand(), e}
			}
			d, err := OverDispersion(u, 1, DefaultWinsorise)
			if err != nil {
				t.Fatal(err)
			}
			if d.Widen {
				found++
			}
		}
		return float64(found) / samples
	}
	for _, units := range []int{10, 25, 60} {
		for _, most := range []float64{1.5, 5, 20} {
			if r := rate(units, most, false); r > .027 {
				t.Errorf("%d units, up to %v expected: found in %v of samples that have none", units, most, r)
			}
		}
	}
	if r := rate(25, 20, true); r < .8 {
		t.Errorf("25 units that differ: found in %v", r)
	}
}

func TestFunnelPanics(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for name, f := range map[string]func(){
		"0 expected":           func() { FunnelLimits(0, 1, .95) },
		"not a number":         func() { FunnelLimits(nan, 1, .95) },
		"infinite":             func() { FunnelLimits(inf, 1, .95) },
		"target 0":             func() { FunnelLimits(1, 0, .95) },
		"level 1":              func() { FunnelLimits(1, 1, 1) },
		"chance of 0 expected": func() { OutsideByChance(0, 1, .95) },
		"half winsorised":      func() { _, _ = OverDispersion(nil, 1, .5) },
		"target of none":       func() { _, _ = OverDispersion(nil, -1, .1) },
		"negative count":       func() { _, _ = OverDispersion([]Unit{{-1, 2}}, 1, .1) },
		"count not a number":   func() { _, _ = OverDispersion([]Unit{{nan, 2}}, 1, .1) },
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

func BenchmarkFunnelLimits(b *testing.B) {
	b.ReportAllocs()
	expected := []float64{.5, 3, 20, 150}
	i := 0
	for b.Loop() {
		FunnelLimits(expected[i%len(expected)], 1, .998)
		i++
	}
}

func TestOverDispersionOrder(t *testing.T) {
	var units []Unit
	for _, r := range testvalues.Numbers(t, "funnel-units.csv") {
		units = append(units, Unit{r["apart"], r["expected"]})
	}
	want, err := OverDispersion(units, 1, .1)
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(units)
	if got, _ := OverDispersion(units, 1, .1); got != want {
		t.Errorf("reversed: %+v, want %+v", got, want)
	}
}
