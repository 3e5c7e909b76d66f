package cohort

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync/atomic"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/words"
)

// Days that are none.
const (
	noDay  = math.MinInt32     // the cell is empty
	badDay = math.MinInt32 + 1 // the cell holds no possible date
)

// settle turns raw dates into whole days.
func (ch *chunk) settle(orders [dateColumnCount]dates.Order) {
	for k, column := range ch.dates {
		for i, raw := range column {
			switch day, err := dates.Raw(raw).Day(orders[k]); err {
			case nil:
				if k == birth && dates.Raw(raw).Pivoted() { // the operation's day is settled before
					day = bornBefore(day, ch.date(operation, i))
				}
				column[i] = day
			case dates.ErrMissing:
				column[i] = noDay
			default:
				column[i] = badDay
				if err == dates.ErrTwoDigitYear {
					ch.shortYears++
					if ch.short == nil {
						ch.short = make([]uint8, len(column))
					}
					ch.short[i] |= 1 << k
				}
			}
		}
	}
}

// bornBefore is a day of birth whose century the pivot placed: a century
// earlier if that leaves less than the least age at the operation.
func bornBefore(born, op int32) int32 {
	if op <= badDay || dates.CompletedYears(born, op) >= minAge {
		return born
	}
	earlier, ok := dates.YearsEarlier(born, 100)
	if !ok {
		return badDay
	}
	return earlier
}

// pivotedYear is added to a birth year whose century the pivot placed, in
// chunk.age.
const pivotedYear = 10_000

// shortYear says that the date of row i was refused for a two-digit year.
func (ch *chunk) shortYear(column, i int) bool {
	return ch.short != nil && ch.short[i]&(1<<column) != 0
}

// shortYears is the note on a table with two-digit years and no pivot.
const shortYears = "dates with two-digit years are not read; say from which year on they mean 19yy, with --pivot 30 for example"

// date of row i; noDay if the table has no such column.
func (ch *chunk) date(column, i int) int32 {
	if ch.dates[column] == nil {
		return noDay
	}
	return ch.dates[column][i]
}

// latest holds the latest date of a set of rows, and the latest of another row.
type latest struct {
	day, next   int32
	chunk, i, k int
}

func (l *latest) see(day int32, chunk, i, k int) {
	switch {
	case day > l.day:
		if chunk != l.chunk || i != l.i {
			l.next = l.day
		}
		l.day, l.chunk, l.i, l.k = day, chunk, i, k
	case (chunk != l.chunk || i != l.i) && day > l.next:
		l.next = day
	}
}

// close finds the closing date, or takes the one asked for.
func (c *Cohort) close(o Options) error {
	if o.ClosingDate != nil {
		c.Closing = Closing{Day: *o.ClosingDate, Asked: true}
		return nil
	}
	parts := make([]latest, len(c.all))
	parallel(len(c.all), func(ci int) {
		l := latest{day: badDay, next: badDay, chunk: ci, i: -1}
		ch := c.all[ci]
		for k := operation; k <= lastSeen; k++ {
			for i, day := range ch.dates[k] {
				if day > l.next && day <= int32(o.Today) && day > badDay && ch.flags[i]&flagUnreadable == 0 && !(ch.bareAside && ch.flags[i]&flagBare != 0) && !c.copied(place{int32(ci), int32(i)}, k) {
					l.see(day, ci, i, k)
				}
			}
		}
		parts[ci] = l
	})
	all := latest{day: badDay, next: badDay, chunk: -1}
	for _, l := range parts {
		if l.day > all.day || l.day == all.day && l.k < all.k {
			all, l = l, all
		}
		all.next = max(all.next, l.day, l.next)
	}
	if all.day <= badDay {
		for _, f := range c.Files {
			for _, n := range f.Notes {
				if n == shortYears {
					return fmt.Errorf("%w: %s: %s", ErrNoUsableRow, f.Title(), n)
				}
			}
		}
		return fmt.Errorf("%w: no date could be read", ErrNoUsableRow)
	}
	ch := c.all[all.chunk]
	c.Closing = Closing{Day: Day(all.day), File: ch.file, Row: int(ch.row[all.i]), Column: dateColumns[all.k]}
	if all.next > badDay {
		c.Closing.NextLatest, c.Closing.GapDays = Day(all.next), int(all.day-all.next)
	}
	return nil
}

