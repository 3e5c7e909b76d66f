package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// caution stands under everything that reads "compatible with".
const caution = "“Compatible with” is no evidence of a difference, which is not the same as “as good as”."

// tooFew explains the reading.
const tooFew = "“Too few to say”: fewer than 10 at risk, or so few that even a group without a single revision could not be told from the published figure."

// comparisons writes the comparison with published figures.
func (p *page) comparisons(a *audit.Audit, parts []*part, refs *references) {
	p.heading(1, "Comparison with published figures")
	if !compared(a) {
		p.paragraph("No published figure matches a group of this audit, so nothing is compared.")
		return
	}
	p.paragraph("Own estimate beside the published figure for the same group or the nearest wider one, at the years of the figure. Difference: own − published, in percentage points.",
		"Above, below and compatible with say where own revision lies beside the published figure; too few to say, that the numbers allow none of the three.", caution)
	for _, part := range parts {
		p.compare(a, part, refs)
	}
	p.expected(a, parts, refs)
	if a.Comparisons > 0 {
		p.paragraph(chance(a, outsideCount(a)))
	}
	if len(refs.sources) > 0 {
		p.heading(2, "Published sources")
		p.references(refs)
	}
}

func compared(a *audit.Audit) bool {
	for i := range a.Groups {
		if a.Groups[i].Expected != nil || slices.ContainsFunc(a.Groups[i].Rows, func(r audit.Row) bool { return r.Comparison != nil || r.Threshold != nil }) {
			return true
		}
	}
	return false
}

// compare writes the comparisons of one joint and procedure.
func (p *page) compare(a *audit.Audit, part *part, refs *references) {
	var groups []*audit.Group
	c := comparing{audit: a, refs: refs, notes: newFootnotes(), table: newComparisonTable()}
	for _, g := range part.groups() {
		if g.Level == audit.Cell && g.Joints < part.fewest && !readsOutside(g) {
			c.small += readings(g)
			continue
		}
		groups = append(groups, g)
		c.group(g)
	}
	if len(c.table.Rows) == 0 && len(c.beyond) == 0 && len(c.thin) == 0 && c.small == 0 {
		return
	}
	beside := newThresholds(a, groups, refs)
	p.heading(2, part.title)
	p.sentences(a, part, groups, refs)
	shortfalls(a, c.notes)
	refs.explain(c.notes)
	p.table(c.table, c.notes)
	// Once, under the last table that it is needed for.
	c.said.leave(beside.said)
	p.legend(c.said)
	var more []string
	if len(c.thin) > 0 {
		more = append(more, fmt.Sprintf("Fewer than %d at risk at every published year, and so too few to say: %s.", fewestAtRisk, strings.Join(c.thin, "; ")))
	}
	if c.small > 0 {
		more = append(more, fmt.Sprintf("Left out here: %s of %s with fewer than %d joints, or fewer than %d at risk; all are in --format csv and json.",
			few(c.small, "further comparison", "further comparisons"), combined(a), part.fewest, fewestAtRisk))
	}
	if len(c.beyond) > 0 {
		more = append(more, "Published figures only for years that nobody has been followed to: "+strings.Join(c.beyond, "; ")+".")
	}
	p.bullets(more)
	p.thresholds(beside, part)
}

// legends are the readings in a table that need a word of caution.
type legends struct{ compatible, few, shared bool }

func (l *legends) add(r benchmark.Reading) {
	l.compatible = l.compatible || r == benchmark.Compatible
	l.few = l.few || r == benchmark.TooFew
}

// leave leaves to a later table what it says too.
func (l *legends) leave(later legends) {
	l.compatible = l.compatible && !later.compatible
	l.few = l.few && !later.few
	l.shared = l.shared && !later.shared
}

// legend explains the readings that stand in a table.
func (p *page) legend(l legends) {
	var s []string
	if l.compatible {
		s = append(s, caution)
	}
	if l.few {
		s = append(s, tooFew)
	}
	if l.shared {
		s = append(s, "Readings were made from the exact numbers, before they were rounded for sharing.")
	}
	p.paragraph(s...)
}

// readings is how many comparisons with an estimate a group has within reach.
func readings(g *audit.Group) int {
	n := 0
	for _, r := range g.Rows {
		if r.Reached && r.Comparison != nil {
			n++
		}
	}
	return n
}

