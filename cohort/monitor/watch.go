package monitor

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// Question says which joints of a cohort are watched, and what is expected of
// them: the figures of one source, or what became of the joints there were up to a
// day. One of the two is to be said.
type Question struct {
	// By is a field, such as surgeon, whose words are watched each by itself; "" for
	// all joints as one practice.
	By string

	// Series are the published figures of one source. Each joint is expected to be
	// revised as the series of its joint and procedure says; where there are
	// several, the one that states least beside these. A series counts if it begins
	// within [EarliestFigure] of the operation and covers what it says.
	Series []*benchmark.Series

	// Past is a day: cumulative hazards are estimated from all joints as they were
	// followed up to it, by joint and procedure, and revisions watched after it.
	Past *cohort.Day

	// Within are fields within which the past's hazards are made too, such as
	// age_band. Strata with fewer than [FewestPast] revisions are put together.
	Within []string

	// Options but for From and Error, if the past is what is expected by.
	Options
}

// EarliestFigure is the latest number of years at which published figures may
// begin: later ones spread early revisions evenly, and a practice of recent
// operations seems to do more than expected.
const EarliestFigure = 1

// FewestPast is the number of revisions that a hazard of the past is made from at
// least; pastAtRisk how many joints are to be at risk on the last day to which it is
// known, and pastShare what part of those it is made from.
const (
	FewestPast = 5
	pastAtRisk = 10
	pastShare  = .1
)

// Watch is a practice, or several, over calendar time.
type Watch struct {
	By       string
	Units    []Unit // in the order of their words
	Chance   float64
	Expected []string  // what is expected is made from, in words
	Revised  int       // revisions that the past's hazards are made from; 0 of published figures
	LeftOut  []LeftOut // joints that nothing is expected of
	Joints   int       // of the cohort

	// Uncounted is how many joints of the cohort were revised in the period, by the day to
	// which revisions are complete, and count in no chart: they were older than what is
	// expected is known for, or are not watched.
	Uncounted int
}

// Unit is one practice: a surgeon, a hospital, or all joints.
type Unit struct {
	Word  string // of the field; "" for all joints
	Chart *Chart
}

// Called is a watch whose units have other words, as letters instead of names, in
// the order of these.
func (w *Watch) Called(words map[string]string) *Watch {
	other := *w
	other.Units = slices.Clone(w.Units)
	for i := range other.Units {
		if word, ok := words[other.Units[i].Word]; ok {
			other.Units[i].Word = word
		}
	}
	slices.SortStableFunc(other.Units, func(a, b Unit) int { return cmp.Or(cmp.Compare(len(a.Word), len(b.Word)), cmp.Compare(a.Word, b.Word)) })
	return &other
}

// Touched is a watch of the units alone whose charts touched their line.
func (w *Watch) Touched() *Watch {
	other := *w
	other.Units = slices.DeleteFunc(slices.Clone(w.Units), func(u Unit) bool { return len(u.Chart.Stretches) == 0 })
	return &other
}

// LeftOut is how many joints are not watched, and why.
type LeftOut struct {
	Why    string
	Joints int
}

// NothingExpectedError says why nothing can be watched.
type NothingExpectedError struct{ Why string }

func (e *NothingExpectedError) Error() string { return "nothing can be watched: " + e.Why }

// Run watches a cohort's joints. Each is at risk to the closing date unless it was revised
// or its patient died before, whenever it was last seen: its revision would count whenever
// it came, and those who are not revised are last seen earlier than that. A [*NothingExpectedError] says why nothing is
// expected of any joint; other errors are those of [New] and [Several], of fields
// and of endpoints.
func Run(c *cohort.Cohort, e cohort.Endpoint, q Question) (*Watch, error) {
	fields := []string{"joint", "procedure"}
	add := func(names ...string) {
		for _, name := range names {
			if !slices.Contains(fields, name) && c.HasColumn(name) {
				fields = append(fields, name)
			}
		}
	}
	if q.By != "" {
		by, err := c.Field(q.By)
		if err != nil {
			return nil, err
		}
		q.By = by
		add(by)
	}
	add(q.Within...)
	add(kindFields...)
	seq, err := c.Joints(e, fields...)
	if err != nil {
		return nil, err
	}
	w := &watching{Question: q, Watch: &Watch{By: q.By}, fields: fields, several: len(c.Files) > 1, files: c.Files}
	for j := range seq {
		if j.Cause == 0 {
			j.Days = j.Possible
		}
		w.joints = append(w.joints, j)
	}
	w.Joints = len(w.joints)
	hazards, of, err := w.hazards(c.Closing.Day)
	if err != nil {
		return nil, err
	}
	return w.Watch, w.charts(c, hazards, of)
}