// copied says whether a date of a row came from another row, where it counts: a
// mistyped one stands alone though several joints have it.
func (c *Cohort) copied(at place, column int) bool {
	ch := c.all[at.chunk]
	switch column {
	case death:
		return ch.flags[at.i]&(flagDeathListed|flagDeathTaken|flagDeathRowsDiffer) != 0
	case revision:
		if len(c.repeats) == 0 {
			return false
		}
		from, ok := c.sources().revision[at]
		return ok && c.all[from.chunk].revisionDay(int(from.i)) == ch.date(revision, int(at.i))
	}
	return false
}

// unborn is the age of somebody born after the operation. It lies below every
// age, and is not noAge, as an age of −1 year would be.
const unborn = -2

// age in completed years at operation day op; noAge if not recorded.
// unreadable names a column whose cell was passed over; "" for none.
func (ch *chunk) ageAt(op int32, i int) (age int, disagrees bool, unreadable string) {
	typed := noAge
	if ch.age != nil {
		typed = int(ch.age[i])
	}
	if typed < noAge { // a birth year
		year, _, _ := dates.YMD(op)
		if typed <= -pivotedYear {
			if typed += pivotedYear + year; typed < minAge {
				typed += 100
			}
		} else if typed += year; typed < 0 {
			typed = unborn
		}
	}
	switch born := ch.date(birth, i); born {
	case noDay:
		switch f := ch.flags[i]; {
		case f&flagAgeUnreadable != 0:
			unreadable = "age"
		case f&flagBirthYearUnreadable != 0:
			unreadable = "birth_year"
		}
		return typed, false, unreadable
	case badDay:
		return typed, false, "birth_date"
	default:
		age := dates.CompletedYears(born, op)
		if age < 0 {
			age = unborn
		}
		return age, typed >= 0 && (typed-age > 1 || age-typed > 1), ""
	}
}

// ageSetAside is the age of a row that is set aside; noAge if it is not
// recorded, out of range, or can't be told without the operation's day.
func (ch *chunk) ageSetAside(i int) int {
	op := ch.date(operation, i)
	if op <= badDay && (ch.age == nil || ch.age[i] < 0 || ch.date(birth, i) > badDay) {
		return noAge
	}
	age, _, _ := ch.ageAt(op, i)
	if age < minAge || age > maxAge {
		return noAge
	}
	return age
}

// judgement is what a row comes to.
type judgement struct {
	status Reason // used, or why the row is set aside
	column string
	exit   int32 // days followed
	cause  uint8
	age    int
}

// Causes of the end of follow-up as chunk.cause holds them.
const (
	causeCensored = iota
	causeRevision
	causeDeath
)

