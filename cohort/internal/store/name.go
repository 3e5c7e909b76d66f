package store

import "example.org/holdfast/cohort/internal/row"

// Told is a row of a list that names its joint and tells its patient too.
type Told struct{ Name, Patient uint64 }

// named is what is found of a name in the primaries.
type named struct {
	rows int
	at   row.Place // of the first
	part int
}

// JoinByName gives rows of a list, which have the name of a joint and no patient,
// the patient of the row of the primaries that has the name, and what else it tells
// of the joint. A name that several rows have joins nothing, nor one whose row is
// of another joint or side. Of a list whose other rows have their names from
// elsewhere, as those show that tell the patient too, no row is joined. It returns
// how many were.
func (s *Store) JoinByName(rows []*Record, told []Told) int {
	found := make(map[uint64]*named)
	for _, r := range rows {
		found[r.Name] = new(named)
	}
	for _, t := range told {
		found[t.Name] = new(named)
	}
	s.findNames(found)
	agree, differ := 0, 0
	for _, t := range told {
		if n := found[t.Name]; n.rows == 1 && s.identifier(n.at) != 0 {
			if s.identifier(n.at)|row.NoNumber == t.Patient|row.NoNumber {
				agree++
			} else {
				differ++
			}
		}
	}
	joined := 0
	for _, r := range rows {
		n := found[r.Name]
		if differ > agree || n.rows != 1 {
			continue
		}
		code := s.Blocks[n.at.Block].codesOf(int(n.at.Index))
		joint, side := code[Joint], code[Side]
		if contradict(r.Codes[Joint], joint) || contradict(r.Codes[Side], side) {
			continue
		}
		r.Patient = s.patientNamed(n, r.Name)
		r.Codes[Joint], r.Codes[Side] = joint, side
		r.Flags |= row.FlagNamed
		r.Flags &^= row.FlagBothSides | row.FlagSideMissing
		joined++
	}
	return joined
}

func contradict(a, b row.Code) bool { return a != 0 && b != 0 && a != b }

// findNames counts the rows of the primaries that have each name.
func (s *Store) findNames(found map[uint64]*named) {
	for part, blocks := range s.parts {
		for _, bi := range blocks {
			b := s.Blocks[bi]
			if b.table.Role != row.Primaries {
				continue
			}
			for i, name := range b.names {
				n := found[name]
				if n == nil || name == 0 {
					continue
				}
				if n.rows++; n.rows == 1 {
					n.at, n.part = row.Place{Block: bi, Index: int32(i)}, part
				}
			}
		}
	}
}

// patientNamed is the patient of a named row; if it has none it is given one of its
// own, which falls in the part where the row is.
func (s *Store) patientNamed(n *named, name uint64) uint64 {
	b := s.Blocks[n.at.Block]
	if b.patient == nil {
		b.patient = make([]uint64, b.Len())
	}
	if b.patient[n.at.Index] == 0 {
		const some = 1 << 59 // so that it is never 0
		who := (name>>row.FormBits)&^uint64(len(s.parts)-1) | uint64(n.part) | some
		b.patient[n.at.Index] = who<<row.FormBits | row.NoNumber
	}
	return b.patient[n.at.Index]
}
