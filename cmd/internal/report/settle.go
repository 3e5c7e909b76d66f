package report

import (
	"fmt"
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

// unknownWords lists the words that were not understood, each with the line of a
// settings file that settles it.
func (k *checking) unknownWords(c *cohort.Cohort) {
	p := k.page
	p.heading(1, "Words that are not understood")
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
				line = "not shown, since it may be about a patient; see " + k.firstRow(w)
			}
			t.Add(w.Typed, count(w.Rows), line)
		}
		if more := len(unknown) - mostWords; more > 0 {
			t.Add(fmt.Sprintf("and %s more", count(more)), "", "")
		}
		for _, known := range cohort.Columns() {
			if known.Name == column.Column {
				forms = append(forms, capital(label(known.Name))+" — "+known.Description+".")
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

// firstRow is where a word that is not shown can be seen.
func (k *checking) firstRow(w cohort.Word) string {
	return fmt.Sprintf("row %d%s", w.Row, ofTable(k.Cohort, w.File))
}

// Numbered says of a word that is not shown that it may be a code, and is told from
// other such words: "4 letters" for example, or "" for any other.
func Numbered(w cohort.Word) string {
	_, shape, ok := strings.Cut(strings.TrimSuffix(w.Typed, ")"), ": ")
	if !ok || !w.FreeText() {
		return ""
	}
	return shape
}

// SettleName is the line of a settings file by which a name stands for another;
// where there are several to choose from, or the other may be somebody else's, it is to
// be filled in.
func SettleName(q cohort.NameQuestion) string {
	if len(q.MayBe) == 1 && !q.Contested {
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
	p.heading(1, "Names that may be one")
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
	{[]string{"last_seen_date"}, "everybody not revised or dead counts as followed to the closing date, and a revision done elsewhere is not known of"},
	{[]string{"revised"}, "a joint that was revised on a day nobody wrote down counts as not revised"},
	{[]string{"procedure"}, "total replacements are not told from other procedures, nor a row that is a revision from a primary"},
	{[]string{"age"}, "no estimates by age band, and how many deaths are to be expected is guessed"},
}

// byAlone are the columns without which only nothing can be said by them.
var byAlone = []string{"bearing", "fixation", "sex", "revision_reason"}

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
			taken := w.Taken()
			if w.BySettings {
				taken += " " + f.mark("by the settings")
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

// under is a heading of a table.
type under struct {
	file    int
	heading string
}

// valuesUnder are the commonest values under the headings that are not
// understood.
func valuesUnder(c *cohort.Cohort) map[under]cohort.CommonValues {
	values := make(map[under]cohort.CommonValues)
	for _, v := range c.CommonValues() {
		values[under{v.File, v.Heading.Typed}] = v
	}
	return values
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
		{Title: "Filled", Align: right}, {Title: "Filled, %", Align: decimal}, {Title: "Commonest values", Wraps: true, Least: 16},
	}}
	values := valuesUnder(c)
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
		t.Add(heading, taken, how, filled, share, Evidence(values[under{file, k.Heading.Typed}]))
	}
	p.table(t, nil)
}
