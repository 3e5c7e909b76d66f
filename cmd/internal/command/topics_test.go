package command

import (
	"bytes"
	"io/fs"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
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
