// Package text makes words from somebody's table fit to be shown, wherever they
// are shown: clean, keeping their own direction of writing ([Word]), in the order
// in which an output draws letters ([Visual]), in a [Font] that knows how wide
// they are, and broken into lines ([Measure]).
package text

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/bidi"
)

// Marks of the Unicode bidirectional algorithm around a word that has its own
// direction of writing, and what stands where something was cut.
const (
	Isolate    = '\u2068' // first strong isolate
	EndIsolate = '\u2069' // pop directional isolate
	More       = "…"
)

// Word is a word of somebody's, clean, and if any of it is written from right to
// left between isolates, so that it does not turn what stands around it. Every
// such word goes through here before it becomes part of a text.
func Word(s string) string {
	s = Clean(s)
	if rightToLeft(s) {
		return string(Isolate) + s + string(EndIsolate)
	}
	return s
}

// Clean takes out of a text what is not to be seen: control characters, and with
// them every escape sequence; marks that change the direction of writing;
// characters without width, except the joiners that some scripts need; what is
// no character; and of the marks that any letter may carry all but two. Bytes
// that are not UTF-8 are shown as �, white space as single spaces.
func Clean(s string) string { return clean(s, false) }

// Kept is [Clean] for a text that words of [Word] have become part of.
func Kept(s string) string { return clean(s, true) }

func clean(s string, isolates bool) string {
	var b strings.Builder
	marks, space := 0, false
	for _, r := range s {
		switch {
		case unicode.IsSpace(r) || unicode.Is(unicode.Z, r):
			space = true
			continue
		case r == '\u200C' || r == '\u200D' || isolates && isolating(r):
		case unicode.Is(unicode.C, r) || r&0xFFFE == 0xFFFE || 0xFDD0 <= r && r <= 0xFDEF: // control, format, private use; no characters
			continue
		case mark(r) && unicode.Is(unicode.Inherited, r):
			if marks++; marks > 2 {
				continue
			}
		default:
			marks = 0
		}
		if space && b.Len() > 0 {
			b.WriteByte(' ')
		}
		space = false
		b.WriteRune(r)
	}
	return b.String()
}

// Shorten keeps at most so many letters of a text, and says so: for texts that
// are longer than any line.
func Shorten(s string, letters int) string {
	n := 0
	for i := range s {
		if n == letters {
			return s[:i] + More
		}
		n++
	}
	return s
}

// Plain is a text without isolates, for places where nothing follows them.
func Plain(s string) string {
	if !strings.ContainsRune(s, Isolate) && !strings.ContainsRune(s, EndIsolate) {
		return s
	}
	return strings.Map(func(r rune) rune {
		if isolating(r) {
			return -1
		}
		return r
	}, s)
}

func mark(r rune) bool      { return unicode.Is(unicode.M, r) }
func isolating(r rune) bool { return r == Isolate || r == EndIsolate }

// unseen reports whether a letter takes no room by itself.
func unseen(r rune) bool {
	return mark(r) || isolating(r) || r == '\u200C' || r == '\u200D'
}

func class(r rune) bidi.Class {
	p, _ := bidi.LookupRune(r)
	return p.Class()
}

// rightToLeft reports whether any of a text is written from right to left.
func rightToLeft(s string) bool {
	for _, r := range s {
		if r < 0x590 {
			continue
		}
		if c := class(r); c == bidi.R || c == bidi.AL || c == bidi.AN {
			return true
		}
	}
	return false
}

// Unmarked is a text without control characters, but for white space, and without
// marks that change the direction of writing: for files and messages in which words
// stay as they are otherwise.
func Unmarked(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && !strings.ContainsRune("\t\n\r", r) || unicode.Is(unicode.Bidi_Control, r) && !isolating(r) {
			return -1
		}
		return r
	}, s)
}

// Protect takes marks out of a text cell, and keeps a spreadsheet from running it as a formula: one that
// starts with = + - @, a tab or a carriage return gets a leading apostrophe.
func Protect(s string) string {
	s = Unmarked(s)
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
