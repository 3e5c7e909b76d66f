package figure

import (
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
)

// drawPanel draws a panel whose upper edge is at top.
func (c *curves) drawPanel(p *pen, q *curvesPanel, top vg.Length) {
	l := &q.layout
	p.text(panelText, vg.Point{Y: top - panelText.size}, left, p.fit(panelText, q.head(), l.width))
	top -= headHeight
	switch {
	case q.noDeaths || len(q.traces) == 0:
		p.named("message", func() {
			p.text(labelText, vg.Point{Y: top - labelText.size}, left, p.fit(labelText, c.message(q), l.width))
		})
	case q.small():
		c.drawSmall(p, q, top)
	default:
		c.drawTogether(p, q, top)
	}
}

// drawTogether draws all traces in one pair of axes.
func (c *curves) drawTogether(p *pen, q *curvesPanel, top vg.Length) {
	l := &q.layout
	if l.labels != nil && !l.direct {
		top = p.drawLegend(q, top)
	}
	if l.published {
		p.named("legend", func() { p.drawMarkersKey(q, vg.Point{Y: top - labelText.size}) })
		top -= legendLine
	}
	top -= legendGap
	a := axes{
		area: vg.Rectangle{Min: vg.Point{X: l.left, Y: top - l.area}, Max: vg.Point{X: l.width - l.right, Y: top}},
		x:    q.x, y: q.y,
	}
	p.grid(a)
	p.frame(a, labelText, "Years since operation", q.axisTitle())
	c.drawTraces(p, a, q.traces, 2.6)
	if l.direct {
		p.named("labels", func() {
			for i, t := range q.traces {
				end := t.readings[len(t.readings)-1]
				at := vg.Point{X: a.area.Max.X + endGap, Y: a.atY(min(end.Estimate, a.y.to)) - .36*labelText.size}
				p.traceKey(at, t)
				at.X += keyWidth + keyGap
				p.text(labelText, at, left, p.fit(labelText, l.labels[i], l.width-at.X))
			}
		})
	}
	c.drawTable(p, q, a)
}

// drawLegend draws the labels above the axes and returns what is below them.
func (p *pen) drawLegend(q *curvesPanel, top vg.Length) vg.Length {
	l := &q.layout
	column := l.width / vg.Length(l.columns)
	p.named("legend", func() {
		for i, t := range q.traces {
			at := vg.Point{X: column * vg.Length(i%l.columns), Y: top - labelText.size - legendLine*vg.Length(i/l.columns)}
			p.traceKey(at, t)
			at.X += keyWidth + keyGap
			p.text(labelText, at, left, p.fit(labelText, l.labels[i], column-keyWidth-keyGap-4))
		}
	})
	return top - legendLine*vg.Length((len(q.traces)+l.columns-1)/l.columns)
}

// drawMarkersKey explains the markers of published figures.
func (p *pen) drawMarkersKey(q *curvesPanel, at vg.Point) {
	x := at.X
	mark := func(m shape, ink color.NRGBA) {
		y := at.Y + .36*labelText.size
		p.line(stroke{ink: ink, width: .9}, vg.Point{X: x + 4, Y: y - 5}, vg.Point{X: x + 4, Y: y + 5})
		p.marker(m, vg.Point{X: x + 4, Y: y}, 2.6, white, ink)
		x += 12
	}
	own, wider := false, false
	for _, t := range q.traces {
		its := false
		for _, f := range t.published {
			its, wider = its || !f.wider, wider || f.wider
		}
		if its && !(own && q.small()) {
			e := palette[t.look]
			mark(e.marker, e.ink)
		}
		own = own || its
	}
	say := func(words string) {
		x += keyGap
		words = p.fit(labelText, words, q.layout.width-x)
		p.text(labelText, vg.Point{X: x, Y: at.Y}, left, words)
		x += p.width(labelText, words) + 3*keyGap
	}
	if own {
		words := "published figure with its interval"
		switch {
		case q.small():
			words += ", for the group of the panel"
		case q.layout.labels != nil:
			words += ", for the group of that colour"
		}
		say(words)
	}
	if wider {
		mark(diamond, widerInk)
		say("published, of a wider group")
	}
}

// widerInk is the colour of published figures that are of more than one group.
var widerInk = rgb(0x5A5A5A)

// stroke is how a trace is drawn.
func (t *trace) stroke(few bool) stroke {
	e := palette[t.look]
	if few {
		return stroke{faint(e.ink), .8 * curveWidth, e.dashes}
	}
	return stroke{e.ink, curveWidth, e.dashes}
}

// drawTraces draws bands, then curves, then published figures.
func (c *curves) drawTraces(p *pen, a axes, traces []*trace, radius vg.Length) {
	if !c.o.NoBands {
		p.named("bands", func() {
			for _, t := range traces {
				if !t.points {
					p.drawBand(a, t, len(traces))
				}
			}
		})
	}
	p.named("curves", func() {
		for _, t := range traces {
			if !t.points {
				p.drawCurve(a, t, t.stroke(false), t.stroke(true))
			}
		}
	})
	p.drawMarks(a, traces, radius)
}

