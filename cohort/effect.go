package cohort

import (
	"maps"
	"math"
	"slices"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// Effect is what the estimates of one joint and procedure would be if one
// problem were settled the other way, and nothing else were changed.
type Effect struct {
	Joint, Procedure string

	Problem  string   // in words, fixed
	Supposed string   // the other way to settle it, in words, fixed
	Reasons  []Reason // of the rows; nil for a doubtful closing date

	// Rows counts the rows whose follow-up would be another.
	Rows int

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
	// only where the day of an event is not known: then they are the estimates
	// with the earliest and with the latest day possible, in increasing order.
	// A day in between may give an estimate a little outside. NaN where nobody
	// would have been followed that long. AtRiskThen is the lower number at
	// risk of the two.
	Low, High  float64
	AtRiskThen float64
}

// supposition is one way of settling a problem of single rows otherwise. Each
// change is made to a copy of a row, which is then judged as any row is; it
// returns false if the row has nothing to change. Two changes are the earliest
// and the latest day of an event.
type supposition struct {
	problem, supposed string
	reasons           []Reason
	joints            int // that a row becomes
	changes           []func(c *Cohort, one *chunk) bool
}

const (
	dayUnknown = "revised, on the earliest to the latest day"

	problemRepeat  = "same joint again: possible revision"
	problemClosing = "closing date doubtful"
)

var suppositions = []supposition{
	{"revised without a date, or on an impossible one", dayUnknown, []Reason{RevisedWithoutDate, RevisionDateImpossible, RevisionYearShort}, 1, revisedSometime},
	{RevisionBeforeOperation.String(), dayUnknown, []Reason{RevisionBeforeOperation}, 1, revisedSometime},
	{"a reason for revision, and no revision", dayUnknown, []Reason{ReasonWithoutRevision}, 1, revisedSometime},
	{"neither yes nor no in revised", dayUnknown, []Reason{YesNoUnreadable}, 1, []func(*Cohort, *chunk) bool{
		func(c *Cohort, one *chunk) bool { return one.unclearRevised() && revisedSometime[0](c, one) },
		func(c *Cohort, one *chunk) bool { return one.unclearRevised() && revisedSometime[1](c, one) },
	}},
	{"revised says no, with a revision date", "not revised", []Reason{RevisedNoWithDate}, 1, []func(*Cohort, *chunk) bool{notRevised}},
	{RevisionAfterDeath.String(), "not revised: died", []Reason{RevisionAfterDeath}, 1, []func(*Cohort, *chunk) bool{notRevised}},
	{"dead says no, with a death date", "alive", []Reason{AliveWithDeathDate}, 1, []func(*Cohort, *chunk) bool{notDead}},
	{DeathBeforeOperation.String(), "used, without the death", []Reason{DeathBeforeOperation}, 1, []func(*Cohort, *chunk) bool{notDead}},
	{DeadWithoutDate.String(), "died, on the earliest to the latest day", []Reason{DeadWithoutDate}, 1, []func(*Cohort, *chunk) bool{
		func(c *Cohort, one *chunk) bool {
			one.dates[death][0] = min(one.dates[operation][0]+1, int32(c.Closing.Day))
			return true
		},
		func(c *Cohort, one *chunk) bool {
			one.dates[death][0] = int32(c.Closing.Day)
			return true
		},
	}},
	{AgeOutOfRange.String(), "used, age not recorded", []Reason{AgeOutOfRange}, 1, []func(*Cohort, *chunk) bool{
		func(_ *Cohort, one *chunk) bool {
			one.age, one.dates[birth][0] = nil, noDay
			return true
		},
	}},
	{"both sides in one row", "used as two joints with the same follow-up", []Reason{BothSides}, 2, []func(*Cohort, *chunk) bool{
		func(_ *Cohort, one *chunk) bool {
			one.flags[0] &^= flagBothSides
			return true
		},
	}},
	{"same joint again", "another joint: the side is mistyped", []Reason{PossibleRevision, DuplicateRow}, 1, []func(*Cohort, *chunk) bool{
		func(*Cohort, *chunk) bool { return true },
	}},
	{"lost to follow-up", "every one revised on the day last seen", []Reason{LostToFollowUp}, 1, []func(*Cohort, *chunk) bool{
		func(_ *Cohort, one *chunk) bool {
			one.dates[revision][0] = one.dates[lastSeen][0]
			return true
		},
	}},
}

// revisedSometime makes a row revised on the earliest and on the latest day
// that it can have been: the day after the operation, and the closing date or
// the day of death.
var revisedSometime = []func(c *Cohort, one *chunk) bool{
	func(c *Cohort, one *chunk) bool {
		one.dates[revision][0] = min(one.dates[operation][0]+1, one.lastDay(c))
		return true
	},
	func(c *Cohort, one *chunk) bool {
		one.dates[revision][0] = one.lastDay(c)
		return true
	},
}

func (ch *chunk) lastDay(c *Cohort) int32 {
	last := int32(c.Closing.Day)
	if dead := ch.dates[death][0]; dead >= ch.dates[operation][0] {
		last = min(last, dead)
	}
	return last
}

func (ch *chunk) unclearRevised() bool {
	return ch.flags[0]&flagRevisedUnclear != 0 && ch.dates[revision][0] == noDay
}

func notRevised(_ *Cohort, one *chunk) bool {
	one.dates[revision][0] = noDay
	one.flags[0] &^= flagRevisedYes
	return true
}

func notDead(_ *Cohort, one *chunk) bool {
	one.dates[death][0] = noDay
	one.flags[0] &^= flagDeadYes
	return true
}

// alone is row i as a table of its own, which can be changed and judged. It
// has every date column.
func (ch *chunk) alone(i int) *chunk {
	one := &chunk{file: ch.file, role: ch.role, operations: ch.operations, bareAside: ch.bareAside, row: []int32{ch.row[i]}, flags: []flags{ch.flags[i]}}
	for k := range ch.dates {
		one.dates[k] = []int32{ch.date(k, i)}
	}
	if ch.age != nil {
		one.age = []int16{ch.age[i]}
	}
	for k := range ch.core {
		one.core[k] = []uint16{ch.core[k][i]}
	}
	for _, column := range ch.extra {
		one.extra = append(one.extra, []uint16{column[i]})
	}
	if ch.outcome != nil {
		one.outcome = []Reason{ch.outcome[i]}
	}
	return one
}

// moved is the follow-up that one settlement takes from a joint and procedure
// and what it puts in its place, in one or two ways.
type moved struct {
	effect Effect
	gone   *tally.Counts
	come   []*tally.Counts
}

// effects collects them.
type effects struct {
	cohort  *Cohort
	counter *counter
	readers [][]func(int) int         // by chunk
	found   map[uint64]map[int]*moved // by cell and supposition
}

// Effects says for each joint and procedure, in the order of [Cohort.Tally],
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
//     operation, and the closing date;
//   - both sides in one row: two joints;
//   - joints lost to follow-up: each revised on the day it was last seen;
//   - a doubtful closing date is the next latest date.
//
// A row counts only if the rules would then use it, or would have it followed
// to another day or end; a joint and procedure without such a row has no
// effect listed. Each problem is settled by itself, with all others as they
// are. The estimate is 1 − Kaplan–Meier; years are of 365.25 days, and no
// value is given beyond the longest follow-up. Errors are those of columns that
// have too many values to group by.
func (c *Cohort) Effects(years []float64) ([]Effect, error) {
	names := []string{"joint", "procedure"}
	k, err := c.newCounter(names, Endpoint{}, nil)
	if err != nil {
		return nil, err
	}
	groups, err := c.Tally(nil, Endpoint{})
	if err != nil {
		return nil, err
	}
	x := &effects{cohort: c, counter: k, found: make(map[uint64]map[int]*moved)}
	for _, ch := range c.chunks {
		x.readers = append(x.readers, k.readers(ch))
	}
	x.repeats()
	for ci := range c.chunks {
		x.rows(ci)
	}
	x.closing()

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

// move notes how a row would end in one or two ways, as so many joints. A row
// that is set aside has nothing to take away; one that would be set aside puts
// nothing in its place.
func (x *effects) move(which int, e Effect, ci, i int, joints int, ends ...judgement) {
	ch := x.cohort.chunks[ci]
	same := func(j judgement) bool {
		if ch.status[i] != used {
			return j.status != used
		}
		return j.status == used && j.exit == ch.exit[i] && j.cause == ch.cause[i]
	}
	if !slices.ContainsFunc(ends, func(j judgement) bool { return !same(j) }) {
		return
	}
	cell := x.counter.cell(x.readers[ci], i)
	if x.found[cell] == nil {
		x.found[cell] = make(map[int]*moved)
	}
	m := x.found[cell][which]
	if m == nil {
		m = &moved{effect: e, gone: tally.New(len(x.counter.causes))}
		for range ends {
			m.come = append(m.come, tally.New(len(x.counter.causes)))
		}
		x.found[cell][which] = m
	}
	m.effect.Rows++
	if ch.status[i] == used {
		m.gone.Add(ch.exit[i], int(ch.cause[i]))
	}
	for v, j := range ends {
		for range joints {
			if j.status == used {
				m.come[v].Add(j.exit, int(j.cause))
			}
		}
	}
}

func noWarning(Reason, string) {}

// repeats supposes that later rows of a joint are its revisions.
func (x *effects) repeats() {
	c := x.cohort
	revised := make(map[place]int32)
	for at, of := range c.repeats {
		ch := c.all[at.chunk]
		if ch.role != primaries || ch.status[at.i] != PossibleRevision && ch.status[at.i] != OperationTypeNotUnderstood || !c.unrevisedInUse(of) {
			continue
		}
		day := ch.date(operation, int(at.i))
		if before, ok := revised[of]; !ok || day < before {
			revised[of] = day
		}
	}
	for of, day := range revised {
		one := c.chunks[of.chunk].alone(int(of.i))
		one.dates[revision][0] = day
		e := Effect{Problem: problemRepeat, Supposed: "the revision of the first row", Reasons: []Reason{PossibleRevision, OperationTypeNotUnderstood}}
		x.move(-1, e, int(of.chunk), int(of.i), 1, c.judge(one, 0, c.today, noWarning))
	}
}

// rows supposes what is to be supposed of the single rows of a chunk.
func (x *effects) rows(ci int) {
	c := x.cohort
	ch := c.chunks[ci]
	var reasons []Reason
	for i, status := range ch.status {
		reasons = reasons[:0]
		switch {
		case status == outOfScope, status == used && !ch.warned[i]:
			continue
		case status == used:
			c.judge(ch, i, c.today, func(r Reason, _ string) { reasons = append(reasons, r) })
		default:
			reasons = append(reasons, status)
		}
		for which, s := range suppositions {
			if !slices.ContainsFunc(reasons, func(r Reason) bool { return slices.Contains(s.reasons, r) }) {
				continue
			}
			var ends []judgement
			for _, change := range s.changes {
				if one := ch.alone(i); change(c, one) {
					ends = append(ends, c.judge(one, 0, c.today, noWarning))
				}
			}
			if len(ends) == len(s.changes) {
				x.move(which, Effect{Problem: s.problem, Supposed: s.supposed, Reasons: s.reasons}, ci, i, s.joints, ends...)
			}
		}
	}
}

// closing supposes that a doubtful closing date is the next latest.
func (x *effects) closing() {
	c := x.cohort
	if !c.Closing.Doubtful() || c.Closing.NextLatest >= c.Closing.Day {
		return
	}
	e := Effect{Problem: problemClosing, Supposed: "the next latest date, " + c.Closing.NextLatest.String()}
	then := c.closedOn(c.Closing.NextLatest)
	for ci, ch := range c.chunks {
		for i, status := range ch.status {
			if _, again := c.repeats[place{int32(ci), int32(i)}]; again || status == outOfScope {
				continue
			}
			x.move(len(suppositions), e, ci, i, 1, then.judge(ch, i, c.today, noWarning))
		}
	}
}

// closedOn is what judging a row needs, with another closing date.
func (c *Cohort) closedOn(d Day) *Cohort {
	return &Cohort{Closing: Closing{Day: d, Asked: true}, lostAfter: c.lostAfter, sides: c.sides, extra: c.extra, present: c.present, today: c.today}
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
	curve, err := survival.KaplanMeier(now.Table(), CauseRevision)
	if err != nil {
		return err
	}
	var then []*survival.Curve
	for _, come := range m.come {
		if come, err = byDay(come); err != nil {
			return err
		}
		k, err := survival.KaplanMeier(m.with(now, come).Table(), CauseRevision)
		if err != nil {
			return err
		}
		then = append(then, k)
	}
	at := func(k *survival.Curve, y float64) (estimate, atRisk float64) {
		p, ok := k.At(DaysPerYear*y, survival.Interval{})
		if !ok {
			return math.NaN(), 0
		}
		return p.Estimate, p.AtRisk
	}
	for _, y := range years {
		e := EffectAt{Years: y}
		e.Now, e.AtRisk = at(curve, y)
		for i, k := range then {
			estimate, atRisk := at(k, y)
			if i == 0 {
				e.Low, e.High, e.AtRiskThen = estimate, estimate, atRisk
				continue
			}
			e.Low, e.High, e.AtRiskThen = min(e.Low, estimate), max(e.High, estimate), min(e.AtRiskThen, atRisk)
		}
		m.effect.At = append(m.effect.At, e)
	}
	return nil
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
