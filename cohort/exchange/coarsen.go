package exchange

import (
	"fmt"
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival/tally"
)

// Coarse is how finely a tally tells the day on which follow-up ended.
type Coarse string

// By the day, or by months or quarters of a year of 365.25 days since the operation.
const (
	ByDay      Coarse = ""
	ByMonths   Coarse = "months"
	ByQuarters Coarse = "quarters"
)

// title is c in words.
func (c Coarse) title() string {
	if c == ByDay {
		return "none"
	}
	return string(c)
}

// perYear is how many parts a year has; 0 for days.
func (c Coarse) perYear() int {
	switch c {
	case ByMonths:
		return 12
	case ByQuarters:
		return 4
	}
	return 0
}

// known says whether c is one of the constants.
func (c Coarse) known() bool { return c == ByDay || c.perYear() > 0 }

// bound is the day on which so many parts of a year are reached: 365.25 times them,
// without the fraction, as of whole years.
func (c Coarse) bound(parts int) int32 { return int32(1461 * parts / (4 * c.perYear())) }

// day is the day told for one. The day on which a part is reached stays, so that at it who
// is at risk and who has been revised are known exactly; all days between two such days
// become the one in their middle.
func (c Coarse) day(d int32) int32 {
	if c == ByDay {
		return d
	}
	from, to := c.bound(c.part(d)), c.next(d)
	if d == from {
		return d
	}
	return (from + to) / 2
}

// most is by how many days at most a day is moved.
func (c Coarse) most() int32 {
	most := int32(0)
	for d := range c.bound(4 * c.perYear()) { // lengths come again every four years
		most = max(most, d-c.day(d), c.day(d)-d)
	}
	return most
}

// coarsened are cells with their days told less finely.
func coarsened(cells *tally.Set, c Coarse) (*tally.Set, error) {
	if c == ByDay {
		return cells, nil
	}
	set := tally.NewSet(cells.Dimensions, cells.Causes)
	for key, counts := range cells.All() {
		to := set.Group(key)
		for x := range counts.Exits() {
			x.Day = c.day(x.Day)
			if err := to.AddExit(x); err != nil {
				return nil, err
			}
		}
	}
	return set, nil
}

// CoarseError is by how much estimates can be off because days were coarsened, as
// proportions: at the days on which parts of a year are reached, while ten or more are at
// risk.
//
// Who is at risk and who was revised is known exactly at each such day; between two of them
// the order of d revisions, of e deaths and other revisions, and of c censorings is not, n
// being at risk before. Counted on one day, revisions come before the rest, which gives the
// greatest S that any order can, ∏(1 − d/n); the least is that of revisions after all the
// rest, ∏(1 − d/(n−e−c)). So cumulative revision is never too high, and too low by no more
// than the difference, which the orders reach.
//
// The cumulative incidence gives each revision the weight S(t−)/n(t) of all events, which
// changes at censorings alone, by m/(m−1) with m then at risk. Over the days between two
// it rises by n/(n−c) at least, the censorings first, and by (n−d−e)/(n−d−e−c) at most,
// the censorings last, as where they are counted; within them by 1 to (n−e)/(n−e−c). The
// sums of the revisions with the least weights and with the most are bounds, which need
// not be reached.
type CoarseError struct {
	Revision  float64 // by how much cumulative revision can be too low
	Incidence float64 // by how much cumulative incidence can be too low or too high
}

// fewestForError is how many are to be at risk where the error is taken.
const fewestForError = 10

