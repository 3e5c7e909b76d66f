package survival

import (
	"errors"
	"fmt"
	"math"
)

// Smoothed is an estimated hazard, smoothed over time.
type Smoothed struct {
	Cause     int
	Bandwidth float64
	End       float64 // the last time with 10 at risk, up to which it is estimated
	Events    float64 // events of the cause up to End
	Point     []HazardPoint
}

// Errors of [SmoothHazard].
var (
	ErrFewEvents = errors.New("survival: a smoothed hazard needs 10 events or more while 10 or more are at risk")
	ErrBandwidth = errors.New("survival: the bandwidth must lie above 0 and be no more than half of the time to 10 at risk")
)

// SmoothHazard estimates the hazard of a cause, events per subject at risk and
// unit of time, at the times in at:
//
//	h(t) = (1/b) Σ_i K((t − t_i)/b)·d_i/n_i,   SE² = (1/b²) Σ_i K((t − t_i)/b)²·d_i/n_i²
//
// with the kernel of Epanechnikov and, less than b from 0 or from the end R, its
// boundary kernels (Müller & Wang, Biometrics 1994;50:61): with q = min(1, t/b)
//
//	K_q(x) = 12/(1+q)⁴·(x+1)·(x(1−2q) + (3q²−2q+1)/2) on [−1, q]
//
// and on the right K_q(−x), q = (R−t)/b. R is the last time with 10 at risk.
// Bandwidth 0 is this project's rule, 0.4·R·d^(−1/5) but R/2 at most, with d
// events up to R; its last digit may differ between machines. A hazard below 0, which the boundary kernels can give, is 0.
// Limits are on the logarithm, h·exp(±z·SE/h); without a hazard above 0 they are
// NaN.
//
// Errors: [ErrFewEvents]; [ErrBandwidth]; a time below 0 or beyond R; or of a
// table, as for [KaplanMeier]. It panics unless 0 < level < 1.
func SmoothHazard(t *Table, cause int, bandwidth float64, at []float64, level float64) (*Smoothed, error) {
	if !(level > 0 && level < 1) {
		panic("survival: a confidence level lies between 0 and 1")
	}
	if err := t.usable(cause); err != nil {
		return nil, err
	}
	s := &Smoothed{Cause: cause, Bandwidth: bandwidth}
	own := t.Event[cause-1]
	rows := 0
	for i, n := range t.AtRisk {
		if n >= 10 {
			s.End, rows = t.Time[i], i+1
		}
	}
	for _, d := range own[:rows] {
		s.Events += d
	}
	if s.Events < 10 {
		return nil, ErrFewEvents
	}
	if bandwidth == 0 {
		s.Bandwidth = math.Min(s.End/2, float64(0.4*s.End)*math.Pow(s.Events, -0.2))
	}
	if !(s.Bandwidth > 0 && s.Bandwidth <= s.End/2) {
		return nil, ErrBandwidth
	}
	z := normalQuantile(1 - tail(level))
	for _, x := range at {
		if !(x >= 0 && x <= s.End) {
			return nil, fmt.Errorf("survival: smoothed hazard at %v, want a time from 0 to %v", x, s.End)
		}
		h, v := 0.0, 0.0
		for i, d := range own[:rows] {
			if d > 0 {
				k := s.kernel(x, t.Time[i]) / s.Bandwidth
				n := t.AtRisk[i]
				h += float64(k*d) / n
				v += float64(float64(k*k)*d) / float64(n*n)
			}
		}
		p := HazardPoint{Time: x, Estimate: math.Max(0, h), SE: math.Sqrt(v), Level: level, Lower: math.NaN(), Upper: math.NaN()}
		if h > 0 {
			factor := math.Exp(float64(z*p.SE) / h)
			p.Lower, p.Upper = h/factor, float64(h*factor)
		}
		s.Point = append(s.Point, p)
	}
	return s, nil
}

// kernel is the weight of an event at time event in the hazard at x.
func (s *Smoothed) kernel(x, event float64) float64 {
	q, u := math.Min(1, x/s.Bandwidth), (x-event)/s.Bandwidth
	if right := (s.End - x) / s.Bandwidth; right < 1 {
		q, u = right, -u
	}
	if u < -1 || u > q {
		return 0
	}
	one := 1 + q
	four := float64(float64(one*one) * float64(one*one))
	slope := float64(u * (1 - float64(2*q)))
	level := float64((float64(3*float64(q*q)) - float64(2*q) + 1) / 2)
	return float64(float64(12*(u+1))*(slope+level)) / four
}
