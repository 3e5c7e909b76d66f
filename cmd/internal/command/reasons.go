package command

import (
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/course"
	"example.org/holdfast/cohort/figure"
)

type reasonsFlags struct {
	drawFlags
	smooth bool
	figure string
}

func (a *app) reasons() *cobra.Command {
	f := new(reasonsFlags)
	c := &cobra.Command{
		Use:   "reasons TABLE...",
		Short: "Why joints are revised, how early, and what happens after it",
		Long: `Reads outcomes tables as holdfast audit does and says, for each joint and procedure:
by each year, for which reasons joints were revised, how many patients died first, and
how many joints are neither, adding up to 100 %; how often joints are revised in the
first 90 days, up to a year, up to five years and later; and, where tables of
revisions or of operations record them, how many are revised again. --figure draws
the reasons, death and the rest, stacked.`,
		Example: `  holdfast reasons mine.csv --closing-date 2024-12-31
  holdfast reasons mine.csv --where bearing=ceramic-on-ceramic --years 1,5
  holdfast reasons primaries.csv --revisions revisions.csv --format csv --out reasons.csv`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error { return a.runReasons(c, f, args) }),
	}
	s := c.Flags()
	s.StringVar(&f.years, "years", "1,3,5,10,15", "`YEARS` since operation to report")
	s.StringVar(&f.interval, "interval", "log-log", "`METHOD` of intervals: log-log, log, plain or beta-product")
	s.Float64Var(&f.level, "level", settings.DefaultLevel, "confidence `LEVEL`")
	s.BoolVar(&f.smooth, "smooth", false, "add the rate of revision smoothed over time")
	s.StringVar(&f.figure, "figure", "", "write the figure to `FILE`, whose ending is .svg, .png or .pdf")
	s.Float64Var(&f.width, "width", 170, "width of the figure in `MM`")
	s.IntVar(&f.dpi, "dpi", 200, "dots per inch of a PNG, `NUMBER`")
	s.StringVar(&f.data, "data", "", "write what is drawn to `FILE` (CSV)")
	s.StringVar(&f.font, "font", "", "TrueType `FILE` for scripts that the built-in font lacks")
	s.StringVar(&f.format, "format", "text", "`FORMAT`: text, markdown, csv or json")
	s.StringVar(&f.out, "out", "", "write to `FILE` instead of standard output")
	f.readingFlags.add(c)
	return c
}

func (a *app) runReasons(c *cobra.Command, f *reasonsFlags, args []string) error {
	if !slices.Contains([]string{"text", "markdown", "csv", "json"}, f.format) {
		return usage("--format %q: want text, markdown, csv or json", f.format)
	}
	if f.data != "" && f.figure == "" {
		return usage("--data writes what a figure draws: name one with --figure")
	}
	draw := func(*figure.Figure, io.Writer) error { return nil }
	in, err := f.inForce(c.Flags())
	if err == nil && f.figure != "" {
		to := f.drawFlags
		to.out = f.figure
		draw, err = to.writer()
	}
	if err != nil {
		return err
	}
	if err := apart([]string{f.out, f.figure, f.data}, append(in.Inputs(args), f.font)); err != nil {
		return err
	}
	ro, err := in.Reading()
	if err != nil {
		return err
	}
	ao, err := in.Audit()
	if err != nil {
		return err
	}
	if len(ao.Endpoint.Reasons) > 0 {
		return usage("%s: every reason is shown here", in.From("reasons"))
	}
	co, err := a.read(c.Context(), args, ro)
	if err != nil {
		return in.Placed(err)
	}
	if !co.HasColumn("revision_reason") && len(co.Revisions()) == 0 {
		return fmt.Errorf("no table has a column revision_reason, so that reasons can't be told apart")
	}
	k, err := course.Run(co, course.Options{Years: ao.Years, Interval: ao.Interval, Smooth: f.smooth})
	if err != nil {
		return &usageError{Err: err}
	}
	if err := f.drawCourse(a, k, draw); err != nil {
		return err
	}
	return a.output(f.out, func(w io.Writer) error {
		switch f.format {
		case "csv":
			a.summary(&audit.Audit{Account: k.Account, Closing: k.Closing})
			return course.WriteCSV(w, k)
		case "json":
			a.summary(&audit.Audit{Account: k.Account, Closing: k.Closing})
			return course.WriteJSON(w, k)
		}
		return a.readable(w, report.Course(k), f.format, f.out)
	})
}

// drawCourse writes the figure, and what it draws, if they were asked for.
func (f *reasonsFlags) drawCourse(a *app, k *course.Course, draw func(*figure.Figure, io.Writer) error) error {
	if f.figure == "" {
		return nil
	}
	drawn, err := figure.Reasons(k, figure.ReasonsOptions{Width: figure.Millimetres(f.width)})
	if err != nil {
		return err
	}
	drawn = drawn.Marked(k.Files)
	if drawn.Font, err = a.font(f.font); err != nil {
		return err
	}
	if f.data != "" {
		if err := a.writeFile(f.data, drawn.WriteCSV); err != nil {
			return err
		}
	}
	return a.writeFile(f.figure, func(w io.Writer) error { return draw(drawn, w) })
}
