package figure

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
)

// curvesLayout is where the parts of a panel are. All of it is fixed when the
// figure is made, so that the height is known; text is fitted into it when drawn.
type curvesLayout struct {
	width, height vg.Length
	left, right   vg.Length // beside the axes
	room          vg.Length // left of the first tick, for half of the count under it
	area          vg.Length // height between the axes' ends
	labels        []string  // of the traces; nil if there is nothing to tell apart
	direct        bool      // labels stand at the ends of the curves
	columns       int       // of the legend, or of the small panels
	published     bool      // there are published figures to explain

	// Small panels.
	cell       vg.Length // width of one, without the gap
	cellHeight vg.Length
	titleLines int
}

// Lengths of the parts.
const (
	headHeight    vg.Length = 15 // a panel's title
	legendLine    vg.Length = 11
	legendGap     vg.Length = 6
	areaHeight    vg.Length = 170
	keyWidth      vg.Length = 22 // the sample of a line
	keyGap        vg.Length = 4
	tableGap      vg.Length = 4
	panelGap      vg.Length = 8
	countRoom     vg.Length = 14 // least room for half a count
	mostTable     vg.Length = 105
	mostDirect    vg.Length = 100
	tickRoom      vg.Length = 34 // least distance of ticks
	endGap        vg.Length = 6  // between the axes and the labels of curves
	messageHeight vg.Length = 28

	smallArea vg.Length = 78
	smallGap  vg.Length = 14 // between columns
	smallTick vg.Length = 21
	smallKey  vg.Length = 14
)

// Words under the axis.
const (
	atRiskWords  = "At risk"
	revisedWords = "Revised so far"
	smallRevised = "Revised"
)

// arrange lays a panel out.
func (p *curvesPanel) arrange(width, area vg.Length, years float64) {
	l := &p.layout
	l.width = width
	if p.noDeaths || len(p.traces) == 0 {
		l.height = headHeight + messageHeight
		return
	}
	for _, t := range p.traces {
		l.published = l.published || len(t.published) > 0
	}
	if p.small() {
		p.arrangeSmall(years)
		return
	}
	m := defaultMeasure()
	ticks := m.frameLeft(axes{y: p.y}, labelText)
	count := p.widestCount(m, labelText)
	l.room = max(countRoom, count/2+4)
	l.left = m.width(labelText, revisedWords) + l.room
	l.right = l.room
	longest := vg.Length(0)
	if p.divided() {
		for _, t := range p.traces {
			s := p.nameOf(t)
			l.labels = append(l.labels, s)
			longest = max(longest, m.width(labelText, s))
		}
		l.left = max(l.left, keyWidth+keyGap+min(longest*1.12, mostTable)+l.room)
	}
	l.left = max(l.left, ticks)
	l.area = area
	below := vg.Length(2)
	if l.labels != nil {
		below = 2 * vg.Length(1+len(p.traces))
		if l.direct = longest <= mostDirect && p.apart(years); l.direct {
			l.right = endGap + keyWidth + keyGap + longest*1.15 + 2 // where a reader has a wider font
		} else {
			l.columns = legendColumns(width, longest, len(p.traces))
		}
	}
	p.x = yearScale(years, max(2, min(12, int((width-l.left-l.right)/max(tickRoom, count+8))+1)))
	l.height = headHeight + l.legendHeight(len(p.traces)) + l.area + frameBelow(labelText) + tableGap + below*labelText.leading() + tableGap + panelGap
}

// widestCount is the width of the largest number under the axis.
func (p *curvesPanel) widestCount(m measure, s textStyle) vg.Length {
	widest := vg.Length(0)
	for _, t := range p.traces {
		widest = max(widest, m.width(s, counted(float64(t.group.Joints))))
	}
	return widest
}

// legendColumns is how many labels stand beside one another above the axes.
func legendColumns(width, longest vg.Length, traces int) int {
	for n := min(4, traces); n > 1; n-- {
		if keyWidth+keyGap+longest+smallGap <= width/vg.Length(n) {
			return n
		}
	}
	return 1
}

