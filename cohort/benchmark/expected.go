package benchmark

import (
	"math"
	"sort"

	"example.org/holdfast/survival"
)

// Ratio is the revisions observed beside those a published series would lead
// one to expect, over the intervals that are complete.
type Ratio struct {
	Observed float64 // revisions up to the last complete interval of each joint
	Expected float64
	ToYears  float64 // last year of the series that any joint's follow-up can reach
	Joints   int64   // joints that count: with a complete interval
	Without  int64   // joints of the kind without one
	Revised  int64   // of those that count, revised at any time
	InPeriod int64   // of those that count, operated on within the series' period

	OperatedFrom, OperatedTo int // calendar years of operation of those that count; 0 where not said

	// Interpolation bounds what interpolating between published points may do to
	// the ratio, as a proportion, for series of as many points; see [Ratio.Points].
	Interpolation float64
	Points        int // published points of the series

	// Sides say where the count lies by chance alone at 95 % and 99.8 %
	// ([FunnelSide]); of numbers rounded for sharing, outside only where all that they can
	// stand for does.
	Sides [2]Reading

	// Expected from all lower and from all upper limits of the figures.
	ExpectedLower, ExpectedUpper float64

	Ratio  float64 // Observed/Expected; NaN where nothing is expected
	Lower  float64
	Upper  float64
	Level  float64
	Series *Series
}

// Excess is by how much more are revised than expected; below 0, by how much fewer.
func (r *Ratio) Excess() float64 { return r.Observed - r.Expected }

// Usual are the counts that chance leaves in 95 of 100 practices exactly as published ([UsualCounts]).
func (r *Ratio) Usual() (least, most int) { return UsualCounts(r.Expected) }

// Hazard is the cumulative hazard of a published series,
//
//	H(t) = −ln(1 − F(t))
//
// exact at its points; between them log H is linear on log t. Before the first
// point the slope is that between the first two, at most 1; a single point gives
// a line from the origin. After the last point it stands still.
type Hazard struct{ years, cumulative []float64 }

// NewHazard is the hazard of a series, or of its lower or upper limits; false
// unless it is of 1-KM and every figure lies above 0 years and below 100 %.
func NewHazard(s *Series) (h Hazard, ok bool) { return newHazard(s, Figure.estimate) }

func newHazard(s *Series, value func(Figure) float64) (h Hazard, ok bool) {
	if s == nil || s.Estimand != OneMinusKaplanMeier || len(s.Figures) == 0 {
		return h, false
	}
	for _, f := range s.Figures {
		v := value(f)
		if !(f.Years > 0) || !(v >= 0 && v < 1) {
			return h, false
		}
		h.years = append(h.years, f.Years)
		h.cumulative = append(h.cumulative, -math.Log1p(-v))
	}
	return h, true
}

// At is the cumulative hazard at a number of years.
func (h Hazard) At(years float64) float64 {
	n := len(h.years)
	i := sort.SearchFloat64s(h.years, years)
	switch {
	case years <= 0:
		return 0
	case i == n:
		return h.cumulative[n-1]
	case h.years[i] == years:
		return h.cumulative[i]
	case i == 0 && n == 1:
		return float64(h.cumulative[0] * (years / h.years[0]))
	case i == 0:
		return h.between(0, 1, years, 1)
	}
	return h.between(i-1, i, years, math.Inf(1))
}

// between interpolates log H on log t through two points, from the first, with a
// slope of most at most. Where the first is 0, H is linear.
func (h Hazard) between(a, b int, years, most float64) float64 {
	ta, tb, ha, hb := h.years[a], h.years[b], h.cumulative[a], h.cumulative[b]
	if !(ha > 0) {
		return max(0, ha+float64((hb-ha)*((years-ta)/(tb-ta))))
	}
	slope := min(most, math.Log(hb/ha)/math.Log(tb/ta))
	return float64(ha * math.Pow(years/ta, slope))
}

