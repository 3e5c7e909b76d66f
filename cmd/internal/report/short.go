package report

import (
	"fmt"
	"strings"

	"example.org/holdfast/cmd/internal/document"
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
		r := g.Latest()
		if r == nil {
			none = true
			t.Add(append(cells, "—", "—", "—", "", "", "")...)
			continue
		}
		published, reading, notes := "", "", rowNotes(r, f)
		if figures, together := r.Read(benchmark.OneMinusKaplanMeier); together != nil {
			published = publishedRange(figures, refs)
			reading = readingOf(a, together.String(), &said)
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

// readingOf is a reading in words.
func readingOf(a *audit.Audit, words string, said *legends) string {
	said.add(words)
	said.shared = a.Shared != nil
	return words
}

// outside lists every reading that says above or below.
func (p *page) outside(a *audit.Audit, parts []*part, refs *references) {
	f := newFootnotes()
	t := &table{Columns: []column{
		{Title: "Own joints", Wraps: true}, {Title: "Years", Align: decimal}, {Title: "At risk", Align: right}, {Title: "Own, %", Align: decimal},
		{Title: "Published, %", Align: decimal, Least: 12}, {Title: "Reading"}, {},
	}}
	for _, part := range parts {
		titled := false
		for _, r := range readings(part.beside(a)) {
			if !r.outside() {
				continue
			}
			if !titled {
				t.Section(part.title)
				titled = true
			}
			notes := ""
			if r[0].Series.Estimand == benchmark.Incidence {
				notes = f.letter("cumulative incidence on both sides")
			}
			t.Add(capital(kind(r[0]))+" ("+count(r[0].Joints)+")", years(r.years()), number(r.own().Own.AtRisk), estimate(a, r.own().Own, f),
				publishedRange(r, refs), r.together().String(), notes)
		}
	}
	if len(t.Rows) == 0 {
		p.paragraph(noneOutside(a))
		return
	}
	p.paragraph("Every reading that says above or below:")
	shortfalls(a, f)
	refs.explain(f)
	p.table(t, f)
	if a.Readings > 1 {
		p.paragraph(chance(a, outsideCount(a)))
	}
}

// outsideCount is how many readings say above or below, of all their figures.
func outsideCount(a *audit.Audit) int {
	n := 0
	for _, r := range readings(a.Beside) {
		if t := r.together(); t.Code() == "above" || t.Code() == "below" {
			n++
		}
	}
	return n
}

// noneOutside says that no reading says above or below.
func noneOutside(a *audit.Audit) string {
	switch {
	case !compared(a):
		return noFigure
	case a.Readings == 0:
		return fmt.Sprintf("No reading says above or below: with fewer than %d at risk none could have.", fewestAtRisk)
	case a.Readings == 1:
		return "No reading says above or below. " + caution
	}
	return chance(a, 0) + " " + caution
}

// chance says how many readings say above or below, of how many that could have,
// and how many would by chance.
func chance(a *audit.Audit, n int) string {
	head := "No reading says"
	switch {
	case n == 1:
		head = "1 reading says"
	case n > 1:
		head = count(n) + " readings say"
	}
	return fmt.Sprintf("%s above or below. Of %s that could have, at most %s would by chance alone, if the practice is exactly as published; groups overlap, so chance readings come several at once or not at all.",
		head, count(a.Readings), decimals(a.ByChance, 1))
}