// judge applies the rules to row i. Warnings go to warn if the row is used.
func (c *Cohort) judge(ch *chunk, i int, today int32, warn func(Reason, string)) judgement {
	aside := func(r Reason, column string) judgement { return judgement{status: r, column: column} }
	closing := int32(c.Closing.Day)
	f := ch.flags[i]
	op, rev, dead, seen := ch.date(operation, i), ch.date(revision, i), ch.date(death, i), ch.date(lastSeen, i)
	switch {
	case f&flagUnreadable != 0:
		return aside(RowUnreadable, "")
	case ch.outcome != nil && ch.outcome[i] != 0:
		return aside(ch.outcome[i], "operation_type")
	case f&flagBare != 0 && (op == noDay || ch.bareAside):
		return aside(NotAJoint, "operation_date")
	case op == noDay:
		return aside(OperationDateMissing, "operation_date")
	case op == badDay && ch.shortYear(operation, i):
		return aside(OperationYearShort, "operation_date")
	case op == badDay:
		return aside(OperationDateImpossible, "operation_date")
	case f&flagOperationTypeNotPrimary != 0:
		return aside(NotPrimary, "operation_type")
	case f&flagNotPrimary != 0:
		return aside(NotPrimary, "procedure")
	case f&flagOperationTypeUnknown != 0:
		return aside(OperationTypeNotUnderstood, "operation_type")
	case f&flagBothSides != 0:
		return aside(BothSides, "side")
	case op > today:
		return aside(DateInFuture, "operation_date")
	case op > closing:
		return aside(OperationAfterClosing, "operation_date")
	case rev == badDay && ch.shortYear(revision, i):
		return aside(RevisionYearShort, "revision_date")
	case rev == badDay:
		return aside(RevisionDateImpossible, "revision_date")
	case rev > today:
		return aside(DateInFuture, "revision_date")
	case dead > today:
		return aside(DateInFuture, "death_date")
	case rev == noDay && f&flagRevisedYes != 0:
		return aside(RevisedWithoutDate, "revised")
	case rev != noDay && rev < op:
		return aside(RevisionBeforeOperation, "revision_date")
	case dead > badDay && dead < op:
		return aside(DeathBeforeOperation, "death_date")
	}
	age, disagrees, unreadable := ch.ageAt(op, i)
	if age != noAge && (age < minAge || age > maxAge) {
		column := "age"
		if ch.date(birth, i) > badDay {
			column = "birth_date"
		} else if ch.age != nil && ch.age[i] < noAge {
			column = "birth_year"
		}
		return aside(AgeOutOfRange, column)
	}

	seenUsable := seen > badDay && seen >= op && seen <= today
	j := judgement{age: age}
	deathColumn := "dead"
	if dead == badDay {
		deathColumn = "death_date"
	}
	switch undatedDeath := ch.undatedDeath(i); {
	case rev != noDay && rev <= closing:
		j.exit, j.cause = rev-op, causeRevision
	case dead > badDay && dead <= closing:
		j.exit, j.cause = dead-op, causeDeath
	case rev != noDay || dead > badDay: // after the closing date: followed to it
		j.exit = closing - op
	case undatedDeath && !seenUsable:
		return aside(DeadWithoutDate, deathColumn)
	case seenUsable:
		j.exit = min(seen, closing) - op
		if !undatedDeath && closing-seen > c.lostAfter {
			warn(LostToFollowUp, "last_seen_date")
		}
		if undatedDeath {
			warn(DeadWithoutDateCensored, deathColumn)
		}
	default:
		j.exit = closing - op
	}
	if rev > badDay && dead > badDay && rev > dead {
		warn(RevisionAfterDeath, "death_date")
	}
	switch {
	case seen == badDay || seen > today:
		warn(LastSeenUnusable, "last_seen_date")
	case seen != noDay && seen < op:
		warn(LastSeenBeforeOperation, "last_seen_date")
	}
	if rev > badDay && f&flagRevisedNo != 0 {
		warn(RevisedNoWithDate, "revised")
	}
	if dead > badDay && f&flagDeadNo != 0 {
		warn(AliveWithDeathDate, "dead")
	}
	if unreadable != "" {
		warn(AgeUnreadable, unreadable)
	}
	if disagrees {
		warn(AgeDisagrees, "age")
	}
	if rev == noDay && ch.extra[extraReason][i] != 0 {
		warn(ReasonWithoutRevision, "revision_reason")
	}
	if f&flagSideMissing != 0 && c.sides {
		warn(SideMissing, "side")
	}
	for _, w := range flagWarnings {
		if f&w.flag != 0 {
			warn(w.reason, w.column)
		}
	}
	return j
}

