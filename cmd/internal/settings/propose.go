package settings

import (
	"bufio"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/text"
)

// proposal is a settings file being written.
type proposal struct {
	w      *bufio.Writer
	cohort *cohort.Cohort
	in     *Settings
	folder string                        // of the file, from which it names others
	values map[place]cohort.CommonValues // under headings that are not understood
	asked  []error                       // what has to be answered before anything can be estimated
	twice  map[string]bool               // headings of which one is to be left out
}

// place is a heading of a table.
type place struct {
	file    int
	heading string
}

// Propose writes a settings file that holds everything in force and says how
// tables were understood, with the evidence, and as commented lines what is
// left to settle. Read back as it is, it changes nothing. Name is where it will
// stand. Stopped is what kept the tables from being used: the questions in it come
// with the lines that answer them, such as the headings that may be a needed column.
func Propose(out io.Writer, c *cohort.Cohort, in *Settings, tables []string, name string, stopped error) error {
	p := &proposal{w: bufio.NewWriter(out), cohort: c, in: in, folder: filepath.Dir(name), asked: cohort.Questions(stopped), twice: make(map[string]bool)}
	for _, e := range asked[*cohort.TwoColumnsError](p) {
		for _, typed := range []string{e.First, e.Second} {
			_, given := in.Columns[typed]
			p.twice[typed] = !given
		}
	}
	p.values = make(map[place]cohort.CommonValues)
	for _, v := range c.CommonValues() {
		p.values[place{v.File, v.Heading.Typed}] = v
	}
	var from []string
	for _, name := range tables {
		from = append(from, cohort.ShownName(name))
	}
	p.line("# Settings for holdfast, proposed from %s.", comment(strings.Join(from, ", ")))
	p.line("# A line that begins with # says nothing yet: settle it, and take the # away.")
	p.line("")
	p.days()
	p.reading()
	p.audit()
	p.columns()
	p.bands()
	p.words()
	p.table("assume", in.Assume)
	if len(in.Where) > 0 {
		p.line("")
		p.line("[where]")
		for _, column := range slices.Sorted(keys(in.Where)) {
			p.line("%s = %s", report.TOML(column), list(in.Where[column]))
		}
	}
	return p.w.Flush()
}

// asked are the questions of one kind.
func asked[E error](p *proposal) []E {
	var all []E
	for _, err := range p.asked {
		if e, ok := err.(E); ok {
			all = append(all, e)
		}
	}
	return all
}

func (p *proposal) line(format string, args ...any) { fmt.Fprintf(p.w, format+"\n", args...) }

// days writes the days up to which things are known, and how dates are read.
func (p *proposal) days() {
	in := p.in
	if day, ok := in.ClosingDate.(string); ok {
		p.line("closing_date = %s  # given; follow-up ends there, and later operations are set aside: move it when the table has grown", report.TOML(day))
	} else if d := p.cohort.Closing; !d.Asked && !d.DeathsEnd && d.Row > 0 && len(asked[*cohort.DateOrderError](p)) == 0 {
		p.line("# closing_date = %s  # found in row %d, column %s; up to which day is follow-up complete?", d.Day, d.Row, d.Column)
	} else {
		p.line("# closing_date = 2024-12-31  # up to which day is follow-up complete?")
	}
	if day, ok := in.DeathsCompleteTo.(string); ok {
		p.line("deaths_complete_to = %s  # given; follow-up ends there if the closing date is later", report.TOML(day))
	}
	if years := in.LostAfterYears; years != nil {
		p.line("lost_after_years = %s", text.Number(*years))
	}
	if in.PatientsByTable != nil {
		p.line("patients_by_table = %t", *in.PatientsByTable)
	}
	if in.DateOrder != "" {
		p.line("date_order = %s  # given", report.TOML(in.DateOrder))
	} else {
		p.dateOrders()
	}
	if in.Pivot != nil {
		p.line("pivot = %d", *in.Pivot)
	} else {
		p.line("# pivot = 30  # two-digit years below it are 20yy, others 19yy; without it they are refused")
	}
}

// dateOrders writes the orders of day and month that the tables' own dates
// settled.
func (p *proposal) dateOrders() {
	for i, e := range asked[*cohort.DateOrderError](p) {
		p.line("# %s", comment(e.Error()))
		if i == 0 {
			p.line(`# date_order = "day-first"    # 3/4/2019 is the 3rd of April`)
			p.line(`# date_order = "month-first"  # or the 4th of March: take the # of one line away`)
		}
	}
	said := make(map[cohort.DateOrder]bool)
	for _, f := range p.cohort.Files {
		for _, o := range f.DateOrders {
			if said[o.Order] {
				continue
			}
			said[o.Order] = true
			name := map[cohort.DateOrder]string{cohort.DayFirst: "day-first", cohort.MonthFirst: "month-first"}[o.Order]
			p.line("# date_order = %q  # settled by the table's own dates in %s", name, o.From)
		}
	}
}

