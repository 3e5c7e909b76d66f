package monitor

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Count is the revisions observed and expected of one unit, a surgeon or a
// hospital.
type Count struct {
	Observed int
	Expected float64
}

// Shrunk are units' ratios drawn towards that of all of them.
type Shrunk struct {
	Mean  float64    // most likely ratio of all units together
	Tau   float64    // most likely standard deviation of the units' true ratios, over Mean; 0 where chance explains the differences
	Level float64    // of the limits
	Units []Estimate // in the order of the units
}

// Estimate is the ratio of one unit, drawn towards that of all.
type Estimate struct{ Ratio, Lower, Upper float64 }

// FewestUnits is the number of units, with revisions expected, from which ratios
// are drawn towards one another.
const FewestUnits = 3

// Errors of [Shrink]: units have their own exact limits then
// (survival.PoissonLimits), and nothing is drawn anywhere.
var (
	ErrFewUnits  = errors.New("too few units to draw their ratios towards one another")
	ErrNoRevised = errors.New("no revision in any unit, to draw ratios towards")
)

// Shrink draws the ratios of units towards that of all of them, the more the fewer
// revisions a unit is expected to have. The model: a unit's true ratio λ is Gamma
// distributed with mean μ and standard deviation τμ over units, and its observed
// count Poisson with mean λ·expected. Given μ and τ, λ is Gamma distributed with
//
//	shape 1/τ² + O,  rate 1/(τ²μ) + E
//
// These are not known, and limits that take the most likely values for them are
// far too narrow (they hold the true ratio in 12 to 89 % instead of 95 %), since
// the most likely τ is often 0. They are integrated over instead: on a grid of
// 80 values of τ, the midpoints of (0, 1], and 81 of ln μ, evenly from
// ln μ₀ − 4s to ln μ₀ + 4s, with
//
//	μ₀ = ΣO/ΣE,  s = √(1/ΣO + 0.09)
//
// all alike beforehand and weighted with their likelihood. Ratio is the mean and
// Lower and Upper the quantiles of that mixture of Gamma distributions; the grid is
// part of the definition. How often the limits hold is in SIMULATION.md.
//
// Expected is taken as known, and counts as Poisson. Where expected is made from the units'
// own sum, counts are binomial, given that sum, and the limits wider than need be:
// they then hold in 95 to 100 %.
//
// The error wraps [ErrFewUnits] with fewer than [FewestUnits] units that have
// revisions expected, and [ErrNoRevised] if no unit has a revision. It panics
// unless 0 < level < 1, and if a count is below 0, a number expected is not
// finite or below 0, or there are revisions and none expected.
//
// Gamma and Poisson: Clayton & Kaldor, Biometrics 1987;43:671. The grid and its
// flat weights are this project's.
func Shrink(units []Count, level float64) (*Shrunk, error) {
	if !(level > 0 && level < 1) {
		panic(fmt.Sprintf("monitor: limits at level %v", level))
	}
	m := gammaPoisson{units: units}
	many := 0
	for _, u := range units {
		if !(u.Observed >= 0 && u.Expected >= 0 && !math.IsInf(u.Expected, 1)) || u.Observed > 0 && u.Expected == 0 {
			panic(fmt.Sprintf("monitor: a unit of %v observed, %v expected", u.Observed, u.Expected))
		}
		m.observed += float64(u.Observed)
		m.expected += u.Expected
		if u.Expected > 0 {
			many++
		}
	}
	if many < FewestUnits {
		return nil, fmt.Errorf("%w: %d with revisions expected, want %d", ErrFewUnits, many, FewestUnits)
	}
	if m.observed == 0 {
		return nil, ErrNoRevised
	}
	s := &Shrunk{Level: level}
	var v float64
	s.Mean, v = m.likeliest()
	s.Tau = math.Sqrt(v)
	grid := m.grid()
	for _, u := range units {
		s.Units = append(s.Units, grid.of(u).estimate(level))
	}
	return s, nil
}

// gammaPoisson is the likelihood of units' counts. v is τ².
type gammaPoisson struct {
	units              []Count
	observed, expected float64 // sums
}

// rising is Σ over units of Σ ln(1 + iv) for i from 0 to O − 1: the part of the
// logarithm of the likelihood that μ does not enter.
func (m gammaPoisson) rising(v float64) float64 {
	sum := 0.0
	for _, u := range m.units {
		for i := 1; i < u.Observed; i++ {
			sum += math.Log1p(float64(i) * v)
		}
	}
	return sum
}

// logLikelihood is Σ (Σ ln(1+iv) + O·ln μ − (O + 1/v)·ln(1 + vμE)), but for what
// depends on neither; rising is given.
func (m gammaPoisson) logLikelihood(rising, mu, v float64) float64 {
	sum := rising + float64(m.observed*math.Log(mu))
	for _, u := range m.units {
		sum -= float64((float64(u.Observed) + 1/v) * math.Log1p(float64(v*float64(mu*u.Expected))))
	}
	return sum
}

