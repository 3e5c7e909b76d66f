package command

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// What the README shows of the first command's output is what the command
// prints: every line of its text blocks, in order.
func TestReadmeShowsRealOutput(t *testing.T) {
	const top = "../../.."
	readme, err := os.ReadFile(top + "/README.md")
	if err != nil {
		t.Fatal(err)
	}
	commands, shown := blocks(string(readme), "```sh"), blocks(string(readme), "```text")
	if len(commands) == 0 || len(shown) == 0 {
		t.Fatal("no command, or nothing shown of its output")
	}
	args := strings.Fields(commands[0][0])
	if len(args) < 4 || args[0] != "go" || args[1] != "run" || args[2] != "./cmd/holdfast" {
		t.Fatalf("the first command is %q", commands[0][0])
	}
	t.Chdir(top)
	var stdout, stderr bytes.Buffer
	if status := Main(args[3:], strings.NewReader(""), &stdout, &stderr); status != 0 {
		t.Fatalf("status %d: %s", status, stderr.String())
	}
	lines := strings.Split(stdout.String(), "\n")
	checked := 0
	for _, block := range shown {
		for _, want := range block {
			if want == "" || want == "…" {
				continue
			}
			for len(lines) > 0 && lines[0] != want {
				lines = lines[1:]
			}
			if len(lines) == 0 {
				t.Fatalf("the README shows a line that is not printed, or not there: %q", want)
			}
			lines = lines[1:]
			checked++
		}
	}
	if checked < 20 {
		t.Errorf("only %d lines are shown", checked)
	}
}

var update = flag.Bool("update", false, "write the figure and the report that the README shows anew")

// TestExampleFiles: the figure and the report that the README shows are what its
// commands write. A report names the version it was made with, which a test does
// not have, and is packed as the version of Go packs it.
func TestExampleFiles(t *testing.T) {
	if !strings.HasPrefix(runtime.Version(), "go1.26") || runtime.GOARCH != "amd64" {
		t.Skip("made with Go 1.26 on amd64")
	}
	const top = "../../.."
	readme, err := os.ReadFile(top + "/README.md")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(top)
	made := 0
	for _, block := range blocks(string(readme), "```sh") {
		for _, line := range block {
			args := strings.Fields(line)
			if len(args) < 5 || args[2] != "./cmd/holdfast" || args[3] != "draw" && args[3] != "report" {
				continue
			}
			name := args[len(args)-1]
			out := filepath.Join(t.TempDir(), name)
			args[len(args)-1] = out
			var stdout, stderr bytes.Buffer
			if status := Main(args[3:], strings.NewReader(""), &stdout, &stderr); status != 0 {
				t.Fatalf("%s: status %d: %s", line, status, stderr.String())
			}
			got, err := os.ReadFile(out)
			if err != nil {
				t.Fatal(err)
			}
			kept := filepath.Join("examples", "practice", name)
			if *update {
				if err := os.WriteFile(kept, got, 0o666); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(kept)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, want) {
				t.Errorf("%s is not what is written now; with -update it is written anew", kept)
			}
			made++
		}
	}
	if made != 2 {
		t.Errorf("%d files were made", made)
	}
}

// blocks are the lines of each fenced block that opens with the given fence.
func blocks(text, fence string) [][]string {
	var all [][]string
	open := false
	for _, line := range strings.Split(text, "\n") {
		switch {
		case line == fence:
			all, open = append(all, nil), true
		case line == "```":
			open = false
		case open:
			all[len(all)-1] = append(all[len(all)-1], line)
		}
	}
	return all
}