// Exits are own joints of one kind whose closing date reaches the same published
// years: how many left follow-up on each day, and why.
type Exits struct {
	Reached  float64 // the last of the series' years that the closing date reaches; 0: none
	InPeriod bool    // operated on within the series' period
	Table    *survival.Table

	OperatedFrom, OperatedTo int // calendar years of operation; 0 where not said
}

// How far from 1 the ratio of a practice exactly as published came, simulated with
// four shapes of hazard, up to 6 % dying and 5 % lost a year (internal/expectedsim;
// SIMULATION.md has the table).
const (
	byManyEarly = .03 // four points or more, the first at one year or earlier
	byTwoPoints = .12
	byOnePoint  = .20
)

// ObservedExpected counts revisions (events of the cause) and those expected had
// the joints the revision of a published series, over complete intervals: a
// joint counts to b, the last of the series' years that its closing date
// reaches, or to its revision, death or last-seen day if that is earlier. A
// revision on day b is inside; one later counts to b in the expected and not in
// the observed. Joints whose closing date reaches no year of the series don't
// count. day gives the day on which years are reached, and daysPerYear what a
// day is.
//
// Why complete intervals: a hazard drawn through few points errs most before
// the first and inside the last interval that is open. With whole intervals what
// is left comes from deaths and losses inside them ([Ratio.Interpolation]).
//
// The limits are Garwood's for the observed count where the figures are exact,
// else those of a ratio of two uncertain numbers ([RatioLimits]), the expected
// from all lower and from all upper published limits.
//
// It is false for no series or one that is not of 1-KM, a figure of 100 %, no table, and where no
// joint has a complete interval. Breslow & Day, Statistical Methods in Cancer
// Research II, 1987, chapter 2.
func ObservedExpected(groups []Exits, cause int, s *Series, day func(years float64) float64, daysPerYear, level float64) (Ratio, bool) {
	h, ok := NewHazard(s)
	low, okLow := newHazard(s, func(f Figure) float64 { l, _, _ := f.limits(); return l })
	high, okHigh := newHazard(s, func(f Figure) float64 { _, u, _ := f.limits(); return u })
	if !ok || !okLow || !okHigh {
		return Ratio{}, false
	}
	r := Ratio{Level: level, Series: s}
	var lower, upper float64
	for _, g := range groups {
		if g.Table == nil {
			return Ratio{}, false
		}
		n := sumOf(g.Table)
		if g.Reached == 0 {
			r.Without += n
			continue
		}
		r.Joints += n
		if g.InPeriod {
			r.InPeriod += n
		}
		r.ToYears = max(r.ToYears, g.Reached)
		r.operated(g.OperatedFrom, g.OperatedTo)
		last := day(g.Reached)
		own := g.Table.Event[cause-1]
		for i, at := range g.Table.Time {
			leave := g.Table.Censored[i]
			for _, e := range g.Table.Event {
				leave += e[i]
			}
			r.Revised += int64(own[i])
			if at <= last {
				r.Observed += own[i]
			}
			if leave == 0 {
				continue
			}
			years := g.Reached
			if at < last {
				years = yearsOf(at, s, day, daysPerYear)
			}
			r.Expected += float64(leave * h.At(years))
			lower += float64(leave * low.At(years))
			upper += float64(leave * high.At(years))
		}
	}
	if r.Joints == 0 {
		return r, false
	}
	r.Points = len(s.Figures)
	r.Interpolation = byTwoPoints
	switch {
	case r.Points == 1:
		r.Interpolation = byOnePoint
	case r.Points >= 4 && s.Figures[0].Years <= 1:
		r.Interpolation = byManyEarly
	}
	r.side()
	r.ExpectedLower, r.ExpectedUpper = lower, upper
	r.Ratio, r.Lower, r.Upper = RatioLimits(r.Observed, r.Expected, lower, upper, level)
	return r, true
}

