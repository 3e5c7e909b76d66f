package cohort

import (
	"fmt"
	"slices"
	"sync"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/words"
)

// Word is one word as typed in a column, and what it was taken for.
type Word struct {
	Typed string
	Value string // canonical, or as typed
	Known bool
	Rows  int

	BySettings bool // explained by Options.Words
}

// vocabulary numbers the distinct words of one column as typed. Workers keep
// their own copy of the numbers and ask here only for words new to them.
type vocabulary struct {
	column  string
	mu      sync.Mutex
	number  map[string]uint32
	words   []Word            // Rows is filled in when reading ends
	as      []string          // what each word is explained as, if it is
	means   map[string]string // by folded word, from the settings
	missing map[string]bool   // folded words
	assumed uint32            // the number of the word that is assumed; 0: none
}

func newVocabulary(name string) *vocabulary {
	v := &vocabulary{column: name, number: make(map[string]uint32)}
	v.numberOf("")
	return v
}

// numberOf is 0 for a missing word.
func (v *vocabulary) numberOf(typed string) uint32 {
	v.mu.Lock()
	defer v.mu.Unlock()
	n, ok := v.number[typed]
	as, explained := v.means[words.Fold(typed)]
	if !ok && !explained && column.MayIdentify(v.column, typed) {
		n, ok = v.number[freeText]
		if !ok {
			n = uint32(len(v.words))
			v.words = append(v.words, Word{Typed: freeText})
			v.as = append(v.as, "")
			v.number[freeText] = n
		}
		return n
	}
	if !ok {
		n = uint32(len(v.words))
		if n > 0 && !explained && (column.Missing(v.column, typed) || v.missing[words.Fold(typed)]) {
			n = 0
		} else {
			v.words = append(v.words, Word{Typed: typed, BySettings: explained})
			v.as = append(v.as, as)
		}
		v.number[typed] = n
	}
	return n
}

func (v *vocabulary) typed(n uint32) string {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.words[n].BySettings {
		return v.as[n]
	}
	return v.words[n].Typed
}

// understood notes what a word was taken for. One that is known for a hip and
// not for a knee is listed as known, whichever came first.
func (v *vocabulary) understood(n uint32, m words.Meaning) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if w := &v.words[n]; m.Known || !w.Known {
		w.Value, w.Known = m.Value, m.Known
	}
}

// field is a column of canonical words: the distinct values, numbered as they
// came. Value 0 is [NotRecorded].
type field struct {
	name   string
	reader *column.Reader // of its cells
	mu     sync.Mutex
	number map[string]uint16
	values []string
	full   bool // a value came for which there was no number left
}

func newField(name string, bands []float64) *field {
	return &field{name: name, reader: column.NewReader(name, bands), number: map[string]uint16{NotRecorded: 0}, values: []string{NotRecorded}}
}

// maxValues is how many distinct values a column that is grouped by may have.
const maxValues = 1 << 16

// code of a value; beyond maxValues it is that of NotRecorded, and f.full says so.
func (f *field) code(value string) uint16 {
	f.mu.Lock()
	defer f.mu.Unlock()
	n, ok := f.number[value]
	if !ok {
		if len(f.values) >= maxValues {
			f.full = true
			return 0
		}
		n = uint16(len(f.values))
		f.values = append(f.values, value)
		f.number[value] = n
	}
	return n
}

// known is the code of a value, or another if no row has it.
func (f *field) known(value string, otherwise uint16) uint16 {
	if n, ok := f.number[value]; ok {
		return n
	}
	return otherwise
}

// tooMany says that a field can't be grouped by.
func (f *field) tooMany() error {
	return fmt.Errorf("column %s has more than %d different values, too many to group by", f.name, maxValues-1)
}

// tooDistinct says whether a column, other than the surgeons and hospitals, has so many different
// values for its rows that it numbers or names rather than groups them. Its canonical words do not
// count.
func (f *field) tooDistinct(rows int) bool {
	if column.IsOf(f.name, column.Names) {
		return false
	}
	const few = 20
	if len(f.values)-1 <= few {
		return false
	}
	typed := 0
	for _, v := range f.values[1:] {
		if !column.Canonical(f.name, v) {
			typed++
		}
	}
	return typed > few && 2*typed > rows
}

// ranks gives for each code its place in canonical order, and the values in
// that order: known words first, then numbers and bands, then others
// alphabetically, not recorded last.
func (f *field) ranks() (rank []uint16, ordered []string) {
	codes := make([]int, len(f.values))
	for i := range codes {
		codes[i] = i
	}
	slices.SortFunc(codes, func(a, b int) int { return column.Compare(f.name, f.values[a], f.values[b]) })
	rank = make([]uint16, len(codes))
	for _, c := range codes {
		if last := len(ordered) - 1; last < 0 || ordered[last] != f.values[c] { // else text that is not shown
			ordered = append(ordered, f.values[c])
		}
		rank[c] = uint16(len(ordered) - 1)
	}
	return rank, ordered
}
