package report

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/figure"
	"example.org/holdfast/cohort/monitor"
)

// meeting is a department's page being written.
type meeting struct {
	*answering
	d     *gather.Department
	named bool // units have their own words, not letters
}

// Department is the page for a department's meeting: which names may be one, asked
// first; how its joints do, and what to know before that is believed; volumes,
// completeness and follow-up by hospital and year; units beside one another with what
// chance gives; what touched a line; which rows to chase by whom; what to record better;
// what moved since the last audit. Named says that units have their own words, not letters.
func Department(d *gather.Department, o PaperOptions, named bool) (*document.Document, error) {
	w := newMeeting(d, o, "For the department’s meeting", named)
	w.opening()
	w.asked()
	w.heading(1, "In short")
	w.answers()
	w.said.beside = false // stands on a strip, and there is none
	w.cautions()
	w.bullets(w.inShort())
	w.paragraph(w.warnings()...)
	w.doubts()
	w.volumes()
	w.completeness()
	if err := w.beside(); err != nil {
		return nil, err
	}
	if err := w.touched(); err != nil {
		return nil, err
	}
	w.chaseByWhom()
	w.recordBetter()
	w.since(d.Before)
	w.heading(1, "Sources and cautions")
	w.sources()
	w.paragraph(w.a.Cautions...)
	w.invented()
	w.provenance(d.Material, o)
	return &w.Document, nil
}

func newMeeting(d *gather.Department, o PaperOptions, title string, named bool) *meeting {
	p := new(page)
	a := onPaper(d.Audit)
	p.Title, p.Subtitle = document.Clean(cmp.Or(o.Title, title)), document.Clean(o.Whose)
	p.Day = dayOf(a)
	return &meeting{answering: &answering{page: p, a: a, f: d.Facts, parts: divide(a), on: forMeeting}, d: d, named: named}
}

// warnings are what must not be concluded from units.
func (w *meeting) warnings() []string {
	said := []string{"No ranking: units stand in alphabetical order. They differ in their patients, their implants and in how well they record; a number outside what is usual is a question, put first to the data."}
	if !w.named {
		said = append(said, "Letters and numbers hide names from strangers alone: whoever knows the volumes knows the letters. They can’t be undone from these pages by themselves.")
	}
	return said
}

// asked asks first which names may be one.
func (w *meeting) asked() {
	if len(w.d.Asked) == 0 {
		return
	}
	w.heading(1, "First: are these one?")
	w.paragraph("Until that is settled, neither has all the joints, and what stands below by surgeon or hospital is wrong for each of them. The names, and the line of a settings file that settles each: holdfast check.")
	var said []string
	for _, cluster := range w.d.Asked {
		var words []string
		for _, v := range cluster {
			words = append(words, document.Word(v.Word))
		}
		said = append(said, capital(label(cluster[0].Field))+" "+list(words))
	}
	w.bullets(said)
}

