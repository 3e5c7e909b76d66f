package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// doubts lists what matters most before the numbers are believed: how many, what
// it is, what it could change.
func (w *answering) doubts() {
	t := &table{Columns: []column{{Title: "", Align: right}, {Title: "Before you believe it", Wraps: true, Least: 24}, {Title: "What it could change", Wraps: true, Least: 24}}}
	add := func(n int64, what, change string) {
		number := ""
		if n > 0 {
			number = count(n)
		}
		t.Add(number, what, change)
	}
	w.doubtTables(add)
	w.doubtFollowUp(add)
	if !w.a.Deaths.Recorded {
		add(0, "deaths are not recorded"+w.deathless(), "the dead stay in follow-up: every estimate is too low; what patients have seen, dying counted in, can’t be worked out")
	}
	if d := w.a.Closing; !d.Asked && !d.DeathsEnd {
		what := fmt.Sprintf("closing date %s: the latest date of the table, not one you gave", d.Day)
		if d.Doubtful() {
			what += fmt.Sprintf("; it stands %s after every other", few(d.GapDays, "day", "days"))
		}
		add(0, what, "how long everybody has been followed")
	}
	w.doubtRows(add)
	a := w.a.Account
	for i := 0; i < len(w.a.Names); {
		n := i
		for ; n < len(w.a.Names) && w.a.Names[n].Column == w.a.Names[i].Column; n++ {
		}
		field := label(w.a.Names[i].Column)
		add(int64(n-i), one(w.a.Names[i:n], "name of a "+field+" may be another’s", "names of "+field+"s may be others’"), "by "+field+" neither has all the joints")
		i = n
	}
	if n := a.UnjoinedJoints; n > 0 {
		add(int64(n), "revision"+s(n)+" that fit"+verb(n)+" no joint of the table", fmt.Sprintf("%s revised to at most %s", count(w.revised()), count(w.revised()+int64(n))))
	}
	if a.SetAside > 0 {
		add(int64(a.SetAside), "of "+few(a.Read, "row", "rows")+" set aside", w.whichRows())
	}
	w.table(t, nil)
}

// doubtTables lists what several tables have in common and should not.
func (w *answering) doubtTables(add func(n int64, what, change string)) {
	c := w.f.Cohort
	if c == nil {
		return
	}
	for _, t := range c.TablesAgain() {
		add(int64(t.Too), fmt.Sprintf("of %s of %s stand in %s too", few(t.Joints, "joint", "joints"), c.Files[t.File].Title(), c.Files[t.Of].Title()),
			"counted twice, every interval is too narrow")
	}
	if s := c.InSeveralTables(); s.Doubtful() {
		add(int64(s.Contradicting), "of "+few(s.Patients, "patient", "patients")+" of several tables: sex or year of birth are another’s there; each table may number its own",
			"deaths, revisions and rows set aside: see the check")
	}
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
	case w.paper:
		return "see Data and follow-up"
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

// doubtFollowUp lists the joints lost, and those whose follow-up is assumed.
func (w *answering) doubtFollowUp(add func(n int64, what, change string)) {
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
		lost = append(lost, ofPart(p, f.Lost))
	}
	if others > 0 {
		lost = append(lost, count(others)+" others")
	}
	if all > 0 {
		what := "joint" + s(int(all)) + " lost, not seen for " + inYears(float64(w.a.LostAfter)/365)
		if len(lost) > 1 {
			what += ": " + strings.Join(lost, ", ")
		}
		change, _, _ := w.wouldBe(func(e *cohort.Effect) bool { return slices.Contains(e.Reasons, cohort.LostToFollowUp) })
		switch {
		case change == "":
			change = "not known"
		case w.f.Cohort == nil: // counts alone
			change = "all revised: " + change
		default:
			change = "none to all revised: " + change
		}
		add(all, what, change)
	}
	if n := w.a.Account.Assumed; n > 0 {
		what := fmt.Sprintf("of %s neither revised nor dead: no day last seen, follow-up assumed", few(w.f.FollowUp[0].Living, "joint", "joints"))
		if w.a.Account.Known == 0 {
			what += "; how many are lost can’t be worked out"
		}
		add(int64(n), what, w.unknownAdds())
	}
}

// unknownAdds says what a revision that is not known of would add to the
// estimates, of each joint and procedure with assumed follow-up.
func (w *answering) unknownAdds() string {
	var said []string
	for _, p := range w.parts {
		if r := w.a.Headline(p.all); r != nil && p.all.Assumed > 0 {
			s := adds(p.all, r)
			if len(w.parts) > 1 {
				s = kindOf(p.all.Word("joint"), p.all.Word("procedure")) + " " + s
			}
			said = append(said, s)
		}
	}
	if len(said) == 0 {
		return "not known: each revision not known of makes every estimate too low"
	}
	return "each revision not known of adds " + strings.Join(said, ", ")
}

