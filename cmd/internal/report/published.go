package report

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// PublishedPage is what is to be shown of published figures.
type PublishedPage struct {
	Series     []*benchmark.Series
	Files      []string              // the user's own, which are shown as they are understood; nil for those that come with the program
	Conditions []benchmark.Condition // what they are narrowed to
	Own        *audit.Audit          // own joints beside each; nil without a table
}

// published writes figures by joint and procedure, then their sources.
func (p *page) published(o PublishedPage) {
	w := &publishedWriter{page: p, PublishedPage: o, refs: newReferences()}
	figures, sources := 0, map[[2]string]bool{}
	for _, s := range o.Series {
		figures += len(s.Figures)
		sources[[2]string{s.Source, s.Citation}] = true
	}
	p.heading(1, "Published figures")
	p.paragraph(fmt.Sprintf("%s from %s: cumulative revision by years since operation, with 95 %% limits in brackets where they were published.",
		few(figures, "figure", "figures"), few(len(sources), "source", "sources")),
		"1-KM meets an own Kaplan–Meier estimate and a cumulative incidence an own cumulative incidence; a threshold is compared apart; a pooled estimate is listed and compared with nothing. A bearing, fixation, age or sex that is not named is pooled.")
	if len(o.Files) > 0 {
		p.understood(o)
	}
	if len(o.Conditions) > 0 {
		w.narrowed()
	} else {
		if len(o.Files) == 0 {
			p.overview(o.Series)
		}
		w.tables(2, o.Series)
	}
	p.heading(2, "Sources")
	p.references(w.refs)
	p.bullets([]string{
		"Each figure is of a population, operated on elsewhere and in other years: not one patient's chance, and not for choosing an implant.",
		"It does not replace the national registry, the department's governance, or licensed clinical judgement.",
	})
}

// understood says how a user's file is taken, and asks about what it does not say.
func (p *page) understood(o PublishedPage) {
	p.heading(2, "How "+list(o.Files)+" is understood")
	var said []string
	say := func(of func(*benchmark.Series) bool, text string) {
		n := 0
		for _, s := range o.Series {
			if of(s) {
				n++
			}
		}
		if n > 0 {
			said = append(said, fmt.Sprintf("%d of %s: %s", n, few(len(o.Series), "series", "series"), text))
		}
	}
	say(func(s *benchmark.Series) bool { return s.PeriodFrom == 0 && s.PeriodTo == 0 },
		"no years of operation stated, so they count as of the years of your own. Which are they? period_from and period_to, or “# period: 2003-2023” above the headings.")
	say(func(s *benchmark.Series) bool { return s.Setting == benchmark.SettingNotSaid && s.Other() == "" },
		"no setting stated, so they count as of a register. Are they? “# setting: national register”, or one centre, trial, …, above the headings.")
	say(func(s *benchmark.Series) bool { return s.Other() != "" }, "listed and never read, being of a subset, one centre or surgeon, pooled studies, or without a procedure.")
	for _, n := range []struct {
		note benchmark.Note
		text string
	}{
		{benchmark.MadeFromAtRisk, "without limits, which are made from the numbers at risk"},
		{benchmark.LeastError, "without limits: a reading takes the least error that so many joints have"},
		{benchmark.ErrorUnknown, "without limits and number of joints: a reading knows only how they were rounded"},
		{benchmark.TakenAsExact, "without limits, taken as exact"},
	} {
		count := 0
		for _, s := range o.Series {
			for _, f := range s.Figures {
				if s.Estimand != benchmark.Threshold && f.ErrorNotes()&n.note != 0 {
					count++
				}
			}
		}
		if count > 0 {
			said = append(said, few(count, "figure", "figures")+" "+n.text+".")
		}
	}
	if len(said) == 0 {
		said = []string{"Nothing is left to ask about."}
	}
	p.bullets(said)
}