// parts are the readings from 0 to the last that is not faint, and from there
// to the end; either may be empty.
func (t *trace) parts() (strong, few []reading) {
	n := 0
	for n < len(t.readings) && !t.readings[n].faint {
		n++
	}
	if n == 0 {
		return nil, t.readings
	}
	return t.readings[:n], t.readings[n-1:]
}

// drawCurve draws the steps of a curve, faint where few are at risk.
func (p *pen) drawCurve(a axes, t *trace, line, few stroke) {
	strong, rest := t.parts()
	draw := func(readings []reading, s stroke, fromZero bool) {
		points := steps(a, readings, func(r reading) float64 { return r.Estimate })
		if fromZero && len(points) > 0 {
			points = append([]vg.Point{a.at(0, 0)}, points...)
		}
		for _, part := range a.clipLine(points) {
			p.line(s, part...)
		}
	}
	draw(rest, few, len(strong) == 0)
	draw(strong, line, true)
}

// drawBand fills the band of a curve's limits.
func (p *pen) drawBand(a axes, t *trace, bands int) {
	strong, few := t.parts()
	ink := band(palette[t.look].ink, bands)
	draw := func(readings []reading) {
		upper := steps(a, readings, func(r reading) float64 { return r.Upper })
		lower := steps(a, readings, func(r reading) float64 { return r.Lower })
		if len(upper) < 2 {
			return
		}
		outline := upper
		for i := len(lower) - 1; i >= 0; i-- {
			outline = append(outline, lower[i])
		}
		p.fill(ink, a.clipArea(outline)...)
	}
	draw(strong)
	if bands <= mostWholeBands {
		ink.A /= 2
		draw(few)
	}
}

// mostWholeBands is how many bands are drawn to the ends of their curves. With
// more, the wide bands of those with few at risk would lie over everything.
const mostWholeBands = 3

// steps is a right-continuous step line through values of readings. It ends
// before a value that is not defined. Corners that are on a straight line are
// left out.
func steps(a axes, readings []reading, value func(reading) float64) []vg.Point {
	var points []vg.Point
	for i, r := range readings {
		v := value(r)
		if math.IsNaN(v) {
			break
		}
		at := a.at(r.years, v)
		if i == 0 {
			points = append(points, at)
			continue
		}
		last := points[len(points)-1]
		if at.Y == last.Y && i+1 < len(readings) && !math.IsNaN(value(readings[i+1])) {
			continue
		}
		if at.X != last.X {
			points = append(points, vg.Point{X: at.X, Y: last.Y})
		}
		if at.Y != last.Y {
			points = append(points, at)
		}
	}
	return points
}

// estimateMark is a marker with an interval bar at its years.
type estimateMark struct {
	years, estimate, lower, upper float64
	shape                         shape
	inside, outside               color.NRGBA
	published                     bool
}

// drawMarks draws the estimates of groups that have rows and no curve, filled,
// and the published figures of all, hollow. Those of one year stand side by side.
func (p *pen) drawMarks(a axes, traces []*trace, radius vg.Length) {
	var marks []estimateMark
	var years []float64
	for _, t := range traces {
		e := palette[t.look]
		if t.points {
			for _, r := range t.readings {
				ink := e.ink
				if r.faint {
					ink = faint(ink)
				}
				marks = append(marks, estimateMark{r.years, r.Estimate, r.Lower, r.Upper, e.marker, ink, ink, false})
			}
		}
		for _, q := range t.published {
			f := q.figure
			m := estimateMark{f.Years, f.Revision, f.Lower, f.Upper, e.marker, white, e.ink, true}
			if q.wider { // once, whosever it is compared with
				m.shape, m.outside = diamond, widerInk
				if slices.ContainsFunc(marks, func(o estimateMark) bool {
					return o.outside == widerInk && o.years == m.years && o.estimate == m.estimate
				}) {
					continue
				}
			}
			marks = append(marks, m)
		}
	}
	for _, m := range marks {
		years = append(years, m.years)
	}
	shift := dodge(a, years, 2.2*radius)
	draw := func(name string, published bool) {
		if !slices.ContainsFunc(marks, func(m estimateMark) bool { return m.published == published }) {
			return
		}
		p.named(name, func() {
			for i, m := range marks {
				if m.published == published {
					p.drawEstimate(a, a.atX(m.years)+shift[i], m, radius)
				}
			}
		})
	}
	draw("points", false)
	draw("published", true)
}

// drawEstimate draws a mark at a place, as far as it lies within the axes. Its
// limits may be NaN.
func (p *pen) drawEstimate(a axes, x vg.Length, m estimateMark, radius vg.Length) {
	if m.lower <= m.upper && m.lower < a.y.to {
		low, high := vg.Point{X: x, Y: a.atY(m.lower)}, vg.Point{X: x, Y: a.atY(min(m.upper, a.y.to))}
		bar := stroke{ink: m.outside, width: .9}
		end := func(at vg.Point) { p.line(bar, vg.Point{X: at.X - 2, Y: at.Y}, vg.Point{X: at.X + 2, Y: at.Y}) }
		p.line(bar, low, high)
		end(low)
		if m.upper <= a.y.to { // otherwise it goes on above
			end(high)
		}
	}
	if m.estimate <= a.y.to {
		p.marker(m.shape, vg.Point{X: x, Y: a.atY(m.estimate)}, radius, m.inside, m.outside)
	}
}

