package audit

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort/benchmark"
)

// Sum is observed and expected revisions of a group, each joint by the points of its
// own part: by bearing and age, say, where a source has figures of parts. Observed and
// expected are added up; ratios are not averaged.
type Sum struct {
	benchmark.Ratio
	Source string
	By     []string // what its series state

	Parts []*benchmark.Ratio // the largest difference of observed from expected first

	Of      int64 // joints of the group with a complete interval, of which Joints are taken in
	Outside int64 // joints of the group that are in none of the parts
	Missed  int64 // of these, revised

	// Instead: no series of the source is of the whole group, the parts take in at
	// least nine in ten of its joints with a complete interval, and of the source's sums
	// it takes in most joints, then states most. It stands where a ratio of the whole would.
	Instead bool
}

// set is the series that may be parts of one sum: of one source, stating the same
// attributes.
type set struct {
	source, by, period string // period is "" for all
	user               bool
}

// sums are those of a group: of the series of 1-KM of one source that state the same
// attributes, lie within it and share no joint. Where some share joints, those of
// one period are added up.
func (e *evidence) sums(g *Group, cells []*cell) []*Sum {
	if e == nil || len(g.within()) > 0 {
		return nil
	}
	whole := keyOf(cells)
	parts := make(map[set][]*Beside)
	var order []set
	of := make(map[string]bool) // sources with a series of the whole
	put := func(k set, b *Beside) {
		if parts[k] == nil {
			order = append(order, k)
		}
		parts[k] = append(parts[k], b)
	}
	var last *benchmark.Series
	for _, b := range e.beside {
		if b.Joint != g.Values[0].Word || b.Procedure != g.Values[1].Word || b.Ratio == nil || len(b.Within) > 0 || b.Series == last {
			continue
		}
		last = b.Series // the figures of one series are neighbours
		if b.cells == whole {
			of[b.Series.Source] = true
		}
		k := set{b.Series.Source, strings.Join(b.Series.States(), ", "), "", b.Series.User}
		put(k, b)
		k.period = fmt.Sprintf("%d–%d", b.Series.PeriodFrom, b.Series.PeriodTo)
		put(k, b)
	}
	var all []*Sum
	summed := make(map[set]bool)
	for _, k := range order {
		every := k
		every.period = ""
		if k.by == "" || summed[every] {
			continue
		}
		if s := e.sum(parts[k], cells); s != nil {
			summed[every] = k == every
			all = append(all, s)
		}
	}
	best := make(map[string]*Sum)
	for _, s := range all {
		known := best[s.Source]
		if of[s.Source] || 10*s.Joints < 9*s.Of || known != nil && cmp.Or(cmp.Compare(s.Joints, known.Joints), cmp.Compare(len(s.By), len(known.By))) <= 0 {
			continue
		}
		best[s.Source] = s
	}
	for _, s := range all {
		s.Instead = best[s.Source] == s
	}
	return all
}

// sum adds up the parts that lie within a group; nil unless there are two or more, and no
// two share a joint.
func (e *evidence) sum(parts []*Beside, cells []*cell) *Sum {
	inside, taken := make(map[*cell]bool), make(map[*cell]bool)
	for _, c := range cells {
		inside[c] = true
	}
	first := len(e.years)
	var ratios []*benchmark.Ratio
	for _, b := range parts {
		if slices.ContainsFunc(b.met, func(c *cell) bool { return !inside[c] }) {
			continue
		}
		if slices.ContainsFunc(b.met, func(c *cell) bool { return taken[c] }) {
			return nil
		}
		for _, c := range b.met {
			taken[c] = true
		}
		at, _ := slices.BinarySearch(e.years, b.Series.Figures[0].Years)
		first = min(first, at)
		ratios = append(ratios, b.Ratio)
	}
	if len(ratios) < 2 {
		return nil
	}
	s := &Sum{Ratio: benchmark.Sum(ratios), Source: parts[0].Series.Source, By: parts[0].Series.States()}
	s.Parts = ratios
	slices.SortStableFunc(s.Parts, func(a, b *benchmark.Ratio) int { return cmp.Compare(math.Abs(b.Excess()), math.Abs(a.Excess())) })
	for a := range atoms(cells) {
		if a.reach > first {
			s.Of += a.joints
		}
	}
	for _, c := range cells {
		if !taken[c] {
			s.Outside += c.subjects
			s.Missed += c.revised
		}
	}
	return s
}

// record is a sum as a row of the comparisons, in which what is published is empty.
func (s *Sum) record(g *Group, like record) record {
	var own record
	own.number("joints", float64(g.Joints))
	own.number("revised", float64(g.Revised))
	own.text("source", s.Source)
	own.text("origin", (&Beside{Series: s.Series}).origin())
	own.text("match", string(Like))
	own.text("reason", "added up by "+strings.Join(s.By, ", "))
	own.text("estimand", s.Series.Estimand.String())
	own.number("level", s.Level)
	return like.with(slices.Concat(own, g.record(), (&Beside{Ratio: &s.Ratio}).expectation()))
}
