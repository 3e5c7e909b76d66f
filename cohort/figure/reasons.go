package figure

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/course"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
)

// ReasonsOptions say what [Reasons] draws. The zero value is the default.
type ReasonsOptions struct {
	Width vg.Length // 0 means DefaultWidth
}

// Reasons draws what has become of joints at each time since operation, stacked: those
// revised for each reason, those whose patients died unrevised, and above them the rest,
// who are neither; together they are all joints. For each joint and procedure there are two panels, one of
// revisions alone on a scale of their own. They end where fewer than 10 are at risk. Reasons beyond the
// first six by their number are drawn as one.
func Reasons(k *course.Course, o ReasonsOptions) (*Figure, error) {
	if err := checkWidth(&o.Width); err != nil {
		return nil, err
	}
	s := &stack{}
	set := &panels{columns: columnsFor(o.Width, 2)}
	for i := range k.Parts {
		if b := newBecome(&k.Parts[i]); b != nil {
			set.all = append(set.all, s.panels(b)...)
			s.all = append(s.all, b)
		} else {
			s.leftOut = append(s.leftOut, titleWords(k.Parts[i].Joint, k.Parts[i].Procedure))
		}
	}
	if len(s.all) == 0 {
		return nil, fmt.Errorf("%w: in no joint and procedure is any revised while 10 are at risk", ErrNothingToDraw)
	}
	g := &Figure{Title: "What became of the joints, by reason for revision", Subtitle: "Followed to " + closingOn(k.Closing) + ".", data: s.data()}
	g.Day, _ = time.Parse(time.DateOnly, k.Closing.Day.String())
	g.Alternative = s.alternative()
	g.Notes = []string{
		"From below: revised for each reason, died unrevised; white: neither. Together all joints at every time (cumulative incidence, Aalen–Johansen): what happened to these patients, not what the implants would do if nobody died. Drawn while 10 are at risk.",
		"A description of one practice's own table. Reasons are as good as their record, and revisions done elsewhere may be missing.",
	}
	if !k.Deaths.Recorded {
		g.Notes = append(g.Notes, "Deaths are not recorded: the dead stay among those who are neither, and every reason comes out a little too high or low.")
	}
	if len(s.leftOut) > 0 {
		g.Notes = append(g.Notes, "Left out, with nobody revised while 10 are at risk: "+strings.Join(s.leftOut, "; ")+".")
	}
	return g.stacked(o.Width, set), nil
}

func titleWords(joint, procedure string) string {
	return capitalWord(word(joint)) + ", " + word(procedure)
}

func closingOn(c cohort.Closing) string {
	d, err := time.Parse(time.DateOnly, c.Day.String())
	if err != nil {
		return c.Day.String()
	}
	return d.Format("2 January 2006")
}

// stack is the figure as laid out.
type stack struct {
	all     []*become
	leftOut []string
}

// become is one joint and procedure: at each day the proportion in each layer, from below.
type become struct {
	title, joint, procedure string
	layers                  []layer
	revised                 int // of the layers, those that are revisions
	years                   []float64
}

type layer struct {
	name string
	ink  color.NRGBA
	at   []float64 // as years
}

// mostReasons is how many reasons are drawn apart.
const mostReasons = 6

// reasonInks are the inks of reasons from below.
var reasonInks = []color.NRGBA{rgb(0x17465A), rgb(0x4F7F93), rgb(0x8FB1BF), rgb(0x2E6E4E), rgb(0x7DAE94), rgb(0xB9A45C), rgb(0xD9CDA6)}

// newBecome reads a part at all days on which a layer may change; nil if nobody is revised by the
// last day with ten at risk.
func newBecome(p *course.Part) *become {
	last := lastWith(p.Gone, benchmark.FewestAtRisk)
	reasons := slices.Clone(p.Reasons)
	slices.SortStableFunc(reasons, func(a, b course.Reason) int { return cmp.Compare(b.Revised, a.Revised) })
	days := []float64{0}
	for _, day := range p.Gone.Time {
		if day <= last && day > 0 {
			days = append(days, day)
		}
	}
	if last > days[len(days)-1] {
		days = append(days, last)
	}
	b := &become{title: titleWords(p.Joint, p.Procedure), joint: p.Joint, procedure: p.Procedure}
	for _, day := range days {
		b.years = append(b.years, day/cohort.DaysPerYear)
	}
	read := func(c *survival.Curve) []float64 {
		var at []float64
		for _, day := range days {
			x, _ := c.At(day, survival.Interval{})
			at = append(at, x.Estimate)
		}
		return at
	}
	for i, r := range reasons {
		at := read(r.Incidence)
		if i < mostReasons {
			b.layers = append(b.layers, layer{r.Word, reasonInks[i], at})
			continue
		}
		if i == mostReasons {
			b.layers = append(b.layers, layer{"other reasons", reasonInks[mostReasons], make([]float64, len(days))})
		}
		for j, x := range at {
			b.layers[mostReasons].at[j] += x
		}
	}
	b.revised = len(b.layers)
	if len(days) < 2 || b.revised == 0 || b.top(b.revised, len(days)-1) == 0 {
		return nil
	}
	b.layers = append(b.layers, layer{"died", bandInk, read(p.Death)})
	return b
}

