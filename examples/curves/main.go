// Command curves reads an outcomes table and prints, for each bearing of the
// total hips, revision at five years and the mean time free of revision over
// the first ten.
//
//	go run ./examples/curves [TABLE]
package main

import (
	"context"
	"fmt"
	"log"
	"os"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival"
)

func main() {
	name := "examples/practice/practice.csv"
	if len(os.Args) > 1 {
		name = os.Args[1]
	}
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: name}}, cohort.Options{
		Where: []cohort.Condition{{Column: "joint", Value: "hip"}, {Column: "procedure", Value: "THR"}},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d rows in scope, %d used; closing date %s\n", c.Account().Read, c.Account().Used, c.Closing.Day)

	groups, err := c.Tally([]string{"bearing"}, cohort.Endpoint{})
	if err != nil {
		log.Fatal(err)
	}
	bearings, _, err := groups.Margin("bearing")
	if err != nil {
		log.Fatal(err)
	}
	for key, counts := range bearings.All() {
		bearing := bearings.Dimensions[2].Levels[key.Level(2)]
		curve, err := survival.KaplanMeier(counts.Table(), cohort.CauseRevision)
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("%s, %d joints\n", bearing, counts.Subjects())
		if p, ok := curve.At(cohort.DayOfYear(5), survival.Interval{Method: survival.BetaProduct}); ok {
			fmt.Printf("  revised at 5 years: %.1f %% (%.1f to %.1f), %.0f at risk\n",
				100*p.Estimate, 100*p.Lower, 100*p.Upper, p.AtRisk)
		}
		if m, err := curve.RestrictedMean(cohort.DayOfYear(10), survival.Interval{}); err == nil {
			fmt.Printf("  free of revision in the first 10 years: %.2f years on average (%.2f to %.2f)\n",
				m.Mean/cohort.DaysPerYear, m.Lower/cohort.DaysPerYear, m.Upper/cohort.DaysPerYear)
		}
	}
}
