package disclose

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort/internal/column"
)

// notes say what was done, and what about the data as a whole bears on every estimate.
func (r *sharer) notes() []string {
	n := append([]string{"Made for sharing. " + r.done()}, r.recoded()...)
	add := func(format string, args ...any) { n = append(n, fmt.Sprintf(format, args...)) }
	n = append(n, r.rows()...)
	if !r.from.Deaths.Recorded {
		add("Deaths not recorded: the unknown dead stay at risk, so every estimate comes out too low, and the cumulative incidence is left empty.")
	}
	if r.from.Account.NoRevisions {
		add("No revision is recorded at all. None happened, or none was entered? The table can't tell.")
	}
	if r.from.Coarsened != "" {
		add("The tallies it is made from tell days of follow-up less finely; estimates can be a little too low for that.")
	}
	if r.from.Closing.DeathsEnd {
		add("Follow-up ends where deaths are no longer known.")
	}
	if len(r.from.DroppedBy) > 0 {
		add("The table has nothing to group by %s, so that is left out.", strings.Join(r.from.DroppedBy, " or "))
	}
	return n
}

// recoded says which groups were joined, and what is left out.
func (r *sharer) recoded() []string {
	var joined, alone, none []string
	for _, p := range r.parts {
		title := p.all.values[0].Word + ", " + p.all.values[1].Word
		of := func(fields []string) string {
			var titles []string
			for _, f := range fields {
				titles = append(titles, column.Title(f))
			}
			return title + " by " + strings.Join(titles, ", ")
		}
		switch {
		case p.none:
			none = append(none, title)
			continue
		case len(p.alone) > 0:
			alone = append(alone, of(p.alone))
		}
		if len(p.joined) > 0 {
			joined = append(joined, of(p.joined))
		}
	}
	var n []string
	add := func(format string, list []string) {
		if list != nil {
			n = append(n, fmt.Sprintf(format, strings.Join(list, "; ")))
		}
	}
	add("Small groups are joined, to neighbours where they have an order, else as “"+other+"”: %s.", joined)
	add("Only the total is shown, since no two groups can be: %s.", alone)
	add("Too few joints to show anything of: %s.", none)
	return n
}

// done says how counts are told.
func (r *sharer) done() string {
	return fmt.Sprintf("Numbers are rounded to the nearest %d; %[1]d stands for 1 to %d, and 0 is 0; totals are of these. Estimates are made from these numbers and their limits allow for the rounding; readings and what lies outside a funnel hold for all that the numbers can stand for.",
		roundTo, smallest-1)
}

// rows are what is told of the rows that were read. How many there were is not: less
// the joints it would be another count of those set aside.
func (r *sharer) rows() []string {
	a := r.from.Account
	var n []string
	about := func(rows int, what string) {
		if rows > 0 {
			n = append(n, fmt.Sprintf(what, rounded(int64(rows)).Shown()))
		}
	}
	about(a.SetAside, "Rows set aside: %d.")
	about(a.RevisedUndated, "Rows set aside because the joint was revised on a day that is not known: %d. Every estimate is too low because of them.")
	about(a.PossibleRevisions, "Joints that stand in the table a second time, where the later row may be the revision: %d. Every estimate is too low if it is.")
	about(a.UnjoinedJoints, "Revisions that fit no joint of the table: %d. Every estimate is too low if they belong to it.")
	if r.spare() {
		about(a.Lost, "Joints lost to follow-up: %d. What became of them is not known.")
	}
	// Whether there are any would say that there is one.
	n = append(n, "Where no day last seen is recorded, the follow-up of joints to the closing date is assumed: a revision done elsewhere is not known of.")
	return n
}

// fewestSpare is how many joints there are at least that are neither lost nor gone, if the lost are
// told of: more than rounding hides, so that the lost narrow nothing else.
const fewestSpare = 20

func (r *sharer) spare() bool {
	n := int64(-r.from.Account.Lost)
	for _, groups := range r.byPart() {
		n += groups[0].Joints - groups[0].Revised - groups[0].Died - groups[0].Other
	}
	return n >= fewestSpare
}

// method says how the numbers were made.
func (r *sharer) method() []string {
	var own []string
	for _, m := range r.from.Method {
		if strings.HasPrefix(m, "Reading") || strings.HasPrefix(m, "Beside what is published") {
			own = append(own, m)
		}
	}
	m := append(slices.Clone(r.from.Method[:3]), // the event, and what the two estimates mean
		"Sharing: groups are joined until none has fewer than "+strconv.Itoa(smallest)+" joints and no count of 1 to 7, nor such a difference between a group and its total, two years, or joints and revised, can be worked out from all that is told of a joint and procedure; a field of which one group would be left shows the total alone. Points are of whole years.",
		fmt.Sprintf("Estimates: life tables of the numbers told, a row a year, those who left within it at risk for half of it (actuarial). %s %% intervals: %s, the lower limit from the least that the rounded numbers can stand for, the upper one from the most. Nobody revised: 0 to 1−(α/2)^(1/Y), Y the least that the number at risk can be. Standard errors are left out.",
			strings.TrimSuffix(strconv.FormatFloat(100*r.level(), 'f', -1, 64), "."), r.from.Interval.Method),
		"Rates: revisions per 100 implant-years, which are rounded to those of about five joints, with exact Poisson limits of the least and the most that both can be.")
	if len(r.to.Beside) > 0 {
		m = append(m, "Difference: own − published, from the estimate told and its limits (MOVER).")
		m = append(m, own...)
		m = append(m, "Readings are made from the numbers told, three times: as shown, with the least and with the most that they can stand for. Where the three differ: too few to say.")
		m = append(m, "Observed/expected: observed rounded, expected made from the numbers told; limits of the least and the most observed. A point of a funnel lies outside where all that its numbers can stand for does. No reading is taken from it.")
	}
	return m
}

// cautions stand on every shared report.
func (r *sharer) cautions() []string {
	return append(slices.Clone(r.from.Cautions),
		"Made so that it can be shared; it does not hide a patient from somebody who knows the patient, and two shared reports, figures or files of one table or of overlapping ones join and round other groups and can be subtracted from each other: share one.")
}
