package figure

import (
	"errors"
	"fmt"
	"image/color"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/text"
)

// GridOptions say what [Grid] draws. The zero value is the default.
type GridOptions struct {
	// Joint and Procedure narrow the figure; empty means all.
	Joint, Procedure string

	Width vg.Length // 0 means DefaultWidth
}

// Grid counts joints and revisions by two fields, such as age by bearing: the
// audit must be grouped by two. The first goes down, the second across. Cells are
// shaded by the number of joints and by nothing else, so that no result stands
// out; a cell of fewer than 10 joints is as plain to read as any.
func Grid(a *audit.Audit, o GridOptions) (*Figure, error) {
	if err := checkWidth(&o.Width); err != nil {
		return nil, err
	}
	if len(a.By) != 2 {
		return nil, fmt.Errorf("figure: a grid needs an audit by two fields; it is by %q", a.By)
	}
	if a.Shared != nil {
		return nil, errors.New("figure: a grid can't be made safe to share: its cells add up in two ways, from which small counts can be worked out")
	}
	parts, err := partsOf(a, o.Joint, o.Procedure)
	if err != nil {
		return nil, err
	}
	g := &Figure{Day: dayOf(a), data: [][]string{{"joint", "procedure", a.By[0], a.By[1], "joints", "revised"}}}
	var blocks []block
	var said []string
	for _, all := range parts {
		b := newGrid(a, all)
		if len(parts) > 1 {
			b.heading = headline(titleOf(all))
		}
		blocks, said = append(blocks, b), append(said, b.spoken())
		for _, row := range b.rows {
			for _, col := range b.cols {
				if c := b.cells[[2]string{row, col}]; c != nil {
					g.data = append(g.data, []string{text.Protect(all.Word("joint")), text.Protect(all.Word("procedure")), text.Protect(row), text.Protect(col), counted(float64(c.Joints)), counted(float64(c.Revised))})
				}
			}
		}
		g.groups = append(g.groups, b.cols...)
	}
	g.Title = fmt.Sprintf("Joints by %s and %s", fieldWords(a.By[0]), fieldWords(a.By[1]))
	g.Subtitle = "Followed to " + closingWords(a) + "." + choice(a.By...)
	if len(parts) == 1 {
		g.Title, g.Subtitle = titleOf(parts[0])+": "+strings.ToLower(g.Title[:1])+g.Title[1:], whose(a, parts[0])+choice(a.By...)
	}
	g.Alternative = strings.Join(said, " ")
	g.Notes = []string{"In each cell the joints, below them how many are revised. The darker, the more joints; the shade says nothing of the result."}
	return g.stacked(o.Width, blocks...), nil
}

// grid is the cells of a joint and procedure.
type grid struct {
	heading    headline
	all        *audit.Group
	rows, cols []string
	fields     []string
	cells      map[[2]string]*audit.Group
	most       int64
}

func newGrid(a *audit.Audit, all *audit.Group) *grid {
	b := &grid{all: all, fields: a.By, cells: make(map[[2]string]*audit.Group)}
	for _, g := range a.Fields(all, a.By[0]) {
		b.rows = append(b.rows, g.Word(a.By[0]))
	}
	for _, g := range a.Fields(all, a.By[1]) {
		b.cols = append(b.cols, g.Word(a.By[1]))
	}
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Pooling == audit.Cell && sameJoints(g, all) {
			b.cells[[2]string{g.Word(a.By[0]), g.Word(a.By[1])}] = g
			b.most = max(b.most, g.Joints)
		}
	}
	return b
}

func (b *grid) spoken() string {
	largest := ""
	for _, row := range b.rows {
		for _, col := range b.cols {
			if c := b.cells[[2]string{row, col}]; c != nil && c.Joints == b.most && largest == "" {
				largest = fmt.Sprintf("; most joints, %s, are %s, %s", counted(float64(c.Joints)), word(row), word(col))
			}
		}
	}
	return fmt.Sprintf("%s: %s joints in %d cells%s.", titleOf(b.all), counted(float64(b.all.Joints)), len(b.cells), largest)
}

const gridStep vg.Length = 28

