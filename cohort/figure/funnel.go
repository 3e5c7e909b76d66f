package figure

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
)

// FunnelOptions say what [Funnel] draws. Field is needed unless the audit is
// grouped by one field only.
type FunnelOptions struct {
	// Field is the field whose values are the units, such as surgeon or hospital.
	Field string

	// Joint and Procedure narrow the panels; empty means all.
	Joint, Procedure string

	// Target is the ratio that the limits are around; 0 means 1.
	Target float64

	// Names says which units are named beside their points. None is named, here
	// or in the data, unless asked for.
	Names Names

	// OverDispersion widens the limits if the units differ more than chance
	// makes them. See [benchmark.OverDispersion].
	OverDispersion bool

	// Own draws what is expected of units from all joints of their department
	// (audit.Options.ExpectedOwn) instead of from published figures, with the limits
	// of a share of its revisions ([benchmark.BinomialFunnel]). Target and
	// over-dispersion are left out.
	Own bool

	Width vg.Length // 0 means DefaultWidth
}

// FewestNotDeficit is the number of units from which one unit's excess is no longer the
// others' deficit to speak of, where they are expected from one another.
const FewestNotDeficit = 10

// FewestInFunnel is the number of units of a joint and procedure from which a funnel says
// more than a table; fewer stand in one.
const FewestInFunnel = 5

// Funnel draws the units of a department, each as a point: observed over
// expected revisions against expected, with limits at 95 % and 99.8 % around the
// target ([benchmark.FunnelLimits]). There is a panel for each joint and
// procedure that has units with revisions expected; what is left out is named in
// the notes, and it is an error if all is. Units are not ordered, and not named
// unless asked for. Joints whose unit is not recorded are not a unit.
//
// Fewer than five units, and those of a department whose ratios are not shown
// ([audit.Unit.Shown]), stand in a table instead.
//
// Points above the end of the axis, as of units with hardly a revision expected,
// are drawn as a triangle at its end. Limits are drawn from half a revision
// expected on, or a quarter of the axis if that is less; with fewer, a single
// revision decides. Joints and procedures with fewer than 10 joints are left
// out.
//
// Of an audit made safe to share the points are rounded, and units joined to others
// are none; a unit lies outside where all that its numbers can stand for does, and
// over-dispersion is not judged.
func Funnel(a *audit.Audit, o FunnelOptions) (*Figure, error) {
	if err := errors.Join(checkWidth(&o.Width), hasField(a, o.Field)); err != nil {
		return nil, err
	}
	switch {
	case o.Field == "" && len(a.By) != 1:
		return nil, fmt.Errorf("figure: a funnel needs the field whose values are its units; the audit is grouped by %q", a.By)
	case o.Field == "":
		o.Field = a.By[0]
	}
	if o.Target == 0 {
		o.Target = 1
	}
	if !(o.Target >= 0.01 && o.Target <= 100) {
		return nil, fmt.Errorf("figure: a target ratio of %v, want 0.01 to 100", o.Target)
	}
	f := &funnel{options: o, shared: sharedNotes(a)}
	parts, err := partsOf(a, o.Joint, o.Procedure)
	if err != nil {
		return nil, err
	}
	set := &panels{columns: 1}
	for _, all := range parts {
		f.add(a, all)
	}
	if len(f.panels) == 0 {
		return nil, f.leftOut.err()
	}
	for _, p := range f.panels {
		if !p.few() {
			set.all = append(set.all, f.panel(p))
		}
		for _, u := range p.units {
			if u.series != nil {
				f.sources.add(u.series)
			}
		}
	}
	drawn := &Figure{Title: "Observed over expected revisions, by " + fieldWords(o.Field) + f.sources.inventedWords(), Subtitle: "Followed to " + closingWords(a) + ".",
		Alternative: f.alternative(), Notes: f.notes(), Day: dayOf(a), data: f.data()}
	for _, p := range f.panels {
		for _, u := range p.units {
			if u.name != "" {
				drawn.groups = append(drawn.groups, p.title()+u.name)
			}
		}
	}
	blocks := f.tables()
	if len(set.all) > 0 {
		blocks = append([]block{set}, blocks...)
	}
	return drawn.stacked(o.Width, blocks...), nil
}

