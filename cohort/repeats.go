package cohort

import (
	"cmp"
	"runtime"
	"slices"
)

// findPatients finds patients with several rows. They are matched by their
// hash, one part of the hashes at a time, so that each part's index stays small.
func (c *Cohort) findPatients() {
	rows := 0
	for _, ch := range c.chunks {
		if ch.who != nil {
			c.anyWho = true
		}
		rows += ch.len()
	}
	if !c.anyWho {
		return
	}
	parts := 1
	for parts < 256 && rows/parts > 1<<18 {
		parts *= 2
	}
	workers := min(runtime.GOMAXPROCS(0), parts)
	indexes := make(chan *patientIndex, workers)
	for range workers {
		indexes <- newPatientIndex(rows/parts + rows/parts/8)
	}
	c.shared = make([]places, parts)
	parallel(parts, func(p int) {
		x := <-indexes
		c.shared[p] = c.withoutNobodys(x.patientsOf(c, uint64(p), uint64(parts)))
		indexes <- x
	})
}

// mostOperations is how many days of primary operations one patient may have:
// two hips and the parts of two knees leave room for one that is entered twice.
const mostOperations = 6

// withoutNobodys takes the identifier away from the rows of a patient who would
// have had more operations than anybody has: a word such as "x" or "private",
// typed where there was none, must not make one patient of many. Rows that give
// one date of birth are one patient's all the same.
func (c *Cohort) withoutNobodys(all places) places {
	var kept places
	changed := false
	for patient := range all.patients {
		if len(patient) > mostOperations && c.operationDays(patient) > mostOperations && !c.bornOnOneDay(patient) {
			if !changed { // copied only where it is needed
				changed = true
				kept = places{rows: make([]place, 0, len(all.rows)), sizes: make([]int32, 0, len(all.sizes))}
				for before := range all.patients {
					if &before[0] == &patient[0] {
						break
					}
					kept.add(before)
				}
			}
			for _, at := range patient {
				ch := c.chunks[at.chunk]
				ch.who[at.i] = 0
				ch.flags[at.i] |= flagNobodys
			}
			continue
		}
		if changed {
			kept.add(patient)
		}
	}
	if !changed {
		return all
	}
	return kept
}

// operationDays counts the different days of a patient's primary operations.
func (c *Cohort) operationDays(patient []place) int {
	days := make(map[int32]bool)
	for _, at := range patient {
		ch := c.chunks[at.chunk]
		if day := ch.date(operation, int(at.i)); day > badDay && ch.flags[at.i]&(flagUnreadable|flagNotPrimary|flagOperationTypeUnknown|flagBare) == 0 {
			days[day] = true
		}
	}
	return len(days)
}

// findRepeats finds the joints that stand in the table twice: of a patient's
// same joint and side the earliest row is kept; of one day, the row that knows
// more.
func (c *Cohort) findRepeats() {
	parallel(len(c.shared), func(p int) {
		for patient := range c.shared[p].patients {
			c.markRepeats(patient)
		}
	})
}

// places are rows, patient by patient.
type places struct {
	rows  []place
	sizes []int32 // rows of each patient
}

func (p *places) patients(yield func([]place) bool) {
	rows := p.rows
	for _, n := range p.sizes {
		if !yield(rows[:n:n]) {
			return
		}
		rows = rows[n:]
	}
}

// bornOnOneDay says whether all rows of a patient give the same date of birth.
func (c *Cohort) bornOnOneDay(patient []place) bool {
	born := c.chunks[patient[0].chunk].date(birth, int(patient[0].i))
	return born > badDay && !slices.ContainsFunc(patient, func(at place) bool { return c.chunks[at.chunk].date(birth, int(at.i)) != born })
}

func (p *places) add(patient []place) {
	p.rows = append(p.rows, patient...)
	p.sizes = append(p.sizes, int32(len(patient)))
}

// patientIndex is a hash table with open addressing over one part's rows.
type patientIndex struct {
	who    []uint64
	places []place
	next   []int32 // the patient's row before, or −1
	slots  []int32 // row + 1 of the patient's latest row; 0 empty
	more   []int32 // slots of patients that have several rows
}

// newPatientIndex has room for a number of rows, and grows.
func newPatientIndex(rows int) *patientIndex {
	return &patientIndex{who: make([]uint64, 0, rows), places: make([]place, 0, rows), next: make([]int32, 0, rows)}
}

// patientsOf lists the rows of each patient who has several, among those whose
// hash falls in the part.
func (x *patientIndex) patientsOf(c *Cohort, part, parts uint64) places {
	x.who, x.places, x.next, x.more = x.who[:0], x.places[:0], x.next[:0], x.more[:0]
	for ci, ch := range c.chunks {
		for i, who := range ch.who {
			if who>>1&(parts-1) == part && who != 0 {
				x.who = append(x.who, who)
				x.places = append(x.places, place{int32(ci), int32(i)})
			}
		}
	}
	size := 16
	for size < 2*len(x.who) {
		size *= 2
	}
	if size > cap(x.slots) {
		x.slots = make([]int32, size)
	} else {
		x.slots = x.slots[:size]
		clear(x.slots)
	}
	mask := uint64(size - 1)
	for row, who := range x.who {
		x.next = append(x.next, -1)
		at := who >> 32 & mask
		for x.slots[at] != 0 && x.who[x.slots[at]-1] != who {
			at = (at + 1) & mask
		}
		if before := x.slots[at] - 1; before >= 0 {
			x.next[row] = before
			if x.next[before] < 0 {
				x.more = append(x.more, int32(at))
			}
		}
		x.slots[at] = int32(row) + 1
	}
	var found places
	for _, at := range x.more {
		start := len(found.rows)
		for row := x.slots[at] - 1; row >= 0; row = x.next[row] {
			found.rows = append(found.rows, x.places[row])
		}
		slices.Reverse(found.rows[start:])
		found.sizes = append(found.sizes, int32(len(found.rows)-start))
	}
	return found
}

