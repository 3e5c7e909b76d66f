package store

import (
	"maps"
	"runtime"
	"slices"
	"sync"

	"example.org/holdfast/cohort/internal/parallel"
	"example.org/holdfast/cohort/internal/row"
)

// list is the rows of a part's patients with several rows, those of a patient side by side
// in the order of their tables and lines. Rows are numbered by the block's place among the
// part's, and the place in the block; one of the same patient as the row before it is the
// complement of its number.
type list []int32

// Arrange puts the rows of each patient side by side, when all tables are read; nothing
// changes after it. Whose the rows are of identifiers that differ in leading zeros only
// is asked of a function.
func (s *Store) Arrange(whose func([]row.Holder) row.Holders) {
	s.lists = make([]list, s.Parts())
	told := make([]holders, s.Parts())
	indexes := sync.Pool{New: func() any { return new(patientIndex) }}
	parallel.Each(s.Parts(), func(part int) {
		x := indexes.Get().(*patientIndex)
		x.find(s, s.parts[part])
		s.lists[part] = x.list(&told[part], whose)
		for _, bi := range s.parts[part] {
			s.Blocks[bi].patient = nil // nobody needs it any more
		}
		indexes.Put(x)
	})
	s.Apart, s.Joined = make(map[row.Place]row.Place), make(map[row.Place]row.Place)
	for _, t := range told {
		maps.Copy(s.Apart, t.apart)
		maps.Copy(s.Joined, t.joined)
		s.ButForZeros += t.butForZeros
	}
	if s.Rows() >= many {
		runtime.GC() // what comes next stands where the hashes did
	}
}

// many rows have hashes that take up 8 MiB.
const many = 1 << 20

// patientIndex finds the rows of each identifier of a part.
type patientIndex struct {
	store  *Store
	blocks []int32
	filled int      // rows of these
	number []uint64 // of the patient by row, however many zeros stand before it
	before []int32  // another row with the identifier, found earlier; −1 for none
	rows   []uint8  // how many rows of the identifier were found with it, mostRowsCounted at most; 0 for one that is not the last, 1 without a patient
	slots  []int32  // of a hash table with open addressing: row + 1 of an identifier's latest row; 0 empty
	listed int      // rows of identifiers that have several

	// The last rows of identifiers that have several, first of those with two, then of those
	// with three, and so on: a processor foresees what it does with them when those before
	// had as many.
	last [mostRowsCounted - 1][]int32
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
	mask := uint64(size - 1)
	for k, bi := range blocks {
		b := s.Blocks[bi]
		for i := range b.Len() {
			here := int32(k<<blockBits | i)
			who := hash(b.patient, i)
			if who == 0 {
				x.rows[here] = 1
				b.rows[i].operation |= nobody
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
	x.findLast()
}

// findLast puts the last rows in their lists, and marks what is to be listed.
func (x *patientIndex) findLast() {
	for n := range x.last {
		x.last[n] = x.last[n][:0]
	}
	x.listed = 0
	for k, bi := range x.blocks {
		rows := x.store.Blocks[bi].rows
		for i := range rows {
			here := int32(k<<blockBits | i)
			n := x.rows[here]
			if n == 1 {
				continue
			}
			rows[i].operation |= listed
			x.listed++
			if n > 1 {
				x.last[n-2] = append(x.last[n-2], here)
			}
		}
	}
}

// list lists the rows of identifiers that have several.
func (x *patientIndex) list(told *holders, whose func([]row.Holder) row.Holders) list {
	l := make(list, 0, x.listed)
	var of []int32
	for _, last := range x.last {
		for _, at := range last {
			of = of[:0]
			for ; at >= 0; at = x.before[at] {
				of = append(of, at)
			}
			x.sort(of)
			if x.store.zeros && x.mixed(of) {
				for _, some := range x.tell(told, of, whose) {
					l.add(some)
				}
			} else {
				l.add(of)
			}
		}
	}
	return l
}

// add appends the rows of a patient.
func (l *list) add(rows []int32) {
	*l = append(*l, rows[0])
	for _, at := range rows[1:] {
		*l = append(*l, ^at)
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
