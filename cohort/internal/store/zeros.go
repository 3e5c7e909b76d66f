package store

import (
	"slices"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
)

// Identifier makes the hash of a row's patient from that of the identifier
// without the zeros before a number, and how many these are; −1 for what is no
// number. It is never 0.
func Identifier(hash uint64, zeros int) uint64 {
	form := uint64(row.NoNumber)
	if zeros >= 0 {
		form = uint64(min(zeros+1, row.MostZeros))
	}
	return hash&^row.NoNumber | form
}

// holders is what one part's identifiers that differ in leading zeros come to.
type holders struct {
	apart, joined map[row.Place]row.Place
	butForZeros   int // patients who have several in the primaries
}

// mixed says that rows of one number are written with different zeros.
func (x *patientIndex) mixed(rows []int32) bool {
	if len(rows) < 2 {
		return false
	}
	first := x.store.identifier(x.place(rows[0]))
	return slices.ContainsFunc(rows[1:], func(at int32) bool { return x.store.identifier(x.place(at)) != first })
}

// tell finds out whose the rows of one number are, and gives each patient's by
// themselves, in the order of their first rows.
func (x *patientIndex) tell(told *holders, rows []int32, whose func([]row.Holder) row.Holders) [][]int32 {
	if told.apart == nil {
		*told = holders{apart: make(map[row.Place]row.Place), joined: make(map[row.Place]row.Place)}
	}
	all := make([]row.Holder, len(rows))
	for i, at := range rows {
		all[i] = x.store.Holder(x.place(at))
	}
	h := whose(all)
	for _, pair := range h.Apart {
		told.apart[x.place(rows[pair.At])] = x.place(rows[pair.Of])
	}
	for _, pair := range h.Joined {
		told.joined[x.place(rows[pair.At])] = x.place(rows[pair.Of])
	}
	var patients [][]int32
	by := make(map[int32]int) // patient by the first row
	for i, first := range h.Of {
		n, ok := by[first]
		if !ok {
			n = len(patients)
			by[first], patients = n, append(patients, nil)
		}
		patients[n] = append(patients[n], rows[i])
	}
	for _, rows := range patients {
		list := func(at int32) bool { return x.store.Blocks[x.place(at).Block].table.Role != row.Primaries }
		if x.mixed(slices.DeleteFunc(slices.Clone(rows), list)) {
			told.butForZeros++
		}
	}
	return patients
}

// Identifier is the hash of that of a row's patient, until the rows are arranged; 0 if
// missing.
func (b *Block) Identifier(i int) uint64 { return hash(b.patient, i) }

func (s *Store) identifier(at row.Place) uint64 { return s.Blocks[at.Block].Identifier(int(at.Index)) }

// Holder is what a row says of who has its identifier.
func (s *Store) Holder(at row.Place) row.Holder {
	b := s.Blocks[at.Block]
	i := int(at.Index)
	p, code := &b.rows[i], b.codesOf(i)
	h := row.Holder{Role: b.table.Role, Zeros: uint8(s.identifier(at) & row.NoNumber), Operation: b.Day(Operation, i), Birth: b.Day(Birth, i),
		Sex: code[Sex], Joint: code[Joint], Side: code[Side]}
	op := 0
	if h.Operation.Known() {
		op, _, _ = dates.YMD(int32(h.Operation))
	}
	switch {
	case h.Birth.Known():
		year, _, _ := dates.YMD(int32(h.Birth))
		h.BornAt, h.BornBy = int16(year), int16(year)
	case p.age < row.NoAge: // a year of birth, whose century a pivot may have placed
		if year := int(-p.age); year < pivotedYear {
			h.BornAt, h.BornBy = int16(year), int16(year)
		}
	case p.age >= row.MinAge && p.age <= row.MaxAge && op > 0:
		h.BornAt, h.BornBy = int16(op-int(p.age)-1), int16(op-int(p.age))
	}
	return h
}
