package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// Estimand says which estimate a figure shows.
type Estimand uint8

const (
	// KaplanMeier: cumulative revision, what the implant would do if nobody
	// died.
	KaplanMeier Estimand = iota
	// Incidence: cumulative incidence of revision with death competing, what
	// happens to these patients.
	Incidence
	// Both: one after the other, never in one pair of axes.
	Both
)

// CurvesOptions say what [Curves] draws. The zero value draws one curve of all
// joints for each joint and procedure.
type CurvesOptions struct {
	// Field is what to group by, one of the audit's By; "" draws all joints of
	// a joint and procedure together.
	Field string

	Estimand Estimand

	// Joint and Procedure restrict the figure; "" takes each joint and procedure
	// that the audit has, in panels of their own.
	Joint, Procedure string

	// Together draws the curves of all joints and procedures in one pair of axes,
	// if they are at most six and Field is empty. Nothing is pooled by it.
	Together bool

	// MaxYears ends the horizontal axis early; 0 goes as far as curves do.
	MaxYears float64

	// Top is the end of the vertical axis in per cent. 0 means the least of 5, 10,
	// 15, 20, 30, 50 and 100 that holds every estimate drawn, its band down to
	// the floor of at risk (the lowest limits of each, if all are below it
	// throughout), and the published figures.
	Top float64

	NoBands     bool // leaves out the interval bands
	NoPublished bool // leaves out the published figures

	Width vg.Length // 0 means DefaultWidth

	// Height is that of the axes, unless each group has a panel of its own; 0
	// means 60 mm.
	Height vg.Length
}

// mostTogether is how many curves stand in one pair of axes: the palette has so
// many colours, and with more the patterns of dashes are no longer told apart.
const mostTogether = len(palette)

// fewestAtRisk is the number at risk below which nothing is drawn.
const fewestAtRisk = benchmark.FewestAtRisk

// Curves draws cumulative revision over the years since operation, as
// right-continuous step curves with bands of their pointwise intervals, from 0
// to where fewer than 10 are at risk. Where fewer are at risk than the audit's
// floor (survival.Interval.MinAtRisk) a curve is faint; with more than three in one
// pair of axes its band ends there. The numbers at risk and
// revised so far stand under the ticks of the axis. Published figures are hollow
// markers with interval bars at their years, in the colour of the group they are
// compared with in the audit; one that is of more than the group stands once, in
// grey.
//
// Up to six groups stand in one pair of axes, in the audit's order, told apart by
// colour, dashes and label; more get a panel each, with the same axes and the
// curve of all joints in grey behind. Joints and procedures with fewer than 10
// joints, and groups that never have 10 at risk, are named in the notes.
//
// A group without curves, of an audit that was made safe for sharing, is drawn
// from its rows: markers with interval bars at their years.
//
// WriteCSV writes a row for each step of a curve, each number under the axis and
// each published figure. Years of a step are days/365.25. On axes with more than
// 1500 steps of one curve only the last of those that fall within 1/1500 of it is
// drawn and written.
//
// Errors are about options: a field that the audit does not group by, a joint or
// procedure that it does not have, numbers out of range.
func Curves(a *audit.Audit, o CurvesOptions) (*Figure, error) {
	if err := o.check(a); err != nil {
		return nil, err
	}
	if o.Width == 0 {
		o.Width = DefaultWidth
	}
	c := &curves{audit: a, o: o, floor: floorOf(a.Interval)}
	all := panelsOf(a, o.Joint, o.Procedure)
	if len(all) == 0 {
		return nil, noPanel(o.Joint, o.Procedure)
	}
	if o.Together && o.Field == "" {
		all = c.enough(all)
	}
	if n := len(all); n > 1 && n <= mostTogether && o.Together && o.Field == "" {
		c.add(all[0], all)
	} else {
		for _, g := range all {
			c.add(g, c.groups(g))
		}
	}
	return c.figure(), nil
}

func (o *CurvesOptions) check(a *audit.Audit) error {
	if o.Field != "" && !slices.Contains(a.By, o.Field) {
		return fmt.Errorf("figure: the audit is not grouped by %q; it is by %q", o.Field, a.By)
	}
	if o.Estimand > Both {
		return fmt.Errorf("figure: unknown estimand %d", o.Estimand)
	}
	if o.MaxYears != 0 && !(o.MaxYears > 0 && o.MaxYears <= 100) {
		return fmt.Errorf("figure: %v years, want a number above 0 and up to 100", o.MaxYears)
	}
	if o.Top != 0 && !(o.Top > 0 && o.Top <= 100) {
		return fmt.Errorf("figure: top of the vertical axis %v %%, want a number above 0 and up to 100", o.Top)
	}
	if o.Height != 0 && !(o.Height >= 20*mm && o.Height <= widest) {
		return fmt.Errorf("figure: axes %.0f mm high, want 20 to %.0f", float64(o.Height/mm), float64(widest/mm))
	}
	return checkWidth(o.Width)
}

