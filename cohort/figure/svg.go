package figure

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"io"
	"math"
	"strconv"
	"strings"

	stdfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// svg is a canvas for SVG. It is written here, and not taken from gonum/plot,
// for text with a list of fonts, anchored where it is aligned; for title,
// description and view box; and for coordinates without nested transformations.
type svg struct {
	track
	font   *Font
	height float64
	buf    bytes.Buffer
}

// longText is the width from which a text is told how wide it is.
const longText vg.Length = 60

func newSVG(f *Figure) *svg {
	c := &svg{track: newTrack(), font: f.font(), height: f.Height.Points()}
	m := f.margin()
	around, w, h := decimal(-m.Points()), decimal((f.Width + 2*m).Points()), decimal((f.Height + 2*m).Points())
	fmt.Fprintf(&c.buf, `<svg xmlns="http://www.w3.org/2000/svg" width="%spt" height="%spt" viewBox="%s %s %s %s" role="img" aria-label="%s" font-family="%s" style="font-kerning:none">`+"\n",
		w, h, around, around, w, h, escape(plain(f.Title)), escape(families(f.font())))
	fmt.Fprintf(&c.buf, "<title>%s</title>\n<desc>%s</desc>\n", escape(f.Title), escape(f.Alternative))
	fmt.Fprintf(&c.buf, `<rect x="%s" y="%s" width="%s" height="%s" fill="#ffffff"/>`+"\n", around, around, w, h)
	return c
}

// families lists fonts in the order in which a reader's program tries them.
func families(f *Font) string {
	const others = "Liberation Sans, Arial, Helvetica, sans-serif"
	if f.family == "" || f.family == "Liberation Sans" {
		return others
	}
	return "'" + strings.NewReplacer("'", "", `\`, "", ";", "").Replace(f.family) + "', " + others
}

func (c *svg) finish(w io.Writer) error {
	c.buf.WriteString("</svg>\n")
	_, err := c.buf.WriteTo(w)
	return err
}

func (c *svg) asIs() bool { return true }

func (c *svg) group(name string) { fmt.Fprintf(&c.buf, `<g class="%s">`+"\n", escape(name)) }
func (c *svg) endGroup()         { c.buf.WriteString("</g>\n") }

func (c *svg) Stroke(path vg.Path) {
	if c.width <= 0 {
		return
	}
	fmt.Fprintf(&c.buf, `<path d="%s" fill="none" stroke="%s"%s stroke-width="%s"`, c.data(path), hex(c.ink), opacity("stroke", c.ink), decimal(float64(c.width)))
	if len(c.dashes) > 0 {
		var d []string
		for _, x := range c.dashes {
			d = append(d, decimal(float64(x)))
		}
		fmt.Fprintf(&c.buf, ` stroke-dasharray="%s"`, strings.Join(d, " "))
		if c.offset != 0 {
			fmt.Fprintf(&c.buf, ` stroke-dashoffset="%s"`, decimal(float64(c.offset)))
		}
	}
	c.buf.WriteString("/>\n")
}

func (c *svg) Fill(path vg.Path) {
	fmt.Fprintf(&c.buf, `<path d="%s" fill="%s"%s/>`+"\n", c.data(path), hex(c.ink), opacity("fill", c.ink))
}

func (c *svg) FillString(f font.Face, at vg.Point, text string) { c.write(f, at, left, text, 0) }

func (c *svg) write(f font.Face, at vg.Point, a align, text string, width vg.Length) {
	if f.Font.Size <= 0 {
		return
	}
	x, y := c.at(at)
	y = c.height - y
	fmt.Fprintf(&c.buf, `<text x="%s" y="%s" font-size="%s" fill="%s"`, decimal(x), decimal(y), decimal(float64(f.Font.Size)), hex(c.ink))
	switch a {
	case centre:
		c.buf.WriteString(` text-anchor="middle"`)
	case right:
		c.buf.WriteString(` text-anchor="end"`)
	}
	if f.Font.Weight == stdfont.WeightBold {
		c.buf.WriteString(` font-weight="bold"`)
	}
	if f.Font.Style == stdfont.StyleItalic {
		c.buf.WriteString(` font-style="italic"`)
	}
	// Should the reader have none of the fonts, another one is drawn as wide as
	// these, so that lines end where they are to end.
	if width > longText && !rightToLeft(text) && c.font.spelt(text) == text {
		fmt.Fprintf(&c.buf, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, decimal(float64(width)))
	}
	if turn := c.angle(); turn != 0 {
		fmt.Fprintf(&c.buf, ` transform="rotate(%s %s %s)"`, decimal(-turn*180/math.Pi), decimal(x), decimal(y))
	}
	fmt.Fprintf(&c.buf, ">%s</text>\n", escape(text))
}

// DrawImage draws nothing: no figure has an image.
func (c *svg) DrawImage(vg.Rectangle, image.Image) {}

func (c *svg) data(path vg.Path) string {
	d := &pathData{height: c.height}
	c.walk(path, d)
	return d.String()
}

// pathData writes a path in absolute coordinates; level and upright lines in
// short.
type pathData struct {
	strings.Builder
	height float64
	x, y   string // where the last component ended
}

func (d *pathData) pair(x, y float64) string { return decimal(x) + " " + decimal(d.height-y) }

func (d *pathData) to(x, y float64) { d.x, d.y = decimal(x), decimal(d.height-y) }

func (d *pathData) move(x, y float64) {
	d.WriteString("M" + d.pair(x, y))
	d.to(x, y)
}

func (d *pathData) line(x, y float64) {
	switch nx, ny := decimal(x), decimal(d.height-y); {
	case nx == d.x && ny == d.y:
		return
	case ny == d.y:
		d.WriteString("H" + nx)
	case nx == d.x:
		d.WriteString("V" + ny)
	default:
		d.WriteString("L" + nx + " " + ny)
	}
	d.to(x, y)
}

func (d *pathData) curve(x1, y1, x2, y2, x, y float64) {
	d.WriteString("C" + d.pair(x1, y1) + " " + d.pair(x2, y2) + " " + d.pair(x, y))
	d.to(x, y)
}

func (d *pathData) shut() {
	d.WriteString("Z")
	d.x, d.y = "", ""
}

// decimal is a length to a hundredth of a point.
func decimal(x float64) string {
	x = math.Round(100*x) / 100
	if x == 0 {
		x = 0 // no minus sign
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
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