// reading writes the rest of what is in force about reading.
func (p *proposal) reading() {
	in := p.in
	p.text("delimiter", in.Delimiter)
	p.text("encoding", in.Encoding)
	if sheets := in.sheets(); len(sheets) == 1 {
		p.text("sheet", sheets[0])
	} else {
		p.texts("sheet", sheets)
	}
	for _, e := range asked[*cohort.SheetsError](p) {
		p.line("# Which sheets? These have the headings of an outcomes table: keep the one that is meant, or those to be pooled, and take the # away.")
		p.line("# sheet = %s", list(e.Wanted))
	}
	p.text("revisions_sheet", in.RevisionsSheet)
	p.text("deaths_sheet", in.DeathsSheet)
	revisions, deaths := cohort.LikelySheets(report.NotRead(p.cohort.Files))
	if revisions != "" && in.RevisionsSheet == "" {
		p.line("# revisions_sheet = %s  # this sheet is not read: does it hold the revisions?", report.TOML(revisions))
	}
	if deaths != "" && in.DeathsSheet == "" {
		p.line("# deaths_sheet = %s  # this sheet is not read: does it hold the deaths?", report.TOML(deaths))
	}
	p.files("revisions", in.Revisions)
	p.files("deaths", in.Deaths)
	if in.Missing != nil {
		p.texts("missing", in.Missing)
	} else {
		p.line(`# missing = ["99"]  # words of your own for a missing value`)
	}
}

// audit writes what is in force about the audit.
func (p *proposal) audit() {
	in := p.in
	p.texts("by", in.By)
	var bounds []string
	for _, b := range p.cohort.AgeBands()[1:] {
		bounds = append(bounds, strconv.Itoa(b.From))
	}
	p.line("age_bands = [%s]", strings.Join(bounds, ", "))
	if in.Years != nil {
		p.line("years = [%s]", listed(in.Years))
	}
	p.text("interval", in.Interval)
	if in.Level != nil {
		p.line("level = %s", text.Number(*in.Level))
	}
	if in.MinAtRisk != nil {
		p.line("min_at_risk = %s", text.Number(*in.MinAtRisk))
	}
	p.files("published", in.Published)
	p.text("builtin", in.Builtin)
	p.text("expected", in.Expected)
	p.texts("countries", in.Countries)
	p.texts("reasons", in.Reasons)
	if in.WorstCase != nil {
		p.line("worst_case = %t", *in.WorstCase)
	}
}

// text writes a setting that is a text, if it is set.
func (p *proposal) text(key, value string) {
	if value != "" {
		p.line("%s = %s", key, report.TOML(value))
	}
}

// texts writes a setting that is a list, if it is set.
func (p *proposal) texts(key string, values []string) {
	if values != nil {
		p.line("%s = %s", key, list(values))
	}
}

// files writes a list of files, named as seen from the settings file.
func (p *proposal) files(key string, names []string) {
	if names == nil {
		return
	}
	seen := make([]string, len(names))
	for i, name := range names {
		seen[i] = seenFrom(p.folder, name)
	}
	p.texts(key, seen)
}

// seenFrom is a file's name as seen from a folder.
func seenFrom(folder, name string) string {
	if name == "none" || filepath.IsAbs(name) {
		return name
	}
	from, err := filepath.Abs(folder)
	if err != nil {
		return name
	}
	whole, err := filepath.Abs(name)
	if err != nil {
		return name
	}
	if seen, err := filepath.Rel(from, whole); err == nil {
		return filepath.ToSlash(seen)
	}
	return whole
}

// table writes a table of texts, if it has any.
func (p *proposal) table(name string, values map[string]string) {
	if len(values) == 0 {
		return
	}
	p.line("")
	p.line("[%s]", name)
	for _, key := range slices.Sorted(keys(values)) {
		p.line("%s = %s", report.TOML(key), report.TOML(values[key]))
	}
}

