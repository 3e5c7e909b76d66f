package report

import (
	"fmt"
	"strconv"
	"strings"

	"example.org/holdfast/cohort"
)

// checkFollowUp says how long the joints in use were followed and how many are
// still known of; lost are those last seen so many days before the closing date.
func (p *page) checkFollowUp(lostAfter int, all []cohort.FollowUp) {
	p.heading(1, "Follow-up")
	if all[0].Joints == 0 {
		p.paragraph("No row is in use.")
		return
	}
	whole := all[0]
	facts := []string{fmt.Sprintf("%s, %s implant-years. Longest follow-up %s years, median %s.", few(whole.Joints, "joint", "joints"), decimals(whole.ImplantYears, 0), decimals(whole.LongestYears, 1), median(whole))}
	facts = append(facts, fmt.Sprintf("Neither revised nor dead: %s. Of these, known of or operated on within the last two years before the closing date: %s; without a usable day last seen, so that follow-up to the closing date is assumed: %s, %s operated on before these two years.",
		few(whole.Living, "joint", "joints"), ofJoints(whole.Recent, whole.Living), ofJoints(whole.Assumed, whole.Living), count(whole.NeverSeen)))
	if lostAfter != cohort.RecentDays {
		facts[1] += " (Recently is two years, whatever counts as lost.)"
	}
	lost := fmt.Sprintf("Lost to follow-up (neither revised nor dead, last seen more than %s before the closing date): %s.", inYears(float64(lostAfter)/365), count(whole.Lost))
	switch {
	case whole.Living > 0 && whole.Assumed == whole.Living:
		lost = "Lost to follow-up: can't be worked out, since no day last seen is known of any joint that is neither revised nor dead."
	case whole.Revised > 0:
		lost += fmt.Sprintf(" Lost ÷ revised = %s ÷ %s = %s; Murray, Britton & Bulstrode (J Bone Joint Surg Br 1997;79:254) ask for less than 1.", count(whole.Lost), count(whole.Revised), decimals(whole.LostPerRevised, 2))
	}
	p.bullets(append(facts, lost))
	if len(all) > 1 {
		t := &table{Columns: []column{
			{Title: "Joint, procedure", Wraps: true, Least: 16}, {Title: "Joints", Align: right}, {Title: "Implant- years", Align: right},
			{Title: "Longest, years", Align: decimal}, {Title: "Median, years", Align: decimal}, {Title: "Neither revised nor dead", Align: right, Wraps: true},
			{Title: "Known of recently, %", Align: decimal}, {Title: "Assumed, %", Align: decimal}, {Title: "Lost", Align: right}, {Title: "Lost ÷ revised", Align: decimal},
		}}
		for _, f := range all {
			name := "All"
			if f.Joint != "" {
				name = f.Joint + ", " + f.Procedure
			}
			t.Add(capital(name), count(f.Joints), decimals(f.ImplantYears, 0), decimals(f.LongestYears, 1), decimals(f.MedianYears, 1), count(f.Living),
				shareOf(f.Recent, f.Living), shareOf(f.Assumed, f.Living), count(f.Lost), decimals(f.LostPerRevised, 2))
		}
		p.table(t, nil)
	}
	if whole.Assumed < whole.Living {
		p.paragraph("Whoever is neither revised nor dead is followed to the day last seen, and a revision counts whenever it comes. Where revisions become known without a visit, every estimate is too high by that: little where everybody is seen every year, by a third and more where they are seen every five (in simulated practices of twelve years).")
	}
	p.paragraph("The median is by reverse Kaplan–Meier (Schemper & Smith, Control Clin Trials 1996;17:343): the end of follow-up is the event, and revision and death censor it.")
}

func median(f cohort.FollowUp) string {
	if s := decimals(f.MedianYears, 1); s != "" {
		return s + " years"
	}
	return "not reached"
}

// ofJoints is a number with its share; shareOf the share, in percent.
func ofJoints(n, of int64) string {
	if of == 0 {
		return count(n)
	}
	return count(n) + " (" + shareOf(n, of) + " %)"
}

func shareOf(n, of int64) string {
	if of == 0 {
		return ""
	}
	return percent(float64(n) / float64(of))
}

// checkYears says how complete the columns that matter are by year of operation.
func (p *page) checkYears(c *cohort.Cohort) {
	p.heading(1, "Completeness by year of operation")
	t, what := yearly(c)
	if t == nil {
		p.paragraph("The table has none of the columns that are looked at, or no row is in use.")
		return
	}
	p.paragraph(what)
	p.table(t, nil)
}

// yearly is a table of how complete the columns that matter are by year of
// operation, and what it says; nil if there is nothing to say.
func yearly(c *cohort.Cohort) (t *table, what string) {
	y := c.CompletenessByYear()
	if len(y.Columns) == 0 || len(y.Years) == 0 {
		return nil, ""
	}
	t = &table{Columns: []column{{Title: "Year", Least: 4}}}
	for _, k := range y.Columns {
		t.Columns = append(t.Columns, column{Title: capital(strings.TrimSuffix(label(k.Column), " date")), Align: decimal})
	}
	line := func(name string, years ...int) {
		cells := []string{name}
		for _, k := range y.Columns {
			filled, rows := 0, 0
			for _, i := range years {
				filled, rows = filled+k.Filled[i], rows+k.Rows[i]
			}
			cells = append(cells, shareOf(int64(filled), int64(rows)))
		}
		t.Add(cells...)
	}
	var every []int
	for i, year := range y.Years {
		line(strconv.Itoa(year), i)
		every = append(every, i)
	}
	if len(every) > 1 {
		line("All", every...)
	}
	return t, "Rows in use that have a value, in percent: the reason for revision among the joints revised, the day last seen among those neither revised nor dead."
}
