package store

import (
	"maps"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/parallel"
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
	alias         map[uint64]uint64
	apart, joined map[row.Place]row.Place
}

// TellApart finds out whose the rows are of identifiers that differ in leading
// zeros only, which is asked of a function. It is called once, when all tables are
// read.
func (s *Store) TellApart(whose func([]row.Holder) row.Holders) {
	if !s.zeros {
		return
	}
	told := make([]holders, s.Parts())
	parallel.Each(s.Parts(), func(part int) {
		for places := range s.numbers(part) {
			if len(places) > 1 && s.mixed(places) {
				s.tell(&told[part], places, whose)
			}
		}
	})
	s.note(told)
}

// tell finds out whose the rows of one number are.
func (s *Store) tell(told *holders, places []row.Place, whose func([]row.Holder) row.Holders) {
	if told.alias == nil {
		*told = holders{make(map[uint64]uint64), make(map[row.Place]row.Place), make(map[row.Place]row.Place)}
	}
	all := make([]row.Holder, len(places))
	for i, at := range places {
		all[i] = s.Holder(at)
	}
	h := whose(all)
	for i, first := range h.Of {
		if who, one := s.patient(places[i]), s.patient(places[first]); who != one {
			told.alias[who] = one
		}
	}
	for _, pair := range h.Apart {
		told.apart[places[pair.At]] = places[pair.Of]
	}
	for _, pair := range h.Joined {
		told.joined[places[pair.At]] = places[pair.Of]
	}
}

// Holder is what a row says of who has its identifier.
func (s *Store) Holder(at row.Place) row.Holder {
	b := s.Blocks[at.Block]
	i := int(at.Index)
	p, code := &b.rows[i], b.codesOf(i)
	h := row.Holder{Role: b.table.Role, Zeros: uint8(s.patient(at) & row.NoNumber), Operation: b.Day(Operation, i), Birth: b.Day(Birth, i),
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

// note puts together what the parts found out.
func (s *Store) note(told []holders) {
	alias := make(map[uint64]uint64)
	s.Apart, s.Joined = make(map[row.Place]row.Place), make(map[row.Place]row.Place)
	for _, t := range told {
		maps.Copy(alias, t.alias)
		maps.Copy(s.Apart, t.apart)
		maps.Copy(s.Joined, t.joined)
	}
	if len(alias) == 0 {
		return
	}
	for _, b := range s.Blocks {
		b.alias = alias
	}
}
