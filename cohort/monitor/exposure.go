package monitor

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Joint is one joint that is watched. Days are whole, since 1 January 1970.
type Joint struct {
	Row       int   // of the table it stands in; carried through
	Operation int32 // day of operation
	Exit      int32 // day of revision, else of death, else the last day it was seen; not before Operation
	Revised   bool  // on the day of exit
	Hazard    int   // which of the hazards is expected of it, from 0
}

// Hazard is the cumulative hazard of revision expected of a joint.
type Hazard struct {
	// At is the cumulative hazard at the end of a day after operation; 0 is the
	// day of operation. It is finite, not below 0, and never falls.
	At func(days int) float64

	// Last is the last day after operation to which it is known: joints are
	// watched no longer, and later revisions don't count. 0: without an end.
	Last int32
}

// span is a joint's time under watch: at risk on the days from first to last,
// both included.
type span struct {
	row         int
	operation   int32
	first, last int32
	revised     bool // on its last day
	hazard      int
}

// spans are the joints that are at risk on a day from from to through.
func spans(joints []Joint, hazards []Hazard, from, through int32) []span {
	all := make([]span, 0, len(joints))
	for _, j := range joints {
		s := span{row: j.Row, operation: j.Operation, first: max(j.Operation, from), last: j.Exit, revised: j.Revised, hazard: j.Hazard}
		if end := hazards[j.Hazard].Last; end > 0 && int64(s.last) > int64(j.Operation)+int64(end) {
			s.last, s.revised = j.Operation+end, false
		}
		if s.last > through {
			s.last, s.revised = through, false
		}
		if s.first <= s.last {
			all = append(all, s)
		}
	}
	// In an order of their own, so that rows in another order give the same bits.
	slices.SortFunc(all, func(a, b span) int {
		return cmp.Or(cmp.Compare(a.operation, b.operation), cmp.Compare(a.hazard, b.hazard), cmp.Compare(a.last, b.last), cmp.Compare(a.row, b.row))
	})
	return all
}

// increments are what each hazard adds on each day after operation, as far as a
// span needs it.
func increments(all []span, hazards []Hazard) ([][]float64, error) {
	days := make([]int, len(hazards))
	for _, s := range all {
		days[s.hazard] = max(days[s.hazard], int(s.last-s.operation)+1)
	}
	adds := make([][]float64, len(hazards))
	for h, n := range days {
		adds[h] = make([]float64, n)
		before := 0.0
		for day := range n {
			at := hazards[h].At(day)
			if !(at >= before) || math.IsInf(at, 1) {
				return nil, fmt.Errorf("the expected cumulative hazard %d is %v on day %d after operation, and %v before: want a finite number that never falls", h, at, day, before)
			}
			adds[h][day], before = at-before, at
		}
	}
	return adds, nil
}

// daily are the revisions expected and observed on each day from from to
// through: Σ over the joints at risk of what their hazard adds on that day. Joints
// of one day of operation and one hazard go together, so that the cost grows with days
// rather than with joints.
func daily(all []span, adds [][]float64, from, through int32) (expected []float64, observed []int) {
	days := int(through-from) + 1
	expected, observed = make([]float64, days), make([]int, days)
	for len(all) > 0 {
		s := all[0]
		alike := 1
		for alike < len(all) && all[alike].operation == s.operation && all[alike].hazard == s.hazard {
			alike++
		}
		day := s.first
		for i, leaving := range all[:alike] { // in order of their last day
			atRisk := float64(alike - i)
			add := adds[s.hazard][day-s.operation : leaving.last-s.operation+1]
			sum := expected[day-from:][:len(add)]
			for d := range add {
				sum[d] += float64(atRisk * add[d])
			}
			day = leaving.last + 1
			if leaving.revised {
				observed[leaving.last-from]++
			}
		}
		all = all[alike:]
	}
	return expected, observed
}

// revisedRows are the rows of the joints revised from one day to another, in
// order of day and row.
func revisedRows(all []span, from, to int32) []int {
	var revised []span
	for _, s := range all {
		if s.revised && s.last >= from && s.last <= to {
			revised = append(revised, s)
		}
	}
	slices.SortFunc(revised, func(a, b span) int { return cmp.Or(cmp.Compare(a.last, b.last), cmp.Compare(a.row, b.row)) })
	rows := make([]int, len(revised))
	for i, s := range revised {
		rows[i] = s.row
	}
	return rows
}
