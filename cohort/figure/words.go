package figure

import (
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	stdfont "golang.org/x/image/font"

	"example.org/holdfast/cohort/text"
)

// mostLetters is how much of a word from a table is looked at: more than any
// line holds.
const mostLetters = 400

// word makes a word from a table, a file or a caller fit to be drawn.
func word(s string) string { return text.Word(text.Shorten(s, mostLetters)) }

// measure measures and breaks text as one output will draw it.
type measure struct {
	font   *text.Font
	others bool // letters that the font lacks are drawn by other fonts
}

// defaultMeasure is what constructors lay figures out with.
func defaultMeasure() measure { return measure{font: text.Default()} }

// width of words when drawn, without kerning.
func (m measure) width(s textStyle, words string) vg.Length {
	if !m.others {
		words = m.font.Spelt(words)
	}
	return vg.Length(m.font.Face(s.bold, s.italic).Width(words)) * s.size
}

func (m measure) in(s textStyle) text.Measure {
	return func(words string) float64 { return float64(m.width(s, words)) }
}

// fit is a text cut to a width, with "…" where something was cut.
func (m measure) fit(s textStyle, words string, width vg.Length) string {
	return m.in(s).Cut(words, float64(width))
}

// wrap breaks a text into lines of a width.
func (m measure) wrap(s textStyle, words string, width vg.Length) []string {
	return m.in(s).Wrap(words, float64(width))
}

// paragraphs wraps several texts one below the other.
func (m measure) paragraphs(s textStyle, texts []string, width vg.Length) []string {
	var lines []string
	for _, t := range texts {
		lines = append(lines, m.wrap(s, t, width)...)
	}
	return lines
}

// vgFace is a font as gonum/plot's canvas takes it.
func vgFace(f *text.Font, s textStyle) font.Face {
	g := font.Face{Font: font.Font{Typeface: font.Typeface(f.Family), Size: s.size}, Face: f.Face(s.bold, s.italic).SFNT}
	if s.bold {
		g.Font.Weight = stdfont.WeightBold
	}
	if s.italic {
		g.Font.Style = stdfont.StyleItalic
	}
	return g
}