// columns writes what each heading was taken for, and what the settings say of
// headings that the tables lack.
func (p *proposal) columns() {
	p.line("")
	p.line(`[columns]  # heading = column; "" leaves a heading out`)
	p.needed()
	left := maps.Clone(p.in.Columns)
	done := make(map[string]bool)
	for _, k := range p.cohort.Completeness() {
		h := k.Heading
		for typed := range left {
			if alike(typed, h.Typed) {
				delete(left, typed)
			}
		}
		if h.Typed == "" || h.Typed == report.HeadingNotShown || done[h.Typed] {
			continue
		}
		done[h.Typed] = true
		if p.twice[h.Typed] {
			continue // asked above
		}
		filled := ""
		if k.Counted {
			filled = fmt.Sprintf("; %d of %d rows have a value", k.Rows-k.Missing, k.Rows)
		}
		if v := comment(report.Evidence(p.values[place{k.File, h.Typed}])); v != "" {
			filled += ": " + v
		}
		given := p.in.Columns[h.Typed]
		switch {
		case h.How == cohort.OtherHeading && given != "": // one of two that the settings give
			p.line("%s = %s  # %s%s", report.TOML(h.Typed), report.TOML(given), cohort.BySettings, filled)
		case h.How == cohort.LeftOut:
			p.line(`%s = ""  # left out`, report.TOML(h.Typed))
		case h.Column != "":
			p.line("%s = %s  # %s%s%s", report.TOML(h.Typed), report.TOML(h.Column), h.How, filled, p.evidence(h))
		case len(h.Between) > 0:
			p.line(`# %s = ""  # not clear: %s%s`, report.TOML(h.Typed), strings.Join(h.Between, " or "), filled)
		default:
			p.line(`# %s = ""  # %s%s`, report.TOML(h.Typed), h.How, filled)
		}
	}
	for _, typed := range slices.Sorted(keys(left)) {
		if !done[typed] {
			p.line("%s = %s  # no table has this heading now", report.TOML(typed), report.TOML(left[typed]))
		}
	}
}

// mostCandidates is how many headings are offered for a column that was not
// found.
const mostCandidates = 20

// needed writes what has to be said of headings before anything can be estimated:
// which of two is a column, and which is a column that is needed and was not found.
func (p *proposal) needed() {
	said := make(map[[2]string]bool)
	for _, e := range asked[*cohort.TwoColumnsError](p) {
		switch pair := [2]string{e.First, e.Second}; {
		case e.First == e.Second:
			p.line("# %s", comment(e.Error()))
			continue
		case said[pair]:
			continue
		default:
			said[pair] = true
		}
		p.line("# %s and %s both mean %s in %s. Leave one out: take the # of one line away.", report.TOML(e.First), report.TOML(e.Second), e.Column, comment(e.File))
		for _, typed := range []string{e.First, e.Second} {
			if !p.twice[typed] {
				p.line(`# %s is given below: leave it out there, with %[1]s = ""`, report.TOML(typed))
				continue
			}
			p.line(`# %s = ""`, report.TOML(typed))
		}
	}
	for _, e := range asked[*cohort.MissingColumnError](p) {
		p.lacking(e)
	}
}

// lacking writes for a needed column that was not found the headings that may be
// meant: those that are not clear, else those of no known column.
func (p *proposal) lacking(lacks *cohort.MissingColumnError) {
	column := lacks.Column
	if !lacks.Described {
		p.line("# %s", comment(lacks.File+": no column "+column))
		return
	}
	p.line("# %s is needed, and no known heading of %s is it. If one of these lines is right, take its # away:", column, comment(strings.Join(append([]string{lacks.File}, lacks.Alike...), ", ")))
	found := report.Candidates(p.cohort, lacks)
	as := func(c report.Candidate, column string) {
		filled := ""
		if c.Evidence != "" {
			filled = "  # " + comment(c.Evidence)
		}
		p.line("# %s = %s%s", report.TOML(c.Heading), report.TOML(column), filled)
	}
	for _, c := range found.Columns[:min(mostCandidates, len(found.Columns))] {
		as(c, column)
	}
	if column == "revision_date" && lacks.Primaries {
		p.line("# Or, if revisions are recorded apart: revisions = [\"FILE\"] or revisions_sheet = \"NAME\" above the line [columns]; if each operation has a")
		p.line("# row of its own, the heading of the column that tells primaries from revisions:")
		for _, c := range found.Kinds[:min(mostCandidates, len(found.Kinds))] {
			as(c, "operation_type")
		}
		if len(found.Kinds) == 0 {
			p.line(`# "…" = "operation_type"`)
		}
	}
}

