package benchmark

import (
	"errors"
	"strconv"
	"strings"
)

// AgeInterval is an interval of age at operation in completed years: From and
// older, younger than Below. Below 0 means that there is no upper end, so that
// the zero value is all ages.
type AgeInterval struct {
	From, Below int
}

// maxAge is above every age an outcomes table may hold.
const maxAge = 120

var errAge = errors.New("want ages in completed years, such as <55, 55-64 or 75+")

// ParseAge reads an interval of age: "<55", "55-64" (64 included), "75+",
// ">=75" or "≥75". A dash may be a hyphen or an en dash. Nothing, "*" and "all"
// are all ages.
func ParseAge(s string) (AgeInterval, error) {
	s = strings.ReplaceAll(fold(s), " ", "")
	if unstated(s) {
		return AgeInterval{}, nil
	}
	if rest, ok := strings.CutPrefix(s, "<"); ok {
		below, ok := age(rest)
		if !ok || below == 0 {
			return AgeInterval{}, errAge
		}
		return AgeInterval{Below: below}, nil
	}
	for _, sign := range []string{">=", "≥"} {
		if rest, ok := strings.CutPrefix(s, sign); ok {
			s = rest + "+"
			break
		}
	}
	if rest, ok := strings.CutSuffix(s, "+"); ok {
		from, ok := age(rest)
		if !ok {
			return AgeInterval{}, errAge
		}
		return AgeInterval{From: from}, nil
	}
	first, last, ok := strings.Cut(s, "-")
	from, ok1 := age(first)
	to, ok2 := age(last)
	if !ok || !ok1 || !ok2 || to < from {
		return AgeInterval{}, errAge
	}
	return AgeInterval{From: from, Below: to + 1}, nil
}

func age(s string) (int, bool) {
	if s == "" || len(s) > 3 || strings.Trim(s, "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.Atoi(s)
	return n, err == nil && n <= maxAge
}

// String writes an interval as [ParseAge] reads it; all ages are "".
func (a AgeInterval) String() string {
	switch {
	case a.From == 0 && a.Below == 0:
		return ""
	case a.From == 0:
		return "<" + strconv.Itoa(a.Below)
	case a.Below == 0:
		return strconv.Itoa(a.From) + "+"
	}
	return strconv.Itoa(a.From) + "-" + strconv.Itoa(a.Below-1)
}

// Contains reports whether every age in b is in a.
func (a AgeInterval) Contains(b AgeInterval) bool {
	return a.From <= b.From && (a.Below == 0 || b.Below != 0 && b.Below <= a.Below)
}

// width in years; an interval without an upper end is wider than any with one.
func (a AgeInterval) width() int {
	if a.Below == 0 {
		return 2*maxAge - a.From
	}
	return a.Below - a.From
}
