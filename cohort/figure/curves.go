package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
)

// CurvesOptions say what [Curves] draws. The zero value draws a panel of all
// joints for each joint and procedure.
type CurvesOptions struct {
	// Field is what to group by, one of the audit's By; "" draws all joints of
	// a joint and procedure together.
	Field string

	Estimand Estimates

	// Joint and Procedure restrict the figure; "" takes each joint and procedure
	// that the audit has.
	Joint, Procedure string

	// Names says which surgeons or hospitals are named.
	Names Names

	// MaxYears ends the horizontal axis early; 0 goes as far as curves do.
	MaxYears float64

	// Top is the end of the vertical axis in per cent. 0 means the least of 5, 10,
	// 15, 20, 30, 40, 50 and 100 that holds every estimate drawn, its limits where as
	// many as the floor are at risk (the lowest, if nowhere are), and the
	// published figures.
	Top float64

	NoPublished bool // leaves out the published figures

	Width vg.Length // 0 means DefaultWidth
}

// Curves draws cumulative revision over the years since operation: a panel for
// each group, or without a field for each joint and procedure, all on one scale.
//
// The own curve is a right-continuous step curve, thick while as many are at
// risk as the audit's floor (survival.Interval.MinAtRisk), thin below, and ends
// where fewer than 10 are. At the audit's years a bar shows the interval, filled
// or hollow likewise, and the numbers at risk and revised stand under it; an
// interval beyond the axis ends in an arrow with its number. Published figures
// of the group's own kind are a grey line from their first year to their last
// with their limits and a letter, a line for each series.
//
// Groups that never have 10 at risk are named in the notes with revised/joints,
// as are joints and procedures with fewer than 10 joints. Surgeons and hospitals
// have letters, unless they are to be named. A group without curves, of an audit
// that was made safe for sharing, is drawn from its rows.
//
// WriteCSV writes a row for each step of a curve, each number under the axis and
// each published figure. Years of a step are days/365.25. On axes with more than
// 1500 steps of one curve only the last of those that fall within 1/1500 of it is
// drawn and written.
//
// Errors are about options: a field that the audit does not group by, a joint or
// procedure that it does not have, numbers out of range.
func Curves(a *audit.Audit, o CurvesOptions) (*Figure, error) {
	if err := o.check(a); err != nil {
		return nil, err
	}
	estimands, err := o.Estimand.each()
	if err != nil {
		return nil, err
	}
	parts, err := partsOf(a, o.Joint, o.Procedure)
	if err != nil {
		return nil, err
	}
	c := &curves{audit: a, o: o, units: unitsOf(a, o.Field, o.Names), read: make(map[string]bool)}
	for _, all := range parts {
		if all.Joints < fewestAtRisk {
			c.leftOut.add(all, revisedOf(all))
			continue
		}
		c.parts = append(c.parts, all)
	}
	if o.Field == "" {
		for _, e := range estimands {
			c.add(e, "", c.parts)
		}
	} else {
		for _, all := range c.parts {
			for _, e := range estimands {
				groups := c.units.of(a, all)
				if len(groups) == 0 { // shared, and no two groups could be
					groups = []*audit.Group{all}
				}
				c.add(e, titleOf(all), groups)
			}
		}
	}
	return c.figure(), nil
}

func (o *CurvesOptions) check(a *audit.Audit) error {
	if o.MaxYears != 0 && !(o.MaxYears > 0 && o.MaxYears <= 100) {
		return fmt.Errorf("figure: %v years, want a number above 0 and up to 100", o.MaxYears)
	}
	if o.Top != 0 && !(o.Top > 0 && o.Top <= 100) {
		return fmt.Errorf("figure: top of the vertical axis %v %%, want a number above 0 and up to 100", o.Top)
	}
	if err := checkWidth(&o.Width); err != nil {
		return err
	}
	return hasField(a, o.Field)
}

// curves is a figure of curves while it is made.
type curves struct {
	audit    *audit.Audit
	o        CurvesOptions
	units    *units
	parts    []*audit.Group // joints and procedures drawn
	sections []*curvesSection
	leftOut  leftOut
	sources  sources
	read     map[string]bool // readings
}

