package cohort

import (
	"cmp"
	"slices"
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

// revisionDay is the day of a row that records a revision.
func (ch *chunk) revisionDay(i int) int32 {
	if day := ch.date(revision, i); day != noDay {
		return day
	}
	return ch.date(operation, i)
}

// joinRevisions joins rows that record revisions to their primaries by
// patient, joint and side. The first revision on or after the primary is the
// joint's; later ones are kept apart, and what has no primary before it is
// never counted as anybody's.
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
		if ch.role == deaths || ch.role == primaries && (!ch.operations || ch.who == nil) {
			continue
		}
		for i, f := range ch.flags {
			at := place{int32(ci), int32(i)}
			switch {
			case ch.role == primaries && f&flagOperationTypeNotPrimary == 0, f&flagUnreadable != 0:
				continue
			case f&flagReoperation != 0: // nothing was exchanged
				continue
			}
			if key, ok := ch.jointKey(i); ok {
				records[key] = append(records[key], record{at, ch.revisionDay(i), ch.extra[extraReason][i]})
			} else {
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
			if f&(flagUnreadable|flagNotPrimary) != 0 || ch.date(operation, i) <= badDay {
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
				done(r.at, RevisionWithoutPrimary, nil)
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
	died := make(map[uint64]int32)
	for _, ch := range c.all {
		if ch.role != deaths {
			continue
		}
		for i := range ch.row {
			who, day := uint64(0), ch.date(death, i)
			if ch.who != nil {
				who = ch.who[i]
			}
			if who == 0 || day <= badDay {
				c.DeathList.Unusable++
				continue
			}
			if before, ok := died[who]; ok && before != day {
				c.DeathList.Contradicting++
				day = min(day, before)
			}
			died[who] = day
		}
	}
	if len(died) == 0 {
		return
	}
	c.DeathList.Patients = len(died)
	joined := make(map[uint64]bool)
	for _, ch := range c.all {
		if ch.role != primaries || ch.who == nil {
			continue
		}
		if ch.dates[death] == nil {
			ch.dates[death] = slices.Repeat([]int32{noDay}, ch.len())
		}
		for i, who := range ch.who {
			day, ok := died[who]
			if !ok || who == 0 {
				continue
			}
			joined[who] = true
			if own := ch.dates[death][i]; own > badDay && own != day {
				ch.flags[i] |= flagDeathDiffers
			}
			ch.dates[death][i] = day
		}
	}
	c.DeathList.Joined = len(joined)
}

// DeathList says what became of the lists of deaths.
type DeathList struct {
	Patients      int // patients on the lists
	Joined        int // of these, patients of the tables
	Unusable      int // rows without a patient or a possible date
	Contradicting int // rows that give a patient another day; the earlier is used
	CompleteTo    *Day
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
			if of, ok := c.repeats[place{int32(ci), int32(i)}]; ok {
				kept := c.all[of.chunk]
				r.OfFile, r.Of = kept.file, int(kept.row[of.i])
			}
			all = append(all, r)
		}
	}
	return all
}
