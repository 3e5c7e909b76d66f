package survival

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
)

// Table is a life table: at each distinct time, how many were at risk just
// before, how many had an event of each cause, how many were censored and how
// many entered. It is the one input of every estimator but [Robust]. It may be
// written down by hand, from a published one; estimators check it.
type Table struct {
	Time     []float64   // distinct entry and exit times, increasing
	AtRisk   []float64   // at risk just before Time[i]
	Event    [][]float64 // Event[k-1][i]: events of cause k at Time[i]
	Censored []float64   // censored at Time[i], after its events
	Entered  []float64   // entered at Time[i], at risk just after it; nil without late entry

	// Weighted says that the numbers are sums of sampling weights. Variances
	// can't be had from such a table: use [Robust].
	Weighted bool
}

// ErrTable is wrapped by every error about a table's contents.
var ErrTable = errors.New("survival: table")

// Causes is the number of causes.
func (t *Table) Causes() int { return len(t.Event) }

// Check reports the first inconsistency of a table: columns of different
// lengths, times that do not increase, numbers that are negative or not finite,
// more events than subjects at risk.
func (t *Table) Check() error {
	if t == nil {
		return fmt.Errorf("%w: none", ErrTable)
	}
	n := len(t.Time)
	if len(t.AtRisk) != n || len(t.Censored) != n || t.Entered != nil && len(t.Entered) != n {
		return fmt.Errorf("%w: columns of different lengths", ErrTable)
	}
	if len(t.Event) == 0 {
		return fmt.Errorf("%w: no cause", ErrTable)
	}
	for k, e := range t.Event {
		if len(e) != n {
			return fmt.Errorf("%w: cause %d: column of another length", ErrTable, k+1)
		}
	}
	number := func(x float64) bool { return x >= 0 && x <= math.MaxFloat64 }
	for i, at := range t.Time {
		if !(math.Abs(at) <= math.MaxFloat64) || i > 0 && at <= t.Time[i-1] {
			return fmt.Errorf("%w: row %d: times must be finite and increase", ErrTable, i)
		}
		events := 0.0
		for _, e := range t.Event {
			if !number(e[i]) {
				return fmt.Errorf("%w: row %d: number of events below 0 or not finite", ErrTable, i)
			}
			events += e[i]
		}
		if !number(t.AtRisk[i]) || !number(t.Censored[i]) || t.Entered != nil && !number(t.Entered[i]) {
			return fmt.Errorf("%w: row %d: number of subjects below 0 or not finite", ErrTable, i)
		}
		if events > t.AtRisk[i] && !(t.Weighted && events <= t.AtRisk[i]*(1+1e-9)) {
			return fmt.Errorf("%w: row %d: more events than subjects at risk", ErrTable, i)
		}
	}
	return nil
}

// NewTable builds the life table of a sample with the given number of causes,
// by sorting: O(n log n). Rows of weight 0 are left out. Errors are of type
// [*RowError]. The order of the rows does not change a bit of the table.
func NewTable(s Sample, causes int) (*Table, error) {
	if causes < 1 {
		return nil, fmt.Errorf("survival: %d causes, want 1 or more", causes)
	}
	if err := s.Check(causes); err != nil {
		return nil, err
	}
	moves, late := movesOf(s)
	distinct := 0
	for i := range moves {
		if i == 0 || moves[i].time != moves[i-1].time {
			distinct++
		}
	}
	t := newTable(distinct, causes, late)
	t.Weighted = s.Weight != nil

	// From the last time backwards: at risk before t are those that exit at t
	// or later, less those that enter at t or later. A running count of heads
	// says when nobody is left, and when everybody at risk has an event,
	// whatever rounding did to the weights.
	row, heads := distinct, 0
	var exits, entries, still sum
	for i := len(moves) - 1; i >= 0; {
		row--
		at, failed := moves[i].time, 0
		t.Time[row] = at
		for ; i >= 0 && moves[i].time == at; i-- {
			switch m := moves[i]; m.kind {
			case -1:
				t.Entered[row] += m.weight
				entries.add(m.weight)
				heads--
			case 0:
				t.Censored[row] += m.weight
				exits.add(m.weight)
				heads++
			default:
				t.Event[m.kind-1][row] += m.weight
				exits.add(m.weight)
				heads++
				failed++
			}
		}
		still = exits
		still.add(-entries.value())
		if heads > 0 {
			t.AtRisk[row] = math.Max(0, still.value())
		}
		if t.Weighted {
			d := 0.0
			for _, e := range t.Event {
				d += e[row]
			}
			if failed == heads || t.AtRisk[row] < d {
				t.AtRisk[row] = d
			}
		}
	}
	return t, nil
}

// move is a subject coming under observation or leaving it.
type move struct {
	time   float64
	kind   int // −1 entry, 0 censored, 1.. event
	weight float64
}