// The levels of a funnel's limits, and how they are drawn.
var funnelLevels = [...]struct {
	level float64
	label string
	line  stroke
}{
	{benchmark.FunnelLevels[0], "95 %", stroke{ink: rgb(0x444444), width: .9, dashes: []vg.Length{5, 2}}},
	{benchmark.FunnelLevels[1], "99.8 %", stroke{ink: rgb(0x444444), width: .9, dashes: []vg.Length{1.2, 1.6}}},
}

// funnel is the figure as laid out.
type funnel struct {
	options FunnelOptions
	panels  []*funnelPanel
	sources sources
	leftOut leftOut
	shared  []string // what was done to share it
}

type funnelPanel struct {
	joint, procedure string
	units            []funnelUnit
	x, y             scale

	department float64  // revisions that units are expected from, where these are the department's own
	counts     bool     // units' ratios are not shown ([audit.Unit.Shown])
	within     []string // fields within which they are

	dispersion benchmark.Dispersion
	judged     error // why over-dispersion was not judged; nil if it was

	unexpected  int   // units without an expected number
	joined      int   // units that are not told by themselves
	notRecorded int64 // joints whose unit is not recorded

	curve [][4]float64 // limits at the numbers expected in at
	at    []float64
}

type funnelUnit struct {
	name string // "" unless it is to be named
	benchmark.Unit
	ratio  float64
	sides  [2]benchmark.Reading // around a target of 1
	limits [4]float64           // lower and upper at each level
	series *benchmark.Series
	chance float64 // of being outside the inner limits
}

// source is what is expected of it from.
func (u funnelUnit) source() string {
	if u.series == nil {
		return "own department"
	}
	return u.series.Source
}

func (f *funnel) add(a *audit.Audit, all *audit.Group) {
	p := &funnelPanel{joint: all.Word("joint"), procedure: all.Word("procedure")}
	if all.Joints < fewestAtRisk {
		f.leftOut.add(all, fewJoints)
		return
	}
	if f.options.Own {
		f.fromDepartment(p, a)
	} else {
		f.fromPublished(p, a, all)
	}
	switch {
	case len(p.units) > 0:
	case p.joined > 0 || a.Shared != nil && len(a.Fields(all, f.options.Field)) == 0:
		f.leftOut.add(all, joinedUnits)
		return
	default:
		f.leftOut.add(all, nothingExpected)
		return
	}
	// Units of a table that are all named stand as the audit has them. Others by the number
	// expected, which says nothing of whose unit it is; the audit's order would, to whoever
	// has a list of the names.
	if !p.few() || slices.ContainsFunc(p.units, func(u funnelUnit) bool { return u.name == "" }) {
		slices.SortStableFunc(p.units, func(a, b funnelUnit) int {
			return cmp.Or(cmp.Compare(a.Expected, b.Expected), cmp.Compare(a.Observed, b.Observed))
		})
	}
	var units []benchmark.Unit
	for _, u := range p.units {
		units = append(units, u.Unit)
	}
	switch {
	case f.options.Own:
		p.judged = errOwn
	case a.Shared != nil:
		p.judged = errRounded
	default:
		p.dispersion, p.judged = benchmark.OverDispersion(units, f.options.Target, benchmark.DefaultWinsorise)
	}
	for i := range p.units {
		p.units[i].limits = f.limits(p, p.units[i].Expected)
		if f.shared != nil && f.options.Target == 1 {
			p.units[i].keepSide()
		}
	}
	f.scale(p)
	f.panels = append(f.panels, p)
}

// keepSide moves the point of rounded numbers onto a limit that it has crossed.
func (u *funnelUnit) keepSide() {
	for i, side := range slices.Backward(u.sides[:]) {
		low, high := u.limits[2*i], u.limits[2*i+1]
		switch side {
		case benchmark.Above:
			u.ratio = max(u.ratio, high)
		case benchmark.Below:
			u.ratio = min(u.ratio, low)
		default:
			u.ratio = min(max(u.ratio, low), high)
		}
	}
}

