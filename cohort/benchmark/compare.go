package benchmark

import (
	"fmt"
	"math"

	"example.org/holdfast/survival"
)

// Reading is what a comparison says. Its rule is in the package documentation.
type Reading uint8

const (
	// TooFew: the numbers are too small to say anything.
	TooFew Reading = iota
	// Above: own revision lies above the published figure.
	Above
	// Below: own revision lies below the published figure.
	Below
	// Compatible: no evidence of a difference, which is not evidence that there
	// is none.
	Compatible
	readings
)

var readingWords = [...]string{"too few to say", "above", "below", "compatible with"}

func (r Reading) String() string {
	if r < readings {
		return readingWords[r]
	}
	return fmt.Sprintf("Reading(%d)", uint8(r))
}

// Comparison is one's own estimate beside a published figure. Proportions and
// their differences lie between −1 and 1; what there is not is NaN.
type Comparison struct {
	Series *Series
	Figure Figure

	// Own is the own estimate at the figure's years, with the limits the
	// interval asked for; NaN where nobody was followed that long.
	Own     survival.Point
	Reached bool // there is an own estimate

	// Difference is own − published, with limits by [MOVER] from the limits of
	// both. There are limits only where both have the same confidence level.
	Difference      float64
	DifferenceLower float64
	DifferenceUpper float64

	PublishedExact bool // the figure has no limits, and was taken as exact

	Reading Reading
	Basis   Basis // what the reading was made from

	// NearTheLine: the difference's limits lie above, below or across 0
	// otherwise than the reading has it; not below, where nothing could have read so.
	NearTheLine bool
	Notes       Note
}

// Basis is the own interval a reading is made from, whatever interval was asked
// for: of the beta product for Kaplan–Meier, of Clopper and Pearson on the
// effective number for the incidence, at the figure's confidence level.
type Basis struct {
	Lower, Upper    float64
	Level           float64
	EffectiveNumber float64 // n* = F(1−F)/SE²; NaN where it was not used
	SeenTo          float64 // see survival.Point
}

// Words is the reading as a phrase: of a threshold, "above" and "not above".
func (c Comparison) Words() string {
	if c.Series != nil && c.Series.Estimand == Threshold && (c.Reading == Below || c.Reading == Compatible) {
		return "not above"
	}
	return c.Reading.String()
}

// FewestAtRisk is the number at risk below which nothing is read.
const FewestAtRisk = 10

// Compare sets one's own estimate beside a published figure of the series s:
// km beside 1-KM, incidence beside the cumulative incidence, read at the time at
// in the curves' unit: the day on which the figure's years are reached. A curve that is nil, or does not reach that far, gives a
// comparison without an own value. Errors wrap [ErrEstimand] for a series that
// is no estimate or does not say of what, and for a curve of another estimand. A
// nil series, an invalid interval, a figure that is not a proportion, in per cent
// say, and limits that do not enclose it are errors too.
func Compare(km, incidence *survival.Curve, s *Series, f Figure, iv survival.Interval, at float64) (Comparison, error) {
	if s == nil {
		return Comparison{}, errNoSeries
	}
	own, ok := s.Estimand.Own()
	if !ok {
		return Comparison{}, fmt.Errorf("%w: nothing is compared with a %s in this way", ErrEstimand, s.Estimand)
	}
	curve := km
	if own == survival.Incidence {
		curve = incidence
	}
	return compare(curve, own, s, f, iv, at)
}

// CompareThreshold sets one's own Kaplan–Meier estimate beside a threshold. The
// threshold has no error: the difference's limits are the own limits less the
// threshold. Errors are those of [Compare].
func CompareThreshold(km *survival.Curve, s *Series, f Figure, iv survival.Interval, at float64) (Comparison, error) {
	if s == nil {
		return Comparison{}, errNoSeries
	}
	if s.Estimand != Threshold {
		return Comparison{}, fmt.Errorf("%w: a %s is not a threshold", ErrEstimand, s.Estimand)
	}
	return compare(km, survival.OneMinusKaplanMeier, s, f, iv, at)
}

func compare(curve *survival.Curve, own survival.Estimand, s *Series, f Figure, iv survival.Interval, at float64) (Comparison, error) {
	if err := iv.Check(); err != nil {
		return Comparison{}, err
	}
	if curve != nil && curve.Estimand != own {
		return Comparison{}, fmt.Errorf("%w: the own curve is of %s, want %s", ErrEstimand, curve.Estimand, own)
	}
	if err := f.check(); err != nil {
		return Comparison{}, err
	}
	c := Comparison{Series: s, Figure: f, Notes: f.Notes, Difference: nan, DifferenceLower: nan, DifferenceUpper: nan}
	c.Basis = Basis{Lower: nan, Upper: nan, Level: f.level(), EffectiveNumber: nan}
	if curve != nil {
		c.Own, c.Reached = curve.At(at, iv)
	}
	if !c.Reached {
		c.Own = survival.Point{Time: at, Estimate: nan, SE: nan, Lower: nan, Upper: nan}
		c.Notes |= NoOwnValue
		return c, nil
	}

	lower, upper, notes := f.limits()
	if s.Estimand != Threshold {
		c.Notes |= notes
		c.PublishedExact = notes&TakenAsExact != 0
	}
	c.Difference = c.Own.Estimate - f.Revision
	printed := Compatible
	if c.Own.Level != f.level() {
		c.Notes |= OtherLevel
	} else {
		_, c.DifferenceLower, c.DifferenceUpper = MOVER(c.Own.Estimate, c.Own.Lower, c.Own.Upper, f.Revision, lower, upper)
		printed = side(c.DifferenceLower, c.DifferenceUpper)
	}
	c.Basis = BasisOf(curve, at, f.level())
	c.read()

	sign := c.Reading
	if sign == TooFew {
		sign = Compatible // on neither side
	}
	possible := printed != Below || c.Notes&ZeroNotBelow == 0
	if c.DifferenceLower == c.DifferenceLower && printed != sign && possible {
		c.NearTheLine = true
		c.Notes |= NearTheLine
	}
	return c, nil
}

