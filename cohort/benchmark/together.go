package benchmark

import "fmt"

// Together is the reading of one own estimate beside several published figures
// of the same own joints, year and estimand.
type Together struct {
	Figures, Above, Below, Compatible int

	// Sides is on how many sides it could have read: 0, above alone, or above and
	// below. A word like that below all needs enough joints for the lowest.
	Sides int

	// ByChance is the probability that chance alone reads above all or below all,
	// if own revision is exactly as published: at most Sides·(1 − level)/2.
	ByChance float64
}

// ReadTogether sums the readings of comparisons of one own estimate.
func ReadTogether(comparisons []*Comparison) Together {
	t := Together{Figures: len(comparisons)}
	above, below := true, true
	level := 1.0
	for _, c := range comparisons {
		switch c.Reading {
		case Above:
			t.Above++
		case Below:
			t.Below++
		case Compatible:
			t.Compatible++
		}
		readable := c.Reached && c.Own.AtRisk >= FewestAtRisk && c.Notes&OwnLimitsUndefined == 0
		above = above && readable
		below = below && readable && c.Notes&ZeroNotBelow == 0 && zeroReadsBelow(c.Basis.SeenTo, c.Figure)
		level = min(level, c.Figure.level())
	}
	if len(comparisons) > 0 && above {
		t.Sides = 1
		if below {
			t.Sides = 2
		}
		t.ByChance = float64(float64(t.Sides) * tail(level))
	}
	return t
}

func tail(level float64) float64 { return float64((1 - level) / 2) }

// Code is the reading as one of seven fixed phrases: above, below, compatible
// with (all figures), above some, below some, between, too few to say.
func (t Together) Code() string {
	switch {
	case t.Above > 0 && t.Below > 0:
		return "between"
	case t.Above > 0 && t.Above == t.Figures:
		return "above"
	case t.Below > 0 && t.Below == t.Figures:
		return "below"
	case t.Above > 0:
		return "above some"
	case t.Below > 0:
		return "below some"
	case t.Compatible > 0:
		return "compatible with"
	}
	return "too few to say"
}

// String is the reading in words: "above" of one figure, "above all 3", "below 1
// of 3", "between them".
func (t Together) String() string {
	of := func(word string, n int) string {
		switch {
		case t.Figures == 1:
			return word
		case n == t.Figures:
			return fmt.Sprintf("%s all %d", word, n)
		}
		return fmt.Sprintf("%s %d of %d", word, n, t.Figures)
	}
	switch {
	case t.Above > 0 && t.Below > 0:
		return "between them"
	case t.Above > 0:
		return of("above", t.Above)
	case t.Below > 0:
		return of("below", t.Below)
	case t.Compatible > 0:
		return of("compatible with", t.Compatible)
	}
	return "too few to say"
}