// adds is what a revision more would add at a year, in points.
func adds(g *audit.Group, r *audit.Row) string {
	first, last := g.Adds(r)
	least, most := decimals(100*first, 1), decimals(100*last, 1)
	if least == most {
		return least + " points at " + inYears(r.Years)
	}
	return least + " to " + most + " points at " + inYears(r.Years)
}

// mostSmall is how many lost of a joint and procedure are told apart.
const mostSmall = 5

// wouldBe says what an effect of settling a problem otherwise makes of the estimates, of
// each joint and procedure at its headline's year: "hip 4.2 to 8.6, knee 5.4 to 10.1 at 10 years";
// of how many rows, and how far the furthest moves.
func (w *answering) wouldBe(is func(e *cohort.Effect) bool) (change string, rows int, moves float64) {
	var said []string
	last := ""
	for _, p := range w.parts {
		head := w.a.Headline(p.all)
		at := slices.IndexFunc(w.f.Effects, func(e cohort.Effect) bool {
			return e.Joint == p.all.Word("joint") && e.Procedure == p.all.Word("procedure") && is(&e)
		})
		if head == nil || at < 0 {
			continue
		}
		e := &w.f.Effects[at]
		rows += e.With
		x := effectAt(e, head.Years)
		if x == nil || percent(x.Low) == percent(x.Now) && percent(x.High) == percent(x.Now) {
			continue
		}
		moves = max(moves, math.Abs(x.Low-x.Now), math.Abs(x.High-x.Now))
		from, to, high := percent(x.Now), percent(x.Low), percent(x.High)
		switch {
		case high == to:
		case slices.Contains(e.Reasons, cohort.LostToFollowUp): // none to all of them revised
			from, to = to, high
		default:
			to = "between " + to + " and " + high
		}
		when := " at " + inYears(head.Years)
		if when == last {
			said[len(said)-1] = strings.TrimSuffix(said[len(said)-1], when)
		}
		last = when
		said = append(said, fmt.Sprintf("%s %s to %s%s", kindOf(e.Joint, e.Procedure), from, to, when))
	}
	return strings.Join(said, ", "), rows, moves
}

// mostDoubts is how many problems of rows are named before the numbers are believed:
// those that move an estimate most.
const mostDoubts = 3

// doubtRows lists the problems of rows that could change an estimate most, each with the
// other way to settle it.
func (w *answering) doubtRows(add func(n int64, what, change string)) {
	type doubt struct {
		what, otherwise, change string
		rows                    int
		moves                   float64
	}
	if n := w.a.Account.RevisedUndated; n > 0 && w.f.Cohort == nil {
		add(int64(n), "revised without a date", "in no estimate: each makes every estimate too low")
	}
	var all []doubt
	for _, like := range w.f.Effects {
		same := func(e *cohort.Effect) bool { return e.Problem == like.Problem && e.Supposed == like.Supposed }
		if slices.Contains(like.Reasons, cohort.LostToFollowUp) || slices.ContainsFunc(all, func(d doubt) bool { return d.what == like.Problem && d.otherwise == like.Supposed }) {
			continue
		}
		d := doubt{what: like.Problem, otherwise: like.Supposed}
		d.change, d.rows, d.moves = w.wouldBe(same)
		all = append(all, d)
	}
	all = slices.DeleteFunc(all, func(d doubt) bool { return d.change == "" })
	slices.SortStableFunc(all, func(a, b doubt) int { return cmp.Compare(b.moves, a.moves) })
	for _, d := range all[:min(mostDoubts, len(all))] {
		add(int64(d.rows), d.what, supposed(d.otherwise)+": "+d.change)
	}
}

// cautions stand after the answers, each only where its words stand.
func (w *answering) cautions() {
	var said []string
	if w.said.compatible {
		said = append(said, "“Compatible with” is no evidence of a difference, which is not “as good as”.")
	}
	switch {
	case w.said.few && w.a.Shared != nil:
		said = append(said, "“Too few to say”: what the rounded numbers can stand for does not all read alike, or could not have read below even without one revision.")
	case w.said.few:
		said = append(said, "“Too few to say”: beside that figure these numbers could only have read above, and don’t, which says little: even without one revision they could not have read below.")
	}
	if w.said.dying {
		said = append(said, "“Dying counted in” asks another question (what these patients saw, not what implants do as if nobody died) beside other figures: the two readings may differ, and neither confirms the other.")
	}
	if w.said.nearest {
		said = append(said, "“Near the line”: by its limits as they are printed the difference would read above or below; by the stricter ones from which a reading is made it does not.")
	}
	if w.said.beside {
		said = append(said, "A revision can be set beside published figures up to the last of their years that the joint can have reached by "+w.closed()+"; “usual” is what chance leaves in 95 of 100 practices exactly as published.")
	}
	w.paragraph(said...)
}
