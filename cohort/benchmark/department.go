package benchmark

import (
	"fmt"

	"example.org/holdfast/survival"
)

// Share is one unit's revisions beside those expected from its department, the
// unit's own joints in it.
type Share struct {
	Observed, Expected  float64 // O and E of the unit
	Department          float64 // D, revisions of all units that its expected ones come from
	Ratio, Lower, Upper float64 // O/E
	Others, Least, Most float64 // the ratio to the other units, (O/E)/((D − O)/(D − E))
	Level               float64
}

// ShareOf compares a unit with its department. Given the department's D revisions
// a unit's count is binomial with probability w = E/D, so that the limits of O/E
// are Clopper and Pearson's of O in D over w. With q for a limit of O/D the ratio
// to the other units is q/(1 − q)·(1 − w)/w.
//
// A unit's own joints draw what is expected of it towards its own: a true ratio of
// 2 to the others is printed as 1.92, 1.82, 1.60, 1.25 where w is .04, .10, .25,
// .60. Leaving them out puts four times as many units outside by chance.
//
// It is false unless 0 < E < D. It panics unless 0 ≤ O ≤ D and 0 < level < 1.
// 16 of 40 with w = .25: 1.6 (.994600 to 2.26693), to the others 2 (.992813 to
// 3.92414).
func ShareOf(observed, expected, department, level float64) (Share, bool) {
	if !(observed >= 0 && observed <= department) {
		panic(fmt.Sprintf("benchmark: %v of %v revisions", observed, department))
	}
	s := Share{Observed: observed, Expected: expected, Department: department, Level: level}
	if !(expected > 0 && expected < department) {
		s.Ratio, s.Lower, s.Upper, s.Others, s.Least, s.Most = nan, nan, nan, nan, nan, nan
		return s, false
	}
	w := expected / department
	lower, upper := survival.BinomialLimits(observed, department, level)
	odds := func(q float64) float64 { return float64(q/(1-q)*(1-w)) / w }
	s.Ratio, s.Lower, s.Upper = observed/expected, lower/w, upper/w
	s.Others, s.Least, s.Most = odds(observed/department), odds(lower), odds(upper)
	return s, true
}
