package figure

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"gonum.org/v1/plot/vg"
)

// Visual order, by the rules of Unicode Standard Annex 9 (UAX #9), worked by
// hand; letters are written by their names in comments.
func TestVisual(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"abc 12", "abc 12"},
		{word("אבג"), "גבא"},
		{word("אב 12 גד"), "דג 12 בא"},                           // numbers stay from left to right (rule W2, L2)
		{word("אב (ג)"), "(ג) בא"},                               // brackets are mirrored (rule L4)
		{"at risk: " + word("אב") + ", 12", "at risk: בא, 12"},   // an isolate does not turn what follows (X5c)
		{word("abc אב 12"), "abc 12 בא"},                         // a number after letters from the right (I1: level 2)
		{word("abc אב 12 def"), "abc 12 בא def"},                 // and letters after it again
		{word("אב abc"), "abc בא"},                               // letters from the left within
		{word("אב") + "; " + word("גד"), "בא; דג"},               // two isolates stay in their order
		{word("אב 12.5 ג"), "ג 12.5 בא"},                         // a separator within a number (W4)
		{string(isolate) + "אב", "בא"},                           // an isolate that is never closed
		{word("سير 7"), "7 ريس"},                                 // Arabic: digits after it are Arabic numbers (W2)
		{"a" + string(endIsolate) + "b" + string(isolate), "ab"}, // stray marks are not drawn
	} {
		if got := visual(c.in); got != c.want {
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
		if got := word(c.in); got != c.want {
			t.Errorf("%q becomes %q, want %q", c.in, got, c.want)
		}
	}
	if n := utf8.RuneCountInString(word(strings.Repeat("x", 5000))); n != mostLetters+1 {
		t.Errorf("5,000 letters become %d", n)
	}
}

func TestSpelt(t *testing.T) {
	f := defaultFont()
	for _, c := range []struct{ in, want string }{
		{"abc κεραμικό керамика קרמיקה", "abc κεραμικό керамика קרמיקה"},
		{"王", "U+738B"},
		{"王王王", "U+738B U+738B U+738B"},
		{"a王王王王王b", "aU+738B U+738B U+738B…b"},
		{"😀", "U+1F600"},
	} {
		if got := f.spelt(c.in); got != c.want {
			t.Errorf("%q is spelt %q, want %q", c.in, got, c.want)
		}
	}
}

// Whatever is cut or wrapped fits, and isolates are closed on each line.
func TestFitAndWrap(t *testing.T) {
	m := defaultMeasure()
	for _, s := range append(scripts, strings.Repeat("קרמיקה ", 40), strings.Repeat("ק", 300), "") {
		w := word(s)
		for _, width := range []vg.Length{12, 40, 150} {
			check := func(line string) {
				t.Helper()
				if got := m.width(labelText, line); got > width+.001 && utf8.RuneCountInString(line) > 3 {
					t.Errorf("%.40q is %v wide, of %v", line, got, width)
				}
				if strings.Count(line, string(isolate)) != strings.Count(line, string(endIsolate)) {
					t.Errorf("%.40q: isolates left open", line)
				}
			}
			check(m.fit(labelText, w, width))
			var all strings.Builder
			for _, line := range m.wrap(labelText, w, width) {
				check(line)
				all.WriteString(plain(line))
			}
			if got, want := strings.ReplaceAll(all.String(), " ", ""), strings.ReplaceAll(plain(w), " ", ""); got != want {
				t.Errorf("wrapped %.60q to %.60q", want, got)
			}
		}
	}
}

// Every colour of the palette has at least 3:1 contrast with white, which is
// what WCAG 2.1, criterion 1.4.11, asks of graphics; text has 4.5:1 (1.4.3).
func TestContrast(t *testing.T) {
	for i, e := range palette {
		if c := contrast(e.ink.R, e.ink.G, e.ink.B); c < 3 {
			t.Errorf("colour %d has %.2f:1", i, c)
		}
	}
	for _, s := range []textStyle{titleText, panelText, labelText, smallText, noteText, labelText.faint()} {
		if c := contrast(s.ink.R, s.ink.G, s.ink.B); c < 4.5 {
			t.Errorf("text has %.2f:1", c)
		}
	}
}

// contrast is a colour's contrast ratio with white, by WCAG 2.1.
func contrast(r, g, b uint8) float64 {
	part := func(x uint8) float64 {
		c := float64(x) / 255
		if c <= .03928 {
			return c / 12.92
		}
		return math.Pow((c+.055)/1.055, 2.4)
	}
	return 1.05 / (.2126*part(r) + .7152*part(g) + .0722*part(b) + .05)
}

// Whatever a table says, it becomes valid text without control characters, and
// visual order neither loses nor makes up a letter.
func FuzzWord(f *testing.F) {
	for _, s := range scripts {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w := word(s)
		if !utf8.ValidString(w) {
			t.Fatalf("%q becomes %q", s, w)
		}
		for _, r := range plain(w) {
			if r < ' ' || r == 0x7f || r == '\u202e' || isolating(r) {
				t.Fatalf("%q becomes %q", s, w)
			}
		}
		font := defaultFont()
		spelt := font.spelt(w)
		if got, want := len([]rune(visual(spelt))), len([]rune(plain(spelt))); got != want {
			t.Fatalf("%q has %d letters, in visual order %d", s, want, got)
		}
		m := defaultMeasure()
		for _, line := range m.wrap(labelText, w, 40) {
			if m.width(labelText, line) > 40.001 && len([]rune(plain(line))) > 1 && font.spelt(line) == line {
				t.Fatalf("%q is wrapped to %q", s, line)
			}
		}
	})
}