// overview is one page of what there is: by joint, procedure, bearing, fixation,
// ages and years.
func (p *page) overview(series []*benchmark.Series) {
	type kind struct{ joint, procedure, of string }
	type what struct {
		ages    []benchmark.AgeInterval
		years   map[float64]int
		figures int
	}
	found := make(map[kind]*what)
	var order []kind
	for _, s := range series {
		k := kind{s.Joint, s.Procedure, implants(s)}
		if found[k] == nil {
			found[k] = &what{years: make(map[float64]int)}
			order = append(order, k)
		}
		w := found[k]
		if !slices.Contains(w.ages, s.Age) {
			w.ages = append(w.ages, s.Age)
		}
		for _, f := range s.Figures {
			w.years[f.Years]++
			w.figures++
		}
	}
	slices.SortStableFunc(order, func(a, b kind) int {
		return cmp.Or(cmp.Compare(a.joint, b.joint), cmp.Compare(procedureOrder(a.procedure), procedureOrder(b.procedure)))
	})
	t := &table{Columns: []column{{Title: "Of", Wraps: true}, {Title: "Ages", Wraps: true}, {Title: "Years since operation", Wraps: true}, {Title: "Figures", Align: right}}}
	for i, k := range order {
		if i == 0 || order[i-1].joint != k.joint || order[i-1].procedure != k.procedure {
			t.Rows = append(t.Rows, row{Section: kindTitle(k.joint, k.procedure)})
		}
		w := found[k]
		slices.SortFunc(w.ages, func(a, b benchmark.AgeInterval) int { return cmp.Or(a.From-b.From, a.Below-b.Below) })
		var ages, at []string
		for _, a := range w.ages {
			ages = append(ages, cmp.Or(a.String(), "all"))
		}
		for _, y := range slices.Sorted(maps.Keys(w.years)) {
			at = append(at, years(y))
		}
		t.Rows = append(t.Rows, row{Cells: []string{k.of, strings.Join(ages, ", "), strings.Join(at, ", "), fmt.Sprint(w.figures)}})
	}
	p.heading(2, "What there is")
	p.table(t, nil)
}

// procedureOrder puts one procedure before several together.
func procedureOrder(procedure string) int {
	order := []string{"total", "resurfacing", "unicompartmental", "patellofemoral"}
	if i := slices.Index(order, procedure); i >= 0 {
		return i
	}
	return len(order)
}

// implants is what a series states of the implant.
func implants(s *benchmark.Series) string {
	only := *s
	only.Age, only.Sex, only.Diagnosis, only.Subset = benchmark.AgeInterval{}, "", "", ""
	return among(&only)
}

// kindTitle names joint and procedure.
func kindTitle(joint, procedure string) string {
	return capital(strings.ReplaceAll(cmp.Or(joint, "all joints"), "|", " or ")) + ", " + strings.ReplaceAll(cmp.Or(procedure, "all procedures"), "|", " or ")
}

// publishedWriter writes tables of figures.
type publishedWriter struct {
	*page
	PublishedPage
	refs *references
}

// narrowed writes the figures of such joints, then those of all together.
func (w *publishedWriter) narrowed() {
	var asked []string
	for _, c := range w.Conditions {
		asked = append(asked, label(c.Column)+" "+c.Value)
	}
	stated, pooled := benchmark.Narrow(w.Series, w.Conditions)
	w.heading(2, "Of "+strings.Join(asked, ", "))
	if len(stated) == 0 {
		w.paragraph("No published figure is of these alone.")
	}
	w.tables(3, stated)
	if len(pooled) > 0 {
		w.heading(2, "Of all together, these among them")
		w.tables(3, pooled)
	}
}

// tables writes one for each joint and procedure.
func (w *publishedWriter) tables(level int, series []*benchmark.Series) {
	var keys [][2]string
	of := make(map[[2]string][]*benchmark.Series)
	sorted := slices.Clone(series)
	slices.SortStableFunc(sorted, func(a, b *benchmark.Series) int {
		byKind := 0
		if len(w.Conditions) > 0 { // bearings and fixations under one another
			byKind = cmp.Or(cmp.Compare(a.Bearing, b.Bearing), cmp.Compare(a.Fixation, b.Fixation))
		}
		return cmp.Or(cmp.Compare(a.Joint, b.Joint), byKind)
	})
	for _, s := range sorted {
		key := [2]string{s.Joint, s.Procedure}
		if of[key] == nil {
			keys = append(keys, key)
		}
		of[key] = append(of[key], s)
	}
	for _, key := range keys {
		w.heading(level, kindTitle(key[0], key[1]))
		w.one(of[key])
	}
}