// fromPublished are the units beside what published figures expect of them.
func (f *funnel) fromPublished(p *funnelPanel, a *audit.Audit, all *audit.Group) {
	for _, g := range a.Fields(all, f.options.Field) {
		name := g.Word(f.options.Field)
		e := g.Expected()
		switch {
		case name == cohort.NotRecorded:
			p.notRecorded += g.Joints
		case g.Joined > 1:
			p.joined += g.Joined
		case e == nil || !(e.Expected > 0) || e.Points < 2: // one point says too little of when
			p.unexpected++
		default:
			u := funnelUnit{Unit: benchmark.Unit{Observed: e.Observed, Expected: e.Expected}, ratio: e.Ratio, sides: e.Sides, series: e.Series,
				chance: benchmark.OutsideByChance(e.Expected, f.options.Target, .95)}
			if f.options.Names.has(name) {
				u.name = name
			}
			p.units = append(p.units, u)
		}
	}
}

// fromDepartment are the units beside what their own department expects of them.
func (f *funnel) fromDepartment(p *funnelPanel, a *audit.Audit) {
	for _, d := range a.Department {
		switch {
		case d.Joint != p.joint || d.Procedure != p.procedure || d.Value.Field != f.options.Field:
		case d.Value.Word == cohort.NotRecorded:
			p.notRecorded += d.Joints
		case math.IsNaN(d.Ratio):
			p.unexpected++
		default:
			p.department, p.within, p.counts = d.Department, d.Within, !d.Shown()
			u := funnelUnit{Unit: benchmark.Unit{Observed: d.Observed, Expected: d.Expected}, ratio: d.Ratio, chance: d.ByChance()}
			for i, v := range funnelLevels {
				switch low, high := benchmark.BinomialFunnel(d.Department, d.Expected/d.Department, v.level); {
				case d.Observed >= high:
					u.sides[i] = benchmark.Above
				case d.Observed <= low:
					u.sides[i] = benchmark.Below
				}
			}
			if f.options.Names.has(d.Value.Word) {
				u.name = d.Value.Word
			}
			p.units = append(p.units, u)
		}
	}
}

// errOwn: units that are expected from one another are not judged for over-dispersion.
var errOwn = errors.New("figure: units are expected from one another")

// errRounded: over-dispersion is not judged from rounded numbers.
var errRounded = errors.New("figure: the numbers are rounded")

const joinedUnits = "no unit has numbers that can be shared"

// limits at both levels, widened if that was asked for and called for.
func (f *funnel) limits(p *funnelPanel, expected float64) (l [4]float64) {
	for i, v := range funnelLevels {
		if f.options.Own {
			low, high := benchmark.BinomialFunnel(p.department, math.Min(expected/p.department, 1), v.level)
			l[2*i], l[2*i+1] = math.Max(0, low/expected), high/expected
			continue
		}
		if f.widened(p) {
			l[2*i], l[2*i+1] = p.dispersion.Limits(expected, f.options.Target, v.level)
		} else {
			l[2*i], l[2*i+1] = benchmark.FunnelLimits(expected, f.options.Target, v.level)
		}
	}
	return l
}

func (f *funnel) widened(p *funnelPanel) bool {
	return f.options.OverDispersion && p.judged == nil && p.dispersion.Widen
}

// scale sets the axes, and reads the limits along the horizontal one. To see are
// the ratios of all units with at least one revision expected, the limits at
// the least of these up to four times the target, and the end of the inner limit
// with some room up to six times.
func (f *funnel) scale(p *funnelPanel) {
	right, top := 0.0, 2*f.options.Target
	for _, u := range p.units {
		right = math.Max(right, u.Expected)
		if u.Expected >= 1 {
			top = math.Max(top, math.Max(u.ratio, math.Min(4*f.options.Target, u.limits[3])))
		}
	}
	p.x = countScale(1.03*right, 10)
	// Where hardly anything is expected of anybody, a limit at least.
	top = math.Max(top, math.Min(6*f.options.Target, 1.25*f.limits(p, p.x.to)[1]))
	p.y = ratioScale(top)
	const steps = 250
	from := math.Min(.5, p.x.to/4)
	for i := range steps + 1 { // closer together where the limits are steep
		x := from + (p.x.to-from)*math.Pow(float64(i)/steps, 2)
		p.at, p.curve = append(p.at, x), append(p.curve, f.limits(p, x))
	}
}

