package figure

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
)

// Figure is a drawing and the numbers it draws.
type Figure struct {
	Title       string    // above the drawing
	Subtitle    string    // below the title: whose joints, until when
	Alternative string    // what it shows, with the numbers that matter, for those who cannot see it
	Notes       []string  // below the drawing: what is what, what was left out, sources
	Day         time.Time // the closing date, which a PDF has as its date

	// Width and Height are those of the whole, title and notes included, without
	// the margin of 6 points around a figure that is written by itself. They are
	// the constructor's and are not to be changed.
	Width, Height vg.Length

	// Font draws the text; nil means Liberation Sans.
	Font *text.Font

	body     vg.Length // height of the drawing proper
	untitled bool
	draw     func(*pen)
	data     [][]string // of WriteCSV, headings first, with cells made by audit.Number, percent and text.Protect
	groups   []string   // names that tell its groups apart
}

// Widths and margins.
const (
	mm = vg.Millimeter

	// DefaultWidth is the width of the text of an A4 page.
	DefaultWidth = 170 * mm

	narrowest = 80 * mm
	widest    = 2000 * mm
)

// checkWidth checks the width of a figure; 0 becomes the default.
func checkWidth(w *vg.Length) error {
	if *w == 0 {
		*w = DefaultWidth
	}
	if !(*w >= narrowest && *w <= widest) {
		return fmt.Errorf("figure: width %.0f mm, want %.0f to %.0f", float64(*w/mm), float64(narrowest/mm), float64(widest/mm))
	}
	return nil
}

// Titled is a copy of the figure with another title.
func (f *Figure) Titled(title string) *Figure {
	g := *f
	g.Title = word(title)
	g.Height = g.body + g.above() + g.below()
	return &g
}

// Marked is a copy of the figure that says first below its title that its joints are
// invented, if a table says so.
func (f *Figure) Marked(tables []cohort.File) *Figure {
	g := *f
	if slices.ContainsFunc(tables, cohort.File.Invented) {
		g.Subtitle = strings.TrimSpace("INVENTED joints. " + g.Subtitle)
		g.Height = g.body + g.above() + g.below()
	}
	return &g
}

// Untitled is a copy of the figure without titles and notes in the drawing, for
// callers that set them in text of their own. The fields keep their words; the
// height shrinks.
func (f *Figure) Untitled() *Figure {
	g := *f
	g.untitled = true
	g.Height = f.body
	return &g
}

// margin stands around a figure that is written by itself.
func (f *Figure) margin() vg.Length {
	if f.untitled {
		return 0
	}
	return 6
}

// above is the room for the titles.
func (f *Figure) above() vg.Length {
	if f.untitled || f.Title == "" {
		return 0
	}
	m := defaultMeasure()
	h := vg.Length(len(m.wrap(titleText, f.Title, f.Width)))*titleText.leading() + 6
	if f.Subtitle != "" {
		h += vg.Length(len(m.wrap(labelText, f.Subtitle, f.Width)))*labelText.leading() + 4
	}
	return h
}

// below is the room for the notes.
func (f *Figure) below() vg.Length {
	if f.untitled || len(f.Notes) == 0 {
		return 0
	}
	return vg.Length(len(defaultMeasure().paragraphs(noteText, f.Notes, f.Width)))*noteText.leading() + 8
}

