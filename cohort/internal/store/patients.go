package store

import (
	"iter"
	"runtime"
	"slices"
	"sync"

	"example.org/holdfast/cohort/internal/row"
)

// Index finds the patients who have several rows. It is called once, when all
// tables are read. Whose rows with identifiers that differ in leading zeros only
// are is asked of a function.
func (s *Store) Index(whose func([]row.Holder) row.Holders) {
	rows, any := 0, false
	for _, b := range s.Blocks {
		any = any || b.patient != nil
		rows += b.Len()
		b.several = make([]uint64, (b.Len()+63)/64)
	}
	if !any {
		return
	}
	parts := 1
	for parts < 256 && rows/parts > 1<<18 {
		parts *= 2
	}
	workers := min(runtime.GOMAXPROCS(0), parts)
	indexes := make(chan *patientIndex, workers)
	for range workers {
		indexes <- newPatientIndex(rows/parts + rows/parts/8)
	}
	s.shared = make([]places, parts)
	told := make([]holders, parts)
	Parallel(parts, func(p int) {
		x := <-indexes
		s.shared[p] = x.patientsOf(s.Blocks, uint64(p), uint64(parts))
		indexes <- x
		told[p] = s.tellApart(&s.shared[p], whose)
	})
	s.note(told)
	for _, part := range s.shared {
		for _, at := range part.rows {
			s.Blocks[at.Block].several[at.Index/64] |= 1 << (at.Index % 64)
		}
	}
}

// Parts is the number of parts that all patients fall into. Parts may be
// gone through side by side.
func (s *Store) Parts() int { return len(s.Blocks) + len(s.shared) }

// Patients gives the rows of each patient of a part, in the order of their
// places. A row without a patient comes alone. The rows are good until the
// next are given.
func (s *Store) Patients(part int) iter.Seq[[]row.Row] {
	return func(yield func([]row.Row) bool) {
		var rows []row.Row
		if part < len(s.Blocks) {
			b := s.Blocks[part]
			rows = make([]row.Row, 1)
			for i := range b.Len() {
				if b.Several(i) {
					continue
				}
				s.unpack(row.Place{Block: int32(part), Index: int32(i)}, b.Patient(i), &rows[0])
				if !yield(rows) {
					return
				}
			}
			return
		}
		for patient := range s.shared[part-len(s.Blocks)].patients {
			rows = slices.Grow(rows[:0], len(patient))[:len(patient)]
			who := s.Blocks[patient[0].Block].Patient(int(patient[0].Index))
			for k, at := range patient {
				s.unpack(at, who, &rows[k])
			}
			if !yield(rows) {
				return
			}
		}
	}
}

// SharedParts is the number of parts that the patients with several rows fall
// into.
func (s *Store) SharedParts() int { return len(s.shared) }

// Shared gives the places of the rows of each patient of such a part.
func (s *Store) Shared(part int) iter.Seq[[]row.Place] { return s.shared[part].patients }

// HasPatients says whether a table of primaries names patients.
func (s *Store) HasPatients() bool {
	return slices.ContainsFunc(s.Tables, func(t *Table) bool { return t.Role == row.Primaries && t.Patients })
}

// places are rows, patient by patient.
type places struct {
	rows  []row.Place
	sizes []int32 // rows of each patient
	mixed []int   // those whose identifiers differ in leading zeros
}

func (p *places) patients(yield func([]row.Place) bool) {
	rows := p.rows
	for _, n := range p.sizes {
		if !yield(rows[:n:n]) {
			return
		}
		rows = rows[n:]
	}
}

// patientIndex is a hash table with open addressing over one part's rows, a
// part of the hashes at a time, so that it stays small.
type patientIndex struct {
	who    []uint64
	places []row.Place
	next   []int32 // the patient's row before, or −1
	slots  []int32 // row + 1 of the patient's latest row; 0 empty
	more   []int32 // slots of patients that have several rows
}

// newPatientIndex has room for a number of rows, and grows.
func newPatientIndex(rows int) *patientIndex {
	return &patientIndex{who: make([]uint64, 0, rows), places: make([]row.Place, 0, rows), next: make([]int32, 0, rows)}
}

// patientsOf lists the rows of each identifier, however many zeros stand before it,
// that has several, among those whose hash falls in the part.
func (x *patientIndex) patientsOf(blocks []*Block, part, parts uint64) places {
	x.who, x.places, x.next, x.more = x.who[:0], x.places[:0], x.next[:0], x.more[:0]
	for bi, b := range blocks {
		for i, who := range b.patient {
			if who>>row.FormBits&(parts-1) == part && who != 0 {
				x.who = append(x.who, who)
				x.places = append(x.places, row.Place{Block: int32(bi), Index: int32(i)})
			}
		}
	}
	size := 16
	for size < 2*len(x.who) {
		size *= 2
	}
	if size > cap(x.slots) {
		x.slots = make([]int32, size)
	} else {
		x.slots = x.slots[:size]
		clear(x.slots)
	}
	mask := uint64(size - 1)
	for i, who := range x.who {
		x.next = append(x.next, -1)
		at := who >> 32 & mask
		for x.slots[at] != 0 && x.who[x.slots[at]-1]|row.NoNumber != who|row.NoNumber {
			at = (at + 1) & mask
		}
		if before := x.slots[at] - 1; before >= 0 {
			x.next[i] = before
			if x.next[before] < 0 {
				x.more = append(x.more, int32(at))
			}
		}
		x.slots[at] = int32(i) + 1
	}
	var found places
	for _, at := range x.more {
		start, who, mixed := len(found.rows), x.who[x.slots[at]-1], false
		for i := x.slots[at] - 1; i >= 0; i = x.next[i] {
			found.rows = append(found.rows, x.places[i])
			mixed = mixed || x.who[i] != who
		}
		if mixed {
			found.mixed = append(found.mixed, len(found.sizes))
		}
		slices.Reverse(found.rows[start:])
		found.sizes = append(found.sizes, int32(len(found.rows)-start))
	}
	return found
}

// Parallel runs f for 0 to n−1 on all processors.
func Parallel(n int, f func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		for i := range n {
			f(i)
		}
		return
	}
	next := make(chan int)
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := range next {
				f(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
}
