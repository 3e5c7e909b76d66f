package command

import (
	"encoding/csv"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/holdfast/internal/report"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
)

func (a *app) published() *cobra.Command {
	_, about := topic("published")
	var format, out string
	c := &cobra.Command{
		Use:   "published",
		Short: "The built-in published figures, with their citations",
		Long:  about,
		Example: `  holdfast published
  holdfast published --format csv --out figures.csv`,
		Args: cobra.NoArgs,
		RunE: a.run(func(*cobra.Command, []string) error {
			series := benchmark.Builtin()
			return a.output(out, func(w io.Writer) error {
				switch format {
				case "csv":
					return benchmark.Write(w, series)
				case "text", "markdown":
					return a.readable(w, report.Published(series), format, out)
				}
				return usage("--format %q: want text, markdown or csv", format)
			})
		}),
	}
	a.addWidth(c.Flags())
	c.Flags().StringVar(&format, "format", "text", "`FORMAT`: text, markdown or csv")
	c.Flags().StringVar(&out, "out", "", "write to `FILE` instead of standard output")
	return c
}

func (a *app) template() *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "template",
		Short: "An empty outcomes table, and what each column holds",
		Long: `Prints what each column of the outcomes table holds. With --out it writes an
empty table with the headings (CSV); an existing file is not overwritten.`,
		Example: `  holdfast template
  holdfast template --out mine.csv`,
		Args: cobra.NoArgs,
		RunE: a.run(func(*cobra.Command, []string) error {
			if out == "" {
				return a.output("", func(w io.Writer) error { return a.readable(w, report.Template(), "text", "") })
			}
			if exists(out) {
				return fmt.Errorf("%s is there already; choose another name", out)
			}
			return writeFile(out, writeTemplate)
		}),
	}
	a.addWidth(c.Flags())
	c.Flags().StringVar(&out, "out", "", "write an empty table to `FILE` (CSV)")
	return c
}

// writeTemplate writes the headings of an empty table.
func writeTemplate(w io.Writer) error {
	var headings []string
	for _, c := range cohort.Columns() {
		headings = append(headings, c.Name)
	}
	cw := csv.NewWriter(w)
	if err := cw.Write(headings); err != nil {
		return err
	}
	cw.Flush()
	return cw.Error()
}

func (a *app) version() *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "The program's version and how it was built",
		Example: "  holdfast version",
		Args:    cobra.NoArgs,
		RunE: a.run(func(*cobra.Command, []string) error {
			return a.output("", func(w io.Writer) error {
				_, err := fmt.Fprintf(w, "holdfast %s\n%s %s/%s\n", build(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
				return err
			})
		}),
	}
}

// build is the version that the program was built from.
func build() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(unknown)"
	}
	version, modified := info.Main.Version, ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			version += " " + s.Value
		case s.Key == "vcs.modified" && s.Value == "true":
			modified = " (modified)"
		}
	}
	return version + modified
}
