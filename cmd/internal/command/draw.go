package command

import (
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/disclose"
	"example.org/holdfast/cohort/figure"
	"example.org/holdfast/cohort/text"
)

type drawFlags struct {
	auditFlags
	kind        string
	estimate    string
	year        float64
	maxYears    float64
	top         float64
	noPublished bool
	label       []string
	named       bool
	title       string
	caption     string
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
		Short: "A figure: curves, intervals, a strip, a funnel, a grid, follow-up",
		Long: `Draws one figure; the ending of --out chooses SVG, PNG or PDF. Nothing is pooled
across joints and procedures.

  curves      cumulative revision over the years since operation, a panel for each
              group on one scale, with intervals, numbers at risk and published
              figures (default)
  intervals   the groups at one year, beside their published figures
  strip       a line for each joint and procedure: cumulative revision beside what is
              published, each revision beside what is expected
  funnel      observed over expected revisions of each surgeon or hospital, with
              the limits of chance; in no order; fewer than five as a table
  grid        joints by two columns, such as --by age_band,bearing, shaded by their
              number
  follow-up   what became of the joints of each year of operation

Surgeons and hospitals have letters: --label names one, --name all of them. --data
writes what is drawn as CSV. --caption writes title and notes as text, and leaves
them out of the figure, for a journal or a slide.`,
		Example: `  holdfast draw mine.csv --by bearing --where joint=hip --out bearing.svg
  holdfast draw mine.csv --kind intervals --by fixation --year 5 --out fixation.pdf
  holdfast draw department.csv --kind funnel --by surgeon --out funnel.png`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error { return a.runDraw(c, f, args) }),
	}
	s := c.Flags()
	s.StringVar(&f.kind, "kind", "curves", "`KIND` of figure: "+figureKinds())
	s.StringVar(&f.out, "out", "", "write to `FILE`, whose ending is .svg, .png or .pdf")
	s.StringVar(&f.data, "data", "", "write what is drawn to `FILE` (CSV)")
	s.StringVar(&f.estimate, "estimate", "revision", "`ESTIMATE` drawn: revision, incidence or both, apart")
	s.Float64Var(&f.year, "year", 0, "`YEAR` of --kind intervals (default: the latest at which enough are at risk)")
	s.Float64Var(&f.maxYears, "max-years", 0, "end the curves after this `NUMBER` of years")
	s.Float64Var(&f.top, "top", 0, "end of the vertical axis of curves in `PERCENT` (default: found)")
	s.BoolVar(&f.noPublished, "no-published", false, "curves without published figures")
	s.StringArrayVar(&f.label, "label", nil, "name this surgeon or hospital, `VALUE`, who has a letter otherwise; repeatable")
	s.BoolVar(&f.named, "name", false, "name all surgeons or hospitals")
	s.StringVar(&f.title, "title", "", "the figure's title, `TEXT`")
	s.StringVar(&f.caption, "caption", "", "write title and notes to `FILE`, and a figure without them")
	s.BoolVar(&f.dispersion, "over-dispersion", false, "widen the limits of a funnel where units differ by more than chance")
	s.Float64Var(&f.width, "width", 170, "width in `MM`")
	s.IntVar(&f.dpi, "dpi", 200, "dots per inch of a PNG, `NUMBER`")
	s.StringVar(&f.font, "font", "", "TrueType `FILE` for scripts that the built-in font lacks")
	f.analysis(s)
	f.sharing(s)
	s.Lookup("by").DefValue, f.by = "", ""
	s.Lookup("by").Usage = "`COLUMN` whose values are drawn apart (default: all together; of a funnel, surgeon; of a grid, age_band,bearing)"
	f.readingFlags.add(c)
	return c
}

// figureKind is one kind of figure: the flags that have a place in it beside those
// of all kinds, what it is grouped by, and how it is drawn.
type figureKind struct {
	name   string
	flags  string
	by     []string // unless --by says otherwise
	fields int      // how many columns --by may name
	draw   func(f *drawFlags, result *audit.Audit, field string, o drawOptions) (*figure.Figure, error)
}

// drawOptions are the options of several kinds.
type drawOptions struct {
	estimand figure.Estimates
	names    figure.Names
}

var kinds = []figureKind{
	{"curves", "max-years top no-published label name estimate by", nil, 1, func(f *drawFlags, a *audit.Audit, field string, o drawOptions) (*figure.Figure, error) {
		return figure.Curves(a, figure.CurvesOptions{Field: field, Estimand: o.estimand, Names: o.names, MaxYears: f.maxYears, Top: f.top, NoPublished: f.noPublished, Width: figure.Millimetres(f.width)})
	}},
	{"intervals", "year label name estimate by", nil, 1, func(f *drawFlags, a *audit.Audit, field string, o drawOptions) (*figure.Figure, error) {
		return figure.Intervals(a, figure.IntervalsOptions{Field: field, Years: f.year, Estimand: o.estimand, Names: o.names, Width: figure.Millimetres(f.width)})
	}},
	{"strip", "", nil, 0, func(f *drawFlags, a *audit.Audit, _ string, _ drawOptions) (*figure.Figure, error) {
		return figure.Strip(a, figure.StripOptions{Width: figure.Millimetres(f.width)})
	}},
	{"funnel", "label name over-dispersion by", []string{"surgeon"}, 1, func(f *drawFlags, a *audit.Audit, field string, o drawOptions) (*figure.Figure, error) {
		return figure.Funnel(a, figure.FunnelOptions{Field: field, Names: o.names, OverDispersion: f.dispersion, Own: a.Department != nil, Width: figure.Millimetres(f.width)})
	}},
	{"grid", "by", []string{"age_band", "bearing"}, 2, func(f *drawFlags, a *audit.Audit, _ string, _ drawOptions) (*figure.Figure, error) {
		return figure.Grid(a, figure.GridOptions{Width: figure.Millimetres(f.width)})
	}},
	{"follow-up", "", []string{audit.OperationYear}, 0, func(f *drawFlags, a *audit.Audit, _ string, _ drawOptions) (*figure.Figure, error) {
		return figure.FollowUp(a, figure.FollowUpOptions{Width: figure.Millimetres(f.width)})
	}},
}

