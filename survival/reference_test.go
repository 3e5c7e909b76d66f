package survival_test

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/survival"
)

// A number of a reference file: a JSON number, a fraction as a string, or null
// for "there is none". The zero value is a number the file leaves out.
type number struct {
	given bool
	null  bool
	value float64
}

func (n *number) UnmarshalJSON(b []byte) error {
	n.given = true
	switch text := strings.Trim(string(b), `"`); {
	case text == "null":
		n.null = true
		return nil
	default:
		r, ok := new(big.Rat).SetString(text)
		if !ok {
			return fmt.Errorf("not a number or a fraction: %s", text)
		}
		n.value, _ = r.Float64()
		return nil
	}
}

// sqrt is the number's root, of a variance given as a fraction.
func (n number) sqrt() number { n.value = math.Sqrt(n.value); return n }

type referencePoint struct {
	Time     float64           `json:"time"`
	AtRisk   number            `json:"at_risk"`
	Events   number            `json:"events"` // at this time
	Estimate number            `json:"estimate"`
	SE       number            `json:"se"`
	Variance number            `json:"variance"` // of the estimate, where se is not given
	Limits   map[string]limits `json:"limits"`
}

type limits [2]number

type referenceFile struct {
	Name   string `json:"name"`
	Source string `json:"source"`
	Sample struct {
		Entry   []float64 `json:"entry"`
		Exit    []float64 `json:"exit"`
		Cause   []int     `json:"cause"`
		Weight  []float64 `json:"weight"`
		Cluster []int     `json:"cluster"`
	} `json:"sample"`
	Causes int `json:"causes"`
	Expect []struct {
		Estimand  string           `json:"estimand"`
		Cause     int              `json:"cause"`
		Variance  string           `json:"variance"`
		Points    []referencePoint `json:"points"`
		Quantiles []struct {
			P     float64 `json:"p"`
			Time  number  `json:"time"`
			Lower number  `json:"lower"`
			Upper number  `json:"upper"`
		} `json:"quantiles"`
		RestrictedMean []struct {
			Tau      float64 `json:"tau"`
			Mean     number  `json:"mean"`
			SE       number  `json:"se"`
			Variance number  `json:"variance"`
			Lower    number  `json:"lower"`
			Upper    number  `json:"upper"`
		} `json:"restricted_mean"`
	} `json:"expect"`
	Tolerance float64 `json:"tolerance"`
	Note      string  `json:"note"`
}

func (f *referenceFile) sample() survival.Sample {
	s := f.Sample
	return survival.Sample{Entry: s.Entry, Exit: s.Exit, Cause: s.Cause, Weight: s.Weight, Cluster: s.Cluster}
}

// TestReference compares every number of every reference file: those worked by
// hand in fractions, published ones, and those calculated with R by the scripts
// beside them. Each file names its source.
func TestReference(t *testing.T) {
	for _, folder := range []string{"hand", "published", "reference", "reference/other-variance"} {
		t.Run(folder, func(t *testing.T) { compareFolder(t, filepath.Join("..", "testdata", folder)) })
	}
}

// TestLiveReference compares files of the same form written just now by
// testdata/reference/live.R into a folder of its own.
func TestLiveReference(t *testing.T) {
	folder := os.Getenv("HOLDFAST_REFERENCE")
	if folder == "" {
		t.Skip("HOLDFAST_REFERENCE names no folder of live reference files")
	}
	compareFolder(t, folder)
}

func compareFolder(t *testing.T, folder string) {
	names, err := filepath.Glob(filepath.Join(folder, "*.json"))
	if err != nil {
		t.Fatal(err)
	}
	if len(names) == 0 {
		t.Fatalf("no reference file in %s", folder)
	}
	for _, name := range names {
		if filepath.Base(name) == "counts.json" {
			continue // of another form; see TestCounts
		}
		t.Run(strings.TrimSuffix(filepath.Base(name), ".json"), func(t *testing.T) {
			file, err := os.Open(name)
			if err != nil {
				t.Fatal(err)
			}
			defer file.Close()
			var f referenceFile
			d := json.NewDecoder(file)
			d.DisallowUnknownFields() // whatever a file says is compared
			if err := d.Decode(&f); err != nil {
				t.Fatal(err)
			}
			if f.Source == "" {
				t.Error("the file does not say where its numbers come from")
			}
			if !(f.Tolerance > 0 && f.Tolerance <= 1e-3) {
				t.Fatalf("tolerance %v", f.Tolerance)
			}
			random := rand.New(rand.NewPCG(7, 11))
			s := f.sample()
			f.compare(t, "as given", s)
			f.compare(t, "shuffled", shuffled(s, random))
			f.compare(t, "with a row of weight 0", shuffled(withZeroWeight(s), random))
		})
	}
}

