package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// estimates writes the estimates by group: with every group and the cells of all fields, or
// on paper, where there are drawings, with the groups that something can be read of.
func (p *page) estimates(a *audit.Audit, parts []*part, refs *references, draw *drawings) error {
	p.heading(1, "Estimates")
	p.paragraph(capital(a.Event()) + ", by years since operation, with " + level(a) + " limits in brackets.")
	p.items([]item{
		{Mark: "Cumulative revision", Text: "Kaplan–Meier: what the implant would do if nobody died. For comparing implants."},
		{Mark: "Cumulative incidence", Text: "death competing: what happens to these patients. For counselling and planning. The two are not compared with each other."},
	})
	for _, part := range parts {
		p.heading(2, part.title)
		p.paragraph(capital(summary(a, part.all)) + ".")
		p.years(a, part.all)
		fields := p.dividing(a, part, draw == nil)
		if draw != nil && len(fields) > 0 {
			if err := p.intervals(draw, part, fields); err != nil {
				return err
			}
		}
		for i, m := range fields {
			p.heading(3, "By "+label(m.field))
			if draw != nil && i == 0 {
				if err := p.curves(draw, part, m.field); err != nil {
					return err
				}
			}
			p.groupTable(a, m, draw == nil)
			if draw != nil {
				m.groups = m.enough()
			}
			p.yearTable(a, m, refs)
		}
		if draw == nil {
			p.cells(a, part)
		}
	}
	return nil
}

// dividing are the fields that divide the joints of a part, on paper with enough of them in a
// group; of the others it says why they are not shown.
func (p *page) dividing(a *audit.Audit, part *part, every bool) []margin {
	var fields []margin
	var one, small []string
	for _, m := range part.fields {
		switch {
		case len(m.groups) == 1 && !every && (cohort.Word{Typed: m.groups[0].Word(m.field)}).FreeText():
			// Said among the remarks on the data: these may be of many kinds.
		case len(m.groups) == 1:
			one = append(one, fmt.Sprintf("%s: %s", label(m.field), m.groups[0].Word(m.field)))
		case every:
			fields = append(fields, m)
		case len(m.enough()) == 0, m.largest() < a.FewestInCell() && m.field != part.fields[0].field:
			small = append(small, label(m.field))
		default:
			fields = append(fields, m)
		}
	}
	if len(one) > 0 {
		p.paragraph("All of these joints are of one kind: " + strings.Join(one, "; ") + ".")
	}
	if len(small) > 0 {
		p.paragraph(fmt.Sprintf("By %s no group has %d joints, so none is shown.", list(small), a.FewestInCell()))
	}
	return fields
}

// level is the confidence level as a percentage.
func level(a *audit.Audit) string {
	return strings.TrimRight(strings.TrimRight(decimals(100*a.Confidence(), 3), "0"), ".") + " %"
}

// estimateColumns are those of every table of estimates, after those that say
// which group and year.
func estimateColumns() []column {
	return []column{
		{Title: "At risk", Align: right},
		{Title: "Revised so far", Align: right},
		{Title: "Cumulative revision, %", Align: decimal, Least: 16},
		{Title: "Cumulative incidence, %", Align: decimal, Least: 16},
	}
}

// estimateCells are the cells of estimateColumns for one row that was reached.
func estimateCells(a *audit.Audit, g *audit.Group, r *audit.Row, f *footnotes) []string {
	k := r.KaplanMeier
	cells := []string{number(k.AtRisk), number(k.Events), "", ""}
	if k.AtRisk < fewestAtRisk {
		cells[2] = share(k, g.Joints, f)
		return cells
	}
	cells[2] = estimate(a, k, f)
	if !r.IncidenceEmpty {
		cells[3] = estimate(a, r.Incidence, f)
	}
	return cells
}

// share is revised/joints, which stands for an estimate on very few.
func share(k survival.Point, joints int64, f *footnotes) string {
	f.sign("n/N", fmt.Sprintf("fewer than %d at risk: revised so far / joints of the group, in place of an estimate", fewestAtRisk))
	return number(k.Events) + "/" + count(joints)
}

// estimate is an estimate with its limits and mark; of an audit made for sharing the limits
// alone, where the revised may be 1 to 7.
func estimate(a *audit.Audit, pt survival.Point, f *footnotes) string {
	mark := ""
	if pt.Notes&survival.FewAtRisk != 0 {
		mark = "*"
		f.sign(mark, "fewer than "+number(a.Floor())+" at risk")
	}
	if a.Shared != nil && pt.Events == 5 {
		return percent(pt.Lower) + " to " + percent(pt.Upper) + mark
	}
	return percentWith(pt.Estimate, pt.Lower, pt.Upper, mark)
}

