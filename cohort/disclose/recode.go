package disclose

import (
	"fmt"
	"slices"
	"strconv"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// other is what groups without an order are joined to.
const other = "other"

// unit is a group, or several that are one here. Its numbers are exact, and are in
// nothing that leaves this package.
type unit struct {
	values []audit.Value
	of     []*audit.Group

	joints, revised, died, otherwise int64
	patients                         int64 // −1 if not known
	implantYears                     float64

	atRisk, revisedBy, othersBy []int64 // at each year
}

func newUnit(values []audit.Value, years []float64, of ...*audit.Group) *unit {
	u := &unit{values: values, of: of, atRisk: make([]int64, len(years)), revisedBy: make([]int64, len(years)), othersBy: make([]int64, len(years))}
	for _, g := range of {
		u.joints, u.revised, u.died, u.otherwise = u.joints+g.Joints, u.revised+g.Revised, u.died+g.Died, u.otherwise+g.Other
		u.patients, u.implantYears = g.Patients, u.implantYears+g.ImplantYears
		for i, y := range years {
			r := g.At(y)
			if r == nil || !r.Reached {
				u.revisedBy[i] += g.Revised
				u.othersBy[i] += g.Died + g.Other
				continue
			}
			u.atRisk[i] += int64(r.KaplanMeier.AtRisk)
			u.revisedBy[i] += int64(r.KaplanMeier.Events)
			if !r.IncidenceEmpty {
				u.othersBy[i] += int64(r.Incidence.Competing)
			}
		}
	}
	if len(of) > 1 {
		u.patients = -1 // one may be in several of the groups
	}
	return u
}

// word is the unit's in the field that it is of.
func (u *unit) word(field string) string {
	i := slices.IndexFunc(u.values, func(v audit.Value) bool { return v.Field == field })
	return u.values[i].Word
}

// field is the groups of one field of a joint and procedure, which are all its joints.
type field struct {
	name    string
	ordered bool // neighbours can be joined: ages, years
	units   []*unit
}

// join makes the smallest group one with another: with a neighbour where the groups
// have an order, else with the others. False says that one group is left, which says
// no more than all joints do.
func (f *field) join(years []float64) bool {
	if len(f.units) < 3 {
		f.units = nil
		return false
	}
	least := f.smallest(func(int) bool { return true })
	with := f.partner(least)
	a, b := f.units[min(least, with)], f.units[max(least, with)]
	values := slices.Clone(a.values)
	i := slices.IndexFunc(values, func(v audit.Value) bool { return v.Field == f.name })
	values[i].Word = f.joined(a.word(f.name), b.word(f.name))
	u := newUnit(values, years, append(slices.Clone(a.of), b.of...)...)
	f.units = slices.Delete(f.units, max(least, with), max(least, with)+1)
	f.units[min(least, with)] = u
	if u.word(f.name) == other { // last, but for those not recorded
		f.units = slices.Delete(f.units, min(least, with), min(least, with)+1)
		at := len(f.units)
		if f.units[at-1].word(f.name) == cohort.NotRecorded {
			at--
		}
		f.units = slices.Insert(f.units, at, u)
	}
	return true
}

// smallest is that of the units asked about.
func (f *field) smallest(of func(int) bool) int {
	least := -1
	for i, u := range f.units {
		if of(i) && (least < 0 || u.joints < f.units[least].joints) {
			least = i
		}
	}
	return least
}

// partner is what a group is joined to.
func (f *field) partner(least int) int {
	if f.ordered && f.units[least].word(f.name) != cohort.NotRecorded {
		return f.smallest(func(i int) bool {
			return (i == least-1 || i == least+1) && f.units[i].word(f.name) != cohort.NotRecorded
		})
	}
	if i := slices.IndexFunc(f.units, func(u *unit) bool { return u.word(f.name) == other }); i >= 0 && i != least && !f.ordered {
		return i
	}
	return f.smallest(func(i int) bool { return i != least })
}

// joined is the word of two groups that are one.
func (f *field) joined(a, b string) string {
	if !f.ordered {
		return other
	}
	if b == cohort.NotRecorded {
		return a + " or " + b
	}
	if f.name == audit.OperationYear {
		from, to, _ := audit.OperationYears(a)
		first, last, _ := audit.OperationYears(b)
		return fmt.Sprintf("%d-%d", min(from, first), max(to, last))
	}
	x, _ := benchmark.ParseAge(a)
	y, _ := benchmark.ParseAge(b)
	band := cohort.AgeBand{From: min(x.From, y.From), To: max(x.Below, y.Below)}
	if x.Below == 0 || y.Below == 0 {
		band.To = 0
	}
	return band.String()
}

// inOrder says whether a field's groups stand in an order in which neighbours can be
// joined.
func inOrder(name string, units []*unit) bool {
	for _, u := range units {
		w := u.word(name)
		if w == cohort.NotRecorded {
			continue
		}
		switch _, err := strconv.Atoi(w); {
		case name == audit.OperationYear && err == nil:
		case name == "age_band":
			if _, err := benchmark.ParseAge(w); err != nil {
				return false
			}
		default:
			return false
		}
	}
	return true
}

// part is one joint and procedure while it is recoded.
type part struct {
	years  []float64
	all    *unit
	fields []*field
	deaths bool     // recorded
	alone  []string // fields of which only the total is left
	joined []string // fields of which groups are one
	none   bool     // nothing of it can be told
}

// recode joins groups until nothing that is told gives a small count away.
func (p *part) recode(guarded bool) {
	for _, f := range p.fields {
		for f.units != nil && slices.ContainsFunc(f.units, func(u *unit) bool { return small(u.joints) }) {
			p.join(f)
		}
	}
	for guarded {
		found, any := p.system().narrow()
		if !any {
			return
		}
		f := p.fieldOf(found.unit)
		if f == nil {
			p.none = true
			return
		}
		p.join(f)
	}
}

func (p *part) join(f *field) {
	if !f.join(p.years) {
		p.alone = append(p.alone, f.name)
		p.joined = slices.DeleteFunc(p.joined, func(s string) bool { return s == f.name })
	} else if !slices.Contains(p.joined, f.name) {
		p.joined = append(p.joined, f.name)
	}
}

// units are all joints, then the groups of each field.
func (p *part) units() []*unit {
	all := []*unit{p.all}
	for _, f := range p.fields {
		all = append(all, f.units...)
	}
	return all
}

// fieldOf is the field to be recoded further for the sake of a unit: its own, or for
// all joints that with most groups; nil if none is left.
func (p *part) fieldOf(unit int) *field {
	n := 1
	var most *field
	for _, f := range p.fields {
		if unit >= n && unit < n+len(f.units) {
			return f
		}
		n += len(f.units)
		if len(f.units) > 1 && (most == nil || len(f.units) > len(most.units)) {
			most = f
		}
	}
	return most
}

// system is what a reader of the part knows.
func (p *part) system() *system {
	s := new(system)
	var all [][]int
	for i, u := range p.units() {
		all = append(all, p.tell(s, i, u))
	}
	at := 1
	for _, f := range p.fields {
		for v := range all[0] {
			sum := []int{all[0][v]}
			for g := range f.units {
				sum = append(sum, all[at+g][v])
				s.hold(at+g, all[0][v], all[at+g][v])
			}
			if len(f.units) > 0 {
				s.sums = append(s.sums, sum)
			}
		}
		at += len(f.units)
	}
	return s
}

// tell adds what is told of a unit: its joints, those at risk, revised and gone
// otherwise by each year, and the last two of the whole follow-up.
func (p *part) tell(s *system, unit int, u *unit) []int {
	round := func(counts []int64) (told []int) {
		for _, n := range counts {
			told = append(told, s.tell(n, rounded(n)))
		}
		return told
	}
	joints := s.tell(u.joints, rounded(u.joints))
	atRisk := round(u.atRisk)
	revised := round(append(slices.Clone(u.revisedBy), u.revised))
	others := round(append(slices.Clone(u.othersBy), u.died+u.otherwise))
	falling := slices.Clone(atRisk)
	slices.Reverse(falling)
	s.rise(unit, append(falling, joints))
	s.rise(unit, revised)
	s.rise(unit, others)
	for y := range p.years {
		s.disjoint(joints, atRisk[y], revised[y], others[y])
		if u.atRisk[y] == 0 { // nobody is left of whom there could be more
			s.order = append(s.order, [2]int{revised[len(p.years)], revised[y]}, [2]int{others[len(p.years)], others[y]})
		}
	}
	s.disjoint(joints, revised[len(p.years)], others[len(p.years)])
	return slices.Concat([]int{joints}, atRisk, revised, others)
}