// inShort says what stands further on: units outside what is usual, lines touched, rows
// to chase, and how much all this could have shown.
func (w *meeting) inShort() []string {
	var said []string
	for _, field := range w.d.Fields {
		if s := w.outsideUsual(field); s != "" {
			said = append(said, s)
		}
	}
	var fewer []string
	chance, charts, fields := 0.0, 0, 0
	for _, x := range w.d.Watched {
		if x.Watch == nil {
			continue
		}
		chance, charts, fields = chance+x.Watch.Chance, charts+len(x.Watch.Units), fields+1
		for _, u := range x.Watch.Units {
			if k := &u.Chart.Known; k.Observed < k.Low {
				fewer = append(fewer, fmt.Sprintf("%s %s (%d, chance alone %d to %d)", label(x.By), document.Word(u.Word), k.Observed, k.Low, k.High))
			}
		}
		touched := x.Watch.Touched()
		var words []string
		for _, u := range touched.Units {
			words = append(words, label(x.By)+" "+document.Word(u.Word))
		}
		s := fmt.Sprintf("Over calendar time, by %s: none of %d charts touched the line", label(x.By), len(x.Watch.Units))
		if len(words) > 0 {
			s = fmt.Sprintf("Over calendar time, by %s: %d of %d charts touched the line (%s)", label(x.By), len(words), len(x.Watch.Units), list(words))
		}
		said = append(said, s+fmt.Sprintf("; chance alone makes any of them do so in %.0f of 100 such periods.", 100*x.Watch.Chance))
	}
	if fields > 1 {
		said = append(said, fmt.Sprintf("Both are of the same joints, so that one may show what the other does; chance alone makes any of the %d charts touch its line in up to %.0f of 100 such periods.", charts, math.Ceil(100*chance)))
	}
	if len(fewer) > 0 {
		said = append(said, "A chart looks for too many revisions alone. Fewer than chance gives, which may be revisions that were not recorded: "+list(fewer)+".")
	} else if fields > 0 {
		said = append(said, "A chart looks for too many revisions alone: too few touch no line, and may be revisions that were not recorded.")
	}
	if rows := gather.DifferentRows(w.d.Tasks); rows > 0 {
		said = append(said, fmt.Sprintf("To chase: %s, by whom stands below, which ones on each surgeon’s page.", few(rows, "row", "rows")))
	}
	return said
}

// outsideUsual says which units of a field have more or fewer revisions than is usual, how
// often chance alone does that, and what units of their sizes could show.
func (w *meeting) outsideUsual(field string) string {
	var outside []string
	compared := w.compared(field)
	small := 0
	for _, u := range compared {
		name := label(field) + " " + document.Word(u.Value.Word) + " (" + kindOf(u.Joint, u.Procedure) + "), "
		switch u.Outside() {
		case 1:
			outside = append(outside, name+"with more")
		case -1:
			outside = append(outside, name+"with fewer")
		}
		if u.Finds(2) < .5 {
			small++
		}
	}
	n := len(compared)
	if n == 0 {
		return ""
	}
	found := "none outside"
	if len(outside) > 0 {
		found = fmt.Sprintf("%d outside: %s", len(outside), strings.Join(outside, "; "))
	}
	said := fmt.Sprintf("By %s, of %s of revisions with what is usual, which chance alone gives 95 of 100 units alike: %s. %s", label(field), few(n, "comparison", "comparisons"), found, outsideByChance(compared))
	if n < figure.FewestNotDeficit && len(outside) > 0 {
		said += " One’s excess is the others’ deficit."
	}
	switch {
	case small == n:
		said += " In none of them would even twice the others’ rate show more often than not."
	case small > 0:
		said += fmt.Sprintf(" In %d of the %d not even twice the others’ rate would show more often than not.", small, n)
	}
	return said
}

// compared are the units of a field that can be set beside what is usual.
func (w *meeting) compared(field string) []*audit.Unit {
	return slices.DeleteFunc(worthAUnit(w.d.Units.Department), func(u *audit.Unit) bool {
		_, _, ok := u.Usual()
		return u.Value.Field != field || u.Value.Word == cohort.NotRecorded || !ok
	})
}

// outsideByChance says how often chance alone puts units outside what is usual. The chance
// that any is there is at most the sum of the chances of each.
func outsideByChance(units []*audit.Unit) string {
	sum := 0.0
	for _, u := range units {
		sum += u.ByChance()
	}
	if sum < .95 {
		return fmt.Sprintf("Where all are alike, chance alone puts one or more of the %d outside in up to %.0f of 100 departments.", len(units), math.Ceil(100*sum))
	}
	return fmt.Sprintf("Where all are alike, chance alone puts about %s of the %d outside.", decimals(sum, 1), len(units))
}

