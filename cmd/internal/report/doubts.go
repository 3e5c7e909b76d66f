package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/text"
)

// doubt is a line of what matters before the numbers are believed.
type doubt struct {
	n            int64 // 0 for none
	what, change string
	moves        float64 // how far an estimate; infinite where that is not known
}

// doubts lists what matters most before the numbers are believed: how many, what
// it is, what it could change; what could move an estimate furthest first. An audit made
// for sharing has notes in their place.
func (w *answering) doubts() {
	if w.a.Shared != nil {
		w.bullets(w.a.Notes)
		return
	}
	all := slices.Concat(w.doubtTables(), w.doubtFollowUp(), w.doubtTable(), w.doubtRows())
	slices.SortStableFunc(all, func(a, b doubt) int { return cmp.Compare(b.moves, a.moves) })
	for i := 0; i < len(w.a.Names); {
		n := i
		for ; n < len(w.a.Names) && w.a.Names[n].Column == w.a.Names[i].Column; n++ {
		}
		field := label(w.a.Names[i].Column)
		all = append(all, doubt{n: int64(n - i), what: one(w.a.Names[i:n], "name of a "+field+" may be another’s", "names of "+field+"s may be others’"), change: "by " + field + " neither has all the joints"})
		i = n
	}
	if n := w.a.Account.UnjoinedJoints; n > 0 {
		all = append(all, doubt{n: int64(n), what: "revision" + s(n) + " that fit" + verb(n) + " no joint of the table", change: fmt.Sprintf("%s revised to at most %s", count(w.revised()), count(w.revised()+int64(n)))})
	}
	if n := w.a.Account.SetAside; n > 0 {
		all = append(all, doubt{n: int64(n), what: "of " + few(w.a.Account.Read, "row", "rows") + " set aside", change: w.whichRows()})
	}
	t := &table{Columns: []column{{Title: "", Align: right}, {Title: "Before you believe it", Wraps: true, Least: 24}, {Title: "What it could change", Wraps: true, Least: 24}}}
	for _, d := range all {
		number := ""
		if d.n > 0 {
			number = count(d.n)
		}
		t.Add(number, d.what, d.change)
	}
	w.table(t, nil)
}

// doubtTable is what is not known of the whole table.
func (w *answering) doubtTable() (all []doubt) {
	if revised := w.revised(); mostlyRevised(revised, w.joints()) {
		all = append(all, doubt{revised, "of " + few(w.joints(), "joint", "joints") + " revised: is the day of revision that of whatever ended follow-up?", "every estimate", math.Inf(1)})
	}
	if !w.a.Deaths.Recorded {
		all = append(all, doubt{0, "deaths are not recorded" + w.deathless(), "the dead stay in follow-up: every estimate is too low; what patients have seen, dying counted in, can’t be worked out", math.Inf(1)})
	}
	if d := w.a.Closing; !d.Asked && !d.DeathsEnd {
		what := fmt.Sprintf("closing date %s: the latest date of the table, not one you gave", d.Day)
		if d.Doubtful() {
			what += fmt.Sprintf("; it stands %s after every other", few(d.GapDays, "day", "days"))
		}
		change := "how long everybody has been followed"
		if other, moves := w.moved(func(d gather.Doubt) bool { return d.Problem == cohort.ClosingDoubtful }); moves >= gather.LeastMove {
			change = other
		}
		all = append(all, doubt{0, what, change, math.Inf(1)})
	}
	if n := w.a.Account.RevisedUndated; n > 0 && w.f.Cohort == nil {
		all = append(all, doubt{int64(n), "revised without a date", "in no estimate: each makes every estimate too low", math.Inf(1)})
	}
	return all
}

// doubtTables lists what several tables have in common and should not.
func (w *answering) doubtTables() (all []doubt) {
	c := w.f.Cohort
	if c == nil {
		return nil
	}
	for _, t := range c.TablesAgain() {
		all = append(all, doubt{int64(t.Too), fmt.Sprintf("of %s of %s stand in %s too", few(t.Joints, "joint", "joints"), c.Files[t.File].Title(), c.Files[t.Of].Title()),
			"counted twice, every interval is too narrow", math.Inf(1)})
	}
	if s := c.InSeveralTables(); s.Doubtful() {
		all = append(all, doubt{int64(s.Contradicting), "of " + few(s.Patients, "patient", "patients") + " of several tables: sex or year of birth are another’s there; each table may number its own",
			"deaths, revisions and rows set aside: see the check", math.Inf(1)})
	}
	return all
}

// deathless names the tables without deaths where others have some.
func (w *answering) deathless() string {
	without := w.a.Deaths.Without
	if len(without) == 0 || w.a.Shared != nil {
		return ""
	}
	named := without[:min(len(without), mostNamed)]
	if more := len(without) - len(named); more > 0 {
		named = append(slices.Clone(named), count(more)+" more")
	}
	return " in " + list(named)
}

// whichRows says where the rows set aside are listed.
func (w *answering) whichRows() string {
	switch {
	case w.on == forMeeting:
		return "which and why: see the check"
	case w.on == inReport:
		return "see Data and follow-up"
	case w.on == beforeAll:
		return "which and why: see " + whatWasRead
	case w.f.Cohort == nil:
		return "why: --full"
	}
	return "which and why: see the last line"
}

// s is the ending of several, and verb that of what one does.
func s(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}

func verb(n int) string {
	if n == 1 {
		return "s"
	}
	return ""
}

