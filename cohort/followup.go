package cohort

import (
	"maps"
	"math"
	"slices"

	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// FollowUp is how long the joints in use were followed, and how many of them
// are still known of.
type FollowUp struct {
	Joint, Procedure string // both "" for all joints together

	Joints       int64
	Revised      int64   // by the closing date
	Died         int64   // unrevised, by the closing date
	ImplantYears float64 // total

	FirstOperation, LastOperation Day // both 0 without joints

	// MedianYears is the median follow-up by reverse Kaplan–Meier; NaN if that
	// curve never reaches a half, as where nearly every joint is revised.
	MedianYears  float64
	LongestYears float64

	// Living counts joints that are neither revised nor dead, those of patients
	// who died on a day nobody knows left out. Of these, Recent were known of
	// within the last two years before the closing date (last seen, operated
	// on, or revised or dead after it); NeverSeen have no such day and no usable
	// date last seen: that they were followed to the closing date is assumed.
	Living    int64
	Recent    int64
	NeverSeen int64

	// Lost counts joints lost to follow-up, as Account.Lost does.
	// LostPerRevised is Lost ÷ Revised; NaN if none is revised.
	Lost           int64
	LostPerRevised float64

	// Assumed counts joints followed to the closing date of which no day last seen
	// and no later event says that they were still known of. Where that is all who
	// are neither revised nor dead, nothing is known of losses, and LostPerRevised
	// is NaN.
	Assumed int64
}

// RecentDays is how long before the closing date a joint is known of recently:
// two years.
const RecentDays = 730

// FollowUp sums up the follow-up of the joints in use: all together, then, if
// there are several, by joint and procedure in the order of [Cohort.Tally].
//
// The median is that of the reverse Kaplan–Meier curve: the end of follow-up
// is the event, and a revision or a death ends the observation of it, since
// the joint would otherwise have been followed longer.
//
//	G(t) = ∏_{t_i ≤ t} (1 − c_i/n_i)
//
// with c_i joints censored and n_i at risk on day t_i; the median is the first
// day on which G is a half or less, the middle of the interval where it is a
// half exactly. On one day censoring precedes revision and death here, as in
// any program that is given the indicator reversed.
//
// Schemper & Smith, Control Clin Trials 1996;17:343. Errors are those of
// columns that have too many values to group by.
func (c *Cohort) FollowUp() ([]FollowUp, error) {
	k, err := c.newCounter([]string{"joint", "procedure"}, Endpoint{})
	if err != nil {
		return nil, err
	}
	of := func(in *cells[followUpCount], cell uint64) *followUpCount {
		f := in.at(cell)
		if f == nil {
			f = newFollowUpCount()
			in.put(cell, f)
		}
		return f
	}
	found := byWorker(len(c.store.Blocks), func() *cells[followUpCount] { return newCells[followUpCount](k.number) }, func(bi int, to *cells[followUpCount]) {
		cellOf := k.cells(bi)
		for i := range c.used(bi) {
			of(to, cellOf(i)).add(c, bi, i)
		}
	})
	together := found[0]
	for _, more := range found[1:] {
		for cell, f := range more.met() {
			if err := of(together, cell).merge(f); err != nil {
				return nil, err
			}
		}
	}
	var order []uint64
	for cell := range together.met() {
		order = append(order, cell)
	}
	slices.SortFunc(order, func(a, b uint64) int { return k.key(a).Compare(k.key(b)) })
	whole := newFollowUpCount()
	var parts []FollowUp
	for _, cell := range order {
		if err := whole.merge(together.at(cell)); err != nil {
			return nil, err
		}
		f, err := together.at(cell).sum()
		if err != nil {
			return nil, err
		}
		f.Joint, f.Procedure = k.dims[0].levels[k.level(cell, 0)], k.dims[1].levels[k.level(cell, 1)]
		parts = append(parts, f)
	}
	f, err := whole.sum()
	if err != nil {
		return nil, err
	}
	if len(parts) == 1 {
		return []FollowUp{f}, nil
	}
	return append([]FollowUp{f}, parts...), nil
}

// followUpCount is what a FollowUp is made from.
type followUpCount struct {
	FollowUp
	reverse *tally.Counts // cause 1: censored
}

func newFollowUpCount() *followUpCount { return &followUpCount{reverse: tally.New(1)} }

func (f *followUpCount) add(c *Cohort, block, i int) {
	b, fate := c.store.Blocks[block], c.linked.fates[block].of[i]
	op := b.Day(store.Operation, i)
	f.operated(Day(op), Day(op))
	f.Joints++
	switch fate.cause() {
	case row.Revised:
		f.Revised++
		f.reverse.Add(fate.exit(), 0)
		return
	case row.Died:
		f.Died++
		f.reverse.Add(fate.exit(), 0)
		return
	}
	f.reverse.Add(fate.exit(), 1)
	if fate.has(markDeadUndated) {
		return
	}
	f.Living++
	if fate.has(markLost) {
		f.Lost++
	}
	if fate.has(markAssumed) {
		f.Assumed++
	}
	seen, closing := b.Day(store.Seen, i), c.facts.Closing
	usable := seen.Known() && seen >= op && seen <= c.facts.Today
	switch {
	case fate.has(markLater), closing-op <= RecentDays, usable && closing-seen <= RecentDays:
		f.Recent++
	case !usable:
		f.NeverSeen++
	}
}

// operated takes in operations from a first day to a last, before their joints are
// counted.
func (f *FollowUp) operated(first, last Day) {
	if f.Joints == 0 || first < f.FirstOperation {
		f.FirstOperation = first
	}
	if f.Joints == 0 || last > f.LastOperation {
		f.LastOperation = last
	}
}

func (f *followUpCount) merge(o *followUpCount) error {
	f.FollowUp = f.Add(o.FollowUp)
	return f.reverse.Merge(o.reverse)
}

// Add counts the joints of two follow-ups together, of which none belongs to the other.
// What [FollowUp.Over] works out is not in it.
func (f FollowUp) Add(o FollowUp) FollowUp {
	if o.Joints > 0 {
		f.operated(o.FirstOperation, o.LastOperation)
	}
	f.Joints += o.Joints
	f.Revised += o.Revised
	f.Died += o.Died
	f.Living += o.Living
	f.Recent += o.Recent
	f.NeverSeen += o.NeverSeen
	f.Lost += o.Lost
	f.Assumed += o.Assumed
	return f
}

func (f *followUpCount) sum() (FollowUp, error) { return f.Over(f.reverse) }

// Over works out implant-years, median and longest follow-up, and the lost per revised,
// from how many joints were followed to which day: the cause is 1 for those censored, 0
// for those revised and dead.
func (f FollowUp) Over(reverse *tally.Counts) (FollowUp, error) {
	f.ImplantYears = float64(reverse.PersonDays()) / DaysPerYear
	f.LongestYears = float64(max(reverse.Days()-1, 0)) / DaysPerYear
	f.MedianYears, f.LostPerRevised = math.NaN(), math.NaN()
	if f.Revised > 0 && (f.Assumed < f.Living || f.Living == 0) {
		f.LostPerRevised = float64(f.Lost) / float64(f.Revised)
	}
	curve, err := survival.KaplanMeier(reverse.Table(), 1)
	if err != nil {
		return f, err
	}
	if q, ok := curve.Quantile(0.5, survival.Interval{}); ok {
		f.MedianYears = q.Time / DaysPerYear
	}
	return f, nil
}

// ColumnYears is how complete one column is by year of operation, among the
// rows in use that it matters for.
type ColumnYears struct {
	Column string
	Among  string // which rows; "" for all in use

	// Rows and Filled are by year, in the order of YearlyCompleteness.Years.
	// Where Rows is 0 no row of that year is one that the column matters for.
	Rows, Filled []int
}

// YearlyCompleteness is how complete the columns are that matter most, by year
// of operation.
type YearlyCompleteness struct {
	Years   []int // those in which a row in use was operated on, increasing
	Columns []ColumnYears
}

// yearlyColumn is one of those counted by year of operation: reader tells of the rows of a
// block in use whether the column matters for them, and has a value.
type yearlyColumn struct {
	name, among string
	present     bool
	reader      func(block int) func(i int) (counts, filled bool)
}

func (c *Cohort) yearlyColumns() []yearlyColumn {
	blocks := c.store.Blocks
	ofField := func(field int) func(int) func(int) (bool, bool) {
		return func(block int) func(int) (bool, bool) {
			code := blocks[block].Codes(field)
			return func(i int) (bool, bool) { return true, code(i) != 0 }
		}
	}
	columns := []yearlyColumn{
		{"side", "", c.hasCore("side"), ofField(store.Side)},
		{"bearing", "", c.hasCore("bearing"), ofField(store.Bearing)},
		{"fixation", "", c.hasCore("fixation"), ofField(store.Fixation)},
		{"age", "", c.text.Present["age"], func(block int) func(int) (bool, bool) {
			return func(i int) (bool, bool) { return true, blocks[block].Age(i) != 0 }
		}},
		{"sex", "", c.text.Present["sex"], ofField(store.Sex)},
		{"revision_reason", "revised", c.text.Present["revision_reason"], func(block int) func(int) (bool, bool) {
			f, reason := c.linked.fates[block].of, c.reasons(block)
			return func(i int) (bool, bool) { return f[i].cause() == row.Revised, reason(i) != 0 }
		}},
		{"last_seen_date", "neither revised nor dead", c.text.Present["last_seen_date"], func(block int) func(int) (bool, bool) {
			f, b := c.linked.fates[block].of, blocks[block]
			return func(i int) (bool, bool) {
				return f[i].cause() == row.Censored && !f[i].has(markDeadUndated), b.Day(store.Seen, i).Known()
			}
		}},
	}
	return slices.DeleteFunc(columns, func(k yearlyColumn) bool { return !k.present })
}

// CompletenessByYear counts, among the rows in use, the values of side,
// bearing, fixation, age and sex; of revision_reason among the joints revised;
// and of last_seen_date among those neither revised nor dead. Columns that no
// table has are left out. A bearing or fixation counts as filled if its
// components give it, an age if a birth date does; a word that is not known
// counts as filled, and an impossible value as missing.
func (c *Cohort) CompletenessByYear() YearlyCompleteness {
	blocks, columns := c.store.Blocks, c.yearlyColumns()
	type tallied struct{ rows, filled []int }
	of := func(byYear map[int]*tallied, year int) *tallied {
		if byYear[year] == nil {
			byYear[year] = &tallied{make([]int, len(columns)), make([]int, len(columns))}
		}
		return byYear[year]
	}
	found := byWorker(len(blocks), func() map[int]*tallied { return make(map[int]*tallied) }, func(block int, byYear map[int]*tallied) {
		readers := make([]func(int) (bool, bool), len(columns))
		for j, k := range columns {
			readers[j] = k.reader(block)
		}
		for i := range c.used(block) {
			n := of(byYear, Day(blocks[block].Day(store.Operation, i)).Year())
			for j, read := range readers {
				counts, filled := read(i)
				if counts {
					n.rows[j]++
					if filled {
						n.filled[j]++
					}
				}
			}
		}
	})
	byYear := make(map[int]*tallied)
	for _, some := range found {
		for year, n := range some {
			sum := of(byYear, year)
			for j := range columns {
				sum.rows[j], sum.filled[j] = sum.rows[j]+n.rows[j], sum.filled[j]+n.filled[j]
			}
		}
	}
	all := YearlyCompleteness{Years: slices.Sorted(maps.Keys(byYear))}
	for j, k := range columns {
		cy := ColumnYears{Column: k.name, Among: k.among}
		for _, y := range all.Years {
			cy.Rows, cy.Filled = append(cy.Rows, byYear[y].rows[j]), append(cy.Filled, byYear[y].filled[j])
		}
		all.Columns = append(all.Columns, cy)
	}
	return all
}
