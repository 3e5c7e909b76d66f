package dates

// placeholders are the days that databases export where there is none: their
// least and greatest ones, and the days that they count from. Year, month, day.
var placeholders = [...][3]int{{0, 0, 0}, {1, 1, 1}, {1601, 1, 1}, {1753, 1, 1}, {1800, 1, 1}, {1899, 12, 30}, {1899, 12, 31}, {1900, 1, 1}, {9999, 12, 31}}

// Placeholder says whether a cell holds a day that databases write where there
// is none: 0000-00-00, 0001-01-01, 1601-01-01, 1753-01-01, 1800-01-01, 1899-12-30
// or 31, 1900-01-01 or 9999-12-31, in any of the forms
// in numbers that Parse reads, with or without a time of day. Raw is what Parse
// makes of the cell, from which it is quickly seen that most are none.
func Placeholder(cell []byte, raw Raw) bool {
	if !raw.Bad() {
		day, err := raw.Day(DayFirst)
		return err == nil && day == minDay // the first of January in either order
	}
	n1, digits1, rest := number(trim(cell))
	sep, rest := separator(rest)
	n2, digits2, rest := number(rest)
	sep2, rest := separator(rest)
	n3, digits3, rest := number(rest)
	if len(rest) > 0 && space(rest) == 0 && rest[0] != 'T' { // no time of day
		return false
	}
	if sep == 0 || sep != sep2 || digits1 == 0 || digits2 == 0 || digits3 == 0 {
		return false
	}
	for _, p := range placeholders {
		if n1 == p[0] && n2 == p[1] && n3 == p[2] && digits1 == 4 ||
			n3 == p[0] && digits3 == 4 && (n2 == p[1] && n1 == p[2] || n1 == p[1] && n2 == p[2]) {
			return true
		}
	}
	return false
}