// likeliest finds the μ and v of greatest likelihood. Its slope in v at 0 is
// (Σ(O − μE)² − ΣO)/2, μ = ΣO/ΣE; where that is not above 0, v is 0.
func (m gammaPoisson) likeliest() (mu, v float64) {
	slope := func(v float64) float64 { return m.slope(m.meanAt(v), v) }
	if !(slope(0) > 0) {
		return m.meanAt(0), 0
	}
	low, high := 0.0, 1e-3
	for slope(high) > 0 && high < 1e6 {
		low, high = high, 2*high
	}
	for range 200 {
		middle := low + float64((high-low)/2)
		if middle == low || middle == high {
			break
		}
		if slope(middle) > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return m.meanAt(low), low
}

// meanAt is the μ of greatest likelihood for a v: the root of Σ(O − μE)/(1 + vμE),
// by Newton's method. It falls with μ and is convex, so that from below the root
// no step goes too far, and from above one step leads below it.
func (m gammaPoisson) meanAt(v float64) float64 {
	mu := m.observed / m.expected
	if v == 0 {
		return mu
	}
	for range 200 {
		f, slope := 0.0, 0.0
		for _, u := range m.units {
			d := 1 + float64(v*float64(mu*u.Expected))
			f += (float64(u.Observed) - float64(mu*u.Expected)) / d
			slope -= float64(u.Expected*(1+float64(v*float64(u.Observed)))) / float64(d*d)
		}
		next := mu - f/slope
		if !(next > 0) {
			next = mu / 8
		}
		if math.Abs(next-mu) <= float64(1e-15*mu) {
			return next
		}
		mu = next
	}
	return mu
}

// slope is the derivative of the logarithm of the likelihood by v:
//
//	Σ (Σ i/(1+iv) + x²·Φ(vx) − O·x/(1+vx)),  x = μE,  Φ(y) = (ln(1+y) − y/(1+y))/y²
func (m gammaPoisson) slope(mu, v float64) float64 {
	sum := 0.0
	for _, u := range m.units {
		for i := 1; i < u.Observed; i++ {
			sum += float64(i) / (1 + float64(float64(i)*v))
		}
		x := float64(mu * u.Expected)
		y := float64(v * x)
		sum += float64(float64(x*x)*curvature(y)) - float64(float64(u.Observed)*x)/(1+y)
	}
	return sum
}

// curvature is (ln(1+y) − y/(1+y))/y²; near 0, where that loses its digits, its
// series Σ (−1)ⁿ·(n−1)/n·yⁿ⁻² from n = 2.
func curvature(y float64) float64 {
	if y > .02 {
		return (math.Log1p(y) - y/(1+y)) / float64(y*y)
	}
	sum, power := 0.0, 1.0
	for n := 2; n < 14; n++ {
		sum += float64(float64(n-1) / float64(n) * power)
		power *= -y
	}
	return sum
}

// mixture is Gamma distributions with their weights, which add up to 1.
type mixture []component

type component struct{ weight, shape, rate float64 }

const (
	gridTau  = 80
	gridMean = 81

	// lightest is the weight below which a component is left out: together they
	// weigh less than 10⁻⁸.
	lightest = 1e-12
)

// grid is the distribution of a ratio before the unit's own count is known, on
// the grid of τ and μ, weighted with the likelihood of all units.
func (m gammaPoisson) grid() mixture {
	center := math.Log(m.observed / m.expected)
	spread := math.Sqrt(1/m.observed + .09)
	all := make(mixture, 0, gridTau*gridMean)
	most := math.Inf(-1)
	for i := range gridTau {
		tau := (float64(i) + .5) / gridTau
		v := float64(tau * tau)
		rising := m.rising(v)
		for j := range gridMean {
			mu := math.Exp(center + float64(spread*(float64(float64(8*j)/(gridMean-1))-4)))
			l := m.logLikelihood(rising, mu, v)
			most = math.Max(most, l)
			all = append(all, component{weight: l, shape: 1 / v, rate: 1 / float64(v*mu)})
		}
	}
	sum := 0.0
	for i := range all {
		all[i].weight = math.Exp(all[i].weight - most)
		sum += all[i].weight
	}
	kept, light := all[:0], float64(lightest*sum)
	for _, c := range all {
		if c.weight > light {
			c.weight /= sum
			kept = append(kept, c)
		}
	}
	return kept
}

// of is the distribution of a unit's ratio. The weights already hold its count.
func (m mixture) of(u Count) mixture {
	own := make(mixture, len(m))
	for i, c := range m {
		own[i] = component{weight: c.weight, shape: c.shape + float64(u.Observed), rate: c.rate + u.Expected}
	}
	return own
}

func (m mixture) estimate(level float64) Estimate {
	mean, square := 0.0, 0.0
	for _, c := range m {
		at := c.shape / c.rate
		mean += float64(c.weight * at)
		square += float64(c.weight * float64(at*(at+1/c.rate)))
	}
	// A Gamma distribution of the same mean and variance is near.
	variance := square - float64(mean*mean)
	near := distuv.Gamma{Alpha: float64(mean*mean) / variance, Beta: mean / variance}
	tail := float64((1 - level) / 2)
	return Estimate{Ratio: mean, Lower: m.quantile(tail, near.Quantile(tail)), Upper: m.quantile(1-tail, near.Quantile(1-tail))}
}

// quantile is the x below which the mixture has probability p, by Newton's
// method from a start, kept between bounds that close in on it.
func (m mixture) quantile(p, start float64) float64 {
	logGamma := make([]float64, len(m))
	for i, c := range m {
		logGamma[i], _ = math.Lgamma(c.shape)
	}
	low, high, x := 0.0, math.Inf(1), start
	for range 200 {
		below, density := -p, 0.0
		for i, c := range m {
			y := float64(c.rate * x)
			below += float64(c.weight * mathext.GammaIncReg(c.shape, y))
			density += float64(float64(c.weight*c.rate) * math.Exp(float64((c.shape-1)*math.Log(y))-y-logGamma[i]))
		}
		if below > 0 {
			high = x
		} else {
			low = x
		}
		next := x - below/density
		if !(next > low && next < high) {
			next = low + float64((math.Min(high, 2*x)-low)/2)
			if math.IsInf(high, 1) {
				next = 2 * x
			}
		}
		if math.Abs(next-x) <= float64(1e-12*x) {
			return next
		}
		x = next
	}
	return x
}
