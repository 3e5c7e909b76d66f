package survival

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// momentsTo makes the limits of 1 − S(x) of the beta product confidence
// procedure (Fay, Brittain & Proschan, Biostatistics 2013;14:723, method of
// moments), each one-sided at α/2.
//
// With Y_j at risk and d_j events at t_j, W⁺ = ∏ Beta(Y_j − d_j + 1, d_j) and
// W⁻ = W⁺·Beta(Y, 1), Y being at risk at x less the events of x: somebody closed
// exactly at x has been seen to x, as the events of x are counted before. Each product is matched by its first two moments to
// one Beta: the limits of S are the α/2 quantile of W⁻ and the 1 − α/2
// quantile of W⁺. Its mean is m = ∏ (Y_j−d_j+1)/(Y_j+1); the squared
// coefficient of variation grows by c_j = d_j/((Y_j−d_j+1)(Y_j+2)). Both are
// carried, as 1 − m and c, forward over the times of a table, so that no digits
// are lost to subtraction.
type momentsTo struct {
	c    *Curve
	next int // first row not yet in w
	w    betaMoments
}

// limits of 1 − S(x); x must not be lower than in the call before.
func (m *momentsTo) limits(x, alpha2 float64) (lower, upper float64) {
	r := &m.c.rows
	for ; m.next < len(r.time) && r.time[m.next] <= x; m.next++ {
		if d := r.own[m.next]; d > 0 {
			m.w.times(r.atRisk[m.next]-d+1, d)
		}
	}
	lower = m.w.complementQuantile(alpha2)
	upper = 1
	if y := m.c.seenTo(x, m.c.rows.from(x)); y > 0 {
		minus := m.w
		minus.times(y, 1)
		upper = minus.complementQuantile(1 - alpha2)
	}
	return lower, upper
}

// noEventLimits are the limits when none of y has had the event: 0 and
// 1 − (α/2)^(1/y).
func noEventLimits(y, alpha2 float64) (lower, upper float64) {
	if y == 0 {
		return 0, 1
	}
	return 0, -math.Expm1(math.Log(alpha2) / y)
}

// betaMoments holds a product of independent Beta variables by u = 1 − mean
// and c = variance/mean².
type betaMoments struct{ u, c float64 }

// times multiplies by a Beta(a, b).
func (w *betaMoments) times(a, b float64) {
	w.u += float64((1 - w.u) * (b / (a + b)))
	cj := b / float64(a*(a+b+1))
	w.c += cj + float64(w.c*cj)
}

// complementQuantile is the p quantile of 1 − W, W being the Beta matched to
// the moments.
func (w betaMoments) complementQuantile(p float64) float64 {
	m := 1 - w.u
	v := float64(float64(m*m) * w.c)
	s := float64(m*w.u)/v - 1
	return betaQuantile(p, float64(w.u*s), float64(m*s))
}

// betaQuantile is the p quantile of the Beta(a, b) distribution.
func betaQuantile(p, a, b float64) float64 {
	switch {
	case a == 0:
		return 0
	case b == 0:
		return 1
	}
	lbeta := mathext.Lbeta(a, b)
	return quantile(p, mathext.InvRegIncBeta(a, b, p), 1,
		func(x float64) float64 { return mathext.RegIncBeta(a, b, x) },
		func(x float64) float64 {
			return math.Exp(float64((a-1)*math.Log(x)) + float64((b-1)*math.Log1p(-x)) - lbeta)
		})
}

// quantile solves cdf(x) = p for 0 < x < end from a first guess. Gonum's
// quantiles are such guesses: good to some digits, but nowhere near in far
// tails of skewed distributions. Newton steps that leave the interval known to
// hold x give way to halving it.
func quantile(p, x, end float64, cdf, density func(float64) float64) float64 {
	low, high := 0.0, end
	if !(x > low && x < high) {
		x = middle(low, high)
	}
	for range 200 {
		excess := cdf(x) - p
		if excess < 0 {
			low = x
		} else {
			high = x
		}
		next := x - excess/density(x)
		if !(next > low && next < high) {
			next = middle(low, high)
		}
		if math.Abs(next-x) <= 1e-15*x {
			return next
		}
		x = next
	}
	return x
}

