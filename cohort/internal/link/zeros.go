package link

import (
	"slices"

	"example.org/holdfast/cohort/internal/row"
)

// form is what the rows with one way of writing a number say together.
type form struct {
	zeros          uint8
	first          int32
	primaries      bool
	birth          row.Day
	sex            row.Code
	bornAt, bornBy int16 // the earliest and the latest year of birth; 0: not known
	of             *form // the first form of the same patient
}

// HoldersOf finds out whose the rows are of identifiers that differ in leading
// zeros only, which a spreadsheet takes away. Two forms are one patient where the
// birth date agrees, or the year of birth and the sex, or joint, side and day of
// an operation; two where sex or birth contradict, or nothing tells. A list's row
// belongs to the patient of its own form, else to the only patient there is.
func HoldersOf(rows []row.Holder) row.Holders {
	forms := formsOf(rows)
	for i, f := range forms {
		for _, g := range forms[:i] {
			if f.primaries && g.primaries && f.of != g.of && f.agrees(g, rows) {
				join(forms, f.of, g.of)
			}
		}
	}
	h := row.Holders{Joined: lists(forms, rows), Apart: doubts(forms, rows)}
	byZeros := make(map[uint8]*form)
	for _, f := range forms {
		byZeros[f.zeros] = f
	}
	for i := range rows {
		h.Of = append(h.Of, byZeros[rows[i].Zeros].of.first)
	}
	return h
}

// join makes one patient of two, unless some forms of theirs contradict.
func join(forms []*form, one, other *form) {
	if one.first > other.first {
		one, other = other, one
	}
	for _, f := range forms {
		for _, g := range forms {
			if f.of == one && g.of == other && f.contradicts(g) {
				return
			}
		}
	}
	for _, f := range forms {
		if f.of == other {
			f.of = one
		}
	}
}

// formsOf gives the forms in the order of their first rows.
func formsOf(rows []row.Holder) []*form {
	var forms []*form
	for i := range rows {
		r := &rows[i]
		var f *form
		for _, known := range forms {
			if known.zeros == r.Zeros {
				f = known
			}
		}
		if f == nil {
			f = &form{zeros: r.Zeros, first: int32(i), birth: row.NoDay}
			f.of = f
			forms = append(forms, f)
		}
		f.primaries = f.primaries || r.Role == row.Primaries
		if !f.birth.Known() && r.Birth.Known() {
			f.birth = r.Birth
		}
		if f.sex == 0 {
			f.sex = r.Sex
		}
		if r.BornAt != 0 && (f.bornAt == 0 || r.BornBy-r.BornAt < f.bornBy-f.bornAt) {
			f.bornAt, f.bornBy = r.BornAt, r.BornBy
		}
	}
	return forms
}

// contradicts says that two forms are of two people.
func (f *form) contradicts(g *form) bool {
	return f.sex != 0 && g.sex != 0 && f.sex != g.sex || f.birth.Known() && g.birth.Known() && f.birth != g.birth ||
		f.bornAt != 0 && g.bornAt != 0 && (f.bornBy < g.bornAt || g.bornBy < f.bornAt)
}

// agrees says that two forms are of one person.
func (f *form) agrees(g *form, rows []row.Holder) bool {
	switch {
	case f.contradicts(g):
		return false
	case f.birth.Known() && f.birth == g.birth:
		return true
	case f.bornAt != 0 && f.bornAt == f.bornBy && g.bornAt == f.bornAt && g.bornBy == f.bornBy && f.sex != 0 && f.sex == g.sex:
		return true
	}
	type operation struct {
		joint, side row.Code
		day         row.Day
	}
	operations := make(map[operation]bool)
	for _, one := range []uint8{f.zeros, g.zeros} {
		for i := range rows {
			r := &rows[i]
			if r.Zeros != one || r.Role != row.Primaries || r.Joint == 0 || r.Side == 0 || !r.Operation.Known() {
				continue
			}
			o := operation{r.Joint, r.Side, r.Operation}
			if one == f.zeros {
				operations[o] = true
			} else if operations[o] {
				return true
			}
		}
	}
	return false
}

// lists gives the forms that stand in lists only to the only patient there is, and
// returns the rows of the primaries that a list's row then bears on.
func lists(forms []*form, rows []row.Holder) []row.Pair {
	var only *form
	for _, f := range forms {
		if f.primaries && only != nil && f.of != only {
			return nil
		}
		if f.primaries {
			only = f.of
		}
	}
	if only == nil {
		return nil
	}
	var joined []row.Pair
	for _, f := range forms {
		if f.primaries || slices.ContainsFunc(forms, func(g *form) bool { return g.primaries && f.contradicts(g) }) {
			continue
		}
		f.of = only
		joined = append(joined, bearing(f, rows)...)
	}
	return joined
}

// bearing are the rows of the primaries with the row of a list's form that bears
// on each: of a revision the joint's, of a death all.
func bearing(f *form, rows []row.Holder) []row.Pair {
	type joint struct{ joint, side row.Code }
	first, death := make(map[joint]int32), int32(len(rows))
	for k, r := range rows {
		if r.Zeros != f.zeros {
			continue
		}
		if r.Role == row.Deaths {
			death = min(death, int32(k))
		}
		if _, ok := first[joint{r.Joint, r.Side}]; !ok {
			first[joint{r.Joint, r.Side}] = int32(k)
		}
	}
	var all []row.Pair
	for i, p := range rows {
		if p.Role != row.Primaries {
			continue
		}
		k, ok := first[joint{p.Joint, p.Side}]
		if !ok || death < k {
			k = death
		}
		if int(k) < len(rows) {
			all = append(all, row.Pair{At: int32(i), Of: k})
		}
	}
	return all
}

// doubts are the rows of a patient who may be an earlier one, with the first of
// that one's.
func doubts(forms []*form, rows []row.Holder) []row.Pair {
	var all []row.Pair
	for i, f := range forms {
		g := slices.IndexFunc(forms[:i], func(g *form) bool { return g.primaries && f.of != g.of && !f.contradicts(g) })
		if !f.primaries || g < 0 {
			continue
		}
		for k := range rows {
			if rows[k].Zeros == f.zeros && rows[k].Role == row.Primaries {
				all = append(all, row.Pair{At: int32(k), Of: forms[g].first})
			}
		}
	}
	return all
}

// Different says of two rows with one identifier whether they are of different people,
// as sex or birth tell; told is false where nothing of these is known of both.
func Different(one, other row.Holder) (different, told bool) {
	forms := formsOf([]row.Holder{one, {Zeros: one.Zeros + 1, Birth: other.Birth, BornAt: other.BornAt, BornBy: other.BornBy, Sex: other.Sex}})
	f, g := forms[0], forms[1]
	told = f.sex != 0 && g.sex != 0 || f.bornAt != 0 && g.bornAt != 0
	return f.contradicts(g), told
}
