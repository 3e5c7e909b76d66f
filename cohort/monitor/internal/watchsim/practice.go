package main

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.org/holdfast/cohort/monitor"
)

const (
	year   = 365.25
	start  = 10000 // day of the first operations
	deaths = 0.03  // per year
	shape  = 0.6   // of the Weibull time to revision: hazard falls
)

// practice is one kind of practice.
type practice struct {
	perYear float64 // joints
	years   float64
	atTen   float64 // revised by ten years, were nobody to die
	truth   float64 // ratio of true to expected hazard
	since   float64 // years from the start, from which truth holds; before it the ratio is 1
}

func (p practice) through() int32 { return start + int32(p.years*year) }

func (p practice) scale() float64 {
	return 10 * year / math.Pow(-math.Log1p(-p.atTen), 1/shape)
}

func (p practice) hazard() monitor.Hazard {
	scale := p.scale()
	return monitor.Hazard{At: func(days int) float64 { return math.Pow(float64(days)/scale, shape) }}
}

// joints draws a practice. A time within a day counts to its end, to which the
// hazard counts too.
func (p practice) joints(rng *rand.Rand) []monitor.Joint {
	n := poisson(rng, p.perYear*p.years)
	joints := make([]monitor.Joint, n)
	scale := p.scale()
	for i := range joints {
		operation := int32(rng.Float64() * p.years * year)
		hazard := rng.ExpFloat64()
		if before := math.Pow(math.Max(0, p.since*year-float64(operation))/scale, shape); hazard > before {
			hazard = before + (hazard-before)/p.truth
		}
		revision := math.Ceil(scale * math.Pow(hazard, 1/shape))
		death := math.Ceil(rng.ExpFloat64() / deaths * year)
		end := float64(p.through() - start - operation)
		joints[i] = monitor.Joint{Row: i, Operation: start + operation, Revised: revision <= death && revision <= end}
		joints[i].Exit = start + operation + int32(math.Min(end, math.Min(revision, death)))
	}
	return joints
}

// asKnown is what is known on a day: exits after it have not happened yet, and
// revisions of which notice had not come are not known.
func asKnown(joints []monitor.Joint, notice []int32, day int32) []monitor.Joint {
	var known []monitor.Joint
	for i, j := range joints {
		switch {
		case j.Operation > day:
			continue
		case j.Exit > day || j.Revised && notice != nil && notice[i] > day:
			j.Exit, j.Revised = day, false
		}
		known = append(known, j)
	}
	return known
}

// seen is a practice in which joints neither revised nor ended by death are followed to a
// visit.
func (p practice) seen(joints []monitor.Joint, rng *rand.Rand) []monitor.Joint {
	known := slices.Clone(joints)
	for i := range known {
		j := &known[i]
		if j.Revised || j.Exit < p.through() {
			continue
		}
		back := 1.5 * year * rng.Float64()
		if rng.Float64() < .1 {
			back = (3 + 3*rng.Float64()) * year
		}
		j.Exit = max(j.Operation, j.Exit-int32(back))
	}
	return known
}

// poisson draws a count, one exponential gap after the other.
func poisson(rng *rand.Rand, mean float64) int {
	n := 0
	for at := rng.ExpFloat64(); at <= mean; at += rng.ExpFloat64() {
		n++
	}
	return n
}

// median of days; "–" unless more than half of so many are among them.
func median(sorted []float64, of int) float64 {
	if 2*len(sorted) <= of {
		return math.NaN()
	}
	return sorted[of/2]
}
