package figure

import (
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"example.org/holdfast/cohort/audit"
)

// scale is one axis: what is at its start and end, and where its ticks are.
type scale struct {
	from, to float64
	log      bool // equal ratios are equal lengths; from and to are above 0
	ticks    []tick
}

// tick is a mark on an axis. Its label may be empty.
type tick struct {
	at    float64
	label string
}

// part is how far along the axis a value stands, 0 to 1 within it.
func (s scale) part(v float64) float64 {
	if s.log {
		return math.Log(v/s.from) / math.Log(s.to/s.from)
	}
	return (v - s.from) / (s.to - s.from)
}

// evenScale is an axis from 0 with ticks at multiples of a step. percent says
// that values are proportions, which are labelled in per cent.
func evenScale(to, step float64) scale {
	s := scale{to: to}
	for i := 0; ; i++ {
		at := float64(i) * step
		if at > to*(1+1e-9) {
			return s
		}
		s.ticks = append(s.ticks, tick{at, audit.Number(math.Round(at*1e9) / 1e9)})
	}
}

// percentScale is an axis of proportions from 0 to a number of per cent, which
// its ticks are labelled in.
func percentScale(top float64) scale {
	step := 1.
	for _, step = range []float64{1, 2, 5, 10, 20, 25} {
		if n := top / step; n <= 6 && n == math.Trunc(n) {
			break
		}
	}
	s := evenScale(top, step)
	s.to /= 100
	for i := range s.ticks {
		s.ticks[i].at /= 100
	}
	return s
}

// yearScale is an axis of years from 0 to a whole number of years, with at most
// a number of ticks, at whole years.
func yearScale(to float64, most int) scale {
	to = math.Max(1, math.Ceil(to-1e-9))
	for _, step := range []float64{1, 2, 3, 5, 10, 20, 50} {
		if int(to/step)+1 <= most {
			return evenScale(to, step)
		}
	}
	return evenScale(to, to)
}

// axes are a pair of axes on a figure: a rectangle and what its sides stand for.
type axes struct {
	area vg.Rectangle
	x, y scale
}

func (a axes) at(x, y float64) vg.Point { return vg.Point{X: a.atX(x), Y: a.atY(y)} }
func (a axes) atX(x float64) vg.Length {
	return a.area.Min.X + vg.Length(a.x.part(x))*(a.area.Max.X-a.area.Min.X)
}
func (a axes) atY(y float64) vg.Length {
	return a.area.Min.Y + vg.Length(a.y.part(y))*(a.area.Max.Y-a.area.Min.Y)
}

// clipLine is what of a line lies within the axes.
func (a axes) clipLine(points []vg.Point) [][]vg.Point {
	c := draw.Canvas{Rectangle: a.area}
	return c.ClipLinesXY(points)
}

// clipArea is what of a polygon lies within the axes.
func (a axes) clipArea(points []vg.Point) []vg.Point {
	c := draw.Canvas{Rectangle: a.area}
	return c.ClipPolygonXY(points)
}

// grid draws the horizontal grid lines. It comes first, under everything.
func (p *pen) grid(a axes) {
	p.named("grid", func() {
		for _, t := range a.y.ticks {
			if t.at > a.y.from {
				y := a.atY(t.at)
				p.line(gridStroke, vg.Point{X: a.area.Min.X, Y: y}, vg.Point{X: a.area.Max.X, Y: y})
			}
		}
	})
}

const (
	tickLength vg.Length = 3
	tickGap    vg.Length = 2 // between a tick and its label
)

// frame draws the two axes with their ticks and labels, and their titles if
// there are any: the vertical one reads upwards. Below the area it takes
// frameBelow(style), to the left frameLeft.
func (p *pen) frame(a axes, s textStyle, xTitle, yTitle string) {
	min, max := a.area.Min, a.area.Max
	p.named("axes", func() {
		p.line(axisStroke, vg.Point{X: min.X, Y: max.Y}, min, vg.Point{X: max.X, Y: min.Y})
		for _, t := range a.x.ticks {
			x := a.atX(t.at)
			p.line(axisStroke, vg.Point{X: x, Y: min.Y}, vg.Point{X: x, Y: min.Y - tickLength})
		}
		for _, t := range a.y.ticks {
			y := a.atY(t.at)
			p.line(axisStroke, vg.Point{X: min.X, Y: y}, vg.Point{X: min.X - tickLength, Y: y})
		}
	})
	p.named("x ticks", func() {
		for _, t := range a.x.ticks {
			p.text(s, vg.Point{X: a.atX(t.at), Y: min.Y - tickLength - tickGap - .75*s.size}, centre, t.label)
		}
	})
	p.named("y ticks", func() {
		for _, t := range a.y.ticks {
			p.text(s, vg.Point{X: min.X - tickLength - tickGap, Y: a.atY(t.at) - .36*s.size}, right, t.label)
		}
	})
	if xTitle != "" {
		p.text(s, vg.Point{X: (min.X + max.X) / 2, Y: min.Y - tickLength - tickGap - .75*s.size - s.leading()}, centre, xTitle)
	}
	if yTitle != "" {
		p.upright(s, vg.Point{X: min.X - p.frameLeft(a, s) + .8*s.size, Y: (min.Y + max.Y) / 2}, yTitle)
	}
}

// frameBelow is the room that ticks, labels and a title take below the area.
func frameBelow(s textStyle) vg.Length {
	return tickLength + tickGap + s.leading() + s.leading()
}

// frameLeft is the room that ticks, labels and a title take to its left.
func (m measure) frameLeft(a axes, s textStyle) vg.Length {
	widest := vg.Length(0)
	for _, t := range a.y.ticks {
		widest = max(widest, m.width(s, t.label))
	}
	return tickLength + tickGap + widest + 4 + s.leading()
}

// key draws the sample of a group's line, of a width, at the height of a line
// of text whose base line starts at a point.
func (p *pen) key(s textStyle, at vg.Point, width vg.Length, line stroke) {
	y := at.Y + .33*s.size
	p.line(line, vg.Point{X: at.X, Y: y}, vg.Point{X: at.X + width, Y: y})
}

// counted is a count as it is shown under an axis: * where it is not told.
func counted(n float64) string {
	if math.IsNaN(n) || n < 0 {
		return "*"
	}
	return audit.Number(n)
}
