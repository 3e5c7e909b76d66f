package command

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"unsafe"
)

// terminal opens a terminal of the system: what is written to tty can be read
// from screen.
func terminal(t *testing.T) (screen, tty *os.File) {
	t.Helper()
	screen, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	if err != nil {
		t.Skip(err)
	}
	t.Cleanup(func() { screen.Close() })
	var unlock, number int32
	for request, value := range map[uintptr]*int32{syscall.TIOCSPTLCK: &unlock, syscall.TIOCGPTN: &number} {
		if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, screen.Fd(), request, uintptr(unsafe.Pointer(value))); errno != 0 {
			t.Skip(errno)
		}
	}
	tty, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", number), os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Skip(err)
	}
	return screen, tty
}

// Headings are bold on a terminal, unless NO_COLOR is set or the terminal is a
// dumb one; files never have such marks, and nothing is ever coloured.
func TestBold(t *testing.T) {
	dir := t.TempDir()
	table := filepath.Join(dir, "own.csv")
	if err := os.WriteFile(table, []byte("operation_date,revision_date\n2015-01-01,\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "audit.txt")
	marks := regexp.MustCompile(`\x1b\[[0-9;]*[A-Za-z]`)
	for _, c := range []struct {
		name string
		env  []string
		args []string
		bold bool
	}{
		{"terminal", []string{"TERM=xterm", "NO_COLOR="}, []string{"audit", "--full", table}, true},
		{"NO_COLOR", []string{"TERM=xterm", "NO_COLOR=1"}, []string{"audit", "--full", table}, false},
		{"dumb", []string{"TERM=dumb", "NO_COLOR="}, []string{"audit", "--full", table}, false},
		{"check", []string{"TERM=xterm", "NO_COLOR="}, []string{"check", table}, true},
		{"published", []string{"TERM=xterm", "NO_COLOR="}, []string{"published"}, true},
		{"markdown", []string{"TERM=xterm", "NO_COLOR="}, []string{"audit", "--full", table, "--format", "markdown"}, false},
		{"csv", []string{"TERM=xterm", "NO_COLOR="}, []string{"audit", "--full", table, "--format", "csv"}, false},
		{"file", []string{"TERM=xterm", "NO_COLOR="}, []string{"audit", "--full", table, "--out", out}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			screen, tty := terminal(t)
			p := exec.Command("holdfast", c.args...)
			p.Env = append(os.Environ(), c.env...)
			p.Stdout, p.Stderr = tty, tty
			if err := p.Start(); err != nil {
				t.Fatal(err)
			}
			tty.Close()
			text, _ := io.ReadAll(screen) // ends with an error once the other side is closed
			if err := p.Wait(); err != nil {
				t.Fatalf("%v: %s", err, text)
			}
			if c.name == "file" {
				b, err := os.ReadFile(out)
				if err != nil {
					t.Fatal(err)
				}
				text = b
			}
			if len(text) == 0 {
				t.Fatal("nothing shown")
			}
			found := marks.FindAllString(string(text), -1)
			if (len(found) > 0) != c.bold {
				t.Errorf("marks %q", found)
			}
			for _, m := range found {
				if m != "\x1b[1m" && m != "\x1b[0m" && m != "\x1b[22m" && m != "\x1b[m" {
					t.Errorf("mark %q is not bold", m)
				}
			}
			if strings.Count(string(text), "\x1b") != len(found) {
				t.Error("other escape sequences")
			}
		})
	}
}
