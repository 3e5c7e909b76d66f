// Package gather asks a cohort for all that a page says beside an audit, so that
// what writes the page computes nothing.
package gather

import (
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// Facts are about the joints of an audit.
type Facts struct {
	Cohort   *cohort.Cohort
	FollowUp []cohort.FollowUp // all joints, then each joint and procedure if there are several
	Effects  []cohort.Effect   // of settling problems otherwise, at the audit's years

	FirstOperation, LastOperation cohort.Day // of the joints in use; both 0 without any
}

// FactsOf gathers the facts beside an audit of a cohort. Errors are those of
// columns with too many values.
func FactsOf(c *cohort.Cohort, a *audit.Audit) (*Facts, error) {
	f := &Facts{Cohort: c}
	var err error
	if f.FollowUp, err = c.FollowUp(); err != nil {
		return nil, err
	}
	if f.Effects, err = c.WhatIf(a.Years); err != nil {
		return nil, err
	}
	joints, err := c.Joints(cohort.Endpoint{})
	if err != nil {
		return nil, err
	}
	any := false
	for j := range joints {
		if !any || j.Operation < f.FirstOperation {
			f.FirstOperation = j.Operation
		}
		if !any || j.Operation > f.LastOperation {
			f.LastOperation = j.Operation
		}
		any = true
	}
	return f, nil
}
