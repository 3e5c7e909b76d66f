package command

import (
	"bytes"
	"errors"
	"io/fs"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cmd/internal/document"
)

// Every topic can be asked for, fits a terminal, and names only flags and
// subcommands that there are.
func TestTopics(t *testing.T) {
	root := new(app).root()
	flags, names := map[string]bool{"help": true}, map[string]bool{"help": true}
	var visit func(c *cobra.Command)
	visit = func(c *cobra.Command) {
		names[c.Name()] = true
		c.Flags().VisitAll(func(f *pflag.Flag) { flags[f.Name] = true })
		for _, sub := range c.Commands() {
			visit(sub)
		}
	}
	visit(root)
	files, err := fs.Glob(topics, "topics/*.txt")
	if err != nil || len(files) < 5 {
		t.Fatalf("%d topics, %v", len(files), err)
	}
	flag, command := regexp.MustCompile(`--([a-z][a-z-]*)`), regexp.MustCompile(`holdfast ([a-z]+)`)
	for _, file := range files {
		name := strings.TrimSuffix(strings.TrimPrefix(file, "topics/"), ".txt")
		var stdout, stderr bytes.Buffer
		if status := Main([]string{"help", name}, strings.NewReader(""), &stdout, &stderr); status != 0 {
			t.Errorf("help %s: status %d: %s", name, status, &stderr)
		}
		title, text := topic(name)
		if !strings.HasPrefix(stdout.String(), title+"\n") {
			t.Errorf("help %s begins with %.40q", name, stdout.String())
		}
		for _, m := range flag.FindAllStringSubmatch(text, -1) {
			if !flags[m[1]] {
				t.Errorf("%s names --%s, which is no flag", name, m[1])
			}
		}
		for _, m := range command.FindAllStringSubmatch(text, -1) {
			if !names[m[1]] {
				t.Errorf("%s names holdfast %s, which there is not", name, m[1])
			}
		}
		for i, line := range strings.Split(text, "\n") {
			if len(line) > 84 {
				t.Errorf("%s line %d is %d wide", name, i+1, len(line))
			}
		}
	}
}

// nowhere takes nothing, as a full disk does.
type nowhere struct{}

func (nowhere) Write([]byte) (int, error) { return 0, errors.New("no space left") }

// Help of every subcommand fits the width of all text, and where it can't be written, that is said.
func TestHelpFits(t *testing.T) {
	for _, c := range append(new(app).root().Commands(), new(cobra.Command)) {
		args := []string{c.Name(), "--help"}
		if c.Use == "" {
			args = args[1:]
		}
		var stdout, stderr bytes.Buffer
		if status := Main(args, strings.NewReader(""), &stdout, &stderr); status != 0 || stdout.Len() == 0 {
			t.Errorf("%v: status %d: %s", args, status, &stderr)
		}
		for i, line := range strings.Split(stdout.String(), "\n") {
			if document.Width(line) > document.DefaultWidth {
				t.Errorf("%v, line %d is %d wide", args, i+1, document.Width(line))
			}
		}
		if status := Main(args, strings.NewReader(""), nowhere{}, &stderr); status != 1 || !strings.Contains(stderr.String(), "no space left") {
			t.Errorf("%v to a full disk: status %d: %s", args, status, &stderr)
		}
	}
}
