package words

import (
	"strconv"
	"strings"
)

// Number reads a plain number without a sign, such as 27, 27.4 or 27,4: at most
// four digits before the point. An apostrophe before it, which keeps a
// spreadsheet from working on a cell, is passed over.
func Number(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if len(s) > 1 && s[0] == '\'' {
		s = s[1:]
	}
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	if i == 0 || i > 4 {
		return 0, false
	}
	if i == len(s) {
		n, err := strconv.Atoi(s)
		return float64(n), err == nil
	}
	whole, rest := s[:i], s[i:]
	if rest[0] != '.' && rest[0] != ',' || len(rest) > 20 || strings.Trim(rest[1:], "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.ParseFloat(whole+"."+rest[1:], 64)
	return n, err == nil
}

// numberOf is a number as a word: in the shortest form, with a point.
func numberOf(n float64) string { return strconv.FormatFloat(n, 'f', -1, 64) }
