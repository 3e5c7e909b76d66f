package cohort

import (
	"math"
	"slices"
	"sync"

	"example.org/holdfast/cohort/internal/parallel"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
)

// counted is what is counted of some rows.
type counted struct {
	reasons             [row.ReasonCount]int
	undated, died, lost int
	assumed, known      int
	inFiles, read       int

	unrevised, ofAValue int // rows that are not revised; those set aside for what stands in one cell
}

func (p *counted) add(o *counted) {
	for r, n := range o.reasons {
		p.reasons[r] += n
	}
	p.undated += o.undated
	p.died += o.died
	p.lost += o.lost
	p.assumed += o.assumed
	p.known += o.known
	p.inFiles += o.inFiles
	p.read += o.read
}

// ofAValue are the reasons that set a row aside for what stands in one cell.
var ofAValue = [row.ReasonCount]bool{
	OperationDateImpossible: true, OperationYearShort: true, DateInFuture: true, RevisionDateImpossible: true, RevisionYearShort: true,
	RevisionBeforeOperation: true, DeathBeforeOperation: true, DeadWithoutDate: true, AgeOutOfRange: true,
}

// countBlock counts the rows of one block.
func (c *Cohort) countBlock(bi int) *counted {
	p, f, in, b := new(counted), &c.linked.fates[bi], c.inScope(bi), c.store.Blocks[bi]
	asked := len(c.linked.asked) > 0
	for i := range f.of {
		o := f.of[i]
		reason := o.reason()
		p.inFiles++
		if in != nil && !in(i) {
			continue
		}
		p.read++
		p.reasons[reason]++
		if ofAValue[reason] {
			p.ofAValue++
		}
		if o.used() && o.cause() != row.Revised || ofAValue[reason] && b.Day(store.Revision, i) == row.NoDay {
			p.unrevised++
		}
		switch reason {
		case row.Used:
			for warning := range f.warn(i).All() {
				p.reasons[warning]++
			}
			if asked {
				for _, q := range c.linked.asked[row.Place{Block: int32(bi), Index: int32(i)}] {
					p.reasons[q.reason]++
				}
			}
			if o.has(markDead) {
				p.died++
			}
			switch {
			case o.has(markAssumed):
				p.assumed++
			case o.cause() == row.Censored && !o.has(markDeadUndated):
				p.known++
			}
		case RevisedWithoutDate, RevisionDateImpossible, RevisionYearShort:
			p.undated++
		}
	}
	return p
}

// countRanges counts the rows of the primaries that are not kept.
func (c *Cohort) countRanges() counted {
	var p counted
	in := c.hasNothing()
	for _, t := range c.store.Tables {
		for _, r := range t.Aside {
			if t.Role != row.Primaries {
				continue
			}
			n := int(r.To-r.From) + 1
			p.inFiles += n
			if in {
				p.read += n
				p.reasons[r.Reason] += n
			}
		}
	}
	return p
}

func (c *Cohort) counts() counts {
	parts := make([]*counted, len(c.store.Blocks))
	parallel.Each(len(parts), func(bi int) { parts[bi] = c.countBlock(bi) })
	all, unrevised, aside := c.countRanges(), make(map[int]int), make(map[int]int)
	for bi, p := range parts {
		all.add(p)
		file := c.store.Blocks[bi].Table().File
		unrevised[file] += p.unrevised
		aside[file] += p.ofAValue
	}
	a := Account{InFiles: all.inFiles, Read: all.read, Used: all.reasons[row.Used], RevisedUndated: all.undated, Lost: all.reasons[LostToFollowUp], Assumed: all.assumed, Known: all.known}
	a.SetAside = a.Read - a.Used
	for r := RowUnreadable; r < row.ReasonCount; r++ {
		switch n := all.reasons[r]; {
		case n == 0:
		case r.SetsAside():
			a.Reasons = append(a.Reasons, ReasonCount{r, n})
		default:
			a.Warnings = append(a.Warnings, ReasonCount{r, n})
		}
	}
	c.countTies(&a)
	a.NoRevisions = a.Used > 0 && c.recordsNone()
	d := Deaths{Used: all.died}
	d.Column, d.Without = c.deathColumns()
	if d.Used == 0 {
		d.Expected = c.expectedDeaths()
	}
	d.Recorded = d.recorded()
	return counts{a, d, unrevised, aside}
}

// recorded says that deaths can be relied on.
func (d Deaths) recorded() bool { return d.Column && (d.Used > 0 || d.Expected < severalDeaths) }

// recordsNone says whether no row of any table records a revision, dated or not.
func (b *base) recordsNone() bool {
	for _, t := range b.store.Tables {
		if t.Role == row.Revisions && slices.ContainsFunc(t.Aside, func(r store.Range) bool { return r.Reason == row.RowUnreadable }) {
			return false
		}
	}
	for _, block := range b.store.Blocks {
		if block.Table().Role == row.Deaths {
			continue
		}
		for i := range block.Len() {
			f := block.Flags(i)
			revises := f&(row.FlagRevisedYes|row.FlagRevisedUnclear) != 0 || f.RecordsRevision() || block.Day(store.Revision, i) != row.NoDay || block.Codes(store.Reason)(i) != 0
			if f&row.FlagBare == 0 && (revises || block.Table().Role == row.Revisions) {
				return false
			}
		}
	}
	return true
}

