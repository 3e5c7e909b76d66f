package figure

import (
	"slices"

	"gonum.org/v1/plot/vg"
)

// panel is one pair of axes with words above it and counts below it.
type panel struct {
	name  string // what it is of, in bold
	after string // said beside the name
	said  string // a line of its own below
	style textStyle
	axes
	xTitle, yTitle string
	area           vg.Length // height between the axes' ends
	right, top     vg.Length // room right of the axes, and above them
	leads          bool      // the first tick label has xTitle left of it
	counts         []counts
	draw           func(p *pen, a axes)
}

// counts are a line of numbers below an axis, one at each of its ticks.
type counts struct {
	name string
	at   func(tick) string
}

// Lengths of panels.
const (
	tickLength vg.Length = 3
	tickGap    vg.Length = 2 // between a tick and its label
	panelGap   vg.Length = 14
	nameGap    vg.Length = 8 // between words and axes
)

func (q *panel) bold() textStyle {
	s := q.style
	s.size++
	s.bold, s.ink = true, black
	return s
}

// words are the lines above the axes, and whether after stands beside the name.
func (q *panel) words(m measure, width vg.Length) (name, after, said []string, beside bool) {
	if q.name != "" {
		name = m.wrap(q.bold(), q.name, width)
	}
	if q.after != "" {
		beside = len(name) > 0 && m.width(q.bold(), name[len(name)-1])+m.width(q.style, ", "+q.after) <= width
		if after = []string{", " + q.after}; !beside {
			after = m.wrap(q.style, q.after, width)
		}
	}
	if q.said != "" {
		said = m.wrap(q.style, q.said, width)
	}
	return name, after, said, beside
}

// head is the height of the words above the axes.
func (q *panel) head(m measure, width vg.Length) vg.Length {
	name, after, said, beside := q.words(m, width)
	h := vg.Length(len(name))*q.bold().leading() + vg.Length(len(said))*q.style.leading()
	if !beside {
		h += vg.Length(len(after)) * q.style.leading()
	}
	if h > 0 {
		h += 4
	}
	if q.yTitle == "%" {
		h += .6 * q.style.leading()
	}
	return h + max(nameGap, q.top)
}

// below is the height of what stands below the axes.
func (q *panel) below() vg.Length {
	h := tickLength + tickGap + q.style.leading()
	if q.xTitle != "" && !q.leads {
		h += q.style.leading()
	}
	if len(q.counts) > 0 {
		h += 4 + vg.Length(len(q.counts))*q.style.leading()
	}
	return h + panelGap
}

// room is what the axes need at their left, and the least distance of ticks.
func (q *panel) room(m measure) (left, apart vg.Length) {
	widest := vg.Length(0)
	for _, c := range q.counts {
		for _, t := range q.x.ticks {
			widest = max(widest, m.width(q.style, c.at(t)))
		}
	}
	for _, t := range q.x.ticks {
		widest = max(widest, m.width(q.style, t.label))
	}
	for _, t := range q.y.ticks {
		left = max(left, m.width(q.style, t.label)+tickLength+tickGap)
	}
	if q.yTitle != "" && q.yTitle != "%" {
		left += 4 + q.style.leading()
	}
	if q.leads {
		left = max(left, m.width(q.style, q.xTitle)+8)
	}
	for _, c := range q.counts {
		left = max(left, m.width(q.style, c.name)+widest/2+5)
	}
	return left, widest + 5
}

// placed are the axes in a cell whose upper left corner is given, with as many
// ticks labelled as there is room for; the last tick and those further from 0
// go first.
func (q *panel) placed(m measure, corner vg.Point, width, head vg.Length) axes {
	a := q.axes
	left, apart := q.room(m)
	a.area.Max = vg.Point{X: corner.X + width - max(q.right, apart/2-2), Y: corner.Y - head}
	a.area.Min = vg.Point{X: corner.X + left, Y: corner.Y - head - q.area}
	kept := a.x.ticks[:0:0]
	last := a.area.Max.X + 2*apart
	for i := len(a.x.ticks) - 1; i >= 0; i-- {
		t := a.x.ticks[i]
		if x := a.atX(t.at); last-x >= apart || t.label == "0" && last-x >= 2*m.width(q.style, t.label) {
			kept, last = append(kept, t), x
		}
	}
	slices.Reverse(kept)
	a.x.ticks = kept
	return a
}

