package audit

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/parallel"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// Options say what an audit shows. The zero value is the default.
type Options struct {
	// By are the fields to group by within joint and procedure. Nil means
	// DefaultBy, of which those that the table lacks are dropped; a named field
	// that it lacks is an error.
	By []string

	// Years since operation at which estimates are read; nil means DefaultYears.
	Years []float64

	// Interval is how curves are read.
	Interval survival.Interval

	// Endpoint is the event; the zero value is revision for any reason.
	Endpoint cohort.Endpoint

	// WorstCase adds to every estimate the one with every joint lost to
	// follow-up revised on the day it was last seen.
	WorstCase bool

	// Published are the published series, an own file's before the built-in
	// ones; nil compares with none.
	Published []*benchmark.Series

	// ExpectedOwn sets the units of each field that no series can state, such as
	// surgeons, beside what is expected of them from all joints of the table.
	ExpectedOwn bool

	// NoCells leaves out the groups of all fields at once.
	NoCells bool
}

// DefaultBy are the fields grouped by unless told otherwise.
func DefaultBy() []string { return []string{"bearing", "fixation", "age_band"} }

// DefaultYears are the years read unless told otherwise.
func DefaultYears() []float64 { return []float64{1, 3, 5, 10, 15} }

// Audit is one audit as plain data. Proportions are between 0 and 1.
type Audit struct {
	Files     []cohort.File
	Closing   cohort.Closing
	Account   cohort.Account
	Deaths    cohort.Deaths
	DeathList cohort.DeathList
	Revisions []cohort.ReasonCount // what became of revisions recorded apart
	LostAfter int                  // days
	WorstCase bool
	Scope     []cohort.Condition
	Assumed   []cohort.Condition
	Endpoint  cohort.Endpoint
	By        []string
	Sites     []cohort.Site         // of pooled tallies, the account of each; nil of tables and in a shared audit
	Coarsened string                // of tallies that tell days less finely, what that could have done; else ""
	Names     []cohort.NameQuestion // of the columns grouped by
	DroppedBy []string              // default fields that the table lacks
	Interval  survival.Interval
	Years     []float64
	Groups    []Group

	Sought bool // published figures were given to be set beside

	// Beside are the published figures with the own joints of their kind, all of
	// them: like, other and unreached. Nothing is chosen.
	Beside []*Beside

	// Department are units beside their own department, if that was asked for; none in a
	// shared audit.
	Department []*Unit

	// Unmet are figures of the user's own that no own joint is of, and any that tallies
	// can't be set beside, with the reason; none in a shared audit.
	Unmet []*Beside

	// Readings is how many readings could have said above or below, ByChance how
	// many of them at most would by chance alone if own revision were exactly as
	// published. Groups overlap: chance readings come several at once or not at
	// all.
	Readings int
	ByChance float64

	// Shared says that the audit was made safe to share; nil in an ordinary one.
	Shared *Sharing

	Notes    []string // about the data as a whole, in words
	Method   []string // how the numbers were made, in words
	Cautions []string
}

// Sharing marks an audit that was made safe to share, by package disclose. Its
// counts are those told, and stand for several; what is not told is not in it.
type Sharing struct {
	ClosingYear int
	Words       []string // what was done, for a figure
}

// Value is what a group has in one field.
type Value struct {
	Field string
	Word  string
	All   bool // every value, pooled; Word is then "All"
}

// Group is the joints that are alike in some fields.
type Group struct {
	Values  []Value // joint, procedure, then Audit.By
	Pooling Pooling
	Joined  int // of how many groups a shared audit made it, if more than one

	// Of the group's whole follow-up.
	Joints       int64
	Patients     int64 // −1 where no table names patients
	Revised      int64
	Died         int64 // joints whose follow-up ended in death
	Other        int64 // revised for another reason; 0 unless the endpoint names reasons
	ImplantYears float64
	Rate         survival.Rate // per 100 implant-years

	// Kept are the group's rows; nil if they are made when they are asked for, as where an
	// audit would have very many. [Group.Rows] gives either.
	Kept []Row

	// Ratios are observed and expected revisions, from each series whose own
	// joints are the group's and that allows it, an own file's alone where it has
	// one; those that take in most of the revisions first.
	Ratios []*benchmark.Ratio

	// Sums are observed and expected revisions added up over the parts of the group
	// that a source has figures of; one of a source, at most, stands instead of a ratio
	// of the whole.
	Sums []*Sum

	Lost    int64 // joints lost to follow-up; counted if the worst case is asked for
	Assumed int64 // joints whose follow-up is assumed; of all joints of a joint and procedure only

	// Counts say on which day follow-up ended, and why; nil in a shared audit. Life table
	// and curves are made of them when they are asked for: a group's take up more than all
	// else that is kept of it.
	Counts *tally.Counts
	deaths bool          // are recorded
	worst  *tally.Counts // the same with every joint lost revised; nil unless asked for
	of     *run          // makes the rows that are not kept
}

