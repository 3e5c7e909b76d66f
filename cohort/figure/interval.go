package figure

import (
	"errors"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// IntervalsOptions say what [Intervals] draws. The zero value is the default.
type IntervalsOptions struct {
	// Field is the field whose groups are drawn, the other fields pooled. Empty
	// means every field the audit is grouped by, one after the other.
	Field string

	// Years since operation; it must be one the audit was read at. 0 means five,
	// or if the audit was not asked for five the last it was asked for.
	Years float64

	// Estimand is Kaplan–Meier, the incidence, or both, in panels of their own.
	Estimand Estimand

	// Joint and Procedure narrow the panels; empty means all.
	Joint, Procedure string

	Width vg.Length // 0 means DefaultWidth
}

// Intervals draws the groups of an audit at one year: a line for each, in the
// audit's order, with the estimate and its interval, the published figure it is
// compared with below it, and the numbers at risk and revised beside it. There
// is a panel for each joint and procedure, each with an axis of its own.
//
// Groups with fewer at risk than the audit's floor are faint; with fewer than
// [benchmark.FewestAtRisk] revised/joints stands in place of the estimate. An
// interval that goes on beyond the axis ends in an arrow.
//
// It is an error if the audit has no such groups, was not read at that year, or
// has no cumulative incidence where that is asked for.
func Intervals(a *audit.Audit, o IntervalsOptions) (*Figure, error) {
	if err := checkWidth(o.Width); err != nil {
		return nil, err
	}
	width := o.Width
	if width == 0 {
		width = DefaultWidth
	}
	var estimands []survival.Estimand
	switch o.Estimand {
	case KaplanMeier:
		estimands = append(estimands, survival.OneMinusKaplanMeier)
	case Incidence:
		estimands = append(estimands, survival.Incidence)
	case Both:
		estimands = append(estimands, survival.OneMinusKaplanMeier, survival.Incidence)
	default:
		return nil, fmt.Errorf("figure: unknown estimand %d", o.Estimand)
	}
	if o.Estimand != KaplanMeier && !a.Deaths.Recorded {
		return nil, errors.New("figure: there is no cumulative incidence, as deaths are not recorded")
	}
	fields := a.By
	if o.Field != "" {
		if !slices.Contains(a.By, o.Field) {
			return nil, fmt.Errorf("figure: the audit is not grouped by %s", word(o.Field))
		}
		fields = []string{o.Field}
	}
	years := o.Years
	if years == 0 {
		years = a.Years[len(a.Years)-1]
		if slices.Contains(a.Years, 5) {
			years = 5
		}
	}
	f := &intervals{audit: a, estimands: estimands, years: years}
	for _, all := range panelsOf(a, o.Joint, o.Procedure) {
		for _, e := range estimands {
			panel, err := f.panel(all, e, fields)
			if err != nil {
				return nil, err
			}
			f.panels = append(f.panels, *panel)
		}
	}
	if len(f.panels) == 0 {
		return nil, noPanel(o.Joint, o.Procedure)
	}
	f.layOut(width)
	_, height := f.key(width)
	for i := range f.panels {
		height += f.panels[i].height()
	}
	return newFigure(f.title(), f.alternative(), f.notes(), width, height, f.data(), func(p *pen) { f.draw(p) }), nil
}

// intervals is a figure of intervals as laid out.
type intervals struct {
	audit     *audit.Audit
	estimands []survival.Estimand
	years     float64
	panels    []intervalPanel
	sources   sources // of published figures

	labels, numbers, count vg.Length // widths of the columns
}

type intervalPanel struct {
	joint, procedure string
	estimand         survival.Estimand
	lines            []intervalLine
	axis             scale
	cut              bool // an interval goes on beyond the axis
}

// intervalLine is one line of a panel: a group, or the name of a field.
type intervalLine struct {
	field     string // the field that the lines below are of; the others are then empty
	label     string
	group     *audit.Group
	row       *audit.Row
	point     survival.Point
	state     intervalState
	published *benchmark.Comparison
	wider     bool // the published figure is of more than the group: it does not state the field
}

// intervalState is how the own estimate of a line is shown.
type intervalState uint8

const (
	shownPlain  intervalState = iota
	shownFaint                // fewer at risk than the floor
	shownCounts               // fewer than ten: revised/joints
	shownHidden               // not told, to be safe for sharing
	shownBeyond               // nobody was followed that long
)

var intervalStates = [...]string{"estimate", "faint estimate", "revised/joints", "hidden", "beyond follow-up"}

func (f *intervals) panel(all *audit.Group, e survival.Estimand, fields []string) (*intervalPanel, error) {
	p := &intervalPanel{joint: all.Word("joint"), procedure: all.Word("procedure"), estimand: e}
	add := func(label, field string, g *audit.Group) error {
		l, err := f.line(label, field, g, e)
		if err == nil {
			p.lines = append(p.lines, l)
		}
		return err
	}
	if err := add("All joints", "", all); err != nil {
		return nil, err
	}
	for _, field := range fields {
		groups := groupsOf(f.audit, all, field)
		if len(groups) == 0 {
			continue
		}
		p.lines = append(p.lines, intervalLine{field: field})
		for _, g := range groups {
			if err := add(g.Word(field), field, g); err != nil {
				return nil, err
			}
		}
	}
	p.scale()
	return p, nil
}

func (f *intervals) line(label, field string, g *audit.Group, e survival.Estimand) (intervalLine, error) {
	l := intervalLine{label: label, group: g}
	for i := range g.Rows {
		if g.Rows[i].Years == f.years {
			l.row = &g.Rows[i]
		}
	}
	if l.row == nil {
		return l, fmt.Errorf("figure: the audit was not read at %s years", audit.Number(f.years))
	}
	l.point = l.row.KaplanMeier
	if e == survival.Incidence {
		l.point = l.row.Incidence
	}
	l.state = stateOf(f.audit, l.row, l.point)
	if c := l.row.Comparison; c != nil {
		if own, ok := c.Series.Estimand.Own(); ok && own == e {
			l.published = c
		}
	}
	if l.published == nil && e == survival.OneMinusKaplanMeier && l.row.Comparison == nil {
		l.published = l.row.Threshold
	}
	if l.published != nil {
		f.sources.add(l.published.Series)
		l.wider = field != "" && !states(l.published.Series, field)
	}
	return l, nil
}

// states reports whether a published series is of part of a field's values.
func states(s *benchmark.Series, field string) bool {
	switch field {
	case "bearing":
		return s.Bearing != ""
	case "fixation":
		return s.Fixation != ""
	case "sex":
		return s.Sex != ""
	case "age_band":
		return s.Age != (benchmark.AgeInterval{})
	}
	return false
}

// stateOf says how an estimate is shown.
func stateOf(a *audit.Audit, r *audit.Row, p survival.Point) intervalState {
	switch {
	case !r.Reached:
		return shownBeyond
	case math.IsNaN(r.KaplanMeier.AtRisk) || r.KaplanMeier.AtRisk < 0:
		return shownHidden
	case r.KaplanMeier.AtRisk < benchmark.FewestAtRisk:
		return shownCounts
	case math.IsNaN(p.Estimate):
		return shownHidden
	case r.KaplanMeier.AtRisk < floorOf(a.Interval):
		return shownFaint
	}
	return shownPlain
}

// scale ends the axis where all there is to see lies on it: estimates, published
// figures with their limits, and limits of estimates that are not faint. What
// a few joints leave open ends in an arrow.
func (p *intervalPanel) scale() {
	to := 0.0
	see := func(xs ...float64) {
		for _, x := range xs {
			if x > to { // not NaN
				to = x
			}
		}
	}
	for _, l := range p.lines {
		if l.group == nil {
			continue
		}
		if l.published != nil {
			see(l.published.Figure.Revision, l.published.Figure.Upper)
		}
		switch l.state {
		case shownPlain:
			see(l.point.Estimate, l.point.Upper)
		case shownFaint:
			see(l.point.Estimate)
		}
	}
	p.axis = percentScale(intervalTop(100 * to))
	for _, l := range p.lines {
		if l.group != nil && l.state <= shownFaint && l.point.Upper > p.axis.to {
			p.cut = true
		}
	}
}

// intervalTop is the least of some round numbers of per cent that is not below x.
func intervalTop(x float64) float64 {
	for _, top := range []float64{1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80} {
		if x <= top {
			return top
		}
	}
	return 100
}

// Lengths of figures of intervals.
const (
	intervalKeyHeight vg.Length = 16
	intervalHeading   vg.Length = 27 // of a panel: its name and the columns'
	intervalStep      vg.Length = 14 // from group to group
	intervalFieldStep vg.Length = 15 // for the name of a field
	intervalGap       vg.Length = 12 // between panels
	intervalSample    vg.Length = 20 // of a line and marker in the key
	columnGap         vg.Length = 8
)

func (p *intervalPanel) linesHeight() vg.Length {
	h := vg.Length(0)
	for _, l := range p.lines {
		h += l.height()
	}
	return h
}

func (l *intervalLine) height() vg.Length {
	if l.group == nil {
		return intervalFieldStep
	}
	return intervalStep
}

func (p *intervalPanel) height() vg.Length {
	return intervalHeading + p.linesHeight() + 4 + frameBelow(labelText) + intervalGap
}

// layOut sets the widths of the columns.
func (f *intervals) layOut(width vg.Length) {
	m := defaultMeasure()
	f.numbers, f.count = m.width(labelText, f.numbersTitle()), max(m.width(labelText, "at risk"), m.width(labelText, "revised"))
	for _, p := range f.panels {
		for i := range p.lines {
			l := &p.lines[i]
			if l.group == nil {
				f.labels = max(f.labels, m.width(labelText, fieldTitle(l.field)))
				continue
			}
			f.labels = max(f.labels, m.width(labelText, word(l.label)))
			f.numbers = max(f.numbers, m.width(labelText, l.numbers()))
			f.count = max(f.count, m.width(labelText, counted(l.row.KaplanMeier.AtRisk)), m.width(labelText, l.revised()))
		}
	}
	f.labels = min(f.labels, .3*width)
}

func (f *intervals) numbersTitle() string { return "%, " + levelOf(f.audit) + " interval" }

// levelOf is the audit's confidence level in per cent.
func levelOf(a *audit.Audit) string {
	level := a.Interval.Level
	if level == 0 {
		level = 0.95
	}
	return levelPercent(level)
}

// levelPercent is a confidence level as 95 %.
func levelPercent(level float64) string {
	return strconv.FormatFloat(math.Round(1e6*level)/1e4, 'f', -1, 64) + " %"
}

// numbers are the estimate and its limits in words, or what stands for them.
func (l *intervalLine) numbers() string {
	switch l.state {
	case shownPlain, shownFaint:
		return inPercent(l.point.Estimate, l.point.Lower, l.point.Upper)
	case shownCounts:
		return counted(l.point.Events) + "/" + counted(float64(l.group.Joints)) + " revised"
	case shownHidden:
		return "*"
	}
	return "beyond follow-up"
}

func (l *intervalLine) revised() string {
	if l.state == shownBeyond {
		return ""
	}
	return counted(l.row.KaplanMeier.Events)
}

// inPercent is a proportion with its limits: 3.1 (2.0–4.6).
func inPercent(p, lower, upper float64) string {
	if math.IsNaN(lower) || math.IsNaN(upper) {
		return oneDecimal(100 * p)
	}
	return oneDecimal(100*p) + " (" + oneDecimal(100*lower) + "–" + oneDecimal(100*upper) + ")"
}

func oneDecimal(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

// fieldTitle is a field as a heading: By age band.
func fieldTitle(field string) string { return "By " + fieldWords(field) }

func fieldWords(field string) string { return word(strings.ReplaceAll(field, "_", " ")) }

// estimandWords name an estimand on an axis.
func estimandWords(e survival.Estimand) string {
	if e == survival.Incidence {
		return "cumulative incidence of revision"
	}
	return "cumulative revision"
}

func yearsWords(years float64) string {
	if years == 1 {
		return "1 year"
	}
	return audit.Number(years) + " years"
}

func (f *intervals) title() string {
	words := "Cumulative revision"
	if len(f.estimands) == 1 {
		words = capitalWord(estimandWords(f.estimands[0]))
	}
	return words + " at " + yearsWords(f.years)
}

// intervalKey is one sample of the key, and where it stands from the upper left.
type intervalKey struct {
	at          vg.Point
	marker      shape
	line        stroke
	inside      color.NRGBA
	description string
}

// key lays out the samples of what the figure shows, in as many lines as they
// take, and says how high that is.
func (f *intervals) key(width vg.Length) (keys []intervalKey, height vg.Length) {
	own, other := palette[0].ink, palette[1].ink
	keys = append(keys, intervalKey{marker: circle, line: stroke{ink: own, width: 1.3}, inside: own, description: "own, with " + levelOf(f.audit) + " interval"})
	if len(f.sources) > 0 {
		keys = append(keys, intervalKey{marker: diamond, line: stroke{ink: other, width: .9}, inside: other, description: "published, with its interval"})
	}
	if f.any(func(l *intervalLine) bool { return l.wider }) {
		keys = append(keys, intervalKey{marker: diamond, line: stroke{ink: other, width: .9}, inside: white, description: "published, of a wider group"})
	}
	var at vg.Point
	for i := range keys {
		k := &keys[i]
		w := intervalSample + defaultMeasure().width(labelText, k.description)
		if at.X > 0 && at.X+w > width {
			at = vg.Point{Y: at.Y + intervalStep}
		}
		k.at = at
		at.X += w + 20
	}
	return keys, at.Y + intervalKeyHeight
}

func (f *intervals) draw(p *pen) {
	keys, height := f.key(p.body.Max.X)
	p.named("key", func() {
		for _, k := range keys {
			x, y := k.at.X, p.body.Max.Y-9-k.at.Y
			p.line(k.line, vg.Point{X: x, Y: y + 2.8}, vg.Point{X: x + 16, Y: y + 2.8})
			p.marker(k.marker, vg.Point{X: x + 8, Y: y + 2.8}, 2.4, k.inside, k.line.ink)
			p.text(labelText, vg.Point{X: x + intervalSample, Y: y}, left, k.description)
		}
	})
	top := p.body.Max.Y - height
	for i := range f.panels {
		f.drawPanel(p, &f.panels[i], top)
		top -= f.panels[i].height()
	}
}

func (f *intervals) drawPanel(p *pen, panel *intervalPanel, top vg.Length) {
	atRiskX := p.body.Max.X - f.count - columnGap
	numbersX := atRiskX - f.count - columnGap
	a := axes{x: panel.axis}
	a.area.Max = vg.Point{X: numbersX - f.numbers - columnGap, Y: top - intervalHeading}
	a.area.Min = vg.Point{X: f.labels + columnGap, Y: a.area.Max.Y - panel.linesHeight() - 4}

	p.text(panelText, vg.Point{X: 0, Y: top - 9}, left, p.fit(panelText, panelTitle(panel.joint, panel.procedure), p.body.Max.X))
	p.named("columns", func() {
		y := top - 21
		p.text(labelText, vg.Point{X: numbersX, Y: y}, right, f.numbersTitle())
		p.text(labelText, vg.Point{X: atRiskX, Y: y}, right, "at risk")
		p.text(labelText, vg.Point{X: p.body.Max.X, Y: y}, right, "revised")
	})
	p.named("grid", func() {
		for _, t := range a.x.ticks {
			if t.at > 0 {
				p.line(gridStroke, vg.Point{X: a.atX(t.at), Y: a.area.Min.Y}, vg.Point{X: a.atX(t.at), Y: a.area.Max.Y})
			}
		}
	})
	p.frame(a, labelText, estimandWords(panel.estimand)+" at "+yearsWords(f.years)+", %", "")

	y := a.area.Max.Y - 2
	for i := range panel.lines {
		l := &panel.lines[i]
		y -= l.height()
		base := y + 4
		if l.group == nil {
			style := labelText
			style.italic = true
			p.text(style, vg.Point{X: 0, Y: base}, left, p.fit(style, fieldTitle(l.field), f.labels))
			continue
		}
		p.named("group", func() {
			style := labelText
			if l.state == shownFaint {
				style = style.faint()
			}
			p.text(labelText, vg.Point{X: 0, Y: base}, left, p.fit(labelText, word(l.label), f.labels))
			p.text(style, vg.Point{X: numbersX, Y: base}, right, l.numbers())
			p.text(style, vg.Point{X: atRiskX, Y: base}, right, counted(l.row.KaplanMeier.AtRisk))
			p.text(style, vg.Point{X: p.body.Max.X, Y: base}, right, l.revised())
			if l.published != nil {
				f.drawPublished(p, a, l, y+4)
			}
			if l.state <= shownFaint {
				ink := palette[0].ink
				if l.state == shownFaint {
					ink = faint(ink)
				}
				p.interval(a, stroke{ink: ink, width: 1.3}, l.point.Lower, l.point.Upper, y+8.5)
				p.marker(circle, vg.Point{X: a.atX(l.point.Estimate), Y: y + 8.5}, 2.4, ink, ink)
			}
		})
	}
}

// interval draws a horizontal interval, with an arrow where the axis ends first.
// There is none if a limit is not a number.
func (p *pen) interval(a axes, s stroke, lower, upper float64, y vg.Length) {
	if !(lower <= upper) || lower > a.x.to {
		return
	}
	from, to := a.atX(lower), a.atX(math.Min(upper, a.x.to))
	p.line(s, vg.Point{X: from, Y: y}, vg.Point{X: to, Y: y})
	if upper > a.x.to {
		p.fill(s.ink, vg.Point{X: to + 5, Y: y}, vg.Point{X: to, Y: y + 2.2}, vg.Point{X: to, Y: y - 2.2})
	}
}

func (f *intervals) drawPublished(p *pen, a axes, l *intervalLine, y vg.Length) {
	c, ink := l.published, palette[1].ink
	x := a.atX(c.Figure.Revision)
	end := x
	p.named("published", func() {
		if c.Series.Estimand == benchmark.Threshold {
			p.line(stroke{ink: ink, width: 1, dashes: []vg.Length{1.5, 1.5}}, vg.Point{X: x, Y: y - 4}, vg.Point{X: x, Y: y + 9})
			return
		}
		if c.Figure.HasLimits() {
			p.interval(a, stroke{ink: ink, width: .9}, c.Figure.Lower, c.Figure.Upper, y)
			end = a.atX(math.Min(c.Figure.Upper, a.x.to))
		}
		inside := ink
		if l.wider {
			inside = white
		}
		p.marker(diamond, vg.Point{X: x, Y: y}, 1.9, inside, ink)
	})
	if len(f.sources) > 1 {
		small := labelText
		small.size = 6
		p.text(small, vg.Point{X: max(end, x+3) + 2, Y: y - 2}, left, letterOf(f.sources.index(c.Series)))
	}
}

func (f *intervals) notes() []string {
	var notes []string
	cut := slices.ContainsFunc(f.panels, func(p intervalPanel) bool { return p.cut })
	var tops []string
	for i := range f.panels {
		top := audit.Number(math.Round(1e6*f.panels[i].axis.to) / 1e4)
		if !slices.Contains(tops, top) {
			tops = append(tops, top)
		}
	}
	axis := "The axis ends at " + tops[0] + " %."
	if len(tops) > 1 {
		axis = "The axes end at " + strings.Join(tops[:len(tops)-1], ", ") + " and " + tops[len(tops)-1] + " %."
	}
	if cut {
		axis += " An interval that ends in an arrow goes on beyond it."
	}
	notes = append(notes, axis)
	if f.any(func(l *intervalLine) bool { return l.state == shownFaint }) {
		notes = append(notes, fmt.Sprintf("Faint: fewer than %s at risk.", audit.Number(floorOf(f.audit.Interval))))
	}
	if f.any(func(l *intervalLine) bool { return l.state == shownCounts }) {
		notes = append(notes, fmt.Sprintf("Fewer than %d at risk: revised so far/joints in place of an estimate.", benchmark.FewestAtRisk))
	}
	if f.any(func(l *intervalLine) bool { return l.state == shownHidden }) {
		notes = append(notes, "*: not shown, so that the figure can be shared.")
	}
	if f.any(func(l *intervalLine) bool {
		return l.published != nil && l.published.Series.Estimand == benchmark.Threshold
	}) {
		notes = append(notes, "A dashed upright line is a threshold, not an estimate.")
	}
	if f.any(func(l *intervalLine) bool { return l.wider }) {
		notes = append(notes, "Published, of a wider group: the published figure is not of this group alone, but of all groups of the field together.")
	}
	return append(notes, f.sources.notes("Published", false)...)
}

// any reports whether something holds of a line with a group.
func (f *intervals) any(holds func(*intervalLine) bool) bool {
	return slices.ContainsFunc(f.panels, func(p intervalPanel) bool {
		return slices.ContainsFunc(p.lines, func(l intervalLine) bool { return l.group != nil && holds(&l) })
	})
}

func (f *intervals) alternative() string {
	var b strings.Builder
	for i := range f.panels {
		p := &f.panels[i]
		groups := 0
		for _, l := range p.lines[1:] {
			if l.group != nil {
				groups++
			}
		}
		if i > 0 {
			b.WriteByte(' ')
		}
		all := &p.lines[0]
		fmt.Fprintf(&b, "%s at %s, %s: all joints %s", capitalWord(estimandWords(p.estimand)), yearsWords(f.years), panelTitle(p.joint, p.procedure), all.spoken(f))
		switch {
		case groups == 1:
			b.WriteString("; 1 group beside them")
		case groups > 1:
			fmt.Fprintf(&b, "; %d groups beside them", groups)
		}
		b.WriteByte('.')
		if i == 2 && len(f.panels) > 3 {
			fmt.Fprintf(&b, " There are %d more panels.", len(f.panels)-3)
			break
		}
	}
	return b.String()
}

// spoken is a line's estimate in a sentence.
func (l *intervalLine) spoken(f *intervals) string {
	switch l.state {
	case shownPlain, shownFaint:
		s := fmt.Sprintf("%s %% (%s interval %s to %s), %s at risk", oneDecimal(100*l.point.Estimate), levelOf(f.audit),
			oneDecimal(100*l.point.Lower), oneDecimal(100*l.point.Upper), counted(l.point.AtRisk))
		if c := l.published; c != nil && c.Series.Estimand != benchmark.Threshold {
			s += fmt.Sprintf(", published %s %%", oneDecimal(100*c.Figure.Revision))
		}
		return s
	case shownCounts:
		return l.numbers() + ", too few at risk for an estimate"
	case shownHidden:
		return "not shown"
	}
	return "not followed that long"
}

func (f *intervals) data() [][]string {
	records := [][]string{{"joint", "procedure", "field", "group", "years", "joints", "at_risk", "revised_so_far", "shown_as",
		"estimand", "pct", "lower_pct", "upper_pct", "level",
		"published_pct", "published_lower_pct", "published_upper_pct", "published_estimand", "published_source", "published_wider", "axis_to_pct"}}
	for i := range f.panels {
		p := &f.panels[i]
		field := ""
		for _, l := range p.lines {
			if l.group == nil {
				field = l.field
				continue
			}
			r := []string{audit.Protect(p.joint), audit.Protect(p.procedure), audit.Protect(field), audit.Protect(l.label), audit.Number(f.years),
				counted(float64(l.group.Joints)), counted(l.row.KaplanMeier.AtRisk), l.revised(), intervalStates[l.state], p.estimand.String()}
			if l.state <= shownFaint {
				level := f.audit.Interval.Level
				if level == 0 {
					level = 0.95
				}
				r = append(r, percent(l.point.Estimate), percent(l.point.Lower), percent(l.point.Upper), audit.Number(level))
			} else {
				r = append(r, "", "", "", "")
			}
			if c := l.published; c != nil {
				r = append(r, percent(c.Figure.Revision))
				if c.Figure.HasLimits() {
					r = append(r, percent(c.Figure.Lower), percent(c.Figure.Upper))
				} else {
					r = append(r, "", "")
				}
				wider := "no"
				if l.wider {
					wider = "yes"
				}
				r = append(r, c.Series.Estimand.String(), audit.Protect(c.Series.Source), wider)
			} else {
				r = append(r, "", "", "", "", "", "")
			}
			records = append(records, append(r, percent(p.axis.to)))
		}
	}
	return records
}
