package cohort

import (
	"cmp"
	"slices"
	"strings"
)

// role is what one of the tables holds.
type role uint8

const (
	primaries role = iota // one row per primary, or per operation of any kind
	revisions             // one row per revision, joined to the primaries
	deaths                // one row per death, joined by patient
)

func (r role) String() string { return [...]string{"primaries", "revisions", "deaths"}[r] }

// Revision is one row that records a revision apart from its primary: of a
// table of revisions, or of a table of operations of any kind.
type Revision struct {
	File, Row int
	// Outcome is RevisionJoined, RevisionLater, RevisionWithoutPrimary,
	// RevisionBeforePrimary, RevisionUndated or RevisionUnlinkable.
	Outcome Reason
	// Of is the row of the primary; 0 if there is none.
	OfFile, Of int
	// Missing are the columns without which a row can't be joined: patient,
	// joint and side, as far as they say nothing of one joint.
	Missing []string
}

// jointKey is one joint of one patient.
type jointKey struct {
	who         uint64
	joint, side uint16
}

func (ch *chunk) jointKey(i int) (k jointKey, ok bool) {
	if ch.who != nil {
		k.who = ch.who[i]
	}
	k.joint, k.side = ch.core[coreJoint][i], ch.core[coreSide][i]
	return k, k.who != 0 && k.joint != 0 && k.side != 0 && ch.flags[i]&flagBothSides == 0
}

// record is a revision on its way to its primary.
type record struct {
	at     place
	day    int32
	reason uint16
}

// notLinked names the columns that keep a row from being joined to its primary.
func (ch *chunk) notLinked(i int) []string {
	var missing []string
	if ch.who == nil || ch.who[i] == 0 {
		missing = append(missing, "patient")
	}
	if ch.core[coreJoint][i] == 0 {
		missing = append(missing, "joint")
	}
	if ch.core[coreSide][i] == 0 || ch.flags[i]&flagBothSides != 0 {
		missing = append(missing, "side")
	}
	return missing
}

// revisionDay is the day of a row that records a revision. A row of operations
// has it as the day of the operation, and a date of revision beside it is the
// next one's.
func (ch *chunk) revisionDay(i int) int32 {
	first, second := revision, operation
	if ch.role == primaries {
		first, second = operation, revision
	}
	if day := ch.date(first, i); day != noDay {
		return day
	}
	return ch.date(second, i)
}

// recordsRevision says whether a row of operations records a revision: its type
// says so, or its procedure where the type is missing or not understood.
func (f flags) recordsRevision() bool {
	return f&flagNotPrimary != 0 && f&(flagReoperation|flagUnreadable|flagBare) == 0 && (f&flagOperationTypeNotPrimary != 0 || f&flagOperationTypePrimary == 0)
}

// joinRevisions joins rows that record revisions to their primaries by
// patient, joint and side. The first revision on or after the primary is the
// joint's; later ones are kept apart, and what has no primary before it is
// never counted as anybody's. Where a table has no column of types, a procedure
// that says revision is one only beside its primary. A row whose type is not
// understood may be a revision of the primary before it, which is noted.
func (c *Cohort) joinRevisions() {
	records := make(map[jointKey][]record)
	done := func(at place, outcome Reason, of *place) {
		ch := c.all[at.chunk]
		if ch.outcome == nil {
			ch.outcome = make([]Reason, ch.len())
		}
		ch.outcome[at.i] = outcome
		if of != nil {
			c.repeats[at] = *of
		}
	}
	for ci, ch := range c.all {
		if ch.role == deaths || ch.role == primaries && ch.who == nil {
			continue
		}
		for i, f := range ch.flags {
			switch {
			case f&(flagUnreadable|flagReoperation) != 0: // in the latter nothing was exchanged
				continue
			case f&flagBare != 0 && (ch.who == nil || ch.who[i] == 0):
				continue
			case ch.role == primaries && f&flagOperationTypeUnknown == 0 && !f.recordsRevision():
				continue
			}
			at := place{int32(ci), int32(i)}
			if key, ok := ch.jointKey(i); ok {
				records[key] = append(records[key], record{at, ch.revisionDay(i), ch.extra[extraReason][i]})
			} else if ch.role == revisions || ch.operations && f&flagOperationTypeUnknown == 0 {
				done(at, RevisionUnlinkable, nil)
			}
		}
	}
	if len(records) == 0 {
		return
	}
	candidates := make(map[jointKey][]place)
	for ci, ch := range c.all {
		if ch.role != primaries {
			continue
		}
		for i, f := range ch.flags {
			if f&(flagUnreadable|flagNotPrimary|flagOperationTypeUnknown|flagBare) != 0 || ch.date(operation, i) <= badDay {
				continue
			}
			if key, ok := ch.jointKey(i); ok && records[key] != nil {
				candidates[key] = append(candidates[key], place{int32(ci), int32(i)})
			}
		}
	}
	for key, list := range records {
		slices.SortFunc(list, func(a, b record) int { return cmp.Or(cmp.Compare(a.day, b.day), comparePlaces(a.at, b.at)) })
		found := candidates[key]
		if len(found) == 0 {
			for _, r := range list {
				ch := c.all[r.at.chunk]
				if ch.role == revisions || ch.operations && ch.flags[r.at.i]&flagOperationTypeUnknown == 0 {
					done(r.at, RevisionWithoutPrimary, nil)
				}
			}
			continue
		}
		of := slices.MinFunc(found, func(a, b place) int {
			return cmp.Or(cmp.Compare(c.all[a.chunk].date(operation, int(a.i)), c.all[b.chunk].date(operation, int(b.i))), comparePlaces(a, b))
		})
		c.joinTo(of, list, done)
	}
}

