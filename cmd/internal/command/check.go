package command

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/internal/document/html"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/exchange"
)

type checkFlags struct {
	readingFlags
	format      string
	out         string
	settingsOut string
	list        string
	cohort      string
	full        bool
}

func (a *app) check() *cobra.Command {
	f := new(checkFlags)
	c := &cobra.Command{
		Use:   "check TABLE...",
		Short: "How a table is understood, and what in it to mend",
		Long: `Reads tables as holdfast audit does and prints a page to work from: what stops
an audit, what would make one mislead, what the tables lack, what was taken as
read, each as a question with its rows, what it changes and the line of a
settings file that settles it; then the rows to chase. --list NAME prints all
rows of one line; --full everything, with how headings and words were understood,
how complete each column is, and how long the joints were followed. With --format
csv it writes the rows alone, to work through in a spreadsheet; with --format json
those and what settling each problem would change. Values that identify a patient
are not shown.

With --cohort it writes the checked cohort as well: one row for each joint in use,
with exit day and cause as the audit counts them, as Parquet or Arrow IPC for other
programs (holdfast help columns). A patient is a number in it.

With --write-settings it writes a settings file that holds all that is in force,
from flags and --settings, with what is left to settle as commented lines, also
where the tables must be refused until then.`,
		Example: `  holdfast check mine.csv
  holdfast check mine.csv --closing-date 2024-12-31 --list lost
  holdfast check mine.csv --closing-date 2024-12-31 --full --format markdown --out check.md
  holdfast check mine.csv --format csv --out to-do.csv
  holdfast check mine.csv --closing-date 2024-12-31 --cohort cohort.parquet
  holdfast check mine.csv --write-settings mine.toml
  holdfast check mine.csv --settings mine.toml --write-settings next.toml`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error { return a.runCheck(c, f, args) }),
	}
	f.add(c)
	c.Flags().StringVar(&f.format, "format", "text", "`FORMAT`: text, markdown, html, csv or json")
	c.Flags().StringVar(&f.settingsOut, "write-settings", "", "write a proposal for a settings file to `FILE`, with what is left to settle")
	c.Flags().StringVar(&f.out, "out", "", "write to `FILE` instead of standard output")
	c.Flags().StringVar(&f.cohort, "cohort", "", "write the checked cohort, one row a joint, to `FILE`, whose ending is .parquet or .arrow")
	c.Flags().StringVar(&f.list, "list", "", "print the one list of this `NAME`, all of it")
	c.Flags().BoolVar(&f.full, "full", false, "print every list too, and how everything was understood")
	a.addWidth(c.Flags())
	return c
}

func (a *app) runCheck(c *cobra.Command, f *checkFlags, args []string) error {
	if !slices.Contains([]string{"text", "markdown", "html", "csv", "json"}, f.format) {
		return usage("--format %q: want text, markdown, html, csv or json", f.format)
	}
	if f.list != "" && !slices.Contains(report.CheckLists(), f.list) {
		return usage("--list %q is not the name of a list; there are: %s", f.list, strings.Join(report.CheckLists(), ", "))
	}
	kind, err := f.cohortKind()
	if err != nil {
		return err
	}
	read, err := settings.Read(f.settings)
	if err != nil {
		return err
	}
	in, err := f.lay(c.Flags(), read)
	if err != nil {
		return err
	}
	o, err := in.Reading()
	if err != nil {
		return err
	}
	o.EveryColumn = true
	if f.settingsOut != "" && f.settings != "" && sameFile(f.settingsOut, f.settings) {
		return usage("%s is read, and is not written over: write the new settings to another file, compare the two, and go on with the one you want", f.settingsOut)
	}
	if err := apart([]string{f.out, f.settingsOut, f.cohort}, in.Inputs(args)); err != nil {
		return err
	}
	if f.settingsOut != "" && exists(f.settingsOut) {
		return fmt.Errorf("%[1]s is there already, and is not written over: give another name; to start from what it says, add --settings %[1]s", f.settingsOut)
	}
	co, stopped := a.read(c.Context(), args, o)
	stopped = in.Placed(stopped)
	asked := report.Asks(stopped)
	if f.settingsOut != "" && co != nil { // else what is wrong is proposed all the same
		if err := a.writeFile(f.settingsOut, func(w io.Writer) error { return settings.Propose(w, co, in, args, f.settingsOut, stopped) }); err != nil {
			return err
		}
	}
	if stopped == nil && f.cohort != "" {
		if err := a.writeFile(f.cohort, func(w io.Writer) error { return exchange.WriteJoints(w, kind, co) }); err != nil {
			return err
		}
	}
	if stopped == nil || co != nil && !asked || asked && f.format != "csv" && f.format != "json" {
		if err := a.output(f.out, func(w io.Writer) error { return a.writeCheck(w, c, f, args, co, stopped) }); err != nil {
			return err
		}
	}
	switch {
	case asked && f.settingsOut != "" && co != nil:
		return fmt.Errorf("%w\n%[2]s is written, with the lines that may be meant: settle it there, and add --settings %[2]s", stopped, f.settingsOut)
	case asked && co != nil:
		return fmt.Errorf("%w\nTo have the lines written that may be meant: --write-settings FILE", stopped)
	}
	return stopped
}

// cohortKind is the kind of file of the checked cohort, if one is asked for.
func (f *checkFlags) cohortKind() (kind exchange.Kind, err error) {
	if f.cohort == "" {
		return 0, nil
	}
	if kind, err = exchange.KindOf(f.cohort); err != nil {
		return 0, usage("--cohort %w", err)
	}
	return kind, nil
}

// writeCheck writes what was asked for.
func (a *app) writeCheck(w io.Writer, c *cobra.Command, f *checkFlags, args []string, co *cohort.Cohort, stopped error) error {
	of, err := gather.CheckOf(co, !report.Asks(stopped))
	if err != nil {
		return err
	}
	switch f.format {
	case "csv":
		return report.CheckCSV(w, co, of.Tasks)
	case "json":
		return report.CheckJSON(w, of)
	}
	d, err := report.Check(of, report.CheckOptions{Full: f.full, List: f.list, Stopped: stopped, Again: again(c, "check", args)})
	if err != nil {
		return err
	}
	if f.format == "html" {
		d.Title, d.Subtitle = "What to mend first", strings.Join(bases(args), ", ")
		return html.Write(w, d)
	}
	return a.readable(w, d, f.format, f.out)
}

// bases are the names of files without their folders.
func bases(names []string) []string {
	var all []string
	for _, name := range names {
		all = append(all, filepath.Base(cohort.ShownName(name)))
	}
	return all
}
