package command

import (
	"errors"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/figure"
	"example.org/holdfast/cohort/monitor"
)

type monitorFlags struct {
	drawFlags
	source string
	past   string
	within string
	ratio  float64
	chance float64
	notice int
	figure string
	key    string
}

func (a *app) monitor() *cobra.Command {
	f := new(monitorFlags)
	c := &cobra.Command{
		Use:   "monitor TABLE... --past DATE | --source KEY",
		Short: "Did revisions come faster than expected, and since when?",
		Long: `Reads outcomes tables as holdfast audit does and watches them over calendar time:
revisions observed and expected, and a chart whose line is touched by chance alone
in no more than 5 of 100 such periods. Where it is touched, the page says since
when revisions came faster, and which rows to look at; it can't say why.

What is expected is said by --past or by --source. With --past it is learnt from all
joints as they were followed up to a day, and revisions after that day are watched.
With --source it is taken from a source's published figures, which need one at a year
or earlier.

With --by surgeon (or hospital) each is watched by itself, with the chance for all of
them together. Each has a letter instead of a name unless --name is given; --key
writes which letter is whose.`,
		Example: `  holdfast monitor mine.csv --past 2018-12-31
  holdfast monitor mine.csv --past 2018-12-31 --figure watch.svg
  holdfast monitor department.csv --by surgeon --past 2018-12-31 --out watch.pdf --key key.csv
  holdfast monitor mine.csv --published registry.csv --source registry2024 --format json`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error { return a.runMonitor(c, f, args) }),
	}
	s := c.Flags()
	s.StringVar(&f.past, "past", "", "learn what is expected from the joints as followed up to this `DATE`, and watch from then on")
	s.StringVar(&f.within, "within", "", "with --past: `COLUMNS` within which it is learnt, beside joint and procedure, such as age_band")
	s.StringVar(&f.source, "source", "", "expect what this source published, by its `KEY`")
	s.StringVar(&f.by, "by", "", "watch each value of this `COLUMN` by itself, such as surgeon")
	s.Float64Var(&f.ratio, "ratio", 2, "the chart is tuned to find this many `TIMES` the revisions expected")
	s.Float64Var(&f.chance, "chance", 5, "in no more than this `NUMBER` of 100 such periods chance alone touches a line")
	s.IntVar(&f.notice, "notice", 365, "revisions are taken as complete up to this many `DAYS` before the closing date")
	s.StringArrayVar(&f.reasons, "reason", nil, "count only revisions for this `REASON`; repeatable")
	s.StringArrayVar(&f.published, "published", nil, "published figures from `FILE` instead of the built-in ones; repeatable")
	s.BoolVar(&f.named, "name", false, "name surgeons or hospitals")
	s.StringVar(&f.key, "key", "", "write which letter stands for which value to `FILE` (CSV)")
	s.StringVar(&f.figure, "figure", "", "write the figure to `FILE`, whose ending is .svg, .png or .pdf")
	s.Float64Var(&f.width, "width", 170, "width of the figure in `MM`")
	s.IntVar(&f.dpi, "dpi", 200, "dots per inch of a PNG, `NUMBER`")
	s.StringVar(&f.font, "font", "", "TrueType `FILE` for scripts that the built-in font lacks")
	s.StringVar(&f.format, "format", "text", "`FORMAT`: text, markdown, csv or json")
	s.StringVar(&f.out, "out", "", "write to `FILE` instead of standard output; .html and .pdf are pages with the figure")
	f.sharing(s)
	f.readingFlags.add(c)
	return c
}

// question is what was asked, but for the figures.
func (f *monitorFlags) question() (q monitor.Question, err error) {
	switch {
	case f.share:
		return q, usage("--share: a chart can't be made safe to share: its dates and counts give single revisions away. Share an audit instead")
	case !slices.Contains([]string{"text", "markdown", "csv", "json"}, f.format):
		return q, usage("--format %q: want text, markdown, csv or json", f.format)
	case (f.past == "") == (f.source == ""):
		return q, usage("what is expected? Say --past 2018-12-31, to learn it from the joints as followed up to that day, or --source KEY, to take it from published figures (holdfast published lists them)")
	case f.within != "" && f.past == "":
		return q, usage("--within goes with --past")
	case f.key != "" && (f.by == "" || f.named):
		return q, usage("--key goes with --by, and without --name")
	case !(f.ratio > 1):
		return q, usage("--ratio %v: want a number above 1", f.ratio)
	case !(f.chance > 0 && f.chance < 100):
		return q, usage("--chance %v: want a number of 100 periods, such as 5", f.chance)
	case f.notice < 0:
		return q, usage("--notice %d: want 0 days or more", f.notice)
	}
	q.By, q.Within = strings.TrimSpace(f.by), columnsOf(f.within)
	q.Ratio, q.Chance, q.Notice = f.ratio, f.chance/100, int32(f.notice)
	if f.notice == 0 {
		q.Notice = -1 // which is none
	}
	if f.past != "" {
		day, err := cohort.ParseDay(f.past)
		if err != nil {
			return q, usage("--past: %v", err)
		}
		q.Past = &day
	}
	return q, nil
}

