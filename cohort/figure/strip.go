package figure

import (
	"fmt"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
)

// StripOptions say what [Strip] draws. The zero value is the default.
type StripOptions struct {
	// Joint and Procedure narrow the figure; empty means all.
	Joint, Procedure string

	Width vg.Length // 0 means DefaultWidth
}

// Strip draws a line for each joint and procedure, at the latest of the audit's
// years with the floor at risk, else with 10: the own interval over the published
// ones, the numbers, and where revisions are expected each revision as a dot
// beside the number expected and the range that is usual if the practice is as
// published. There is no ratio.
//
// Revisions stand only where at least half of all can be set beside what is
// expected. Joints and procedures that never have 10 at risk are named in the
// notes with revised/joints; it is an error if all are.
func Strip(a *audit.Audit, o StripOptions) (*Figure, error) {
	if err := checkWidth(&o.Width); err != nil {
		return nil, err
	}
	parts, err := partsOf(a, o.Joint, o.Procedure)
	if err != nil {
		return nil, err
	}
	f := &strip{audit: a, read: make(map[string]bool)}
	for _, all := range parts {
		f.add(all)
	}
	if len(f.rows) == 0 {
		return nil, f.leftOut.err()
	}
	return f.figure(o.Width), nil
}

// strip is the figure while it is made.
type strip struct {
	audit   *audit.Audit
	rows    []*stripRow
	leftOut leftOut
	sources sources
	read    map[string]bool
	axis    scale
	most    float64 // revisions, expected or usual
}

type stripRow struct {
	own
	all       *audit.Group
	published []*benchmark.Comparison
	reading   string
	revised   string // in all, in words

	expected *benchmark.Ratio // nil where revisions are not shown
	letter   string           // of what they are expected from
	usual    [2]int
}

func (f *strip) add(all *audit.Group) {
	r := &stripRow{all: all, own: own{shown: shownBeyond}, revised: counted(float64(all.Revised))}
	if f.audit.Vague(float64(all.Revised)) {
		r.revised = "1–7"
	}
	if h := f.audit.Headline(all); h != nil {
		r.own = ownAt(f.audit, all, survival.OneMinusKaplanMeier, h.Years)
	}
	if r.shown > shownFaint {
		f.leftOut = append(f.leftOut, fmt.Sprintf("%s %s/%s", titleOf(all), counted(float64(all.Revised)), counted(float64(all.Joints))))
		return
	}
	r.published, r.reading = besideAt(r.own, survival.OneMinusKaplanMeier)
	for _, c := range r.published {
		f.sources.add(c.Series)
		f.read[r.reading] = true
	}
	if e := all.Expected(); e != nil && e.Expected > 0 && e.Observed >= 0 && 2*e.Observed >= float64(all.Revised) && !f.audit.Vague(e.Observed) {
		r.expected, r.letter = e, f.sources.add(e.Series)
		r.usual[0], r.usual[1] = e.Usual()
		f.most = max(f.most, e.Observed, float64(r.usual[1]))
	}
	f.rows = append(f.rows, r)
}

func (f *strip) scale() {
	to := 0.0
	for _, r := range f.rows {
		to = max(to, r.Estimate)
		if r.Upper >= 0 && r.shown == shownPlain {
			to = max(to, r.Upper)
		}
		for _, c := range r.published {
			to = max(to, c.Figure.Revision)
			if c.Figure.HasLimits() {
				to = max(to, c.Figure.Upper)
			}
		}
	}
	f.axis = percentScale(to, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80)
}

