package report

import (
	"fmt"
	"strings"

	"example.org/holdfast/cmd/holdfast/internal/document"
	"example.org/holdfast/cohort"
)

// Check is a page to work from: what was read, every problem under what is
// to be done about it, what settling it otherwise would change, the words and
// headings that were not understood, how complete the columns are, and how long
// the joints were followed. It has no identifying value: of columns that
// identify patients it tells only how complete they are. Errors are of columns
// with too many values.
func Check(c *cohort.Cohort) (*document.Document, error) {
	p := new(page)
	p.checkRead(c)
	p.checkToDo(c)
	if err := p.checkEffects(c); err != nil {
		return nil, err
	}
	p.checkSettle(c)
	for i := range c.Files {
		p.checkHeadings(c, i)
	}
	p.checkYears(c)
	if err := p.checkFollowUp(c); err != nil {
		return nil, err
	}
	p.checkWords(c)
	return &p.Document, nil
}

// checkRead says what was read.
func (p *page) checkRead(c *cohort.Cohort) {
	p.heading(1, "What was read")
	a := c.Account()
	p.paragraph(fmt.Sprintf("%s read = %s used + %s set aside.", few(a.Read, "row", "rows"), count(a.Used), count(a.SetAside)))
	var facts []string
	if len(c.Scope) > 0 {
		facts = append(facts, fmt.Sprintf("In scope: %s; %s of %s in the table.", conditions(c.Scope), few(a.Read, "row", "rows"), count(a.InFiles)))
	}
	if len(c.Assumed) > 0 {
		facts = append(facts, "Assumed: "+conditions(c.Assumed)+".")
	}
	for _, f := range c.Files {
		s := f.Name + ": " + f.Format + ", " + few(f.Rows, "row", "rows")
		if f.Holds == "revisions" || f.Holds == "deaths" {
			s += " of " + f.Holds
		}
		if f.HeadingRow > 0 {
			s += fmt.Sprintf(", headings in row %d", f.HeadingRow)
		}
		facts = append(facts, s+".")
		of := ""
		if len(c.Files) > 1 {
			of = " of " + f.Title()
		}
		for _, n := range f.Notes {
			if of != "" {
				facts = append(facts, f.Title()+": "+n+".")
			} else {
				facts = append(facts, capital(n)+".")
			}
		}
		for _, d := range f.DateOrders {
			switch d.From {
			case "":
				facts = append(facts, fmt.Sprintf("Dates in %s%s read %s, as asked.", d.Column, of, d.Order))
			case d.Column:
				facts = append(facts, fmt.Sprintf("Dates in %s%s read %s: a part above 12 shows it.", d.Column, of, d.Order))
			default:
				facts = append(facts, fmt.Sprintf("Dates in %s%s read %s, as in %s; they could be either.", d.Column, of, d.Order, d.From))
			}
		}
	}
	if s := sheetsNotRead(c.Files); s != "" {
		facts = append(facts, s)
	}
	facts = append(facts, checkClosing(c), checkDeaths(c))
	if s := checkRevisions(c); s != "" {
		facts = append(facts, s)
	}
	if d := c.DeathList(); d.Patients+d.Unusable > 0 {
		s := fmt.Sprintf("List of deaths: %s, of whom %s in the table", few(d.Patients, "patient", "patients"), count(d.Joined))
		if d.CompleteTo != nil {
			s += ", complete to " + d.CompleteTo.String()
		}
		if d.Unusable > 0 {
			s += "; " + few(d.Unusable, "row has", "rows have") + " no patient or no possible date"
		}
		if d.Contradicting > 0 {
			s += "; " + few(d.Contradicting, "row gives", "rows give") + " a patient another day, and the earlier is used"
		}
		facts = append(facts, s+".")
	}
	if n := a.RevisedUndated; n > 0 {
		facts = append(facts, fmt.Sprintf("Revised on a day that is not known, so set aside: %s. Each makes every estimate too low.", few(n, "row", "rows")))
	}
	if n := a.PossibleRevisions; n > 0 {
		if n == 1 {
			facts = append(facts, "1 joint stands in the table again in a later row, which is set aside and may be its revision.")
		} else {
			facts = append(facts, count(n)+" joints stand in the table again in later rows, which are set aside and may be their revisions.")
		}
	}
	p.bullets(facts)
}

