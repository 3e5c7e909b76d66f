// Package gather asks a cohort for all that a page says beside an audit, so that
// what writes the page computes nothing.
package gather

import (
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/contrast"
)

// Source is where the joints of a page are counted: a cohort, or pooled tallies.
type Source interface {
	contrast.Source
	FollowUp() ([]cohort.FollowUp, error)
	WhatIf(years []float64) ([]cohort.Effect, error)
}

// Facts are about the joints of an audit.
type Facts struct {
	Cohort   *cohort.Cohort    // nil of tallies, which have no rows
	FollowUp []cohort.FollowUp // all joints, then each joint and procedure if there are several
	Doubts   []Doubt           // what settling problems otherwise would do, the furthest first

	// Apart says, of each field that implants are chosen by, whether chance alone
	// would divide the revisions between its groups as unevenly. It is not asked of
	// more than mostApart joints, whose differences are seldom chance.
	Apart []Apart
}

// Apart is whether the groups of a field can be told apart.
type Apart struct {
	Field string
	contrast.Sentence
}

const mostApart = 200_000

// FactsOf gathers the facts beside an audit of a cohort. Errors are those of
// columns with too many values.
func FactsOf(c Source, a *audit.Audit) (*Facts, error) {
	f := new(Facts)
	f.Cohort, _ = c.(*cohort.Cohort)
	var err error
	if f.FollowUp, err = c.FollowUp(); err != nil {
		return nil, err
	}
	effects, err := effectsOf(c, a.Years, a.Endpoint)
	if err != nil {
		return nil, err
	}
	f.Doubts = doubts(effects, a.Floor())
	if f.FollowUp[0].Joints > mostApart {
		return f, nil
	}
	for _, field := range a.By {
		if !cohort.Chosen(field) {
			continue
		}
		said, err := contrast.Sentences(c, field, a.Endpoint)
		if err != nil {
			return nil, err
		}
		for _, s := range said {
			f.Apart = append(f.Apart, Apart{field, s})
		}
	}
	return f, nil
}
