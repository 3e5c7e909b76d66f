package text

import (
	"regexp"
	"strings"
)

// Measure says how wide a text is, in whatever lines are measured in: columns of
// a terminal, points.
type Measure func(string) float64

// Wrap breaks a text into lines of a width: at spaces; where a word is wider than
// a line after a hyphen, a slash or an underscore, else anywhere. What [Words] leaves
// together stays together. Isolates are closed at the end of a line and opened
// again on the next. An empty text is one empty line.
func (m Measure) Wrap(s string, most float64) []string {
	var lines []string
	line := ""
	for _, word := range Words(s) {
		switch {
		case line == "":
			line = word
		case m(line+" "+word) <= most:
			line += " " + word
			continue
		default:
			if head, rest := m.split(word, most-m(line+" ")); hyphened(head) && m(line+" "+head) <= most && m(word) > most {
				line, word = line+" "+head, rest
			}
			lines = append(lines, line)
			line = word
		}
		for m(line) > most {
			head, rest := m.split(line, most)
			if rest == "" {
				break
			}
			lines = append(lines, head)
			line = rest
		}
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return closed(lines)
}

// Cut shortens a text to a width, with “…” where something was cut.
func (m Measure) Cut(s string, most float64) string {
	if m(s) <= most {
		return s
	}
	letters := []rune(s)
	short := func(n int) string {
		return closed([]string{strings.TrimRight(string(letters[:n]), " ") + More})[0]
	}
	return short(longest(len(letters), func(n int) bool { return m(short(n)) <= most }))
}

// closed closes isolates at the end of each line and opens them on the next.
func closed(lines []string) []string {
	open := false
	for i, line := range lines {
		if open {
			line = string(Isolate) + line
		}
		if open = strings.Count(line, string(Isolate)) > strings.Count(line, string(EndIsolate)); open {
			line += string(EndIsolate)
		}
		lines[i] = line
	}
	return lines
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

// reference is a source's letter in brackets, or one of several: [a], [a, b].
var reference = regexp.MustCompile(`^(\[[a-z]{1,2}[],]|[a-z]{1,2}\])`)

// Words are those of a text that may be parted: a percent sign stays with its
// number, and a source's letter with what it is the source of, but not with an abbreviation
// or a sentence's end.
func Words(s string) []string {
	var all []string
	for _, word := range strings.Fields(s) {
		if n := len(all); n > 0 && (word[0] == '%' || reference.MatchString(word) && !strings.HasSuffix(all[n-1], ".")) {
			all[n-1] += " " + word
		} else {
			all = append(all, word)
		}
	}
	return all
}

// Parts are the pieces that [Measure.Wrap] leaves whole where there is room for
// the longest of them: words, cut after hyphens, but not within 1-KM or 55-64.
func Parts(s string) []string {
	var all []string
	for _, word := range Words(s) {
		for {
			cut := strings.IndexAny(word[:len(word)-1], hyphens)
			if cut < 2 || len(word)-cut < 4 {
				break
			}
			all = append(all, word[:cut+1])
			word = word[cut+1:]
		}
		all = append(all, word)
	}
	return all
}

const hyphens = "-/_"

func hyphened(s string) bool { return s != "" && strings.ContainsAny(s[len(s)-1:], hyphens) }

// split parts a text so that its head, which has one letter at least, fits:
// after the last hyphen or space that does, else anywhere.
func (m Measure) split(s string, most float64) (head, rest string) {
	letters := []rune(s)
	// Mostly the beginning tells: long words are the exception.
	end := 1
	for step := 64; ; step *= 2 {
		n := min(step, len(letters))
		end = longest(n, func(n int) bool { return m(string(letters[:n])) <= most })
		if end < n || n == len(letters) {
			break
		}
	}
	first := 1 // an isolate is no letter
	for first < len(letters) && isolating(letters[first-1]) {
		first++
	}
	end = max(end, first)
	for end < len(letters) && unseen(letters[end]) && letters[end] != Isolate {
		end++ // a letter keeps its marks
	}
	head, rest = string(letters[:end]), string(letters[end:])
	if good := strings.LastIndexAny(head, hyphens+" "); good > 0 && rest != "" {
		return head[:good+1], head[good+1:] + rest
	}
	return head, rest
}
