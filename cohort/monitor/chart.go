package monitor

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"

	"example.org/holdfast/survival"
)

// Options says how a practice is watched. The zero value is the usual way.
type Options struct {
	// Ratio is the ratio of true to expected revisions that the chart is tuned
	// to find: 2 if 0. Below 1 it is a downward chart, which ends on the day to
	// which revisions are complete.
	Ratio float64

	// Chance is the greatest chance of touching the line at least once in the
	// whole period if revisions come as expected: 0.05 if 0. With [Several] it is
	// the chance that any of the charts does.
	Chance float64

	// From is the first day; revisions and time at risk before it are left out.
	// 0: the day of the first operation. Where the hazards come from the
	// practice's own past it is the day that past ended.
	From int32

	// Through is the last day charted. 0: the last day of exit.
	Through int32

	// Notice is the number of days for which revisions may not be known yet:
	// they are complete up to Through less Notice. 0: 365; below 0: none.
	Notice int32

	// Planned is the number of revisions expected in the period for which the
	// line is meant, where that was laid down beforehand; 0: the number expected
	// by Through. A practice that is looked at again and again should have its
	// line laid down: a line that is moved with the period has its chance of
	// being touched anew at every look. It moves only once more are expected.
	Planned float64

	// Error is the relative standard error of the number expected, where hazards are
	// themselves estimates: see [ErrorOf]. The line then stands higher, so that Chance
	// holds in the mean over what the true hazards may be. 0: the hazards are taken as
	// exact.
	Error float64

	// Level is the confidence level of limits and of the band of chance: 0.95 if 0.
	Level float64

	// Name says how the row of a joint is called in sentences; nil: by its number.
	Name func(row int) string
}

// Chart is a practice over calendar time: revisions observed and expected, and
// the cumulative sum of one against the other with its line.
type Chart struct {
	From, Complete, Through int32 // first day, day to which revisions are complete, last day

	Joints int     // at risk on some day of the period
	Ratio  float64 // that the chart is tuned to find
	Limit  float64 // at which the line stands
	Chance float64 // of touching the line in the period if revisions come as expected
	Period float64 // revisions expected in the period that Chance is of
	Error  float64 // relative standard error of the number expected that Limit and Chance allow for
	Level  float64 // confidence level of limits and band

	Known     Total     // by Complete: what observed and expected are compared by
	All       Total     // by Through: late revisions may still be missing
	Points    []Point   // in order of day
	Stretches []Stretch // above the line (below it in a downward chart: fewer revisions), in order

	Name func(row int) string // of a joint's row in sentences; nil: its number

	lines *lines
}

// Total is the revisions observed beside those expected by a day.
type Total struct {
	Day      int32
	Observed int
	Expected float64
	Ratio    float64 // Observed/Expected; NaN where nothing is expected
	Lower    float64 // exact Poisson limits of Observed (survival.PoissonLimits), over Expected
	Upper    float64
	Low      int // what chance gives: see Point
	High     int
}

// Point is a chart at the end of a day.
type Point struct {
	Day      int32
	Observed int     // revisions from From on
	Expected float64 // in the same time
	Sum      float64 // cumulative sum; 0 or more

	// Low to High are the counts that chance gives at this number expected: a
	// Poisson count is less than Low, and more than High, with no more than
	// (1 − Level)/2 each. That is of this one day; a line that is watched for years
	// strays out of such a band on some day more often.
	Low, High int
}

// Excess is observed less expected.
func (p Point) Excess() float64 { return float64(p.Observed) - p.Expected }

// Stretch is a run of days on which the chart stood on its line or beyond it.
type Stretch struct {
	// Since is when it began to rise: the day of the first revision after the sum
	// had last stood at 0. In a downward chart, the day after it last stood at 0.
	Since int32

	Touched int32 // first day on the line
	Until   int32 // last day on it or beyond
	Open    bool  // it still was on the last day charted
	Late    bool  // touched after Complete; a touch stands, whatever comes in late

	// Observed and Expected are of the days from Since to Touched. They were picked
	// because they are far apart, and are no estimate of the practice's ratio.
	Observed int
	Expected float64

	// Rows are those of the joints revised from Since to Until, in order of day
	// and row: the ones to look at. None in a downward chart.
	Rows []int
}

// pointEvery is the number of days from one point to the next where nobody is
// revised.
const pointEvery = 30

// longest is the number of days, 200 years, that a period or a joint's follow-up
// may have: more is a mistake, and would only cost memory.
const longest = 73050

// mostOfPast is how many times the revisions that hazards were made from may be
// expected in the period; beyond it the line is so high that it says nothing.
const mostOfPast = 10

// touchSlack is what a sum may lack of the line: rounding of sums of logarithms.
const touchSlack = 1e-9