// outside counts the units outside the limits of a level; of widened limits, as
// drawn.
func (f *funnel) outside(p *funnelPanel, level int) int {
	n := 0
	for _, u := range p.units {
		side := u.sides[level]
		switch {
		case f.widened(p):
			side = benchmark.Compatible
			if u.ratio < u.limits[2*level] || u.ratio > u.limits[2*level+1] {
				side = benchmark.Above
			}
		case f.options.Target != 1:
			side = benchmark.FunnelSide(u.Observed, u.Expected, f.options.Target, funnelLevels[level].level)
		}
		if side != benchmark.Compatible {
			n++
		}
	}
	return n
}

const funnelRadius vg.Length = 2.6

func (p *funnelPanel) title() string { return capitalWord(word(p.joint)) + ", " + word(p.procedure) }

// panel is the panel as it is drawn.
func (f *funnel) panel(p *funnelPanel) *panel {
	return &panel{name: p.title(), style: labelText, axes: axes{x: p.x, y: p.y, lift: 3}, xTitle: "expected revisions", yTitle: "observed/expected",
		area: 190, right: defaultMeasure().width(labelText, funnelLevels[1].label) + 12, draw: func(pen *pen, a axes) { f.draw(pen, p, a) }}
}

func (f *funnel) draw(p *pen, panel *funnelPanel, a axes) {
	p.named("target", func() {
		p.line(stroke{ink: dark, width: .8}, a.at(a.x.from, f.options.Target), a.at(a.x.to, f.options.Target))
	})
	p.named("limits", func() {
		for i, v := range funnelLevels {
			for side := range 2 {
				var line []vg.Point
				for j, x := range panel.at {
					// Where the lower limit is 0 there is none to draw.
					if next := min(j+1, len(panel.at)-1); panel.curve[next][2*i+side] > 0 {
						line = append(line, a.at(x, panel.curve[j][2*i+side]))
					}
				}
				for _, part := range a.clipLine(line) {
					p.line(v.line, part...)
				}
			}
		}
	})
	f.nameLimits(p, a, panel)
	ink := ownInk
	inside := ink // see-through, so that points over one another are darker
	inside.A = 0x70
	var points []vg.Point
	for _, u := range panel.units {
		points = append(points, a.at(u.Expected, math.Min(u.ratio, a.y.to)))
	}
	names := p.names(a, panel, points)
	p.named("names", func() {
		for _, n := range names {
			if n.leader {
				p.line(stroke{ink: grey, width: .5}, n.point, n.end)
			}
			p.fill(white, n.ground()...)
			p.text(labelText, n.at, left, n.text)
		}
	})
	p.named("units", func() {
		for i, u := range panel.units {
			if u.ratio > a.y.to {
				p.marker(triangle, points[i], funnelRadius, inside, ink)
			} else {
				p.marker(circle, points[i], funnelRadius, inside, ink)
			}
		}
	})
}

// nameLimits writes the levels at the right ends of the limits, where these are
// on the axes.
func (f *funnel) nameLimits(p *pen, a axes, panel *funnelPanel) {
	end := panel.curve[len(panel.curve)-1]
	p.named("limit names", func() {
		for side, away := range []vg.Length{-1, 1} {
			last := -away * 1e6 // of the inner one
			for i, v := range funnelLevels {
				limit := end[2*i+side]
				if limit <= 0 || limit > a.y.to {
					continue
				}
				y := a.atY(limit)
				if away*(y-last) < labelText.leading() {
					y = last + away*labelText.leading()
				}
				last = y
				p.text(labelText, vg.Point{X: a.area.Max.X + 4, Y: y - .36*labelText.size}, left, v.label)
			}
		}
	})
}

// placedName is a unit's name and where it goes.
type placedName struct {
	text       string
	at         vg.Point // base line, left end
	leader     bool
	point, end vg.Point // of the leader
	box        vg.Rectangle
}

// ground is what is under a name, so that limits do not cross its letters.
func (n *placedName) ground() []vg.Point {
	return []vg.Point{n.box.Min, {X: n.box.Max.X, Y: n.box.Min.Y}, n.box.Max, {X: n.box.Min.X, Y: n.box.Max.Y}}
}