// Sum adds the ratios of parts without a joint in common, each by its own series:
// observed, expected and its limits, joints. The interpolation is the largest of them, the
// series that of the first, and the limits are at its level.
func Sum(parts []*Ratio) Ratio {
	r := *parts[0]
	for _, p := range parts[1:] {
		r.Observed, r.Expected = r.Observed+p.Observed, r.Expected+p.Expected
		r.ExpectedLower, r.ExpectedUpper = r.ExpectedLower+p.ExpectedLower, r.ExpectedUpper+p.ExpectedUpper
		r.operated(p.OperatedFrom, p.OperatedTo)
		r.Joints, r.Without, r.Revised, r.InPeriod = r.Joints+p.Joints, r.Without+p.Without, r.Revised+p.Revised, r.InPeriod+p.InPeriod
		r.ToYears, r.Interpolation, r.Points = max(r.ToYears, p.ToYears), max(r.Interpolation, p.Interpolation), min(r.Points, p.Points)
	}
	r.side()
	r.Ratio, r.Lower, r.Upper = RatioLimits(r.Observed, r.Expected, r.ExpectedLower, r.ExpectedUpper, r.Level)
	return r
}

// side says where the count lies.
func (r *Ratio) side() {
	for i, level := range FunnelLevels {
		r.Sides[i] = Compatible
		if r.Expected > 0 {
			r.Sides[i] = FunnelSide(r.Observed, r.Expected, 1, level)
		}
	}
}

// operated takes in years of operation.
func (r *Ratio) operated(from, to int) {
	if from != 0 && (r.OperatedFrom == 0 || from < r.OperatedFrom) {
		r.OperatedFrom = from
	}
	r.OperatedTo = max(r.OperatedTo, to)
}

// yearsOf is the years of a day: on the day on which a published year is reached,
// that year.
func yearsOf(at float64, s *Series, day func(float64) float64, daysPerYear float64) float64 {
	for _, f := range s.Figures {
		if day(f.Years) == at {
			return f.Years
		}
	}
	return at / daysPerYear
}

func sumOf(t *survival.Table) int64 {
	n := 0.0
	for i := range t.Time {
		n += t.Censored[i]
		for _, e := range t.Event {
			n += e[i]
		}
	}
	return int64(n)
}

// RatioLimits is O/E with limits by variance estimates recovery for a ratio, from
// Garwood's limits (l₁, u₁) of the count O and limits (l₂, u₂) of E:
//
//	A = O·E
//	L = l₁(2O − l₁)/(A + √(A² − l₁u₂(2O − l₁)(2E − u₂)))
//	U = (A + √(A² − u₁l₂(2O − u₁)(2E − l₂)))/(l₂(2E − l₂))
//
// With l₂ = E = u₂ they are Garwood's over E. All are NaN unless E > 0, and the
// upper is where l₂ is 0. 10 of 6 (5 to 7.2): .785133 to 3.16101.
//
// Donner & Zou, Stat Methods Med Res 2012;21:347.
func RatioLimits(o, e, l2, u2, level float64) (ratio, lower, upper float64) {
	if !(e > 0) {
		return nan, nan, nan
	}
	l1, u1 := survival.PoissonLimits(o, level)
	u2 = min(u2, 2*e)
	if l2 == e && u2 == e {
		return o / e, l1 / e, u1 / e
	}
	a := float64(o * e)
	root := func(x float64) float64 { return math.Sqrt(max(0, float64(a*a)-x)) }
	lower = float64(l1*(2*o-l1)) / (a + root(float64(float64(l1*u2)*float64((2*o-l1)*(2*e-u2)))))
	if o == 0 {
		lower = 0
	}
	upper = nan
	if l2 > 0 {
		upper = (a + root(float64(float64(u1*l2)*float64((2*o-u1)*(2*e-l2))))) / float64(l2*(2*e-l2))
	}
	return o / e, lower, upper
}

// UsualCounts are the counts between which the central 95 % of a Poisson count
// of mean e lies: the least r with P(R ≤ r) ≥ 2.5 % and the least with ≥ 97.5 %.
func UsualCounts(e float64) (least, most int) {
	count := func(p float64) int {
		r := 0
		for poissonUpTo(float64(r), e) < p {
			r++
		}
		return r
	}
	return count(.025), count(.975)
}