// flagWarnings are the warnings that a row's flags give by themselves.
var flagWarnings = []struct {
	flag   flags
	reason Reason
	column string
}{
	{flagRevisedUnclear, YesNoUnreadable, "revised"},
	{flagDeadUnclear, YesNoUnreadable, "dead"},
	{flagBearingContradicts, BearingContradictsParts, "bearing"},
	{flagFixationContradicts, FixationContradictsParts, "fixation"},
	{flagJointContradicts, JointContradictsProcedure, "joint"},
	{flagNotABearing, NotABearing, "bearing"},
	{flagResurfacingPolyethylene, ResurfacingWithPolyethylene, "bearing"},
	{flagExtraCells, CellsBeyondHeadings, ""},
	{flagManyLines, CellOverManyLines, ""},
	{flagRevisionDiffers, RevisionDatesDiffer, "revision_date"},
	{flagDeathDiffers, DeathDatesDiffer, "death_date"},
	{flagDeathTaken, DeathTaken, "death_date"},
	{flagDeathRowsDiffer, DeathRowsDiffer, "death_date"},
	{flagNobodys, IdentifierOfMany, "patient"},
}

// finish settles what needs all rows: the closing date, every row's fate,
// repeated joints, the scope and the account.
func (r *reading) finish() (*Cohort, error) {
	c, o := r.cohort, r.options
	total := 0
	for _, f := range c.Files {
		total += f.Rows
	}
	if total == 0 {
		return nil, fmt.Errorf("%s: %w: there are headings, and no rows below them", c.Files[0].Title(), ErrNoUsableRow)
	}
	for i, f := range append(slices.Clone(c.core[:]), c.extra...) {
		// Nobody may have asked to group by the others' words; whoever does is refused then.
		if f.full && (i < coreFieldCount || slices.Contains(r.asked, f.name)) {
			return nil, f.tooMany()
		}
	}
	c.hideNames()
	c.repeats = make(map[place]place)
	c.sides = c.hasCore("side")
	c.findPatients()
	c.joinRevisions()
	c.joinDeaths()
	c.shareDeaths(int32(o.Today))
	if err := c.close(o); err != nil {
		return nil, err
	}
	if d := o.DeathsCompleteTo; d != nil {
		c.DeathList.CompleteTo = d
		if *d < c.Closing.Day {
			c.Closing.Day, c.Closing.DeathsEnd = *d, true
		}
	}
	c.lostAfter = int32(o.LostAfter)
	c.present["age"] = c.present["age"] || c.present["birth_date"] || c.present["birth_year"]
	c.today = int32(o.Today)
	parallel(len(c.chunks), func(ci int) {
		ch := c.chunks[ci]
		n := ch.len()
		ch.status, ch.exit, ch.cause, ch.ageBand = make([]Reason, n), make([]int32, n), make([]uint8, n), make([]uint8, n)
		ch.warned = make([]bool, n)
		for i := range n {
			j := c.judge(ch, i, c.today, func(Reason, string) { ch.warned[i] = true })
			ch.status[i], ch.exit[i], ch.cause[i] = j.status, j.exit, j.cause
			if j.status != used { // it counts among its age band all the same
				j.age = ch.ageSetAside(i)
			}
			if j.age != noAge {
				ch.ageBand[i] = uint8(1 + c.bandOf(j.age))
			}
		}
	})
	c.findRepeats()
	c.findTwins()
	if err := c.narrow(o.Where); err != nil {
		return nil, err
	}
	c.account()
	if c.Account.Used == 0 {
		return nil, &NoUsableRowError{Account: c.Account, Cohort: c}
	}
	return c, nil
}

// NoUsableRowError says why no row is left. It wraps [ErrNoUsableRow].
type NoUsableRowError struct {
	Account Account
	Cohort  *Cohort // what was read, so that its problems can be listed
}