// gridLayout is where the parts of a grid are.
type gridLayout struct {
	names, column vg.Length // widths
	heads         [][]string
	upright       bool // the heads read upwards, where columns are narrow
	top           vg.Length
}

func (b *grid) layOut(width vg.Length) (l gridLayout) {
	m := defaultMeasure()
	for _, row := range b.rows {
		l.names = max(l.names, m.width(labelText, b.title(0, row)))
	}
	l.names = min(l.names, .25*width) + 8
	l.column = min((width-l.names)/vg.Length(max(1, len(b.cols))), 90)
	for _, col := range b.cols {
		for _, part := range text.Parts(b.title(1, col)) {
			l.upright = l.upright || m.width(smallText, part) > l.column-4
		}
	}
	for _, col := range b.cols {
		head := m.wrap(smallText, b.title(1, col), l.column-4)
		if l.upright {
			head = m.wrap(smallText, b.title(1, col), 130)
			for _, line := range head {
				l.top = max(l.top, m.width(smallText, line))
			}
		}
		l.heads = append(l.heads, head)
		if !l.upright {
			l.top = max(l.top, vg.Length(len(head))*smallText.leading())
		}
	}
	l.top += 6
	return l
}

// title is a value of one of the two fields in words.
func (b *grid) title(field int, value string) string {
	if value == cohort.NotRecorded {
		return fieldWords(b.fields[field]) + " not recorded"
	}
	return word(value)
}

func (b *grid) height(width vg.Length) vg.Length {
	return b.heading.height(width) + b.layOut(width).top + gridStep*vg.Length(len(b.rows)) + panelGap
}

func (b *grid) paint(p *pen, top, width vg.Length) {
	b.heading.paint(p, top, width)
	top -= b.heading.height(width)
	l := b.layOut(width)
	p.named("columns", func() {
		for i, head := range l.heads {
			x := l.names + l.column*(vg.Length(i)+.5)
			for j, line := range head {
				k := vg.Length(len(head) - 1)
				if l.upright {
					p.upright(smallText, vg.Point{X: x + .35*smallText.size + (vg.Length(j)-k/2)*smallText.leading(), Y: top - l.top + 6 + p.width(smallText, line)/2}, line)
				} else {
					p.text(smallText, vg.Point{X: x, Y: top - l.top + 7 + (k-vg.Length(j))*smallText.leading()}, centre, line)
				}
			}
		}
	})
	top -= l.top
	for _, row := range b.rows {
		p.named("group", func() {
			for j, line := range p.wrap(labelText, b.title(0, row), l.names-6) {
				p.text(labelText, vg.Point{Y: top - 10 - labelText.leading()*vg.Length(j)}, left, line)
			}
			for i, col := range b.cols {
				if c := b.cells[[2]string{row, col}]; c != nil {
					b.cell(p, c, vg.Point{X: l.names + l.column*vg.Length(i), Y: top}, l.column)
				}
			}
		})
		top -= gridStep
	}
}

// cell draws one cell with its upper left corner at a point.
func (b *grid) cell(p *pen, c *audit.Group, at vg.Point, width vg.Length) {
	x0, x1, y0, y1 := at.X+1, at.X+width-1, at.Y-gridStep+1, at.Y-1
	corners := []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
	p.area(b.shade(c.Joints), stroke{ink: grey, width: .5}, p.raised(corners))
	s := labelText
	s.ink = black
	p.text(s, vg.Point{X: (x0 + x1) / 2, Y: y1 - 10}, centre, counted(float64(c.Joints)))
	s.size = 6.3
	revised := counted(float64(c.Revised))
	if words := revised + " revised"; p.width(s, words) < width-4 {
		revised = words
	}
	p.text(s, vg.Point{X: (x0 + x1) / 2, Y: y1 - 20}, centre, revised)
}

// shade is one of five greys, on all of which black can be read, by the number of
// joints.
func (b *grid) shade(joints int64) color.NRGBA {
	greys := []uint32{0xFFFFFF, 0xF0F0F0, 0xE2E2E2, 0xD2D2D2, 0xC0C0C0}
	if joints <= 0 || b.most <= 0 {
		return rgb(greys[0])
	}
	return rgb(greys[min(len(greys)-1, int(float64(len(greys))*float64(joints)/float64(b.most)))])
}
