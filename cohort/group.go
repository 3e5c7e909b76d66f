package cohort

import (
	"cmp"
	"fmt"
	"iter"
	"maps"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/parallel"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/table"
	"example.org/holdfast/survival/tally"
)

// TooManyGroupsError says that columns have so many values together that their
// combinations can't be numbered.
type TooManyGroupsError struct{ Columns []string }

func (e *TooManyGroupsError) Error() string {
	return "too many columns to group by: " + strings.Join(e.Columns, ", ")
}

// Endpoint is the event that is counted. The zero value is the first revision
// for whatever reason.
type Endpoint struct {
	// Reasons are the reasons for revision that count, in canonical words (see
	// Reasons and ParseReason);
	// revisions for other reasons then compete, as death does.
	Reasons []string

	// LostRevised counts every joint lost to follow-up as revised on the day
	// it was last seen: the worst case.
	LostRevised bool
}

// String names the event.
func (e Endpoint) String() string {
	if len(e.Reasons) == 0 {
		return "revision for any reason"
	}
	return "revision for " + strings.Join(e.Reasons, " or ")
}

// Causes of a tally, in the order of their numbers from 1.
const (
	CauseRevision = 1 // the event
	CauseDeath    = 2
	CauseOther    = 3 // revision for another reason; only if the endpoint names reasons
)

func (e Endpoint) causes() []string {
	causes := []string{e.String(), "death"}
	if len(e.Reasons) > 0 {
		causes = append(causes, "revision for another reason")
	}
	return causes
}

// End says how a joint's follow-up ended.
type End uint8

// The ends. The first four are censored.
const (
	EndClosing  End = iota // at the closing date, or on the day up to which deaths are known
	EndAssumed             // the same, but no day last seen and no later event says so
	EndLastSeen            // before it, when last seen
	EndLost                // the same, so long before it that the joint counts as lost to follow-up
	EndRevision            // the event of the endpoint
	EndDeath               // of the patient
	EndOther               // revised for another reason than the endpoint's
)

// afterCensored is what an end is more than its cause, if it is not censored.
const afterCensored = int(EndRevision) - CauseRevision

var endText = []string{"closing date", "closing date, assumed", "last seen", "lost", "revision", "death", "other revision"}

// String is a short phrase that is fixed.
func (e End) String() string { return endText[e] }

// Ends lists how follow-up can end.
func Ends() []End {
	return []End{EndClosing, EndAssumed, EndLastSeen, EndLost, EndRevision, EndDeath, EndOther}
}

// Cause is how follow-up ended: 0 censored, CauseRevision, CauseDeath or CauseOther.
func (e End) Cause() int { return max(0, int(e)-afterCensored) }

// endOf is how follow-up ended, given its cause and the days possible.
func (o outcome) endOf(cause, possible int) End {
	switch {
	case cause != 0:
		return End(cause + afterCensored)
	case o.has(markAssumed):
		return EndAssumed
	case o.has(markLost):
		return EndLost
	case int(o.exit()) < possible:
		return EndLastSeen
	}
	return EndClosing
}

// ParseReason gives the canonical word for a reason for revision.
func ParseReason(s string) (string, bool) {
	m := column.Understand(column.RevisionReason, s)
	return m.Value, m.Known
}

// Reasons lists the canonical reasons for revision.
func Reasons() []string {
	return slices.DeleteFunc(column.Order(column.RevisionReason), func(r string) bool { return r == NotRecorded })
}

// Groups is follow-up counted by group: joint, procedure, then the fields
// asked for.
type Groups struct {
	Set    *tally.Set // the full cells
	Fields []string   // names of the dimensions

	// Known is the same by joint and procedure alone, with those whose follow-up is
	// assumed censored on the day of the operation: what the table says for certain. The
	// true curve lies between that of these counts and that of all, if no revision is
	// missing of the joints whose follow-up is known.
	Known *tally.Set

	patients func(keep []string, margin *tally.Set) map[tally.Key]int64
}