func (e *NoUsableRowError) Error() string {
	var why []string
	for _, r := range e.Account.Reasons {
		why = append(why, fmt.Sprintf("%s: %d", r.Reason, r.Rows))
	}
	said := fmt.Sprintf("%v: all %d rows are set aside (%s)", ErrNoUsableRow, e.Account.Read, strings.Join(why, "; "))
	if e.Cohort != nil && slices.ContainsFunc(e.Cohort.Files, func(f File) bool { return slices.Contains(f.Notes, shortYears) }) {
		said += ": " + shortYears
	}
	return said
}

// Unwrap returns ErrNoUsableRow.
func (e *NoUsableRowError) Unwrap() error { return ErrNoUsableRow }

func (c *Cohort) bandOf(age int) int {
	band := 0
	for band+1 < len(c.bands) && age >= c.bands[band+1].From {
		band++
	}
	return band
}

// narrow marks rows that do not meet the conditions as out of scope.
func (c *Cohort) narrow(where []Condition) error {
	byField := make(map[string]map[string]bool)
	var names []string
	for _, w := range where {
		name, ok := c.fieldName(w.Column)
		if !ok {
			return c.unknownField(w.Column)
		}
		values := byField[name]
		if values == nil {
			values = make(map[string]bool)
			byField[name] = values
			names = append(names, name)
		}
		d, err := c.dimension(name)
		if err != nil {
			return err
		}
		occurs := c.occurring(d)
		found := false
		for _, candidate := range synonyms(name, w.Value) {
			for _, level := range occurs {
				if !strings.EqualFold(level, candidate) {
					continue
				}
				found = true
				if !values[level] {
					values[level] = true
					c.Scope = append(c.Scope, Condition{name, level})
				}
			}
		}
		if !found {
			return badOption("no row has %s %q; values found: %s", name, w.Value, listHeadings(occurs))
		}
	}
	for _, name := range names {
		d, err := c.dimension(name)
		if err != nil {
			return err
		}
		in := make([]bool, len(d.levels))
		for i, level := range d.levels {
			in[i] = byField[name][level]
		}
		parallel(len(c.chunks), func(ci int) {
			ch := c.chunks[ci]
			level := d.reader(ch)
			for i := range ch.status {
				if ch.status[i] != outOfScope && !in[level(i)] {
					ch.status[i] = outOfScope
				}
			}
		})
	}
	slices.SortFunc(c.Scope, func(a, b Condition) int {
		return cmp.Or(cmp.Compare(a.Column, b.Column), cmp.Compare(a.Value, b.Value))
	})
	return nil
}

// occurring lists the levels of a dimension that some row has.
func (c *Cohort) occurring(d *dimension) []string {
	occurs := make([]atomic.Bool, len(d.levels))
	parallel(len(c.chunks), func(ci int) {
		level := d.reader(c.chunks[ci])
		for i := range c.chunks[ci].status {
			if l := level(i); !occurs[l].Load() {
				occurs[l].Store(true)
			}
		}
	})
	var levels []string
	for l, name := range d.levels {
		if occurs[l].Load() {
			levels = append(levels, name)
		}
	}
	return levels
}

// synonyms are what a value asked for may be called in a field.
func synonyms(field, value string) []string {
	all := []string{value}
	add := func(m words.Meaning) {
		if m.Known {
			all = append(all, m.Value)
		}
	}
	switch field {
	case "joint":
		add(words.Joint(value))
	case "procedure":
		p := words.Procedure(value)
		add(words.Meaning{Value: p.Procedure, Known: p.Known})
	case "bearing":
		add(words.Bearing(words.Hip, value).Meaning)
		add(words.Bearing(words.Knee, value).Meaning)
	case "fixation":
		add(words.Fixation(value))
	case "side":
		add(words.Side(value))
	case "age_band":
		all = append(all, strings.NewReplacer("–", "-", " ", "").Replace(value))
	default:
		add(understand(field, value))
	}
	return all
}