// joinTo joins the records of one joint, by day, to its primary.
func (c *Cohort) joinTo(of place, list []record, done func(place, Reason, *place)) {
	ch, i := c.all[of.chunk], int(of.i)
	if ch.dates[revision] == nil {
		ch.dates[revision] = slices.Repeat([]int32{noDay}, ch.len())
	}
	op, own := ch.date(operation, i), ch.date(revision, i)
	joined := false
	for _, r := range list {
		switch {
		case c.all[r.at.chunk].flags[r.at.i]&flagOperationTypeUnknown != 0 && c.all[r.at.chunk].role == primaries:
			if r.day > badDay && r.day >= op {
				c.repeats[r.at] = of
			}
		case r.day <= badDay:
			done(r.at, RevisionUndated, &of)
			if own == noDay && !joined {
				ch.flags[i] |= flagRevisedYes // on a day nobody knows
			}
		case r.day < op:
			done(r.at, RevisionBeforePrimary, &of)
		case joined || own > badDay && own < r.day:
			done(r.at, RevisionLater, &of)
			if !joined { // the table's own date comes first
				ch.flags[i] |= flagRevisionDiffers
			}
		default:
			joined = true
			done(r.at, RevisionJoined, &of)
			if own > badDay && own != r.day {
				ch.flags[i] |= flagRevisionDiffers
			}
			ch.dates[revision][i] = r.day
			if reasons := ch.extra[extraReason]; reasons[i] == 0 {
				reasons[i] = r.reason
			}
		}
	}
}

func comparePlaces(a, b place) int {
	return cmp.Or(cmp.Compare(a.chunk, b.chunk), cmp.Compare(a.i, b.i))
}

// joinDeaths gives the rows of a patient the day of death of a list of deaths.
func (c *Cohort) joinDeaths() {
	c.listed = make(map[uint64]place)
	for ci, ch := range c.all {
		if ch.role != deaths {
			continue
		}
		for i := range ch.row {
			at := place{int32(ci), int32(i)}
			who, day := uint64(0), ch.date(death, i)
			if ch.who != nil {
				who = ch.who[i]
			}
			if who == 0 || day <= badDay {
				c.DeathList.Unusable++
				continue
			}
			before, ok := c.listed[who]
			if ok {
				of := c.all[before.chunk].date(death, int(before.i))
				if of != day {
					c.DeathList.Contradicting++
				}
				if of <= day {
					continue
				}
			}
			c.listed[who] = at
		}
	}
	if len(c.listed) == 0 {
		return
	}
	c.DeathList.Patients = len(c.listed)
	joined := make(map[uint64]bool)
	for _, ch := range c.all {
		if ch.role != primaries || ch.who == nil {
			continue
		}
		ch.needDeaths()
		for i, who := range ch.who {
			from, ok := c.listed[who]
			if !ok || who == 0 {
				continue
			}
			joined[who] = true
			day := c.all[from.chunk].date(death, int(from.i))
			own := ch.dates[death][i]
			if own == day {
				continue
			}
			ch.flags[i] |= flagDeathListed
			if own > badDay {
				ch.flags[i] |= flagDeathDiffers
			}
			ch.dates[death][i] = day
		}
	}
	c.DeathList.Joined = len(joined)
}

// needDeaths gives a chunk the column of deaths.
func (ch *chunk) needDeaths() {
	if ch.dates[death] == nil {
		ch.dates[death] = slices.Repeat([]int32{noDay}, ch.len())
	}
}

// deathTold is the day of death that a row gives the patient's other rows: none
// that is in the future, or before the row's own operation, since it is then in
// doubt. dead says that it gives a death, dated or not.
func (c *Cohort) deathTold(ch *chunk, i int, today int32) (day int32, dead bool) {
	f := ch.flags[i]
	if f&(flagUnreadable|flagBare) != 0 {
		return noDay, false
	}
	day = ch.date(death, i)
	if day > badDay {
		if op := ch.revisionDay(i); day > today || op > badDay && day < op {
			return noDay, false
		}
		return day, true
	}
	return noDay, ch.undatedDeath(i)
}

