package survival_test

import (
	"fmt"
	"log"
	"math"

	"example.org/holdfast/survival"
)

const (
	revised = 1
	died    = 2
)

// Twelve invented hips: years from the operation to revision, death or the end
// of follow-up.
var hips = survival.Sample{
	Exit:  []float64{0.3, 1.2, 2.0, 2.9, 3.5, 4.1, 5.0, 6.2, 6.2, 7.4, 9.0, 9.0},
	Cause: []int{revised, 0, died, 0, revised, died, 0, revised, 0, died, 0, 0},
}

// The values in these examples agree with R's survival package, but for those of
// the beta product, which it does not have.

func hipTable() *survival.Table {
	t, err := survival.NewTable(hips, 2)
	if err != nil {
		log.Fatal(err)
	}
	return t
}

func ExampleKaplanMeier() {
	c, err := survival.KaplanMeier(hipTable(), revised)
	if err != nil {
		log.Fatal(err)
	}
	for i, years := range c.Time {
		fmt.Printf("%.1f years: %.1f %% revised, standard error %.1f\n", years, 100*c.Incidence[i], 100*c.SE[i])
	}
	// Output:
	// 0.3 years: 8.3 % revised, standard error 8.0
	// 3.5 years: 19.8 % revised, standard error 12.8
	// 6.2 years: 35.8 % revised, standard error 17.6
}

// With death as a competing event fewer are expected to be revised than if
// nobody died.
func ExampleCumulativeIncidence() {
	t := hipTable()
	for _, cause := range []int{revised, died} {
		c, err := survival.CumulativeIncidence(t, cause)
		if err != nil {
			log.Fatal(err)
		}
		p, _ := c.At(7, survival.Interval{})
		fmt.Printf("cause %d by 7 years: %.1f %% (%.1f to %.1f)\n", cause, 100*p.Estimate, 100*p.Lower, 100*p.Upper)
	}
	// Output:
	// cause 1 by 7 years: 31.0 % (7.0 to 59.8)
	// cause 2 by 7 years: 19.5 % (3.0 to 46.6)
}

func ExampleNelsonAalen() {
	h, err := survival.NelsonAalen(hipTable(), revised)
	if err != nil {
		log.Fatal(err)
	}
	p, _ := h.At(5, 0.95)
	fmt.Printf("cumulative hazard of revision at 5 years: %.4f (%.4f to %.4f)\n", p.Estimate, p.Lower, p.Upper)
	// Output:
	// cumulative hazard of revision at 5 years: 0.2083 (0.0507 to 0.8562)
}

// A sample of a registry's hips: some came under observation years after their
// operation, and each stands for as many as its weight says. Two belong to one
// patient.
func ExampleRobust() {
	never := math.Inf(-1) // observed from the operation on
	s := survival.Sample{
		Entry:   []float64{never, never, 1.5, never, 2.0, never, 3.0, never},
		Exit:    []float64{2.1, 4.0, 4.4, 5.2, 6.0, 7.3, 8.8, 9.5},
		Cause:   []int{revised, 0, revised, died, 0, revised, 0, 0},
		Weight:  []float64{1, 1, 4, 1, 4, 1, 4, 1},
		Cluster: []int{1, 2, 3, 4, 5, 6, 7, 6},
	}
	c, err := survival.Robust(s, 2, revised, survival.OneMinusKaplanMeier)
	if err != nil {
		log.Fatal(err)
	}
	p, _ := c.At(5, survival.Interval{})
	fmt.Printf("%.1f %% (%.1f to %.1f), %v\n", 100*p.Estimate, 100*p.Lower, 100*p.Upper, c.Variance)
	// Output:
	// 32.3 % (8.1 to 83.6), infinitesimal jackknife variance
}

// Limits are made when a point is read, by the method asked for; what qualifies
// the point stands in its notes.
func ExampleCurve_At() {
	c, err := survival.KaplanMeier(hipTable(), revised)
	if err != nil {
		log.Fatal(err)
	}
	for _, iv := range []survival.Interval{{}, {Method: survival.BetaProduct}, {Level: 0.9, Method: survival.Plain}} {
		p, _ := c.At(5, iv)
		fmt.Printf("%v, %.0f %%: %.1f %% (%.1f to %.1f), %.0f at risk: %v\n",
			p.Method, 100*p.Level, 100*p.Estimate, 100*p.Lower, 100*p.Upper, p.AtRisk, p.Notes)
	}
	p, _ := c.At(5, survival.Interval{})
	fmt.Printf("not revised: %.1f %% (%.1f to %.1f)\n", 100*p.Survival().Estimate, 100*p.Survival().Lower, 100*p.Survival().Upper)
	_, ok := c.At(10, survival.Interval{})
	fmt.Println("an estimate at 10 years:", ok)
	// Output:
	// log-log, 95 %: 19.8 % (5.2 to 59.7), 6 at risk: few at risk
	// beta-product, 95 %: 19.8 % (2.4 to 60.2), 6 at risk: few at risk
	// plain, 90 %: 19.8 % (0.0 to 40.8), 6 at risk: few at risk
	// not revised: 80.2 % (40.3 to 94.8)
	// an estimate at 10 years: false
}

