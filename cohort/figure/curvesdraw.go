package figure

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/benchmark"
)

// drawCurve draws the steps of a curve, thin where few are at risk.
func (p *pen) drawCurve(a axes, t *trace) {
	if t.points {
		return
	}
	n := 0
	for n < len(t.readings) && !t.readings[n].faint {
		n++
	}
	draw := func(readings []reading, s stroke, from ...vg.Point) {
		for _, part := range a.clipLine(append(from, steps(a, readings)...)) {
			p.line(s, part...)
		}
	}
	if n < len(t.readings) {
		draw(t.readings[max(n-1, 0):], thinStroke)
	}
	if n > 0 {
		draw(t.readings[:n], thickStroke, a.at(0, 0))
	}
}

// steps is a right-continuous step line through estimates. Corners that are on a
// straight line are left out.
func steps(a axes, readings []reading) []vg.Point {
	var points []vg.Point
	for i, r := range readings {
		at := a.at(r.years, r.Estimate)
		if i == 0 {
			points = append(points, at)
			continue
		}
		last := points[len(points)-1]
		if at.Y == last.Y && i+1 < len(readings) {
			continue
		}
		if at.X != last.X {
			points = append(points, vg.Point{X: at.X, Y: last.Y})
		}
		if at.Y != last.Y {
			points = append(points, at)
		}
	}
	return points
}

// drawBars draws intervals and estimates at their years, with the upper limit
// above the axes where it lies beyond them.
func (p *pen) drawBars(a axes, bars []reading, style textStyle) {
	style.size--
	style.ink = ownInk
	taken := [3]vg.Length{-1e6, -1e6, -1e6} // by numbers, line by line above the axes
	for _, r := range bars {
		x, bar, inside := a.atX(r.years), thickBar, ownInk
		if r.faint {
			bar, inside = thinStroke, white
		}
		if r.Lower <= r.Upper && r.Lower < a.y.to {
			p.line(bar, vg.Point{X: x, Y: a.atY(r.Lower)}, vg.Point{X: x, Y: a.atY(math.Min(r.Upper, a.y.to))})
			if r.Upper > a.y.to {
				p.arrowUp(stroke{ink: ownInk, width: .9}, vg.Point{X: x, Y: a.area.Max.Y})
				number := inPercent(r.Upper)
				half := p.width(style, number) / 2
				middle := min(x, p.body.Max.X-half) // within the figure
				line := max(0, slices.IndexFunc(taken[:], func(end vg.Length) bool { return middle-half > end+1 }))
				taken[line] = middle + half
				p.text(style, vg.Point{X: middle, Y: a.area.Max.Y + 2 + vg.Length(line)*style.leading()}, centre, number)
			}
		}
		if r.Estimate <= a.y.to {
			p.marker(circle, a.at(r.years, r.Estimate), 2.4, inside, ownInk)
		}
	}
}

// drawPublished draws series: their limits, a band of the first and boxes of the
// others, then a line for each, of its own dashes.
func (p *pen) drawPublished(a axes, all []*publishedSeries) {
	if len(all) == 0 {
		return
	}
	p.named("bands", func() {
		for i, s := range all {
			var upper, lower []vg.Point
			for _, f := range s.figures {
				if !f.HasLimits() {
					continue
				}
				low, high := a.at(f.Years, f.Lower), a.at(f.Years, math.Min(f.Upper, a.y.to))
				if i > 0 || len(s.figures) == 1 { // seen on both sides of an own bar
					p.area(bandInk, stroke{ink: publishedInk, width: .6}, p.raised([]vg.Point{{X: low.X - 2.6, Y: low.Y}, {X: low.X + 2.6, Y: low.Y}, {X: low.X + 2.6, Y: high.Y}, {X: low.X - 2.6, Y: high.Y}}))
					continue
				}
				upper, lower = append(upper, a.at(f.Years, f.Upper)), append(lower, low)
			}
			slices.Reverse(lower)
			if outline := a.clipArea(append(upper, lower...)); len(outline) >= 3 {
				p.fill(bandInk, outline...)
			}
		}
	})
	p.named("published", func() {
		for i, s := range all {
			var line []vg.Point
			for _, f := range s.figures {
				line = append(line, a.at(f.Years, f.Revision))
			}
			how := stroke{publishedInk, 1.1, dashes[min(i, len(dashes)-1)]}
			for _, part := range a.clipLine(line) {
				p.line(how, part...)
			}
			for _, f := range s.figures {
				if at := a.at(f.Years, f.Revision); f.Revision <= a.y.to && (i > 0 || len(line) == 1) {
					p.line(stroke{ink: publishedInk, width: 1.1}, vg.Point{X: at.X - 4.5, Y: at.Y}, vg.Point{X: at.X + 4.5, Y: at.Y})
				}
			}
		}
	})
}

