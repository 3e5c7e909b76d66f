package report

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"example.org/holdfast/cohort"
)

// mostWords is how many different words of one column are listed.
const mostWords = 40

// TOML is a text in the quotation marks of a settings file.
func TOML(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r > 0xffff && !unicode.IsGraphic(r):
			fmt.Fprintf(&b, `\U%08X`, r)
		case !unicode.IsGraphic(r):
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String() + `"`
}

// settling is the line of a settings file that says what a word or a heading
// stands for, as far as it is known: the rest is to be filled in.
func settling(typed string) string { return TOML(typed) + ` = "…"` }

// checkSettle lists the words and headings that were not understood, each with
// the line of a settings file that settles it, and the columns that are
// missing.
func (p *page) checkSettle(c *cohort.Cohort) {
	p.heading(1, "Words and headings to settle")
	p.paragraph("What is settled in a settings file (--settings FILE; --write-settings FILE proposes one) holds for every later year's table.")
	p.unknownWords(c)
	p.nameQuestions(c)
	p.unknownHeadings(c)
	p.lacking(c)
}

func (p *page) unknownWords(c *cohort.Cohort) {
	p.heading(2, "Words that are not understood")
	t := &table{Columns: []column{{Title: "As typed", Wraps: true, Least: 8}, {Title: "Rows", Align: right}, {Title: "In the settings file", Wraps: true, Least: 20}}}
	var forms []string
	for _, column := range c.Words() {
		var unknown []cohort.Word
		for _, w := range column.Words {
			if !w.Known {
				unknown = append(unknown, w)
			}
		}
		if len(unknown) == 0 {
			continue
		}
		t.Section(fmt.Sprintf("%s: under [words.%s]; %s", capital(label(column.Column)), column.Column, cohort.Until(column.Column)))
		for _, w := range unknown[:min(mostWords, len(unknown))] {
			line := settling(w.Typed)
			if w.FreeText() {
				line = "not shown: it may be about a patient"
			}
			t.Add(w.Typed, count(w.Rows), line)
		}
		if more := len(unknown) - mostWords; more > 0 {
			t.Add(fmt.Sprintf("and %s more", count(more)), "", "")
		}
		for _, k := range cohort.Columns() {
			if k.Name == column.Column {
				forms = append(forms, capital(label(k.Name))+" — "+k.Description+".")
			}
		}
	}
	if len(t.Rows) == 0 {
		p.paragraph("None.")
		return
	}
	p.paragraph("Put what each stands for in the place of the dots.")
	p.table(t, nil)
	p.paragraph("What a word can stand for:")
	p.bullets(forms)
}

// SettleName is the line of a settings file by which a name stands for another;
// where there are several to choose from, they are to be filled in.
func SettleName(q cohort.NameQuestion) string {
	if len(q.MayBe) == 1 {
		return TOML(q.Name) + " = " + TOML(q.MayBe[0].Value)
	}
	return settling(q.Name)
}

// nameQuestions asks which names of surgeons and hospitals are one. Nothing is
// said where none may be.
func (p *page) nameQuestions(c *cohort.Cohort) {
	asked := c.NameQuestions()
	if len(asked) == 0 {
		return
	}
	p.heading(2, "Names that may be one")
	p.paragraph("Case, punctuation and titles make no difference. Two names of one surgeon or hospital make two groups, each too small, until the settings file says that one stands for the other; a name that stands for itself is not asked about again.")
	t := &table{Columns: []column{{Title: "Name", Wraps: true, Least: 8}, {Title: "Rows", Align: right}, {Title: "May be", Wraps: true, Least: 8}, {Title: "In the settings file", Wraps: true, Least: 20}}}
	section := ""
	for i, q := range asked {
		if i == mostWords {
			t.Add(fmt.Sprintf("and %s more", count(len(asked)-mostWords)), "", "", "")
			break
		}
		if q.Column != section {
			section = q.Column
			t.Section(fmt.Sprintf("%s: under [words.%s]", capital(label(section)), section))
		}
		var others []string
		for _, w := range q.MayBe[:min(5, len(q.MayBe))] {
			others = append(others, fmt.Sprintf("%s (%s)", w.Value, few(w.Rows, "row", "rows")))
		}
		if more := len(q.MayBe) - len(others); more > 0 {
			others = append(others, fmt.Sprintf("%s more", count(more)))
		}
		t.Add(q.Name, count(q.Rows), strings.Join(others, ", "), SettleName(q))
	}
	p.table(t, nil)
}

// HeadingNotShown is what stands for a heading that may be about a patient.
const HeadingNotShown = "(heading not shown)"

// Evidence is what stands under a heading that is not understood: the commonest
// values with their rows, or what they look like where they may be about
// patients. "" says nothing.
func Evidence(v cohort.CommonValues) string {
	switch v.Looks {
	case "":
	case "dates", "long numbers", "free text":
		return "looks like " + v.Looks
	default:
		return v.Looks
	}
	var values []string
	for _, w := range v.Values {
		values = append(values, fmt.Sprintf("%s (%s)", w.Typed, count(w.Rows)))
	}
	return strings.Join(values, ", ")
}

