package figure

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	columns "example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
)

// What figures take from an audit, they take here: which groups, what is shown
// of an estimate, which published figures stand beside it and what is read.

// Estimates says which estimate a figure shows.
type Estimates uint8

const (
	// KaplanMeier: cumulative revision, what the implant would do if nobody
	// died.
	KaplanMeier Estimates = iota
	// Incidence: cumulative incidence of revision with death competing, what
	// happens to these patients.
	Incidence
	// Both: one after the other, never in one pair of axes.
	Both
)

// each are the estimands to draw.
func (e Estimates) each() ([]survival.Estimand, error) {
	switch e {
	case KaplanMeier:
		return []survival.Estimand{survival.OneMinusKaplanMeier}, nil
	case Incidence:
		return []survival.Estimand{survival.Incidence}, nil
	case Both:
		return []survival.Estimand{survival.OneMinusKaplanMeier, survival.Incidence}, nil
	}
	return nil, fmt.Errorf("figure: unknown estimand %d", e)
}

// fewestAtRisk is the number at risk below which nothing is drawn, and the
// number of joints below which a joint and procedure is left out.
const fewestAtRisk = benchmark.FewestAtRisk

// ErrNothingToDraw: every joint and procedure had to be left out. The error says
// which, and why.
var ErrNothingToDraw = errors.New("figure: nothing to draw")

// partsOf are the groups of all joints of the joints and procedures asked for;
// empty means any.
func partsOf(a *audit.Audit, joint, procedure string) ([]*audit.Group, error) {
	var all []*audit.Group
	for i := range a.Groups {
		g := &a.Groups[i]
		if g.Pooling == audit.AllJoints && (joint == "" || g.Word("joint") == joint) && (procedure == "" || g.Word("procedure") == procedure) {
			all = append(all, g)
		}
	}
	if len(all) == 0 {
		of := strings.Join(slices.DeleteFunc([]string{word(joint), word(procedure)}, func(s string) bool { return s == "" }), ", ")
		if of != "" {
			of = " of " + of
		}
		return nil, fmt.Errorf("figure: the audit has no joints%s", of)
	}
	return all, nil
}

func sameJoints(g, all *audit.Group) bool {
	return g.Word("joint") == all.Word("joint") && g.Word("procedure") == all.Word("procedure")
}

// hasField refuses a field that the audit is not grouped by.
func hasField(a *audit.Audit, field string) error {
	if field != "" && !slices.Contains(a.By, field) {
		return fmt.Errorf("figure: the audit is not grouped by %q; it is by %q", field, a.By)
	}
	return nil
}

// How an own estimate is shown.
type shown = audit.Shown

const (
	shownPlain  = audit.Plain
	shownFaint  = audit.Faint
	shownCounts = audit.Counts
	shownBeyond = audit.NotReached
)

// own is an audit's estimate of a group at one year.
type own struct {
	survival.Point
	years float64
	shown shown
	vague bool       // of a shared audit, whose limits alone hold
	row   *audit.Row // nil if the audit was not read there
}

// point says whether a point is drawn between the limits.
func (o *own) point() bool { return o.shown == shownPlain && !o.vague }

// ownAt is a group's estimate at a year.
func ownAt(a *audit.Audit, g *audit.Group, e survival.Estimand, years float64) own {
	r := g.At(years)
	if r == nil {
		return own{years: years, shown: shownBeyond}
	}
	o := own{Point: r.KaplanMeier, years: years, row: r, shown: r.Shown}
	if e == survival.Incidence {
		o.Point = r.Incidence
	}
	o.AtRisk, o.Events = r.KaplanMeier.AtRisk, r.KaplanMeier.Events
	o.vague = a.Vague(o.Events)
	return o
}

// readOn are the published figures that a row's own estimate of an estimand is
// read beside, all of the same own joints, and that reading; nil without any.
func readOn(r *audit.Row, e survival.Estimand) (figures []*audit.Beside, together *benchmark.Together) {
	if r == nil {
		return nil, nil
	}
	of := benchmark.OneMinusKaplanMeier
	if e == survival.Incidence {
		of = benchmark.Incidence
	}
	return r.Read(of)
}

