package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/holdfast/cohort/monitor"
	"example.org/holdfast/survival"
)

// expectedSizes are the revisions expected of units, from which theirs are drawn.
var expectedSizes = []float64{.4, .9, 1.5, 2.2, 2.8, 3.5, 4.1, 5, 6.3, 8, 11, 15}

// covers counts limits of 95 % that hold the true ratio.
type covers struct{ units, integrated, likeliest, own int }

// drawn are ratios of units drawn towards one another, beside a published series
// and beside the units' own sum.
func drawn(w io.Writer, practices int, rng *rand.Rand) error {
	practices = max(1, practices/10)
	heading(w, "Limits of drawn ratios at 95 % that hold the unit's true ratio, in per cent", practices,
		"units", "spread of true ratios", "integrated", "most likely spread put in", "own exact", "expected from the units themselves: integrated", "own exact")
	for _, units := range []int{3, 6, 20} {
		for _, tau := range []float64{0, .2, .5, .8} {
			var published, own covers
			for range practices {
				expected, truth := make([]float64, units), make([]float64, units)
				for i := range expected {
					expected[i] = expectedSizes[rng.IntN(len(expectedSizes))]
					truth[i] = 1
					if tau > 0 {
						truth[i] = distuv.Gamma{Alpha: 1 / (tau * tau), Beta: 1 / (tau * tau), Src: rng}.Rand()
					}
				}
				if err := published.add(expected, truth, false, rng); err != nil {
					return err
				}
				if err := own.add(expected, truth, true, rng); err != nil {
					return err
				}
			}
			fmt.Fprintf(w, "| %d | %.1f | %s | %s | %s | %s | %s |\n", units, tau, percent(published.integrated, published.units),
				percent(published.likeliest, published.units), percent(published.own, published.units),
				percent(own.integrated, own.units), percent(own.own, own.units))
		}
	}
	return nil
}

// add draws units' counts. Beside their own sum, expected is made so that it adds up to what
// was observed, and true ratios are to the mean of all.
func (c *covers) add(expected, truth []float64, ownSum bool, rng *rand.Rand) error {
	units := make([]monitor.Count, len(expected))
	observed, sum, mean := 0.0, 0.0, 0.0
	for i, e := range expected {
		units[i] = monitor.Count{Observed: poisson(rng, truth[i]*e), Expected: e}
		observed += float64(units[i].Observed)
		sum += e
		mean += truth[i] * e
	}
	if observed == 0 {
		return nil
	}
	target := append([]float64(nil), truth...)
	if ownSum {
		for i := range units {
			units[i].Expected *= observed / sum
			target[i] *= sum / mean
		}
	}
	s, err := monitor.Shrink(units, .95)
	if errors.Is(err, monitor.ErrFewUnits) {
		return nil
	}
	if err != nil {
		return err
	}
	for i, e := range s.Units {
		c.units++
		hold := func(lower, upper float64) int {
			if lower <= target[i] && target[i] <= upper {
				return 1
			}
			return 0
		}
		c.integrated += hold(e.Lower, e.Upper)
		c.likeliest += hold(plugged(s, units[i]))
		lower, upper := survival.PoissonLimits(float64(units[i].Observed), .95)
		c.own += hold(lower/units[i].Expected, upper/units[i].Expected)
	}
	return nil
}

// plugged are limits with the most likely mean and spread taken as known.
func plugged(s *monitor.Shrunk, u monitor.Count) (lower, upper float64) {
	if s.Tau == 0 {
		return s.Mean, s.Mean
	}
	a := 1 / (s.Tau * s.Tau)
	g := distuv.Gamma{Alpha: a + float64(u.Observed), Beta: a/s.Mean + u.Expected}
	return g.Quantile(.025), math.Max(g.Quantile(.975), 0)
}
