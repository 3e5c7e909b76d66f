package command

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/holdfast/internal/report"
	"example.org/holdfast/cohort"
)

func (a *app) check() *cobra.Command {
	f := new(readingFlags)
	var format, out, settingsOut string
	c := &cobra.Command{
		Use:   "check TABLE...",
		Short: "How a table is understood, and what in it to mend",
		Long: `Reads tables as holdfast audit does and prints every row that was set aside or
warned about under what is to be done about it, what settling it otherwise would
change in the result, the words and headings that were not understood, how
complete each column is, and how long the joints were followed. With --format csv
it writes the list of problems alone, to work through in a spreadsheet. Values
that identify a patient are not shown.`,
		Example: `  holdfast check mine.csv
  holdfast check mine.csv --closing-date 2024-12-31 --format markdown --out check.md
  holdfast check mine.csv --format csv --out to-do.csv
  holdfast check mine.csv --write-settings mine.toml`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error {
			if !slices.Contains([]string{"text", "markdown", "csv"}, format) {
				return usage("--format %q: want text, markdown or csv", format)
			}
			read, err := readSettings(f.settings)
			if err != nil {
				return err
			}
			in, err := f.lay(c.Flags(), read)
			if err != nil {
				return err
			}
			o, err := in.reading()
			if err != nil {
				return err
			}
			o.EveryColumn = true
			if settingsOut != "" && f.settings != "" && sameFile(settingsOut, f.settings) {
				return usage("%s is read, and is not written over: write the new settings to another file, compare the two, and go on with the one you want", settingsOut)
			}
			if err := apart([]string{out, settingsOut}, in.inputs(args)); err != nil {
				return err
			}
			if settingsOut != "" && exists(settingsOut) {
				return fmt.Errorf("%[1]s is there already, and is not written over: give another name; to start from what it says, add --settings %[1]s", settingsOut)
			}
			co, err := a.read(c.Context(), args, o)
			none, empty := errors.AsType[*cohort.NoUsableRowError](err)
			if empty {
				co = none.Cohort // list what is wrong with its rows all the same
			}
			lacks, lacking := errors.AsType[*cohort.MissingColumnError](err)
			if lacking && lacks.Cohort != nil {
				co = lacks.Cohort // describe its headings all the same
			} else if err != nil && !empty {
				return in.placed(err)
			}
			if settingsOut != "" {
				if err := writeFile(settingsOut, func(w io.Writer) error { return propose(w, co, in, args, settingsOut, lacks) }); err != nil {
					return err
				}
			}
			if lacking && settingsOut != "" {
				return fmt.Errorf("%w\n%s is written, with the headings that may be meant: settle the column there, and add --settings %s", err, settingsOut, settingsOut)
			}
			if lacking {
				return fmt.Errorf("%w\nTo have the line written with the headings that may be meant: --write-settings FILE", err)
			}
			written := a.output(out, func(w io.Writer) error {
				if format == "csv" {
					return report.CheckCSV(w, co)
				}
				d, err := report.Check(co)
				if err != nil {
					return err
				}
				return a.readable(w, d, format, out)
			})
			if written != nil {
				return written
			}
			return err
		}),
	}
	f.add(c)
	c.Flags().StringVar(&format, "format", "text", "`FORMAT`: text, markdown or csv")
	c.Flags().StringVar(&settingsOut, "write-settings", "", "write a proposal for a settings file to `FILE`, with what is left to settle")
	c.Flags().StringVar(&out, "out", "", "write to `FILE` instead of standard output")
	return c
}