// thresholdsOn are those that a row is set beside, where no estimate is.
func thresholdsOn(r *audit.Row, e survival.Estimand) []*benchmark.Comparison {
	if figures, _ := readOn(r, e); r == nil || figures != nil || e != survival.OneMinusKaplanMeier {
		return nil
	}
	return r.Thresholds
}

// besideAt are the published figures beside an own estimate, and what is read of
// them together; "" without any.
func besideAt(o own, e survival.Estimand) (figures []*benchmark.Comparison, reading string) {
	read, together := readOn(o.row, e)
	if together == nil {
		return nil, ""
	}
	for _, b := range read {
		figures = append(figures, b.Comparison)
	}
	return figures, together.String()
}

// compatible is the reading that does not stand alone.
const compatible = "compatible with"

// readingOf is a reading, with what it is against where it does not stand alone.
func (s *sources) readingOf(reading string, figures []*benchmark.Comparison) string {
	if reading == compatible { // with one figure
		for _, c := range figures {
			reading += " " + s.add(c.Series)
		}
	}
	return reading
}

// publishedSeries is what is drawn of one series beside a group's curve.
type publishedSeries struct {
	*benchmark.Series
	figures []benchmark.Figure // those compared, by increasing years
}

// publishedOf are the series beside a group, by when they are met.
func publishedOf(g *audit.Group, e survival.Estimand) []*publishedSeries {
	var all []*publishedSeries
	rows := g.Rows()
	for i := range rows {
		figures, _ := readOn(&rows[i], e)
		for _, b := range figures {
			j := slices.IndexFunc(all, func(p *publishedSeries) bool { return p.Series == b.Series })
			if j < 0 {
				j, all = len(all), append(all, &publishedSeries{Series: b.Series})
			}
			all[j].figures = append(all[j].figures, b.Figure)
		}
	}
	return all
}

// units are the names that a figure gives groups: their own, but letters where
// they are persons or hospitals, unless a name was asked for. The letters go by
// the number of joints, which tells nothing of whose they are; the audit's order
// would, to whoever has a list of the names.
type units struct {
	field string
	names map[string]string
	order []string // of the names that letters stand for, by letter
	bare  bool     // some go by a letter
}

// Names says which surgeons or hospitals a figure names; the others have
// letters. Groups of other columns always have their own words.
type Names struct {
	All  bool
	Some []string
}

func (n Names) has(name string) bool { return n.All || slices.Contains(n.Some, name) }

func unitsOf(a *audit.Audit, field string, ask Names) *units {
	u := &units{field: field, names: make(map[string]string)}
	if field != "surgeon" && field != "hospital" {
		return u
	}
	joints, joined := make(map[string]int64), make(map[string]bool)
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Pooling == audit.OneField && g.Field() == field {
			joints[g.Word(field)] += g.Joints
			joined[g.Word(field)] = g.Joined > 1
		}
	}
	var names []string
	for name := range joints {
		if !ask.has(name) && name != cohort.NotRecorded && !joined[name] {
			names = append(names, name)
		}
	}
	slices.SortFunc(names, func(x, y string) int { return cmp.Or(cmp.Compare(joints[y], joints[x]), cmp.Compare(x, y)) })
	for i, name := range names {
		u.names[name] = capitalWord(field) + " " + strings.ToUpper(letterOf(i))
	}
	u.order, u.bare = names, len(names) > 0
	return u
}

// of are the groups of a joint and procedure in the order in which they are drawn: those with
// letters by these, after those that are named.
func (u *units) of(a *audit.Audit, all *audit.Group) []*audit.Group {
	groups := slices.Clone(a.Fields(all, u.field))
	if u.bare {
		place := func(g *audit.Group) int {
			w := g.Word(u.field)
			if w == cohort.NotRecorded || g.Joined > 1 {
				return len(u.order)
			}
			return slices.Index(u.order, w) // −1 if it is named
		}
		slices.SortStableFunc(groups, func(x, y *audit.Group) int { return cmp.Compare(place(x), place(y)) })
	}
	return groups
}

