package report

import (
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// caution stands under everything that reads "compatible with".
const caution = "“Compatible with” is no evidence of a difference, which is not the same as “as good as”."

// tooFew explains the reading.
const tooFew = "“Too few to say”: fewer than 10 at risk, or so few that even a group without a single revision could not be told from the published figure."

// meets says how own joints and published figures are brought together.
const meets = "Beside each published figure stand the own joints of the same kind: all that meet everything the figure is of, and no others. Figures of the same own joints are read together. Difference: own − published, in percentage points."

// comparisons writes the comparison with published figures; of the groups of several fields too, and
// every ratio, if every one is asked for.
func (p *page) comparisons(a *audit.Audit, parts []*part, refs *references, every bool) {
	p.heading(1, "Comparison with published figures")
	if !compared(a) {
		p.paragraph(noFigure(a))
		p.unmet(a)
		p.department(a)
		return
	}
	p.paragraph(meets,
		"Above, below and compatible with say where own revision lies beside the published figure; too few to say, that the numbers allow none of the three.", caution)
	for _, part := range parts {
		groups := part.groups()
		if !every {
			groups = part.pooled()
		}
		p.compare(a, part, groups, refs)
	}
	p.unmet(a)
	if !every {
		parts = narrow(parts)
	}
	p.expected(a, parts, refs, every)
	p.department(a)
	if a.Readings > 1 {
		p.paragraph(chance(a, outsideCount(a)))
	}
	if len(refs.sources) > 0 {
		p.heading(2, "Published sources")
		p.references(refs)
	}
}

// unmet names the user's own figures that no own joint is of.
func (p *page) unmet(a *audit.Audit) {
	var of []string
	for _, b := range a.Unmet {
		what := kindTitle(b.Series.Joint, b.Series.Procedure) + ": " + among(b.Series) + " (" + b.Series.Source + ")"
		if !slices.Contains(of, what) {
			of = append(of, what)
		}
	}
	if len(of) > 0 {
		p.paragraph("No joint here is of these figures of your own file, so nothing stands beside them: " + strings.Join(of, "; ") + ".")
	}
}

func noFigure(a *audit.Audit) string {
	if !a.Sought {
		return "No published figures were asked for, so nothing is compared."
	}
	return "No published figure is of joints like these, so nothing is compared."
}

func compared(a *audit.Audit) bool { return len(a.Beside) > 0 }

// beside are the published figures with own joints of a joint and procedure.
func (p *part) beside(a *audit.Audit) []*audit.Beside {
	var all []*audit.Beside
	for _, b := range a.Beside {
		if b.Joint == p.all.Word("joint") && b.Procedure == p.all.Word("procedure") && b.Match != audit.AThreshold {
			all = append(all, b)
		}
	}
	return all
}

// reading is figures read together.
type reading []*audit.Beside

// readings are those of some figures, in their order.
func readings(beside []*audit.Beside) []reading {
	var all []reading
	at := make(map[int]int)
	for _, b := range beside {
		if !b.Read() {
			continue
		}
		i, ok := at[b.ReadWith]
		if !ok {
			i = len(all)
			at[b.ReadWith] = i
			all = append(all, nil)
		}
		all[i] = append(all[i], b)
	}
	return all
}

func (r reading) together() benchmark.Together { return *r[0].Together }
func (r reading) own() *benchmark.Comparison   { return r[0].Comparison }
func (r reading) years() float64               { return r[0].Figure.Years }

// outside reports whether a reading says above or below of any of its figures.
func (r reading) outside() bool { return r.together().Above > 0 || r.together().Below > 0 }

// contradicts reports whether one reading says above or below and the other, nil for none, does not
// say the same.
func (r reading) contradicts(other reading) bool {
	if other == nil {
		return r.outside()
	}
	return (r.outside() || other.outside()) && r.together().Code() != other.together().Code()
}

// near reports whether the limits of the difference from its one figure would read
// otherwise than it does, as above or below.
func (r reading) near() bool { return len(r) == 1 && !r.outside() && r.own().NearTheLine }

// kind names the own joints of a figure.
func kind(b *audit.Beside) string {
	var words []string
	for _, v := range b.Within {
		word := v.Word
		if !startsWithField(v.Field, word) {
			word = label(v.Field) + " " + word
		}
		words = append(words, word)
	}
	without := *b.Series
	if without.Subset = ""; b.Assumed {
		without.Diagnosis = ""
	}
	words = append(words, stated(&without)...)
	if len(words) == 0 {
		return "all"
	}
	return strings.Join(words, ", ")
}

// compare writes the comparisons of one joint and procedure, and the thresholds
// beside the groups given.
func (p *page) compare(a *audit.Audit, part *part, groups []*audit.Group, refs *references) {
	beside := part.beside(a)
	c := comparing{audit: a, refs: refs, notes: newFootnotes(), table: newComparisonTable()}
	thin := 0
	kinds := readings(beside)
	slices.SortStableFunc(kinds, func(a, b reading) int { return strings.Compare(sortKind(a[0]), sortKind(b[0])) })
	titled := ""
	for _, r := range kinds {
		if c := r.own(); !c.Reached || c.Own.AtRisk < fewestAtRisk {
			thin++
			continue
		}
		if title := capital(kind(r[0])) + " (" + few(r[0].Joints, "joint", "joints") + ")"; title != titled {
			c.table.Section(title)
			titled = title
		}
		c.add(r)
	}
	thresholds := newThresholds(a, groups, refs)
	if len(c.table.Rows) == 0 && thin == 0 && len(beside) == 0 && len(thresholds.table.Rows) == 0 {
		return
	}
	p.heading(2, part.title)
	if len(c.table.Rows) > 0 {
		shortfalls(a, c.notes)
		refs.explain(c.notes)
		p.table(c.table, c.notes)
		c.said.leave(thresholds.said)
		p.legend(c.said)
	}
	p.bullets(unread(part.beside(a), thin))
	p.thresholds(thresholds, part)
}

// sortKind puts all joints first, then kinds by what they state.
func sortKind(b *audit.Beside) string {
	return fmt.Sprintf("%d%d %s %09.3f", len(b.Within), len(b.Series.Others()), kind(b), b.Figure.Years)
}

// unreadFor counts the figures that are published and not read, by the reason, in
// the order in which reasons are met.
func unreadFor(beside []*audit.Beside) (order []string, n map[string]int) {
	n = make(map[string]int)
	for _, b := range beside {
		if b.Read() || len(b.Within) > 0 {
			continue
		}
		why := "of operations of other years, or of a follow-up that none here can have reached"
		switch s := b.Series; {
		case s.Subset != "":
			why = "of a subset of implants or patients"
		case s.Other() != "":
			switch why = "of " + s.Other(); {
			case s.Other() == "pooled":
				why = "of pooled studies"
			case strings.HasPrefix(s.Other(), "no "):
				why = "with " + s.Other()
			}
		case b.Match == audit.Like:
			why = "built-in, where your own file has a figure of the same joints"
		case strings.Contains(b.Reason, "not recorded"):
			why = "of joints told apart by what is not recorded here"
		case strings.HasPrefix(b.Reason, "narrowed"):
			why = "of more than the joints selected"
		}
		if n[why] == 0 {
			order = append(order, why)
		}
		n[why]++
	}
	return order, n
}

// unread says how many figures are published and not read, and why.
func unread(beside []*audit.Beside, thin int) []string {
	var said []string
	if thin > 0 {
		said = append(said, fmt.Sprintf("Fewer than %d at risk, and so too few to say: %s.", fewestAtRisk, few(thin, "further reading", "further readings")))
	}
	order, n := unreadFor(beside)
	if len(order) > 0 {
		var parts []string
		for _, why := range order {
			parts = append(parts, few(int64(n[why]), "figure", "figures")+" "+why)
		}
		said = append(said, "Published too, and not read: "+strings.Join(parts, "; ")+". --comparisons FILE lists each with its reason.")
	}
	return said
}

// legends are the readings in a table that need a word of caution.
type legends struct{ compatible, few, shared bool }

func (l *legends) add(words string) {
	l.compatible = l.compatible || strings.HasPrefix(words, "compatible")
	l.few = l.few || strings.HasPrefix(words, "too few")
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
		s = append(s, "Readings are made from the rounded numbers: “too few to say” also where what they can stand for would read otherwise.")
	}
	p.paragraph(s...)
}

