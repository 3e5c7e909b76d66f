package command

import (
	"fmt"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
)

// addWidth adds the flag for the width of text.
func (a *app) addWidth(s *pflag.FlagSet) {
	s.IntVar(&a.width, "line-width", 0, "`COLUMNS` of text (default: the terminal's, as COLUMNS says, else 100)")
}

// checkWidth refuses a width that no page fits.
func (a *app) checkWidth() error {
	if a.width != 0 && (a.width < document.LeastWidth || a.width > mostWidth) {
		return usage("--line-width %d: want %d to %d", a.width, document.LeastWidth, mostWidth)
	}
	return nil
}

// mostWidth is how wide lines can be read at all.
const mostWidth = 400

// columns is how wide a terminal says it is; 0 if it does not, or is none.
func (a *app) columns() int {
	n, err := strconv.Atoi(os.Getenv("COLUMNS"))
	if err != nil || n < document.LeastWidth || !isTerminal(a.stdout) {
		return 0
	}
	return min(n, mostWidth)
}

// mostRepeated is how many tables a command to repeat names.
const mostRepeated = 4

// again is the command to repeat with another flag: of a subcommand, with the
// tables and every flag given that says how they are read.
func again(c *cobra.Command, name string, tables []string) string {
	words := []string{"holdfast", name}
	if len(tables) > mostRepeated {
		tables, words = nil, append(words, "TABLE...")
	}
	for _, t := range tables {
		if t != cohort.ShownName(t) {
			t = "TABLE"
		}
		words = append(words, quoted(t))
	}
	reading := new(cobra.Command)
	new(readingFlags).add(reading)
	c.Flags().Visit(func(f *pflag.Flag) {
		if reading.Flags().Lookup(f.Name) == nil {
			return
		}
		if f.NoOptDefVal != "" { // yes or no, which is no word of its own
			words = append(words, "--"+f.Name+"="+f.Value.String())
			return
		}
		values := []string{f.Value.String()}
		if several, ok := f.Value.(pflag.SliceValue); ok {
			values = several.GetSlice()
		}
		for _, v := range values {
			if v != cohort.ShownName(v) {
				v = "FILE"
			}
			words = append(words, "--"+f.Name, quoted(v))
		}
	})
	return strings.Join(words, " ")
}

// quoted is a word for a shell: as it is, if it has none of a shell's own
// characters.
func quoted(s string) string {
	plain := func(r rune) bool {
		return r == '_' || r == '-' || r == '.' || r == '/' || r == ',' || r == '=' || r == ':' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r > 0x7f
	}
	if s != "" && strings.IndexFunc(s, func(r rune) bool { return !plain(r) }) < 0 {
		return s
	}
	return fmt.Sprintf("'%s'", strings.ReplaceAll(s, "'", `'\''`))
}
