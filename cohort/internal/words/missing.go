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
var spreadsheetErrors = newVocabulary("missing", `n a, value, ref, name, div 0, num, null, getting data`)

// Missing reports whether a cell of the given column stands for no value:
// empty, only marks such as "-", "--", "?" and ".", or a word such as "n/a",
// "null" or "not known". "0" and "no" are values. Some columns differ:
//
//   - "0" is missing in the date columns, birth_year, age, patient and
//     revision_reason, where 0 cannot be a value. In other columns it may be a
//     code, and stays;
//   - "not revised", "in situ" and "no" are missing in revision_date, and
//     "alive" and "no" in death_date, since they say that there is no date;
//   - "none" is not missing in revised, where it means no;
//   - short forms such as "NK" and "NR" are not missing in surgeon and
//     hospital, where they may be initials.
//
// Any other column, and the empty name, has no such exception.
func Missing(column, cell string) bool {
	folded := Fold(cell)
	class := missingWords.class[folded]
	switch {
	case folded == "":
		return strings.Trim(cell, " \t\r\n\v\f\u00a0\u202f-\u2010\u2011\u2012\u2013\u2014\u2212._?/\\*#,;:~'\"`()[]<>") == ""
	case strings.HasPrefix(strings.TrimSpace(cell), "#") && spreadsheetErrors.class[folded] != "":
		return true
	}
	switch column {
	case ColumnRevised:
		return class != "" && folded != "none"
	case ColumnSurgeon, ColumnHospital:
		return class != "" && class != "initials"
	case ColumnRevisionDate:
		return class != "" || YesNo(ColumnRevised, cell).Value == No
	case ColumnDeathDate:
		return class != "" || YesNo(ColumnDead, cell).Value == No
	case ColumnOperationDate, ColumnLastSeenDate, ColumnBirthDate, ColumnBirthYear,
		ColumnAge, ColumnPatient, ColumnRevisionReason:
		return class != "" || folded == "0" || folded == "0 0"
	}
	return class != ""
}