// account counts what became of the rows.
func (c *Cohort) account() {
	type part struct {
		reasons        [reasons]int
		undated, death int
		inFiles, read  int
	}
	parts := make([]part, len(c.chunks))
	parallel(len(c.chunks), func(ci int) {
		ch, p := c.chunks[ci], &parts[ci]
		warn := func(r Reason, _ string) { p.reasons[r]++ }
		for i, status := range ch.status {
			p.inFiles++
			if status == outOfScope {
				continue
			}
			p.read++
			p.reasons[status]++
			if status != used {
				if status == RevisedWithoutDate || status == RevisionDateImpossible || status == RevisionYearShort {
					p.undated++
				}
				continue
			}
			if ch.warned[i] {
				c.judge(ch, i, c.today, warn)
			}
			if ch.date(death, i) != noDay || ch.flags[i]&flagDeadYes != 0 {
				p.death++
			}
		}
	})
	var all part
	for _, p := range parts {
		for r, n := range p.reasons {
			all.reasons[r] += n
		}
		all.undated += p.undated
		all.death += p.death
		all.inFiles += p.inFiles
		all.read += p.read
	}
	for at := range c.twins {
		if c.chunks[at.chunk].status[at.i] == used {
			all.reasons[TwoIdentifiers]++
		}
	}
	a := &c.Account
	a.InFiles, a.Read, a.Used = all.inFiles, all.read, all.reasons[used]
	a.SetAside = a.Read - a.Used
	a.RevisedUndated = all.undated
	for r := RowUnreadable; r < reasons; r++ {
		if n := all.reasons[r]; n > 0 {
			if r.SetsAside() {
				a.Reasons = append(a.Reasons, ReasonCount{r, n})
			} else {
				a.Warnings = append(a.Warnings, ReasonCount{r, n})
			}
		}
	}
	would := make(map[place]bool)
	for at, of := range c.repeats {
		if ch := c.all[at.chunk]; ch.role == primaries && ch.file != c.all[of.chunk].file && (ch.status[at.i] == PossibleRevision || ch.status[at.i] == DuplicateRow) {
			a.RepeatsElsewhere++
		}
		if ch := c.all[at.chunk]; ch.role == primaries && (ch.status[at.i] == PossibleRevision || ch.status[at.i] == OperationTypeNotUnderstood) && c.unrevisedInUse(of) {
			would[of] = true
		}
	}
	a.PossibleRevisions = len(would)
	c.unjoined()
	d := &c.Deaths
	a.Lost = all.reasons[LostToFollowUp]
	d.Column, d.Without = c.deathColumns()
	d.Used = all.death
	if d.Used == 0 {
		d.Expected = c.expectedDeaths()
	}
	d.Recorded = d.Column && (d.Used > 0 || d.Expected < severalDeaths)
}

// unjoined counts the rows that record revisions of no joint in use.
func (c *Cohort) unjoined() {
	var rows [reasons]int
	joints := make(map[jointKey]bool)
	for ci, ch := range c.all {
		if ch.role == deaths || ch.role == primaries && ch.outcome == nil && !slices.ContainsFunc(c.Account.Reasons, func(r ReasonCount) bool { return r.Reason == NotPrimary }) {
			continue
		}
		for i, f := range ch.flags {
			reason := Reason(used)
			if ch.outcome != nil {
				reason = ch.outcome[i]
			}
			switch {
			case ch.role == primaries && ch.status[i] == outOfScope:
				continue
			case reason == RevisionWithoutPrimary, reason == RevisionBeforePrimary, reason == RevisionUnlinkable:
			case ch.role == primaries && ch.status[i] == NotPrimary && f.recordsRevision():
				reason = NotPrimary
			default:
				continue
			}
			rows[reason]++
			of, ok := c.repeats[place{int32(ci), int32(i)}]
			if ok && !c.unrevisedInUse(of) {
				continue
			}
			if key, ok := ch.jointKey(i); !ok || !joints[key] {
				c.Account.UnjoinedJoints++
				if ok {
					joints[key] = true
				}
			}
		}
	}
	for r, n := range rows {
		if n > 0 {
			c.Account.Unjoined = append(c.Account.Unjoined, ReasonCount{Reason(r), n})
		}
	}
}

