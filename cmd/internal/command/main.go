// Package command is the holdfast command: its subcommands and their flags.
package command

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/text"
)

// Exit statuses.
const (
	statusDone  = 0
	statusData  = 1 // the data could not be analysed
	statusUsage = 2 // the command was wrong
)

// usageError is an error in the command line or the settings.
type usageError = settings.UsageError

func usage(format string, args ...any) error { return settings.Usage(format, args...) }

// Memory in use is looked through for what is used no more whenever it has grown by
// growth, or by as much as has to be looked through if that is more, but by no less than
// leastGrowth and no more than mostGrowth of itself, in percent. Rows are numbers without
// pointers and need no looking through; groups do. The first time is at 8 times the usual
// 4 MiB, or when much has been read: a table of some hundred joints never gets there.
const (
	growth                    = 16 << 20
	leastGrowth, mostGrowth   = 8, 50
	growthBeforeFirstCollects = 800
	much                      = 4 << 20
)

// collectSeldom sets by how much memory may grow, unless the environment says.
func collectSeldom() {
	if os.Getenv("GOGC") != "" {
		return
	}
	debug.SetGCPercent(growthBeforeFirstCollects)
	runtime.AddCleanup(new([16]byte), setGrowth, 0)
}

// collectNow is for when much has been read. That the growth is set after the first time
// could else take until several times as much memory is in use.
func collectNow() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(mostGrowth)
	}
}

// setGrowth sets it after each time.
func setGrowth(int) {
	sizes := []metrics.Sample{{Name: "/gc/heap/live:bytes"}, {Name: "/gc/scan/heap:bytes"}}
	metrics.Read(sizes)
	live, pointers := max(1, sizes[0].Value.Uint64()), sizes[1].Value.Uint64()
	debug.SetGCPercent(int(min(mostGrowth, max(leastGrowth, max(growth, pointers)*100/live))))
	runtime.AddCleanup(new([16]byte), setGrowth, 0)
}

// Main runs the command and returns its exit status.
func Main(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	runtime.MemProfileRate = 0 // nobody asks which lines take memory, and to note it takes some
	collectSeldom()
	signal.Ignore(syscall.SIGPIPE) // a closed pipe is noticed where it is written to
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second signal ends the program at once

	forExplorer(args)
	app := &app{ctx: ctx, stdin: stdin, stdout: stdout, stderr: stderr}
	root := app.root()
	root.SetArgs(args)
	root.SetIn(stdin)
	help := &helpOut{Writer: stdout}
	root.SetOut(help)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if help.failed != nil {
		app.running, err = true, help.failed
	}
	return app.status(err)
}

// helpOut is where help goes, which is written without looking whether it could be.
type helpOut struct {
	io.Writer
	failed error // the first
}

func (h *helpOut) Write(b []byte) (int, error) {
	n, err := h.Writer.Write(b)
	h.failed = cmp.Or(h.failed, err)
	return n, err
}

// app is what the subcommands share.
type app struct {
	ctx            context.Context // ends when the program is told to
	stdin          io.Reader
	stdout, stderr io.Writer
	width          int     // of text, if one was asked for
	hinted         bool    // that a font lacks letters
	running        bool    // a subcommand's own work has begun: flags were right
	written        bool    // something was
	digests        digests // of what is read
}

// status reports an error and gives the exit status.
func (a *app) status(err error) int {
	if err == nil || errors.Is(err, syscall.EPIPE) {
		return statusDone
	}
	message := err.Error()
	if errors.Is(err, context.Canceled) {
		message = "interrupted; nothing was written"
		if a.written {
			message = "interrupted; not all was written"
		}
	}
	fmt.Fprintf(a.stderr, "holdfast: %s\n", strings.TrimRight(text.Unmarked(message), "\n"))
	var wrong *usageError
	if errors.As(err, &wrong) || !a.running {
		return statusUsage
	}
	return statusData
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "holdfast",
		Short: "How long hip and knee implants last in your own outcomes table",
		Long: `Holdfast estimates cumulative revision of hip and knee implants from an outcomes
table with one row per primary joint replacement, with honest intervals, and
sets it beside published figures. It makes no network connection.

A description of one practice's own table, not a verdict on it, and not a basis
for a decision about one patient.

Exit status: 0 done, whether or not rows were set aside; 1 the data could not be
analysed; 2 the command was wrong.`,
		Example: `  holdfast mine.xlsx                    the report and what to mend, as web pages beside it
  holdfast template --out mine.csv      an empty table to fill in
  holdfast check mine.csv               how the table is understood, and what to mend
  holdfast audit mine.csv               the audit
  holdfast audit mine.csv --by bearing --format csv --out audit.csv
  holdfast contrast mine.csv --between bearing --within age_band,sex
  holdfast report mine.csv --out report.pdf
  holdfast draw mine.csv --by bearing --out bearing.svg`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          rootArguments,
		RunE:          a.alone,
	}
	root.AddCommand(a.audit(), a.contrast(), a.monitor(), a.reasons(), a.plan(), a.report(), a.draw(), a.check(), a.tally(), a.published(), a.template(), a.version(), a.manual())
	addTopics(root)
	flags := fmt.Sprintf(".FlagUsagesWrapped %d", cmp.Or(a.columns(), document.DefaultWidth))
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), ".FlagUsages", flags))
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		if _, unknown := errors.AsType[*pflag.NotExistError](err); unknown {
			return usage("%v: %s --help lists those there are", err, c.CommandPath())
		}
		return err
	})
	return root
}

// run marks that flags and arguments were right, and runs a subcommand.
func (a *app) run(f func(c *cobra.Command, args []string) error) func(*cobra.Command, []string) error {
	return func(c *cobra.Command, args []string) error {
		a.running = true
		if err := a.checkWidth(); err != nil {
			return err
		}
		err := f(c, args)
		var unknown *cohort.UnknownFieldError
		var option *cohort.OptionError
		if errors.As(err, &unknown) || errors.As(err, &option) {
			return &usageError{Err: err}
		}
		return err
	}
}

// tables is the rule for arguments that are tables.
func tables(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return fmt.Errorf("which table? For example: holdfast %s mine.csv (or - for standard input)", c.Name())
	}
	return nil
}

// readable writes a document as text or Markdown, to a file or, if none is
// named, for a terminal.
func (a *app) readable(w io.Writer, d *document.Document, format, file string) error {
	if format == "markdown" {
		return document.WriteMarkdown(w, d)
	}
	width := a.width
	if width == 0 && file == "" {
		width = a.columns()
	}
	return document.WriteText(w, d, document.TextOptions{Width: width, Bold: file == "" && a.bold()})
}

// bold says whether bold is welcome on standard output.
func (a *app) bold() bool {
	return os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" && isTerminal(a.stdout)
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
