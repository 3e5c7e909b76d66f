package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
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
	mark := "cumulative revision"
	for _, r := range w.estimated(p, head) {
		items = append(items, item{Mark: mark, Text: w.estimateLine(p, r, head)})
		mark = ""
	}
	for _, k := range kinds {
		if k[0].Joints != p.all.Joints {
			items = append(items, item{Mark: kind(k[0]), Text: w.kindLine(k)})
		}
	}
	var apart []reading // of the incidence, and say otherwise
	for _, r := range w.headlines(p, benchmark.Incidence) {
		if slices.ContainsFunc(w.estimated(p, head), func(row *audit.Row) bool { return row.Years == r.years() }) {
			otherwise := r.contradicts(speaks)
			if otherwise {
				apart = append(apart, r)
			}
			items = append(items, item{Mark: "dying counted in", Text: w.incidenceLine(p, r, kinds, otherwise)})
		}
	}
	if s := w.expectedLine(p); s != "" {
		items = append(items, item{Mark: "the " + few(p.all.Revised, "revision", "revisions"), Text: s})
	}
	var lead string
	if speaks == nil {
		why, listed := w.noReading(p, head)
		lead = "no reading, " + why
		if listed != "" {
			items = append(items, item{Mark: "published", Text: listed})
		}
	} else {
		lead = w.sentence(p, speaks, apart != nil)
	}
	if w.on.paper() { // the strip has the others
		items = slices.DeleteFunc(items, func(i item) bool {
			return i.Mark == "joints" || i.Mark == "" && (speaks == nil || speaks.years() == head.Years) || strings.HasPrefix(i.Mark, "the ")
		})
	}
	above := slices.ContainsFunc(append(apart, speaks), func(r reading) bool { return r != nil && r.together().Above > 0 })
	w.Answer(document.Answer{Lead: w.twoWays(p, speaks, lead, apart), First: w.lookFirst(p, above), Items: items})
}

// twoWays is what is read as if nobody died, and, where that says otherwise, what is read with
// dying counted in, in one sentence; then what of a joint and procedure neither is of.
func (w *answering) twoWays(p *part, speaks reading, lead string, apart []reading) string {
	of := func(r reading) string {
		if r == nil || r[0].Joints == p.all.Joints {
			return ""
		}
		return "its " + count(r[0].Joints) + " for " + kind(r[0])
	}
	s := p.title
	if its := of(speaks); its != "" {
		s += ", " + its
	}
	s += ": "
	if apart != nil {
		s += "as if nobody died, "
	}
	s += lead
	for _, r := range apart {
		s += "; with dying counted in, "
		if its := of(r); its != "" && its != of(speaks) {
			s += its + ", "
		}
		s += w.sentence(p, r, true)
	}
	s += "."
	if speaks == nil || of(speaks) == "" {
		return s
	}
	left := p.all.Revised - speaks[0].Revised
	s += fmt.Sprintf(" The other %s", count(p.all.Joints-speaks[0].Joints))
	if w.a.Shared == nil { // rounded numbers don't add up
		s += fmt.Sprintf(", %s of the %s,", count(left), few(p.all.Revised, "revision", "revisions"))
	}
	return s + " are compared with nothing."
}

// told is a number of revisions; of an audit made for sharing 5 stands for 1 to 7.
func (w *answering) told(n int64) string {
	if w.a.Vague(float64(n)) {
		return "1–7"
	}
	return count(n)
}

