package gather

import (
	"cmp"
	"math"
	"slices"

	"example.org/holdfast/cohort"
)

// Doubt is one problem that can be settled otherwise, and what the estimates would then be.
type Doubt struct {
	Problem, Supposed string
	Reasons           []cohort.Reason // see [cohort.Effect]
	Rows              int
	Would             []Would // joints and procedures, in the order of the effects
	Moves             float64 // how far the furthest estimate moves, a proportion; infinite where that can't be worked out
}

// Would is what the estimate of one joint and procedure would be, at the year of its headline:
// the latest with the floor still at risk, else the latest with 10.
type Would struct {
	Joint, Procedure string
	Rows             int
	cohort.EffectAt  // Low and High are NaN where that can't be worked out
}

// Moves is how far the estimate moves; infinite where it can't be worked out.
func (w *Would) Moves() float64 {
	if math.IsNaN(w.Low) {
		return math.Inf(1)
	}
	return max(math.Abs(w.Low-w.Now), math.Abs(w.High-w.Now))
}

// doubts are the problems of effects, those that could move an estimate furthest first.
func doubts(effects []cohort.Effect, floor float64) []Doubt {
	var all []Doubt
	for i := range effects {
		e := &effects[i]
		at := slices.IndexFunc(all, func(d Doubt) bool { return d.Problem == e.Problem && d.Supposed == e.Supposed })
		if at < 0 {
			at = len(all)
			all = append(all, Doubt{Problem: e.Problem, Supposed: e.Supposed, Reasons: e.Reasons})
		}
		d := &all[at]
		d.Rows += e.With
		if x, ok := headlineOf(e, floor); ok {
			w := Would{e.Joint, e.Procedure, e.With, x}
			d.Would, d.Moves = append(d.Would, w), max(d.Moves, w.Moves())
		}
	}
	slices.SortStableFunc(all, func(a, b Doubt) int { return cmp.Compare(b.Moves, a.Moves) })
	return all
}

// headlineOf is an effect at the year of the headline; false where there is none, or where too few
// would be at risk. Of those whose follow-up is assumed the few that are known say how far it could
// go, and where there are none it stands all the same, not worked out.
func headlineOf(e *cohort.Effect, floor float64) (cohort.EffectAt, bool) {
	for _, least := range []float64{max(floor, fewestAtRisk), fewestAtRisk} {
		for _, x := range slices.Backward(e.At) {
			if x.AtRisk < least || math.IsNaN(x.Now) {
				continue
			}
			if e.Problem == cohort.FollowUpAssumed {
				return x, true
			}
			return x, x.AtRiskThen >= fewestAtRisk && !math.IsNaN(x.Low) && !math.IsNaN(x.High)
		}
	}
	return cohort.EffectAt{}, false
}

// LeastMove is by how much an estimate must move for that to be named: by what would be
// printed as 0.1 points.
const LeastMove = 0.0005

// First is the doubt that could move the estimate of a joint and procedure furthest, and
// where to; nil if none moves it by 0.05 points.
func (f *Facts) First(joint, procedure string) (most *Doubt, to *Would) {
	least := LeastMove
	for i := range f.Doubts {
		for j := range f.Doubts[i].Would {
			if w := &f.Doubts[i].Would[j]; w.Joint == joint && w.Procedure == procedure && w.Moves() > least {
				most, to, least = &f.Doubts[i], w, w.Moves()
			}
		}
	}
	return most, to
}

// effectsOf are those of settling problems of rows otherwise, and of follow-up that is assumed.
// Where only some reasons for revision count, they are of the latter alone: what a row would then
// be revised for, nobody knows.
func effectsOf(c Source, years []float64, e cohort.Endpoint) (effects []cohort.Effect, err error) {
	if len(e.Reasons) == 0 {
		effects, err = c.WhatIf(years)
	}
	if err != nil || c.About().Account.Assumed == 0 {
		return effects, err
	}
	groups, err := c.Tally(nil, cohort.Endpoint{Reasons: e.Reasons})
	if err != nil {
		return nil, err
	}
	for key, counts := range groups.Set.All() {
		only := groups.Known.Counts(key)
		if n := only.On(0, 0) - counts.On(0, 0); n > 0 {
			e, err := cohort.AssumedEffect(groups.Set.Dimensions[0].Levels[key.Level(0)], groups.Set.Dimensions[1].Levels[key.Level(1)], int(n), counts, only, years)
			if err != nil {
				return nil, err
			}
			effects = append(effects, e)
		}
	}
	return effects, nil
}
