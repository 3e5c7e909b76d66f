// Package tally counts, per group, how many subjects left observation on which
// whole day and why. Counts are all that the estimators of package survival
// need; they add up exactly, in any order, so that a table of any size can be
// read in parts, by several readers, and its groups collapsed to margins
// without reading it again.
//
//  1. [Counts] holds one group: [Counts.Add] each subject's last day and cause.
//  2. [Counts.Table] is the life table, in O(days), without sorting. It is the
//     same, to the bit, as survival.NewTable's of the same subjects.
//  3. [Set] holds many groups by typed [Key]: [Set.Merge] adds another set's,
//     [Set.Collapse] keeps some dimensions and sums over the others.
//
// Days are counted from the start of each subject's own observation; day 0 is
// the first. There is no late entry and no weight here: that is for
// survival.Sample.
package tally

import (
	"fmt"
	"iter"
	"math"
	"slices"

	"example.org/holdfast/survival"
)

// MaxDay is the highest day that can be counted, some 273 years.
const MaxDay = 99_999

// Counts are the numbers of subjects of one group by the day they left
// observation and the cause. The zero value is not usable; see [New].
//
// A small group is kept as a list, so that hundreds of them cost little; a larger one as
// a number for each day and cause: a byte as long as a byte tells all of them.
type Counts struct {
	causes int
	listed bool     // list is used
	list   []uint32 // exits, as places in n or narrow; used while they are few
	last   uint32   // the highest of list
	narrow []uint8  // as n, while no number is above math.MaxUint8; nil once n is used
	n      []uint32 // n[day*(causes+1)+cause], cause 0 being censoring; nil until it is used
}

// A list has small exits or less, or one or less for every sparse places that n would
// have.
const (
	small  = 256
	sparse = 8
)

// few reports whether so many exits up to a place are kept as a list.
func few(exits int, last uint32) bool { return exits <= max(small, int(last)/sparse) }

// New returns empty counts for the given number of causes. It panics below 1.
func New(causes int) *Counts {
	if causes < 1 {
		panic("tally: want one cause or more")
	}
	return &Counts{causes: causes, listed: true}
}

// Causes is the number of causes.
func (c *Counts) Causes() int { return c.causes }

// Days is one more than the last day counted.
func (c *Counts) Days() int {
	if !c.listed {
		return max(len(c.n), len(c.narrow)) / (c.causes + 1)
	}
	if len(c.list) == 0 {
		return 0
	}
	return int(c.last)/(c.causes+1) + 1
}

// Grow makes room for days up to but not including the given number, so that
// adding them allocates nothing.
func (c *Counts) Grow(days int) {
	c.spread()
	c.widen()
	c.n = grown(c.n, days*(c.causes+1))
}

// grown is a slice with room for a size.
func grown[T any](of []T, size int) []T {
	if size <= cap(of) {
		return of
	}
	to := make([]T, len(of), size)
	copy(to, of)
	return to
}

// spread turns the list into a number for each day.
func (c *Counts) spread() {
	if !c.listed {
		return
	}
	days := c.Days()
	c.listed = false
	c.extend(days)
	for _, i := range c.list {
		c.one(int(i))
	}
	c.list = nil
}

// widen makes room for numbers of any size.
func (c *Counts) widen() {
	if c.listed || c.n != nil {
		return
	}
	c.n = make([]uint32, len(c.narrow), max(1, cap(c.narrow)))
	for i, n := range c.narrow {
		c.n[i] = uint32(n)
	}
	c.narrow = nil
}

// Add counts one subject that left observation on the given day, from 0 to
// [MaxDay]; cause 0 means censored. It panics outside these ranges. No more than
// 4,294,967,295 may leave on one day for one cause.
func (c *Counts) Add(day int32, cause int) {
	// A day below 0 gives an index below 0, one above MaxDay an index that is in neither; a
	// list has neither.
	i := int(day)*(c.causes+1) + cause
	switch {
	case uint(cause) > uint(c.causes):
	case uint(i) < uint(len(c.n)):
		c.n[i]++
		return
	case uint(i) < uint(len(c.narrow)) && c.narrow[i] < math.MaxUint8:
		c.narrow[i]++
		return
	}
	c.addBeyond(day, cause)
}

