package figure

import (
	"image/color"

	"gonum.org/v1/plot/vg"
)

// palette are the colours of groups: those of Okabe & Ito (Color universal
// design, 2008) without the yellow, of which those with less than 3:1 contrast
// on white are darkened. A group has one entry: its colour, its dashes and its
// marker go together.
var palette = [...]struct {
	ink    color.NRGBA
	dashes []vg.Length
	marker shape
}{
	{rgb(0x0072B2), nil, circle},
	{rgb(0xD55E00), []vg.Length{6, 2}, square},
	{rgb(0x00875F), []vg.Length{1.8, 1.8}, triangle},
	{rgb(0xA8508A), []vg.Length{7, 2, 1.8, 2}, diamond},
	{rgb(0x000000), []vg.Length{11, 3}, inverted},
	{rgb(0x3C90CC), []vg.Length{4, 1.5, 1.5, 1.5, 1.5, 1.5}, cross},
}

// shape is the shape of a marker.
type shape uint8

const (
	circle shape = iota
	square
	triangle
	diamond
	inverted // a triangle on its point
	cross
)

var (
	black    = rgb(0x000000)
	dark     = rgb(0x333333) // text
	grey     = rgb(0x767676) // axes, and a curve that others are seen against
	gridGrey = rgb(0xE4E4E4)
	white    = rgb(0xFFFFFF)
)

func rgb(x uint32) color.NRGBA {
	return color.NRGBA{R: uint8(x >> 16), G: uint8(x >> 8), B: uint8(x), A: 0xFF}
}

// faint is a colour half way to white: what rests on few joints.
func faint(c color.NRGBA) color.NRGBA {
	half := func(x uint8) uint8 { return uint8((int(x) + 0xFF) / 2) }
	return color.NRGBA{R: half(c.R), G: half(c.G), B: half(c.B), A: c.A}
}

// band is a colour as an interval band is filled with it: see-through, so that
// bands may lie over one another, and the more so the more bands there are.
func band(c color.NRGBA, bands int) color.NRGBA {
	c.A = [...]uint8{0x2E, 0x2A, 0x22, 0x1C, 0x18, 0x14}[min(max(bands, 1), 6)-1]
	return c
}

// stroke is how a line is drawn.
type stroke struct {
	ink    color.NRGBA
	width  vg.Length
	dashes []vg.Length
}

var (
	axisStroke = stroke{ink: grey, width: .75}
	gridStroke = stroke{ink: gridGrey, width: .5}
)

const curveWidth vg.Length = 1.3

// textStyle is how text is set.
type textStyle struct {
	size         vg.Length
	bold, italic bool
	ink          color.NRGBA
}

// leading is the distance from line to line.
func (s textStyle) leading() vg.Length { return 1.25 * s.size }

// faint is the style with lighter ink that can still be read.
func (s textStyle) faint() textStyle {
	s.ink = grey
	return s
}

var (
	titleText = textStyle{size: 10, bold: true, ink: black}
	panelText = textStyle{size: 9, bold: true, ink: black}
	labelText = textStyle{size: 8, ink: dark} // labels, ticks, counts
	smallText = textStyle{size: 7, ink: dark} // small multiples
	noteText  = textStyle{size: 8, ink: dark}
)
