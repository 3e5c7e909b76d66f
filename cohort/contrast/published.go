package contrast

import (
	"math"
	"strings"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// PublishedPair is what one source publishes for the same choice: of joints like a
// group's, and like those it is compared with, at the same year.
type PublishedPair struct {
	Source, Citation string
	Group, Against   benchmark.Figure

	// Difference of the two, with limits by MOVER where both have limits.
	Difference, Lower, Upper float64
}

// states says whether a series is of the joints with a word in a field, of one joint
// and procedure, and of nothing more particular.
func states(s *benchmark.Series, joint, procedure, field, word string) bool {
	if s.Estimand != benchmark.OneMinusKaplanMeier || s.Other() != "" || !strings.EqualFold(s.Joint, joint) || !strings.EqualFold(s.Procedure, procedure) {
		return false
	}
	stated := map[string]string{"bearing": s.Bearing, "polyethylene": s.Polyethylene, "fixation": s.Fixation, "sex": s.Sex, "diagnosis": s.Diagnosis}
	if s.Age != (benchmark.AgeInterval{}) {
		stated[ageBand] = s.Age.String()
		if band, err := benchmark.ParseAge(word); err == nil && band == s.Age {
			stated[ageBand] = word
		}
	}
	for f, value := range stated {
		if (f == field) != strings.EqualFold(value, word) || f != field && value != "" {
			return false
		}
	}
	_, known := stated[field]
	return known
}

// published finds the pairs for the difference of two groups.
func (k *Contrast) published(p *Part, d *Difference, series []*benchmark.Series) {
	if d.Estimand != survival.OneMinusKaplanMeier {
		return
	}
	for _, a := range series {
		if !states(a, p.Joint, p.Procedure, k.Between, p.Groups[d.Group].Word) {
			continue
		}
		for _, b := range series {
			if b.Source != a.Source || b.PeriodFrom != a.PeriodFrom || b.PeriodTo != a.PeriodTo || b.User != a.User ||
				!states(b, p.Joint, p.Procedure, k.Between, p.Groups[d.Against].Word) {
				continue
			}
			fa, inA := a.At(d.Years)
			fb, inB := b.At(d.Years)
			if !inA || !inB {
				continue
			}
			pair := PublishedPair{Source: a.Source, Citation: a.Citation, Group: fa, Against: fb, Difference: fa.Revision - fb.Revision, Lower: math.NaN(), Upper: math.NaN()}
			if fa.HasLimits() && fb.HasLimits() {
				_, pair.Lower, pair.Upper = benchmark.MOVER(fa.Revision, fa.Lower, fa.Upper, fb.Revision, fb.Lower, fb.Upper)
			}
			d.Published = append(d.Published, pair)
		}
	}
}

// strata adds revisions observed and expected by the strata that sources publish.
// They are of all joints, those of no group too, and of revision for any reason.
func (k *Contrast) strata(c Source, o Options) error {
	if len(o.Published) == 0 || len(k.Endpoint.Reasons) > 0 {
		return nil
	}
	a, err := audit.Run(c, audit.Options{By: []string{}, Years: k.Years, Interval: k.Interval, Published: o.Published, NoCells: true})
	if err != nil {
		return err
	}
	for i := range k.Parts {
		p := &k.Parts[i]
		for j := range a.Groups {
			if g := &a.Groups[j]; g.Word("joint") == p.Joint && g.Word("procedure") == p.Procedure {
				p.ByStratum = g.Sums
			}
		}
	}
	return nil
}