// figureKinds names the kinds of figures: a, b or c.
func figureKinds() string {
	s := ""
	for i, k := range kinds {
		switch i {
		case 0:
		case len(kinds) - 1:
			s += " or "
		default:
			s += ", "
		}
		s += k.name
	}
	return s
}

// asked is the kind of figure asked for, what it is grouped by, and its options;
// flags that have no place in it are refused.
func (f *drawFlags) asked(flags *pflag.FlagSet) (kind figureKind, by []string, o drawOptions, err error) {
	i := slices.IndexFunc(kinds, func(k figureKind) bool { return k.name == f.kind })
	if i < 0 {
		return kind, nil, o, usage("--kind %q: want %s", f.kind, figureKinds())
	}
	kind = kinds[i]
	estimand, ok := map[string]figure.Estimates{"revision": figure.KaplanMeier, "incidence": figure.Incidence, "both": figure.Both}[f.estimate]
	if !ok {
		return kind, nil, o, usage("--estimate %q: want revision, incidence or both", f.estimate)
	}
	for _, name := range []string{"year", "max-years", "top", "no-published", "label", "name", "over-dispersion", "estimate", "by"} {
		if flags.Changed(name) && !slices.Contains(strings.Fields(kind.flags), name) {
			var of []string
			for _, k := range kinds {
				if slices.Contains(strings.Fields(k.flags), name) {
					of = append(of, k.name)
				}
			}
			return kind, nil, o, usage("--%s has no place in --kind %s, only in %s", name, kind.name, strings.Join(of, ", "))
		}
	}
	if flags.Changed("worst-case") {
		return kind, nil, o, usage("--worst-case has no place in a figure: holdfast audit --worst-case has the numbers")
	}
	for column := range strings.SplitSeq(f.by, ",") {
		if column = strings.TrimSpace(column); column != "" {
			by = append(by, column)
		}
	}
	if by == nil {
		by = append([]string{}, kind.by...)
	}
	if want := max(1, kind.fields); len(by) > want || kind.name == "grid" && len(by) != 2 {
		return kind, nil, o, usage("--by %q: a %s is drawn by %s", f.by, kind.name, map[bool]string{true: "two columns", false: "one column"}[want == 2])
	}
	return kind, by, drawOptions{estimand: estimand, names: figure.Names{All: f.named, Some: f.label}}, nil
}

func (a *app) runDraw(c *cobra.Command, f *drawFlags, args []string) error {
	write, err := f.writer()
	if err != nil {
		return err
	}
	kind, by, o, err := f.asked(c.Flags())
	if err != nil {
		return err
	}
	in, ro, ao, err := f.options(c.Flags())
	if err != nil {
		return err
	}
	if err := apart([]string{f.out, f.data, f.caption}, append(in.Inputs(args), f.font)); err != nil {
		return err
	}
	if ao.Published, err = a.figures(in); err != nil {
		return err
	}
	font, err := a.font(f.font)
	if err != nil {
		return err
	}
	ao.By, ao.NoCells, ao.WorstCase = by, kind.fields < 2, kind.name == "follow-up"
	if kind.name == "intervals" && f.year != 0 && !slices.Contains(ao.Years, f.year) {
		ao.Years = append(ao.Years, f.year)
	}
	ro.Keep = slices.Concat(ro.Keep, ao.By, audit.Statable(), finer(ao))
	source, _, err := a.source(c.Context(), args, in, ro)
	if err != nil {
		return err
	}
	run := audit.Run
	if f.share {
		run = disclose.Run
	}
	result, err := run(source, ao)
	if err != nil {
		return &usageError{Err: err}
	}
	field := ""
	if len(result.By) == 1 {
		field = result.By[0] // as the table names it
	}
	for _, v := range f.label {
		if !slices.ContainsFunc(result.Groups, func(g audit.Group) bool { return g.Word(field) == v }) {
			return usage("--label %q: no row has the %s %q", v, field, v)
		}
	}
	drawn, err := kind.draw(f, result, field, o)
	if err != nil {
		return err
	}
	if f.title != "" {
		drawn = drawn.Titled(f.title)
	}
	drawn = drawn.Marked(result.Files)
	drawn.Font = font
	return a.writeFigure(f, drawn, result, write)
}

// writeFigure writes a figure and what goes with it.
func (a *app) writeFigure(f *drawFlags, drawn *figure.Figure, result *audit.Audit, write func(*figure.Figure, io.Writer) error) error {
	if !strings.EqualFold(filepath.Ext(f.out), ".svg") {
		var data strings.Builder
		if err := drawn.WriteCSV(&data); err != nil {
			return err
		}
		a.hintFont(drawn.Font, data.String()+strings.Join(drawn.Notes, " "))
	}
	a.summary(result)
	if f.data != "" {
		if err := a.writeFile(f.data, drawn.WriteCSV); err != nil {
			return err
		}
	}
	if f.caption != "" {
		words := append([]string{drawn.Title, drawn.Subtitle}, drawn.Notes...)
		if err := a.writeFile(f.caption, func(w io.Writer) error {
			_, err := io.WriteString(w, text.Plain(strings.Join(words, "\n"))+"\n")
			return err
		}); err != nil {
			return err
		}
		drawn = drawn.Untitled()
	}
	return a.writeFile(f.out, func(w io.Writer) error { return write(drawn, w) })
}

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
