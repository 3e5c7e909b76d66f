package report

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
)

// lines names the rows of a problem: "17", or "17–20".
func lines(p cohort.Problem) string {
	if p.Rows() == 1 {
		return strconv.Itoa(p.Row)
	}
	return fmt.Sprintf("%d–%d", p.Row, p.To)
}

// would says what the estimates would become if a problem were settled otherwise, of each joint
// and procedure at its headline's year; "" where that is not known or nothing.
func would(d *gather.Doubt) string {
	if d == nil {
		return ""
	}
	var said []string
	last, none := "", ""
	for _, x := range d.Would {
		now, to, high := percent(x.Now), percent(x.Low), percent(x.High)
		switch {
		case high == to:
		case slices.Contains(d.Reasons, cohort.LostToFollowUp): // none to all of them revised
			now, to = to, high
		default:
			to = "between " + to + " and " + high
		}
		when := " at " + inYears(x.Years)
		switch {
		case to == "":
			continue
		case to == now && (none == "" || none == when):
			none = when
			continue
		case to == now:
			none = " at those years"
			continue
		}
		if when == last {
			said[len(said)-1] = strings.TrimSuffix(said[len(said)-1], when)
		}
		last = when
		said = append(said, fmt.Sprintf("%s %s to %s%s", kindOf(x.Joint, x.Procedure), now, to, when))
	}
	switch {
	case said != nil:
		return supposed(d.Supposed) + ": " + strings.Join(said, ", ")
	case none != "":
		return "less than 0.1 points" + none
	case d.Would != nil:
		return "not known"
	}
	return ""
}

// supposed is the other way to settle a problem, as it stands in a sentence.
func supposed(s string) string {
	if before, after, ok := strings.Cut(s, ": "); ok {
		return before + " (" + after + ")"
	}
	return s
}

// kindOf is a joint and procedure in a sentence: "hip", "unicompartmental knee".
func kindOf(joint, procedure string) string {
	switch {
	case joint == cohort.NotRecorded && procedure == cohort.NotRecorded:
		return "joint not recorded"
	case joint == cohort.NotRecorded:
		return procedure + " (joint not recorded)"
	case procedure == "total", procedure == cohort.NotRecorded:
		return joint
	}
	return procedure + " " + joint
}

// chase lists what to do about rows, a line each.
func (k *checking) chase() {
	t := &table{Columns: []column{{Title: "Rows", Align: right}, {Title: "What to do", Wraps: true, Least: 24}, {Title: "Which", Wraps: true, Least: 14},
		{Title: "Could change, % revised", Wraps: true, Least: 36}, {Title: "--list", Least: len("contradictions")}}}
	for _, x := range gather.ToDo(k.Tasks) {
		t.Add(count(x.Count()), x.Do, which(k.Cohort, x.Rows), would(x.Doubt), x.List)
	}
	if len(t.Rows) == 0 {
		return
	}
	k.heading(3, "ROWS TO CHASE")
	k.table(t, nil)
}

// mostNamed is how many rows are named where others stand in a list.
const mostNamed = 5

// which names the first of some rows.
func which(c *cohort.Cohort, rows []cohort.Problem) string { return whichOf(c, rows, mostNamed) }

// whichOf names so many of some rows, the first of their tables, each table once.
func whichOf(c *cohort.Cohort, rows []cohort.Problem, most int) string {
	var first []cohort.Problem // of all, in order
	for _, r := range rows {
		at, _ := slices.BinarySearchFunc(first, r, func(a, b cohort.Problem) int {
			return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Row, b.Row))
		})
		if at == most {
			continue
		}
		first = slices.Insert(first, at, r)
		first = first[:min(most, len(first))]
	}
	var named []string
	for i, r := range first {
		named = append(named, lines(r))
		last := i+1 == len(first)
		if last && len(rows) > most {
			named = append(named, "…")
		}
		if f := c.Files[r.File]; len(c.Files) > 1 && (last || first[i+1].File != r.File) {
			named[len(named)-1] += " of " + cmp.Or(f.Sheet, f.Name)
		}
	}
	return strings.Join(named, ", ")
}

// task lists the rows of a task by reason, so many of each.
func (p *page) task(c *cohort.Cohort, x *gather.Task, most int) {
	p.heading(2, x.Do)
	p.paragraph(x.How)
	if x.Nothing {
		most = min(most, mostRight)
	}
	t := &table{Columns: []column{{Title: "Row", Align: right}, {Title: "Cell", Wraps: true}, {Title: "Column"}, {Title: "What", Wraps: true}, {Title: "Table", Wraps: true}}}
	for rows := x.Rows; len(rows) > 0; {
		n := 1
		for n < len(rows) && rows[n].Reason == rows[0].Reason {
			n++
		}
		t.Section(capital(x.Title(rows[0])) + ": " + few(gather.RowsOf(rows[:n]), "row", "rows"))
		for _, r := range rows[:min(most, n)] {
			what, name := "", ""
			if r.Of > 0 || r.At > 0 || r.Missing != "" {
				what = c.Describe(r)
			}
			if len(c.Files) > 1 {
				name = c.Files[r.File].Title()
			}
			t.Add(lines(r), c.Cell(r), r.Column, what, name)
		}
		if more := gather.RowsOf(rows[min(most, n):n]); more > 0 {
			t.Add("…", "", "", fmt.Sprintf("and %s more: --list %s, or --format csv", count(more), x.List), "")
		}
		rows = rows[n:]
	}
	p.table(t, nil)
}