func ExampleCurve_Quantile() {
	c, err := survival.KaplanMeier(hipTable(), revised)
	if err != nil {
		log.Fatal(err)
	}
	q, ok := c.Quantile(0.2, survival.Interval{})
	fmt.Printf("a fifth revised by %.1f years (%.1f to %.1f): %v\n", q.Time, q.Lower, q.Upper, ok)
	_, ok = c.Quantile(0.5, survival.Interval{})
	fmt.Println("half revised:", ok)
	// Output:
	// a fifth revised by 6.2 years (0.3 to +Inf): true
	// half revised: false
}

func ExampleCurve_RestrictedMean() {
	c, err := survival.KaplanMeier(hipTable(), revised)
	if err != nil {
		log.Fatal(err)
	}
	m, err := c.RestrictedMean(8, survival.Interval{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.2f of the first 8 years without revision (%.2f to %.2f)\n", m.Mean, m.Lower, m.Upper)
	// Output:
	// 6.55 of the first 8 years without revision (5.09 to 8.00)
}

func ExampleCurve_RestrictedTimeLost() {
	c, err := survival.CumulativeIncidence(hipTable(), died)
	if err != nil {
		log.Fatal(err)
	}
	m, err := c.RestrictedTimeLost(8, survival.Interval{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.2f of the first 8 years lost to death (%.2f to %.2f)\n", m.Mean, m.Lower, m.Upper)
	// Output:
	// 1.05 of the first 8 years lost to death (0.00 to 2.24)
}

// What stands under the axis of a figure.
func ExampleTable_Counts() {
	for _, c := range hipTable().Counts(revised, 0, 3, 6, 9, math.Inf(1)) {
		fmt.Printf("from %.0f years: %2.0f at risk, then %.0f revised, %.0f died, %.0f censored\n",
			c.From, c.AtRisk, c.Events, c.Competing, c.Censored)
	}
	// Output:
	// from 0 years: 12 at risk, then 1 revised, 1 died, 2 censored
	// from 3 years:  8 at risk, then 1 revised, 1 died, 1 censored
	// from 6 years:  5 at risk, then 1 revised, 1 died, 1 censored
	// from 9 years:  2 at risk, then 0 revised, 0 died, 2 censored
}

func ExamplePoissonLimits() {
	lower, upper := survival.PoissonLimits(10, 0.95)
	fmt.Printf("10 revisions: %.4f to %.4f expected\n", lower, upper)
	// Output:
	// 10 revisions: 4.7954 to 18.3904 expected
}

func ExampleBinomialLimits() {
	lower, upper := survival.BinomialLimits(0, 50, 0.95)
	fmt.Printf("0 of 50 revised: %.1f %% to %.1f %%\n", 100*lower, 100*upper)
	// Output:
	// 0 of 50 revised: 0.0 % to 7.1 %
}

func ExampleNewRate() {
	t := hipTable()
	events := 0.0
	for _, d := range t.Event[revised-1] {
		events += d
	}
	r := survival.NewRate(events, t.PersonTime(), 100, 0.95)
	fmt.Printf("%.0f revisions in %.1f implant-years: %.2f per 100 (%.2f to %.2f)\n", r.Events, r.PersonTime, r.Rate, r.Lower, r.Upper)
	// Output:
	// 3 revisions in 56.8 implant-years: 5.28 per 100 (1.09 to 15.44)
}

// Invented knees with two kinds of bearing: days to revision or to the end of
// follow-up.
func ExampleLogRank() {
	fixed := survival.Sample{Exit: []float64{200, 900, 1500, 2000, 2000, 2600, 3000}, Cause: []int{revised, 0, 0, died, 0, 0, 0}}
	mobile := survival.Sample{Exit: []float64{100, 300, 700, 1500, 1800, 2000}, Cause: []int{revised, revised, 0, revised, 0, 0}}
	var groups []*survival.Table
	for _, s := range []survival.Sample{fixed, mobile} {
		t, err := survival.NewTable(s, 2)
		if err != nil {
			log.Fatal(err)
		}
		groups = append(groups, t)
	}
	test, err := survival.LogRank([][]*survival.Table{groups}, revised, survival.TestOptions{})
	if err != nil {
		log.Fatal(err)
	}
	for g, name := range []string{"fixed", "mobile"} {
		fmt.Printf("%s: %v revised, %.2f expected if alike\n", name, test.Observed[g], test.Expected[g])
	}
	fmt.Printf("χ² %.3f on %d degree of freedom, p %.2f\n", test.Value, test.DF, test.P)
	// Output:
	// fixed: 1 revised, 2.29 expected if alike
	// mobile: 3 revised, 1.71 expected if alike
	// χ² 1.715 on 1 degree of freedom, p 0.19
}