// New watches joints over calendar time beside the revisions expected of them.
//
// On day s, H being the cumulative hazard expected of a joint, so many were
// expected, all joints together, from From on:
//
//	A(s) = Σ H(min(s, exit) − operation) − H(before From)
//
// A joint counts until it is revised, its patient dies or is last seen, or its
// hazard's last day; a revision after that day doesn't count. The sum C starts
// at 0. It falls by (ratio − 1)·dA, not below 0, and rises by ln ratio at each
// revision; on a day, it falls first, and revisions of one day add. The line is
// at [Limit], the chance that of [Crossing], for the revisions expected in the
// period. The sum goes on after it has touched the line; it is not set back.
//
// A revision of which nobody has heard yet can only lower the sum, as it would
// add to it: a touch stands, and no touch after Complete means nothing. What is
// said of observed and expected stops at Complete.
//
// The chance holds if the hazards are right. They come from elsewhere, or from
// the practice's time before From: hazards made from the revisions watched hide what
// is looked for. A practice's own past is known from few revisions, and a line that takes
// it as exact is touched by chance two to three times as often as it says; o.Error is
// for that. Figures that begin years after operation spread the early
// revisions evenly, and a practice of recent operations seems to do more than
// expected: the hazard needs a point at a year or earlier.
//
// It is an error if there is no joint, a joint leaves before its operation or
// names a hazard that is not there, a hazard falls, or an option is out of range.
// A practice with nothing expected is no error: its ratio is NaN.
//
// Biswas & Kalbfleisch, Stat Med 2008;27:3382.
func New(joints []Joint, hazards []Hazard, o Options) (*Chart, error) {
	o, err := o.resolved([][]Joint{joints}, hazards)
	if err != nil {
		return nil, err
	}
	return newChart(joints, hazards, o, newLines(o.Ratio, o.Error))
}

// resolved puts in the defaults and checks all that was given, but for the
// hazards' values.
func (o Options) resolved(units [][]Joint, hazards []Hazard) (Options, error) {
	o.Ratio, o.Chance, o.Level = orElse(o.Ratio, 2), orElse(o.Chance, .05), orElse(o.Level, .95)
	switch {
	case !positive(o.Ratio) || o.Ratio == 1:
		return o, fmt.Errorf("a chart tuned to a ratio of %v: want a number above 1, or between 0 and 1", o.Ratio)
	case !(o.Chance > 0 && o.Chance < 1):
		return o, fmt.Errorf("a chance of touching the line of %v: want a number between 0 and 1", o.Chance)
	case !(o.Level > 0 && o.Level < 1):
		return o, fmt.Errorf("a confidence level of %v: want a number between 0 and 1", o.Level)
	case !(o.Error >= 0 && o.Error <= 1):
		return o, fmt.Errorf("a relative standard error of the number expected of %v: want a number from 0 to 1", o.Error)
	case !(o.Planned >= 0) || math.IsInf(o.Planned, 1):
		return o, fmt.Errorf("%v revisions expected in the period: want a number of 0 or more", o.Planned)
	}
	last := int32(math.MinInt32)
	for _, joints := range units {
		for _, j := range joints {
			if j.Exit < j.Operation {
				return o, fmt.Errorf("row %d: the joint leaves before its operation", j.Row)
			}
			if int64(j.Exit)-int64(j.Operation) > longest {
				return o, fmt.Errorf("row %d: the joint is followed for more than %d days", j.Row, longest)
			}
			if j.Hazard < 0 || j.Hazard >= len(hazards) {
				return o, fmt.Errorf("row %d: there is no hazard %d to expect of the joint", j.Row, j.Hazard)
			}
			last = max(last, j.Exit)
		}
	}
	if last == math.MinInt32 {
		return o, errors.New("no joint to watch")
	}
	for i, h := range hazards {
		if h.At == nil || h.Last < 0 {
			return o, fmt.Errorf("the expected cumulative hazard %d has no function, or ends before the operation", i)
		}
	}
	if o.Through == 0 {
		o.Through = last
	}
	switch {
	case o.Notice == 0:
		o.Notice = 365
	case o.Notice < 0:
		o.Notice = 0
	}
	return o, nil
}

func orElse(x, usual float64) float64 {
	if x == 0 {
		return usual
	}
	return x
}

