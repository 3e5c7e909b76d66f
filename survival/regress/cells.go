package regress

import (
	"errors"
	"math"
	"math/bits"
	"slices"
)

// Why somebody left observation, as a model sees it. The order is that in which
// those who leave at one time are kept.
const (
	censored = iota
	competing
	failed // had the event
)

// cell is the subjects of one pattern who left observation at one time of one
// stratum for one reason, or came under observation there: the sum of their
// weights.
type cell struct {
	pattern int32
	weight  float64
}

// slot is one time of one stratum.
type slot struct {
	stratum, time int32 // their numbers
	exits         []cell
	others        int // exits[others:] had a competing event or the event
	dead          int // exits[dead:] had the event
	entries       []cell

	leaving, entering int64   // subjects
	deaths            float64 // subjects who had the event, D
	deathWeight       float64 // the sum of their weights, W
}

func (s *slot) failures() []cell  { return s.exits[s.dead:] }
func (s *slot) competing() []cell { return s.exits[s.others:s.dead] }

// cells is data collapsed: what is alike is counted once, in the order of
// stratum, time, reason and pattern, whatever the order of the rows.
type cells struct {
	slots    []slot
	times    []float64 // distinct times
	strata   []int32   // the caller's numbers of the strata
	place    func(time float64) int32
	subjects int64
	events   int64
	mass     []float64 // weight of each pattern

	// Rows of the design that are the same are one pattern: of each row its
	// pattern, and of each pattern a row.
	patternOf, rowOf []int32
}

// collapse counts rows alike. reason says why a row's observation ended.
func collapse(d *Data, reason func(cause int) int) (*cells, error) {
	c := new(cells)
	c.patternOf, c.rowOf = distinctRows(d.Design)
	c.mass = make([]float64, len(c.rowOf))
	c.times, c.place = distinctTimes(d)
	stratum := c.numberStrata(d)
	timeBits, patternBits := bits.Len(uint(len(c.times))), bits.Len(uint(len(c.rowOf)))
	width := bits.Len(uint(len(c.strata))) + timeBits + 2 + patternBits
	if width > 64 {
		return nil, errors.New("regress: too many strata, times and patterns together")
	}
	key := func(i int, time float64, why int) uint64 {
		k := uint64(stratum(i))<<timeBits | uint64(c.place(time))
		return (k<<2|uint64(why))<<patternBits | uint64(c.patternOf[d.pattern(i)])
	}
	exits := newRuns(d)
	entries := newRuns(d)
	for i, exit := range d.Sample.Exit {
		if !d.used(i) {
			continue
		}
		why := reason(d.Sample.Cause[i])
		c.subjects += d.count(i)
		if why == failed {
			c.events += d.count(i)
		}
		exits.add(i, key(i, exit, why))
		if late := d.Sample.Entry; late != nil && !math.IsInf(late[i], -1) {
			entries.add(i, key(i, late[i], 0))
		}
	}
	if c.events == 0 {
		return nil, ErrNoEvents
	}
	exits.sort(width)
	entries.sort(width)
	c.fill(exits, entries, timeBits, patternBits)
	return c, nil
}

// fill makes slots of the sorted rows.
func (c *cells) fill(exits, entries *runs, timeBits, patternBits int) {
	pattern := func(k uint64) int32 { return int32(k & (1<<patternBits - 1)) }
	slotOf := func(k uint64) uint64 { return k >> (patternBits + 2) }
	out, in := exits.reader(), entries.reader()
	allOut, allIn := make([]cell, 0, exits.distinct()), make([]cell, 0, entries.distinct())
	for out.more() || in.more() {
		at := uint64(math.MaxUint64)
		if out.more() {
			at = slotOf(out.key())
		}
		if in.more() {
			at = min(at, slotOf(in.key()))
		}
		s := slot{stratum: int32(at >> timeBits), time: int32(at & (1<<timeBits - 1))}
		from := len(allOut)
		for out.more() && slotOf(out.key()) == at {
			k := out.key()
			why := int(k>>patternBits) & 3
			n, w := out.run()
			s.leaving += n
			if why == censored {
				s.others++
			}
			if why != failed {
				s.dead++
			} else {
				s.deaths += float64(n)
				s.deathWeight += w
			}
			c.mass[pattern(k)] += w
			allOut = append(allOut, cell{pattern(k), w})
		}
		s.exits = allOut[from:len(allOut):len(allOut)]
		from = len(allIn)
		for in.more() && slotOf(in.key()) == at {
			k := in.key()
			n, w := in.run()
			s.entering += n
			allIn = append(allIn, cell{pattern(k), w})
		}
		s.entries = allIn[from:len(allIn):len(allIn)]
		c.slots = append(c.slots, s)
	}
}

// distinctRows numbers the rows of a design that differ, in their order.
func distinctRows(design [][]float64) (patternOf, rowOf []int32) {
	patternOf = make([]int32, len(design))
	size := 1 << bits.Len(uint(2*len(design)))
	table := make([]int32, size) // by hash, a pattern and 1
	for i, row := range design {
		hash := uint64(14695981039346656037)
		for _, x := range row {
			hash = (hash ^ math.Float64bits(x+0)) * 1099511628211 // −0 is 0
			hash ^= hash >> 29
		}
		at := hash & uint64(size-1)
		for ; table[at] != 0; at = (at + 1) & uint64(size-1) {
			if slices.Equal(design[rowOf[table[at]-1]], row) {
				break
			}
		}
		if table[at] == 0 {
			rowOf = append(rowOf, int32(i))
			table[at] = int32(len(rowOf))
		}
		patternOf[i] = table[at] - 1
	}
	return patternOf, rowOf
}

