package figure

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// canvas is an output: SVG, PNG or PDF. Its origin is at the lower left.
type canvas interface {
	vg.Canvas

	// asIs reports whether text may be given in logical order and with letters
	// that the font lacks.
	asIs() bool

	// write draws a text whose width the canvas may know better. at is on the
	// base line: at the text's left end, middle or right end.
	write(f font.Face, at vg.Point, a align, text string, width vg.Length)

	// group names what is drawn until the next endGroup, where the output has
	// names.
	group(name string)
	endGroup()
}

// align says which part of a text is put at a point.
type align uint8

const (
	left align = iota
	centre
	right
)

// start is where a text of a width starts.
func (a align) start(at vg.Point, width vg.Length) vg.Point {
	at.X -= vg.Length(a) / 2 * width
	return at
}

// raster is the canvas for PNG.
type raster struct {
	*vgimg.Canvas
	font *Font
}

func (raster) asIs() bool   { return false }
func (raster) group(string) {}
func (raster) endGroup()    {}

// write draws letter by letter, since the canvas would pull some together, such
// as two ones, which other outputs leave apart.
func (r raster) write(f font.Face, at vg.Point, a align, text string, width vg.Length) {
	at = a.start(at, width)
	own := r.font.faceOf(f)
	for _, letter := range text {
		r.FillString(f, at, string(letter))
		at.X += vg.Length(advanceOf(own, letter)) * f.Font.Size
	}
}

// pen draws on a canvas. Points are in the figure's body, from its lower left
// corner.
type pen struct {
	canvas
	measure
	body vg.Rectangle
}

// text draws one line of text with its base line at a point. Words from a table
// in it must have gone through word; they are put in visual order and letters
// that the font lacks are spelt out, where the output needs it.
func (p *pen) text(s textStyle, at vg.Point, a align, text string) {
	if text == "" {
		return
	}
	width := p.width(s, text)
	if !p.asIs() {
		text = visual(p.font.spelt(text))
	}
	p.SetColor(s.ink)
	p.write(p.font.vgFace(s), at, a, text, width)
}

// upright draws text that reads upwards, its middle at a point and its base line
// to the right of it.
func (p *pen) upright(s textStyle, at vg.Point, text string) {
	p.Push()
	p.Rotate(math.Pi / 2)
	p.text(s, vg.Point{X: at.Y, Y: -at.X}, centre, text)
	p.Pop()
}

// line strokes a line through points.
func (p *pen) line(s stroke, points ...vg.Point) {
	if len(points) < 2 {
		return
	}
	p.SetColor(s.ink)
	p.SetLineWidth(s.width)
	p.SetLineDash(s.dashes, 0)
	p.Stroke(outline(points))
}

// fill fills the polygon through points.
func (p *pen) fill(ink color.Color, points ...vg.Point) {
	if len(points) < 3 {
		return
	}
	path := outline(points)
	path.Close()
	p.SetColor(ink)
	p.canvas.Fill(path)
}

func outline(points []vg.Point) vg.Path {
	var path vg.Path
	path.Move(points[0])
	for _, pt := range points[1:] {
		path.Line(pt)
	}
	return path
}

// marker draws a marker of a radius around a point, filled with a colour and
// outlined in another.
func (p *pen) marker(m shape, at vg.Point, r vg.Length, inside, outside color.NRGBA) {
	corner := func(x, y float64) vg.Point {
		return vg.Point{X: at.X + vg.Length(x)*r, Y: at.Y + vg.Length(y)*r}
	}
	var path vg.Path
	polygon := func(points ...vg.Point) {
		path = outline(points)
		path.Close()
	}
	switch m {
	case circle:
		path.Move(corner(1, 0))
		path.Arc(at, r, 0, 2*math.Pi)
		path.Close()
	case square:
		polygon(corner(-.88, -.88), corner(.88, -.88), corner(.88, .88), corner(-.88, .88))
	case triangle:
		polygon(corner(-1.05, -.75), corner(1.05, -.75), corner(0, 1.1))
	case diamond:
		polygon(corner(0, -1.25), corner(1.25, 0), corner(0, 1.25), corner(-1.25, 0))
	case inverted:
		polygon(corner(-1.05, .75), corner(1.05, .75), corner(0, -1.1))
	default: // an upright cross with arms that can be filled
		const w = .42
		polygon(corner(-w, -1.1), corner(w, -1.1), corner(w, -w), corner(1.1, -w), corner(1.1, w), corner(w, w),
			corner(w, 1.1), corner(-w, 1.1), corner(-w, w), corner(-1.1, w), corner(-1.1, -w), corner(-w, -w))
	}
	p.SetColor(inside)
	p.canvas.Fill(path)
	p.SetColor(outside)
	p.SetLineWidth(1)
	p.SetLineDash(nil, 0)
	p.Stroke(path)
}

// named draws what draw draws under a name, for outputs that have names.
func (p *pen) named(name string, draw func()) {
	p.group(name)
	draw()
	p.endGroup()
}
