package table

import (
	"fmt"
	"slices"
	"sync"
	"sync/atomic"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/words"
)

// Field is a column of canonical words: the distinct values, numbered as they came. Value 0 is [words.NotRecorded].
type Field struct {
	Name   string
	reader *column.Reader // of its cells
	mu     sync.Mutex
	number map[string]uint16
	Values []string
	Full   bool // a value came for which there was no number left

	stop *atomic.Bool // then set, since the field is asked for; nil for one that is not
}

func newField(name string, bands []float64) *Field {
	return &Field{Name: name, reader: column.NewReader(name, bands), number: map[string]uint16{words.NotRecorded: 0}, Values: []string{words.NotRecorded}}
}

// maxValues is how many distinct values a column that is grouped by may have.
const maxValues = 1 << 16

// code of a value; beyond maxValues it is that of 0, and f.Full says so.
func (f *Field) code(value string) uint16 {
	f.mu.Lock()
	defer f.mu.Unlock()
	n, ok := f.number[value]
	if !ok {
		if len(f.Values) >= maxValues {
			f.Full = true
			if f.stop != nil {
				f.stop.Store(true)
			}
			return 0
		}
		n = uint16(len(f.Values))
		f.Values = append(f.Values, value)
		f.number[value] = n
	}
	return n
}

// Known is the code of a value, or another if no row has it.
func (f *Field) Known(value string, otherwise uint16) uint16 {
	if n, ok := f.number[value]; ok {
		return n
	}
	return otherwise
}

// TooMany says that a field can't be grouped by.
func (f *Field) TooMany() error {
	return fmt.Errorf("column %s has more than %d different values, too many to group by: it numbers or names its rows. Group by another", f.Name, maxValues-1)
}

// tooMany says so of a field that is asked for, once the row is met that has one
// too many.
func (r *Reader) tooMany(file string, row int, headings []Heading) error {
	for _, f := range slices.Concat(r.Core[:], r.Extra) {
		if !f.Full || f.stop == nil {
			continue
		}
		heading := f.Name
		for _, h := range headings {
			if h.Column == f.Name {
				heading = h.Typed
			}
		}
		return fmt.Errorf("%s: column %s has more than %d different values, the last in row %d: it numbers or names its rows, and can't be grouped or selected by. Take it out of --by, --where and [where], or leave it out with %q = \"\" under [columns] in a settings file",
			file, f.Name, maxValues-1, row, heading)
	}
	return nil
}

// TooDistinct says whether a column, other than the surgeons and hospitals, has so many different
// values for its rows that it numbers or names rather than groups them. Its canonical words do not
// count.
func (f *Field) TooDistinct(rows int) bool {
	if column.IsOf(f.Name, column.Names) {
		return false
	}
	const few = 20
	if len(f.Values)-1 <= few {
		return false
	}
	typed := 0
	for _, v := range f.Values[1:] {
		if !column.Canonical(f.Name, v) {
			typed++
		}
	}
	return typed > few && 2*typed > rows
}

// Ranks gives for each code its place in canonical order, and the values in
// that order: known words first, then numbers and bands, then others
// alphabetically, not recorded last.
func (f *Field) Ranks() (rank []uint16, ordered []string) {
	codes := make([]int, len(f.Values))
	for i := range codes {
		codes[i] = i
	}
	slices.SortFunc(codes, func(a, b int) int { return column.Compare(f.Name, f.Values[a], f.Values[b]) })
	rank = make([]uint16, len(codes))
	for _, c := range codes {
		if last := len(ordered) - 1; last < 0 || ordered[last] != f.Values[c] { // else text that is not shown
			ordered = append(ordered, f.Values[c])
		}
		rank[c] = uint16(len(ordered) - 1)
	}
	return rank, ordered
}

// Understand says what a word asked for means in the field.
func (f *Field) Understand(typed string) words.Meaning { return f.reader.Understand(typed) }
