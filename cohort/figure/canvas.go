package figure

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"math"
	"strconv"
	"strings"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"example.org/holdfast/cohort/text"
)

// raster is the canvas for PNG: gonum/plot's.
type raster struct {
	*vgimg.Canvas
	font *text.Font
}

func (raster) asIs() bool   { return false }
func (raster) group(string) {}
func (raster) endGroup()    {}

func (r raster) stroke(s stroke, path vg.Path) {
	if s.width > 0 {
		r.SetColor(s.ink)
		r.SetLineWidth(s.width)
		r.SetLineDash(s.dashes, 0)
		r.Stroke(path)
	}
}

func (r raster) closed(inside color.NRGBA, outline stroke, path vg.Path) {
	path.Close()
	r.SetColor(inside)
	r.Fill(path)
	r.stroke(outline, path)
}

func (r raster) line(s stroke, points []vg.Point) { r.stroke(s, through(points)) }

func (r raster) area(inside color.NRGBA, outline stroke, points []vg.Point) {
	r.closed(inside, outline, through(points))
}

func (r raster) disc(inside color.NRGBA, outline stroke, at vg.Point, radius vg.Length) {
	path := through([]vg.Point{{X: at.X + radius, Y: at.Y}})
	path.Arc(at, radius, 0, 2*math.Pi)
	r.closed(inside, outline, path)
}

func through(points []vg.Point) vg.Path {
	var path vg.Path
	path.Move(points[0])
	for _, pt := range points[1:] {
		path.Line(pt)
	}
	return path
}

// write draws letter by letter, since the canvas would pull some together, such
// as two ones, which other outputs leave apart.
func (r raster) write(s textStyle, at vg.Point, a align, upright bool, words string, width vg.Length) {
	at = a.start(at, upright, width)
	r.SetColor(s.ink)
	r.Push()
	r.Translate(at)
	if upright {
		r.Rotate(math.Pi / 2)
	}
	face, own := vgFace(r.font, s), r.font.Face(s.bold, s.italic)
	x := vg.Length(0)
	for _, letter := range words {
		r.FillString(face, vg.Point{X: x}, string(letter))
		x += vg.Length(own.Width(string(letter))) * s.size
	}
	r.Pop()
}

// page is the canvas on the current page of a PDF document.
type page struct {
	*fpdf.Fpdf
	font         *text.Font
	left, bottom float64 // of the figure, from the page's upper left
}

func (page) asIs() bool   { return false }
func (page) group(string) {}
func (page) endGroup()    {}

func (c page) at(pt vg.Point) (x, y float64) { return c.left + float64(pt.X), c.bottom - float64(pt.Y) }

func (c page) pens(s stroke) {
	c.SetDrawColor(int(s.ink.R), int(s.ink.G), int(s.ink.B))
	c.SetLineWidth(float64(s.width))
	dashes := make([]float64, len(s.dashes))
	for i, d := range s.dashes {
		dashes[i] = float64(d)
	}
	c.SetDashPattern(dashes, 0)
	c.opaque(s.ink.A)
}

// opaque sets the opacity of what follows.
func (c page) opaque(a uint8) {
	if old, _ := c.GetAlpha(); old != float64(a)/0xFF {
		c.SetAlpha(float64(a)/0xFF, "Normal")
	}
}

func (c page) line(s stroke, points []vg.Point) {
	c.pens(s)
	c.MoveTo(c.at(points[0]))
	for _, pt := range points[1:] {
		c.LineTo(c.at(pt))
	}
	c.DrawPath("D")
}

// closed draws what draw draws, filled and then outlined, since the two need not
// be equally opaque.
func (c page) closed(inside color.NRGBA, outline stroke, draw func(style string)) {
	c.SetFillColor(int(inside.R), int(inside.G), int(inside.B))
	c.opaque(inside.A)
	draw("F")
	if outline.width > 0 {
		c.pens(outline)
		draw("D")
	}
}

func (c page) area(inside color.NRGBA, outline stroke, points []vg.Point) {
	corners := make([]fpdf.PointType, len(points))
	for i, pt := range points {
		corners[i].X, corners[i].Y = c.at(pt)
	}
	c.closed(inside, outline, func(style string) { c.Polygon(corners, style) })
}

