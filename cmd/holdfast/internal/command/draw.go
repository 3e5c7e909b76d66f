package command

import (
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/figure"
)

type drawFlags struct {
	auditFlags
	kind        string
	estimate    string
	year        float64
	maxYears    float64
	top         float64
	noBands     bool
	noPublished bool
	label       []string
	dispersion  bool
	width       float64
	dpi         int
	data        string
	font        string
}

func (a *app) draw() *cobra.Command {
	f := new(drawFlags)
	c := &cobra.Command{
		Use:   "draw TABLE... --out FILE.svg|.png|.pdf",
		Short: "A figure: curves, intervals, observed/expected, a funnel",
		Long: `Draws one figure; the ending of --out chooses SVG, PNG or PDF. Each joint and
procedure has a panel of its own: nothing is pooled across them.

  curves      cumulative revision over the years since operation, with intervals,
              numbers at risk and published figures (default)
  intervals   the groups at one year, beside their published figures
  over-years  observed over expected revisions of the joints operated on up to
              each year
  funnel      observed over expected revisions of each surgeon or hospital, with
              the limits of chance; unlabelled, in no order

--data writes what is drawn as CSV.`,
		Example: `  holdfast draw mine.csv --by bearing --where joint=hip --out bearing.svg
  holdfast draw mine.csv --kind intervals --by fixation --year 5 --out fixation.pdf
  holdfast draw department.csv --kind funnel --by surgeon --out funnel.png`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error { return a.runDraw(c, f, args) }),
	}
	s := c.Flags()
	s.StringVar(&f.kind, "kind", "curves", "`KIND` of figure: curves, intervals, over-years or funnel")
	s.StringVar(&f.out, "out", "", "write to `FILE`, whose ending is .svg, .png or .pdf")
	s.StringVar(&f.data, "data", "", "write what is drawn to `FILE` (CSV)")
	s.StringVar(&f.estimate, "estimate", "revision", "`ESTIMATE` drawn: revision, incidence or both, apart")
	s.Float64Var(&f.year, "year", 5, "`YEAR` of --kind intervals")
	s.Float64Var(&f.maxYears, "max-years", 0, "end the curves after this `NUMBER` of years")
	s.Float64Var(&f.top, "top", 0, "end of the vertical axis of curves in `PERCENT` (default: found)")
	s.BoolVar(&f.noBands, "no-bands", false, "curves without interval bands")
	s.BoolVar(&f.noPublished, "no-published", false, "curves without published figures")
	s.StringArrayVar(&f.label, "label", nil, "label this `VALUE` in a funnel, or all; repeatable")
	s.BoolVar(&f.dispersion, "over-dispersion", false, "widen the limits of a funnel where units differ by more than chance")
	s.Float64Var(&f.width, "width", 170, "width in `MM`")
	s.IntVar(&f.dpi, "dpi", 200, "dots per inch of a PNG, `NUMBER`")
	s.StringVar(&f.font, "font", "", "TrueType `FILE` for scripts that the built-in font lacks")
	f.analysis(s)
	f.sharing(s)
	s.Lookup("by").DefValue, f.by = "", ""
	s.Lookup("by").Usage = "`COLUMN` whose values are drawn apart (default: all together; of a funnel, surgeon)"
	f.readingFlags.add(c)
	return c
}

