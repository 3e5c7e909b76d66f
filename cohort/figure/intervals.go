package figure

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
)

// IntervalsOptions say what [Intervals] draws. The zero value is the default.
type IntervalsOptions struct {
	// Field is the field whose groups are drawn, the other fields pooled. Empty
	// means every field the audit is grouped by, one after the other.
	Field string

	// Years since operation; it must be one the audit was read at. 0 means, for
	// each joint and procedure, the latest of the audit's years at which groups
	// with the floor at risk hold at least half of the joints in every field.
	Years float64

	// Estimand is Kaplan–Meier, the incidence, or both, one after the other.
	Estimand Estimates

	// Joint and Procedure narrow the figure; empty means all.
	Joint, Procedure string

	// Names says which surgeons or hospitals are named.
	Names Names

	Width vg.Length // 0 means DefaultWidth
}

// Intervals draws the groups of an audit at one year: a line for each, in the
// audit's order, with its numbers, the estimate and its interval, the published
// figures of its own kind behind it, and the reading. There is a part for each
// joint and procedure, each with an axis of its own.
//
// Groups with fewer at risk than the audit's floor have their interval alone;
// those with fewer than [benchmark.FewestAtRisk] are listed below with revised/
// joints. An interval that goes on beyond the axis ends in an arrow. Where the
// figure is too narrow for all columns, numbers and reading stand below the line.
//
// It is an error if the audit has no such groups, was not read at that year, or
// has no cumulative incidence where that is asked for.
func Intervals(a *audit.Audit, o IntervalsOptions) (*Figure, error) {
	estimands, err := o.Estimand.each()
	if err == nil {
		err = errors.Join(checkWidth(&o.Width), hasField(a, o.Field))
	}
	if err != nil {
		return nil, err
	}
	if o.Estimand != KaplanMeier && !a.Deaths.Recorded {
		return nil, errors.New("figure: there is no cumulative incidence, as deaths are not recorded")
	}
	parts, err := partsOf(a, o.Joint, o.Procedure)
	if err != nil {
		return nil, err
	}
	fields := a.By
	if o.Field != "" {
		fields = []string{o.Field}
	}
	f := &intervals{audit: a, fields: fields, units: make(map[string]*units), read: make(map[string]bool)}
	for _, field := range fields {
		f.units[field] = unitsOf(a, field, o.Names)
	}
	for _, all := range parts {
		for _, e := range estimands {
			years := o.Years
			if years == 0 {
				years, _ = a.CommonYear(all, fields)
			}
			s := &intervalSection{estimand: e, all: all, years: years}
			f.sections = append(f.sections, s)
			if err := f.add(s); err != nil {
				return nil, err
			}
		}
	}
	return f.figure(o.Width), nil
}

// intervals is a figure of intervals while it is made.
type intervals struct {
	audit    *audit.Audit
	fields   []string
	units    map[string]*units
	sections []*intervalSection
	sources  sources
	read     map[string]bool
	cut      bool
}

type intervalSection struct {
	estimand survival.Estimand
	all      *audit.Group
	years    float64
	groups   []*intervalGroup
	axis     scale
}

// intervalGroup is one group at the year.
type intervalGroup struct {
	own
	field     string // "" for all joints
	label     string
	group     *audit.Group
	published []*benchmark.Comparison
	reading   string
}

func (f *intervals) add(s *intervalSection) error {
	add := func(g *audit.Group, field, label string) error {
		o := ownAt(f.audit, g, s.estimand, s.years)
		if o.row == nil {
			return fmt.Errorf("figure: the audit was not read at %s", yearsWords(s.years))
		}
		l := &intervalGroup{own: o, field: field, label: label, group: g}
		l.published, l.reading = besideAt(o, s.estimand)
		for _, t := range thresholdsOn(o.row, s.estimand) {
			l.published, l.reading = append(l.published, t), t.Words()
		}
		if l.drawn() {
			for _, c := range l.published {
				f.sources.add(c.Series)
				f.read[l.reading] = true
			}
		}
		s.groups = append(s.groups, l)
		return nil
	}
	if err := add(s.all, "", "all joints"); err != nil {
		return err
	}
	for _, field := range f.fields {
		for _, g := range f.units[field].of(f.audit, s.all) {
			if err := add(g, field, f.units[field].name(g)); err != nil {
				return err
			}
		}
	}
	s.scale()
	f.cut = f.cut || slices.ContainsFunc(s.groups, func(l *intervalGroup) bool { return l.drawn() && l.Upper > s.axis.to })
	return nil
}