// dashes of published series, the first of which is solid.
var dashes = [...][]vg.Length{nil, {5, 2}, {1.5, 1.5}, {7, 2, 1.5, 2}}

// endLabel is what stands at the end of a published line: the figure there, of one source's several
// at one year the highest, with the lowest.
type endLabel struct {
	figure benchmark.Figure
	mark   string // of the source
	least  float64
}

// words are the numbers and the letter; where there is little room the letter alone, as the numbers
// stand above the panel.
func (e endLabel) words(style textStyle) string {
	least, most := inPercent(e.least), inPercent(e.figure.Revision)
	switch {
	case style.size < labelText.size:
		return e.mark
	case least != most:
		most = least + "–" + most
	}
	return most + " " + e.mark
}

// endNames puts those of one source at one year into one, in the order of the highest.
func endNames(ends []endLabel) []endLabel {
	slices.SortStableFunc(ends, func(x, y endLabel) int { return cmp.Compare(x.figure.Revision, y.figure.Revision) })
	var named []endLabel
	for _, e := range ends {
		e.least = e.figure.Revision
		if i := slices.IndexFunc(named, func(n endLabel) bool { return n.mark == e.mark && n.figure.Years == e.figure.Years }); i >= 0 {
			e.least = named[i].least
			named = slices.Delete(named, i, i+1)
		}
		named = append(named, e)
	}
	return named
}

// drawEnds writes the ends of published lines up to a right edge: beside the mark, else above or below
// the own curve, on its right or its left, where neither that nor a bar nor another is.
func (p *pen) drawEnds(a axes, t *trace, ends []endLabel, style textStyle, edge vg.Length) {
	style.ink = publishedText
	var taken []vg.Rectangle
	for _, r := range t.bars {
		x := a.atX(r.years)
		taken = append(taken, vg.Rectangle{Min: vg.Point{X: x - 3, Y: a.atY(math.Min(r.Lower, r.Estimate)) - 3}, Max: vg.Point{X: x + 3, Y: a.atY(math.Max(r.Upper, r.Estimate)) + 3}})
	}
	for _, s := range t.published {
		for _, f := range s.figures {
			at := a.at(f.Years, math.Min(f.Revision, a.y.to))
			taken = append(taken, vg.Rectangle{Min: vg.Point{X: at.X - 4.5, Y: at.Y - 2}, Max: vg.Point{X: at.X + 4.5, Y: at.Y + 2}})
		}
	}
	for _, e := range ends {
		words := e.words(style)
		mark, w := a.at(e.figure.Years, math.Min(e.figure.Revision, a.y.to)), p.width(style, words)
		best, least := vg.Rectangle{}, vg.Length(math.Inf(1))
		for _, x := range []vg.Length{mark.X + 6, mark.X - 6 - w} {
			low, high := p.ownAround(a, t, x-2, x+w+2)
			for _, y := range []vg.Length{mark.Y - .5*style.size, high + 2.5, low - style.size - 2.5} {
				box := vg.Rectangle{Min: vg.Point{X: x, Y: y}, Max: vg.Point{X: x + w, Y: y + style.size}}
				// One thing covered is as bad as so far off the mark.
				if cost := vg.Length(20*a.inTheWay(box, taken, low, high, edge)) + vg.Length(math.Abs(float64(y+.5*style.size-mark.Y))); cost < least {
					best, least = box, cost
				}
			}
		}
		taken = append(taken, best)
		p.text(style, vg.Point{X: best.Min.X, Y: best.Min.Y + .14*style.size}, left, words)
	}
}

// inTheWay counts what a label would cover: labels and bars, the own curve between two heights, and,
// as more than all of these, an edge of the axes.
func (a axes) inTheWay(box vg.Rectangle, taken []vg.Rectangle, low, high, edge vg.Length) int {
	n := 0
	for _, t := range taken {
		if box.Min.X < t.Max.X && t.Min.X < box.Max.X && box.Min.Y < t.Max.Y && t.Min.Y < box.Max.Y {
			n++
		}
	}
	if box.Min.Y < high+1 && low-1 < box.Max.Y {
		n++
	}
	if box.Min.X < a.area.Min.X || box.Max.X > edge || box.Min.Y < a.area.Min.Y || box.Max.Y > a.area.Max.Y+6 {
		n += len(taken) + 2
	}
	return n
}

// ownAround is between which heights the own curve runs from one place to another;
// the lower is the higher where it does not get there.
func (p *pen) ownAround(a axes, t *trace, from, to vg.Length) (low, high vg.Length) {
	low, high = 1e6, -1e6
	for i, r := range t.readings {
		if x := a.atX(r.years); x > to || i+1 < len(t.readings) && a.atX(t.readings[i+1].years) < from || i+1 == len(t.readings) && x < from {
			continue
		}
		low, high = min(low, a.atY(r.Estimate)), max(high, a.atY(r.Estimate))
	}
	return low, high
}
