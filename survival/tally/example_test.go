package tally_test

import (
	"fmt"
	"log"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

const (
	censored = iota
	revised
	died
)

// Five invented knees, counted by the day their follow-up ended.
func ExampleCounts() {
	c := tally.New(2)
	c.Add(212, revised)
	c.Add(1500, died)
	c.Add(2922, censored)
	c.Add(2922, censored)
	c.Add(3100, censored)

	km, err := survival.KaplanMeier(c.Table(), revised)
	if err != nil {
		log.Fatal(err)
	}
	p, _ := km.At(5*365.25, survival.Interval{})
	fmt.Printf("%d knees, %d revised; %.0f %% by 5 years, %.0f at risk\n", c.Subjects(), c.Total(revised), 100*p.Estimate, p.AtRisk)
	// Output:
	// 5 knees, 1 revised; 20 % by 5 years, 3 at risk
}

// Two hospitals count their own rows; their sets are merged, whatever order each
// lists its bearings in, and collapsed to a margin without reading a row again.
func ExampleSet() {
	causes := []string{"revised", "died"}
	north := tally.NewSet([]tally.Dimension{
		{Name: "bearing", Levels: []string{"metal-on-polyethylene", "ceramic-on-ceramic"}},
		{Name: "fixation", Levels: []string{"cemented", "porous"}},
	}, causes)
	north.Group(tally.NewKey(0, 0)).Add(900, revised)
	north.Group(tally.NewKey(0, 1)).Add(4000, censored)
	north.Group(tally.NewKey(1, 1)).Add(2500, died)

	south := tally.NewSet([]tally.Dimension{
		{Name: "bearing", Levels: []string{"ceramic-on-ceramic", "dual-mobility"}},
		{Name: "fixation", Levels: []string{"porous"}},
	}, causes)
	south.Group(tally.NewKey(0, 0)).Add(3000, censored)
	south.Group(tally.NewKey(1, 0)).Add(1200, censored)

	if err := north.Merge(south); err != nil {
		log.Fatal(err)
	}
	byBearing, err := north.Collapse("bearing")
	if err != nil {
		log.Fatal(err)
	}
	bearings := byBearing.Dimensions[0].Levels
	for key, counts := range byBearing.All() {
		fmt.Printf("%s: %d hips, %d revised, %d died\n",
			bearings[key.Level(0)], counts.Subjects(), counts.Total(revised), counts.Total(died))
	}
	// Output:
	// metal-on-polyethylene: 2 hips, 1 revised, 0 died
	// ceramic-on-ceramic: 2 hips, 0 revised, 1 died
	// dual-mobility: 1 hips, 0 revised, 0 died
}
