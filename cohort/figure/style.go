package figure

import (
	"image/color"

	"gonum.org/v1/plot/vg"
)

// shape is the shape of a marker.
type shape uint8

const (
	circle shape = iota
	triangle
)

// Two inks tell own from published; nothing is told apart by colour alone. What
// is drawn has at least 3:1 contrast with white, text 4.5:1 (WCAG 2.1); only
// bands, shades and the grid, which something else outlines, are paler.
var (
	ownInk        = rgb(0x17465A)
	publishedInk  = rgb(0x6A6A6A)
	publishedText = rgb(0x4A4A4A)
	bandInk       = rgb(0xD0D0D0)

	black    = rgb(0x000000)
	dark     = rgb(0x333333) // text
	grey     = rgb(0x767676) // axes
	gridGrey = rgb(0xE4E4E4)
	white    = rgb(0xFFFFFF)
)

func rgb(x uint32) color.NRGBA {
	return color.NRGBA{R: uint8(x >> 16), G: uint8(x >> 8), B: uint8(x), A: 0xFF}
}

// stroke is how a line is drawn.
type stroke struct {
	ink    color.NRGBA
	width  vg.Length
	dashes []vg.Length
}

// What rests on few joints is thin and hollow, not pale.
var (
	axisStroke  = stroke{ink: grey, width: .75}
	gridStroke  = stroke{ink: gridGrey, width: .5}
	thickStroke = stroke{ink: ownInk, width: 2.2}
	thickBar    = stroke{ink: ownInk, width: 1.7}
	thinStroke  = stroke{ink: ownInk, width: .9}
)

// textStyle is how text is set.
type textStyle struct {
	size         vg.Length
	bold, italic bool
	ink          color.NRGBA
}

// leading is the distance from line to line.
func (s textStyle) leading() vg.Length { return 1.25 * s.size }

var (
	titleText = textStyle{size: 11, bold: true, ink: black}
	panelText = textStyle{size: 9, bold: true, ink: black}
	labelText = textStyle{size: 8, ink: dark} // labels, ticks, counts
	smallText = textStyle{size: 7, ink: dark} // in narrow panels
	noteText  = textStyle{size: 7.5, ink: dark}
)
