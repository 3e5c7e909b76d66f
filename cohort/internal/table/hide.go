package table

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/words"
)

// freeText stands for a word that may hold somebody's data: it is shown
// instead of the word, and such words make one group. Those of a column of few words
// that stand in several rows may be a code, and are numbered: "(free text 1: 4 letters)".
const freeText = "(free text)"

// FreeText says that the word stands for one or for all words of its column that may
// be about a patient, and are not shown.
func (w Word) FreeText() bool {
	return w.Typed == freeText || strings.HasPrefix(w.Typed, freeText[:len(freeText)-1]+" ")
}

// hiddenHeading stands for a heading that may hold somebody's data.
const hiddenHeading = "(heading not shown)"

// hideHeadings hides the headings of no known column that may be about a
// patient.
func hideHeadings(headings []Heading) {
	for i, h := range headings {
		if h.Column == "" && h.How != LeftOut && words.HeadingMayIdentify(h.Typed) {
			headings[i].Typed = hiddenHeading
		}
	}
}

// ofFewWords are the columns whose words are few, so that one of a row or two that is
// none of them may be anything.
var ofFewWords = map[string]bool{column.Sex: true, column.Side: true, column.Joint: true, column.Revised: true, column.Dead: true}

// severalRows is in how many rows a word must stand to be a maker's name rather
// than a patient's: one patient may have two joints.
const severalRows = 3

// HideNames makes free text of the words that are not understood, in columns that are
// closed: those that look like a person's name, or stand in a row or two and are one
// capitalised word. In a column of few words it does so with each that is longer than
// one character, which names nobody; those of several rows stay groups of their own.
func (t *Text) HideNames() {
	for _, v := range t.Words {
		v.placeFreeText()
		if !column.Closed(v.Column) {
			continue
		}
		rows := make(map[string]int) // in which a word stands, in any spelling
		for i := range v.Words {
			rows[words.Fold(v.Words[i].Value)] += v.Words[i].Rows
		}
		instead := make(map[string]string) // by value
		codes := make(map[string]int)      // the numbers of those that are numbered, folded
		for _, i := range v.commonestFirst(rows) {
			w := &v.Words[i]
			if i == 0 || w.Known || w.BySettings || w.FreeText() || i == int(v.Assumed) {
				continue
			}
			folded := words.Fold(w.Value)
			several := rows[folded] >= severalRows
			switch {
			case ofFewWords[v.Column] && several && utf8.RuneCountInString(w.Value) > 1:
				n, numbered := codes[folded]
				if !numbered {
					n = len(codes) + 1
					codes[folded] = n
				}
				instead[w.Value] = fmt.Sprintf("%s %d: %s)", freeText[:len(freeText)-1], n, words.Shape(w.Value))
			case mayBeSomebody(v.Column, w.Typed, several) && utf8.RuneCountInString(w.Value) > 1:
				instead[w.Value] = freeText
			default:
				continue
			}
			v.hide(i, instead[w.Value])
		}
		t.show(v.Column, instead)
	}
}

// mayBeSomebody says whether a word of a closed column that is not understood may be
// about a patient.
func mayBeSomebody(name, typed string, several bool) bool {
	switch {
	case words.NamesSomebody(typed), ofFewWords[name] && !several:
		return true
	case words.MayName(typed):
		return !(column.Makers(name) && several)
	}
	return !several && words.LoneName(typed)
}

// commonestFirst are the numbers of the words by the rows in which they stand in any
// spelling, so that the order of the rows makes no difference.
func (v *Vocabulary) commonestFirst(rows map[string]int) []int {
	all := make([]int, len(v.Words))
	for i := range all {
		all[i] = i
	}
	slices.SortStableFunc(all, func(a, b int) int {
		x, y := words.Fold(v.Words[a].Value), words.Fold(v.Words[b].Value)
		return cmp.Or(-cmp.Compare(rows[x], rows[y]), cmp.Compare(x, y), cmp.Compare(v.Words[a].Typed, v.Words[b].Typed))
	})
	return all
}

// seenFirst is where a word stands first; of no row where it was assumed.
func (v *Vocabulary) seenFirst(n int) place {
	if n < len(v.first) {
		return v.first[n]
	}
	return place{}
}

// placeFreeText says where the words stand that were not shown from the start.
func (v *Vocabulary) placeFreeText() {
	if n, ok := v.number[freeText]; ok {
		at := v.seenFirst(int(n))
		v.Words[n].File, v.Words[n].Row = at.file, at.row
	}
}

// hide puts another word in the place of word i: that one's rows are then its.
func (v *Vocabulary) hide(i int, instead string) {
	w := &v.Words[i]
	n, ok := v.number[instead]
	if !ok {
		n = uint32(len(v.Words))
		v.Words = append(v.Words, Word{Typed: instead, Value: instead})
		v.as = append(v.as, "")
		v.number[instead] = n
		w = &v.Words[i]
	}
	to := &v.Words[n]
	to.Rows += w.Rows
	if at := v.seenFirst(i); at.row > 0 && (to.Row == 0 || at.file < to.File || at.file == to.File && at.row < to.Row) {
		to.File, to.Row = at.file, at.row
	}
	*w = Word{} // of no row: it is not listed
}

// show gives values of a column's fields others to be shown as.
func (t *Text) show(column string, instead map[string]string) {
	if len(instead) == 0 {
		return
	}
	for _, f := range append(slices.Clone(t.Core[:]), t.Extra...) {
		if f.Name != column {
			continue
		}
		for i, value := range f.Values {
			if other, ok := instead[value]; ok {
				f.Values[i] = other
			}
		}
	}
}
