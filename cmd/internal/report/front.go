package report

import (
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/figure"
)

// short is a report of some pages for one surgeon or department: a first page to
// be read by itself, data and follow-up, a figure and a table for each joint and
// procedure, what numbers of this size can show, and room for reflection. The
// sentences and numbers are those of [Answer].
func (p *page) short(m *gather.Material, a *audit.Audit, o PaperOptions) error {
	w := newAnswer(p, a, m.Facts, inReport)
	w.firstItems(m, o)
	w.answers()
	w.cautions()
	f, err := figure.Strip(a, figure.StripOptions{})
	if f != nil && len(f.Notes) > 1 {
		f.Notes = f.Notes[:1] // the others stand in the text
	}
	if err := p.add(f, err, "Each joint and procedure at the latest year with enough still followed."); err != nil {
		return err
	}
	w.reasonsInShort(m)
	w.doubts()
	if a.Shared == nil {
		p.items([]item{{Mark: "All operations entered?", Text: "[  ] yes, checked against ____________________: ______ of ______   [  ] no"},
			{Mark: "Revisions done elsewhere?", Text: "[  ] looked for, in ____________________   [  ] no"}})
	}
	// Readings of groups stand further on; what is above or below counts all.
	at := len(p.Blocks)
	if a.Shared == nil {
		p.followUpPage(m, a)
	}
	if err := w.jointPages(); err != nil {
		return err
	}
	after := slices.Clone(p.Blocks[at:])
	p.Blocks = p.Blocks[:at]
	w.aboveOrBelow()
	w.practice()
	w.sources()
	p.paragraph(a.Cautions...)
	w.invented()
	p.Contents("Contents")
	p.Blocks = append(p.Blocks, after...)
	w.since(m.Before)
	if err := p.overTime(m.Cohort, m.Watched); err != nil {
		return err
	}
	if a.Shared == nil {
		w.canShow()
	}
	p.notWatched(m.Watched)
	p.beside(m)
	return nil
}

// firstItems say whose joints these are.
func (w *answering) firstItems(m *gather.Material, o PaperOptions) {
	blank := "____________________"
	year := o.Year
	if year == "" {
		year = "__________"
	}
	whose := "all of " + inBrief(primaries(w.a))
	if len(w.a.Scope) > 0 {
		whose = "those of " + inBrief(primaries(w.a)) + " whose " + conditions(w.a.Scope)
	}
	if n := surgeons(m.Cohort); n > 0 && !slices.ContainsFunc(w.a.Scope, func(c cohort.Condition) bool { return c.Column == "surgeon" }) {
		whose += ", of " + few(n, "surgeon", "surgeons")
	}
	w.paragraph("For: "+blank+"  Appraisal year: "+year+".", "Whose joints: "+whose+".")
	w.opening()
}

// reasonsInShort says in a clause why joints were revised.
func (w *answering) reasonsInShort(m *gather.Material) {
	total := w.revised()
	if total == 0 || len(w.a.Endpoint.Reasons) > 0 || m.Cohort == nil {
		return
	}
	type reason struct {
		name string
		n    int64
	}
	var all []reason
	known := int64(0)
	for _, r := range m.Reasons {
		n := int64(0)
		for i := range r.Groups {
			if g := &r.Groups[i]; g.Pooling == audit.AllJoints {
				n += g.Revised
			}
		}
		if n > 0 {
			all = append(all, reason{r.Endpoint.Reasons[0], n})
			known += n
		}
	}
	slices.SortStableFunc(all, func(a, b reason) int { return int(b.n - a.n) })
	var said []string
	rest := int64(0)
	for i, r := range all {
		if i < 3 || len(all) == 4 {
			said = append(said, r.name+" "+count(r.n))
		} else {
			rest += r.n
		}
	}
	if rest > 0 {
		said = append(said, fmt.Sprintf("%d other reasons %s", len(all)-3, count(rest)))
	}
	s := fmt.Sprintf("Reasons understood for %s of the %s", count(known), few(total, "revision", "revisions"))
	if len(said) > 0 {
		s += ": " + strings.Join(said, ", ")
	}
	w.paragraph(s + ".")
}

// followUpPage says what was read and set aside, and shows what became of the
// joints of each year of operation.
func (p *page) followUpPage(m *gather.Material, a *audit.Audit) {
	p.heading(1, "Data and follow-up")
	p.paragraph(account(a), "Set-aside rows are in no estimate.")
	p.bullets(append([]string{closingDate(a), deaths(a)}, a.Notes...))
	p.sites(a)
	p.reasons("Set aside because", a.Account.Reasons)
	if m.Cohort != nil {
		if t, explained := yearly(m.Cohort); t != nil {
			p.paragraph("Completeness by year of operation. " + explained)
			p.table(t, nil)
		}
	}
	f, err := figure.FollowUp(ofSize(m.ByYear, fewestOnPaper), figure.FollowUpOptions{})
	if err == nil {
		p.add(f, nil, "What became of the joints of each year of operation by the closing date.")
	}
}

// ofSize is an audit without the joints and procedures of fewer joints.
func ofSize(a *audit.Audit, least int64) *audit.Audit {
	b := *a
	b.Groups = nil
	keep := false
	for _, g := range a.Groups {
		if g.Pooling == audit.AllJoints {
			keep = g.Joints >= least
		}
		if keep {
			b.Groups = append(b.Groups, g)
		}
	}
	return &b
}

// jointPages writes the curve and a table of the groups of each joint and
// procedure.
func (w *answering) jointPages() error {
	for _, p := range w.parts {
		if p.all.Joints < fewestOnPaper {
			continue
		}
		w.heading(1, p.title)
		f, err := figure.Curves(w.a, figure.CurvesOptions{Joint: p.joint(), Procedure: p.procedure()})
		if err := w.add(f, err, p.title+": cumulative revision of all joints."); err != nil {
			return err
		}
		w.byGroup([]*part{p})
	}
	return nil
}

// canShow says what numbers of this size can show beside each published figure of
// the answers, by the rule of the readings.
func (w *answering) canShow() {
	t := &table{Columns: []column{{Title: "Joint and procedure", Wraps: true}, {Title: "Years", Align: decimal}, {Title: "Still followed", Align: right}, {Title: "Published, %", Align: decimal},
		{Title: "Would read above from", Wraps: true, Least: 12}, {Title: "Would read below to", Wraps: true, Least: 12}, {Title: "Needed for below", Align: right}}}
	for _, p := range w.parts {
		head := w.a.Headline(p.all)
		if head == nil {
			continue
		}
		for _, r := range w.headlines(p, benchmark.OneMinusKaplanMeier) {
			if r.years() != head.Years {
				continue
			}
			for _, b := range r {
				reach, needed := b.Reach()
				above, below, many := "never", "never", "—"
				if reach.Above <= reach.Joints {
					above = few(reach.Above, "revision", "revisions")
				}
				if reach.Below >= 0 {
					below = few(reach.Below, "revision", "revisions")
				}
				if needed > 0 {
					many = count(needed)
				}
				t.Add(p.title, years(head.Years), count(reach.Joints), percent(b.Figure.Revision)+" "+"["+w.letters.letter(b.Series)+"]", above, below, many)
			}
		}
	}
	if t.Empty() {
		return
	}
	w.heading(1, "What numbers of this size can show")
	w.paragraph("As many joints as are still followed at that year, all followed to it: from how many revised they would read above the published figure, up to how many below, and how many would have to be followed for none revised to read below.")
	w.table(t, nil)
}
