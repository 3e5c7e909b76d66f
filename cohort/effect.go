package cohort

import (
	"maps"
	"math"
	"slices"

	"example.org/holdfast/cohort/internal/link"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// Effect is what the estimates of one joint and procedure would be if one
// problem were settled the other way, and nothing else were changed.
type Effect struct {
	Joint, Procedure string

	Problem  string   // in words, fixed
	Supposed string   // the other way to settle it, in words, fixed
	Reasons  []Reason // of the rows; nil for a doubtful closing date, and for assumed follow-up

	// Rows counts the rows whose follow-up would be another. With counts those of them
	// that have the problem, or all of a patient of whom another row has it, such as
	// one of a list: a death that is taken away ends no follow-up of the patient's other
	// joints either.
	Rows, With int

	At []EffectAt // as the years asked for
}

// EffectAt is one estimate as it is and as it would be.
type EffectAt struct {
	Years float64

	// Now is the cumulative revision (1 − Kaplan–Meier, all joints) as it is, a
	// proportion, and AtRisk the joints at risk. Now is NaN where nobody was
	// followed that long.
	Now    float64
	AtRisk float64

	// Low and High are the estimate if the problem were settled so. They differ
	// only where it can be settled in two ways: with the earliest and with the latest
	// day possible of an event whose day is not known (a day in between may give an
	// estimate a little outside), and with none and with all revised of the joints lost
	// to follow-up (counts alone tell the second only, see [LostEffect]). NaN where
	// nobody would have been followed that long. AtRiskThen is the lower number at risk
	// of the two.
	Low, High  float64
	AtRiskThen float64
}

// ClosingDoubtful is the problem of a closing date that is the latest date of the tables,
// and stands long after every other.
const ClosingDoubtful = "closing date doubtful"

// moved is the follow-up that one settlement takes from a joint and procedure
// and what it puts in its place, in one or two ways.
type moved struct {
	effect Effect
	gone   *tally.Counts
	come   []*tally.Counts
}

// effects collects them by joint and procedure and by change.
type effects struct {
	cohort  *Cohort
	counter *counter
	changes []link.Change
	closing *row.Facts // as they would be with the next latest closing date; nil if it is not in doubt
	found   map[uint64]map[int]*moved
}

// WhatIf says for each joint and procedure, in the order of [Cohort.Tally],
// and for each problem that can be settled otherwise than it is, what the
// cumulative revision by the given years would then be:
//
//   - a later row of a joint that stands in the table already is the revision
//     of the first, on the later row's day (several: the earliest); or it is a
//     joint of its own, whose side is mistyped;
//   - joints revised on a day that is not known, or before the operation, or
//     for which there is only a reason: revised on the day after the operation,
//     and on the last day possible, which is the closing date or the death;
//   - where yes and no contradict a date, no holds;
//   - a death before the operation, and an age out of range, are left out, and
//     the row is used; of a death without a date the day is the day after the
//     last operation, and the closing date;
//   - both sides in one row: two joints;
//   - joints lost to follow-up: each in place to the closing date, and each revised on
//     the day it was last seen;
//   - a doubtful closing date is the next latest date.
//
// A row counts only if the rules would then use it, or would have it followed
// to another day or end; a joint and procedure without such a row has no
// effect listed. Each problem is settled by itself, with all others as they
// are: the rows that have it are mended where the value stands, and the patient's
// rows are linked again, so that a death taken away is taken away from the
// patient's other joints too. The estimate is 1 − Kaplan–Meier; a year is its [DayOfYear], and no
// value is given beyond the longest follow-up. Errors are those of columns that
// have too many values to group by.
func (c *Cohort) WhatIf(years []float64) ([]Effect, error) {
	k, err := c.newCounter([]string{"joint", "procedure"}, Endpoint{})
	if err != nil {
		return nil, err
	}
	groups, err := c.Tally(nil, Endpoint{})
	if err != nil {
		return nil, err
	}
	x := &effects{cohort: c, counter: k, changes: link.Changes(), found: make(map[uint64]map[int]*moved)}
	if c.Closing.Doubtful() && c.Closing.NextLatest < c.Closing.Day {
		facts := c.facts
		facts.Closing = row.Day(c.Closing.NextLatest)
		x.closing = &facts
	}
	if err := x.collect(); err != nil {
		return nil, err
	}

	var all []Effect
	order := slices.SortedFunc(maps.Keys(x.found), func(a, b uint64) int { return k.key(a).Compare(k.key(b)) })
	for _, cell := range order {
		now := groups.Set.Counts(k.key(cell))
		if now == nil { // every row is set aside
			now = tally.New(len(k.causes))
		}
		for _, which := range slices.Sorted(maps.Keys(x.found[cell])) {
			m := x.found[cell][which]
			m.effect.Joint, m.effect.Procedure = k.dims[0].levels[k.level(cell, 0)], k.dims[1].levels[k.level(cell, 1)]
			if err := m.read(now, years); err != nil {
				return nil, err
			}
			all = append(all, m.effect)
		}
	}
	return all, nil
}

// collect goes through all patients of whom something can be supposed.
func (x *effects) collect() error {
	c := x.cohort
	parts := make([]*supposing, c.store.Parts())
	any := make([]row.Reason, 0, row.ReasonCount)
	for _, change := range x.changes {
		any = append(any, change.Reasons...)
	}
	wanted := c.remarkable
	if x.closing != nil {
		wanted = nil
	}
	c.patients(&c.facts, wanted, func(part int) func([]row.Row, *row.Linked, *link.Linker) {
		s := &supposing{effects: x, any: any, found: make(map[uint64]map[int]*moved)}
		parts[part] = s
		return s.patient
	})
	for _, s := range parts {
		for cell, found := range s.found {
			for which, m := range found {
				if err := x.at(x.found, cell, which, len(m.come)).merge(m); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// at is what a change moves in a cell.
func (x *effects) at(found map[uint64]map[int]*moved, cell uint64, which, ways int) *moved {
	if found[cell] == nil {
		found[cell] = make(map[int]*moved)
	}
	m := found[cell][which]
	if m == nil {
		e := Effect{Problem: ClosingDoubtful, Supposed: "the next latest date, " + x.cohort.Closing.NextLatest.String()}
		if which < len(x.changes) {
			change := &x.changes[which]
			e = Effect{Problem: change.Problem, Supposed: change.Supposed, Reasons: change.Reasons}
		}
		m = &moved{effect: e, gone: tally.New(len(x.counter.causes))}
		for range ways {
			m.come = append(m.come, tally.New(len(x.counter.causes)))
		}
		found[cell][which] = m
	}
	return m
}

func (m *moved) merge(o *moved) error {
	m.effect.Rows += o.effect.Rows
	m.effect.With += o.effect.With
	for v := range m.come {
		if err := m.come[v].Merge(o.come[v]); err != nil {
			return err
		}
	}
	return m.gone.Merge(o.gone)
}

// supposing goes through the patients of one part.
type supposing struct {
	*effects
	any    []row.Reason // that something can be supposed of
	found  map[uint64]map[int]*moved
	again  link.Linker
	mended link.Mended
	now    [][]end   // by row as it stands
	then   [][][]end // by way, and by that row
}

// end is how the follow-up of a joint ends.
type end struct {
	exit  int32
	cause row.Cause
}

// patient supposes what can be supposed of one patient.
func (s *supposing) patient(rows []row.Row, l *row.Linked, linker *link.Linker) {
	c := s.cohort
	if !slices.ContainsFunc(l.Fates, func(f row.Fate) bool { return f.Has(s.any) }) && s.closing == nil {
		return
	}
	s.now = c.ends(s.now, rows, rows, nil, l.Joints)
	for which := range s.changes {
		change := &s.changes[which]
		for len(s.then) < change.Ways() {
			s.then = append(s.then, nil)
		}
		some := true
		for way := range change.Ways() {
			if some = some && linker.Mend(change, way, &s.mended); some {
				then := s.again.Patient(s.mended.Rows, &c.facts)
				s.then[way] = c.ends(s.then[way], rows, s.mended.Rows, s.mended.From, then.Joints)
			}
		}
		if some {
			s.compare(which, change.Ways(), rows, l.Fates)
		}
	}
	if s.closing != nil {
		then := s.again.Patient(rows, s.closing)
		if len(s.then) == 0 {
			s.then = append(s.then, nil)
		}
		s.then[0] = c.ends(s.then[0], rows, rows, nil, then.Joints)
		s.compare(len(s.changes), 1, rows, l.Fates)
	}
}

// ends sorts the ends of the joints in scope by the rows that they are made
// from; from nil, these are the rows themselves.
func (c *Cohort) ends(to [][]end, rows, linked []row.Row, from []int32, joints []row.Joint) [][]end {
	for len(to) < len(rows) {
		to = append(to, nil)
	}
	to = to[:len(rows)]
	for i := range to {
		to[i] = to[i][:0]
	}
	for _, j := range joints {
		if !c.hasRow(&linked[j.Row]) {
			continue
		}
		i := j.Row
		if from != nil {
			i = from[i]
		}
		to[i] = append(to[i], end{j.Exit, j.Cause})
	}
	return to
}

// compare notes the rows of a patient that would end otherwise.
func (s *supposing) compare(which, ways int, rows []row.Row, fates []row.Fate) {
	otherwise := func(i int) bool {
		return slices.ContainsFunc(s.then[:ways], func(then [][]end) bool { return !slices.Equal(then[i], s.now[i]) })
	}
	has := func(i int) bool { return which < len(s.changes) && fates[i].Has(s.changes[which].Reasons) }
	some := false
	for i := range s.now {
		some = some || has(i) && otherwise(i)
	}
	for i, now := range s.now {
		if !otherwise(i) {
			continue
		}
		at := rows[i].At
		m := s.at(s.found, s.counter.cells(int(at.Block))(int(at.Index)), which, ways)
		m.effect.Rows++
		if !some || has(i) {
			m.effect.With++
		}
		for _, e := range now {
			m.gone.Add(e.exit, int(e.cause))
		}
		for way, then := range s.then[:ways] {
			for _, e := range then[i] {
				m.come[way].Add(e.exit, int(e.cause))
			}
		}
	}
}

// read gives the estimates with the follow-up of a joint and procedure as it
// is and as it would be.
func (m *moved) read(now *tally.Counts, years []float64) error {
	now, err := byDay(now)
	if err != nil {
		return err
	}
	if m.gone, err = byDay(m.gone); err != nil {
		return err
	}
	var then []*tally.Counts
	for _, come := range m.come {
		if come, err = byDay(come); err != nil {
			return err
		}
		then = append(then, m.with(now, come))
	}
	m.effect.At, err = effectsAt(now, then, years)
	return err
}

// effectsAt are the estimates of counts by some years, and of what they would be in one
// way or two.
func effectsAt(now *tally.Counts, then []*tally.Counts, years []float64) ([]EffectAt, error) {
	curve, err := survival.KaplanMeier(now.Table(), CauseRevision)
	if err != nil {
		return nil, err
	}
	var curves []*survival.Curve
	for _, counts := range then {
		k, err := survival.KaplanMeier(counts.Table(), CauseRevision)
		if err != nil {
			return nil, err
		}
		curves = append(curves, k)
	}
	at := func(k *survival.Curve, y float64) (estimate, atRisk float64) {
		p, ok := k.At(DayOfYear(y), survival.Interval{})
		if !ok {
			return math.NaN(), 0
		}
		return p.Estimate, p.AtRisk
	}
	var all []EffectAt
	for _, y := range years {
		e := EffectAt{Years: y}
		e.Now, e.AtRisk = at(curve, y)
		for i, k := range curves {
			estimate, atRisk := at(k, y)
			if i == 0 {
				e.Low, e.High, e.AtRiskThen = estimate, estimate, atRisk
				continue
			}
			e.Low, e.High, e.AtRiskThen = min(e.Low, estimate), max(e.High, estimate), min(e.AtRiskThen, atRisk)
		}
		all = append(all, e)
	}
	return all, nil
}

// LostEffect is the effect of [Cohort.WhatIf] that counts alone tell in one of its two
// ways: so many joints of a joint and procedure are lost to follow-up, and then has each of
// them revised on the day it was last seen. How far that is from the closing date, they do
// not tell. Both have the causes of [Cohort.Tally].
func LostEffect(joint, procedure string, lost int, now, then *tally.Counts, years []float64) (Effect, error) {
	changes := link.Changes()
	change := &changes[slices.IndexFunc(changes, func(c link.Change) bool { return slices.Contains(c.Reasons, row.LostToFollowUp) })]
	e := Effect{Joint: joint, Procedure: procedure, Problem: change.Problem, Supposed: "all revised", Reasons: change.Reasons, Rows: lost, With: lost}
	var err error
	e.At, err = effectsAt(now, []*tally.Counts{then}, years)
	return e, err
}

// FollowUpAssumed is the problem of joints of which no day last seen is recorded.
const FollowUpAssumed = "no day last seen: follow-up assumed"

// AssumedEffect is the effect of taking so many joints of a joint and procedure to be followed no
// further than their operation, as [Groups.Known] counts them, since no day last seen is
// recorded. It has no reasons. Where nobody is revised, it tells nothing: there is then no
// number at risk.
func AssumedEffect(joint, procedure string, assumed int, now, known *tally.Counts, years []float64) (Effect, error) {
	e := Effect{Joint: joint, Procedure: procedure, Problem: FollowUpAssumed, Supposed: "followed no further than the operation", Rows: assumed, With: assumed}
	var err error
	e.At, err = effectsAt(now, []*tally.Counts{known}, years)
	for i := range e.At {
		if x := &e.At[i]; x.Now == 0 {
			x.Low, x.High, x.AtRiskThen = math.NaN(), math.NaN(), 0
		}
	}
	return e, err
}

// byDay is a copy of counts that is quick to look up by day.
func byDay(c *tally.Counts) (*tally.Counts, error) {
	n := tally.New(c.Causes())
	n.Grow(c.Days())
	return n, n.Merge(c)
}

// with is counts without what is gone and with what comes instead.
func (m *moved) with(now, come *tally.Counts) *tally.Counts {
	then := tally.New(now.Causes())
	then.Grow(max(now.Days(), come.Days()))
	for day := range int32(max(now.Days(), come.Days())) {
		for cause := range now.Causes() + 1 {
			for range now.On(day, cause) - m.gone.On(day, cause) + come.On(day, cause) {
				then.Add(day, cause)
			}
		}
	}
	return then
}
