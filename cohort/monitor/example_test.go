package monitor_test

import (
	"fmt"
	"log"
	"math"

	"example.org/holdfast/cohort/monitor"
)

// Sixty invented hips operated on on 1 January 2018, of which three are revised in
// spring 2021; 4 % are expected by ten years, evenly.
func ExampleNew() {
	const day = 17532 // 1 January 2018
	joints := make([]monitor.Joint, 60)
	for i := range joints {
		joints[i] = monitor.Joint{Row: i + 2, Operation: day, Exit: day + 1825}
	}
	for i, revised := range []int32{1170, 1185, 1210} {
		joints[10*i].Exit, joints[10*i].Revised = day+revised, true
	}
	hazard := monitor.Hazard{At: func(days int) float64 { return -math.Log(.96) * float64(days) / 3652.5 }}
	chart, err := monitor.New(joints, []monitor.Hazard{hazard}, monitor.Options{})
	if err != nil {
		log.Fatal(err)
	}
	for _, sentence := range chart.Said() {
		fmt.Println(sentence)
	}
	// Output:
	// From 2018-01-01 through 2021-12-31, to which revisions are taken as complete: 3 revised, 1.0 expected. Chance alone gives 0 to 3.
	// From 2021-03-16 on revisions came faster than expected: by 2021-04-25, when the chart touched its line, 3 where fewer than 0.1 were expected. It stood there or beyond until 2022-09-10. Look at these joints; the chart doesn't say why: rows 2, 12, 22.
	// If revisions come as expected, a chart like this one touches its line in 5 of 100 such periods.
	// Revisions after 2021-12-31 are not all known yet; those still to come would raise the chart.
}

// Of the first two units twice as many are revised as expected. With one expected that is
// drawn further towards all than with ten.
func ExampleShrink() {
	units := []monitor.Count{{Observed: 2, Expected: 1}, {Observed: 20, Expected: 10}, {Observed: 8, Expected: 11}, {Observed: 9, Expected: 12}}
	s, err := monitor.Shrink(units, .95)
	if err != nil {
		log.Fatal(err)
	}
	for i, u := range units {
		e := s.Units[i]
		fmt.Printf("%d revised, %.0f expected: %.1f times, drawn towards all %.1f (%.1f to %.1f)\n",
			u.Observed, u.Expected, float64(u.Observed)/u.Expected, e.Ratio, e.Lower, e.Upper)
	}
	// Output:
	// 2 revised, 1 expected: 2.0 times, drawn towards all 1.5 (0.5 to 3.5)
	// 20 revised, 10 expected: 2.0 times, drawn towards all 1.8 (1.0 to 2.7)
	// 8 revised, 11 expected: 0.7 times, drawn towards all 0.9 (0.4 to 1.4)
	// 9 revised, 12 expected: 0.8 times, drawn towards all 0.9 (0.4 to 1.4)
}
