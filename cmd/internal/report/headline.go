package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// answers writes an answer for each joint and procedure, and names those of too
// few joints.
func (w *answering) answers() {
	var small []string
	for _, p := range w.parts {
		if p.all.Joints < fewestJoints {
			small = append(small, fmt.Sprintf("%s %s/%s", kindOf(p.all.Word("joint"), p.all.Word("procedure")), w.told(p.all.Revised), count(p.all.Joints)))
			continue
		}
		w.answer(p)
	}
	if len(small) > 0 {
		w.paragraph(fmt.Sprintf("Fewer than %d joints, no estimate (revised/joints): %s.", fewestJoints, strings.Join(small, ", ")))
	}
}

// later is the year that stands beside the headline's, if it is later.
const later = 10

// answer writes that of one joint and procedure.
func (w *answering) answer(p *part) {
	head := w.a.Headline(p.all)
	items := []item{{Mark: "joints", Text: w.patients(p.all) + ", " + w.told(p.all.Revised) + " revised"}}
	if head == nil {
		w.Answer(document.Answer{Lead: p.title + ": no reading and no estimate" + w.onlyFollowed(p.all) + ".", Items: items})
		return
	}
	speaks, kinds := w.speaking(p, head)
	apart := "" // a reading of the incidence
	mark := "cumulative revision"
	for _, r := range w.estimated(p.all, head) {
		items = append(items, item{Mark: mark, Text: w.estimateLine(p, r, head)})
		mark = ""
	}
	for _, k := range kinds {
		if k[0].Joints != p.all.Joints {
			items = append(items, item{Mark: kind(k[0]), Text: w.kindLine(k)})
		}
	}
	for _, r := range w.headlines(p, benchmark.Incidence) {
		if slices.ContainsFunc(w.estimated(p.all, head), func(row *audit.Row) bool { return row.Years == r.years() }) {
			items = append(items, item{Mark: "dying counted in", Text: w.incidenceLine(p, r, kinds)})
			if r.outside() {
				apart = " With dying counted in: " + w.phrase(r) + "."
			}
		}
	}
	if s := w.expectedLine(p); s != "" {
		items = append(items, item{Mark: "the " + few(p.all.Revised, "revision", "revisions"), Text: s})
	}
	var lead string
	if speaks == nil {
		why, listed := w.noReading(p, head)
		lead = p.title + ": no reading, " + why + "."
		if listed != "" {
			items = append(items, item{Mark: "published", Text: listed})
		}
	} else {
		lead = p.title + w.sentence(p, speaks)
	}
	if w.paper { // the strip has the others
		items = slices.DeleteFunc(items, func(i item) bool {
			return i.Mark == "joints" || i.Mark == "" || strings.HasPrefix(i.Mark, "the ")
		})
	}
	w.Answer(document.Answer{Lead: lead + apart, First: w.lookFirst(p, head, speaks), Items: items})
}

// told is a number of revisions; of an audit made for sharing 5 stands for 1 to 7.
func (w *answering) told(n int64) string {
	if w.a.Shared != nil && n == 5 {
		return "1–7"
	}
	return count(n)
}

func (w *answering) patients(g *audit.Group) string {
	if g.Patients < 0 {
		return count(g.Joints)
	}
	return count(g.Joints) + " in " + few(g.Patients, "patient", "patients")
}

// onlyFollowed says how few were followed to the first year.
func (w *answering) onlyFollowed(g *audit.Group) string {
	if r := g.At(w.a.Years[0]); r != nil && r.Shown == audit.Counts {
		return fmt.Sprintf(", only %s still followed at %s", number(r.KaplanMeier.AtRisk), inYears(r.Years))
	}
	return ", nobody was followed to " + inYears(w.a.Years[0])
}

// estimated are the rows that stand in an answer: the headline's and, if it is
// later, that of ten years.
func (w *answering) estimated(g *audit.Group, head *audit.Row) []*audit.Row {
	rows := []*audit.Row{head}
	if r := g.At(later); r != nil && head.Years < later && r.Requested && r.Shown.Estimated() {
		rows = append(rows, r)
	}
	return rows
}

// headlines are the readings of a joint and procedure as a whole, of one estimand: of series that
// state nothing, or only a diagnosis that at least half of the joints have.
func (w *answering) headlines(p *part, of benchmark.Measure) []reading {
	return slices.DeleteFunc(readings(p.beside(w.a)), func(r reading) bool {
		b := r[0]
		return len(b.Within) > 0 || len(b.Series.Others()) > 0 || 2*b.Joints < p.all.Joints || b.Series.Estimand != of ||
			!b.Comparison.Reached || b.Comparison.Own.AtRisk < fewestAtRisk
	})
}

