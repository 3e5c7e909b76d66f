package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cmd/holdfast/internal/document"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// inShort writes one line for each joint and procedure, and every comparison
// with a published estimate that reads above or below.
func (p *page) inShort(a *audit.Audit, parts []*part, refs *references) {
	p.heading(2, "In short")
	p.shortly(a, parts, refs, outsideCount(a) > 0) // else the caution stands below
	p.outside(a, parts, refs)
}

// shortly writes one line for each joint and procedure, with the caution for
// what reads compatible with if it does not stand elsewhere near.
func (p *page) shortly(a *audit.Audit, parts []*part, refs *references, caution bool) {
	f := newFootnotes()
	t := &table{Columns: []column{
		{Title: "Joint and procedure", Wraps: true}, {Title: "Joints", Align: right}, {Title: "Revised", Align: right},
		{Title: "Years", Align: decimal}, {Title: "At risk", Align: right}, {Title: "Cumulative revision, %", Align: decimal, Least: 16},
		{Title: "Published %", Align: decimal}, {Title: "Reading", Wraps: true, Least: len("compatible")}, {},
	}}
	said, none := legends{}, false
	for _, part := range parts {
		for _, word := range strings.Fields(part.title) {
			t.Columns[0].Least = min(max(t.Columns[0].Least, document.Width(word)+document.Hanging), 20)
		}
		g := part.all
		cells := []string{part.title, count(g.Joints), count(g.Revised)}
		r := latest(g)
		if r == nil {
			none = true
			t.Add(append(cells, "—", "—", "—", "", "", "")...)
			continue
		}
		published, reading, notes := "", "", rowNotes(r, f)
		if c := r.Comparison; c != nil {
			published = publishedFigure(a, g, c, refs, f)
			reading = readingOf(a, c, c.Reading.String(), &said)
			if c.Series.Estimand == benchmark.Incidence {
				notes = join(notes, f.letter(incidenceRead))
			}
		}
		t.Add(append(cells, years(r.Years), number(r.KaplanMeier.AtRisk), estimate(a, r.KaplanMeier, f), published, reading, notes)...)
	}
	when := fmt.Sprintf("Each at the latest year asked for with %d or more at risk", fewestAtRisk)
	if none {
		when += "; — where there is none"
	}
	p.paragraph(when + ".")
	shortfalls(a, f)
	refs.explain(f)
	p.table(t, f)
	if !caution {
		said.compatible = false
	}
	p.legend(said)
}

// readingOf is a reading in words; a star where the estimate that it was made from
// is hidden.
func readingOf(a *audit.Audit, c *benchmark.Comparison, words string, said *legends) string {
	if hiddenOwn(a, c) {
		return audit.Hidden
	}
	said.add(c.Reading)
	said.shared = a.Shared != nil
	return words
}

// hiddenOwn says whether the own estimate of a comparison is hidden.
func hiddenOwn(a *audit.Audit, c *benchmark.Comparison) bool {
	return a.Shared != nil && c.Reached && math.IsNaN(c.Own.Estimate)
}

// incidenceRead says what a reading was made from, where the estimate shown is
// another.
const incidenceRead = "published, and read, as a cumulative incidence"

// latest is a group's last row asked for with enough at risk; nil if there is
// none.
func latest(g *audit.Group) *audit.Row {
	for i := len(g.Rows) - 1; i >= 0; i-- {
		if r := &g.Rows[i]; r.Requested && r.Reached && r.KaplanMeier.AtRisk >= fewestAtRisk {
			return r
		}
	}
	return nil
}

// isOutside says whether a comparison reads above or below.
func isOutside(c *benchmark.Comparison) bool {
	return c != nil && (c.Reading == benchmark.Above || c.Reading == benchmark.Below)
}

// readsOutside says whether any comparison of a group with an estimate does.
func readsOutside(g *audit.Group) bool {
	return slices.ContainsFunc(g.Rows, func(r audit.Row) bool { return isOutside(r.Comparison) })
}

// outside lists every comparison with an estimate that reads above or below.
func (p *page) outside(a *audit.Audit, parts []*part, refs *references) {
	f := newFootnotes()
	t := &table{Columns: []column{
		{Title: "Group", Wraps: true}, {Title: "Years", Align: decimal}, {Title: "At risk", Align: right}, {Title: "Own, %", Align: decimal},
		{Title: "Published, %, and its source", Align: decimal, Least: 18}, {Title: "Reading"}, {},
	}}
	n := 0
	for _, part := range parts {
		titled := false
		for _, g := range part.groups() {
			called, repeats := capital(inList(g)), 0
			for i := range g.Rows {
				c := g.Rows[i].Comparison
				if !isOutside(c) {
					continue
				}
				if !titled {
					t.Section(part.title)
					titled = true
				}
				notes := ""
				if c.Series.Estimand == benchmark.Incidence {
					notes = f.letter("cumulative incidence on both sides")
				}
				t.Rows = append(t.Rows, row{Cells: []string{called, years(g.Rows[i].Years), number(c.Own.AtRisk), estimate(a, c.Own, f), publishedEstimate(a, g, c, refs, f), c.Reading.String(), notes}, Repeats: repeats})
				repeats = 1
				n++
			}
		}
	}
	if n == 0 {
		p.paragraph(noneOutside(a))
		return
	}
	p.paragraph("Every comparison with a published estimate that reads above or below:")
	shortfalls(a, f)
	refs.explain(f)
	p.table(t, f)
	all := outsideCount(a)
	said := []string{chance(a, all), "Adjacent years of one group and groups that overlap are not independent: one run of revisions may stand in several lines."}
	if left := all - n; left > 0 {
		said = append(said, fmt.Sprintf("Not listed: %s the same joints again beside the same figure.", few(left, "that is of", "that are of")))
	}
	p.paragraph(said...)
}

// outsideCount is how many comparisons with an estimate read above or below.
func outsideCount(a *audit.Audit) int {
	n := 0
	for i := range a.Groups {
		for j := range a.Groups[i].Rows {
			if isOutside(a.Groups[i].Rows[j].Comparison) {
				n++
			}
		}
	}
	return n
}

// noneOutside says that no comparison reads above or below.
func noneOutside(a *audit.Audit) string {
	switch {
	case !compared(a):
		return "No published figure matches a group of this audit, so nothing is compared."
	case a.Comparisons == 0:
		return fmt.Sprintf("No comparison with a published estimate reads above or below: with fewer than %d at risk none could have.", fewestAtRisk)
	}
	return chance(a, 0) + " " + caution
}

// chance says how many comparisons read above or below, of how many that could
// have, and how many would by chance.
func chance(a *audit.Audit, n int) string {
	head := "No comparison reads"
	switch {
	case n == 1:
		head = "1 comparison reads"
	case n > 1:
		head = count(n) + " comparisons read"
	}
	return fmt.Sprintf("%s above or below. Of %s that could have read above or below, many of overlapping groups, up to %s would do so by chance alone.",
		head, few(a.Comparisons, "comparison", "comparisons"), decimals(a.ByChance, 1))
}
