// Package column says what each column of the outcomes table is: its name and
// headings, what may be typed into it and in which order its words are shown,
// whether a word that is not known may be shown, and where the column is used.
// Every list of columns is made from these descriptors. A heading that is none
// of them is a column of the user's own, kept as typed.
package column

import (
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/words"
)

// Kind is what stands in a column's cells.
type Kind uint8

const (
	Date       Kind = iota // a day
	Number                 // a number
	Identifier             // what tells patients or joints apart
	YesNo                  // yes or no
	Words                  // words of a vocabulary, or as typed
	Names                  // names or codes, of surgeons or hospitals
)

// Use is where a column, or the field made from it, is used.
type Use uint8

const (
	Grouping     Use = 1 << iota // offered to group and to select by; any other is grouped by when asked for
	MixPatient                   // in the case mix, among what the patient brings
	MixOperation                 // in the case mix, among what was done
	Chosen                       // chosen for the patient, so that its groups differ in who they are
	Published                    // part of what a published figure may be of
	ChosenBy                     // what an implant is chosen by, so that its groups are compared within
	Outcome                      // known only after the operation: groups by it are no groups to compare
)

// Column describes one column of the outcomes table.
type Column struct {
	Name     string
	Title    string // as it is called in a text; "" for the name with spaces
	Help     string // one line: what it holds, and which forms are accepted
	Headings string // close variants of the name, folded, separated by commas
	Kind     Kind

	// Read gives the meaning of a cell that is not missing, on its own; nil
	// keeps it as typed. A canonical word means itself.
	Read func(typed string) words.Meaning
	// Order is the canonical words in the order in which groups are shown; nil
	// for a column without any.
	Order []string
	// Scale is set where cells may be numbers.
	Scale *Scale
	// Closed says that a word outside the vocabulary is a mistake, somebody's
	// own word, or text about a patient, so that one that looks like a person's
	// name is not shown. In a column that is not closed it is a word like any
	// other.
	Closed bool
	// Makers says that words which are not known may be names of makers, so
	// that they are shown once they stand in several rows.
	Makers bool
	// Until says what becomes of a word that is not understood until it is
	// explained; "" if it is a group of its own.
	Until string

	// None reads words that say that there is nothing to fill in, as "not
	// revised" does for the day of the revision; a no is then a missing value.
	// Nil if there are none.
	None func(typed string) words.Meaning
	// ZeroMissing says that 0 stands for a missing value. Elsewhere it may be a
	// code, and stays.
	ZeroMissing bool

	Needed      bool // a table can't be analysed without it
	Identifying bool // its values identify a patient, and are never shown

	Uses Use
	// Field is the field that is grouped by in its place; "" for the column
	// itself.
	Field string
	// MadeFrom are the other columns that its field can be made from.
	MadeFrom []string
}

// All returns every column, in the order of a template. They are shared, and
// not to be changed.
func All() []*Column { return slices.Clone(columns) }

// named is the column of that name; nil for one of the user's own.
func named(name string) *Column {
	for _, c := range columns {
		if c.Name == name {
			return c
		}
	}
	return nil
}

// names of the columns that meet a condition, in the order of a template.
func names(of func(*Column) bool) []string {
	var all []string
	for _, c := range columns {
		if of(c) {
			all = append(all, c.Name)
		}
	}
	return all
}

// Every returns the names of all columns, in the order of a template.
func Every() []string { return names(func(*Column) bool { return true }) }

// Needed returns the columns without which a table cannot be analysed.
func Needed() []string { return names(func(c *Column) bool { return c.Needed }) }

// Of returns the columns of some kinds.
func Of(kinds ...Kind) []string {
	return names(func(c *Column) bool { return slices.Contains(kinds, c.Kind) })
}

// With returns the columns of one use.
func With(use Use) []string { return names(func(c *Column) bool { return c.Uses&use != 0 }) }

// CaseMix returns the fields of the case mix: those of the patient, then those
// of the operation.
func CaseMix() []string {
	return append(Fields(MixPatient), Fields(MixOperation)...)
}

// Fields returns the fields of one use.
func Fields(use Use) []string {
	var fields []string
	for _, name := range With(use) {
		fields = append(fields, named(name).field())
	}
	return fields
}

func (c *Column) field() string {
	if c.Field != "" {
		return c.Field
	}
	return c.Name
}