// speaking is the reading that the sentence says: at the headline's year, else at
// ten years; of the kind with most joints. Kinds are all at that year.
func (w *answering) speaking(p *part, head *audit.Row) (speaks reading, kinds []reading) {
	all := w.headlines(p, benchmark.OneMinusKaplanMeier)
	for _, row := range w.estimated(p.all, head) {
		for _, r := range all {
			if r.years() != row.Years {
				continue
			}
			w.read = append(w.read, r)
			if speaks == nil || r.years() == speaks.years() {
				kinds = append(kinds, r)
			}
			if speaks == nil || r.years() == speaks.years() && r[0].Joints > speaks[0].Joints {
				speaks = r
			}
		}
	}
	return speaks, kinds
}

// sentence is a reading in words, after the name of what is read. A kind that is
// not all says what it leaves out.
func (w *answering) sentence(p *part, r reading) string {
	s := ": " + w.phrase(r)
	if r.years() != w.a.Headline(p.all).Years {
		s += fmt.Sprintf(" (at %s)", inYears(r.years()))
	}
	s += "."
	if r.near() {
		w.said.nearest = true
		s += " It is near the line."
	}
	if b := r[0]; b.Joints != p.all.Joints {
		s = fmt.Sprintf(", its %s for %s%s The other %s, %s of the %s, are compared with nothing.", count(b.Joints), kind(b), s,
			count(p.all.Joints-b.Joints), count(p.all.Revised-b.Revised), few(p.all.Revised, "revision", "revisions"))
		if w.a.Shared != nil { // rounded numbers don't add up
			s = strings.Replace(s, ", "+count(p.all.Revised-b.Revised)+" of the "+few(p.all.Revised, "revision", "revisions")+",", "", 1)
		}
	}
	return s
}

func (w *answering) phrase(r reading) string {
	t, marks := r.together(), w.letters.marks(r)
	of := func(n int) string {
		switch {
		case t.Figures == 1:
			return "what is published " + marks
		case n == 2 && t.Figures == 2:
			return "both figures published " + marks
		case n == t.Figures:
			return fmt.Sprintf("all %d figures published %s", n, marks)
		}
		return fmt.Sprintf("%d of %d figures published %s", n, t.Figures, marks)
	}
	switch {
	case t.Above > 0 && t.Below > 0:
		return "between the figures published " + marks
	case t.Above > 0:
		return "above " + of(t.Above)
	case t.Below > 0:
		return "below " + of(t.Below)
	case t.Compatible > 0:
		w.said.compatible = true
		return "compatible with " + of(t.Compatible) + ", no evidence of a difference"
	}
	w.said.few = true
	return "too few to say whether above or below what is published " + marks
}

// estimateLine is an estimate with what is published beside it.
func (w *answering) estimateLine(p *part, r, head *audit.Row) string {
	k := r.KaplanMeier
	s := percent(k.Estimate) + " % at " + inYears(r.Years) + limits(percent(k.Lower), percent(k.Upper)) + ", " + stillFollowed(p.all, r)
	if r != head && percent(k.Estimate) == percent(head.KaplanMeier.Estimate) {
		s = "at " + inYears(r.Years) + " the same" + limits(percent(k.Lower), percent(k.Upper)) + ", " + stillFollowed(p.all, r)
	}
	if r.Shown == audit.Faint {
		s += " (under " + number(w.a.Floor()) + ")"
	}
	if figures, _ := r.Read(benchmark.OneMinusKaplanMeier); len(figures) > 0 {
		s += "; published " + w.published(figures)
	}
	return s
}

// stillFollowed says how many of a group are at risk, and of how many of these that is
// assumed, if of most.
func stillFollowed(g *audit.Group, r *audit.Row) string {
	s := number(r.KaplanMeier.AtRisk) + " still followed"
	switch n := mostlyAssumed(g, r); {
	case n == r.KaplanMeier.AtRisk:
		s += ", all of them assumed"
	case n > 0:
		s += ", " + number(n) + " of them assumed"
	}
	return s
}

// mostlyAssumed is of how many at risk it is assumed that they are, if of at least half;
// else 0.
func mostlyAssumed(g *audit.Group, r *audit.Row) float64 {
	if g.Assumed == 0 || r.Known == nil {
		return 0
	}
	if n := r.KaplanMeier.AtRisk - r.Known.AtRisk; 2*n >= r.KaplanMeier.AtRisk {
		return n
	}
	return 0
}