// movesOf are the moves of a sample by time, entries first, and whether anybody
// enters late. Subjects without weight make none.
func movesOf(s Sample) (moves []move, late bool) {
	moves = make([]move, 0, len(s.Exit))
	for i, exit := range s.Exit {
		w := s.weight(i)
		if w == 0 {
			continue
		}
		// Adding 0 makes −0 the same time as 0.
		moves = append(moves, move{exit + 0, s.Cause[i], w})
		if entry := s.entry(i); !math.IsInf(entry, -1) {
			late = true
			moves = append(moves, move{entry + 0, -1, w})
		}
	}
	slices.SortFunc(moves, func(a, b move) int {
		return cmp.Or(cmp.Compare(a.time, b.time), cmp.Compare(a.kind, b.kind), cmp.Compare(a.weight, b.weight))
	})
	return moves, late
}

func newTable(rows, causes int, late bool) *Table {
	columns := causes + 3
	if late {
		columns++
	}
	all := make([]float64, rows*columns)
	column := func() []float64 {
		c := all[:rows:rows]
		all = all[rows:]
		return c
	}
	t := &Table{Time: column(), AtRisk: column(), Censored: column(), Event: make([][]float64, causes)}
	for k := range t.Event {
		t.Event[k] = column()
	}
	if late {
		t.Entered = column()
	}
	return t
}

// sum adds without losing the small terms (Neumaier 1974).
type sum struct{ total, lost float64 }

func (s *sum) add(x float64) {
	t := s.total + x
	if math.Abs(s.total) >= math.Abs(x) {
		s.lost += (s.total - t) + x
	} else {
		s.lost += (x - t) + s.total
	}
	s.total = t
}

func (s *sum) value() float64 { return s.total + s.lost }

// Only is the table in which every other cause has become censoring, and
// cause is cause 1. Columns that do not change are shared with t. It panics if
// there is no such cause.
func (t *Table) Only(cause int) *Table {
	t.mustHave(cause)
	only := *t
	only.Event = [][]float64{t.Event[cause-1]}
	if len(t.Event) > 1 {
		only.Censored = slices.Clone(t.Censored)
		for k, e := range t.Event {
			if k == cause-1 {
				continue
			}
			for i, d := range e {
				only.Censored[i] += d
			}
		}
	}
	return &only
}

// Pool is the table in which all causes are one.
func (t *Table) Pool() *Table {
	pooled := *t
	all := make([]float64, len(t.Time))
	for _, e := range t.Event {
		for i, d := range e {
			all[i] += d
		}
	}
	pooled.Event = [][]float64{all}
	return &pooled
}

func (t *Table) mustHave(cause int) {
	if cause < 1 || cause > len(t.Event) {
		panic(fmt.Sprintf("survival: cause %d of a table with %d", cause, len(t.Event)))
	}
}

// LastExit is the last time at which anybody left observation; false for a
// table in which nobody does.
func (t *Table) LastExit() (float64, bool) {
	for i := len(t.Time) - 1; i >= 0; i-- {
		if t.Censored[i] > 0 {
			return t.Time[i], true
		}
		for _, e := range t.Event {
			if e[i] > 0 {
				return t.Time[i], true
			}
		}
	}
	return 0, false
}

// AtRiskAt is the number at risk at time x: under observation just before it
// and not gone before it.
func (t *Table) AtRiskAt(x float64) float64 {
	i := sort.SearchFloat64s(t.Time, x)
	if i == len(t.Time) {
		return 0
	}
	return t.AtRisk[i]
}

// Count is one interval of a table.
type Count struct {
	From, To  float64 // [From, To)
	AtRisk    float64 // at risk at From
	Entered   float64 // entered in [From, To)
	Events    float64 // events of the cause in [From, To)
	Competing float64 // events of other causes in [From, To)
	Censored  float64 // censored in [From, To)
}

// Counts sums the table over the intervals [breaks[j], breaks[j+1]): what
// stands under the axis of a survival figure. Breaks must increase; the last
// may be +Inf. It panics if they do not, or if there is no such cause.
func (t *Table) Counts(cause int, breaks ...float64) []Count {
	t.mustHave(cause)
	if len(breaks) < 2 {
		return nil
	}
	counts := make([]Count, len(breaks)-1)
	for j := range counts {
		c := &counts[j]
		c.From, c.To = breaks[j], breaks[j+1]
		if !(c.From < c.To) {
			panic("survival: breaks do not increase")
		}
		c.AtRisk = t.AtRiskAt(c.From)
		for i := sort.SearchFloat64s(t.Time, c.From); i < len(t.Time) && t.Time[i] < c.To; i++ {
			if t.Entered != nil {
				c.Entered += t.Entered[i]
			}
			c.Censored += t.Censored[i]
			for k, e := range t.Event {
				if k == cause-1 {
					c.Events += e[i]
				} else {
					c.Competing += e[i]
				}
			}
		}
	}
	return counts
}

// PersonTime is the total time under observation from time 0 to the last exit,
// in the table's unit: Σ n_i·(t_i − t_{i−1}).
func (t *Table) PersonTime() float64 {
	var total sum
	before := 0.0
	for i, at := range t.Time {
		if at > 0 {
			total.add(float64(t.AtRisk[i] * (at - before)))
			before = at
		}
	}
	return total.value()
}