// lastWith is the last day with so many at risk; 0 if there is none.
func lastWith(c *survival.Curve, fewest float64) float64 {
	low, high := 0.0, 60*cohort.DaysPerYear
	for high-low > .5 {
		middle := math.Floor((low + high) / 2)
		if middle == low {
			break
		}
		if p, ok := c.At(middle, survival.Interval{}); ok && p.AtRisk >= fewest {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// top is how high so many layers stand at a time.
func (b *become) top(layers, at int) float64 {
	sum := 0.0
	for _, l := range b.layers[:layers] {
		sum += l.at[at]
	}
	return sum
}

// panels are all layers, and the revisions alone.
func (s *stack) panels(b *become) []*panel {
	end := len(b.years) - 1
	x := evenScale(b.years[end], 1)
	if b.years[end] > 8 {
		x = evenScale(b.years[end], 2)
	}
	room := vg.Length(0)
	for _, l := range b.layers {
		room = max(room, defaultMeasure().width(smallText, word(l.name)))
	}
	of := func(layers int, said string, y scale) *panel {
		q := &panel{name: b.title, after: said, style: labelText, axes: axes{x: x, y: y}, xTitle: "years since operation", yTitle: "%", area: 130, right: min(room+6, 90)}
		q.draw = func(p *pen, a axes) { b.draw(p, a, layers) }
		return q
	}
	return []*panel{of(len(b.layers), "all", percentScale(1)),
		of(b.revised, "revised", percentScale(1.05*b.top(b.revised, end), 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80))}
}

// draw fills the layers, each between the sums below and with it, and names them at the end.
func (b *become) draw(p *pen, a axes, layers int) {
	end := len(b.years) - 1
	p.named("layers", func() {
		for i := range layers {
			lower, upper := b.edge(a, i), b.edge(a, i+1)
			slices.Reverse(lower)
			p.fill(b.layers[i].ink, append(upper, lower...)...)
		}
	})
	p.named("names", func() {
		s := smallText
		last := -vg.Length(1e6)
		for i := range layers {
			if layers > b.revised && i < b.revised {
				continue // slivers, named beside
			}
			y := max(a.atY((b.top(i, end)+b.top(i+1, end))/2)-.36*s.size, last+s.leading())
			last = y
			p.text(s, vg.Point{X: a.area.Max.X + 4, Y: y}, left, p.fit(s, word(b.layers[i].name), 86))
		}
		if layers > b.revised {
			p.text(s, vg.Point{X: a.area.Max.X + 4, Y: a.atY(0)}, left, "revised")
			p.text(s, vg.Point{X: a.area.Max.X + 4, Y: a.area.Max.Y - s.size}, left, "neither")
		}
	})
}

// edge is the step line over so many layers.
func (b *become) edge(a axes, layers int) []vg.Point {
	var line []vg.Point
	for i, x := range b.years {
		y := b.top(layers, i)
		if i > 0 {
			line = append(line, a.at(x, b.top(layers, i-1)))
		}
		line = append(line, a.at(x, y))
	}
	return line
}

func (s *stack) alternative() string {
	var said []string
	for i, b := range s.all {
		if i == 3 {
			said = append(said, fmt.Sprintf("There are %d more joints and procedures.", len(s.all)-3))
			break
		}
		end := len(b.years) - 1
		var parts []string
		for _, l := range b.layers {
			parts = append(parts, l.name+" "+inPercent(l.at[end])+" %")
		}
		said = append(said, fmt.Sprintf("%s, by %s years: %s, neither %s %%.", b.title, oneDecimal(b.years[end]), strings.Join(parts, ", "), inPercent(1-b.top(len(b.layers), end))))
	}
	return strings.Join(said, " ")
}

func (s *stack) data() [][]string {
	records := [][]string{{"joint", "procedure", "layer", "years", "proportion", "from", "to"}}
	for _, b := range s.all {
		for i, l := range b.layers {
			for j, y := range b.years {
				records = append(records, []string{text.Protect(b.joint), text.Protect(b.procedure), text.Protect(l.name), audit.Number(y), audit.Number(l.at[j]), audit.Number(b.top(i, j)), audit.Number(b.top(i+1, j))})
			}
		}
	}
	return records
}
