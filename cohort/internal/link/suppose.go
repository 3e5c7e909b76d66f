package link

import (
	"math"

	"example.org/holdfast/cohort/internal/row"
)

// Change is one problem of single rows, settled otherwise than it is: copies of
// the rows are mended where the value stands, as a person would mend the cells,
// and linked again.
type Change struct {
	Problem  string // in words, fixed
	Supposed string // the other way to settle it, in words, fixed
	Reasons  []row.Reason

	// ways are one, or two: the earliest and the latest day of an event whose day is not
	// known; nobody revised and everybody, of whom it is not known.
	ways []func(m *Mended, i int)
}

// Ways is in how many ways the problem is settled: two where the day of an event, or
// whether there was one, is not known.
func (c *Change) Ways() int { return len(c.ways) }

const dayUnknown = "revised, on the earliest to the latest day"

// Changes are those that can be supposed, in the order in which they are listed.
func Changes() []Change {
	revisedSometime := []func(*Mended, int){
		func(m *Mended, i int) { m.revisedOn(i, min(m.rows[i].Operation+1, m.lastDay(i))) },
		func(m *Mended, i int) { m.revisedOn(i, m.lastDay(i)) },
	}
	one := func(way func(*Mended, int)) []func(*Mended, int) { return []func(*Mended, int){way} }
	return []Change{
		{row.PossibleRevision.String(), "the revision of the first row", []row.Reason{row.PossibleRevision, row.OperationTypeNotUnderstood}, one((*Mended).revision)},
		{"revised without a date, or on an impossible one", dayUnknown, []row.Reason{row.RevisedWithoutDate, row.RevisionDateImpossible, row.RevisionYearShort}, revisedSometime},
		{row.RevisionBeforeOperation.String(), dayUnknown, []row.Reason{row.RevisionBeforeOperation}, revisedSometime},
		{"a reason for revision, and no revision", dayUnknown, []row.Reason{row.ReasonWithoutRevision}, revisedSometime},
		{"neither yes nor no in revised", dayUnknown, []row.Reason{row.YesNoUnreadable}, []func(*Mended, int){
			func(m *Mended, i int) { m.ifUnclear(i, revisedSometime[0]) },
			func(m *Mended, i int) { m.ifUnclear(i, revisedSometime[1]) },
		}},
		{"revised says no, with a revision date", "not revised", []row.Reason{row.RevisedNoWithDate}, one((*Mended).notRevised)},
		{row.RevisionAfterDeath.String(), "not revised: died", []row.Reason{row.RevisionAfterDeath}, one((*Mended).notRevised)},
		{"dead says no, with a death date", "alive", []row.Reason{row.AliveWithDeathDate}, one((*Mended).alive)},
		{row.DeathBeforeOperation.String(), "used, without the death", []row.Reason{row.DeathBeforeOperation}, one((*Mended).alive)},
		{row.DeadWithoutDate.String(), "dead, since the earliest to the latest day", []row.Reason{row.DeadWithoutDate}, []func(*Mended, int){
			func(m *Mended, i int) { m.diedOn(i, min(m.lastOperation(i)+1, m.of.facts.Closing)) },
			func(m *Mended, i int) { m.diedOn(i, m.of.facts.Closing) },
		}},
		{row.AgeOutOfRange.String(), "used, age not recorded", []row.Reason{row.AgeOutOfRange}, one((*Mended).ageless)},
		{"both sides in one row", "used as two joints with the same follow-up", []row.Reason{row.BothSides}, one((*Mended).twoJoints)},
		{"same joint again", "another joint: the side is mistyped", []row.Reason{row.PossibleRevision, row.DuplicateRow}, one((*Mended).anotherSide)},
		{"lost to follow-up", "none to all revised", []row.Reason{row.LostToFollowUp}, []func(*Mended, int){
			func(m *Mended, i int) { m.rows[i].Seen = m.of.facts.Closing },
			func(m *Mended, i int) { m.rows[i].Revision = m.rows[i].Seen },
		}},
	}
}

// Mended are copies of one patient's rows in which a change is made.
type Mended struct {
	Rows []row.Row
	From []int32 // for each, the index of the row it is made from

	of    *Linker
	rows  []row.Row // by index as linked
	gone  []bool
	added []row.Row // beside the row at the same place
}