// curvesSection is what is drawn on one scale: the groups of a joint, procedure
// and estimand.
type curvesSection struct {
	estimand survival.Estimand
	of       string // the joint and procedure; "" if the groups are those
	groups   []*audit.Group
	traces   []*trace
	never    []*audit.Group // never 10 at risk
	year     float64        // at which the groups are read
	x, y     scale
}

// add makes a section.
func (c *curves) add(e survival.Estimand, of string, groups []*audit.Group) {
	s := &curvesSection{estimand: e, of: of, groups: groups}
	c.sections = append(c.sections, s)
	if c.noIncidence(s) {
		return
	}
	years := 0.
	for _, g := range groups {
		if t := c.trace(g, e); t != nil {
			s.traces = append(s.traces, t)
			years = math.Max(years, t.last().years)
		} else {
			s.never = append(s.never, g)
		}
	}
	if len(s.traces) == 0 {
		return
	}
	if of != "" {
		i := slices.IndexFunc(c.parts, func(all *audit.Group) bool { return sameJoints(all, groups[0]) })
		s.year, _ = c.audit.CommonYear(c.parts[i], []string{c.o.Field})
	}
	s.x = c.yearScale(years)
	highest, few := 0., math.Inf(1)
	for _, t := range s.traces {
		t.readBars(s.x)
		top, lowest := t.highest()
		highest, few = math.Max(highest, top), math.Min(few, lowest)
		for _, p := range t.published {
			p.figures = slices.DeleteFunc(p.figures, func(f benchmark.Figure) bool { return f.Years > s.x.to })
			for _, f := range p.figures {
				highest = math.Max(highest, f.Revision)
				if f.Upper > 0 { // else there is none
					highest = math.Max(highest, f.Upper)
				}
			}
			if len(p.figures) > 0 {
				c.sources.add(p.Series)
			}
		}
		t.published = slices.DeleteFunc(t.published, func(p *publishedSeries) bool { return len(p.figures) == 0 })
	}
	if !math.IsInf(few, 1) && !slices.ContainsFunc(s.traces, func(t *trace) bool { return !t.readings[0].faint }) {
		highest = math.Max(highest, few) // all below the floor throughout
	}
	s.y = percentScale(highest, 5, 10, 15, 20, 30, 40, 50)
	if c.o.Top != 0 {
		s.y = percentScale(c.o.Top/100, c.o.Top)
	}
}

// noIncidence reports whether a section is empty as deaths are not recorded.
func (c *curves) noIncidence(s *curvesSection) bool {
	return s.estimand == survival.Incidence && !c.audit.Deaths.Recorded
}

// yearScale is the horizontal axis: it has the audit's years, and where curves go
// on for five more years tens and fives.
func (c *curves) yearScale(until float64) scale {
	s := scale{to: math.Max(1, math.Ceil(until-1e-9)), ticks: []tick{{0, "0"}}}
	add := func(y float64) {
		if y <= s.to {
			s.ticks = append(s.ticks, tick{y, audit.Number(y)})
		}
	}
	for _, y := range c.audit.Years {
		add(y)
	}
	last := s.ticks[len(s.ticks)-1].at
	for y := 5 * math.Floor(last/5+1); y <= s.to; y += 5 {
		if y >= last+4 {
			add(y)
		}
	}
	return s
}

// trace is what is drawn of one group.
type trace struct {
	group     *audit.Group
	curve     *survival.Curve // nil for points
	readings  []reading       // by increasing years, from 0 for a curve
	points    bool            // of rows, without a curve between them
	bars      []reading       // at the ticks of the axis
	published []*publishedSeries
}

// reading is an estimate at one time.
type reading struct {
	years float64
	survival.Point
	faint bool // fewer at risk than the floor
}

func (t *trace) last() reading { return t.readings[len(t.readings)-1] }

// mostSteps is how many steps of a curve are drawn: more than can be seen.
const mostSteps = 1500

