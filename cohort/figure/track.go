package figure

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
)

// track follows the state of a canvas: what vg.Canvas sets, pushes and pops.
type track struct {
	state
	stack []state
}

type state struct {
	m      [6]float64 // x′ = m0·x + m2·y + m4, y′ = m1·x + m3·y + m5
	ink    color.NRGBA
	width  vg.Length
	dashes []vg.Length
	offset vg.Length
}

func newTrack() track {
	return track{state: state{m: [6]float64{1, 0, 0, 1, 0, 0}, ink: black, width: 1}}
}

func (t *track) SetLineWidth(w vg.Length) { t.width = w }
func (t *track) SetLineDash(pattern []vg.Length, offset vg.Length) {
	t.dashes, t.offset = pattern, offset
}

func (t *track) SetColor(c color.Color) {
	if c == nil {
		c = color.Black
	}
	t.ink = color.NRGBAModel.Convert(c).(color.NRGBA)
}

func (t *track) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	t.by(cos, sin, -sin, cos, 0, 0)
}
func (t *track) Translate(pt vg.Point) { t.by(1, 0, 0, 1, float64(pt.X), float64(pt.Y)) }
func (t *track) Scale(x, y float64)    { t.by(x, 0, 0, y, 0, 0) }
func (t *track) Push()                 { t.stack = append(t.stack, t.state) }
func (t *track) Pop() {
	t.state = t.stack[len(t.stack)-1]
	t.stack = t.stack[:len(t.stack)-1]
}

// by puts a transformation before the present one.
func (t *track) by(a, b, c, d, e, f float64) {
	m := t.m
	t.m = [6]float64{
		m[0]*a + m[2]*b, m[1]*a + m[3]*b,
		m[0]*c + m[2]*d, m[1]*c + m[3]*d,
		m[0]*e + m[2]*f + m[4], m[1]*e + m[3]*f + m[5],
	}
}

// at is where a point stands on the page, from its lower left corner.
func (t *track) at(p vg.Point) (x, y float64) {
	return t.m[0]*float64(p.X) + t.m[2]*float64(p.Y) + t.m[4], t.m[1]*float64(p.X) + t.m[3]*float64(p.Y) + t.m[5]
}

// angle is how far text is turned, anticlockwise.
func (t *track) angle() float64 { return math.Atan2(t.m[1], t.m[0]) }

// walker takes a path apart into moves, lines and cubic curves on the page.
type walker interface {
	move(x, y float64)
	line(x, y float64)
	curve(x1, y1, x2, y2, x, y float64)
	shut()
}

// walk gives a path to a walker; arcs become cubic curves of at most a quarter
// turn.
func (t *track) walk(path vg.Path, w walker) {
	started := false
	var from vg.Point // where the last component ended
	for _, c := range path {
		switch c.Type {
		case vg.MoveComp:
			x, y := t.at(c.Pos)
			w.move(x, y)
			started = true
		case vg.LineComp:
			x, y := t.at(c.Pos)
			w.line(x, y)
		case vg.ArcComp:
			on := func(angle float64) vg.Point {
				sin, cos := math.Sincos(angle)
				return vg.Point{X: c.Pos.X + c.Radius*vg.Length(cos), Y: c.Pos.Y + c.Radius*vg.Length(sin)}
			}
			x, y := t.at(on(c.Start))
			if started {
				w.line(x, y)
			} else {
				w.move(x, y)
				started = true
			}
			n := int(math.Ceil(math.Abs(c.Angle)/(math.Pi/2) - 1e-9))
			step := c.Angle / float64(max(n, 1))
			k := 4. / 3 * math.Tan(step/4)
			for i := range n {
				a, b := c.Start+float64(i)*step, c.Start+float64(i+1)*step
				p, q := on(a), on(b)
				along := func(from vg.Point, angle, k float64) (float64, float64) {
					sin, cos := math.Sincos(angle)
					return t.at(vg.Point{X: from.X - c.Radius*vg.Length(k*sin), Y: from.Y + c.Radius*vg.Length(k*cos)})
				}
				x1, y1 := along(p, a, k)
				x2, y2 := along(q, b, -k)
				x, y := t.at(q)
				w.curve(x1, y1, x2, y2, x, y)
			}
		case vg.CurveComp:
			x, y := t.at(c.Pos)
			first, second := c.Control[0], c.Control[len(c.Control)-1]
			if len(c.Control) == 1 { // a quadratic curve as a cubic one
				toward := func(end vg.Point) vg.Point {
					return vg.Point{X: end.X + (first.X-end.X)*2/3, Y: end.Y + (first.Y-end.Y)*2/3}
				}
				first, second = toward(from), toward(c.Pos)
			}
			x1, y1 := t.at(first)
			x2, y2 := t.at(second)
			w.curve(x1, y1, x2, y2, x, y)
		case vg.CloseComp:
			w.shut()
		}
		from = c.Pos
		if c.Type == vg.ArcComp {
			sin, cos := math.Sincos(c.Start + c.Angle)
			from = vg.Point{X: c.Pos.X + c.Radius*vg.Length(cos), Y: c.Pos.Y + c.Radius*vg.Length(sin)}
		}
	}
}