// watching is a Watch in the making.
type watching struct {
	Question
	*Watch
	fields  []string
	joints  []cohort.Joint
	files   []cohort.File
	several bool

	estimates []*survival.Hazard // as the hazards, where these are the past's
}

func (w *watching) word(j *cohort.Joint, field string) string {
	i := slices.Index(w.fields, field)
	if i < 0 || j.Values[i] == cohort.NotRecorded {
		return ""
	}
	return j.Values[i]
}

// leaveOut counts a joint that is not watched.
func (w *watching) leaveOut(why string) {
	for i := range w.LeftOut {
		if w.LeftOut[i].Why == why {
			w.LeftOut[i].Joints++
			return
		}
	}
	w.LeftOut = append(w.LeftOut, LeftOut{why, 1})
}

// hazards gives what is expected, and by joint which of it; −1 for none.
func (w *watching) hazards(closing cohort.Day) ([]Hazard, []int, error) {
	if w.Past == nil {
		return w.published()
	}
	if *w.Past >= closing {
		return nil, nil, &NothingExpectedError{fmt.Sprintf("the past ends on %s, and the table on %s: revisions are watched between them", w.Past, closing)}
	}
	return w.past()
}

// published are the hazards of a source's series.
func (w *watching) published() ([]Hazard, []int, error) {
	chosen, err := w.chosen()
	if err != nil {
		return nil, nil, err
	}
	var hazards []Hazard
	for _, s := range chosen {
		h, _ := benchmark.NewHazard(s.Series)
		last := s.Figures[len(s.Figures)-1].Years
		hazards = append(hazards, Hazard{At: func(days int) float64 { return h.At(float64(days) / cohort.DaysPerYear) }, Last: int32(cohort.DayOfYear(last))})
		w.Expected = append(w.Expected, fmt.Sprintf("%s, %s: %s, at %s.", s.Joint, s.Procedure, s.Source, yearsOf(s.Series)))
	}
	of := make([]int, len(w.joints))
	for i := range w.joints {
		of[i] = w.seriesOf(&w.joints[i], chosen)
	}
	return hazards, of, nil
}

func yearsOf(s *benchmark.Series) string {
	var all []string
	for _, f := range s.Figures {
		all = append(all, fmt.Sprint(f.Years))
	}
	return strings.Join(all, ", ") + " years"
}

// kindFields are those that a series may state.
var kindFields = []string{"bearing", "polyethylene", "fixation", "sex", "diagnosis"}

// population is a series with the joints it is of.
type population struct {
	*benchmark.Series
	kind *benchmark.Kind
}

// chosen are the series that may be expected by, one for each joint and procedure.
func (w *watching) chosen() ([]population, error) {
	var all []population
	why := "there are no published figures"
	for _, s := range w.Series {
		switch _, ok := benchmark.NewHazard(s); {
		case s == nil:
			return nil, &NothingExpectedError{"a series is nil"}
		case s.Joint == "" || s.Procedure == "":
			why = "no series states its joint and procedure"
		case !ok:
			why = "no series gives the complement of Kaplan and Meier's estimate below 100 %"
		case s.Figures[0].Years > EarliestFigure:
			why = "no series has a figure at a year or earlier, without which early revisions are spread evenly"
		case s.Subset != "":
			why = "each series is of a part of the joints: " + s.Subset
		default:
			kind, err := benchmark.NewKind(s)
			if err != nil {
				return nil, err
			}
			all = append(all, population{s, kind})
		}
	}
	var chosen []population
	for _, s := range all {
		at := slices.IndexFunc(chosen, func(o population) bool { return o.Joint == s.Joint && o.Procedure == s.Procedure })
		switch {
		case at < 0:
			chosen = append(chosen, s)
		case stated(s.Series) < stated(chosen[at].Series):
			chosen[at] = s
		case stated(s.Series) == stated(chosen[at].Series):
			return nil, &NothingExpectedError{fmt.Sprintf("%s has several series of %s, %s that state as much as each other: give one of them in a file of its own", s.Source, s.Joint, s.Procedure)}
		}
	}
	if chosen == nil {
		return nil, &NothingExpectedError{why}
	}
	return chosen, nil
}

