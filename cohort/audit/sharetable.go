package audit

import (
	"cmp"
	"math"
	"slices"
)

const (
	smallest = 8 // the least count that is shown, beside 0
	roundTo  = 5 // counts that are shown are rounded to a multiple of it

	// enough is how many of the values 1 to 7 must remain possible for a count
	// that is hidden because it is small: as many as a rounded count stands for.
	enough = 5
)

// small says that a count is hidden for its own sake.
func small(n int64) bool { return n > 0 && n < smallest }

// rounded is a count to the nearest 5, halves up.
func rounded(n int64) int64 { return (n + roundTo/2) / roundTo * roundTo }

// sheet holds counts of one kind for one joint and procedure: those of its
// groups, at one time or over times in the order in which they do not fall. At
// every time the groups of a field add up to the total, which is group 0.
type sheet struct {
	value   [][]int64 // [group][time]
	fields  [][]int   // the groups of each field
	settled []int     // by group: from this time on its count is known not to change
	most    []int64   // by group: what its count is known not to exceed

	hidden [][]bool
	small  [][]bool // hidden for its own sake
}

// newSheet is a sheet of counts of which nothing is hidden.
func newSheet(value [][]int64, fields [][]int) *sheet {
	s := &sheet{value: value, fields: fields}
	for _, v := range value {
		s.settled = append(s.settled, len(v)-1)
		s.most = append(s.most, math.MaxInt64)
		s.hidden = append(s.hidden, make([]bool, len(v)))
		s.small = append(s.small, make([]bool, len(v)))
	}
	return s
}

// hide hides every count of 1 to 7, and then, if further, others until a reader
// who knows all that is shown exactly, unrounded, cannot work them out.
func (s *sheet) hide(further bool) {
	for g, v := range s.value {
		for t, n := range v {
			if small(n) {
				s.hidden[g][t], s.small[g][t] = true, true
			}
		}
	}
	for further {
		f, g, t, ok := s.fault()
		if !ok {
			return
		}
		s.hideMore(f, g, t)
	}
}

// fault is the first hidden count that can be worked out too closely: a group
// of a field at a time. Group −1 says that rounding gives a count of the field
// away that is shown.
func (s *sheet) fault() (field, group, time int, ok bool) {
	for t := range s.value[0] {
		if !s.totalShown(t) {
			continue
		}
		for f, groups := range s.fields {
			for _, g := range groups {
				if s.hidden[g][t] && !s.protected(f, g, t) {
					return f, g, t, true
				}
			}
		}
		if f, found := s.pinned(t); found {
			return f, -1, t, true
		}
	}
	return 0, 0, 0, false
}

// totalShown says that there is a total to subtract from.
func (s *sheet) totalShown(t int) bool { return !s.hidden[0][t] && s.value[0][t] > 0 }

// protected says that a hidden count cannot be worked out from the total and
// the other counts of its field.
func (s *sheet) protected(field, g, t int) bool {
	var together int64 // is known: the total less what is shown
	for _, h := range s.fields[field] {
		if s.hidden[h][t] {
			together += s.value[h][t]
		}
	}
	if together < smallest {
		return false
	}
	least, most := s.reach(field, g, t)
	if s.small[g][t] {
		return min(most, smallest-1)-max(least, 1)+1 >= enough
	}
	return most > least
}

// reach is how low and how high a hidden count could be without anything that
// is shown being another number. Each of the values between is possible: the
// other counts that make it so are constructed.
func (s *sheet) reach(field, g, t int) (least, most int64) {
	down, up := slices.Clone(s.value[g]), slices.Clone(s.value[g])
	for _, h := range s.fields[field] {
		if h == g || !s.hidden[h][t] {
			continue
		}
		s.give(down, slices.Clone(s.value[h]), g, h, t)
		s.give(slices.Clone(s.value[h]), up, h, g, t)
	}
	return down[t], up[t]
}

// give moves as many as possible from one group's counts to another's, over the
// longest stretch of times around t at which both are hidden.
//
// With x moved, from − x and to + x must not fall from time to time. Let L be
// from just before the stretch and U to just after it. Then
//
//	x = min(from − L, U − to)
//
// will do, since from − x = max(L, from + to − U) and to + x = min(from + to − L, U)
// do not fall, and meet what is shown at either end. A group that is known not
// to change any more gives and takes the same at all later times.
func (s *sheet) give(from, to []int64, fromGroup, toGroup, t int) {
	last := len(from) - 1
	both := func(i int) bool { return s.hidden[fromGroup][i] && s.hidden[toGroup][i] }
	if !both(t) {
		return
	}
	start, end := t, t
	for start > 0 && both(start-1) {
		start--
	}
	for end < last && both(end+1) {
		end++
	}
	settled := min(s.settled[fromGroup], s.settled[toGroup])
	if end < last && end >= settled {
		end = settled - 1
	}
	if end < t {
		return
	}
	var before int64
	if start > 0 {
		before = from[start-1]
	}
	for i := start; i <= end; i++ {
		var room int64
		if end < last {
			room = to[end+1] - to[i]
		} else {
			room = max(0, s.most[toGroup]-to[last])
		}
		x := min(from[min(i, settled)]-before, room)
		if i < settled || end < last {
			from[i], to[i] = from[i]-x, to[i]+x
			continue
		}
		// What moved at settled moves at every later time.
		for j := i; j <= end; j++ {
			from[j], to[j] = from[j]-x, to[j]+x
		}
		return
	}
}

