package store

import (
	"iter"
	"slices"

	"example.org/holdfast/cohort/internal/row"
)

// Parts is the number of parts that all patients fall into. Parts may be
// gone through side by side.
func (s *Store) Parts() int { return len(s.parts) }

// Patients gives the rows of each patient of a part of whom a row is wanted, in the
// order of their tables and lines; the patients come in no order. A row without a
// patient comes alone. Without wanted all rows are. The rows are good until the next are
// given. Very many rows of one identifier come in pieces, and with true, if they are a
// crowd: rows of which none has anything to do with another.
func (s *Store) Patients(part int, wanted func(row.Place) bool, crowd func(iter.Seq[*row.Row]) bool) iter.Seq2[[]row.Row, bool] {
	return func(yield func([]row.Row, bool) bool) {
		var rows []row.Row
		for places := range s.Places(part) {
			if wanted != nil && !slices.ContainsFunc(places, wanted) {
				continue
			}
			many := len(places) >= 2*pieceRows && crowd(s.unpacked(places))
			for len(places) > 0 {
				piece := len(places)
				if many && piece >= 2*pieceRows {
					piece = pieceRows // so that no piece is a single row
				}
				rows = resized(rows, piece)
				for k, at := range places[:piece] {
					s.unpack(at, &rows[k])
				}
				if !yield(rows, many) {
					return
				}
				places = places[piece:]
			}
		}
	}
}

// pieceRows is how many rows of a crowd are unpacked at once.
const pieceRows = 4096

// unpacked gives rows one by one, each good until the next.
func (s *Store) unpacked(places []row.Place) iter.Seq[*row.Row] {
	return func(yield func(*row.Row) bool) {
		var r row.Row
		for _, at := range places {
			if s.unpack(at, &r); !yield(&r) {
				return
			}
		}
	}
}

// Places gives the places of the rows that Patients gives.
func (s *Store) Places(part int) iter.Seq[[]row.Place] {
	return func(yield func([]row.Place) bool) {
		var some []row.Place
		for places := range s.numbers(part) {
			if len(places) == 1 || !s.mixed(places) {
				if !yield(places) {
					return
				}
				continue
			}
			// Each patient's by itself, in the order of their first rows.
			for k, at := range places {
				who := s.patient(at)
				if slices.ContainsFunc(places[:k], func(before row.Place) bool { return s.patient(before) == who }) {
					continue
				}
				some = append(some[:0], at)
				for _, later := range places[k+1:] {
					if s.patient(later) == who {
						some = append(some, later)
					}
				}
				if !yield(some) {
					return
				}
			}
		}
	}
}

func (s *Store) patient(at row.Place) uint64 { return s.Blocks[at.Block].Patient(int(at.Index)) }

// mixed says that rows of one number are of several patients.
func (s *Store) mixed(places []row.Place) bool {
	if !s.zeros {
		return false
	}
	first := s.patient(places[0])
	return slices.ContainsFunc(places[1:], func(at row.Place) bool { return s.patient(at) != first })
}

// numbers gives the places of the rows of each identifier of a part, however many
// zeros stand before it, in the order of their tables and lines. A row without a
// patient comes alone.
func (s *Store) numbers(part int) iter.Seq[[]row.Place] {
	return func(yield func([]row.Place) bool) {
		x := s.index.Get().(*patientIndex)
		defer s.index.Put(x)
		x.find(s, s.parts[part])
		var places []row.Place
		for _, last := range x.last {
			for _, at := range last {
				places = places[:0]
				for ; at >= 0; at = x.before[at] {
					places = append(places, row.Place{Block: x.blocks[at>>blockBits], Index: at & (blockRows - 1)})
				}
				if len(places) > 1 {
					s.sort(places)
				}
				if !yield(places) {
					return
				}
			}
		}
	}
}

// sort puts places in order. Those of one reader are in the opposite one.
func (s *Store) sort(places []row.Place) {
	slices.Reverse(places)
	for k := 1; k < len(places); k++ {
		if s.Compare(places[k-1], places[k]) > 0 {
			slices.SortFunc(places, s.Compare)
			return
		}
	}
}

// HasPatients says whether a table of primaries names patients.
func (s *Store) HasPatients() bool {
	return slices.ContainsFunc(s.Tables, func(t *Table) bool { return t.Role == row.Primaries && t.Patients })
}

// patientIndex finds the rows of each identifier of a part. Rows are numbered by
// the block's place among the part's, and the place in the block.
type patientIndex struct {
	blocks []int32
	number []uint64 // of the patient by row, however many zeros stand before it; 0 for none
	before []int32  // another row with the identifier, found earlier; −1 for none
	rows   []uint8  // how many rows of the identifier were found with it, mostRowsCounted at most; 0 for one that is not the last
	slots  []int32  // of a hash table with open addressing: row + 1 of an identifier's latest row; 0 empty

	// The last rows of all identifiers, first of those with one row, then of those with
	// two, and so on: a processor foresees what it does with them when those before had as
	// many.
	last [mostRowsCounted][]int32
}

const mostRowsCounted = 6

// find goes through the rows of some blocks.
func (x *patientIndex) find(s *Store, blocks []int32) {
	x.blocks = blocks
	rows, filled := len(blocks)<<blockBits, 0
	for _, bi := range blocks {
		filled += s.Blocks[bi].Len()
	}
	size := 16
	for size < 2*filled {
		size *= 2
	}
	x.number, x.before, x.rows, x.slots = resized(x.number, rows), resized(x.before, rows), resized(x.rows, rows), resized(x.slots, size)
	clear(x.slots)
	mask := uint64(size - 1)
	for k, bi := range blocks {
		b := s.Blocks[bi]
		for i := range b.Len() {
			here := int32(k<<blockBits | i)
			x.before[here], x.rows[here] = -1, 1
			who := hash(b.patient, i)
			if who == 0 {
				continue
			}
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
	x.list(s)
}

// list puts the last rows in their lists.
func (x *patientIndex) list(s *Store) {
	for n := range x.last {
		x.last[n] = x.last[n][:0]
	}
	for k, bi := range x.blocks {
		for i := range s.Blocks[bi].Len() {
			here := int32(k<<blockBits | i)
			if n := x.rows[here]; n > 0 {
				x.last[n-1] = append(x.last[n-1], here)
			}
		}
	}
}

// resized is a slice of a length, the old one if it is long enough.
func resized[T any](s []T, n int) []T {
	if n > cap(s) {
		return make([]T, n)
	}
	return s[:n]
}
