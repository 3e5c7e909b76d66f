package report

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/figure"
)

// meeting is a department's page being written.
type meeting struct {
	*answering
	d     *gather.Department
	named bool // units have their own words, not letters
}

// Department is the page for a department's meeting: which names may be one, asked
// first; how its joints do; volumes, completeness and follow-up by hospital and year;
// units beside one another with what chance gives; what touched a line; which rows to
// chase by whom; what to record better; what moved since the last audit. Named says
// that units have their own words, not letters.
func Department(d *gather.Department, o PaperOptions, named bool) (*document.Document, error) {
	w := newMeeting(d, o, "For the department’s meeting", named)
	w.asked()
	w.heading(1, "How these joints do")
	w.opening()
	w.answers()
	w.cautions()
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
	w.heading(1, "Cautions and sources")
	w.bullets(w.warnings())
	w.sources()
	w.paragraph(w.a.Cautions...)
	if s := w.inventedLine(); s != "" {
		w.Blocks = slices.Insert(w.Blocks, 0, document.Block(document.Paragraph{Text: document.Clean(s)}))
	}
	w.provenance(d.Material, o)
	return &w.Document, nil
}

func newMeeting(d *gather.Department, o PaperOptions, title string, named bool) *meeting {
	p := new(page)
	a := onPaper(d.Audit)
	p.Title, p.Subtitle = document.Clean(cmp.Or(o.Title, title)), document.Clean(o.Whose)
	p.Day = dayOf(a)
	return &meeting{answering: &answering{page: p, a: a, f: d.Facts, parts: divide(a), paper: true}, d: d, named: named}
}

