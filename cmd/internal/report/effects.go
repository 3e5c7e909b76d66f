package report

import (
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
)

// checkEffects says what the estimates would be if each problem were settled
// the other way.
func (p *page) checkEffects(effects []cohort.Effect) {
	p.heading(1, "What settling it otherwise would change")
	if len(effects) == 0 {
		p.paragraph("No problem that is left open would change an estimate, as far as that can be calculated.")
		return
	}
	p.paragraph("Cumulative revision (one minus Kaplan–Meier) of all joints of a joint and procedure as it is now, and if one problem were settled the other way and nothing else were changed.",
		"Where the day of an event is not known, the two numbers are the estimates with the earliest day (the day after the operation) and with the latest (the closing date, or the day of death); a day in between may give one a little outside. What can't be calculated, such as a row without an operation date, is not in the table.")
	f := newFootnotes()
	t := &table{Columns: []column{{Title: "Problem", Wraps: true}, {Title: "Settled as", Wraps: true}, {Title: "Rows changed", Align: right},
		{Title: "Now, %", Align: decimal}, {Title: "Then, %", Align: decimal}}}
	for len(effects) > 0 {
		n := 1
		for n < len(effects) && effects[n].Joint == effects[0].Joint && effects[n].Procedure == effects[0].Procedure {
			n++
		}
		group, title := effects[:n], capital(effects[0].Joint)+", "+effects[0].Procedure
		effects = effects[n:]
		shown := gather.Within(&group[0])
		if len(shown) == 0 {
			t.Section(title + ": fewer than 10 joints at risk at 1 year")
			for _, e := range group {
				t.Add(e.Problem, e.Supposed, count(e.Rows), "", "")
			}
		}
		for _, i := range shown {
			t.Section(title + ", at " + inYears(group[0].At[i].Years))
			for _, e := range group {
				t.Add(e.Problem, e.Supposed, count(e.Rows), percent(e.At[i].Now), then(e.At[i], f))
			}
		}
	}
	p.table(t, f)
}

// then is an estimate as it would be, or its range.
func then(a cohort.EffectAt, f *footnotes) string {
	low, high := percent(a.Low), percent(a.High)
	switch {
	case a.AtRiskThen < fewestAtRisk:
		f.sign("—", "fewer than 10 joints would be at risk")
		return "—"
	case low == high:
		return low
	}
	return low + " to " + high
}
