package command

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// publishedFlags are those of holdfast published. The flags of reading are of the
// table beside the figures, but for --where, which narrows the figures.
type publishedFlags struct {
	readingFlags
	format, out, table, builtin string
	countries                   []string
}

func (a *app) published() *cobra.Command {
	f := new(publishedFlags)
	_, about := topic("published")
	c := &cobra.Command{
		Use:   "published [FILE...]",
		Short: "Published figures with their citations, built in or of a file, beside your own",
		Long:  about,
		Example: `  holdfast published
  holdfast published --where joint=hip --where 'age_band=<55'
  holdfast published --where joint=hip --beside mine.csv --closing-date 2024-12-31
  holdfast published registry.csv
  holdfast published registry.csv --out long.csv`,
		Args: cobra.ArbitraryArgs,
		RunE: a.run(func(c *cobra.Command, files []string) error { return a.runPublished(c, f, files) }),
	}
	s := c.Flags()
	a.addWidth(s)
	s.StringVar(&f.format, "format", "", "`FORMAT`: text, markdown or csv (default: csv if --out ends so, else text)")
	s.StringVar(&f.out, "out", "", "write to `FILE` instead of standard output")
	s.StringVar(&f.table, "beside", "", "outcomes `TABLE` whose joints are set beside each figure")
	s.StringVar(&f.builtin, "builtin", "", "no leaves out the built-in figures (default: yes, but no with a FILE)")
	s.StringArrayVar(&f.countries, "country", nil, "only published figures of this `COUNTRY`; repeatable")
	f.readingFlags.add(c)
	s.Lookup("where").Usage = "only figures of `COLUMN=VALUE`, such as joint=hip; again for another value or column"
	return c
}

func (a *app) runPublished(c *cobra.Command, f *publishedFlags, files []string) error {
	if f.format == "" {
		f.format = "text"
		if strings.EqualFold(filepath.Ext(f.out), ".csv") {
			f.format = "csv"
		}
	}
	if !slices.Contains([]string{"text", "markdown", "csv"}, f.format) {
		return usage("--format %q: want text, markdown or csv", f.format)
	}
	if f.table != "" && f.format == "csv" {
		return usage("--format csv holds what is published: holdfast audit --comparisons writes your own joints beside it")
	}
	if err := apart([]string{f.out}, append(slices.Clone(files), f.table)); err != nil {
		return err
	}
	page := report.PublishedPage{}
	for _, name := range files {
		page.Files = append(page.Files, filepath.Base(name))
	}
	for _, w := range f.where {
		heading, value, ok := condition(w)
		if !ok {
			return usage("--where %q: want column=value, such as joint=hip", w)
		}
		asked, err := benchmark.ParseCondition(heading, value)
		if err != nil {
			return usage("--where %q: %w", w, err)
		}
		page.Conditions = append(page.Conditions, asked)
	}
	var err error
	if page.Series, err = a.publishedSeries(f, files); err != nil {
		return err
	}
	if f.format == "csv" && len(page.Conditions) > 0 {
		stated, pooled := benchmark.Narrow(page.Series, page.Conditions)
		page.Series = append(stated, pooled...)
	}
	if f.table != "" {
		if page.Own, err = a.besidePublished(c, f, page.Series); err != nil {
			return err
		}
	}
	return a.output(f.out, func(w io.Writer) error {
		if f.format == "csv" {
			return benchmark.Write(w, page.Series)
		}
		return a.readable(w, report.Published(page), f.format, f.out)
	})
}

// publishedSeries are those of files, and the built-in ones where they are asked
// for or there is no file.
func (a *app) publishedSeries(f *publishedFlags, files []string) ([]*benchmark.Series, error) {
	in := &settings.Settings{Published: files, Builtin: f.builtin, Countries: f.countries}
	if in.Builtin == "" && len(files) > 0 {
		in.Builtin = "no"
	}
	return a.figures(in)
}

// besidePublished sets a table's own joints beside each series.
func (a *app) besidePublished(c *cobra.Command, f *publishedFlags, series []*benchmark.Series) (*audit.Audit, error) {
	read, err := settings.Read(f.settings)
	if err != nil {
		return nil, err
	}
	in, err := f.lay(c.Flags(), read)
	if err != nil {
		return nil, err
	}
	in.Where = nil // each series meets the own joints of its kind
	ro, err := in.Reading()
	if err != nil {
		return nil, err
	}
	ro.Keep = slices.Concat(ro.Keep, audit.Statable())
	co, err := a.read(c.Context(), []string{f.table}, ro)
	if err != nil {
		return nil, in.Placed(err)
	}
	own, err := audit.Run(co, audit.Options{By: []string{}, Published: series})
	if err != nil {
		return nil, err
	}
	for _, n := range own.Notes {
		fmt.Fprintln(a.stderr, n)
	}
	return own, nil
}