// Mend makes a change to copies of the rows linked last. It is false if none of
// them has the problem.
func (l *Linker) Mend(c *Change, way int, m *Mended) bool {
	if len(l.state) == 0 { // they were plain
		l.ownState()
	}
	m.of, m.rows, m.added = l, append(m.rows[:0], l.rows...), m.added[:0]
	m.gone = append(m.gone[:0], make([]bool, len(l.rows))...)
	any := false
	for i := range l.fates {
		if l.role(i) == row.Primaries && l.fates[i].Has(c.Reasons) {
			c.ways[way](m, i)
			any = true
		}
	}
	if !any {
		return false
	}
	m.Rows, m.From = m.Rows[:0], m.From[:0]
	for i, r := range m.rows {
		if m.gone[i] {
			continue
		}
		m.Rows, m.From = append(m.Rows, r), append(m.From, int32(i))
		for _, other := range m.added {
			if other.At == r.At {
				m.Rows, m.From = append(m.Rows, other), append(m.From, int32(i))
			}
		}
	}
	return true
}

// lastDay is the last on which a joint can have been revised: the closing date,
// or the death.
func (m *Mended) lastDay(i int) row.Day {
	last := m.of.facts.Closing
	if dead := m.of.state[i].death; dead.Known() && dead >= m.rows[i].Operation {
		last = min(last, dead)
	}
	return last
}

// lastOperation is the day of the last of the patient of row i, before which
// nobody can have died.
func (m *Mended) lastOperation(i int) row.Day {
	last := m.rows[i].Operation
	for k := range m.of.rows {
		if op := m.of.rows[k].Operation; m.of.role(k) == row.Primaries && m.of.patient(k) != 0 && op.Known() && op <= m.of.facts.Closing {
			last = max(last, op)
		}
	}
	return last
}

func (m *Mended) revisedOn(i int, day row.Day) {
	from := m.of.fates[i].RevisionFrom
	switch {
	case from < 0 || m.rows[i].Revision != row.NoDay:
		m.rows[i].Revision = day
	case m.of.role(int(from)) == row.Revisions:
		m.rows[from].Revision = day
	default:
		m.rows[from].Operation = day
	}
}

func (m *Mended) ifUnclear(i int, then func(*Mended, int)) {
	if m.rows[i].Flags&row.FlagRevisedUnclear != 0 && m.of.state[i].revision == row.NoDay {
		then(m, i)
	}
}

func (m *Mended) notRevised(i int) {
	m.rows[i].Revision = row.NoDay
	m.rows[i].Flags &^= row.FlagRevisedYes
	if from := m.of.fates[i].RevisionFrom; from >= 0 {
		m.gone[from] = true
	}
}

// alive takes away a death, from the row that tells it too.
func (m *Mended) alive(i int) {
	for _, k := range []int32{int32(i), m.of.fates[i].DeathFrom} {
		switch {
		case k < 0:
		case m.of.role(int(k)) == row.Deaths:
			for j := range m.rows {
				m.gone[j] = m.gone[j] || m.of.role(j) == row.Deaths
			}
		default:
			m.rows[k].Death = row.NoDay
			m.rows[k].Flags &^= row.FlagDeadYes
		}
	}
}

func (m *Mended) diedOn(i int, day row.Day) {
	if from := m.of.fates[i].DeathFrom; from >= 0 {
		i = int(from)
	}
	m.rows[i].Death = day
}

func (m *Mended) ageless(i int) {
	m.rows[i].Age, m.rows[i].Birth = row.Age{Years: row.NoAge, Column: row.ColumnAge}, row.NoDay
}

// revision makes a row of a joint that stands in the tables already a revision
// of it.
func (m *Mended) revision(i int) {
	if m.of.fates[i].Of >= 0 {
		m.rows[i].Flags |= row.FlagNotPrimary | row.FlagOperationTypeNotPrimary
		m.rows[i].Flags &^= row.FlagOperationTypePrimary | row.FlagOperationTypeUnknown
	}
}

func (m *Mended) twoJoints(i int) {
	m.rows[i].Flags &^= row.FlagBothSides
	m.rows[i].Side = m.of.facts.Left
	right := m.rows[i]
	right.Side = m.of.facts.Right
	m.added = append(m.added, right)
}

// anotherSide gives a row a side that no row has.
func (m *Mended) anotherSide(i int) { m.rows[i].Side = math.MaxUint16 - 2 - row.Code(i) } // of two more it may be left and right
