package audit

import (
	"cmp"
	"fmt"
	"iter"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// OperationYear is the field of the calendar year of operation.
const OperationYear = "operation_year"

// OperationYears are the first and last of a group's years of operation, which are
// one unless it was joined to its neighbours for sharing; false for a word that is
// no year.
func OperationYears(word string) (from, to int, ok bool) {
	first, last, several := strings.Cut(word, "-")
	if !several {
		last = first
	}
	from, err := strconv.Atoi(first)
	if err != nil {
		return 0, 0, false
	}
	to, err = strconv.Atoi(last)
	return from, to, err == nil
}

// Match says how a published figure stands to own joints.
type Match string

const (
	Like       Match = "like"      // of the same kind of joints, in the same years
	Other      Match = "other"     // of others, for the reason given; never read
	Unreached  Match = "none"      // no own joint of its kind can reach the year
	AThreshold Match = "threshold" // a limit that somebody set
)

// Beside is one published figure and the own joints of its kind: all that meet
// everything its series states.
type Beside struct {
	Series *benchmark.Series
	Figure benchmark.Figure

	Joint, Procedure string  // of the own joints
	Within           []Value // the field no series can state, to one value of which they are narrowed

	Joints, Revised int64
	NotRecorded     int64    // joints that would be of the kind, but for values not recorded
	Missing         []string // of these columns

	Match  Match
	Reason string // why other or unreached, or why a like one is not read

	// Assumed: no table has a diagnosis, and the series' was taken for granted.
	Assumed bool

	Comparison *benchmark.Comparison // nil for what is never compared

	// ReadWith numbers readings: figures with one number are of the same own
	// joints, year and estimand, and are read together. 0 is none.
	ReadWith int
	Together *benchmark.Together // that reading; nil with ReadWith 0
	First    bool                // the first of them

	Ratio *benchmark.Ratio // nil if the series allows none

	// Group is the values of the group that a threshold stands beside, which has no
	// kind of its own.
	Group []Value

	cells string  // of which kinds the own joints are
	met   []*cell // the own joints
}

// Read reports whether a figure is part of a reading.
func (b *Beside) Read() bool { return b.ReadWith > 0 }

// Statable are the fields that a published series can state, beside joint and
// procedure. A cohort to be set beside published figures keeps them
// (cohort.Options.Keep).
func Statable() []string {
	return []string{"bearing", "polyethylene", "fixation", "age_band", "sex", "diagnosis"}
}

// kind is what own joints have that are alike in all that a series can state.
type kind struct {
	number int       // in their order
	part   [2]string // joint and procedure
	joints benchmark.Joints
	word   map[string]string // by field; age_band is the audit's
}

// cell is the own joints of a kind, or those of them with a value of a field that no series
// can state.
type cell struct {
	*kind
	atoms             []atom
	subjects, revised int64 // of all atoms
}

func (c *cell) add(a atom) {
	c.atoms = append(c.atoms, a)
	c.subjects, c.revised = c.subjects+a.joints, c.revised+a.counts.Total(cohort.CauseRevision)
}

// narrow is the own joints of a joint and procedure with a value of a field that no series
// can state.
type narrow struct {
	part  [2]string
	value Value
}

// fit is how joints of a kind stand to what a series states.
type fit struct {
	benchmark.Fit
	missing []string
}

// atom is joints alike in year of operation and reach.
type atom struct {
	year   int // of operation
	reach  int // how many of evidence.years the closing date reaches
	joints int64
	counts *tally.Counts
}

// evidence sets own joints beside published figures.
type evidence struct {
	run      *run
	years    []float64 // of all figures
	cells    []*cell   // of each kind all
	narrowed map[narrow][]*cell
	fits     map[*benchmark.Series][]fit // by kind
	parts    [][2]string                 // joints and procedures that occur
	beside   []*Beside
	same     map[string][]*Beside // by own joints
	levels   map[string][]string  // of each field, in order
	noDx     bool                 // no table has a diagnosis
}

// estimates of a set of own joints.
type estimates struct {
	counts        *tally.Counts
	atoms         []atom // of all cells together, by year and reach
	km, incidence *survival.Curve
}

// gather counts the own joints by cell and sets them beside every figure.
func (r *run) gather(c Source) error {
	if len(r.options.Published) == 0 || len(r.options.Endpoint.Reasons) > 0 {
		return nil
	}
	series := r.within(c)
	e := &evidence{run: r, fits: make(map[*benchmark.Series][]fit), noDx: !c.HasColumn("diagnosis")}
	if err := e.count(c, series); err != nil {
		return err
	}
	var all []*Beside
	for _, part := range e.parts {
		narrower := e.narrower(part)
		for _, s := range series {
			if s.Estimand == benchmark.Threshold {
				continue
			}
			narrowed := [][]Value{nil}
			if len(s.Others()) == 0 {
				narrowed = append(narrowed, narrower...)
			}
			for _, within := range narrowed {
				b, err := e.meet(s, part, within)
				if err != nil {
					return err
				}
				if b != nil {
					all = append(all, b)
				}
			}
		}
	}
	if err := e.read(all); err != nil {
		return err
	}
	e.unmet(series)
	e.preferDiagnosis()
	e.readTogether()
	e.same = make(map[string][]*Beside)
	for _, b := range e.beside {
		e.same[b.OwnJoints()] = append(e.same[b.OwnJoints()], b)
	}
	r.audit.Beside, r.evidence = e.beside, e
	return nil
}

// within are the published series whose joints the source can part from others; those of
// which it can't are listed as unmet.
func (r *run) within(c Source) []*benchmark.Series {
	return slices.DeleteFunc(slices.Clone(r.options.Published), func(s *benchmark.Series) bool {
		ages, years := Breaks(nil, []*benchmark.Series{s})
		lacks := c.Lacks(ages, years)
		if lacks == "" || s.Estimand == benchmark.Threshold {
			return false
		}
		r.audit.leaveUnmet(s, lacks)
		return true
	})
}

// Breaks are the ages and the years of possible follow-up at which joints are to be
// parted, to be set beside some published series and shown in some age bands.
func Breaks(bands []cohort.AgeBand, series []*benchmark.Series) (ages []int, years []float64) {
	for _, b := range bands {
		ages = append(ages, b.From)
	}
	for _, s := range series {
		ages = append(ages, s.Age.From, s.Age.Below)
		for _, f := range s.Figures {
			years = append(years, f.Years)
		}
	}
	slices.Sort(ages)
	slices.Sort(years)
	return slices.DeleteFunc(slices.Compact(ages), func(a int) bool { return a <= 0 }), slices.Compact(years)
}

// leaveUnmet lists the figures of a series that stand beside nothing, with the reason.
func (a *Audit) leaveUnmet(s *benchmark.Series, reason string) {
	for _, f := range s.Figures {
		a.Unmet = append(a.Unmet, &Beside{Series: s, Figure: f, Joint: cmp.Or(s.Joint, "All"), Procedure: cmp.Or(s.Procedure, "All"), Match: Unreached, Reason: reason})
	}
}

// unmet lists the figures of the user's own that no own joint is of.
func (e *evidence) unmet(series []*benchmark.Series) {
	met := make(map[*benchmark.Series]bool)
	for _, b := range e.beside {
		met[b.Series] = true
	}
	for _, s := range series {
		if met[s] || !s.User || s.Estimand == benchmark.Threshold {
			continue
		}
		e.run.audit.leaveUnmet(s, "no own joint is of its kind")
	}
}

// count fills in the cells.
func (e *evidence) count(c Source, series []*benchmark.Series) error {
	bands := c.About().AgeBands
	var ages []int
	ages, e.years = Breaks(bands, series)
	unstatable := e.run.audit.unstatable()
	by := slices.Clone(unstatable)
	ownBands := !c.HasColumn("age") && slices.Contains(c.Fields(), "age_band")
	if ownBands {
		by = append(by, "age_band")
	}
	set, err := c.Atoms(ages, e.years, by, e.run.options.Endpoint)
	if err != nil {
		return err
	}
	e.levels = make(map[string][]string)
	for _, d := range set.Dimensions {
		e.levels[d.Name] = d.Levels
	}
	e.narrowed = make(map[narrow][]*cell)
	kinds := make(map[tally.Key]*cell)
	narrowed := make(map[[3]int]*cell) // by kind, dimension and level
	for key, counts := range set.All() {
		a := atom{joints: counts.Subjects(), counts: counts}
		levels := make([]int, len(set.Dimensions)) // of the kind
		for i, d := range set.Dimensions {
			levels[i] = tally.All
			switch level := key.Level(i); {
			case d.Name == cohort.AtomReach:
				a.reach = level
			case d.Name == OperationYear:
				a.year, _ = strconv.Atoi(d.Levels[level])
			case !slices.Contains(unstatable, d.Name):
				levels[i] = level
			}
		}
		of := tally.NewKey(levels...)
		whole := kinds[of]
		if whole == nil {
			whole = &cell{kind: e.newKind(set.Dimensions, of, bands, ownBands)}
			kinds[of], e.cells = whole, append(e.cells, whole)
		}
		whole.add(a)
		for _, field := range unstatable {
			i := slices.IndexFunc(set.Dimensions, func(d tally.Dimension) bool { return d.Name == field })
			of := [3]int{whole.number, i, key.Level(i)}
			one := narrowed[of]
			if one == nil {
				one = &cell{kind: whole.kind}
				to := narrow{whole.part, Value{Field: field, Word: e.levels[field][key.Level(i)]}}
				narrowed[of], e.narrowed[to] = one, append(e.narrowed[to], one)
			}
			one.add(a)
		}
	}
	return nil
}

// newKind is the next kind of joints, of those of a key.
func (e *evidence) newKind(dims []tally.Dimension, of tally.Key, bands []cohort.AgeBand, ownBands bool) *kind {
	word := make(map[string]string)
	for i, d := range dims {
		if level := of.Level(i); level != tally.All {
			word[d.Name] = d.Levels[level]
		}
	}
	recorded := func(field string) string {
		if word[field] == cohort.NotRecorded {
			return ""
		}
		return word[field]
	}
	one := &kind{number: len(e.cells), part: [2]string{word["joint"], word["procedure"]}, word: word}
	one.joints = benchmark.Joints{Joint: recorded("joint"), Procedure: recorded("procedure"), Bearing: recorded("bearing"),
		Polyethylene: recorded("polyethylene"), Fixation: recorded("fixation"), Sex: recorded("sex"), Diagnosis: recorded("diagnosis")}
	age := recorded(cohort.AtomAge)
	if ownBands {
		age = recorded("age_band")
	}
	if interval, err := benchmark.ParseAge(age); err == nil && age != "" {
		one.joints.Age = &interval
	}
	if !ownBands {
		word["age_band"] = bandOf(bands, one.joints.Age)
	}
	if !slices.Contains(e.parts, one.part) {
		e.parts = append(e.parts, one.part)
	}
	return one
}

// bandOf is the audit's age band that a kind's ages lie in.
func bandOf(bands []cohort.AgeBand, age *benchmark.AgeInterval) string {
	if age != nil {
		for _, b := range bands {
			if (benchmark.AgeInterval{From: b.From, Below: b.To}).Contains(*age) {
				return b.String()
			}
		}
	}
	return cohort.NotRecorded
}

// narrower are the values of the fields no series can state, among the joints of
// a part, each by itself.
func (e *evidence) narrower(part [2]string) [][]Value {
	var values [][]Value
	for _, field := range e.run.audit.unstatable() {
		for _, word := range e.levels[field] {
			if v := (Value{Field: field, Word: word}); e.narrowed[narrow{part, v}] != nil {
				values = append(values, []Value{v})
			}
		}
	}
	return values
}

// among are the cells of a part, all of them or those with a value.
func (e *evidence) among(part [2]string, within []Value) []*cell {
	if len(within) > 0 {
		return e.narrowed[narrow{part, within[0]}]
	}
	return slices.DeleteFunc(slices.Clone(e.cells), func(c *cell) bool { return c.part != part })
}

// fitsOf is how each kind stands to a series.
func (e *evidence) fitsOf(s *benchmark.Series) ([]fit, error) {
	if fits := e.fits[s]; fits != nil {
		return fits, nil
	}
	stated := *s
	if e.noDx && s.Diagnosis == "osteoarthritis" {
		stated.Diagnosis = ""
	}
	kind, err := benchmark.NewKind(&stated)
	if err != nil {
		return nil, err
	}
	fits := make([]fit, len(e.cells))
	for i, c := range e.cells {
		fits[i].Fit, fits[i].missing = kind.Fit(c.joints)
	}
	e.fits[s] = fits
	return fits, nil
}

// meet finds the own joints that a series is of; nil without any.
func (e *evidence) meet(s *benchmark.Series, part [2]string, within []Value) (*Beside, error) {
	fits, err := e.fitsOf(s)
	if err != nil {
		return nil, err
	}
	b := &Beside{Series: s, Joint: part[0], Procedure: part[1], Within: within, Assumed: e.noDx && s.Diagnosis == "osteoarthritis", Match: Like}
	for _, c := range e.among(part, within) {
		switch fit := fits[c.number]; fit.Fit {
		case benchmark.Meets:
			b.met = append(b.met, c)
		case benchmark.NotRecorded:
			b.NotRecorded += c.subjects
			for _, m := range fit.missing {
				if !slices.Contains(b.Missing, m) {
					b.Missing = append(b.Missing, m)
				}
			}
		}
	}
	if len(b.met) == 0 && b.NotRecorded == 0 {
		return nil, nil
	}
	b.cells = keyOf(b.met)
	return b, nil
}

// read sets all figures of the series beside the own joints that they are of. Several
// series are often of the same joints, which are estimated once.
func (e *evidence) read(all []*Beside) error {
	of := make(map[string][]int)
	var order []string
	for i, b := range all {
		own := b.OwnJoints()
		if of[own] == nil {
			order = append(order, own)
		}
		of[own] = append(of[own], i)
	}
	figures := make([][]*Beside, len(all))
	err := each(len(order), func(n int) error {
		same := of[order[n]]
		own, err := e.estimate(all[same[0]].met)
		if err != nil {
			return err
		}
		for _, i := range same {
			if figures[i], err = e.figuresOf(all[i], own); err != nil {
				return err
			}
		}
		return nil
	})
	e.beside = slices.Concat(figures...)
	return err
}

// figuresOf sets the figures of one series beside its own joints.
func (e *evidence) figuresOf(base *Beside, own *estimates) ([]*Beside, error) {
	s := base.Series
	base.Joints, base.Revised = own.counts.Subjects(), own.counts.Total(cohort.CauseRevision)
	base.Reason = e.other(base)
	years := slices.ContainsFunc(base.Within, func(v Value) bool { return v.Field == OperationYear }) // parts of a whole that is judged
	var err error
	if base.Reason != "" {
		base.Match = Other
	} else if base.Ratio, err = e.ratio(s, own.atoms, !years); err != nil {
		return nil, err
	}
	var all []*Beside
	for _, f := range s.Figures {
		b := *base
		b.Figure = f
		if b.Match == Like {
			e.era(&b, own.atoms)
		}
		if _, ok := s.Estimand.Own(); ok {
			c, err := benchmark.Compare(own.km, own.incidence, s, f, e.run.options.Interval, cohort.DayOfYear(f.Years))
			if err != nil {
				return nil, err
			}
			b.Comparison = &c
		}
		all = append(all, &b)
	}
	return all, nil
}

func keyOf(cells []*cell) string {
	var b strings.Builder
	for _, c := range cells {
		b.WriteString(strconv.Itoa(c.number))
		b.WriteByte(' ')
	}
	return b.String()
}

// estimate is what is estimated of the joints of some cells.
func (e *evidence) estimate(cells []*cell) (*estimates, error) {
	own := &estimates{counts: tally.New(e.run.causes())}
	known := make(map[[2]int]int)
	for a := range atoms(cells) {
		k := [2]int{a.year, a.reach}
		at, ok := known[k]
		if !ok {
			at = len(own.atoms)
			known[k] = at
			own.atoms = append(own.atoms, atom{year: a.year, reach: a.reach, counts: tally.New(e.run.causes())})
		}
		if err := own.atoms[at].counts.Merge(a.counts); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(own.atoms, func(a, b atom) int { return cmp.Or(cmp.Compare(a.year, b.year), cmp.Compare(a.reach, b.reach)) })
	for i := range own.atoms {
		a := &own.atoms[i]
		a.joints = a.counts.Subjects()
		if err := own.counts.Merge(a.counts); err != nil {
			return nil, err
		}
	}
	table := own.counts.Table()
	var err error
	if own.km, err = survival.KaplanMeier(table, cohort.CauseRevision); err != nil {
		return nil, err
	}
	if e.run.audit.Deaths.Recorded {
		if own.incidence, err = survival.CumulativeIncidence(table, cohort.CauseRevision); err != nil {
			return nil, err
		}
	}
	return own, nil
}

// other says why a series is not like own joints, whatever the year.
func (e *evidence) other(b *Beside) string {
	if reason := b.Series.Other(); reason != "" {
		return reason
	}
	if total := b.Joints + b.NotRecorded; 10*b.NotRecorded > total {
		return fmt.Sprintf("%s not recorded in %d of %d", strings.Join(b.Missing, " or "), b.NotRecorded, total)
	}
	byColumn := make(map[string][]string)
	for _, c := range e.run.audit.Scope {
		byColumn[c.Column] = append(byColumn[c.Column], c.Value)
	}
	for _, c := range e.run.audit.Scope {
		switch c.Column {
		case "surgeon", "hospital", "side", "operation_date", "operation_year":
			continue
		}
		if !b.Series.Passes(c.Column, byColumn[c.Column]) {
			return fmt.Sprintf("narrowed to %s %s", c.Column, strings.Join(byColumn[c.Column], " or "))
		}
	}
	return ""
}

// era judges the years of operation of the own joints that can reach a figure's
// year.
func (e *evidence) era(b *Beside, atoms []atom) {
	at, _ := slices.BinarySearch(e.years, b.Figure.Years)
	var reach, within int64
	for _, a := range atoms {
		if a.reach > at {
			reach += a.joints
			if b.Series.InPeriod(a.year) {
				within += a.joints
			}
		}
	}
	switch {
	case reach == 0:
		b.Match, b.Reason = Unreached, fmt.Sprintf("operated on too late to reach %v years", b.Figure.Years)
	case 2*within < reach:
		b.Match, b.Reason = Other, fmt.Sprintf("%d of the %d that can reach %v years were operated on in %s", within, reach, b.Figure.Years, b.Series.Period())
	}
}

// ratio is observed and expected over complete intervals; nil if the series
// allows none, or era is asked about and most of the joints that count are of
// other years.
func (e *evidence) ratio(s *benchmark.Series, atoms []atom, era bool) (*benchmark.Ratio, error) {
	type class struct {
		reached float64
		within  bool
	}
	sums := make(map[class]*tally.Counts)
	operated := make(map[class][2]int) // first and last year
	var order []class
	for _, a := range atoms {
		k := class{within: s.InPeriod(a.year)}
		for _, f := range s.Figures {
			if at, _ := slices.BinarySearch(e.years, f.Years); a.reach > at {
				k.reached = f.Years
			}
		}
		if sums[k] == nil {
			sums[k], operated[k] = tally.New(e.run.causes()), [2]int{a.year, a.year}
			order = append(order, k)
		}
		operated[k] = [2]int{min(operated[k][0], a.year), max(operated[k][1], a.year)}
		if err := sums[k].Merge(a.counts); err != nil {
			return nil, err
		}
	}
	var groups []benchmark.Exits
	for _, k := range order {
		groups = append(groups, benchmark.Exits{Reached: k.reached, InPeriod: k.within, Table: sums[k].Table(), OperatedFrom: operated[k][0], OperatedTo: operated[k][1]})
	}
	r, ok := benchmark.ObservedExpected(groups, cohort.CauseRevision, s, cohort.DayOfYear, cohort.DaysPerYear, e.run.level())
	if !ok || era && 2*r.InPeriod < r.Joints {
		return nil, nil
	}
	return &r, nil
}

// question is what figures are read together about.
type question struct {
	own      string
	years    float64
	estimand benchmark.Measure
}

func (b *Beside) question() question {
	return question{b.OwnJoints(), b.Figure.Years, b.Series.Estimand}
}

// OwnJoints identifies the own joints of a figure: those of two are the same joints
// if it is equal.
func (b *Beside) OwnJoints() string {
	of := []string{b.Joint, b.Procedure, b.cells}
	for _, v := range b.Within {
		of = append(of, v.Field, v.Word)
	}
	return strings.Join(of, "\x00")
}

// preferDiagnosis lists, and does not read, a series whose diagnosis was taken
// for granted where one that states none has the same own joints.
func (e *evidence) preferDiagnosis() {
	plain := make(map[question]bool)
	for _, b := range e.beside {
		if b.Match == Like && !b.Assumed {
			plain[b.question()] = true
		}
	}
	for _, b := range e.beside {
		if b.Match == Like && b.Assumed && plain[b.question()] {
			b.Match, b.Reason = Other, "diagnosis not recorded"
		}
	}
}

// readTogether numbers and makes the readings. Built-in figures are only listed
// where an own file's have the same own joints.
func (e *evidence) readTogether() {
	together := make(map[question][]*Beside)
	var order []question
	for _, b := range e.beside {
		if b.Match != Like {
			continue
		}
		q := b.question()
		if together[q] == nil {
			order = append(order, q)
		}
		together[q] = append(together[q], b)
	}
	for n, q := range order {
		all := together[q]
		if slices.ContainsFunc(all, func(b *Beside) bool { return b.Series.User }) {
			for _, b := range all {
				if !b.Series.User {
					b.Reason = "your own file's figures are read here"
				}
			}
			all = slices.DeleteFunc(all, func(b *Beside) bool { return !b.Series.User })
		}
		var comparisons []*benchmark.Comparison
		for _, b := range all {
			comparisons = append(comparisons, b.Comparison)
		}
		t := benchmark.ReadTogether(comparisons)
		for i, b := range all {
			b.ReadWith, b.Together, b.First = n+1, &t, i == 0
		}
		if t.Sides > 0 {
			e.run.audit.Readings++
			e.run.audit.ByChance += t.ByChance
		}
	}
}

// cellsOf are the own joints of a group; none with values of several fields that no
// series can state, of which nothing is published.
func (e *evidence) cellsOf(g *Group) []*cell {
	within := g.within()
	if e == nil || len(within) > 1 {
		return nil
	}
	cells := slices.Clone(e.among([2]string{g.Values[0].Word, g.Values[1].Word}, within))
	return slices.DeleteFunc(cells, func(c *cell) bool {
		return slices.ContainsFunc(g.Values, func(v Value) bool {
			return !v.All && !slices.Contains(within, v) && c.word[v.Field] != v.Word
		})
	})
}

// within are a group's values of fields that no series can state.
func (g *Group) within() []Value {
	return slices.DeleteFunc(slices.Clone(g.Values[2:]), func(v Value) bool { return v.All || slices.Contains(Statable(), v.Field) })
}

// atoms are those of some cells.
func atoms(cells []*cell) iter.Seq[*atom] {
	return func(yield func(*atom) bool) {
		for _, c := range cells {
			for k := range c.atoms {
				if !yield(&c.atoms[k]) {
					return
				}
			}
		}
	}
}

// of lists the figures whose own joints are exactly a group's.
func (e *evidence) of(g *Group, cells []*cell) []*Beside {
	if e == nil {
		return nil
	}
	b := Beside{Joint: g.Values[0].Word, Procedure: g.Values[1].Word, Within: g.within(), cells: keyOf(cells)}
	return e.same[b.OwnJoints()]
}

// thresholds lists the thresholds that stand beside a group: of one procedure by
// bearing, polyethylene or fixation, and narrowed by nothing else.
func (r *run) thresholds(g *Group) ([]*benchmark.Series, error) {
	implants := []string{"bearing", "polyethylene", "fixation"}
	by := 0
	for _, v := range g.Values[2:] {
		switch {
		case v.All:
		case !slices.Contains(implants, v.Field) || v.Word == cohort.NotRecorded:
			return nil, nil
		default:
			by++
		}
	}
	for _, c := range r.audit.Scope {
		switch {
		case slices.Contains(implants, c.Column):
			by++
		case c.Column != "joint" && c.Column != "procedure":
			return nil, nil
		}
	}
	if by == 0 || len(r.options.Endpoint.Reasons) > 0 {
		return nil, nil
	}
	word := func(field string) string {
		if w := g.Word(field); w != "All" && w != cohort.NotRecorded {
			return w
		}
		return ""
	}
	own := benchmark.Joints{Joint: word("joint"), Procedure: word("procedure"), Bearing: word("bearing"), Polyethylene: word("polyethylene"), Fixation: word("fixation")}
	var thresholds []*benchmark.Series
	for _, s := range r.options.Published {
		if s.Estimand != benchmark.Threshold {
			continue
		}
		kind, err := benchmark.NewKind(s)
		if err != nil {
			return nil, err
		}
		if fit, _ := kind.Fit(own); fit == benchmark.Meets {
			thresholds = append(thresholds, s)
		}
	}
	return thresholds, nil
}
