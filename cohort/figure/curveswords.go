package figure

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// mostNamed is how many groups, sources and the like a note names.
const mostNamed = 12

// titleOf names a joint and procedure.
func titleOf(g *audit.Group) string {
	return word(g.Word("joint")) + ", " + word(g.Word("procedure"))
}

// head is the title of a panel.
func (q *curvesPanel) head() string {
	s := panelTitle(q.all.Word("joint"), q.all.Word("procedure")) + ": " + estimatorWords(q.estimand)
	if q.together {
		s = estimatorWords(q.estimand)
		s = strings.ToUpper(s[:1]) + s[1:]
	}
	if q.small() {
		s += ", %, by years since operation"
	}
	return s
}

// estimatorWords name an estimate and how it is made.
func estimatorWords(e survival.Estimand) string {
	if e == survival.Incidence {
		return "cumulative incidence of revision (Aalen–Johansen)"
	}
	return "cumulative revision (Kaplan–Meier)"
}

// message stands in place of a panel's axes.
func (c *curves) message(q *curvesPanel) string {
	if q.noDeaths {
		return "Left empty: deaths are not recorded."
	}
	return fmt.Sprintf("Nothing is drawn, as %s; %s.", c.whyNever(), revisedOf(q.all))
}

// revisedOf is what is shown of a group that is too small for an estimate.
func revisedOf(g *audit.Group) string {
	return fmt.Sprintf("%s of %s revised", audit.Count(g.Revised), audit.Count(g.Joints))
}

// figure makes the figure of its panels.
func (c *curves) figure() *Figure {
	height := vg.Length(0)
	for _, q := range c.panels {
		height += q.layout.height
	}
	if len(c.panels) == 0 {
		height = messageHeight
	}
	return newFigure(c.title(), c.alternative(), c.words(), c.o.Width, height, c.data(), func(p *pen) {
		if len(c.panels) == 0 {
			p.named("message", func() {
				p.text(labelText, vg.Point{Y: p.body.Max.Y - labelText.size}, left,
					p.fit(labelText, fmt.Sprintf("Nothing is drawn: fewer than %d joints.", fewestAtRisk), c.o.Width))
			})
		}
		top := p.body.Max.Y
		for _, q := range c.panels {
			c.drawPanel(p, q, top)
			top -= q.layout.height
		}
	})
}

func (c *curves) title() string {
	s := [...]string{"Cumulative revision", "Cumulative incidence of revision", "Cumulative revision and cumulative incidence"}[c.o.Estimand]
	if r := c.audit.Endpoint.Reasons; len(r) > 0 {
		s += " for " + word(strings.Join(r, " or "))
	}
	if c.o.Field != "" {
		s += " by " + fieldWords(c.o.Field)
	}
	var all []*audit.Group
	for _, q := range c.panels {
		all = append(all, q.all)
		if q.together {
			return s
		}
	}
	if all = slices.Compact(append(all, c.leftOut...)); len(all) == 1 {
		s += ": " + titleOf(all[0])
	}
	return s
}

// words are the notes.
func (c *curves) words() []string {
	var n []string
	add := func(format string, args ...any) { n = append(n, fmt.Sprintf(format, args...)) }
	drawn := c.drawn()
	if len(drawn) > 0 {
		n = append(n, c.legendWords(drawn))
		n = append(n, c.topWords(drawn))
	}
	if s := c.publishedWords(drawn); s != "" {
		n = append(n, s)
	}
	if names := c.neverWords(); len(names) > 0 {
		add("Not drawn, as %s: %s.", c.whyNever(), listed(names))
	}
	if len(c.leftOut) > 0 {
		var names []string
		for _, g := range c.leftOut {
			names = append(names, fmt.Sprintf("%s (%s)", titleOf(g), revisedOf(g)))
		}
		add("Left out, with fewer than %d joints: %s.", fewestAtRisk, listed(names))
	}
	if !c.audit.Deaths.Recorded {
		add("Deaths are not recorded: the unknown dead stay at risk, so every estimate comes out too low.")
	}
	return n
}

// whyNever says why groups have nothing to draw.
func (c *curves) whyNever() string {
	s := fmt.Sprintf("never %d are at risk", fewestAtRisk)
	if c.audit.Shared != nil {
		s += " or the estimates are hidden"
	}
	return s
}

