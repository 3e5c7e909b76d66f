package settings

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/disclose"
	"example.org/holdfast/survival"
)

// Inputs are the files that are read, given the tables.
func (s *Settings) Inputs(tables []string) []string {
	return slices.Concat(tables, s.Revisions, s.Deaths, s.Published, []string{s.File})
}

// Audit checks what is in force about the audit, once.
func (s *Settings) Audit() (audit.Options, error) {
	o := audit.Options{By: s.By, Years: s.Years}
	if slices.Contains(o.By, "none") {
		if len(o.By) > 1 {
			return o, Usage("%s %q: none stands alone", s.From("by"), strings.Join(o.By, ","))
		}
		o.By = []string{}
	}
	if o.Years == nil {
		o.Years = audit.DefaultYears()
	}
	if len(o.Years) == 0 {
		return o, Usage("%s: want numbers such as 1,3,5,10,15", s.From("years"))
	}
	for _, y := range o.Years {
		if !(y > 0 && y <= 100) {
			return o, Usage("%s: %v is not above 0 and up to 100", s.From("years"), y)
		}
	}
	name := cmp.Or(s.Interval, "log-log")
	method, err := survival.ParseMethod(name)
	if err != nil {
		return o, Usage("%s %q: want log-log, log, plain or beta-product", s.From("interval"), name)
	}
	o.Interval = survival.Interval{Level: DefaultLevel, Method: method, MinAtRisk: survival.DefaultMinAtRisk}
	if s.Level != nil {
		o.Interval.Level = *s.Level
	}
	if !(o.Interval.Level > 0 && o.Interval.Level < 1) {
		return o, Usage("%s %v: want a number between 0 and 1, such as 0.95", s.From("level"), o.Interval.Level)
	}
	if s.MinAtRisk != nil {
		o.Interval.MinAtRisk = *s.MinAtRisk
	}
	switch m := o.Interval.MinAtRisk; {
	case !(m >= 0):
		return o, Usage("%s %v: want 0 or more", s.From("min_at_risk"), m)
	case m == 0:
		o.Interval.MinAtRisk = -1 // no floor
	}
	for _, r := range s.Reasons {
		word, known := cohort.ParseReason(r)
		if !known {
			return o, Usage("%s %q is not a reason for revision that is known; there are: %s", s.From("reasons"), r, strings.Join(cohort.Reasons(), ", "))
		}
		if !slices.Contains(o.Endpoint.Reasons, word) {
			o.Endpoint.Reasons = append(o.Endpoint.Reasons, word)
		}
	}
	switch cmp.Or(s.Expected, "published") {
	case "own":
		o.ExpectedOwn = true
	case "published":
	default:
		return o, Usage("%s %q: want published or own", s.From("expected"), s.Expected)
	}
	o.WorstCase = s.WorstCase != nil && *s.WorstCase
	return o, nil
}

// DefaultLevel is the confidence level unless told otherwise.
const DefaultLevel = 0.95

// Run audits a cohort, or pooled tallies, with options of these settings, safe to share if
// that is asked for. A field that the settings group by and the tables lack is left out,
// and said so. Errors are about what was asked for.
func (s *Settings) Run(c audit.Source, o audit.Options, share bool) (*audit.Audit, error) {
	var without []string
	if !s.Given["by"] {
		o.By, without = Grouped(c, o.By)
	}
	run := audit.Run
	if share {
		run = disclose.Run
	}
	result, err := run(c, o)
	if err != nil {
		return nil, &UsageError{Err: err}
	}
	if len(without) > 0 {
		result.DroppedBy = append(result.DroppedBy, without...)
		result.Notes = append(result.Notes, fmt.Sprintf("The table has nothing to group by %s, as the settings ask, so that is left out.", strings.Join(without, " or ")))
	}
	return result, nil
}

// Grouped parts the fields that the settings group by into those that the
// tables have, or that are no columns of an outcomes table and so perhaps
// mistyped, and those that the tables lack. One settings file serves tables
// with and without a column.
func Grouped(c audit.Source, by []string) (has, lacks []string) {
	if by == nil {
		return nil, nil
	}
	has = []string{}
	for _, name := range by {
		known := name == "age_band" || slices.ContainsFunc(cohort.Columns(), func(k cohort.Column) bool { return k.Name == name && !k.Identifying })
		if known && !c.HasColumn(name) {
			lacks = append(lacks, name)
		} else {
			has = append(has, name)
		}
	}
	return has, lacks
}

// Series are the user's published series, then the built-in ones, of the
// countries asked for; the one name "none" gives neither. Open opens a file. The
// remarks are about the files' figures.
func (s *Settings) Series(open func(name string) (io.ReadCloser, error)) (all []*benchmark.Series, remarks []string, err error) {
	builtin := cmp.Or(s.Builtin, "yes")
	if builtin != "yes" && builtin != "no" {
		return nil, nil, Usage("%s %q: want yes or no", s.From("builtin"), builtin)
	}
	if slices.Contains(s.Published, "none") {
		if len(s.Published) > 1 {
			return nil, nil, Usage("--published none can't stand beside another --published")
		}
		return nil, nil, nil
	}
	for _, name := range s.Published {
		series, about, err := seriesOf(name, open)
		remarks = append(remarks, about...)
		if err != nil {
			return nil, remarks, err
		}
		all = append(all, series...)
	}
	if builtin == "yes" {
		all = append(all, benchmark.Builtin()...)
	}
	if len(s.Countries) == 0 {
		return all, remarks, nil
	}
	of := slices.DeleteFunc(slices.Clone(all), func(f *benchmark.Series) bool { return !f.From(s.Countries) })
	if len(of) == 0 {
		return nil, remarks, Usage("%s %s: no published figure is from there; there are figures from %s", s.From("countries"), strings.Join(s.Countries, ", "), strings.Join(benchmark.Countries(all), ", "))
	}
	return of, remarks, nil
}

// mostRemarks is how many remarks on one file of published figures are made.
const mostRemarks = 10

// seriesOf are the published series of one file, with the remarks on it.
func seriesOf(name string, open func(name string) (io.ReadCloser, error)) ([]*benchmark.Series, []string, error) {
	f, err := open(name)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	series, warnings, err := benchmark.Read(f, name)
	if err != nil {
		return nil, nil, err
	}
	var remarks []string
	for _, w := range warnings[:min(mostRemarks, len(warnings))] {
		remarks = append(remarks, w.String())
	}
	if more := len(warnings) - len(remarks); more > 0 {
		remarks = append(remarks, fmt.Sprintf("%s: and %d more such remarks", name, more))
	}
	return series, remarks, nil
}
