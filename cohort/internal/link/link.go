// Package link turns the rows of one patient into that patient's joints and
// every other row's fate. It is a pure function of these rows and of what is
// known of the tables: it sees no other patient, and changes nothing it is
// given. Nor does it know files or words, so that a test is a few literal rows.
package link

import (
	"iter"
	"slices"

	"example.org/holdfast/cohort/internal/row"
)

// Linker has the room in which patients are linked, one after another. The zero
// value is ready for use. It is not safe for several goroutines.
type Linker struct {
	// Crowd says that the rows are some of those of an identifier that stands for
	// many people; see [IsCrowd].
	Crowd bool

	rows  []row.Row // as given
	facts *row.Facts

	// nobodys: the identifier stands for many people, so that each row of a
	// table of primaries is linked alone.
	nobodys bool

	state  []state // none of plain rows
	fates  []row.Fate
	joints []row.Joint
	linked row.Linked // the result
	order  []int32    // scratch
	listed int        // the row of a list of deaths that is used; −1 if there is none
}

// state is what a row has come to so far. It starts as the row itself, and
// what other rows say is noted here.
//
// No two fields stand here in the order in which they stand in a row or a joint: they
// would be copied as one, which a processor that has just written one of them waits for.
type state struct {
	revision        row.Day
	exit            int32
	again           row.Day // the first recorded revision after that one
	death           row.Day
	reason          row.Code
	revisedYes      bool // on a day nobody knows, perhaps
	deadYes         bool
	deathListed     bool // the day is that of a list of deaths
	deathTaken      bool
	deathRowsDiffer bool
	lost            bool
	cause           row.Cause
	role            row.Role // of its table
}

// Patient links all rows of one patient, from whatever tables, which are in the
// order of their places, or a single row that has no patient. The steps depend on one another and
// come in this order:
//
//  1. identifiers that are nobody's;
//  2. revisions, to the earliest primary of their joint;
//  3. deaths of the lists of deaths;
//  4. deaths told by tables of revisions, and then by the patient's other rows;
//  5. each row judged;
//  6. joints that stand in the tables twice.
//
// The result is valid until the next call.
func (l *Linker) Patient(rows []row.Row, f *row.Facts) *row.Linked {
	l.begin(rows, f)
	if l.plain() {
		l.followPlain()
	} else {
		l.judgeAll()
	}
	l.linked.Fates, l.linked.Joints, l.linked.Nobodys = l.fates, l.joints, l.nobodys
	return &l.linked
}

// begin makes the room for the rows of a patient.
func (l *Linker) begin(rows []row.Row, f *row.Facts) {
	l.rows, l.facts, l.nobodys = rows, f, false
	l.linked.OnList, l.linked.ListJoined = false, false
	n := len(rows)
	l.state, l.fates, l.joints = l.state[:0], slices.Grow(l.fates[:0], n)[:n], slices.Grow(l.joints[:0], n)
	for i := range l.fates {
		f := &l.fates[i]
		f.Reason, f.Column, f.Warn, f.Of, f.RevisionFrom, f.DeathFrom = row.Used, row.WholeRow, 0, -1, -1, -1
	}
}

// judgeAll takes all steps.
func (l *Linker) judgeAll() {
	l.ownState()
	l.nobodys = l.Crowd || len(l.rows) > mostOperations && l.isNobodys()
	l.joinRevisions()
	l.linked.OnList, l.linked.ListJoined = l.joinDeaths()
	if !l.linked.OnList {
		l.shareDeaths()
	}
	for i := range l.rows {
		l.settle(i)
	}
	if len(l.rows) > 1 && !l.nobodys {
		l.markRepeats()
	}
	l.findLater()
	for i := range l.fates {
		if l.fates[i].Reason == row.Used && l.role(i) == row.Primaries {
			l.addJoint(i)
		}
	}
}

// ownState is what each row says itself.
func (l *Linker) ownState() {
	l.state = slices.Grow(l.state, len(l.rows))[:len(l.rows)]
	clear(l.state)
	for i := range l.rows {
		r, s := &l.rows[i], &l.state[i]
		s.revision, s.death, s.again, s.reason, s.role = r.Revision, r.Death, row.NoDay, r.Reason, l.facts.Tables[r.Table].Role
		s.revisedYes, s.deadYes = r.Flags&row.FlagRevisedYes != 0, r.Flags&row.FlagDeadYes != 0
	}
}

