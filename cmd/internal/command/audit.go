package command

import (
	"cmp"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

type auditFlags struct {
	readingFlags
	by        string
	years     string
	interval  string
	level     float64
	published []string
	builtin   string
	expected  string
	countries []string
	minAtRisk float64
	reasons   []string
	format    string
	out       string
	setAside  string
	compared  string
	worstCase bool
	full      bool
	share     bool
}

func (a *app) audit() *cobra.Command {
	f := new(auditFlags)
	c := &cobra.Command{
		Use:   "audit TABLE...",
		Short: "Cumulative revision by group, beside published figures",
		Long: `Reads one or more outcomes tables (workbooks, CSV or other delimited text,
Parquet, Arrow IPC; - is standard input), one row per primary joint replacement, and prints
what was read and set aside, cumulative revision by group, and the comparison
with published figures.

Joint and procedure always separate the audit. Columns needed: operation_date
and revision_date. See holdfast template for all columns, holdfast check for how
a table is understood, holdfast published for the built-in figures.`,
		Example: `  holdfast audit mine.csv --closing-date 2024-12-31
  holdfast audit mine.csv --by bearing --where joint=hip --where sex=F
  holdfast audit mine.csv --published registry.csv --format csv --out audit.csv
  holdfast audit a.csv b.csv --by hospital --set-aside set-aside.csv`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error { return a.runAudit(c, f, args) }),
	}
	s := c.Flags()
	f.analysis(s)
	s.StringVar(&f.format, "format", "text", "`FORMAT`: text, markdown, csv or json")
	s.StringVar(&f.out, "out", "", "write to `FILE` instead of standard output")
	s.StringVar(&f.compared, "comparisons", "", "write each published figure beside the own joints of its kind to `FILE` (CSV)")
	s.StringVar(&f.setAside, "set-aside", "", "write the rows set aside, with their reasons, to `FILE` (CSV)")
	s.BoolVar(&f.full, "full", false, "print all groups, years, comparisons, sources and the method")
	f.sharing(s)
	a.addWidth(s)
	f.readingFlags.add(c)
	return c
}

// sharing adds the flag that makes an output safe to leave the building.
func (f *auditFlags) sharing(s *pflag.FlagSet) {
	s.BoolVar(&f.share, "share", false, "make it safe to leave the building: small counts hidden, others rounded, no rows or days")
}

// analysis adds the flags that say what is estimated and compared. Audit and
// report share them.
func (f *auditFlags) analysis(s *pflag.FlagSet) {
	s.StringVar(&f.by, "by", strings.Join(audit.DefaultBy, ","), "`COLUMNS` to group by within joint and procedure, or none")
	s.StringVar(&f.years, "years", "1,3,5,10,15", "`YEARS` since operation to report")
	s.StringVar(&f.interval, "interval", "log-log", "`METHOD` of intervals: log-log, log, plain or beta-product")
	s.Float64Var(&f.level, "level", defaultLevel, "confidence `LEVEL`")
	s.StringArrayVar(&f.published, "published", nil, "`FILE` of published figures, before the built-in ones; none for neither; repeatable")
	s.StringVar(&f.builtin, "builtin", "yes", "no leaves out the built-in published figures")
	s.StringVar(&f.expected, "expected", "published", "own sets surgeons, hospitals or other units grouped by beside what all joints of the table would lead one to expect too")
	s.StringArrayVar(&f.countries, "country", nil, "only published figures of this `COUNTRY`; repeatable")
	s.Float64Var(&f.minAtRisk, "min-at-risk", survival.DefaultMinAtRisk, "mark estimates with fewer than this `NUMBER` at risk")
	s.StringArrayVar(&f.reasons, "reason", nil, "count only revisions for this `REASON`, the others compete; repeatable")
	s.BoolVar(&f.worstCase, "worst-case", false, "show beside each estimate the one with every lost joint revised when last seen")
}