// bands writes the bands of numbers in force, and for the other columns of the
// tables that may have them what is so without.
func (p *proposal) bands() {
	headed := false
	for _, k := range cohort.Columns() {
		given, bounds := p.in.Bands[k.Name], k.Bounds
		if !k.Banded || given == nil && !p.cohort.HasColumn(k.Name) {
			continue
		}
		if !headed {
			p.line("")
			p.line("[bands]  # column = the lower bounds of the bands of its numbers after the first")
			headed = true
		}
		switch {
		case given != nil:
			p.line("%s = [%s]", report.TOML(k.Name), listed(given))
		case bounds != nil:
			p.line("# %s = [%s]  # so if nothing else is said", report.TOML(k.Name), listed(bounds))
		default:
			p.line("# %s = […]  # without it numbers stay as typed", report.TOML(k.Name))
		}
	}
}

// listed writes several numbers, with commas between them.
func listed(all []float64) string {
	var written []string
	for _, x := range all {
		written = append(written, text.Number(x))
	}
	return strings.Join(written, ", ")
}

// alike says whether two headings are one but for case, spaces, hyphens and
// underscores.
func alike(a, b string) bool {
	parts := func(s string) []string {
		return strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return strings.ContainsRune(" _-\t\n\u00a0", r) })
	}
	return slices.Equal(parts(a), parts(b))
}

// words writes the words explained already, and those that are not known.
func (p *proposal) words() {
	left := maps.Clone(p.in.Words)
	asked := make(map[string][]cohort.NameQuestion)
	for _, q := range p.cohort.NameQuestions() {
		asked[q.Column] = append(asked[q.Column], q)
	}
	for _, column := range p.cohort.Words() {
		explained := left[column.Column]
		delete(left, column.Column)
		var unknown []cohort.Word
		for _, w := range column.Words {
			if !w.Known && (!w.FreeText() || report.Numbered(w) != "") {
				unknown = append(unknown, w)
			}
		}
		if len(explained)+len(unknown)+len(asked[column.Column]) == 0 {
			continue
		}
		p.line("")
		p.line("[words.%s]", column.Column)
		for _, typed := range slices.Sorted(keys(explained)) {
			p.line("%s = %s", report.TOML(typed), report.TOML(explained[typed]))
		}
		for _, w := range unknown {
			if shape := report.Numbered(w); shape != "" {
				p.line(`# "…" = ""  # rows: %d; a word of %s, not shown since it may be about a patient: write it here as it stands in row %d of %s`, w.Rows, shape, w.Row, comment(p.cohort.Files[w.File].Title()))
				continue
			}
			p.line(`# %s = ""  # rows: %d; %s`, report.TOML(w.Typed), w.Rows, cohort.Until(column.Column))
		}
		for _, q := range asked[column.Column] {
			p.line("# %s  # rows: %d; may be %s, until then a group of its own", report.SettleName(q), q.Rows, commonest(q.MayBe))
		}
	}
	for _, column := range slices.Sorted(keys(left)) {
		p.table("words."+column, left[column])
	}
}

// evidence names the five commonest words of a heading's column and how many
// of its rows were understood; nothing for a column without words.
func (p *proposal) evidence(h cohort.Heading) string {
	for _, column := range p.cohort.Words() {
		if column.Column != h.Column || h.Column == "" {
			continue
		}
		known := 0
		for _, w := range column.Words {
			if w.Known {
				known += w.Rows
			}
		}
		of := ""
		if p.inSeveral(h.Column) {
			of = " in all tables"
		}
		return fmt.Sprintf(", %d understood%s: %s", known, of, commonest(column.Words))
	}
	return ""
}

// inSeveral says whether several tables have a column.
func (p *proposal) inSeveral(column string) bool {
	n := 0
	for _, f := range p.cohort.Files {
		if slices.ContainsFunc(f.Headings, func(h cohort.Heading) bool { return h.Column == column }) {
			n++
		}
	}
	return n > 1
}

// commonest lists the five commonest words with their rows.
func commonest(words []cohort.Word) string {
	var common []string
	for _, w := range words[:min(5, len(words))] {
		common = append(common, fmt.Sprintf("%s (%d)", comment(w.Typed), w.Rows))
	}
	return strings.Join(common, ", ")
}

// comment is a text that stays within one comment, without marks.
func comment(s string) string { return text.Plain(text.Clean(s)) }

func list(items []string) string {
	quoted := make([]string, len(items))
	for i, s := range items {
		quoted[i] = report.TOML(s)
	}
	return "[" + strings.Join(quoted, ", ") + "]"
}

// number writes a number as a settings file has it.
