package benchmark

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// The canonical words of an outcomes table, by column of the published file.
var knownWords = map[string][]string{
	"joint":     {"hip", "knee"},
	"procedure": {"total", "resurfacing", "unicompartmental", "patellofemoral"},
	"bearing": {
		"metal-on-polyethylene", "metal-on-crosslinked-polyethylene",
		"ceramic-on-polyethylene", "ceramic-on-crosslinked-polyethylene",
		"ceramic-on-ceramic", "metal-on-metal", "ceramic-on-metal",
		"ceramicised-metal-on-crosslinked-polyethylene", "dual-mobility",
		"fixed", "mobile",
	},
	"fixation": {"cemented", "porous", "hybrid", "reverse hybrid"},
	"sex":      {"female", "male"},
}

var dashes = strings.NewReplacer("\u2010", "-", "\u2011", "-", "\u2012", "-", "\u2013", "-", "\u2014", "-", "\u2212", "-")

// fold makes words comparable: lower case, single spaces, plain hyphens.
func fold(s string) string {
	for i := range len(s) {
		if c := s[i]; c >= utf8.RuneSelf || c >= 'A' && c <= 'Z' || c == ' ' || c < ' ' {
			return strings.Join(strings.Fields(strings.ToLower(dashes.Replace(s))), " ")
		}
	}
	return s
}

// unstated reports whether a folded cell leaves its attribute open.
func unstated(folded string) bool {
	return folded == "" || folded == "*" || folded == "all"
}

// quote shows a cell in a message, cut to a readable length.
func quote(s string) string {
	const most = 40
	if utf8.RuneCountInString(s) > most {
		s = string([]rune(s)[:most]) + "…"
	}
	return strconv.Quote(s)
}

// pattern is what an attribute of a series states: one word, or alternatives
// separated by "|", in which "*" stands for any characters.
type pattern struct {
	alternatives []string // nil: nothing is stated
	plain        bool     // one word without "*"
}

func parsePattern(s string) (pattern, error) {
	s = fold(s)
	if unstated(s) {
		return pattern{}, nil
	}
	var p pattern
	for alternative := range strings.SplitSeq(s, "|") {
		alternative = strings.TrimSpace(alternative)
		if alternative == "" {
			return pattern{}, fmt.Errorf("an empty alternative in %s", quote(s))
		}
		p.alternatives = append(p.alternatives, alternative)
	}
	p.plain = len(p.alternatives) == 1 && !strings.Contains(s, "*")
	return p, nil
}

// contains reports whether a folded word is among those a pattern stands for.
// The word "" stands for all values together, and only a pattern that states
// nothing contains it.
func (p pattern) contains(word string) bool {
	switch {
	case p.alternatives == nil:
		return true
	case p.plain:
		return p.alternatives[0] == word
	case word == "":
		return false
	}
	for _, alternative := range p.alternatives {
		if glob(alternative, word) {
			return true
		}
	}
	return false
}

// glob reports whether the whole word fits a pattern in which "*" stands for
// any characters, none among them.
func glob(pattern, word string) bool {
	head, rest, star := strings.Cut(pattern, "*")
	if !star {
		return pattern == word
	}
	word, ok := strings.CutPrefix(word, head)
	if !ok {
		return false
	}
	for {
		part, next, more := strings.Cut(rest, "*")
		if !more {
			return strings.HasSuffix(word, part)
		}
		i := strings.Index(word, part)
		if i < 0 {
			return false
		}
		word, rest = word[i+len(part):], next
	}
}

// openWord is the breadth of an attribute that states nothing.
const openWord = 1 << 20

// breadth orders patterns by how specific they are: 0 for a plain word, then
// the number of canonical words a pattern stands for, then [openWord].
func (p pattern) breadth(column string) int {
	switch {
	case p.alternatives == nil:
		return openWord
	case p.plain:
		return 0
	}
	n := 1
	for _, word := range knownWords[column] {
		if p.contains(word) {
			n++
		}
	}
	return n
}

// strangers are the alternatives that stand for no canonical word.
func (p pattern) strangers(column string) []string {
	var strange []string
	for _, alternative := range p.alternatives {
		known := false
		for _, word := range knownWords[column] {
			known = known || glob(alternative, word)
		}
		if !known {
			strange = append(strange, alternative)
		}
	}
	return strange
}
