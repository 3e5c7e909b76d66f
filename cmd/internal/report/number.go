package report

import (
	"math"
	"strconv"
	"strings"
)

const minus = "−"

// decimals writes a number with so many decimals, commas between thousands and
// a minus sign; nothing for a number that is not defined.
func decimals(x float64, n int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	s := strconv.FormatFloat(math.Abs(x), 'f', n, 64)
	whole, fraction, dot := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if dot {
		whole += "." + fraction
	}
	if x < 0 && strings.Trim(s, "0.") != "" {
		whole = minus + whole
	}
	return whole
}

// percent writes a proportion as a percentage without its sign, with one
// decimal. What is above 0 and rounds to it says so.
func percent(p float64) string {
	s := decimals(100*p, 1)
	if s == "0.0" && p > 0 {
		return "<0.1"
	}
	return s
}

// limits writes an interval after an estimate; nothing where there is none.
func limits(lower, upper string) string {
	if lower == "" || upper == "" {
		return ""
	}
	return " (" + lower + " to " + upper + ")"
}

// percentWith writes "4.3 (2.6 to 7.0)", with a mark after the estimate.
func percentWith(p, lower, upper float64, mark string) string {
	if math.IsNaN(p) {
		return ""
	}
	return percent(p) + mark + limits(percent(lower), percent(upper))
}

// count writes a whole number.
func count[T int | int64](n T) string { return decimals(float64(n), 0) }

// number writes a count that may be a sum of weights.
func number(x float64) string {
	if x == math.Trunc(x) {
		return decimals(x, 0)
	}
	return decimals(x, 1)
}

// years writes a time.
func years(y float64) string { return strconv.FormatFloat(y, 'f', -1, 64) }

// inYears writes "1 year" or "10 years".
func inYears(y float64) string {
	if y == 1 {
		return "1 year"
	}
	return years(y) + " years"
}

// few writes "1 joint" or "3 joints".
func few[T int | int64](n T, one, several string) string {
	if n == 1 {
		return "1 " + one
	}
	return count(n) + " " + several
}

// list writes "a", "a and b" or "a, b and c".
func list(items []string) string {
	switch len(items) {
	case 0:
		return ""
	case 1:
		return items[0]
	}
	return strings.Join(items[:len(items)-1], ", ") + " and " + items[len(items)-1]
}

// mostOpening is how many files an opening names.
const mostOpening = 4

// inBrief names files if they are few, else the first: all are listed where it is
// said how each was understood.
func inBrief(names []string) string {
	if len(names) <= mostOpening {
		return list(names)
	}
	return names[0] + " and " + count(len(names)-1) + " other files"
}

// capital makes a text's first letter a capital.
func capital(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return strings.ToUpper(s[:1]) + s[1:]
	}
	return s
}
