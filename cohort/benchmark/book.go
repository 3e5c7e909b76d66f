package benchmark

import (
	"cmp"
	"slices"
	"strings"
)

// Group is the group of one's own joints that published figures are looked up
// for. An attribute that is "" has all its values pooled; the zero Age is all
// ages.
type Group struct {
	Joint, Procedure, Bearing, Fixation, Sex string
	Age                                      AgeInterval
}

// rank is how specific a series is, the most specific first.
type rank struct {
	bearing, age, fixation, sex, procedure, joint int
}

func (r rank) compare(o rank) int {
	return cmp.Or(
		cmp.Compare(r.bearing, o.bearing), cmp.Compare(r.age, o.age),
		cmp.Compare(r.fixation, o.fixation), cmp.Compare(r.sex, o.sex),
		cmp.Compare(r.procedure, o.procedure), cmp.Compare(r.joint, o.joint))
}

// compareSeries orders two series by which comes first.
// limits and joints are those of the figures, or of the series as wholes.
func compareSeries(a, b *Series, limitsA, limitsB bool, jointsA, jointsB int) int {
	return cmp.Or(
		a.rank.compare(b.rank),
		trueFirst(a.User, b.User),
		trueFirst(limitsA, limitsB),
		cmp.Compare(b.PeriodTo, a.PeriodTo), cmp.Compare(b.PeriodFrom, a.PeriodFrom),
		cmp.Compare(jointsB, jointsA),
		cmp.Compare(a.order, b.order))
}

func trueFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

// entry is a series with its attributes made ready to match.
type entry struct {
	*Series
	joint, procedure, bearing, fixation, sex pattern
}

// Book is a set of series arranged for looking up. It may be used by several
// goroutines at once.
type Book struct {
	byJoint map[string][]*entry // most specific first
	open    []*entry            // joint not a plain word
}

// NewBook arranges the user's series and the built-in ones. It keeps copies;
// the user's come first where both are equally specific. Pooled estimates are
// left out, as nothing meets them.
func NewBook(user, builtin []*Series) *Book {
	var all []*entry
	for i, s := range slices.Concat(user, builtin) {
		if s.Estimand == Pooled {
			continue
		}
		own := *s
		own.User = i < len(user)
		own.order = i
		e := &entry{Series: &own}
		ranked := func(column, word string, p *pattern) int {
			// A series made by hand may hold a pattern Read would refuse; it
			// then states a word nobody uses.
			var err error
			if *p, err = parsePattern(word); err != nil {
				*p = pattern{alternatives: []string{fold(word)}}
			}
			return p.breadth(column)
		}
		own.rank = rank{
			bearing:   ranked("bearing", s.Bearing, &e.bearing),
			age:       width(s.Age),
			fixation:  ranked("fixation", s.Fixation, &e.fixation),
			sex:       ranked("sex", s.Sex, &e.sex),
			procedure: ranked("procedure", s.Procedure, &e.procedure),
			joint:     ranked("joint", s.Joint, &e.joint),
		}
		all = append(all, e)
	}
	slices.SortFunc(all, func(a, b *entry) int {
		return compareSeries(a.Series, b.Series, a.hasLimits(), b.hasLimits(), a.joints(), b.joints())
	})
	b := &Book{byJoint: map[string][]*entry{}}
	for _, e := range all {
		if e.joint.plain() {
			word := e.joint.alternatives[0]
			b.byJoint[word] = append(b.byJoint[word], e)
		} else {
			b.open = append(b.open, e)
		}
	}
	return b
}

// Match lists the series that cover a group: every attribute a series states
// contains the group's value. A series narrower than the group never matches.
// The most specific come first: by bearing, then age, fixation, sex, procedure
// and joint, a word before a pattern, a pattern of fewer canonical words before
// a wider one, a narrower age interval before a wider. Ties go to the user's
// series, then to those with limits, of a later period, of more joints, and to
// the order in which they were read.
func (b *Book) Match(g Group) Matches {
	joint, procedure, bearing, fixation, sex := fold(g.Joint), fold(g.Procedure), fold(g.Bearing), fold(g.Fixation), fold(g.Sex)
	var m Matches
	for _, list := range [][]*entry{b.byJoint[joint], b.open} {
		for _, e := range list {
			if e.joint.contains(joint) && e.bearing.contains(bearing) && e.Age.Contains(g.Age) &&
				e.fixation.contains(fixation) && e.sex.contains(sex) && e.procedure.contains(procedure) {
				m = append(m, e.Series)
			}
		}
	}
	if len(b.open) > 0 {
		slices.SortFunc(m, func(a, b *Series) int {
			return compareSeries(a, b, a.hasLimits(), b.hasLimits(), a.joints(), b.joints())
		})
	}
	return m
}

// Matches are the series that cover a group, most specific first, as
// [Book.Match] lists them.
type Matches []*Series

// Choice is a figure with the series it stands in.
type Choice struct {
	Series *Series
	Figure Figure
}

// Years are the years at which there is a figure to compare with, increasing:
// each of them is a row of the group.
func (m Matches) Years() []float64 {
	var years []float64
	for _, s := range m {
		for _, f := range s.Figures {
			years = append(years, f.Years)
		}
	}
	slices.Sort(years)
	return slices.Compact(years)
}

// At chooses the one published estimate that is compared at a number of years:
// 1-KM before cumulative incidence, then in the order of the matches, where
// limits and joints are now those of the figures at that time. It is false
// where there is none.
func (m Matches) At(years float64) (Choice, bool) {
	if c, ok := m.best(years, OneMinusKaplanMeier); ok {
		return c, true
	}
	return m.best(years, Incidence)
}

// ThresholdAt chooses the threshold at a number of years, in the order of the
// matches.
func (m Matches) ThresholdAt(years float64) (Choice, bool) {
	return m.best(years, Threshold)
}

func (m Matches) best(years float64, e Estimand) (Choice, bool) {
	var best Choice
	for _, s := range m {
		if s.Estimand != e {
			continue
		}
		f, ok := s.At(years)
		if !ok {
			continue
		}
		if best.Series == nil || compareSeries(s, best.Series, f.HasLimits(), best.Figure.HasLimits(), f.Joints, best.Figure.Joints) < 0 {
			best = Choice{s, f}
		}
	}
	return best, best.Series != nil
}

// Early is the first series from which revisions can be expected: of 1-KM, with
// a figure at three years or earlier. See [ObservedExpected].
func (m Matches) Early() (*Series, bool) {
	for _, s := range m {
		if s.early() {
			return s, true
		}
	}
	return nil, false
}

// openWord is the breadth of an attribute that states nothing.
const openWord = 1 << 20

func (p pattern) plain() bool {
	return len(p.alternatives) == 1 && !p.not && !strings.Contains(p.alternatives[0], "*")
}

// breadth orders patterns by how specific they are: 0 for a plain word, then
// the number of canonical words a pattern stands for, then [openWord].
func (p pattern) breadth(column string) int {
	switch {
	case !p.stated():
		return openWord
	case p.plain():
		return 0
	}
	n := 1
	for _, word := range known(column) {
		if p.contains(word) {
			n++
		}
	}
	return n
}

// width in years; an interval without an upper end is wider than any with one.
func width(a AgeInterval) int {
	if a.Below == 0 {
		return 2*maxAge - a.From
	}
	return a.Below - a.From
}