func (f *strip) figure(width vg.Length) *Figure {
	f.scale()
	l := &listing{columns: []column{{}, {title: "beside published, %", drawn: 90, x: f.axis}, {title: "own, %", fold: "own %s"}, {title: "at risk", align: right, fold: "%s at risk"}}}
	reading := slices.ContainsFunc(f.rows, func(r *stripRow) bool { return r.reading != "" })
	if f.most > 0 {
		l.columns = append(l.columns, column{title: "revisions, usual range", drawn: 62, x: scale{to: f.most + 1}})
	}
	if reading {
		l.columns = append(l.columns, column{title: "reading", fold: "%s"})
	} else {
		l.columns[1].title = "cumulative revision, %"
	}
	for _, r := range f.rows {
		line := listed{cells: make([]string, len(l.columns)), note: counted(float64(r.all.Joints)) + " joints, at " + yearsWords(r.years), height: 46, rule: len(l.lines) > 0,
			draw: map[int]func(*pen, axes, vg.Length){1: func(p *pen, a axes, y vg.Length) { f.drawOwn(p, a, r, y) }}}
		line.cells[0], line.cells[3] = titleOf(r.all), counted(r.AtRisk)
		line.cells[2] = "(" + inPercent(r.Lower) + "–" + inPercent(r.Upper) + ")"
		if r.point() {
			line.cells[2] = inPercent(r.Estimate) + " " + line.cells[2]
		}
		if f.most > 0 {
			line.draw[4] = func(p *pen, a axes, y vg.Length) { f.drawRevisions(p, a, r, y) }
		}
		if reading {
			line.cells[len(line.cells)-1] = f.sources.readingOf(r.reading, r.published)
		}
		l.lines = append(l.lines, line)
	}
	joints, revised := int64(0), int64(0)
	for _, r := range f.rows {
		joints, revised = joints+r.all.Joints, revised+r.all.Revised
	}
	g := &Figure{Title: fmt.Sprintf("%s joints, %s revised", counted(float64(joints)), counted(float64(revised))) + f.sources.inventedWords(),
		Subtitle:    "Followed to " + closingWords(f.audit) + ". A line a joint and procedure, at its latest year with enough at risk. Different joints: not a comparison.",
		Alternative: f.alternative(), Notes: f.notes(), Day: dayOf(f.audit), data: f.data()}
	return g.stacked(width, l)
}

func (f *strip) drawOwn(p *pen, a axes, r *stripRow, y vg.Length) {
	p.named("published", func() {
		for i, c := range r.published {
			at := y + 4 + (vg.Length(len(r.published)-1)/2-vg.Length(i))*9
			how, height := stroke{ink: publishedInk, width: .7}, 20/vg.Length(len(r.published))
			x := a.atX(c.Figure.Revision)
			if c.Figure.HasLimits() {
				p.box(a, c.Figure.Lower, c.Figure.Upper, at, height, how)
			} else {
				p.line(stroke{ink: publishedInk, width: 1.4}, vg.Point{X: x, Y: at - height/2}, vg.Point{X: x, Y: at + height/2})
			}
		}
		s := smallText
		s.ink = publishedText
		words := f.publishedWords(r)
		x := a.area.Min.X
		if len(r.published) > 0 {
			x = max(a.area.Min.X+2, min(a.atX(r.published[0].Figure.Revision)-p.width(s, words)/2, a.area.Max.X-p.width(s, words)))
		}
		p.text(s, vg.Point{X: x, Y: y - 15}, left, words)
	})
	if r.shown == shownFaint {
		p.interval(a, thinStroke, r.Lower, r.Upper, y+4)
		return
	}
	p.interval(a, thickBar, r.Lower, r.Upper, y+4)
	if r.point() {
		p.marker(circle, vg.Point{X: a.atX(r.Estimate), Y: y + 4}, 2.8, ownInk, ownInk)
	}
}

func (f *strip) publishedWords(r *stripRow) string {
	var each []string
	for _, c := range r.published {
		each = append(each, inPercent(c.Figure.Revision)+" "+f.sources.add(c.Series))
	}
	if len(each) == 0 {
		return ""
	}
	return "published " + strings.Join(each, ", ")
}

// revisionWords are the two lines below the dots.
func (r *stripRow) revisionWords() [2]string {
	if r.expected == nil {
		return [2]string{r.revised + " revised; none set", "beside what is expected"}
	}
	first := counted(r.expected.Observed) + " of " + r.revised + " beside " + r.letter
	if r.all.Revised == 0 {
		first = "none revised, beside " + r.letter
	}
	if later := float64(r.all.Revised) - r.expected.Observed; later > 0 {
		first += "; " + counted(later) + " later"
	}
	return [2]string{first, fmt.Sprintf("%s expected, usual %d to %d", oneDecimal(r.expected.Expected), r.usual[0], r.usual[1])}
}

// mostDots is how many revisions are drawn one by one.
const mostDots = 60

