package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/benchmark"
)

// few says that a panel's units are too few for a funnel, or that their ratios are not shown, and
// that they stand in a table.
func (p *funnelPanel) few() bool { return len(p.units) < FewestInFunnel || p.counts }

// usual are the counts between which chance alone leaves 95 of 100 units.
func (f *funnel) usual(p *funnelPanel, u funnelUnit) [2]int {
	if f.options.Own {
		low, high := benchmark.BinomialFunnel(p.department, u.Expected/p.department, .95)
		return [2]int{int(math.Floor(low)) + 1, int(math.Ceil(high)) - 1}
	}
	least, most := benchmark.UsualCounts(f.options.Target * u.Expected)
	return [2]int{least, most}
}

// mostOnOneScale is the number of revisions up to which joints and procedures share the
// scale of one table, on which each revision is still a dot of its own.
const mostOnOneScale = 40

// tables are those of the panels of few, in as few as may be.
func (f *funnel) tables() []block {
	var all []block
	var together []*funnelPanel
	for _, p := range f.panels {
		switch {
		case !p.few():
		case f.most(p) > mostOnOneScale:
			all = append(all, f.table(p))
		default:
			together = append(together, p)
		}
	}
	if together != nil {
		all = append([]block{f.table(together...)}, all...)
	}
	return all
}

// most is the largest count that a panel of few has to show.
func (f *funnel) most(p *funnelPanel) float64 {
	most := 0.0
	for _, u := range p.units {
		most = math.Max(most, math.Max(u.Observed, float64(f.usual(p, u)[1])))
	}
	return most
}

// table lists the units of panels of few: observed, expected, and where the count lies by
// chance alone.
func (f *funnel) table(panels ...*funnelPanel) *listing {
	most := 0.0
	for _, p := range panels {
		most = math.Max(most, f.most(p))
	}
	l := &listing{columns: []column{{}, {title: "revisions, usual range", drawn: 90, x: scale{to: most + 1}},
		{title: "observed", align: right, fold: "%s observed"}, {title: "expected", align: right, fold: "%s expected"}, {title: "usual", align: right, fold: "%s usual"}}}
	if len(panels) == 1 {
		l.heading = headline(panels[0].title())
	}
	for _, p := range panels {
		if len(panels) > 1 {
			l.lines = append(l.lines, listed{cells: []string{p.title()}, heads: true, rule: true})
		}
		for i, u := range p.units {
			usual, name := f.usual(p, u), u.name
			if unit := f.unitsWords(1)[2:]; unit != "group" || name == "" { // without its number
				name = strings.TrimSpace(unit + " " + name)
			}
			l.lines = append(l.lines, listed{height: 18, rule: i > 0, plain: len(panels) > 1,
				cells: []string{word(name), "", counted(u.Observed), oneDecimal(u.Expected), fmt.Sprintf("%d–%d", usual[0], usual[1])},
				draw:  map[int]func(*pen, axes, vg.Length){1: func(p *pen, a axes, y vg.Length) { p.revisions(a, u.Observed, u.Expected, usual, y-6) }}})
		}
	}
	return l
}
