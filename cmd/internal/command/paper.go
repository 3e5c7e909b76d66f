package command

import (
	"bytes"
	"cmp"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/document/html"
	"example.org/holdfast/cmd/internal/document/pdf"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cmd/internal/version"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/text"
)

type reportFlags struct {
	auditFlags
	title      string
	whose      string
	year       string
	before     string
	past       string
	source     string
	per        string
	department bool
	name       bool
	key        string
	font       string
}

func (a *app) report() *cobra.Command {
	f := new(reportFlags)
	c := &cobra.Command{
		Use:   "report TABLE... --out FILE.html|.pdf",
		Short: "A report to hand over: tables, figures, words, cautions",
		Long: `Writes the audit as a report of a few pages, for appraisal or for a colleague to
check: a first page to be read by itself, with the answer in words, a figure, and
what could be wrong with it; data and follow-up; a figure and a table for each
joint and procedure; what numbers of this size can show; room for reflection; the
fingerprint of what it was made from. --full adds everything else: case mix, all
groups and years, reasons for revision, every comparison, the method.

The ending of --out chooses between a web page (.html: one file without script,
for screens, print and screen readers) and pages (.pdf). The same tables and
flags give the same bytes again.

With --per surgeon (or hospital, or any column) one report is written for each
value, beside the pooled numbers of all of them, each under a letter instead of
its name unless --name is given; --key writes which letter is whose.

--department writes a page for a department's meeting: volumes, follow-up and
completeness by hospital and year, surgeons and hospitals beside what chance gives,
what touched a line, which rows to chase by whom, what to record better; and beside
it a page for each surgeon to take to appraisal, from the same reading. For --before,
the last audit is made by the same units: audit --by surgeon,hospital --format json.

Tallies (holdfast tally) are taken in place of tables or beside them: the same pages,
without what needs rows or calendar days.

Revisions are also set over calendar time, beside what became of the joints up to
the end of the year five years before; --past or --source says otherwise, as in
holdfast monitor. The web page is the form for screen readers.`,
		Example: `  holdfast report mine.csv --closing-date 2024-12-31 --out report.html
  holdfast report mine.csv --where surgeon=A --out report.pdf
  holdfast report mine.csv --before last-year.json --appraisal-year 2024 --out report.pdf
  holdfast report department.csv --per surgeon --key key.csv --out report.pdf
  holdfast report department.csv --department --key key.csv --out meeting.pdf`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error { return a.runReport(c, f, args) }),
	}
	s := c.Flags()
	s.StringVar(&f.out, "out", "", "write to `FILE`, whose ending is .html or .pdf")
	s.StringVar(&f.title, "title", "", "`TITLE` of the report")
	s.StringVar(&f.whose, "subtitle", "", "`TEXT` under the title, such as whose report it is")
	s.StringVar(&f.year, "appraisal-year", "", "`YEAR` of the appraisal that the report is for")
	s.StringVar(&f.before, "before", "", "`FILE` of the last audit (audit --format json), to part what was mended from what was followed")
	s.BoolVar(&f.full, "full", false, "with an appendix of all groups, years, comparisons and the method")
	s.StringVar(&f.per, "per", "", "write a report for each value of this `COLUMN`, such as surgeon")
	s.BoolVar(&f.department, "department", false, "write a page for a department's meeting, and one for each surgeon beside it")
	s.StringVar(&f.past, "past", "", "expect revisions over calendar time as of the joints followed up to this `DATE`")
	s.StringVar(&f.source, "source", "", "expect revisions over calendar time as this source published, by its `KEY`")
	s.BoolVar(&f.name, "name", false, "with --per or --department: use the values themselves, not letters")
	s.StringVar(&f.key, "key", "", "with --per or --department: write which letter stands for which value to `FILE` (CSV)")
	s.StringVar(&f.font, "font", "", "TrueType `FILE` for scripts that the built-in font lacks (.pdf)")
	f.analysis(s)
	f.sharing(s)
	f.readingFlags.add(c)
	return c
}