// NewGroups is groups of which counts and patients are known: patients gives the
// number of patients in each group of the margin of some fields, joint and procedure
// the first of them; nil if nobody knows.
func NewGroups(set, known *tally.Set, patients func(keep []string, margin *tally.Set) map[tally.Key]int64) *Groups {
	g := &Groups{Set: set, Known: known, patients: patients}
	for _, d := range set.Dimensions {
		g.Fields = append(g.Fields, d.Name)
	}
	return g
}

// Tally counts the rows in use by joint, procedure and the named fields. An
// [*UnknownFieldError] says which name is no field.
func (c *Cohort) Tally(by []string, e Endpoint) (*Groups, error) {
	names := []string{"joint", "procedure"}
	for _, wanted := range by {
		name, ok := c.fieldName(wanted)
		if !ok {
			return nil, c.unknownField(wanted)
		}
		if slices.Contains(names, name) {
			return nil, fmt.Errorf("column %q is named twice, or separates the audit anyway", wanted)
		}
		names = append(names, name)
	}
	counter, err := c.newCounter(names, e)
	if err != nil {
		return nil, err
	}
	return counter.run()
}

// counted says by code which reasons for revision count as the endpoint; nil if
// all do.
func (c *Cohort) counted(e Endpoint) ([]bool, error) {
	if len(e.Reasons) == 0 {
		return nil, nil
	}
	if !c.text.Present["revision_reason"] {
		return nil, badOption("%s: no table has a column revision_reason", e)
	}
	f := c.text.Extra[table.ExtraReason]
	for _, reason := range e.Reasons {
		if !slices.Contains(f.Values, reason) && !slices.Contains(Reasons(), reason) {
			return nil, badOption("%q is no reason for revision that is known or in the table; known are %s", reason, strings.Join(Reasons(), ", "))
		}
	}
	counted := make([]bool, len(f.Values))
	for code, value := range f.Values {
		counted[code] = slices.Contains(e.Reasons, value)
	}
	return counted, nil
}

// counter counts rows into cells numbered by their levels.
type counter struct {
	cohort      *Cohort
	names       []string
	dims        []*dimension
	stride      []uint64
	number      uint64 // of cells
	causes      []string
	counted     []bool // by reason code; nil: every revision counts
	lostRevised bool
	byWords     map[*store.Words][]uint64 // what the words of a row make of its cell
	read        []func(i int) uint64      // by block, the cells of its rows, once read
	kinds       uint64                    // cells of the first two dimensions, by which those are counted of whom more is known; 0 for none
	ends        bool                      // causes are the ends of follow-up, [EndClosing] being 0
}

// newCounter counts by fields under an endpoint.
func (c *Cohort) newCounter(names []string, e Endpoint) (*counter, error) {
	k, err := c.counterOf(e)
	if err != nil {
		return nil, err
	}
	k.names = names
	for _, name := range names {
		d, err := c.dimension(name)
		if err != nil {
			return nil, err
		}
		k.dims = append(k.dims, d)
	}
	return k, k.arrange()
}

// counterOf counts under an endpoint, by nothing yet.
func (c *Cohort) counterOf(e Endpoint) (*counter, error) {
	counted, err := c.counted(e)
	if err != nil {
		return nil, err
	}
	return &counter{cohort: c, causes: e.causes(), counted: counted, lostRevised: e.LostRevised}, nil
}

// arrange numbers the cells of the dimensions.
func (k *counter) arrange() error {
	cells := uint64(1)
	for _, d := range k.dims {
		if cells > math.MaxUint64/uint64(len(d.levels)) {
			return &TooManyGroupsError{k.names}
		}
		k.stride = append(k.stride, cells)
		cells *= uint64(len(d.levels))
	}
	k.number = cells
	k.read = make([]func(int) uint64, len(k.cohort.store.Blocks))
	k.byWords = make(map[*store.Words][]uint64)
	for _, b := range k.cohort.store.Blocks {
		if w := b.Words(); k.byWords[w] == nil {
			k.byWords[w] = k.ofWords(w)
		}
	}
	return nil
}

