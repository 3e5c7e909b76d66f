package report

import (
	"fmt"
	"math"
	"slices"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort/plan"
)

// Plan says what series of joints can show.
func Plan(o *plan.Plan) *document.Document {
	p := new(page)
	refs := newReferences()
	p.heading(1, "What a series of this size can show")
	p.paragraph("Chances are for assumed ratios of true to published revision, not for what is observed: once a reading is made, it says all there is.")
	for _, part := range o.Parts {
		if part.Given > 0 {
			p.heading(2, count(part.Given)+" joints")
		} else {
			p.heading(2, capital(part.Joint)+", "+part.Procedure)
		}
		p.planBeside(part, refs)
		p.planWhen(o, part)
	}
	p.planNeeded(o)
	if len(refs.sources) > 0 {
		p.heading(2, "Sources")
		p.references(refs)
	}
	return &p.Document
}

// planBeside is a line for each published figure.
func (p *page) planBeside(part plan.Part, refs *references) {
	if len(part.Beside) == 0 {
		p.paragraph("No published figure of its kind stands beside it.")
		return
	}
	f := newFootnotes()
	t := &table{Columns: []column{{Title: "Published, %"}, {Title: "Years", Align: decimal}, {Title: "Joints followed so long", Align: right}, {Title: "Above from", Align: right}, {Title: "Below to", Align: right},
		{Title: "Above in 100 if twice", Align: right}, {Title: "Found in 80 of 100: above", Align: right}, {Title: "below", Align: right}, {}}}
	for _, b := range part.Beside {
		published := percentWith(b.Figure.Revision, b.Figure.Lower, b.Figure.Upper, "")
		if b.Series != nil {
			published += " " + refs.mark(b.Series, b.Figure)
		}
		cells := []string{published, years(b.Figure.Years), fmt.Sprint(b.Joints)}
		if b.Joints < fewestAtRisk {
			t.Add(append(cells, "—", "—", "—", "—", "—", f.mark("fewer than 10: nothing is read"))...)
			continue
		}
		r := b.Reach
		from, to := "—", "—"
		if r.Above <= r.Joints {
			from = fmt.Sprint(r.Above)
		}
		if r.Below >= 0 {
			to = fmt.Sprint(r.Below)
		}
		t.Add(append(cells, from, to, fmt.Sprintf("%.0f", 100*b.Chance[slices.Index(plan.Ratios(), 2)]), times(b.Above), times(b.Below), "")...)
	}
	p.table(t, f)
	p.paragraph("“Above from” and “below to” are the numbers revised that read so. The last columns are the ratios of true to published revision that 80 of 100 such series find.")
}

// times writes a ratio.
func times(ratio float64) string {
	if math.IsNaN(ratio) {
		return "—"
	}
	return fmt.Sprintf("%.2f times", ratio)
}

// planWhen says when a practice that goes on as it did can show the bound.
func (p *page) planWhen(o *plan.Plan, part plan.Part) {
	if len(part.When) == 0 {
		return
	}
	t := &table{Columns: []column{{Title: "Truly revised from now on, %", Align: decimal}, {Title: "First shown in 50 of 100 after", Align: right}, {Title: "in 80 of 100 after", Align: right}, {Title: "shown at the end", Align: right}}}
	for _, w := range part.When {
		at := func(share float64) string {
			for _, c := range w.Chances {
				if c.Shown >= share {
					return inYears(float64(c.Year))
				}
			}
			return fmt.Sprintf("over %d years", part.Last)
		}
		t.Add(percent(w.Revision), at(.5), at(plan.Power), fmt.Sprintf("%.0f in 100", 100*w.Chances[len(w.Chances)-1].Shown))
	}
	p.paragraph(fmt.Sprintf("When, from the closing date on, its upper limit shows at most %s %% revised at %s: with %s a year, %.1f %% of patients dying a year, %d runs, seed %d.",
		percent(o.Bound), inYears(o.Years), few(int64(math.Round(part.PerYear)), "more joint", "more joints"), 100*part.Dying, o.Runs, o.Seed))
	p.table(t, nil)
}

// planNeeded is how many joints show the bound.
func (p *page) planNeeded(o *plan.Plan) {
	p.heading(2, fmt.Sprintf("To show at most %s %% at %s", percent(o.Bound), inYears(o.Years)))
	t := &table{Columns: []column{{Title: "Revised so far", Align: right}, {Title: "Joints followed so long that show it", Align: right}}}
	for _, w := range o.With {
		t.Add(fmt.Sprint(w.Revised), fmt.Sprint(w.Joints))
	}
	p.table(t, nil)
	t = &table{Columns: []column{{Title: "Truly revised, %", Align: decimal}, {Title: "Joints, all followed, that show it in 80 of 100 such series", Align: right}}}
	for _, n := range o.Needed {
		t.Add(percent(n.Revision), count(n.Joints))
	}
	p.table(t, nil)
	p.paragraph("That is for this number and every larger one. A practice whose true revision is the bound never shows it, however long it waits.",
		"Showing that a number is not exceeded is a statement about this practice's joints, not that an implant is as good as another.")
}
