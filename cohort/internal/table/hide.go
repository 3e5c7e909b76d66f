package table

import (
	"slices"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/words"
)

// freeText stands for a word that may hold somebody's data: it is shown
// instead of the word, and such words make one group.
const freeText = "(free text)"

// FreeText says that the word stands for all words of its column that may be
// about a patient, and are not shown.
func (w Word) FreeText() bool { return w.Typed == freeText }

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

// HideNames makes free text of the words that are not understood, in columns
// that are closed, and look like a person's name; or stand in a row or two and are one
// capitalised word, or whatever they are in a column of few words.
func (t *Text) HideNames() {
	for _, v := range t.Words {
		if !column.Closed(v.Column) {
			continue
		}
		hidden := make(map[string]bool)
		rows := 0
		for i := range v.Words {
			w := &v.Words[i]
			if i == 0 || w.Known || w.BySettings || w.FreeText() || i == int(v.Assumed) {
				continue
			}
			few := w.Rows < severalRows
			if few && (ofFewWords[v.Column] || words.LoneName(w.Typed)) || words.NamesSomebody(w.Typed) || words.MayName(w.Typed) && !(column.Makers(v.Column) && w.Rows >= severalRows) {
				hidden[w.Value] = true
				rows += w.Rows
				*w = Word{} // of no row: it is not listed
			}
		}
		if len(hidden) == 0 {
			continue
		}
		n, ok := v.number[freeText]
		if !ok {
			n = uint32(len(v.Words))
			v.Words = append(v.Words, Word{Typed: freeText, Value: freeText})
			v.as = append(v.as, "")
			v.number[freeText] = n
		}
		v.Words[n].Rows += rows
		for _, f := range append(slices.Clone(t.Core[:]), t.Extra...) {
			if f.Name != v.Column {
				continue
			}
			for i, value := range f.Values {
				if hidden[value] {
					f.Values[i] = freeText
				}
			}
		}
	}
}
