package words

import "strings"

// missingWords are those that stand for a missing value in any column.
var missingWords = newVocabulary("missing", `
	na, n a, nan, nat, nil, null, none, unknown, not known, not recorded, not stated, not given, not specified, unspecified,
	not available, not applicable, not documented, not entered, no data, no value,
	no record, no information, missing, missing value, blank, empty, tbc, tba,
	to be confirmed, keine angabe, unbekannt, inconnu, inconnue,
	non renseigne, non connu, ukendt, ukjent, okand, onbekend, desconocido, desconocida,
	no consta`,
	"initials", `unk, u k, nk, n k, nr, n r, k a`)

// spreadsheetErrors are what a spreadsheet writes into a cell it cannot work
// out, without their marks.
var spreadsheetErrors = newList("missing", `n a, value, ref, name, div 0, num, null, getting data`)

// Missing reports whether a cell stands for no value in any column: empty, only
// marks such as "-", "--", "?" and ".", or a word such as "n/a", "null" or "not
// known". "0" and "no" are values. Initials says that it is one of the short
// forms, such as "NK" and "NR", that may be somebody's initials.
func Missing(cell string) (missing, initials bool) {
	folded := Fold(cell)
	switch {
	case folded == "":
		return strings.Trim(cell, " \t\r\n\v\f\u00a0\u202f-\u2010\u2011\u2012\u2013\u2014\u2212._?/\\*#,;:~'\"`()[]<>") == "", false
	case strings.HasPrefix(strings.TrimSpace(cell), "#") && spreadsheetErrors.has(folded):
		return true, false
	}
	class, missing := missingWords.class(folded)
	return missing, class == "initials"
}

// Zero reports whether a cell is the number 0.
func Zero(cell string) bool {
	folded := Fold(cell)
	return folded == "0" || folded == "0 0"
}