// deathColumns says whether every table has a column for deaths, and which
// tables have none if others do.
func (c *Cohort) deathColumns() (all bool, without []string) {
	tables := 0
	for _, f := range c.Files {
		switch f.Holds {
		case deaths.String():
			return true, nil
		case revisions.String():
			continue
		}
		tables++
		if !slices.ContainsFunc(f.Headings, func(h Heading) bool { return h.Column == "death_date" || h.Column == "dead" }) {
			without = append(without, f.Title())
		}
	}
	switch len(without) {
	case 0:
		return true, nil
	case tables:
		return false, nil
	}
	return false, without
}

// expectedDeaths is the rough number to be expected among the rows in use.
func (c *Cohort) expectedDeaths() float64 {
	total := 0.0
	for _, ch := range c.chunks {
		for i, status := range ch.status {
			if status == used {
				age, _, _ := ch.ageAt(ch.date(operation, i), i)
				total += expectedDeaths(age, ch.exit[i])
			}
		}
	}
	return total
}

// severalDeaths is the expected number from which no death at all means that
// deaths were not recorded: by chance alone that happens in e^−5 = 0.7 % of
// tables.
const severalDeaths = 5

// expectedDeaths is a rough number of deaths to be expected over a follow-up:
// a hazard of 1.2 % a year at 65 that doubles every 8 years (common practice,
// no source; period life tables of high-income countries lie near it), taken
// at the middle of the follow-up. An age not recorded counts as 65.
func expectedDeaths(age int, days int32) float64 {
	if age == noAge {
		age = 65
	}
	years := float64(days) / DaysPerYear
	return years * 0.012 * math.Exp2((float64(age)+years/2-65)/8)
}

// remarks gives every problem of one row.
func (c *Cohort) remarks(ci, i int32, yield func(Problem)) {
	ch := c.chunks[ci]
	p := Problem{File: ch.file, Row: int(ch.row[i])}
	status := ch.status[i]
	if ch.outcome != nil && ch.outcome[i] != 0 && status == ch.outcome[i] {
		c.outcomeOf(&p, place{ci, i})
		yield(p)
		return
	}
	if of, ok := c.repeats[place{ci, i}]; ok {
		kept := c.chunks[of.chunk]
		p.Reason, p.Column, p.OfFile, p.Of = status, "operation_date", kept.file, int(kept.row[of.i])
		if status == OperationTypeNotUnderstood {
			p.Column = "operation_type"
		}
		yield(p)
		return
	}
	if of, ok := c.twins[place{ci, i}]; ok && status == used {
		other, w := c.chunks[of.chunk], p
		w.Reason, w.Column, w.OfFile, w.Of = TwoIdentifiers, "patient", other.file, int(other.row[of.i])
		yield(w)
	}
	j := c.judge(ch, int(i), c.today, func(r Reason, column string) {
		w := p
		w.Reason, w.Column = r, column
		if status == used {
			c.locate(&w, place{ci, i})
			yield(w)
		}
	})
	if j.status != used {
		p.Reason, p.Column = j.status, j.column
		c.locate(&p, place{ci, i})
		yield(p)
	}
}

// lost says whether a row in use was censored long before the closing date.
func (c *Cohort) lost(ch *chunk, i int) bool {
	return ch.cause[i] == causeCensored && !ch.undatedDeath(i) && int32(c.Closing.Day)-(ch.date(operation, i)+ch.exit[i]) > c.lostAfter
}

// undatedDeath says whether a row says that the patient is dead, and not since
// when.
func (ch *chunk) undatedDeath(i int) bool {
	day := ch.date(death, i)
	return day == badDay || day == noDay && ch.flags[i]&flagDeadYes != 0
}
