package figure

import (
	"strings"

	"gonum.org/v1/plot/vg"
)

// listing is a table with columns that are drawn on a scale, of which there must
// be one. Where it is too narrow for all of its columns, a line's label stands
// above it, and those that fold stand below it as a sentence.
type listing struct {
	heading headline
	columns []column
	lines   []listed
}

// column is one column of a listing; the first holds labels.
type column struct {
	title string
	align align
	fold  string // how a cell is said in a sentence, as in "%s joints"; "" if it does not fold

	// Of a drawn column: the least width, and the scale, whose ticks are drawn.
	drawn vg.Length
	x     scale
}

// listed is one line of a listing.
type listed struct {
	cells  []string
	note   string // small, below the label
	plain  bool   // the label is not bold
	heads  bool   // the label heads the lines below
	rule   bool   // a line above it
	height vg.Length
	draw   map[int]func(p *pen, a axes, y vg.Length) // by column, around a height
}

const (
	columnGap vg.Length = 8
	listTop   vg.Length = 20 // titles of columns
	listStep  vg.Length = 17
)

func (l *listing) label(s textStyle, i int) textStyle {
	if !l.lines[i].plain {
		s.bold, s.ink = true, black
	}
	return s
}

// laid are the columns' places; folded, if they are too many for the width.
type laid struct {
	style  textStyle   // the larger in which all columns have room
	x      []vg.Length // left edges
	width  []vg.Length
	folded bool
}

func (l *listing) layOut(width vg.Length) laid {
	out, fits := l.laidIn(labelText, width)
	if small, fit := l.laidIn(smallText, width); !fits && fit {
		return small
	}
	return out
}

func (l *listing) laidIn(style textStyle, width vg.Length) (out laid, fits bool) {
	m := defaultMeasure()
	out = laid{style: style, x: make([]vg.Length, len(l.columns)), width: make([]vg.Length, len(l.columns))}
	share := vg.Length(0) // of what is left, by drawn columns
	for i, c := range l.columns {
		out.width[i] = m.width(style, c.title)
		for j, line := range l.lines {
			switch {
			case line.heads && i > 0 || c.drawn > 0:
			case i == 0:
				out.width[i] = max(out.width[i], m.width(l.label(style, j), line.cells[i])+1, m.width(smallText, line.note)+1)
			default:
				out.width[i] = max(out.width[i], m.width(style, line.cells[i]))
			}
		}
		if c.drawn > 0 {
			out.width[i], share = c.drawn, share+c.drawn
		}
	}
	out.width[0] = min(out.width[0], .32*width)
	sum := func() (total vg.Length) {
		total = -columnGap
		for i, w := range out.width {
			if w > 0 && !out.hides(l, i) {
				total += w + columnGap
			}
		}
		return total
	}
	if sum() > width {
		out.folded = true
	}
	left := width - sum()
	at := vg.Length(0)
	if out.folded {
		at, left = 6, left-6 // labels stand clear of the axis
	}
	for i, c := range l.columns {
		if out.hides(l, i) {
			continue
		}
		if c.drawn > 0 && left != 0 {
			out.width[i] = max(40, out.width[i]+left*c.drawn/share)
		}
		if out.x[i] = at; out.width[i] > 0 {
			at += out.width[i] + columnGap
		}
	}
	return out, !out.folded
}

// hides reports whether a column has no place of its own.
func (o laid) hides(l *listing, i int) bool { return o.folded && (i == 0 || l.columns[i].fold != "") }

// sentence is what the folded cells of a line say.
func (l *listing) sentence(line *listed) string {
	var parts []string
	for i, c := range l.columns {
		if c.fold != "" && line.cells[i] != "" {
			parts = append(parts, strings.Replace(c.fold, "%s", line.cells[i], 1))
		}
	}
	return strings.Join(parts, ", ")
}

// words are a line's label and what stands small below it.
func (l *listing) words(o laid, i int, width vg.Length) (label, note []string) {
	m, line := defaultMeasure(), &l.lines[i]
	room := o.width[0]
	if o.folded || line.heads {
		room = width
	}
	label = m.wrap(l.label(o.style, i), line.cells[0], room)
	if line.note != "" {
		note = m.wrap(smallText, line.note, room)
	}
	if o.folded && !line.heads {
		note = append(note, m.wrap(smallText, l.sentence(line), width)...)
	}
	return label, note
}

// lineHeight is how high a line is, and how far its middle lies below its top.
func (l *listing) lineHeight(o laid, i int, width vg.Length) (height, middle vg.Length) {
	line := &l.lines[i]
	label, note := l.words(o, i, width)
	words := vg.Length(len(label))*labelText.leading() + vg.Length(len(note))*smallText.leading()
	switch {
	case line.heads:
		return words + 8, words
	case o.folded:
		return words + line.height + 4, vg.Length(len(label))*labelText.leading() + line.height/2
	}
	height = max(line.height, words+4)
	return height, height / 2
}

func (l *listing) height(width vg.Length) vg.Length {
	o := l.layOut(width)
	h := listTop + 8 + tickLength + tickGap + labelText.leading() + panelGap + l.heading.height(width)
	for i := range l.lines {
		line, _ := l.lineHeight(o, i, width)
		h += line
	}
	return h
}