// markRepeats sets aside the later rows of each joint of one patient. The
// first row may itself be set aside for another reason; a later one is then no
// more a primary than otherwise.
func (c *Cohort) markRepeats(patient []place) {
	type joint struct{ joint, side uint16 }
	if !c.twice(patient) { // the usual case: two different joints
		return
	}
	kept := make(map[joint]place, 2)
	rows := slices.Clone(patient)
	slices.SortStableFunc(rows, func(a, b place) int {
		x, y := c.chunks[a.chunk], c.chunks[b.chunk]
		return cmp.Or(cmp.Compare(x.date(operation, int(a.i)), y.date(operation, int(b.i))),
			-cmp.Compare(x.knows(int(a.i)), y.knows(int(b.i))))
	})
	for _, at := range rows {
		ch := c.chunks[at.chunk]
		if !isJoint(ch.status[at.i]) {
			continue
		}
		j := joint{ch.core[coreJoint][at.i], ch.core[coreSide][at.i]}
		if j.joint == 0 || j.side == 0 {
			continue
		}
		first, again := kept[j]
		if !again {
			kept[j] = at
			continue
		}
		if ch.status[at.i] != used {
			continue
		}
		of := c.chunks[first.chunk]
		sameDay := of.date(operation, int(first.i)) == ch.date(operation, int(at.i))
		switch {
		case !sameDay:
			ch.status[at.i] = PossibleRevision
		case of.status[first.i] == used:
			ch.status[at.i] = DuplicateRow
		default: // entered again, and now it can be used
			kept[j] = at
			continue
		}
		c.repeated.Lock()
		c.repeats[at] = first
		c.repeated.Unlock()
	}
}

// isJoint says whether a row with this status is a primary operation of a known
// day, though it may be set aside for what came after, or for the age. Where
// the revision or the death comes before it, the day itself is in doubt.
func isJoint(status Reason) bool {
	switch status {
	case used, RevisionDateImpossible, RevisionYearShort, RevisedWithoutDate, DeadWithoutDate, AgeOutOfRange:
		return true
	}
	return false
}

// twice says whether two rows of a patient are of one joint and side, or name
// neither.
func (c *Cohort) twice(patient []place) bool {
	for i, a := range patient {
		for _, b := range patient[:i] {
			x, y := c.chunks[a.chunk], c.chunks[b.chunk]
			if x.core[coreJoint][a.i] == y.core[coreJoint][b.i] && x.core[coreSide][a.i] == y.core[coreSide][b.i] {
				return true
			}
		}
	}
	return false
}

// knows counts what a row itself says about what came after the operation.
func (ch *chunk) knows(i int) int {
	n := 0
	for _, k := range []int{revision, death, lastSeen} {
		if ch.date(k, i) > badDay {
			n++
		}
	}
	if ch.flags[i]&flagDeathTaken != 0 && ch.date(death, i) > badDay {
		n--
	}
	return n
}

// unrevisedInUse says whether a row is used and not revised.
func (c *Cohort) unrevisedInUse(at place) bool {
	ch := c.chunks[at.chunk]
	return ch.status[at.i] == used && ch.cause[at.i] != causeRevision
}

// mostForTwins is how many rows are looked through for patients under two
// identifiers: a practice's or a department's, not a register's, where birth
// dates agree by chance.
const mostForTwins = 200_000

// findTwins finds rows in use whose patient stands under another identifier in
// an earlier row: same birth date, sex and initials. Where no initials are
// given, birth date and sex agree by chance too often, so that the same joint
// and side is asked for as well.
func (c *Cohort) findTwins() {
	type person struct {
		birth       int32
		sex         uint16
		initials    uint64
		joint, side uint16
	}
	type seen struct {
		who uint64
		at  place
	}
	people := make(map[person][]seen)
	c.twins = make(map[place]place)
	if c.rows() > mostForTwins {
		return
	}
	for ci, ch := range c.chunks {
		if ch.who == nil || ch.dates[birth] == nil {
			continue
		}
		for i, status := range ch.status {
			born, sex := ch.dates[birth][i], ch.extra[extraSex][i]
			if status != used || ch.who[i] == 0 || born <= badDay || sex == 0 {
				continue
			}
			p := person{birth: born, sex: sex}
			if ch.initials != nil {
				p.initials = ch.initials[i]
			}
			if p.initials == 0 {
				p.joint, p.side = ch.core[coreJoint][i], ch.core[coreSide][i]
				if p.joint == 0 || p.side == 0 {
					continue
				}
			}
			at := place{int32(ci), int32(i)}
			known := people[p]
			other := slices.IndexFunc(known, func(s seen) bool { return s.who != ch.who[i] })
			if other >= 0 {
				c.twins[at] = known[other].at
			}
			if !slices.ContainsFunc(known, func(s seen) bool { return s.who == ch.who[i] }) {
				people[p] = append(known, seen{ch.who[i], at})
			}
		}
	}
}
