package audit_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// yearsPublished are a hip series with an early figure, and a knee one without.
const yearsPublished = `source,joint,procedure,years,revision_pct,lower_pct,upper_pct,estimand,citation
invented,hip,total,1,1,,,1-KM,Invented for a test
invented,hip,total,5,3,,,1-KM,Invented for a test
invented,hip,total,10,6,,,1-KM,Invented for a test
late,knee,total,10,4,,,1-KM,Invented for a test
`

// yearsTable is a seeded, invented table of hips and knees of 2008 to 2019, none
// of them of 2013.
func yearsTable(n int) string {
	rng := rand.New(rand.NewPCG(17, 4))
	var b strings.Builder
	b.WriteString("operation_date,procedure,fixation,revision_date,death_date,revision_reason\n")
	for range n {
		year := 2008 + rng.IntN(12)
		if year == 2013 {
			year = 2014
		}
		procedure := []string{"THR", "THR", "TKR"}[rng.IntN(3)]
		fixation := []string{"cemented", "porous"}[rng.IntN(2)]
		revised, died := "", ""
		if rng.Float64() < .15 {
			revised = fmt.Sprintf("%d-%02d-%02d", year+1+rng.IntN(7), 1+rng.IntN(12), 1+rng.IntN(28))
		}
		if rng.Float64() < .1 {
			died = fmt.Sprintf("%d-%02d-%02d", year+9, 1+rng.IntN(12), 1+rng.IntN(28))
		}
		fmt.Fprintf(&b, "%d-%02d-%02d,%s,%s,%s,%s,infection\n", year, 1+rng.IntN(12), 1+rng.IntN(28), procedure, fixation, revised, died)
	}
	return b.String()
}

// Every point is the ratio of an audit of the rows operated on up to its year;
// the last is that of all joints.
func TestOverYears(t *testing.T) {
	table := yearsTable(900)
	published := book(t, yearsPublished)
	a := run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{"fixation", "operation_year"}, Published: published})
	all, err := audit.OverYears(a)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 2 || all[0].Joint != "hip" || all[1].Joint != "knee" {
		t.Fatalf("%+v", all)
	}
	hip, knee := all[0], all[1]
	if hip.Procedure != "total" || hip.Series == nil || hip.Series.Source != "invented" || hip.ToYears != 10 || hip.Level != .95 || len(hip.Without) != 0 {
		t.Errorf("%+v", hip)
	}
	if want := []int{2008, 2009, 2010, 2011, 2012, 2014, 2015, 2016, 2017, 2018, 2019}; !slices.Equal(pointYears(hip), want) {
		t.Errorf("years %v, want %v", pointYears(hip), want)
	} else if knee.Series == nil || knee.ToYears != 10 || !slices.Equal(pointYears(knee), want[:3]) {
		t.Errorf("a figure at ten years alone counts from ten years on: %+v", knee)
	}

	rows := strings.SplitAfter(table, "\n")
	for _, p := range hip.Points {
		part := rows[0]
		for _, r := range rows[1:] {
			if r != "" && r[:4] <= fmt.Sprint(p.Year) {
				part += r
			}
		}
		g := run(t, read(t, part, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{}, Published: published}).Groups[0]
		e := g.Expected()
		if g.Word("joint") != "hip" || p.Joints != g.Joints || p.Observed != e.Observed || !near(p.Expected, e.Expected) || !near(p.Ratio, e.Ratio) {
			t.Errorf("%+v, want %d joints and %+v", p, g.Joints, *e)
		}
	}
	last := hip.Points[len(hip.Points)-1]
	if all := a.Groups[0]; last.Joints != all.Joints || last.Observed != all.Expected().Observed || math.Abs(last.Expected-all.Expected().Expected) > 1e-12*last.Expected {
		t.Errorf("%+v, all joints %+v", last, all.Expected())
	}
}

func pointYears(c audit.Cumulated) []int {
	var years []int
	for _, p := range c.Points {
		years = append(years, p.Year)
	}
	return years
}