// KaplanMeier is the group's curve, one minus Kaplan–Meier; nil in a shared audit.
func (g *Group) KaplanMeier() *survival.Curve { return g.curve(survival.KaplanMeier) }

// Incidence is the group's cumulative incidence; nil in a shared audit, and if deaths are
// not recorded.
func (g *Group) Incidence() *survival.Curve {
	if !g.deaths {
		return nil
	}
	return g.curve(survival.CumulativeIncidence)
}

func (g *Group) curve(of func(*survival.Table, int) (*survival.Curve, error)) *survival.Curve {
	if g.Counts == nil {
		return nil
	}
	c, err := of(g.Counts.Table(), cohort.CauseRevision)
	if err != nil {
		panic(err) // the same was made for the rows
	}
	return c
}

// Adds is what one revision more would add to a row's estimate, on the first day and on the
// last: S ÷ joints and S ÷ at risk, S the proportion not revised. Both are 0 where no
// follow-up is assumed.
func (g *Group) Adds(row *Row) (least, most float64) {
	if row.Known == nil {
		return 0, 0
	}
	s := 1 - row.KaplanMeier.Estimate
	return s / float64(g.Joints), s / row.KaplanMeier.AtRisk
}

// Pooling says which fields a group pools.
type Pooling uint8

const (
	AllJoints Pooling = iota // every field pooled
	OneField                 // one field, the others pooled
	Cell                     // no field pooled
)

// Field is the field of a OneField group.
func (g *Group) Field() string {
	for _, v := range g.Values[2:] {
		if !v.All {
			return v.Field
		}
	}
	return ""
}

// Word is a group's value in a field; "All" where pooled.
func (g *Group) Word(field string) string {
	for _, v := range g.Values {
		if v.Field == field {
			return v.Word
		}
	}
	return ""
}

// Note codes of this package.
const (
	NoteBeyond   = "beyond follow-up"
	NoteNoDeaths = "deaths not recorded"
	NoteRounded  = "rounded for sharing"
	noteNoOwn    = "no own value"
	noteAssumed  = "diagnosis not recorded: taken as osteoarthritis"
)

// Source is where an audit has its counts from: a [cohort.Cohort], or tallies of several
// that are pooled. What its methods give is said there.
type Source interface {
	About() cohort.About
	Fields() []string
	Field(name string) (string, error)
	HasColumn(name string) bool
	Groupable(field string) bool
	Values(field string) ([]string, error)
	NameQuestions() []cohort.NameQuestion
	Tally(by []string, e cohort.Endpoint) (*cohort.Groups, error)
	Atoms(ages []int, years []float64, by []string, e cohort.Endpoint) (*tally.Set, error)
	// Lacks says what it lacks to part joints at some ages and years of possible
	// follow-up; "" for nothing.
	Lacks(ages []int, years []float64) string
}

// Run makes the audit of a cohort, or of what gives the counts of one. Errors are of type
// [*cohort.UnknownFieldError], or about options.
func Run(c Source, o Options) (*Audit, error) {
	if err := o.Interval.Check(); err != nil {
		return nil, err
	}
	if slices.Contains(o.Published, nil) {
		return nil, errors.New("audit: a published series is nil")
	}
	years := slices.Clone(o.Years)
	if years == nil {
		years = DefaultYears()
	}
	slices.Sort(years)
	years = slices.Compact(years)
	if len(years) == 0 || !(years[0] > 0) || !(years[len(years)-1] <= 100) {
		return nil, fmt.Errorf("years %v: want numbers above 0 and up to 100, such as 1,3,5,10,15", years)
	}
	of := c.About()
	a := &Audit{
		Files: of.Files, Closing: of.Closing, Account: of.Account, Deaths: of.Deaths, DeathList: of.DeathList, Revisions: of.Revisions, LostAfter: of.LostAfter, WorstCase: o.WorstCase, Scope: of.Scope, Assumed: of.Assumed,
		Sites: of.Sites, Coarsened: of.Coarsened, Endpoint: o.Endpoint, Interval: o.Interval, Years: years, Sought: len(o.Published) > 0,
	}
	a.By, a.DroppedBy = fields(c, o.By)
	if err := knownBefore(c, a.Scope, a.By); err != nil {
		return nil, err
	}
	groups, err := c.Tally(a.By, o.Endpoint)
	if err != nil {
		return nil, err
	}
	a.By = groups.Fields[2:]
	a.Names = slices.DeleteFunc(c.NameQuestions(), func(q cohort.NameQuestion) bool {
		chosen := func(w cohort.Condition) bool { return w.Column == q.Column }
		return !slices.Contains(a.By, q.Column) || slices.ContainsFunc(a.Scope, chosen)
	})
	r := &run{audit: a, options: o}
	if err := r.gather(c); err != nil {
		return nil, err
	}
	if o.ExpectedOwn {
		if err := r.departments(c); err != nil {
			return nil, err
		}
	}
	if o.WorstCase {
		worst := o.Endpoint
		worst.LostRevised = true
		lost, err := c.Tally(a.By, worst)
		if err != nil {
			return nil, err
		}
		r.worst = lost.Set
	}
	if a.Account.Assumed > 0 {
		r.known = groups.Known
	}
	if err := r.groups(groups); err != nil {
		return nil, err
	}
	a.Notes = of.Notes
	if a.Coarsened != "" {
		a.Notes = append(slices.Clone(a.Notes), a.Coarsened)
	}
	a.Notes, a.Method, a.Cautions = append(a.Notes, notes(a)...), method(a), cautions()
	return a, nil
}

