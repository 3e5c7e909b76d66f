package regress

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"example.org/holdfast/survival"
)

// referenceFile is what the models' tests read of a reference file; package
// survival reads the tests between groups of the same files.
type referenceFile struct {
	Source    string
	Tolerance float64
	Sample    survival.Sample
	Stratum   []int32
	Names     []string
	Design    [][]float64
	Models    []referenceModel
}

type referenceModel struct {
	Model         string
	Cause         int
	Ties          string
	Stratified    bool
	Weighted      bool
	Clustered     bool
	Cuts          []float64
	Coefficient   []float64
	Variance      [][]float64
	Naive         [][]float64
	Limits        [][]float64
	P             []float64
	LogLikelihood []float64 `json:"log_likelihood"` // null, fitted
	Score, Wald   *float64
	RobustScore   *float64 `json:"robust_score"`
	Proportional  map[string][]float64
	Baseline      *struct{ Time, Cumulative []float64 }
	Tolerance     float64 // where it is another than the file's
}

// TestReference compares models with those of R, by the scripts in
// testdata/reference.
func TestReference(t *testing.T) {
	compareFolder(t, filepath.Join("..", "..", "testdata", "reference", "regression"))
}

// TestLiveReference compares files written just now by testdata/reference/live.R.
func TestLiveReference(t *testing.T) {
	folder := os.Getenv("HOLDFAST_REFERENCE")
	if folder == "" {
		t.Skip("HOLDFAST_REFERENCE names no folder of live reference files")
	}
	compareFolder(t, filepath.Join(folder, "regression"))
}

func compareFolder(t *testing.T, folder string) {
	names, err := filepath.Glob(filepath.Join(folder, "*.json"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no reference file in %s: %v", folder, err)
	}
	for _, name := range names {
		t.Run(filepath.Base(name), func(t *testing.T) {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			var f referenceFile
			if err := json.Unmarshal(text, &f); err != nil {
				t.Fatal(err)
			}
			if f.Source == "" {
				t.Fatal("no source")
			}
			if len(f.Models) == 0 {
				t.Skip("R has no finite estimates here")
			}
			for _, want := range f.Models {
				c := &comparison{T: t, tolerance: f.Tolerance}
				if want.Tolerance > 0 {
					c.tolerance = want.Tolerance
				}
				c.what = fmt.Sprintf("%s, ties %s, strata %v, weights %v, clusters %v", want.Model, want.Ties, want.Stratified, want.Weighted, want.Clustered)
				c.model(f.fit(t, want), want)
			}
		})
	}
}

// fit fits what a reference model says.
func (f *referenceFile) fit(t *testing.T, want referenceModel) *Fit {
	t.Helper()
	d := Data{Names: f.Names, Design: f.Design, Sample: f.Sample}
	if want.Stratified {
		d.Stratum = f.Stratum
	}
	if !want.Weighted {
		d.Sample.Weight = nil
	}
	if !want.Clustered {
		d.Sample.Cluster = nil
	}
	o := Options{}
	if want.Ties == "breslow" {
		o.Ties = Breslow
	}
	fit, err := Cox, error(nil)
	switch want.Model {
	case "periods":
		if d, err = Split(d, want.Cuts, 0); err != nil {
			t.Fatal(err)
		}
	case "firth":
		fit = Firth
	case "fine-gray":
		fit = FineGray
	}
	got, err := fit(d, want.Cause, o)
	if err != nil {
		t.Fatalf("%s: %v", want.Model, err)
	}
	return got
}

// comparison compares numbers, relative to a tolerance, or to a hundredth of it
// near 0.
type comparison struct {
	*testing.T
	what      string
	tolerance float64
}

func (c *comparison) close(name string, got, want float64) {
	c.Helper()
	if !(math.Abs(got-want) <= c.tolerance*math.Max(0.01, math.Abs(want))) {
		c.Errorf("%s: %s: got %.15g, want %.15g (%.2g apart)", c.what, name, got, want, math.Abs(got-want))
	}
}

func (c *comparison) closeAll(name string, got, want []float64) {
	c.Helper()
	if want == nil {
		return
	}
	if len(got) != len(want) {
		c.Errorf("%s: %s: %d numbers, want %d", c.what, name, len(got), len(want))
		return
	}
	for i := range want {
		c.close(fmt.Sprintf("%s %d", name, i), got[i], want[i])
	}
}

func (c *comparison) closeMatrix(name string, got, want [][]float64) {
	c.Helper()
	for i := range want {
		c.closeAll(fmt.Sprintf("%s, row %d", name, i), got[i], want[i])
	}
}

func (c *comparison) model(got *Fit, want referenceModel) {
	c.Helper()
	c.closeAll("coefficient", got.Coefficient, want.Coefficient)
	c.closeMatrix("variance", got.Variance, want.Variance)
	c.closeMatrix("model's variance", got.Model, want.Naive)
	switch l := want.LogLikelihood; len(l) {
	case 1:
		c.close("log likelihood", got.LogLikelihood, l[0])
	case 2:
		c.closeAll("log likelihood", []float64{got.Null, got.LogLikelihood}, l)
	}
	for j, l := range want.Limits {
		c.closeAll(fmt.Sprintf("limits %d", j), []float64{got.Lower[j], got.Upper[j]}, l)
		c.close(fmt.Sprintf("p %d", j), got.P[j], want.P[j])
	}
	for _, test := range []struct {
		name string
		got  survival.ChiSquare
		want *float64
	}{{"score test", got.Score, want.Score}, {"Wald test", got.Wald, want.Wald}, {"robust score test", got.RobustScore, want.RobustScore}} {
		if test.want != nil {
			c.close(test.name, test.got.Value, *test.want)
		}
	}
	for name, clock := range map[string]Clock{"km": ShareFailed, "identity": Time, "log": LogTime} {
		if w := want.Proportional[name]; w != nil {
			tests, together, err := got.Proportional(clock, nil)
			if err != nil {
				c.Errorf("%s: %v", c.what, err)
				continue
			}
			var values []float64
			for _, test := range tests {
				values = append(values, test.Value)
			}
			c.closeAll("proportionality, "+name, append(values, together.Value), w)
		}
	}
	if want.Baseline != nil {
		h := got.Baseline()[0]
		c.closeAll("time of the baseline", h.Time, want.Baseline.Time)
		c.closeAll("baseline", h.Cumulative, want.Baseline.Cumulative)
	}
}