// volumes are the joints of each hospital and surgeon by year of operation.
func (w *meeting) volumes() {
	t := &table{Columns: []column{{Title: "", Wraps: true, Least: 12}, {Title: "All", Align: right}}}
	for _, y := range w.d.Years {
		t.Columns = append(t.Columns, column{Title: y.Word, Align: right, Wraps: true, Least: 6})
	}
	line := func(name string, of []gather.Place) {
		sum := 0
		var cells []string
		for _, y := range w.d.Years {
			n := 0
			for year := range y.Joints {
				for _, p := range of {
					n += p.Joints[year]
				}
			}
			sum, cells = sum+n, append(cells, count(n))
		}
		t.Add(append([]string{name, count(sum)}, cells...)...)
	}
	line("All", w.d.Years)
	for i, p := range w.d.Places {
		if i == 0 || w.d.Places[i-1].Field != p.Field {
			t.Section("By " + label(p.Field))
		}
		line(document.Word(p.Word), []gather.Place{p})
	}
	w.heading(1, "Joints by year of operation")
	w.table(t, nil)
}

// completeness is how long joints were followed, and how much is recorded of them, by
// hospital and by year of operation.
func (w *meeting) completeness() {
	field := w.d.Fields[len(w.d.Fields)-1] // hospital, if there is one
	t := &table{Columns: []column{{Title: "", Wraps: true, Least: 12}, {Title: "Joints", Align: right}, {Title: "Revised", Align: right}, {Title: "Median years", Align: decimal, Wraps: true, Least: 7},
		{Title: "Seen, %", Align: decimal, Wraps: true, Least: 7}, {Title: "Lost, %", Align: decimal, Wraps: true, Least: 7}, {Title: "Assumed, %", Align: decimal, Wraps: true, Least: 8}}}
	var columns []string
	for _, k := range w.d.Cohort.CompletenessByYear().Columns {
		if k.Column == "last_seen_date" { // what is assumed says it
			continue
		}
		columns = append(columns, k.Column)
		t.Columns = append(t.Columns, column{Title: capital(strings.TrimSuffix(label(k.Column), " date")), Align: decimal, Wraps: true, Least: 8})
	}
	line := func(name string, f cohort.FollowUp, filled map[string][2]int) {
		cells := []string{name, count(f.Joints), count(f.Revised), decimals(f.MedianYears, 1), wholePercent(seen(f), f.Living), wholePercent(f.Lost, f.Living), wholePercent(f.Assumed, f.Living)}
		for _, k := range columns {
			cells = append(cells, wholePercent(int64(filled[k][0]), int64(filled[k][1])))
		}
		t.Add(cells...)
	}
	t.Section("By " + label(field))
	for _, p := range w.d.Of(field) {
		line(document.Word(p.Word), p.FollowUp, p.Filled)
	}
	t.Section("By year of operation")
	for _, p := range w.d.Years {
		line(p.Word, p.FollowUp, p.Filled)
	}
	w.heading(1, "Follow-up, and how much is recorded")
	w.paragraph("Median years: of follow-up. Of the joints neither revised nor dead: seen are those last seen not long before the closing date; lost, those last seen longer before it; assumed, those of which no day last seen is recorded, so that nobody knows.",
		"Then, in percent, the joints that have a value; of those revised, that have a reason.")
	w.table(t, nil)
}

// seen are the joints neither revised nor dead that are neither lost nor followed by
// assumption.
func seen(f cohort.FollowUp) int64 { return f.Living - f.Lost - f.Assumed }

// wholePercent is a share without decimals.
func wholePercent(n, of int64) string {
	if of == 0 {
		return ""
	}
	return fmt.Sprintf("%.0f", 100*float64(n)/float64(of))
}

// beside sets units beside their department, in a funnel where there are enough.
func (w *meeting) beside() error {
	w.heading(1, "Units beside the department")
	for _, field := range w.d.Fields {
		w.heading(2, "By "+label(field))
		f, err := figure.Funnel(w.d.Units, figure.FunnelOptions{Field: field, Own: true, Names: figure.Names{All: true}})
		if err := w.add(f, err, "By "+label(field)+": revisions observed beside those expected. A unit outside what is usual is a question, not an answer."); err != nil {
			return err
		}
	}
	w.heading(2, "In numbers")
	w.units(worthAUnit(w.d.Units.Department))
	return nil
}