// countTies counts the rows set aside that repeat others or record revisions of
// no joint in use.
func (c *Cohort) countTies(a *Account) {
	k := c.linked
	would := make(map[row.Place]bool)
	joints := make(map[jointKey]bool)
	var unjoined [row.ReasonCount]int
	for _, t := range k.ties {
		tied := t.of.Block >= 0
		if !t.primaries || c.has(t.at) {
			if t.primaries && tied && c.store.Blocks[t.at.Block].Table().File != c.store.Blocks[t.of.Block].Table().File && (t.reason == PossibleRevision || t.reason == DuplicateRow) {
				a.RepeatsElsewhere++
			}
			if t.primaries && tied && (t.reason == PossibleRevision || t.reason == OperationTypeNotUnderstood) && c.has(t.of) && k.unrevised(t.of) {
				would[t.of] = true
			}
		}
		switch {
		case t.primaries && !c.has(t.at):
			continue
		case t.reason == RevisionWithoutPrimary, t.reason == RevisionBeforePrimary, t.reason == RevisionUnlinkable, t.reason == NotPrimary:
		default:
			continue
		}
		if !t.primaries && len(c.narrow) > 0 && (!tied || !c.has(t.of)) {
			if !tied {
				a.UnjoinedOfWhole++
			}
			continue
		}
		unjoined[t.reason]++
		if tied && !(c.has(t.of) && k.unrevised(t.of)) || t.known && joints[t.joint] {
			continue
		}
		a.UnjoinedJoints++
		if t.known {
			joints[t.joint] = true
		}
	}
	a.PossibleRevisions = len(would)
	for r, n := range unjoined {
		if n > 0 {
			a.Unjoined = append(a.Unjoined, ReasonCount{Reason(r), n})
		}
	}
}

// deathColumns says whether every table has a column for deaths, and which
// tables have none if others do.
func (c *Cohort) deathColumns() (all bool, without []string) {
	tables := 0
	for _, f := range c.Files {
		switch f.Holds {
		case row.Deaths.String():
			return true, nil
		case row.Revisions.String():
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
	type follow struct {
		age  int
		days int32
	}
	joints := make(map[follow]int)
	for bi, b := range c.store.Blocks {
		for i := range c.used(bi) {
			joints[follow{b.Age(i), c.linked.fates[bi].of[i].exit()}]++
		}
	}
	total := 0 // whole parts of a death, so that sums over tables are the same in any order
	for f, n := range joints {
		total += n * int(math.Round(expectedDeaths(f.age, f.days)*partsOfADeath))
	}
	return float64(total) / partsOfADeath
}

const partsOfADeath = 1 << 32

// severalDeaths is the expected number from which no death at all means that
// deaths were not recorded: by chance alone that happens in e^−5 = 0.7 % of
// tables.
const severalDeaths = 5

// expectedDeaths is a rough number of deaths to be expected over a follow-up:
// a hazard of 1.2 % a year at 65 that doubles every 8 years (common practice,
// no source; period life tables of high-income countries lie near it), taken
// at the middle of the follow-up. An age not recorded counts as 65.
func expectedDeaths(age int, days int32) float64 {
	if age == 0 {
		age = 65
	}
	years := float64(days) / DaysPerYear
	return years * 0.012 * math.Exp2((float64(age)+years/2-65)/8)
}

// remembering makes a cohort count its rows when it is first asked.
func (c *Cohort) remembering() *Cohort {
	c.count = sync.OnceValue(c.counts)
	return c
}

// Account says what became of the rows in scope.
func (c *Cohort) Account() Account { return c.count().account }

// Deaths says whether deaths can be relied on.
func (c *Cohort) Deaths() Deaths { return c.count().deaths }

// DeathList says what became of the lists of deaths.
func (c *Cohort) DeathList() DeathList { return c.linked.deathList }

// InSeveralTables says whether the identifiers that stand in several tables of primaries
// are of the same patients. It is empty of one table, and where
// [Options].PatientsByTable was asked.
func (c *Cohort) InSeveralTables() InSeveralTables { return c.linked.several }

// ZerosIgnored is how many patients have identifiers that differ in leading zeros only, as when a
// spreadsheet took them away, and are one person: birth date, or year of birth and sex, or an
// operation of theirs agrees. Those of whom nothing tells are problems; see [IdentifierZeros].
func (c *Cohort) ZerosIgnored() int { return c.store.ButForZeros }

// TablesAgain lists the tables of primaries, in their order, most of whose joints stand in
// an earlier table too. Tables of more than 200,000 rows together are not looked through.
func (c *Cohort) TablesAgain() []TableAgain { return slices.Clone(c.linked.again) }
