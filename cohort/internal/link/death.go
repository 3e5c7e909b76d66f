package link

import "example.org/holdfast/cohort/internal/row"

// undatedDeath says whether a row says that the patient is dead, and not since
// when.
func (s *state) undatedDeath() bool { return s.death.Unreadable() || s.death == row.NoDay && s.deadYes }

// joinDeaths gives the rows of the primaries the day of death of a list of
// deaths. Of several the earliest is used.
func (l *Linker) joinDeaths() (listed, joined bool) {
	l.listed = l.listedDeath()
	from := l.listed
	if from < 0 {
		return false, false
	}
	day := l.rows[from].Death
	for i := range l.rows {
		if l.role(i) != row.Primaries || l.patient(i) == 0 {
			continue
		}
		joined = true
		s := &l.state[i]
		if s.death == day {
			continue
		}
		if s.death.Known() {
			l.fates[i].Warn.Add(row.WarnDeathDiffers)
		}
		s.death, s.deathListed = day, true
		l.fates[i].DeathFrom = int32(from)
	}
	return true, joined
}

// listedDeath is the row of a list of deaths that is used; −1 if there is none.
func (l *Linker) listedDeath() int {
	from := -1
	for i := range l.rows {
		if l.role(i) == row.Deaths && l.rows[i].Patient != 0 && l.rows[i].Death.Known() && (from < 0 || l.rows[i].Death < l.rows[from].Death) {
			from = i
		}
	}
	return from
}

// judgeDeath says what became of a row of a list of deaths.
func (l *Linker) judgeDeath(i int) {
	fate, r := &l.fates[i], &l.rows[i]
	fate.Column = row.ColumnDeathDate
	switch {
	case r.Flags&row.FlagUnreadable != 0:
		fate.Reason, fate.Column = row.RowUnreadable, row.WholeRow
	case r.Patient == 0:
		fate.Reason, fate.Column = row.DeathUnlinkable, row.ColumnPatient
	case !r.Death.Known():
		fate.Reason = row.DeathUndated
	default:
		if of := l.listed; l.rows[of].Death != r.Death {
			fate.Reason, fate.Of = row.DeathContradicted, int32(of)
		}
	}
}

// deathTold is the day of death that a row gives the patient's other rows: none
// that is in the future, or before the row's own operation, since it is then in
// doubt. dead says that it gives a death, dated or not.
func (l *Linker) deathTold(i int) (day row.Day, dead bool) {
	r, s := &l.rows[i], &l.state[i]
	if r.Flags&(row.FlagUnreadable|row.FlagBare) != 0 {
		return row.NoDay, false
	}
	if day = s.death; day.Known() {
		op := l.rows[i].Operation
		if l.role(i) == row.Revisions {
			op = l.revisionDay(i)
		} else if op == row.NoDay {
			op = s.revision
		}
		if day > l.facts.Today || op.Known() && day < op {
			return row.NoDay, false
		}
		return day, true
	}
	return row.NoDay, s.undatedDeath()
}

// shareDeaths lets a death on any row of a patient hold for all of the patient's
// joints: of a row of operations, of a table of revisions, or of another joint.
// Of two days the earlier is used, as with the list of deaths, which goes before
// both. A death without a day is shared where there is none with one.
func (l *Linker) shareDeaths() {
	if l.rows[0].Patient == 0 || len(l.rows) == 1 {
		return
	}
	told, toldDay, primaries := -1, row.NoDay, 0
	for i := range l.rows {
		switch l.role(i) {
		case row.Primaries:
			primaries++
		case row.Revisions:
			if day, dead := l.deathTold(i); dead && (told < 0 || !l.rows[told].Death.Known() || day.Known() && day < l.rows[told].Death) {
				told, toldDay = i, day
			}
		}
	}
	if l.nobodys {
		return
	}
	if told >= 0 {
		for i := range l.rows {
			l.giveDeath(i, toldDay)
		}
	}
	if primaries > 1 {
		first, dead := row.NoDay, false
		for i := range l.rows {
			if l.role(i) != row.Primaries {
				continue
			}
			day, tells := l.deathTold(i)
			dead = dead || tells
			if day.Known() && (!first.Known() || day < first) {
				first = day
			}
		}
		if dead {
			for i := range l.rows {
				l.giveDeath(i, first)
			}
		}
	}
	l.findTellers(told, primaries > 1)
}

// giveDeath gives a row of the primaries a death told by another row.
func (l *Linker) giveDeath(i int, day row.Day) {
	s := &l.state[i]
	if l.role(i) != row.Primaries || l.rows[i].Flags&(row.FlagUnreadable|row.FlagBare) != 0 {
		return
	}
	switch {
	case !day.Known():
		if !s.death.Known() && !s.undatedDeath() {
			s.deadYes, s.deathTaken = true, true
		}
	case !s.death.Known():
		s.death, s.deathTaken = day, true
	case s.death > day && s.death >= l.rows[i].Operation:
		s.death, s.deathRowsDiffer = day, true
	}
}

// findTellers notes, for the rows that were given a death, the row that has it
// by itself: one of the primaries if there is one, else one of a table of
// revisions.
func (l *Linker) findTellers(told int, shared bool) {
	last, from := row.NoDay, int32(-1)
	for i := range l.rows {
		s := &l.state[i]
		if !s.deathTaken && !s.deathRowsDiffer {
			continue
		}
		if from < 0 || s.death != last {
			last, from = s.death, int32(told)
			for of := range l.rows {
				if o := &l.state[of]; shared && l.role(of) == row.Primaries && !o.deathTaken && !o.deathRowsDiffer &&
					(o.death == last && last.Known() || !last.Known() && o.undatedDeath()) {
					from = int32(of)
					break
				}
			}
		}
		l.fates[i].DeathFrom = from
		if s.deathTaken {
			l.fates[i].Warn.Add(row.WarnDeathTaken)
		}
		if s.deathRowsDiffer {
			l.fates[i].Warn.Add(row.WarnDeathRows)
		}
	}
}
