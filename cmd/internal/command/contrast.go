package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/contrast"
)

type contrastFlags struct {
	auditFlags
	between string
	within  string
	adjust  string
	against string
	gray    bool
}

func (a *app) contrast() *cobra.Command {
	f := new(contrastFlags)
	c := &cobra.Command{
		Use:   "contrast TABLE... --between COLUMN",
		Short: "Can groups of the table be told apart?",
		Long: `Reads outcomes tables as holdfast audit does and compares the groups of one
column with each other, for each joint and procedure by itself: revisions observed
and expected if all groups were alike, and in how many such series chance alone
would divide them as unevenly; differences of cumulative revision and of the time
free of revision; how often joints are revised, adjusted for other columns; and
who the patients of each group were.

--within compares only within strata, of what the group was chosen by. --adjust
fits a model, as far as the number of revisions allows: age is taken as it is, any
other column by its words. Joints whose group is not recorded are left out.

Groups are chosen for different patients. Neither --within nor --adjust covers more
than the columns named.`,
		Example: `  holdfast contrast mine.csv --between bearing
  holdfast contrast mine.csv --between bearing --within age_band,sex --adjust age,sex,fixation
  holdfast contrast mine.csv --between fixation --years 5 --format csv --out fixation.csv
  holdfast contrast mine.csv --between bearing --reason infection --gray`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error { return a.runContrast(c, f, args) }),
	}
	s := c.Flags()
	s.StringVar(&f.between, "between", "", "`COLUMN` whose groups are compared, such as bearing")
	s.StringVar(&f.within, "within", "", "`COLUMNS` within whose strata alone groups are compared, such as age_band,sex")
	s.StringVar(&f.adjust, "adjust", "", "`COLUMNS` that ratios are adjusted for, such as age,sex")
	s.StringVar(&f.against, "against", "", "`WORD` of the group that others are compared with (default: the largest)")
	s.BoolVar(&f.gray, "gray", false, "add Gray's test and the regression of Fine and Gray, of the cumulative incidence")
	s.StringVar(&f.years, "years", "1,3,5,10,15", "`YEARS` since operation at which groups are compared")
	s.StringVar(&f.interval, "interval", "log-log", "`METHOD` of intervals: log-log, log, plain or beta-product")
	s.Float64Var(&f.level, "level", settings.DefaultLevel, "confidence `LEVEL`")
	s.StringArrayVar(&f.reasons, "reason", nil, "count only revisions for this `REASON`, the others compete; repeatable")
	s.StringArrayVar(&f.published, "published", nil, "`FILE` of published figures, in which the same difference is looked up; none for none; repeatable")
	s.StringVar(&f.builtin, "builtin", "yes", "no leaves out the built-in published figures")
	s.StringVar(&f.format, "format", "text", "`FORMAT`: text, markdown, csv or json")
	s.StringVar(&f.out, "out", "", "write to `FILE` instead of standard output")
	f.sharing(s)
	f.readingFlags.add(c)
	return c
}

func (a *app) runContrast(c *cobra.Command, f *contrastFlags, args []string) error {
	switch {
	case !slices.Contains([]string{"text", "markdown", "csv", "json"}, f.format):
		return usage("--format %q: want text, markdown, csv or json", f.format)
	case f.share:
		return usage("--share: a contrast can't be made safe to share: observed, expected and differences give small counts away. Share an audit instead")
	case strings.TrimSpace(f.between) == "":
		return usage("between which groups? Name a column: --between bearing")
	}
	in, err := f.inForce(c.Flags())
	if err != nil {
		return err
	}
	if err := apart([]string{f.out}, in.Inputs(args)); err != nil {
		return err
	}
	k, err := a.contrasted(c.Context(), f, args, in)
	if err != nil {
		return err
	}
	return a.output(f.out, func(w io.Writer) error {
		switch f.format {
		case "csv":
			a.contrastSummary(k)
			return contrast.WriteCSV(w, k)
		case "json":
			a.contrastSummary(k)
			return contrast.WriteJSON(w, k)
		}
		return a.readable(w, report.Contrast(k), f.format, f.out)
	})
}

// contrasted reads tables and compares their groups as the settings in force say.
func (a *app) contrasted(ctx context.Context, f *contrastFlags, tables []string, in *settings.Settings) (*contrast.Contrast, error) {
	ro, err := in.Reading()
	if err != nil {
		return nil, err
	}
	ao, err := in.Audit()
	if err != nil {
		return nil, err
	}
	o := contrast.Options{
		Between: strings.TrimSpace(f.between), Within: columnsOf(f.within), Adjust: columnsOf(f.adjust), Against: f.against,
		Years: ao.Years, Interval: ao.Interval, Endpoint: ao.Endpoint, Gray: f.gray,
	}
	if in.Years == nil {
		o.Years = nil
	}
	if o.Published, err = a.figures(in); err != nil {
		return nil, err
	}
	for _, name := range slices.Concat([]string{o.Between}, o.Within, o.Adjust, cohort.CaseMix()) {
		if name != "age" && !cohort.Outcome(name) {
			ro.Keep = append(ro.Keep, name)
		}
	}
	source, co, err := a.source(ctx, tables, in, ro)
	switch {
	case err != nil:
		return nil, err
	case co == nil && slices.Contains(o.Adjust, "age"):
		return nil, usage("--adjust age: a tally has ages in bands alone: adjust for age_band")
	}
	k, err := contrast.Run(source, o)
	var refused *contrast.RefusedError
	if err != nil && !errors.As(err, &refused) {
		return nil, &usageError{Err: err} // all of them are about what was asked for
	}
	return k, err
}

// columnsOf parts a list of columns.
func columnsOf(s string) []string {
	var all []string
	for name := range strings.SplitSeq(s, ",") {
		if name = strings.TrimSpace(name); name != "" {
			all = append(all, name)
		}
	}
	return all
}

// contrastSummary says on standard error what a file does not hold.
func (a *app) contrastSummary(k *contrast.Contrast) {
	a.summary(&audit.Audit{Account: k.Account, Closing: k.Closing})
	for i := range k.Parts {
		for _, s := range k.Parts[i].Reasons() {
			fmt.Fprintln(a.stderr, s)
		}
	}
}