// names places the names that were asked for: beside the point, or further off
// with a line to it, where neither a point nor another name is. Those for which
// there is no room are left out; the notes tell of it.
func (m measure) names(a axes, panel *funnelPanel, points []vg.Point) []placedName {
	var names []placedName
	var taken []vg.Rectangle
	for _, pt := range points {
		const r = funnelRadius + .6
		taken = append(taken, vg.Rectangle{Min: vg.Point{X: pt.X - r, Y: pt.Y - r}, Max: vg.Point{X: pt.X + r, Y: pt.Y + r}})
	}
	free := func(b vg.Rectangle) bool {
		if b.Min.X < a.area.Min.X+1 || b.Max.X > a.area.Max.X || b.Min.Y < a.area.Min.Y+1 || b.Max.Y > a.area.Max.Y+8 {
			return false
		}
		return !slices.ContainsFunc(taken, func(t vg.Rectangle) bool {
			return b.Min.X < t.Max.X && t.Min.X < b.Max.X && b.Min.Y < t.Max.Y && t.Min.Y < b.Max.Y
		})
	}
	s := labelText
	for i, u := range panel.units {
		if u.name == "" {
			continue
		}
		name := word(u.name)
		w := m.width(s, name)
	search:
		for _, away := range []vg.Length{5, 14, 24, 34} {
			for _, d := range []struct{ x, y vg.Length }{{1, 0}, {-1, 0}, {.6, 1}, {.6, -1}, {-.6, 1}, {-.6, -1}, {1, .6}, {-1, .6}, {1, -.6}, {-1, -.6}} {
				end := vg.Point{X: points[i].X + d.x*away, Y: points[i].Y + d.y*away}
				at := vg.Point{X: end.X, Y: end.Y - .36*s.size}
				if d.x < 0 {
					at.X -= w
				}
				box := vg.Rectangle{Min: vg.Point{X: at.X - 1, Y: at.Y - .2*s.size}, Max: vg.Point{X: at.X + w + 1, Y: at.Y + .8*s.size}}
				leader := along(points[i], end)
				if away == 5 {
					leader = nil
				}
				if !free(box) || slices.ContainsFunc(leader, func(r vg.Rectangle) bool { return !free(r) }) {
					continue
				}
				taken = append(append(taken, box), leader...)
				names = append(names, placedName{text: name, at: at, leader: away > 5, point: points[i], end: end, box: box})
				break search
			}
		}
	}
	return names
}

// along are small rectangles along a line, from just off a point to its end.
func along(from, to vg.Point) []vg.Rectangle {
	const n = 6
	var all []vg.Rectangle
	for i := 2; i < n; i++ {
		t := vg.Length(i) / n
		pt := vg.Point{X: from.X + t*(to.X-from.X), Y: from.Y + t*(to.Y-from.Y)}
		all = append(all, vg.Rectangle{Min: vg.Point{X: pt.X - .5, Y: pt.Y - .5}, Max: vg.Point{X: pt.X + .5, Y: pt.Y + .5}})
	}
	return all
}

// unitsWords are a number of units in words.
func (f *funnel) unitsWords(n int) string {
	unit := fieldWords(f.options.Field)
	if unit != "surgeon" && unit != "hospital" {
		unit = "group"
	}
	if n == 1 {
		return "1 " + unit
	}
	return fmt.Sprintf("%d %ss", n, unit)
}

