package survival

import (
	"fmt"
	"math"
	"strings"
	"sync/atomic"

	"gonum.org/v1/gonum/mathext"
)

// Method says how confidence limits are made from an estimate and its standard
// error.
type Method uint8

const (
	// LogLog makes limits on log(−log S) for Kaplan–Meier (Kalbfleisch &
	// Prentice 1980) and on log(−log F) for the cumulative incidence. Without
	// events of other causes the two estimates are equal and these limits
	// differ: by up to some five percentage points after the first event, by
	// less as events add up.
	LogLog Method = iota
	// Log makes limits on log S. Kaplan–Meier only.
	Log
	// Plain is the estimate plus and minus z standard errors.
	Plain
	// BetaProduct is the exact-type interval of Fay, Brittain & Proschan,
	// Biostatistics 2013;14:723, by the method of moments. Kaplan–Meier only.
	// Without censoring it is Clopper & Pearson's. It was derived for right
	// censoring; with late entry the numbers at risk are used as they are.
	BetaProduct
	methods
)

var methodNames = [...]string{"log-log", "log", "plain", "beta-product"}

func (m Method) String() string {
	if m < methods {
		return methodNames[m]
	}
	return fmt.Sprintf("Method(%d)", uint8(m))
}

// ParseMethod reads a method's name: log-log, log, plain or beta-product.
func ParseMethod(s string) (Method, error) {
	for i, name := range methodNames {
		if s == name {
			return Method(i), nil
		}
	}
	return 0, fmt.Errorf("survival: no interval method %q, want one of %s", s, strings.Join(methodNames[:], ", "))
}

// DefaultMinAtRisk is the number at risk below which a point gets the note
// [FewAtRisk]: with fewer than 30, one more event moves the estimate by more
// than three percentage points.
const DefaultMinAtRisk = 30

// Interval says how a curve is read. The zero value is the default: 95 %
// log-log limits, and a note below 30 at risk.
type Interval struct {
	Level     float64 // confidence level, between 0 and 1; 0 means 0.95
	Method    Method
	MinAtRisk float64 // 0 means DefaultMinAtRisk; below 0, no floor
}

// Check reports a level outside (0, 1) or an unknown method.
func (iv Interval) Check() error {
	if iv.Level != 0 && !(iv.Level > 0 && iv.Level < 1) {
		return fmt.Errorf("survival: confidence level %v, want a number between 0 and 1 such as 0.95", iv.Level)
	}
	if iv.Method >= methods {
		return fmt.Errorf("survival: unknown interval method %d", iv.Method)
	}
	return nil
}

func (iv Interval) withDefaults() Interval {
	if err := iv.Check(); err != nil {
		panic(err.Error())
	}
	if iv.Level == 0 {
		iv.Level = 0.95
	}
	switch {
	case iv.MinAtRisk == 0:
		iv.MinAtRisk = DefaultMinAtRisk
	case iv.MinAtRisk < 0:
		iv.MinAtRisk = 0
	}
	return iv
}

// methodFor is the method used for an estimand: log and beta product are
// defined for Kaplan–Meier, and the incidence keeps log-log then.
func (iv Interval) methodFor(e Estimand) Method {
	if e == Incidence && (iv.Method == Log || iv.Method == BetaProduct) {
		return LogLog
	}
	return iv.Method
}

// Note is a set of remarks on a point.
type Note uint16

const (
	// NoEvents: the cause has had no event so far.
	NoEvents Note = 1 << iota
	// FewAtRisk: fewer at risk than the floor.
	FewAtRisk
	// EverybodyFailed: the estimate is 1, and the limits are the beta
	// product's.
	EverybodyFailed
	// LastIsEvent: the last observation is an event, so the curve ends in a
	// step that rests on very few.
	LastIsEvent
	// OtherMethod: the method asked for is not defined for this estimand, and
	// log-log was used.
	OtherMethod
	// LimitsUndefined: the method has no limits for weighted or clustered
	// data here; they are NaN.
	LimitsUndefined
)

var noteCodes = [...]string{"no events", "few at risk", "everybody failed", "last observation an event", "other method", "limits undefined"}

// Codes lists a set of notes as fixed short phrases.
func (n Note) Codes() []string {
	var codes []string
	for i, code := range noteCodes {
		if n&(1<<i) != 0 {
			codes = append(codes, code)
		}
	}
	return codes
}

func (n Note) String() string { return strings.Join(n.Codes(), "; ") }

// normal is a quantile of the standard normal distribution, lastQuantile the last that was asked
// for: all points of an audit have one level.
type normal struct{ p, z float64 }

var lastQuantile atomic.Pointer[normal]

// normalQuantile is the quantile of the standard normal distribution.
func normalQuantile(p float64) float64 {
	if q := lastQuantile.Load(); q != nil && q.p == p {
		return q.z
	}
	q := &normal{p, mathext.NormalQuantile(p)}
	lastQuantile.Store(q)
	return q.z
}

// tail is the probability left beyond each limit, α/2. Halving is a product to
// the compiler, hence the conversion.
func tail(level float64) float64 { return float64((1 - level) / 2) }

// normalLimits are limits of the incidence f by a normal approximation, not
// yet clipped to [0, 1].
func normalLimits(m Method, e Estimand, f, se, z float64) (lower, upper float64) {
	width := float64(z * se)
	switch {
	case m == Plain:
		return f - width, f + width
	case m == Log: // S·exp(±z·SE/S)
		s := 1 - f
		ratio := math.Exp(width / s)
		return 1 - float64(s*ratio), 1 - s/ratio
	case e == Incidence: // F^exp(±z·SE/(F·|log F|))
		h := -math.Log(f)
		factor := math.Exp(width / float64(f*h))
		return math.Exp(-float64(h * factor)), math.Exp(-(h / factor))
	default: // S^exp(±z·SE/(S·|log S|))
		h := -math.Log1p(-f)
		factor := math.Exp(width / float64((1-f)*h))
		return -math.Expm1(-(h / factor)), -math.Expm1(-float64(h * factor))
	}
}