func (a *app) runAudit(c *cobra.Command, f *auditFlags, args []string) error {
	if !slices.Contains([]string{"text", "markdown", "csv", "json"}, f.format) {
		return usage("--format %q: want text, markdown, csv or json", f.format)
	}
	if f.share && f.setAside != "" {
		return usage("--set-aside holds row numbers: it can't stand beside --share")
	}
	if f.share && f.compared != "" {
		return usage("--comparisons counts joints of many overlapping kinds: it can't stand beside --share")
	}
	in, err := f.inForce(c.Flags())
	if err != nil {
		return err
	}
	if err := apart([]string{f.out, f.setAside, f.compared}, in.inputs(args)); err != nil {
		return err
	}
	result, co, err := a.runSettings(c.Context(), args, in)
	if err != nil {
		return err
	}
	if f.share {
		if result, err = audit.Share(result); err != nil {
			return err
		}
	}
	if f.setAside != "" {
		if err := a.output(f.setAside, func(w io.Writer) error { return writeSetAside(w, co) }); err != nil {
			return err
		}
	}
	if f.compared != "" {
		if err := a.output(f.compared, func(w io.Writer) error { return audit.WriteComparisons(w, result) }); err != nil {
			return err
		}
	}
	return a.output(f.out, func(w io.Writer) error {
		switch f.format {
		case "csv":
			a.summary(result)
			return audit.WriteCSV(w, result)
		case "json":
			a.summary(result)
			return audit.WriteJSON(w, result)
		}
		d, err := f.page(c, result, co, args)
		if err != nil {
			return err
		}
		return a.readable(w, d, f.format, f.out)
	})
}

// page is the audit to be read: on one page, or all of it. One made for sharing is
// all of it, since what a page says beside an audit is not shared.
func (f *auditFlags) page(c *cobra.Command, result *audit.Audit, co *cohort.Cohort, args []string) (*document.Document, error) {
	if f.full || f.share {
		return report.Audit(result), nil
	}
	facts, err := gather.FactsOf(co, result)
	if err != nil {
		return nil, err
	}
	return report.Answer(result, facts, again(c, "check", args)), nil
}

// runSettings reads tables and audits them as the settings in force say.
func (a *app) runSettings(ctx context.Context, tables []string, in *settings) (*audit.Audit, *cohort.Cohort, error) {
	ro, err := in.reading()
	if err != nil {
		return nil, nil, err
	}
	ao, err := in.audit()
	if err != nil {
		return nil, nil, err
	}
	if ao.Published, err = a.figures(in); err != nil {
		return nil, nil, err
	}
	ro.Keep = slices.Concat(ro.Keep, ao.By, audit.Statable)
	co, err := a.read(ctx, tables, ro)
	if err != nil {
		return nil, nil, in.placed(err)
	}
	var without []string
	if !in.given["by"] {
		ao.By, without = grouped(co, ao.By)
	}
	result, err := audit.Run(co, ao)
	if err != nil {
		return nil, nil, &usageError{err} // all of them are about what was asked for
	}
	if len(without) > 0 {
		result.DroppedBy = append(result.DroppedBy, without...)
		result.Notes = append(result.Notes, fmt.Sprintf("The table has nothing to group by %s, as the settings ask, so that is left out.", strings.Join(without, " or ")))
	}
	return result, co, nil
}

// grouped parts the fields that the settings group by into those that the
// tables have, or that are no columns of an outcomes table and so perhaps
// mistyped, and those that the tables lack. One settings file serves tables
// with and without a column.
func grouped(c *cohort.Cohort, by []string) (has, lacks []string) {
	if by == nil {
		return nil, nil
	}
	has = []string{}
	for _, name := range by {
		known := name == "age_band" || slices.ContainsFunc(cohort.Columns(), func(k cohort.Column) bool { return k.Name == name && !k.Identifying })
		if known && !c.HasColumn(name) {
			lacks = append(lacks, name)
		} else {
			has = append(has, name)
		}
	}
	return has, lacks
}

// inForce is the settings read with the flags laid over them.
func (f *auditFlags) inForce(flags *pflag.FlagSet) (*settings, error) {
	read, err := readSettings(f.settings)
	if err != nil {
		return nil, err
	}
	return f.lay(flags, read)
}

