package words

import (
	"slices"
	"strings"
)

// Match is what a heading means.
type Match struct {
	// Column is the name of the column, or empty if the heading is not known.
	Column string
	// Exact says that the heading is the column's own name, in any case.
	Exact bool
	// Between lists the columns a heading may mean, where it may mean several
	// or something else; Column is then empty.
	Between []string
}

// unclear lists headings that are known to have more than one meaning.
var unclear = map[string][]string{
	"date":              {ColumnOperationDate, ColumnRevisionDate, ColumnDeathDate, ColumnLastSeenDate},
	"datum":             {ColumnOperationDate, ColumnRevisionDate, ColumnDeathDate, ColumnLastSeenDate},
	"dod":               {ColumnDeathDate}, // or discharge
	"id":                {ColumnJointID, ColumnPatient},
	"number":            {ColumnJointID, ColumnPatient},
	"no":                {ColumnJointID, ColumnPatient},
	"study id":          {ColumnJointID, ColumnPatient},
	"study no":          {ColumnJointID, ColumnPatient},
	"study number":      {ColumnJointID, ColumnPatient},
	"revision":          {ColumnRevised, ColumnRevisionDate, ColumnOperationType},
	"rev":               {ColumnRevised, ColumnRevisionDate, ColumnOperationType},
	"died":              {ColumnDead, ColumnDeathDate},
	"death":             {ColumnDead, ColumnDeathDate},
	"status":            {ColumnRevised, ColumnDead},
	"outcome":           {ColumnRevised, ColumnDead},
	"surgery":           {ColumnOperationDate, ColumnProcedure, ColumnOperationType},
	"type":              {ColumnProcedure, ColumnOperationType, ColumnBearing, ColumnFixation},
	"reason":            {ColumnRevisionReason, ColumnDiagnosis},
	"cause":             {ColumnRevisionReason, ColumnDiagnosis},
	"femoral fixation":  {ColumnStemFixation, ColumnFemurFixation},
	"fixation femoral":  {ColumnStemFixation, ColumnFemurFixation},
	"insert":            {ColumnLiner, ColumnPolyethylene},
	"insert type":       {ColumnLiner, ColumnBearing, ColumnPolyethylene},
	"follow up":         {ColumnLastSeenDate},
	"followup":          {ColumnLastSeenDate},
	"follow up date":    {ColumnLastSeenDate},
	"fu date":           {ColumnLastSeenDate},
	"birth":             {ColumnBirthDate, ColumnBirthYear},
	"operation site":    {ColumnJoint, ColumnSide, ColumnHospital},
	"site of operation": {ColumnJoint, ColumnSide, ColumnHospital},
}

// headings gives the column of each variant, folded and without spaces, so
// that "Date of birth", "DateOfBirth" and "date_of_birth" are one.
var headings = func() map[string]string {
	all := make(map[string]string)
	add := func(phrase, name string) {
		key := strings.Join(strings.Fields(phrase), "")
		if old, ok := all[key]; ok && old != name {
			panic("words: heading " + phrase + " is both " + old + " and " + name)
		}
		all[key] = name
	}
	for _, c := range columns {
		add(Fold(c.name), c.name)
		for phrase := range strings.SplitSeq(c.headings, ",") {
			add(phrase, c.name)
		}
	}
	return all
}()

// hints are what people add to a heading to say how cells are to be filled in.
var hints = []string{
	"dd mm yyyy", "mm dd yyyy", "yyyy mm dd", "dd mm yy", "mm dd yy", "dd mmm yyyy", "ddmmyyyy", "mmddyyyy", "yyyymmdd",
	"d m y", "m d y", "y m d", "tt mm jjjj", "jj mm aaaa", "yes no", "y n", "m f", "f m", "l r", "r l", "left right", "male female",
	"years", "yrs", "required", "optional", "if any", "if known", "if applicable", "if revised", "if dead", "if deceased",
}

// Heading reads the heading of a column. It compares whole headings, without
// regard to case, accents, punctuation and spaces, with each column's name and
// its close variants; a hint at the end, such as "(dd/mm/yyyy)" or "(y/n)", is
// passed over. A heading that may mean two columns means none.
func Heading(typed string) Match {
	folded := Fold(typed)
	if folded == "" {
		return Match{}
	}
	own := strings.ToLower(strings.TrimSpace(typed))
	if slices.ContainsFunc(columns, func(c column) bool { return c.name == own }) {
		return Match{Column: own, Exact: true}
	}
	for {
		if between, ok := unclear[folded]; ok {
			return Match{Between: slices.Clone(between)}
		}
		if name, ok := headings[strings.ReplaceAll(folded, " ", "")]; ok {
			return Match{Column: name}
		}
		shorter, ok := withoutHint(folded)
		if !ok {
			return Match{}
		}
		folded = shorter
	}
}

func withoutHint(folded string) (string, bool) {
	for _, hint := range hints {
		if rest, ok := strings.CutSuffix(folded, " "+hint); ok {
			return rest, true
		}
	}
	return "", false
}

// Nearest returns the one of several words that is closest to the typed one,
// for "did you mean". Case, accents and punctuation are not counted. Closeness
// is the number of letters to insert, delete, replace or swap with the next;
// at most a third of the longer word's letters, else the answer is "". Of words
// equally close the first is returned.
func Nearest(typed string, among []string) string {
	want := []rune(strings.ReplaceAll(Fold(typed), " ", ""))
	best, bestDistance := "", -1
	for _, candidate := range among {
		have := []rune(strings.ReplaceAll(Fold(candidate), " ", ""))
		most := max(len(want), len(have)) / 3
		if len(want) == 0 || max(len(want)-len(have), len(have)-len(want)) > most {
			continue // the difference in length alone is too far
		}
		if d := distance(want, have); d <= most && (bestDistance < 0 || d < bestDistance) {
			best, bestDistance = candidate, d
		}
	}
	return best
}

// distance is the Damerau–Levenshtein distance in the form in which no part is
// edited twice.
func distance(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			replace := last[j-1]
			if a[i-1] != b[j-1] {
				replace++
			}
			row[j] = min(replace, last[j]+1, row[j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}