// ofWords is what each combination of words makes of a row's cell.
func (k *counter) ofWords(w *store.Words) []uint64 {
	cells := make([]uint64, w.Len()+1) // they are numbered from 1
	for i, d := range k.dims {
		if d.word == nil {
			continue
		}
		for n := range w.Len() {
			cells[n+1] += uint64(d.word(w, uint32(n+1))) * k.stride[i]
		}
	}
	return cells
}

// cells gives the cells of one block's rows. They are remembered: passes over
// the blocks side by side have each block once, or all blocks of one part.
func (k *counter) cells(block int) func(i int) uint64 {
	if k.read[block] == nil {
		k.read[block] = k.cellsOf(block)
	}
	return k.read[block]
}

func (k *counter) cellsOf(block int) func(i int) uint64 {
	b := k.cohort.store.Blocks[block]
	words := k.byWords[b.Words()]
	var levels []func(int) int
	var strides []uint64
	for i, d := range k.dims {
		if d.word == nil {
			levels, strides = append(levels, d.reader(block)), append(strides, k.stride[i])
		}
	}
	return func(i int) uint64 {
		cell := words[b.Word(i)]
		for d, level := range levels {
			cell += uint64(level(i)) * strides[d]
		}
		return cell
	}
}

// levels are those of one block's rows in each dimension.
func (k *counter) levels(block int) []func(int) int {
	readers := make([]func(int) int, len(k.dims))
	for i, d := range k.dims {
		readers[i] = d.reader(block)
	}
	return readers
}

// causes of the ends of follow-up of one block's rows under the endpoint.
func (k *counter) causesOf(block int) func(i int) int {
	f := &k.cohort.linked.fates[block]
	var reasons func(i int) row.Code
	if k.counted != nil {
		reasons = k.cohort.reasons(block)
	}
	return func(i int) int {
		switch cause := f.of[i].cause(); {
		case cause == row.Censored && k.lostRevised && f.of[i].has(markLost):
			return CauseRevision
		case cause == row.Revised && reasons != nil && !k.counted[reasons(i)]:
			return CauseOther
		default:
			return int(cause)
		}
	}
}

// reasons for revision of one block's rows, be they of another table.
func (c *Cohort) reasons(block int) func(i int) row.Code {
	if revised := c.linked.fates[block].revised; revised != nil {
		return func(i int) row.Code { return revised[i] }
	}
	return c.store.Blocks[block].Codes(store.Reason)
}

// key is that of a cell, some dimensions pooled.
func (k *counter) key(cell uint64, pooled ...int) tally.Key {
	levels := k.levelsOf(cell, len(k.dims))
	for _, i := range pooled {
		levels[i] = tally.All
	}
	return tally.NewKey(levels...)
}

// levelsOf are those of the first dimensions in a cell.
func (k *counter) levelsOf(cell uint64, dims int) []int {
	levels := make([]int, dims)
	for i := range levels {
		levels[i] = k.level(cell, i)
	}
	return levels
}

// level of dimension i in a cell.
func (k *counter) level(cell uint64, i int) int {
	return int(cell / k.stride[i] % uint64(len(k.dims[i].levels)))
}

func (k *counter) run() (*Groups, error) {
	k.kinds = uint64(len(k.dims[0].levels) * len(k.dims[1].levels)) // joint and procedure
	counts := k.counts()
	set, err := k.setOf(counts.cells, len(k.dims))
	if err != nil {
		return nil, err
	}
	known, err := k.setOf(counts.known, 2)
	if err != nil {
		return nil, err
	}
	if !k.cohort.store.HasPatients() {
		return NewGroups(set, known, func([]string, *tally.Set) map[tally.Key]int64 { return nil }), nil
	}
	shared := sync.OnceValue(k.together) // most who want estimates want no patients
	return NewGroups(set, known, func(keep []string, margin *tally.Set) map[tally.Key]int64 { return k.patients(shared(), keep, margin) }), nil
}

