package report

import (
	"fmt"

	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort/audit"
)

// beside sets the joints of a report beside all joints of the department that
// they are a part of.
func (p *page) beside(m *gather.Material) {
	d := m.Department
	if d == nil {
		return
	}
	p.heading(1, "Beside the whole department")
	p.paragraph("The department's joints are all of the table, those of this report among them. The two columns are therefore not independent, and no reading is taken from their difference.",
		"Patients are not shared out at random: a surgeon who takes on younger patients or harder operations sees more revisions for that reason alone.")
	f := newFootnotes()
	t := &table{Columns: []column{
		{Title: "Joint and procedure", Wraps: true}, {Title: "Years", Align: decimal},
		{Title: "At risk", Align: right}, {Title: "Revised so far", Align: right}, {Title: "These joints, %", Align: decimal},
		{Title: "Department: at risk", Align: right}, {Title: "Revised so far", Align: right}, {Title: "Department, %", Align: decimal},
	}}
	for i := range m.Audit.Groups {
		own := &m.Audit.Groups[i]
		if own.Pooling != audit.AllJoints {
			continue
		}
		whole := same(d, own)
		if whole == nil {
			continue
		}
		repeats := 0
		for _, y := range m.Audit.Years {
			mine, theirs := own.At(y), whole.At(y)
			if mine == nil || theirs == nil || !mine.Reached || !theirs.Reached {
				continue
			}
			cells := []string{titleOf(own), years(y)}
			for _, side := range []struct {
				a *audit.Audit
				g *audit.Group
				r *audit.Row
			}{{m.Audit, own, mine}, {d, whole, theirs}} {
				k := side.r.KaplanMeier
				shown := ""
				if k.AtRisk < fewestAtRisk {
					shown = share(k, side.g.Joints, f)
				} else {
					shown = estimate(side.a, k, f)
				}
				cells = append(cells, number(k.AtRisk), number(k.Events), shown)
			}
			t.Rows = append(t.Rows, row{Cells: cells, Repeats: repeats, Apart: repeats == 0 && len(t.Rows) > 0})
			repeats = 1
		}
	}
	if t.Empty() {
		p.paragraph(fmt.Sprintf("Nobody has been followed to a year asked for (%s).", yearList(m.Audit.Years)))
		return
	}
	shortfalls(m.Audit, f)
	p.table(t, f)
}

func yearList(all []float64) string {
	var s []string
	for _, y := range all {
		s = append(s, years(y))
	}
	return list(s)
}
