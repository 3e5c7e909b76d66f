package command

import (
	"encoding/csv"
	"fmt"
	"io"
	"runtime"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/version"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
)

func (a *app) template() *cobra.Command {
	var out string
	var published bool
	c := &cobra.Command{
		Use:   "template",
		Short: "An empty outcomes table, and what each column holds",
		Long: `Prints what each column of the outcomes table holds. With --out it writes an
empty table with the headings (CSV); an existing file is not overwritten.
--published does so for a file of published figures.`,
		Example: `  holdfast template
  holdfast template --out mine.csv
  holdfast template --published --out figures.csv`,
		Args: cobra.NoArgs,
		RunE: a.run(func(*cobra.Command, []string) error {
			doc, names := report.Template(), []string(nil)
			for _, c := range cohort.Columns() {
				names = append(names, c.Name)
			}
			if published {
				doc, names = report.PublishedTemplate(), nil
				for _, c := range benchmark.Columns() {
					names = append(names, c.Name)
				}
			}
			if out == "" {
				return a.output("", func(w io.Writer) error { return a.readable(w, doc, "text", "") })
			}
			if exists(out) {
				return fmt.Errorf("%s is there already; choose another name", out)
			}
			return a.writeFile(out, func(w io.Writer) error { return writeHeadings(w, names) })
		}),
	}
	a.addWidth(c.Flags())
	c.Flags().StringVar(&out, "out", "", "write an empty table to `FILE` (CSV)")
	c.Flags().BoolVar(&published, "published", false, "of a file of published figures, in place of an outcomes table")
	return c
}

// writeHeadings writes an empty table.
func writeHeadings(w io.Writer, headings []string) error {
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
				_, err := fmt.Fprintf(w, "holdfast %s\n%s %s/%s\n", version.Built(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
				return err
			})
		}),
	}
}
