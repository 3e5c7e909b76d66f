package text

import (
	"fmt"
	"strings"

	"example.org/holdfast/cohort/audit"
)

// worstCase sets beside each estimate the one with every joint lost to
// follow-up revised on the day it was last seen.
func (p *page) worstCase(a *audit.Audit, parts []*part) {
	if !a.WorstCase {
		return
	}
	p.heading(1, "Worst case of the joints lost to follow-up")
	p.paragraph("Cumulative revision with every joint that was lost to follow-up revised on the day it was last seen, beside the ordinary estimate. What became of these joints is not known: the truth lies between, if revisions done elsewhere are the only ones missing.")
	f := newFootnotes()
	t := &table{columns: []column{{title: "Years", align: right}, {title: "At risk", align: right}, {title: "Cumulative revision, %", align: decimal, least: 16}, {title: "Worst case, %", align: decimal, least: 16}}}
	for _, part := range parts {
		groups := []*audit.Group{part.all}
		for _, m := range part.fields {
			if len(m.groups) > 1 {
				groups = append(groups, m.groups...)
			}
		}
		for _, g := range groups {
			if g.WorstCase == nil || g.Joints < fewestJoints {
				continue
			}
			first := true
			for i := range g.Rows {
				r := &g.Rows[i]
				if !r.Requested || !r.Reached {
					continue
				}
				if first {
					title := name(g)
					if g == part.all {
						title = part.title + ", all joints"
					}
					t.section(fmt.Sprintf("%s: %s lost of %s", title, count(g.Lost), few(g.Joints, "joint", "joints")))
					first = false
				}
				cells := estimateCells(a, g, r, f)
				w := r.WorstCase
				worst := percentWith(w.Estimate, w.Lower, w.Upper, "")
				if r.KaplanMeier.AtRisk < fewestAtRisk {
					worst = fmt.Sprintf("%s/%s", number(w.Events), count(g.Joints))
				}
				t.add(years(r.Years), cells[0], cells[2], worst)
			}
		}
	}
	p.table(t, f)
	if len(t.rows) == 0 {
		p.paragraph("No group of " + strings.TrimSpace(count(int64(fewestJoints))) + " joints or more was followed to a year asked for.")
	}
}
