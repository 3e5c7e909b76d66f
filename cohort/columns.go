package cohort

import (
	"slices"

	"example.org/holdfast/cohort/internal/words"
)

// Column describes a column of the outcomes table.
type Column struct {
	Name        string
	Description string // one line: what it holds, and which forms are accepted
	Needed      bool
	Identifying bool // its values identify a patient, and are never shown
}

// Columns lists the columns of the outcomes table, in the order in which a
// table is best laid out.
func Columns() []Column {
	var all []Column
	for _, name := range words.Columns() {
		all = append(all, Column{name, words.Description(name), slices.Contains(words.Needed(), name), words.Identifying(name)})
	}
	return all
}

// Nearest is the one of several words that is closest to the typed one, for
// "did you mean"; "" if none is near.
func Nearest(typed string, among []string) string { return words.Nearest(typed, among) }