// refused says what flags can't stand together.
func (f *reportFlags) refused() error {
	ending := strings.ToLower(filepath.Ext(f.out))
	switch {
	case f.out == "":
		return usage("where to? Name a file: --out report.html, or report.pdf")
	case ending != ".html" && ending != ".pdf":
		return usage("--out %q: want a name that ends in .html or .pdf", f.out)
	case f.per == "" && !f.department && (f.name || f.key != ""):
		return usage("--name and --key go with --per or --department")
	case f.department && (f.per != "" || f.full || f.share):
		return usage("--department can't stand beside --per, --full or --share")
	case f.past != "" && f.source != "":
		return usage("--past and --source: what is expected over calendar time is of one of them")
	case f.share && (f.past != "" || f.source != ""):
		return usage("--past and --source: a chart over calendar time can't be made safe to share")
	case f.share && f.per != "":
		return usage("--share and --per can't stand together: the reports of all could be subtracted from one another. Share one with --by %s instead", f.per)
	case f.before != "" && f.share:
		return usage("--before can't stand beside --share")
	case f.font != "" && ending != ".pdf":
		return usage("--font is for .pdf; a web page is shown in the reader's own fonts")
	}
	return nil
}

// asked is what a report was asked for, but for the tables themselves.
type asked struct {
	settings *settings.Settings
	inputs   []string // all files that it is made from
	reading  cohort.Options
	audit    audit.Options
	earlier  *audit.Earlier // nil for none
	font     *text.Font
	watch    gather.Watching
}

// asked reads what a report is made from beside the tables.
func (a *app) asked(c *cobra.Command, f *reportFlags, tables []string) (q asked, err error) {
	in, ro, ao, err := f.options(c.Flags())
	if err != nil {
		return q, err
	}
	q = asked{settings: in, reading: ro, audit: ao, inputs: append(in.Inputs(tables), f.font, f.before)}
	if err := apart([]string{f.out, f.key}, q.inputs); err != nil {
		return q, err
	}
	if in.File != "" {
		a.digests.of(in.File).Write(in.Content())
	}
	if q.audit.Published, err = a.figures(in); err != nil {
		return q, err
	}
	if q.earlier, err = a.earlier(f.before); err != nil {
		return q, err
	}
	if q.font, err = a.font(f.font); err != nil {
		return q, err
	}
	q.reading.Keep = slices.Concat(ro.Keep, ao.By, f.keeps())
	q.watch, err = f.watching(q.audit.Published)
	return q, err
}

func (a *app) runReport(c *cobra.Command, f *reportFlags, args []string) error {
	if err := f.refused(); err != nil {
		return err
	}
	a.digests = make(digests)
	q, err := a.asked(c, f, args)
	if err != nil {
		return err
	}
	source, co, err := a.source(c.Context(), args, q.settings, q.reading)
	if err != nil {
		return err
	}
	if co == nil {
		if err := f.needRows(); err != nil {
			return err
		}
	}
	ao := q.audit
	ao.By = pooledBy(source, q.settings.Given["by"], ao.By)
	if !q.settings.Given["by"] {
		ao.By, _ = settings.Grouped(source, ao.By)
	}
	sums, err := a.digests.sums(q.inputs)
	if err != nil {
		return err
	}
	po := report.PaperOptions{Title: f.title, Whose: f.whose, Year: f.year, Full: f.full, Prints: fingerprints(q.inputs, sums), Version: version.Built(), Settings: given(c.Flags())}
	gathered := gather.All
	if f.share {
		gathered = gather.Shared
		po.Settings = slices.DeleteFunc(po.Settings, named)
		po.Prints = nil // by which whoever has the table would know it again
	}
	if f.department {
		ao.ExpectedOwn = false // its page has them whether or not they were asked for
	}
	m, err := gathered(source, ao)
	if err != nil {
		return &usageError{Err: err}
	}
	if q.earlier != nil {
		if m.Before, err = beforeOf(q.earlier, f.before, ao, co, f.units(co)); err != nil {
			return err
		}
	}
	if f.department {
		return a.meeting(f, lettersKey(args, sums), q.inputs, ao, m, q.watch, po, q.font)
	}
	if !f.share && co != nil {
		if m.Watched, err = gather.Watch(co, ao.Endpoint, f.per, q.watch); err != nil {
			return &usageError{Err: err}
		}
	}
	if f.per == "" {
		return a.paper(f.out, m, po, q.font)
	}
	return a.papers(f, lettersKey(args, sums), q.inputs, ao, m, po, q.font)
}

