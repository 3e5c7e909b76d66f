package link

import "example.org/holdfast/cohort/internal/row"

// plain says whether there is nothing to judge of a patient, as most are: each row is
// the primary of a joint of its own, tells no more of it than when it was operated on,
// seen, revised and the patient died, in a possible order, and no row tells another day
// of death. The steps then come to each row's own follow-up, which a test holds.
func (l *Linker) plain() bool {
	if l.Crowd || len(l.rows) > mostOperations {
		return false
	}
	for i := range l.rows {
		r := &l.rows[i]
		if !l.plainWords(r) || !l.plainDays(r) || r.Death != l.rows[0].Death {
			return false
		}
		for of := range i {
			if l.sameJoint(i, of) {
				return false
			}
		}
	}
	return true
}

// plainWords says that the words and the age of a row tell nothing else, and nothing that
// contradicts its days.
func (l *Linker) plainWords(r *row.Row) bool {
	flags, years := r.Flags&^row.FlagOperationTypePrimary, r.Age.Years
	if !l.facts.Sides {
		flags &^= row.FlagSideMissing
	}
	if r.Revision == row.NoDay {
		flags &^= row.FlagRevisedNo
	} else {
		flags &^= row.FlagRevisedYes
	}
	if r.Death == row.NoDay {
		flags &^= row.FlagDeadNo
	} else {
		flags &^= row.FlagDeadYes
	}
	return flags == 0 && l.facts.Tables[r.Table].Role == row.Primaries && (r.Reason == 0 || r.Revision != row.NoDay) &&
		(years == row.NoAge || years >= row.MinAge && years <= row.MaxAge) && !r.Age.Disagrees && r.Age.Unreadable == row.WholeRow
}

// plainDays says that the days of a row are possible, and in order.
func (l *Linker) plainDays(r *row.Row) bool {
	op, today := r.Operation, l.facts.Today
	switch {
	case !op.Known() || op > l.facts.Closing || op > today,
		r.Revision != row.NoDay && (r.Revision <= op || r.Revision > today),
		r.Death != row.NoDay && (r.Death < op || r.Death > today || r.Death < r.Revision),
		r.Seen != row.NoDay && (r.Seen < op || r.Seen > today):
		return false
	}
	return true
}

// followPlain adds the joints of plain rows.
func (l *Linker) followPlain() {
	for i := range l.rows {
		r, j := &l.rows[i], l.newJoint(i)
		end, cause := l.endOf(r.Revision, r.Death, r.Seen)
		j.Revision, j.Death, j.Again, j.Seen, j.Reason = r.Revision, r.Death, row.NoDay, r.Seen, r.Reason
		j.Exit, j.Cause, j.Dead, j.DeadUndated = int32(end-r.Operation), cause, r.Death != row.NoDay, false
		if j.Lost = l.isLost(end, cause); j.Lost {
			l.fates[i].Warn.Add(row.WarnLost)
		}
	}
}
