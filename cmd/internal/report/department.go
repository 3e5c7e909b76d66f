package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/figure"
)

// department writes units beside what is expected of them from their own
// department.
func (p *page) department(a *audit.Audit) {
	if len(a.Department) == 0 {
		return
	}
	p.heading(2, "Units beside their own department")
	p.units(a.Department)
}

// units lists units of one department, with what is said of them.
func (p *page) units(all []*audit.Unit) {
	p.paragraph("Expected: the revisions that a unit's joints would have, had they been revised as all the department's of their "+withinWords(all)+" were, its own among them; so that the expected add up to the observed.",
		"Usual: what chance alone gives in 95 of 100 departments with as many revisions. Units stand in alphabetical order, and differ in who their patients are. It is not read as above or below.")
	f := newFootnotes()
	t := &table{Columns: []column{{Title: "Unit", Wraps: true}, {Title: "Joints", Align: right}, {Title: "Observed", Align: right}, {Title: "Expected", Align: decimal}, {Title: "Usual", Align: right},
		{Title: "Observed ÷ expected", Align: decimal}, {Title: "To the others", Align: decimal}, {Title: "Drawn to all", Align: decimal}, {Title: "Twice would show, of 100", Align: right, Wraps: true, Least: 8}, {}}}
	fewest := 0
	for i, u := range all {
		title := kindTitle(u.Joint, u.Procedure) + ", by " + label(u.Value.Field)
		if i == 0 || title != kindTitle(all[i-1].Joint, all[i-1].Procedure)+", by "+label(all[i-1].Value.Field) {
			t.Rows = append(t.Rows, row{Section: title})
			n := unitsLike(all, u)
			if fewest == 0 || n < fewest {
				fewest = n
			}
		}
		note := ""
		if u.Alone > 0 {
			note = f.mark("revisions while nobody else of its stratum was at risk tell nothing, and are left out of both numbers")
		}
		cells := []string{document.Word(u.Value.Word), count(u.Joints), number(u.Observed), expectedNumber(u.Expected)}
		if least, most, ok := u.Usual(); ok {
			ratios := []string{unitRatio(u, u.Ratio, u.Lower, u.Upper), unitRatio(u, u.Others, u.Least, u.Most), unitRatio(u, u.Drawn.Ratio, u.Drawn.Lower, u.Drawn.Upper)}
			if slices.Contains(ratios, "—") {
				f.sign("—", fmt.Sprintf("no ratio: fewer than %d revisions in the department, or fewer than three units to draw one towards", audit.FewestForRatio))
			}
			t.Add(slices.Concat(cells, []string{fmt.Sprintf("%.0f–%.0f", least, most)}, ratios, []string{fmt.Sprintf("%.0f", 100*u.Finds(2)), note})...)
		} else {
			t.Add(append(cells, "—", "—", "—", "—", "—", note)...)
		}
	}
	p.table(t, f)
	if fewest < figure.FewestNotDeficit {
		p.paragraph("With fewer than ten units one unit's excess is the others' deficit: where one truly differs, another is outside what is usual in a third of such departments.")
	}
	p.paragraph("To the others: undoes that a unit's own joints draw what is expected of it towards its own; with a quarter of the revisions expected, a true ratio of 2 stands as 1.60 without it.",
		"Drawn to all: towards the ratio of all units, the more the fewer revisions it rests on; from three units on. Its limits take counts for Poisson though they share one sum, and hold in 95 to 100 of 100, simulated with 3, 6 and 20 units.",
		"Twice would show: how many of 100 units of this size, truly revised at twice the others' rate, would have more than is usual. Where that is few, a usual number says little.")
}

// withinWords are the fields within which revisions are expected of units.
func withinWords(all []*audit.Unit) string {
	var said []string
	for _, u := range all {
		if s := list(append([]string{"joint", "procedure"}, labels(u.Within)...)); !slices.Contains(said, s) {
			said = append(said, s)
		}
	}
	if len(said) == 1 {
		return said[0]
	}
	return strings.Join(said, ", or ") + " (as far as each stratum with a revision has joints of three units)"
}

// unitsLike counts the units of a joint, procedure and field.
func unitsLike(all []*audit.Unit, like *audit.Unit) int {
	n := 0
	for _, u := range all {
		if u.Joint == like.Joint && u.Procedure == like.Procedure && u.Value.Field == like.Value.Field {
			n++
		}
	}
	return n
}

// unitRatio writes one of a unit's ratios with its limits; a dash where there is none, or
// where the department has too few revisions for one to be worth saying.
func unitRatio(u *audit.Unit, ratio, lower, upper float64) string {
	switch {
	case math.IsNaN(ratio) || math.IsInf(ratio, 1) || !u.Shown():
		return "—"
	case math.IsInf(upper, 1):
		return decimals(ratio, 2) + " (from " + decimals(lower, 2) + ")"
	}
	return decimals(ratio, 2) + " (" + decimals(lower, 2) + "–" + decimals(upper, 2) + ")"
}