// addBeyond is Add for a list, for what there is no room for yet, and for what
// can't be counted.
func (c *Counts) addBeyond(day int32, cause int) {
	if uint(day) > MaxDay || uint(cause) > uint(c.causes) {
		panic(fmt.Sprintf("tally: day %d, cause %d", day, cause))
	}
	i := int(day)*(c.causes+1) + cause
	if c.listed {
		if last := max(c.last, uint32(i)); few(len(c.list)+1, last) {
			c.list, c.last = append(c.list, uint32(i)), last
			return
		}
		c.spread()
	}
	c.extend(int(day) + 1)
	c.one(i)
}

// one adds one at a place, and says whether it could.
func (c *Counts) one(i int) bool {
	if c.n == nil && c.narrow[i] < math.MaxUint8 {
		c.narrow[i]++
		return true
	}
	c.widen()
	if c.n[i] == math.MaxUint32 {
		return false
	}
	c.n[i]++
	return true
}

// extend lengthens what is no list to the given number of days, if it is shorter.
func (c *Counts) extend(days int) {
	if days <= c.Days() {
		return
	}
	size := days * (c.causes + 1)
	if c.n != nil {
		c.n = lengthened(c.n, size)
	} else {
		c.narrow = lengthened(c.narrow, size)
	}
}

// lengthened is a slice with zeros up to a size.
func lengthened[T any](of []T, size int) []T {
	if size > cap(of) {
		of = grown(of, max(size, len(of)*9/8)) // nearly all days are met soon
	}
	return of[:size] // beyond it there is 0
}

// Merge adds another group's counts, or its own again, exactly. It is an error if the number of
// causes differs or a count of one day and cause would be more than 4,294,967,295;
// c is then unchanged.
func (c *Counts) Merge(o *Counts) error {
	if c.causes != o.causes {
		return fmt.Errorf("tally: merging %d causes into %d", o.causes, c.causes)
	}
	if last := max(c.last, o.last); c.listed && o.listed && few(len(c.list)+len(o.list), last) {
		c.list, c.last = append(c.list, o.list...), last
		return nil
	}
	c.spread()
	days := c.Days()
	c.extend(o.Days())
	if beyond := c.plus(o); beyond >= 0 {
		c.n = c.n[:days*(c.causes+1)]
		return c.overflow(beyond)
	}
	return nil
}

// plus adds counts of no more days, and gives −1; or the place where the sum would be too
// large, and adds none.
func (c *Counts) plus(o *Counts) (beyond int) {
	switch {
	case o.listed:
		return c.plusList(o.list)
	case o.n != nil:
		c.widen()
		return plus(c.n, o.n, math.MaxUint32)
	case c.n == nil && plus(c.narrow, o.narrow, math.MaxUint8) < 0:
		return -1
	}
	narrow := o.narrow // o may be c
	c.widen()
	return plus(c.n, narrow, math.MaxUint32)
}

// plus adds numbers to others, if no sum is above the most there may be; else it gives the
// first that is, and adds none.
func plus[T, U uint8 | uint32](to []T, of []U, most uint64) (beyond int) {
	to = to[:len(of)]
	for i, n := range of {
		if uint64(to[i])+uint64(n) > most {
			return i
		}
	}
	for i, n := range of {
		to[i] += T(n)
	}
	return -1
}

// plusList is plus for a list.
func (c *Counts) plusList(list []uint32) (beyond int) {
	for k, i := range list {
		if c.one(int(i)) {
			continue
		}
		for _, done := range list[:k] {
			c.n[done]-- // what is too large is counted there
		}
		return int(i)
	}
	return -1
}

func (c *Counts) overflow(place int) error {
	return fmt.Errorf("tally: count of day %d overflows", place/(c.causes+1))
}

// On is the number of subjects that left observation on a day for a cause.
func (c *Counts) On(day int32, cause int) int64 {
	at := int(day)*(c.causes+1) + cause
	switch {
	case day < 0 || uint(cause) > uint(c.causes):
		return 0
	case at < len(c.n):
		return int64(c.n[at])
	case at < len(c.narrow):
		return int64(c.narrow[at])
	}
	var total int64
	for _, i := range c.list {
		if int(i) == at {
			total++
		}
	}
	return total
}

// Total is the number of subjects that left observation for a cause; 0 is
// censoring.
func (c *Counts) Total(cause int) int64 {
	if uint(cause) > uint(c.causes) {
		return 0
	}
	var total int64
	if c.listed {
		for _, i := range c.list {
			if int(i)%(c.causes+1) == cause {
				total++
			}
		}
		return total
	}
	for _, on := range c.days() {
		total += int64(on[cause])
	}
	return total
}

