package command

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
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
with published figures. A folder of Parquet files is one table: where its folders are
called hospital=A or year=2019, as programs part tables, that is a column of their
files. Tallies (holdfast tally) are taken in place of tables, or beside them.

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
	s.BoolVar(&f.share, "share", false, "make it safe to leave the building: small groups joined, counts rounded, no rows or days")
}

// analysis adds the flags that say what is estimated and compared. Audit and
// report share them.
func (f *auditFlags) analysis(s *pflag.FlagSet) {
	s.StringVar(&f.by, "by", strings.Join(audit.DefaultBy(), ","), "`COLUMNS` to group by within joint and procedure, or none")
	s.StringVar(&f.years, "years", "1,3,5,10,15", "`YEARS` since operation to report")
	s.StringVar(&f.interval, "interval", "log-log", "`METHOD` of intervals: log-log, log, plain or beta-product")
	s.Float64Var(&f.level, "level", settings.DefaultLevel, "confidence `LEVEL`")
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
	in, err := f.inForce(c.Flags())
	if err != nil {
		return err
	}
	if err := apart([]string{f.out, f.setAside, f.compared}, in.Inputs(args)); err != nil {
		return err
	}
	result, source, co, err := a.runSettings(c.Context(), args, in, f.share)
	switch {
	case err != nil:
		return err
	case f.setAside != "" && co == nil:
		return usage("--set-aside lists rows, and a tally has none")
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
			if result.WorstCase {
				fmt.Fprintln(a.stderr, "The CSV has no columns for the worst case: text, markdown and json have it.")
			}
			return audit.WriteCSV(w, result)
		case "json":
			a.summary(result)
			return audit.WriteJSON(w, result)
		}
		d, err := f.page(c, result, source, args)
		if err != nil {
			return err
		}
		return a.readable(w, d, f.format, f.out)
	})
}

// page is the audit to be read: on one page, or all of it. What a page says beside
// an audit is not shared.
func (f *auditFlags) page(c *cobra.Command, result *audit.Audit, source counted, args []string) (*document.Document, error) {
	var facts *gather.Facts
	rows := ""
	if !f.share {
		var err error
		if facts, err = gather.FactsOf(source, result); err != nil {
			return nil, err
		}
		if facts.Cohort != nil {
			rows = again(c, "check", args)
		}
	}
	if f.full {
		return report.Audit(result, facts)
	}
	return report.Answer(result, facts, rows), nil
}

// runSettings reads tables or tallies and audits them as the settings in force say, safe
// to share if that is asked for. There is no cohort where there are tallies.
func (a *app) runSettings(ctx context.Context, tables []string, in *settings.Settings, share bool) (*audit.Audit, counted, *cohort.Cohort, error) {
	ro, err := in.Reading()
	if err != nil {
		return nil, nil, nil, err
	}
	ao, err := in.Audit()
	if err != nil {
		return nil, nil, nil, err
	}
	if ao.Published, err = a.figures(in); err != nil {
		return nil, nil, nil, err
	}
	ro.Keep = slices.Concat(ro.Keep, ao.By, audit.Statable(), finer(ao))
	source, co, err := a.source(ctx, tables, in, ro)
	if err != nil {
		return nil, nil, nil, err
	}
	ao.By = pooledBy(source, in.Given["by"], ao.By)
	result, err := in.Run(source, ao, share)
	if err != nil {
		return nil, nil, nil, err
	}
	return result, source, co, nil
}

// inForce is the settings read with the flags laid over them.
func (f *auditFlags) inForce(flags *pflag.FlagSet) (*settings.Settings, error) {
	read, err := settings.Read(f.settings)
	if err != nil {
		return nil, err
	}
	return f.lay(flags, read)
}

// options are the settings in force, and what they say of reading and of the audit.
func (f *auditFlags) options(flags *pflag.FlagSet) (in *settings.Settings, ro cohort.Options, ao audit.Options, err error) {
	if in, err = f.inForce(flags); err != nil {
		return nil, ro, ao, err
	}
	if ro, err = in.Reading(); err != nil {
		return nil, ro, ao, err
	}
	ao, err = in.Audit()
	return in, ro, ao, err
}

// lay lays the flags given over the settings read, as that of the reading flags
// does.
func (f *auditFlags) lay(flags *pflag.FlagSet, read *settings.Settings) (*settings.Settings, error) {
	in, err := f.readingFlags.lay(flags, read)
	if err != nil {
		return nil, err
	}
	if in.Given["by"] {
		in.By = []string{}
		for _, name := range strings.Split(f.by, ",") {
			if name = strings.TrimSpace(name); name != "" {
				in.By = append(in.By, name)
			}
		}
	}
	if in.Given["years"] {
		if in.Years, err = numbers(f.years); err != nil {
			return nil, usage("--years %q: want numbers such as 1,3,5,10,15", f.years)
		}
	}
	if in.Given["interval"] {
		in.Interval = f.interval
	}
	if in.Given["level"] {
		in.Level = &f.level
	}
	if in.Given["min-at-risk"] {
		in.MinAtRisk = &f.minAtRisk
	}
	if in.Given["published"] {
		in.Published = f.published
	}
	if in.Given["builtin"] {
		in.Builtin = f.builtin
	}
	if in.Given["expected"] {
		in.Expected = f.expected
	}
	if in.Given["country"] {
		in.Countries = f.countries
	}
	if in.Given["reason"] {
		in.Reasons = f.reasons
	}
	if in.Given["worst-case"] {
		in.WorstCase = &f.worstCase
	}
	return in, nil
}

// figures are the published series in force, with the remarks on the files they
// come from said.
func (a *app) figures(in *settings.Settings) ([]*benchmark.Series, error) {
	series, remarks, err := in.Series(a.digests.open)
	for _, r := range remarks {
		fmt.Fprintf(a.stderr, "holdfast: %s\n", r)
	}
	return series, err
}

// summary says on standard error what a data format has no place for.
func (a *app) summary(r *audit.Audit) {
	if r.Shared != nil {
		for _, n := range r.Notes {
			fmt.Fprintln(a.stderr, text.Unmarked(n))
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
		fmt.Fprintln(a.stderr, text.Unmarked(n))
	}
}

// writeSetAside writes the rows set aside as CSV, those of the tables joined to
// the primaries after them.
func writeSetAside(w io.Writer, c *cohort.Cohort) error {
	cw := csv.NewWriter(w)
	if err := cw.Write([]string{"file", "sheet", "row", "column", "reason"}); err != nil {
		return err
	}
	for _, p := range c.Problems() {
		f := c.Files[p.File]
		if !p.Reason.SetsAside() || p.Reason == cohort.RevisionJoined && f.Holds != "primaries" {
			continue
		}
		line := []string{text.Protect(f.Name), text.Protect(f.Sheet), "", text.Protect(p.Column), text.Protect(c.Describe(p))}
		for one := range p.Each() {
			line[2] = strconv.Itoa(one.Row)
			if err := cw.Write(line); err != nil {
				return err
			}
		}
	}
	cw.Flush()
	return cw.Error()
}

// finer are the columns within which units are set beside their department.
func finer(o audit.Options) []string {
	if o.ExpectedOwn {
		return audit.Finer()
	}
	return nil
}