// middle halves an interval of positive numbers: on the logarithm, so that small
// numbers are reached as fast as large ones.
func middle(low, high float64) float64 {
	low, high = max(low, math.SmallestNonzeroFloat64), min(high, math.MaxFloat64)
	if high <= 2*low {
		return low + float64((high-low)/2)
	}
	return float64(math.Sqrt(low) * math.Sqrt(high))
}

// BinomialLimits are the exact limits of a proportion after x events in n
// (Clopper & Pearson, Biometrika 1934;26:404), as Beta quantiles, so that x and
// n need not be whole. It panics unless 0 ≤ x ≤ n, n > 0 and 0 < level < 1.
func BinomialLimits(x, n, level float64) (lower, upper float64) {
	if !(x >= 0 && x <= n && n > 0 && level > 0 && level < 1) {
		panic(fmt.Sprintf("survival: binomial limits of %v in %v at level %v", x, n, level))
	}
	alpha2 := tail(level)
	return betaQuantile(alpha2, x, n-x+1), betaQuantile(1-alpha2, x+1, n-x)
}

// PoissonLimits are the exact limits of a count's expectation (Garwood,
// Biometrika 1936;28:437):
//
//	χ²(α/2; 2·events)/2  and  χ²(1 − α/2; 2·events + 2)/2
//
// It panics unless events ≥ 0 and 0 < level < 1.
func PoissonLimits(events, level float64) (lower, upper float64) {
	if !(events >= 0 && level > 0 && level < 1) {
		panic(fmt.Sprintf("survival: Poisson limits of %v at level %v", events, level))
	}
	alpha2 := tail(level)
	return gammaQuantile(alpha2, events), gammaQuantile(1-alpha2, events+1)
}

// gammaQuantile is the p quantile of the Gamma distribution of the given shape
// and scale 1.
func gammaQuantile(p, shape float64) float64 {
	if shape == 0 {
		return 0
	}
	lgamma, _ := math.Lgamma(shape)
	return quantile(p, mathext.GammaIncRegInv(shape, p), math.Inf(1),
		func(x float64) float64 { return mathext.GammaIncReg(shape, x) },
		func(x float64) float64 { return math.Exp(float64((shape-1)*math.Log(x)) - x - lgamma) })
}

// Rate is a number of events per unit of person-time.
type Rate struct {
	Events     float64
	PersonTime float64
	Rate       float64 // Per·Events/PersonTime
	Lower      float64 // exact Poisson limits, see PoissonLimits
	Upper      float64
	Per        float64
	Level      float64
}

// NewRate is the rate of events per given amount of person-time, such as
// revisions per 100 implant-years, with exact Poisson limits. A constant rate
// is assumed in reading it; it hides a hazard that changes. Without
// person-time the rate and its limits are NaN. It panics as [PoissonLimits]
// does.
func NewRate(events, personTime, per, level float64) Rate {
	lower, upper := PoissonLimits(events, level)
	return RateWithin(events, lower, upper, personTime, per, level)
}

// RateWithin is [NewRate] where the limits of the number of events are known, as
// [PoissonLimits] gives them for the level: of many groups several have as many
// events, and their limits take longer than all else of a rate.
func RateWithin(events, lower, upper, personTime, per, level float64) Rate {
	r := Rate{Events: events, PersonTime: personTime, Per: per, Level: level}
	if !(personTime > 0) {
		r.Rate, r.Lower, r.Upper = math.NaN(), math.NaN(), math.NaN()
		return r
	}
	r.Rate = float64(per*events) / personTime
	r.Lower = float64(per*lower) / personTime
	r.Upper = float64(per*upper) / personTime
	return r
}