func (p *page) unknownHeadings(c *cohort.Cohort) {
	p.heading(2, "Headings that are not understood")
	type place struct {
		file    int
		heading string
	}
	values := make(map[place]string)
	for _, v := range c.CommonValues() {
		values[place{v.File, v.Heading.Typed}] = Evidence(v)
	}
	t := &table{Columns: []column{{Title: "Heading", Wraps: true}, {Title: "What", Wraps: true}, {Title: "Commonest values", Wraps: true, Least: 16}, {Title: "In the settings file", Wraps: true, Least: 20}, {Title: "Table", Wraps: true}}}
	more := 0
	for i, f := range c.Files {
		name := ""
		if len(c.Files) > 1 {
			name = f.Title()
		}
		for _, h := range f.Headings {
			what := h.How.String()
			switch {
			case len(h.Between) > 0:
				what = "not clear: " + strings.Join(h.Between, " or ") + "?"
			case h.How != cohort.Unmatched || h.Typed == "":
				continue
			}
			if len(t.Rows) == mostWords {
				more++
				continue
			}
			line := settling(h.Typed)
			if h.Typed == HeadingNotShown {
				line = "it may be about a patient"
			}
			t.Add(h.Typed, what, values[place{i, h.Typed}], line, name)
		}
	}
	if len(t.Rows) == 0 {
		p.paragraph("None.")
		return
	}
	if more > 0 {
		t.Add(fmt.Sprintf("and %s more", count(more)), "", "", "", "")
	}
	p.paragraph("A column of one's own is no mistake: it is kept under its heading. If one of these is a column of the outcomes table (holdfast template lists them), put that column's name in the place of the dots, under [columns].")
	p.table(t, nil)
}

// without says what is lost without a column. Those of one line are had if the
// table has any.
var without = []struct {
	columns []string
	lost    string
}{
	{[]string{"joint"}, "hips and knees are told apart only where the procedure says so"},
	{[]string{"patient"}, "patients are not counted, a joint that stands in the table twice is not found, and nothing can be joined"},
	{[]string{"side"}, "a joint that stands in the table twice can't be told from the patient's other one"},
	{[]string{"death_date", "dead"}, "the unknown dead stay at risk, so that both estimates come out too low"},
	{[]string{"last_seen_date"}, "every joint is taken as followed to the closing date: one that is lost to follow-up is not noticed, and its revision is not known of"},
	{[]string{"revised"}, "a joint that was revised on a day nobody wrote down counts as not revised"},
	{[]string{"revision_reason"}, "nothing can be said by reason for revision"},
	{[]string{"procedure"}, "total replacements are not told from other procedures, nor a row that is a revision from a primary"},
	{[]string{"bearing"}, "no estimates by bearing, and no published figures of one bearing"},
	{[]string{"fixation"}, "no estimates by fixation"},
	{[]string{"age"}, "no estimates by age band, and how many deaths are to be expected is guessed"},
	{[]string{"sex"}, "no estimates by sex"},
}

func (p *page) lacking(c *cohort.Cohort) {
	p.heading(2, "Columns that are missing")
	t := &table{Columns: []column{{Title: "Column", Wraps: true, Least: 15}, {Title: "Without it", Wraps: true}}}
	for _, w := range without {
		has := slices.ContainsFunc(w.columns, c.HasColumn)
		if w.columns[0] == "death_date" {
			has = has || c.Deaths().Column
		}
		if !has {
			t.Add(strings.Join(w.columns, " or "), w.lost)
		}
	}
	if len(t.Rows) == 0 {
		p.paragraph("None of those that matter for the audit.")
		return
	}
	p.table(t, nil)
}

// checkWords says what each word was taken for that was understood.
func (p *page) checkWords(c *cohort.Cohort) {
	p.heading(1, "Words that are understood")
	f := newFootnotes()
	t := &table{Columns: []column{{Title: "As typed", Wraps: true, Least: 8}, {Title: "Taken for", Wraps: true, Least: 9}, {Title: "Rows", Align: right}}}
	for _, column := range c.Words() {
		var known []cohort.Word
		for _, w := range column.Words {
			if w.Known {
				known = append(known, w)
			}
		}
		if len(known) == 0 {
			continue
		}
		t.Section(capital(label(column.Column)))
		for _, w := range known[:min(mostWords, len(known))] {
			taken := w.Value
			if w.BySettings {
				taken += " " + f.letter("by the settings")
			}
			t.Add(w.Typed, taken, count(w.Rows))
		}
		if len(known) > mostWords {
			rows := 0
			for _, w := range known[mostWords:] {
				rows += w.Rows
			}
			t.Add(fmt.Sprintf("and %s more", count(len(known)-mostWords)), "", count(rows))
		}
	}
	if len(t.Rows) == 0 {
		p.paragraph("The table has no column of words.")
	}
	p.table(t, f)
}
