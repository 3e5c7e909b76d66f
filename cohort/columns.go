package cohort

import (
	"slices"
	"strings"
	"unicode"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/words"
)

// Column describes a column of the outcomes table.
type Column struct {
	Name        string
	Description string // one line: what it holds, and which forms are accepted
	Needed      bool
	Banded      bool      // its numbers may be put into bands
	Bounds      []float64 // the lower bounds of their bands after the first, unless told otherwise; nil leaves them as typed
	Identifying bool      // its values identify a patient, and are never shown
	Words       []string  // what its words are taken for, in the order of the groups; nil for a column without words of its own
}

// Columns lists the columns of the outcomes table, in the order in which a
// table is best laid out.
func Columns() []Column {
	var all []Column
	for _, c := range column.All() {
		described := Column{Name: c.Name, Description: c.Help, Needed: c.Needed, Identifying: c.Identifying, Words: column.Order(c.Name)}
		if c.Scale != nil {
			described.Banded, described.Bounds = true, slices.Clone(c.Scale.Bounds)
		}
		all = append(all, described)
	}
	return all
}

// Until says what becomes of a word of a column that is not understood, until it
// is explained in the settings.
func Until(name string) string { return column.Until(name) }

// MayBe lists the columns whose words all of some texts are, in the order of
// [Columns]: what a heading that is not known may stand for. Columns of yes and
// no are left out, as anything may be answered so, and numbers say nothing.
func MayBe(typed []string) []string {
	number := func(s string) bool { return !strings.ContainsFunc(s, unicode.IsLetter) }
	if len(typed) == 0 || slices.ContainsFunc(typed, number) {
		return nil
	}
	var may []string
	for _, c := range column.All() {
		if c.Kind != column.Words || c.Read == nil {
			continue
		}
		if !slices.ContainsFunc(typed, func(s string) bool { return !c.Read(s).Known }) {
			may = append(may, c.Name)
		}
	}
	return may
}

// Title is what a field is called in a text: "BMI", "age band".
func Title(field string) string { return column.Title(field) }

// CaseMix lists the fields that say who the patients were and what was done, in
// the order in which they are shown.
func CaseMix() []string { return column.CaseMix() }

// Chosen reports whether a field says what was chosen for a patient, as the
// bearing: its groups then differ in who they are, and are no comparison.
func Chosen(field string) bool { return slices.Contains(column.With(column.Chosen), field) }

// ChosenBy lists the fields that say by what implants are chosen for a patient, such
// as the age band: groups by what was chosen are best compared within them.
func ChosenBy() []string { return column.Fields(column.ChosenBy) }

// Outcome reports whether a field is a column of what becomes of a joint after the
// operation, as the reason for revision. Who is in such a group is known only
// afterwards: groups by it can't be compared.
func Outcome(field string) bool { return slices.Contains(column.With(column.Outcome), field) }

// Nearest is the one of several words that is closest to the typed one, for
// "did you mean"; "" if none is near.
func Nearest(typed string, among []string) string { return words.Nearest(typed, among) }