// paint draws the panel in a cell; head is at least its own.
func (q *panel) paint(p *pen, corner vg.Point, width, head vg.Length) {
	m := defaultMeasure()
	name, after, said, beside := q.words(m, width)
	y := corner.Y
	bold := q.bold()
	for i, line := range name {
		y -= bold.leading()
		p.text(bold, vg.Point{X: corner.X, Y: y}, left, line)
		if beside && i == len(name)-1 {
			p.text(q.style, vg.Point{X: corner.X + p.width(bold, line), Y: y}, left, after[0])
		}
	}
	if beside {
		after = nil
	}
	for _, line := range append(after, said...) {
		y -= q.style.leading()
		p.text(q.style, vg.Point{X: corner.X, Y: y}, left, line)
	}
	a := q.placed(m, corner, width, head)
	p.frame(a, q)
	q.draw(p, a)
	base := a.area.Min.Y - tickLength - tickGap - .75*q.style.size
	if q.xTitle != "" && !q.leads {
		base -= q.style.leading()
	}
	base -= 4
	p.named("table", func() {
		for _, c := range q.counts {
			base -= q.style.leading()
			p.text(q.style, vg.Point{X: corner.X + p.width(q.style, c.name), Y: base}, right, c.name)
			for _, t := range a.x.ticks {
				p.text(q.style, vg.Point{X: a.atX(t.at), Y: base}, centre, c.at(t))
			}
		}
	})
}

// panels are panels side by side and below one another, all with the same
// columns; each row's axes are in line.
type panels struct {
	heading headline
	all     []*panel
	columns int
}

// columnsFor is how many panels stand side by side.
func columnsFor(width vg.Length, n int) int {
	least := 72 * mm
	if n > 4 {
		least = 50 * mm
	}
	return max(1, min(int(width/least), n, 6))
}

func (s *panels) cell(width vg.Length) vg.Length {
	return (width - panelGap*vg.Length(s.columns-1)) / vg.Length(s.columns)
}

// row is the panels of a row, and how high their heads are.
func (s *panels) row(i int, width vg.Length) (row []*panel, head vg.Length) {
	row = s.all[i:min(i+s.columns, len(s.all))]
	for _, q := range row {
		head = max(head, q.head(defaultMeasure(), s.cell(width)))
	}
	return row, head
}

func (s *panels) height(width vg.Length) vg.Length {
	h := s.heading.height(width)
	for i := 0; i < len(s.all); i += s.columns {
		row, head := s.row(i, width)
		h += head + row[0].area + row[0].below()
	}
	return h
}

// headline stands above a block, on as many lines as it needs; "" is none.
type headline string

func (h headline) lines(width vg.Length) []string {
	if h == "" {
		return nil
	}
	return defaultMeasure().wrap(panelText, string(h), width)
}

func (h headline) height(width vg.Length) vg.Length {
	if n := len(h.lines(width)); n > 0 {
		return 20 + vg.Length(n-1)*panelText.leading()
	}
	return 0
}

func (h headline) paint(p *pen, top, width vg.Length) {
	for i, line := range h.lines(width) {
		p.text(panelText, vg.Point{Y: top - panelText.size - vg.Length(i)*panelText.leading()}, left, line)
	}
}

func (s *panels) paint(p *pen, top, width vg.Length) {
	s.heading.paint(p, top, width)
	top -= s.heading.height(width)
	for i := 0; i < len(s.all); i += s.columns {
		row, head := s.row(i, width)
		for j, q := range row {
			p.named("panel", func() {
				q.paint(p, vg.Point{X: (s.cell(width) + panelGap) * vg.Length(j), Y: top}, s.cell(width), head)
			})
		}
		top -= head + row[0].area + row[0].below()
	}
}

// block is a part of a figure: panels, or lines of a table.
type block interface {
	height(width vg.Length) vg.Length
	paint(p *pen, top, width vg.Length)
}

// stacked makes a figure of blocks below one another.
func (f *Figure) stacked(width vg.Length, blocks ...block) *Figure {
	f.Width, f.body = width, 0
	for _, b := range blocks {
		f.body += b.height(width)
	}
	f.draw = func(p *pen) {
		top := p.body.Max.Y
		for _, b := range blocks {
			b.paint(p, top, width)
			top -= b.height(width)
		}
	}
	f.Height = f.body + f.above() + f.below()
	return f
}

// message is a block of one sentence, where there is nothing to draw.
type message string

func (s message) lines(width vg.Length) []string {
	return defaultMeasure().wrap(labelText, string(s), width)
}

func (s message) height(width vg.Length) vg.Length {
	return vg.Length(len(s.lines(width)))*labelText.leading() + 12
}

func (s message) paint(p *pen, top, width vg.Length) {
	p.named("message", func() {
		for i, line := range s.lines(width) {
			p.text(labelText, vg.Point{Y: top - labelText.leading()*vg.Length(i+1)}, left, line)
		}
	})
}

// arrowUp and arrowRight are where a bar goes on beyond an axis.
func (p *pen) arrowUp(s stroke, at vg.Point) {
	p.line(s, vg.Point{X: at.X - 2.4, Y: at.Y - 4}, at, vg.Point{X: at.X + 2.4, Y: at.Y - 4})
}

func (p *pen) arrowRight(s stroke, at vg.Point) {
	p.line(s, vg.Point{X: at.X - 4, Y: at.Y + 2.4}, at, vg.Point{X: at.X - 4, Y: at.Y - 2.4})
}
