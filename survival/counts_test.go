package survival_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"example.org/holdfast/survival"
)

// TestCounts compares exact limits of counts and proportions, the limits without
// an event, and rates with testdata/published/counts.json, calculated by the R
// script beside it.
func TestCounts(t *testing.T) {
	b, err := os.ReadFile(filepath.Join("..", "testdata", "published", "counts.json"))
	if err != nil {
		t.Fatal(err)
	}
	var f struct {
		Poisson []struct {
			Observed, Level, Lower, Upper float64
		}
		Proportion []struct {
			Events, N, Level float64
			ClopperPearson   [2]float64 `json:"clopper_pearson"`
		}
		NoEvent []struct {
			AtRisk       int `json:"at_risk"`
			Level, Upper float64
		} `json:"no_event"`
		Rate []struct {
			Revised, Level, Lower, Upper float64
			ImplantYears                 float64 `json:"implant_years"`
			RatePer100                   float64 `json:"rate_per_100"`
		}
		Tolerance float64
	}
	if err := json.NewDecoder(bytes.NewReader(b)).Decode(&f); err != nil {
		t.Fatal(err)
	}
	if len(f.Poisson) == 0 || len(f.Proportion) == 0 || len(f.NoEvent) == 0 || len(f.Rate) == 0 || f.Tolerance > 1e-10 {
		t.Fatalf("parts of counts.json are missing: %+v", f)
	}
	// Limits agree to 10 significant digits or better; the file's tolerance is
	// that of the numbers in it.
	c := &comparison{t: t, tolerance: math.Max(f.Tolerance, 1e-12)}
	for _, p := range f.Poisson {
		c.what = fmt.Sprintf("Poisson, %v at %v", p.Observed, p.Level)
		lower, upper := survival.PoissonLimits(p.Observed, p.Level)
		c.close("lower", lower, p.Lower)
		c.close("upper", upper, p.Upper)
	}
	for _, p := range f.Proportion {
		c.what = fmt.Sprintf("binomial, %v of %v at %v", p.Events, p.N, p.Level)
		lower, upper := survival.BinomialLimits(p.Events, p.N, p.Level)
		c.close("lower", lower, p.ClopperPearson[0])
		c.close("upper", upper, p.ClopperPearson[1])
	}
	for _, p := range f.NoEvent {
		c.what = fmt.Sprintf("no event, %v at risk at %v", p.AtRisk, p.Level)
		curve := mustCurve(t, survival.KaplanMeier, censoredAt(p.AtRisk, 10), 1)
		for _, m := range everyMethod {
			got, _ := curve.At(5, survival.Interval{Level: p.Level, Method: m})
			c.close(m.String()+" lower", got.Lower, 0)
			c.close(m.String()+" upper", got.Upper, p.Upper)
		}
	}
	for _, p := range f.Rate {
		c.what = fmt.Sprintf("rate, %v in %v", p.Revised, p.ImplantYears)
		r := survival.NewRate(p.Revised, p.ImplantYears, 100, p.Level)
		c.close("rate", r.Rate, p.RatePer100)
		c.close("lower", r.Lower, p.Lower)
		c.close("upper", r.Upper, p.Upper)
	}
}

// TestPrintedLimits holds the limits printed in tables: Poisson as in Garwood,
// Biometrika 1936;28:437 and Ulm, Am J Epidemiol 1990;131:373, calculated again
// with R's qchisq; Clopper–Pearson with R's qbeta for Newcombe's examples (Stat
// Med 1998;17:857); the beta product without an event with R, .025^(1/Y).
func TestPrintedLimits(t *testing.T) {
	for _, x := range []struct{ events, level, lower, upper float64 }{
		{0, .95, 0, 3.6889}, {1, .95, .0253, 5.5716}, {3, .95, .6187, 8.7673}, {5, .95, 1.6235, 11.6683},
		{10, .95, 4.7954, 18.3904}, {20, .95, 12.2165, 30.8884}, {50, .95, 37.1110, 65.9188}, {100, .95, 81.3640, 121.6268},
		{0, .998, 0, 6.9078}, {10, .998, 2.9605, 24.1340},
	} {
		lower, upper := survival.PoissonLimits(x.events, x.level)
		if !printed(lower, x.lower, 4) || !printed(upper, x.upper, 4) {
			t.Errorf("Poisson limits of %v at %v: %.6f to %.6f, want %v to %v", x.events, x.level, lower, upper, x.lower, x.upper)
		}
	}
	for _, x := range []struct{ events, n, lower, upper float64 }{
		{81, 263, .2527, .3676}, {0, 20, 0, .1684}, {1, 29, .0009, .1776},
	} {
		lower, upper := survival.BinomialLimits(x.events, x.n, .95)
		if !printed(lower, x.lower, 4) || !printed(upper, x.upper, 4) {
			t.Errorf("binomial limits of %v/%v: %.6f to %.6f, want %v to %v", x.events, x.n, lower, upper, x.lower, x.upper)
		}
	}
	for y, lower := range map[int]float64{10: .6915, 20: .8316, 50: .9289, 100: .9638} {
		p, _ := mustCurve(t, survival.KaplanMeier, censoredAt(y, 10), 1).At(5, survival.Interval{Method: survival.BetaProduct})
		if got := p.Survival().Lower; !printed(got, lower, 4) {
			t.Errorf("no event, %d at risk: survival from %.6f, want %v", y, got, lower)
		}
	}
}

// printed reports whether got, rounded to so many decimals, is want.
func printed(got, want float64, decimals int) bool {
	return math.Abs(got-want) <= 0.5*math.Pow10(-decimals)*(1+1e-9)
}

