package document

import (
	"strings"
	"unicode"

	"github.com/olekukonko/tablewriter/pkg/twwidth"
	"golang.org/x/text/unicode/bidi"
)

// Width is the number of columns a text takes on a terminal.
func Width(s string) int { return twwidth.WidthWithOptions(s, twwidth.Options{}) }

// Clean makes a text from somebody's file harmless: line breaks and tabs become
// spaces; control characters, marks that turn the direction of writing and
// characters without width are left out, so that no escape sequence reaches a
// terminal.
func Clean(s string) string { return clean(s, false) }

// The marks around a word that is written from right to left, which keep it from
// turning what stands around it.
const (
	isolate    = '\u2068'
	endIsolate = '\u2069'
)

// Word is a word of somebody's, clean, and between marks of its direction if any
// of it is written from right to left.
func Word(s string) string {
	s = Clean(s)
	for _, r := range s {
		if p, _ := bidi.LookupRune(r); p.Class() == bidi.R || p.Class() == bidi.AL {
			return string(isolate) + s + string(endIsolate)
		}
	}
	return s
}

// unmarked is a text without the marks of Word, for plain text.
func unmarked(s string) string {
	return strings.NewReplacer(string(isolate), "", string(endIsolate), "").Replace(s)
}

func clean(s string, marks bool) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r) || r == '\u2028' || r == '\u2029':
			return ' '
		case marks && (r == isolate || r == endIsolate):
			return r
		case r == '\u200C' || r == '\u200D': // joiners, which some scripts need
			return r
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// Cut shortens a text to so many columns.
func Cut(s string, most int) string {
	if Width(s) <= most {
		return s
	}
	head, _ := split(s, most-1)
	return strings.TrimRight(head, " ") + "…"
}

// wrap breaks a text into lines of at most so many columns: at spaces, where a
// word is too long after a hyphen or a slash, else anywhere. A percent sign
// stays with its number.
func wrap(s string, most int) []string {
	most = max(most, 2)
	var lines []string
	line := ""
	for _, word := range words(s) {
		switch {
		case line == "":
			line = word
		case Width(line)+1+Width(word) <= most:
			line += " " + word
			continue
		default:
			if head, rest := fill(word, most-Width(line)-1); head != "" && Width(word) > most {
				line, word = line+" "+head, rest
			}
			lines = append(lines, line)
			line = word
		}
		for Width(line) > most {
			head, rest := split(line, most)
			lines = append(lines, head)
			line = rest
		}
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// words are those of a text that may be parted.
func words(s string) []string {
	var all []string
	for word := range strings.SplitSeq(s, " ") {
		switch {
		case word == "":
		case word[0] == '%' && len(all) > 0:
			all[len(all)-1] += " " + word
		default:
			all = append(all, word)
		}
	}
	return all
}

// split parts a word so that its head takes at most so many columns.
func split(word string, most int) (head, rest string) {
	taken, end, good := 0, 0, 0
	for i, r := range word {
		w := Width(string(r))
		if taken+w > most && i > 0 {
			break
		}
		taken += w
		end = i + len(string(r))
		if r == '-' || r == '/' || r == '_' || r == ' ' {
			good = end
		}
	}
	if good > 0 && good < len(word) {
		end = good
	}
	return word[:end], word[end:]
}

// fill parts a word after a hyphen, so that its head takes at most so many
// columns; there is no head where no hyphen allows it.
func fill(word string, most int) (head, rest string) {
	head, _ = split(word, most)
	if Width(head) > most || !strings.ContainsAny(head[max(len(head)-1, 0):], "-/_") {
		return "", word
	}
	return head, word[len(head):]
}

// spaces is a text of n spaces.
func spaces(n int) string { return strings.Repeat(" ", max(n, 0)) }