// shareDeaths lets a death on any row of a patient hold for all of the patient's
// joints: of a row of operations, of a table of revisions, or of another joint.
// Of two days the earlier is used, as with the list of deaths, which goes before
// both. A death without a day is shared where there is none with one.
func (c *Cohort) shareDeaths(today int32) {
	c.told = make(map[uint64]place)
	column := false
	for ci, ch := range c.all {
		column = column || ch.role == primaries && (ch.dates[death] != nil || ch.deadColumn)
		if ch.role != revisions || ch.who == nil {
			continue
		}
		for i, who := range ch.who {
			day, dead := c.deathTold(ch, i, today)
			if !dead || who == 0 {
				continue
			}
			if before, ok := c.told[who]; ok {
				if of := c.all[before.chunk].date(death, int(before.i)); of > badDay && (day <= badDay || of <= day) {
					continue
				}
			}
			c.told[who] = place{int32(ci), int32(i)}
		}
	}
	if !column && len(c.told) == 0 {
		return
	}
	for _, ch := range c.chunks {
		if ch.who == nil {
			continue
		}
		ch.needDeaths()
		if len(c.told) == 0 {
			continue
		}
		for i, who := range ch.who {
			if from, ok := c.told[who]; ok && who != 0 {
				day, dead := c.deathTold(c.all[from.chunk], int(from.i), today)
				c.giveDeath(ch, i, day, dead)
			}
		}
	}
	parallel(len(c.shared), func(p int) {
		for patient := range c.shared[p].patients {
			first, dead := int32(noDay), false
			for _, at := range patient {
				day, told := c.deathTold(c.chunks[at.chunk], int(at.i), today)
				dead = dead || told
				if day > badDay && (first <= badDay || day < first) {
					first = day
				}
			}
			if !dead {
				continue
			}
			for _, at := range patient {
				c.giveDeath(c.chunks[at.chunk], int(at.i), first, dead)
			}
		}
	})
}

// giveDeath gives a row a death told by another of the patient.
func (c *Cohort) giveDeath(ch *chunk, i int, day int32, dead bool) {
	own := ch.dates[death][i]
	if _, ok := c.listed[ch.who[i]]; ok || ch.flags[i]&(flagUnreadable|flagBare) != 0 {
		return
	}
	switch {
	case day <= badDay:
		if dead && own <= badDay && !ch.undatedDeath(i) {
			ch.flags[i] |= flagDeadYes | flagDeathTaken
		}
	case own <= badDay:
		ch.dates[death][i] = day
		ch.flags[i] |= flagDeathTaken
	case own > day && own >= ch.date(operation, i):
		ch.dates[death][i] = day
		ch.flags[i] |= flagDeathRowsDiffer
	}
}

// DeathList says what became of the lists of deaths.
type DeathList struct {
	Patients      int // patients on the lists
	Joined        int // of these, patients of the tables
	Unusable      int // rows without a patient or a possible date
	Contradicting int // rows that give a patient another day; the earlier is used
	CompleteTo    *Day
}

// Linked lists the rows of the tables that are joined to the primaries: each
// revision with what became of it, each death that could not be used, and the
// rows that are no such thing or can't be read; in the order of file and row.
func (c *Cohort) Linked() []Problem {
	var all []Problem
	for ci, ch := range c.all {
		for i := range ch.row {
			p := Problem{File: ch.file, Row: int(ch.row[i])}
			switch ch.role {
			case primaries:
				continue
			case revisions:
				c.linkedRevision(&p, place{int32(ci), int32(i)})
			case deaths:
				c.linkedDeath(&p, place{int32(ci), int32(i)})
			}
			if p.Reason != used {
				all = append(all, p)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b Problem) int { return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Row, b.Row)) })
	return all
}

func (c *Cohort) linkedRevision(p *Problem, at place) {
	ch := c.all[at.chunk]
	switch f := ch.flags[at.i]; {
	case f&flagUnreadable != 0:
		p.Reason = RowUnreadable
	case ch.outcome != nil && ch.outcome[at.i] != 0:
		c.outcomeOf(p, at)
	case f&flagBare != 0:
		p.Reason = NotAJoint
	}
}