// set is the counts of all cells by key.
func (k *counter) set() (*tally.Set, error) { return k.setOf(k.counts().cells, len(k.dims)) }

// counts goes over all rows.
func (k *counter) counts() *cellCounts {
	counts := &cellCounts{cells: newCells[tally.Counts](k.number), causes: len(k.causes), kinds: k.kinds}
	if k.kinds > 0 {
		counts.known = newCells[tally.Counts](k.kinds)
	}
	found := byWorker(len(k.cohort.store.Blocks), func() *counting { return newCounting(counts) }, k.count)
	parallel.Each(len(found), func(w int) { found[w].all() })
	for _, of := range found {
		if of.known == nil {
			continue
		}
		for cell, c := range of.known.met() {
			if err := countsOf(counts.known, cell, counts.causes).Merge(c); err != nil {
				panic(err) // there are not as many rows
			}
		}
	}
	return counts
}

// setOf is the counts of cells of the first dimensions by key.
func (k *counter) setOf(counts *cells[tally.Counts], dims int) (*tally.Set, error) {
	var named []tally.Dimension
	for _, d := range k.dims[:dims] {
		named = append(named, tally.Dimension{Name: d.name, Levels: d.levels})
	}
	set := tally.NewSet(named, k.causes)
	for cell, c := range counts.met() {
		if err := set.Take(tally.NewKey(k.levelsOf(cell, dims)...), c); err != nil {
			return nil, err
		}
	}
	return set, nil
}

// cells has something for each cell that is met.
type cells[T any] struct {
	few  []*T          // by cell
	many map[uint64]*T // if few is nil
}

// newCells is for a number of cells.
func newCells[T any](number uint64) *cells[T] {
	const few = 1 << 16
	if number > few {
		return &cells[T]{many: make(map[uint64]*T)}
	}
	return &cells[T]{few: make([]*T, number)}
}

// at is what a cell has; nil if it is not met yet.
func (c *cells[T]) at(cell uint64) *T {
	if c.few != nil {
		return c.few[cell]
	}
	return c.many[cell]
}

func (c *cells[T]) put(cell uint64, t *T) {
	if c.few != nil {
		c.few[cell] = t
	} else {
		c.many[cell] = t
	}
}

// met gives the cells that are met, in order.
func (c *cells[T]) met() iter.Seq2[uint64, *T] {
	return func(yield func(uint64, *T) bool) {
		for cell, t := range c.few {
			if t != nil && !yield(uint64(cell), t) {
				return
			}
		}
		for _, cell := range slices.Sorted(maps.Keys(c.many)) {
			if !yield(cell, c.many[cell]) {
				return
			}
		}
	}
}

// byWorker goes over n blocks or parts with several workers, each of which has a start
// of its own that it adds to.
func byWorker[T any](n int, start func() T, add func(i int, to T)) []T {
	found := make([]T, min(runtime.GOMAXPROCS(0), max(1, n)))
	var wg sync.WaitGroup
	for w := range found {
		wg.Go(func() {
			found[w] = start()
			for i := w; i < n; i += len(found) {
				add(i, found[w])
			}
		})
	}
	wg.Wait()
	return found
}

// exit is a joint's last day and, in the lowest bits, why it is that and whether it is assumed.
type exit uint32

const (
	exitCauseBits = 3
	exitAssumed   = 1 << exitCauseBits
	exitDayShift  = exitCauseBits + 1
)

func exitOf(day int32, cause int) exit { return exit(day)<<exitDayShift | exit(cause) }

func (e exit) day() int32 { return int32(e >> exitDayShift) }

func (e exit) cause() int { return int(e & (1<<exitCauseBits - 1)) }

// knownDay is the day up to which a joint is known to have lasted: not at all if that is assumed.
func (e exit) knownDay() int32 {
	if e&exitAssumed != 0 {
		return 0
	}
	return e.day()
}

