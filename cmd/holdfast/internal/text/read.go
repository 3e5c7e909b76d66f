package text

import (
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// read says what was read and what was set aside.
func (p *page) read(a *audit.Audit) {
	p.heading(1, "What was read and set aside")
	notes := a.Notes
	first := []string{account(a)}
	if a.Account.RevisedUndated > 0 && len(notes) > 0 {
		// The audit's first note is then about these rows.
		first = append(first, notes[0])
		notes = notes[1:]
	}
	p.paragraph(first...)
	for _, n := range notes {
		p.paragraph(n)
	}
	for i, f := range a.Files {
		p.preamble(f, len(a.Files) > 1, i)
	}
	p.scope(a)
	p.reasons("Revisions in rows of their own", a.Revisions)
	p.reasons("Set aside because", a.Account.Reasons)
	p.reasons("Used, with a warning", a.Account.Warnings)
	var facts []string
	facts = append(facts, closingDate(a), deaths(a))
	for _, f := range a.Files {
		facts = append(facts, understood(f, len(a.Files) > 1))
	}
	p.bullets(facts)
	p.paragraph("How each heading and word was understood, words not understood, and every row set aside or warned about: holdfast check " + checkWhat(a) + ".")
}

// account is the sentence that accounts for every row.
func account(a *audit.Audit) string {
	c := a.Account
	var names []string
	for _, f := range a.Files {
		if f.Holds == "primaries" || f.Holds == "" {
			names = append(names, f.Name)
		}
	}
	s := list(names) + ": "
	if c.InFiles != c.Read {
		s += few(c.InFiles, "row", "rows") + ", of which " + count(c.Read) + " in scope. "
	}
	s += fmt.Sprintf("%s read = %s used + %s set aside", few(c.Read, "row", "rows"), count(c.Used), count(c.SetAside))
	if c.SetAside > 0 && c.RevisedUndated == 0 {
		s += ", none of them revised without a date"
	}
	return s + "."
}

// longestPreamble is how much of a table's own first lines is shown.
const longestPreamble = 200

// preamble shows the first two comment lines of a table.
func (p *page) preamble(f cohort.File, several bool, _ int) {
	var lines []string
	for _, line := range f.Preamble {
		if line = clean(line); line != "" && len(lines) < 2 {
			lines = append(lines, line)
		}
	}
	if len(lines) == 0 {
		return
	}
	who := "The table says of itself"
	if several {
		who = f.Name + " says of itself"
	}
	p.paragraph(who + ": “" + cut(strings.Join(lines, " "), longestPreamble) + "”")
}

// scope says which rows were asked for and what was assumed of them.
func (p *page) scope(a *audit.Audit) {
	var s []string
	if len(a.Scope) > 0 {
		s = append(s, "In scope: "+conditions(a.Scope)+".")
	}
	if len(a.Assumed) > 0 {
		s = append(s, "Assumed of every row that does not say otherwise: "+conditions(a.Assumed)+".")
	}
	p.paragraph(s...)
}

// conditions writes "joint = hip; surgeon = A or B".
func conditions(all []cohort.Condition) string {
	var columns, parts []string
	values := make(map[string][]string)
	for _, c := range all {
		if !slices.Contains(columns, c.Column) {
			columns = append(columns, c.Column)
		}
		values[c.Column] = append(values[c.Column], c.Value)
	}
	for _, c := range columns {
		parts = append(parts, label(c)+" = "+strings.Join(values[c], " or "))
	}
	return strings.Join(parts, "; ")
}

func (p *page) reasons(title string, counts []cohort.ReasonCount) {
	t := &table{columns: []column{{title: "Rows", align: right}, {title: title, wraps: true}}}
	for _, r := range counts {
		t.add(count(r.Rows), r.Reason.String())
	}
	p.table(t, nil)
}

func closingDate(a *audit.Audit) string {
	c := a.Closing
	if c.Asked {
		return fmt.Sprintf("Closing date %s, as given: follow-up is taken as complete up to it.", c.Day)
	}
	where := fmt.Sprintf("row %d, column %s", c.Row, c.Column)
	if len(a.Files) > 1 && c.File < len(a.Files) {
		where += " of " + a.Files[c.File].Name
	}
	s := fmt.Sprintf("Closing date %s, the latest date found (%s)", c.Day, where)
	if c.GapDays > 0 {
		s += fmt.Sprintf("; the next latest is %s", c.NextLatest)
	}
	return s + ". Give the day up to which follow-up is complete with --closing-date."
}

func deaths(a *audit.Audit) string {
	if !a.Deaths.Recorded {
		return "Deaths not recorded."
	}
	return fmt.Sprintf("Deaths recorded: %s of the %s rows used are of patients who have died.", count(a.Deaths.Used), count(a.Account.Used))
}

// understood says in one line how a table was understood.
func understood(f cohort.File, several bool) string {
	var s []string
	if several {
		holds := ""
		if f.Holds == "revisions" || f.Holds == "deaths" {
			holds = " of " + f.Holds
		}
		s = append(s, fmt.Sprintf("%s: %s%s", f.Name, few(f.Rows, "row", "rows"), holds))
	}
	if f.Format != "" {
		s = append(s, f.Format)
	}
	s = append(s, f.Notes...)
	s = append(s, headings(f))
	if d := dateOrders(f); d != "" {
		s = append(s, d)
	}
	return strings.Join(s, "; ") + "."
}

// headings says how many headings were matched, and how.
func headings(f cohort.File) string {
	n := make(map[cohort.HeadingMatch]int)
	for _, h := range f.Headings {
		n[h.How]++
	}
	s := []string{fmt.Sprintf("%d of %s matched by name", n[cohort.ByName], few(len(f.Headings), "heading", "headings"))}
	for _, how := range []struct {
		match cohort.HeadingMatch
		words string
	}{
		{cohort.ByVariant, "by a close variant"}, {cohort.BySettings, "by the settings"},
		{cohort.Unmatched, "kept under their own names"}, {cohort.LeftOut, "left out by the settings"},
		{cohort.OtherHeading, "not used, as another heading names the column"},
	} {
		if k := n[how.match]; k > 0 {
			s = append(s, fmt.Sprintf("%d %s", k, how.words))
		}
	}
	return strings.Join(s, ", ")
}

// dateOrders says in which order day and month were read; nothing where no date
// left it open.
func dateOrders(f cohort.File) string {
	var parts []string
	seen := make(map[string]bool)
	for _, o := range f.DateOrders {
		s := o.Order.String() + ", as given"
		if o.From != "" {
			s = o.Order.String() + ", settled by " + o.From
			if o.From != o.Column && !seen[s] && slices.ContainsFunc(f.DateOrders, func(x cohort.ColumnOrder) bool { return x.Column == o.From }) {
				continue // said with the column that settled it
			}
		}
		if !seen[s] {
			seen[s] = true
			parts = append(parts, s)
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "dates " + list(parts)
}

// checkWhat is what to hand to holdfast check.
func checkWhat(a *audit.Audit) string {
	if len(a.Files) == 1 {
		return a.Files[0].Name
	}
	return "TABLE..."
}
