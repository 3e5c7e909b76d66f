package report

import (
	"fmt"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/course"
	"example.org/holdfast/survival"
)

// Course is what becomes of joints, to be read: reasons that add up with death, rates
// early and late, what happens after the first revision; then cautions and method.
func Course(k *course.Course) *document.Document {
	p := new(page)
	p.inventedJoints(k.Files)
	c := k.Account
	p.paragraph(fmt.Sprintf("Rows read: %s; used: %s; set aside: %s. Closing date %s.", count(c.Read), count(c.Used), count(c.SetAside), k.Closing.Day))
	if !k.Deaths.Recorded {
		p.paragraph("Deaths are not recorded: the unknown dead count as neither revised nor dead.")
	}
	for i := range k.Parts {
		part := &k.Parts[i]
		p.heading(1, capital(part.Joint)+", "+part.Procedure)
		said := fmt.Sprintf("%s; %s revised, %s died unrevised; %s implant-years.", few(part.Joints, "joint", "joints"), count(part.Revised), count(part.Died), decimals(part.ImplantYears, 0))
		p.paragraph(said)
		p.courseReasons(part)
		p.courseRates(part)
		p.courseAgain(part)
	}
	p.heading(1, "Cautions")
	p.bullets(k.Cautions)
	p.heading(1, "How the numbers were made")
	p.bullets(k.Method)
	return &p.Document
}

// courseReasons writes the reasons, death and free, which add up to 100 %.
func (p *page) courseReasons(part *course.Part) {
	t := &table{Columns: []column{{Title: "Of 100 joints", Wraps: true, Least: 20}, {Title: "In all", Align: right}}}
	var reached []int
	atRisk := []string{"At risk", ""}
	for n, pt := range part.Points {
		if pt.Reached && pt.AtRisk >= fewestAtRisk {
			reached = append(reached, n)
			t.Columns = append(t.Columns, column{Title: "By " + inYears(pt.Years), Align: decimal, Least: 14})
			atRisk = append(atRisk, number(pt.AtRisk))
		}
	}
	p.heading(2, "Why joints were revised")
	if len(reached) == 0 {
		p.paragraph(fmt.Sprintf("At no year asked for are %d or more at risk.", fewestAtRisk))
		return
	}
	line := func(title, all string, of func(pt *course.Point) survival.Point) {
		cells := []string{title, all}
		for _, n := range reached {
			x := of(&part.Points[n])
			cells = append(cells, percentWith(x.Estimate, x.Lower, x.Upper, ""))
		}
		t.Add(cells...)
	}
	for n, r := range part.Reasons {
		title := document.Word(r.Word)
		if r.Word == cohort.NotRecorded {
			title = "reason not recorded"
		}
		line("Revised: "+title, count(r.Revised), func(pt *course.Point) survival.Point { return pt.Reasons[n] })
	}
	line("Died unrevised", count(part.Died), func(pt *course.Point) survival.Point { return pt.Death })
	line("Neither", "", func(pt *course.Point) survival.Point { return pt.Free })
	t.Add(atRisk...)
	p.paragraph("Each with limits in brackets; reasons, death and neither add up to 100.")
	p.table(t, nil)
}

// courseRates writes the rates by time since operation.
func (p *page) courseRates(part *course.Part) {
	p.heading(2, "How early joints are revised")
	t := &table{Columns: []column{{Title: "Time since operation"}, {Title: "Revised", Align: right}, {Title: "Implant-years", Align: right}, {Title: "Revisions per 100 implant-years", Align: decimal, Least: 18}}}
	for _, r := range part.Rates {
		rate := ""
		if r.PersonTime > 0 {
			rate = decimals(r.Rate.Rate, 2) + limits(decimals(r.Lower, 2), decimals(r.Upper, 2))
		}
		t.Add(r.Title, number(r.Events), decimals(r.PersonTime, 0), rate)
	}
	p.table(t, nil)
	if part.Smoothed == nil {
		return
	}
	s := &table{Columns: []column{{Title: "Years since operation", Align: decimal}, {Title: "Smoothed, per 100 implant-years", Align: decimal, Least: 18}}}
	const year = 100 * cohort.DaysPerYear
	for _, x := range part.Smoothed.Point {
		s.Add(decimals(x.Time/cohort.DaysPerYear, 1), decimals(year*x.Estimate, 2)+limits(decimals(year*x.Lower, 2), decimals(year*x.Upper, 2)))
	}
	p.paragraph(fmt.Sprintf("Smoothed with a bandwidth of %s years:", decimals(part.Smoothed.Bandwidth/cohort.DaysPerYear, 1)))
	p.table(s, nil)
}

// courseAgain writes what happened after the first revision.
func (p *page) courseAgain(part *course.Part) {
	a := part.Again
	if a == nil {
		return
	}
	p.heading(2, "After the first revision")
	said := fmt.Sprintf("Of %s revised, %s revised again on a later day, as far as is recorded; %s died before.", few(a.Joints, "joint", "joints"), few(a.Revised, "was", "were"), count(a.Died))
	if a.Revised == 0 {
		p.paragraph(said + " Second revisions are known only where a table of revisions or of operations records them.")
		return
	}
	p.paragraph(said)
	t := &table{Columns: []column{{Title: "Years since the first revision", Align: decimal}, {Title: "At risk", Align: right}, {Title: "Revised again, %", Align: decimal, Least: 16}}}
	for n, x := range a.Points {
		estimate := percentWith(x.Estimate, x.Lower, x.Upper, "")
		if x.AtRisk < fewestAtRisk {
			estimate = number(x.Events) + "/" + count(a.Joints)
		}
		t.Add(years(a.Years[n]), number(x.AtRisk), estimate)
	}
	p.table(t, nil)
}
