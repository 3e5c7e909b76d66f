package cohort

import (
	"regexp"
	"strings"
)

// freeText stands for a word that may hold somebody's data: it is shown
// instead of the word, and such words make one group.
const freeText = "(free text)"

var (
	dateLike = regexp.MustCompile(`\b\d{1,4}[./-]\d{1,2}[./-]\d{1,4}\b`)
	titled   = regexp.MustCompile(`(?i)\b(mr|mrs|ms|miss|mx|herr|frau|mme|monsieur|madame)\b\.?\s+\pL`)
)

// mayIdentify says whether a word typed into a column looks like free text
// that may name or number a patient: a date, six digits or more, a title
// before a name, or more than a phrase. Names of surgeons and hospitals may
// have titles.
func mayIdentify(column, typed string) bool {
	digits := 0
	for _, r := range typed {
		if r >= '0' && r <= '9' {
			digits++
		}
	}
	return digits >= 6 || len(typed) > 120 || len(strings.Fields(typed)) > 10 || dateLike.MatchString(typed) ||
		column != "surgeon" && column != "hospital" && titled.MatchString(typed)
}

// FreeText says that the word stands for all words of its column that may be
// about a patient, and are not shown.
func (w Word) FreeText() bool { return w.Typed == freeText }
