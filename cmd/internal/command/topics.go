package command

import (
	"embed"
	"strings"

	"github.com/spf13/cobra"
)

// topics are texts of help; the first line of each is its title.
//
//go:embed topics/*.txt
var topics embed.FS

// topicsAlone are those that are about no one subcommand, in the order in which
// they are listed.
var topicsAlone = []string{"tables", "dates", "intervals", "sharing", "columns", "engines"}

// topic is a text of help and its title.
func topic(name string) (title, text string) {
	b, err := topics.ReadFile("topics/" + name + ".txt")
	if err != nil {
		panic(err) // it is part of the program
	}
	text = strings.TrimSuffix(string(b), "\n")
	title, _, _ = strings.Cut(text, "\n")
	return title, text
}

// addTopics adds what holdfast help NAME says of them.
func addTopics(root *cobra.Command) {
	for _, name := range topicsAlone {
		title, text := topic(name)
		if name == "columns" {
			text += columnsWritten()
		}
		root.AddCommand(&cobra.Command{Use: name, Short: title, Long: text})
	}
}
