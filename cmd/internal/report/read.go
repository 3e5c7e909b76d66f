package report

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// whatWasRead is the heading under which rows are accounted for.
const whatWasRead = "What was read and set aside"

// read says what was read and what was set aside.
func (p *page) read(a *audit.Audit) {
	if a.Shared != nil { // the first page has all there is
		return
	}
	p.heading(1, whatWasRead)
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
	p.sites(a)
	p.reasons("Revisions in rows of their own", a.Revisions)
	p.reasons("Set aside because", a.Account.Reasons)
	p.reasons("Used, with a warning", a.Account.Warnings)
	var facts []string
	facts = append(facts, closingDate(a), deaths(a))
	facts = append(facts, allUnderstood(a.Files)...)
	if s := sheetsNotRead(a.Files); s != "" {
		facts = append(facts, s)
	}
	p.bullets(facts)
	if s := withoutRows(a); s != "" {
		p.paragraph(s)
		return
	}
	p.paragraph("How each heading and word was understood, and every row set aside or warned about: holdfast check with the same tables and flags.")
}

const madeForSharing = "Made for sharing"

// account is the sentence that accounts for every row.
func account(a *audit.Audit) string {
	c := a.Account
	var names []string
	for i := 0; i < len(a.Files); {
		f, n := a.Files[i], i+1
		var sheets []string
		for ; n < len(a.Files) && cmp.Or(a.Files[n].Folder, a.Files[n].Name) == cmp.Or(f.Folder, f.Name) && a.Files[n].Holds == f.Holds; n++ {
			sheets = append(sheets, strconv.Quote(a.Files[n].Sheet))
		}
		i = n
		switch {
		case f.Holds != "primaries" && f.Holds != "":
		case f.Folder != "":
			names = append(names, fmt.Sprintf("%s (%s)", f.Folder, few(len(sheets)+1, "file", "files")))
		case len(sheets) > 0:
			names = append(names, f.Name+" (sheets "+list(append([]string{strconv.Quote(f.Sheet)}, sheets...))+")")
		default:
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
		if line = document.Clean(line); line != "" && len(lines) < 2 {
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
	p.paragraph(who + ": “" + document.Cut(strings.Join(lines, " "), longestPreamble) + "”")
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
		values[c.Column] = append(values[c.Column], document.Word(c.Value))
	}
	for _, c := range columns {
		parts = append(parts, label(c)+" = "+strings.Join(values[c], " or "))
	}
	return strings.Join(parts, "; ")
}

func (p *page) reasons(title string, counts []cohort.ReasonCount) {
	t := &table{Columns: []column{{Title: "Rows", Align: right}, {Title: title, Wraps: true, Least: document.Width(title)}}}
	for _, r := range counts {
		t.Add(count(r.Rows), r.Reason.String())
	}
	p.table(t, nil)
}

func closingDate(a *audit.Audit) string {
	c := a.Closing
	switch {
	case c.DeathsEnd:
		return fmt.Sprintf("Follow-up ends on %s, the day up to which deaths are known.", c.Day)
	case c.Asked:
		return fmt.Sprintf("Closing date %s, as given: follow-up is taken as complete up to it.", c.Day)
	}
	where := fmt.Sprintf("row %d, column %s", c.Row, c.Column)
	if len(a.Files) > 1 && c.File < len(a.Files) {
		where += " of " + a.Files[c.File].Title()
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
	return fmt.Sprintf("Deaths recorded: in %s of %s used the patient has died.", count(a.Deaths.Used), few(a.Account.Used, "row", "rows"))
}

// mostOfFolder is how many files of a folder are told one by one.
const mostOfFolder = 3

// allUnderstood says of each table how it was understood; of a folder's, the first.
func allUnderstood(files []cohort.File) []string {
	var said []string
	of, rows := 0, 0
	for i, f := range files {
		if i == 0 || f.Folder == "" || f.Folder != files[i-1].Folder {
			of, rows = 0, 0
		}
		if of++; f.Folder == "" || of <= mostOfFolder {
			said = append(said, understood(f, len(files) > 1))
			continue
		}
		if rows += f.Rows; i+1 == len(files) || files[i+1].Folder != f.Folder {
			said = append(said, fmt.Sprintf("%s of %s: %s.", few(of-mostOfFolder, "further file", "further files"), f.Folder, few(rows, "row", "rows")))
		}
	}
	return said
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
	switch {
	case f.Format == "":
	case len(s) == 0:
		s = append(s, capital(f.Format))
	default:
		s = append(s, f.Format)
	}
	s = append(s, f.Notes...)
	if f.Format != cohort.TallyFormat {
		s = append(s, headings(f))
	}
	if d := dateOrders(f); d != "" {
		s = append(s, d)
	}
	return strings.Join(s, "; ") + "."
}

// headings says how many headings were matched, and how.
func headings(f cohort.File) string {
	n := make(map[cohort.HeadingMatch]int)
	var kept []string
	for _, h := range f.Headings {
		how := h.How
		if how == cohort.BySettings && h.Column == strings.ToLower(strings.NewReplacer(" ", "_", "-", "_").Replace(h.Typed)) {
			how = cohort.ByName // the settings say no more than the heading does
		}
		n[how]++
		if h.How == cohort.Unmatched {
			kept = append(kept, heading(h))
		}
	}
	own := "kept under their own names: " + several(kept)
	if len(kept) == 1 {
		own = "kept under its own name: " + kept[0]
	}
	s := []string{fmt.Sprintf("%d of %s matched by name", n[cohort.ByName], few(len(f.Headings), "heading", "headings"))}
	for _, how := range []struct {
		match cohort.HeadingMatch
		words string
	}{
		{cohort.ByVariant, "by a close variant"}, {cohort.BySettings, "by the settings"},
		{cohort.Unmatched, own}, {cohort.LeftOut, "left out by the settings"},
		{cohort.OtherHeading, "not used, as another heading names the column"},
	} {
		if k := n[how.match]; k > 0 {
			s = append(s, fmt.Sprintf("%d %s", k, how.words))
		}
	}
	return strings.Join(s, ", ")
}

// longestHeading is how much of a heading is shown in a list, and mostHeadings
// how many are listed.
const (
	longestHeading = 40
	mostHeadings   = 8
)

// heading is a heading as typed, for a list.
func heading(h cohort.Heading) string {
	if s := document.Cut(document.Clean(h.Typed), longestHeading); s != "" {
		return s
	}
	return "(empty)"
}

// several lists the first few of many.
func several(items []string) string {
	if more := len(items) - mostHeadings; more > 0 {
		items = append(slices.Clone(items[:mostHeadings]), count(more)+" more")
	}
	return list(items)
}

// dateOrders says in which order day and month were read; nothing where no date
// left it open.
func dateOrders(f cohort.File) string {
	if s := oneOrder(f.DateOrders); s != "" {
		return s
	}
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

// oneOrder says in which order all dates were read, if it is one.
func oneOrder(orders []cohort.ColumnOrder) string {
	var from []string
	for _, o := range orders {
		if o.Order != orders[0].Order || (o.From == "") != (orders[0].From == "") {
			return ""
		}
		if o.From != "" && !slices.Contains(from, o.From) {
			from = append(from, o.From)
		}
	}
	switch {
	case len(orders) == 0:
		return ""
	case len(from) == 0:
		return "dates " + orders[0].Order.String() + ", as given"
	}
	return "dates " + orders[0].Order.String() + ", settled by " + list(from)
}

// NotRead are the sheets of the workbooks that none of the tables is.
func NotRead(files []cohort.File) []string {
	var names []string
	for _, f := range files {
		for _, other := range f.OtherSheets {
			read := slices.ContainsFunc(files, func(g cohort.File) bool { return g.Name == f.Name && g.Sheet == other })
			if !read && !slices.Contains(names, other) {
				names = append(names, other)
			}
		}
	}
	return names
}

// sheetsNotRead names the sheets that are not read, and says how to join those
// that seem to hold revisions or deaths; nothing if there is none.
func sheetsNotRead(files []cohort.File) string {
	names := NotRead(files)
	if len(names) == 0 {
		return ""
	}
	quoted := make([]string, len(names))
	for i, name := range names {
		quoted[i] = strconv.Quote(name)
	}
	s := "Sheets not read: " + list(quoted) + "."
	revisions, deaths := cohort.LikelySheets(names)
	if revisions != "" {
		s += fmt.Sprintf(" If %q holds revisions, add --revisions-sheet %[1]q.", revisions)
	}
	if deaths != "" {
		s += fmt.Sprintf(" If %q holds deaths, add --deaths-sheet %[1]q.", deaths)
	}
	return s
}
