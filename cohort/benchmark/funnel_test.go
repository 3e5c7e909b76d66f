package benchmark

import (
	"encoding/csv"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/holdfast/survival"
)

func nearTo(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Max(math.Abs(want), 1e-3)
}

// Hand-worked. With mean 2, P(R ≤ r) is e⁻² times 1, 3, 5, 19/3, 7, 109/15; with
// mean ln 2, P(R = 0) is 1/2 and P(R = 1) is (ln 2)/2.
func TestFunnelLimitsByHand(t *testing.T) {
	e2 := math.Exp(2)
	for _, c := range []struct {
		name                    string
		expected, target, level float64
		lower, upper            float64
	}{
		// 0.975 lies between r = 4 and 5: 4 + (0.975 − 7e⁻²)/((4/15)e⁻²), over 2.
		{"between counts", 2, 1, .95, 0, 2 + 15.0/8*(.975*e2-7)},
		// P(R ≤ 4) is p itself: the limit is the count 4, over 2.
		{"on a count", 2, 1, 14/e2 - 1, 0, 2},
		// The same mean from half as many expected around 2.
		{"target 2", 1, 2, 14/e2 - 1, 0, 4},
		// 3/4 lies between 1/2 and 1/2 + (ln 2)/2: 0 + (1/4)/((ln 2)/2), over ln 2.
		{"mean ln 2", math.Ln2, 1, .5, 0, 1 / (2 * math.Ln2 * math.Ln2)},
		// 1/5 lies between e⁻² and 3e⁻²: 0 + (1/5 − e⁻²)/(2e⁻²), over 2; 4/5 between
		// 5e⁻² and (19/3)e⁻²: 2 + (4/5 − 5e⁻²)/((4/3)e⁻²), over 2.
		{"lower above 0", 2, 1, .6, (e2/5 - 1) / 4, 1 + 3.0/8*(.8*e2-5)},
	} {
		lower, upper := FunnelLimits(c.expected, c.target, c.level)
		if !nearTo(lower, c.lower, 1e-12) || !nearTo(upper, c.upper, 1e-12) {
			t.Errorf("%s: %v to %v, want %v to %v", c.name, lower, upper, c.lower, c.upper)
		}
	}
}

// Calculated with testdata/funnel.R.
func TestFunnelLimitsReference(t *testing.T) {
	rows := reference(t, "funnel-limits.csv")
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

// reference reads a table of numbers from testdata.
func reference(t *testing.T, name string) []map[string]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]float64
	for _, record := range records[1:] {
		row := make(map[string]float64)
		for i, cell := range record {
			if row[records[0][i]], err = strconv.ParseFloat(cell, 64); err != nil {
				t.Fatal(err)
			}
		}
		rows = append(rows, row)
	}
	return rows
}

