package page

import (
	"regexp"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
)

// onThisPage is what the page calls that which a message of the command names as a
// flag.
var onThisPage = map[string]string{
	"age-bands":          "Age bands",
	"assume":             "What is so for all rows",
	"by":                 "Groups",
	"closing-date":       "Day to which follow-up is complete",
	"date-order":         "Order of day and month",
	"deaths":             "List of deaths",
	"deaths-complete-to": "Day to which deaths are known",
	"deaths-sheet":       "Sheet of deaths",
	"pivot":              "Two-digit years",
	"published":          "Published figures",
	"revisions":          "List of revisions",
	"revisions-sheet":    "Sheet of revisions",
	"sheet":              "Sheets",
}

// Words of the command that have no place on a page, and what stands there.
var reworded = []struct {
	from *regexp.Regexp
	to   string
}{
	{regexp.MustCompile(`: --list \S+, or --format csv`), ", in the list of rows to look up"},
	{regexp.MustCompile(`: --list [a-z-]+`), ""},
	{regexp.MustCompile(` \(holdfast check --list [a-z-]+\)`), ""},
	{regexp.MustCompile(`why: --full`), "why: in the full report"},
	{regexp.MustCompile(`; listed in --full`), "; listed in the full report"},
	{regexp.MustCompile(`All groups, years, sources and the method: --full\.`), "All groups, years, sources and the method are in the full report."},
	{regexp.MustCompile(` Your own figures: --published FILE\.`), " Your own figures: choose their file beside the table."},
	{regexp.MustCompile(`Another closing date: --closing-date YYYY-MM-DD\.`), "Another closing date: “Day to which follow-up is complete”."},
	{regexp.MustCompile(` More: holdfast contrast\.`), ""},
	{regexp.MustCompile(` --comparisons FILE lists each with its reason\.`), ""},
	{regexp.MustCompile(`[;,] (they are|all are) in --(comparisons FILE|format)[^.]*`), ""},
	{regexp.MustCompile(`, are in --format json\.`), " are left out."},
	{regexp.MustCompile(`; the others stand in --format csv`), ""},
	{regexp.MustCompile(`Everything to be settled in one file[^.]*--write-settings FILE`), ""},
	{regexp.MustCompile(`; --worst-case shows the estimates with all of them revised`), ""},
	{regexp.MustCompile(`holdfast check lists (it|them)(, with the line of a settings file that settles each)?`), "the list of rows to look up has $1"},
	{regexp.MustCompile(`: holdfast check with the same tables and flags`), ": see “How the table was read”"},
	{regexp.MustCompile(`, --where and \[where\]`), ""},
	{regexp.MustCompile(`, name it with --reason`), `, name it in a settings file: reasons = ["infection"]`},
	{regexp.MustCompile(`--pivot (\d+)`), "“Two-digit years” $1"},
	{regexp.MustCompile(`--assume (\w+)=(\w+)`), "“What is so for all rows”: $1 $2"},
	{regexp.MustCompile(`, or closing_date in the settings file`), ""},
	{regexp.MustCompile(`, or pivot = \d+ in the settings file`), ""},
}

// retitled are headings of a check, which a terminal shows one under another.
var retitled = map[string]string{
	"FIRST: no audit without this":                       "First: there is no answer without this",
	"THEN: an audit runs without these, and may mislead": "Without these the answer may mislead",
}

var flag = regexp.MustCompile(`--([a-z]+(?:-[a-z]+)*)(?: (?:NAME|FILE)\b)?`)

// plain is a message without the words of a command line.
func plain(s string) string {
	if !strings.Contains(s, "--") && !strings.Contains(s, "holdfast ") {
		return s
	}
	for _, r := range reworded {
		s = r.from.ReplaceAllString(s, r.to)
	}
	return flag.ReplaceAllStringFunc(s, func(f string) string {
		if title, ok := onThisPage[flag.FindStringSubmatch(f)[1]]; ok {
			return "“" + title + "”"
		}
		return f
	})
}

// onPage is a document as a part of the page: without the words of a command line,
// and its headings below those of the page.
func onPage(d *document.Document) *document.Document {
	const topmost = 2
	var levels []int
	for _, b := range d.Blocks {
		if h, ok := b.(document.Heading); ok && !slices.Contains(levels, h.Level) {
			levels = append(levels, h.Level)
		}
	}
	slices.Sort(levels)
	out := *d
	out.Blocks = nil
	for _, b := range d.Blocks {
		switch b := b.(type) {
		case document.Heading:
			out.Blocks = append(out.Blocks, document.Heading{Level: topmost + slices.Index(levels, b.Level), Text: sentence(plain(b.Text))})
		case document.Paragraph:
			if b.Text = strings.TrimSpace(plain(b.Text)); b.Text != "" {
				out.Blocks = append(out.Blocks, b)
			}
		case document.List:
			out.Blocks = append(out.Blocks, document.List{Items: plainItems(b.Items)})
		case document.Answer:
			out.Blocks = append(out.Blocks, document.Answer{Lead: plain(b.Lead), First: plain(b.First), Items: plainItems(b.Items)})
		case *document.Table:
			out.Blocks = append(out.Blocks, plainTable(b))
		default:
			out.Blocks = append(out.Blocks, b)
		}
	}
	return &out
}

func plainItems(items []document.Item) []document.Item {
	var all []document.Item
	for _, it := range items {
		all = append(all, document.Item{Mark: it.Mark, Text: plain(it.Text), Lines: it.Lines})
	}
	return all
}

// plainTable leaves out the column of names that a flag takes.
func plainTable(t *document.Table) *document.Table {
	names := slices.IndexFunc(t.Columns, func(c document.Column) bool { return strings.HasPrefix(c.Title, "--") })
	out := &document.Table{Notes: plainItems(t.Notes), Caption: t.Caption}
	for i, c := range t.Columns {
		if i != names {
			c.Title = plain(c.Title)
			out.Columns = append(out.Columns, c)
		}
	}
	for _, r := range t.Rows {
		r.Section = plain(r.Section)
		var cells []string
		for i, cell := range r.Cells {
			if i != names {
				cells = append(cells, plain(cell))
			}
		}
		r.Cells = cells
		out.Rows = append(out.Rows, r)
	}
	return out
}

// sentence is a heading without capitals throughout, as a terminal needs them.
func sentence(s string) string {
	if title, ok := retitled[s]; ok {
		return title
	}
	first, rest, ok := strings.Cut(s, " ")
	if len(first) < 2 || first != strings.ToUpper(first) {
		return s
	}
	if !ok {
		return first[:1] + strings.ToLower(first[1:])
	}
	return first[:1] + strings.ToLower(first[1:]+" "+rest)
}
