package figure

import (
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"example.org/holdfast/cohort/audit"
)

// scale is one axis: what is at its start and end, and where its ticks are.
type scale struct {
	from, to float64
	ticks    []tick
}

// tick is a mark on an axis. Its label may be empty.
type tick struct {
	at    float64
	label string
}

// part is how far along the axis a value stands, 0 to 1 within it.
func (s scale) part(v float64) float64 { return (v - s.from) / (s.to - s.from) }

// evenScale is an axis from 0 with ticks at multiples of a step.
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

// percentScale is an axis of proportions from 0 to the least of some numbers of
// per cent that is not below a proportion; its ticks are labelled in per cent.
func percentScale(highest float64, tops ...float64) scale {
	top := 100.
	for _, t := range tops {
		if 100*highest <= t*(1+1e-12) {
			top = t
			break
		}
	}
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

// countScale is an axis of numbers from 0 to a round number, with at most so
// many steps.
func countScale(to float64, most float64) scale {
	for size := .1; ; size *= 10 {
		for _, step := range []float64{1, 2, 5} {
			if n := math.Ceil(to / (step * size)); n <= most {
				return evenScale(n*step*size, step*size)
			}
		}
	}
}

// ratioScale is an axis of ratios from 0 to at least a number, with 1 on a tick.
func ratioScale(to float64) scale {
	for _, s := range []struct{ top, step float64 }{{1.5, .5}, {2, .5}, {2.5, .5}, {3, 1}, {4, 1}, {5, 1}, {6, 1}, {8, 1}, {10, 1}} {
		if to <= s.top {
			return evenScale(s.top, s.step)
		}
	}
	s := evenScale(20, 5)
	for s.to < to {
		s = evenScale(2*s.to, s.to/2)
	}
	s.ticks = slices.Insert(s.ticks, 1, tick{1, "1"})
	return s
}

// yearsOfOperation is an axis of calendar years, with a tick at each.
func yearsOfOperation(first, last int) scale {
	s := scale{from: float64(first) - .6, to: float64(last) + .6}
	for y := first; y <= last; y++ {
		s.ticks = append(s.ticks, tick{float64(y), strconv.Itoa(y)})
	}
	return s
}

// axes are a pair of axes on a figure: a rectangle and what its sides stand for.
// The vertical one starts a little above the horizontal one if it is lifted, so
// that what lies at 0 is seen.
type axes struct {
	area vg.Rectangle
	x, y scale
	lift vg.Length
}

func (a axes) at(x, y float64) vg.Point { return vg.Point{X: a.atX(x), Y: a.atY(y)} }
func (a axes) atX(x float64) vg.Length {
	return a.area.Min.X + vg.Length(a.x.part(x))*(a.area.Max.X-a.area.Min.X)
}
func (a axes) atY(y float64) vg.Length {
	return a.area.Min.Y + a.lift + vg.Length(a.y.part(y))*(a.area.Max.Y-a.area.Min.Y-a.lift)
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

// frame draws a panel's grid, its two axes with their ticks and labels, and
// their titles.
func (p *pen) frame(a axes, q *panel) {
	low, high, s := a.area.Min, a.area.Max, q.style
	p.named("grid", func() {
		for _, t := range a.y.ticks {
			if y := a.atY(t.at); t.at > a.y.from || a.lift > 0 {
				p.line(gridStroke, vg.Point{X: low.X, Y: y}, vg.Point{X: high.X, Y: y})
			}
		}
	})
	p.named("axes", func() {
		p.line(axisStroke, vg.Point{X: low.X, Y: high.Y}, low, vg.Point{X: high.X, Y: low.Y})
		for _, t := range a.x.ticks {
			p.line(axisStroke, vg.Point{X: a.atX(t.at), Y: low.Y}, vg.Point{X: a.atX(t.at), Y: low.Y - tickLength})
		}
		for _, t := range a.y.ticks {
			p.line(axisStroke, vg.Point{X: low.X, Y: a.atY(t.at)}, vg.Point{X: low.X - tickLength, Y: a.atY(t.at)})
		}
	})
	base := low.Y - tickLength - tickGap - .75*s.size
	p.named("x ticks", func() {
		for _, t := range a.x.ticks {
			p.text(s, vg.Point{X: a.atX(t.at), Y: base}, centre, t.label)
		}
	})
	p.named("y ticks", func() {
		for _, t := range a.y.ticks {
			p.text(s, vg.Point{X: low.X - tickLength - tickGap, Y: a.atY(t.at) - .36*s.size}, right, t.label)
		}
	})
	switch {
	case q.leads:
		p.text(s, vg.Point{X: low.X - 7, Y: base}, right, q.xTitle)
	case q.xTitle != "":
		p.text(s, vg.Point{X: (low.X + high.X) / 2, Y: base - s.leading()}, centre, q.xTitle)
	}
	switch wide := vg.Length(0); q.yTitle {
	case "":
	case "%":
		p.text(s, vg.Point{X: low.X - tickLength - tickGap, Y: high.Y + .8*s.size}, right, "%")
	default:
		for _, t := range a.y.ticks {
			wide = max(wide, p.width(s, t.label))
		}
		p.upright(s, vg.Point{X: low.X - tickLength - tickGap - wide - 4 - .2*s.size, Y: (low.Y + high.Y) / 2}, q.yTitle)
	}
}
