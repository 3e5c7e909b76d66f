package report

import (
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// byGroup writes the groups of some joints and procedures, each at one year.
func (w *answering) byGroup(parts []*part) {
	if len(w.a.By) == 0 {
		return
	}
	t, never, when := w.groupTable(), []string{}, "at any year"
	var shown groupsShown
	var single string
	if len(parts) == 1 {
		single = parts[0].title
	}
	years := make(map[*part]float64)
	for _, p := range parts {
		if p.all.Joints < fewestJoints {
			continue
		}
		y, ok := w.a.CommonYear(p.all, w.a.By)
		if !ok || !w.plainGroup(p, y) {
			if ok {
				when = "at the year above"
			}
			if s := w.countsOf(p, 0); s != "" {
				never = append(never, s)
			}
			continue
		}
		years[p] = y
		if single == "" {
			t.Section(fmt.Sprintf("%s, at %s", p.title, inYears(y)))
		}
		w.groupRows(t, p, y, &shown)
		if r := p.all.At(y); r != nil && mostlyAssumed(p.all, r) > 0 {
			shown.assumed = true
		}
		if rest := w.countsOf(p, y); rest != "" {
			t.Remark(fmt.Sprintf("under %s still followed then (ever revised/joints): %s", number(w.a.Floor()), rest))
		}
	}
	lead := "By group, each joint and procedure at one year."
	if len(years) == 1 && single != "" {
		lead = "By group, at " + inYears(years[parts[0]]) + "."
	}
	sentences := []string{lead, "“3 +2”: three revised by then, two later and not in the %. “Others”: groups of fewer than 10 joints together, so that each column adds up."}
	if w.a.Shared != nil {
		sentences[1] = "“10 +1–7”: about ten revised by then, one to seven later and not in the %. Numbers are rounded: columns need not add up, and the limits of the %, alone where 1–7 are revised, hold for all that they can stand for."
	}
	if shown.assumed {
		sentences = append(sentences, "Still followed: of most joints that is assumed, not known.")
	}
	if slices.Contains(w.a.By, "surgeon") || slices.Contains(w.a.By, "hospital") {
		sentences = append(sentences, "A difference between surgeons or hospitals is a question, to be put first to the quality of the data and to case mix; it is not an answer.")
	}
	if slices.ContainsFunc(w.a.By, cohort.Chosen) {
		sentences = append(sentences, "Chosen for different patients: not a comparison of implants.")
	}
	if !shown.compared && len(w.a.Beside) > 0 {
		sentences = append(sentences, "No published figure here stands beside a group: no readings.")
	}
	if !t.Empty() {
		w.oneSource(t)
		w.paragraph(sentences...)
		for _, s := range w.explained() {
			t.Remark(s)
		}
		w.table(t, nil)
	}
	w.toldApart(parts)
	if len(never) > 0 {
		w.Answer(document.Answer{Lead: fmt.Sprintf("By group: none has %s still followed %s (revised/joints):", number(w.a.Floor()), when), Items: asItems(never)})
	}
}

// plainGroup says whether a group of a joint and procedure is shown plain at a year, and
// not all of its joints alone.
func (w *answering) plainGroup(p *part, years float64) bool {
	return slices.ContainsFunc(w.a.By, func(field string) bool {
		return slices.ContainsFunc(w.a.Fields(p.all, field), func(g *audit.Group) bool {
			r := g.At(years)
			return r != nil && r.Shown == audit.Plain
		})
	})
}

// fewestToTell is how many are to be revised of a joint and procedure for its groups
// to be set against each other on the page (common practice, no source).
const fewestToTell = 10

// toldApart says in how many series chance alone would divide the revisions between
// groups as unevenly.
func (w *answering) toldApart(parts []*part) {
	var said, within []string
	ending := "" // of the first number, " of 100 such series", which others of as many go without
	for _, p := range parts {
		var of []string
		for _, s := range w.f.Apart {
			if s.Joint == p.joint() && s.Procedure == p.procedure() && s.Revised >= fewestToTell && s.Series != "" {
				series := s.Series
				if ending == "" {
					ending = series[strings.LastIndex(series, " of "):]
				} else {
					series = strings.TrimSuffix(series, ending)
				}
				of, within = append(of, "by "+label(s.Field)+" in "+series), labels(s.Within)
			}
		}
		if of != nil {
			said = append(said, kindOf(p.joint(), p.procedure())+"s "+strings.Join(of, ", "))
		}
	}
	if said == nil {
		return
	}
	lead := "Can groups be told apart? With one revision rate"
	if within != nil {
		lead += " within " + list(within)
	}
	lead += ", chance alone would part the revisions as unevenly: " + strings.Join(said, "; ") + ". One small number of several is no wonder."
	if !w.on.paper() {
		lead += " More: holdfast contrast."
	}
	w.paragraph(lead)
}

func asItems(texts []string) []item {
	var items []item
	for _, s := range texts {
		items = append(items, item{Mark: bullet, Text: s})
	}
	return items
}

func (w *answering) groupTable() *table {
	return &table{Columns: []column{{Title: "", Close: true, Heads: true}, {Title: "", Close: true, Wraps: true}, {Title: "Joints", Align: right, Close: true}, {Title: "Still followed", Align: right, Close: true},
		{Title: "Revised + later", Least: 7, Close: true}, {Title: "Cumulative revision, %", Align: decimal}, {Title: "Publ.", Align: decimal, Close: true}, {Title: "Reading", Wraps: true, Least: 15}}}
}

// publishedColumn is that of the published figures.
const publishedColumn = 6

// oneSource puts the letter of a source that is the only one of a table into the
// heading.
func (w *answering) oneSource(t *table) {
	mark := ""
	for _, r := range t.Rows {
		if r.Cells == nil || r.Cells[publishedColumn] == "" {
			continue
		}
		_, m, _ := strings.Cut(r.Cells[publishedColumn], " ")
		if mark != "" && m != mark {
			return
		}
		mark = m
	}
	if mark == "" {
		return
	}
	t.Columns[publishedColumn].Title += " " + mark
	for _, r := range t.Rows {
		if r.Cells != nil {
			r.Cells[publishedColumn] = strings.TrimSuffix(r.Cells[publishedColumn], " "+mark)
			r.Cells[publishedColumn+1] = strings.TrimSuffix(r.Cells[publishedColumn+1], " "+mark)
		}
	}
}

// groupsShown is what must be said of groups: that any stands beside a published figure,
// that most follow-up is assumed, that one is near the line.
type groupsShown struct{ compared, assumed bool }

// groupRows adds the groups shown plain at a year.
func (w *answering) groupRows(t *table, p *part, years float64, shown *groupsShown) {
	for _, field := range w.a.By {
		repeats := 0
		for _, g := range w.a.Fields(p.all, field) {
			r := g.At(years)
			if r == nil || r.Shown != audit.Plain {
				continue
			}
			k := r.KaplanMeier
			revised := w.told(int64(k.Events))
			if n := float64(g.Revised) - k.Events; n > 0 {
				revised += " +" + w.told(int64(n))
			}
			published, said := "", ""
			if figures, together := r.Read(benchmark.OneMinusKaplanMeier); together != nil {
				shown.compared = true
				w.read = append(w.read, reading(figures))
				published = rangeOf(figures) + " " + w.letters.marks(figures)
				said = w.groupReading(figures, *together)
			}
			estimate := percent(k.Lower) + "–" + percent(k.Upper)
			if !w.a.Vague(k.Events) {
				estimate = percent(k.Estimate) + " (" + estimate + ")"
			}
			t.Rows = append(t.Rows, row{Cells: []string{shortLabel(field), w.groupName(g), count(g.Joints), number(k.AtRisk), revised, estimate, published, said}, Repeats: repeats})
			repeats = 1
		}
	}
}

// groupReading is a group's reading, in a cell.
func (w *answering) groupReading(figures []*audit.Beside, t benchmark.Together) string {
	if reading(figures).near() {
		w.said.near = true
		return "near the line"
	}
	w.said.compatible = w.said.compatible || t.Compatible > 0
	w.said.few = w.said.few || t.Above+t.Below+t.Compatible == 0
	if t.Compatible > 0 && t.Above+t.Below == 0 && t.Figures == 1 {
		return t.String() + " " + w.letters.marks(figures)
	}
	return t.String()
}

// groupName is a group's word in a table: PE for polyethylene, the user's own
// word for porous.
func (w *answering) groupName(g *audit.Group) string {
	if g.Field() == "age_band" {
		return strings.Replace(g.Word("age_band"), "-", "–", 1)
	}
	if g.Word(g.Field()) == "porous" && w.porous() != "" {
		return w.porous() + " (porous)"
	}
	return strings.ReplaceAll(document.Word(g.Word(g.Field())), "polyethylene", "PE")
}

// porous is what the tables call porous most often; "" if it is that.
func (w *answering) porous() string {
	if w.f.Cohort == nil {
		return "" // shared
	}
	if w.typedPorous == nil {
		most := cohort.Word{}
		for _, c := range w.f.Cohort.Words() {
			for _, word := range c.Words {
				if c.Column == "fixation" && word.Value == "porous" && word.Known && word.Rows > most.Rows {
					most = word
				}
			}
		}
		if strings.EqualFold(most.Typed, "porous") {
			most.Typed = ""
		}
		typed := document.Word(most.Typed)
		w.typedPorous = &typed
	}
	return *w.typedPorous
}

// shortLabel is a field's name in a narrow column.
func shortLabel(field string) string {
	if field == "age_band" {
		return "age"
	}
	return label(field)
}

// mostCounted is how many groups of a field are listed as counts; more are told together.
const mostCounted = 60

// countsOf lists the groups that are not shown plain at a year as revised/joints,
// those of fewer than ten joints of a field together; with year 0, all.
func (w *answering) countsOf(p *part, years float64) string {
	var fields []string
	for _, field := range w.a.By {
		var each []string
		var together audit.Group
		revised, joints := int64(0), int64(0)
		for _, g := range w.a.Fields(p.all, field) {
			if r := g.At(years); years > 0 && r != nil && r.Shown == audit.Plain {
				continue
			}
			if g.Joints < fewestJoints && years > 0 {
				revised, joints = revised+g.Revised, joints+g.Joints
				continue
			}
			each = append(each, fmt.Sprintf("%s %s/%s", w.groupName(g), w.told(g.Revised), count(g.Joints)))
			together.Revised, together.Joints = together.Revised+g.Revised, together.Joints+g.Joints
		}
		if len(each) > mostCounted {
			each = []string{fmt.Sprintf("%s groups, together %s/%s", count(len(each)), w.told(together.Revised), count(together.Joints))}
		}
		if joints > 0 {
			each = append(each, fmt.Sprintf("others %s/%s", w.told(revised), count(joints)))
		}
		if len(each) > 0 {
			fields = append(fields, shortLabel(field)+": "+strings.Join(each, ", "))
		}
	}
	s := strings.Join(fields, "; ")
	if years == 0 && s != "" {
		return kindOf(p.all.Word("joint"), p.all.Word("procedure")) + ", " + s
	}
	return s
}

// aboveOrBelow says what reads above or below, of how many comparisons, and how
// much of that chance alone would give.
func (w *answering) aboveOrBelow() {
	seen := make(map[int]bool)
	could, chance := 0, 0.0
	var outside []string
	for _, r := range w.read {
		if b := r[0]; !seen[b.ReadWith] && b.Together.Sides > 0 {
			seen[b.ReadWith] = true
			could, chance = could+1, chance+b.Together.ByChance
			if r.outside() {
				outside = append(outside, fmt.Sprintf("%s: %s", r.name(), b.Together))
			}
		}
	}
	if could == 0 {
		w.paragraph("Above or below published: nothing on " + w.here() + " could be compared." + w.elsewhere(seen))
		return
	}
	if could == 1 {
		says := "neither"
		if len(outside) > 0 {
			says = outside[0]
		}
		w.paragraph("Above or below published: the one comparison on " + w.here() + ": " + says + "." + w.elsewhere(seen))
		return
	}
	n, which := "none", ""
	if len(outside) > 0 {
		n, which = count(len(outside)), " ("+strings.Join(outside, "; ")+")"
	}
	w.paragraph(fmt.Sprintf("Above or below published: %s of the %s on %s%s.", n, few(could, "comparison", "comparisons"), w.here(), which),
		fmt.Sprintf("If the practice were exactly as published, chance alone would put up to %s of the %s there.", decimals(chance, 1), count(could))+w.elsewhere(seen))
}

// name says of which joints a reading is, at what time, and that the incidence is read.
func (r reading) name() string {
	s := fmt.Sprintf("%s, %s, at %s", kindOf(r[0].Joint, r[0].Procedure), kind(r[0]), inYears(r.years()))
	if r[0].Series.Estimand == benchmark.Incidence {
		s += ", dying counted in"
	}
	return s
}

// here is what the comparisons stand on.
func (w *answering) here() string {
	if w.on != onOnePage {
		return "these pages"
	}
	return "this page"
}

// elsewhere names what reads above or below in --full only.
func (w *answering) elsewhere(shown map[int]bool) string {
	var named []string
	n := 0
	for _, r := range readings(w.a.Beside) {
		t := r.together()
		if shown[r[0].ReadWith] || !r.outside() || t.Above > 0 && t.Below > 0 {
			continue
		}
		n++
		if c := r.own(); len(named) < mostNamed {
			named = append(named, fmt.Sprintf("%s: %s published (%s of %s revised by then)", r.name(), t.String(), number(c.Own.Events), few(r[0].Joints, "joint", "joints")))
		}
	}
	if n == 0 {
		return ""
	}
	more := ""
	if n > len(named) {
		more = fmt.Sprintf(", and %s more", count(n-len(named)))
	}
	n += w.outsideShown(shown)
	return fmt.Sprintf(" In all groups and years (%s) %s of %s %s outside, where chance alone would put up to %s (groups overlap, so several at once or none): %s%s.",
		w.rest(), count(n), few(w.a.Readings, "reading", "readings"), one(make([]int, n), "is", "are"), decimals(w.a.ByChance, 1), strings.Join(named, "; "), more)
}

func (w *answering) outsideShown(shown map[int]bool) int {
	n := 0
	for _, r := range readings(w.a.Beside) {
		if shown[r[0].ReadWith] && r.outside() {
			n++
		}
	}
	return n
}

// practice says what the practice as a whole has seen, dying counted in.
func (w *answering) practice() {
	if !w.a.Deaths.Recorded {
		return
	}
	byYear := make(map[float64][]string)
	var order []float64
	for _, p := range w.parts {
		var r *audit.Row
		if r = p.all.At(later); r == nil || !r.Shown.Estimated() {
			r = w.a.Headline(p.all)
		}
		if p.all.Joints < fewestJoints || r == nil || r.IncidenceEmpty {
			continue
		}
		i := r.Incidence
		s := w.inPercent(i, " of all "+ofPart(p, p.all.Joints))
		if r.Shown == audit.Faint {
			s += ", " + number(r.KaplanMeier.AtRisk) + " still followed"
		}
		if byYear[r.Years] == nil {
			order = append(order, r.Years)
		}
		byYear[r.Years] = append(byYear[r.Years], s)
	}
	if len(order) == 0 {
		return
	}
	slices.Sort(order)
	slices.Reverse(order)
	var parts []string
	for _, y := range order {
		parts = append(parts, "within "+inYears(y)+" "+strings.Join(byYear[y], ", "))
	}
	ages := ", all ages,"
	if slices.ContainsFunc(w.a.Scope, func(c cohort.Condition) bool { return c.Column == "age_band" }) {
		ages = ""
	}
	w.paragraph("What this practice as a whole" + ages + " has seen, dying counted in (not one patient’s chance, not for choosing an implant): revised " + strings.Join(parts, "; ") + ".")
}

// sources names the publications by their letters.
func (w *answering) sources() {
	var items []item
	for i, s := range w.letters {
		text := document.Word(s.Source)
		if s.Country != "" {
			text += ", " + s.Country
		}
		if when := period(s); when != "" {
			text += ", operated on " + when
		}
		if s.Diagnosis != "" {
			text += ", " + s.Diagnosis + " alone"
		}
		switch s.Setting {
		case benchmark.NationalRegister, benchmark.SeveralRegisters:
		case benchmark.SettingNotSaid:
			text += "; setting not stated, read as a register"
		default:
			text += "; " + s.Setting.String()
		}
		items = append(items, item{Mark: "[" + letters(i) + "]", Text: text})
	}
	w.items(items)
}

// closingLines are the sources, the cautions and how to go on.
func (w *answering) closingLines(again string) {
	if w.a.Shared != nil {
		w.paragraph(w.a.Cautions...)
		return
	}
	on := "All groups, years, sources and the method: --full."
	if !slices.ContainsFunc(w.letters, func(s *benchmark.Series) bool { return s.User }) {
		on += " Your own figures: --published FILE."
	}
	if d := w.a.Closing; !d.Asked && !d.DeathsEnd {
		on += " Another closing date: --closing-date YYYY-MM-DD."
	}
	if again != "" {
		on += " The rows behind each line: " + again
	}
	w.paragraph("One practice, not adjusted for case mix; revisions done elsewhere may be missing; not a basis for a decision about one patient.", on)
}