func (c page) disc(inside color.NRGBA, outline stroke, at vg.Point, r vg.Length) {
	x, y := c.at(at)
	c.closed(inside, outline, func(style string) { c.Circle(x, y, float64(r), style) })
}

func (c page) write(s textStyle, at vg.Point, a align, upright bool, words string, width vg.Length) {
	c.SetFont(c.font.Face(s.bold, s.italic).Key, "", float64(s.size))
	c.SetTextColor(int(s.ink.R), int(s.ink.G), int(s.ink.B))
	c.opaque(s.ink.A)
	x, y := c.at(a.start(at, upright, width))
	if upright {
		c.TransformBegin()
		c.TransformRotate(90, x, y)
		defer c.TransformEnd()
	}
	c.Text(x, y, words)
}

// saved remembers a document's settings, and gives what puts them back; its dash
// pattern is solid then.
func saved(doc *fpdf.Fpdf) (restore func()) {
	x, y := doc.GetXY()
	line := doc.GetLineWidth()
	alpha, _ := doc.GetAlpha()
	family, style := doc.GetFontFamily(), doc.GetFontStyle()
	size, _ := doc.GetFontSize()
	setting := func(set func(r, g, b int), r, g, b int) func() { return func() { set(r, g, b) } }
	dr, dg, db := doc.GetDrawColor()
	fr, fg, fb := doc.GetFillColor()
	tr, tg, tb := doc.GetTextColor()
	colours := []func(){setting(doc.SetDrawColor, dr, dg, db), setting(doc.SetFillColor, fr, fg, fb), setting(doc.SetTextColor, tr, tg, tb)}
	return func() {
		for _, set := range colours {
			set()
		}
		doc.SetLineWidth(line)
		doc.SetDashPattern(nil, 0)
		doc.SetAlpha(alpha, "Normal")
		if family != "" {
			doc.SetFont(family, style, size)
		}
		doc.SetXY(x, y)
	}
}

// svg is the canvas for SVG. It is written here, and not taken from gonum/plot,
// for text with a list of fonts, anchored where it is aligned, and for names,
// title and description.
type svg struct {
	bytes.Buffer
	font   *text.Font
	height float64
}

func newSVG(f *Figure) *svg {
	c := &svg{font: f.font(), height: f.Height.Points()}
	m := f.margin()
	around, w, h := decimal(-m.Points()), decimal((f.Width + 2*m).Points()), decimal((f.Height + 2*m).Points())
	fmt.Fprintf(c, `<svg xmlns="http://www.w3.org/2000/svg" width="%spt" height="%spt" viewBox="%s %s %s %s" role="img" aria-label="%s" font-family="%s" style="font-kerning:none">`+"\n",
		w, h, around, around, w, h, escape(text.Plain(f.Title)), escape(families(f.font())))
	fmt.Fprintf(c, "<title>%s</title>\n<desc>%s</desc>\n", escape(f.Title), escape(f.Alternative))
	fmt.Fprintf(c, `<rect x="%s" y="%s" width="%s" height="%s" fill="#ffffff"/>`+"\n", around, around, w, h)
	return c
}