// comparing collects one table of comparisons.
type comparing struct {
	audit *audit.Audit
	refs  *references
	table *table
	notes *footnotes
	said  legends
}

func newComparisonTable() *table {
	return &table{Columns: []column{
		{Title: "Years", Align: decimal}, {Title: "At risk", Align: right},
		{Title: "Own, %", Align: decimal}, {Title: "Published, %, and its source", Align: decimal, Least: 18},
		{Title: "Difference, points", Align: decimal, Least: 18}, {Title: "Reading", Wraps: true}, {},
	}}
}

// add adds a reading, a row for each of its figures.
func (c *comparing) add(r reading) {
	for i, b := range r {
		own, difference, notes := ownCells(c.audit, b.Joints, b.Comparison, c.notes)
		cells := []string{years(b.Figure.Years), number(b.Comparison.Own.AtRisk), own, publishedEstimate(b, c.refs), difference, "", notes}
		if i == 0 {
			cells[5] = readingOf(c.audit, r.together().String(), &c.said)
		} else {
			cells[0], cells[1], cells[2] = "", "", ""
		}
		c.table.Rows = append(c.table.Rows, row{Cells: cells})
	}
}

// publishedEstimate is a published figure with its limits and source.
func publishedEstimate(b *audit.Beside, refs *references) string {
	f := b.Figure
	return percentWith(f.Revision, f.Lower, f.Upper, "") + " " + refs.mark(b.Series, f)
}