// drawn are the panels that have axes.
func (c *curves) drawn() []*curvesPanel {
	return slices.DeleteFunc(slices.Clone(c.panels), func(q *curvesPanel) bool { return len(q.traces) == 0 })
}

// legendWords say what lines, bands and faint parts are.
func (c *curves) legendWords(drawn []*curvesPanel) string {
	var s []string
	curves, points := false, false
	for _, q := range drawn {
		for _, t := range q.traces {
			curves, points = curves || !t.points, points || t.points
		}
	}
	interval := fmt.Sprintf("%s intervals (%s)", levelOf(c.audit), c.audit.Interval.Method)
	if curves && !c.o.NoBands {
		end := ""
		if c.floor > fewestAtRisk && slices.ContainsFunc(drawn, func(q *curvesPanel) bool { return !q.small() && len(q.traces) > mostWholeBands }) {
			end = fmt.Sprintf("; with more than %d groups only where at least %s are at risk", mostWholeBands, audit.Number(c.floor))
		}
		s = append(s, "Bands: "+interval+", for each time by itself"+end+".")
	}
	if points {
		s = append(s, "Filled markers: estimates at whole years, with "+interval+".")
	}
	if c.floor > fewestAtRisk {
		s = append(s, fmt.Sprintf("Faint: fewer than %s at risk.", audit.Number(c.floor)))
	}
	s = append(s, fmt.Sprintf("Nothing is drawn where fewer than %d are at risk.", fewestAtRisk))
	if c.o.Estimand != Incidence {
		s = append(s, "Kaplan–Meier: what the implant would do if nobody died.")
	}
	if c.o.Estimand != KaplanMeier {
		s = append(s, "Aalen–Johansen: what happens to these patients, death competing.")
	}
	return strings.Join(s, " ")
}

// topWords say where the vertical axes end, and what is above.
func (c *curves) topWords(drawn []*curvesPanel) string {
	top := func(q *curvesPanel) string { return levelPercent(q.y.to) }
	same := true
	var each []string
	var named *audit.Group
	for _, q := range drawn {
		same = same && q.y.to == drawn[0].y.to
		if q.all != named && !q.together {
			named = q.all
			each = append(each, titleOf(q.all)+" at "+top(q))
		}
	}
	s := "The vertical axis ends at " + top(drawn[0])
	if !same {
		s = "The vertical axes end: " + listed(each)
	}
	bands, figures := false, 0
	for _, q := range drawn {
		for _, t := range q.traces {
			for _, r := range t.readings {
				band := t.points || !c.o.NoBands && (!r.faint || len(q.traces) <= mostWholeBands)
				bands = bands || band && r.Upper > q.y.to || r.Estimate > q.y.to
			}
			for _, f := range t.published {
				if f.figure.Revision > q.y.to {
					figures++
				}
			}
		}
	}
	if bands {
		s += "; what lies above is cut off"
	}
	if figures > 0 {
		s += fmt.Sprintf("; %d published figures lie above", figures)
	}
	return s + "."
}

// publishedWords name the sources of published figures.
func (c *curves) publishedWords(drawn []*curvesPanel) string {
	var sources []string
	var beyond []float64
	for _, q := range drawn {
		for _, t := range q.traces {
			for _, p := range t.published {
				s := word(p.series.Source)
				if p.series.Citation != "" && p.series.Citation != p.series.Source {
					s += ", " + strings.TrimSuffix(word(p.series.Citation), ".")
				}
				if !slices.Contains(sources, s) {
					sources = append(sources, s)
				}
			}
			beyond = append(beyond, t.beyond...)
		}
	}
	var s []string
	if len(sources) > 0 {
		s = append(s, "Hollow markers: published figures with their intervals, those of one year side by side, from "+listed(sources)+".")
	}
	if len(beyond) > 0 {
		slices.Sort(beyond)
		beyond = slices.Compact(beyond)
		var years []string
		for _, y := range beyond {
			years = append(years, audit.Number(y))
		}
		s = append(s, "Published figures at "+strings.Join(years, ", ")+" years lie past the end of the axis.")
	}
	return strings.Join(s, " ")
}