// shuffled is the sample with its rows in another order.
func shuffled(s survival.Sample, random *rand.Rand) survival.Sample {
	return rows(s, random.Perm(len(s.Exit)))
}

// rows picks rows of a sample.
func rows(s survival.Sample, of []int) survival.Sample {
	return survival.Sample{
		Entry: pick(s.Entry, of), Exit: pick(s.Exit, of), Cause: pick(s.Cause, of),
		Weight: pick(s.Weight, of), Cluster: pick(s.Cluster, of),
	}
}

func pick[T any](column []T, of []int) []T {
	if column == nil {
		return nil
	}
	out := make([]T, len(of))
	for i, j := range of {
		out[i] = column[j]
	}
	return out
}

// withZeroWeight adds an event of weight 0 in the middle of the sample.
func withZeroWeight(s survival.Sample) survival.Sample {
	n := len(s.Exit)
	if s.Weight == nil {
		s.Weight = slices.Repeat([]float64{1}, n)
	}
	s.Weight = append(slices.Clone(s.Weight), 0)
	s.Exit = append(slices.Clone(s.Exit), slices.Max(s.Exit)/2)
	s.Cause = append(slices.Clone(s.Cause), 1)
	if s.Entry != nil {
		s.Entry = append(slices.Clone(s.Entry), math.Inf(-1))
	}
	if s.Cluster != nil {
		s.Cluster = append(slices.Clone(s.Cluster), s.Cluster[0])
	}
	return s
}

// ones reports whether a sample's weights say no more than which rows to use.
func ones(s survival.Sample) bool {
	for _, w := range s.Weight {
		if w != 0 && w != 1 {
			return false
		}
	}
	return true
}

// used is a sample without its rows of weight 0, and without the weights if
// those left are all 1.
func used(s survival.Sample) survival.Sample {
	if s.Weight == nil {
		return s
	}
	var of []int
	for i, w := range s.Weight {
		if w != 0 {
			of = append(of, i)
		}
	}
	s = rows(s, of)
	if ones(s) {
		s.Weight = nil
	}
	return s
}

// comparison counts what was compared under one expectation.
type comparison struct {
	t         *testing.T
	what      string
	tolerance float64
	compared  int
}

// near compares got with want. Calculated numbers are compared relative to the
// tolerance, or to 1e-12 near 0; a tolerance above 1e-8 is that of numbers
// rounded in print, half a unit of their last decimal.
func (c *comparison) near(name string, got float64, want number) {
	c.t.Helper()
	if !want.given {
		return
	}
	c.compared++
	if want.null {
		if !math.IsInf(got, 1) {
			c.t.Errorf("%s: %s: got %v, want none", c.what, name, got)
		}
		return
	}
	c.close(name, got, want.value)
}

func (c *comparison) close(name string, got, want float64) {
	c.t.Helper()
	tolerance := math.Max(1e-12, c.tolerance*math.Abs(want))
	if c.tolerance > 1e-8 {
		tolerance = c.tolerance + 1e-12
	}
	if !(math.Abs(got-want) <= tolerance) {
		c.t.Errorf("%s: %s: got %.17g, want %.17g (%.2g apart)", c.what, name, got, want, math.Abs(got-want))
	}
}