// name is what a group is called.
func (u *units) name(g *audit.Group) string {
	w := g.Word(u.field)
	if letter, ok := u.names[w]; ok {
		return letter
	}
	return w
}

// title is what a group is called in words.
func (u *units) title(g *audit.Group) string {
	if name := u.name(g); name != cohort.NotRecorded {
		return word(name)
	}
	return fieldWords(u.field) + " not recorded"
}

// people reports whether the groups are persons or hospitals.
func (u *units) people() bool { return u.field == "surgeon" || u.field == "hospital" }

// notes are the cautions of figures of persons or hospitals.
func (u *units) notes() []string {
	if !u.people() {
		return nil
	}
	s := "A difference between " + u.field + "s is a question, to be put first to the quality of the data and to case mix; it is not an answer."
	if u.bare {
		s += " Letters go by the number of joints."
	}
	return []string{s}
}

// sources are the publications of a figure's published numbers, in the order
// met. One publication has several series.
type sources []*source

type source struct {
	name, citation string
	series         []*benchmark.Series
}

// add takes in a series, and gives its letter: [a].
func (s *sources) add(series *benchmark.Series) string {
	i := slices.IndexFunc(*s, func(e *source) bool { return e.name == series.Source && e.citation == series.Citation })
	if i < 0 {
		i = len(*s)
		*s = append(*s, &source{name: series.Source, citation: series.Citation})
	}
	if e := (*s)[i]; !slices.Contains(e.series, series) {
		e.series = append(e.series, series)
	}
	return "[" + letterOf(i) + "]"
}

// invented reports whether any says of itself that it is, or has no citation.
func (s sources) invented() bool {
	return slices.ContainsFunc(s, (*source).invented)
}

func (e *source) invented() bool {
	return e.citation == "" || strings.Contains(strings.ToLower(e.name+" "+e.citation), "invented")
}

// notes name the publications by their letters, and what of them was used if
// that is asked for.
func (s sources) notes(lead string, of bool) []string {
	var notes []string
	for i, e := range s {
		note := "[" + letterOf(i) + "] " + lead + word(e.name)
		if from, to := e.period(); from > 0 {
			note += fmt.Sprintf(", operated on %d–%d", from, to)
		}
		switch {
		case e.invented():
			note += ": INVENTED figures"
		case e.citation != e.name:
			note += ": " + strings.TrimSuffix(word(e.citation), ".")
		}
		if of {
			var parts []string
			for _, series := range e.series {
				last := series.Figures[len(series.Figures)-1].Years
				parts = append(parts, seriesWords(series)+", up to "+yearsWords(last)+" from operation")
			}
			note += "; " + strings.Join(parts, "; ")
		}
		notes = append(notes, note+".")
	}
	return notes
}

// period is from when to when its series are, where all say.
func (e *source) period() (from, to int) {
	for i, s := range e.series {
		if s.PeriodFrom == 0 || s.PeriodTo == 0 {
			return 0, 0
		}
		if i == 0 || s.PeriodFrom < from {
			from = s.PeriodFrom
		}
		to = max(to, s.PeriodTo)
	}
	return from, to
}

// seriesWords say what a series is of: hip, total, cemented.
func seriesWords(s *benchmark.Series) string {
	var of []string
	for _, w := range []string{s.Joint, s.Procedure, s.Bearing, s.Fixation, s.Sex} {
		if w != "" {
			of = append(of, word(w))
		}
	}
	if s.Age != (benchmark.AgeInterval{}) {
		of = append(of, "age "+s.Age.String())
	}
	return strings.Join(of, ", ")
}

// letterOf is the key of the i-th source: a, b, … z, aa, ab.
func letterOf(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return letterOf(i/26-1) + letterOf(i%26)
}

// leftOut are the joints and procedures, or the groups, that a figure has to do
// without, with the reasons.
type leftOut []string

