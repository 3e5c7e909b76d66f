package contrast

import (
	"errors"
	"slices"

	"example.org/holdfast/cohort"
)

// Sentence says in one sentence whether the groups of one joint and procedure can be
// told apart.
type Sentence struct {
	Joint, Procedure, Text string

	Within []string // the fields within whose strata groups are compared
	Series string   // in how many series chance alone does so: "3 of 100 such series"; "" with fewer than FewestForP revised

	Revised int64 // that are divided
}

// Sentences says for each joint and procedure, in their order, whether chance alone
// would divide the revisions between the groups of a field as unevenly, within the
// strata of cohort.ChosenBy that the cohort has. Where groups are never at risk together
// within these, the last of them are left out. Joints and procedures without two
// groups and two revisions have no sentence. Errors are those of Run, but for a
// *RefusedError that is about what the cohort has: then there is no sentence.
func Sentences(c Source, field string, e cohort.Endpoint) ([]Sentence, error) {
	var within []string
	for _, f := range cohort.ChosenBy() {
		if f != field && c.Groupable(f) {
			within = append(within, f)
		}
	}
	for ; ; within = within[:len(within)-1] {
		k, err := Run(c, Options{Between: field, Within: within, Endpoint: e, testsOnly: true})
		var refused *RefusedError
		if errors.As(err, &refused) {
			if len(within) > 0 {
				continue
			}
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
		if len(within) > 0 && slices.ContainsFunc(k.Parts, func(p Part) bool { return p.NotWithin != "" }) {
			continue
		}
		var all []Sentence
		for i := range k.Parts {
			if p := &k.Parts[i]; p.Refused == "" {
				one := Sentence{Joint: p.Joint, Procedure: p.Procedure, Text: k.Said(p), Within: within, Revised: p.Revised}
				if p.Revised >= FewestForP {
					one.Series = OfSeries(k.asked(p).P)
				}
				all = append(all, one)
			}
		}
		return all, nil
	}
}
