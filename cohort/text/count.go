package text

import (
	"fmt"
	"strconv"
	"strings"
)

// Number is a number in as few digits as tell it from any other.
func Number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// Counted is so many of something: "1 joint", "2 joints".
func Counted(n int64, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// InYears is "1 year", or "2.5 years".
func InYears(y float64) string {
	if y == 1 {
		return "1 year"
	}
	return Number(y) + " years"
}

// InPoints is a range of differences of proportions, above 0, in percentage points.
func InPoints(least, most float64) string {
	low, high := fmt.Sprintf("%.1f", 100*least), fmt.Sprintf("%.1f", 100*most)
	switch high {
	case "0.0":
		return "less than 0.1 points"
	case low:
		return high + " points"
	}
	return low + " to " + high + " points"
}

// Capital is a sentence's first words: a small letter of the Latin alphabet at the start
// becomes a capital one.
func Capital(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return strings.ToUpper(s[:1]) + s[1:]
	}
	return s
}
