package audit

import (
	"math"
	"slices"

	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// Shown says how a row's estimates are shown: decided here, for text, pages,
// figures and files alike.
type Shown uint8

const (
	Plain      Shown = iota
	Faint            // fewer at risk than the floor: with a mark, or limits without a point
	Counts           // fewer than ten: revised/joints
	NotReached       // nobody was followed that long
)

// String names it.
func (s Shown) String() string {
	return [...]string{"estimate", "faint estimate", "revised/joints", "beyond follow-up"}[s]
}

// Estimated says whether there is an estimate to be shown, plain or faint.
func (s Shown) Estimated() bool { return s <= Faint }

// Show decides how a row's estimates are shown, given the floor.
func (row *Row) Show(floor float64) {
	switch k := row.KaplanMeier; {
	case !row.Reached:
		row.Shown = NotReached
	case k.AtRisk < benchmark.FewestAtRisk:
		row.Shown = Counts
	case k.AtRisk < floor:
		row.Shown = Faint
	default:
		row.Shown = Plain
	}
}

// Floor is the number at risk below which an estimate is faint.
func (a *Audit) Floor() float64 {
	switch m := a.Interval.MinAtRisk; {
	case m == 0:
		return survival.DefaultMinAtRisk
	case m < 0:
		return 0
	default:
		return m
	}
}

// Confidence is the level of the audit's intervals.
func (a *Audit) Confidence() float64 {
	if a.Interval.Level == 0 {
		return 0.95
	}
	return a.Interval.Level
}

// At is a group's row at a year; nil if the audit was not read there.
func (g *Group) At(years float64) *Row { return At(g.Rows(), years) }

// At is the row at a year; nil if there is none.
func At(rows []Row, years float64) *Row {
	for i := range rows {
		if rows[i].Years == years {
			return &rows[i]
		}
	}
	return nil
}

// Headline is the row that speaks for a group: at the latest of the audit's years
// that is shown plain, else faint; nil if there is none.
func (a *Audit) Headline(g *Group) *Row {
	for _, want := range []Shown{Plain, Faint} {
		for _, y := range slices.Backward(a.Years) {
			if r := g.At(y); r != nil && r.Shown == want {
				return r
			}
		}
	}
	return nil
}

// Fields are the groups of one field of the joint and procedure of a group, the
// other fields pooled, in the audit's order.
func (a *Audit) Fields(of *Group, field string) []*Group {
	var groups []*Group
	for i := range a.Groups {
		g := &a.Groups[i]
		if g.Pooling == OneField && g.Field() == field && g.Word("joint") == of.Word("joint") && g.Word("procedure") == of.Word("procedure") {
			groups = append(groups, g)
		}
	}
	return groups
}

// CommonYear is the latest of the audit's years at which groups shown plain hold
// at least half of the joints in every field; a field that never gets there does
// not bind. Ok is false if none does: the year is then the first. Without fields,
// all joints are the group.
func (a *Audit) CommonYear(all *Group, fields []string) (years float64, ok bool) {
	enough := [][]bool{a.halfPlain([]*Group{all})} // of each set of groups, by year
	for _, f := range fields {
		enough = append(enough, a.halfPlain(a.Fields(all, f)))
	}
	enough = slices.DeleteFunc(enough, func(at []bool) bool { return !slices.Contains(at, true) })
	for i, y := range slices.Backward(a.Years) {
		if len(enough) > 0 && !slices.ContainsFunc(enough, func(at []bool) bool { return !at[i] }) {
			return y, true
		}
	}
	return a.Years[0], false
}

// halfPlain says at which of the audit's years groups shown plain hold at least half of the
// joints.
func (a *Audit) halfPlain(groups []*Group) []bool {
	total, held, enough := int64(0), make([]int64, len(a.Years)), make([]bool, len(a.Years))
	for _, g := range groups {
		total += g.Joints
		for _, r := range g.Rows() {
			if i, ok := slices.BinarySearch(a.Years, r.Years); ok && r.Shown == Plain {
				held[i] += g.Joints
			}
		}
	}
	for i, n := range held {
		enough[i] = n > 0 && 2*n >= total
	}
	return enough
}

// Latest is a group's last row asked for with ten or more at risk; nil if there is none.
func (g *Group) Latest() *Row {
	return latestOf(g, benchmark.FewestAtRisk)
}

// FewestInCell is the number of joints below which a cell is not shown by itself: with
// fewer than the floor every estimate would be marked.
func (a *Audit) FewestInCell() int64 { return max(benchmark.FewestAtRisk, int64(a.Floor())) }

// Reach is what as many joints as are still followed at a figure's years, all followed
// to them, could show beside it, and how many would have to be for none revised to read
// below; 0 if no number does.
func (b *Beside) Reach() (r benchmark.Reach, needed int64) {
	r = benchmark.ReachOf(int(b.Comparison.Own.AtRisk), b.Figure)
	if n := benchmark.Needed(b.Figure); !math.IsInf(n, 0) {
		needed = int64(math.Ceil(n))
	}
	return r, needed
}

// Vague says that a number of revisions stands for 1 to 7, as 5 does in a shared audit, where
// the limits of its estimate alone are shown.
func (a *Audit) Vague(revised float64) bool { return a.Shared != nil && revised == 5 }