// Hand-worked: 1 % at one year and 3 % at five. A joint of 2018-12-31 and one of
// 2019-12-31 are followed to 2020-12-31, 731 and 366 days, the second revised
// on 2020-06-30 after 182. Each counts to one year: H(1), then H(1) + H(182 days).
// The slope of log H on log t is .689.
func TestOverYearsByHand(t *testing.T) {
	a := run(t, read(t, lines("operation_date,procedure,revision_date", "2018-12-31,THR,", "2019-12-31,THR,2020-06-30"), cohort.Options{ClosingDate: closing(t)}),
		audit.Options{By: []string{"operation_year"}, Published: book(t, yearsPublished)})
	all, err := audit.OverYears(a)
	if err != nil {
		t.Fatal(err)
	}
	h1, h5 := -math.Log(.99), -math.Log(.97)
	first := h1
	both := first + h1*math.Pow(182/365.25, math.Log(h5/h1)/math.Log(5))
	p := all[0].Points
	if len(p) != 2 || p[0].Year != 2018 || p[0].Joints != 1 || p[0].Observed != 0 || !near(p[0].Expected, first) || p[0].Ratio != 0 || p[0].Lower != 0 ||
		!near(p[0].Upper*first, 3.688879454113936) { // −ln 0.025
		t.Errorf("%+v, want %v expected", p[0], first)
	}
	if p[1].Year != 2019 || p[1].Joints != 2 || p[1].Observed != 1 || !near(p[1].Expected, both) || !near(p[1].Ratio, 1/both) || math.Abs(p[1].Lower*both-.0253) > 5e-5 || math.Abs(p[1].Upper*both-5.5716) > 5e-5 { // Garwood's limits of 1
		t.Errorf("%+v, want %v expected", p[1], both)
	}
}

// Where no revision is expected from published figures, every year is left out.
func TestOverYearsWithout(t *testing.T) {
	c := read(t, yearsTable(40), cohort.Options{ClosingDate: closing(t)})
	for name, o := range map[string]audit.Options{
		"no book":      {},
		"some reasons": {Published: book(t, yearsPublished), Endpoint: cohort.Endpoint{Reasons: []string{"infection"}}},
		"too late":     {Published: book(t, strings.NewReplacer("total,1,1", "total,14,1", "total,5,3", "total,15,3", "total,10,", "total,20,").Replace(yearsPublished))},
	} {
		o.By = []string{"operation_year"}
		all, err := audit.OverYears(run(t, c, o))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range all {
			if c.Series != nil || len(c.Points) > 0 || len(c.Without) == 0 {
				t.Errorf("%s: %+v", name, c)
			}
		}
	}
	if _, err := audit.OverYears(run(t, c, audit.Options{By: []string{"fixation"}})); err == nil || !strings.Contains(err.Error(), "operation_year") {
		t.Errorf("not grouped by the year: %v", err)
	}
}

// A hidden count hides every sum it would be part of. Years of another series
// are left out.
func TestOverYearsHidden(t *testing.T) {
	o := audit.Options{By: []string{"operation_year"}, Published: book(t, yearsPublished)}
	a := run(t, read(t, yearsTable(300), cohort.Options{ClosingDate: closing(t)}), o)
	for i := range a.Groups {
		g := &a.Groups[i]
		if g.Word("operation_year") == "2010" && g.Expected() != nil {
			e := *g.Expected()
			e.Observed, e.Ratio, e.Lower, e.Upper = math.NaN(), math.NaN(), math.NaN(), math.NaN()
			g.Ratios, g.Joints = []*benchmark.Ratio{&e}, audit.Suppressed
		}
	}
	all, err := audit.OverYears(a)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all[0].Points {
		shown := p.Joints > 0 && p.Observed >= 0 && p.Ratio >= 0 && p.Upper > 0
		isHidden := p.Joints == audit.Suppressed && math.IsNaN(p.Observed) && math.IsNaN(p.Ratio) && math.IsNaN(p.Lower) && math.IsNaN(p.Upper)
		if want := p.Year < 2010; shown != want || isHidden == want {
			t.Errorf("%+v", p)
		}
	}

	for i := range a.Groups {
		if g := &a.Groups[i]; g.Word("operation_year") == "2012" && g.Expected() != nil {
			e := *g.Expected()
			e.Series = &benchmark.Series{}
			g.Ratios = []*benchmark.Ratio{&e}
		}
	}
	if all, err := audit.OverYears(a); err != nil || !slices.Contains(all[0].Without, 2012) {
		t.Errorf("another series: %v, without %v", err, all[0].Without)
	}
}
