package text

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansitalic"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Font is a typeface that text is measured and drawn with. It may be used by
// several goroutines at once.
type Font struct {
	Family                string // its own name for itself
	Regular, Bold, Italic *Face
}

// Face is one weight and style of a font.
type Face struct {
	Key  string // its family in PDF documents
	SFNT *sfnt.Font

	ttf      []byte
	mu       sync.Mutex
	buf      sfnt.Buffer
	advances map[rune]float64 // in units of the size; −1 for a letter it lacks
}

// Default is Liberation Sans, which is part of the program.
var Default = sync.OnceValue(func() *Font {
	must := func(ttf []byte, key string) *Face {
		f, err := newFace(ttf, key)
		if err != nil {
			panic(err) // embedded in the program
		}
		return f
	}
	return &Font{
		Family:  "Liberation Sans",
		Regular: must(liberationsansregular.TTF, "holdfastsans"),
		Bold:    must(liberationsansbold.TTF, "holdfastsansbold"),
		Italic:  must(liberationsansitalic.TTF, "holdfastsansitalic"),
	}
})

// ReadFont reads a TrueType font, for scripts that Liberation Sans lacks. All
// text is then drawn in it, headings too. Fonts with PostScript outlines cannot
// be embedded in a PDF and are refused, as are collections.
func ReadFont(ttf []byte) (*Font, error) {
	f, err := newFace(ttf, fmt.Sprintf("font%x", sha256.Sum256(ttf))[:20])
	if err == nil {
		err = f.embeddable()
	}
	if err != nil {
		return nil, fmt.Errorf("font: %w", err)
	}
	family, err := f.SFNT.Name(&f.buf, sfnt.NameIDFamily)
	if err != nil {
		family = ""
	}
	return &Font{Family: Clean(family), Regular: f, Bold: f, Italic: f}, nil
}

func newFace(ttf []byte, key string) (*Face, error) {
	// sfnt.Parse also takes PostScript outlines, which start with OTTO.
	if len(ttf) < 4 || string(ttf[:4]) != "\x00\x01\x00\x00" && string(ttf[:4]) != "true" {
		return nil, errors.New("not a TrueType font")
	}
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, err
	}
	return &Face{ttf: ttf, SFNT: f, Key: key, advances: make(map[rune]float64)}, nil
}

// embeddable tries to put the font into a document, since the library that does
// so may panic on a damaged one.
func (f *Face) embeddable() (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("cannot be embedded: %v", r)
		}
	}()
	for _, r := range "Aa0 " {
		if f.Advance(r) < 0 {
			return fmt.Errorf("has no letter %q", r)
		}
	}
	doc := fpdf.New("P", "pt", "A4", "")
	f.embed(doc)
	doc.AddPage()
	doc.SetFont(f.Key, "", 8)
	doc.Text(10, 10, "Aa0")
	return doc.Output(struct{ io.Writer }{io.Discard})
}

func (f *Face) embed(doc *fpdf.Fpdf) { doc.AddUTF8FontFromBytes(f.Key, "", f.ttf) }

// Embed makes a font known to a PDF document, whose text is then set in the keys
// of its faces, with style "". What the document uses of it is embedded.
func (f *Font) Embed(doc *fpdf.Fpdf) {
	for _, face := range []*Face{f.Regular, f.Bold, f.Italic} {
		face.embed(doc)
	}
}

// Face is the one for a weight and style.
func (f *Font) Face(bold, italic bool) *Face {
	switch {
	case bold:
		return f.Bold
	case italic:
		return f.Italic
	}
	return f.Regular
}

// has reports whether every style of the font has the letter.
func (f *Font) has(r rune) bool {
	// The PDF library takes letters of the basic plane only.
	return r <= 0xFFFF && f.Regular.Advance(r) >= 0 && f.Bold.Advance(r) >= 0 && f.Italic.Advance(r) >= 0
}

// Advance is a letter's width in units of the size, −1 if the font lacks it.
func (f *Face) Advance(r rune) float64 {
	f.mu.Lock()
	defer f.mu.Unlock()
	if a, ok := f.advances[r]; ok {
		return a
	}
	a := -1.0
	em := fixed.Int26_6(f.SFNT.UnitsPerEm())
	if i, err := f.SFNT.GlyphIndex(&f.buf, r); err == nil && i != 0 {
		if w, err := f.SFNT.GlyphAdvance(&f.buf, i, em, font.HintingNone); err == nil {
			a = float64(w) / float64(em)
		}
	}
	f.advances[r] = a
	return a
}

// Width is that of a text in units of the size, without kerning. A letter that
// the font lacks is taken to be as wide as high.
func (f *Face) Width(s string) float64 {
	total := 0.0
	for _, r := range s {
		switch a := f.Advance(r); {
		case unseen(r):
		case a >= 0:
			total += a
		default:
			total++
		}
	}
	return total
}

// Lacks reports whether the font lacks a letter of a text.
func (f *Font) Lacks(s string) bool {
	for _, r := range s {
		if r >= ' ' && !unseen(r) && !f.has(r) {
			return true
		}
	}
	return false
}

// Spelt puts code points, such as U+738B, where letters are that the font lacks:
// up to three in a row, then “…”.
func (f *Font) Spelt(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool { return !isolating(r) && !f.has(r) }) {
		return s
	}
	var b strings.Builder
	run := 0
	for _, r := range s {
		switch {
		case isolating(r):
			b.WriteRune(r)
		case f.has(r):
			b.WriteRune(r)
			run = 0
		case unseen(r): // without its letter it says nothing
		default:
			switch run++; {
			case run <= 3:
				if run > 1 {
					b.WriteByte(' ')
				}
				fmt.Fprintf(&b, "U+%04X", r)
			case run == 4:
				b.WriteString(More)
			}
		}
	}
	return b.String()
}

// Printed is a line of text as it is drawn where nothing knows of directions of
// writing or of other fonts: letters in the order in which they stand, and code
// points for those that the font lacks.
func (f *Font) Printed(s string) string { return Visual(f.Spelt(s)) }