// options are the settings in force, and what they say of reading and of the audit.
func (f *auditFlags) options(flags *pflag.FlagSet) (in *settings, ro cohort.Options, ao audit.Options, err error) {
	if in, err = f.inForce(flags); err != nil {
		return nil, ro, ao, err
	}
	if ro, err = in.reading(); err != nil {
		return nil, ro, ao, err
	}
	ao, err = in.audit()
	return in, ro, ao, err
}

// lay lays the flags given over the settings read, as that of the reading flags
// does.
func (f *auditFlags) lay(flags *pflag.FlagSet, read *settings) (*settings, error) {
	in, err := f.readingFlags.lay(flags, read)
	if err != nil {
		return nil, err
	}
	if in.given["by"] {
		in.By = []string{}
		for _, name := range strings.Split(f.by, ",") {
			if name = strings.TrimSpace(name); name != "" {
				in.By = append(in.By, name)
			}
		}
	}
	if in.given["years"] {
		if in.Years, err = numbers(f.years); err != nil {
			return nil, usage("--years %q: want numbers such as 1,3,5,10,15", f.years)
		}
	}
	if in.given["interval"] {
		in.Interval = f.interval
	}
	if in.given["level"] {
		in.Level = &f.level
	}
	if in.given["min-at-risk"] {
		in.MinAtRisk = &f.minAtRisk
	}
	if in.given["published"] {
		in.Published = f.published
	}
	if in.given["builtin"] {
		in.Builtin = f.builtin
	}
	if in.given["expected"] {
		in.Expected = f.expected
	}
	if in.given["country"] {
		in.Countries = f.countries
	}
	if in.given["reason"] {
		in.Reasons = f.reasons
	}
	if in.given["worst-case"] {
		in.WorstCase = &f.worstCase
	}
	return in, nil
}

// inputs are the files that are read, given the tables.
func (s *settings) inputs(tables []string) []string {
	return slices.Concat(tables, s.Revisions, s.Deaths, s.Published, []string{s.file})
}

// audit checks what is in force about the audit, once.
func (s *settings) audit() (audit.Options, error) {
	o := audit.Options{By: s.By, Years: s.Years}
	if slices.Contains(o.By, "none") {
		if len(o.By) > 1 {
			return o, usage("%s %q: none stands alone", s.from("by"), strings.Join(o.By, ","))
		}
		o.By = []string{}
	}
	if o.Years == nil {
		o.Years = audit.DefaultYears
	}
	if len(o.Years) == 0 {
		return o, usage("%s: want numbers such as 1,3,5,10,15", s.from("years"))
	}
	for _, y := range o.Years {
		if !(y > 0 && y <= 100) {
			return o, usage("%s: %v is not above 0 and up to 100", s.from("years"), y)
		}
	}
	name := cmp.Or(s.Interval, "log-log")
	method, err := survival.ParseMethod(name)
	if err != nil {
		return o, usage("%s %q: want log-log, log, plain or beta-product", s.from("interval"), name)
	}
	o.Interval = survival.Interval{Level: defaultLevel, Method: method, MinAtRisk: survival.DefaultMinAtRisk}
	if s.Level != nil {
		o.Interval.Level = *s.Level
	}
	if !(o.Interval.Level > 0 && o.Interval.Level < 1) {
		return o, usage("%s %v: want a number between 0 and 1, such as 0.95", s.from("level"), o.Interval.Level)
	}
	if s.MinAtRisk != nil {
		o.Interval.MinAtRisk = *s.MinAtRisk
	}
	switch m := o.Interval.MinAtRisk; {
	case !(m >= 0):
		return o, usage("%s %v: want 0 or more", s.from("min_at_risk"), m)
	case m == 0:
		o.Interval.MinAtRisk = -1 // no floor
	}
	for _, r := range s.Reasons {
		word, known := cohort.ParseReason(r)
		if !known {
			return o, usage("%s %q is not a reason for revision that is known; there are: %s", s.from("reasons"), r, strings.Join(cohort.Reasons(), ", "))
		}
		if !slices.Contains(o.Endpoint.Reasons, word) {
			o.Endpoint.Reasons = append(o.Endpoint.Reasons, word)
		}
	}
	switch cmp.Or(s.Expected, "published") {
	case "own":
		o.ExpectedOwn = true
	case "published":
	default:
		return o, usage("%s %q: want published or own", s.from("expected"), s.Expected)
	}
	o.WorstCase = s.WorstCase != nil && *s.WorstCase
	return o, nil
}