func (a *app) runDraw(c *cobra.Command, f *drawFlags, args []string) error {
	write, err := f.writer()
	if err != nil {
		return err
	}
	estimand, ok := map[string]figure.Estimand{"revision": figure.KaplanMeier, "incidence": figure.Incidence, "both": figure.Both}[f.estimate]
	if !ok {
		return usage("--estimate %q: want revision, incidence or both", f.estimate)
	}
	if !slices.Contains([]string{"curves", "intervals", "over-years", "funnel"}, f.kind) {
		return usage("--kind %q: want curves, intervals, over-years or funnel", f.kind)
	}
	if strings.Contains(f.by, ",") {
		return usage("--by %q: a figure is drawn by one column", f.by)
	}
	for _, flag := range []struct{ name, kinds string }{
		{"year", "intervals"}, {"max-years", "curves"}, {"top", "curves"}, {"no-bands", "curves"}, {"no-published", "curves"}, {"label", "funnel"},
		{"over-dispersion", "funnel"}, {"estimate", "curves intervals"}, {"by", "curves intervals funnel"},
	} {
		if c.Flags().Changed(flag.name) && !slices.Contains(strings.Fields(flag.kinds), f.kind) {
			return usage("--%s has no place in --kind %s, only in %s", flag.name, f.kind, strings.ReplaceAll(flag.kinds, " ", " and "))
		}
	}
	in, err := f.inForce(c.Flags())
	if err != nil {
		return err
	}
	ro, err := in.reading()
	if err != nil {
		return err
	}
	ao, err := in.audit()
	if err != nil {
		return err
	}
	inputs := append(in.inputs(args), f.font)
	if err := apart([]string{f.out, f.data}, inputs); err != nil {
		return err
	}
	if ao.Book, err = a.book(in.Published); err != nil {
		return err
	}
	font, err := readFont(f.font)
	if err != nil {
		return err
	}
	field := strings.TrimSpace(f.by)
	switch {
	case f.kind == "over-years":
		field = audit.OperationYear
	case field == "" && f.kind == "funnel":
		field = "surgeon"
	}
	ao.By = []string{}
	if field != "" {
		ao.By = []string{field}
	}
	if f.kind == "intervals" && !slices.Contains(ao.Years, f.year) {
		ao.Years = append(ao.Years, f.year)
	}
	ro.Keep = append(ro.Keep, ao.By...)
	co, err := a.read(c.Context(), args, ro)
	if err != nil {
		return in.placed(err)
	}
	if f.share {
		ao.NoCells, ao.Years = true, nil
		for y := range longestShared { // a shared audit has no other points
			ao.Years = append(ao.Years, float64(y+1))
		}
	}
	result, err := audit.Run(co, ao)
	if err != nil {
		return &usageError{err}
	}
	if f.share {
		if result, err = audit.Share(result); err != nil {
			return err
		}
	}
	if field != "" {
		field = result.By[0] // as the table names it
	}
	all := slices.Contains(f.label, "all")
	labels := slices.DeleteFunc(slices.Clone(f.label), func(s string) bool { return s == "all" })
	for _, v := range labels {
		if !slices.ContainsFunc(result.Groups, func(g audit.Group) bool { return g.Word(field) == v }) {
			return usage("--label %q: no row has the %s %q", v, field, v)
		}
	}
	width := figure.Millimetres(f.width)
	var drawn *figure.Figure
	switch f.kind {
	case "curves":
		drawn, err = figure.Curves(result, figure.CurvesOptions{Field: field, Estimand: estimand, MaxYears: f.maxYears, Top: f.top,
			NoBands: f.noBands, NoPublished: f.noPublished, Width: width})
	case "intervals":
		drawn, err = figure.Intervals(result, figure.IntervalsOptions{Field: field, Years: f.year, Estimand: estimand, Width: width})
	case "over-years":
		drawn, err = figure.OverYears(result, figure.OverYearsOptions{Width: width})
	case "funnel":
		drawn, err = figure.Funnel(result, figure.FunnelOptions{Field: field, Label: labels, LabelAll: all, OverDispersion: f.dispersion, Width: width})
	}
	if err != nil {
		return err
	}
	drawn.Font = font
	if !strings.EqualFold(filepath.Ext(f.out), ".svg") {
		var data strings.Builder
		if err := drawn.WriteCSV(&data); err != nil {
			return err
		}
		a.hintFont(font, data.String()+strings.Join(drawn.Notes, " "))
	}
	a.summary(result)
	if f.data != "" {
		if err := writeFile(f.data, drawn.WriteCSV); err != nil {
			return err
		}
	}
	return writeFile(f.out, func(w io.Writer) error { return write(drawn, w) })
}

// longestShared is up to how many years the points of a shared figure go.
const longestShared = 40

// writer is how a figure is written, by the ending of the file's name.
func (f *drawFlags) writer() (func(*figure.Figure, io.Writer) error, error) {
	switch ending := strings.ToLower(filepath.Ext(f.out)); {
	case f.out == "":
		return nil, usage("where to? Name a file: --out figure.svg, figure.png or figure.pdf")
	case ending == ".svg":
		return (*figure.Figure).WriteSVG, nil
	case ending == ".pdf":
		return (*figure.Figure).WritePDF, nil
	case ending == ".png":
		if f.dpi < 20 || f.dpi > 1200 {
			return nil, usage("--dpi %d: want 20 to 1200", f.dpi)
		}
		return func(g *figure.Figure, w io.Writer) error { return g.WritePNG(w, f.dpi) }, nil
	}
	return nil, usage("--out %q: want a name that ends in .svg, .png or .pdf", f.out)
}