// Far tails of skewed distributions, where a first guess is of no use: limits of
// 0 of n are 1 − (α/2)^(1/n); the others are R's qbeta. In millions, the
// logarithms of the beta function leave eight digits.
func TestLimitsFarOut(t *testing.T) {
	for _, n := range []float64{1, 20, 5000, 82210, 5e6} {
		for _, level := range []float64{0.001, 0.95, 0.998, 0.9999, 0.999999} {
			lower, upper := survival.BinomialLimits(0, n, level)
			want := -math.Expm1(math.Log((1-level)/2) / n)
			tolerance := 1e-9
			if n > 1e6 {
				tolerance = 1e-8
			}
			if lower != 0 || math.Abs(upper-want) > tolerance*want {
				t.Errorf("0 of %v at %v: %v–%v, want 0–%v", n, level, lower, upper, want)
			}
			all, one := survival.BinomialLimits(n, n, level)
			if one != 1 || math.Abs(1-all-want) > tolerance*want+1e-15 {
				t.Errorf("%v of %v at %v: %v–%v, want %v–1", n, n, level, all, one, 1-want)
			}
		}
	}
	for _, x := range []struct{ events, n, level, lower, upper float64 }{
		{3, 384962, 0.999999, 3.760059214715e-08, 5.75326148812e-05},
		{9000, 9010, 0.9999, 0.99680606192, 0.9997759645606},
		{0.5, 2, 0.95, 0.000216908470031, 0.9391697240799},
	} {
		lower, upper := survival.BinomialLimits(x.events, x.n, x.level)
		if math.Abs(lower-x.lower) > 1e-10*x.lower || math.Abs(upper-x.upper) > 1e-10*x.upper {
			t.Errorf("%v of %v at %v: %.13g–%.13g, want %v–%v", x.events, x.n, x.level, lower, upper, x.lower, x.upper)
		}
	}
}

// TestPoissonLimitsByDefinition puts the limits back into the Poisson
// distribution, summed here term by term.
func TestPoissonLimitsByDefinition(t *testing.T) {
	atMost := func(k int, mean float64) float64 { // P(X ≤ k)
		total := 0.0
		for i := 0; i <= k; i++ {
			lg, _ := math.Lgamma(float64(i + 1))
			total += math.Exp(float64(i)*math.Log(mean) - mean - lg)
		}
		return total
	}
	for _, k := range []int{0, 1, 2, 7, 33, 250} {
		for _, level := range []float64{0.5, 0.8, 0.95, 0.998, 0.999999} {
			lower, upper := survival.PoissonLimits(float64(k), level)
			alpha2 := (1 - level) / 2
			// 1 − α/2 is itself rounded to 1.1e-16.
			if got := atMost(k, upper); math.Abs(got-alpha2) > 1e-10*alpha2+1.2e-16 {
				t.Errorf("%d events at %v: P(X ≤ %d) at the upper limit is %v, want %v", k, level, k, got, alpha2)
			}
			if k == 0 {
				continue
			}
			if got := 1 - atMost(k-1, lower); math.Abs(got-alpha2) > 1e-9*alpha2+1e-13 {
				t.Errorf("%d events at %v: P(X ≥ %d) at the lower limit is %v, want %v", k, level, k, got, alpha2)
			}
		}
	}
}

func TestNewRateWithoutPersonTime(t *testing.T) {
	for _, personTime := range []float64{0, -1, math.NaN()} {
		r := survival.NewRate(2, personTime, 100, 0.9)
		if !math.IsNaN(r.Rate) || !math.IsNaN(r.Lower) || !math.IsNaN(r.Upper) {
			t.Errorf("person-time %v: got %+v, want NaN", personTime, r)
		}
		if r.Events != 2 || r.Per != 100 || r.Level != 0.9 {
			t.Errorf("person-time %v: got %+v", personTime, r)
		}
	}
}

// A constant rate of 1.29 per 100 implant-years is 12.1 % at ten years,
// 1 − exp(−.129): Labek et al., JBJS Br 2011;93:293 give both.
func TestRateAndProportion(t *testing.T) {
	r := survival.NewRate(129, 10000, 100, 0.95)
	if got := -100 * math.Expm1(-r.Rate/100*10); r.Rate != 1.29 || !printed(got, 12.1, 1) {
		t.Errorf("rate %v, %v %% at ten years", r.Rate, got)
	}
}

func TestLimitsPanic(t *testing.T) {
	nan := math.NaN()
	for name, f := range map[string]func(){
		"Poisson, events below 0":      func() { survival.PoissonLimits(-1, 0.95) },
		"Poisson, events NaN":          func() { survival.PoissonLimits(nan, 0.95) },
		"Poisson, level 0":             func() { survival.PoissonLimits(1, 0) },
		"Poisson, level 1":             func() { survival.PoissonLimits(1, 1) },
		"Poisson, level 95":            func() { survival.PoissonLimits(1, 95) },
		"binomial, more events than n": func() { survival.BinomialLimits(3, 2, 0.95) },
		"binomial, n 0":                func() { survival.BinomialLimits(0, 0, 0.95) },
		"binomial, below 0":            func() { survival.BinomialLimits(-1, 2, 0.95) },
		"binomial, level NaN":          func() { survival.BinomialLimits(1, 2, nan) },
		"rate, events below 0":         func() { survival.NewRate(-1, 2, 100, 0.95) },
	} {
		mustPanic(t, name, f)
	}
}