// defaultLevel is the confidence level unless told otherwise.
const defaultLevel = 0.95

// figures are the user's published series, then the built-in ones, of the
// countries asked for; the one name "none" gives neither.
func (a *app) figures(in *settings) ([]*benchmark.Series, error) {
	files := in.Published
	builtin := cmp.Or(in.Builtin, "yes")
	if builtin != "yes" && builtin != "no" {
		return nil, usage("%s %q: want yes or no", in.from("builtin"), builtin)
	}
	if slices.Contains(files, "none") {
		if len(files) > 1 {
			return nil, usage("--published none can't stand beside another --published")
		}
		return nil, nil
	}
	var user []*benchmark.Series
	for _, name := range files {
		series, err := a.publishedFile(name)
		if err != nil {
			return nil, err
		}
		user = append(user, series...)
	}
	all := user
	if builtin == "yes" {
		all = append(all, benchmark.Builtin()...)
	}
	if len(in.Countries) == 0 {
		return all, nil
	}
	of := slices.DeleteFunc(slices.Clone(all), func(s *benchmark.Series) bool { return !s.From(in.Countries) })
	if len(of) == 0 {
		return nil, usage("%s %s: no published figure is from there; there are figures from %s", in.from("countries"), strings.Join(in.Countries, ", "), strings.Join(benchmark.Countries(all), ", "))
	}
	return of, nil
}

func (a *app) publishedFile(name string) ([]*benchmark.Series, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	series, warnings, err := benchmark.Read(f, name)
	if err != nil {
		return nil, err
	}
	const most = 10
	for i, w := range warnings {
		if i == most {
			fmt.Fprintf(a.stderr, "holdfast: %s: and %d more such remarks\n", name, len(warnings)-most)
			break
		}
		fmt.Fprintf(a.stderr, "holdfast: %s\n", w)
	}
	return series, nil
}

// summary says on standard error what a data format has no place for.
func (a *app) summary(r *audit.Audit) {
	if r.Shared != nil {
		for _, n := range r.Notes {
			fmt.Fprintln(a.stderr, n)
		}
		return
	}
	rows := "rows"
	if r.Account.Read == 1 {
		rows = "row"
	}
	fmt.Fprintf(a.stderr, "%d %s read = %d used + %d set aside. Closing date %s.\n",
		r.Account.Read, rows, r.Account.Used, r.Account.SetAside, r.Closing.Day)
	for _, n := range r.Notes {
		fmt.Fprintln(a.stderr, n)
	}
}

// writeSetAside writes the rows set aside as CSV, those of the tables joined to
// the primaries after them.
func writeSetAside(w io.Writer, c *cohort.Cohort) error {
	cw := csv.NewWriter(w)
	if err := cw.Write([]string{"file", "sheet", "row", "column", "reason"}); err != nil {
		return err
	}
	linked := slices.DeleteFunc(c.Linked(), func(p cohort.Problem) bool { return p.Reason == cohort.RevisionJoined || !p.Reason.SetsAside() })
	for _, p := range append(c.SetAside(), linked...) {
		f := c.Files[p.File]
		err := cw.Write([]string{audit.Protect(f.Name), audit.Protect(f.Sheet), strconv.Itoa(p.Row), audit.Protect(p.Column), audit.Protect(c.Describe(p))})
		if err != nil {
			return err
		}
	}
	cw.Flush()
	return cw.Error()
}
