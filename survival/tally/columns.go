package tally

import (
	"fmt"
	"runtime"
	"slices"
	"sync"
)

// mostScratch is how many numbers a worker of Columns may keep: 64 MiB.
const mostScratch = 1 << 24

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
	last, wrong := make([]int32, workers), make([]int, workers)
	parts(workers, n, func(w, from, to int) {
		last[w], wrong[w] = checked(groups, causes, group[from:to], day[from:to], cause[from:to])
		wrong[w] += from
	})
	for w := range workers {
		if i := wrong[w]; i < (w+1)*n/workers {
			return nil, fmt.Errorf("tally: row %d: group %d, day %d, cause %d", i, group[i], day[i], cause[i])
		}
	}
	width := causes + 1
	perGroup := (1 + int(slices.Max(last))) * width
	if groups*perGroup > mostScratch || n < groups*perGroup {
		for i, d := range day { // few subjects for so many days and groups
			counts[group[i]].Add(d, int(cause[i]))
		}
		return counts, nil
	}
	scratch := make([][]uint32, workers)
	parts(workers, n, func(w, from, to int) {
		s := make([]uint32, groups*perGroup)
		group, day, cause := group[from:to], day[from:to], cause[from:to]
		for i, d := range day {
			s[int(group[i])*perGroup+int(d)*width+int(cause[i])]++
		}
		scratch[w] = s
	})
	parts(workers, groups, func(_, from, to int) {
		for g := from; g < to; g++ {
			counts[g].sum(scratch, g*perGroup, perGroup)
		}
	})
	return counts, nil
}

// parts runs f on each worker's part of n.
func parts(workers, n int, f func(w, from, to int)) {
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() { f(w, w*n/workers, (w+1)*n/workers) })
	}
	wg.Wait()
}

// checked gives the last day, or −1, and the first row that is out of range, or
// the number of rows.
func checked[G, C ~uint8 | ~uint16](groups, causes int, group []G, day []int32, cause []C) (last int32, wrong int) {
	last = -1
	for i, d := range day {
		if uint32(d) > MaxDay || int(group[i]) >= groups || int(cause[i]) > causes {
			return last, i
		}
		last = max(last, d)
	}
	return last, len(day)
}

// sum sets empty counts to the sums of parts of several slices.
func (c *Counts) sum(parts [][]uint32, from, size int) {
	c.spread()
	n := make([]uint32, size)
	for _, part := range parts {
		for i, k := range part[from : from+size] {
			n[i] += k
		}
	}
	width := c.causes + 1
	for size > 0 && slices.Max(n[size-width:size]) == 0 { // days after the group's last
		size -= width
	}
	c.n = n[:size]
}