// distinctTimes are the times of exits and entries, and a function that finds
// their numbers. Whole days are found by counting, other times by sorting.
func distinctTimes(d *Data) ([]float64, func(float64) int32) {
	const most = 1 << 20
	columns := [][]float64{d.Sample.Exit}
	if d.Sample.Entry != nil {
		columns = append(columns, d.Sample.Entry)
	}
	whole, last := true, 0
	for _, column := range columns {
		for _, t := range column {
			if math.IsInf(t, -1) {
				continue
			}
			if !(t >= 0 && t < most) || t != math.Trunc(t) {
				whole = false
				break
			}
			last = max(last, int(t))
		}
	}
	if whole {
		number := make([]int32, last+1)
		for _, column := range columns {
			for _, t := range column {
				if t >= 0 {
					number[int(t)] = 1
				}
			}
		}
		var times []float64
		for day, seen := range number {
			if seen != 0 {
				number[day] = int32(len(times))
				times = append(times, float64(day))
			}
		}
		return times, func(t float64) int32 { return number[int(t)] }
	}
	var times []float64
	for _, column := range columns {
		for _, t := range column {
			if !math.IsInf(t, -1) {
				times = append(times, t+0) // −0 is the same time as 0
			}
		}
	}
	slices.Sort(times)
	times = slices.Compact(times)
	return times, func(t float64) int32 {
		i, _ := slices.BinarySearch(times, t)
		return int32(i)
	}
}

// numberStrata numbers the strata from 0 in the order of the caller's numbers.
func (c *cells) numberStrata(d *Data) func(i int) int32 {
	if d.Stratum == nil {
		c.strata = []int32{0}
		return func(int) int32 { return 0 }
	}
	seen := make(map[int32]int32)
	for _, s := range d.Stratum {
		if _, ok := seen[s]; !ok {
			seen[s] = 0
			c.strata = append(c.strata, s)
		}
	}
	slices.Sort(c.strata)
	for i, s := range c.strata {
		seen[s] = int32(i)
	}
	if top := c.strata[len(c.strata)-1]; int(top) < 4*len(c.strata)+1024 {
		number := make([]int32, top+1)
		for s, i := range seen {
			number[s] = i
		}
		return func(i int) int32 { return number[d.Stratum[i]] }
	}
	return func(i int) int32 { return seen[d.Stratum[i]] }
}

// runs are rows by their keys. Where all rows stand for one subject of weight 1,
// the keys say everything.
type runs struct {
	d    *Data
	keys []uint64
	row  []int32
	each bool // one subject of weight 1 for each row
}

func newRuns(d *Data) *runs {
	return &runs{d: d, each: d.Count == nil && d.Sample.Weight == nil}
}

func (r *runs) add(row int, key uint64) {
	if r.keys == nil {
		r.keys = make([]uint64, 0, r.d.rows())
		if !r.each {
			r.row = make([]int32, 0, r.d.rows())
		}
	}
	r.keys = append(r.keys, key)
	if !r.each {
		r.row = append(r.row, int32(row))
	}
}

func (r *runs) sort(width int) { sortKeys(r.keys, r.row, width) }

func (r *runs) distinct() int {
	n := 0
	for i, k := range r.keys {
		if i == 0 || k != r.keys[i-1] {
			n++
		}
	}
	return n
}

func (r *runs) reader() *runReader { return &runReader{runs: r} }

type runReader struct {
	*runs
	next    int
	weights []float64
}

func (r *runReader) more() bool  { return r.next < len(r.keys) }
func (r *runReader) key() uint64 { return r.keys[r.next] }

// run takes all rows of the present key: subjects, and the sum of their
// weights, in the order of the weights, so that the order of the rows does not
// matter.
func (r *runReader) run() (subjects int64, weight float64) {
	from, key := r.next, r.keys[r.next]
	for r.next < len(r.keys) && r.keys[r.next] == key {
		r.next++
	}
	if r.each {
		return int64(r.next - from), float64(r.next - from)
	}
	r.weights = r.weights[:0]
	for _, i := range r.row[from:r.next] {
		n := r.d.count(int(i))
		subjects += n
		r.weights = append(r.weights, float64(float64(n)*r.d.weight(int(i))))
	}
	slices.Sort(r.weights)
	for _, w := range r.weights {
		weight += w
	}
	return subjects, weight
}

// sortKeys sorts keys of the given number of bits, and the rows with them if
// there are any, keeping the order of equal keys: digit by digit, from the
// lowest.
func sortKeys(keys []uint64, rows []int32, width int) {
	const digit = 11
	if len(keys) < 2 {
		return
	}
	otherKeys := make([]uint64, len(keys))
	var otherRows []int32
	if rows != nil {
		otherRows = make([]int32, len(rows))
	}
	from, to, fromRows, toRows := keys, otherKeys, rows, otherRows
	for shift := 0; shift < width; shift += digit {
		var start [1 << digit]int
		for _, k := range from {
			start[k>>shift&(1<<digit-1)]++
		}
		total := 0
		for i, n := range start {
			start[i], total = total, total+n
		}
		for i, k := range from {
			at := &start[k>>shift&(1<<digit-1)]
			to[*at] = k
			if rows != nil {
				toRows[*at] = fromRows[i]
			}
			*at++
		}
		from, to, fromRows, toRows = to, from, toRows, fromRows
	}
	if &from[0] != &keys[0] {
		copy(keys, from)
		copy(rows, fromRows)
	}
}