// comparing collects one table of comparisons.
type comparing struct {
	audit  *audit.Audit
	refs   *references
	table  *table
	notes  *footnotes
	said   legends
	small  int      // comparisons left out, being too few to say
	thin   []string // groups with fewer than ten at risk at every year
	beyond []string // groups all of whose figures lie beyond follow-up
}

func newComparisonTable() *table {
	return &table{Columns: []column{
		{Title: "Years", Align: decimal}, {Title: "At risk", Align: right},
		{Title: "Own, %", Align: decimal}, {Title: "Published, %, and its source", Align: decimal, Least: 18},
		{Title: "Difference, points", Align: decimal, Least: 18}, {Title: "Reading", Wraps: true}, {},
	}}
}

// group adds a group's comparisons within reach. A group with fewer than ten at
// risk at all of them is only named, and such rows of cells only counted.
func (c *comparing) group(g *audit.Group) {
	var within []*audit.Row
	any, enough := false, false
	for i := range g.Rows {
		r := &g.Rows[i]
		any = any || r.Comparison != nil
		if r.Comparison == nil || !r.Reached {
			continue
		}
		if r.KaplanMeier.AtRisk >= fewestAtRisk {
			enough = true
		} else if g.Level == audit.Cell {
			c.small++
			continue
		}
		within = append(within, r)
	}
	called := inList(g)
	switch {
	case enough:
		c.table.Section(name(g) + " (" + few(g.Joints, "joint", "joints") + ")")
		for _, r := range within {
			c.table.Rows = append(c.table.Rows, row{Cells: c.cells(g, r)})
		}
	case len(within) > 0:
		c.thin = append(c.thin, called)
	case any && readings(g) == 0:
		c.beyond = append(c.beyond, called)
	}
}

func (c *comparing) cells(g *audit.Group, r *audit.Row) []string {
	x := r.Comparison
	own, difference, notes := ownCells(c.audit, g, r, x, c.notes)
	return []string{years(r.Years), number(r.KaplanMeier.AtRisk), own, publishedEstimate(c.audit, g, x, c.refs, c.notes),
		difference, readingOf(c.audit, x, x.Reading.String(), &c.said), notes}
}

// ownCells are the own estimate, the difference and the notes of a comparison.
func ownCells(a *audit.Audit, g *audit.Group, r *audit.Row, x *benchmark.Comparison, f *footnotes) (own, difference, notes string) {
	switch {
	case !x.Reached:
	case x.Own.AtRisk < fewestAtRisk:
		own = share(x.Own, g.Joints, f)
	default:
		own = estimate(a, x.Own, f)
		difference = percentWith(x.Difference, x.DifferenceLower, x.DifferenceUpper, "")
	}
	return own, difference, comparisonNotes(a, x, f)
}

// comparisonNotes are the letters of what must be known to read a comparison.
func comparisonNotes(a *audit.Audit, x *benchmark.Comparison, f *footnotes) string {
	var marks []string
	add := func(text string) { marks = append(marks, f.letter(text)) }
	if x.Series.Estimand == benchmark.Incidence {
		if x.Reached {
			add("cumulative incidence on both sides")
		} else {
			add("a published cumulative incidence, which only an own one may stand beside")
		}
	}
	if x.Reached && x.Own.AtRisk >= fewestAtRisk {
		for _, n := range pointNotes {
			if x.Own.Notes&n.note != 0 {
				add(n.text)
			}
		}
	}
	for _, n := range readingNotes {
		if x.Notes&n.note != 0 {
			add(n.text)
		}
	}
	if s := nearTheLine(x); s != "" {
		add(s)
	}
	if x.Notes&benchmark.OtherLevel != 0 {
		add("own and published limits have different confidence levels, so the difference has none")
	}
	slices.Sort(marks)
	return strings.Join(marks, ", ")
}

// readingNotes say in plain words what the notes on a comparison mean. That
// fewer than ten are at risk is said by the mark n/N.
var readingNotes = []struct {
	note benchmark.Note
	text string
}{
	{benchmark.LimitsRounded, "published limits rounded to the figure itself, and left out"},
	{benchmark.ErrorUnknown, "published without limits or number of joints: read as if rounding were its only error"},
	{benchmark.LeastError, "published without limits: read with the least error its number of joints can have"},
	{benchmark.MadeFromAtRisk, "published without limits: limits made from the numbers at risk"},
	{benchmark.ReachesZero, "the published limits reach 0, so that nothing can read below"},
	{benchmark.OwnLimitsUndefined, "the own estimate has no limits to read from"},
}