// read makes the reading from the basis and the published limits.
func (c *Comparison) read() {
	f := c.Figure
	lower, upper, notes := f.readingLimits()
	if c.Series.Estimand != Threshold {
		c.Notes |= notes
	}
	_, l, u := MOVER(c.Own.Estimate, c.Basis.Lower, c.Basis.Upper, f.estimate(), lower, upper)
	c.Reading = TooFew
	switch {
	case c.Own.AtRisk < FewestAtRisk:
		c.Notes |= FewerThanTen
	case l != l || u != u:
		c.Notes |= OwnLimitsUndefined
	case side(l, u) == Above:
		c.Reading = Above
	case !zeroReadsBelow(c.Basis.SeenTo, f):
		c.Notes |= ZeroNotBelow
		if lower == 0 {
			c.Notes |= ReachesZero
		}
	default:
		c.Reading = side(l, u)
	}
}

// side is where limits of a difference lie.
func side(lower, upper float64) Reading {
	switch {
	case lower > 0:
		return Above
	case upper < 0:
		return Below
	}
	return Compatible
}

// BasisOf is the interval that a reading of a curve at a time within its follow-up
// is made from. It panics unless 0 < level < 1.
func BasisOf(curve *survival.Curve, x, level float64) Basis {
	p, _ := curve.At(x, survival.Interval{Level: level, Method: survival.BetaProduct})
	b := Basis{Lower: p.Lower, Upper: p.Upper, Level: level, EffectiveNumber: nan, SeenTo: p.SeenTo}
	if p.Notes&(survival.NoEvents|survival.EverybodyFailed) != 0 {
		return b
	}
	if p.Method == survival.BetaProduct && p.Notes&survival.LimitsUndefined == 0 {
		return b
	}
	// The incidence, and any curve with a robust variance.
	b.Lower, b.Upper = nan, nan
	if n := float64(p.Estimate*(1-p.Estimate)) / float64(p.SE*p.SE); n > 0 && !math.IsInf(n, 0) {
		b.EffectiveNumber = n
		b.Lower, b.Upper = survival.BinomialLimits(float64(p.Estimate*n), n, level)
	}
	return b
}

// zeroReadsBelow reports whether none revised, with y seen to that time, would read
// below a figure.
func zeroReadsBelow(y float64, f Figure) bool {
	if !(y > 0) {
		return false
	}
	lower, upper, _ := f.readingLimits()
	none := -math.Expm1(math.Log((1-f.level())/2) / y)
	_, _, u := MOVER(0, 0, none, f.estimate(), lower, upper)
	return u < 0
}

// Needed is the least number seen to a time at which none revised would read
// below a figure; with fewer, the reading is above or too few to say. For a
// figure P without limits it is the least whole number above
//
//	ln(α/2)/ln(1 − P)
//
// which is 72 joints for 5 %, 368 for 1 %. For one with a lower limit L, P is
// replaced by √(L(2P − L)). Where that is 0 nothing reads below and Needed is
// +Inf.
func Needed(f Figure) float64 {
	lower, _, _ := f.readingLimits()
	published := f.estimate()
	p := math.Sqrt(float64(lower * (2*published - lower)))
	if lower == published {
		p = published
	}
	n := math.Floor(math.Log((1-f.level())/2)/math.Log1p(-p)) + 1
	if math.IsInf(n, 0) || n != n {
		return math.Inf(1)
	}
	return n
}

// MOVER is the difference of two independent estimates p − P with limits from
// the limits of each, (l, u) and (L, U), by the method of variance estimates
// recovery:
//
//	p − P − √((p − l)² + (U − P)²)  to  p − P + √((u − p)² + (P − L)²)
//
// The estimates may be in any unit. Estimates without error have L = P = U. All
// intervals must have one confidence level, which is that of the result. A NaN
// among the numbers gives NaN where it enters.
//
// 8 (4.5 to 14) less 5 (4.7 to 5.3) is 3 (−.51283 to 9.00750).
//
// Zou & Donner, Stat Med 2008;27:1693.
func MOVER(p, l, u, P, L, U float64) (diff, lower, upper float64) {
	diff = p - P
	return diff, diff - math.Hypot(p-l, U-P), diff + math.Hypot(u-p, P-L)
}