// Subjects is the number of subjects counted.
func (c *Counts) Subjects() int64 {
	total := int64(len(c.list))
	for _, n := range c.n {
		total += int64(n)
	}
	for _, n := range c.narrow {
		total += int64(n)
	}
	return total
}

// PersonDays is the total of all subjects' days.
func (c *Counts) PersonDays() int64 {
	var total int64
	if c.listed { // it need not be in order
		for _, i := range c.list {
			total += int64(int(i) / (c.causes + 1))
		}
		return total
	}
	for day, on := range c.days() {
		for _, n := range on {
			total += int64(day) * int64(n)
		}
	}
	return total
}

// days gives each day on which somebody left observation, in order, and how many did
// for each cause. The numbers are good until the next day's.
func (c *Counts) days() iter.Seq2[int, []uint32] {
	return func(yield func(int, []uint32) bool) {
		on := make([]uint32, c.causes+1)
		switch {
		case c.listed:
			c.listedDays(on, yield)
		case c.n != nil:
			someDays(c.n, on, yield)
		default:
			someDays(c.narrow, on, yield)
		}
	}
}

func (c *Counts) listedDays(on []uint32, yield func(int, []uint32) bool) {
	list, width := slices.Clone(c.list), uint32(len(on))
	slices.Sort(list)
	for len(list) > 0 {
		day := list[0] / width
		for clear(on); len(list) > 0 && list[0]/width == day; list = list[1:] {
			on[list[0]%width]++
		}
		if !yield(int(day), on) {
			return
		}
	}
}

func someDays[T uint8 | uint32](n []T, on []uint32, yield func(int, []uint32) bool) {
	for day, width := 0, len(on); len(n) > 0; day, n = day+1, n[width:] {
		some := T(0)
		for cause, of := range n[:width] {
			some |= of
			on[cause] = uint32(of)
		}
		if some != 0 && !yield(day, on) {
			return
		}
	}
}

// Table is the life table of the counts; its times are days.
func (c *Counts) Table() *survival.Table { return c.TableIn(nil) }

// TableIn is [Counts.Table], made in a room: it is good until that is cleared.
func (c *Counts) TableIn(room *survival.Room) *survival.Table {
	most := c.Days() // rows
	if c.listed {
		most = min(most, len(c.list))
	}
	all := room.Floats(most * (c.causes + 3))
	rows, atRisk := 0, c.Subjects()
	for day, on := range c.days() {
		all[rows], all[most+rows] = float64(day), float64(atRisk)
		for k, n := range on {
			all[(2+k)*most+rows] = float64(n)
			atRisk -= int64(n)
		}
		rows++
	}
	column := func(i int) []float64 { return all[i*most : i*most+rows : i*most+rows] }
	t := &survival.Table{Time: column(0), AtRisk: column(1), Censored: column(2), Event: make([][]float64, c.causes)}
	for k := range t.Event {
		t.Event[k] = column(3 + k)
	}
	return t
}

// Exit is how many subjects left observation on one day for one cause.
type Exit struct {
	Day      int32
	Cause    int
	Subjects int64
}

// Exits gives what was counted, by day and within a day by cause, each once.
func (c *Counts) Exits() iter.Seq[Exit] {
	return func(yield func(Exit) bool) {
		for day, on := range c.days() {
			for cause, n := range on {
				if n != 0 && !yield(Exit{int32(day), cause, int64(n)}) {
					return
				}
			}
		}
	}
}

// AddExit counts the subjects of an exit, as [Counts.Add] does one. It is an error if
// more than 4,294,967,295 then left on the day for the cause, and if day, cause or
// number are out of range; c is then unchanged.
func (c *Counts) AddExit(e Exit) error {
	switch {
	case uint(e.Day) > MaxDay || uint(e.Cause) > uint(c.causes) || e.Subjects < 0:
		return fmt.Errorf("tally: %d subjects on day %d for cause %d", e.Subjects, e.Day, e.Cause)
	case e.Subjects == 0:
		return nil
	case c.listed && int64(len(c.list))+e.Subjects <= small:
		for range e.Subjects {
			c.Add(e.Day, e.Cause)
		}
		return nil
	}
	c.spread()
	c.extend(int(e.Day) + 1)
	i, n := int(e.Day)*(c.causes+1)+e.Cause, c.On(e.Day, e.Cause)
	if e.Subjects > math.MaxUint32-n {
		return c.overflow(i)
	}
	if n += e.Subjects; n > math.MaxUint8 {
		c.widen()
	}
	if c.n != nil {
		c.n[i] = uint32(n)
	} else {
		c.narrow[i] = uint8(n)
	}
	return nil
}