// revisions draws a count, a dot each, over where chance alone leaves 95 of 100, with an
// upright line at what is expected; just above a height.
func (p *pen) revisions(a axes, observed, expected float64, usual [2]int, y vg.Length) {
	p.named("usual", func() {
		from, to := a.atX(float64(usual[0])), a.atX(float64(usual[1]))
		p.fill(rgb(0xDCDCDC), vg.Point{X: from, Y: y + 1}, vg.Point{X: to, Y: y + 1}, vg.Point{X: to, Y: y + 15}, vg.Point{X: from, Y: y + 15})
		p.line(stroke{ink: dark, width: 1.2}, vg.Point{X: a.atX(expected), Y: y - 2}, vg.Point{X: a.atX(expected), Y: y + 18})
	})
	p.named("revisions", func() {
		if observed > mostDots {
			p.line(stroke{ink: ownInk, width: 4}, vg.Point{X: a.atX(0), Y: y + 8}, vg.Point{X: a.atX(observed), Y: y + 8})
			return
		}
		step := a.atX(1) - a.atX(0)
		for i := 1; i <= int(observed); i++ {
			p.marker(circle, vg.Point{X: a.atX(float64(i)), Y: y + 8}, max(.7, min(1.8, .42*step)), ownInk, ownInk)
		}
	})
}

func (f *strip) drawRevisions(p *pen, a axes, r *stripRow, y vg.Length) {
	if e := r.expected; e != nil {
		p.revisions(a, e.Observed, e.Expected, r.usual, y)
	}
	s := smallText
	s.size = 6.3
	for i, words := range r.revisionWords() {
		p.text(s, vg.Point{X: a.area.Min.X, Y: y - 9 - vg.Length(i)*s.leading()}, left, words)
	}
}

func (f *strip) notes() []string {
	s := fmt.Sprintf("Dark: own, %s limits; thin, limits only: fewer than %s at risk.", levelPercent(f.audit.Confidence()), audit.Number(f.audit.Floor()))
	if len(f.sources) > 0 {
		s += " Grey: published with its limits."
	}
	if f.most > 0 {
		s += " A dot is a revision; upright: expected; grey behind: usual if as published. Later: after the last year of what is expected."
	}
	notes := append([]string{s}, f.sources.notes("", false)...)
	notes = append(append(notes, readingNotes(f.read)...), sharedNotes(f.audit)...)
	if len(f.leftOut) > 0 {
		notes = append(notes, "No estimate (revised/joints): "+strings.Join(f.leftOut, ", ")+".")
	}
	if !f.audit.Deaths.Recorded {
		notes = append(notes, "Deaths are not recorded: the unknown dead stay at risk, so every estimate comes out too low.")
	}
	return notes
}

func (f *strip) alternative() string {
	var each []string
	for _, r := range f.rows {
		s := fmt.Sprintf("%s, %s joints, at %s: %s to %s %%, %s at risk", titleOf(r.all), counted(float64(r.all.Joints)), yearsWords(r.years), inPercent(r.Lower), inPercent(r.Upper), counted(r.AtRisk))
		if r.point() {
			s = strings.Replace(s, ": ", ": "+inPercent(r.Estimate)+" %, ", 1)
		}
		if words := f.publishedWords(r); words != "" {
			s += ", " + words + ": " + r.reading
		}
		if r.expected != nil {
			words := r.revisionWords()
			s += "; revisions " + words[0] + ", " + words[1]
		}
		each = append(each, s+".")
	}
	return strings.Join(each, " ")
}

func (f *strip) data() [][]string {
	records := [][]string{{"joint", "procedure", "years", "joints", "revised", "at_risk", "shown_as", "pct", "lower_pct", "upper_pct", "level",
		"published_pct", "published_lower_pct", "published_upper_pct", "published_source", "reading", "observed", "expected", "usual_least", "usual_most", "expected_source"}}
	for _, r := range f.rows {
		row := []string{text.Protect(r.all.Word("joint")), text.Protect(r.all.Word("procedure")), audit.Number(r.years), counted(float64(r.all.Joints)), counted(float64(r.all.Revised)),
			counted(r.AtRisk), r.shown.String(), percent(r.Estimate), percent(r.Lower), percent(r.Upper), audit.Number(f.audit.Confidence())}
		expected := []string{"", "", "", "", ""}
		if e := r.expected; e != nil {
			expected = []string{audit.Number(e.Observed), audit.Number(e.Expected), audit.Number(float64(r.usual[0])), audit.Number(float64(r.usual[1])), text.Protect(e.Series.Source)}
		}
		if len(r.published) == 0 {
			records = append(records, slices.Concat(row, []string{"", "", "", "", ""}, expected))
		}
		for _, c := range r.published {
			beside := []string{percent(c.Figure.Revision), "", "", text.Protect(c.Series.Source), r.reading}
			if c.Figure.HasLimits() {
				beside[1], beside[2] = percent(c.Figure.Lower), percent(c.Figure.Upper)
			}
			records = append(records, slices.Concat(row, beside, expected))
		}
	}
	return records
}
