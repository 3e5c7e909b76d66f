package cohort

import (
	"iter"
	"slices"
	"sync"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/link"
	"example.org/holdfast/cohort/internal/parallel"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/table"
)

// base is what was read: the rows, what they say together, and their words. All
// parts of a cohort share it.
type base struct {
	store *store.Store
	facts row.Facts
	bands []AgeBand
	text  table.Text // how words and headings were understood
}

// linking is what all rows come to: for each row of the primaries its fate, as
// far as it is counted again and again. What else there is to know about a row
// is had by linking its patient anew ([base.patients]).
type linking struct {
	fates     []fates // by block; empty for those of tables joined to the primaries
	ties      []tie   // in the order of their rows
	deathList DeathList
	several   InSeveralTables
	again     []TableAgain
	asked     map[row.Place][]asked // whether a row's patient is another row's
}

// fates are those of the rows of a block. All of a block's patients are in one
// part, so that nobody else writes to it.
type fates struct {
	of      []outcome
	warned  []uint16       // by row, what is warned of, by place in says; nil if nothing is
	says    []row.Warnings // the different ones, the first none
	revised []row.Code     // the reason for revision by row; nil if they are the rows' own
}

// outcome is the fate of one row, in few bits since there is one for each: from the
// lowest, the days of follow-up, the reason, the cause and the marks.
type outcome uint32

const (
	exitBits   = 17 // more days than from the first year of a date to the last
	reasonBits = 6
	causeBits  = 2

	causeShift = exitBits + reasonBits
	markShift  = causeShift + causeBits
)

// ended is the outcome of a joint in use.
func ended(exit int32, cause row.Cause, marks mark) outcome {
	return outcome(exit) | outcome(cause)<<causeShift | outcome(marks)<<markShift
}

func setAside(reason row.Reason) outcome { return outcome(reason) << exitBits }

func (o outcome) exit() int32 { return int32(o & (1<<exitBits - 1)) }

func (o outcome) reason() row.Reason { return row.Reason(o >> exitBits & (1<<reasonBits - 1)) }

func (o outcome) used() bool { return o.reason() == row.Used }

func (o outcome) cause() row.Cause { return row.Cause(o >> causeShift & (1<<causeBits - 1)) }

// has says whether a joint has one of some marks.
func (o outcome) has(marks mark) bool { return mark(o>>markShift)&marks != 0 }

// mark is what else is counted of a joint in use.
type mark uint8

const (
	markDead        mark = 1 << iota // on a day known or not
	markDeadUndated                  // on a day nobody knows
	markLost                         // last seen long before the closing date
	markLater                        // revised or dead after the closing date
	markSeveral                      // the patient has other rows
	markAssumed                      // followed to the closing date, as far as anybody has said anything
)

// tie is a row that repeats another or belongs to it, or a revision of no joint
// in use.
type tie struct {
	at, of    row.Place // of.Block is −1 for none
	reason    row.Reason
	primaries bool // it stands in a table of primaries
	joint     jointKey
	known     bool // the joint is
}

// jointKey is one joint of one patient.
type jointKey struct {
	patient     uint64
	joint, side row.Code
}

// patients links all patients with a row that is wanted, side by side, and hands each
// part's to a visitor of its own. Without wanted all rows are.
func (b *base) patients(facts *row.Facts, wanted func(row.Place) bool, visitor func(part int) func([]row.Row, *row.Linked, *link.Linker)) {
	linkers := sync.Pool{New: func() any { return new(link.Linker) }}
	parallel.Each(b.store.Parts(), func(part int) {
		l := linkers.Get().(*link.Linker)
		visit := visitor(part)
		crowd := func(rows iter.Seq[*row.Row]) bool { return link.IsCrowd(rows, facts) }
		for rows, many := range b.store.Patients(part, wanted, crowd) {
			l.Crowd = many
			visit(rows, l.Patient(rows, facts), l)
		}
		linkers.Put(l)
	})
}

