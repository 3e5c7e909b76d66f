package survival

import (
	"errors"
	"fmt"
	"math"
)

// Standardised is a cumulative incidence in a fixed mix of strata.
type Standardised struct {
	Time     float64
	Estimate float64
	SE       float64
	Lower    float64
	Upper    float64
	Level    float64
	Events   float64 // events of the cause by Time, in all strata
	AtRisk   float64 // at risk at Time in the stratum with fewest
}

// ErrMix is wrapped by errors about the mix of [Standardise].
var ErrMix = errors.New("survival: mix of strata")

// Standardise is the incidence of a cause at a time that a group would have in
// a given mix of strata, such as age bands: with w_a the share of stratum a
// and F_a its own incidence there (one minus Kaplan–Meier or cumulative
// incidence),
//
//	F = Σ w_a·F_a,   V = Σ w_a²·var F_a
//
// The shares are taken as known. Limits are those of gamma distributions (Fay &
// Feuer, Stat Med 1997;16:791), with w_m the largest step that one more event
// would make, max w_a·S_a/Y_a, S_a free of every event (of the cause's, with one minus
// Kaplan–Meier) and Y_a at risk at the time less its events, since somebody closed
// exactly at it has been seen to it:
//
//	lower: α/2 quantile, mean F, variance V;  0 if F = 0
//	upper: 1 − α/2 quantile, mean F + w_m, variance V + w_m²
//
// clipped to 1. Their use with censored curves is this project's own. For the
// difference of two groups their limits can be combined by variance estimates
// recovery. A stratum with few at risk makes the limits wide but not reliable:
// see AtRisk, and merge strata below 10.
//
// strata may be nil where the weight is 0. Errors: [ErrMix] unless the weights
// are 0 or more and add up to 1, or for a stratum without a table;
// [ErrBeyondFollowUp], naming the stratum, if it has no value at the time; or of a
// table, as for [KaplanMeier]. It panics unless 0 < level < 1.
func Standardise(strata []*Table, weight []float64, cause int, e Estimand, at, level float64) (Standardised, error) {
	if !(level > 0 && level < 1) {
		panic("survival: a confidence level lies between 0 and 1")
	}
	s := Standardised{Time: at, Level: level, AtRisk: math.Inf(1)}
	if err := checkMix(strata, weight); err != nil {
		return Standardised{}, err
	}
	variance, step := 0.0, 0.0
	for a, t := range strata {
		w := weight[a]
		if w == 0 {
			continue
		}
		estimate := KaplanMeier
		if e == Incidence {
			estimate = CumulativeIncidence
		}
		c, err := estimate(t, cause)
		if err != nil {
			return Standardised{}, fmt.Errorf("stratum %d: %w", a, err)
		}
		p, ok := c.At(at, Interval{Level: level})
		if !ok {
			return Standardised{}, fmt.Errorf("stratum %d: %w", a, ErrBeyondFollowUp)
		}
		s.Estimate += float64(w * p.Estimate)
		s.Events += p.Events
		s.AtRisk = math.Min(s.AtRisk, p.AtRisk)
		variance += float64(float64(w*p.SE) * float64(w*p.SE))
		all := p
		if e == Incidence {
			all, _ = productLimit(t.Pool(), 1, OneMinusKaplanMeier).At(at, Interval{})
		}
		if free := 1 - all.Estimate; free > 0 {
			step = math.Max(step, float64(w*free)/all.SeenTo)
		}
	}
	s.SE = math.Sqrt(variance)
	s.Lower = math.Min(gammaLimit(tail(level), s.Estimate, variance), s.Estimate)
	s.Upper = 1
	if !math.IsInf(step, 1) {
		s.Upper = math.Min(1, math.Max(s.Estimate, gammaLimit(1-tail(level), s.Estimate+step, variance+float64(step*step))))
	}
	return s, nil
}

func checkMix(strata []*Table, weight []float64) error {
	if len(strata) != len(weight) {
		return fmt.Errorf("%w: %d weights for %d strata", ErrMix, len(weight), len(strata))
	}
	total := 0.0
	for a, w := range weight {
		if !(w >= 0) || w > 0 && strata[a] == nil {
			return fmt.Errorf("%w: stratum %d has weight %v, and no table or no such weight is possible", ErrMix, a, w)
		}
		total += w
	}
	if !(math.Abs(total-1) <= 1e-9) {
		return fmt.Errorf("%w: weights add up to %v, not to 1", ErrMix, total)
	}
	return nil
}

// gammaLimit is the p quantile of the gamma distribution of a mean and variance.
func gammaLimit(p, mean, variance float64) float64 {
	if mean == 0 || variance == 0 {
		return mean
	}
	return float64(gammaQuantile(p, float64(mean*mean)/variance)*variance) / mean
}
