package table

import (
	"slices"
	"strings"
	"sync"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/words"
)

// Word is one word as typed in a column, and what it was taken for.
type Word struct {
	Typed string
	Value string // canonical, or as typed
	Known bool
	Rows  int

	Also []string // what else a procedure tells: its joint, side and fixation

	BySettings bool // explained by Options.Words

	// File and Row are where a word that is not shown stands first, so that
	// somebody can look; Row is 0 for any other.
	File, Row int
}

// Vocabulary numbers the distinct words of one column as typed. Workers keep
// their own copy of the numbers and ask here only for words new to them.
type Vocabulary struct {
	Column   string
	mu       sync.Mutex
	number   map[string]uint32
	Words    []Word            // Rows is filled in when reading ends
	first    []place           // where each stands first, likewise
	as       []string          // what each word is explained as, if it is
	means    map[string]string // by folded word, from the settings
	explains map[string]string // the same as the settings have it
	missing  map[string]bool   // folded words
	Assumed  uint32            // the number of the word that is assumed; 0: none
}

func newVocabulary(name string) *Vocabulary {
	v := &Vocabulary{Column: name, number: make(map[string]uint32), means: make(map[string]string)}
	v.numberOf("")
	return v
}

// numberOf is 0 for a missing word.
func (v *Vocabulary) numberOf(typed string) uint32 {
	v.mu.Lock()
	defer v.mu.Unlock()
	n, ok := v.number[typed]
	as, explained := v.means[words.Fold(typed)]
	if !ok && !explained && column.MayIdentify(v.Column, typed) {
		n, ok = v.number[freeText]
		if !ok {
			n = uint32(len(v.Words))
			v.Words = append(v.Words, Word{Typed: freeText})
			v.as = append(v.as, "")
			v.number[freeText] = n
		}
		return n
	}
	if !ok {
		n = uint32(len(v.Words))
		if n > 0 && !explained && (column.Missing(v.Column, typed) || v.missing[words.Fold(typed)]) {
			n = 0
		} else {
			v.Words = append(v.Words, Word{Typed: typed, BySettings: explained})
			v.as = append(v.as, as)
		}
		v.number[typed] = n
	}
	return n
}

func (v *Vocabulary) typed(n uint32) string {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.Words[n].BySettings {
		return v.as[n]
	}
	return v.Words[n].Typed
}

// understood notes what a word was taken for. One that is known for a hip and
// not for a knee is listed as known, whichever came first.
func (v *Vocabulary) understood(n uint32, m words.Meaning) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if w := &v.Words[n]; m.Known || !w.Known {
		w.Value, w.Known = m.Value, m.Known
	}
}

// Taken is what a word was taken for, in words: "total (hip, left)".
func (w Word) Taken() string {
	if len(w.Also) == 0 {
		return w.Value
	}
	return w.Value + " (" + strings.Join(w.Also, ", ") + ")"
}

// Listed are the words with what each says besides.
func (v *Vocabulary) Listed() []Word {
	all := slices.Clone(v.Words)
	if v.Column != column.Procedure {
		return all
	}
	for n := range all {
		if w := &all[n]; w.Known {
			p := words.Procedure(v.typed(uint32(n)))
			w.Also = slices.DeleteFunc([]string{p.Joint, p.Side, p.Fixation}, func(s string) bool { return s == "" })
		}
	}
	return all
}

// typedWords is one decoder's copy of a vocabulary's numbers.
type typedWords struct {
	shared *Vocabulary
	number map[string]uint32
	rows   []int       // by number
	first  []int       // by number, the first row
	bare   []int       // by number, those of rows that may be no joints; nil if there are none
	flags  []row.Flags // by number, in columns of yes and no; 0: not yet understood
}

// add counts rows that have a word.
func (t *typedWords) add(n uint32, rows int) {
	for int(n) >= len(t.rows) {
		t.rows = append(t.rows, 0)
	}
	t.rows[n] += rows
}

// leaveOut takes a word of a row that is no joint out of the count; of a row
// that may be none, it is counted apart.
func (t *typedWords) leaveOut(n uint32, perhaps bool) {
	if n == 0 {
		return
	}
	if !perhaps {
		t.add(n, -1)
		return
	}
	for int(n) >= len(t.bare) {
		t.bare = append(t.bare, 0)
	}
	t.bare[n]++
}

// numberOf is 0 for a missing word. The cell may be as it stands in the file.
func (t *typedWords) numberOf(cell []byte, row int) uint32 {
	if cell = trim(sheet.Valid(cell)); len(cell) == 0 {
		return 0
	}
	n, ok := t.number[string(cell)]
	if !ok {
		n = t.shared.numberOf(string(cell))
		t.number[string(cell)] = n
		for int(n) >= len(t.first) {
			t.first = append(t.first, 0)
		}
		if t.first[n] == 0 {
			t.first[n] = row
		}
	}
	return n
}

// place is a row of a file; its row is 0 for none.
type place struct{ file, row int }

// firstIn notes where a decoder of a file met each word first.
func (v *Vocabulary) firstIn(file int, first []int) {
	for len(v.first) < len(v.Words) {
		v.first = append(v.first, place{})
	}
	for n, row := range first {
		if p := &v.first[n]; row > 0 && (p.row == 0 || p.file == file && row < p.row) {
			*p = place{file, row}
		}
	}
}