// trace reads a group's curve, or its rows; nil if it never has 10 at risk.
func (c *curves) trace(g *audit.Group, e survival.Estimand) *trace {
	t := &trace{group: g}
	if e == survival.Incidence {
		t.curve = g.Incidence()
	} else {
		t.curve = g.KaplanMeier()
	}
	if t.curve != nil {
		c.readCurve(t)
	} else {
		t.points = true
		for _, r := range g.Rows() {
			o := ownAt(c.audit, g, e, r.Years)
			if o.shown <= shownFaint && slices.Contains(c.audit.Years, r.Years) && !(c.o.MaxYears > 0 && r.Years > c.o.MaxYears) {
				t.readings = append(t.readings, reading{r.Years, o.Point, o.shown == shownFaint})
			}
		}
	}
	if len(t.readings) == 0 {
		return nil
	}
	if !c.o.NoPublished {
		t.published = publishedOf(g, e)
	}
	return t
}

// readCurve reads a curve at its steps, at the years of the group's rows, and
// where the number at risk falls below the floor and below 10.
func (c *curves) readCurve(t *trace) {
	table := t.group.Counts.Table()
	last := math.Inf(-1) // day with 10 at risk
	var floor []float64  // last day with the floor at risk, and the one after
	for i, n := range table.AtRisk {
		if n >= fewestAtRisk {
			last = table.Time[i]
		}
		if n >= c.audit.Floor() {
			floor = table.Time[i:min(i+2, len(table.Time))]
		}
	}
	if !(last >= 0) {
		return
	}
	if c.o.MaxYears > 0 {
		last = math.Min(last, cohort.DayOfYear(c.o.MaxYears))
	}
	// Days, and years as they were asked for, which begin before day 365.25·y.
	at := map[float64]float64{0: 0, last: last / cohort.DaysPerYear}
	for _, day := range append(thinned(t.curve.Time, last), floor...) {
		if day >= 0 && day <= last {
			at[day] = day / cohort.DaysPerYear
		}
	}
	for _, y := range append(slices.Clone(c.audit.Years), yearsOf(t.group)...) {
		if day := cohort.DayOfYear(y); day <= last {
			at[day] = y
		}
	}
	var days []float64
	for day := range at {
		days = append(days, day)
	}
	slices.Sort(days)
	for i, day := range days {
		read := day
		if i > 0 && i == len(days)-1 { // the last piece is flat: no rise is drawn that nothing follows
			read = math.Nextafter(day, 0)
		}
		if p, ok := t.curve.At(read, c.audit.Interval); ok {
			t.readings = append(t.readings, reading{at[day], p, p.AtRisk < c.audit.Floor()})
		}
	}
}

func yearsOf(g *audit.Group) (years []float64) {
	for _, r := range g.Rows() {
		years = append(years, r.Years)
	}
	return years
}

// thinned are the days of steps up to a last day; if there are more than
// mostSteps, the last of those that are drawn in one place.
func thinned(days []float64, last float64) []float64 {
	n := 0
	for n < len(days) && days[n] <= last {
		n++
	}
	days = days[:n]
	if n <= mostSteps {
		return days
	}
	var kept []float64
	place := func(day float64) int { return int(day / last * mostSteps) }
	for i, day := range days {
		if i+1 == n || place(days[i+1]) != place(day) {
			kept = append(kept, day)
		}
	}
	return kept
}

// readBars takes the readings at the ticks of the axis.
func (t *trace) readBars(x scale) {
	for _, r := range t.readings {
		if r.years > 0 && slices.ContainsFunc(x.ticks, func(k tick) bool { return k.at == r.years }) {
			t.bars = append(t.bars, r)
		}
	}
}

// highest is what the vertical axis must hold: every estimate, and the limits
// where at least the floor is at risk; and the lowest upper limit of all bars.
func (t *trace) highest() (top, lowest float64) {
	lowest = math.Inf(1)
	for _, r := range t.readings {
		top = math.Max(top, r.Estimate)
	}
	for _, r := range t.bars {
		if r.Upper >= 0 { // else not defined
			lowest = math.Min(lowest, r.Upper)
			if !r.faint {
				top = math.Max(top, r.Upper)
			}
		}
	}
	return top, lowest
}

