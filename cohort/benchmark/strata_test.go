package benchmark_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort/benchmark"
)

// Observed and expected of three age bands add up to 78 and 17.3498, a ratio of 4.4957
// with Garwood's limits 3.5537 to 5.6109 (qgamma of R 4.2.2); the band with the largest
// difference stands first.
func TestStratify(t *testing.T) {
	of := func(source, age, sex, bearing string, o, e float64) *benchmark.Ratio {
		s := &benchmark.Series{Source: source, Joint: "hip", Procedure: "total", Sex: sex, Bearing: bearing}
		if age != "" {
			band, err := benchmark.ParseAge(age)
			if err != nil {
				t.Fatal(err)
			}
			s.Age = band
		}
		return &benchmark.Ratio{Series: s, Observed: o, Expected: e}
	}
	ratios := []*benchmark.Ratio{
		of("first", "75+", "", "", 15, 3.4467631207323577), of("first", "65-74", "", "", 26, 7.2566000855823489), of("first", "<65", "", "", 37, 6.6464717244083475),
		of("first", "", "", "", 78, 20),                                      // of all joints: no stratum
		of("first", "", "female", "", 40, 10),                                // the only sex
		of("second", "<65", "", "", 1, 1), of("second", "60+", "", "", 1, 1), // bands that overlap
		of("third", "", "", "metal-on-*", 1, 1), of("third", "", "", "dual", 1, 1), // a pattern
		of("fourth", "", "female", "", 0, 0), of("fourth", "", "male", "", 0, 0), // nothing expected
		of("fifth", "<65", "female", "", 2, 1), of("fifth", "<65", "male", "", 1, 1), // of two columns
	}
	got := benchmark.Stratify(ratios, .95)
	if len(got) != 3 {
		t.Fatalf("%d sources with strata: %+v", len(got), got)
	}
	s := got[0]
	var o []float64
	for _, r := range s.Parts {
		o = append(o, r.Observed)
	}
	if d := cmp.Diff([]float64{37, 26, 15}, o); d != "" || s.Source != "first" || !cmp.Equal(s.Fields, []string{"age_band"}) {
		t.Errorf("%s %s %v", d, s.Source, s.Fields)
	}
	for what, x := range map[string][2]float64{"observed": {s.Observed, 78}, "expected": {s.Expected, 17.349834930723055}, "ratio": {s.Ratio, 4.4957200060663256},
		"lower": {s.Lower, 3.5536801042320252}, "upper": {s.Upper, 5.6108620306517691}} {
		if math.Abs(x[0]-x[1]) > 1e-12*x[1] {
			t.Errorf("%s %v, want %v", what, x[0], x[1])
		}
	}
	if s := got[1]; s.Source != "fourth" || !math.IsNaN(s.Ratio) {
		t.Errorf("%+v", s)
	}
	if s := got[2]; s.Source != "fifth" || s.Observed != 3 || len(s.Fields) != 2 {
		t.Errorf("%+v", s)
	}
}
