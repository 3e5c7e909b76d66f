package report

import (
	"fmt"

	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort/audit"
)

// mostReasonYears is how many years stand beside one another in the table of
// reasons.
const mostReasonYears = 3

// reasonsForRevision says why joints were revised, each reason with its
// cumulative incidence: the other reasons and death compete.
func (p *page) reasonsForRevision(m *gather.Material) {
	if len(m.Audit.Endpoint.Reasons) > 0 {
		return
	}
	total := int64(0)
	for i := range m.Audit.Groups {
		if g := &m.Audit.Groups[i]; g.Pooling == audit.AllJoints {
			total += g.Revised
		}
	}
	p.heading(1, "Reasons for revision")
	switch {
	case total == 0:
		p.paragraph("No joint has been revised.")
		return
	case len(m.Reasons) == 0:
		p.paragraph("The table gives no reason for revision that is known.")
		return
	}
	years := readable(m)
	t := &table{Columns: []column{{Title: "Reason", Wraps: true}, {Title: "Revised", Align: right}}}
	for _, y := range years {
		t.Columns = append(t.Columns, column{Title: fmt.Sprintf("To %s, %%", inYears(y)), Align: decimal})
	}
	f := newFootnotes()
	for i := range m.Audit.Groups {
		all := &m.Audit.Groups[i]
		if all.Pooling != audit.AllJoints || all.Revised == 0 {
			continue
		}
		t.Section(fmt.Sprintf("%s (%s)", titleOf(all), few(all.Joints, "joint", "joints")))
		rest := all.Revised
		for _, a := range m.Reasons {
			g := same(a, all)
			if g == nil || g.Revised == 0 {
				continue
			}
			rest -= g.Revised
			t.Add(append([]string{a.Endpoint.Reasons[0], count(g.Revised)}, incidences(a, g, years, f)...)...)
		}
		if rest > 0 {
			t.Add(append([]string{"another reason, or none that is known", count(rest)}, make([]string, len(years))...)...)
		}
		t.Add(append([]string{"any reason", count(all.Revised)}, incidences(m.Audit, all, years, f)...)...)
	}
	if m.Audit.Deaths.Recorded {
		p.paragraph("Cumulative incidence of revision for each reason, with "+level(m.Audit)+" limits in brackets: revision for another reason, and death, compete. The incidences of all reasons add up to that of any reason.",
			"Each rests on few revisions: the intervals matter more than the estimates.")
	} else {
		p.paragraph("How many were revised for each reason. Deaths are not recorded, so no cumulative incidence is given.")
	}
	shortfalls(m.Audit, f)
	p.table(t, f)
}

// readable are the last years asked for to which somebody was followed in a
// part large enough, and the first of them.
func readable(m *gather.Material) []float64 {
	var all []float64
	for _, y := range m.Audit.Years {
		for i := range m.Audit.Groups {
			g := &m.Audit.Groups[i]
			if r := g.At(y); g.Pooling == audit.AllJoints && r != nil && r.Reached && r.KaplanMeier.AtRisk >= fewestAtRisk {
				all = append(all, y)
				break
			}
		}
	}
	if len(all) > mostReasonYears {
		all = append(all[:1:1], all[len(all)-mostReasonYears+1:]...)
	}
	return all
}

// same is the group of another audit that pools the same.
func same(a *audit.Audit, g *audit.Group) *audit.Group {
	for i := range a.Groups {
		if other := &a.Groups[i]; other.Pooling == audit.AllJoints && titleOf(other) == titleOf(g) {
			return other
		}
	}
	return nil
}

// incidences are a group's cumulative incidences at some years.
func incidences(a *audit.Audit, g *audit.Group, years []float64, f *footnotes) []string {
	cells := make([]string, len(years))
	for i, y := range years {
		r := g.At(y)
		if r == nil || !r.Reached || r.IncidenceEmpty {
			continue
		}
		if r.Incidence.AtRisk < fewestAtRisk {
			cells[i] = share(r.Incidence, g.Joints, f)
			continue
		}
		cells[i] = estimate(a, r.Incidence, f)
	}
	return cells
}
