package store

import (
	"maps"
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
	alias         map[uint64]uint64
	apart, joined map[row.Place]row.Place
}

// tellApart finds out whose the rows are of identifiers that differ in leading
// zeros, and leaves each patient's together.
func (s *Store) tellApart(p *places, whose func([]row.Holder) row.Holders) holders {
	var told holders
	if p.mixed == nil {
		return told
	}
	var apart places
	from := 0
	for k, size := range p.sizes {
		rows := p.rows[from : from+int(size)]
		from += int(size)
		if len(p.mixed) > 0 && p.mixed[0] == k {
			p.mixed = p.mixed[1:]
			s.split(&apart, &told, rows, whose)
			continue
		}
		apart.rows, apart.sizes = append(apart.rows, rows...), append(apart.sizes, size)
	}
	*p = apart
	return told
}

func (s *Store) asRead(at row.Place) uint64 { return s.Blocks[at.Block].patient[at.Index] }

// split adds the rows of each patient among those of one number.
func (s *Store) split(to *places, told *holders, rows []row.Place, whose func([]row.Holder) row.Holders) {
	if told.alias == nil {
		*told = holders{make(map[uint64]uint64), make(map[row.Place]row.Place), make(map[row.Place]row.Place)}
	}
	all := make([]row.Holder, len(rows))
	for i, at := range rows {
		all[i] = s.holder(at)
	}
	h := whose(all)
	for _, first := range slices.Compact(slices.Sorted(slices.Values(h.Of))) {
		one, n := s.asRead(rows[first]), int32(0)
		start := len(to.rows)
		for i, at := range rows {
			if h.Of[i] != first {
				continue
			}
			if who := s.asRead(at); who != one {
				told.alias[who] = one
			}
			to.rows = append(to.rows, at)
			n++
		}
		if n == 1 {
			to.rows = to.rows[:start]
			continue
		}
		to.sizes = append(to.sizes, n)
	}
	for _, pair := range h.Apart {
		told.apart[rows[pair.At]] = rows[pair.Of]
	}
	for _, pair := range h.Joined {
		told.joined[rows[pair.At]] = rows[pair.Of]
	}
}

// holder is what a row says of who has its identifier.
func (s *Store) holder(at row.Place) row.Holder {
	b := s.Blocks[at.Block]
	p := &b.rows[at.Index]
	h := row.Holder{Role: b.table.Role, Zeros: uint8(s.asRead(at) & row.NoNumber), Operation: p.day(Operation, b.table), Birth: p.day(Birth, b.table),
		Sex: b.Codes(Sex)(int(at.Index)), Joint: p.codes[0], Side: p.codes[1]}
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