func checkClosing(c *cohort.Cohort) string {
	d := c.Closing
	switch {
	case d.DeathsEnd:
		return fmt.Sprintf("Follow-up ends on %s, the day up to which deaths are known.", d.Day)
	case d.Asked:
		return fmt.Sprintf("Closing date %s, as given.", d.Day)
	}
	s := fmt.Sprintf("Closing date %s: the latest date that is not in the future, from row %d, column %s", d.Day, d.Row, d.Column)
	if cell := c.Cell(cohort.Problem{File: d.File, Row: d.Row, Column: d.Column}); cell != "" {
		s += " (" + cell + ")"
	}
	if len(c.Files) > 1 {
		s += ", of " + c.Files[d.File].Title()
	}
	if d.Doubtful() {
		s += fmt.Sprintf(". It stands %d days after the next latest, %s: is it a typing error?", d.GapDays, d.NextLatest)
		return s
	}
	return s + "."
}

// checkRevisions says what became of the revisions recorded in rows of their
// own; nothing if there is none.
func checkRevisions(c *cohort.Cohort) string {
	joined, later, unjoined := 0, 0, 0
	for _, r := range c.Revisions() {
		switch r.Outcome {
		case cohort.RevisionJoined:
			joined++
		case cohort.RevisionLater:
			later++
		}
	}
	var why []string
	for _, r := range c.Account().Unjoined {
		unjoined += r.Rows
		what := r.Reason.String()
		if r.Reason == cohort.NotPrimary {
			what = "named by the procedure alone, or without a patient"
		}
		why = append(why, fmt.Sprintf("%s (%s)", what, count(r.Rows)))
	}
	if joined+later+unjoined == 0 {
		return ""
	}
	s := fmt.Sprintf("Revisions in rows of their own: %s, of which %s joined to their primaries", count(joined+later+unjoined), count(joined))
	if later > 0 {
		s += fmt.Sprintf(" and %s more of the same joints", count(later))
	}
	if unjoined > 0 {
		s += fmt.Sprintf("; %s not counted: %s", few(unjoined, "is", "are"), strings.Join(why, "; "))
	}
	s += "."
	if more := c.Account().UnjoinedJoints; more > 0 {
		s += fmt.Sprintf(" If each belonged to a joint in use, up to %s more would be revised.", few(more, "joint", "joints"))
	}
	return s
}

func checkDeaths(c *cohort.Cohort) string {
	d := c.Deaths()
	switch {
	case d.Recorded:
		return fmt.Sprintf("Deaths recorded: %s.", few(d.Used, "row", "rows"))
	case d.Column:
		return fmt.Sprintf("No row has a death, where about %.0f would be expected at these ages and follow-up: deaths count as not recorded.", d.Expected)
	}
	return "No column for deaths: they count as not recorded."
}

// checkHeadings says what each heading was taken for and how complete its
// column is.
func (p *page) checkHeadings(c *cohort.Cohort, file int) {
	title := "Headings and completeness"
	if len(c.Files) > 1 {
		title += ": " + c.Files[file].Title()
	}
	p.heading(1, title)
	t := &table{Columns: []column{
		{Title: "Heading", Wraps: true}, {Title: "Taken for", Wraps: true}, {Title: "How", Wraps: true},
		{Title: "Filled", Align: right}, {Title: "Filled, %", Align: decimal},
	}}
	for _, k := range c.Completeness() {
		if k.File != file {
			continue
		}
		taken, how := k.Heading.Column, k.Heading.How.String()
		if taken == "" {
			taken = "—"
		}
		if len(k.Heading.Between) > 0 {
			how = "not clear: " + strings.Join(k.Heading.Between, " or ") + "?"
		}
		filled, share := "not read", ""
		if k.Counted {
			filled = count(k.Rows - k.Missing)
			if k.Rows > 0 {
				share = percent(float64(k.Rows-k.Missing) / float64(k.Rows))
			}
		}
		heading := k.Heading.Typed
		if heading == "" {
			heading = "(empty)"
		}
		t.Add(heading, taken, how, filled, share)
	}
	p.table(t, nil)
}
