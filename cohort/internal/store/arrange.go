package store

import (
	"maps"
	"slices"
	"sync"

	"example.org/holdfast/cohort/internal/parallel"
	"example.org/holdfast/cohort/internal/row"
)

// order is the rows of a part, those of a patient side by side in the order of their
// tables and lines. Rows are numbered by the block's place among the part's, and the
// place in the block; one of the same patient as the row before it is the complement of
// its number.
type order struct {
	rows  []int32
	ones  int // how many at the start are the only rows of their patients
	alone int // how many at the end have no patient
}

// Arrange puts the rows of each patient side by side, when all tables are read; nothing
// changes after it. Whose the rows are of identifiers that differ in leading zeros only
// is asked of a function.
func (s *Store) Arrange(whose func([]row.Holder) row.Holders) {
	s.order = make([]order, s.Parts())
	told := make([]holders, s.Parts())
	indexes := sync.Pool{New: func() any { return new(patientIndex) }}
	parallel.Each(s.Parts(), func(part int) {
		x := indexes.Get().(*patientIndex)
		x.find(s, s.parts[part])
		s.order[part] = x.arrange(&told[part], whose)
		for _, bi := range s.parts[part] {
			s.Blocks[bi].patient = nil // nobody needs it any more
		}
		indexes.Put(x)
	})
	s.Apart, s.Joined = make(map[row.Place]row.Place), make(map[row.Place]row.Place)
	for _, t := range told {
		maps.Copy(s.Apart, t.apart)
		maps.Copy(s.Joined, t.joined)
	}
}

// patientIndex finds the rows of each identifier of a part.
type patientIndex struct {
	store  *Store
	blocks []int32
	filled int      // rows of these
	number []uint64 // of the patient by row, however many zeros stand before it
	before []int32  // another row with the identifier, found earlier; −1 for none
	rows   []uint8  // how many rows of the identifier were found with it, mostRowsCounted at most; 0 for one that is not the last
	slots  []int32  // of a hash table with open addressing: row + 1 of an identifier's latest row; 0 empty
	alone  []int32  // rows without a patient

	// The last rows of all identifiers, first of those with one row, then of those with
	// two, and so on: a processor foresees what it does with them when those before had as
	// many.
	last [mostRowsCounted][]int32
}

const mostRowsCounted = 6

// find goes through the rows of some blocks.
func (x *patientIndex) find(s *Store, blocks []int32) {
	x.store, x.blocks, x.filled = s, blocks, 0
	for _, bi := range blocks {
		x.filled += s.Blocks[bi].Len()
	}
	rows, size := len(blocks)<<blockBits, 16
	for size < 2*x.filled {
		size *= 2
	}
	x.number, x.before, x.rows, x.slots = resized(x.number, rows), resized(x.before, rows), resized(x.rows, rows), resized(x.slots, size)
	clear(x.slots)
	x.alone = x.alone[:0]
	mask := uint64(size - 1)
	for k, bi := range blocks {
		b := s.Blocks[bi]
		for i := range b.Len() {
			here := int32(k<<blockBits | i)
			who := hash(b.patient, i)
			if who == 0 {
				x.rows[here], x.alone = 0, append(x.alone, here)
				continue
			}
			x.before[here], x.rows[here] = -1, 1
			who |= row.NoNumber
			x.number[here] = who
			at := who >> 20 & mask
			for x.slots[at] != 0 && x.number[x.slots[at]-1] != who {
				at = (at + 1) & mask
			}
			if before := x.slots[at] - 1; before >= 0 {
				x.before[here] = before
				x.rows[here], x.rows[before] = min(x.rows[before]+1, mostRowsCounted), 0
			}
			x.slots[at] = here + 1
		}
	}
	x.list()
}

// list puts the last rows in their lists.
func (x *patientIndex) list() {
	for n := range x.last {
		x.last[n] = x.last[n][:0]
	}
	for k, bi := range x.blocks {
		for i := range x.store.Blocks[bi].Len() {
			here := int32(k<<blockBits | i)
			if n := x.rows[here]; n > 0 {
				x.last[n-1] = append(x.last[n-1], here)
			}
		}
	}
}

// arrange puts all rows that were found in order.
func (x *patientIndex) arrange(told *holders, whose func([]row.Holder) row.Holders) order {
	o := order{rows: make([]int32, 0, x.filled), ones: len(x.last[0]), alone: len(x.alone)}
	o.rows = append(o.rows, x.last[0]...)
	var of []int32
	for _, last := range x.last[1:] {
		for _, at := range last {
			of = of[:0]
			for ; at >= 0; at = x.before[at] {
				of = append(of, at)
			}
			x.sort(of)
			if x.store.zeros && x.mixed(of) {
				for _, some := range x.tell(told, of, whose) {
					o.add(some)
				}
			} else {
				o.add(of)
			}
		}
	}
	o.rows = append(o.rows, x.alone...)
	return o
}

// add appends the rows of a patient.
func (o *order) add(rows []int32) {
	o.rows = append(o.rows, rows[0])
	for _, at := range rows[1:] {
		o.rows = append(o.rows, ^at)
	}
}

func (x *patientIndex) place(at int32) row.Place { return placeIn(x.blocks, at) }

// placeIn is the place of a row by its number among those of a part's blocks.
func placeIn(blocks []int32, at int32) row.Place {
	return row.Place{Block: blocks[at>>blockBits], Index: at & (blockRows - 1)}
}

// sort puts rows in the order of their tables and lines. Those of one reader are in the
// opposite one.
func (x *patientIndex) sort(rows []int32) {
	slices.Reverse(rows)
	compare := func(a, b int32) int { return x.store.Compare(x.place(a), x.place(b)) }
	if !slices.IsSortedFunc(rows, compare) {
		slices.SortFunc(rows, compare)
	}
}

// resized is a slice of a length, the old one if it is long enough.
func resized[T any](s []T, n int) []T {
	if n > cap(s) {
		return make([]T, n)
	}
	return s[:n]
}
