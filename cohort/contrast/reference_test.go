package contrast_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/contrast"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/cohort/internal/testvalues"
	"example.org/holdfast/survival/regress"
)

var groups = []string{"metal-on-polyethylene", "ceramic-on-polyethylene", "ceramic-on-ceramic"} // A, B, C

func TestTestsAgreeWithR(t *testing.T) {
	ref := testvalues.References(t, "01_tests.csv")
	c := testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{})
	k := run(t, c, contrast.Options{Between: "bearing", Within: []string{"fixation", "sex"}, Gray: true})
	for g, word := range groups {
		n := fmt.Sprintf("[%d]", g+1)
		testvalues.Near(t, "observed", row(t, k, "observed", word, 0, "").Value, ref["logrank bearing: O"+n])
		testvalues.Near(t, "expected", row(t, k, "expected", word, 0, "").Value, ref["logrank bearing: E"+n])
		testvalues.Near(t, "expected within", row(t, k, "expected within", word, 0, "").Value, ref["logrank bearing | fixation,sex: E"+n])
	}
	for item, want := range map[string]string{"logrank": "logrank bearing: chisq", "logrank within": "logrank bearing | fixation,sex: chisq"} {
		r := row(t, k, item, "", 0, "")
		testvalues.Near(t, item, r.Value, ref[want])
		if r.DF != 2 {
			t.Errorf("%s: %d degrees of freedom", item, r.DF)
		}
	}
	testvalues.Near(t, "p", row(t, k, "logrank", "", 0, "").P, ref["logrank bearing: p"])
	testvalues.Near(t, "Gray", row(t, k, "gray", "", 0, "").Value, 16.537715431)               // R cmprsk 2.2-11, revision for either reason
	testvalues.Near(t, "Gray within", row(t, k, "gray within", "", 0, "").Value, 17.302391481) // likewise, strata fixation and sex

	// One reason alone; the other competes, as death does.
	k = run(t, c, contrast.Options{Between: "bearing", Endpoint: cohort.Endpoint{Reasons: []string{"infection"}}, Gray: true})
	testvalues.Near(t, "Gray, one reason", row(t, k, "gray", "", 0, "").Value, ref["gray bearing, causes apart: stat cause 1"])

	few := run(t, testaudit.ReadClosed(t, testaudit.FewJoints(t), cohort.Options{}), contrast.Options{Between: "bearing"})
	testvalues.Near(t, "few", row(t, few, "logrank", "", 0, "").Value, ref["logrank few bearing (C without events): chisq"])
}

func TestDifferencesAgreeWithR(t *testing.T) {
	ref := testvalues.References(t, "01_tests.csv")
	c := testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{})
	k := run(t, c, contrast.Options{Between: "bearing", Years: []float64{5, 7}})
	d := row(t, k, "difference", groups[1], 5, "1-KM")
	testvalues.Near(t, "B−A", d.Value, ref["difference KM 5 y, B-A: MOVER log-log[1]"])
	testvalues.Near(t, "lower", d.Lower, ref["difference KM 5 y, B-A: MOVER log-log[2]"])
	testvalues.Near(t, "upper", d.Upper, ref["difference KM 5 y, B-A: MOVER log-log[3]"])
	testvalues.Near(t, "SE", d.SE, math.Hypot(ref["KM at 5 y: SE[1]"], ref["KM at 5 y: SE[2]"]))
	if d := cmp.Diff([]string{"compatible with"}, d.Notes); d != "" {
		t.Error(d)
	}
	// The limits of C less A by the beta product, 3.9 to 24.2 points by log-log, lie above 0.
	if d := cmp.Diff([]string{"above"}, row(t, k, "difference", groups[2], 5, "1-KM").Notes); d != "" {
		t.Error(d)
	}
	m := row(t, k, "restricted mean difference", groups[1], 7, "1-KM")
	testvalues.Near(t, "mean", m.Value, ref["RMST to 7 y: B-A diff, lower, upper[1]"])
	testvalues.Near(t, "mean, lower", m.Lower, ref["RMST to 7 y: B-A diff, lower, upper[2]"])
	testvalues.Near(t, "mean, upper", m.Upper, ref["RMST to 7 y: B-A diff, lower, upper[3]"])

	// Without years of one's own: to the last whole year with ten at risk in each
	// group, which is day 3,780 of C.
	k = run(t, c, contrast.Options{Between: "bearing"})
	if m := k.Parts[0].Means; m.Years != 10 || m.Asked {
		t.Errorf("means to %v years, asked %v", m.Years, m.Asked)
	}
}