// AfterwardsError says that an audit was asked for by, or of, what is known only
// after the operation.
type AfterwardsError struct{ Column string }

func (e *AfterwardsError) Error() string {
	return fmt.Sprintf("column %s is known only after the operation: on that day nobody is in such a group, so that there is no follow-up of it to count from. To count revisions for one reason, the others competing, name it with --reason; for the year of the operation there is --by operation_year", e.Column)
}

// knownBefore refuses fields, and a scope, of what becomes of a joint.
func knownBefore(c Source, scope []cohort.Condition, by []string) error {
	asked := slices.Clone(by)
	for _, w := range scope {
		asked = append(asked, w.Column)
	}
	for _, name := range asked {
		if field, err := c.Field(name); err == nil {
			name = field
		}
		if cohort.Outcome(name) {
			return &AfterwardsError{name}
		}
	}
	return nil
}

// fields are those to group by, and the default ones that the table lacks.
func fields(c Source, asked []string) (by, dropped []string) {
	if asked != nil {
		return asked, nil
	}
	for _, f := range DefaultBy() {
		if slices.Contains(c.Fields(), f) {
			by = append(by, f)
		} else {
			dropped = append(dropped, f)
		}
	}
	return by, dropped
}

// run is the state of one Run.
type run struct {
	audit    *Audit
	options  Options
	worst    *tally.Set             // nil unless asked for
	known    *tally.Set             // by joint and procedure; nil if no follow-up is assumed
	evidence *evidence              // nil without published figures
	limits   sync.Map               // of a number revised, [2]float64: many groups have as many
	many     bool                   // groups are, and rows
	last     atomic.Pointer[rowsOf] // that were made when they were asked for
	rooms    sync.Pool              // of *survival.Room: rows are made in them
}

// rate is per 100 implant-years.
func (r *run) rate(revised, years float64) survival.Rate {
	limits, known := r.limits.Load(revised)
	if !known {
		lower, upper := survival.PoissonLimits(revised, r.level())
		limits, _ = r.limits.LoadOrStore(revised, [2]float64{lower, upper})
	}
	of := limits.([2]float64)
	return survival.RateWithin(revised, of[0], of[1], years, 100, r.level())
}

// causes is how many causes follow-up ends with.
func (r *run) causes() int {
	if len(r.options.Endpoint.Reasons) > 0 {
		return cohort.CauseOther
	}
	return cohort.CauseDeath
}

// groups fills in the audit's groups in their order: by joint and procedure;
// within each all joints, then one field at a time, then the cells.
func (r *run) groups(g *cohort.Groups) error {
	margins, err := r.margins(g)
	if err != nil {
		return err
	}
	type job struct {
		*margin
		key tally.Key
	}
	of := make(map[[2]int][]job) // by joint and procedure
	for i := range margins {
		for _, key := range margins[i].set.Keys() {
			part := [2]int{key.Level(0), key.Level(1)}
			of[part] = append(of[part], job{&margins[i], key})
		}
	}
	var jobs []job
	for _, all := range margins[0].set.Keys() {
		jobs = append(jobs, of[[2]int{all.Level(0), all.Level(1)}]...)
	}
	r.many = len(jobs)*len(r.audit.Years) > mostRows
	r.audit.Groups = make([]Group, len(jobs))
	err = each(len(jobs), func(i int) error {
		m, key := jobs[i].margin, jobs[i].key
		group, err := r.group(m, key)
		if err != nil {
			return err
		}
		if m.level == AllJoints && r.known != nil {
			if err := r.assumed(group, r.known.Counts(tally.NewKey(key.Level(0), key.Level(1)))); err != nil {
				return err
			}
		}
		r.audit.Groups[i] = *group
		return nil
	})
	r.listThresholds()
	return err
}