// Sources returns the columns that a field can be made from, itself first.
func Sources(field string) []string {
	sources := []string{field}
	if c := named(field); c != nil {
		sources = append(sources, c.MadeFrom...)
	}
	return sources
}

// IsOf reports whether a column is of a kind. One of the user's own is of none.
func IsOf(name string, kind Kind) bool {
	c := named(name)
	return c != nil && c.Kind == kind
}

// Closed reports whether a word outside the column's vocabulary may be a
// mistake or text about a patient; see [Column].
func Closed(name string) bool {
	c := named(name)
	return c != nil && c.Closed
}

// Makers reports whether words of the column that are not known may be names
// of makers.
func Makers(name string) bool {
	c := named(name)
	return c != nil && c.Makers
}

// Order returns the canonical values of a column in the order in which groups
// are shown, or nil for a column without any. The caller may change it.
func Order(name string) []string {
	if c := named(name); c != nil {
		return slices.Clone(c.Order)
	}
	return nil
}

// Understand reads a cell of a column on its own, without the cells beside it.
// It is the one vocabulary of outcomes tables, of what is asked for, and of
// files of published figures: "THR" is the procedure total, "MoP" the bearing
// metal-on-polyethylene, "cementless" the fixation porous. A column without a
// vocabulary, such as one of the user's own, is known as typed. Numbers are in
// the column's own bands; see [Reader] for others.
func Understand(name, typed string) words.Meaning { return NewReader(name, nil).Understand(typed) }

// Explains reports whether what is typed can explain a word of a column: it is
// a word of the vocabulary, or the column has a vocabulary that is not closed,
// or none.
func Explains(name, typed string) bool {
	if name == Procedure {
		if p := words.Procedure(typed); p.Revision || p.Reoperation {
			return true
		}
	}
	return !Closed(name) || Understand(name, typed).Known
}

// procedure reads a procedure as a word alone, without the joint it names.
func procedure(typed string) words.Meaning {
	p := words.Procedure(typed)
	return words.Meaning{Value: p.Procedure, Known: p.Known}
}

// bearing reads a bearing of any joint.
func bearing(typed string) words.Meaning { return words.Bearing("", typed).Meaning }

// Missing reports whether a cell of a column stands for no value: see
// [words.Missing]. Some columns differ:
//
//   - "0" is missing where it can't be a value, and so is 99 as a body mass index;
//   - "not revised", "in situ" and "no" are missing in revision_date, and
//     "alive" and "no" in death_date, since they say that there is no date;
//   - a word that the column's own vocabulary knows is not: "none" means no in
//     revised;
//   - short forms such as "NK" and "NR" are not missing in surgeon and
//     hospital, where they may be initials.
//
// Any other column, and the empty name, has no such exception.
func Missing(name, cell string) bool {
	missing, initials := words.Missing(cell)
	c := named(name)
	switch {
	case c == nil:
		return missing
	case missing:
		return !(initials && c.Kind == Names) && !(c.Read != nil && c.Read(cell).Known)
	case c.None != nil:
		return c.None(cell).Value == words.No
	case c.Scale != nil:
		if n, ok := words.Number(cell); ok && slices.Contains(c.Scale.Missing, n) {
			return true
		}
	}
	return c.ZeroMissing && words.Zero(cell)
}

// Identifying reports whether the cells of a column may identify a patient, so
// that they must not reach a message, a log or a report: the patient, joint_id
// (often a case number), what is about birth, the initials, and headings of a
// table's own such as "Surname" or "Postcode".
func Identifying(name string) bool {
	if c := named(name); c != nil && c.Identifying {
		return true
	}
	return words.IdentifyingHeading(name)
}

// MayIdentify says whether what is typed into a column looks like free text
// that may name or number a patient.
func MayIdentify(name, typed string) bool {
	return !Canonical(name, typed) && words.MayIdentify(typed, IsOf(name, Names))
}

// Title is what a field is called in a text.
func Title(field string) string {
	if c := named(field); c != nil && c.Title != "" {
		return c.Title
	}
	return strings.ReplaceAll(field, "_", " ")
}

// Until says what becomes of a word of a column that is not understood, until
// it is explained.
func Until(name string) string {
	if c := named(name); c != nil && c.Until != "" {
		return c.Until
	}
	return "until then a group of its own"
}