func (f *funnel) notes() []string {
	target := audit.Number(f.options.Target)
	kind := "They are exact Poisson limits"
	if f.options.Own {
		kind = "They are exact limits of a share of the department's revisions, given their sum"
	}
	if slices.ContainsFunc(f.panels, f.widened) {
		kind += ", and where they are widened the outer of these and Normal ones"
	}
	var notes []string
	drawn := slices.DeleteFunc(slices.Clone(f.panels), (*funnelPanel).few)
	if len(drawn) > 0 {
		notes = append(notes, "A point outside the limits is a question, to be put first to the quality of the data and to case mix; it is not an answer.",
			fmt.Sprintf("Solid: observed/expected %s. Dashed: 95 %% limits around it; dotted: 99.8 %%. %s (Spiegelhalter, Stat Med 2005;24:1185).", target, kind))
	}
	if len(drawn) < len(f.panels) {
		few := fmt.Sprintf("Fewer than %d units are a table", FewestInFunnel)
		if f.options.Own {
			few += fmt.Sprintf(", and so are those of a department with fewer than %d revisions", audit.FewestForRatio)
		}
		notes = append(notes, few+". A dot is a revision; upright: expected; grey behind: what chance alone leaves of 95 of 100. A count beyond it is a question, to be put first to the quality of the data and to case mix; it is not an answer.")
	}
	var said, tops []string
	of := make(map[string][]string) // the panels that each is said of
	for _, p := range f.panels {
		f.panelNotes(p, func(format string, args ...any) {
			note := fmt.Sprintf(format, args...)
			if of[note] == nil {
				said = append(said, note)
			}
			of[note] = append(of[note], p.title())
		})
		if top := audit.Number(p.y.to); !p.few() && !slices.Contains(tops, top) {
			tops = append(tops, top)
		}
	}
	for _, note := range said {
		if len(of[note]) < len(f.panels) {
			note = strings.Join(of[note], "; ") + ": " + note
		}
		notes = append(notes, capitalWord(note))
	}
	if f.shared != nil {
		notes = append(notes, "Points are rounded; one is outside where all that its numbers can stand for is, and else stands inside or on a limit. Over-dispersion is not judged.")
		notes = append(notes, f.shared...)
	}
	axis := "The vertical axis ends"
	if len(tops) > 1 {
		axis = "The vertical axes end"
	}
	if len(tops) > 0 {
		notes = append(notes, axis+" at "+inWords(tops)+".")
	}
	notes = append(notes, f.sources.notes("expected from ", true)...)
	return append(notes, f.leftOut.notes()...)
}

// panelNotes say of a panel's units what is not to be seen.
func (f *funnel) panelNotes(p *funnelPanel, add func(string, ...any)) {
	by := 0.0
	for _, u := range p.units {
		by += u.chance
	}
	if f.options.Own {
		of := []string{"joint", "procedure"}
		for _, field := range p.within {
			of = append(of, fieldWords(field))
		}
		add("expected as all joints of the department were revised, of their %s; a unit's own are among them.", inWords(of))
		if len(p.units) < FewestNotDeficit {
			add("with fewer than ten units one unit's excess is the others' deficit.")
		}
	}
	exact := ""
	if f.widened(p) {
		exact = " that are not widened"
	}
	if about := "about " + oneDecimal(by); len(p.units) > 1 {
		if by < .05 {
			about = "fewer than 0.1"
		}
		add("by chance alone %s of the %s would lie outside 95 %% limits%s.", about, f.unitsWords(len(p.units)), exact)
	}
	if f.shared != nil {
		add("%s outside 95 %% limits, whatever the rounded numbers stand for.", f.unitsWords(f.outside(p, 0)))
	}
	f.noteDispersion(p, add)
	if !p.few() {
		above, outside := 0, 0
		for _, u := range p.units {
			if u.ratio > p.y.to {
				above++
				if u.ratio > u.limits[1] {
					outside++
				}
			}
		}
		if above > 0 {
			of := fmt.Sprintf("%d of them outside", outside)
			if above == 1 {
				of = [...]string{"inside", "outside"}[outside]
			}
			add("%s above the end of the axis, drawn as a triangle, %s 95 %% limits.", f.unitsWords(above), of)
		}
	}
	if p.unexpected > 0 {
		add("%s without an expected number left out.", f.unitsWords(p.unexpected))
	}
	if p.notRecorded > 0 {
		add("%d joints of which the %s is not recorded left out.", p.notRecorded, fieldWords(f.options.Field))
	}
	if p.joined > 0 {
		add("%s left out, whose numbers are too small to be shared.", f.unitsWords(p.joined))
	}
	if n := f.unnamed(p); n > 0 {
		if n == 1 {
			add("1 name left out for want of room.")
		} else {
			add("%d names left out for want of room.", n)
		}
	}
}

