package audit

import (
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
)

// Sum is observed and expected revisions of a group, each joint by the points of its
// own part: by bearing and age, say, where a source has no figure of the whole.
type Sum struct {
	benchmark.Ratio
	Source string
	By     []string // what its series state

	Of      int64 // joints of the group with a complete interval, of which Joints are taken in
	Outside int64 // joints of the group that are in none of the parts
	Missed  int64 // of these, revised
}

// sums are those of a group that no series of a source is of. Of one source's
// series of 1-KM those that state the same attributes and share no joint are added up, where
// together they take in at least nine in ten of the joints with a complete
// interval; of several such sets the one that takes in most joints, then states most.
func (e *evidence) sums(g *Group, atoms []int) []*Sum {
	if e == nil || slices.ContainsFunc(g.Values[2:], func(v Value) bool { return !v.All && !slices.Contains(Statable, v.Field) }) {
		return nil
	}
	whole := keyOf(atoms)
	type set struct {
		by    []string
		parts []*Beside
	}
	sets := make(map[[2]string]*set)
	var order [][2]string
	of := make(map[string]bool) // sources with a series of the whole
	for _, b := range e.beside {
		if b.Joint != g.Values[0].Word || b.Procedure != g.Values[1].Word || b.Ratio == nil || len(b.Within) > 0 {
			continue
		}
		if b.atoms == whole {
			of[b.Series.Source] = true
		}
		by := b.Series.Others()
		if b.Series.Diagnosis != "" {
			by = append(by, "diagnosis")
		}
		k := [2]string{b.Series.Source, strings.Join(by, ", ")}
		if sets[k] == nil {
			sets[k], order = &set{by: by}, append(order, k)
		}
		s := sets[k]
		if !slices.ContainsFunc(s.parts, func(o *Beside) bool { return o.Series == b.Series }) {
			s.parts = append(s.parts, b)
		}
	}
	best := make(map[string]*Sum)
	var sources []string
	for _, k := range order {
		if of[k[0]] || len(sets[k].by) == 0 {
			continue
		}
		s := e.sum(k[0], sets[k].by, sets[k].parts, atoms)
		if s == nil {
			continue
		}
		switch known := best[k[0]]; {
		case known == nil:
			sources = append(sources, k[0])
		case s.Joints < known.Joints || s.Joints == known.Joints && len(s.By) <= len(known.By):
			continue
		}
		best[k[0]] = s
	}
	var all []*Sum
	for _, source := range sources {
		all = append(all, best[source])
	}
	return all
}

// sum adds up the parts that lie within a group; nil unless two or more of them share
// no joint and take in nine in ten.
func (e *evidence) sum(source string, by []string, parts []*Beside, atoms []int) *Sum {
	inside := make(map[int]bool)
	for _, i := range atoms {
		inside[i] = true
	}
	taken := make(map[int]bool)
	first := len(e.years)
	var ratios []*benchmark.Ratio
	for _, b := range parts {
		if slices.ContainsFunc(b.met, func(i int) bool { return !inside[i] }) {
			continue
		}
		if slices.ContainsFunc(b.met, func(i int) bool { return taken[i] }) {
			return nil
		}
		for _, i := range b.met {
			taken[i] = true
		}
		at, _ := slices.BinarySearch(e.years, b.Series.Figures[0].Years)
		first = min(first, at)
		ratios = append(ratios, b.Ratio)
	}
	if len(ratios) < 2 {
		return nil
	}
	s := &Sum{Ratio: benchmark.Sum(ratios), Source: source, By: by}
	for _, i := range atoms {
		a := &e.atoms[i]
		if a.reach > first {
			s.Of += a.counts.Subjects()
		}
		if !taken[i] {
			s.Outside += a.counts.Subjects()
			s.Missed += a.counts.Total(cohort.CauseRevision)
		}
	}
	if 10*s.Joints < 9*s.Of {
		return nil
	}
	return s
}
