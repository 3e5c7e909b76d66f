package cohort_test

import (
	"context"
	"fmt"
	"log"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival"
)

// An invented table. Row 9 is a second operation on the left hip of patient a.
const outcomesTable = `patient,operation_date,side,procedure,bearing,age,revision_date,death_date
a,2012-03-01,L,THR,CoC,61,,
b,2012-06-01,R,THR,CoC,54,2014-06-01,
c,2013-01-15,L,THR,MoXLPE,72,,2018-02-01
d,2013-05-20,L,THR,MoXLPE,66,,
d,2014-02-11,R,THR,MoXLPE,67,2014-03-04,
e,2014-09-30,R,TKR,fixed,70,,
f,2015-04-01,L,TKR,fixed,80,,2015-04-01
a,2016-01-01,L,THR,CoC,65,,
`

func Example() {
	closing, err := cohort.ParseDay("2020-12-31")
	if err != nil {
		log.Fatal(err)
	}
	c, err := cohort.Read(context.Background(),
		[]cohort.Source{{Name: "invented.csv", Reader: strings.NewReader(outcomesTable)}},
		cohort.Options{ClosingDate: &closing})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d rows read, %d used, %d set aside\n", c.Account().Read, c.Account().Used, c.Account().SetAside)
	for _, p := range c.SetAside() {
		fmt.Printf("row %d, %s: %s (of row %d)\n", p.Row, p.Column, p.Reason, p.Of)
	}

	groups, err := c.Tally([]string{"bearing"}, cohort.Endpoint{})
	if err != nil {
		log.Fatal(err)
	}
	margin, patients, err := groups.Margin() // by joint and procedure
	if err != nil {
		log.Fatal(err)
	}
	for key, counts := range margin.All() {
		curve, err := survival.KaplanMeier(counts.Table(), cohort.CauseRevision)
		if err != nil {
			log.Fatal(err)
		}
		point, ok := curve.At(cohort.DayOfYear(5), survival.Interval{})
		fmt.Printf("%s, %s: %d joints of %d patients", margin.Dimensions[0].Levels[key.Level(0)], margin.Dimensions[1].Levels[key.Level(1)],
			counts.Subjects(), patients[key])
		if ok {
			fmt.Printf("; at 5 years %.1f %% revised (%.1f to %.1f), %.0f at risk", 100*point.Estimate, 100*point.Lower, 100*point.Upper, point.AtRisk)
		}
		fmt.Println()
	}
	// Output:
	// 8 rows read, 7 used, 1 set aside
	// row 9, operation_date: same joint again: possible revision (of row 2)
	// hip, total: 5 joints of 4 patients; at 5 years 40.0 % revised (11.8 to 87.4), 3 at risk
	// knee, total: 2 joints of 2 patients; at 5 years 0.0 % revised (0.0 to 97.5), 1 at risk
}

func ExampleOptions_where() {
	c, err := cohort.Read(context.Background(),
		[]cohort.Source{{Name: "invented.csv", Reader: strings.NewReader(outcomesTable)}},
		cohort.Options{Where: []cohort.Condition{
			{Column: "bearing", Value: "CoC"}, // either of these
			{Column: "bearing", Value: "MoXLPE"},
			{Column: "side", Value: "left"}, // and this
		}})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(c.Account().Read, "of", c.Account().InFiles, "rows")
	for _, s := range c.Scope {
		fmt.Println(s.Column, "=", s.Value)
	}
	// Output:
	// 4 of 8 rows
	// bearing = ceramic-on-ceramic
	// bearing = metal-on-crosslinked-polyethylene
	// side = left
}

// What the table would have said seven years earlier, without reading it again.
func ExampleCohort_ClosedOn() {
	closing, err := cohort.ParseDay("2020-12-31")
	if err != nil {
		log.Fatal(err)
	}
	earlier, err := cohort.ParseDay("2013-12-31")
	if err != nil {
		log.Fatal(err)
	}
	now, err := cohort.Read(context.Background(),
		[]cohort.Source{{Name: "invented.csv", Reader: strings.NewReader(outcomesTable)}},
		cohort.Options{ClosingDate: &closing})
	if err != nil {
		log.Fatal(err)
	}
	then, err := now.ClosedOn(earlier)
	if err != nil {
		log.Fatal(err)
	}
	for _, c := range []*cohort.Cohort{then, now} {
		sample, err := c.Sample(cohort.Endpoint{})
		if err != nil {
			log.Fatal(err)
		}
		revised := 0
		for _, cause := range sample.Cause {
			if cause == cohort.CauseRevision {
				revised++
			}
		}
		fmt.Printf("%s: %d joints, %d revised\n", c.Closing.Day, len(sample.Exit), revised)
	}
	// Output:
	// 2013-12-31: 4 joints, 0 revised
	// 2020-12-31: 7 joints, 2 revised
}
