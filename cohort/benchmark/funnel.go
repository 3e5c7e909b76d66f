package benchmark

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// FunnelLimits are the limits, at a confidence level, between which the ratio
// of observed to expected revisions of a unit is to lie if its revision is
// target times what the published series leads one to expect, and chance is
// all that moves it. A funnel draws them against expected; target is 1 unless
// another ratio is meant.
//
// The observed count R is then Poisson with mean m = target·expected. For the
// probabilities p = (1 − level)/2 and (1 + level)/2, let r be the least count with
// P(R ≤ r) ≥ p. The limit is
//
//	(r − α)/expected,  α = (P(R ≤ r) − p) / (P(R ≤ r) − P(R ≤ r−1))
//
// so that it moves without jumps as expected grows. Where P(R ≤ r) is p exactly,
// α is 0 and the limit is the count r itself. (With the least count above p,
// instead of at it, α is then 1 and the limit the same.)
//
// The lower limit is 0 where P(R = 0) ≥ p: up to 3.69 expected at 95 % and 6.91
// at 99.8 %, no observed count can lie below. The upper is never below target;
// that matters only where a single revision is unlikely, below 0.027 expected at
// 95 %.
//
// With twice as many expected the limits lie closer to target; in between the
// upper one has bumps of less than 2 % where r changes. Below 0.11 expected it
// no longer rises as expected falls, but turns down to target.
//
// Interpolation between counts has a price: a unit whose count is r lies above
// the upper limit, though P(R ≥ r) is more than 1 − p. More than 2.5 % of units
// lie above the 95 % limit by chance, and fewer below the lower one: of those
// with three or more expected up to 7.5 % lie outside, with one or more up to
// 9.8 %. [OutsideByChance] says how many.
//
// It panics unless expected and target are above 0 and finite, and
// 0 < level < 1.
//
// Spiegelhalter, Stat Med 2005;24:1185, appendix.
func FunnelLimits(expected, target, level float64) (lower, upper float64) {
	m := funnelMean(expected, target, level)
	low, high := funnelCounts(m, (1-level)/2)
	return low / expected, math.Max(high/expected, target)
}

// OutsideByChance is the probability that a unit lies outside [FunnelLimits] by
// chance alone: that a Poisson count of mean target·expected is less than the
// lower limit or more than the upper. Its sum over units is the number of them
// to be expected outside. It panics as FunnelLimits does.
func OutsideByChance(expected, target, level float64) float64 {
	m := funnelMean(expected, target, level)
	low, high := funnelCounts(m, (1-level)/2)
	outside := poissonAbove(math.Floor(math.Max(high, m)), m)
	if c := math.Ceil(low) - 1; c >= 0 {
		outside += poissonUpTo(c, m)
	}
	return outside
}

func funnelMean(expected, target, level float64) float64 {
	m := float64(expected * target)
	if !(expected > 0 && target > 0 && m > 0 && !math.IsInf(m, 1) && level > 0 && level < 1) {
		panic(fmt.Sprintf("benchmark: funnel limits of %v expected around %v at level %v", expected, target, level))
	}
	return m
}

// funnelCounts are the interpolated counts that cut off the given probability
// below and above; the lower is not below 0.
func funnelCounts(m, tail float64) (lower, upper float64) {
	z := distuv.UnitNormal.Quantile(1 - tail)
	near := func(x float64) float64 { return math.Max(0, math.Floor(x)) }

	// Least r with P(R ≤ r) ≥ tail.
	r := near(m - float64(z*math.Sqrt(m)))
	for r > 0 && poissonUpTo(r-1, m) >= tail {
		r--
	}
	for poissonUpTo(r, m) < tail {
		r++
	}
	lower = r - (poissonUpTo(r, m)-tail)/poissonAt(r, m)

	// Least r with P(R > r) ≤ tail; by the upper probability, which keeps the
	// digits that 1 − P(R ≤ r) loses.
	r = near(m + float64(z*math.Sqrt(m)))
	for r > 0 && poissonAbove(r-1, m) <= tail {
		r--
	}
	for poissonAbove(r, m) > tail {
		r++
	}
	upper = r - (tail-poissonAbove(r, m))/poissonAt(r, m)
	return math.Max(0, lower), upper
}

// poissonUpTo, poissonAbove and poissonAt are P(R ≤ r), P(R > r) and P(R = r) of
// a Poisson count of mean m.
func poissonUpTo(r, m float64) float64  { return mathext.GammaIncRegComp(r+1, m) }
func poissonAbove(r, m float64) float64 { return mathext.GammaIncReg(r+1, m) }
func poissonAt(r, m float64) float64    { return distuv.Poisson{Lambda: m}.Prob(r) }

// Unit is the revisions observed and expected of one surgeon or hospital.
type Unit struct{ Observed, Expected float64 }

// FewestUnits is the number of units, each with at least one revision expected,
// that over-dispersion is judged from. With ten the default winsorises one at
// each end; with fewer it would winsorise none.
const FewestUnits = 10