func (a *app) runMonitor(c *cobra.Command, f *monitorFlags, args []string) error {
	q, err := f.question()
	if err != nil {
		return err
	}
	var draw func(*figure.Figure, io.Writer) error
	if f.figure != "" {
		to := f.drawFlags
		to.out = f.figure
		if draw, err = to.writer(); err != nil {
			return err
		}
	}
	in, ro, ao, err := f.options(c.Flags())
	if err != nil {
		return err
	}
	inputs := append(in.Inputs(args), f.font)
	if err := apart([]string{f.out, f.figure, f.key}, inputs); err != nil {
		return err
	}
	if f.source != "" {
		published, err := a.figures(in)
		if err != nil {
			return err
		}
		if q.Series, err = ofSource(published, f.source); err != nil {
			return err
		}
	}
	ro.Keep = slices.Concat(ro.Keep, q.Within, audit.Statable())
	if q.By != "" {
		ro.Keep = append(ro.Keep, q.By)
	}
	if q.By != "" && !f.named {
		a.digests = make(digests)
	}
	co, err := a.read(c.Context(), args, ro)
	if err != nil {
		return in.Placed(err)
	}
	w, err := monitor.Run(co, ao.Endpoint, q)
	var nothing *monitor.NothingExpectedError
	if err != nil && !errors.As(err, &nothing) {
		return &usageError{Err: err} // all of them are about what was asked for
	}
	if err != nil {
		return err
	}
	called, err := a.lettersOf(f, w, args)
	if err != nil {
		return err
	}
	return a.writeWatch(f, co, w, called, draw)
}

// ofSource are the series of one source.
func ofSource(all []*benchmark.Series, key string) ([]*benchmark.Series, error) {
	var of []*benchmark.Series
	var keys []string
	for _, s := range all {
		if s.Source == key {
			of = append(of, s)
		}
		if !slices.Contains(keys, s.Source) {
			keys = append(keys, s.Source)
		}
	}
	if of == nil {
		slices.Sort(keys)
		return nil, usage("--source %q: no published figures have this key; there are %s", key, strings.Join(keys, ", "))
	}
	return of, nil
}

// lettersOf are what people and hospitals are called, unless they are to be named; nil
// for others, whose words stay.
func (a *app) lettersOf(f *monitorFlags, w *monitor.Watch, tables []string) (map[string]string, error) {
	if f.named || w.By != "surgeon" && w.By != "hospital" {
		return nil, nil
	}
	var values []string
	for _, u := range w.Units {
		values = append(values, u.Word)
	}
	sums, err := a.digests.sums(tables)
	if err != nil {
		return nil, err
	}
	return pseudonyms(values, lettersKey(tables, sums), letter), nil
}

// writeWatch writes a watch in the form asked for, and the key to its letters once all
// that could fail is done.
func (a *app) writeWatch(f *monitorFlags, co *cohort.Cohort, w *monitor.Watch, called map[string]string, draw func(*figure.Figure, io.Writer) error) error {
	var values []string
	if called != nil {
		for _, u := range w.Units {
			values = append(values, u.Word)
		}
		w = w.Called(called)
	}
	font, err := a.font(f.font)
	if err != nil {
		return err
	}
	drawn, err := figure.Watch(w, figure.WatchOptions{Width: figure.Millimetres(f.width)})
	if err != nil {
		return err
	}
	drawn = drawn.Marked(co.Files)
	drawn.Font = font
	ending := strings.ToLower(filepath.Ext(f.out))
	onPage := drawn
	if ending != ".html" && ending != ".pdf" {
		onPage = nil
	}
	d, err := report.Watch(co, w, onPage)
	if err != nil {
		return err
	}
	d.Title = "Revisions over calendar time"
	if f.figure != "" {
		if err := a.writeFile(f.figure, func(to io.Writer) error { return draw(drawn, to) }); err != nil {
			return err
		}
	}
	if f.key != "" && called != nil {
		if err := a.writeFile(f.key, func(to io.Writer) error { return writeKey(to, w.By, values, called) }); err != nil {
			return err
		}
	}
	switch {
	case onPage != nil:
		b, err := a.laidOut(f.out, d, font)
		if err != nil {
			return err
		}
		return a.writeBytes(f.out, b)
	case f.format == "csv":
		return a.output(f.out, w.WriteCSV)
	case f.format == "json":
		return a.output(f.out, w.WriteJSON)
	}
	return a.output(f.out, func(to io.Writer) error { return a.readable(to, d, f.format, f.out) })
}
