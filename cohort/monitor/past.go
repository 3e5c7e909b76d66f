package monitor

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival"
)

// stratum is the past of some joints alike.
type stratum struct {
	exit    []float64
	cause   []int
	revised int
}

// past are the hazards of all joints up to the past's last day.
func (w *watching) past() ([]Hazard, []int, error) {
	w.From = int32(*w.Past) + 1
	strata := make(map[string]*stratum)
	keys := make([]string, len(w.joints))
	for i := range w.joints {
		j := &w.joints[i]
		keys[i] = w.key(j)
		s := strata[keys[i]]
		if s == nil {
			s = new(stratum)
			strata[keys[i]] = s
		}
		s.add(j, *w.Past)
	}
	w.pool(strata, keys)
	var hazards []Hazard
	number := make(map[string]int)
	of := make([]int, len(w.joints))
	for i, key := range keys {
		n, ok := number[key]
		if !ok {
			n = -1
			if s := strata[key]; s.revised >= FewestPast {
				h, estimate, err := s.hazard()
				if err != nil {
					return nil, nil, err
				}
				n = len(hazards)
				hazards, w.estimates = append(hazards, h), append(w.estimates, estimate)
				w.Revised += s.revised
				w.Expected = append(w.Expected, fmt.Sprintf("%s: %d joints, %d revised by %s; known to %.1f years after operation.", strings.ReplaceAll(key, "\x00", ", "), len(s.exit), s.revised, w.Past, float64(h.Last)/cohort.DayOfYear(1)))
			}
			number[key] = n
		}
		if of[i] = n; n < 0 {
			w.leaveOut(fmt.Sprintf("fewer than %d revisions up to %s of %s", FewestPast, w.Past, strings.ReplaceAll(key, "\x00", ", ")))
		}
	}
	if hazards == nil {
		return nil, nil, &NothingExpectedError{fmt.Sprintf("no joint and procedure has %d revisions up to %s, to learn from: name a later day, or expect what was published", FewestPast, w.Past)}
	}
	return hazards, of, nil
}

// key names a joint's stratum.
func (w *watching) key(j *cohort.Joint) string {
	words := j.Values[:2:2]
	for _, f := range w.Within {
		words = append(words, j.Values[slices.Index(w.fields, f)])
	}
	return strings.Join(words, "\x00")
}

// pool puts strata that are too few into one of their joint and procedure.
func (w *watching) pool(strata map[string]*stratum, keys []string) {
	if len(w.Within) == 0 {
		return
	}
	for i, key := range keys {
		if strata[key].revised >= FewestPast {
			continue
		}
		rest := strings.Join(append(w.joints[i].Values[:2:2], "others"), "\x00")
		s := strata[rest]
		if s == nil {
			s = new(stratum)
			strata[rest] = s
		}
		s.add(&w.joints[i], *w.Past)
		keys[i] = rest
	}
}

// add follows a joint up to a day.
func (s *stratum) add(j *cohort.Joint, past cohort.Day) {
	days, cause := j.Days, j.Cause
	if j.Operation > past {
		return
	}
	if until := int(past - j.Operation); days > until {
		days, cause = until, 0
	}
	if cause == cohort.CauseRevision {
		s.revised++
	} else {
		cause = 0
	}
	s.exit, s.cause = append(s.exit, float64(days)), append(s.cause, cause)
}

// hazard is Nelson's and Aalen's estimate, up to the last day on which enough are at
// risk: the few that were followed longest would make much of what is expected of many.
func (s *stratum) hazard() (Hazard, *survival.Hazard, error) {
	t, err := survival.NewTable(survival.Sample{Exit: s.exit, Cause: s.cause}, cohort.CauseRevision)
	if err != nil {
		return Hazard{}, nil, err
	}
	h, err := survival.NelsonAalen(t, cohort.CauseRevision)
	if err != nil {
		return Hazard{}, nil, err
	}
	last, enough := 1.0, math.Max(pastAtRisk, pastShare*float64(len(s.exit)))
	for i, n := range t.AtRisk {
		if n >= enough {
			last = max(last, t.Time[i])
		}
	}
	at := func(days int) float64 {
		n, exact := slices.BinarySearch(h.Time, float64(days))
		if exact {
			n++
		}
		if n == 0 {
			return 0
		}
		return h.Cumulative[n-1]
	}
	return Hazard{At: at, Last: int32(last)}, h, nil
}

// ErrorOf is the relative standard error of what is expected of joints from one day through
// another, hazards being estimates (survival.NelsonAalen) in days: for [Options]. With Y
// joints at risk at an age at which d of n were revised, Σ Y·d/n are expected, and the
// variance of that is Σ Y²·d/n² (Aalen, Ann Stat 1978;6:701). It is 1/√D of D revisions in
// all where joints are watched at the ages at which they were learnt from, and more where
// they are older; at most 1 here, and 1 where nothing is expected.
func ErrorOf(joints []Joint, hazards []Hazard, estimates []*survival.Hazard, from, through int32) float64 {
	watched := make([][]span, len(hazards))
	for _, s := range spans(joints, hazards, from, through) {
		watched[s.hazard] = append(watched[s.hazard], s)
	}
	expected, variance := 0.0, 0.0
	for h, all := range watched {
		e, v := expectedOf(all, estimates[h])
		expected, variance = expected+e, variance+v
	}
	if expected == 0 {
		return 1
	}
	return math.Min(1, math.Sqrt(variance)/expected)
}

// expectedOf is what is expected of some joints by one estimate, and its variance.
func expectedOf(all []span, estimate *survival.Hazard) (expected, variance float64) {
	var change []float64 // of the number at risk, by age in days
	for _, s := range all {
		for int(s.last-s.operation)+2 > len(change) {
			change = append(change, make([]float64, len(change)+1024)...)
		}
		change[s.first-s.operation]++
		change[s.last-s.operation+1]--
	}
	atRisk, before, squareBefore, next := 0.0, 0.0, 0.0, 0
	for i, time := range estimate.Time {
		for ; next <= int(time) && next < len(change); next++ {
			atRisk += change[next]
		}
		square := float64(estimate.SE[i] * estimate.SE[i])
		expected += float64(atRisk * (estimate.Cumulative[i] - before))
		variance += float64(float64(atRisk*atRisk) * (square - squareBefore))
		before, squareBefore = estimate.Cumulative[i], square
	}
	return expected, variance
}