// paint draws the whole figure, and tells what of it the output can't draw. The
// canvas' origin is its lower left corner.
func (f *Figure) paint(c canvas) error {
	p := &pen{canvas: c, measure: measure{font: f.font(), others: c.asIs()}}
	below := f.below()
	p.body = vg.Rectangle{Max: vg.Point{X: f.Width, Y: f.body}}
	if f.above() > 0 {
		y := f.Height
		say := func(s textStyle, words string) {
			for _, line := range defaultMeasure().wrap(s, words, f.Width) {
				y -= s.leading()
				p.text(s, vg.Point{Y: y + .2*s.size}, left, line)
			}
			y -= 4
		}
		say(titleText, f.Title)
		if f.Subtitle != "" {
			say(labelText, f.Subtitle)
		}
	}
	if below > 0 {
		// Another font than the default may need more lines: it is set smaller.
		style, lines := noteText, p.paragraphs(noteText, f.Notes, f.Width)
		for style.size > 5 && vg.Length(len(lines))*style.leading() > below-7 {
			style.size -= .5
			lines = p.paragraphs(style, f.Notes, f.Width)
		}
		y := below - 6 - style.size
		for _, line := range lines {
			p.text(style, vg.Point{X: 0, Y: y}, left, line)
			y -= style.leading()
		}
	}
	p.up = below
	f.draw(p)
	return p.err
}

// drawable refuses a figure whose groups an output that lacks letters of theirs
// could not tell apart.
func (f *Figure) drawable() error {
	seen := make(map[string]bool)
	for _, name := range f.groups {
		printed := f.font().Spelt(name)
		if printed != name && seen[printed] {
			return errors.New("figure: the font lacks letters that tell groups apart: name a font that has them, or write the figure as SVG")
		}
		seen[printed] = true
	}
	return nil
}

func (f *Figure) font() *text.Font {
	if f.Font != nil {
		return f.Font
	}
	return text.Default()
}

// WriteSVG writes the figure as SVG 1.1: lengths in points, a view box so that
// it scales, text as text, the title and the alternative for screen readers.
// There is no script in it and nothing outside it is referred to.
func (f *Figure) WriteSVG(w io.Writer) error {
	c := newSVG(f)
	if err := f.paint(c); err != nil {
		return err
	}
	c.WriteString("</svg>\n")
	_, err := c.WriteTo(w)
	return err
}

// WritePNG writes the figure as PNG with the given dots per inch, 20 to 1200,
// which stand in the file with its title and what it shows. It is an error if
// words are written in letters that join or change places, which only SVG can
// draw, or if groups differ only in letters that the font lacks.
func (f *Figure) WritePNG(w io.Writer, dpi int) error {
	if dpi < 20 || dpi > 1200 {
		return fmt.Errorf("figure: %d dots per inch, want 20 to 1200", dpi)
	}
	m := f.margin()
	if size := (f.Width + 2*m).Dots(float64(dpi)) * (f.Height + 2*m).Dots(float64(dpi)); size > 4e8 {
		return fmt.Errorf("figure: %.0f million pixels at %d dots per inch, want 400 million at most", size/1e6, dpi)
	}
	if err := f.drawable(); err != nil {
		return err
	}
	c := vgimg.NewWith(vgimg.UseWH(f.Width+2*m, f.Height+2*m), vgimg.UseDPI(dpi))
	c.Translate(vg.Point{X: m, Y: m})
	if err := f.paint(raster{c, f.font()}); err != nil {
		return err
	}
	var b bytes.Buffer
	if err := png.Encode(&b, fewColours(c.Image())); err != nil {
		return err
	}
	dots := uint32(math.Round(float64(dpi) / .0254)) // per metre
	size := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, dots), dots)
	const head = 8 + 25 // signature and first chunk
	whole := slices.Concat(b.Next(head), chunk("pHYs", append(size, 1)),
		chunk("iTXt", []byte("Title\x00\x00\x00\x00\x00"+text.Plain(f.Title))),
		chunk("iTXt", []byte("Description\x00\x00\x00\x00\x00"+text.Plain(f.Alternative))), b.Bytes())
	_, err := w.Write(whole)
	return err
}