// drawn reports whether a group has a line.
func (l *intervalGroup) drawn() bool {
	return l.shown <= shownFaint
}

// scale ends the axis where all there is to see lies on it: published figures and
// the limits of estimates with the floor at risk, and further limits up to twice
// that. What a few joints leave open ends in an arrow.
func (s *intervalSection) scale() {
	tops := []float64{1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80}
	to, open := 0.0, 0.0
	for _, l := range s.groups {
		if l.drawn() {
			for _, c := range l.published {
				to = max(to, c.Figure.Revision)
				if c.Figure.HasLimits() {
					to = max(to, c.Figure.Upper)
				}
			}
		}
		if l.shown == shownPlain {
			to = max(to, l.Estimate)
			if l.Upper >= 0 {
				to = max(to, l.Upper)
			}
		}
	}
	s.axis = percentScale(to, tops...)
	for _, l := range s.groups {
		if l.shown == shownFaint && l.Upper <= 2*s.axis.to {
			open = max(open, l.Upper)
		}
	}
	s.axis = percentScale(max(to, open), tops...)
}

// listing is a section as it is drawn.
func (f *intervals) listing(s *intervalSection, heading bool) *listing {
	published := "publ."
	if len(f.sources) == 1 {
		published += " [a]"
	}
	l := &listing{columns: []column{
		{}, {title: "joints", align: right, fold: "%s joints"}, {title: "at risk", align: right, fold: "%s at risk"}, {title: "revised", fold: "%s revised"},
		{title: estimandWords(s.estimand) + ", %", drawn: 80, x: s.axis}, {title: "own, %"}, {title: published, fold: "published %s"}, {title: "reading", fold: "%s"},
	}}
	if len(f.sources) == 0 {
		for _, i := range []int{7, 6} {
			l.columns = slices.Delete(l.columns, i, i+1)
		}
	}
	if heading {
		l.heading = headline(f.heading(s))
	}
	field := ""
	for _, g := range s.groups {
		if !g.drawn() {
			continue
		}
		if g.field != field {
			field = g.field
			l.lines = append(l.lines, listed{cells: []string{capitalWord(fieldWords(field))}, heads: true, rule: true})
		}
		line := listed{cells: f.cells(g), plain: g.field != "", height: listStep, draw: map[int]func(*pen, axes, vg.Length){
			4: func(p *pen, a axes, y vg.Length) { f.draw(p, a, g, y) },
		}}
		if n := len(g.published); n > 1 {
			line.height = max(line.height, vg.Length(n)*8+4)
		}
		line.cells = line.cells[:len(l.columns)]
		l.lines = append(l.lines, line)
	}
	return l
}

// title is what a group is called.
func (f *intervals) title(g *intervalGroup) string {
	if g.field == "" {
		return "all " + word(g.group.Word("joint")) + "s"
	}
	return f.units[g.field].title(g.group)
}

// mostListed is how many published figures of a line are written out; of more, the
// least and the most, and how many they are.
const mostListed = 2

// cells are a line's words.
func (f *intervals) cells(g *intervalGroup) []string {
	var published []string
	least, most := math.Inf(1), 0.0
	for _, c := range g.published {
		least, most = min(least, c.Figure.Revision), max(most, c.Figure.Revision)
		s := inPercent(c.Figure.Revision)
		if len(f.sources) > 1 {
			s += " " + f.sources.add(c.Series)
		}
		published = append(published, s)
	}
	if n := len(published); n > mostListed {
		published = []string{fmt.Sprintf("%s–%s (%d)", inPercent(least), inPercent(most), n)}
	}
	revised := ""
	if g.shown != shownBeyond {
		revised = counted(g.Events)
		if later := float64(g.group.Revised) - g.Events; later > 0 {
			revised += " +" + counted(later)
		}
	}
	label := f.title(g)
	return []string{label, counted(float64(g.group.Joints)), g.atRisk(), revised, "", g.numbers(), strings.Join(published, ", "), f.sources.readingOf(g.reading, g.published)}
}

func (l *intervalGroup) atRisk() string {
	if l.shown == shownBeyond {
		return "0"
	}
	return counted(l.AtRisk)
}