// traceKey draws the sample of a trace beside a line of text: its line, or its
// marker.
func (p *pen) traceKey(at vg.Point, t *trace) {
	if !t.points {
		p.key(labelText, at, keyWidth, t.stroke(false))
		return
	}
	e := palette[t.look]
	p.marker(e.marker, vg.Point{X: at.X + keyWidth/2, Y: at.Y + .36*labelText.size}, 2.6, e.ink, e.ink)
}

// drawTable draws at risk and revised so far under the ticks.
func (c *curves) drawTable(p *pen, q *curvesPanel, a axes) {
	l := &q.layout
	y := a.area.Min.Y - frameBelow(labelText) - tableGap - labelText.size
	next := func() { y -= labelText.leading() }
	for kind, words := range []string{atRiskWords, revisedWords} {
		p.named("table", func() {
			if l.labels != nil {
				p.text(labelText, vg.Point{Y: y}, left, p.fit(labelText, words, l.left-l.room))
				next()
			}
			for i, t := range q.traces {
				if l.labels == nil {
					p.text(labelText, vg.Point{Y: y}, left, p.fit(labelText, words, l.left-l.room))
				} else {
					p.traceKey(vg.Point{Y: y}, t)
					x := keyWidth + keyGap
					p.text(labelText, vg.Point{X: x, Y: y}, left, p.fit(labelText, l.labels[i], l.left-l.room-x))
				}
				for _, tick := range a.x.ticks {
					atRisk, revised := t.under(tick.at, c.audit.Interval)
					p.text(labelText, vg.Point{X: a.atX(tick.at), Y: y}, centre, []string{atRisk, revised}[kind])
				}
				next()
			}
		})
		y -= tableGap / 2
	}
}

// drawSmall draws a panel for each trace, all with the same axes.
func (c *curves) drawSmall(p *pen, q *curvesPanel, top vg.Length) {
	l := &q.layout
	p.named("legend", func() {
		at := vg.Point{Y: top - labelText.size}
		p.key(labelText, at, keyWidth, behindStroke)
		at.X = keyWidth + keyGap
		all := "all joints of " + titleOf(q.all)
		p.text(labelText, at, left, p.fit(labelText, all, l.width-at.X))
		if l.published {
			p.drawMarkersKey(q, vg.Point{Y: top - labelText.size - legendLine})
		}
	})
	top -= l.smallLegend()
	for i, t := range q.traces {
		x := (l.cell + smallGap) * vg.Length(i%l.columns)
		y := top - l.cellHeight*vg.Length(i/l.columns)
		c.drawOneSmall(p, q, t, l.labels[i], vg.Point{X: x, Y: y})
	}
}

var behindStroke = stroke{ink: rgb(0x9A9A9A), width: 1}

// drawOneSmall draws one small panel with its upper left corner at a point.
func (c *curves) drawOneSmall(p *pen, q *curvesPanel, t *trace, label string, corner vg.Point) {
	l := &q.layout
	heading := smallText
	heading.bold, heading.ink = true, black
	lines := text.AtMost(p.wrap(heading, label, l.cell), l.titleLines)
	y := corner.Y - heading.size - vg.Length(l.titleLines-len(lines))*heading.leading()
	for _, line := range lines {
		p.text(heading, vg.Point{X: corner.X, Y: y}, left, line)
		y -= heading.leading()
	}
	top := corner.Y - vg.Length(l.titleLines)*heading.leading() - 6
	a := axes{
		area: vg.Rectangle{Min: vg.Point{X: corner.X + l.left, Y: top - l.area}, Max: vg.Point{X: corner.X + l.cell - l.right, Y: top}},
		x:    q.x, y: q.y,
	}
	p.grid(a)
	p.frame(a, smallText, "", "")
	if q.behind != nil {
		p.named("behind", func() {
			if !q.behind.points {
				p.drawCurve(a, q.behind, behindStroke, behindStroke)
			}
		})
	}
	c.drawTraces(p, a, []*trace{t}, 2.2)
	y = a.area.Min.Y - smallBelow() - smallText.size
	for kind, words := range []string{atRiskWords, smallRevised} {
		p.named("table", func() {
			p.text(smallText, vg.Point{X: corner.X, Y: y}, left, p.fit(smallText, words, l.left-l.room))
			for _, tick := range a.x.ticks {
				atRisk, revised := t.under(tick.at, c.audit.Interval)
				p.text(smallText, vg.Point{X: a.atX(tick.at), Y: y}, centre, []string{atRisk, revised}[kind])
			}
		})
		y -= smallText.leading()
	}
}

// axisTitle is the title of a vertical axis.
func (q *curvesPanel) axisTitle() string {
	if q.estimand == survival.Incidence {
		return "Cumulative incidence, %"
	}
	return "Cumulative revision, %"
}
