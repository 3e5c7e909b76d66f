package report

import (
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// Material is what a report on paper is made of: one audit, and audits of the
// same joints grouped in other ways.
type Material struct {
	Audit    *audit.Audit
	Mix      []*audit.Audit // by one field each, for the case mix
	ByYear   *audit.Audit   // by the year of operation
	Trend    *audit.Audit   // by bearing, fixation and year of operation, as far as the table has them
	Reasons  []*audit.Audit // of each reason for revision that occurs
	FollowUp []cohort.FollowUp
	Cohort   *cohort.Cohort

	// Department is an audit of the joints of which those of this report are a
	// part; nil if there are no others.
	Department *audit.Audit
}

// mixFields are the fields of the case mix, as far as a table has them.
var mixFields = []string{"age_band", "sex", "diagnosis", "side", "bearing", "fixation", "polyethylene"}

// Gather makes the audits of a report: the one asked for, and those for its
// tables of case mix, years and reasons.
func Gather(c *cohort.Cohort, o audit.Options) (*Material, error) {
	m := &Material{Cohort: c}
	o.WorstCase = o.WorstCase || c.Account.Lost > 0
	var err error
	if m.Audit, err = audit.Run(c, o); err != nil {
		return nil, err
	}
	by := func(o audit.Options, fields ...string) (*audit.Audit, error) {
		o.By, o.WorstCase = fields, false
		if fields == nil {
			o.By = []string{}
		}
		return audit.Run(c, o)
	}
	has := func(field string) bool { return slices.Contains(c.Fields(), field) }
	for _, f := range mixFields {
		if !has(f) {
			continue
		}
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
	if len(o.Endpoint.Reasons) == 0 {
		for _, reason := range reasonsGiven(c) {
			one := o
			one.Endpoint.Reasons, one.Book = []string{reason}, nil
			a, err := by(one)
			if err != nil {
				return nil, err
			}
			m.Reasons = append(m.Reasons, a)
		}
	}
	m.FollowUp, err = c.FollowUp()
	return m, err
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
		if a != nil {
			a.Scope = rename(a.Scope)
		}
	}
}