// needRows refuses what a report from tallies can't have.
func (f *reportFlags) needRows() error {
	for _, flag := range []struct {
		name  string
		asked bool
	}{{"per", f.per != ""}, {"department", f.department}, {"before", f.before != ""}, {"past", f.past != ""}, {"source", f.source != ""}} {
		if flag.asked {
			return usage("--%s needs rows and calendar days, and a tally has none", flag.name)
		}
	}
	return nil
}

// keeps are the columns that a report groups by besides those asked for.
func (f *reportFlags) keeps() []string {
	keep := append(slices.Concat(cohort.CaseMix(), audit.Statable()), "surgeon")
	if f.per != "" {
		keep = append(keep, f.per)
	}
	if f.department {
		keep = slices.Concat(keep, gather.DepartmentFields(), audit.Finer())
	}
	return keep
}

// units are the fields whose words have parts or pages of their own.
func (f *reportFlags) units(c *cohort.Cohort) []string {
	switch {
	case f.per != "":
		return []string{f.per}
	case f.department:
		return slices.DeleteFunc(gather.DepartmentFields(), func(field string) bool { return !slices.Contains(c.Fields(), field) })
	}
	return nil
}

// earlier reads an earlier audit; none gives nil.
func (a *app) earlier(name string) (*audit.Earlier, error) {
	if name == "" {
		return nil, nil
	}
	file, err := a.digests.open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	earlier, err := audit.ReadEarlier(file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return earlier, nil
}

// beforeOf audits the tables as they would have been when an earlier audit, of the name
// given, was made, and says what moved. By are the units besides all joints.
func beforeOf(earlier *audit.Earlier, name string, ao audit.Options, c *cohort.Cohort, by []string) (*gather.Before, error) {
	if earlier.Closing >= c.Closing.Day {
		return nil, usage("%s was followed to %s, no earlier than this table, to %s", name, earlier.Closing, c.Closing.Day)
	}
	before, err := c.ClosedOn(earlier.Closing)
	if err != nil {
		return nil, err
	}
	ao.By, ao.Published, ao.WorstCase, ao.NoCells, ao.ExpectedOwn = append([]string{}, by...), nil, false, true, false
	then, err := audit.Run(before, ao)
	if err != nil {
		return nil, err
	}
	now, err := audit.Run(c, ao)
	if err != nil {
		return nil, err
	}
	return gather.Since(earlier, then, now), nil
}

// paper writes one report.
func (a *app) paper(name string, m *gather.Material, o report.PaperOptions, font *text.Font) error {
	b, err := a.paged(name, m, o, font)
	if err != nil {
		return err
	}
	return a.writeBytes(name, b)
}

// paged is a report in the form that a file's name asks for.
func (a *app) paged(name string, m *gather.Material, o report.PaperOptions, font *text.Font) ([]byte, error) {
	d, err := report.Paper(m, o)
	if err != nil {
		return nil, err
	}
	return a.laidOut(name, d, font)
}

// laidOut is a document as a web page, or as pages if a file's name asks for them.
func (a *app) laidOut(name string, d *document.Document, font *text.Font) (_ []byte, err error) {
	var b bytes.Buffer
	if strings.EqualFold(filepath.Ext(name), ".pdf") {
		var words strings.Builder
		if err := document.WriteText(&words, d, document.TextOptions{}); err != nil {
			return nil, err
		}
		a.hintFont(font, words.String())
		err = pdf.Write(&b, d, font)
	} else {
		err = html.Write(&b, d)
	}
	return b.Bytes(), err
}

// mostReports is how many reports --per writes at once: all are made before the
// first is written.
const mostReports = 200

// perValues are the values of the column that --per names, as its reports are
// called.
func perValues(c *cohort.Cohort, per string, ao audit.Options) (column string, values []string, err error) {
	ao.By, ao.WorstCase, ao.NoCells = []string{per}, false, true
	by, err := audit.Run(c, ao)
	if err != nil {
		return "", nil, &usageError{Err: err}
	}
	column = by.By[0]
	for i := range by.Groups {
		if g := &by.Groups[i]; g.Pooling == audit.OneField && g.Word(column) != cohort.NotRecorded && !slices.Contains(values, g.Word(column)) {
			values = append(values, g.Word(column))
		}
	}
	switch {
	case len(values) == 0:
		return "", nil, fmt.Errorf("no row has a %s", column)
	case len(values) > mostReports:
		return "", nil, fmt.Errorf("%s has %d values, and at most %d reports are written at once: choose some with --where %s=…", column, len(values), mostReports, column)
	}
	return column, values, nil
}

// reportNames are the files for the reports of several values, by value.
func (f *reportFlags) reportNames(column string, called map[string]string, inputs []string) (map[string]string, error) {
	names := make(map[string]string)
	var all []string
	for _, v := range slices.Sorted(maps.Keys(called)) {
		shown := called[v]
		if f.name {
			shown = v
		}
		names[v] = beside(f.out, shown)
		if slices.Contains(all, names[v]) {
			return nil, usage("two values of %s would be written to %s, the second over the first: leave out --name", column, names[v])
		}
		all = append(all, names[v])
	}
	if f.name {
		return names, apart(all, inputs)
	}
	return names, apart(append(all, f.key), inputs)
}

// papers writes a report for each value of a column, all or none.
func (a *app) papers(f *reportFlags, key []byte, inputs []string, ao audit.Options, whole *gather.Material, po report.PaperOptions, font *text.Font) error {
	column, values, err := perValues(whole.Cohort, f.per, ao)
	if err != nil {
		return err
	}
	called := pseudonyms(values, key, letter)
	names, err := f.reportNames(column, called, inputs)
	if err != nil {
		return err
	}
	contents := make(map[string][]byte) // by name
	for _, v := range values {
		if err := a.interrupted(); err != nil {
			return err
		}
		m, mine, err := f.paperOf(audit.Value{Field: column, Word: v}, called, ao, whole, po)
		if err != nil {
			return err
		}
		if contents[names[v]], err = a.paged(names[v], m, mine, font); err != nil {
			return err
		}
	}
	written := slices.SortedFunc(maps.Keys(contents), func(a, b string) int { return cmp.Or(cmp.Compare(len(a), len(b)), cmp.Compare(a, b)) })
	for _, name := range written {
		if err := a.writeBytes(name, contents[name]); err != nil {
			return err
		}
	}
	if f.key != "" && !f.name {
		if err := a.writeFile(f.key, func(w io.Writer) error { return writeKey(w, column, values, called) }); err != nil {
			return err
		}
	}
	what := "reports"
	if len(written) == 1 {
		what = "report"
	}
	fmt.Fprintf(a.stderr, "%d %s written: %s.\n", len(written), what, strings.Join(written, ", "))
	a.nameQuestions(whole.Cohort, column)
	return nil
}

// nameQuestions says that some reports may be of one person.
func (a *app) nameQuestions(c *cohort.Cohort, column string) {
	var asked []string
	for _, q := range c.NameQuestions() {
		if q.Column == column {
			asked = append(asked, fmt.Sprintf("%s may be %s", q.Name, q.MayBe[0].Value))
		}
	}
	if n := len(asked); n > 3 {
		asked = append(asked[:3], fmt.Sprintf("%d more", n-3))
	}
	if asked != nil {
		fmt.Fprintf(a.stderr, "Names that may be one have a report each: %s. holdfast check lists them, with the line of a settings file that settles each.\n", strings.Join(asked, "; "))
	}
}

// paperOf is what the report of one value is made from; letters stand for values, unless
// these are named.
func (f *reportFlags) paperOf(v audit.Value, called map[string]string, ao audit.Options, whole *gather.Material, po report.PaperOptions) (*gather.Material, report.PaperOptions, error) {
	one, err := whole.Cohort.Where(cohort.Condition{Column: v.Field, Value: v.Word})
	if err != nil {
		return nil, po, err
	}
	m, err := gather.All(one, ao)
	if err != nil {
		return nil, po, &usageError{Err: err}
	}
	m.Department, m.Watched = whole.Audit, whole.Watched.Of(v.Word)
	if whole.Before != nil {
		m.Before = whole.Before.Of(v)
	}
	shown := v.Word
	if !f.name {
		shown = called[v.Word]
		m.Watched = m.Watched.Called(called)
		m.Rename(v.Field, v.Word, shown)
		po.Settings = slices.DeleteFunc(slices.Clone(po.Settings), func(s string) bool { return strings.Contains(s, v.Word) })
	}
	if po.Whose == "" {
		po.Whose = text.Capital(cohort.Title(v.Field)) + " " + shown
	}
	return m, po, nil
}

// pseudonyms gives each value a letter or a number. The order follows neither the alphabet
// nor the table. It is made with a key from the tables' contents, so that it is
// the same for the same tables and can't be made again by whoever has the
// reports and a list of the values.
func pseudonyms(values []string, key []byte, called func(n int) string) map[string]string {
	place := func(v string) string {
		h := hmac.New(sha256.New, key)
		io.WriteString(h, v)
		return string(h.Sum(nil))
	}
	order := slices.Clone(values)
	slices.SortFunc(order, func(a, b string) int { return strings.Compare(place(a), place(b)) })
	letters := make(map[string]string)
	for i, v := range order {
		letters[v] = called(i)
	}
	return letters
}

// letter is A to Z, then AA, AB and so on.
func letter(n int) string {
	s := string(rune('A' + n%26))
	if n >= 26 {
		return letter(n/26-1) + s
	}
	return s
}

func writeKey(w io.Writer, column string, values []string, called map[string]string) error {
	order := slices.Clone(values)
	slices.SortFunc(order, func(a, b string) int {
		return slices.Compare([]string{fmt.Sprint(len(called[a])), called[a]}, []string{fmt.Sprint(len(called[b])), called[b]})
	})
	cw := csv.NewWriter(w)
	cw.Write([]string{"letter", text.Protect(column)})
	for _, v := range order {
		cw.Write([]string{called[v], text.Protect(v)})
	}
	cw.Flush()
	return cw.Error()
}

// beside is the name of one of several files: report.pdf becomes report-A.pdf.
func beside(name, what string) string {
	safe := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r > 127:
			return r
		}
		return '-'
	}, what)
	if letters := []rune(safe); len(letters) > 60 {
		safe = string(letters[:60])
	}
	ext := filepath.Ext(name)
	return strings.TrimSuffix(name, ext) + "-" + safe + ext
}