// under is what stands under the axis at a tick: at risk and revised so far. An
// empty cell is not known; a group's numbers after its last exit are 0 and
// empty, as in the audit.
func (c *curves) under(t *trace, e survival.Estimand, years float64) (atRisk, revised string) {
	g := t.group
	if !t.points {
		if p, ok := t.curve.At(cohort.DayOfYear(years), c.audit.Interval); ok {
			return counted(p.AtRisk), counted(p.Events)
		}
		return "0", ""
	}
	switch o := ownAt(c.audit, g, e, years); {
	case o.row == nil:
		return "", ""
	case o.shown == shownBeyond:
		return "0", ""
	default:
		return counted(o.AtRisk), counted(o.Events)
	}
}

// panel is a trace as it is drawn.
func (c *curves) panel(s *curvesSection, t *trace, style textStyle, area vg.Length) *panel {
	q := &panel{name: c.nameOf(s, t.group), after: c.after(s, t), said: c.said(s, t), style: style,
		axes: axes{x: s.x, y: s.y, lift: 4}, xTitle: "years", yTitle: "%", leads: true, area: area}
	if len(c.parts) == 1 && s.of == "" {
		q.name, q.after = "", "" // the title says it
	}
	for i, name := range []string{"at risk", "revised"} {
		q.counts = append(q.counts, counts{name, func(k tick) string {
			if k.at == 0 {
				return ""
			}
			atRisk, revised := c.under(t, s.estimand, k.at)
			return [...]string{atRisk, revised}[i]
		}})
	}
	if slices.ContainsFunc(t.bars, func(r reading) bool { return r.Upper > s.y.to }) {
		q.top = 1.7 * style.leading() // for the numbers of arrows
	}
	var ends []endLabel
	for _, p := range t.published {
		ends = append(ends, endLabel{figure: p.figures[len(p.figures)-1], mark: c.sources.add(p.Series)})
	}
	named := endNames(ends)
	for _, e := range named {
		if w := defaultMeasure().width(style, e.words(style)) + 6; e.figure.Years > s.x.to-.15*s.x.to {
			q.right = max(q.right, w)
		}
	}
	q.draw = func(p *pen, a axes) {
		p.drawPublished(a, t.published)
		p.named("curves", func() { p.drawCurve(a, t) })
		p.named("bars", func() { p.drawBars(a, t.bars, style) })
		p.named("labels", func() { p.drawEnds(a, t, named, style, a.area.Max.X+max(q.right, 0)+1) })
	}
	return q
}

// nameOf is what a group is called among those of its section.
func (c *curves) nameOf(s *curvesSection, g *audit.Group) string {
	if s.of == "" {
		return titleOf(g)
	}
	return c.units.title(g)
}

// after is said beside a group's name.
func (c *curves) after(s *curvesSection, t *trace) string {
	g := t.group
	words := counted(float64(g.Joints)) + " joints, " + counted(float64(g.Revised)) + " revised"
	if t.points {
		return words
	}
	last := s.x.ticks[len(s.x.ticks)-1].at
	if p, ok := t.curve.At(cohort.DayOfYear(last), c.audit.Interval); ok {
		if later := float64(g.Revised) - p.Events; later > 0 {
			words += fmt.Sprintf(" (%s after %s)", counted(later), yearsWords(last))
		}
	}
	return words
}

// yearOf is the year at which a group is read.
func (c *curves) yearOf(s *curvesSection, g *audit.Group) float64 {
	if s.of != "" {
		return s.year
	}
	years, _ := c.audit.CommonYear(g, nil)
	return years
}

// said is the group's estimate at the year of its section, what is published, and
// the reading.
func (c *curves) said(s *curvesSection, t *trace) string {
	o := ownAt(c.audit, t.group, s.estimand, c.yearOf(s, t.group))
	words := yearsWords(o.years) + ": "
	switch o.shown {
	case shownPlain:
		if o.vague {
			words += inPercent(o.Lower) + " to " + inPercent(o.Upper) + " %"
			break
		}
		words += inPercent(o.Estimate) + " % (" + inPercent(o.Lower) + " to " + inPercent(o.Upper) + ")"
	case shownFaint:
		words += counted(o.AtRisk) + " at risk; limits " + inPercent(o.Lower) + " to " + inPercent(o.Upper)
	case shownCounts:
		return words + "fewer than 10 at risk"
	default:
		return words + "nobody was followed that long"
	}
	if c.o.NoPublished {
		return words
	}
	figures, reading := besideAt(o, s.estimand)
	var each []string
	for _, f := range figures {
		each = append(each, inPercent(f.Figure.Revision)+" "+c.sources.add(f.Series))
	}
	if len(each) > 0 {
		c.read[reading] = true
		words += ", published " + strings.Join(each, ", ") + ": " + reading
		if reading == compatible {
			words += " it"
		}
	}
	return words
}

