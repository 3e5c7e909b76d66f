package cohort

import (
	"cmp"
	"fmt"
	"slices"
	"sort"

	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
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

// base is what was read: the rows, what they say together, and their words. All
// parts of a cohort share it.
type base struct {
	store   *store.Store
	facts   row.Facts
	bands   []AgeBand
	core    [store.CoreCount]*field
	extra   []*field
	words   []*vocabulary
	present map[string]bool // columns that at least one table has, or assumed
	headed  map[string]string
	missing [][]int         // by file and heading
	values  [][]*valueCount // as missing; nil for headings that are understood
}

// File is one table and how it was understood.
type File struct {
	Name        string
	Format      string
	Notes       []string // about the file as a whole, such as its encoding
	HeadingRow  int
	Preamble    []string // comment lines above the headings
	Headings    []Heading
	DateOrders  []ColumnOrder
	Rows        int
	Holds       string   // primaries, revisions or deaths
	Sheet       string   // of a workbook
	OtherSheets []string // of the workbook, not read

	cell func(row, column int) string
}

// Title tells a table from others in a message: its name, and its sheet if the
// workbook has several.
func (f File) Title() string { return title(f.Name, f.Sheet, len(f.OtherSheets) > 0) }

func title(name, sheet string, several bool) string {
	if !several {
		return name
	}
	return fmt.Sprintf("%s, sheet %q", name, sheet)
}

// HasColumn says whether a table has a column, or a value was assumed for it.
func (c *Cohort) HasColumn(name string) bool {
	_, ok := c.fieldName(name)
	return ok || c.present[name]
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
	for _, v := range c.words {
		if len(v.words) < 2 || !c.present[v.column] {
			continue
		}
		var w []Word
		for n, word := range v.words {
			if n > 0 && (word.Rows > 0 || n == int(v.assumed)) { // the others stand in rows that are no joints
				w = append(w, word)
			}
		}
		if len(w) == 0 {
			continue
		}
		if n, rows := len(w), c.store.Rows(); n > 20 && 2*n > rows && !slices.Contains(signatureColumns[:], v.column) {
			all = append(all, ColumnWords{v.column, []Word{{Typed: fmt.Sprintf("(%d different values)", n), Value: "as typed", Known: true, Rows: rows}}})
			continue
		}
		sort.SliceStable(w, func(i, j int) bool {
			return cmp.Or(-cmp.Compare(w[i].Rows, w[j].Rows), cmp.Compare(w[i].Typed, w[j].Typed)) < 0
		})
		all = append(all, ColumnWords{v.column, w})
	}
	return all
}

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
			n := c.missing[i][j]
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