// stated is how much a series states beside joint and procedure.
func stated(s *benchmark.Series) int {
	n := 0
	for _, word := range []string{s.Bearing, s.Polyethylene, s.Fixation, s.Sex, s.Diagnosis} {
		if word != "" {
			n++
		}
	}
	if s.Age != (benchmark.AgeInterval{}) {
		n++
	}
	return n
}

// seriesOf is the series that a joint meets, −1 for none, which is counted.
func (w *watching) seriesOf(j *cohort.Joint, chosen []population) int {
	own := benchmark.Joints{Joint: w.word(j, "joint"), Procedure: w.word(j, "procedure"), Bearing: w.word(j, "bearing"), Polyethylene: w.word(j, "polyethylene"),
		Fixation: w.word(j, "fixation"), Sex: w.word(j, "sex"), Diagnosis: w.word(j, "diagnosis")}
	if j.Age >= 0 {
		own.Age = &benchmark.AgeInterval{From: j.Age, Below: j.Age + 1}
	}
	why := fmt.Sprintf("no figures for %s, %s", cmp.Or(own.Joint, "a joint not recorded"), cmp.Or(own.Procedure, "a procedure not recorded"))
	for i, s := range chosen {
		fit, missing := s.kind.Fit(own)
		switch {
		case fit == benchmark.Meets:
			return i
		case s.Joint == own.Joint && s.Procedure == own.Procedure && fit == benchmark.NotRecorded:
			why = "not recorded, and the figures are of some words of it alone: " + strings.Join(missing, ", ")
		case s.Joint == own.Joint && s.Procedure == own.Procedure:
			why = fmt.Sprintf("other %s, %s than the figures are of", own.Joint, own.Procedure)
		}
	}
	w.leaveOut(why)
	return -1
}

// charts watches the joints that something is expected of.
func (w *watching) charts(c *cohort.Cohort, hazards []Hazard, of []int) error {
	words := []string{""}
	if w.Question.By != "" {
		var err error
		if words, err = c.Values(w.Question.By); err != nil {
			return err
		}
	}
	practices := make([][]Joint, len(words))
	for i := range w.joints {
		j := &w.joints[i]
		if of[i] < 0 {
			continue
		}
		at := slices.Index(words, w.unit(j))
		if at < 0 || w.Question.By != "" && words[at] == cohort.NotRecorded {
			w.leaveOut(w.Question.By + " not recorded")
			continue
		}
		practices[at] = append(practices[at], Joint{Row: i, Operation: int32(j.Operation), Exit: int32(j.Operation) + int32(j.Days), Revised: j.Cause == cohort.CauseRevision, Hazard: of[i]})
	}
	for i := len(words) - 1; i >= 0; i-- {
		if practices[i] == nil {
			practices, words = slices.Delete(practices, i, i+1), slices.Delete(slices.Clone(words), i, i+1)
		}
	}
	if len(practices) == 0 {
		return &NothingExpectedError{"of no joint it is said how many are expected to be revised"}
	}
	w.Through = int32(c.Closing.Day)
	if w.estimates != nil {
		w.Error = ErrorOf(slices.Concat(practices...), hazards, w.estimates, w.From, w.Through)
	}
	w.Name = w.place
	t, err := Several(practices, hazards, w.Options)
	if err != nil {
		return err
	}
	w.Chance = t.Chance
	for i, chart := range t.Charts {
		w.Units = append(w.Units, Unit{words[i], chart})
		w.Uncounted -= chart.Known.Observed
	}
	for i := range w.joints {
		j := &w.joints[i]
		if day := int32(j.Operation) + int32(j.Days); j.Cause == cohort.CauseRevision && day >= t.Charts[0].From && day <= t.Charts[0].Known.Day {
			w.Uncounted++
		}
	}
	return nil
}

// unit is the word that a joint is watched under.
func (w *watching) unit(j *cohort.Joint) string {
	if w.Question.By == "" {
		return ""
	}
	return j.Values[slices.Index(w.fields, w.Question.By)]
}

// place names a joint's row, and its table where there are several.
func (w *watching) place(i int) string {
	j := &w.joints[i]
	if !w.several {
		return fmt.Sprint(j.Row)
	}
	return fmt.Sprintf("%d of %s", j.Row, w.files[j.File].Title())
}