// newChart charts joints with options that were resolved, and lines of these.
func newChart(joints []Joint, hazards []Hazard, o Options, l *lines) (*Chart, error) {
	if o.From == 0 {
		o.From = o.Through
		for _, j := range joints {
			o.From = min(o.From, j.Operation)
		}
	}
	c := &Chart{From: o.From, Through: o.Through, Ratio: o.Ratio, Error: o.Error, Level: o.Level, Name: o.Name, lines: l}
	c.Complete = o.Through - o.Notice
	if o.Ratio < 1 {
		c.Through = c.Complete
	}
	if int64(c.Through)-int64(c.From) > longest {
		return nil, fmt.Errorf("a chart from %s through %s is longer than %d days", isoDay(c.From), isoDay(c.Through), longest)
	}
	if c.Through < c.From {
		return nil, fmt.Errorf("the last day charted, %s, is before the first, %s", isoDay(c.Through), isoDay(c.From))
	}
	c.Complete = max(c.Complete, c.From-1) // nothing is complete yet
	all := spans(joints, hazards, c.From, c.Through)
	adds, err := increments(all, hazards)
	if err != nil {
		return nil, err
	}
	c.Joints = len(all)
	expected, observed := daily(all, adds, c.From, c.Through)
	sums := c.run(expected, observed)
	c.Period = math.Max(o.Planned, c.All.Expected)
	if c.Period*float64(c.Error*c.Error) > mostOfPast {
		return nil, fmt.Errorf("%.1f revisions are expected in the period from hazards with a relative standard error of %v: more than %d times what they can carry; watch a shorter period", c.Period, c.Error, mostOfPast)
	}
	c.Limit = l.limit(c.Period, o.Chance)
	c.Chance = c.Touches(1)
	c.mark(sums, expected, observed, all)
	return c, nil
}

// run adds up days: points, totals, and the sum on every day.
func (c *Chart) run(expected []float64, observed []int) (sums []float64) {
	jump := math.Log(c.Ratio)
	sums = make([]float64, len(expected))
	c.Known = c.total(c.Complete, 0, 0)
	p := Point{}
	for d := range expected {
		p.Day = c.From + int32(d)
		p.Expected += expected[d]
		p.Observed += observed[d]
		p.Sum = math.Max(0, p.Sum-float64((c.Ratio-1)*expected[d]))
		p.Sum = math.Max(0, p.Sum+float64(float64(observed[d])*jump))
		sums[d] = p.Sum
		if p.Day == c.Complete {
			c.Known = c.total(p.Day, p.Observed, p.Expected)
		}
		if d%pointEvery == 0 || observed[d] > 0 || p.Day == c.Complete || p.Day == c.Through {
			p.Low, p.High = band(p.Expected, c.Level)
			c.Points = append(c.Points, p)
		}
	}
	c.All = c.total(p.Day, p.Observed, p.Expected)
	return sums
}

func (c *Chart) total(day int32, observed int, expected float64) Total {
	t := Total{Day: day, Observed: observed, Expected: expected, Ratio: math.NaN(), Lower: math.NaN(), Upper: math.NaN()}
	t.Low, t.High = band(expected, c.Level)
	if expected > 0 {
		lower, upper := survival.PoissonLimits(float64(observed), c.Level)
		t.Ratio, t.Lower, t.Upper = float64(observed)/expected, lower/expected, upper/expected
	}
	return t
}

// band is the counts of a Poisson distribution below and above which there is
// no more than (1 − level)/2 each.
func band(mean, level float64) (low, high int) {
	if mean == 0 {
		return 0, 0
	}
	tail := float64((1 - level) / 2)
	upTo := func(r int) float64 { return mathext.GammaIncRegComp(float64(r+1), mean) }
	above := func(r int) float64 { return mathext.GammaIncReg(float64(r+1), mean) }
	width := int(2 * math.Sqrt(mean)) // about where they lie
	low, high = max(0, int(mean)-width), int(mean)+width
	for low > 0 && upTo(low-1) > tail {
		low--
	}
	for upTo(low) <= tail {
		low++
	}
	for high > 0 && above(high-1) <= tail {
		high--
	}
	for above(high) > tail {
		high++
	}
	return low, high
}

// mark finds the stretches on the line or beyond it.
func (c *Chart) mark(sums, expected []float64, observed []int, all []span) {
	since := 0
	var s *Stretch
	for d, sum := range sums {
		if d == 0 || sums[d-1] == 0 {
			since = d // it stood at 0 until this day
		} else if c.Ratio > 1 && sums[d-1] <= float64((c.Ratio-1)*expected[d]) {
			since = d // it fell to 0 on this day, before its revisions
		}
		day := c.From + int32(d)
		switch on := sum >= c.Limit-touchSlack; {
		case on && s == nil:
			s = &Stretch{Since: c.From + int32(since), Touched: day, Until: day, Late: day > c.Complete}
			for i := since; i <= d; i++ {
				s.Observed += observed[i]
				s.Expected += expected[i]
			}
		case on:
			s.Until = day
		case s != nil:
			c.Stretches = append(c.Stretches, *s)
			s = nil
		}
	}
	if s != nil {
		s.Open = true
		c.Stretches = append(c.Stretches, *s)
	}
	if c.Ratio > 1 {
		for i := range c.Stretches {
			c.Stretches[i].Rows = revisedRows(all, c.Stretches[i].Since, c.Stretches[i].Until)
		}
	}
}

// Touches is the chance that the line is touched in the period if revisions come
// truth times as fast as expected: what a practice of this size could show.
func (c *Chart) Touches(truth float64) float64 {
	return c.lines.crossing(c.Limit, c.Period, truth)
}
