package survival

import (
	"math"
	"sort"
)

// Hazard is an estimated cumulative hazard: a right-continuous step function
// that is 0 before Time[0].
type Hazard struct {
	Cause      int
	Time       []float64 // times at which the cause has events, increasing
	Cumulative []float64
	SE         []float64

	end float64
	any bool
}

// NelsonAalen estimates the cumulative hazard of a cause:
//
//	H(t) = Σ_{t_i ≤ t} d_ki/n_i,   var H(t) = Σ_{t_i ≤ t} d_ki/n_i²
//
// The variance treats the events at one time as Poisson (Aalen, Ann Stat
// 1978;6:701). Errors wrap [ErrTable] or are [ErrWeighted].
//
// Nelson, J Qual Technol 1969;1:27; Aalen, as above.
func NelsonAalen(t *Table, cause int) (*Hazard, error) {
	if err := t.usable(cause); err != nil {
		return nil, err
	}
	h := &Hazard{Cause: cause}
	h.end, h.any = t.LastExit()
	var total, variance float64
	for i, d := range t.Event[cause-1] {
		if d == 0 {
			continue
		}
		n := t.AtRisk[i]
		total += d / n
		variance += d / float64(n*n)
		h.Time = append(h.Time, t.Time[i])
		h.Cumulative = append(h.Cumulative, total)
		h.SE = append(h.SE, math.Sqrt(variance))
	}
	return h, nil
}

// HazardPoint is one reading of a cumulative hazard.
type HazardPoint struct {
	Time     float64
	Estimate float64
	SE       float64
	Lower    float64
	Upper    float64
	Level    float64
}

// At reads the cumulative hazard at x, with limits on its logarithm,
// H·exp(±z·SE/H), at a confidence level such as 0.95. Without events so far the
// limits are NaN. It is false beyond the last exit and for NaN. It panics
// unless 0 < level < 1.
func (h *Hazard) At(x, level float64) (HazardPoint, bool) {
	if !(level > 0 && level < 1) {
		panic("survival: a confidence level lies between 0 and 1")
	}
	if !h.any || !(x <= h.end) {
		return HazardPoint{}, false
	}
	p := HazardPoint{Time: x, Level: level, Lower: math.NaN(), Upper: math.NaN()}
	if i := sort.Search(len(h.Time), func(i int) bool { return h.Time[i] > x }) - 1; i >= 0 {
		p.Estimate, p.SE = h.Cumulative[i], h.SE[i]
		factor := math.Exp(float64(normalQuantile(1-tail(level))*p.SE) / p.Estimate)
		p.Lower, p.Upper = p.Estimate/factor, float64(p.Estimate*factor)
	}
	return p, true
}
