package report

import (
	"fmt"

	"example.org/holdfast/cohort/audit"
)

// worstCase sets beside each estimate the one with every joint lost to
// follow-up revised on the day it was last seen.
func (p *page) worstCase(a *audit.Audit, parts []*part) {
	if !a.WorstCase {
		return
	}
	p.heading(1, "Worst case of the joints lost to follow-up")
	if a.Account.Known == 0 && a.Account.Assumed > 0 {
		p.paragraph("It can't be worked out: no day last seen is known of any joint that is neither revised nor dead, so that nobody knows which are lost. What their assumed follow-up may hide stands under What was read and set aside.")
		return
	}
	p.paragraph("Cumulative revision with every joint that was lost to follow-up revised on the day it was last seen, beside the ordinary estimate. What became of these joints is not known: were none of them revised, the estimate would be below the ordinary one. The check gives both ends.")
	f := newFootnotes()
	t := &table{Columns: []column{
		{Title: "Years", Align: decimal}, {Title: "At risk", Align: right}, {Title: "Cumulative revision, %", Align: decimal, Least: 16},
		{Title: "Worst case, %", Align: decimal, Least: 16}, {},
	}}
	small := false
	for _, part := range parts {
		small = small || len(part.cells) > 0
		groups := []*audit.Group{part.all}
		for _, m := range part.fields {
			if len(m.groups) > 1 {
				groups = append(groups, m.groups...)
			}
		}
		for _, g := range groups {
			if g.Joints < fewestJoints {
				small = true
				continue
			}
			first := true
			rows := g.Rows()
			for i := range rows {
				r := &rows[i]
				if !r.Requested || !r.Reached || r.WorstCase == nil {
					continue
				}
				if first {
					title := name(g)
					if g == part.all {
						title = part.title + ", all joints"
					}
					t.Section(fmt.Sprintf("%s: %s lost of %s", title, count(g.Lost), few(g.Joints, "joint", "joints")))
					first = false
				}
				cells := estimateCells(a, g, r, f)
				worst := estimate(a, *r.WorstCase, f)
				if r.KaplanMeier.AtRisk < fewestAtRisk {
					worst = share(*r.WorstCase, g.Joints, f)
				}
				t.Add(years(r.Years), cells[0], cells[2], worst, rowNotes(r, f))
			}
		}
	}
	shortfalls(a, f)
	p.table(t, f)
	switch {
	case len(t.Rows) == 0:
		p.paragraph(fmt.Sprintf("No group of %d joints or more was followed to a year asked for.", fewestJoints))
	case small:
		p.paragraph(fmt.Sprintf("Groups with fewer than %d joints, and groups by several fields together, are in --format json.", fewestJoints))
	}
}
