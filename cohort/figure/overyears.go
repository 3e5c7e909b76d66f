package figure

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
)

// OverYearsOptions say what [OverYears] draws. The zero value is the default.
type OverYearsOptions struct {
	// Joint and Procedure narrow the panels; empty means all.
	Joint, Procedure string

	Width vg.Length // 0 means DefaultWidth
}

// OverYears draws observed over expected revisions, cumulated over the years of
// operation, with exact Poisson limits, and the numbers below the axis. The
// audit must be grouped by [audit.OperationYear]; see [audit.OverYears]. There
// is a panel for each joint and procedure of which revisions are expected; the
// others, and those with fewer than 10 joints, are named in the notes; it is an
// error if there are no others.
//
// The axis is even and starts at 0, not logarithmic: early on none may have been
// revised, and a ratio of 0 has no place on a logarithmic axis. Limits that go
// on beyond its end are cut there with an arrow.
func OverYears(a *audit.Audit, o OverYearsOptions) (*Figure, error) {
	if err := checkWidth(o.Width); err != nil {
		return nil, err
	}
	width := o.Width
	if width == 0 {
		width = DefaultWidth
	}
	all, err := audit.OverYears(a)
	if err != nil {
		return nil, fmt.Errorf("figure: %w", err)
	}
	f := &overYears{}
	panels := panelsOf(a, o.Joint, o.Procedure)
	if len(panels) == 0 {
		return nil, noPanel(o.Joint, o.Procedure)
	}
	for _, g := range panels {
		c := all[slices.IndexFunc(all, func(c audit.Cumulated) bool { return c.Joint == g.Word("joint") && c.Procedure == g.Word("procedure") })]
		switch {
		case g.Joints < 0:
			f.leftOut.add(g, hiddenJoints)
		case g.Joints < fewestAtRisk:
			f.leftOut.add(g, fewJoints)
		case c.Series == nil:
			f.leftOut.add(g, nothingExpected)
		default:
			f.panels = append(f.panels, newYearsPanel(c))
		}
	}
	if len(f.panels) == 0 {
		return nil, f.leftOut.err()
	}
	return newFigure("Observed over expected revisions, by year of operation, cumulative", f.alternative(), f.notes(), width,
		vg.Length(len(f.panels))*yearsPanelHeight, f.data(), func(p *pen) { f.draw(p) }), nil
}

// overYears is the figure as laid out.
type overYears struct {
	panels  []yearsPanel
	leftOut leftOut
}

type yearsPanel struct {
	audit.Cumulated
	x, y     scale
	cut      bool
	isHidden bool
}

// Lengths of a panel over years.
const (
	yearsPanelHeight vg.Length = 192
	yearsAreaHeight  vg.Length = 110
	yearsHeading     vg.Length = 18
)

func newYearsPanel(c audit.Cumulated) yearsPanel {
	p := yearsPanel{Cumulated: c}
	first, last := c.Points[0].Year, c.Points[len(c.Points)-1].Year
	p.x = scale{from: float64(first) - .6, to: float64(last) + .6}
	// To see are every ratio from one expected on, the limits from ten, and those
	// of the last point up to a ratio of 6.
	to := 1.5
	for i, pt := range c.Points {
		if math.IsNaN(pt.Ratio) {
			p.isHidden = true
			continue
		}
		if pt.Expected >= 1 {
			to = math.Max(to, pt.Ratio)
		}
		if pt.Expected >= 10 {
			to = math.Max(to, pt.Upper)
		}
		if i == len(c.Points)-1 {
			to = math.Max(to, math.Min(6, pt.Upper))
		}
	}
	p.y = ratioScale(to)
	for _, pt := range c.Points {
		p.cut = p.cut || pt.Upper > p.y.to
	}
	return p
}

// ratioScale is an axis of ratios from 0 to at least a number, with 1 on a tick.
func ratioScale(to float64) scale {
	for _, s := range []struct{ top, step float64 }{{1.5, .5}, {2, .5}, {2.5, .5}, {3, 1}, {4, 1}, {5, 1}, {6, 1}, {8, 1}, {10, 1}} {
		if to <= s.top {
			return evenScale(s.top, s.step)
		}
	}
	s := evenScale(20, 5)
	for s.to < to {
		s = evenScale(2*s.to, s.to/2)
	}
	s.ticks = append(s.ticks[:1:1], append([]tick{{1, "1"}}, s.ticks[1:]...)...)
	return s
}

