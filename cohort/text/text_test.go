package text

import (
	"strings"
	"testing"
	"unicode/utf8"
)

// Words in several scripts and of several kinds of mischief; all invented.
var scripts = []string{
	"cemented", "κεραμικό", "керамика", "קרמיקה 12 (אב)", "سيراميك", "陶瓷对陶瓷",
	`<script>alert("x")</script>`, "=1+1", "a\x00b\x1bc\u202eevil\u2066", strings.Repeat("long ", 1000), "Z͑ͫ̓ͪ̂ͫ̽͏̴̙̤̞͉͚̯̞̠͍A", "\xff\xfe bad", "a&b'\"<>",
}

// Visual order, by the rules of Unicode Standard Annex 9 (UAX #9), worked by
// hand; letters are written by their names in comments.
func TestVisual(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"abc 12", "abc 12"},
		{Word("אבג"), "גבא"},
		{Word("אב 12 גד"), "דג 12 בא"},                           // numbers stay from left to right (rule W2, L2)
		{Word("אב (ג)"), "(ג) בא"},                               // brackets are mirrored (rule L4)
		{"at risk: " + Word("אב") + ", 12", "at risk: בא, 12"},   // an isolate does not turn what follows (X5c)
		{Word("abc אב 12"), "abc 12 בא"},                         // a number after letters from the right (I1: level 2)
		{Word("abc אב 12 def"), "abc 12 בא def"},                 // and letters after it again
		{Word("אב abc"), "abc בא"},                               // letters from the left within
		{Word("אב") + "; " + Word("גד"), "בא; דג"},               // two isolates stay in their order
		{Word("אב 12.5 ג"), "ג 12.5 בא"},                         // a separator within a number (W4)
		{string(Isolate) + "אב", "בא"},                           // an isolate that is never closed
		{Word("سير 7"), "7 ريس"},                                 // Arabic: digits after it are Arabic numbers (W2)
		{"a" + string(EndIsolate) + "b" + string(Isolate), "ab"}, // stray marks are not drawn
	} {
		if got := Visual(c.in); got != c.want {
			t.Errorf("%q stands as %q, want %q", c.in, got, c.want)
		}
	}
}

func TestWord(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"  plain\t\n words ", "plain words"},
		{"a\x00\x1b[31mb\u202ec\u2066d\u200fe\ufeff", "a[31mbcde"},
		{"\xff\xfe", "\uFFFD\uFFFD"},
		{"e\u0301\u0302\u0303\u0304x", "e\u0301\u0302x"},
		{"a\uffffb\ufdd0c", "abc"},
		{"line\u2028line", "line line"},
		{"קר", "\u2068קר\u2069"},
		{"", ""},
	} {
		if got := Word(c.in); got != c.want {
			t.Errorf("%q becomes %q, want %q", c.in, got, c.want)
		}
	}
	if got := Shorten("κεραμικό", 3); got != "κερ…" {
		t.Errorf("three letters are %q", got)
	}
}

func TestSpelt(t *testing.T) {
	f := Default()
	for _, c := range []struct{ in, want string }{
		{"abc κεραμικό керамика קרמיקה", "abc κεραμικό керамика קרמיקה"},
		{"王", "U+738B"},
		{"王王王", "U+738B U+738B U+738B"},
		{"a王王王王王b", "aU+738B U+738B U+738B…b"},
		{"😀", "U+1F600"},
	} {
		if got := f.Spelt(c.in); got != c.want {
			t.Errorf("%q is spelt %q, want %q", c.in, got, c.want)
		}
	}
}

// Whatever is cut or wrapped fits, and isolates are closed on each line.
func TestFitAndWrap(t *testing.T) {
	m := Measure(func(s string) float64 { return 8 * Default().Regular.Width(Default().Spelt(s)) })
	for _, s := range append(scripts, strings.Repeat("קרמיקה ", 40), strings.Repeat("ק", 300), "") {
		w := Word(s)
		for _, width := range []float64{12, 40, 150} {
			check := func(line string) {
				t.Helper()
				if got := m(line); got > width+.001 && utf8.RuneCountInString(line) > 3 {
					t.Errorf("%.40q is %v wide, of %v", line, got, width)
				}
				if strings.Count(line, string(Isolate)) != strings.Count(line, string(EndIsolate)) {
					t.Errorf("%.40q: isolates left open", line)
				}
			}
			check(m.Cut(w, width))
			var all strings.Builder
			for _, line := range m.Wrap(w, width) {
				check(line)
				all.WriteString(Plain(line))
			}
			if got, want := strings.ReplaceAll(all.String(), " ", ""), strings.ReplaceAll(Plain(w), " ", ""); got != want {
				t.Errorf("wrapped %.60q to %.60q", want, got)
			}
		}
	}
}

// What belongs together is not parted: a number and its percent sign, a figure and the letters
// of its sources; but an abbreviation in a heading is.
func TestWordsStayTogether(t *testing.T) {
	for s, want := range map[string]string{
		"now 4.2 % at last": "now|4.2 %|at|last", "published 4.9 [a]; other": "published|4.9 [a];|other",
		"both [d, e] here": "both [d, e]|here", "tick [ ] yes": "tick|[|]|yes", "Publ. [a]": "Publ.|[a]", "[a] first": "[a]|first",
	} {
		if got := strings.Join(Words(s), "|"); got != want {
			t.Errorf("%q has the words %s, want %s", s, got, want)
		}
	}
}

// Whatever a table says, it becomes valid text without control characters, and
// visual order neither loses nor makes up a letter.
func FuzzWord(f *testing.F) {
	for _, s := range scripts {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w := Word(s)
		if !utf8.ValidString(w) {
			t.Fatalf("%q becomes %q", s, w)
		}
		for _, r := range Plain(w) {
			if r < ' ' || r == 0x7f || r == '\u202e' || isolating(r) {
				t.Fatalf("%q becomes %q", s, w)
			}
		}
		font := Default()
		spelt := font.Spelt(w)
		if got, want := len([]rune(Visual(spelt))), len([]rune(Plain(spelt))); got != want {
			t.Fatalf("%q has %d letters, in visual order %d", s, want, got)
		}
		m := Measure(func(s string) float64 { return 8 * Default().Regular.Width(Default().Spelt(s)) })
		for _, line := range m.Wrap(w, 40) {
			if m(line) > 40.001 && len([]rune(Plain(line))) > 1 && font.Spelt(line) == line {
				t.Fatalf("%q is wrapped to %q", s, line)
			}
		}
	})
}
