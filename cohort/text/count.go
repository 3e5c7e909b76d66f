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

// Capital is a sentence's first words: a small letter of the Latin alphabet at the start
// becomes a capital one.
func Capital(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return strings.ToUpper(s[:1]) + s[1:]
	}
	return s
}