func (f *overYears) draw(p *pen) {
	top := p.body.Max.Y
	for i := range f.panels {
		p.named("panel", func() { f.panels[i].draw(p, top) })
		top -= yearsPanelHeight
	}
}

var yearsRows = []string{"observed", "expected", "joints"}

func (y *yearsPanel) draw(p *pen, top vg.Length) {
	p.text(panelText, vg.Point{X: 0, Y: top - 9}, left, p.fit(panelText, panelTitle(y.Joint, y.Procedure), p.body.Max.X))
	a := axes{x: y.x, y: y.y}
	heads := vg.Length(0)
	for _, r := range yearsRows {
		heads = max(heads, p.width(labelText, r))
	}
	a.area.Min = vg.Point{X: max(p.frameLeft(a, labelText), heads+12), Y: top - yearsHeading - yearsAreaHeight}
	widest := y.widest(p.measure)
	a.area.Max = vg.Point{X: p.body.Max.X - widest/2, Y: top - yearsHeading}
	a.x.ticks = y.ticks(a, widest)

	p.grid(a)
	p.frame(a, labelText, "", "observed/expected")
	p.named("reference", func() {
		p.line(stroke{ink: dark, width: .8, dashes: []vg.Length{4, 2}}, a.at(a.x.from, 1), a.at(a.x.to, 1))
	})
	ink := palette[0].ink
	p.named("limits", func() {
		for _, pt := range y.Points {
			if !(pt.Lower <= a.y.to) {
				continue
			}
			x, from, to := a.atX(float64(pt.Year)), a.atY(pt.Lower), a.atY(math.Min(pt.Upper, a.y.to))
			p.line(stroke{ink: ink, width: 1}, vg.Point{X: x, Y: from}, vg.Point{X: x, Y: to})
			if pt.Upper > a.y.to {
				p.fill(ink, vg.Point{X: x, Y: to + 5}, vg.Point{X: x - 2.2, Y: to}, vg.Point{X: x + 2.2, Y: to})
			} else {
				p.line(stroke{ink: ink, width: 1}, vg.Point{X: x - 2, Y: to}, vg.Point{X: x + 2, Y: to})
			}
			p.line(stroke{ink: ink, width: 1}, vg.Point{X: x - 2, Y: from}, vg.Point{X: x + 2, Y: from})
		}
	})
	p.named("ratios", func() {
		var line []vg.Point
		for _, pt := range y.Points {
			if !math.IsNaN(pt.Ratio) {
				line = append(line, a.at(float64(pt.Year), pt.Ratio))
			}
		}
		for _, part := range a.clipLine(line) {
			p.line(stroke{ink: ink, width: curveWidth}, part...)
		}
		for _, pt := range y.Points {
			switch at := float64(pt.Year); {
			case pt.Ratio <= a.y.to:
				p.marker(circle, a.at(at, pt.Ratio), 2.4, ink, ink)
			case pt.Ratio > a.y.to:
				p.marker(triangle, a.at(at, a.y.to), 2.4, white, ink)
			}
		}
	})
	base := a.area.Min.Y - tickLength - tickGap - .75*labelText.size
	p.text(labelText, vg.Point{X: a.area.Min.X - 8, Y: base}, right, "up to")
	base -= 1.4 * labelText.leading()
	p.named("counts", func() {
		for i, r := range yearsRows {
			at := base - vg.Length(i)*labelText.leading()
			p.text(labelText, vg.Point{X: a.area.Min.X - 8, Y: at}, right, r)
			for _, t := range a.x.ticks {
				if pt, ok := y.upTo(int(t.at)); ok {
					p.text(labelText, vg.Point{X: a.atX(t.at), Y: at}, centre, pt[i])
				}
			}
		}
	})
}

// widest is the width of the widest count.
func (y *yearsPanel) widest(m measure) vg.Length {
	widest := m.width(labelText, "2000")
	for _, pt := range y.Points {
		for _, c := range yearCounts(pt) {
			widest = max(widest, m.width(labelText, c))
		}
	}
	return widest
}

