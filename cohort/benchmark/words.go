package benchmark

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/words"
)

// canonical reads one word of a column as the outcomes table does.
func canonical(name, joint, word string) (string, bool) {
	m := column.Understand(name, word)
	if name == column.Bearing {
		m = words.Bearing(joint, word).Meaning
	}
	return m.Value, m.Known
}

// known are the canonical words of a column.
func known(name string) []string { return column.Order(name) }

var dashes = strings.NewReplacer("\u2010", "-", "\u2011", "-", "\u2012", "-", "\u2013", "-", "\u2014", "-", "\u2212", "-")

// fold makes words comparable: lower case, single spaces, plain hyphens.
func fold(s string) string {
	if folded(s) {
		return s
	}
	return strings.Join(strings.Fields(strings.ToLower(dashes.Replace(s))), " ")
}

// folded says that fold changes nothing, as it does of most words.
func folded(s string) bool {
	before := byte(' ')
	for i := range len(s) {
		c := s[i]
		if c >= utf8.RuneSelf || c >= 'A' && c <= 'Z' || c < ' ' || c == ' ' && before == ' ' {
			return false
		}
		before = c
	}
	return s == "" || before != ' '
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
// separated by "|", in which "*" stands for any characters; after "!" anything
// recorded but those.
type pattern struct {
	alternatives []string // nil: nothing is stated
	not          bool
}

func parsePattern(s string) (pattern, error) {
	s = fold(s)
	if unstated(s) {
		return pattern{}, nil
	}
	var p pattern
	s, p.not = strings.CutPrefix(s, "!")
	for alternative := range strings.SplitSeq(s, "|") {
		alternative = strings.TrimSpace(alternative)
		if alternative == "" {
			return pattern{}, fmt.Errorf("an empty alternative in %s", quote(s))
		}
		p.alternatives = append(p.alternatives, alternative)
	}
	return p, nil
}

func (p pattern) String() string {
	s := strings.Join(p.alternatives, "|")
	if p.not {
		s = "!" + s
	}
	return s
}

func (p pattern) stated() bool { return p.alternatives != nil }

// contains reports whether a folded word is among those a pattern stands for.
func (p pattern) contains(word string) bool {
	if p.alternatives == nil {
		return true
	}
	if word == "" {
		return false
	}
	return p.not != slices.ContainsFunc(p.alternatives, func(a string) bool { return glob(a, word) })
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

// understand puts canonical words in the place of those typed, and gives back
// the alternatives that stand for none.
func (p pattern) understand(name, joint string) (strange []string) {
	for i, word := range p.alternatives {
		if !strings.Contains(word, "*") {
			if value, ok := canonical(name, joint, word); ok {
				p.alternatives[i] = value
				continue
			}
		}
		if !slices.ContainsFunc(known(name), func(w string) bool { return glob(word, w) }) {
			strange = append(strange, word)
		}
	}
	return strange
}
