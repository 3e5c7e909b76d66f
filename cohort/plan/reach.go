package plan

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"example.org/holdfast/cohort/benchmark"
)

// ChanceBelow is the probability of a reading below if every joint is revised with
// probability p, independently: that at most r.Below of r.Joints are,
//
//	P(X ≤ b) = 1 − I_p(b + 1, n − b)
//
// [benchmark.Reach.ChanceAbove] is that of a reading above.
func ChanceBelow(r benchmark.Reach, p float64) float64 { return upTo(r.Below, r.Joints, p) }

// upTo is P(X ≤ k) of a binomial count.
func upTo(k, n int, p float64) float64 {
	switch {
	case k < 0 || p >= 1 && k < n:
		return 0
	case k >= n || p <= 0:
		return 1
	}
	return 1 - mathext.RegIncBeta(float64(k+1), float64(n-k), p)
}

// Smallest are the ratios of true to published revision nearest to 1 at which a
// series reads above, and below, with the probability power: with a the least
// number that reads above and b the greatest that reads below, of n,
//
//	above: B(power; a, n − a + 1)/P,   below: B(1 − power; b + 1, n − b)/P
//
// with B the quantile of the beta distribution. One is NaN where no number reads
// so. At 50 joints beside 5 %: 3.52, and NaN; at 1000: 1.43 and .64.
func Smallest(r benchmark.Reach, published, power float64) (above, below float64) {
	above, below = math.NaN(), math.NaN()
	n := float64(r.Joints)
	if a := float64(r.Above); r.Above > 0 && r.Above <= r.Joints {
		above = mathext.InvRegIncBeta(a, n-a+1, power) / published
	}
	if b := float64(r.Below); r.Below >= 0 && r.Below < r.Joints {
		below = mathext.InvRegIncBeta(b+1, n-b, 1-power) / published
	}
	return above, below
}
