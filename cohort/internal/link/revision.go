package link

import (
	"cmp"
	"slices"

	"example.org/holdfast/cohort/internal/row"
)

// hasJoint says whether a row tells of one joint of one patient.
func (l *Linker) hasJoint(i int) bool {
	r := &l.rows[i]
	return l.patient(i) != 0 && (r.Joint != 0 && r.Side != 0 && r.Flags&row.FlagBothSides == 0 || l.byName(i))
}

// byName says whether only the name of its joint tells of which joint a row of a
// list is.
func (l *Linker) byName(i int) bool {
	r := &l.rows[i]
	return r.Flags&row.FlagNamed != 0 && (r.Joint == 0 || r.Side == 0 || r.Flags&row.FlagBothSides != 0 || l.nobodys)
}

func (l *Linker) sameJoint(a, b int) bool {
	return l.rows[a].Joint == l.rows[b].Joint && l.rows[a].Side == l.rows[b].Side
}

// nameIn is the name by which alone a row is joined; 0 if it is not.
func (l *Linker) nameIn(i int) uint64 {
	if l.byName(i) {
		return l.rows[i].Name
	}
	return 0
}

// revisionDay is the day of a row that records a revision. A row of operations
// has it as the day of the operation, and a date of revision beside it is the
// next one's.
func (l *Linker) revisionDay(i int) row.Day {
	first, second := l.rows[i].Revision, l.rows[i].Operation
	if l.role(i) == row.Primaries {
		first, second = second, first
	}
	if first != row.NoDay {
		return first
	}
	return second
}

// mayRevise says whether a row may record a revision apart from its primary.
func (l *Linker) mayRevise(i int) bool {
	r := &l.rows[i]
	t := &l.facts.Tables[r.Table]
	switch {
	case t.Role == row.Deaths,
		t.Role == row.Primaries && !t.Patients,
		r.Flags&(row.FlagUnreadable|row.FlagReoperation) != 0, // in the latter nothing was exchanged
		r.Flags&row.FlagBare != 0 && l.patient(i) == 0:
		return false
	}
	return t.Role == row.Revisions || r.Flags&row.FlagOperationTypeUnknown != 0 || r.Flags.RecordsRevision()
}

// mustRevise says that such a row is a revision, even if no primary is found
// beside it.
func (l *Linker) mustRevise(i int) bool {
	t := &l.facts.Tables[l.rows[i].Table]
	return t.Role == row.Revisions || t.Operations && l.rows[i].Flags&row.FlagOperationTypeUnknown == 0
}

// joinRevisions joins rows that record revisions to their primaries by joint
// and side. The first revision on or after the primary is the joint's; later
// ones are kept apart, and what has no primary before it is never counted as
// anybody's. Where a table has no column of types, a procedure that says
// revision is one only beside its primary. A row whose type is not understood
// may be a revision of the primary before it, which is noted. A row of a table of
// revisions that has the day of the primary, and as that of an operation, is the
// primary itself.
func (l *Linker) joinRevisions() {
	l.order = l.order[:0]
	for i := range l.rows {
		switch {
		case !l.mayRevise(i):
		case l.hasJoint(i):
			l.order = append(l.order, int32(i))
		case l.mustRevise(i):
			l.fates[i].Reason = row.RevisionUnlinkable
		}
	}
	if len(l.order) == 0 {
		return
	}
	slices.SortFunc(l.order, func(a, b int32) int {
		x, y := &l.rows[a], &l.rows[b]
		return cmp.Or(cmp.Compare(x.Joint, y.Joint), cmp.Compare(x.Side, y.Side), cmp.Compare(l.nameIn(int(a)), l.nameIn(int(b))), cmp.Compare(l.revisionDay(int(a)), l.revisionDay(int(b))), cmp.Compare(a, b))
	})
	for rest := l.order; len(rest) > 0; {
		n := 1
		for n < len(rest) && l.sameJoint(int(rest[0]), int(rest[n])) && l.nameIn(int(rest[0])) == l.nameIn(int(rest[n])) {
			n++
		}
		if of := l.primaryOf(int(rest[0])); of >= 0 {
			l.joinTo(of, rest[:n])
		} else {
			for _, i := range rest[:n] {
				if l.mustRevise(int(i)) {
					l.fates[i].Reason = row.RevisionWithoutPrimary
				}
			}
		}
		rest = rest[n:]
	}
}

// primaryOf is the earliest primary of a row's joint, −1 if there is none.
func (l *Linker) primaryOf(revision int) int {
	of := -1
	for i := range l.rows {
		r := &l.rows[i]
		if l.role(i) != row.Primaries || r.Flags&(row.FlagUnreadable|row.FlagNotPrimary|row.FlagOperationTypeUnknown|row.FlagBare) != 0 ||
			!r.Operation.Known() {
			continue
		}
		if name := l.nameIn(revision); name != 0 && r.Name != name || name == 0 && !(l.hasJoint(i) && l.sameJoint(i, revision)) {
			continue
		}
		if of < 0 || r.Operation < l.rows[of].Operation {
			of = i
		}
	}
	return of
}

// joinTo joins the records of one joint, by day, to its primary.
func (l *Linker) joinTo(of int, records []int32) {
	primary, s := &l.fates[of], &l.state[of]
	op, own := l.rows[of].Operation, l.rows[of].Revision
	joined := false
	for _, i := range records {
		fate, day := &l.fates[i], l.revisionDay(int(i))
		done := func(outcome row.Reason) { fate.Reason, fate.Of = outcome, int32(of) }
		switch {
		case l.rows[i].Flags&row.FlagOperationTypeUnknown != 0 && l.role(int(i)) == row.Primaries:
			if day.Known() && day >= op {
				fate.Of = int32(of)
			}
		case !day.Known():
			done(row.RevisionUndated)
			if own == row.NoDay && !joined {
				s.revisedYes = true // on a day nobody knows
			}
			if primary.RevisionFrom < 0 || i < primary.RevisionFrom { // the first, as the tables stand
				primary.RevisionFrom = i
			}
		case day < op:
			done(row.RevisionBeforePrimary)
		case day == op && l.role(int(i)) == row.Revisions && l.rows[i].Revision == row.NoDay:
			done(row.RevisionIsPrimary)
		case joined || own.Known() && own < day:
			done(row.RevisionLater)
			if !joined { // the table's own date comes first
				primary.Warn.Add(row.WarnRevisionDiffers)
			}
		default:
			joined = true
			done(row.RevisionJoined)
			if own.Known() && own != day {
				primary.Warn.Add(row.WarnRevisionDiffers)
			}
			s.revision, primary.RevisionFrom = day, i
			if s.reason == 0 {
				s.reason = l.rows[i].Reason
			}
		}
	}
}