// publishedRange is what is published beside a row, and where: the least and the
// most of several figures.
func publishedRange(figures []*audit.Beside, refs *references) string {
	if len(figures) == 0 {
		return ""
	}
	said := rangeOf(figures) + " "
	for _, b := range figures {
		said += refs.mark(b.Series, b.Figure)
	}
	return said
}

// ownCells are the own estimate, the difference and the notes of a comparison.
func ownCells(a *audit.Audit, joints int64, x *benchmark.Comparison, f *footnotes) (own, difference, notes string) {
	if x.Reached && !(x.Own.AtRisk < fewestAtRisk) {
		difference = percentWith(x.Difference, x.DifferenceLower, x.DifferenceUpper, "")
	}
	return ownCell(a, joints, x, f), difference, comparisonNotes(x, f)
}

// ownCell is the own estimate of a comparison.
func ownCell(a *audit.Audit, joints int64, x *benchmark.Comparison, f *footnotes) string {
	switch {
	case !x.Reached:
		return ""
	case x.Own.AtRisk < fewestAtRisk:
		return share(x.Own, joints, f)
	}
	return estimate(a, x.Own, f)
}

// comparisonNotes are the letters of what must be known to read a comparison.
func comparisonNotes(x *benchmark.Comparison, f *footnotes) string {
	var marks []string
	add := func(text string) { marks = append(marks, f.mark(text)) }
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
	case x.Reading == benchmark.Above || x.Reading == benchmark.Below:
		return "near the line: the printed limits of the difference just include 0; the limits from which the reading is made just exclude it"
	}
	return "near the line: the printed limits of the difference just exclude 0; the stricter limits from which the reading is made do not"
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
		for _, r := range g.Rows() {
			for _, x := range r.Thresholds {
				if !x.Reached {
					continue
				}
				if x.Own.AtRisk < fewestAtRisk {
					t.small++
					continue
				}
				title := fmt.Sprintf("Threshold of %s %% at %s %s", percent(x.Figure.Revision), inYears(x.Figure.Years), refs.mark(x.Series, x.Figure))
				if under[title] == nil {
					order = append(order, title)
				}
				own, difference, notes := ownCells(a, g.Joints, x, t.notes)
				under[title] = append(under[title], row{Cells: []string{name(g), number(x.Own.AtRisk), own, difference, readingOf(a, x.Words(), &t.said), notes}})
			}
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
	p.paragraph("A threshold is a limit that somebody set for implants; it estimates nothing and has no limits of its own.")
	p.table(t.table, t.notes)
	p.legend(t.said)
	if t.small > 0 {
		p.paragraph(fmt.Sprintf("Groups with fewer than %d at risk at that time are too few to say; they are in --format json.", fewestAtRisk))
	}
}

// expected writes observed and expected revisions of the groups that a series
// meets exactly; where few of a group's revisions are among them, only if every one is asked
// for.
func (p *page) expected(a *audit.Audit, parts []*part, refs *references, every bool) {
	t := &table{Columns: []column{
		{Title: "Group", Wraps: true}, {Title: "To years", Align: decimal}, {Title: "Operated on", Align: right}, {Title: "Joints", Align: right}, {Title: "Observed", Align: right},
		{Title: "Expected", Align: decimal}, {Title: "Usual", Align: decimal}, {Title: "Source"}, {},
	}}
	f := newFootnotes()
	left := 0
	for _, part := range parts {
		titled := false
		for _, g := range part.groups() {
			for _, e := range g.Ratios {
				tells := telling(g, e)
				if g.Pooling == audit.Cell || !tells && !every {
					left++
					continue
				}
				if !titled {
					t.Section(part.title)
					titled = true
				}
				note := ""
				if !tells {
					note = f.mark("fewer than half of the group's revisions fall inside whole published intervals: it says little of them")
				}
				t.Add(append(expectedCells(g, e), refs.mark(e.Series, lastFigure(e.Series)), note)...)
			}
		}
	}
	sums := addedUp(parts, refs)
	if len(t.Rows) == 0 && left == 0 && len(sums) == 0 {
		return
	}
	p.heading(2, "Observed and expected revisions")
	if len(t.Rows) > 0 {
		p.paragraph("Expected: the revisions that the published figures would give, each joint counted to the last published year that its closing date reaches, or to its revision, death or last day seen if that is earlier; observed: those up to the same day, of all the group's. " +
			"± is what drawing a line between published years may do to it. Joints: those that the closing date takes to a published year, of all, and when they were operated on: older operations weigh most. " +
			"Usual: what chance alone gives, in 95 of 100 such practices exactly as published. No reading is taken from it.")
		shortfalls(a, f)
		p.table(t, f)
	}
	p.bullets(sums)
	switch {
	case left > 0 && every:
		p.paragraph(fmt.Sprintf("Left out here, groups of several fields: %d; all are in --comparisons FILE and --format json.", left))
	case left > 0:
		p.paragraph(fmt.Sprintf("Left out here, where fewer than half of a group's revisions fall inside whole published intervals, or groups of several fields: %d; all are in --comparisons FILE and --format json.", left))
	}
}

