package gather

import (
	"errors"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/disclose"
)

// Material is what a report on paper is made of: one audit, and audits of the
// same joints grouped in other ways.
type Material struct {
	Audit    *audit.Audit
	Mix      []*audit.Audit // by one field each, for the case mix
	Unmixed  []string       // fields left out of it, for their many values
	ByYear   *audit.Audit   // by the year of operation
	Trend    *audit.Audit   // by bearing, fixation and year of operation, as far as the table has them
	Reasons  []*audit.Audit // of each reason for revision that occurs
	FollowUp []cohort.FollowUp
	Cohort   *cohort.Cohort // nil of tallies, which have no rows
	Facts    *Facts
	Before   *Before  // an earlier audit; nil without
	Watched  *Watched // over calendar time; nil if that was not asked

	// Department is an audit of the joints of which those of this report are a
	// part; nil if there are no others.
	Department *audit.Audit
}

// Shared makes the audits of a report that is safe to leave the building (package
// disclose). One audit of all fields is made, and the tables are parts of it, so that
// none gives away what another does not tell. Years of operation by bearing, reasons
// for revision, completeness and follow-up are left out.
func Shared(c Source, o audit.Options) (*Material, error) {
	by := o.By
	if by == nil {
		by = slices.DeleteFunc(audit.DefaultBy(), func(f string) bool { return !slices.Contains(c.Fields(), f) })
	}
	fields := slices.Clone(by)
	mix, unmixed := mixOf(c)
	for _, f := range append([]string{audit.OperationYear}, mix...) {
		if !slices.Contains(fields, f) {
			fields = append(fields, f)
		}
	}
	whole, tooMany, err := fitting(c, o, fields, len(by)+1)
	if err != nil {
		return nil, err
	}
	// By the names that the audit gives the fields.
	m := &Material{Audit: only(whole, whole.By[:len(by)]...), ByYear: only(whole, audit.OperationYear), Unmixed: append(unmixed, tooMany...)}
	for _, f := range whole.By {
		if slices.Contains(cohort.CaseMix(), f) {
			m.Mix = append(m.Mix, only(whole, f))
		}
	}
	return m, nil
}

// fitting makes an audit to share by as many of the fields as can be counted
// together, and by the first of them in any case; the others are left out.
func fitting(c Source, o audit.Options, fields []string, first int) (whole *audit.Audit, out []string, err error) {
	for n := len(fields); ; n-- {
		o.By = fields[:n]
		whole, err = disclose.Run(c, o)
		if _, many := errors.AsType[*cohort.TooManyGroupsError](err); !many || n == first {
			return whole, fields[n:], err
		}
	}
}

// mixOf parts the fields of the case mix that a table has into those that it can
// be grouped by, and those of which most rows have a value of their own.
func mixOf(c Source) (mix, unmixed []string) {
	for _, f := range cohort.CaseMix() {
		switch {
		case !slices.Contains(c.Fields(), f):
		case c.Groupable(f):
			mix = append(mix, f)
		default:
			unmixed = append(unmixed, f)
		}
	}
	return mix, unmixed
}

// only is the part of an audit that is by some of its fields.
func only(a *audit.Audit, fields ...string) *audit.Audit {
	b := *a
	b.By = fields
	b.Groups = nil
	for i := range a.Groups {
		if g := a.Groups[i]; g.Pooling == audit.AllJoints || g.Pooling == audit.OneField && slices.Contains(fields, g.Field()) {
			b.Groups = append(b.Groups, g)
		}
	}
	return &b
}

// All makes the audits of a report: the one asked for, and those for its
// tables of case mix, years and reasons.
func All(c Source, o audit.Options) (*Material, error) {
	m := new(Material)
	m.Cohort, _ = c.(*cohort.Cohort)
	o.WorstCase = o.WorstCase || c.About().Account.Lost > 0
	var err error
	if m.Audit, err = audit.Run(c, o); err != nil {
		return nil, err
	}
	by := func(o audit.Options, fields ...string) (*audit.Audit, error) {
		o.By, o.WorstCase, o.Published = fields, false, nil // of which only counts and estimates are shown
		if fields == nil {
			o.By = []string{}
		}
		return audit.Run(c, o)
	}
	has := func(field string) bool { return slices.Contains(c.Fields(), field) }
	var mix []string
	mix, m.Unmixed = mixOf(c)
	for _, f := range mix {
		a, err := by(o, f)
		if err != nil {
			return nil, err
		}
		m.Mix = append(m.Mix, a)
	}
	if m.ByYear, err = by(o, "operation_year"); err != nil {
		return nil, err
	}
	var trend []string
	for _, f := range []string{"bearing", "fixation"} {
		if has(f) {
			trend = append(trend, f)
		}
	}
	if len(trend) > 0 {
		if m.Trend, err = by(o, append(trend, "operation_year")...); err != nil {
			return nil, err
		}
	}
	if len(o.Endpoint.Reasons) == 0 && m.Cohort != nil {
		for _, reason := range reasonsGiven(m.Cohort) {
			one := o
			one.Endpoint.Reasons, one.Published = []string{reason}, nil
			a, err := by(one)
			if err != nil {
				return nil, err
			}
			m.Reasons = append(m.Reasons, a)
		}
	}
	if m.Facts, err = FactsOf(c, m.Audit); err != nil {
		return nil, err
	}
	m.FollowUp = m.Facts.FollowUp
	return m, nil
}

// Brief makes what a page of one surgeon needs beside their department: the audit asked
// for, of all joints together, and what is said beside it.
func Brief(c *cohort.Cohort, o audit.Options) (*Material, error) {
	m := &Material{Cohort: c}
	o.By, o.NoCells = []string{}, true
	var err error
	if m.Audit, err = audit.Run(c, o); err != nil {
		return nil, err
	}
	if m.Facts, err = FactsOf(c, m.Audit); err != nil {
		return nil, err
	}
	m.FollowUp = m.Facts.FollowUp
	return m, nil
}

// reasonsGiven are the reasons for revision that a table gives and that are
// known, in the order in which they are known.
func reasonsGiven(c *cohort.Cohort) []string {
	var given []string
	for _, column := range c.Words() {
		if column.Column != "revision_reason" {
			continue
		}
		for _, reason := range cohort.Reasons() {
			if slices.ContainsFunc(column.Words, func(w cohort.Word) bool { return w.Known && w.Value == reason }) {
				given = append(given, reason)
			}
		}
	}
	return given
}

// Rename puts another word for a value in scope, such as a letter for a
// surgeon's name, in everything that is said.
func (m *Material) Rename(column, value, shown string) {
	rename := func(scope []cohort.Condition) []cohort.Condition {
		scope = slices.Clone(scope)
		for i, c := range scope {
			if c.Column == column && c.Value == value {
				scope[i].Value = shown
			}
		}
		return scope
	}
	for _, a := range slices.Concat([]*audit.Audit{m.Audit, m.ByYear, m.Trend}, m.Mix, m.Reasons) {
		if a == nil {
			continue
		}
		a.Scope, a.Assumed = rename(a.Scope), rename(a.Assumed)
		for _, b := range a.Beside {
			for _, values := range [][]audit.Value{b.Within, b.Group} {
				for i, v := range values {
					if v.Field == column && v.Word == value && !v.All {
						values[i].Word = shown
					}
				}
			}
		}
		for i := range a.Groups {
			for j, v := range a.Groups[i].Values {
				if v.Field == column && v.Word == value && !v.All {
					a.Groups[i].Values[j].Word = shown
				}
			}
		}
	}
}
