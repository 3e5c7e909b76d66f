package command

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"holdfast": func() { os.Exit(Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
	})
}

// The scripts under testdata/script show one behaviour each: input, output,
// errors and exit status. They may use, beside the usual commands:
//
//	status N command...   runs a command and wants its exit status
//	files NAME...         wants these files, no more and no fewer
//	write KIND FILE       writes a file that no script can hold, see awkward
//
// They start the program some hundred times, so -short leaves them out.
func TestScripts(t *testing.T) {
	if testing.Short() {
		t.Skip("-short")
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status": func(ts *testscript.TestScript, neg bool, args []string) {
				if neg || len(args) < 2 {
					ts.Fatalf("usage: status N command...")
				}
				err := ts.Exec(args[1], args[2:]...)
				got := 0
				var exit *exec.ExitError
				if errors.As(err, &exit) {
					got = exit.ExitCode()
				} else {
					ts.Check(err)
				}
				if strconv.Itoa(got) != args[0] {
					ts.Fatalf("exit status %d, want %s", got, args[0])
				}
			},
			"files": func(ts *testscript.TestScript, neg bool, args []string) {
				entries, err := os.ReadDir(ts.MkAbs("."))
				ts.Check(err)
				var found []string
				for _, e := range entries {
					if e.Name() != ".tmp" { // the scripts' own
						found = append(found, e.Name())
					}
				}
				slices.Sort(args)
				if !slices.Equal(found, args) {
					ts.Fatalf("files %q, want %q", found, args)
				}
			},
			"write": func(ts *testscript.TestScript, neg bool, args []string) {
				if neg || len(args) != 2 {
					ts.Fatalf("usage: write KIND FILE")
				}
				content, ok := awkward[args[0]]
				if !ok {
					ts.Fatalf("no kind %q", args[0])
				}
				ts.Check(os.WriteFile(ts.MkAbs(args[1]), content(), 0o666))
			},
		},
	})
}

// awkward are the kinds of file that write makes.
var awkward = map[string]func() []byte{
	"empty": func() []byte { return nil },
	"binary": func() []byte {
		return append([]byte("operation_date,revision_date\n2015-01-01,\n"), 0, 1, 2, 0xff, 0xfe, 0)
	},
	// The beginning of a zip archive with a text file in it, and of a workbook.
	"zip":               func() []byte { return []byte("PK\x03\x04\x14\x00\x00\x00\x00\x00own.csv") },
	"xlsx":              func() []byte { return []byte("PK\x03\x04\x14\x00\x00\x00\x00\x00[Content_Types].xml xl/workbook.xml") },
	"parquet-cut-short": func() []byte { return []byte("PAR1\x15\x04\x15\x20\x15\x24") },
	"not-utf-8": func() []byte {
		return []byte("\xef\xbb\xbfoperation_date,revision_date,surgeon\n2015-01-01,,M\xffller\n")
	},
	"windows-1252": func() []byte { return []byte("operation_date,revision_date,surgeon\n2015-01-01,,M\xfcller\n") },
	"long-line": func() []byte {
		return []byte("operation_date,revision_date,notes\n2015-01-01,,short\n2015-02-01,," + strings.Repeat("x", 2<<20) + "\n2015-03-01,,short\n")
	},
	"long-headings": func() []byte {
		return []byte("operation_date,revision_date," + strings.Repeat("x", 2<<20) + "\n2015-01-01,,\n")
	},
	"many-columns": func() []byte {
		var b bytes.Buffer
		b.WriteString("operation_date,revision_date")
		for i := range 10_000 {
			fmt.Fprintf(&b, ",column %d", i)
		}
		b.WriteString("\n2015-01-01,2016-01-01" + strings.Repeat(",x", 10_000) + "\n")
		return b.Bytes()
	},
	"many-columns-none-needed": func() []byte {
		var b bytes.Buffer
		b.WriteString("day of operation")
		for i := range 10_000 {
			fmt.Fprintf(&b, ",column %d", i)
		}
		b.WriteString("\n2015-01-01" + strings.Repeat(",x", 10_000) + "\n")
		return b.Bytes()
	},
}

