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

// ageWords are ways to write the ends of an interval, by what they mean. Those
// that begin with another come first.
var ageWords = strings.NewReplacer(
	"years", "", "year", "", "yrs", "", "yr", "", "aged", "",
	"and over", "+", "or over", "+", "and older", "+", "or older", "+", "and above", "+",
	"and under", "~", "or under", "~", "or younger", "~", "and younger", "~",
	"less than", "<", "younger than", "<", "under", "<", "below", "<",
	"older than", ">", "over", ">", "≥", ">=", "≤", "<=", " to ", "-", " ", "")

// ParseAge reads an interval of age: "<55" or "under 55", "≤55" or "<=55" (55
// included), "55-64" or "55 to 64" (64 included), "75+", ">=75", "≥75" or "75 and
// over", ">75" (75 not included). A dash may be a hyphen or an en dash. Nothing,
// "*" and "all" are all ages.
func ParseAge(s string) (AgeInterval, error) {
	s = ageWords.Replace(fold(s))
	if unstated(s) {
		return AgeInterval{}, nil
	}
	end := func(text string, more int) (int, error) {
		n, ok := age(text)
		if n += more; !ok || n == 0 {
			return 0, errAge
		}
		return n, nil
	}
	var a AgeInterval
	var err error
	switch {
	case strings.HasPrefix(s, "<="):
		a.Below, err = end(s[2:], 1)
		return a, err
	case strings.HasPrefix(s, "<"):
		a.Below, err = end(s[1:], 0)
		return a, err
	case strings.HasPrefix(s, ">="):
		a.From, err = end(s[2:], 0)
		return a, err
	case strings.HasPrefix(s, ">"):
		a.From, err = end(s[1:], 1)
		return a, err
	case strings.HasSuffix(s, "+"):
		from, ok := age(s[:len(s)-1])
		if !ok {
			return a, errAge
		}
		return AgeInterval{From: from}, nil
	case strings.HasSuffix(s, "~"):
		a.Below, err = end(s[:len(s)-1], 1)
		return a, err
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
