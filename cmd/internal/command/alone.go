package command

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/document/html"
	"example.org/holdfast/cohort"
)

// forExplorer makes the program usable from the Windows desktop: a table dropped
// on it is worked on, and whoever opens it alone is told how. (The command line
// library refuses both otherwise.)
func forExplorer(args []string) {
	cobra.MousetrapHelpText = ""
	if len(args) == 0 {
		cobra.MousetrapHelpText = `This program has no window. Drag a workbook or CSV file with your outcomes onto its
icon: it writes the report and what to mend first beside that file, as web pages.
`
		cobra.MousetrapDisplayDuration = 0 // until a key is pressed
	}
}

// rootArguments are the rule for what is given to the program without a
// subcommand: nothing, or files that are there.
func rootArguments(c *cobra.Command, args []string) error {
	for _, name := range args {
		if info, err := os.Stat(name); err != nil || !info.Mode().IsRegular() {
			return cobra.NoArgs(c, []string{name})
		}
	}
	return nil
}

// alone is what the program does without a subcommand: it helps, or works on the
// one table that it was given.
func (a *app) alone(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return c.Help()
	}
	isSettings := func(name string) bool { return strings.EqualFold(filepath.Ext(name), ".toml") }
	tables := slices.DeleteFunc(slices.Clone(args), isSettings)
	if len(tables) != 1 || len(args) > 2 {
		return usage("alone, the program takes one table, and one settings file (.toml) if there is one. Several tables are audited together by: holdfast report TABLE... --out report.html")
	}
	a.running = true
	table := tables[0]
	stem := strings.TrimSuffix(table, filepath.Ext(table))
	own := stem + ".toml"
	if i := slices.IndexFunc(args, isSettings); i >= 0 {
		own = args[i]
	} else if !exists(own) {
		own = ""
	}
	return a.besideTable(c.Context(), table, own, stem+"-check.html", stem+"-report.html")
}

// besideTable writes what is to be mended in a table, and its report, as web
// pages. Where there can be no report, the first says why, and an older report
// stays as it is.
func (a *app) besideTable(ctx context.Context, table, settings, check, paper string) error {
	for _, name := range []string{check, paper} {
		if err := mayReplace(name); err != nil {
			return err
		}
	}
	given := []string{table}
	if settings != "" {
		given = append(given, "--settings", settings)
	}
	before, _ := os.Stat(check)
	wrong := a.subcommand(ctx, append([]string{"check", "--format", "html", "--out", check}, given...))
	if wrong == nil {
		wrong = a.subcommand(ctx, append([]string{"report", "--out", paper}, given...))
	} else if now, err := os.Stat(check); err != nil || before != nil && os.SameFile(before, now) {
		// Nothing could be asked about it: the page says what is wrong. One written
		// just now is another file, moved into its place.
		err := a.writeFile(check, func(w io.Writer) error { return refusal(w, table, wrong) })
		wrong = errors.Join(wrong, err)
	}
	if wrong != nil {
		return fmt.Errorf("%w\nNo report is written; %s says what to do", wrong, check)
	}
	fmt.Fprintf(a.stderr, "Written: %s, and what to mend: %s.\n", paper, check)
	return nil
}

// subcommand runs the program with other arguments.
func (a *app) subcommand(ctx context.Context, args []string) error {
	root := a.root()
	root.SetArgs(args)
	root.SetIn(a.stdin)
	root.SetOut(a.stdout)
	root.SetErr(a.stderr)
	return root.ExecuteContext(ctx)
}

// mayReplace refuses to write over a file that this program did not write.
func mayReplace(name string) error {
	f, err := os.Open(name)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer f.Close()
	if !html.Ours(f) {
		return fmt.Errorf("%s is there already, and was not written by this program or was changed since: give it another name", name)
	}
	return nil
}

// refusal is a page that says why a table could not be read.
func refusal(w io.Writer, table string, wrong error) error {
	d := &document.Document{Title: "What to mend first", Subtitle: filepath.Base(cohort.ShownName(table))}
	d.Paragraph("Nothing could be estimated: " + wrong.Error() + ".")
	return html.Write(w, d)
}