// A reader that goes away is no error: holdfast audit own.csv | head.
func TestClosedPipe(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the program many times")
	}
	table := filepath.Join(t.TempDir(), "own.csv")
	var b strings.Builder
	b.WriteString("operation_date,revision_date,surgeon\n")
	for i := range 300 { // more output than a pipe holds
		fmt.Fprintf(&b, "2015-01-01,,surgeon number %d of a large department\n", i)
	}
	if err := os.WriteFile(table, []byte(b.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	commands := [][]string{
		{"audit", table, "--by", "surgeon", "--format", "csv"},
		{"audit", table, "--by", "surgeon", "--format", "json"},
		{"audit", table, "--by", "surgeon"},
		{"check", table},
		{"published"},
		{"published", "--format", "csv"},
		{"template"},
		{"version"},
	}
	for _, args := range commands {
		name := strings.ReplaceAll(strings.Join(args, " "), table, "own.csv")
		t.Run("in process/"+name, func(t *testing.T) {
			r, w, err := os.Pipe()
			if err != nil {
				t.Fatal(err)
			}
			defer w.Close()
			r.Close()
			var stderr bytes.Buffer
			if status := Main(args, strings.NewReader(""), w, &stderr); status != 0 {
				t.Errorf("status %d: %s", status, stderr.String())
			}
			if strings.Contains(stderr.String(), "pipe") {
				t.Errorf("stderr %q", stderr.String())
			}
		})
		t.Run("as a program/"+name, func(t *testing.T) { // where the system would send SIGPIPE
			r, w, err := os.Pipe()
			if err != nil {
				t.Fatal(err)
			}
			r.Close()
			var stderr bytes.Buffer
			c := exec.Command("holdfast", args...)
			c.Stdout, c.Stderr = w, &stderr
			err = c.Run()
			w.Close()
			if err != nil {
				t.Errorf("%v: %s", err, stderr.String())
			}
		})
	}
}

// An interrupt, or the signal to end, ends a wait for standard input, and leaves
// an old output as it was.
func TestInterrupt(t *testing.T) {
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		t.Run(signal.String(), func(t *testing.T) { interrupts(t, signal) })
	}
}

func interrupts(t *testing.T, signal os.Signal) {
	out := filepath.Join(t.TempDir(), "audit.csv")
	if err := os.WriteFile(out, []byte("old"), 0o666); err != nil {
		t.Fatal(err)
	}
	c := exec.Command("holdfast", "audit", "-", "--out", out)
	in, err := c.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	var stderr bytes.Buffer
	c.Stderr = &stderr
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	// More than a pipe holds: once it is written, the program is reading.
	table := "operation_date,revision_date\n" + strings.Repeat("2015-01-01,\n", 100_000)
	if _, err := io.WriteString(in, table); err != nil {
		t.Fatal(err)
	}
	if err := c.Process.Signal(signal); err != nil {
		c.Process.Kill()
		t.Skip(err) // not to be had on this system
	}
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	select {
	case <-ended:
	case <-time.After(20 * time.Second):
		c.Process.Kill()
		t.Fatal("still waiting")
	}
	if code := c.ProcessState.ExitCode(); code != 1 || stderr.String() != "holdfast: interrupted; nothing was written\n" {
		t.Errorf("status %d: %s", code, stderr.String())
	}
	if b, _ := os.ReadFile(out); string(b) != "old" {
		t.Errorf("the old file holds %q", b)
	}
}

// A full disk is an error, and leaves nothing behind.
func TestWriteFileFails(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "audit.csv")
	if err := os.WriteFile(name, []byte("old"), 0o640); err != nil {
		t.Fatal(err)
	}
	full := errors.New("no space left")
	err := writeFile(name, func(w io.Writer) error {
		if _, err := w.Write(bytes.Repeat([]byte("new"), 100_000)); err != nil {
			return err
		}
		return full
	})
	if !errors.Is(err, full) {
		t.Errorf("error %v", err)
	}
	if b, _ := os.ReadFile(name); string(b) != "old" {
		t.Errorf("the old file holds %d bytes", len(b))
	}
	if entries, _ := os.ReadDir(dir); len(entries) != 1 {
		t.Errorf("%v", entries)
	}
}

// A new output keeps the permissions of the file it replaces, and a link to it
// stays a link.
func TestWriteFileKeeps(t *testing.T) {
	dir := t.TempDir()
	name, link := filepath.Join(dir, "audit.csv"), filepath.Join(dir, "latest.csv")
	if err := os.WriteFile(name, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("audit.csv", link); err != nil {
		t.Skip(err)
	}
	err := writeFile(link, func(w io.Writer) error {
		_, err := w.Write([]byte("new"))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if b, _ := os.ReadFile(name); string(b) != "new" {
		t.Errorf("%q", b)
	}
	if info, _ := os.Lstat(link); info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is now %v", info.Mode())
	}
	if info, _ := os.Stat(name); info.Mode().Perm() != 0o600 {
		t.Errorf("permissions %v, want those of before", info.Mode().Perm())
	}
}

// Once it is told to end, the program writes nothing more, and says whether it has
// written anything.
func TestInterruptedBeforeWriting(t *testing.T) {
	ctx, end := context.WithCancel(context.Background())
	folder := t.TempDir()
	var stdout, stderr bytes.Buffer
	a := &app{ctx: ctx, stdout: &stdout, stderr: &stderr, running: true}
	write := func(w io.Writer) error { _, err := io.WriteString(w, "text"); return err }
	if err := a.output(filepath.Join(folder, "one"), write); err != nil {
		t.Fatal(err)
	}
	ended := func(w io.Writer) error { end(); return write(w) }
	if status := a.status(a.output(filepath.Join(folder, "two"), ended)); status != statusData || stderr.String() != "holdfast: interrupted; not all was written\n" {
		t.Errorf("status %d: %s", status, stderr.String())
	}
	if err := a.output("", write); !errors.Is(err, context.Canceled) || stdout.Len() > 0 {
		t.Errorf("%v, %q", err, stdout.String())
	}
	if entries, _ := os.ReadDir(folder); len(entries) != 1 {
		t.Errorf("%v", entries)
	}
}