// named says whether a setting may hold a word of somebody's: a day, a sheet's
// name, a file's.
func named(setting string) bool {
	for _, flag := range []string{"by", "years", "interval", "level", "min-at-risk", "reason", "age-bands", "share"} {
		if strings.HasPrefix(setting, "--"+flag+" ") {
			return false
		}
	}
	return true
}

// given are the flags that were given, but for those that say where to write and
// whose report it is.
func given(s *pflag.FlagSet) []string {
	var all []string
	s.Visit(func(f *pflag.Flag) {
		switch f.Name {
		case "out", "data", "key", "name", "per", "department", "title", "subtitle", "appraisal-year", "where", "settings", "font":
			return
		}
		value := f.Value.String()
		switch f.Name {
		case "published", "revisions", "deaths":
			var base []string
			for _, v := range f.Value.(pflag.SliceValue).GetSlice() {
				base = append(base, filepath.Base(cohort.ShownName(v)))
			}
			value = strings.Join(base, ", ")
		}
		all = append(all, "--"+f.Name+" "+strings.Trim(value, "[]"))
	})
	return all
}

// hintFont says that letters are missing, once.
func (a *app) hintFont(font *text.Font, words string) {
	if font == nil {
		font = text.Default()
	}
	if !a.hinted && font.Lacks(words) {
		a.hinted = true
		fmt.Fprintln(a.stderr, "Some letters are not in the font, and are shown by their numbers, such as U+738B. --font FILE.ttf names a font that has them.")
	}
}

// font reads a font of the user's own; none gives nil.
func (a *app) font(name string) (*text.Font, error) {
	if name == "" {
		return nil, nil
	}
	file, err := a.digests.open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	b, err := io.ReadAll(file)
	if err != nil {
		return nil, err
	}
	f, err := text.ReadFont(b)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return f, nil
}