// pointNotes says in plain words what the notes on a row's estimates mean.
var pointNotes = []struct {
	note survival.Note
	text string
}{
	{survival.NoEvents, "no revision so far: the upper limit comes from the number seen to that time"},
	{survival.EverybodyFailed, "every joint at risk was revised: the limits are the beta product's"},
	{survival.LastIsEvent, "the last joint followed was revised: the end of the curve rests on very few"},
	{survival.LimitsUndefined, "limits are not defined here"},
}

// rowNotes are the marks of the notes on a row's estimates.
func rowNotes(r *audit.Row, f *footnotes) string {
	if r.KaplanMeier.AtRisk < fewestAtRisk {
		return ""
	}
	notes := r.KaplanMeier.Notes
	if !r.IncidenceEmpty {
		notes |= r.Incidence.Notes
	}
	var marks []string
	for _, n := range pointNotes {
		if notes&n.note != 0 {
			marks = append(marks, f.mark(n.text))
		}
	}
	return strings.Join(marks, ", ")
}

// shortfalls stand under every table of estimates or comparisons: why they are
// too low, where deaths are not known or revisions could not be counted.
func shortfalls(a *audit.Audit, f *footnotes) {
	if !a.Deaths.Recorded {
		f.items = append(f.items, item{Mark: bullet, Text: "deaths not recorded: the unknown dead stay at risk, so that every estimate comes out too low"})
	}
	if n := a.Account.RevisedUndated; n > 0 {
		they, its := "are counted in no group", "their groups"
		if n == 1 {
			they, its = "is counted in no group", "its groups"
		}
		f.items = append(f.items, item{Mark: bullet, Text: few(n, "revision", "revisions") + " without a date " + they + ": the estimates of " + its + " are too low"})
	}
}

// years writes the estimates of a group, its years downwards.
func (p *page) years(a *audit.Audit, g *audit.Group) {
	f := newFootnotes()
	t := &table{Columns: append(append([]column{{Title: "Years", Align: decimal}}, estimateColumns()...), column{})}
	var short unreached
	rows := g.Rows()
	for i := range rows {
		r := &rows[i]
		switch {
		case !r.Requested:
		case !r.Reached:
			short.add(r.Years, "")
		default:
			cells := append([]string{years(r.Years)}, estimateCells(a, g, r, f)...)
			t.Add(append(cells, rowNotes(r, f))...)
		}
	}
	shortfalls(a, f)
	p.table(t, f)
	p.paragraph(short.only(1))
}

// groupTable says what the follow-up of each group of a field was; every says that none is left
// out of the table that follows.
func (p *page) groupTable(a *audit.Audit, m margin, every bool) {
	t := &table{Columns: []column{
		{Title: capital(label(m.field)), Wraps: true}, {Title: "Joints", Align: right}, {Title: "Patients", Align: right}, {Title: "Revised", Align: right}, {Title: "Other reason", Align: right},
		{Title: "Died", Align: right}, {Title: "Implant-years", Align: right}, {Title: "Revisions per 100 implant-years", Align: decimal},
	}}
	for _, g := range m.groups {
		patients, other, died := "", "", ""
		if g.Patients != -1 {
			patients = count(g.Patients)
		}
		if len(a.Endpoint.Reasons) > 0 {
			other = count(g.Other)
		}
		if a.Deaths.Recorded {
			died = count(g.Died)
		}
		t.Add(g.Word(m.field), count(g.Joints), patients, count(g.Revised), other, died, implantYears(g), rate(g))
	}
	if len(m.enough()) < len(m.groups) && !every {
		t.Notes = []item{{Mark: bullet, Text: fmt.Sprintf("groups with fewer than %d joints are not in the table below", fewestOnPaper)}}
	}
	p.table(t, nil)
}

// yearTable writes a field's groups under one another, one year after the
// other, each beside its published figure.
func (p *page) yearTable(a *audit.Audit, m margin, refs *references) {
	f := newFootnotes()
	t := &table{Columns: append(append([]column{{Title: "Year", Align: decimal}, {Title: capital(label(m.field)), Wraps: true}}, estimateColumns()...),
		column{Title: "Published %", Align: decimal}, column{})}
	var short unreached
	rows := make([][]audit.Row, len(m.groups)) // which may be made anew each time they are asked for
	for i, g := range m.groups {
		rows[i] = g.Rows()
	}
	for _, year := range a.Years {
		first := true
		for i, g := range m.groups {
			r := audit.At(rows[i], year)
			if r == nil || !r.Reached {
				short.add(year, g.Word(m.field))
				continue
			}
			repeats := 1
			if first {
				repeats = 0
			}
			cells := append([]string{years(year), g.Word(m.field)}, estimateCells(a, g, r, f)...)
			figures, _ := r.Read(benchmark.OneMinusKaplanMeier)
			published, notes := publishedRange(figures, refs), rowNotes(r, f)
			t.Rows = append(t.Rows, row{Cells: append(cells, published, notes), Apart: first && len(t.Rows) > 0, Repeats: repeats})
			first = false
		}
	}
	shortfalls(a, f)
	refs.explain(f)
	p.table(t, f)
	p.paragraph(short.sentence(len(m.groups), m.field))
}