// inPercent is an estimate and what it is at or of, with its limits; of an audit made for sharing
// these alone, where the revised may be 1 to 7.
func (w *answering) inPercent(k survival.Point, of string) string {
	if w.a.Vague(k.Events) {
		return percent(k.Lower) + " to " + percent(k.Upper) + " %" + of
	}
	return percent(k.Estimate) + " %" + of + limits(percent(k.Lower), percent(k.Upper))
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

// estimated are the rows that stand in an answer: the headline's and that of ten years, if it is
// later, or read and the headline's is not.
func (w *answering) estimated(p *part, head *audit.Row) []*audit.Row {
	rows := []*audit.Row{head}
	read := func(years float64) bool {
		return slices.ContainsFunc(w.headlines(p, benchmark.OneMinusKaplanMeier), func(r reading) bool { return r.years() == years })
	}
	if r := p.all.At(later); r != nil && r.Requested && r.Shown.Estimated() && (head.Years < later || head.Years > later && !read(head.Years) && read(later)) {
		rows = append(rows, r)
	}
	return rows
}

// headlines are the readings of a joint and procedure as a whole, of one estimand: of series that
// state nothing, or only a diagnosis that at least half of the joints have.
func (w *answering) headlines(p *part, of benchmark.Measure) []reading {
	return slices.DeleteFunc(readings(p.beside(w.a)), func(r reading) bool {
		b := r[0]
		return len(b.Within) > 0 || w.narrower(p, b) || 2*b.Joints < p.all.Joints || b.Series.Estimand != of ||
			!b.Comparison.Reached || b.Comparison.Own.AtRisk < fewestAtRisk
	})
}

// narrower says whether a series states more of its joints than a diagnosis. Where only some joints
// were asked for, what all of these have narrows nothing.
func (w *answering) narrower(p *part, b *audit.Beside) bool {
	return len(b.Series.Others()) > 0 && (len(w.a.Scope) == 0 || b.Joints != p.all.Joints)
}

// speaking is the reading that the sentence says: at the headline's year, else at
// ten years; of the kind with most joints. Kinds are all at that year.
func (w *answering) speaking(p *part, head *audit.Row) (speaks reading, kinds []reading) {
	all := w.headlines(p, benchmark.OneMinusKaplanMeier)
	for _, row := range w.estimated(p, head) {
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

// sentence is a reading in words; with its figures if another stands beside it.
func (w *answering) sentence(p *part, r reading, figures bool) string {
	s, of := w.phrase(r), []string(nil)
	if figures {
		of = append(of, percent(r.own().Own.Estimate)+" % beside "+rangeOf(r))
	}
	if r.years() != w.a.Headline(p.all).Years {
		of = append(of, "at "+inYears(r.years()))
	}
	if r.near() {
		w.said.near = true
		of = append(of, "near the line")
	}
	if of != nil {
		s += " (" + strings.Join(of, ", ") + ")"
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
	figures, _ := r.Read(benchmark.OneMinusKaplanMeier)
	own := w.inPercent(k, " at "+inYears(r.Years))
	s := w.readBy(own, figures, false)
	if h := head.KaplanMeier; s == own && r != head && percentWith(k.Estimate, k.Lower, k.Upper, "") == percentWith(h.Estimate, h.Lower, h.Upper, "") {
		s = "at " + inYears(r.Years) + " the same"
	}
	s += ", " + stillFollowed(p.all, r)
	if r.Shown == audit.Faint {
		s += " (under " + number(w.a.Floor()) + ")"
	}
	if len(figures) > 0 {
		s += "; published " + w.published(figures)
	}
	return s
}

// readBy adds to an own estimate the stricter limits that figures were read by, always or
// where the printed ones leave out what those take in.
func (w *answering) readBy(own string, figures []*audit.Beside, always bool) string {
	for _, b := range figures {
		of, x := b.Figure.Revision, b.Comparison.Basis
		printed := of < b.Comparison.Own.Lower || of > b.Comparison.Own.Upper
		if w.a.Shared == nil && (always && !math.IsNaN(x.Lower) || printed && of >= x.Lower && of <= x.Upper) {
			return strings.TrimSuffix(own, ")") + fmt.Sprintf("; read by the stricter %s to %s)", percent(x.Lower), percent(x.Upper))
		}
	}
	return own
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
	s := fmt.Sprintf("%s, %s revised; %s, %s still followed", few(r[0].Joints, "joint", "joints"), w.told(r[0].Revised), w.readBy(w.inPercent(k, " at "+inYears(r.years())), r, false), number(k.AtRisk))
	if k.AtRisk < w.a.Floor() {
		s += " (under " + number(w.a.Floor()) + ")"
	}
	return s + "; published " + w.published(r)
}

// incidenceLine is the own cumulative incidence beside what is published of it, read apart: it
// neither confirms nor contradicts a reading of the cumulative revision. Above are the kinds of which
// the lines before it are; what the answer has said of it has the limits behind it here.
func (w *answering) incidenceLine(p *part, r reading, above []reading, said bool) string {
	w.read, w.said.dying = append(w.read, r), true
	own, of := r.own().Own, ""
	switch {
	case r[0].Joints == p.all.Joints:
	case len(above) > 0 && kind(above[len(above)-1][0]) == kind(r[0]):
		of = "of these, "
	default:
		of = "of the " + count(r[0].Joints) + " for " + kind(r[0]) + ", "
	}
	s := of + w.readBy(w.inPercent(own, " at "+inYears(r.years())), r, said) + "; published " + w.published(r)
	if said {
		return s
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
	case w.a.Vague(e.Observed), !most && w.a.Shared != nil: // too coarse to say more of
		return ""
	case !most:
		return "expected: not given, " + fewCounted(e, mark)
	}
	w.said.beside = true
	least, most := e.Usual()
	s := fmt.Sprintf("%s can be set beside %s, %s expected (%d to %d would be usual)", number(e.Observed), mark, decimals(e.Expected, 1), least, most)
	if n := float64(p.all.Revised) - e.Observed; n > 0 {
		s += fmt.Sprintf("; %s came later", number(n))
	}
	return s
}

// fewCounted says why few revisions count beside a series: those of joints that can have reached the
// end of the published interval in which they were revised do.
func fewCounted(e *benchmark.Ratio, mark string) string {
	n, of, fall := number(e.Observed), "are of joints", "fall"
	switch {
	case e.Observed == 0:
		n, of, fall = "none", "is of a joint", "falls"
	case e.Observed == 1:
		of, fall = "is of a joint", "falls"
	}
	if figures := e.Series.Figures; len(figures) == 1 {
		return fmt.Sprintf("%s begins at %s and %s %s so old", mark, inYears(figures[0].Years), n, of)
	}
	return fmt.Sprintf("%s %s within years of %s that the joints can have reached", n, fall, mark)
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
	if !w.a.Sought {
		return "no published figures were asked for", ""
	}
	beside := slices.DeleteFunc(p.beside(w.a), func(b *audit.Beside) bool { return len(b.Within) > 0 })
	switch {
	case len(beside) == 0 && len(w.a.Endpoint.Reasons) > 0:
		return "what is published here counts every revision", ""
	case len(beside) == 0:
		return "nothing published here is of such joints", ""
	}
	var first *audit.Beside // of those that are, of most joints
	for _, b := range beside {
		if (b.Match == audit.Unreached || b.Match == audit.Like) && !w.narrower(p, b) &&
			(first == nil || cmp.Or(cmp.Compare(b.Figure.Years, first.Figure.Years), -cmp.Compare(b.Joints, first.Joints)) < 0) {
			first = b
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
		switch w.on {
		case onOnePage:
			listed += "; listed in --full"
		case beforeAll:
			listed += "; listed further on"
		}
	}
	switch {
	case first == nil:
		return "no published figure here is of these joints and years", listed
	case first.Figure.Years > head.Years && first.Joints == p.all.Joints:
		return fmt.Sprintf("the figures published here begin at %s, and fewer than %d of these joints have been followed so long", inYears(first.Figure.Years), fewestAtRisk), listed
	case first.Figure.Years > head.Years:
		return fmt.Sprintf("the figures published here of joints for %s begin at %s, and fewer than %d of these %s have been followed so long",
			kind(first), inYears(first.Figure.Years), fewestAtRisk, count(first.Joints)), listed
	}
	return "no published figure here is of these joints at such a year", listed
}

// lookFirst says what could change the answer most, and the number it would make.
func (w *answering) lookFirst(p *part, above bool) string {
	if above {
		listed := ""
		if w.f.Cohort != nil && !w.on.paper() {
			listed = " (holdfast check --list revisions)"
		}
		return fmt.Sprintf("Look first at the %s%s: is each of these joints’, and were all joints entered?", few(p.all.Revised, "revision", "revisions"), listed)
	}
	d, x := w.f.First(p.joint(), p.procedure())
	if d == nil {
		return ""
	}
	what, are := ofPart(p, int64(x.Rows)), "all were "
	if x.Rows == 1 {
		what, are = strings.TrimPrefix(what, "1 "), ""
	}
	then := percent(x.Low)
	if high := percent(x.High); high != then {
		then += " to " + high
	}
	switch {
	case math.IsNaN(x.Low):
		return fmt.Sprintf("Look first at the %s whose follow-up is assumed: each revision not known of adds %s at %s.", what, text.InPoints(p.all.Adds(w.a.Headline(p.all))), inYears(x.Years))
	case d.Problem == cohort.FollowUpAssumed:
		return fmt.Sprintf("Look first at the %s whose follow-up is assumed: if %s%s, %s %% would be %s.", what, are, d.Supposed, percent(x.Now), then)
	case slices.Contains(d.Reasons, cohort.LostToFollowUp):
		return fmt.Sprintf("Look first at the %s lost: %s.", what, ifLost(&x.EffectAt, x.Rows))
	}
	return fmt.Sprintf("Look first at %s (%s): if %s%s, %s %% would be %s.", few(x.Rows, "row", "rows"), d.Problem, are, supposed(d.Supposed), percent(x.Now), then)
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