// cellCounts is the counts of all cells. Workers add to the same ones: each with its own
// would take as much memory again.
type cellCounts struct {
	locks  [64]sync.Mutex // of cells whose numbers end alike; the first of all if they are many
	cells  *cells[tally.Counts]
	known  *cells[tally.Counts] // of the first kinds, by what is known; nil if kinds is 0
	causes int
	kinds  uint64
}

// countsOf are those of a cell.
func countsOf(of *cells[tally.Counts], cell uint64, causes int) *tally.Counts {
	counts := of.at(cell)
	if counts == nil {
		counts = tally.New(causes)
		of.put(cell, counts)
	}
	return counts
}

// add counts joints of a cell.
func (c *cellCounts) add(cell uint64, exits []exit) {
	lock := &c.locks[0]
	if c.cells.few != nil {
		lock = &c.locks[cell%uint64(len(c.locks))]
	}
	lock.Lock()
	defer lock.Unlock()
	to := countsOf(c.cells, cell, c.causes)
	for _, e := range exits {
		to.Add(e.day(), e.cause())
	}
}

// counting is the joints of a worker that wait to be counted, many of a cell at a time:
// the counts of a large cell are more than a processor keeps near, and the rows of a
// table come to the cells in no order. Where cells are many, most have few joints, and to
// find one takes longer than to count in it: so all wait until they can be sorted.
type counting struct {
	to       *cellCounts
	known    *cells[tally.Counts] // the worker's own, since they are few
	few      [][]exit             // by cell; nil if cells are many
	unsorted []joint
}

// joint is a joint's cell and its exit.
type joint struct {
	cell uint64
	exit exit
}

// How many joints wait at most.
const (
	ofCell    = 1024
	ofSeveral = 1 << 18
)

func newCounting(to *cellCounts) *counting {
	c := &counting{to: to}
	if to.known != nil {
		c.known = newCells[tally.Counts](to.kinds)
	}
	if to.cells.few != nil {
		c.few = make([][]exit, len(to.cells.few))
	}
	return c
}

func (c *counting) add(cell uint64, e exit) {
	if c.few == nil {
		if c.unsorted = append(c.unsorted, joint{cell, e}); len(c.unsorted) == ofSeveral {
			c.all()
		}
		return
	}
	if c.few[cell] = append(c.few[cell], e); len(c.few[cell]) == ofCell {
		c.count(cell, c.few[cell])
		c.few[cell] = c.few[cell][:0]
	}
}

// count counts joints of a cell.
func (c *counting) count(cell uint64, exits []exit) {
	c.to.add(cell, exits)
	if c.known == nil {
		return
	}
	known := countsOf(c.known, cell%c.to.kinds, c.to.causes)
	for _, e := range exits {
		known.Add(e.knownDay(), e.cause())
	}
}

// all counts the joints that wait.
func (c *counting) all() {
	slices.SortFunc(c.unsorted, func(x, y joint) int { return cmp.Compare(x.cell, y.cell) })
	for cell, exits := range c.few {
		if len(exits) > 0 {
			c.count(uint64(cell), exits)
			c.few[cell] = exits[:0]
		}
	}
	var exits []exit
	for i, j := range c.unsorted {
		exits = append(exits, j.exit)
		if i+1 == len(c.unsorted) || c.unsorted[i+1].cell != j.cell {
			c.count(j.cell, exits)
			exits = exits[:0]
		}
	}
	c.unsorted = c.unsorted[:0]
}