// families lists fonts in the order in which a reader's program tries them.
func families(f *text.Font) string {
	const others = "Liberation Sans, Arial, Helvetica, sans-serif"
	if f.Family == "" || f == text.Default() {
		return others
	}
	return "'" + strings.NewReplacer("'", "", `\`, "", ";", "").Replace(f.Family) + "', " + others
}

func (c *svg) asIs() bool        { return true }
func (c *svg) group(name string) { fmt.Fprintf(c, `<g class="%s">`+"\n", escape(name)) }
func (c *svg) endGroup()         { c.WriteString("</g>\n") }

func (c *svg) line(s stroke, points []vg.Point) {
	fmt.Fprintf(c, `<path d="%s" fill="none"%s/>`+"\n", c.data(points), outlined(s))
}

func (c *svg) area(inside color.NRGBA, outline stroke, points []vg.Point) {
	fmt.Fprintf(c, `<path d="%sZ" fill="%s"%s%s/>`+"\n", c.data(points), hex(inside), opacity("fill", inside), outlined(outline))
}

// disc is four cubic curves, each a quarter turn.
func (c *svg) disc(inside color.NRGBA, outline stroke, at vg.Point, r vg.Length) {
	k := vg.Length(4. / 3 * (math.Sqrt2 - 1))
	pair := func(x, y vg.Length) string {
		return decimal(float64(at.X+x*r)) + " " + decimal(c.height-float64(at.Y+y*r))
	}
	d := "M" + pair(1, 0)
	for x, y := vg.Length(1), vg.Length(0); ; {
		nx, ny := -y, x
		d += "C" + pair(x+k*nx, y+k*ny) + " " + pair(nx+k*x, ny+k*y) + " " + pair(nx, ny)
		if x, y = nx, ny; x == 1 {
			break
		}
	}
	fmt.Fprintf(c, `<path d="%sZ" fill="%s"%s%s/>`+"\n", d, hex(inside), opacity("fill", inside), outlined(outline))
}

// outlined are the attributes of a stroke.
func outlined(s stroke) string {
	if s.width <= 0 {
		return ""
	}
	out := fmt.Sprintf(` stroke="%s"%s stroke-width="%s"`, hex(s.ink), opacity("stroke", s.ink), decimal(float64(s.width)))
	var d []string
	for _, x := range s.dashes {
		d = append(d, decimal(float64(x)))
	}
	if len(d) > 0 {
		out += fmt.Sprintf(` stroke-dasharray="%s"`, strings.Join(d, " "))
	}
	return out
}

func (c *svg) write(s textStyle, at vg.Point, a align, upright bool, words string, width vg.Length) {
	x, y := decimal(float64(at.X)), decimal(c.height-float64(at.Y))
	fmt.Fprintf(c, `<text x="%s" y="%s" font-size="%s" fill="%s"`, x, y, decimal(float64(s.size)), hex(s.ink))
	if a != left {
		fmt.Fprintf(c, ` text-anchor="%s"`, [...]string{centre: "middle", right: "end"}[a])
	}
	if s.bold {
		c.WriteString(` font-weight="bold"`)
	}
	if s.italic {
		c.WriteString(` font-style="italic"`)
	}
	// Should the reader have none of the fonts, another one is drawn as wide as
	// these, so that words end where they are to end: what stands beside them is
	// close. Numbers that are not bold are about as wide in every font.
	if (s.bold || strings.ContainsFunc(words, unicode.IsLetter)) && c.font.Printed(words) == words {
		fmt.Fprintf(c, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, decimal(float64(width)))
	}
	if upright {
		fmt.Fprintf(c, ` transform="rotate(-90 %s %s)"`, x, y)
	}
	fmt.Fprintf(c, ">%s</text>\n", escape(words))
}

// data is a path in absolute coordinates; level and upright lines in short.
func (c *svg) data(points []vg.Point) string {
	var b strings.Builder
	x, y := "", ""
	for i, pt := range points {
		switch nx, ny := decimal(float64(pt.X)), decimal(c.height-float64(pt.Y)); {
		case i == 0:
			x, y = nx, ny
			b.WriteString("M" + x + " " + y)
		case nx == x && ny == y:
		case ny == y:
			x = nx
			b.WriteString("H" + x)
		case nx == x:
			y = ny
			b.WriteString("V" + y)
		default:
			x, y = nx, ny
			b.WriteString("L" + x + " " + y)
		}
	}
	return b.String()
}

// decimal is a length to a hundredth of a point.
func decimal(x float64) string {
	return strconv.FormatFloat(math.Round(100*x)/100+0, 'f', -1, 64) // + 0: no minus sign
}

func hex(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

func opacity(what string, c color.NRGBA) string {
	if c.A == 0xFF {
		return ""
	}
	return fmt.Sprintf(` %s-opacity="%s"`, what, decimal(float64(c.A)/0xFF))
}

// escape makes text of an SVG: markup becomes text, and characters that XML
// has no place for become �.
func escape(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder has no errors
	return b.String()
}