func (w *answering) revised() int64 {
	n := int64(0)
	for _, p := range w.parts {
		n += p.all.Revised
	}
	return n
}

func (w *answering) joints() int64 {
	n := int64(0)
	for _, p := range w.parts {
		n += p.all.Joints
	}
	return n
}

// doubtFollowUp lists the joints lost, and those whose follow-up is assumed.
func (w *answering) doubtFollowUp() (both []doubt) {
	var lost []string
	others, all := int64(0), int64(0)
	for _, p := range w.parts {
		f := w.followUp(p)
		if f == nil || f.Lost == 0 {
			continue
		}
		all += f.Lost
		if len(w.parts) > 1 && f.Lost < mostSmall {
			others += f.Lost
			continue
		}
		if p.joint() == cohort.NotRecorded {
			lost = append(lost, count(f.Lost)+" of "+kindOf(p.joint(), p.procedure()))
		} else {
			lost = append(lost, ofPart(p, f.Lost))
		}
	}
	if others > 0 {
		lost = append(lost, few(others, "other", "others"))
	}
	if all > 0 {
		what := "joint" + s(int(all)) + " lost, not seen for " + inYears(float64(w.a.LostAfter)/365)
		if len(lost) > 1 {
			what += ": " + strings.Join(lost, ", ")
		}
		change, moves := w.moved(func(d gather.Doubt) bool { return slices.Contains(d.Reasons, cohort.LostToFollowUp) })
		both = append(both, doubt{all, what, cmp.Or(change, w.notKnown()), moves})
	}
	if n := w.a.Account.Assumed; n > 0 {
		what := fmt.Sprintf("of %s neither revised nor dead: no day last seen, follow-up assumed", few(w.f.FollowUp[0].Living, "joint", "joints"))
		if w.a.Account.Known == 0 {
			what += "; how many are lost can’t be worked out"
		}
		change, moves := w.moved(func(d gather.Doubt) bool { return d.Problem == cohort.FollowUpAssumed })
		both = append(both, doubt{int64(n), what, strings.TrimPrefix(cmp.Or(change, "not known")+"; ", "not known; ") + w.unknownAdds(), moves})
	}
	return both
}

// notKnown is said where nobody can say what settling would change.
func (w *answering) notKnown() string {
	if len(w.a.Endpoint.Reasons) > 0 {
		return "not known: if they were revised, for what?"
	}
	return "not known"
}

// moved says what settling a problem would change, and by how much at most.
func (w *answering) moved(is func(d gather.Doubt) bool) (change string, moves float64) {
	if at := slices.IndexFunc(w.f.Doubts, is); at >= 0 {
		change, moves = would(&w.f.Doubts[at]), w.f.Doubts[at].Moves
	}
	return change, moves
}

// unknownAdds says what a revision that is not known of would add to an estimate of joints
// with assumed follow-up.
func (w *answering) unknownAdds() string {
	least, most := math.Inf(1), 0.0
	for _, p := range w.parts {
		if r := w.a.Headline(p.all); r != nil && p.all.Assumed > 0 {
			first, last := p.all.Adds(r)
			least, most = min(least, first), max(most, last)
		}
	}
	if most == 0 {
		return "each revision not known of makes every estimate too low"
	}
	return "each revision not known of adds " + text.InPoints(least, most)
}

// mostSmall is how many lost of a joint and procedure are told apart.
const mostSmall = 5

// mostDoubts is how many problems of rows are named before the numbers are believed:
// those that move an estimate most.
const mostDoubts = 3

// doubtRows lists the problems of rows that could change an estimate most, each with the
// other way to settle it.
func (w *answering) doubtRows() (all []doubt) {
	for i := range w.f.Doubts {
		d := &w.f.Doubts[i]
		if d.Moves < gather.LeastMove || len(all) == mostDoubts || d.Problem == cohort.FollowUpAssumed || d.Problem == cohort.ClosingDoubtful || slices.Contains(d.Reasons, cohort.LostToFollowUp) {
			continue // or has a line of its own
		}
		all = append(all, doubt{int64(d.Rows), d.Problem, would(d), d.Moves})
	}
	return all
}

// cautions stand after the answers.
func (w *answering) cautions() { w.paragraph(w.explained()...) }

// explained explains the words on the page that are not explained yet.
func (w *answering) explained() []string {
	var said []string
	words := w.said.without(w.explains)
	w.explains = w.said
	if words.compatible {
		said = append(said, "“Compatible with” is no evidence of a difference, which is not “as good as”.")
	}
	switch {
	case words.few && w.a.Shared != nil:
		said = append(said, "“Too few to say”: what the rounded numbers can stand for does not all read alike, or could not have read below even without one revision.")
	case words.few:
		said = append(said, "“Too few to say”: beside that figure these numbers could only have read above, and don’t, which says little: even without one revision they could not have read below.")
	}
	if words.dying {
		said = append(said, "“Dying counted in” is what these patients saw, not what implants do: the two readings may differ, and neither confirms the other.")
	}
	if words.near {
		said = append(said, "“Near the line”: the printed limits leave the published figure out; the stricter ones from which a reading is made take it in.")
	}
	if words.beside {
		said = append(said, "A revision can be set beside published figures up to the last of their years that the joint can have reached by "+w.closed()+"; “usual” is what chance leaves in 95 of 100 practices exactly as published.")
	}
	return said
}
