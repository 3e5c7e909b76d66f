package disclose

// system is what a reader of all that is told of one joint and procedure knows:
// between what numbers each count lies, and how counts hang together.
type system struct {
	least, most []int64
	was         []int64 // the counts themselves

	sums   [][]int  // a total, then the parts of it
	order  [][2]int // the first is at most the second
	within [][]int  // a whole, then parts of it that have nothing in common
	secret []secret
}

// secret is a count, or what one count has beside another that is a part of it.
type secret struct {
	of, less int // less is −1 for the count alone
	unit     int // the group that it is of
}

// fewestValues is of how many values a reader must not know at least which a small
// count or difference is.
const fewestValues = 2

// tell adds a count, and is its number.
func (s *system) tell(was int64, c Count) int {
	s.least, s.most, s.was = append(s.least, c.least), append(s.most, c.most), append(s.was, was)
	return len(s.was) - 1
}

// hold adds a secret, if it is one.
func (s *system) hold(unit, of, less int) {
	n := s.was[of]
	if less >= 0 {
		n -= s.was[less]
	}
	if small(n) {
		s.secret = append(s.secret, secret{of, less, unit})
	}
}

// rise says that counts do not fall from one to the next, and holds them and what
// each has more than the one before.
func (s *system) rise(unit int, counts []int) {
	for i, v := range counts {
		s.hold(unit, v, -1)
		if i > 0 {
			s.order = append(s.order, [2]int{counts[i-1], v})
			s.hold(unit, v, counts[i-1])
		}
	}
}

// disjoint says that parts of a whole have nothing in common. What is counted on the
// very day of a year may be in two of them, and is then left out.
func (s *system) disjoint(whole int, parts ...int) {
	var n int64
	for _, p := range parts {
		n += s.was[p]
	}
	if n <= s.was[whole] {
		s.within = append(s.within, append([]int{whole}, parts...))
	}
}

// narrow is a secret of which a reader can tell too much; false if there is none.
func (s *system) narrow() (found secret, any bool) {
	for s.tighten() {
	}
	for _, x := range s.secret {
		least, most := s.least[x.of], s.most[x.of]
		if x.less >= 0 {
			least, most = max(0, s.least[x.of]-s.most[x.less]), s.most[x.of]-s.least[x.less]
		}
		if most-least+1 < fewestValues {
			return x, true
		}
	}
	return secret{}, false
}

// tighten narrows every count by what the others leave, and says whether any did.
func (s *system) tighten() (changed bool) {
	atLeast := func(i int, n int64) {
		if n > s.least[i] {
			s.least[i], changed = n, true
		}
	}
	atMost := func(i int, n int64) {
		if n < s.most[i] {
			s.most[i], changed = n, true
		}
	}
	for _, o := range s.order {
		atLeast(o[1], s.least[o[0]])
		atMost(o[0], s.most[o[1]])
	}
	sum := func(parts []int) (least, most int64) {
		for _, i := range parts {
			least, most = least+s.least[i], most+s.most[i]
		}
		return least, most
	}
	for _, all := range s.sums {
		total, parts := all[0], all[1:]
		least, most := sum(parts)
		atLeast(total, least)
		atMost(total, most)
		for _, i := range parts {
			low, high := s.least[i], s.most[i]
			atLeast(i, s.least[total]-(most-high))
			atMost(i, s.most[total]-(least-low))
			least, most = least-low+s.least[i], most-high+s.most[i]
		}
	}
	for _, all := range s.within {
		least, _ := sum(all[1:])
		atLeast(all[0], least)
		for _, i := range all[1:] {
			atMost(i, s.most[all[0]]-(least-s.least[i]))
		}
	}
	return changed
}
