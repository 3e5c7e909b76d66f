package audit_test

import (
	"context"
	"fmt"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// An invented table of 100 hips: 5 revised, 10 patients died.
var exampleTable = "operation_date,procedure,bearing,revision_date,death_date\n" +
	strings.Repeat("2012-03-01,THR,CoC,2014-06-01,\n", 2) +
	strings.Repeat("2012-03-01,THR,MoP,2013-02-01,\n", 3) +
	strings.Repeat("2012-03-01,THR,MoP,,2018-05-01\n", 10) +
	strings.Repeat("2012-03-01,THR,CoC,,\n", 35) +
	strings.Repeat("2012-03-01,THR,MoP,,\n", 50)

const examplePublished = `# Invented figures.
source,joint,procedure,years,revision_pct,lower_pct,upper_pct,estimand,citation
invented,hip,total,1,1.5,1.4,1.6,1-KM,Invented for an example
invented,hip,total,5,4,3.8,4.2,1-KM,Invented for an example
`

func exampleCohort() (*cohort.Cohort, error) {
	day, err := cohort.ParseDay("2022-12-31")
	if err != nil {
		return nil, err
	}
	source := cohort.Source{Name: "own.csv", Reader: strings.NewReader(exampleTable)}
	return cohort.Read(context.Background(), []cohort.Source{source}, cohort.Options{ClosingDate: &day})
}

func ExampleRun() {
	c, err := exampleCohort()
	if err != nil {
		fmt.Println(err)
		return
	}
	series, _, err := benchmark.Read(strings.NewReader(examplePublished), "published.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := audit.Run(c, audit.Options{By: []string{"bearing"}, Years: []float64{5}, Published: series})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, g := range a.Groups {
		for _, r := range g.Rows() {
			k := r.KaplanMeier
			fmt.Printf("%s, %v years: %.1f %% (%.1f–%.1f), %v at risk", g.Title(), r.Years, 100*k.Estimate, 100*k.Lower, 100*k.Upper, k.AtRisk)
			if figures, together := r.Read(benchmark.OneMinusKaplanMeier); together != nil {
				fmt.Printf("; published %s %%: %v", benchmark.Percent(figures[0].Figure.Revision), together)
			}
			fmt.Println()
		}
	}
	// Output:
	// hip, total, 1 years: 3.0 % (1.0–9.0), 97 at risk; published 1.5 %: too few to say
	// hip, total, 5 years: 5.0 % (2.1–11.6), 95 at risk; published 4 %: compatible with
	// hip, total, metal-on-polyethylene, 5 years: 4.8 % (1.6–14.0), 60 at risk
	// hip, total, ceramic-on-ceramic, 5 years: 5.4 % (1.4–19.9), 35 at risk
}

func ExampleWriteCSV() {
	c, err := exampleCohort()
	if err != nil {
		fmt.Println(err)
		return
	}
	a, err := audit.Run(c, audit.Options{By: []string{}, Years: []float64{1, 15}})
	if err != nil {
		fmt.Println(err)
		return
	}
	var b strings.Builder
	if err := audit.WriteCSV(&b, a); err != nil {
		fmt.Println(err)
		return
	}
	for line := range strings.Lines(b.String()) {
		cells := strings.Split(line, ",")
		fmt.Println(strings.Join(cells[:7], ","), "...", strings.Join(cells[11:17], ","))
	}
	// Output:
	// joint,procedure,years,joints,patients,revised,died ... at_risk,revised_so_far,km_pct,km_se_pct,km_lower_pct,km_upper_pct
	// hip,total,1,100,,5,10 ... 97,3,3,1.7058722109231983,0.9775225875058788,9.012223657616518
	// hip,total,15,100,,5,10 ... 0,,,,,
}