func (f *referenceFile) compare(t *testing.T, how string, s survival.Sample) {
	t.Helper()
	if len(f.Expect) == 0 {
		t.Error("nothing to compare")
	}
	for _, e := range f.Expect {
		c := &comparison{t: t, what: fmt.Sprintf("%s, %s of cause %d", how, e.Estimand, e.Cause), tolerance: f.Tolerance}
		robust := e.Variance == "infinitesimal-jackknife"
		if e.Estimand == "cumulative-incidence" && e.Variance == "aalen" {
			e.Points = c.otherVariance(e.Points, f.curve(c, s, e.Estimand, e.Cause, false))
		} else if want := map[string]string{"nelson-aalen": "aalen"}; !robust && e.Variance != cmp.Or(want[e.Estimand], "greenwood") {
			t.Errorf("%s: unknown variance %q", c.what, e.Variance)
		}
		switch e.Estimand {
		case "kaplan-meier", "cumulative-incidence":
			curve := f.curve(c, s, e.Estimand, e.Cause, robust)
			c.points(e.Points, curve)
			for _, want := range e.Quantiles {
				got, ok := curve.Quantile(want.P, survival.Interval{})
				if ok == want.Time.null {
					t.Errorf("%s: quantile %v: reached %v, want %v", c.what, want.P, ok, !want.Time.null)
				}
				c.near(fmt.Sprintf("quantile %v", want.P), got.Time, want.Time)
				c.near(fmt.Sprintf("quantile %v, lower", want.P), got.Lower, want.Lower)
				c.near(fmt.Sprintf("quantile %v, upper", want.P), got.Upper, want.Upper)
			}
			for _, want := range e.RestrictedMean {
				se := want.SE
				if !se.given {
					se = want.Variance.sqrt()
				}
				name := fmt.Sprintf("restricted mean to %v", want.Tau)
				c.mean(name, curve, want.Tau, want.Mean, se, want.Lower, want.Upper, robust)
			}
		case "nelson-aalen":
			c.hazard(e.Points, s, f.Causes, e.Cause, robust)
		default:
			t.Errorf("%s: unknown estimand", c.what)
		}
		if c.compared == 0 {
			t.Errorf("%s: nothing was compared", c.what)
		}
	}
}

// curve estimates what a reference expects, by the variance it expects.
func (f *referenceFile) curve(c *comparison, s survival.Sample, estimand string, cause int, robust bool) *survival.Curve {
	c.t.Helper()
	if robust {
		kind := survival.OneMinusKaplanMeier
		if estimand == "cumulative-incidence" {
			kind = survival.Incidence
		}
		curve, err := survival.Robust(s, f.Causes, cause, kind)
		if err != nil {
			c.t.Fatal(err)
		}
		return curve
	}
	table, err := survival.NewTable(used(s), f.Causes)
	if err != nil {
		c.t.Fatal(err)
	}
	estimate := survival.KaplanMeier
	if estimand == "cumulative-incidence" {
		estimate = survival.CumulativeIncidence
	}
	curve, err := estimate(table, cause)
	if err != nil {
		c.t.Fatal(err)
	}
	return curve
}

func (c *comparison) points(want []referencePoint, curve *survival.Curve) {
	c.t.Helper()
	for i, w := range want {
		at := fmt.Sprintf("at %v: ", w.Time)
		p, ok := curve.At(w.Time, survival.Interval{})
		if end, _ := curve.LastExit(); !ok && w.Time > end {
			c.beyond(at, w, want[:i])
			continue
		}
		before, _ := curve.At(math.Nextafter(w.Time, math.Inf(-1)), survival.Interval{})
		c.near(at+"at risk", p.AtRisk, w.AtRisk)
		c.near(at+"events", p.Events-before.Events, w.Events)
		c.near(at+"estimate", p.Estimate, w.Estimate)
		c.near(at+"SE", p.SE, w.SE)
		c.near(at+"variance", p.SE*p.SE, w.Variance)
		for name, l := range w.Limits {
			m, err := survival.ParseMethod(name)
			if err != nil {
				c.t.Errorf("%s: %v", c.what, err)
				continue
			}
			p, _ := curve.At(w.Time, survival.Interval{Method: m})
			c.near(at+name+" lower", p.Lower, l[0])
			c.near(at+name+" upper", p.Upper, l[1])
		}
	}
}

// otherVariance compares standard errors that are another formula's, the
// Aalen-type variance: never below ours, and with 10 or more at risk less than a
// tenth above it. It returns the points with the rest to compare.
func (c *comparison) otherVariance(points []referencePoint, curve *survival.Curve) []referencePoint {
	c.t.Helper()
	points = slices.Clone(points)
	for i, w := range points {
		p, _ := curve.At(w.Time, survival.Interval{})
		if w.SE.value < p.SE*(1-1e-12) || w.AtRisk.value >= 10 && w.SE.value > 1.1*p.SE {
			c.t.Errorf("%s: at %v: SE %v beside %v", c.what, w.Time, p.SE, w.SE.value)
		}
		c.compared++
		points[i].SE = number{}
	}
	return points
}