// numbers are the estimate with its limits, the limits alone, or what stands for
// them.
func (l *intervalGroup) numbers() string {
	limits := "(" + inPercent(l.Lower) + "–" + inPercent(l.Upper) + ")"
	if !(l.Lower <= l.Upper) {
		limits = ""
	}
	switch l.shown {
	case shownPlain:
		if l.vague {
			return limits
		}
		return strings.TrimSpace(inPercent(l.Estimate) + " " + limits)
	case shownFaint:
		return limits
	case shownCounts:
		return counted(l.Events) + "/" + counted(float64(l.group.Joints)) + " revised"
	}
	return "beyond follow-up"
}

// draw draws what is published and over it the own interval.
func (f *intervals) draw(p *pen, a axes, g *intervalGroup, y vg.Length) {
	p.named("published", func() {
		height := min(12, 18/vg.Length(max(1, len(g.published))))
		for i, c := range g.published {
			at := y + (vg.Length(len(g.published)-1)/2-vg.Length(i))*8
			how := stroke{ink: publishedInk, width: .7}
			switch {
			case c.Series.Estimand == benchmark.Threshold:
				how.dashes = []vg.Length{1.5, 1.5}
				fallthrough
			case !c.Figure.HasLimits():
				how.width = 1.4
				x := a.atX(c.Figure.Revision)
				p.line(how, vg.Point{X: x, Y: at - height/2}, vg.Point{X: x, Y: at + height/2})
			default:
				p.box(a, c.Figure.Lower, c.Figure.Upper, at, height, how)
			}
			if len(f.sources) > 1 {
				small := smallText
				small.size = 5.5
				right := c.Figure.Revision
				if c.Figure.HasLimits() {
					right = max(right, c.Figure.Upper)
				}
				p.text(small, vg.Point{X: a.atX(min(right, a.x.to)) + 2, Y: at + height/2 - 3}, left, strings.Trim(f.sources.add(c.Series), "[]"))
			}
		}
	})
	switch g.shown {
	case shownPlain:
		p.interval(a, thickBar, g.Lower, g.Upper, y)
		if g.point() {
			p.marker(circle, vg.Point{X: a.atX(g.Estimate), Y: y}, 2.5, ownInk, ownInk)
		}
	case shownFaint:
		p.interval(a, thinStroke, g.Lower, g.Upper, y)
	}
}

func (f *intervals) heading(s *intervalSection) string {
	return titleOf(s.all) + ": " + estimandWords(s.estimand) + " at " + yearsWords(s.years)
}

func (f *intervals) figure(width vg.Length) *Figure {
	g := &Figure{Title: "Groups: cumulative revision", Subtitle: strings.TrimSpace("Followed to " + closingWords(f.audit) + "." + choice(f.fields...)),
		Alternative: f.alternative(), Notes: f.notes(), Day: dayOf(f.audit), data: f.data()}
	if s := f.sections[0]; len(f.sections) == 1 {
		g.Title, g.Subtitle = titleOf(s.all)+": groups at "+yearsWords(s.years), whose(f.audit, s.all)+choice(f.fields...)
	}
	g.Title += f.sources.inventedWords()
	var blocks []block
	for _, s := range f.sections {
		if l := f.listing(s, len(f.sections) > 1); len(l.lines) > 0 {
			blocks = append(blocks, l)
		}
		for _, l := range s.groups {
			g.groups = append(g.groups, f.heading(s)+l.field+l.label)
		}
	}
	if len(blocks) == 0 {
		blocks = []block{message(fmt.Sprintf("Nothing is drawn: fewer than %d at risk.", fewestAtRisk))}
	}
	return g.stacked(width, blocks...)
}