// pinned finds a time at which rounding hides nothing of a count that is shown.
// A rounded count is known to ±2. Where all n counts of a field are shown, their
// errors together are that of the total plus r, by which the rounded total
// exceeds the sum of the rounded counts; with n = 4 and r = 10, each is 2.
func (s *sheet) pinned(t int) (field int, found bool) {
	const e = roundTo / 2
	type line struct{ n, r int64 }
	lines := make([]line, len(s.fields))
	low, high := int64(-e), int64(e) // error of the total
	for f, groups := range s.fields {
		l := line{r: rounded(s.value[0][t])}
		for _, g := range groups {
			if s.hidden[g][t] {
				l.n = 0
				break
			}
			if v := s.value[g][t]; v > 0 {
				l.n++
				l.r -= rounded(v)
			}
		}
		if lines[f] = l; l.n > 0 {
			low, high = max(low, -e*l.n-l.r), min(high, e*l.n-l.r)
		}
	}
	for f, l := range lines {
		if l.n < 2 {
			continue
		}
		least, most := max(-e, l.r+low-e*(l.n-1)), min(e, l.r+high+e*(l.n-1))
		if least >= most || low >= high {
			return f, true
		}
	}
	return 0, false
}

// hideMore hides another count to protect one that is hidden: in its field, the
// smallest that suffices, over all times at which the one is hidden; if none
// does alone, the smallest, to be followed by others. Where all are hidden
// already, the one is hidden at another time too: before, where it is 0, or else
// after; and in the end everything.
func (s *sheet) hideMore(field, g, t int) {
	start, end, last := t, t, len(s.value[0])-1
	if g >= 0 {
		for start > 0 && s.hidden[g][start-1] {
			start--
		}
		for end < last && s.hidden[g][end+1] {
			end++
		}
	}
	var others []int
	for _, h := range s.fields[field] {
		// A 0 before a 0 that is shown would be known to be one.
		if h != g && s.shownIn(h, start, end) && (s.value[h][t] > 0 || end == last || s.value[h][end+1] > 0) {
			others = append(others, h)
		}
	}
	slices.SortStableFunc(others, func(a, b int) int {
		x, y := s.value[a][t], s.value[b][t]
		if (x == 0) != (y == 0) {
			return cmp.Compare(y, x) // 0 last
		}
		return cmp.Compare(x, y)
	})
	if g < 0 {
		s.hideOver(others[0], t, t)
		return
	}
	for _, h := range others {
		kept := slices.Clone(s.hidden[h])
		s.hideOver(h, start, end)
		if s.protected(field, g, t) {
			return
		}
		s.hidden[h] = kept
	}
	switch {
	case len(others) > 0:
		s.hideOver(others[0], start, end)
	case start > 0 && s.value[0][start-1] > 0:
		s.hideOver(g, start-1, start-1)
	case end < last:
		s.hideOver(g, end+1, end+1)
	default:
		for h := range s.value {
			s.hideOver(h, 0, last)
		}
	}
}

// shownIn says that a count is shown at a time of a stretch, where the total is
// not 0.
func (s *sheet) shownIn(g, start, end int) bool {
	for i := start; i <= end; i++ {
		if !s.hidden[g][i] && s.value[0][i] > 0 {
			return true
		}
	}
	return false
}

// hideOver hides a group's counts over a stretch of times. Counts that are known
// to be alike are hidden together; where the total is 0 there is nothing to hide.
func (s *sheet) hideOver(g, start, end int) {
	if end >= s.settled[g] {
		start, end = min(start, s.settled[g]), len(s.value[g])-1
	}
	for i := start; i <= end; i++ {
		if s.value[0][i] > 0 {
			s.hidden[g][i] = true
		}
	}
}

// shown is a count as it is shared.
func (s *sheet) shown(g, t int) int64 {
	if s.hidden[g][t] {
		return Suppressed
	}
	return rounded(s.value[g][t])
}