// nearTheLine says on which side of 0 the printed limits and those of the
// reading lie, where they differ; nothing where no difference is printed or the
// reading has no limits.
func nearTheLine(x *benchmark.Comparison) string {
	switch {
	case x.Notes&benchmark.NearTheLine == 0 || x.Own.AtRisk < fewestAtRisk || x.Notes&benchmark.OwnLimitsUndefined != 0:
		return ""
	case isOutside(x):
		return "near the line: the printed limits of the difference just include 0; the limits from which the reading is made just exclude it"
	}
	return "near the line: the printed limits of the difference just exclude 0; the stricter limits from which the reading is made do not"
}

// sentences say in words what can be read of all joints, of each value of the
// first field, and of every group that reads above or below.
func (p *page) sentences(a *audit.Audit, part *part, groups []*audit.Group, refs *references) {
	var all []string
	how := "In words, at the latest year at which something can be read, or else the latest with 10 or more at risk"
	outside := false
	for _, g := range groups {
		title := part.title
		main := g == part.all || g.Level == audit.OneField && g.Field() == part.fields[0].field
		switch {
		case g == part.all:
		case main:
			title += ", " + cellName(slices.DeleteFunc(slices.Clone(g.Values[2:]), func(v audit.Value) bool { return v.All }))
		default:
			title += ", " + inList(g)
		}
		said, other := telling(g), lastOutside(g)
		if main && said != nil {
			all = append(all, sentence(a, g, title, said, refs))
		}
		if other != nil && (!main || other != said) {
			all = append(all, sentence(a, g, title, other, refs))
			outside = true
		}
	}
	if len(all) == 0 {
		return
	}
	if outside {
		how += "; and of every group that reads above or below, at the latest year at which it does"
	}
	p.paragraph(how + ":")
	p.bullets(all)
}

// lastOutside is a group's last row that reads above or below; nil if there is
// none.
func lastOutside(g *audit.Group) *audit.Row {
	for i := len(g.Rows) - 1; i >= 0; i-- {
		if isOutside(g.Rows[i].Comparison) {
			return &g.Rows[i]
		}
	}
	return nil
}

// telling is the row a sentence is made of: the latest that reads as anything
// but too few to say, else the latest with enough at risk; nil if there is none.
func telling(g *audit.Group) *audit.Row {
	var last, read *audit.Row
	for i := range g.Rows {
		r := &g.Rows[i]
		c := r.Comparison
		if c == nil || !c.Reached || c.Own.AtRisk < fewestAtRisk || math.IsNaN(c.Own.Estimate) {
			continue
		}
		last = r
		if c.Reading != benchmark.TooFew {
			read = r
		}
	}
	if read != nil {
		return read
	}
	return last
}

func sentence(a *audit.Audit, g *audit.Group, title string, r *audit.Row, refs *references) string {
	c := r.Comparison
	f := c.Figure
	what := ""
	if own, _ := c.Series.Estimand.Own(); own == survival.Incidence {
		what = " (cumulative incidence)"
	}
	of := ""
	if wider(a, g, c.Series) {
		of = " of a wider group"
	}
	s := fmt.Sprintf("%s: %s revised at %s%s, %s at risk; published %s%s, %s %s",
		title, percentSigned(c.Own.Estimate, c.Own.Lower, c.Own.Upper), inYears(r.Years), what, number(c.Own.AtRisk),
		percentSigned(f.Revision, f.Lower, f.Upper), of, c.Series.Source, refs.mark(c.Series, f))
	if !math.IsNaN(c.Difference) {
		s += "; difference " + percentWith(c.Difference, c.DifferenceLower, c.DifferenceUpper, " points")
	}
	switch words := c.Words(); c.Reading {
	case benchmark.TooFew:
		return s + ": " + words + "."
	default:
		return s + ": " + words + " the published figure."
	}
}

// thresholds are the comparisons of one joint and procedure with thresholds.
type thresholds struct {
	table *table
	notes *footnotes
	said  legends
	small int // groups and years left out
}