func (f *intervals) notes() []string {
	s := fmt.Sprintf("Dark: own, %s limits; thin, limits only: fewer than %s at risk.", levelPercent(f.audit.Confidence()), audit.Number(f.audit.Floor()))
	if f.audit.Floor() <= fewestAtRisk {
		s = fmt.Sprintf("Dark: own, %s limits.", levelPercent(f.audit.Confidence()))
	}
	if f.cut {
		s += " Arrow: beyond the axis."
	}
	if len(f.sources) > 0 {
		s += " Grey: published with its limits."
	}
	if f.any(func(l *intervalGroup) bool { return l.Events >= 0 && float64(l.group.Revised) > l.Events }) {
		s += " “3 +2”: three revised by then, two later."
	}
	if f.any(func(l *intervalGroup) bool {
		return slices.ContainsFunc(l.published, func(c *benchmark.Comparison) bool { return c.Series.Estimand == benchmark.Threshold })
	}) {
		s += " A dashed upright line is a threshold, not an estimate."
	}
	notes := []string{s}
	for _, field := range f.fields {
		notes = append(notes, f.units[field].notes()...)
	}
	notes = append(notes, f.sources.notes("", false)...)
	notes = append(notes, sharedNotes(f.audit)...)
	for _, s := range f.sections {
		var few []string
		for _, l := range s.groups {
			if !l.drawn() {
				few = append(few, f.title(l)+" "+counted(float64(l.group.Revised))+"/"+counted(float64(l.group.Joints)))
			}
		}
		if len(few) > 0 && s.estimand == f.sections[0].estimand {
			of := ""
			if len(f.sections) > 1 {
				of = titleOf(s.all) + ", f"
			} else {
				of = "F"
			}
			notes = append(notes, of+fmt.Sprintf("ewer than %d at risk, not drawn (revised/joints): ", fewestAtRisk)+strings.Join(few, ", ")+".")
		}
	}
	return append(notes, readingNotes(f.read)...)
}

// any reports whether something holds of a group that has a line.
func (f *intervals) any(holds func(*intervalGroup) bool) bool {
	return slices.ContainsFunc(f.sections, func(s *intervalSection) bool {
		return slices.ContainsFunc(s.groups, func(l *intervalGroup) bool { return l.drawn() && holds(l) })
	})
}

func (f *intervals) alternative() string {
	var each []string
	for i, s := range f.sections {
		groups := fmt.Sprintf("%d groups beside them", len(s.groups)-1)
		if len(s.groups) == 2 {
			groups = "1 group beside them"
		}
		if i == 3 {
			each = append(each, fmt.Sprintf("There are %d more parts.", len(f.sections)-3))
			break
		}
		each = append(each, f.heading(s)+": all joints "+s.groups[0].spoken(f.audit)+"; "+groups+".")
	}
	return strings.Join(each, " ")
}

// spoken is an estimate in a sentence.
func (l *intervalGroup) spoken(a *audit.Audit) string {
	switch l.shown {
	case shownPlain, shownFaint:
		s := fmt.Sprintf("%s %% (%s interval %s to %s), %s at risk", inPercent(l.Estimate), levelPercent(a.Confidence()), inPercent(l.Lower), inPercent(l.Upper), counted(l.AtRisk))
		for _, c := range l.published {
			if c.Series.Estimand != benchmark.Threshold {
				s += fmt.Sprintf(", published %s %%", inPercent(c.Figure.Revision))
			}
		}
		return s
	case shownCounts:
		return l.numbers() + ", too few at risk for an estimate"
	}
	return "not followed that long"
}

// data has a record for each group, and for each published figure beside it.
func (f *intervals) data() [][]string {
	records := [][]string{{"joint", "procedure", "field", "group", "years", "joints", "at_risk", "revised_so_far", "shown_as",
		"estimand", "pct", "lower_pct", "upper_pct", "level", "reading",
		"published_pct", "published_lower_pct", "published_upper_pct", "published_estimand", "published_source", "axis_to_pct"}}
	for _, s := range f.sections {
		for _, l := range s.groups {
			revised := ""
			if l.shown != shownBeyond {
				revised = counted(l.Events)
			}
			row := []string{text.Protect(s.all.Word("joint")), text.Protect(s.all.Word("procedure")), text.Protect(l.field), text.Protect(l.label), audit.Number(s.years),
				counted(float64(l.group.Joints)), l.atRisk(), revised, l.shown.String(), s.estimand.String(), "", "", "", "", l.reading}
			if l.shown <= shownFaint {
				copy(row[10:], []string{percent(l.Estimate), percent(l.Lower), percent(l.Upper), audit.Number(f.audit.Confidence())})
			}
			beside := [][]string{{"", "", "", "", ""}}
			for i, c := range l.published {
				record := []string{percent(c.Figure.Revision), "", "", c.Series.Estimand.String(), text.Protect(c.Series.Source)}
				if c.Figure.HasLimits() {
					record[1], record[2] = percent(c.Figure.Lower), percent(c.Figure.Upper)
				}
				beside = append(beside[:i], record)
			}
			for _, b := range beside {
				records = append(records, append(slices.Concat(row, b), percent(s.axis.to)))
			}
		}
	}
	return records
}
