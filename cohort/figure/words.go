package figure

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/bidi"
	"gonum.org/v1/plot/vg"
)

// Marks of the Unicode bidirectional algorithm around a word that has its own
// direction of writing.
const (
	isolate    = '\u2068' // first strong isolate
	endIsolate = '\u2069' // pop directional isolate
	more       = "…"
)

// mostLetters is how much of a word from a table is looked at: more than any
// line holds.
const mostLetters = 400

// word makes a word from a table, a file or a caller fit to be measured and
// drawn: see clean. If any of it is written from right to left it is put
// between isolates, so that it does not turn what stands around it. Every such
// word goes through here before it becomes part of a text.
func word(s string) string {
	s = clean(s)
	if rightToLeft(s) {
		return string(isolate) + s + string(endIsolate)
	}
	return s
}

// clean takes out of a word what is not to be seen: control characters, marks
// that change the direction of writing, bytes that are not UTF-8 (shown as �),
// more than two marks on one letter. White space is one space. It is cut after
// mostLetters letters.
func clean(s string) string {
	var b strings.Builder
	letters, marks, space := 0, 0, false
	for _, r := range s {
		switch {
		case unicode.IsSpace(r) || unicode.Is(unicode.Z, r):
			space = true
			continue
		case unicode.Is(unicode.C, r) || r&0xFFFE == 0xFFFE || 0xFDD0 <= r && r <= 0xFDEF: // control, format, private use; no characters
			continue
		case mark(r):
			if marks++; marks > 2 {
				continue
			}
		default:
			marks = 0
		}
		if letters == mostLetters {
			return b.String() + more
		}
		if space && b.Len() > 0 {
			b.WriteByte(' ')
		}
		space = false
		b.WriteRune(r)
		letters++
	}
	return b.String()
}

func mark(r rune) bool      { return unicode.Is(unicode.M, r) }
func isolating(r rune) bool { return r == isolate || r == endIsolate }

// plain is a text without isolates, where nothing follows them.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if isolating(r) {
			return -1
		}
		return r
	}, s)
}

func class(r rune) bidi.Class {
	p, _ := bidi.LookupRune(r)
	return p.Class()
}

// rightToLeft reports whether any of a text is written from right to left.
func rightToLeft(s string) bool {
	for _, r := range s {
		if c := class(r); c == bidi.R || c == bidi.AL || c == bidi.AN {
			return true
		}
	}
	return false
}

// spelt puts code points where letters are that the font lacks: up to three in
// a row, then "…".
func (f *Font) spelt(s string) string {
	all := true
	for _, r := range s {
		if !isolating(r) && !f.has(r) {
			all = false
			break
		}
	}
	if all {
		return s
	}
	var b strings.Builder
	run := 0
	for _, r := range s {
		switch {
		case isolating(r):
			b.WriteRune(r)
		case f.has(r):
			b.WriteRune(r)
			run = 0
		case mark(r): // without its letter it says nothing
		default:
			switch run++; {
			case run <= 3:
				if run > 1 {
					b.WriteByte(' ')
				}
				fmt.Fprintf(&b, "U+%04X", r)
			case run == 4:
				b.WriteString(more)
			}
		}
	}
	return b.String()
}

// visual puts a text in the order in which its letters stand from left to
// right, for outputs that draw letters one after another. What stands between
// isolates is ordered by itself; the rest is taken to be from left to right.
func visual(s string) string {
	if !rightToLeft(s) {
		return plain(s)
	}
	var b strings.Builder
	for len(s) > 0 {
		i := strings.IndexRune(s, isolate)
		if i < 0 {
			b.WriteString(ordered(s, false))
			break
		}
		b.WriteString(ordered(s[:i], false))
		s = s[i+utf8.RuneLen(isolate):]
		inside := s
		if j := strings.IndexRune(s, endIsolate); j >= 0 {
			inside, s = s[:j], s[j+utf8.RuneLen(endIsolate):]
		} else {
			s = ""
		}
		b.WriteString(ordered(inside, fromRight(inside)))
	}
	return plain(b.String())
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

// ordered is the visual order of a text without isolates. The bidi package
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

// fit is a text cut to a width, with "…" where something was cut.
func (m measure) fit(s textStyle, words string, width vg.Length) string {
	if m.width(s, words) <= width {
		return words
	}
	letters := []rune(words)
	n := longest(len(letters), func(n int) bool {
		return m.width(s, cut(letters, n)) <= width
	})
	return cut(letters, n)
}

// cut keeps n letters and says so, with isolates closed.
func cut(letters []rune, n int) string {
	s := strings.TrimRight(string(letters[:n]), " ") + more
	if strings.Count(s, string(isolate)) > strings.Count(s, string(endIsolate)) {
		s += string(endIsolate)
	}
	return s
}

// longest is the largest n up to most for which fits holds, which must hold for
// all smaller ones; 0 if there is none.
func longest(most int, fits func(int) bool) int {
	low := 0
	for low < most {
		middle := (low + most + 1) / 2
		if fits(middle) {
			low = middle
		} else {
			most = middle - 1
		}
	}
	return low
}

// wrap breaks a text into lines of a width, between words; a word wider than a
// line is broken. Isolates are closed at the end of a line and opened again.
func (m measure) wrap(s textStyle, words string, width vg.Length) []string {
	var lines []string
	line, inside := "", false
	open := func(rest string) string {
		if inside {
			return string(isolate) + rest
		}
		return rest
	}
	end := func() {
		inside = strings.Count(line, string(isolate)) > strings.Count(line, string(endIsolate))
		if inside {
			line += string(endIsolate)
		}
		lines = append(lines, line)
	}
	for _, w := range strings.Fields(words) {
		longer := w
		if line != "" {
			longer = line + " " + w
		}
		if m.width(s, longer) <= width {
			line = longer
			continue
		}
		if line != "" {
			end()
			line = ""
		}
		line = open(w)
		for m.width(s, line) > width {
			letters := []rune(line)
			n := max(2, longest(len(letters), func(n int) bool { return m.width(s, string(letters[:n])) <= width }))
			if n >= len(letters) {
				break
			}
			line = string(letters[:n])
			end()
			line = open(string(letters[n:]))
		}
	}
	if line != "" {
		end()
	}
	return lines
}

// paragraphs wraps several texts one below the other.
func (m measure) paragraphs(s textStyle, texts []string, width vg.Length) []string {
	var lines []string
	for _, t := range texts {
		lines = append(lines, m.wrap(s, t, width)...)
	}
	return lines
}

// atMost keeps a number of lines and says so if there were more.
func (m measure) atMost(lines []string, n int) []string {
	if len(lines) <= n {
		return lines
	}
	lines = slices.Clone(lines[:n])
	if n > 0 {
		letters := []rune(lines[n-1])
		lines[n-1] = cut(letters, max(0, len(letters)-1))
	}
	return lines
}