// fewColours is an image with 32 steps of each colour, where that makes few enough
// for a palette, as it does where inks are few: a third of the size, and the same
// to the eye.
func fewColours(img image.Image) image.Image {
	from, ok := img.(*image.RGBA)
	if !ok {
		return img
	}
	step := func(c uint8) uint8 { return uint8((int(c)*31 + 127) / 255 * 255 / 31) }
	out := image.NewPaletted(from.Rect, nil)
	known := make(map[[3]uint8]uint8)
	for i := 0; i < len(from.Pix); i += 4 {
		c := [3]uint8{from.Pix[i], from.Pix[i+1], from.Pix[i+2]}
		index, ok := known[c]
		if !ok {
			stepped := color.RGBA{step(c[0]), step(c[1]), step(c[2]), 0xFF}
			at := slices.Index(out.Palette, color.Color(stepped))
			if at < 0 {
				if at = len(out.Palette); at == 256 {
					return img
				}
				out.Palette = append(out.Palette, stepped)
			}
			index = uint8(at)
			known[c] = index
		}
		out.Pix[i/4] = index
	}
	return out
}

// chunk is one of a PNG file (PNG specification, third edition, 5.3).
func chunk(kind string, data []byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	b = append(append(b, kind...), data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

// WritePDF writes the figure as a PDF of one page, with the font embedded, the
// figure's title as the document's, and the closing date as its date. Errors are
// those of [Figure.WritePNG] about letters.
func (f *Figure) WritePDF(w io.Writer) error {
	if err := f.drawable(); err != nil {
		return err
	}
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: (f.Width + 2*f.margin()).Points(), Ht: (f.Height + 2*f.margin()).Points()}})
	doc.SetCatalogSort(true)
	day := f.Day
	if day.IsZero() { // the library would write the time
		day = time.Unix(0, 0).UTC()
	}
	doc.SetCreationDate(day)
	doc.SetModificationDate(day)
	doc.SetProducer("holdfast", true)
	doc.SetTitle(text.Plain(f.Title), true)
	doc.SetSubject(text.Plain(f.Alternative), true)
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.AddPage()
	if err := f.place(doc, f.margin().Points(), f.margin().Points()); err != nil {
		return err
	}
	var b bytes.Buffer
	if err := doc.Output(&b); err != nil {
		return fmt.Errorf("figure: %w", err)
	}
	_, err := b.WriteTo(w)
	return err
}

// PlacePDF draws the figure as vectors on the current page of a document whose
// unit is the point, its top left corner at x, y from the page's top left. The
// document's colours, line width, font and position are as before afterwards;
// its dash pattern is solid. Errors are the document's, see fpdf.Fpdf.Error.
func (f *Figure) PlacePDF(doc *fpdf.Fpdf, x, y float64) {
	if math.Abs(doc.GetConversionRatio()-1) > 1e-9 {
		doc.SetError(errors.New("figure: the document's unit must be the point"))
		return
	}
	_ = f.place(doc, x, y) // letters that join stand as the document's own text has them
}

func (f *Figure) place(doc *fpdf.Fpdf, x, y float64) error {
	restore := saved(doc)
	defer restore()
	f.font().Embed(doc)
	return f.paint(page{doc, f.font(), x, y + f.Height.Points()})
}

// Size is the figure's width and height in points.
func (f *Figure) Size() (width, height float64) { return f.Width.Points(), f.Height.Points() }

// Millimetres is a length for the options of figures.
func Millimetres(x float64) vg.Length { return vg.Length(x) * vg.Millimeter }

// WriteCSV writes what is drawn: UTF-8 with LF line ends, numbers in their
// shortest form that reads back to the same value, empty cells where something
// is not defined. Text cells that a spreadsheet would take for a formula get a
// leading apostrophe.
func (f *Figure) WriteCSV(w io.Writer) error {
	cw := csv.NewWriter(w)
	if err := cw.WriteAll(f.data); err != nil {
		return err
	}
	return cw.Error()
}

// percent is a proportion as a cell in per cent, as the audit writes it.
func percent(p float64) string {
	if math.IsInf(p, 0) {
		return ""
	}
	return benchmark.Percent(p)
}
