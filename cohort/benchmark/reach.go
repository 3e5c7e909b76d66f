package benchmark

import (
	"sort"

	"gonum.org/v1/gonum/mathext"

	"example.org/holdfast/survival"
)

// Reach is what a number of joints, all followed to a figure's years, could
// show beside it.
type Reach struct {
	Joints int

	// Above is the least number revised that reads above; Joints + 1 if not even
	// all of them revised would.
	Above int

	// Below is the greatest number revised that reads below; −1 if not even none
	// would.
	Below int
}

// ReachOf finds what n joints could show beside a figure: the numbers revised
// that read above and below by the rule of [Compare], with Clopper and
// Pearson's limits, which are the beta product's where nobody is censored.
// Fewer than [FewestAtRisk] joints show nothing.
func ReachOf(n int, f Figure) Reach {
	r := Reach{Joints: n, Above: n + 1, Below: -1}
	if n < FewestAtRisk {
		return r
	}
	reading := func(k int) Reading {
		lower, upper := survival.BinomialLimits(float64(k), float64(n), f.level())
		below, above, _ := f.readingLimits()
		p := float64(k) / float64(n)
		_, l, u := MOVER(p, lower, upper, f.estimate(), below, above)
		return side(l, u)
	}
	// Both ends of the difference rise with the number revised.
	r.Above = sort.Search(n+1, func(k int) bool { return reading(k) == Above })
	if zeroReadsBelow(float64(n), f) {
		r.Below = sort.Search(n+1, func(k int) bool { return reading(k) != Below }) - 1
	}
	return r
}

// ChanceAbove is the probability of a reading above if every joint is revised
// with probability p, independently: that at least Above of Joints are.
//
//	P(X ≥ a) = I_p(a, n − a + 1)
//
// with the regularised incomplete beta function (Abramowitz & Stegun 1964,
// 26.5.24).
func (r Reach) ChanceAbove(p float64) float64 {
	switch {
	case r.Above > r.Joints:
		return 0
	case r.Above <= 0 || p >= 1:
		return 1
	case p <= 0:
		return 0
	}
	return mathext.RegIncBeta(float64(r.Above), float64(r.Joints-r.Above+1), p)
}