func newThresholds(a *audit.Audit, groups []*audit.Group, refs *references) *thresholds {
	t := &thresholds{notes: newFootnotes(), table: &table{Columns: []column{
		{Title: "Group", Wraps: true}, {Title: "At risk", Align: right}, {Title: "Own, %", Align: decimal},
		{Title: "Difference, points", Align: decimal, Least: 18}, {Title: "Reading", Wraps: true, Least: 15}, {},
	}}}
	var order []string
	under := make(map[string][]row)
	for _, g := range groups {
		for i := range g.Rows {
			r := &g.Rows[i]
			x := r.Threshold
			if x == nil || !r.Reached {
				continue
			}
			if x.Own.AtRisk < fewestAtRisk {
				t.small++
				continue
			}
			title := fmt.Sprintf("Threshold of %s %% at %s %s", percent(x.Figure.Revision), inYears(r.Years), refs.mark(x.Series, x.Figure))
			if under[title] == nil {
				order = append(order, title)
			}
			own, difference, notes := ownCells(a, g, r, x, t.notes)
			under[title] = append(under[title], row{Cells: []string{name(g), number(r.KaplanMeier.AtRisk), own, difference, readingOf(a, x, x.Words(), &t.said), notes}})
		}
	}
	for _, title := range order {
		t.table.Section(title)
		t.table.Rows = append(t.table.Rows, under[title]...)
	}
	shortfalls(a, t.notes)
	return t
}

// thresholds writes the comparisons with thresholds, apart from those with
// estimates.
func (p *page) thresholds(t *thresholds, part *part) {
	if len(t.table.Rows) == 0 {
		return
	}
	p.heading(3, part.title+": beside a threshold")
	p.paragraph("A threshold is a limit that somebody set; it estimates nothing and has no limits of its own.")
	p.table(t.table, t.notes)
	p.legend(t.said)
	if t.small > 0 {
		p.paragraph(fmt.Sprintf("Groups with fewer than %d at risk at that time are too few to say; they are in --format csv and json.", fewestAtRisk))
	}
}

// expected writes observed and expected revisions of all joints and of the
// groups of one field.
func (p *page) expected(a *audit.Audit, parts []*part, refs *references) {
	t := &table{Columns: []column{
		{Title: "Group", Wraps: true}, {Title: "To years", Align: decimal}, {Title: "Observed", Align: right}, {Title: "Expected", Align: decimal},
		{Title: "Observed/expected", Align: decimal}, {Title: "Source"},
	}}
	without, left := 0, 0
	for _, part := range parts {
		titled := false
		for _, g := range part.groups() {
			e := g.Expected
			switch {
			case e == nil:
				if slices.ContainsFunc(g.Rows, func(r audit.Row) bool { return r.Comparison != nil || r.Threshold != nil }) {
					without++
				}
				continue
			case g.Level == audit.Cell || g.Joints < fewestJoints:
				left++
				continue
			}
			if !titled {
				t.Section(part.title)
				titled = true
			}
			t.Add(name(g), years(e.ToYears), number(e.Observed), expectedNumber(e.Expected),
				ratio(e), refs.mark(e.Series, lastFigure(e.Series)))
		}
	}
	if len(t.Rows) == 0 && without == 0 {
		return
	}
	p.heading(2, "Observed and expected revisions")
	if len(t.Rows) > 0 {
		p.paragraph("Expected: the revisions that the published curve would give over the same follow-up, to the last year of that curve; observed: those up to the same day. No reading is taken from the ratio.")
		f := newFootnotes()
		shortfalls(a, f)
		p.table(t, f)
	}
	var more []string
	if left > 0 {
		more = append(more, fmt.Sprintf("%s, and those with fewer than %d joints, are in --format csv and json.", capital(combined(a)), fewestJoints))
	}
	if without > 0 {
		more = append(more, fmt.Sprintf("No early published figure for %s: without one at 3 years or earlier no number can be expected.", few(without, "group", "groups")))
	}
	p.paragraph(more...)
}

func lastFigure(s *benchmark.Series) benchmark.Figure {
	if n := len(s.Figures); n > 0 {
		return s.Figures[n-1]
	}
	return benchmark.Figure{}
}

func expectedNumber(x float64) string {
	if x < 1 {
		return decimals(x, 2)
	}
	return decimals(x, 1)
}

func ratio(e *benchmark.Ratio) string {
	r := decimals(e.Ratio, 2)
	if r == "" {
		return ""
	}
	return r + limits(decimals(e.Lower, 2), decimals(e.Upper, 2))
}
