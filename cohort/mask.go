package cohort

import "example.org/holdfast/cohort/internal/words"

// freeText stands for a word that may hold somebody's data: it is shown
// instead of the word, and such words make one group.
const freeText = "(free text)"

// mayIdentify says whether a word typed into a column looks like free text
// that may name or number a patient.
func mayIdentify(column, typed string) bool { return words.MayIdentify(column, typed) }

// FreeText says that the word stands for all words of its column that may be
// about a patient, and are not shown.
func (w Word) FreeText() bool { return w.Typed == freeText }