// published is the range of figures with their letters.
func (w *answering) published(figures []*audit.Beside) string {
	s := rangeOf(figures)
	if n := registersOf(figures); len(figures) > 1 {
		s += fmt.Sprintf(", %d figures of %s", len(figures), few(n, "register", "registers"))
	}
	return s + " " + w.letters.marks(figures)
}

func registersOf(figures []*audit.Beside) int {
	var series []*benchmark.Series
	for _, b := range figures {
		series = append(series, b.Series)
	}
	return benchmark.Registers(series)
}

// rangeOf is the least and the most of figures, in percent.
func rangeOf(figures []*audit.Beside) string {
	least, most := math.Inf(1), math.Inf(-1)
	for _, b := range figures {
		least, most = min(least, b.Figure.Revision), max(most, b.Figure.Revision)
	}
	if percent(least) == percent(most) {
		return percent(least)
	}
	return percent(least) + "–" + percent(most)
}

// kindLine is the own estimate of a kind with what is published of it.
func (w *answering) kindLine(r reading) string {
	k := r.own().Own
	s := fmt.Sprintf("%s, %s revised; %s %% at %s%s, %s still followed", few(r[0].Joints, "joint", "joints"), w.told(r[0].Revised),
		percent(k.Estimate), inYears(r.years()), limits(percent(k.Lower), percent(k.Upper)), number(k.AtRisk))
	if k.AtRisk < w.a.Floor() {
		s += " (under " + number(w.a.Floor()) + ")"
	}
	return s + "; published " + w.published(r)
}

// incidenceLine is the own cumulative incidence beside what is published of it, read apart: it
// neither confirms nor contradicts a reading of the cumulative revision. It stands below that of the
// same joints, if there is one.
func (w *answering) incidenceLine(p *part, r reading, above []reading) string {
	w.read, w.said.dying = append(w.read, r), true
	own, of := r.own().Own, ""
	if r[0].Joints != p.all.Joints && !slices.ContainsFunc(above, func(k reading) bool { return kind(k[0]) == kind(r[0]) }) {
		of = kind(r[0]) + " "
	}
	s := fmt.Sprintf("%s%s %% at %s%s; published %s", of, percent(own.Estimate), inYears(r.years()), limits(percent(own.Lower), percent(own.Upper)), w.published(r))
	if r.outside() {
		return s // said above
	}
	w.phrase(r) // which has its caution
	return s + ": " + strings.TrimSuffix(r.together().String(), " with")
}

// expectedLine says how many revisions are expected, where at least half of those
// seen can be set beside that; "" where nothing is.
func (w *answering) expectedLine(p *part) string {
	e := p.all.Expected()
	if p.all.Revised == 0 {
		return ""
	}
	if e == nil {
		return w.sumLine(p)
	}
	mark := "[" + w.letters.letter(e.Series) + "]"
	switch most := 2*e.Observed >= float64(p.all.Revised); {
	case !most && w.a.Shared != nil: // too coarse to say more of
		return ""
	case !most:
		return fmt.Sprintf("expected: not given; only joints that can have reached %s can be set beside %s, and %s", inYears(e.Series.Figures[0].Years), mark, ofSuchJoints(e.Observed, p.all.Revised))
	}
	w.said.beside = true
	least, most := e.Usual()
	s := fmt.Sprintf("%s can be set beside %s, %s expected (%d to %d would be usual)", number(e.Observed), mark, decimals(e.Expected, 1), least, most)
	if n := float64(p.all.Revised) - e.Observed; n > 0 {
		s += fmt.Sprintf("; %s came later", number(n))
	}
	return s
}

// ofSuchJoints says how many of the revisions are of joints named just before.
func ofSuchJoints(of float64, revisions int64) string {
	all := "the " + few(revisions, "revision", "revisions")
	switch {
	case of == 0 && revisions == 1:
		return all + " is of no such joint"
	case of == 0:
		return "none of " + all + " is of such a joint"
	case of == 1:
		return "1 of " + all + " is of such a joint"
	}
	return fmt.Sprintf("%s of %s are of such joints", number(of), all)
}

// sumLine says the sum that stands instead, if it takes in at least half of the
// revisions.
func (w *answering) sumLine(p *part) string {
	for _, e := range p.all.Sums {
		if e.Instead && telling(p.all, &e.Ratio) {
			w.said.beside = true
			return sumSentence(e, "["+w.letters.letter(e.Series)+"]")
		}
	}
	return ""
}

