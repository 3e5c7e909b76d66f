package text

import (
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/unicode/bidi"
)

// Visual puts a text in the order in which its letters stand from left to
// right, for outputs that draw letters one after another. What stands between
// isolates is ordered by itself; the rest is taken to be from left to right.
func Visual(s string) string {
	if !rightToLeft(s) {
		return Plain(s)
	}
	var b strings.Builder
	for len(s) > 0 {
		i := strings.IndexRune(s, Isolate)
		if i < 0 {
			b.WriteString(ordered(s, false))
			break
		}
		b.WriteString(ordered(s[:i], false))
		s = s[i+utf8.RuneLen(Isolate):]
		inside := s
		if j := strings.IndexRune(s, EndIsolate); j >= 0 {
			inside, s = s[:j], s[j+utf8.RuneLen(EndIsolate):]
		} else {
			s = ""
		}
		b.WriteString(ordered(inside, fromRight(inside)))
	}
	return Plain(b.String())
}

// fromRight reports whether a text as a whole is from right to left: its first
// letter with a direction is.
func fromRight(s string) bool {
	for _, r := range s {
		switch class(r) {
		case bidi.L:
			return false
		case bidi.R, bidi.AL:
			return true
		}
	}
	return false
}

// ordered is the Visual order of a text without isolates. The bidi package
// tells which stretches run which way; their order is made here.
func ordered(s string, right bool) string {
	if s == "" || !rightToLeft(s) {
		return s
	}
	base := bidi.LeftToRight
	if right {
		base = bidi.RightToLeft
	}
	var p bidi.Paragraph
	if _, err := p.SetString(s, bidi.DefaultDirection(base)); err != nil {
		return s
	}
	o, err := p.Order()
	if err != nil {
		return s
	}
	// level 0 runs from the left, 1 from the right, 2 from the left within 1.
	type stretch struct {
		text  string
		level int
	}
	var all []stretch
	for i := range o.NumRuns() {
		run := o.Run(i)
		text := run.String()
		switch {
		case run.Direction() == bidi.RightToLeft:
			all = append(all, stretch{bidi.ReverseString(text), 1})
		case right:
			all = append(all, stretch{text, 2})
		case i > 0: // numbers after letters from the right belong to them
			n := numbers(text)
			if n > 0 {
				all = append(all, stretch{text[:n], 2})
			}
			if n < len(text) {
				all = append(all, stretch{text[n:], 0})
			}
		default:
			all = append(all, stretch{text, 0})
		}
	}
	for i := 0; i < len(all); {
		j := i
		for j < len(all) && all[j].level > 0 {
			j++
		}
		slices.Reverse(all[i:j])
		i = j + 1
	}
	var b strings.Builder
	for _, a := range all {
		b.WriteString(a.text)
	}
	return b.String()
}

// numbers is the length in bytes of the numbers that a text starts with.
func numbers(s string) int {
	end := 0
	for i, r := range s {
		switch class(r) {
		case bidi.EN, bidi.AN:
			end = i + utf8.RuneLen(r)
		case bidi.ES, bidi.ET, bidi.CS:
		default:
			return end
		}
	}
	return end
}