// errorOf is the error of coarsened counts whose cause 1 is the endpoint.
func (c Coarse) errorOf(counts *tally.Counts) (worst CoarseError) {
	if c == ByDay {
		return worst
	}
	n := float64(counts.Subjects())
	high, low := 1.0, 1.0                 // S as it is, and at its least
	weight, least := 1/n, 1/n             // of a revision, as it is and at its least
	incidence, most, fewest := 0., 0., 0. // as it is, at most and at least
	step := func(exits [3]float64, between bool) {
		d, e, left := exits[1], exits[2], exits[0]
		before, after, first := n, (n-d-e)/(n-d-e-left), 1.0
		raise := after
		if between {
			before, raise = n-e-left, n/(n-left)
			first = (n - e) / (n - e - left)
		}
		if d > 0 {
			high *= 1 - d/n
			low *= 1 - d/before
			incidence += d * weight
			most += d * weight * first
			fewest += d * least
		}
		n -= d + e + left
		if n > 0 {
			weight *= after
			least *= raise
		}
	}
	exits := exitsByDay(counts)
	for i := 0; i < len(exits); i++ {
		x := exits[i]
		between := c.between(x.day)
		step(x.n, between)
		atRisk := n
		if !between {
			atRisk += x.n[0] + x.n[1] + x.n[2]
		} else if i+1 < len(exits) && exits[i+1].day == c.next(x.day) {
			continue // the estimate is read after the events of that day
		}
		if atRisk >= fewestForError {
			worst.Revision = max(worst.Revision, high-low)
			worst.Incidence = max(worst.Incidence, most-incidence, incidence-fewest)
		}
	}
	return worst
}

// between says whether a coarsened day stands for several, and next is the first day
// after them.
func (c Coarse) between(d int32) bool { return d != c.bound(c.part(d)) }
func (c Coarse) next(d int32) int32   { return c.bound(c.part(d) + 1) }

// part is how many parts of a year are reached on a day.
func (c Coarse) part(d int32) int {
	part := int(d) * 4 * c.perYear() / 1461
	for c.bound(part+1) <= d {
		part++
	}
	return part
}

// left is how many left observation on a day: censored, at the endpoint, otherwise.
type left struct {
	day int32
	n   [3]float64
}

func exitsByDay(counts *tally.Counts) []left {
	var all []left
	for x := range counts.Exits() {
		if len(all) == 0 || all[len(all)-1].day != x.Day {
			all = append(all, left{day: x.Day})
		}
		all[len(all)-1].n[min(x.Cause, 2)] += float64(x.Subjects)
	}
	return all
}

// worst is the greatest of several errors.
func worst(all ...CoarseError) (w CoarseError) {
	for _, e := range all {
		w.Revision, w.Incidence = max(w.Revision, e.Revision), max(w.Incidence, e.Incidence)
	}
	return w
}

// CoarseError is the greatest error of a joint and procedure, and of the groups of one
// field of those grouped by.
func (p *Pool) CoarseError() (whole, group CoarseError, err error) {
	e := cohort.Endpoint{Reasons: p.header.Reasons}
	greatest := func(names []string) (w CoarseError, err error) {
		set, err := p.count(names, e, false)
		if err != nil {
			return w, err
		}
		for _, counts := range set.All() {
			w = worst(w, p.header.Coarsened.errorOf(counts))
		}
		return w, nil
	}
	if whole, err = greatest(fixed[:2]); err != nil {
		return whole, group, err
	}
	for _, f := range p.header.By {
		if slices.Contains(fixed[:2], f) {
			continue
		}
		one, err := greatest(append(slices.Clone(fixed[:2]), f))
		if err != nil {
			return whole, group, err
		}
		group = worst(group, one)
	}
	return whole, worst(whole, group), nil
}

// coarseSaid says what coarsening could have done to estimates; "" of days as they are.
func (p *Pool) coarseSaid() (string, error) {
	c := p.header.Coarsened
	if c == ByDay {
		return "", nil
	}
	whole, group, err := p.CoarseError()
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("Days of follow-up were coarsened to %s. At whole %s, and while %d or more are followed, the largest error that could have caused is: cumulative revision %s points too low, and never too high, for all of a joint and procedure (%s for a group of one column); cumulative incidence %s points either way (%s). Who is at risk and how many are revised is exact there. Implant-years and expected revisions: up to %d days of each joint.",
		c, c, fewestForError, points(whole.Revision), points(group.Revision), points(whole.Incidence), points(group.Incidence), c.most()), nil
}

// points are percentage points, rounded up to hundredths.
func points(x float64) string { return fmt.Sprintf("%.2f", math.Ceil(1e4*x-1e-6)/100) }
