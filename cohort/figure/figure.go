package figure

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
)

// Figure is a drawing and the numbers it draws.
type Figure struct {
	Title       string   // above the drawing
	Alternative string   // what it shows, with the numbers that matter, for those who cannot see it
	Notes       []string // below the drawing: where an axis ends, what is faint, what was left out, sources

	// Width and Height are those of the whole, title and notes included, without
	// the margin of 6 points around a figure that is written by itself. They are
	// the constructor's and are not to be changed.
	Width, Height vg.Length

	// Font draws the text; nil means Liberation Sans.
	Font *text.Font

	body     vg.Length // height of the drawing proper
	untitled bool
	draw     func(*pen)
	data     [][]string // of WriteCSV, headings first
}

// Widths and margins.
const (
	mm = vg.Millimeter

	// DefaultWidth is the width of the text of an A4 page.
	DefaultWidth = 170 * mm

	narrowest = 80 * mm
	widest    = 2000 * mm
)

// newFigure makes a figure around a drawing of the given width and height.
// draw is called once per output with a pen whose body is the drawing's
// rectangle: lower left corner 0, above the notes and below the title. It must
// not depend on anything but the pen and what it closes over. The height is
// that of the body; room for title and notes is added.
//
// data are the records of WriteCSV, headings first, with cells made by
// audit.Number, percent and audit.Protect.
func newFigure(title, alternative string, notes []string, width, height vg.Length, data [][]string, draw func(*pen)) *Figure {
	f := &Figure{Title: title, Alternative: alternative, Notes: notes, Width: width, body: height, draw: draw, data: data}
	f.Height = height + f.above() + f.below()
	return f
}

// Untitled is a copy of the figure without title and notes in the drawing, for
// callers that set both in text of their own. Title and Notes keep their words;
// the height shrinks.
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

// above is the room for the title.
func (f *Figure) above() vg.Length {
	if f.untitled || f.Title == "" {
		return 0
	}
	return vg.Length(len(defaultMeasure().wrap(titleText, f.Title, f.Width)))*titleText.leading() + 4
}

// below is the room for the notes.
func (f *Figure) below() vg.Length {
	if f.untitled || len(f.Notes) == 0 {
		return 0
	}
	return vg.Length(len(defaultMeasure().paragraphs(noteText, f.Notes, f.Width)))*noteText.leading() + 8
}

// paint draws the whole figure. The canvas' origin is its lower left corner.
func (f *Figure) paint(c canvas) {
	p := &pen{canvas: c, measure: measure{font: f.font(), others: c.asIs()}}
	above, below := f.above(), f.below()
	p.body = vg.Rectangle{Max: vg.Point{X: f.Width, Y: f.body}}
	if above > 0 {
		y := f.Height - titleText.size
		for _, line := range text.AtMost(p.wrap(titleText, f.Title, f.Width), int(above/titleText.leading())) {
			p.text(titleText, vg.Point{X: 0, Y: y}, left, line)
			y -= titleText.leading()
		}
	}
	if below > 0 {
		// Another font than the default may need more lines: it is set smaller.
		style, lines := noteText, p.paragraphs(noteText, f.Notes, f.Width)
		for style.size > 5 && vg.Length(len(lines))*style.leading() > below-7 {
			style.size -= .5
			lines = p.paragraphs(style, f.Notes, f.Width)
		}
		y := below - 8 - style.size + 2
		for _, line := range lines {
			p.text(style, vg.Point{X: 0, Y: y}, left, line)
			y -= style.leading()
		}
	}
	p.up = below
	f.draw(p)
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
	f.paint(c)
	c.WriteString("</svg>\n")
	_, err := c.WriteTo(w)
	return err
}

// WritePNG writes the figure as PNG with the given dots per inch, 20 to 1200.
func (f *Figure) WritePNG(w io.Writer, dpi int) error {
	if dpi < 20 || dpi > 1200 {
		return fmt.Errorf("figure: %d dots per inch, want 20 to 1200", dpi)
	}
	m := f.margin()
	if size := (f.Width + 2*m).Dots(float64(dpi)) * (f.Height + 2*m).Dots(float64(dpi)); size > 4e8 {
		return fmt.Errorf("figure: %.0f million pixels at %d dots per inch, want 400 million at most", size/1e6, dpi)
	}
	c := vgimg.NewWith(vgimg.UseWH(f.Width+2*m, f.Height+2*m), vgimg.UseDPI(dpi))
	c.Translate(vg.Point{X: m, Y: m})
	f.paint(raster{c, f.font()})
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}

// WritePDF writes the figure as a PDF of one page, with the font embedded and
// the figure's title as the document's.
func (f *Figure) WritePDF(w io.Writer) error {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: (f.Width + 2*f.margin()).Points(), Ht: (f.Height + 2*f.margin()).Points()}})
	doc.SetCatalogSort(true)
	// The library always writes a time; a fixed one keeps the bytes alike.
	doc.SetCreationDate(time.Unix(0, 0).UTC())
	doc.SetModificationDate(time.Unix(0, 0).UTC())
	doc.SetProducer("holdfast", true)
	doc.SetTitle(text.Plain(f.Title), true)
	doc.SetSubject(text.Plain(f.Alternative), true)
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.AddPage()
	f.PlacePDF(doc, f.margin().Points(), f.margin().Points())
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
	restore := saved(doc)
	f.font().Embed(doc)
	f.paint(page{doc, f.font(), x, y + f.Height.Points()})
	restore()
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
