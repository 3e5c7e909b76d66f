package text

import (
	"fmt"
	"io"
	"strings"

	"example.org/holdfast/cohort"
)

// Check writes how tables were understood: their headings and words, the rows
// set aside or warned about, and how complete each column is. It has no
// identifying value: of columns that identify patients it tells only how
// complete they are. Errors are those of the writer.
func Check(w io.Writer, c *cohort.Cohort, o Options) error {
	p := newPage(o)
	p.checkRead(c)
	for i := range c.Files {
		p.checkHeadings(c, i)
	}
	p.checkWords(c)
	p.checkRows(c, "Rows set aside", "Every row has a reason; none is lost.", c.SetAside())
	p.checkRows(c, "Rows used, with a warning", "", c.Warnings())
	return p.writeTo(w)
}

// checkRead says what was read.
func (p *page) checkRead(c *cohort.Cohort) {
	p.heading(1, "What was read")
	a := c.Account
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
		if f.HeadingRow > 0 {
			s += fmt.Sprintf(", headings in row %d", f.HeadingRow)
		}
		facts = append(facts, s+".")
		for _, n := range f.Notes {
			facts = append(facts, capital(n)+".")
		}
		for _, d := range f.DateOrders {
			switch d.From {
			case "":
				facts = append(facts, fmt.Sprintf("Dates in %s read %s, as asked.", d.Column, d.Order))
			case d.Column:
				facts = append(facts, fmt.Sprintf("Dates in %s read %s: a part above 12 shows it.", d.Column, d.Order))
			default:
				facts = append(facts, fmt.Sprintf("Dates in %s read %s, as in %s; they could be either.", d.Column, d.Order, d.From))
			}
		}
	}
	facts = append(facts, checkClosing(c), checkDeaths(c))
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
	if d.Asked {
		return fmt.Sprintf("Closing date %s, as given.", d.Day)
	}
	s := fmt.Sprintf("Closing date %s: the latest date that is not in the future, from row %d, column %s", d.Day, d.Row, d.Column)
	if len(c.Files) > 1 {
		s += ", of " + c.Files[d.File].Name
	}
	if d.Doubtful() {
		s += fmt.Sprintf(". It stands %d days after the next latest, %s: is it a typing error?", d.GapDays, d.NextLatest)
		return s
	}
	return s + "."
}

func checkDeaths(c *cohort.Cohort) string {
	d := c.Deaths
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
		title += ": " + c.Files[file].Name
	}
	p.heading(1, title)
	t := &table{columns: []column{
		{title: "Heading", wraps: true}, {title: "Taken for", wraps: true}, {title: "How", wraps: true},
		{title: "Filled", align: right}, {title: "Filled, %", align: decimal},
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
		t.add(heading, taken, how, filled, share)
	}
	p.table(t, nil)
}

// mostWords is how many different words of one column are listed.
const mostWords = 40

// checkWords says what each word was taken for, those not understood first.
func (p *page) checkWords(c *cohort.Cohort) {
	p.heading(1, "Words")
	p.paragraph("What the words of each column were taken for. A word that is not known is kept as typed, as a group of its own.")
	f := newFootnotes()
	t := &table{columns: []column{{title: "As typed", wraps: true}, {title: "Taken for", wraps: true}, {title: "Rows", align: right}}}
	for _, column := range c.Words() {
		t.section(label(column.Column))
		var known, unknown []cohort.Word
		for _, w := range column.Words {
			if w.Known {
				known = append(known, w)
			} else {
				unknown = append(unknown, w)
			}
		}
		listed := append(unknown, known...)
		for _, w := range listed[:min(mostWords, len(listed))] {
			taken := w.Value
			if !w.Known {
				taken += " " + f.letter("not known: kept as typed")
			}
			t.add(w.Typed, taken, count(w.Rows))
		}
		if more := len(listed) - mostWords; more > 0 {
			rows := 0
			for _, w := range listed[mostWords:] {
				rows += w.Rows
			}
			t.add(fmt.Sprintf("and %s more", count(more)), "", count(rows))
		}
	}
	p.table(t, f)
}

// mostRows is how many rows of one reason are listed.
const mostRows = 200

// checkRows lists problems by reason, then file and row.
func (p *page) checkRows(c *cohort.Cohort, title, remark string, problems []cohort.Problem) {
	p.heading(1, title)
	if len(problems) == 0 {
		p.paragraph("None.")
		return
	}
	p.paragraph(remark)
	byReason := make(map[cohort.Reason][]cohort.Problem)
	var order []cohort.Reason
	for _, r := range problems {
		if len(byReason[r.Reason]) == 0 {
			order = append(order, r.Reason)
		}
		byReason[r.Reason] = append(byReason[r.Reason], r)
	}
	t := &table{columns: []column{{title: "Row", align: right}, {title: "Column"}, {title: "What", wraps: true}, {title: "Table", wraps: true}}}
	for _, reason := range order {
		list := byReason[reason]
		t.section(capital(reason.String()) + ": " + few(len(list), "row", "rows"))
		for _, r := range list[:min(mostRows, len(list))] {
			what, name := "", ""
			if r.Of > 0 {
				what = c.Describe(r)
			}
			if len(c.Files) > 1 {
				name = c.Files[r.File].Name
			}
			t.add(count(r.Row), r.Column, what, name)
		}
		if more := len(list) - mostRows; more > 0 {
			t.add("…", "", fmt.Sprintf("and %s more; holdfast audit --set-aside FILE lists every row set aside", count(more)), "")
		}
	}
	p.table(t, nil)
}