// fewestExpected is the number expected below which a unit does not bear on
// over-dispersion: its z is far from Normal.
const fewestExpected = 1

// DefaultWinsorise is the share of units winsorised at each end.
const DefaultWinsorise = 0.1

// ErrFewUnits: there are fewer than [FewestUnits] units to judge
// over-dispersion from.
var ErrFewUnits = errors.New("benchmark: too few units to judge over-dispersion from")

// Dispersion says how much more units differ than chance makes them.
type Dispersion struct {
	Units      int     // that it was judged from: at least one expected
	Winsorised int     // at each end
	Phi        float64 // Σ z²/Units, z winsorised
	Raw        float64 // the same, not winsorised
	P          float64 // probability that chance alone gives Phi or more: χ² on Units degrees of freedom
	Widen      bool    // P is below 0.05: limits are to be widened
}

// OverDispersion judges whether the ratios of units around target differ more
// than chance makes them, as they do where case mix or recording differs and
// the published series does not know. Units expected to have less than one
// revision are passed over; with fewer than [FewestUnits] left the error is
// [ErrFewUnits]. Winsorise is the share at each end, from 0 to below 0.5.
//
//	z = (observed − target·expected) / √(target·expected)
//
// The ⌊winsorise·I⌋ lowest of the I values of z are set to the next above them,
// the as many highest to the next below, so that a few units far out do not
// widen the limits that are to show them. Then
//
//	φ = Σ z²/I
//
// and limits are widened only if I·φ exceeds the 0.95 quantile of χ² on I degrees
// of freedom; the target is given, not estimated, so none is lost. Winsorised
// values spread less than χ² assumes. In 10,000 invented samples without
// over-dispersion of 10, 25 and 60 units, 1 to 20 expected each, it was found in
// less than 2 % instead of 5 %: limits are widened too seldom rather than too often.
//
// z is on the scale of the counts, not of their square roots. The mean of z² is
// then 1 whatever is expected; on the square-root scale it is 1.6 with one or two
// expected, and small units alone would make φ large.
//
// It panics if target or winsorise is out of range, or a unit's number is not a
// finite one of at least 0.
//
// Spiegelhalter, Stat Med 2005;24:1185, multiplicative model; Qual Saf Health
// Care 2005;14:347. The least number of units, and passing over those with less
// than one expected, are this project's.
func OverDispersion(units []Unit, target, winsorise float64) (Dispersion, error) {
	if !(target > 0 && !math.IsInf(target, 1) && winsorise >= 0 && winsorise < 0.5) {
		panic(fmt.Sprintf("benchmark: over-dispersion around %v, winsorised %v", target, winsorise))
	}
	var z []float64
	for _, u := range units {
		if !(u.Observed >= 0 && u.Expected >= 0 && !math.IsInf(u.Observed+u.Expected, 1)) {
			panic(fmt.Sprintf("benchmark: a unit of %v observed, %v expected", u.Observed, u.Expected))
		}
		if u.Expected >= fewestExpected {
			m := float64(target * u.Expected)
			z = append(z, (u.Observed-m)/math.Sqrt(m))
		}
	}
	n := len(z)
	if n < FewestUnits {
		return Dispersion{}, fmt.Errorf("%w: %d with at least %d revision expected, want %d", ErrFewUnits, n, fewestExpected, FewestUnits)
	}
	slices.Sort(z)
	d := Dispersion{Units: n, Raw: squares(z) / float64(n)}
	d.Winsorised = int(math.Floor(float64(winsorise*float64(n)) + 1e-9)) // 0.1 of 30 is 3
	k := d.Winsorised
	for i := range k {
		z[i], z[n-1-i] = z[k], z[n-1-k]
	}
	sum := squares(z)
	d.Phi = sum / float64(n)
	d.P = mathext.GammaIncRegComp(float64(n)/2, sum/2)
	d.Widen = d.P < 0.05
	return d, nil
}

func squares(z []float64) float64 {
	sum := 0.0
	for _, x := range z {
		sum += float64(x * x)
	}
	return sum
}

// Limits are those of [FunnelLimits], widened if d says so to
//
//	target ± z·√(φ·target/expected)
//
// z being the Normal quantile, the lower not below 0. Where few are expected the
// exact limits are not symmetrical, and may lie outside these; the outer of the
// two is taken on each side, so that over-dispersion never narrows a limit. It
// panics as FunnelLimits does.
func (d Dispersion) Limits(expected, target, level float64) (lower, upper float64) {
	lower, upper = FunnelLimits(expected, target, level)
	if !d.Widen {
		return lower, upper
	}
	half := float64(distuv.UnitNormal.Quantile(float64((1+level)/2)) * math.Sqrt(float64(d.Phi*target)/expected))
	return math.Max(0, math.Min(lower, target-half)), math.Max(upper, target+half)
}
