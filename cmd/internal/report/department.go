package report

import (
	"fmt"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort/audit"
)

// fewestUnits is how many units a department has before one unit's excess is no
// longer the others' deficit to speak of.
const fewestUnits = 10

// department writes units beside what is expected of them from their own
// department.
func (p *page) department(a *audit.Audit) {
	if len(a.Department) == 0 {
		return
	}
	p.heading(2, "Units beside their own department")
	p.paragraph("Expected: the revisions that a unit's joints would have, had they been revised as all the department's of their joint, procedure and age band were, its own among them; so that the expected add up to the observed. " +
		"Usual: what chance alone gives in 95 of 100 departments with as many revisions. Units stand in the order of the table, and differ in who their patients are. No reading is taken from it.")
	f := newFootnotes()
	t := &table{Columns: []column{{Title: "Unit", Wraps: true}, {Title: "Joints", Align: right}, {Title: "Observed", Align: right}, {Title: "Expected", Align: decimal}, {Title: "Usual", Align: right},
		{Title: "Observed ÷ expected", Align: decimal}, {Title: "To the others", Align: decimal}, {}}}
	units := make(map[string]int)
	for i, u := range a.Department {
		title := kindTitle(u.Joint, u.Procedure) + ", by " + label(u.Value.Field)
		units[title]++
		if before := i - 1; before < 0 || a.Department[before].Joint != u.Joint || a.Department[before].Procedure != u.Procedure || a.Department[before].Value.Field != u.Value.Field {
			t.Rows = append(t.Rows, row{Section: title})
		}
		note := ""
		if u.Alone > 0 {
			note = f.letter("revisions while nobody else of its age band was at risk tell nothing, and are left out of both numbers")
		}
		cells := []string{document.Word(u.Value.Word), count(u.Joints), number(u.Observed), expectedNumber(u.Expected)}
		if least, most, ok := u.Usual(); ok {
			t.Add(append(cells, fmt.Sprintf("%.0f–%.0f", least, most), decimals(u.Ratio, 2)+limits(decimals(u.Lower, 2), decimals(u.Upper, 2)),
				decimals(u.Others, 2)+limits(decimals(u.Least, 2), decimals(u.Most, 2)), note)...)
		} else {
			t.Add(append(cells, "—", "—", "—", note)...)
		}
	}
	p.table(t, f)
	for _, n := range units {
		if n < fewestUnits {
			p.paragraph("With fewer than ten units one unit's excess is the others' deficit: where one truly differs, another is outside what is usual in a third of such departments.")
			break
		}
	}
	p.paragraph("A unit's own joints draw what is expected of it towards its own: with a quarter of the revisions expected, a true ratio of 2 to the others prints as 1.60; the ratio to the others undoes that.")
}