// link finds out what all rows come to.
func (b *base) link() *linking {
	k := &linking{fates: b.noFates()}
	type found struct {
		ties    []tie
		deaths  DeathList
		several InSeveralTables
	}
	parts, holds := make([]found, b.store.Parts()), b.tables()
	lists, several := holds[row.Deaths] > 0, holds[row.Primaries] > 1
	b.patients(&b.facts, nil, func(part int) func([]row.Row, *row.Linked, *link.Linker) {
		p := &parts[part]
		return func(rows []row.Row, l *row.Linked, _ *link.Linker) {
			b.note(k, rows, l)
			if lists {
				p.deaths.count(b, rows, l)
			}
			if several {
				p.several.count(b, rows, l)
			}
			p.ties = b.tiesOf(p.ties, rows, l)
		}
	})
	for _, t := range b.store.Tables {
		for _, r := range t.Aside {
			if t.Role == row.Deaths {
				k.deathList.Unusable += int(r.To-r.From) + 1
			}
		}
	}
	for _, p := range parts {
		k.ties = append(k.ties, p.ties...)
		k.deathList.add(p.deaths)
		k.several.add(p.several)
	}
	slices.SortFunc(k.ties, func(x, y tie) int { return b.store.Compare(x.at, y.at) })
	k.asked = make(map[row.Place][]asked)
	k.again = b.findTablesAgain(k)
	k.ask(TwoIdentifiers, b.findTwins(k))
	k.ask(IdentifierZeros, b.store.Apart)
	k.ask(IdentifierZerosJoined, b.store.Joined)
	return k
}

// noFates has room for those of the rows of the primaries. They stand side by side, though
// not all of them: in pieces they fit where hashes stood.
func (b *base) noFates() []fates {
	const piece = 1 << 17
	all := make([]fates, len(b.store.Blocks))
	var of []outcome
	left := b.store.Rows()
	for i, block := range b.store.Blocks {
		if block.Table().Role != row.Primaries {
			continue
		}
		n := block.Len()
		if n > len(of) {
			of = make([]outcome, max(n, min(left, piece)))
		}
		all[i].of, of = of[:n:n], of[n:]
		left -= n
	}
	return all
}

// tables counts the tables by what they hold.
func (b *base) tables() map[row.Role]int {
	holds := make(map[row.Role]int)
	for _, t := range b.store.Tables {
		holds[t.Role]++
	}
	return holds
}

// asked is a question about the patient of a row in use: whether it is that of
// another row.
type asked struct {
	reason Reason
	of     row.Place
}

// ask notes a question about rows, of those in use.
func (k *linking) ask(reason Reason, about map[row.Place]row.Place) {
	for at, of := range about {
		if k.fates[at.Block].of[at.Index].used() {
			k.asked[at] = append(k.asked[at], asked{reason, of})
		}
	}
}

// note writes down the fates of one patient's rows of the primaries.
func (b *base) note(k *linking, rows []row.Row, l *row.Linked) {
	for i := range rows {
		r, fate := &rows[i], &l.Fates[i]
		if fate.Reason == row.Used && fate.Warn == 0 || b.store.Tables[r.Table].Role != row.Primaries {
			continue // it is a joint, as most are, or of a list
		}
		f, at := &k.fates[r.At.Block], r.At.Index
		f.of[at] = setAside(fate.Reason)
		if fate.Reason == row.Used {
			f.warnOf(int(at), fate.Warn)
		}
	}
	for i := range l.Joints {
		j := &l.Joints[i]
		r := &rows[j.Row]
		f, at := &k.fates[r.At.Block], r.At.Index
		marks := marksOf(j)
		if len(rows) > 1 {
			marks |= markSeveral
		}
		f.of[at] = ended(j.Exit, j.Cause, marks)
		if j.Reason != r.Reason {
			if f.revised == nil {
				f.revised = b.store.Blocks[r.At.Block].AllCodes(store.Reason)
			}
			f.revised[at] = j.Reason
		}
	}
}

func marksOf(j *row.Joint) mark {
	var m mark
	if j.Dead {
		m |= markDead
	}
	if j.DeadUndated {
		m |= markDeadUndated
	}
	if j.Lost {
		m |= markLost
	}
	if j.Cause == row.Censored && (j.Revision.Known() || j.Death.Known()) {
		m |= markLater
	}
	if j.Cause == row.Censored && j.Exit > 0 && m&(markLater|markDeadUndated) == 0 && j.Seen == row.NoDay {
		m |= markAssumed
	}
	return m
}

