package benchmark_test

import (
	"fmt"
	"os"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// An invented table of published figures.
const published = `# Invented figures.
source,joint,procedure,bearing,age_band,years,revision_pct,lower_pct,upper_pct,joints,estimand,period_from,period_to,covers,citation
invented,hip,total,,,1,1.4,1.3,1.5,40000,1-KM,2010,2020,a country of nobody,Invented for an example
invented,hip,total,,,5,4.2,4.0,4.4,40000,1-KM,2010,2020,a country of nobody,Invented for an example
invented,hip,total,ceramic-on-*,,5,3.5,3.2,3.8,9000,1-KM,2010,2020,a country of nobody,Invented for an example
invented,hip,total,,,5,5,,,,threshold,,,,Invented for an example
`

// practice is a life table in days: of 120 hips 6 were revised on day 200 and 4
// patients died on day 900; the rest were seen until day 3000.
var practice = &survival.Table{
	Time:     []float64{200, 900, 3000},
	AtRisk:   []float64{120, 114, 110},
	Event:    [][]float64{{6, 0, 0}, {0, 4, 0}},
	Censored: []float64{0, 0, 110},
}

func ExampleRead() {
	series, warnings, err := benchmark.Read(strings.NewReader(published), "own.csv")
	fmt.Println(len(series), "series,", len(warnings), "warnings,", err)

	_, _, err = benchmark.Read(strings.NewReader("source,joint,years,revision_pct,estimand,citation\na,hip,5,420,1-KM,\n"), "own.csv")
	fmt.Println(err)
	// Output:
	// 3 series, 0 warnings, <nil>
	// own.csv:2: column citation: empty: a figure needs a citation
	// own.csv:2: column revision_pct: "420" is not a percentage from 0 to 100
}

func ExampleKind_Fit() {
	kind, err := benchmark.NewKind(&benchmark.Series{Joint: "hip", Bearing: "ceramic-on-*", Age: benchmark.AgeInterval{Below: 55}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, own := range []benchmark.Joints{
		{Joint: "hip", Bearing: "ceramic-on-ceramic", Age: &benchmark.AgeInterval{From: 50, Below: 55}},
		{Joint: "hip", Bearing: "metal-on-metal", Age: &benchmark.AgeInterval{From: 50, Below: 55}},
		{Joint: "hip", Bearing: "ceramic-on-ceramic"},
	} {
		fit, missing := kind.Fit(own)
		fmt.Println(fit == benchmark.Meets, missing)
	}
	// Output:
	// true []
	// false []
	// false [age]
}

func ExampleCompare() {
	series, _, err := benchmark.Read(strings.NewReader(published), "own.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	km, err := survival.KaplanMeier(practice, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	figure, _ := series[0].At(5)
	c, err := benchmark.Compare(km, nil, series[0], figure, survival.Interval{}, cohort.DayOfYear(5))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("own %.1f %% (%.1f to %.1f), %v at risk\n", 100*c.Own.Estimate, 100*c.Own.Lower, 100*c.Own.Upper, c.Own.AtRisk)
	fmt.Printf("difference %.1f (%.1f to %.1f)\n", 100*c.Difference, 100*c.DifferenceLower, 100*c.DifferenceUpper)
	fmt.Println(c.Words(), "what is published")
	// Output:
	// own 5.0 % (2.3 to 10.8), 110 at risk
	// difference 0.8 (-1.9 to 6.6)
	// compatible with what is published
}

func ExampleCompareThreshold() {
	series, _, err := benchmark.Read(strings.NewReader(published), "own.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	km, err := survival.KaplanMeier(practice, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	threshold := series[2]
	c, err := benchmark.CompareThreshold(km, threshold, threshold.Figures[0], survival.Interval{}, cohort.DayOfYear(5))
	fmt.Println(c.Words(), err)
	// Output:
	// not above <nil>
}

func ExampleObservedExpected() {
	series, _, err := benchmark.Read(strings.NewReader(published), "own.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	// The closing date reaches five years for all.
	groups := []benchmark.Exits{{Reached: 5, InPeriod: true, Table: practice}}
	r, _ := benchmark.ObservedExpected(groups, 1, series[0], cohort.DayOfYear, cohort.DaysPerYear, 0.95)
	fmt.Printf("to %v years: %v observed, %.2f expected, ratio %.2f (%.2f to %.2f)\n", r.ToYears, r.Observed, r.Expected, r.Ratio, r.Lower, r.Upper)
	// Output:
	// to 5 years: 6 observed, 4.88 expected, ratio 1.23 (0.45 to 2.68)
}

func ExampleMOVER() {
	diff, lower, upper := benchmark.MOVER(8, 4.5, 14, 5, 4.7, 5.3)
	fmt.Printf("%v (%.5f to %.5f)\n", diff, lower, upper)
	// Output:
	// 3 (-0.51283 to 9.00750)
}

func ExampleNeeded() {
	for _, p := range []float64{0.01, 0.044, 0.05} {
		fmt.Printf("%s %%: %v\n", benchmark.Percent(p), benchmark.Needed(benchmark.Figure{Revision: p}))
	}
	// Output:
	// 1 %: 368
	// 4.4 %: 82
	// 5 %: 72
}

func ExampleReadTogether() {
	var comparisons []*benchmark.Comparison
	for _, r := range []benchmark.Reading{benchmark.Compatible, benchmark.TooFew, benchmark.Below} {
		comparisons = append(comparisons, &benchmark.Comparison{Reading: r})
	}
	fmt.Println(benchmark.ReadTogether(comparisons))
	// Output:
	// below 1 of 3
}

func ExampleParseAge() {
	for _, text := range []string{"<55", "55–64", "75+"} {
		a, err := benchmark.ParseAge(text)
		fmt.Println(a.From, a.Below, a, err)
	}
	// Output:
	// 0 55 <55 <nil>
	// 55 65 55-64 <nil>
	// 75 0 75+ <nil>
}

func ExampleWrite() {
	s := &benchmark.Series{
		Source: "invented", Joint: "hip", Bearing: "ceramic-on-*", Estimand: benchmark.OneMinusKaplanMeier, Citation: "Invented for an example",
		Figures: []benchmark.Figure{{Years: 5, Revision: 0.035, Lower: 0.032, Upper: 0.038, Joints: 9000}},
	}
	if err := benchmark.Write(os.Stdout, []*benchmark.Series{s}); err != nil {
		fmt.Println(err)
	}
	// Output:
	// source,joint,procedure,bearing,polyethylene,fixation,age_band,sex,diagnosis,setting,country,register,subset,years,revision_pct,lower_pct,upper_pct,level,joints,at_risk,estimand,period_from,period_to,covers,citation,seen_at,seen_on
	// invented,hip,,ceramic-on-*,,,,,,,,,,5,3.5,3.2,3.8,0.95,9000,,1-KM,,,,Invented for an example,,
}
