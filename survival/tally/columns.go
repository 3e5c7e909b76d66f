package tally

import (
	"fmt"
	"runtime"
	"slices"
	"sync"
)

// scratch is how many of each group left for a cause on a day, as far as a byte tells: read in
// no order, they are to stay near the processor, and most leave for one cause. Each time one
// comes to 0 again is noted beside it.
type scratch struct {
	n    []uint8 // by group, then by cause, then by day
	over []int   // places in n, in order, once for every 256
}

// mostScratch is how many numbers a worker of Columns may keep: 64 MiB.
const mostScratch = 1 << 26

// Columns counts subjects held in columns of equal length, on all processors:
// subject i belongs to group[i], numbered from 0 to groups−1, and left
// observation on day[i] for cause[i], 0 being censoring. It is the same as
// adding them one by one, and faster for millions. It is an error if the
// columns differ in length, or a value is out of range: the error names the
// row, from 0.
func Columns[G, C ~uint8 | ~uint16](groups, causes int, group []G, day []int32, cause []C) ([]*Counts, error) {
	n := len(day)
	if len(group) != n || len(cause) != n {
		return nil, fmt.Errorf("tally: columns of %d groups, %d days and %d causes", len(group), n, len(cause))
	}
	counts := make([]*Counts, groups)
	for g := range counts {
		counts[g] = New(causes)
	}
	workers := min(runtime.GOMAXPROCS(0), 1+n/(1<<16))
	last, found, right := make([]uint32, workers), make([]scratch, workers), make([]bool, workers)
	parts(workers, n, func(w, from, to int) { last[w] = latest(day[from:to]) })
	width := causes + 1
	days := 1 + int(min(slices.Max(last), MaxDay))
	perGroup := days * width
	if groups*perGroup > mostScratch || n < groups*perGroup { // few subjects for so many days and groups
		if err := checked(groups, causes, group, day, cause); err != nil {
			return nil, err
		}
		for i, d := range day {
			counts[group[i]].Add(d, int(cause[i]))
		}
		return counts, nil
	}
	parts(workers, n, func(w, from, to int) {
		found[w].n = make([]uint8, groups*perGroup)
		right[w] = count(&found[w], groups, days, width, group[from:to], day[from:to], cause[from:to])
	})
	if slices.Contains(right, false) {
		return nil, checked(groups, causes, group, day, cause)
	}
	parts(workers, groups, func(_, from, to int) {
		for g := from; g < to; g++ {
			counts[g].sum(found, g*perGroup, perGroup)
		}
	})
	return counts, nil
}

// latest is the last of some days; one below 0 is after all others.
func latest(day []int32) (last uint32) {
	for _, d := range day {
		last = max(last, uint32(d))
	}
	return last
}

// count counts a worker's part, and says whether all of it can be.
func count[G, C ~uint8 | ~uint16](to *scratch, groups, days, width int, group []G, day []int32, cause []C) bool {
	n, perGroup, group, cause := to.n, days*width, group[:len(day)], cause[:len(day)]
	for i, d := range day {
		g, c := int(group[i]), int(cause[i])
		if g >= groups || c >= width || uint32(d) > MaxDay {
			return false
		}
		at := g*perGroup + c*days + int(d)
		if n[at]++; n[at] == 0 {
			to.over = append(to.over, at)
		}
	}
	slices.Sort(to.over)
	return true
}

// parts runs f on each worker's part of n.
func parts(workers, n int, f func(w, from, to int)) {
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() { f(w, w*n/workers, (w+1)*n/workers) })
	}
	wg.Wait()
}

// checked is an error about the first row that is out of range; nil if none is.
func checked[G, C ~uint8 | ~uint16](groups, causes int, group []G, day []int32, cause []C) error {
	for i, d := range day {
		if uint32(d) > MaxDay || int(group[i]) >= groups || int(cause[i]) > causes {
			return fmt.Errorf("tally: row %d: group %d, day %d, cause %d", i, group[i], d, cause[i])
		}
	}
	return nil
}

// sum sets empty counts to the sums of parts of what several workers found.
func (c *Counts) sum(found []scratch, from, size int) {
	c.spread()
	c.widen()
	n, width := make([]uint32, size), c.causes+1
	days := size / width
	for _, of := range found {
		for cause := range width {
			for day, k := range of.n[from+cause*days:][:days] {
				n[day*width+cause] += uint32(k)
			}
		}
		first, _ := slices.BinarySearch(of.over, from)
		for _, at := range of.over[first:] {
			if at -= from; at >= size {
				break
			}
			n[at%days*width+at/days] += 1 << 8
		}
	}
	for size > 0 && slices.Max(n[size-width:size]) == 0 { // days after the group's last
		size -= width
	}
	c.n = n[:size]
}