func (c *Cohort) linkedDeath(p *Problem, at place) {
	ch, i := c.all[at.chunk], int(at.i)
	p.Column = "death_date"
	switch day := ch.date(death, i); {
	case ch.flags[i]&flagUnreadable != 0:
		p.Reason, p.Column = RowUnreadable, ""
	case ch.who == nil || ch.who[i] == 0:
		p.Reason, p.Column = DeathUnlinkable, "patient"
	case day <= badDay:
		p.Reason = DeathUndated
	default:
		if of := c.listed[ch.who[i]]; of != at && c.all[of.chunk].date(death, int(of.i)) != day {
			p.Reason, p.OfFile, p.Of = DeathContradicted, c.all[of.chunk].file, int(c.all[of.chunk].row[of.i])
		}
	}
}

// outcomeOf fills in the problem of a row that records a revision.
func (c *Cohort) outcomeOf(p *Problem, at place) {
	ch, i := c.all[at.chunk], int(at.i)
	p.Reason = ch.outcome[i]
	if of, ok := c.repeats[at]; ok {
		kept := c.all[of.chunk]
		p.OfFile, p.Of = kept.file, int(kept.row[of.i])
	}
	switch missing := ch.notLinked(i); {
	case p.Reason == RevisionUnlinkable && len(missing) > 0:
		p.Column, p.Missing = missing[0], strings.Join(missing, " and ")
	case ch.role == revisions && c.Files[ch.file].has("revision_date"):
		p.Column = "revision_date"
	case ch.role == revisions:
		p.Column = "operation_date"
	case ch.flags[i]&flagOperationTypeNotPrimary == 0:
		p.Column = "procedure"
	default:
		p.Column = "operation_type"
	}
}

// has says whether a table has a column.
func (f File) has(column string) bool {
	return slices.ContainsFunc(f.Headings, func(h Heading) bool { return h.Column == column })
}

// sources are the rows that dates of other rows come from.
type sources struct {
	revision map[place]place // by primary, the row that records its revision
	death    map[place]place // by row, the patient's row that tells the death, unless it is a list or a table of revisions
}

// sources finds them once, when problems are listed.
func (c *Cohort) sources() *sources {
	c.findSources.Do(func() {
		s := &sources{make(map[place]place), make(map[place]place)}
		for ci, ch := range c.all {
			for i, outcome := range ch.outcome {
				at := place{int32(ci), int32(i)}
				if of, ok := c.repeats[at]; ok && (outcome == RevisionJoined || outcome == RevisionUndated) {
					if _, joined := s.revision[of]; !joined || outcome == RevisionJoined {
						s.revision[of] = at
					}
				}
			}
		}
		for _, part := range c.shared {
			for patient := range part.patients {
				c.tellers(patient, s.death)
			}
		}
		c.from = s
	})
	return c.from
}

// tellers finds, for the rows of a patient that were given a death, the row that
// has it by itself.
func (c *Cohort) tellers(patient []place, found map[place]place) {
	const given = flagDeathTaken | flagDeathRowsDiffer
	for _, at := range patient {
		ch := c.all[at.chunk]
		if ch.flags[at.i]&given == 0 {
			continue
		}
		day := ch.date(death, int(at.i))
		for _, of := range patient {
			other := c.all[of.chunk]
			if other.flags[of.i]&given == 0 && (other.date(death, int(of.i)) == day && day > badDay || day <= badDay && other.undatedDeath(int(of.i))) {
				found[at] = of
				break
			}
		}
	}
}

// locate says in which row the value stands that a problem is about, if it came
// from another row.
func (c *Cohort) locate(p *Problem, at place) {
	ch, i := c.all[at.chunk], int(at.i)
	from, ok := place{}, false
	switch f := ch.flags[i]; {
	case p.Reason == RevisionDatesDiffer, p.Reason == RevisedWithoutDate, p.Column == "revision_date":
		from, ok = c.sources().revision[at]
	case p.Column != "death_date" && p.Column != "dead":
		return
	case f&flagDeathListed != 0:
		from, ok = c.listed[ch.who[i]]
	case f&(flagDeathTaken|flagDeathRowsDiffer) != 0:
		if from, ok = c.sources().death[at]; !ok {
			from, ok = c.told[ch.who[i]]
		}
	}
	if ok {
		p.AtFile, p.At = c.all[from.chunk].file, int(c.all[from.chunk].row[from.i])
	}
}

// Revisions lists the rows that record revisions apart from their primaries,
// and what became of each.
func (c *Cohort) Revisions() []Revision {
	var all []Revision
	for ci, ch := range c.all {
		for i, outcome := range ch.outcome {
			if outcome == 0 {
				continue
			}
			r := Revision{File: ch.file, Row: int(ch.row[i]), Outcome: outcome}
			if outcome == RevisionUnlinkable {
				r.Missing = ch.notLinked(i)
			}
			if of, ok := c.repeats[place{int32(ci), int32(i)}]; ok {
				kept := c.all[of.chunk]
				r.OfFile, r.Of = kept.file, int(kept.row[of.i])
			}
			all = append(all, r)
		}
	}
	return all
}
