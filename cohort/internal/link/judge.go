package link

import "example.org/holdfast/cohort/internal/row"

// judge applies the rules to a row of the primaries.
func (l *Linker) judge(i int) {
	fate := &l.fates[i]
	if !isRevision(fate.Reason) {
		fate.Reason, fate.Column = l.aside(i)
	} else {
		fate.Column = row.ColumnOperationType
	}
	if fate.Reason == row.Used {
		fate.Reason, fate.Column = l.follow(i)
	}
	if fate.Reason == row.Used {
		l.warn(i)
	} else {
		fate.Warn = 0
	}
}

// aside says why a row is no primary that can be followed. The cases stand in
// the order in which they matter to whoever mends the row.
func (l *Linker) aside(i int) (row.Reason, row.Column) {
	r, s, t := &l.rows[i], &l.state[i], &l.facts.Tables[l.rows[i].Table]
	f, op := r.Flags, r.Operation
	switch {
	case f&row.FlagUnreadable != 0:
		return row.RowUnreadable, row.WholeRow
	case f&row.FlagBare != 0 && (op == row.NoDay || t.BareAside):
		return row.NotAJoint, row.ColumnOperationDate
	case op == row.NoDay:
		return row.OperationDateMissing, row.ColumnOperationDate
	case op == row.ShortYear:
		return row.OperationYearShort, row.ColumnOperationDate
	case op == row.Impossible:
		return row.OperationDateImpossible, row.ColumnOperationDate
	case f&row.FlagOperationTypeNotPrimary != 0:
		return row.NotPrimary, row.ColumnOperationType
	case f&row.FlagNotPrimary != 0:
		return row.NotPrimary, row.ColumnProcedure
	case f&row.FlagOperationTypeUnknown != 0:
		return row.OperationTypeNotUnderstood, row.ColumnOperationType
	case f&row.FlagBothSides != 0:
		return row.BothSides, row.ColumnSide
	case op > l.facts.Today:
		return row.DateInFuture, row.ColumnOperationDate
	case op > l.facts.Closing:
		return row.OperationAfterClosing, row.ColumnOperationDate
	case s.revision == row.ShortYear:
		return row.RevisionYearShort, row.ColumnRevisionDate
	case s.revision == row.Impossible:
		return row.RevisionDateImpossible, row.ColumnRevisionDate
	case s.revision > l.facts.Today:
		return row.DateInFuture, row.ColumnRevisionDate
	case s.death > l.facts.Today:
		return row.DateInFuture, row.ColumnDeathDate
	case s.revision == row.NoDay && s.revisedYes:
		return row.RevisedWithoutDate, row.ColumnRevised
	case s.revision != row.NoDay && s.revision < op:
		return row.RevisionBeforeOperation, row.ColumnRevisionDate
	case s.death.Known() && s.death < op:
		return row.DeathBeforeOperation, row.ColumnDeathDate
	case r.Age.Years != row.NoAge && (r.Age.Years < row.MinAge || r.Age.Years > row.MaxAge):
		return row.AgeOutOfRange, r.Age.Column
	}
	return row.Used, row.WholeRow
}

func (l *Linker) seenUsable(i int) bool {
	r := &l.rows[i]
	return r.Seen.Known() && r.Seen >= r.Operation && r.Seen <= l.facts.Today
}

// follow finds the end of follow-up of a row that is a joint's, and how it is known.
func (l *Linker) follow(i int) (row.Reason, row.Column) {
	r, s, fate := &l.rows[i], &l.state[i], &l.fates[i]
	seen := row.NoDay
	if l.seenUsable(i) {
		seen = r.Seen
	}
	var end row.Day
	end, s.cause = l.endOf(s.revision, s.death, seen)
	s.exit = int32(end - r.Operation)
	if s.cause == row.Censored && s.undatedDeath() && s.revision == row.NoDay {
		column, warning := row.ColumnDead, row.WarnDeadUndated
		if s.death.Unreadable() {
			column, warning = row.ColumnDeathDate, row.WarnDeathUnreadable
		}
		if seen == row.NoDay {
			return row.DeadWithoutDate, column
		}
		fate.Warn.Add(warning)
	}
	if s.lost = l.isLost(end, s.cause) && !s.undatedDeath(); s.lost {
		fate.Warn.Add(row.WarnLost)
	}
	return row.Used, row.WholeRow
}

// endOf is the end of follow-up: revision, else death, else the earlier of last seen and
// closing date. An event after the closing date has not happened yet, but proves follow-up to
// it.
func (l *Linker) endOf(revision, death, seen row.Day) (end row.Day, cause row.Cause) {
	closing := l.facts.Closing
	switch {
	case revision != row.NoDay && revision <= closing:
		return revision, row.Revised
	case death.Known() && death <= closing:
		return death, row.Died
	case revision == row.NoDay && !death.Known() && seen != row.NoDay:
		return min(seen, closing), row.Censored
	}
	return closing, row.Censored
}

// isLost says that follow-up ends long before the closing date, and nothing is known to have
// ended it.
func (l *Linker) isLost(end row.Day, cause row.Cause) bool {
	return cause == row.Censored && int32(l.facts.Closing-end) > l.facts.LostAfter
}

// warn notes what is said of a row though it is used.
func (l *Linker) warn(i int) {
	r, s := &l.rows[i], &l.state[i]
	w := &l.fates[i].Warn
	*w |= r.Flags.Warnings()
	if r.Flags&row.FlagCut != 0 && l.facts.Tables[r.Table].Whole {
		w.Add(row.WarnCut)
	}
	if s.revision.Known() && s.revision == r.Operation {
		w.Add(row.WarnRevisionOnTheDay)
	}
	if s.revision.Known() && s.death.Known() && s.revision > s.death {
		w.Add(row.WarnRevisionAfterDeath)
	}
	switch {
	case r.Seen.Unreadable() || r.Seen > l.facts.Today:
		w.Add(row.WarnSeenUnusable)
	case r.Seen != row.NoDay && r.Seen < r.Operation:
		w.Add(row.WarnSeenBefore)
	}
	if s.revision.Known() && r.Flags&row.FlagRevisedNo != 0 {
		w.Add(row.WarnRevisedNo)
	}
	if s.death.Known() && r.Flags&row.FlagDeadNo != 0 {
		w.Add(row.WarnDeadNo)
	}
	switch r.Age.Unreadable {
	case row.ColumnAge:
		w.Add(row.WarnAge)
	case row.ColumnBirthYear:
		w.Add(row.WarnBirthYear)
	case row.ColumnBirthDate:
		w.Add(row.WarnBirthDate)
	}
	if r.Age.Disagrees {
		w.Add(row.WarnAgeDisagrees)
	}
	if s.revision == row.NoDay && s.reason != 0 {
		w.Add(row.WarnReason)
	}
	if r.Flags&row.FlagSideMissing != 0 && l.facts.Sides {
		w.Add(row.WarnSide)
	}
}