// beyond compares a point after the last exit of the rows that weigh anything:
// there is no value, so the file may only repeat the one before.
func (c *comparison) beyond(at string, w referencePoint, before []referencePoint) {
	c.t.Helper()
	if len(before) == 0 || w.AtRisk.value != 0 || w.Estimate != before[len(before)-1].Estimate {
		c.t.Errorf("%s: %sno value", c.what, at)
	}
}

// mean compares a restricted mean. For an infinitesimal jackknife curve there is
// none by design: the area under the curve is compared, and the refusal.
func (c *comparison) mean(name string, curve *survival.Curve, tau float64, mean, se, lower, upper number, robust bool) {
	c.t.Helper()
	if end, _ := curve.LastExit(); tau > end {
		if _, err := curve.RestrictedTimeLost(tau, survival.Interval{}); !robust && !errors.Is(err, survival.ErrBeyondFollowUp) {
			c.t.Errorf("%s: %s: got error %v, want %v", c.what, name, err, survival.ErrBeyondFollowUp)
		}
	} else if robust {
		if _, err := curve.RestrictedTimeLost(tau, survival.Interval{}); !errors.Is(err, survival.ErrNoMeanVariance) {
			c.t.Errorf("%s: %s: got error %v, want %v", c.what, name, err, survival.ErrNoMeanVariance)
		}
	} else {
		read := curve.RestrictedMean
		if curve.Estimand == survival.Incidence {
			read = curve.RestrictedTimeLost
		}
		got, err := read(tau, survival.Interval{})
		if err != nil {
			c.t.Errorf("%s: %s: %v", c.what, name, err)
			return
		}
		c.near(name, got.Mean, mean)
		c.near(name+", SE", got.SE, se)
		c.near(name+", lower", got.Lower, lower)
		c.near(name+", upper", got.Upper, upper)
		return
	}
	// Beyond the last exit a file that goes on takes the curve as flat.
	lost := area(curve, tau)
	if curve.Estimand == survival.OneMinusKaplanMeier {
		lost = tau - lost
	}
	c.near(name+" (area)", lost, mean)
}

// area under a curve from 0 to tau, by its steps.
func area(c *survival.Curve, tau float64) float64 {
	total := 0.0
	for i, from := range c.Time {
		to := tau
		if i+1 < len(c.Time) {
			to = math.Min(tau, c.Time[i+1])
		}
		if to > from {
			total += (to - from) * c.Incidence[i]
		}
	}
	return total
}

// hazard compares a cumulative hazard. With weights there is none by design;
// the sum of d/n over the weighted table is compared then, and the refusal. Its
// infinitesimal jackknife is not offered.
func (c *comparison) hazard(want []referencePoint, s survival.Sample, causes, cause int, robust bool) {
	c.t.Helper()
	weighted := !ones(s)
	if !weighted {
		s = used(s)
	}
	table, err := survival.NewTable(s, causes)
	if err != nil {
		c.t.Fatal(err)
	}
	h, err := survival.NelsonAalen(table, cause)
	if weighted != errors.Is(err, survival.ErrWeighted) {
		c.t.Fatalf("%s: error %v for weights %v", c.what, err, weighted)
	}
	for i, w := range want {
		at := fmt.Sprintf("at %v: ", w.Time)
		c.near(at+"at risk", table.AtRiskAt(w.Time), w.AtRisk)
		counts := table.Counts(cause, w.Time, math.Nextafter(w.Time, math.Inf(1)))
		c.near(at+"events", counts[0].Events, w.Events)
		if end, _ := table.LastExit(); w.Time > end {
			c.beyond(at, w, want[:i])
			continue
		}
		if weighted {
			total := 0.0
			for j, d := range table.Event[cause-1] {
				if d > 0 && table.Time[j] <= w.Time {
					total += d / table.AtRisk[j]
				}
			}
			c.near(at+"estimate", total, w.Estimate)
			continue
		}
		p, ok := h.At(w.Time, 0.95)
		if !ok {
			c.t.Errorf("%s: %sno value", c.what, at)
			continue
		}
		c.near(at+"estimate", p.Estimate, w.Estimate)
		if !robust {
			c.near(at+"SE", p.SE, w.SE)
			c.near(at+"variance", p.SE*p.SE, w.Variance)
		}
	}
}