// one is the table of one joint and procedure.
func (w *publishedWriter) one(series []*benchmark.Series) {
	notes := newFootnotes()
	t := &table{Columns: []column{{Title: "Operated"}, {Title: "Years", Align: decimal}, {Title: "Revised, %", Align: decimal},
		{Title: "Joints", Align: right}, {Title: "Estimates", Wraps: true, Least: 10}, {Title: "Country", Wraps: true, Least: 16}, {Title: "Source"}, {Title: "Own, %", Align: decimal}, {Title: "At risk", Align: right}, {}}}
	of := ""
	for _, s := range series {
		if among(s) != of {
			of = among(s)
			t.Rows = append(t.Rows, row{Section: capital(of)})
		}
		for i, f := range s.Figures {
			joints, own, atRisk := "", "", ""
			if f.Joints > 0 {
				joints = count(f.Joints)
			}
			note := figureNotes(f, notes)
			if w.Own != nil {
				var more string
				own, atRisk, more = w.own(s, f, notes)
				note = join(note, more)
			}
			estimates := s.Estimand.String()
			if s.Estimand == benchmark.OneMinusKaplanMeier {
				estimates = "1-KM"
			}
			t.Rows = append(t.Rows, row{Cells: []string{s.Period(), years(f.Years), percentWith(f.Revision, f.Lower, f.Upper, ""), joints, estimates, s.Country,
				w.refs.mark(s, f), own, atRisk, note}, Repeats: min(i, 1)})
		}
	}
	w.table(t, notes)
}

// figureNotes are the letters of what must be known of a figure's limits.
func figureNotes(f benchmark.Figure, notes *footnotes) (note string) {
	if f.Notes&benchmark.LimitsRounded != 0 {
		note = notes.mark("limits printed rounded to the figure itself, and left out")
	}
	if l := f.Level; l != 0 && l != 0.95 && f.HasLimits() {
		note = join(note, notes.mark(fmt.Sprintf("limits of %s %%", percent(l))))
	}
	return note
}

// own is the estimate of one's own joints of a figure's kind.
func (w *publishedWriter) own(s *benchmark.Series, f benchmark.Figure, notes *footnotes) (estimated, atRisk, note string) {
	var found []*audit.Beside
	for _, b := range w.Own.Beside {
		if b.Series == s && b.Figure.Years == f.Years && b.Comparison != nil {
			found = append(found, b)
		}
	}
	if len(found) != 1 {
		return "—", "", ""
	}
	b := found[0]
	estimated = ownCell(w.Own, b.Joints, b.Comparison, notes)
	if b.Reason != "" {
		note = notes.mark(b.Reason)
	}
	if !b.Comparison.Reached || math.IsNaN(b.Comparison.Own.AtRisk) {
		return cmp.Or(estimated, "—"), "", note
	}
	return estimated, number(b.Comparison.Own.AtRisk), note
}

// stated are the words for what a series states within its joint and procedure.
func stated(s *benchmark.Series) []string {
	var words []string
	add := func(word string) {
		if word != "" {
			words = append(words, strings.ReplaceAll(word, "|", " or "))
		}
	}
	add(s.Bearing)
	if s.Polyethylene != "" {
		add(s.Polyethylene + " polyethylene")
	}
	add(s.Fixation)
	if age := s.Age.String(); age != "" {
		add("age " + age)
	}
	add(s.Sex)
	add(s.Diagnosis)
	add(s.Subset)
	return words
}

// among is what a series states within its joint and procedure.
func among(s *benchmark.Series) string {
	words := stated(s)
	if len(words) == 0 {
		return "all"
	}
	return strings.Join(words, ", ")
}