// checkWidth checks the width of a figure; 0 is the default.
func checkWidth(w vg.Length) error {
	if w != 0 && !(w >= narrowest && w <= widest) {
		return fmt.Errorf("figure: width %.0f mm, want %.0f to %.0f", float64(w/mm), float64(narrowest/mm), float64(widest/mm))
	}
	return nil
}

// floorOf is the number at risk below which a figure is faint.
func floorOf(iv survival.Interval) float64 {
	switch {
	case iv.MinAtRisk == 0:
		return survival.DefaultMinAtRisk
	case iv.MinAtRisk < 0:
		return 0
	}
	return iv.MinAtRisk
}

// curves is a figure of curves while it is made.
type curves struct {
	audit   *audit.Audit
	o       CurvesOptions
	floor   float64
	panels  []*curvesPanel
	leftOut []*audit.Group // joints and procedures with too few joints
}

// curvesPanel is one joint, procedure and estimand: one pair of axes, or a set
// of small ones.
type curvesPanel struct {
	all      *audit.Group
	estimand survival.Estimand
	traces   []*trace
	never    []*audit.Group // never 10 at risk
	behind   *trace         // in small multiples
	noDeaths bool           // no incidence, as deaths are not recorded
	together bool           // of several joints and procedures, of which all is the first
	x, y     scale
	layout   curvesLayout
}

// enough are the joints and procedures with enough joints to be drawn.
func (c *curves) enough(all []*audit.Group) []*audit.Group {
	var enough []*audit.Group
	for _, g := range all {
		if g.Joints < fewestAtRisk {
			c.leftOut = append(c.leftOut, g)
		} else {
			enough = append(enough, g)
		}
	}
	return enough
}

// add makes the panels of a joint and procedure; or one of several together, of
// which all is then the first.
func (c *curves) add(all *audit.Group, groups []*audit.Group) {
	if all.Joints < fewestAtRisk {
		c.leftOut = append(c.leftOut, all)
		return
	}
	var estimands []survival.Estimand
	if c.o.Estimand != Incidence {
		estimands = append(estimands, survival.OneMinusKaplanMeier)
	}
	if c.o.Estimand != KaplanMeier {
		estimands = append(estimands, survival.Incidence)
	}
	together := len(groups) > 1 && groups[0] == all
	var panels []*curvesPanel
	years, top := 0., 0.
	for _, e := range estimands {
		p := &curvesPanel{all: all, estimand: e, together: together}
		panels = append(panels, p)
		if e == survival.Incidence && !c.audit.Deaths.Recorded {
			p.noDeaths = true
			continue
		}
		for _, g := range groups {
			if t := c.trace(g, e); t != nil {
				t.look = len(p.traces)
				p.traces = append(p.traces, t)
			} else {
				p.never = append(p.never, g)
			}
		}
		if p.small() {
			for _, t := range p.traces {
				t.look = 0
			}
			p.behind = c.trace(all, e)
		}
		for _, t := range p.traces {
			years = math.Max(years, t.until)
		}
	}
	years = math.Max(1, math.Ceil(years-1e-9))
	few := true // all are below the floor throughout
	for _, p := range panels {
		for _, t := range p.traces {
			t.keepPublished(years)
			top = math.Max(top, t.highest())
			few = few && t.readings[0].faint
		}
		if p.behind != nil {
			p.behind.published = nil
			p.behind.cut(years)
			top = math.Max(top, p.behind.highestEstimate())
		}
	}
	if few {
		for _, p := range panels {
			for _, t := range p.traces {
				top = math.Max(top, t.lowestLimit())
			}
		}
	}
	if top = topOf(top); c.o.Top != 0 {
		top = c.o.Top
	}
	for _, p := range panels {
		p.y = percentScale(top)
		p.arrange(c.o.Width, cmp.Or(c.o.Height, areaHeight), years)
	}
	c.panels = append(c.panels, panels...)
}

// groups are those to be drawn of a joint and procedure, in the audit's order.
func (c *curves) groups(all *audit.Group) []*audit.Group {
	if c.o.Field == "" {
		return []*audit.Group{all}
	}
	return groupsOf(c.audit, all, c.o.Field)
}

// divided reports whether the traces are to be told apart.
func (p *curvesPanel) divided() bool { return p.together || p.traces[0].group != p.all }

// nameOf is what a trace is called among those of its panel.
func (p *curvesPanel) nameOf(t *trace) string {
	switch {
	case p.together:
		return titleOf(t.group)
	case t.group == p.all:
		return "all joints"
	}
	return word(t.group.Word(t.group.Field()))
}

// small reports whether a panel is a set of small ones.
func (p *curvesPanel) small() bool { return len(p.traces) > mostTogether }

// topOf is the end of a vertical axis, in per cent, for the highest proportion
// drawn.
func topOf(highest float64) float64 {
	for _, top := range []float64{5, 10, 15, 20, 30, 50} {
		if 100*highest <= top*(1+1e-12) {
			return top
		}
	}
	return 100
}
