package figure

import (
	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/vg"
)

// Faces are a font in a PDF document, for text around figures: the names of its
// families for fpdf.Fpdf.SetFont, with style "".
type Faces struct {
	Regular, Bold, Italic string

	font *Font
}

// Embed makes a font known to a document; nil means Liberation Sans. What the
// document uses of it is embedded.
func Embed(doc *fpdf.Fpdf, f *Font) Faces {
	if f == nil {
		f = defaultFont()
	}
	for _, own := range []*face{f.regular, f.bold, f.italic} {
		doc.AddUTF8FontFromBytes(own.key, "", own.ttf)
	}
	return Faces{Regular: f.regular.key, Bold: f.bold.key, Italic: f.italic.key, font: f}
}

// Printed is a line of text as a document draws it, which knows neither
// directions of writing nor other fonts: words from right to left in the order
// in which their letters stand, and code points for letters that the font
// lacks.
func (f Faces) Printed(s string) string { return visual(f.font.spelt(s)) }

// Size is the figure's width and height in points.
func (f *Figure) Size() (width, height float64) { return f.Width.Points(), f.Height.Points() }

// Millimetres is a length for the options of figures.
func Millimetres(x float64) vg.Length { return vg.Length(x) * vg.Millimeter }

// Lacks reports whether a font lacks a letter of a text, which is then shown as
// its code point in PNG and PDF; nil is Liberation Sans.
func Lacks(f *Font, text string) bool {
	if f == nil {
		f = defaultFont()
	}
	for _, r := range text {
		if r >= ' ' && !isolating(r) && !mark(r) && !f.has(r) {
			return true
		}
	}
	return false
}