// warnings are what must not be concluded from units.
func (w *meeting) warnings() []string {
	said := []string{"No ranking: units stand in the order of their words. They differ in their patients, their implants and in how well they record; a number outside what is usual is a question, put first to the data."}
	if !w.named {
		said = append(said, "Letters hide names from strangers alone: whoever knows the volumes knows the letters. They can’t be undone from these pages by themselves.")
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

// latestYears are how many years of operation have a column of their own.
const latestYears = 6

// volumes are the joints of each hospital and surgeon by year of operation.
func (w *meeting) volumes() {
	var years []int
	for _, y := range w.d.Years {
		if n, err := strconv.Atoi(y.Word); err == nil {
			years = append(years, n)
		}
	}
	slices.Sort(years)
	if len(years) == 0 {
		return
	}
	last := years[len(years)-1]
	from := max(years[0], last-latestYears+1)
	t := &table{Columns: []column{{Title: "", Wraps: true, Least: 12}, {Title: "All", Align: right}}}
	if from > years[0] {
		t.Columns = append(t.Columns, column{Title: "before " + strconv.Itoa(from), Align: right, Wraps: true, Least: 7})
	}
	for y := from; y <= last; y++ {
		t.Columns = append(t.Columns, column{Title: strconv.Itoa(y), Align: right})
	}
	line := func(name string, joints func(year int) int) {
		sum, before := 0, 0
		var cells []string
		for y := years[0]; y <= last; y++ {
			n := joints(y)
			if sum += n; y < from {
				before += n
			} else {
				cells = append(cells, count(n))
			}
		}
		if from > years[0] {
			cells = append([]string{count(before)}, cells...)
		}
		t.Add(append([]string{name, count(sum)}, cells...)...)
	}
	line("All", func(year int) (n int) {
		for _, p := range w.d.Years {
			n += p.Joints[year]
		}
		return n
	})
	for i, p := range w.d.Places {
		if i == 0 || w.d.Places[i-1].Field != p.Field {
			t.Section("By " + label(p.Field))
		}
		line(document.Word(p.Word), func(year int) int { return p.Joints[year] })
	}
	w.heading(1, "Joints by year of operation")
	w.table(t, nil)
}

// completeness is how long joints were followed, and how much is recorded of them, by
// hospital and by year of operation.
func (w *meeting) completeness() {
	field := w.d.Fields[len(w.d.Fields)-1] // hospital, if there is one
	t := &table{Columns: []column{{Title: "", Wraps: true, Least: 12}, {Title: "Joints", Align: right}, {Title: "Revised", Align: right}, {Title: "Followed, median years", Align: decimal, Wraps: true, Least: 9},
		{Title: "Known of recently, %", Align: decimal, Wraps: true, Least: 9}, {Title: "Lost", Align: right}}}
	var columns []string
	for _, k := range w.d.Cohort.CompletenessByYear().Columns {
		columns = append(columns, k.Column)
		t.Columns = append(t.Columns, column{Title: capital(strings.TrimSuffix(label(k.Column), " date")) + ", %", Align: decimal, Wraps: true, Least: 8})
	}
	line := func(name string, f cohort.FollowUp, filled map[string][2]int) {
		cells := []string{name, count(f.Joints), count(f.Revised), decimals(f.MedianYears, 1), wholePercent(f.Recent, f.Living), count(f.Lost)}
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
	for _, p := range w.d.Years[max(0, len(w.d.Years)-latestYears):] {
		line(p.Word, p.FollowUp, p.Filled)
	}
	w.heading(1, "Follow-up, and how much is recorded")
	w.paragraph("Known of recently: of the joints neither revised nor dead, those heard of within two years of the closing date. Then the share of joints that have a value: the reason for revision of those revised, the day last seen of those neither revised nor dead.")
	w.table(t, nil)
}

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
		f, err := figure.Funnel(w.d.Units, figure.FunnelOptions{Field: field, Own: true, Names: figure.Names{All: true}})
		if err := w.add(f, err, "By "+label(field)+": revisions observed over those expected, by how many are expected. A point outside the limits is a question, not an answer."); err != nil {
			return err
		}
	}
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
	for _, x := range w.d.Watched {
		if x.Watch == nil {
			w.paragraph("By " + label(x.By) + ": nothing is watched, since " + x.Nothing + ".")
			continue
		}
		w.watched(x.Watch)
		shown := x.Watch.Touched()
		for _, u := range shown.Units {
			w.heading(3, unitTitle(x.Watch, document.Word(u.Word)))
			w.bullets(u.Chart.Said())
		}
		if len(shown.Units) > 0 {
			f, err := figure.Watch(shown, figure.WatchOptions{})
			if err := w.add(f, err, "By "+label(x.By)+", those whose chart touched its line: revisions observed less those expected."); err != nil {
				return err
			}
		}
		w.expectedBy(x.Watch)
	}
	w.paragraph("A chart that touches its line says that revisions came faster than expected, and since when; it doesn’t say why. One that doesn’t says little of a small practice.")
	return nil
}

// chaseByWhom lists the rows to look up or mend, by surgeon if there is one.
func (w *meeting) chaseByWhom() {
	t := &table{Columns: []column{{Title: capital(label(w.d.Fields[0])), Wraps: true, Least: 8}, {Title: "Rows", Align: right}, {Title: "What to do", Wraps: true, Least: 24}, {Title: "Which", Wraps: true, Least: 18}}}
	for _, p := range w.d.Of(w.d.Fields[0]) {
		repeats := 0
		for _, x := range toChase(p.Cohort) {
			t.Rows = append(t.Rows, row{Cells: []string{document.Word(p.Word), count(x.count()), x.do, which(p.Cohort, x.rows)}, Repeats: repeats, Apart: repeats == 0 && len(t.Rows) > 0})
			repeats = 1
		}
	}
	w.heading(1, "Rows to chase, by whom")
	if t.Empty() {
		w.paragraph("None.")
		return
	}
	w.table(t, nil)
}

// toChase are the tasks about a cohort's rows that somebody has to do something about.
func toChase(c *cohort.Cohort) []task {
	return slices.DeleteFunc(tasks(c, nil), func(x task) bool { return x.nothing })
}

// recordBetter says what the table lacks and matters.
func (w *meeting) recordBetter() {
	k := &checking{page: w.page, c: w.d.Cohort, followUp: w.d.Facts.FollowUp}
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
	w.paragraph("For: ____________________  Appraisal year: " + cmp.Or(o.Year, "__________") + ".")
	w.opening()
	w.answers()
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
			w.paragraph("Over calendar time, expected of the department’s own past or of published figures:")
			w.bullets(one.Watch.Units[0].Chart.Said())
		}
	}
	w.heading(1, "Rows to chase")
	t := &table{Columns: []column{{Title: "Rows", Align: right}, {Title: "What to do", Wraps: true, Least: 24}, {Title: "Which", Wraps: true, Least: 18}}}
	for _, x := range toChase(m.Cohort) {
		t.Add(count(x.count()), x.do, which(m.Cohort, x.rows))
	}
	if t.Empty() {
		w.paragraph("None.")
	} else {
		w.table(t, nil)
	}
	w.since(m.Before)
	w.sources()
	w.paragraph(append(w.warnings(), w.a.Cautions...)...)
	w.Lines("What these figures show, what they can’t, and what will be done", 3)
	w.Lines("Seen and talked over with (name, date)", 1)
	if s := w.inventedLine(); s != "" {
		w.Blocks = slices.Insert(w.Blocks, 0, document.Block(document.Paragraph{Text: document.Clean(s)}))
	}
	return &w.Document, nil
}

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
		for _, y := range years[max(0, len(years)-latestYears):] {
			said = append(said, fmt.Sprintf("%s in %d", count(p.Joints[y]), y))
		}
		w.paragraph("Joints by year of operation: "+list(said)+".",
			fmt.Sprintf("Neither revised nor dead: %s, of whom %s %% were heard of within two years of the closing date; lost: %s.", count(p.FollowUp.Living), wholePercent(p.FollowUp.Recent, p.FollowUp.Living), count(p.FollowUp.Lost)))
	}
}

// ownUnits says of one unit's numbers beside the department what they are and what
// they could have shown.
func (w *meeting) ownUnits(mine []*audit.Unit) {
	var said []string
	for _, u := range mine {
		s := fmt.Sprintf("%s: %s of %s revised", kindTitle(u.Joint, u.Procedure), count(u.Revised), few(u.Joints, "joint", "joints"))
		least, most, ok := u.Usual()
		if !ok {
			said = append(said, s+"; nothing can be expected of it.")
			continue
		}
		s += fmt.Sprintf(", %s expected within %s; %.0f to %.0f would be usual. Twice the others’ rate would show in %.0f of 100 units of this size.",
			expectedNumber(u.Expected), list(labels(u.Within)), least, most, 100*u.Finds(2))
		if ratio := ratioWith(u.Drawn.Ratio, u.Drawn.Lower, u.Drawn.Upper); ratio != "—" {
			s += " Observed ÷ expected, drawn towards all units: " + ratio + "."
		}
		said = append(said, s)
	}
	if said == nil {
		w.paragraph("Nothing of these joints can be set beside the department’s.")
		return
	}
	w.bullets(said)
	w.paragraph("Expected: had these joints been revised as all the department’s were, these among them. Usual: what chance alone gives in 95 of 100. Patients are not shared out at random. No reading is taken from it.")
}
