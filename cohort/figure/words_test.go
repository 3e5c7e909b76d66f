package figure

import (
	"image/color"
	"math"
	"testing"
)

// Every ink has at least 3:1 contrast with white, which is
// what WCAG 2.1, criterion 1.4.11, asks of graphics; text has 4.5:1 (1.4.3).
func TestContrast(t *testing.T) {
	for i, e := range []color.NRGBA{ownInk, publishedInk, grey, thinStroke.ink} {
		if c := contrast(e.R, e.G, e.B); c < 3 {
			t.Errorf("colour %d has %.2f:1", i, c)
		}
	}
	for _, s := range []textStyle{titleText, panelText, labelText, smallText, noteText, {ink: publishedText}, {ink: ownInk}} {
		if c := contrast(s.ink.R, s.ink.G, s.ink.B); c < 4.5 {
			t.Errorf("text has %.2f:1", c)
		}
	}
}

// contrast is a colour's contrast ratio with white, by WCAG 2.1.
func contrast(r, g, b uint8) float64 {
	part := func(x uint8) float64 {
		c := float64(x) / 255
		if c <= .03928 {
			return c / 12.92
		}
		return math.Pow((c+.055)/1.055, 2.4)
	}
	return 1.05 / (.2126*part(r) + .7152*part(g) + .0722*part(b) + .05)
}
