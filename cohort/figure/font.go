package figure

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansitalic"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	stdfont "golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// Font is a typeface that text is measured and drawn with. It may be used by
// several goroutines at once.
type Font struct {
	family                string // for SVG
	regular, bold, italic *face
}

// face is one weight and style of a font.
type face struct {
	ttf  []byte
	sfnt *sfnt.Font
	key  string // family in PDF documents

	mu       sync.Mutex
	buf      sfnt.Buffer
	advances map[rune]float64 // in units of the size; −1 for a letter it lacks
}

// defaultFont is Liberation Sans.
var defaultFont = sync.OnceValue(func() *Font {
	must := func(ttf []byte, key string) *face {
		f, err := newFace(ttf, key)
		if err != nil {
			panic(err) // embedded in the program
		}
		return f
	}
	return &Font{
		family:  "Liberation Sans",
		regular: must(liberationsansregular.TTF, "holdfastsans"),
		bold:    must(liberationsansbold.TTF, "holdfastsansbold"),
		italic:  must(liberationsansitalic.TTF, "holdfastsansitalic"),
	}
})

// ReadFont reads a TrueType font, for scripts that Liberation Sans lacks. All
// text is then drawn in it, headings too. Fonts with PostScript outlines cannot
// be embedded in a PDF and are refused, as are collections.
func ReadFont(ttf []byte) (*Font, error) {
	f, err := newFace(ttf, fmt.Sprintf("font%x", sha256.Sum256(ttf))[:20])
	if err != nil {
		return nil, fmt.Errorf("figure: font: %w", err)
	}
	if err := f.embeddable(); err != nil {
		return nil, fmt.Errorf("figure: font: %w", err)
	}
	family, err := f.sfnt.Name(&f.buf, sfnt.NameIDFamily)
	if err != nil {
		family = ""
	}
	return &Font{family: clean(family), regular: f, bold: f, italic: f}, nil
}

func newFace(ttf []byte, key string) (*face, error) {
	// sfnt.Parse also takes PostScript outlines, which start with OTTO.
	if len(ttf) < 4 || string(ttf[:4]) != "\x00\x01\x00\x00" && string(ttf[:4]) != "true" {
		return nil, errors.New("not a TrueType font")
	}
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, err
	}
	return &face{ttf: ttf, sfnt: f, key: key, advances: make(map[rune]float64)}, nil
}

// embeddable tries to put the font into a document, since the library that does
// so may panic on a damaged one.
func (f *face) embeddable() (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("cannot be embedded: %v", r)
		}
	}()
	for _, r := range "Aa0 " {
		if f.advance(r) < 0 {
			return fmt.Errorf("has no letter %q", r)
		}
	}
	doc := fpdf.New("P", "pt", "A4", "")
	doc.AddUTF8FontFromBytes(f.key, "", f.ttf)
	doc.AddPage()
	doc.SetFont(f.key, "", 8)
	doc.Text(10, 10, "Aa0")
	return doc.Output(discard{})
}

type discard struct{}

func (discard) Write(b []byte) (int, error) { return len(b), nil }

// face is the one that a style is set in.
func (f *Font) face(s textStyle) *face {
	switch {
	case s.bold:
		return f.bold
	case s.italic:
		return f.italic
	}
	return f.regular
}

// has reports whether every style of the font has the letter.
func (f *Font) has(r rune) bool {
	// The PDF library takes letters of the basic plane only.
	return r <= 0xFFFF && f.regular.advance(r) >= 0 && f.bold.advance(r) >= 0 && f.italic.advance(r) >= 0
}

// advance is a letter's width in units of the size, −1 if the font lacks it.
func (f *face) advance(r rune) float64 {
	f.mu.Lock()
	defer f.mu.Unlock()
	if a, ok := f.advances[r]; ok {
		return a
	}
	a := -1.0
	em := fixed.Int26_6(f.sfnt.UnitsPerEm())
	if i, err := f.sfnt.GlyphIndex(&f.buf, r); err == nil && i != 0 {
		if w, err := f.sfnt.GlyphAdvance(&f.buf, i, em, stdfont.HintingNone); err == nil {
			a = float64(w) / float64(em)
		}
	}
	f.advances[r] = a
	return a
}

// vgFace is the font as gonum/plot's canvases take it.
func (f *Font) vgFace(s textStyle) font.Face {
	g := font.Face{Font: font.Font{Typeface: font.Typeface(f.family), Size: s.size}, Face: f.face(s).sfnt}
	if s.bold {
		g.Font.Weight = stdfont.WeightBold
	}
	if s.italic {
		g.Font.Style = stdfont.StyleItalic
	}
	return g
}

// faceOf is the face that a font of gonum/plot was made from by vgFace.
func (f *Font) faceOf(g font.Face) *face {
	return f.face(textStyle{bold: g.Font.Weight == stdfont.WeightBold, italic: g.Font.Style == stdfont.StyleItalic})
}

// measure measures and breaks text as one output will draw it.
type measure struct {
	font   *Font
	others bool // letters that the font lacks are drawn by other fonts
}

// defaultMeasure is what constructors lay figures out with.
func defaultMeasure() measure { return measure{font: defaultFont()} }

// width of words when drawn, without kerning.
func (m measure) width(s textStyle, words string) vg.Length {
	if !m.others {
		words = m.font.spelt(words)
	}
	f := m.font.face(s)
	total := 0.0
	for _, r := range words {
		total += advanceOf(f, r)
	}
	return vg.Length(total) * s.size
}

// advanceOf is a letter's width; a letter from elsewhere is taken to be as wide
// as high.
func advanceOf(f *face, r rune) float64 {
	if mark(r) || isolating(r) {
		return 0
	}
	if a := f.advance(r); a >= 0 {
		return a
	}
	return 1
}
