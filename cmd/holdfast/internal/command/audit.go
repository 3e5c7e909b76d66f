package command

import (
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/holdfast/internal/report"
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
	minAtRisk float64
	reasons   []string
	format    string
	out       string
	setAside  string
	worstCase bool
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
	s.StringVar(&f.by, "by", strings.Join(audit.DefaultBy, ","), "`COLUMNS` to group by within joint and procedure, or none")
	s.StringVar(&f.years, "years", "1,3,5,10,15", "`YEARS` since operation to report")
	s.StringVar(&f.interval, "interval", "log-log", "`METHOD` of intervals: log-log, log, plain or beta-product")
	s.Float64Var(&f.level, "level", 0.95, "confidence `LEVEL`")
	s.StringArrayVar(&f.published, "published", nil, "`FILE` of published figures, before the built-in ones; none for neither; repeatable")
	s.Float64Var(&f.minAtRisk, "min-at-risk", survival.DefaultMinAtRisk, "mark estimates with fewer than this `NUMBER` at risk")
	s.StringArrayVar(&f.reasons, "reason", nil, "count only revisions for this `REASON`, the others compete; repeatable")
	s.StringVar(&f.format, "format", "text", "`FORMAT`: text, markdown, csv or json")
	s.StringVar(&f.out, "out", "", "write to `FILE` instead of standard output")
	s.StringVar(&f.setAside, "set-aside", "", "write the rows set aside, with their reasons, to `FILE` (CSV)")
	s.BoolVar(&f.worstCase, "worst-case", false, "show beside each estimate the one with every lost joint revised when last seen")
	f.readingFlags.add(c)
	return c
}

func (a *app) runAudit(c *cobra.Command, f *auditFlags, args []string) error {
	set, err := readSettings(f.settings)
	if err != nil {
		return err
	}
	if !slices.Contains([]string{"text", "markdown", "csv", "json"}, f.format) {
		return usage("--format %q: want text, markdown, csv or json", f.format)
	}
	ro, err := f.readingFlags.options(c.Flags(), set)
	if err != nil {
		return err
	}
	ao, err := f.auditOptions(c, set)
	if err != nil {
		return err
	}
	files := f.published
	if !c.Flags().Changed("published") {
		files = set.Published
	}
	if err := apart([]string{f.out, f.setAside}, slices.Concat(args, files, []string{f.settings})); err != nil {
		return err
	}
	if ao.Book, err = a.book(files); err != nil {
		return err
	}
	ao.WorstCase = f.worstCase
	if !c.Flags().Changed("worst-case") && set.WorstCase != nil {
		ao.WorstCase = *set.WorstCase
	}
	ro.Keep = append(ro.Keep, ao.By...)

	co, err := a.read(c.Context(), args, ro)
	if err != nil {
		return err
	}
	result, err := audit.Run(co, ao)
	if err != nil {
		return &usageError{err} // all of them are about what was asked for
	}
	if f.setAside != "" {
		if err := a.output(f.setAside, func(w io.Writer) error { return writeSetAside(w, co) }); err != nil {
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
		return a.readable(w, report.Audit(result), f.format, f.out)
	})
}

// auditOptions checks what the flags and settings say about the audit.
func (f *auditFlags) auditOptions(c *cobra.Command, set *settings) (audit.Options, error) {
	var o audit.Options
	flags := c.Flags()
	switch {
	case flags.Changed("by") && (f.by == "" || f.by == "none"):
		o.By = []string{}
	case flags.Changed("by") && slices.Contains(strings.Split(f.by, ","), "none"):
		return o, usage("--by %q: none stands alone", f.by)
	case flags.Changed("by"):
		for _, name := range strings.Split(f.by, ",") {
			if name = strings.TrimSpace(name); name != "" {
				o.By = append(o.By, name)
			}
		}
	case set.By != nil:
		o.By = set.By
	}
	o.Years = set.Years
	if flags.Changed("years") || o.Years == nil {
		years, err := numbers(f.years)
		if err != nil {
			return o, usage("--years %q: want numbers such as 1,3,5,10,15", f.years)
		}
		o.Years = years
	}
	if len(o.Years) == 0 {
		return o, usage("years: want numbers such as 1,3,5,10,15")
	}
	for _, y := range o.Years {
		if !(y > 0 && y <= 100) {
			return o, usage("--years: %v is not above 0 and up to 100", y)
		}
	}
	name := f.interval
	if !flags.Changed("interval") && set.Interval != "" {
		name = set.Interval
	}
	method, err := survival.ParseMethod(name)
	if err != nil {
		return o, usage("--interval %q: want log-log, log, plain or beta-product", name)
	}
	o.Interval = survival.Interval{Level: f.level, Method: method, MinAtRisk: f.minAtRisk}
	if !flags.Changed("level") && set.Level != nil {
		o.Interval.Level = *set.Level
	}
	if !(o.Interval.Level > 0 && o.Interval.Level < 1) {
		return o, usage("--level %v: want a number between 0 and 1, such as 0.95", o.Interval.Level)
	}
	if !flags.Changed("min-at-risk") && set.MinAtRisk != nil {
		o.Interval.MinAtRisk = *set.MinAtRisk
	}
	switch m := o.Interval.MinAtRisk; {
	case !(m >= 0):
		return o, usage("--min-at-risk %v: want 0 or more", m)
	case m == 0:
		o.Interval.MinAtRisk = -1 // no floor
	}
	reasons := f.reasons
	if !flags.Changed("reason") {
		reasons = set.Reasons
	}
	for _, r := range reasons {
		word, known := cohort.ParseReason(r)
		if !known {
			return o, usage("--reason %q is not a reason for revision that is known; there are: %s", r, strings.Join(cohort.Reasons(), ", "))
		}
		if !slices.Contains(o.Endpoint.Reasons, word) {
			o.Endpoint.Reasons = append(o.Endpoint.Reasons, word)
		}
	}
	return o, nil
}

// book holds the user's published figures, then the built-in ones; the one
// name "none" gives neither.
func (a *app) book(files []string) (*benchmark.Book, error) {
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
	return benchmark.NewBook(user, benchmark.Builtin()), nil
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

// writeSetAside writes the rows set aside as CSV.
func writeSetAside(w io.Writer, c *cohort.Cohort) error {
	cw := csv.NewWriter(w)
	if err := cw.Write([]string{"file", "row", "column", "reason"}); err != nil {
		return err
	}
	for _, p := range c.SetAside() {
		err := cw.Write([]string{audit.Protect(c.Files[p.File].Name), strconv.Itoa(p.Row), p.Column, c.Describe(p)})
		if err != nil {
			return err
		}
	}
	cw.Flush()
	return cw.Error()
}