// count adds the joints in use of one block to the counts of their cells.
func (k *counter) count(block int, to *counting) {
	f, in := &k.cohort.linked.fates[block], k.cohort.inScope(block)
	if len(f.of) == 0 {
		return
	}
	cellOf, cause := k.cells(block), k.causesOf(block)
	b, closing := k.cohort.store.Blocks[block], k.cohort.facts.Closing
	for i, o := range f.of {
		if !o.used() || in != nil && !in(i) {
			continue
		}
		end := cause(i)
		if k.ends {
			end = int(o.endOf(end, int(closing-b.Day(store.Operation, i))))
		}
		e := exitOf(o.exit(), end)
		if o.has(markAssumed) {
			e |= exitAssumed
		}
		to.add(cellOf(i), e)
	}
}

// several are the patients of some parts who have several rows in use, by the cells of
// these. Most have two.
type several struct {
	number uint64           // of cells
	pairs  map[uint64]int64 // patients by the first cell times that number, and the second; not if there are too many
	more   []uint64         // of each who has more: how many, and their cells
	cells  []uint64         // of one patient
}

// add adds the patient in hand.
func (s *several) add() {
	switch {
	case len(s.cells) < 2:
	case len(s.cells) == 2 && s.number <= math.MaxUint32:
		s.pairs[min(s.cells[0], s.cells[1])*s.number+max(s.cells[0], s.cells[1])]++
	default:
		s.more = append(append(s.more, uint64(len(s.cells))), s.cells...)
	}
}

// each gives the cells of all of them, and how many patients have the same.
func (s *several) each(yield func(cells []uint64, patients int64)) {
	for pair, n := range s.pairs {
		yield([]uint64{pair / s.number, pair % s.number}, n)
	}
	for rest := s.more; len(rest) > 0; {
		n := 1 + rest[0]
		yield(rest[1:n], 1)
		rest = rest[n:]
	}
}

// together finds the patients who have several rows in use.
func (k *counter) together() []*several {
	return byWorker(k.cohort.store.Parts(), func() *several { return &several{number: k.number, pairs: make(map[uint64]int64)} }, k.several)
}

// several adds those of one part.
func (k *counter) several(part int, to *several) {
	c := k.cohort
	for patient := range c.store.Several(part) {
		to.cells = to.cells[:0]
		for _, at := range patient {
			f, i := &c.linked.fates[at.Block], int(at.Index)
			if len(f.of) == 0 || !f.of[i].used() || f.warn(i).Has(row.WarnIdentifier) {
				continue
			}
			if len(c.narrow) == 0 || c.has(at) {
				to.cells = append(to.cells, k.cells(int(at.Block))(i))
			}
		}
		to.add()
	}
}

// Margin is the groups with every field but joint, procedure and the named
// ones pooled, and the number of patients in each: a joint without a patient
// counts as one patient. Patients is nil if no table names patients.
func (g *Groups) Margin(keep ...string) (set *tally.Set, patients map[tally.Key]int64, err error) {
	keep = append([]string{"joint", "procedure"}, keep...)
	set, err = g.Set.Collapse(keep...)
	if err != nil {
		return nil, nil, err
	}
	return set, g.patients(keep, set), nil
}

// patients are those in each group of a margin, given those who have several rows.
func (k *counter) patients(shared []*several, keep []string, margin *tally.Set) map[tally.Key]int64 {
	patients := make(map[tally.Key]int64, margin.Len())
	for key, counts := range margin.All() {
		patients[key] = counts.Subjects()
	}
	var pooled []int
	for i, name := range k.names {
		if !slices.Contains(keep, name) {
			pooled = append(pooled, i)
		}
	}
	again := make(map[uint64]int64) // patients who were counted once already, by the group's first cell
	var groups []uint64             // of one patient's rows
	for _, s := range shared {
		s.each(func(cells []uint64, n int64) {
			groups = append(groups[:0], cells...)
			for g, cell := range groups {
				for _, i := range pooled {
					groups[g] -= uint64(k.level(cell, i)) * k.stride[i]
				}
			}
			slices.Sort(groups)
			for g := range groups {
				if g > 0 && groups[g] == groups[g-1] {
					again[groups[g]] += n
				}
			}
		})
	}
	for group, n := range again {
		patients[k.key(group, pooled...)] -= n
	}
	return patients
}
