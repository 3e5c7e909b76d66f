package figure

import (
	"image"
	"math"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// pdf is a canvas on the current page of a document. It is written here, and
// not taken from gonum/plot, since that one makes the document and its fonts
// itself and knows the letters of one code page only.
type pdf struct {
	track
	doc    *fpdf.Fpdf
	font   *Font
	family map[*face]bool
	before struct {
		x, y, line, alpha float64
		blend             string
		draw, fill, text  [3]int
		family, style     string
		size              float64
	}
	bottom float64 // of the figure, from the top of the page
	alpha  float64
}

// newPDF is a canvas whose lower left corner is at x and bottom, from the top
// left corner of the page.
func newPDF(doc *fpdf.Fpdf, font *Font, x, bottom float64) *pdf {
	c := &pdf{track: newTrack(), doc: doc, font: font, bottom: bottom, family: make(map[*face]bool)}
	c.Translate(vg.Point{X: vg.Length(x)})
	b := &c.before
	b.x, b.y = doc.GetXY()
	b.line = doc.GetLineWidth()
	b.alpha, b.blend = doc.GetAlpha()
	three := func(r, g, b int) [3]int { return [3]int{r, g, b} }
	b.draw, b.fill, b.text = three(doc.GetDrawColor()), three(doc.GetFillColor()), three(doc.GetTextColor())
	b.family, b.style = doc.GetFontFamily(), doc.GetFontStyle()
	b.size, _ = doc.GetFontSize()
	c.alpha = b.alpha
	return c
}

// restore leaves the document as it was found.
func (c *pdf) restore() {
	b := &c.before
	c.doc.SetDrawColor(b.draw[0], b.draw[1], b.draw[2])
	c.doc.SetFillColor(b.fill[0], b.fill[1], b.fill[2])
	c.doc.SetTextColor(b.text[0], b.text[1], b.text[2])
	c.doc.SetLineWidth(b.line)
	c.doc.SetDashPattern(nil, 0)
	c.opaque(b.alpha)
	if b.family != "" {
		c.doc.SetFont(b.family, b.style, b.size)
	}
	c.doc.SetXY(b.x, b.y)
}

// opaque sets the opacity of what follows.
func (c *pdf) opaque(alpha float64) {
	if alpha != c.alpha {
		c.doc.SetAlpha(alpha, "Normal")
		c.alpha = alpha
	}
}

func (c *pdf) asIs() bool   { return false }
func (c *pdf) group(string) {}
func (c *pdf) endGroup()    {}

func (c *pdf) Stroke(path vg.Path) {
	if c.width <= 0 {
		return
	}
	c.doc.SetDrawColor(int(c.ink.R), int(c.ink.G), int(c.ink.B))
	c.opaque(float64(c.ink.A) / 0xFF)
	c.doc.SetLineWidth(float64(c.width))
	dashes := make([]float64, len(c.dashes))
	for i, d := range c.dashes {
		dashes[i] = float64(d)
	}
	c.doc.SetDashPattern(dashes, float64(c.offset))
	c.walk(path, page{c})
	c.doc.DrawPath("D")
}

func (c *pdf) Fill(path vg.Path) {
	c.doc.SetFillColor(int(c.ink.R), int(c.ink.G), int(c.ink.B))
	c.opaque(float64(c.ink.A) / 0xFF)
	c.walk(path, page{c})
	c.doc.DrawPath("F")
}

// page puts a path on a page, where lengths are from the top.
type page struct{ c *pdf }

func (p page) move(x, y float64) { p.c.doc.MoveTo(x, p.c.bottom-y) }
func (p page) line(x, y float64) { p.c.doc.LineTo(x, p.c.bottom-y) }
func (p page) shut()             { p.c.doc.ClosePath() }
func (p page) curve(x1, y1, x2, y2, x, y float64) {
	b := p.c.bottom
	p.c.doc.CurveBezierCubicTo(x1, b-y1, x2, b-y2, x, b-y)
}

func (c *pdf) FillString(f font.Face, at vg.Point, text string) { c.write(f, at, left, text, 0) }

func (c *pdf) write(f font.Face, at vg.Point, a align, text string, width vg.Length) {
	if f.Font.Size <= 0 {
		return
	}
	own := c.font.faceOf(f)
	if !c.family[own] {
		c.doc.AddUTF8FontFromBytes(own.key, "", own.ttf)
		c.family[own] = true
	}
	c.doc.SetFont(own.key, "", float64(f.Font.Size))
	c.doc.SetTextColor(int(c.ink.R), int(c.ink.G), int(c.ink.B))
	c.opaque(float64(c.ink.A) / 0xFF)
	x, y := c.at(a.start(at, width))
	y = c.bottom - y
	if turn := c.angle(); turn != 0 {
		c.doc.TransformBegin()
		c.doc.TransformRotate(turn*180/math.Pi, x, y)
		c.doc.Text(x, y, text)
		c.doc.TransformEnd()
		return
	}
	c.doc.Text(x, y, text)
}

// DrawImage draws nothing: no figure has an image.
func (c *pdf) DrawImage(vg.Rectangle, image.Image) {}