// neverWords name the groups that never have 10 at risk.
func (c *curves) neverWords() []string {
	var names []string
	for _, q := range c.panels {
		if q.noDeaths {
			continue
		}
		for _, g := range q.never {
			s := titleOf(g)
			if f := g.Field(); f != "" {
				s += ", " + word(g.Word(f))
			}
			if s += " (" + revisedOf(g) + ")"; !slices.Contains(names, s) {
				names = append(names, s)
			}
		}
	}
	return names
}

// listed joins words with semicolons, the first mostNamed of them.
func listed(words []string) string {
	if n := len(words) - mostNamed; n > 0 {
		return strings.Join(words[:mostNamed], "; ") + fmt.Sprintf("; and %d more", n)
	}
	return strings.Join(words, "; ")
}

// alternative says what the figure shows, with each curve's last estimate that
// rests on as many as the floor.
func (c *curves) alternative() string {
	drawn := c.drawn()
	if len(drawn) == 0 {
		return "An empty figure: no group has " + strconv.Itoa(fewestAtRisk) + " joints at risk."
	}
	var s []string
	for _, q := range drawn {
		what := panelTitle(q.all.Word("joint"), q.all.Word("procedure")) + ", " + estimatorWords(q.estimand)
		if q.together {
			what = q.head()
		}
		traces := q.traces
		if q.small() {
			what += fmt.Sprintf(", %d groups in panels of their own", len(q.traces))
			traces = []*trace{q.behind}
		}
		var each []string
		for _, t := range traces {
			if t == nil {
				continue
			}
			each = append(each, t.inWords(q.nameOf(t)))
		}
		s = append(s, what+": "+strings.Join(each, "; ")+".")
	}
	return strings.Join(s, " ")
}

// inWords is a trace's last estimate at a whole year with at least the floor at
// risk; else its last.
func (t *trace) inWords(name string) string {
	last := t.readings[len(t.readings)-1]
	for _, r := range t.readings {
		if whole(r.years) && r.years > 0 && !r.faint {
			last = r
		}
	}
	return fmt.Sprintf("%s %s %% at %s (%s to %s), %s at risk", name, oneDecimal(100*last.Estimate),
		yearsWords(math.Round(10*last.years)/10), oneDecimal(100*last.Lower), oneDecimal(100*last.Upper), counted(last.AtRisk))
}

// Columns of WriteCSV for curves.
var curvesColumns = []string{
	"joint", "procedure", "field", "group", "estimand", "kind", "years", "estimate_pct", "lower_pct", "upper_pct",
	"at_risk", "revised_so_far", "faint", "source",
}

// data are the records of WriteCSV.
func (c *curves) data() [][]string {
	records := [][]string{curvesColumns}
	for _, q := range c.panels {
		estimand := benchmark.OneMinusKaplanMeier.String()
		if q.estimand == survival.Incidence {
			estimand = benchmark.Incidence.String()
		}
		traces := q.traces
		if q.behind != nil {
			traces = append([]*trace{q.behind}, traces...)
		}
		for _, t := range traces {
			group := "All"
			if f := t.group.Field(); f != "" {
				group = t.group.Word(t.group.Field())
			}
			add := func(kind string, years float64, cells ...string) {
				records = append(records, append([]string{
					audit.Protect(t.group.Word("joint")), audit.Protect(t.group.Word("procedure")), audit.Protect(c.o.Field),
					audit.Protect(group), estimand, kind, audit.Number(years),
				}, cells...))
			}
			kind := "curve"
			if t.points {
				kind = "point"
			}
			for _, r := range t.readings {
				few := ""
				if r.faint {
					few = "yes"
				}
				add(kind, r.years, percent(r.Estimate), percent(r.Lower), percent(r.Upper), counted(r.AtRisk), counted(r.Events), few, "")
			}
			if t != q.behind {
				for _, tick := range q.x.ticks {
					atRisk, revised := t.under(tick.at, c.audit.Interval)
					add("at risk", tick.at, "", "", "", atRisk, revised, "", "")
				}
			}
			for _, p := range t.published {
				kind := "published"
				if p.wider {
					kind = "published, of a wider group"
				}
				add(kind, p.figure.Years, percent(p.figure.Revision), percent(p.figure.Lower), percent(p.figure.Upper), "", "", "", audit.Protect(p.series.Source))
			}
		}
	}
	return records
}
