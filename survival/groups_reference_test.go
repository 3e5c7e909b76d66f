package survival_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"example.org/holdfast/survival"
)

// groupsFile is what the tests between groups read of a reference file; package
// regress reads the models of the same files.
type groupsFile struct {
	Source    string
	Tolerance float64
	Sample    survival.Sample
	Group     []int
	Stratum   []int
	Tests     []struct {
		Test       string
		Cause      int
		Stratified bool
		Rho        float64
		Observed   []float64
		Expected   []float64
		Variance   [][]float64
		ChiSquare  float64 `json:"chi_square"`
		DF         int
		P          float64
		Trend      *float64 // of the groups' numbers
	}
	Standardised []struct {
		Estimand         string
		Cause            int
		At, Estimate, SE float64
		Mix, Limits      []float64
	}
	Smoothed []struct {
		Cause          int
		Bandwidth, End float64
		At, Hazard, SE []float64
	}
}

// TestGroupsReference compares the tests between groups with those of R, by the
// scripts in testdata/reference.
func TestGroupsReference(t *testing.T) {
	compareGroups(t, filepath.Join("..", "testdata", "reference", "regression"))
}

// TestGroupsLive compares files written just now by testdata/reference/live.R.
func TestGroupsLive(t *testing.T) {
	folder := os.Getenv("HOLDFAST_REFERENCE")
	if folder == "" {
		t.Skip("HOLDFAST_REFERENCE names no folder of live reference files")
	}
	compareGroups(t, filepath.Join(folder, "regression"))
}

func compareGroups(t *testing.T, folder string) {
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
			var f groupsFile
			if err := json.Unmarshal(text, &f); err != nil {
				t.Fatal(err)
			}
			if f.Source == "" || len(f.Tests) == 0 {
				t.Fatal("no source, or nothing to compare")
			}
			f.compareStandardised(t)
			for _, want := range f.Tests {
				c := &comparison{t: t, tolerance: f.Tolerance, what: fmt.Sprintf("%s of cause %d, stratified %v, rho %v", want.Test, want.Cause, want.Stratified, want.Rho)}
				strata := f.strata(t, want.Stratified)
				var got survival.Test
				if want.Test == "gray" {
					got, err = survival.Gray(strata, want.Cause, survival.TestOptions{Rho: want.Rho})
				} else {
					var o survival.TestOptions
					if want.Trend != nil {
						for g := range strata[0] {
							o.Scores = append(o.Scores, float64(g))
						}
					}
					got, err = survival.LogRank(strata, want.Cause, o)
				}
				if err != nil {
					t.Errorf("%s: %v", c.what, err)
					continue
				}
				if want.Trend != nil {
					if got.Trend == nil {
						t.Fatalf("%s: no trend", c.what)
					}
					c.close("trend", got.Trend.Value, *want.Trend)
				}
				c.close("χ²", got.ChiSquare.Value, want.ChiSquare)
				c.close("p", got.P, want.P)
				if got.DF != want.DF {
					t.Errorf("%s: %d degrees of freedom, want %d", c.what, got.DF, want.DF)
				}
				for g := range want.Observed {
					c.close(fmt.Sprintf("observed in group %d", g), got.Observed[g], want.Observed[g])
					c.close(fmt.Sprintf("expected in group %d", g), got.Expected[g], want.Expected[g])
					for h, v := range want.Variance[g] {
						c.close(fmt.Sprintf("variance %d, %d", g, h), got.Variance[g][h], v)
					}
				}
			}
		})
	}
}

// compareStandardised compares incidences in a fixed mix of the strata, and
// smoothed hazards.
func (f *groupsFile) compareStandardised(t *testing.T) {
	c := &comparison{t: t, tolerance: f.Tolerance}
	everybody := make([]int, len(f.Group))
	f.Sample.Weight, f.Sample.Cluster = nil, nil
	for _, want := range f.Standardised {
		c.what = "standardised " + want.Estimand
		estimand := survival.OneMinusKaplanMeier
		if want.Estimand == "cumulative-incidence" {
			estimand = survival.Incidence
		}
		got, err := survival.Standardise(tablesBy(t, f.Sample, f.Stratum, everybody, 3)[0], want.Mix, want.Cause, estimand, want.At, .95)
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		c.close("estimate", got.Estimate, want.Estimate)
		c.close("SE", got.SE, want.SE)
		c.close("lower limit", got.Lower, want.Limits[0])
		c.close("upper limit", got.Upper, want.Limits[1])
	}
	for _, want := range f.Smoothed {
		c.what = "smoothed hazard"
		got, err := survival.SmoothHazard(mustTable(t, f.Sample, 3), want.Cause, 0, want.At, .95)
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		c.close("bandwidth", got.Bandwidth, want.Bandwidth)
		c.close("end", got.End, want.End)
		for i, p := range got.Point {
			c.close(fmt.Sprintf("hazard at %v", p.Time), p.Estimate, want.Hazard[i])
			c.close(fmt.Sprintf("SE at %v", p.Time), p.SE, want.SE[i])
		}
	}
}

// strata are the file's life tables by stratum and group.
func (f *groupsFile) strata(t *testing.T, stratified bool) [][]*survival.Table {
	stratum := f.Stratum
	if !stratified {
		stratum = make([]int, len(f.Group))
	}
	f.Sample.Weight, f.Sample.Cluster = nil, nil
	return tablesBy(t, f.Sample, f.Group, stratum, 3)
}

// tablesBy are the life tables of a sample by stratum and group.
func tablesBy(t testing.TB, s survival.Sample, group, stratum []int, causes int) [][]*survival.Table {
	members := map[[2]int][]int{}
	groups, strata := 0, 0
	for i, g := range group {
		members[[2]int{stratum[i], g}] = append(members[[2]int{stratum[i], g}], i)
		groups, strata = max(groups, g+1), max(strata, stratum[i]+1)
	}
	out := make([][]*survival.Table, strata)
	for st := range out {
		out[st] = make([]*survival.Table, groups)
		for g := range out[st] {
			if of := members[[2]int{st, g}]; of != nil {
				out[st][g] = mustTable(t, rows(s, of), causes)
			}
		}
	}
	return out
}
