package benchmark

import (
	"slices"
	"strings"
	"sync"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/words"
)

// variants are other headings of the columns that an outcomes table has not,
// folded and separated by commas.
var variants = map[string]string{
	"source":       "study, author, authors, first author, publication, register name, registry",
	"years":        "year, years since operation, years after operation, years after primary, time years, follow up years, at years",
	"revision_pct": "revision, revision percent, revised, revised pct, percent revised, cumulative revision, cumulative revision pct, cumulative percent revision, crr, cpr, cumulative incidence, cif, revision rate",
	"survival_pct": "survival, survival percent, survivorship, implant survival, percent surviving, km survival",
	"lower_pct":    "lower, lower limit, lower ci, ci lower, ci low, lcl, lower 95, lower 95 ci, 95 ci lower, low",
	"upper_pct":    "upper, upper limit, upper ci, ci upper, ci high, ucl, upper 95, upper 95 ci, 95 ci upper, high",
	"level":        "confidence level, confidence",
	"joints":       "n, number, number of joints, implants, procedures, n total, hips, knees, joints n",
	"at_risk":      "number at risk, no at risk, n at risk, left, still at risk",
	"estimand":     "estimate, estimator, method",
	"age_band":     "age group, age range, ages, age class",
	"period_from":  "from, first year, period start",
	"period_to":    "to, last year, period end",
	"period":       "years of operation, operated, inclusion period, study period, implanted",
	"covers":       "population, notes, note, comment, comments",
	"citation":     "reference, cited, paper, doi",
	"subset":       "selection",
}

var variantColumns = sync.OnceValue(func() map[string]string {
	all := make(map[string]string)
	for name, list := range variants {
		for phrase := range strings.SplitSeq(list, ",") {
			all[strings.ReplaceAll(phrase, " ", "")] = name
		}
	}
	return all
})

// columnNamed is the column that a heading names: by its own name, a variant of
// it, or what an outcomes table may call it; "" for none.
func columnNamed(typed string) string {
	plain := strings.ReplaceAll(strings.ReplaceAll(typed, "%", ""), "_", " ")
	if name, ok := variantColumns()[strings.ReplaceAll(words.Fold(plain), " ", "")]; ok {
		return name
	}
	return statedColumn(typed)
}

// statedColumn is the same without the variants: "# note: …" above the headings
// may be a note.
func statedColumn(typed string) string {
	name := strings.ReplaceAll(strings.ReplaceAll(fold(typed), " ", "_"), "-", "_")
	if slices.Contains(columns, name) || slices.Contains(otherColumns, name) {
		return name
	}
	switch own := column.Heading(typed).Column; {
	case own == column.Age:
		return column.AgeBand
	case slices.Contains(column.With(column.Published), own):
		return own
	}
	return ""
}

// ofFigures are the columns of one figure, which no line above the headings can
// say for all.
var ofFigures = []string{"years", "revision_pct", "survival_pct", "lower_pct", "upper_pct", "at_risk"}