// ticks are at whole years, as many as the counts below them leave room for.
func (y *yearsPanel) ticks(a axes, widest vg.Length) []tick {
	first, last := y.Points[0].Year, y.Points[len(y.Points)-1].Year
	step := 1
	for _, step = range []int{1, 2, 5, 10, 20, 50} {
		if a.atX(float64(first+step))-a.atX(float64(first)) >= widest+6 {
			break
		}
	}
	var ticks []tick
	for year := last; year >= first; year -= step { // the last is the one of all joints
		ticks = append(ticks, tick{float64(year), strconv.Itoa(year)})
	}
	return ticks
}

// upTo are the counts of the joints of a year and all before it.
func (y *yearsPanel) upTo(year int) ([]string, bool) {
	var counts []string
	for _, pt := range y.Points {
		if pt.Year <= year {
			counts = yearCounts(pt)
		}
	}
	return counts, counts != nil
}

func yearCounts(pt audit.YearPoint) []string {
	expected := "*"
	if pt.Expected >= 0 {
		expected = oneDecimal(pt.Expected)
	}
	return []string{counted(pt.Observed), expected, counted(float64(pt.Joints))}
}

func (f *overYears) notes() []string {
	level := levelPercent(f.panels[0].Level)
	notes := []string{fmt.Sprintf("Each point is of all joints operated on up to that year, with their follow-up to the closing date: observed over expected revisions, with exact %s Poisson limits of the observed. Each contains those before it; the points are not independent.", level)}
	cut, hidden, above := false, false, false
	var tops []string
	var from sources
	for _, p := range f.panels {
		cut, hidden = cut || p.cut, hidden || p.isHidden
		if top := audit.Number(p.y.to); !slices.Contains(tops, top) {
			tops = append(tops, top)
		}
		from.add(p.Series)
		for _, pt := range p.Points {
			above = above || pt.Ratio > p.y.to
		}
	}
	axis := "The axis ends at " + inWords(tops) + "."
	if len(tops) > 1 {
		axis = "The axes end at " + inWords(tops) + "."
	}
	if cut {
		axis += " Limits that end in an arrow go on beyond it."
	}
	if above {
		axis += " A hollow triangle is a ratio beyond it, with less than 1 expected."
	}
	notes = append(notes, axis)
	if hidden {
		notes = append(notes, "*: not shown, so that the figure can be shared; nothing is drawn from the first year whose count is hidden.")
	}
	notes = append(notes, from.notes("Expected from", true)...)
	for _, p := range f.panels {
		if len(p.Without) > 0 {
			var years []string
			for _, y := range p.Without {
				years = append(years, strconv.Itoa(y))
			}
			notes = append(notes, fmt.Sprintf("%s: without the years %s, for which nothing is expected.", panelTitle(p.Joint, p.Procedure), inWords(years)))
		}
	}
	return append(notes, f.leftOut.notes()...)
}

// inWords lists words: a, b and c.
func inWords(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

func (f *overYears) alternative() string {
	var sentences []string
	for i, p := range f.panels {
		if i == 3 {
			sentences = append(sentences, fmt.Sprintf("There are %d more panels.", len(f.panels)-3))
			break
		}
		first, last := p.Points[0], p.Points[len(p.Points)-1]
		s := fmt.Sprintf("%s, operated on %d to %d: ", panelTitle(p.Joint, p.Procedure), first.Year, last.Year)
		if math.IsNaN(last.Ratio) {
			s += "observed and expected revisions are not shown"
		} else {
			s += fmt.Sprintf("%s revisions observed, %s expected, ratio %.2f (%s limits %.2f to %.2f)",
				counted(last.Observed), oneDecimal(last.Expected), last.Ratio, levelPercent(p.Level), last.Lower, last.Upper)
		}
		sentences = append(sentences, s+".")
	}
	return strings.Join(sentences, " ")
}

func (f *overYears) data() [][]string {
	records := [][]string{{"joint", "procedure", "operated_up_to", "joints", "observed", "expected", "ratio", "ratio_lower", "ratio_upper", "level", "expected_to_years", "expected_source", "axis_to"}}
	for _, p := range f.panels {
		for _, pt := range p.Points {
			records = append(records, []string{audit.Protect(p.Joint), audit.Protect(p.Procedure), strconv.Itoa(pt.Year), counted(float64(pt.Joints)),
				counted(pt.Observed), counted(pt.Expected), audit.Number(pt.Ratio), audit.Number(pt.Lower), audit.Number(pt.Upper), audit.Number(p.Level),
				audit.Number(p.ToYears), audit.Protect(p.Series.Source), audit.Number(p.y.to)})
		}
	}
	return records
}
