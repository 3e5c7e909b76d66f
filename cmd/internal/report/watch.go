package report

import (
	"fmt"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/figure"
	"example.org/holdfast/cohort/monitor"
)

// Watch is a practice, or several, over calendar time, to be read: what touched
// its line, what was expected by what, and what must not be concluded. A nil figure
// is left out.
func Watch(c *cohort.Cohort, w *monitor.Watch, f *figure.Figure) (*document.Document, error) {
	p := new(page)
	p.inventedJoints(c.Files)
	a := c.Account()
	p.paragraph(fmt.Sprintf("Rows read: %s; used: %s; set aside: %s. Closing date %s.", count(a.Read), count(a.Used), count(a.SetAside), c.Closing.Day))
	if len(w.Units) == 1 {
		p.bullets(w.Units[0].Chart.Said())
	} else {
		p.watched(w)
	}
	if f != nil {
		if err := p.add(f, nil, "Revisions observed less those expected, by calendar date."); err != nil {
			return nil, err
		}
	}
	if len(w.Units) > 1 {
		for _, u := range w.Units {
			if len(u.Chart.Stretches) > 0 {
				p.heading(2, unitTitle(w, u.Word))
				p.bullets(u.Chart.Said())
			}
		}
	}
	p.heading(1, "What is expected, and of which joints")
	p.expectedBy(w)
	p.heading(1, "Cautions")
	p.bullets(watchCautions(w))
	p.lostWatched(c)
	p.heading(1, "How the chart is made")
	p.bullets([]string{
		"A cumulative sum falls as revisions are expected, not below 0, and rises by the logarithm of the ratio it is tuned to at each revision. The line stands where chance alone touches it, once or more in the whole period, in no more than the number of such periods that is said; the chance follows from the number expected alone.",
		"Joints are at risk until they are revised, the patient dies, or the figures expected by end; else to the closing date, whenever they were last seen, as a revision counts whenever it came.",
		"Biswas P, Kalbfleisch JD. Stat Med 2008;27:3382 (the chart); Brook D, Evans DA. Biometrika 1972;59:539 (its limits).",
	})
	return &p.Document, nil
}

// expectedBy says what is expected by what, and what is not watched.
func (p *page) expectedBy(w *monitor.Watch) {
	var said []string
	for _, s := range w.Expected {
		said = append(said, "Expected as of "+s)
	}
	for _, l := range w.LeftOut {
		said = append(said, fmt.Sprintf("Not watched: %s: %s.", few(int64(l.Joints), "joint", "joints"), l.Why))
	}
	if s := uncounted(w); s != "" {
		said = append(said, s)
	}
	p.bullets(said)
}

// uncounted says how many revisions of the period count in no chart; "" if all do.
func uncounted(w *monitor.Watch) string {
	if w.Uncounted == 0 {
		return ""
	}
	return fmt.Sprintf("%s of that period count%s in no chart: of joints older than what is expected is known for, or not watched.", few(w.Uncounted, "more revision", "more revisions"), verb(w.Uncounted))
}

// lostWatched says that a joint lost is expected to be revised as others are.
func (p *page) lostWatched(c *cohort.Cohort) {
	if a := c.Account(); 20*a.Lost > a.Used {
		p.paragraph(fmt.Sprintf("Revisions are expected of a joint up to the closing date whenever it was last seen, and counted whenever they came. %s were last seen more than %s before that date: where their revisions would not be heard of, too many are expected, and a chart stands too low.",
			capital(few(int64(a.Lost), "joint", "joints")), inYears(float64(c.LostAfter())/365)))
	}
}

// overTime is the section of a report on its joints over calendar time, if they are watched.
func (p *page) overTime(c *cohort.Cohort, x *gather.Watched) error {
	if x == nil || x.Watch == nil {
		return nil
	}
	p.heading(1, "Over calendar time")
	p.bullets(x.Watch.Units[0].Chart.Said())
	f, err := figure.Watch(x.Watch, figure.WatchOptions{})
	if err := p.add(f, err, "Revisions observed less those expected, by calendar date."); err != nil {
		return err
	}
	p.expectedBy(x.Watch)
	p.paragraph("A chart that touches its line says that revisions came faster than expected, and since when; it doesn’t say why. One that doesn’t says little of a small practice.")
	p.lostWatched(c)
	return nil
}

// notWatched says why there is no such section.
func (p *page) notWatched(x *gather.Watched) {
	if x != nil && x.Watch == nil {
		p.paragraph("Over calendar time nothing is watched, since " + x.Nothing + ". Published figures of a year or earlier can be named as what is expected: --source KEY.")
	}
}

func unitTitle(w *monitor.Watch, called string) string {
	return capital(label(w.By)) + " " + called
}

// watched lists several units, in the order of their words.
func (p *page) watched(w *monitor.Watch) {
	together := monitor.Together{Chance: w.Chance}
	t := &table{Columns: []column{{Title: capital(label(w.By)), Wraps: true, Least: 12}, {Title: "Joints", Align: right}, {Title: "Revised", Align: right}, {Title: "Expected", Align: decimal},
		{Title: "Chance alone gives", Align: right, Wraps: true, Least: 8}, {Title: "Line touched", Wraps: true, Least: 10}, {Title: "Twice as many would touch it by " + isoDay(w.Units[0].Chart.Through) + ", of 100", Align: right, Wraps: true, Least: 12}}}
	for _, u := range w.Units {
		c := u.Chart
		together.Charts = append(together.Charts, c)
		touched := "no"
		if len(c.Stretches) > 0 {
			touched = isoDay(c.Stretches[0].Touched)
		}
		t.Add(document.Word(u.Word), count(c.Joints), count(c.Known.Observed), decimals(c.Known.Expected, 1), fmt.Sprintf("%d to %d", c.Known.Low, c.Known.High), touched, fmt.Sprintf("%.0f", 100*c.Touches(2)))
	}
	p.paragraph(together.Said())
	p.table(t, nil)
}

func isoDay(day int32) string { return cohort.Day(day).String() }

func watchCautions(w *monitor.Watch) []string {
	said := []string{
		"A chart that touches its line says that revisions came faster than expected, since about when, and which joints they were; it doesn't say why. Case mix, an implant, referrals, better recording and chance are all reasons.",
		"A chart that did not touch its line says little about a small practice, and nothing about joints operated on lately.",
	}
	if w.Revised > 0 {
		said = append(said, fmt.Sprintf("What is expected was learnt from %d revisions; the line allows for most of that: in simulations such charts touched it by chance in 6 to 10 of 100 periods, where 5 are meant.", w.Revised))
	} else {
		said = append(said, "What is expected was published for other patients; a chart can touch its line because patients differ.")
	}
	if len(w.Units) > 1 {
		said = append(said, "No ranking: units stand in alphabetical order, and differ in their patients. Letters hide names from strangers alone: whoever knows how many joints each has knows the letters.")
	}
	return append(said, "A description of one practice's own table, not a verdict on anybody, and not a basis for a decision about one patient. It does not replace the national registry, the department's governance, or licensed clinical judgement.")
}
