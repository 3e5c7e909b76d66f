package survival

import (
	"errors"
	"math"
)

// Mean is a restricted mean, in the unit of time.
type Mean struct {
	To    float64 // the time tau up to which it is taken
	Mean  float64
	SE    float64
	Lower float64 // mean ± z·SE, clipped to [0, tau]
	Upper float64
	Level float64
}

// Errors of restricted means.
var (
	ErrBeyondFollowUp = errors.New("survival: restricted mean beyond the last exit")
	ErrNotSurvival    = errors.New("survival: restricted mean of a cumulative incidence: use RestrictedTimeLost")
	ErrNoMeanVariance = errors.New("survival: restricted mean of weighted or clustered data has no Greenwood variance")
)

// RestrictedMean is the mean time free of the event up to tau, ∫₀^tau S(t) dt,
// of a Kaplan–Meier curve. It is tau less [Curve.RestrictedTimeLost], with the
// same standard error. Errors are as there, and [ErrNotSurvival] for a
// cumulative incidence.
func (c *Curve) RestrictedMean(tau float64, iv Interval) (Mean, error) {
	if c.Estimand != OneMinusKaplanMeier {
		return Mean{}, ErrNotSurvival
	}
	m, err := c.RestrictedTimeLost(tau, iv)
	if err != nil {
		return Mean{}, err
	}
	m.Mean, m.Lower, m.Upper = tau-m.Mean, tau-m.Upper, tau-m.Lower
	return m, nil
}

// RestrictedTimeLost is the mean time lost to the cause up to tau,
// ∫₀^tau F_k(t) dt. Its variance is the delta-method variance over the numbers
// of events at each time:
//
//	Σ_i S(t_i−)²/n_i · (g²·a(1−a) + h²·b(1−b) − 2·g·h·a·b)
//
// with a = d_ki/n_i, b = (d_i − d_ki)/n_i, L_i = ∫_{t_i}^tau (F(t) − F(t_i)) dt
// / S(t_i), g = tau − t_i − L_i and h = −L_i. With one cause this is the usual
// variance of the area under a Kaplan–Meier curve (Irwin, J Hyg 1949;47:188).
// Errors: [ErrBeyondFollowUp] if tau lies beyond the last exit,
// [ErrNoMeanVariance] for a curve from [Robust]. It panics if tau is below 0 or
// not a number, if an event happened before time 0, or if iv is invalid.
func (c *Curve) RestrictedTimeLost(tau float64, iv Interval) (Mean, error) {
	iv = iv.withDefaults()
	if !(tau >= 0) || len(c.Time) > 0 && c.Time[0] < 0 {
		panic("survival: a restricted mean runs from time 0 to a later time")
	}
	if c.Variance != Greenwood {
		return Mean{}, ErrNoMeanVariance
	}
	if !c.any || tau > c.end {
		return Mean{}, ErrBeyondFollowUp
	}
	r := &c.rows
	own, events := r.own, r.all
	before := make([]float64, r.upTo(tau)) // S just before each time
	s := 1.0
	for i := range before {
		before[i] = s
		if events[i] > 0 {
			s = float64(s * ((r.atRisk[i] - events[i]) / r.atRisk[i]))
		}
	}
	var variance, ahead float64 // ahead is L_i
	for i := len(before) - 1; i >= 0; i-- {
		if events[i] == 0 {
			continue
		}
		n := r.atRisk[i]
		a, b := own[i]/n, (events[i]-own[i])/n
		left := tau - r.time[i]
		g, h := left-ahead, -ahead
		v := float64(float64(float64(g*g)*a)*(1-a)) + float64(float64(float64(h*h)*b)*(1-b)) -
			2*float64(float64(float64(g*h)*a)*b)
		variance += float64(float64(before[i]*before[i])*v) / n
		ahead = float64(a*left) + float64(((n-events[i])/n)*ahead)
	}
	m := Mean{To: tau, Mean: ahead, SE: math.Sqrt(math.Max(0, variance)), Level: iv.Level}
	width := float64(normalQuantile(1-tail(iv.Level)) * m.SE)
	m.Lower, m.Upper = math.Max(0, m.Mean-width), math.Min(tau, m.Mean+width)
	return m, nil
}
