package course_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/course"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/cohort/internal/testvalues"
	"example.org/holdfast/survival"
)

// Reasons and rates agree with R; see testdata/README.md of the project.
func TestAgreesWithR(t *testing.T) {
	ref := testvalues.References(t, "06_standard.csv", "13_sketch.csv")
	c := testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{})
	k, err := course.Run(c, course.Options{Years: []float64{5}, Smooth: true})
	if err != nil {
		t.Fatal(err)
	}
	p := k.Parts[0]
	const five, rate = "incidence 5 y by cause, all joints: ", "early/late, cuts 90 d, 1 y, 5 y (day <= cut is before): "
	for n, r := range p.Reasons {
		testvalues.Near(t, r.Word, p.Points[0].Reasons[n].Estimate, ref[fmt.Sprintf("%sF1,F2,F3(death),event-free[%d]", five, n+1)])
		testvalues.Near(t, r.Word+", SE", p.Points[0].Reasons[n].SE, ref[fmt.Sprintf("%sSE F1,F2,F3[%d]", five, n+1)])
	}
	testvalues.Near(t, "died", p.Points[0].Death.Estimate, ref[five+"F1,F2,F3(death),event-free[3]"])
	testvalues.Near(t, "free", p.Points[0].Free.Estimate, ref[five+"F1,F2,F3(death),event-free[4]"])
	for n, r := range p.Rates {
		testvalues.Near(t, r.Title, r.Events, ref[fmt.Sprintf("%srevisions[%d]", rate, n+1)])
		testvalues.Near(t, r.Title, r.PersonTime, ref[fmt.Sprintf("%simplant-years[%d]", rate, n+1)])
	}
	// Of the first 90 days 7 in 146.94 years: 4.76 (1.92 to 9.82) per 100, by qgamma of R 4.2.2.
	testvalues.Near(t, "lower", p.Rates[0].Lower, 1.91530856077442)
	testvalues.Near(t, "upper", p.Rates[0].Upper, 9.81531987304228)
	// The smoothed hazard at 1 and 5 years with the rule's bandwidth: .0312917 and .0196380 a year, by its formula in R.
	for _, x := range p.Smoothed.Point {
		switch math.Round(x.Time / cohort.DaysPerYear * 2) {
		case 2:
			if math.Abs(x.Estimate*cohort.DaysPerYear-.0312917) > 5e-8 {
				t.Errorf("%v at 1 year", x.Estimate*cohort.DaysPerYear)
			}
		case 10:
			if math.Abs(x.Estimate*cohort.DaysPerYear-.0196380) > 5e-8 {
				t.Errorf("%v at 5 years", x.Estimate*cohort.DaysPerYear)
			}
		}
	}
}

// Reasons, death and free add up to 1 on every day.
func TestAddsUp(t *testing.T) {
	k, err := course.Run(testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{}), course.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p := k.Parts[0]
	last, _ := p.Gone.LastExit()
	for x := 0.0; x <= last; x++ {
		gone, _ := p.Gone.At(x, survival.Interval{})
		death, _ := p.Death.At(x, survival.Interval{})
		sum := gone.Survival().Estimate + death.Estimate
		for _, r := range p.Reasons {
			y, _ := r.Incidence.At(x, survival.Interval{})
			sum += y.Estimate
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Fatalf("day %v: %v", x, sum)
		}
	}
	revisions, years := 0.0, 0.0
	for _, r := range p.Rates {
		revisions, years = revisions+r.Events, years+r.PersonTime
	}
	if int64(revisions) != p.Revised || math.Abs(years-p.ImplantYears) > 1e-9 {
		t.Errorf("%v revised in %v implant-years by period, %v in %v in all", revisions, years, p.Revised, p.ImplantYears)
	}
}

// A revision on the day of the operation is in the first period, one on a bound in
// the period before it; a reason that is not recorded is one of its own; deaths that
// are not recorded are no reason to stop; nothing is NaN in a file.
func TestEdges(t *testing.T) {
	c := testaudit.ReadClosed(t, `operation_date,joint,procedure,revision_date,revision_reason
2010-01-01,hip,total,2010-01-01,infection
2010-01-01,hip,total,2010-04-01,
2010-01-01,hip,total,2010-04-02,pain
2010-01-01,hip,total,,
2010-01-01,knee,total,,
`, cohort.Options{})
	k, err := course.Run(c, course.Options{Years: []float64{1, 50}, Smooth: true})
	if err != nil {
		t.Fatal(err)
	}
	var words []string
	for _, r := range k.Parts[0].Reasons {
		words = append(words, r.Word)
	}
	if d := cmp.Diff([]string{"infection", "pain", cohort.NotRecorded}, words); d != "" {
		t.Error(d)
	}
	var n []float64
	for _, r := range k.Parts[0].Rates {
		n = append(n, r.Events)
	}
	if d := cmp.Diff([]float64{2, 1, 0, 0}, n); d != "" { // 2010-04-01 is day 90
		t.Error(d)
	}
	if len(k.Parts) != 2 || k.Parts[1].Again != nil || len(k.Parts[1].Reasons) != 0 || k.Parts[1].Smoothed != nil {
		t.Errorf("%+v", k.Parts[1])
	}
	var text, object bytes.Buffer
	if err := course.WriteCSV(&text, k); err != nil {
		t.Fatal(err)
	}
	if err := course.WriteJSON(&object, k); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{text.String(), object.String()} {
		if strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
			t.Error(s)
		}
	}
	if lines, err := csv.NewReader(&text).ReadAll(); err != nil || !cmp.Equal(lines[0], course.Columns()) {
		t.Errorf("%v, %v", lines[0], err)
	}
	if _, err := course.Run(c, course.Options{Years: []float64{0}}); err == nil {
		t.Error("year 0")
	}
}

func ExampleRun() {
	const table = `operation_date,joint,procedure,revision_date,revision_reason,death_date
2010-01-01,hip,total,2011-06-01,infection,
2010-01-01,hip,total,2013-06-01,dislocation,
2010-01-01,hip,total,,,2014-01-01
2010-01-01,hip,total,,,
2010-01-01,hip,total,,,
`
	closing, err := cohort.ParseDay("2020-12-31")
	if err != nil {
		fmt.Println(err)
		return
	}
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(table)}}, cohort.Options{ClosingDate: &closing})
	if err != nil {
		fmt.Println(err)
		return
	}
	k, err := course.Run(c, course.Options{Years: []float64{5}})
	if err != nil {
		fmt.Println(err)
		return
	}
	p := k.Parts[0]
	for n, r := range p.Reasons {
		fmt.Printf("%s %.0f %%\n", r.Word, 100*p.Points[0].Reasons[n].Estimate)
	}
	fmt.Printf("died first %.0f %%, neither %.0f %%\n", 100*p.Points[0].Death.Estimate, 100*p.Points[0].Free.Estimate)
	// Output:
	// infection 20 %
	// dislocation or instability 20 %
	// died first 20 %, neither 40 %
}
