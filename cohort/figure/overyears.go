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
	if err := checkWidth(&o.Width); err != nil {
		return nil, err
	}
	all, err := audit.OverYears(a)
	if err != nil {
		return nil, fmt.Errorf("figure: %w", err)
	}
	f := &overYears{}
	parts, err := partsOf(a, o.Joint, o.Procedure)
	if err != nil {
		return nil, err
	}
	set := &panels{columns: 1}
	for _, g := range parts {
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
			set.all = append(set.all, f.panels[len(f.panels)-1].panel())
			f.sources.add(c.Series)
		}
	}
	if len(f.panels) == 0 {
		return nil, f.leftOut.err()
	}
	drawn := &Figure{Title: "Observed over expected revisions, by year of operation, cumulative" + f.sources.inventedWords(), Subtitle: "Followed to " + closingWords(a) + ".",
		Alternative: f.alternative(), Notes: f.notes(), Day: dayOf(a), data: f.data()}
	return drawn.stacked(o.Width, set), nil
}

// overYears is the figure as laid out.
type overYears struct {
	panels  []*yearsPanel
	sources sources
	leftOut leftOut
}

type yearsPanel struct {
	audit.Cumulated
	x, y     scale
	cut      bool
	isHidden bool
}

func newYearsPanel(c audit.Cumulated) *yearsPanel {
	p := &yearsPanel{Cumulated: c}
	first, last := c.Points[0].Year, c.Points[len(c.Points)-1].Year
	p.x = yearsOfOperation(first, last)
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

// yearsOfOperation is an axis of calendar years, with a tick at each.
func yearsOfOperation(first, last int) scale {
	s := scale{from: float64(first) - .6, to: float64(last) + .6}
	for y := first; y <= last; y++ {
		s.ticks = append(s.ticks, tick{float64(y), strconv.Itoa(y)})
	}
	return s
}

// panel is the panel as it is drawn.
func (y *yearsPanel) panel() *panel {
	q := &panel{name: y.title(), style: labelText, axes: axes{x: y.x, y: y.y, lift: 4},
		xTitle: "up to", leads: true, yTitle: "observed/expected", area: 110}
	for i, name := range []string{"observed", "expected", "joints"} {
		q.counts = append(q.counts, counts{name, func(t tick) string {
			if counts, ok := y.upTo(int(t.at)); ok {
				return counts[i]
			}
			return ""
		}})
	}
	q.draw = y.draw
	return q
}

func (y *yearsPanel) draw(p *pen, a axes) {
	p.named("reference", func() {
		p.line(stroke{ink: dark, width: .8, dashes: []vg.Length{4, 2}}, a.at(a.x.from, 1), a.at(a.x.to, 1))
	})
	p.named("limits", func() {
		for _, pt := range y.Points {
			if !(pt.Lower <= a.y.to) {
				continue
			}
			at := a.at(float64(pt.Year), math.Min(pt.Upper, a.y.to))
			p.line(stroke{ink: ownInk, width: 1.1}, vg.Point{X: at.X, Y: a.atY(pt.Lower)}, at)
			if pt.Upper > a.y.to {
				p.arrowUp(stroke{ink: ownInk, width: .9}, at)
			}
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
			p.line(stroke{ink: ownInk, width: 1.3}, part...)
		}
		for _, pt := range y.Points {
			switch at := float64(pt.Year); {
			case pt.Ratio <= a.y.to:
				p.marker(circle, a.at(at, pt.Ratio), 2.4, ownInk, ownInk)
			case pt.Ratio > a.y.to:
				p.marker(triangle, a.at(at, a.y.to), 2.4, white, ownInk)
			}
		}
	})
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
	for _, p := range f.panels {
		cut, hidden = cut || p.cut, hidden || p.isHidden
		if top := audit.Number(p.y.to); !slices.Contains(tops, top) {
			tops = append(tops, top)
		}
		for _, pt := range p.Points {
			above = above || pt.Ratio > p.y.to
		}
	}
	axis := "The vertical axis ends at " + inWords(tops) + "."
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
	notes = append(notes, f.sources.notes("expected from ", true)...)
	for _, p := range f.panels {
		if len(p.Without) > 0 {
			var years []string
			for _, y := range p.Without {
				years = append(years, strconv.Itoa(y))
			}
			notes = append(notes, fmt.Sprintf("%s: without the years %s, for which nothing is expected.", p.title(), inWords(years)))
		}
	}
	return append(notes, f.leftOut.notes()...)
}

func (y *yearsPanel) title() string { return capitalWord(word(y.Joint)) + ", " + word(y.Procedure) }

func (f *overYears) alternative() string {
	var sentences []string
	for i, p := range f.panels {
		if i == 3 {
			sentences = append(sentences, fmt.Sprintf("There are %d more panels.", len(f.panels)-3))
			break
		}
		first, last := p.Points[0], p.Points[len(p.Points)-1]
		s := fmt.Sprintf("%s, operated on %d to %d: ", p.title(), first.Year, last.Year)
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
