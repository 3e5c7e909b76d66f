package cohort

import (
	"cmp"
	"fmt"
	"slices"
	"sort"

	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/table"
)

// Cohort is one or more outcomes tables, read and linked, or a part of them
// ([Cohort.Where]). It does not change: what is asked of it is counted anew or
// remembered.
type Cohort struct {
	Files   []File
	Closing Closing
	Scope   []Condition // the conditions rows have to meet, in canonical words
	Assumed []Condition // values assumed for columns the tables lack

	*base
	linked *linking
	narrow []narrowing
	count  func() counts // remembered
}

// dimension is a field with its values in canonical order.
type dimension struct {
	name   string
	levels []string
	reader func(block int) func(i int) int // the level of each row of a block

	// word is the level of a combination of words, which decides it; nil where
	// something else of a row does.
	word func(w *store.Words, n uint32) int

	// supposed is the level of a row as it is in hand, −1 if that is as it was
	// read; nil if it always is.
	supposed func(r *row.Row) int
}

// narrowing keeps rows of some levels of a dimension.
type narrowing struct {
	dimension *dimension
	in        []bool // by level
}

// ColumnWords is how the words of one column were understood.
type ColumnWords struct {
	Column string
	Words  []Word // the commonest first
}

// Words lists how the words of each column that has a vocabulary were
// understood. Columns kept for grouping stand under their own headings.
func (c *Cohort) Words() []ColumnWords {
	var all []ColumnWords
	for _, v := range c.text.Words {
		if len(v.Words) < 2 || !c.text.Present[v.Column] {
			continue
		}
		var w []Word
		for n, word := range v.Listed() {
			if n > 0 && (word.Rows > 0 || n == int(v.Assumed)) { // the others stand in rows that are no joints
				w = append(w, word)
			}
		}
		if len(w) == 0 {
			continue
		}
		if n, rows := len(w), c.store.Rows(); n > 20 && 2*n > rows && !slices.Contains(table.SignatureColumns[:], v.Column) {
			all = append(all, ColumnWords{v.Column, []Word{{Typed: fmt.Sprintf("(%d different values)", n), Value: "as typed", Known: true, Rows: rows}}})
			continue
		}
		sort.SliceStable(w, func(i, j int) bool {
			return cmp.Or(-cmp.Compare(w[i].Rows, w[j].Rows), cmp.Compare(w[i].Typed, w[j].Typed)) < 0
		})
		all = append(all, ColumnWords{v.Column, w})
	}
	return all
}

// NameQuestions lists the names of surgeons and hospitals that may be one, by
// column and name: "Linden" may be "J Linden". Only the user can settle it, who
// says in Options.Words that a name stands for another, or for itself. Columns are
// those that were kept.
func (c *Cohort) NameQuestions() []NameQuestion { return c.text.NameQuestions() }

// Completeness is how many rows of a file have a value under a heading.
type Completeness struct {
	File    int
	Heading Heading
	Rows    int
	Missing int
	Counted bool // false: the column was not read
}

// Completeness lists it for every heading of every file.
func (c *Cohort) Completeness() []Completeness {
	var all []Completeness
	for i, f := range c.Files {
		for j, h := range f.Headings {
			n := f.Missing(j)
			all = append(all, Completeness{File: i, Heading: h, Rows: f.Rows, Missing: max(n, 0), Counted: n >= 0})
		}
	}
	return all
}

// LostAfter is how many days before the closing date a joint must have been
// seen last to count as lost.
func (c *Cohort) LostAfter() int { return int(c.facts.LostAfter) }

// AgeBands are the bands in use.
func (c *Cohort) AgeBands() []AgeBand { return slices.Clone(c.bands) }

// CommonValues lists the values under each heading of no known column that is not
// left out and does not itself name what identifies a patient, by file and
// heading. They are counted with Options.EveryColumn only.
func (c *Cohort) CommonValues() []CommonValues {
	var all []CommonValues
	for i, f := range c.Files {
		all = append(all, f.CommonValues(i)...)
	}
	return all
}

// Account says what became of the rows: Read = Used + SetAside.
type Account struct {
	InFiles  int // rows of all tables
	Read     int // rows in scope
	Used     int
	SetAside int

	Reasons  []ReasonCount // why rows were set aside, in the order of Reason
	Warnings []ReasonCount // warned of, but used

	// RevisedUndated counts rows set aside that were revised on a day nobody
	// knows: each makes every estimate too low.
	RevisedUndated int

	// Lost counts rows in use that were last seen longer before the closing
	// date than Options.LostAfter, neither revised nor dead.
	Lost int

	// Assumed counts joints in use whose follow-up to the closing date is assumed,
	// since no day last seen and no later event says that they were still known
	// of; Known those neither revised nor dead of which one does. Where none is
	// known, neither is how many are lost.
	Assumed, Known int

	// NoRevisions says that the tables, of which the cohort may be a part, record no
	// revision at all: none happened, or none was entered.
	NoRevisions bool

	// RepeatsElsewhere counts rows set aside as repeats of a row of another
	// table.
	RepeatsElsewhere int

	// PossibleRevisions counts the joints in use that are not revised and of
	// which a row set aside would be the revision, if it is one.
	PossibleRevisions int

	// Unjoined counts, by what keeps them from counting, the rows that record a
	// revision and belong to no joint in use: of tables of revisions too.
	// UnjoinedJoints is how many joints more would be revised at most, if each
	// belonged to one in use.
	Unjoined       []ReasonCount
	UnjoinedJoints int

	// UnjoinedOfWhole counts the rows of tables of revisions that belong to no
	// joint, where the cohort is a part of another: whether they belong to the
	// part nobody knows, so that only the whole counts them.
	UnjoinedOfWhole int
}

// Deaths says whether deaths can be relied on.
type Deaths struct {
	Recorded bool
	Column   bool     // every table has a column for deaths
	Without  []string // the tables that have none, if others do
	Used     int      // rows in use that say the patient died
	Expected float64  // if Used is 0: a rough number to be expected at these ages and follow-up
}

// counts are an account and the deaths, which are counted together.
type counts struct {
	account Account
	deaths  Deaths

	// By file, rows that are not revised, and those set aside for what stands in one cell.
	unrevised, ofAValue map[int]int
}
