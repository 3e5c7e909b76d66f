package benchmark

import (
	"slices"
	"strings"
	"sync"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/words"
)

// Column is a column of a file of published figures.
type Column struct {
	Name   string
	Help   string
	Needed bool // may stand in a line above the headings, where it is the same for the whole file
}

var fileColumns = []Column{
	{"source", "a short key: first author or journal, and year", true},
	{"joint", "hip, knee", true},
	{"procedure", "total, resurfacing, unicompartmental, patellofemoral, or as in an outcomes table: THR, UKR", false},
	{"bearing", "head first: ceramic-on-ceramic, MoXLPE; knees: fixed, mobile", false},
	{"polyethylene", "conventional, crosslinked", false},
	{"fixation", "cemented, porous (or cementless), hybrid, reverse hybrid", false},
	{"age_band", "<55, ≤55, under 55, 55-64, 75+: completed years at operation, both ends included", false},
	{"sex", "female, male", false},
	{"diagnosis", "osteoarthritis, fracture, avascular necrosis, inflammatory arthritis, …", false},
	{"setting", "national register, several registers, regional register, records, several centres, one centre, one surgeon, trial, pooled, guidance", false},
	{"country", "several are separated by commas", false},
	{"register", "what counts as one register; several are separated by |", false},
	{"subset", "in words what the columns can't say: two cementless designs. Such figures are listed, not read", false},
	{"years", "since operation; or a column for each year, headed 1 yr, 3 Years or 5y", true},
	{"revision_pct", "cumulative revision in per cent: 4.0, 4.0 %, 4.0 (3.9–4.1); or survival_pct, which is turned over", true},
	{"lower_pct", "confidence limits; both or neither", false},
	{"upper_pct", "", false},
	{"level", "confidence level of the limits; 0.95 if empty", false},
	{"joints", "number of joints", false},
	{"at_risk", "number at risk at that time; makes limits where none are published", false},
	{"estimand", "1-KM (or KM), cumulative incidence (or CIF), threshold, pooled estimate", true},
	{"period_from", "calendar years of operation; or in one, period: 2003-2023", false},
	{"period_to", "", false},
	{"covers", "what the figure is of: era, implants", false},
	{"citation", "where it is published; a figure without is refused", true},
	{"seen_at", "where and when the value was seen", false},
	{"seen_on", "", false},
}

// Columns are the columns of a file of published figures, in the order in which
// [Write] writes them. Headings and words may be typed as in an outcomes table.
func Columns() []Column { return slices.Clone(fileColumns) }

var columns, needed = func() (all, needed []string) {
	for _, c := range fileColumns {
		all = append(all, c.Name)
		if c.Needed {
			needed = append(needed, c.Name)
		}
	}
	return all, needed
}()

// otherColumns are read and not written.
var otherColumns = []string{"survival_pct", "period"}

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