// settle gives a row its fate, as far as it doesn't hang on the repeats.
func (l *Linker) settle(i int) {
	fate := &l.fates[i]
	switch l.role(i) {
	case row.Primaries:
		l.judge(i)
		if l.nobodys {
			if fate.Reason == row.Used {
				fate.Warn.Add(row.WarnIdentifier)
			}
		}
		if fate.Of >= 0 && !isRevision(fate.Reason) { // its type is not understood
			fate.Column = row.ColumnOperationDate
			if fate.Reason == row.OperationTypeNotUnderstood {
				fate.Column = row.ColumnOperationType
			}
		}
	case row.Revisions:
		switch f := l.rows[i].Flags; {
		case f&row.FlagUnreadable != 0:
			fate.Reason = row.RowUnreadable
		case fate.Reason == row.Used && f&row.FlagBare != 0:
			fate.Reason = row.NotAJoint
		}
	case row.Deaths:
		l.judgeDeath(i)
	}
}

func (l *Linker) role(i int) row.Role { return l.state[i].role }

// patient of a row, or 0 if it has none.
func (l *Linker) patient(i int) uint64 {
	if l.nobodys && l.role(i) == row.Primaries {
		return 0
	}
	return l.rows[i].Patient
}

// findLater notes for each joint the first revision after the one that is its own.
// One of the same day is the same operation, recorded twice.
func (l *Linker) findLater() {
	for k := range l.fates {
		if l.fates[k].Reason != row.RevisionLater {
			continue
		}
		s := &l.state[l.fates[k].Of]
		if day := l.revisionDay(k); day > s.revision && (s.again == row.NoDay || day < s.again) {
			s.again = day
		}
	}
}

// addJoint adds the joint in use of row i.
func (l *Linker) addJoint(i int) {
	r, s, j := &l.rows[i], &l.state[i], l.newJoint(i)
	j.Revision, j.Death, j.Again, j.Seen = s.revision, s.death, s.again, row.NoDay
	if l.seenUsable(i) {
		j.Seen = r.Seen
	}
	j.Reason, j.Exit, j.Cause, j.Lost = s.reason, s.exit, s.cause, s.lost
	j.Dead, j.DeadUndated = s.death != row.NoDay || s.deadYes, s.undatedDeath()
}

// newJoint is a joint of row i to be filled in.
func (l *Linker) newJoint(i int) *row.Joint {
	at := len(l.joints)
	l.joints = l.joints[:at+1] // there is room for one a row
	j := &l.joints[at]
	j.Row, j.Start = int32(i), l.rows[i].Operation
	return j
}

// isRevision says that a reason tells what became of a row that records a
// revision.
func isRevision(r row.Reason) bool { return r >= row.RevisionJoined && r <= row.RevisionUnlinkable }

// mostOperations is how many days of primary operations one patient may have:
// two hips and the parts of two knees leave room for one that is entered twice.
const mostOperations = 6

// mostRows is how many rows of the primaries one patient may have: each operation
// four times.
const mostRows = 4 * mostOperations

// IsCrowd says whether many rows of one identifier stand for many people, and are all
// of tables of primaries: each is then linked alone, in whatever pieces they come.
func IsCrowd(rows iter.Seq[*row.Row], f *row.Facts) bool {
	n, born, bornOnOneDay := 0, row.NoDay, true
	for r := range rows {
		if f.Tables[r.Table].Role != row.Primaries || r.Patient == 0 {
			return false
		}
		if n == 0 {
			born = r.Birth
		}
		n++
		bornOnOneDay = bornOnOneDay && r.Birth.Known() && r.Birth == born
	}
	return n > mostRows && !bornOnOneDay
}

// isNobodys says whether the rows would give a patient more operations than
// anybody has: a word such as "x" or "private", typed where there was none,
// must not make one patient of many. Rows that give one date of birth are one
// patient's all the same.
func (l *Linker) isNobodys() bool {
	if l.rows[0].Patient == 0 {
		return false
	}
	days := make(map[row.Day]bool)
	born, bornOnOneDay, primaries := row.NoDay, true, 0
	for i := range l.rows {
		r := &l.rows[i]
		if l.role(i) != row.Primaries {
			continue
		}
		if primaries == 0 {
			born = r.Birth
		}
		primaries++
		bornOnOneDay = bornOnOneDay && r.Birth.Known() && r.Birth == born
		if r.Operation.Known() && r.Flags&(row.FlagUnreadable|row.FlagNotPrimary|row.FlagOperationTypeUnknown|row.FlagBare) == 0 {
			days[r.Operation] = true
		}
	}
	return (len(days) > mostOperations || primaries > mostRows) && !bornOnOneDay
}