// legendHeight is the room above the axes.
func (l *curvesLayout) legendHeight(traces int) vg.Length {
	lines := 0
	if l.labels != nil && !l.direct {
		lines = (traces + l.columns - 1) / l.columns
	}
	if l.published {
		lines++
	}
	return vg.Length(lines)*legendLine + legendGap
}

// apart reports whether labels at the ends of the curves would not touch: the
// ends are near the end of the axis and a line's height from one another.
func (p *curvesPanel) apart(years float64) bool {
	var ends []float64
	for _, t := range p.traces {
		last := t.readings[len(t.readings)-1]
		if t.points || last.years < .8*years {
			return false
		}
		ends = append(ends, min(last.Estimate, p.y.to))
	}
	slices.Sort(ends)
	for i := 1; i < len(ends); i++ {
		if vg.Length((ends[i]-ends[i-1])/p.y.to)*p.layout.area < labelText.leading() {
			return false
		}
	}
	return true
}

// arrangeSmall lays out a panel for each group.
func (p *curvesPanel) arrangeSmall(years float64) {
	l := &p.layout
	m := defaultMeasure()
	l.columns = max(1, min(3, int(l.width/(52*mm))))
	l.cell = (l.width - smallGap*vg.Length(l.columns-1)) / vg.Length(l.columns)
	count := p.widestCount(m, smallText)
	l.room = max(8, count/2+2)
	l.left = max(m.width(smallText, smallRevised)+l.room+2, m.frameLeft(axes{y: p.y}, smallText)-smallText.leading()-2)
	l.right = l.room
	l.titleLines = 1
	for _, t := range p.traces {
		s := p.nameOf(t)
		l.labels = append(l.labels, s)
		if len(m.wrap(smallText, s, l.cell)) > 1 {
			l.titleLines = 2
		}
	}
	p.x = yearScale(years, max(2, min(7, int((l.cell-l.left-l.right)/max(smallTick, count+6))+1)))
	l.area = smallArea
	l.cellHeight = vg.Length(l.titleLines)*smallText.leading() + 6 + l.area + smallBelow() + 2*smallText.leading() + panelGap
	rows := (len(p.traces) + l.columns - 1) / l.columns
	l.height = headHeight + l.smallLegend() + vg.Length(rows)*l.cellHeight
}

// smallLegend is the room above small panels.
func (l *curvesLayout) smallLegend() vg.Length {
	if l.published {
		return 2*legendLine + legendGap
	}
	return legendLine + legendGap
}

// smallBelow is the room for ticks and their labels under a small panel.
func smallBelow() vg.Length { return frameBelow(smallText) - smallText.leading() + 2 }

// dodge spreads markers that share a year, by room or less, so that all of them
// stand within a third of a year of it: how far each goes to the side. Those at
// the end of the axis go inwards.
func dodge(a axes, years []float64, room vg.Length) []vg.Length {
	shift := make([]vg.Length, len(years))
	order := make([]int, len(years))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(years[i], years[j]) })
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && years[order[j]] == years[order[i]] {
			j++
		}
		n := j - i
		room := room
		if n > 1 {
			room = min(room, (a.atX(2./3)-a.atX(0))/vg.Length(n-1))
		}
		first := -room * vg.Length(n-1) / 2
		x := a.atX(years[order[i]])
		if over := x + first + room*vg.Length(n-1) + 3 - a.area.Max.X; over > 0 {
			first -= over
		}
		if under := a.area.Min.X - (x + first - 3); under > 0 {
			first += under
		}
		for k := i; k < j; k++ {
			shift[order[k]] = first + room*vg.Length(k-i)
		}
		i = j
	}
	return shift
}

// whole reports whether a number is whole.
func whole(x float64) bool { return x == math.Trunc(x) }