// tiesOf appends the ties among the rows of one patient.
func (b *base) tiesOf(to []tie, rows []row.Row, l *row.Linked) []tie {
	for i := range rows {
		r, fate := &rows[i], &l.Fates[i]
		if fate.Of < 0 && fate.Reason == row.Used {
			continue
		}
		role := b.store.Tables[r.Table].Role
		revision := isOutcome(fate.Reason) || role == row.Primaries && fate.Reason == NotPrimary && r.Flags.RecordsRevision()
		if role == row.Deaths || fate.Of < 0 && !revision {
			continue
		}
		t := tie{at: r.At, of: row.Place{Block: -1}, reason: fate.Reason, primaries: role == row.Primaries}
		if fate.Of >= 0 {
			t.of = rows[fate.Of].At
		}
		t.known = r.Patient != 0 && !(l.Nobodys && t.primaries) && r.Joint != 0 && r.Side != 0 && r.Flags&row.FlagBothSides == 0
		t.joint = jointKey{r.Patient, r.Joint, r.Side}
		to = append(to, t)
	}
	return to
}

// isOutcome says that a reason tells what became of a row that records a
// revision.
func isOutcome(r Reason) bool { return r >= RevisionJoined && r <= RevisionUnlinkable }

// unrevised says whether a row is used and not revised.
func (k *linking) unrevised(at row.Place) bool {
	f := &k.fates[at.Block]
	return f.of[at.Index].used() && f.of[at.Index].cause() != row.Revised
}

// bandOf is the age band of an age.
func (b *base) bandOf(age int) int {
	band := 0
	for band+1 < len(b.bands) && age >= b.bands[band+1].From {
		band++
	}
	return band
}

// mostForTwins is how many rows are looked through for patients under two
// identifiers: a practice's or a department's, not a register's, where birth
// dates agree by chance.
const mostForTwins = 200_000

// findTwins finds rows in use whose patient stands under another identifier in
// an earlier row: same birth date, sex and initials. Where no initials are
// given, birth date and sex agree by chance too often, so that the same joint
// and side is asked for as well.
func (b *base) findTwins(k *linking) map[row.Place]row.Place {
	type person struct {
		birth       row.Day
		sex         row.Code
		initials    uint64
		joint, side row.Code
	}
	type seen struct {
		patient uint64
		at      row.Place
	}
	if b.store.Rows() > mostForTwins {
		return nil
	}
	people, whose := make(map[person][]seen), b.store.Whose()
	twins := make(map[row.Place]row.Place)
	for _, at := range b.store.InOrder() {
		block, f, i := b.store.Blocks[at.Block], &k.fates[at.Block], int(at.Index)
		if len(f.of) == 0 {
			continue
		}
		p := person{birth: block.Day(store.Birth, i), sex: block.Codes(store.Sex)(i), initials: block.Initials(i)}
		who := whose(at)
		if !f.of[i].used() || who == 0 || f.warn(i).Has(row.WarnIdentifier) || !p.birth.Known() || p.sex == 0 {
			continue
		}
		if p.initials == 0 {
			p.joint, p.side = block.Codes(store.Joint)(i), block.Codes(store.Side)(i)
			if p.joint == 0 || p.side == 0 {
				continue
			}
		}
		known := people[p]
		if other := slices.IndexFunc(known, func(s seen) bool { return s.patient != who }); other >= 0 {
			twins[at] = known[other].at
		}
		// The first that is another is one of the first two.
		if len(known) < 2 && !slices.ContainsFunc(known, func(s seen) bool { return s.patient == who }) {
			people[p] = append(known, seen{who, at})
		}
	}
	return twins
}

// warn is what is said of a row though it is used.
func (f *fates) warn(i int) row.Warnings {
	if f.warned == nil {
		return 0
	}
	return f.says[f.warned[i]]
}

// warnOf notes what is said of a row.
func (f *fates) warnOf(i int, w row.Warnings) {
	if f.warned == nil {
		f.warned, f.says = make([]uint16, len(f.of)), make([]row.Warnings, 1, 2)
	}
	at := slices.Index(f.says, w)
	if at < 0 {
		at = len(f.says)
		f.says = append(f.says, w)
	}
	f.warned[i] = uint16(at)
}

// DeathList says what became of the lists of deaths.
type DeathList struct {
	Patients      int // patients on the lists
	Joined        int // of these, patients of the tables
	Unusable      int // rows without a patient or a possible date
	Contradicting int // rows that give a patient another day; the earlier is used
	CompleteTo    *Day
}

func (d *DeathList) count(b *base, rows []row.Row, l *row.Linked) {
	if l.OnList {
		d.Patients++
	}
	if l.ListJoined {
		d.Joined++
	}
	for i := range rows {
		switch {
		case b.store.Tables[rows[i].Table].Role != row.Deaths:
		case rows[i].Patient == 0 || !rows[i].Death.Known():
			d.Unusable++
		case l.Fates[i].Reason == DeathContradicted:
			d.Contradicting++
		}
	}
}