// noteDispersion says what was made of over-dispersion.
func (f *funnel) noteDispersion(p *funnelPanel, add func(string, ...any)) {
	d := p.dispersion
	found := fmt.Sprintf("φ %.2f from %s with at least 1 revision expected (%.2f with the %d furthest out on each side as they stand; P %s)",
		d.Phi, f.unitsWords(d.Units), d.Raw, d.Winsorised, probability(d.P))
	switch {
	case p.judged != nil:
		if f.options.OverDispersion && errors.Is(p.judged, benchmark.ErrFewUnits) {
			add("over-dispersion not judged, and limits not widened: that needs %s with at least 1 revision expected.", f.unitsWords(benchmark.FewestUnits))
		}
	case f.widened(p):
		exact := 0
		for _, u := range p.units {
			if benchmark.FunnelSide(u.Observed, u.Expected, f.options.Target, .95) != benchmark.Compatible {
				exact++
			}
		}
		add("limits widened for over-dispersion, by Spiegelhalter's method: %s. With it %d lie outside 95 %%, without it %d.", found, f.outside(p, 0), exact)
	case f.options.OverDispersion:
		add("over-dispersion not found, limits not widened: %s.", found)
	case d.Widen:
		add("the ratios differ more than chance makes them: %s. The limits do not allow for it.", found)
	default:
		add("no over-dispersion found: %s.", found)
	}
}

// probability is a P value in words.
func probability(p float64) string {
	if p < .001 {
		return "below 0.001"
	}
	return fmt.Sprintf("%.3f", p)
}

// unnamed is how many names there is no room for, in the default font.
func (f *funnel) unnamed(p *funnelPanel) int {
	asked := 0
	for _, u := range p.units {
		if u.name != "" {
			asked++
		}
	}
	if asked == 0 || p.few() {
		return 0
	}
	m := defaultMeasure()
	a := f.panel(p).placed(m, vg.Point{Y: 500}, f.options.Width, 0)
	var points []vg.Point
	for _, u := range p.units {
		points = append(points, a.at(u.Expected, math.Min(u.ratio, a.y.to)))
	}
	return asked - len(m.names(a, p, points))
}

func (f *funnel) alternative() string {
	var sentences []string
	for i, p := range f.panels {
		if i == 3 {
			sentences = append(sentences, fmt.Sprintf("There are %d more panels.", len(f.panels)-3))
			break
		}
		least, most := math.Inf(1), 0.0
		for _, u := range p.units {
			least, most = math.Min(least, u.Expected), math.Max(most, u.Expected)
		}
		expected := fmt.Sprintf("%s to %s", oneDecimal(least), oneDecimal(most))
		if len(p.units) == 1 {
			expected = oneDecimal(least)
		}
		sentences = append(sentences, fmt.Sprintf("%s: observed over expected revisions of %s, %s expected; %d outside the 95 %% limits around %s, of these %d outside the 99.8 %% limits.",
			p.title(), f.unitsWords(len(p.units)), expected, f.outside(p, 0), audit.Number(f.options.Target), f.outside(p, 1)))
	}
	return strings.Join(sentences, " ")
}

func (f *funnel) data() [][]string {
	records := [][]string{{"joint", "procedure", "shown_as", "field", "group", "observed", "expected", "ratio",
		"lower_95", "upper_95", "lower_99_8", "upper_99_8", "target", "widened", "phi", "expected_source", "axis_to"}}
	for _, p := range f.panels {
		as, axis := "point", audit.Number(p.y.to)
		if p.few() {
			as, axis = "table", ""
		}
		row := func(as, name, observed, expected, ratio string, l [4]float64, source string) {
			widened, phi := "no", ""
			if f.widened(p) {
				widened = "yes"
			}
			if p.judged == nil {
				phi = audit.Number(p.dispersion.Phi)
			}
			records = append(records, []string{text.Protect(p.joint), text.Protect(p.procedure), as, text.Protect(f.options.Field), text.Protect(name),
				observed, expected, ratio, audit.Number(l[0]), audit.Number(l[1]), audit.Number(l[2]), audit.Number(l[3]),
				audit.Number(f.options.Target), widened, phi, text.Protect(source), axis})
		}
		for _, u := range p.units {
			row(as, u.name, audit.Number(u.Observed), audit.Number(u.Expected), audit.Number(u.ratio), u.limits, u.source())
		}
		for i, x := range p.at {
			if p.few() {
				break
			}
			row("limits", "", "", audit.Number(x), "", p.curve[i], "")
		}
	}
	return records
}
