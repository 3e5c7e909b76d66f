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
	"math"

	"example.org/holdfast/survival"
)

// MaxDay is the highest day that can be counted, some 273 years.
const MaxDay = 99_999

// Counts are the numbers of subjects of one group by the day they left
// observation and the cause. The zero value is not usable; see [New].
type Counts struct {
	causes int
	n      []int64 // n[day*(causes+1)+cause]; cause 0 is censoring
}

// New returns empty counts for the given number of causes. It panics below 1.
func New(causes int) *Counts {
	if causes < 1 {
		panic("tally: want one cause or more")
	}
	return &Counts{causes: causes}
}

// Causes is the number of causes.
func (c *Counts) Causes() int { return c.causes }

// Days is one more than the last day counted.
func (c *Counts) Days() int { return len(c.n) / (c.causes + 1) }

// Grow makes room for days up to but not including the given number, so that
// adding them allocates nothing.
func (c *Counts) Grow(days int) {
	if size := days * (c.causes + 1); size > cap(c.n) {
		n := make([]int64, len(c.n), size)
		copy(n, c.n)
		c.n = n
	}
}

// Add counts one subject that left observation on the given day, from 0 to
// [MaxDay]; cause 0 means censored. It panics outside these ranges.
func (c *Counts) Add(day int32, cause int) {
	// Short enough to be inlined. A day below 0 gives an index below 0, one
	// above MaxDay an index that is never in n.
	i := int(day)*(c.causes+1) + cause
	if uint(cause) > uint(c.causes) || uint(i) >= uint(len(c.n)) {
		c.addBeyond(day, cause)
		return
	}
	c.n[i]++
}

// addBeyond is Add for what n has no room for yet, or what can't be counted.
func (c *Counts) addBeyond(day int32, cause int) {
	if uint(day) > MaxDay || uint(cause) > uint(c.causes) {
		panic(fmt.Sprintf("tally: day %d, cause %d", day, cause))
	}
	c.extend(int(day) + 1)
	c.n[int(day)*(c.causes+1)+cause]++
}

// extend lengthens n to the given number of days.
func (c *Counts) extend(days int) {
	size := days * (c.causes + 1)
	if size > cap(c.n) {
		c.Grow(max(days, 2*c.Days()))
	}
	old := len(c.n)
	c.n = c.n[:size]
	clear(c.n[old:])
}

// Merge adds another group's counts, exactly. It is an error if the number of
// causes differs or a count would overflow; c is then unchanged.
func (c *Counts) Merge(o *Counts) error {
	if c.causes != o.causes {
		return fmt.Errorf("tally: merging %d causes into %d", o.causes, c.causes)
	}
	for i, n := range o.n {
		if i < len(c.n) && c.n[i] > math.MaxInt64-n {
			return fmt.Errorf("tally: count of day %d overflows", i/(c.causes+1))
		}
	}
	if len(o.n) > len(c.n) {
		c.extend(o.Days())
	}
	for i, n := range o.n {
		c.n[i] += n
	}
	return nil
}

// On is the number of subjects that left observation on a day for a cause.
func (c *Counts) On(day int32, cause int) int64 {
	i := int(day)*(c.causes+1) + cause
	if day < 0 || uint(cause) > uint(c.causes) || i >= len(c.n) {
		return 0
	}
	return c.n[i]
}

// Total is the number of subjects that left observation for a cause; 0 is
// censoring. It is 0 for a cause that is not there.
func (c *Counts) Total(cause int) int64 {
	if uint(cause) > uint(c.causes) {
		return 0
	}
	var total int64
	for i := cause; i < len(c.n); i += c.causes + 1 {
		total += c.n[i]
	}
	return total
}

// Subjects is the number of subjects counted.
func (c *Counts) Subjects() int64 {
	var total int64
	for _, n := range c.n {
		total += n
	}
	return total
}

// PersonDays is the total of all subjects' days.
func (c *Counts) PersonDays() int64 {
	var total int64
	for i, n := range c.n {
		total += int64(i/(c.causes+1)) * n
	}
	return total
}

// Table is the life table of the counts; its times are days.
func (c *Counts) Table() *survival.Table {
	width := c.causes + 1
	rows := 0
	for i := 0; i < len(c.n); i += width {
		if left(c.n[i:i+width]) > 0 {
			rows++
		}
	}
	all := make([]float64, rows*(width+2))
	column := func(i int) []float64 { return all[i*rows : (i+1)*rows : (i+1)*rows] }
	t := &survival.Table{Time: column(0), AtRisk: column(1), Censored: column(2), Event: make([][]float64, c.causes)}
	for k := range t.Event {
		t.Event[k] = column(3 + k)
	}
	atRisk := c.Subjects()
	row := 0
	for i := 0; i < len(c.n); i += width {
		day := c.n[i : i+width]
		gone := left(day)
		if gone == 0 {
			continue
		}
		t.Time[row] = float64(i / width)
		t.AtRisk[row] = float64(atRisk)
		t.Censored[row] = float64(day[0])
		for k := range t.Event {
			t.Event[k][row] = float64(day[k+1])
		}
		atRisk -= gone
		row++
	}
	return t
}

func left(day []int64) int64 {
	var n int64
	for _, k := range day {
		n += k
	}
	return n
}