// expectedCells are a ratio of a group: what it takes in of all, and what chance gives.
func expectedCells(g *audit.Group, e *benchmark.Ratio) []string {
	joints, observed, operated, usual := count(e.Joints), number(e.Observed), "", "—"
	if e.Joints >= 0 && e.Without > 0 {
		joints += " of " + count(e.Joints+e.Without)
	}
	if e.Observed >= 0 && float64(g.Revised) > e.Observed {
		observed += " of " + count(g.Revised)
	}
	switch {
	case e.OperatedFrom == 0:
	case e.OperatedFrom == e.OperatedTo:
		operated = fmt.Sprint(e.OperatedFrom)
	default:
		operated = fmt.Sprintf("%d–%d", e.OperatedFrom, e.OperatedTo)
	}
	if e.Expected > 0 {
		least, most := e.Usual()
		usual = fmt.Sprintf("%d–%d", least, most)
	}
	return []string{name(g), years(e.ToYears), operated, joints, observed, expectedNumber(e.Expected) + " ± " + decimals(100*e.Interpolation, 0) + " %", usual}
}

// addedUp are observed and expected of groups that a source has figures of only in
// parts, each joint by those of its own part.
func addedUp(parts []*part, refs *references) []string {
	var said []string
	for _, part := range parts {
		for _, g := range part.groups() {
			for _, e := range g.Sums {
				if e.Instead && g.Pooling != audit.Cell && telling(g, &e.Ratio) {
					said = append(said, part.title+", "+name(g)+": "+sumSentence(e, refs.mark(e.Series, lastFigure(e.Series)))+".")
				}
			}
		}
	}
	return said
}

// sumSentence says a sum.
func sumSentence(e *audit.Sum, mark string) string {
	var by []string
	for _, field := range e.By {
		by = append(by, label(field))
	}
	s := fmt.Sprintf("%s observed, %s expected %s, by %s (%s of %s joints", number(e.Observed), expectedNumber(e.Expected), mark, list(by), count(e.Joints), count(e.Of))
	if e.Outside > 0 {
		s += fmt.Sprintf("; %d revised of the other %s", e.Missed, count(e.Outside))
	}
	least, most := e.Usual()
	return s + fmt.Sprintf("); usual %d–%d", least, most)
}

// telling reports whether a ratio takes in at least half of the group's
// revisions: fewer would mislead.
func telling(g *audit.Group, e *benchmark.Ratio) bool {
	return e.Expected > 0 && e.Observed >= 0 && 2*e.Observed >= float64(g.Revised)
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

// readingOf is a reading in words.
func readingOf(a *audit.Audit, words string, said *legends) string {
	said.add(words)
	said.shared = a.Shared != nil
	return words
}

// outsideCount is how many readings say above or below, of all their figures.
func outsideCount(a *audit.Audit) int {
	n := 0
	for _, r := range readings(a.Beside) {
		if t := r.together(); t.Code() == "above" || t.Code() == "below" {
			n++
		}
	}
	return n
}

// chance says how many readings say above or below, of how many that could have,
// and how many would by chance.
func chance(a *audit.Audit, n int) string {
	head := "No reading says"
	switch {
	case n == 1:
		head = "1 reading says"
	case n > 1:
		head = count(n) + " readings say"
	}
	return fmt.Sprintf("%s above or below. Of %s that could have, at most %s would by chance alone, if the practice is exactly as published; groups overlap, so chance readings come several at once or not at all.",
		head, count(a.Readings), decimals(a.ByChance, 1))
}
