package store

import (
	"iter"
	"slices"

	"example.org/holdfast/cohort/internal/row"
)

// Parts is the number of parts that all patients fall into. Parts may be
// gone through side by side.
func (s *Store) Parts() int { return len(s.parts) }

// HasPatients says whether a table of primaries names patients.
func (s *Store) HasPatients() bool {
	return slices.ContainsFunc(s.Tables, func(t *Table) bool { return t.Role == row.Primaries && t.Patients })
}

// Patients gives the rows of each patient of a part of whom a row is wanted, in the
// order of their tables and lines; the patients come in no order. A row without a
// patient comes alone. Without wanted all rows are. The rows are good until the next are
// given. Very many rows of one identifier come in pieces, and with true, if they are a
// crowd: rows of which none has anything to do with another.
func (s *Store) Patients(part int, wanted func(row.Place) bool, crowd func(iter.Seq[*row.Row]) bool) iter.Seq2[[]row.Row, bool] {
	return func(yield func([]row.Row, bool) bool) {
		var rows []row.Row
		for places, known := range s.patients(part) {
			if wanted != nil && !slices.ContainsFunc(places, wanted) {
				continue
			}
			var who uint64
			if known {
				who = number(places[0])
			}
			many := len(places) >= 2*pieceRows && crowd(s.unpacked(places, who))
			for len(places) > 0 {
				piece := len(places)
				if many && piece >= 2*pieceRows {
					piece = pieceRows // so that no piece is a single row
				}
				rows = resized(rows, piece)
				for k, at := range places[:piece] {
					s.unpack(at, who, &rows[k])
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

// number of the patient whose first row has a place.
func number(first row.Place) uint64 { return uint64(first.Block)<<blockBits | uint64(first.Index) + 1 }

// unpacked gives rows of one patient one by one, each good until the next.
func (s *Store) unpacked(places []row.Place, who uint64) iter.Seq[*row.Row] {
	return func(yield func(*row.Row) bool) {
		var r row.Row
		for _, at := range places {
			if s.unpack(at, who, &r); !yield(&r) {
				return
			}
		}
	}
}

// Several gives the places of the rows of each patient of a part who has several, in the
// order of their tables and lines, good until the next are given.
func (s *Store) Several(part int) iter.Seq[[]row.Place] {
	return func(yield func([]row.Place) bool) {
		for places := range s.listed(part) {
			if len(places) > 1 && !yield(places) {
				return
			}
		}
	}
}

// Whose gives the number of each row's patient: 0 for none, and else one of its own.
func (s *Store) Whose() func(row.Place) uint64 {
	whose := make([][]uint64, len(s.Blocks))
	for part := range s.parts {
		for places, known := range s.patients(part) {
			for _, at := range places {
				if whose[at.Block] == nil {
					whose[at.Block] = make([]uint64, s.Blocks[at.Block].Len())
				}
				if known {
					whose[at.Block][at.Index] = number(places[0])
				}
			}
		}
	}
	return func(at row.Place) uint64 { return whose[at.Block][at.Index] }
}

// patients gives the places of the rows of each patient of a part, and whether anybody is
// known to be the patient: first rows that are the only ones, in order, and then the others.
func (s *Store) patients(part int) iter.Seq2[[]row.Place, bool] {
	return func(yield func([]row.Place, bool) bool) {
		one := make([]row.Place, 1)
		for _, bi := range s.parts[part] {
			rows := s.Blocks[bi].rows
			for i := range rows {
				if rows[i].has(listed) {
					continue
				}
				if one[0] = (row.Place{Block: bi, Index: int32(i)}); !yield(one, !rows[i].has(nobody)) {
					return
				}
			}
		}
		for places := range s.listed(part) {
			if !yield(places, true) {
				return
			}
		}
	}
}

// listed gives the places of the rows of each patient of a part whose rows are listed.
func (s *Store) listed(part int) iter.Seq[[]row.Place] {
	return func(yield func([]row.Place) bool) {
		var places []row.Place
		for blocks, rows := s.parts[part], s.lists[part]; len(rows) > 0; rows = rows[len(places):] {
			places = append(places[:0], placeIn(blocks, rows[0]))
			for _, at := range rows[1:] {
				if at >= 0 {
					break
				}
				places = append(places, placeIn(blocks, ^at))
			}
			if !yield(places) {
				return
			}
		}
	}
}