func (l *listing) paint(p *pen, top, width vg.Length) {
	o := l.layOut(width)
	l.heading.paint(p, top, width)
	top -= l.heading.height(width)
	p.named("columns", func() {
		for i, c := range l.columns {
			if !o.hides(l, i) {
				l.cell(p, o, i, top-labelText.size, o.style, c.title)
			}
		}
	})
	top -= listTop
	bottom := top
	for i := range l.lines {
		h, _ := l.lineHeight(o, i, width)
		bottom -= h
	}
	all := make([]axes, len(l.columns))
	for i, c := range l.columns {
		if c.drawn > 0 {
			all[i] = axes{x: c.x, area: vg.Rectangle{Min: vg.Point{X: o.x[i], Y: bottom - 4}, Max: vg.Point{X: o.x[i] + o.width[i], Y: top}}}
			p.upAxis(all[i], o.folded)
		}
	}
	for i := range l.lines {
		height, middle := l.lineHeight(o, i, width)
		if l.lines[i].rule {
			p.line(gridStroke, vg.Point{Y: top}, vg.Point{X: width, Y: top})
		}
		p.named("group", func() { l.line(p, o, i, all, top, top-middle, width) })
		top -= height
	}
}

// cell writes one cell with its base line at a height.
func (l *listing) cell(p *pen, o laid, i int, y vg.Length, s textStyle, words string) {
	at := vg.Point{X: o.x[i], Y: y}
	if l.columns[i].align == right {
		at.X += o.width[i]
	}
	p.text(s, at, l.columns[i].align, words)
}

// line draws a line between its top and its middle.
func (l *listing) line(p *pen, o laid, i int, all []axes, top, middle, width vg.Length) {
	line := &l.lines[i]
	label, note := l.words(o, i, width)
	words := vg.Length(len(label))*labelText.leading() + vg.Length(len(note))*smallText.leading()
	y := middle + words/2 // of the label's top
	switch {
	case line.heads:
		y = top - 6
	case o.folded:
		y = top
	}
	for _, s := range label {
		y -= labelText.leading()
		p.text(l.label(o.style, i), vg.Point{Y: y + .2*labelText.size}, left, s)
	}
	if o.folded {
		y = middle - line.height/2
	}
	for _, s := range note {
		y -= smallText.leading()
		p.text(smallText, vg.Point{Y: y + .2*smallText.size}, left, s)
	}
	if line.heads {
		return
	}
	for j, c := range l.columns {
		switch draw := line.draw[j]; {
		case j == 0 || o.hides(l, j):
		case c.drawn > 0:
			if o.folded { // behind the drawing alone, so that no line crosses words
				p.uprights(all[j], middle-line.height/2, middle+line.height/2)
			}
			if draw != nil {
				draw(p, all[j], middle)
			}
		default:
			s := o.style
			if c.title != "" && strings.HasPrefix(c.title, "own") {
				s.ink = ownInk
			}
			l.cell(p, o, j, middle-.36*s.size, s, line.cells[j])
		}
	}
}

// upAxis draws an axis that upright lines, unless they are left out, stand on.
func (p *pen) upAxis(a axes, bare bool) {
	if !bare {
		p.uprights(a, a.area.Min.Y, a.area.Max.Y)
	}
	p.named("x ticks", func() {
		for _, t := range p.labelled(a) {
			p.text(labelText, vg.Point{X: a.atX(t.at), Y: a.area.Min.Y - tickLength - tickGap - .75*labelText.size}, centre, t.label)
		}
	})
}

// uprights draws the lines at an axis' ticks between two heights.
func (p *pen) uprights(a axes, low, high vg.Length) {
	p.named("grid", func() {
		for _, t := range p.labelled(a) {
			s := gridStroke
			if t.at == a.x.from {
				s = axisStroke
			}
			p.line(s, vg.Point{X: a.atX(t.at), Y: low}, vg.Point{X: a.atX(t.at), Y: high})
		}
	})
}

// labelled are the ticks that there is room for: all, or each second, and so on.
func (p *pen) labelled(a axes) []tick {
	kept := a.x.ticks
	for len(kept) > 2 && a.atX(kept[1].at)-a.atX(kept[0].at) < p.width(labelText, kept[len(kept)-1].label)+5 {
		var half []tick
		for i := 0; i < len(kept); i += 2 {
			half = append(half, kept[i])
		}
		kept = half
	}
	return kept
}

// interval draws a level interval around a height, with an arrow where the axis
// ends first.
func (p *pen) interval(a axes, s stroke, lower, upper float64, y vg.Length) {
	if !(lower <= upper) || lower > a.x.to {
		return
	}
	to := vg.Point{X: a.atX(min(upper, a.x.to)), Y: y}
	p.line(s, vg.Point{X: a.atX(lower), Y: y}, to)
	if upper > a.x.to {
		p.arrowRight(stroke{ink: s.ink, width: min(s.width, 1.2)}, to)
	}
}

// box draws an upright box between two values.
func (p *pen) box(a axes, from, to float64, y, height vg.Length, how stroke) {
	x0, x1 := a.atX(from), a.atX(min(to, a.x.to))
	p.area(bandInk, how, p.raised([]vg.Point{{X: x0, Y: y - height/2}, {X: x1, Y: y - height/2}, {X: x1, Y: y + height/2}, {X: x0, Y: y + height/2}}))
}