// worthAUnit are the units of joints and procedures that are enough to be estimated.
func worthAUnit(all []*audit.Unit) []*audit.Unit {
	joints := make(map[string]int64)
	kind := func(u *audit.Unit) string { return u.Joint + "\x00" + u.Procedure + "\x00" + u.Value.Field }
	for _, u := range all {
		joints[kind(u)] += u.Joints
	}
	return slices.DeleteFunc(slices.Clone(all), func(u *audit.Unit) bool { return joints[kind(u)] < fewestOnPaper })
}

// touched says which units' charts touched their line.
func (w *meeting) touched() error {
	w.heading(1, "What touched a line")
	before := make(map[string][]int) // joints to look at, by unit
	for i, x := range w.d.Watched {
		w.heading(2, "By "+label(x.By))
		if x.Watch == nil {
			w.paragraph("Nothing is watched, since " + x.Nothing + ".")
			continue
		}
		w.watchedPeriod(x.Watch)
		w.watched(x.Watch)
		shown := x.Watch.Touched()
		var said []string
		for _, u := range shown.Units {
			said = append(said, unitTitle(x.Watch, document.Word(u.Word))+": "+touchedIn(u.Chart, mostTouched)+alsoOf(u.Chart.Stretches[0].Rows, before))
		}
		for _, u := range shown.Units {
			before[label(x.By)+" "+document.Word(u.Word)] = u.Chart.Stretches[0].Rows
		}
		w.bullets(said)
		if len(shown.Units) > 0 {
			f, err := figure.Watch(shown, figure.WatchOptions{})
			if err := w.add(f, err, "By "+label(x.By)+", those whose chart touched its line: revisions observed less those expected."); err != nil {
				return err
			}
		}
		if i+1 == len(w.d.Watched) || w.d.Watched[i+1].Watch == nil { // the same of each field
			w.expectedBy(x.Watch)
		}
	}
	w.paragraph("A chart that touches its line says that revisions came faster than expected, and since when; it doesn’t say why. One that doesn’t says little of a small practice.")
	w.lostWatched(w.d.Cohort)
	return nil
}

// watchedPeriod says of which revisions charts over calendar time are, and what those
// before and after are for.
func (w *meeting) watchedPeriod(x *monitor.Watch) {
	if len(x.Units) == 0 {
		return
	}
	c := x.Units[0].Chart
	s := fmt.Sprintf("Revised are those revised from %s through %s alone; those since are not all known yet.", isoDay(c.From), isoDay(c.Known.Day))
	if x.Revised > 0 {
		s += fmt.Sprintf(" Those before, %d, are what the expected are learnt from.", x.Revised)
	}
	w.paragraph(s, uncounted(x))
}

// alsoOf says how many of some joints were named before, of which units: those of a
// hospital's chart may be one surgeon's.
func alsoOf(rows []int, before map[string][]int) string {
	said := ""
	for _, unit := range slices.Sorted(maps.Keys(before)) {
		n := 0
		for _, row := range rows {
			if slices.Contains(before[unit], row) {
				n++
			}
		}
		if n > 0 {
			said += fmt.Sprintf(" %d of these %d are among those of %s.", n, len(rows), unit)
		}
	}
	return said
}

// overTimeInShort is one unit's chart in some sentences.
func overTimeInShort(c *monitor.Chart) string {
	k := c.Known
	s := fmt.Sprintf("Over calendar time, from %s through %s: %d revised, %s expected; chance alone gives %d to %d. ", isoDay(c.From), isoDay(k.Day), k.Observed, decimals(k.Expected, 1), k.Low, k.High)
	if len(c.Stretches) > 0 {
		return s + "The chart touched its line: " + touchedIn(c, len(c.Stretches[0].Rows)) + " It doesn’t say why."
	}
	return s + fmt.Sprintf("The chart did not touch its line; with twice the revisions expected it would by %s in %.0f of 100.", isoDay(c.Through), 100*c.Touches(2))
}