// Reasons why a joint and procedure is left out.
const (
	fewJoints       = "fewer than 10 joints"
	nothingExpected = "no revisions are expected: no published series of its kind has a year that the closing date reaches"
)

func (l *leftOut) add(all *audit.Group, reason string) { *l = append(*l, titleOf(all)+" ("+reason+")") }

// notes name what is left out.
func (l leftOut) notes() []string {
	if len(l) == 0 {
		return nil
	}
	return []string{"Left out: " + strings.Join(l, "; ") + "."}
}

// err says that nothing is left.
func (l leftOut) err() error {
	return fmt.Errorf("%w: %s", ErrNothingToDraw, text.Plain(strings.Join(l, "; ")))
}

// titleOf names a joint and procedure.
func titleOf(g *audit.Group) string {
	return capitalWord(word(g.Word("joint"))) + ", " + word(g.Word("procedure"))
}

// capitalWord starts a word of the program's own with a capital.
func capitalWord(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return string(s[0]-'a'+'A') + s[1:]
	}
	return s
}

// whose says which joints of a joint and procedure a figure is of.
func whose(a *audit.Audit, g *audit.Group) string {
	s := counted(float64(g.Joints)) + " joints"
	if g.Patients > 0 {
		s += " in " + counted(float64(g.Patients)) + " patients"
	}
	s += ", " + counted(float64(g.Revised)) + " revised"
	if a.Endpoint.Reasons != nil {
		s += " for " + word(strings.Join(a.Endpoint.Reasons, " or "))
	}
	return s + "; followed to " + closingWords(a) + "."
}

// closingWords are the closing date; of an audit made for sharing, its year.
func closingWords(a *audit.Audit) string {
	if a.Shared != nil {
		return strconv.Itoa(a.Shared.ClosingYear)
	}
	return dayOf(a).Format("2 January 2006")
}

// sharedNotes say what was done to a figure that can be shared.
func sharedNotes(a *audit.Audit) []string {
	if a.Shared == nil {
		return nil
	}
	return a.Shared.Words
}

func dayOf(a *audit.Audit) time.Time { return time.Unix(int64(a.Closing.Day)*86400, 0).UTC() }

// choice is what figures of implants say of who got which.
func choice(fields ...string) string {
	for _, f := range fields {
		if cohort.Chosen(f) {
			return " Chosen for different patients: not a comparison of implants."
		}
	}
	return ""
}

// inventedWords end the title of a figure that sets invented figures beside.
func (s sources) inventedWords() string {
	if s.invented() {
		return " (published figures INVENTED)"
	}
	return ""
}

// counted is a count as it is shown.
func counted(n float64) string { return audit.Number(n) }

func oneDecimal(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

// inPercent is a proportion in per cent, to a decimal.
func inPercent(p float64) string { return oneDecimal(100 * p) }

// levelPercent is a confidence level as 95 %.
func levelPercent(level float64) string {
	return strconv.FormatFloat(math.Round(1e6*level)/1e4, 'f', -1, 64) + " %"
}

func fieldWords(field string) string { return word(columns.Title(field)) }

// estimandWords name an estimand.
func estimandWords(e survival.Estimand) string {
	if e == survival.Incidence {
		return "cumulative incidence of revision"
	}
	return "cumulative revision"
}

func yearsWords(years float64) string {
	if years == 1 {
		return "1 year"
	}
	return audit.Number(years) + " years"
}

// inWords lists words: a, b and c.
func inWords(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

// readingNotes stand below a figure where the words stand in it.
func readingNotes(seen map[string]bool) []string {
	var notes []string
	for _, n := range []struct{ word, note string }{
		{"too few to say", "“Too few to say”: these numbers could only have read above, and don't."},
		{compatible, "“Compatible with” is no evidence of a difference, not “as good as”."},
	} {
		if slices.ContainsFunc(slices.Collect(maps.Keys(seen)), func(r string) bool { return strings.HasPrefix(r, n.word) }) {
			notes = append(notes, n.note)
		}
	}
	if len(notes) > 1 {
		return []string{strings.Join(notes, " ")}
	}
	return notes
}