// margin is the counts of one way to pool.
type margin struct {
	level    Pooling
	set      *tally.Set
	patients map[tally.Key]int64
	worst    *tally.Set
}

// margins are those of all joints, of each field, and of all fields at once.
func (r *run) margins(g *cohort.Groups) ([]margin, error) {
	by := r.audit.By
	all, keep := []margin{{level: AllJoints}}, [][]string{nil}
	for _, f := range by {
		all, keep = append(all, margin{level: OneField}), append(keep, []string{f})
	}
	if len(by) > 1 && !r.options.NoCells {
		all, keep = append(all, margin{level: Cell}), append(keep, by)
	}
	return all, each(len(all), func(i int) (err error) {
		m := &all[i]
		if m.set, m.patients, err = g.Margin(keep[i]...); err == nil && r.worst != nil {
			m.worst, err = r.worst.Collapse(append([]string{"joint", "procedure"}, keep[i]...)...)
		}
		return err
	})
}

// listThresholds lists the thresholds beside groups among what is published.
func (r *run) listThresholds() {
	for i := range r.audit.Groups {
		g := &r.audit.Groups[i]
		for _, row := range g.Kept {
			for _, c := range row.Thresholds {
				r.audit.Beside = append(r.audit.Beside, &Beside{Series: c.Series, Figure: c.Figure, Joint: g.Word("joint"), Procedure: g.Word("procedure"),
					Joints: g.Joints, Revised: g.Revised, Match: AThreshold, Comparison: c, Group: g.Values})
			}
		}
	}
}

// each runs f for the numbers from 0 to n−1 on all processors. The error is that of the
// lowest number that has one.
func each(n int, f func(i int) error) error {
	errs := make([]error, n)
	parallel.Each(n, func(i int) { errs[i] = f(i) })
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func (r *run) group(m *margin, key tally.Key) (*Group, error) {
	counts := m.set.Counts(key)
	g := &Group{
		Pooling: m.level,
		Joints:  counts.Subjects(), Patients: -1,
		Revised: counts.Total(cohort.CauseRevision), Died: counts.Total(cohort.CauseDeath),
		ImplantYears: float64(counts.PersonDays()) / cohort.DaysPerYear,
		Counts:       counts, deaths: r.audit.Deaths.Recorded, of: r,
	}
	if m.patients != nil {
		g.Patients = m.patients[key]
	}
	if counts.Causes() >= cohort.CauseOther {
		g.Other = counts.Total(cohort.CauseOther)
	}
	for i, d := range m.set.Dimensions {
		v := Value{Field: d.Name, Word: "All", All: true}
		if l := key.Level(i); l != tally.All {
			v.Word, v.All = d.Levels[l], false
		}
		g.Values = append(g.Values, v)
	}
	g.Rate = r.rate(float64(g.Revised), g.ImplantYears)
	if m.worst != nil {
		g.worst = m.worst.Counts(key)
		g.Lost = g.worst.Total(cohort.CauseRevision) - g.Revised
	}
	cells := r.evidence.cellsOf(g)
	beside := r.evidence.of(g, cells)
	g.Ratios = ratios(beside)
	g.Sums = r.evidence.sums(g, cells)
	thresholds, err := r.thresholds(g)
	if err != nil {
		return nil, err
	}
	if !r.many || m.level == AllJoints || len(beside)+len(thresholds) > 0 {
		g.Kept, err = r.rows(g, nil, beside, thresholds)
	}
	return g, err
}

// ratios are those of the series beside a group, each once.
func ratios(beside []*Beside) []*benchmark.Ratio {
	var all []*benchmark.Ratio
	user := slices.ContainsFunc(beside, func(b *Beside) bool { return b.Ratio != nil && b.Series.User })
	for _, b := range beside {
		if b.Ratio != nil && (b.Series.User || !user) && !slices.Contains(all, b.Ratio) {
			all = append(all, b.Ratio)
		}
	}
	slices.SortStableFunc(all, func(a, b *benchmark.Ratio) int { return cmp.Compare(b.Observed, a.Observed) })
	return all
}

// Expected is the first of a group's ratios; nil if there is none.
func (g *Group) Expected() *benchmark.Ratio {
	if len(g.Ratios) == 0 {
		return nil
	}
	return g.Ratios[0]
}

func (r *run) level() float64 {
	if r.options.Interval.Level == 0 {
		return 0.95
	}
	return r.options.Interval.Level
}

// Title names a group in words: the values it does not pool.
func (g *Group) Title() string {
	var words []string
	for _, v := range g.Values {
		if !v.All {
			words = append(words, v.Word)
		}
	}
	return strings.Join(words, ", ")
}

// String says what a level pools.
func (l Pooling) String() string {
	switch l {
	case AllJoints:
		return "all fields"
	case OneField:
		return "all fields but one"
	}
	return "no field"
}
