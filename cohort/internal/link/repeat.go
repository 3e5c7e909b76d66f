package link

import (
	"cmp"
	"slices"

	"example.org/holdfast/cohort/internal/row"
)

// markRepeats sets aside the later rows of each joint of a patient; of one day,
// the row that knows less. The first row may itself be set aside for another
// reason; a later one is then no more a primary than otherwise.
func (l *Linker) markRepeats() {
	l.order = l.order[:0]
	for i := range l.rows {
		if r := &l.rows[i]; l.role(i) == row.Primaries && r.Patient != 0 && r.Joint != 0 && r.Side != 0 && isJoint(l.fates[i].Reason) {
			l.order = append(l.order, int32(i))
		}
	}
	if !l.mayRepeat() {
		return
	}
	slices.SortStableFunc(l.order, func(a, b int32) int {
		x, y := &l.rows[a], &l.rows[b]
		return cmp.Or(cmp.Compare(x.Joint, y.Joint), cmp.Compare(x.Side, y.Side), cmp.Compare(x.Operation, y.Operation), -cmp.Compare(l.knows(int(a)), l.knows(int(b))))
	})
	first := l.order[0]
	for _, i := range l.order[1:] {
		fate := &l.fates[i]
		sameDay := l.rows[first].Operation == l.rows[i].Operation
		switch {
		case !l.sameJoint(int(first), int(i)):
			first = i
		case fate.Reason != row.Used:
		case !sameDay:
			*fate = row.Fate{Reason: row.PossibleRevision, Column: row.ColumnOperationDate, Of: first, RevisionFrom: -1, DeathFrom: -1}
		case l.fates[first].Reason == row.Used:
			*fate = row.Fate{Reason: row.DuplicateRow, Column: row.ColumnOperationDate, Of: first, RevisionFrom: -1, DeathFrom: -1}
		default: // entered again, and now it can be used
			first = i
		}
	}
}

// mayRepeat says of few rows whether two of those in order are of one joint.
func (l *Linker) mayRepeat() bool {
	const few = 8
	if len(l.order) > few {
		return true
	}
	for k, a := range l.order {
		for _, b := range l.order[:k] {
			if l.sameJoint(int(a), int(b)) {
				return true
			}
		}
	}
	return false
}

// isJoint says whether a row with this fate is a primary operation of a known
// day, though it may be set aside for what came after, or for the age. Where
// the revision or the death comes before it, the day itself is in doubt.
func isJoint(r row.Reason) bool {
	switch r {
	case row.Used, row.RevisionDateImpossible, row.RevisionYearShort, row.RevisedWithoutDate, row.DeadWithoutDate, row.AgeOutOfRange:
		return true
	}
	return false
}

// knows counts what a row itself says about what came after the operation.
func (l *Linker) knows(i int) int {
	n, s := 0, &l.state[i]
	for _, day := range [...]row.Day{s.revision, s.death, l.rows[i].Seen} {
		if day.Known() {
			n++
		}
	}
	if s.deathTaken && s.death.Known() {
		n--
	}
	return n
}
