package benchmark

import (
	"fmt"
	"maps"
	"slices"

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
	Alone               float64 // revisions of the unit at times at which nobody else was at risk, in neither O nor D
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

// FromDepartment counts for each unit the revisions (events of the cause) and those
// expected of it had its joints been revised as all the department's were: by the
// pooled Nelson–Aalen hazard of each stratum, the unit's own joints in it, at each
// joint's exit,
//
//	E_u = Σ_s Σ_t d_s(t)·n_su(t)/n_s(t)
//
// so that the expected of all units add up to their observed. Times at which one
// unit is everybody at risk in a stratum tell nothing: their revisions are in
// neither number of the unit, nor in its department's ([Share.Alone]). tables[s][u] is the
// life table of unit u in stratum s; nil where it has no joints there. A share is
// without ratio where nothing can be compared ([ShareOf]).
func FromDepartment(tables [][]*survival.Table, cause int, level float64) []Share {
	units := 0
	for _, stratum := range tables {
		units = max(units, len(stratum))
	}
	shares := make([]Share, units)
	department := 0.0
	for _, stratum := range tables {
		times := make(map[float64]bool)
		for _, t := range stratum {
			if t == nil {
				continue
			}
			for i, d := range t.Event[cause-1] {
				if d > 0 {
					times[t.Time[i]] = true
				}
			}
		}
		for _, at := range slices.Sorted(maps.Keys(times)) {
			department += atOne(stratum, cause, at, shares)
		}
	}
	for u, s := range shares {
		shares[u], _ = ShareOf(s.Observed, s.Expected, department, level)
		shares[u].Alone = s.Alone
	}
	return shares
}

// atOne adds one time of a stratum, and gives the revisions that several units were
// at risk of.
func atOne(stratum []*survival.Table, cause int, at float64, shares []Share) float64 {
	risk, events, total, all := make([]float64, len(stratum)), make([]float64, len(stratum)), 0.0, 0.0
	for u, t := range stratum {
		if t == nil {
			continue
		}
		risk[u] = t.AtRiskAt(at)
		if i, found := slices.BinarySearch(t.Time, at); found {
			events[u] = t.Event[cause-1][i]
		}
		total, all = total+events[u], all+risk[u]
	}
	for u := range stratum {
		switch {
		case risk[u] == 0:
		case risk[u] == all:
			shares[u].Alone += events[u]
			return 0
		default:
			shares[u].Observed += events[u]
			shares[u].Expected += float64(total * risk[u] / all)
		}
	}
	return total
}