func (d *DeathList) add(o DeathList) {
	d.Patients += o.Patients
	d.Joined += o.Joined
	d.Unusable += o.Unusable
	d.Contradicting += o.Contradicting
}

// InSeveralTables says whether the identifiers that stand in several tables of primaries are
// of the same patients. Tables that each number their own patients from 1 have most of
// them in common, and a death or a revision of one person then falls on another.
type InSeveralTables struct {
	Patients      int // identifiers in more than one table of primaries
	Compared      int // of these, with sex or year of birth in more than one
	Contradicting int // of these, with another sex or year of birth in another
}

// fewestToDoubt is how many patients must contradict before they are taken for more than
// mistyped, and how many joints stand in two tables before these are taken for one. Of
// patients one in ten of those compared must do so besides, of joints half. From memory: of
// birth dates and sexes typed twice about one in fifty differs.
const fewestToDoubt = 3

// Doubtful says that so many of them contradict that they will be different people.
func (s InSeveralTables) Doubtful() bool {
	return s.Contradicting >= fewestToDoubt && 10*s.Contradicting > s.Compared
}

// count counts one patient, whose rows these are.
func (s *InSeveralTables) count(b *base, rows []row.Row, l *row.Linked) {
	if len(rows) < 2 || l.Nobodys || rows[0].Patient == 0 {
		return
	}
	first, shared, compared, differ := -1, false, false, false
	for i := range rows {
		switch {
		case b.store.Tables[rows[i].Table].Role != row.Primaries:
		case first < 0:
			first = i
		case rows[i].Table != rows[first].Table:
			different, told := link.Different(b.store.Holder(rows[first].At), b.store.Holder(rows[i].At))
			shared, compared, differ = true, compared || told, differ || different
		}
	}
	if shared {
		s.Patients++
	}
	if compared {
		s.Compared++
	}
	if differ {
		s.Contradicting++
	}
}

func (s *InSeveralTables) add(o InSeveralTables) {
	s.Patients += o.Patients
	s.Compared += o.Compared
	s.Contradicting += o.Contradicting
}

// TableAgain is a table of primaries most of whose joints stand in an earlier one too, with
// the same day of operation, joint, side, age and sex and not known to be of the same
// patients: the same table, or a later one of the same joints, which count twice.
type TableAgain struct {
	File, Of    int // index into Files
	Joints, Too int // in use and with an age, and of these those in the earlier table too
}

// findTablesAgain compares tables of primaries two by two. Two busy departments have a
// joint in a hundred in common by chance.
func (b *base) findTablesAgain(k *linking) []TableAgain {
	type joint struct {
		day              row.Day
		joint, side, sex row.Code
		age              int
	}
	type seen struct {
		file    int
		patient uint64
	}
	if b.tables()[row.Primaries] < 2 || b.store.Rows() > mostForTwins {
		return nil
	}
	first, whose := make(map[joint]seen), b.store.Whose()
	joints, too := make(map[int]int), make(map[[2]int]int)
	for _, at := range b.store.InOrder() {
		block, f, i := b.store.Blocks[at.Block], &k.fates[at.Block], int(at.Index)
		if len(f.of) == 0 || !f.of[i].used() {
			continue
		}
		j := joint{block.Day(store.Operation, i), block.Codes(store.Joint)(i), block.Codes(store.Side)(i), block.Codes(store.Sex)(i), block.Age(i)}
		if j.age == 0 {
			continue
		}
		now := seen{block.Table().File, whose(at)}
		joints[now.file]++
		switch s, ok := first[j]; {
		case !ok:
			first[j] = now
		case s.file != now.file && (s.patient != now.patient || s.patient == 0):
			too[[2]int{now.file, s.file}]++
		}
	}
	var all []TableAgain
	for pair, n := range too {
		if of := joints[pair[0]]; n >= fewestToDoubt && 2*n > of {
			all = append(all, TableAgain{File: pair[0], Of: pair[1], Joints: of, Too: n})
		}
	}
	slices.SortFunc(all, func(x, y TableAgain) int { return x.File - y.File })
	return all
}

// hasCore says whether any table has what a core field is made from.
func (b *base) hasCore(name string) bool {
	if slices.ContainsFunc(column.Sources(name), func(s string) bool { return b.text.Present[s] }) {
		return true
	}
	// Else the procedure's words may have said it, as in "left cemented THR".
	f := b.text.Core[slices.Index(table.CoreFields[:], name)]
	return len(f.Values) > 1
}
