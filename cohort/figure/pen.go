package figure

import (
	"fmt"
	"image/color"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/text"
)

// canvas is an output: SVG, PNG or PDF. Its origin is the figure's lower left
// corner.
type canvas interface {
	// asIs reports whether text may be given in logical order and with letters
	// that the font lacks.
	asIs() bool

	// line strokes a line; area fills what a line encloses, area and disc with an
	// outline, unless it is 0 wide.
	line(s stroke, points []vg.Point)
	area(inside color.NRGBA, outline stroke, points []vg.Point)
	disc(inside color.NRGBA, outline stroke, at vg.Point, r vg.Length)

	// write draws a text with its start, middle or end at a point on the base
	// line; upright, so that it reads upwards.
	write(s textStyle, at vg.Point, a align, upright bool, words string, width vg.Length)

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
func (a align) start(at vg.Point, upright bool, width vg.Length) vg.Point {
	if upright {
		at.Y -= vg.Length(a) / 2 * width
	} else {
		at.X -= vg.Length(a) / 2 * width
	}
	return at
}

// pen draws on a canvas. Points are in the figure's body, from its lower left
// corner.
type pen struct {
	canvas
	measure
	body vg.Rectangle
	up   vg.Length // of the body above the figure's lower edge
	err  error     // a text that the output can't draw
}

func (p *pen) raised(points []vg.Point) []vg.Point {
	out := make([]vg.Point, len(points))
	for i, pt := range points {
		out[i] = vg.Point{X: pt.X, Y: pt.Y + p.up}
	}
	return out
}

// text draws one line of text with its base line at a point. Words from a table
// in it must have gone through word; they are put in visual order and letters
// that the font lacks are spelt out, where the output needs it.
func (p *pen) text(s textStyle, at vg.Point, a align, words string) { p.say(s, at, a, false, words) }

// upright draws text that reads upwards, its middle at a point and its base line
// to the right of it.
func (p *pen) upright(s textStyle, at vg.Point, words string) { p.say(s, at, centre, true, words) }

func (p *pen) say(s textStyle, at vg.Point, a align, upright bool, words string) {
	if words == "" {
		return
	}
	width := p.width(s, words)
	if !p.asIs() {
		if script := text.Joined(words); script != "" {
			p.err = fmt.Errorf("figure: %s letters join or change places, which PNG and PDF can't draw: write it as SVG, or give the words others in a settings file, under [words]", script)
		}
		words = p.font.Printed(words)
	}
	p.write(s, vg.Point{X: at.X, Y: at.Y + p.up}, a, upright, words, width)
}

// line strokes a line through points.
func (p *pen) line(s stroke, points ...vg.Point) {
	if len(points) >= 2 {
		p.canvas.line(s, p.raised(points))
	}
}

// fill fills the polygon through points.
func (p *pen) fill(ink color.NRGBA, points ...vg.Point) {
	if len(points) >= 3 {
		p.area(ink, stroke{}, p.raised(points))
	}
}

// marker draws a marker of a radius around a point, filled with a colour and
// outlined in another.
func (p *pen) marker(m shape, at vg.Point, r vg.Length, inside, outside color.NRGBA) {
	outline := stroke{ink: outside, width: 1}
	at.Y += p.up
	if m == circle {
		p.disc(inside, outline, at, r)
		return
	}
	p.area(inside, outline, []vg.Point{{X: at.X - 1.05*r, Y: at.Y - .75*r}, {X: at.X + 1.05*r, Y: at.Y - .75*r}, {X: at.X, Y: at.Y + 1.1*r}})
}

// named draws what draw draws under a name, for outputs that have names.
func (p *pen) named(name string, draw func()) {
	p.group(name)
	draw()
	p.endGroup()
}
