package figure

import (
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// trace is what is drawn of one group.
type trace struct {
	group    *audit.Group
	estimand survival.Estimand
	look     int       // entry of the palette
	readings []reading // by increasing years, from 0 for a curve
	points   bool      // of rows, without a curve between them
	until    float64   // years of the last reading
	floor    float64

	published []published
	beyond    []float64 // years of published figures past the axis
}

// reading is an estimate at one time.
type reading struct {
	years float64
	survival.Point
	faint bool
}

// published is a published figure at its years.
type published struct {
	series *benchmark.Series
	figure benchmark.Figure
	wider  bool // it is not of the group alone: it does not state the field
}

// mostSteps is how many steps of a curve are drawn: more than can be seen.
const mostSteps = 1500

// trace reads a group's curve; nil if it never has 10 at risk.
func (c *curves) trace(g *audit.Group, e survival.Estimand) *trace {
	t := &trace{group: g, estimand: e, floor: c.floor}
	curve := g.KaplanMeier
	if e == survival.Incidence {
		curve = g.Incidence
	}
	if curve != nil && g.Table != nil {
		t.readCurve(curve, c.audit.Interval, c.o.MaxYears)
	} else {
		t.readRows(c.o.MaxYears)
	}
	if len(t.readings) == 0 {
		return nil
	}
	t.until = t.readings[len(t.readings)-1].years
	if !c.o.NoPublished {
		for _, r := range g.Rows {
			if r.Comparison == nil {
				continue
			}
			if own, ok := r.Comparison.Series.Estimand.Own(); ok && own == e {
				t.published = append(t.published, published{r.Comparison.Series, r.Comparison.Figure, c.o.Field != "" && g.Field() == c.o.Field && !states(r.Comparison.Series, c.o.Field)})
			}
		}
	}
	return t
}

// readCurve reads a curve at its steps, at the years of the group's rows, where
// the number at risk falls below the floor and below 10, and on a grid, since
// limits also change between steps.
func (t *trace) readCurve(curve *survival.Curve, iv survival.Interval, maxYears float64) {
	table := t.group.Table
	last := math.Inf(-1)  // day of the last reading
	floor := math.Inf(-1) // last day with as many at risk as the floor
	for i, n := range table.AtRisk {
		if n >= fewestAtRisk {
			last = table.Time[i]
		}
		if n >= t.floor {
			floor = table.Time[i]
		}
	}
	if !(last >= 0) {
		return
	}
	if maxYears > 0 {
		last = math.Min(last, cohort.DaysPerYear*maxYears)
	}
	// Days, and years as they were asked for: 365.25·y/365.25 need not be y.
	at := map[float64]float64{0: 0}
	add := func(day float64) {
		if _, ok := at[day]; !ok && day >= 0 && day <= last {
			at[day] = day / cohort.DaysPerYear
		}
	}
	for _, r := range t.group.Rows {
		if day := cohort.DaysPerYear * r.Years; day <= last {
			at[day] = r.Years
		}
	}
	span := last / cohort.DaysPerYear
	step := 1.
	for _, s := range []float64{1. / 52, 1. / 12, .25, .5} {
		if span/s <= 120 {
			step = s
			break
		}
	}
	for i := 1; float64(i)*step <= span; i++ {
		add(cohort.DaysPerYear * float64(i) * step)
	}
	add(last)
	add(floor)
	for _, day := range thinned(curve.Time, last) {
		add(day)
	}
	days := make([]float64, 0, len(at))
	for day := range at {
		days = append(days, day)
	}
	slices.Sort(days)
	for _, day := range days {
		if p, ok := curve.At(day, iv); ok {
			t.readings = append(t.readings, reading{at[day], p, p.AtRisk < t.floor})
		}
	}
}

// thinned are the days of steps up to a last day; if there are more than
// mostSteps, the last of those that are drawn in one place.
func thinned(days []float64, last float64) []float64 {
	n := 0
	for n < len(days) && days[n] <= last {
		n++
	}
	days = days[:n]
	if n <= mostSteps {
		return days
	}
	var kept []float64
	place := func(day float64) int { return int(day / last * mostSteps) }
	for i, day := range days {
		if i+1 == n || place(days[i+1]) != place(day) {
			kept = append(kept, day)
		}
	}
	return kept
}

// readRows reads the rows of a group without curves.
func (t *trace) readRows(maxYears float64) {
	t.points = true
	for _, r := range t.group.Rows {
		p := r.KaplanMeier
		if t.estimand == survival.Incidence {
			if p = r.Incidence; r.IncidenceEmpty {
				continue
			}
		}
		if !r.Reached || !(p.AtRisk >= fewestAtRisk) || math.IsNaN(p.Estimate) || maxYears > 0 && r.Years > maxYears {
			continue
		}
		t.readings = append(t.readings, reading{r.Years, p, p.AtRisk < t.floor})
	}
}

// keepPublished keeps the published figures within the axis.
func (t *trace) keepPublished(years float64) {
	var kept []published
	for _, p := range t.published {
		if p.figure.Years <= years {
			kept = append(kept, p)
		} else {
			t.beyond = append(t.beyond, p.figure.Years)
		}
	}
	t.published = kept
}

// cut drops readings past the axis.
func (t *trace) cut(years float64) {
	for len(t.readings) > 0 && t.readings[len(t.readings)-1].years > years {
		t.readings = t.readings[:len(t.readings)-1]
	}
	if n := len(t.readings); n > 0 {
		t.until = t.readings[n-1].years
	}
}

// highest is what the vertical axis must hold: every estimate, the limits where
// at least the floor is at risk, and the published figures with theirs.
func (t *trace) highest() float64 {
	top := t.highestEstimate()
	for _, r := range t.readings {
		if !r.faint && r.Upper > top { // not if NaN
			top = r.Upper
		}
	}
	for _, p := range t.published {
		top = math.Max(top, p.figure.Revision)
		if p.figure.HasLimits() {
			top = math.Max(top, p.figure.Upper)
		}
	}
	return top
}

// lowestLimit is the lowest upper limit of a trace; 0 if it has none.
func (t *trace) lowestLimit() float64 {
	lowest := math.Inf(1)
	for _, r := range t.readings {
		if r.Upper < lowest {
			lowest = r.Upper
		}
	}
	if lowest > 1 {
		return 0
	}
	return lowest
}

func (t *trace) highestEstimate() float64 {
	top := 0.
	for _, r := range t.readings {
		top = math.Max(top, r.Estimate)
	}
	return top
}

// under is what stands under the axis at a tick: at risk and revised so far. An
// empty cell is not known; a group's numbers after its last exit are 0 and
// empty, as in the audit.
func (t *trace) under(years float64, iv survival.Interval) (atRisk, revised string) {
	g := t.group
	if !t.points {
		curve := g.KaplanMeier
		if t.estimand == survival.Incidence {
			curve = g.Incidence
		}
		p, ok := curve.At(cohort.DaysPerYear*years, iv)
		if !ok {
			return "0", ""
		}
		return counted(p.AtRisk), counted(p.Events)
	}
	for _, r := range g.Rows {
		if r.Years != years {
			continue
		}
		p := r.KaplanMeier
		if t.estimand == survival.Incidence {
			p = r.Incidence
		}
		if !r.Reached {
			return "0", ""
		}
		return counted(p.AtRisk), counted(p.Events)
	}
	if years == 0 {
		return counted(float64(g.Joints)), ""
	}
	return "", ""
}