// figure makes the figure of its sections.
func (c *curves) figure() *Figure {
	var blocks []block
	for _, s := range c.sections {
		heading := s.heading()
		if len(c.sections) == 1 {
			heading = ""
		}
		if len(s.traces) == 0 {
			why := fmt.Sprintf("Nothing is drawn, as %s.", fmt.Sprintf("never %d are at risk", fewestAtRisk))
			if c.noIncidence(s) {
				why = "Left empty: deaths are not recorded."
			}
			blocks = append(blocks, message(strings.TrimPrefix(heading+". ", ". ")+why))
			continue
		}
		set := &panels{heading: headline(heading), columns: columnsFor(c.o.Width, len(s.traces))}
		style, area := labelText, min(max(.5*set.cell(c.o.Width), 80), 64*mm)
		if set.cell(c.o.Width) < 60*mm {
			style = smallText
		}
		for _, t := range s.traces {
			set.all = append(set.all, c.panel(s, t, style, area))
		}
		blocks = append(blocks, set)
	}
	if len(c.sections) == 0 || len(c.parts) == 0 {
		blocks = []block{message(fmt.Sprintf("Nothing is drawn: fewer than %d joints.", fewestAtRisk))}
	}
	f := &Figure{Title: c.title(), Subtitle: c.subtitle(), Alternative: c.alternative(), Notes: c.notes(), Day: dayOf(c.audit), data: c.data(), groups: c.names()}
	return f.stacked(c.o.Width, blocks...)
}

// names are those by which groups are told apart.
func (c *curves) names() (names []string) {
	for _, s := range c.sections {
		for _, t := range s.traces {
			names = append(names, s.of+c.nameOf(s, t.group))
		}
	}
	return names
}

func (s *curvesSection) heading() string {
	words := estimandWords(s.estimand)
	if s.of == "" {
		return capitalWord(words)
	}
	return s.of + ": " + words
}

func (c *curves) title() string {
	words := [...]string{"cumulative revision", "cumulative incidence of revision", "cumulative revision and cumulative incidence"}[c.o.Estimand]
	if len(c.parts) == 1 {
		words = titleOf(c.parts[0]) + ": " + words
	}
	if r := c.audit.Endpoint.Reasons; len(r) > 0 {
		words += " for " + word(strings.Join(r, " or "))
	}
	if c.o.Field != "" {
		words += " by " + fieldWords(c.o.Field)
	}
	return capitalWord(words) + c.sources.inventedWords()
}

func (c *curves) subtitle() string {
	if len(c.parts) == 1 {
		return whose(c.audit, c.parts[0]) + choice(c.o.Field)
	}
	return strings.TrimSpace("Followed to " + closingWords(c.audit) + "." + choice(c.o.Field))
}

func (c *curves) notes() []string {
	var n []string
	if len(c.sections) > 0 && slices.ContainsFunc(c.sections, func(s *curvesSection) bool { return len(s.traces) > 0 }) {
		n = append(n, c.legend())
	}
	n = append(n, c.units.notes()...)
	n = append(n, c.sources.notes("", false)...)
	n = append(append(n, readingNotes(c.read)...), sharedNotes(c.audit)...)
	var never []string
	for _, s := range c.sections {
		for _, g := range s.never {
			name := c.nameOf(s, g)
			if len(c.parts) > 1 && s.of != "" {
				name = s.of + ", " + name
			}
			if name += " (" + revisedOf(g) + ")"; !slices.Contains(never, name) {
				never = append(never, name)
			}
		}
	}
	if len(never) > 0 {
		n = append(n, fmt.Sprintf("Not drawn, as never %d are at risk: ", fewestAtRisk)+strings.Join(never, "; ")+".")
	}
	n = append(n, c.leftOut.notes()...)
	if !c.audit.Deaths.Recorded {
		n = append(n, "Deaths are not recorded: the unknown dead stay at risk, so every estimate comes out too low.")
	}
	return n
}