func TestRatiosAgreeWithR(t *testing.T) {
	ref := testvalues.References(t, "02_cox.csv")
	k := run(t, testaudit.ReadClosed(t, testaudit.Joints(t, true), cohort.Options{}), contrast.Options{Between: "bearing", Adjust: []string{"fixation", "sex", "age"}, Against: groups[0]})
	m := k.Parts[0].Model
	if m.Kind != regress.ProportionalHazards || m.Chosen != "79 revised, 6 coefficients" {
		t.Fatalf("%v, %s %s", m.Kind, m.Chosen, m.Refused)
	}
	for g, word := range groups[1:] {
		r := row(t, k, "hazard ratio", word, 0, "")
		testvalues.Near(t, word, math.Log(r.Value), ref[fmt.Sprintf("cox efron: coef[%d]", g+1)])
		testvalues.Near(t, word+", SE", r.SE*r.SE, ref[fmt.Sprintf("cox efron: var[%d]", 7*g+1)])
		by := row(t, k, "hazard ratio by patient", word, 0, "")
		testvalues.Near(t, word+", SE by patient", by.SE*by.SE, ref[fmt.Sprintf("cox efron cluster patient: robust var[%d]", 7*g+1)])
	}
	testvalues.Near(t, "age", math.Log(row(t, k, "hazard ratio", "age per 10 years", 0, "").Value), ref["cox efron: coef[6]"])
	testvalues.Near(t, "log likelihood", row(t, k, "loglik", "", 0, "").Value, ref["cox efron: loglik null, fit[2]"])
	for i, term := range []string{"bearing", "fixation", "sex", "age", "all"} {
		testvalues.Near(t, "proportional "+term, row(t, k, "proportional", term, 0, "").Value, ref[fmt.Sprintf("cox.zph efron: km bearing,fixation,sex,age,GLOBAL chisq[%d]", i+1)])
	}
	const split = "cox efron, bearing by period (cuts 365, 1826 days: day <= cut is before): fixationq|fixationr|sex|I((age - 67)/10)|B:factor(per)1|B:factor(per)2|B:factor(per)3|factor(per)1:C|factor(per)2:C|factor(per)3:C"
	for n, period := range []string{"up to 1 year", "1 to 5 years", "after 5 years"} {
		for g, word := range groups[1:] {
			testvalues.Near(t, period, math.Log(row(t, k, "hazard ratio "+period, word, 0, "").Value), ref[fmt.Sprintf("%s[%d]", split, 5+3*g+n)])
		}
	}
	testvalues.Near(t, "by period", m.ByPeriod.Value, ref["cox efron, bearing by period: LR against one ratio (4 df)"])
	if m.Changes() {
		t.Error("the ratio changes")
	}
}

func TestFineGrayAgreesWithR(t *testing.T) {
	ref := testvalues.References(t, "04_finegray.csv")
	k := run(t, testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{}), contrast.Options{Between: "bearing", Adjust: []string{"fixation", "sex", "age"}, Gray: true})
	for g, word := range groups[1:] {
		r := row(t, k, "subdistribution hazard ratio", word, 0, "")
		testvalues.Near(t, word, math.Log(r.Value), ref[fmt.Sprintf("finegray bearing,fixation,sex,age: coef[%d]", g+1)])
		testvalues.Near(t, word+", variance", r.SE*r.SE, ref[fmt.Sprintf("finegray bearing,fixation,sex,age: var[%d]", 7*g+1)])
	}
}

// referenceFile is an outcomes table and what R makes of its groups; see
// testdata/reference/contrast.R.
type referenceFile struct {
	Source    string
	Tolerance float64
	Table     string
	Gray      bool
	Years     []float64
	Rows      []struct {
		Item, Group, Against, Estimand, Within string
		Value                                  float64
		Years, SE, Lower, Upper, P             *float64
		DF                                     int
	}
}

// TestReference compares whole tables with R, by testdata/reference/contrast.R.
func TestReference(t *testing.T) {
	compareFiles(t, filepath.Join("..", "..", "testdata", "reference", "contrast"))
}

// TestLive compares tables written just now by testdata/reference/live.R.
func TestLive(t *testing.T) {
	folder := os.Getenv("HOLDFAST_REFERENCE")
	if folder == "" {
		t.Skip("HOLDFAST_REFERENCE names no folder of live reference files")
	}
	compareFiles(t, filepath.Join(folder, "contrast"))
}

func compareFiles(t *testing.T, folder string) {
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
			if f.Source == "" || len(f.Rows) == 0 {
				t.Fatal("no source, or nothing to compare")
			}
			k := run(t, testaudit.ReadClosed(t, f.Table, cohort.Options{}), contrast.Options{
				Between: "bearing", Within: []string{"fixation", "sex"}, Adjust: []string{"fixation", "sex", "age"}, Against: groups[0], Years: f.Years, Gray: f.Gray})
			for _, want := range f.Rows {
				years, tolerance := 0.0, f.Tolerance
				if want.Years != nil {
					years = *want.Years
				}
				got := row(t, k, want.Item, want.Group, years, want.Estimand)
				if got.Against != want.Against || got.Within != want.Within || got.DF != want.DF {
					t.Errorf("%s %q: against %q, within %q, %d df; want %q, %q, %d", want.Item, want.Group, got.Against, got.Within, got.DF, want.Against, want.Within, want.DF)
				}
				for what, x := range map[string]struct {
					got  float64
					want *float64
				}{"value": {got.Value, &want.Value}, "se": {got.SE, want.SE}, "lower": {got.Lower, want.Lower}, "upper": {got.Upper, want.Upper}, "p": {got.P, want.P}} {
					if x.want != nil && !(math.Abs(x.got-*x.want) <= tolerance*math.Max(.01, math.Abs(*x.want))) {
						t.Errorf("%s %q %v, %s: got %.12g, want %.12g", want.Item, want.Group, years, what, x.got, *x.want)
					}
				}
			}
		})
	}
}
