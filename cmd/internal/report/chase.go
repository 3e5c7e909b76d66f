package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort"
)

// task is one thing to do about rows.
type task struct {
	instruction
	rows []cohort.Problem
	said string // what is the matter, where it is no reason of theirs
	// would is what settling them otherwise would make of an estimate; "" where
	// that is not known or nothing.
	would string
}

func (t *task) count() int { return allRows(t.rows) }

// allRows is how many rows some problems are of.
func allRows(all []cohort.Problem) int {
	n := 0
	for _, p := range all {
		n += p.Rows()
	}
	return n
}

// lines names the rows of a problem: "17", or "17–20".
func lines(p cohort.Problem) string {
	if p.Rows() == 1 {
		return strconv.Itoa(p.Row)
	}
	return fmt.Sprintf("%d–%d", p.Row, p.To)
}

// describe says what is the matter with one of the rows.
func (t *task) describe(c *cohort.Cohort, p cohort.Problem) string {
	if t.said != "" {
		return t.said
	}
	return c.Describe(p)
}

// tasks are what there is to do, in the order in which it is best worked
// through: the problems by their instructions, then what is not recorded.
func tasks(c *cohort.Cohort, effects []cohort.Effect) []task {
	all := problems(c)
	var out, nothing []task
	for len(all) > 0 {
		at, _ := instructionFor(all[0].Reason)
		n := 1
		for n < len(all) && slices.Contains(instructions[at].reasons, all[n].Reason) {
			n++
		}
		t := task{instruction: instructions[at], rows: all[:n]}
		t.would = would(t.rows, effects)
		if t.nothing {
			nothing = append(nothing, t)
		} else {
			out = append(out, t)
		}
		all = all[n:]
	}
	return slices.Concat(out, unrecorded(c), nothing)
}

// unrecorded are the joints in use that nobody has looked up, and those without a
// bearing or a fixation, for the tables that have such a column.
func unrecorded(c *cohort.Cohort) []task {
	var out []task
	if c.HasColumn("last_seen_date") {
		if rows := c.Unseen(); len(rows) > 0 {
			out = append(out, task{instruction: instruction{list: "unseen", do: "Look up whether the joint is in place", how: "Neither revised nor dead, and no day last seen: follow-up to the closing date is assumed. Fill in the day last seen, and the revision or the death if there was one."},
				said: "no day last seen: follow-up assumed", rows: rows})
		}
	}
	for _, field := range []string{"bearing", "fixation"} {
		if !slices.Contains(c.Fields(), field) {
			continue
		}
		rows, err := c.Unrecorded(field)
		if err != nil || len(rows) == 0 {
			continue // an error is of too many different values
		}
		out = append(out, task{instruction: instruction{list: "no-" + field, do: "Fill in the " + label(field), how: "Until then the joint is in no group by " + label(field) + "."},
			said: label(field) + " not recorded", rows: rows})
	}
	return out
}

// would says what an estimate would become if the problems of some rows were
// settled otherwise: of the joint and procedure whose estimate moves most, at the
// latest year within reach.
func would(rows []cohort.Problem, effects []cohort.Effect) string {
	has := func(e *cohort.Effect) bool {
		return slices.ContainsFunc(rows, func(p cohort.Problem) bool { return slices.Contains(e.Reasons, p.Reason) })
	}
	most, said := 0.0, ""
	for i := range effects {
		e := &effects[i]
		at := within(*e)
		if !has(e) || len(at) == 0 {
			continue
		}
		now := e.At[at[len(at)-1]]
		for _, then := range []float64{now.Low, now.High} {
			moves := math.Abs(then - now.Now)
			if math.IsNaN(then) || now.AtRiskThen < fewestAtRisk || said != "" && moves <= most {
				continue
			}
			to := percent(now.Low)
			if high := percent(now.High); high != to {
				to = "between " + to + " and " + high
			}
			most, said = moves, fmt.Sprintf("%s %s to %s at %s", kindOf(e.Joint, e.Procedure), percent(now.Now), to, inYears(now.Years))
			if percent(then) == percent(now.Now) {
				said = "less than 0.1 points"
			}
		}
	}
	return said
}

// kindOf is a joint and procedure in a sentence: "hip", "unicompartmental knee".
func kindOf(joint, procedure string) string {
	switch procedure {
	case "total", cohort.NotRecorded:
		return joint
	}
	return procedure + " " + joint
}

// chase lists what to do about rows, a line each.
func (k *checking) chase() {
	t := &table{Columns: []column{{Title: "Rows", Align: right}, {Title: "What to do", Wraps: true, Least: 24}, {Title: "Which", Wraps: true, Least: 14},
		{Title: "Could change, % revised", Wraps: true, Least: 18}, {Title: "--list", Least: len("contradictions")}}}
	for i := range k.tasks {
		if x := &k.tasks[i]; !x.nothing {
			t.Add(count(x.count()), x.do, which(k.c, x.rows), x.would, x.list)
		}
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

// whichOf names so many of some rows.
func whichOf(c *cohort.Cohort, rows []cohort.Problem, most int) string {
	var named []string
	for _, r := range rows[:min(most, len(rows))] {
		s := lines(r)
		if f := c.Files[r.File]; len(c.Files) > 1 {
			of := f.Name
			if f.Sheet != "" {
				of = f.Sheet
			}
			s += " of " + of
		}
		named = append(named, s)
	}
	if len(rows) > most {
		named = append(named, "…")
	}
	return strings.Join(named, ", ")
}

// task lists the rows of a task by reason, so many of each.
func (p *page) task(c *cohort.Cohort, x task, most int) {
	p.heading(2, x.do)
	p.paragraph(x.how)
	if x.nothing {
		most = min(most, mostRight)
	}
	t := &table{Columns: []column{{Title: "Row", Align: right}, {Title: "Cell", Wraps: true}, {Title: "Column"}, {Title: "What", Wraps: true}, {Title: "Table", Wraps: true}}}
	for rows := x.rows; len(rows) > 0; {
		n := 1
		for n < len(rows) && rows[n].Reason == rows[0].Reason {
			n++
		}
		title := x.said
		if title == "" {
			title = rows[0].Reason.String()
		}
		t.Section(capital(title) + ": " + few(allRows(rows[:n]), "row", "rows"))
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
		if more := allRows(rows[min(most, n):n]); more > 0 {
			t.Add("…", "", "", fmt.Sprintf("and %s more: --list %s, or --format csv", count(more), x.list), "")
		}
		rows = rows[n:]
	}
	p.table(t, nil)
}
