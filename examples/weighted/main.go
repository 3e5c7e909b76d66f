// Command weighted estimates the cumulative incidence of revision from a
// sample with late entry and sampling weights. The data are invented.
//
// Eight joints come from a register that began after some of them had been
// implanted, so these come under observation late; joints of one hospital were
// sampled one in two, so each stands for two. With weights the variance is the
// infinitesimal jackknife; two of the joints belong to one patient.
package main

import (
	"fmt"
	"log"
	"math"

	"example.org/holdfast/survival"
)

func main() {
	before := math.Inf(-1) // under observation from the operation on
	sample := survival.Sample{
		Entry:   []float64{before, before, 1.5, before, 0.8, before, 2.0, before},
		Exit:    []float64{0.3, 1.1, 2.4, 3.0, 3.0, 4.2, 5.5, 6.0}, // years
		Cause:   []int{1, 2, 1, 0, 1, 2, 0, 1},                     // 1 revision, 2 death, 0 neither
		Weight:  []float64{1, 2, 1, 1, 2, 2, 1, 1},
		Cluster: []int{1, 2, 3, 3, 4, 5, 6, 7},
	}
	curve, err := survival.Robust(sample, 2, 1, survival.Incidence)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println("years  at risk  incidence  95 % interval")
	for _, years := range []float64{1, 2, 3, 5} {
		p, ok := curve.At(years, survival.Interval{})
		if !ok {
			break
		}
		fmt.Printf("%5.0f  %7.0f  %8.1f%%  %.1f to %.1f\n", years, p.AtRisk, 100*p.Estimate, 100*p.Lower, 100*p.Upper)
	}
}