// noReading says why nothing is read of a joint and procedure, and what is
// published and not used.
func (w *answering) noReading(p *part, head *audit.Row) (why, listed string) {
	beside := slices.DeleteFunc(p.beside(w.a), func(b *audit.Beside) bool { return len(b.Within) > 0 })
	if len(beside) == 0 {
		return "nothing published here is of such joints", ""
	}
	first := math.Inf(1)
	for _, b := range beside {
		if (b.Match == audit.Unreached || b.Match == audit.Like) && len(b.Series.Others()) == 0 {
			first = min(first, b.Figure.Years)
		}
	}
	if order, n := unreadFor(beside); len(order) > 0 {
		slices.SortStableFunc(order, func(a, b string) int { return n[b] - n[a] })
		listed = fmt.Sprintf("not read: %s %s", few(int64(n[order[0]]), "figure", "figures"), order[0])
		rest := 0
		for _, why := range order[1:] {
			rest += n[why]
		}
		if rest > 0 {
			listed += fmt.Sprintf(", %d for other reasons", rest)
		}
		if !w.paper {
			listed += "; listed in --full"
		}
	}
	switch {
	case math.IsInf(first, 1):
		return "no published figure here is of these joints and years", listed
	case first > head.Years:
		return fmt.Sprintf("the figures published here begin at %s, and fewer than %d of these joints have been followed so long", inYears(first), fewestAtRisk), listed
	}
	return "no published figure here is of these joints at such a year", listed
}

// lookFirst says what could change the answer most, and the number it would make.
func (w *answering) lookFirst(p *part, head *audit.Row, speaks reading) string {
	if speaks != nil && speaks.together().Above > 0 {
		return fmt.Sprintf("Look first at the %s: is each of these joints’, and were all joints entered?", few(p.all.Revised, "revision", "revisions"))
	}
	var most *cohort.Effect
	var change float64
	for i := range w.f.Effects {
		e := &w.f.Effects[i]
		if e.Joint != p.all.Word("joint") || e.Procedure != p.all.Word("procedure") {
			continue
		}
		if x := effectAt(e, head.Years); x != nil {
			if moves := max(math.Abs(x.High-x.Now), math.Abs(x.Low-x.Now)); moves > max(change, 0.0005) {
				most, change = e, moves
			}
		}
	}
	if most == nil {
		return w.lookAtAssumed(p)
	}
	x := effectAt(most, head.Years)
	then := percent(x.Low)
	if high := percent(x.High); high != then {
		then += " to " + high
	}
	if slices.Contains(most.Reasons, cohort.LostToFollowUp) {
		return fmt.Sprintf("Look first at the %s lost: %s.", ofPart(p, int64(most.With)), ifLost(x, most.With))
	}
	return fmt.Sprintf("Look first at %s (%s): were they %s, %s %% would be %s.", few(most.With, "row", "rows"), most.Problem, supposed(most.Supposed), percent(x.Now), then)
}

// supposed is the other way to settle a problem, as it stands in a sentence.
func supposed(s string) string {
	before, after, ok := strings.Cut(s, ": ")
	if ok {
		return before + " (" + after + ")"
	}
	return s
}

// effectAt is an effect at a year; nil where it can't be worked out.
func effectAt(e *cohort.Effect, years float64) *cohort.EffectAt {
	for i := range e.At {
		if x := &e.At[i]; x.Years == years && !math.IsNaN(x.Now) && !math.IsNaN(x.Low) && !math.IsNaN(x.High) && x.AtRiskThen >= fewestAtRisk {
			return x
		}
	}
	return nil
}

// lookAtAssumed names the joints whose follow-up is assumed.
func (w *answering) lookAtAssumed(p *part) string {
	if r := w.a.Headline(p.all); r != nil && p.all.Assumed > 0 {
		return fmt.Sprintf("Look first at the %s whose follow-up is assumed: each revision not known of adds %s.", ofPart(p, p.all.Assumed), adds(p.all, r))
	}
	return ""
}

// followUp is that of a joint and procedure; nil if it is not known.
func (w *answering) followUp(p *part) *cohort.FollowUp {
	for i := range w.f.FollowUp {
		f := &w.f.FollowUp[i]
		if len(w.f.FollowUp) == 1 || f.Joint == p.all.Word("joint") && f.Procedure == p.all.Word("procedure") {
			return f
		}
	}
	return nil
}

// ifLost is an estimate as it would be if all of n joints lost were revised, and if none.
func ifLost(x *cohort.EffectAt, n int) string {
	all, none := "all were ", "none"
	if n == 1 {
		all, none = "", "not"
	}
	said := fmt.Sprintf("if %srevised, %s %% would be %s", all, percent(x.Now), percent(x.High))
	if percent(x.Low) != percent(x.High) {
		said += "; if " + none + ", " + percent(x.Low)
	}
	return said
}