func TestFunnelLimitsProperties(t *testing.T) {
	for _, target := range []float64{1, .7, 1.6} {
		for e := .11 / target; e < 3000; e *= 1.003 {
			l, u := FunnelLimits(e, target, .95)
			l8, u8 := FunnelLimits(e, target, .998)
			if !(l8 <= l && l <= target && target <= u && u <= u8) {
				t.Fatalf("%v expected around %v: %v %v to %v %v", e, target, l8, l, u, u8)
			}
			// Twice as many expected: never wider. In smaller steps the upper limit
			// has bumps, of less than 2 % (the documentation says so).
			lMore, uMore := FunnelLimits(2*e, target, .95)
			l8More, u8More := FunnelLimits(2*e, target, .998)
			if lMore < l || uMore >= u || l8More < l8 || u8More >= u8 {
				t.Fatalf("%v expected around %v: %v, with twice as many %v", e, target, []float64{l, u, l8, u8}, []float64{lMore, uMore, l8More, u8More})
			}
			lMore, uMore = FunnelLimits(1.003*e, target, .95)
			l8More, u8More = FunnelLimits(1.003*e, target, .998)
			if lMore < l || uMore > 1.02*u || l8More < l8 || u8More > 1.02*u8 {
				t.Fatalf("%v expected around %v: %v, just after %v", e, target, []float64{l, u, l8, u8}, []float64{lMore, uMore, l8More, u8More})
			}
		}
	}
	// Down to any number the upper is at least the target, the lower 0.
	for e := 1e-9; e < .2; e *= 1.01 {
		for _, level := range []float64{.5, .95, .998} {
			if l, u := FunnelLimits(e, 1, level); l != 0 || !(u >= 1) {
				t.Fatalf("%v expected at level %v: %v to %v", e, level, l, u)
			}
		}
	}
	// P(R = 0) reaches 0.025 at ln 40 = 3.689 and 0.001 at ln 1000 = 6.908.
	for level, last := range map[float64]float64{.95: math.Log(40), .998: math.Log(1000)} {
		if l, _ := FunnelLimits(last*.9999, 1, level); l != 0 {
			t.Errorf("lower limit %v before %v", l, last)
		}
		if l, _ := FunnelLimits(last*1.0001, 1, level); !(l > 0 && l < 1e-3) {
			t.Errorf("lower limit %v after %v", l, last)
		}
	}
	// With many expected, those of the Normal: 1 ± 1.959964/1000.
	if l, u := FunnelLimits(1e6, 1, .95); math.Abs(l-.998040) > 2e-6 || math.Abs(u-1.001960) > 2e-6 {
		t.Errorf("%v to %v", l, u)
	}
}

// Drawn counts lie outside as often as OutsideByChance says; with one or more
// expected, at most 9.8 % do, with three or more 7.5 %.
func TestOutsideByChance(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 9))
	for _, e := range []float64{.24, 1, 3.7, 12} {
		lower, upper := FunnelLimits(e, 1, .95)
		const n = 40000
		count := 0
		for range n {
			if o := (distuv.Poisson{Lambda: e, Src: rng}).Rand() / e; o < lower || o > upper {
				count++
			}
		}
		p := OutsideByChance(e, 1, .95)
		if got := float64(count) / n; math.Abs(got-p) > 4*math.Sqrt(p*(1-p)/n) {
			t.Errorf("%v expected: %v outside, want %v", e, got, p)
		}
	}
	for from, want := range map[float64]float64{1: .098, 3: .075} {
		most := 0.0
		for e := from; e < 1000; e *= 1.001 {
			most = max(most, OutsideByChance(e, 1, .95))
		}
		if !(most > want-.001 && most < want) {
			t.Errorf("at most %v outside with %v or more expected", most, from)
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
	for _, r := range reference(t, "funnel-units.csv") {
		samples[0] = append(samples[0], Unit{r["alike"], r["expected"]})
		samples[1] = append(samples[1], Unit{r["apart"], r["expected"]})
	}
	rows := reference(t, "funnel-dispersion.csv")
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

// The funnel's limits and Garwood's, of the same count, answer the same question
// from both sides: a count on the 95 % funnel limit has an interval that ends at
// the target. Hand-worked for R = 10 and P(R ≤ 10) = 0.975: then the target is
// Garwood's lower limit of 11.
func TestFunnelMeetsGarwood(t *testing.T) {
	for _, count := range []float64{1, 4, 10, 60} {
		m, _ := survival.PoissonLimits(count+1, .95) // P(R ≥ count+1) = 0.025
		if _, upper := FunnelLimits(m, 1, .95); !nearTo(upper*m, count, 1e-9) {
			t.Errorf("%v expected: upper limit of the count %v, want %v", m, upper*m, count)
		}
		_, m = survival.PoissonLimits(count, .95) // P(R ≤ count) = 0.025
		if lower, _ := FunnelLimits(m, 1, .95); !nearTo(lower*m, count, 1e-9) {
			t.Errorf("%v expected: lower limit of the count %v, want %v", m, lower*m, count)
		}
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
	for _, r := range reference(t, "funnel-units.csv") {
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