// legend says what is what.
func (c *curves) legend() string {
	var how []string
	if c.o.Estimand != Incidence {
		how = append(how, "Kaplan–Meier, if nobody died")
	}
	if c.o.Estimand != KaplanMeier {
		how = append(how, "Aalen–Johansen, death competing")
	}
	s := fmt.Sprintf("Dark: own (%s), bars %s limits (%s)", strings.Join(how, "; "), levelPercent(c.audit.Confidence()), c.audit.Interval.Method)
	if floor := c.audit.Floor(); floor > fewestAtRisk {
		s += fmt.Sprintf("; thick and filled with %s or more at risk, thin and hollow below", audit.Number(floor))
	}
	s += fmt.Sprintf(", nothing below %d.", fewestAtRisk)
	if len(c.sources) > 0 {
		s += " Grey: published with its limits."
	}
	arrow, over := false, false
	var tops []string
	for _, q := range c.sections {
		if top := levelPercent(q.y.to); len(q.traces) > 0 && !slices.Contains(tops, top) {
			tops = append(tops, top)
		}
		for _, t := range q.traces {
			arrow = arrow || slices.ContainsFunc(t.bars, func(r reading) bool { return r.Upper > q.y.to })
			over = over || slices.ContainsFunc(t.readings, func(r reading) bool { return r.Estimate > q.y.to })
		}
	}
	if arrow {
		s += " Arrow: the limit lies beyond the axis, at the number."
	}
	if over || len(tops) > 1 {
		s += " The vertical axis ends at " + inWords(tops) + "."
	}
	return s
}

// revisedOf is what is shown of a group that is too small for an estimate.
func revisedOf(g *audit.Group) string {
	return counted(float64(g.Revised)) + " of " + counted(float64(g.Joints)) + " revised"
}

// alternative says what the figure shows, group by group.
func (c *curves) alternative() string {
	var all []string
	for _, s := range c.sections {
		var each []string
		for _, t := range s.traces {
			each = append(each, c.nameOf(s, t.group)+", "+c.after(s, t)+"; "+c.said(s, t))
		}
		if len(each) > 0 {
			all = append(all, s.heading()+". "+strings.Join(each, ". ")+".")
		}
	}
	if len(all) == 0 {
		return fmt.Sprintf("An empty figure: no group has %d joints at risk.", fewestAtRisk)
	}
	return strings.Join(all, " ")
}

// data are the records of WriteCSV.
func (c *curves) data() [][]string {
	records := [][]string{{"joint", "procedure", "field", "group", "estimand", "kind", "years", "estimate_pct", "lower_pct", "upper_pct",
		"at_risk", "revised_so_far", "faint", "source"}}
	for _, s := range c.sections {
		estimand := benchmark.OneMinusKaplanMeier.String()
		if s.estimand == survival.Incidence {
			estimand = benchmark.Incidence.String()
		}
		for _, t := range s.traces {
			group := "All"
			if s.of != "" {
				group = c.units.name(t.group)
			}
			add := func(kind string, years float64, cells ...string) {
				records = append(records, append([]string{text.Protect(t.group.Word("joint")), text.Protect(t.group.Word("procedure")),
					text.Protect(c.o.Field), text.Protect(group), estimand, kind, audit.Number(years)}, cells...))
			}
			kind := "curve"
			if t.points {
				kind = "point"
			}
			for _, r := range t.readings {
				few := ""
				if r.faint {
					few = "yes"
				}
				add(kind, r.years, percent(r.Estimate), percent(r.Lower), percent(r.Upper), counted(r.AtRisk), counted(r.Events), few, "")
			}
			for _, k := range s.x.ticks {
				atRisk, revised := c.under(t, s.estimand, k.at)
				add("at risk", k.at, "", "", "", atRisk, revised, "", "")
			}
			for _, p := range t.published {
				for _, f := range p.figures {
					add("published", f.Years, percent(f.Revision), percent(f.Lower), percent(f.Upper), "", "", "", text.Protect(p.Source))
				}
			}
		}
	}
	return records
}