// touchedIn says in a sentence when a chart touched its line, and which joints to look
// at, some of them.
func touchedIn(c *monitor.Chart, most int) string {
	first := c.Stretches[0]
	s := fmt.Sprintf("from %s on revisions came faster than expected; by %s, when the line was touched, %d where %s were expected", isoDay(first.Since), isoDay(first.Touched), first.Observed, decimals(first.Expected, 1))
	if n := len(c.Stretches); n > 1 {
		s += fmt.Sprintf(", and touched again on %s", isoDay(c.Stretches[n-1].Touched))
	}
	rows := c.Names(first.Rows)
	if len(rows) > most {
		rows = append(rows[:most], "…")
	}
	return s + ". Look at these joints: rows " + strings.Join(rows, ", ") + "."
}

// mostTouched is how many rows of a stretch are named where a surgeon's own page has all.
const mostTouched = 10

// mostTasks is how many things to do about rows have a column of their own.
const mostTasks = 5

// chaseByWhom says how many rows there are to look up or mend, by surgeon if there is
// one; which they are stands on each surgeon's page.
func (w *meeting) chaseByWhom() {
	places := w.d.Of(w.d.Fields[0])
	var dos []string
	all := make([]map[string]int, len(places))
	for i, p := range places {
		all[i] = make(map[string]int)
		for _, x := range p.Tasks {
			if all[i][x.Do] = x.Count(); !slices.Contains(dos, x.Do) {
				dos = append(dos, x.Do)
			}
		}
	}
	sum := func(do string) (n int) {
		for _, by := range all {
			n += by[do]
		}
		return n
	}
	slices.SortStableFunc(dos, func(a, b string) int { return cmp.Compare(sum(b), sum(a)) })
	rest := dos[min(len(dos), mostTasks):]
	dos = dos[:len(dos)-len(rest)]
	w.heading(1, "Rows to chase, by whom")
	if dos == nil {
		w.paragraph("None.")
		return
	}
	t := &table{Columns: []column{{Title: capital(label(w.d.Fields[0])), Wraps: true, Least: 8}}}
	for _, do := range dos {
		t.Columns = append(t.Columns, column{Title: do, Align: right, Wraps: true, Least: 8})
	}
	if len(rest) > 0 {
		t.Columns = append(t.Columns, column{Title: "Other", Align: right})
	}
	for i, p := range places {
		cells := []string{document.Word(p.Word)}
		for _, do := range dos {
			cells = append(cells, count(all[i][do]))
		}
		if len(rest) > 0 {
			n := 0
			for _, do := range rest {
				n += all[i][do]
			}
			cells = append(cells, count(n))
		}
		t.Add(cells...)
	}
	w.table(t, nil)
	if w.d.Fields[0] != "surgeon" {
		w.paragraph("Which rows: holdfast check.")
	}
}

// recordBetter says what the table lacks and matters.
func (w *meeting) recordBetter() {
	k := &checking{page: w.page, Checking: &gather.Checking{Cohort: w.d.Cohort, FollowUp: w.d.Facts.FollowUp}}
	lacks := k.lacking()
	w.heading(1, "What to record better")
	if len(lacks) == 0 {
		w.paragraph("Nothing that matters here is missing from more than a tenth of the joints.")
		return
	}
	w.bullets(lacks)
}