func join(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + ", " + b
}

// cells writes the groups of all fields at once, under the first field's words.
func (p *page) cells(a *audit.Audit, part *part) {
	if len(part.cells) == 0 || len(part.cells) == 1 && part.cells[0].Joints == part.all.Joints {
		return
	}
	shown, joints, revised := part.shown()
	var fields []string
	for _, v := range part.cells[0].Values[2:] {
		fields = append(fields, label(v.Field))
	}
	p.heading(3, "By "+list(fields)+" together")
	f := newFootnotes()
	var columns []column
	for _, field := range fields[1:] {
		columns = append(columns, column{Title: capital(field), Wraps: true})
	}
	columns = append(columns, column{Title: "Joints", Align: right}, column{Title: "Years", Align: decimal})
	t := &table{Columns: append(append(columns, estimateColumns()...), column{})}
	under := ""
	var short unreached
	for _, g := range shown {
		rows := g.Rows()
		if head := cellName(g.Values[2:3]); head != under && slices.ContainsFunc(rows, func(r audit.Row) bool { return r.Requested && r.Reached }) {
			under = head
			t.Section(capital(head))
		}
		first := true
		for i := range rows {
			r := &rows[i]
			if !r.Requested {
				continue
			}
			if !r.Reached {
				short.add(r.Years, cellName(g.Values[2:]))
				continue
			}
			var cells []string
			for _, v := range g.Values[3:] {
				cells = append(cells, v.Word)
			}
			cells = append(cells, count(g.Joints))
			repeats := len(cells)
			if first {
				repeats = 0
			}
			first = false
			cells = append(append(cells, years(r.Years)), estimateCells(a, g, r, f)...)
			t.Rows = append(t.Rows, row{Cells: append(cells, rowNotes(r, f)), Repeats: repeats})
		}
	}
	if len(shown) > 0 {
		shortfalls(a, f)
	}
	p.table(t, f)
	if n := len(part.cells) - len(shown); n > 0 {
		also := "And "
		if len(shown) == 0 {
			also = ""
		}
		p.paragraph(capital(fmt.Sprintf("%s%s with fewer than %d joints each: %s, %s revised; all are in --format csv and json.",
			also, few(n, "further group", "further groups"), part.fewest, few(joints, "joint", "joints"), count(revised))))
	}
	p.paragraph(short.only(len(shown)))
}

// unreached lists the groups that nobody was followed in to a year.
type unreached struct {
	years  []float64
	groups [][]string
}

func (u *unreached) add(year float64, group string) {
	for i, y := range u.years {
		if y == year {
			u.groups[i] = append(u.groups[i], group)
			return
		}
	}
	u.years = append(u.years, year)
	u.groups = append(u.groups, []string{group})
}

// sentence says which of so many groups of a field are missing from a table,
// and from which year on.
func (u *unreached) sentence(of int, field string) string {
	order := make([]int, len(u.years))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(u.years[a], u.years[b]) })
	said := make(map[string]bool)
	var some []string
	for _, i := range order {
		if len(u.groups[i]) == of {
			continue
		}
		var groups []string
		for _, g := range u.groups[i] {
			if !said[g] {
				said[g] = true
				groups = append(groups, g)
			}
		}
		if len(groups) > 0 {
			some = append(some, fmt.Sprintf("%s %s: nobody followed to %s.", capital(label(field)), list(groups), inYears(u.years[i])))
		}
	}
	s := strings.Join(some, " ")
	if o := u.only(of); o != "" {
		s = strings.TrimSpace(s + " " + o)
	}
	return s
}

// only says to which year nobody at all was followed.
func (u *unreached) only(of int) string {
	first := math.Inf(1)
	for i, y := range u.years {
		if of > 0 && len(u.groups[i]) == of {
			first = min(first, y)
		}
	}
	switch {
	case math.IsInf(first, 1):
		return ""
	case of == 1:
		return fmt.Sprintf("Nobody has been followed to %s yet.", inYears(first))
	}
	return fmt.Sprintf("In none of these groups has anybody been followed to %s yet.", inYears(first))
}