// Own is the page that a surgeon takes to appraisal, made from the department's audit:
// own joints beside the department's, what touched a line, rows to chase, room to
// write. M is the material of the surgeon's joints, unit their word.
func Own(d *gather.Department, unit audit.Value, m *gather.Material, o PaperOptions, named bool) (*document.Document, error) {
	own := *d
	own.Material = m
	w := newMeeting(&own, o, capital(label(unit.Field))+" "+document.Word(unit.Word), named)
	w.paragraph("For: ____________________  Appraisal year: " + cmp.Or(o.Year, "______") + ".  Talked over with: ____________________ on ____________.")
	w.opening()
	w.answers()
	w.said.beside = false
	w.cautions()
	w.ownVolumes(unit)
	w.heading(1, "Beside the department")
	var mine []*audit.Unit
	for _, u := range d.Units.Department {
		if u.Value.Field == unit.Field && u.Value.Word == unit.Word && u.Joints > 0 {
			mine = append(mine, u)
		}
	}
	w.ownUnits(mine)
	for _, x := range d.Watched {
		if one := x.Of(unit.Word); x.By == unit.Field && one != nil && one.Watch != nil {
			w.bullets([]string{overTimeInShort(one.Watch.Units[0].Chart)})
		}
	}
	w.heading(1, "Rows to chase")
	t := &table{Columns: []column{{Title: "Rows", Align: right}, {Title: "What to do", Wraps: true, Least: 24}, {Title: "Which", Wraps: true, Least: 18}}}
	for _, p := range d.Of(unit.Field) {
		for _, x := range p.Tasks {
			if p.Value == unit {
				t.Add(count(x.Count()), x.Do, whichOf(m.Cohort, x.Rows, mostOwn))
			}
		}
	}
	if t.Empty() {
		w.paragraph("None.")
	} else {
		w.table(t, nil)
	}
	w.sinceInShort(m.Before)
	w.sources()
	w.paragraph(append([]string{"Patients, implants and recording differ; a number outside what is usual is a question, put first to the data."}, w.a.Cautions...)...)
	w.Lines("What these figures show, what they can’t, and what will be done", 3)
	w.invented()
	return &w.Document, nil
}

// mostOwn is how many rows of one kind are named on a surgeon's own page.
const mostOwn = 14

// ownVolumes are the latest years' joints in a sentence.
func (w *meeting) ownVolumes(unit audit.Value) {
	for _, p := range w.d.Places {
		if p.Value != unit {
			continue
		}
		var years []int
		for y := range p.Joints {
			years = append(years, y)
		}
		slices.Sort(years)
		var said []string
		for _, y := range years[max(0, len(years)-gather.LatestYears):] {
			said = append(said, fmt.Sprintf("%s in %d", count(p.Joints[y]), y))
		}
		w.paragraph("Joints by year of operation: "+list(said)+".",
			fmt.Sprintf("Neither revised nor dead: %s; %s of these seen not long before the closing date, %s lost, %s with follow-up assumed, since no day last seen is recorded.", count(p.FollowUp.Living), count(seen(p.FollowUp)), count(p.FollowUp.Lost), count(p.FollowUp.Assumed)))
	}
}

// ownUnits says of one unit's numbers beside the department what they are and what
// they could have shown.
func (w *meeting) ownUnits(mine []*audit.Unit) {
	if mine == nil {
		w.paragraph("Nothing of these joints can be set beside the department’s.")
		return
	}
	t := &table{Columns: []column{{Title: "Joint and procedure", Wraps: true, Least: 16}, {Title: "Joints", Align: right}, {Title: "Revised", Align: right}, {Title: "Expected", Align: decimal}, {Title: "Usual", Align: right},
		{Title: ""}, {Title: "Observed ÷ expected, drawn to all", Align: decimal, Wraps: true, Least: 18}, {Title: "Twice would show, of 100", Align: right, Wraps: true, Least: 8}}}
	outside := false
	for _, u := range mine {
		cells := []string{kindTitle(u.Joint, u.Procedure), count(u.Joints), count(u.Revised)}
		least, most, ok := u.Usual()
		if !ok {
			t.Add(append(cells, "—", "", "", "", "")...)
			continue
		}
		than := map[int]string{1: "more than usual", -1: "fewer than usual"}[u.Outside()]
		outside = outside || than != ""
		t.Add(append(cells, expectedNumber(u.Expected), fmt.Sprintf("%d–%d", int(least), int(most)), than,
			unitRatio(u, u.Drawn.Ratio, u.Drawn.Lower, u.Drawn.Upper), fmt.Sprintf("%.0f", 100*u.Finds(2)))...)
	}
	w.table(t, nil)
	words := []string{"Expected: had these joints been revised as all the department’s of their " + withinWords(mine) + " were, these among them. Usual: what chance alone gives in 95 of 100; no reading is taken from it. Twice would show: in how many of 100 units of this size twice the others’ rate would be more than usual."}
	if outside {
		words = append(words, outsideByChance(w.compared(mine[0].Value.Field)))
	}
	w.paragraph(words...)
}
