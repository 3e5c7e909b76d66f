package exchange

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/survival"
)

// What a file of an audit's groups holds.
const (
	HoldsTables = "life tables"
	HoldsCurves = "curves"
)

// ErrShared: an audit made for sharing has no life tables and curves.
var ErrShared = errors.New("an audit made for sharing has no life tables and no curves: they tell of single joints by the day")

var groupDefinitions = []string{
	"A group's column is missing where all values of it are together.",
	"days is whole days from the operation. On one day, events precede censoring: a joint that is censored on a day is at risk for that day's events. Revision and death on one day: revision.",
	"One year is 365.25 days; y years are reached on day 365.25 times y, without the fraction.",
}

// groupRow is one row: the values of its group, and those of its own columns.
type groupRow struct {
	group *audit.Group
	texts []string
	of    []float64
}

// WriteLifeTables writes the life table of each of an audit's groups: a row for each day on
// which somebody left observation, with how many were at risk just before, and how many were
// revised (for the endpoint), revised for another reason, died and were censored. Not
// anonymous, as a tally is not. [ErrShared] of an audit made for sharing. An error of the
// io.Writer comes back as it is.
func WriteLifeTables(w io.Writer, k Kind, a *audit.Audit) error {
	columns := []field{{sheet.Field{Name: "days", Type: sheet.Whole}, "days", nil}}
	for _, c := range []struct{ name, help string }{
		{"at_risk", "just before the day's events"}, {"revised", a.Endpoint.String()}, {"died", "neither revised before"},
		{"revised_otherwise", "for another reason than the endpoint's; 0 where it is revision for any reason"}, {"censored", "after the day's events"},
	} {
		columns = append(columns, field{sheet.Field{Name: c.name, Type: sheet.Whole, Help: c.help}, "joints", nil})
	}
	return writeGroups(w, k, a, HoldsTables, nil, columns, func(g *audit.Group, yield func(groupRow) error) error {
		t := g.Counts.Table()
		for i, day := range t.Time {
			other := 0.0
			if t.Causes() >= cohort.CauseOther {
				other = t.Event[cohort.CauseOther-1][i]
			}
			if err := yield(groupRow{g, nil, []float64{day, t.AtRisk[i], t.Event[cohort.CauseRevision-1][i], t.Event[cohort.CauseDeath-1][i], other, t.Censored[i]}}); err != nil {
				return err
			}
		}
		return nil
	})
}

// WriteCurves writes the curves of each of an audit's groups: cumulative revision (one minus
// Kaplan–Meier) and, where deaths are recorded, its cumulative incidence (Aalen–Johansen),
// each with a row for each day on which it rises, as proportions, with standard error and
// limits of the audit's interval, which [About] names. Not anonymous, as a tally is not.
// [ErrShared] of an audit made for sharing. An error of the io.Writer comes back as it is.
func WriteCurves(w io.Writer, k Kind, a *audit.Audit) error {
	columns := []field{
		{sheet.Field{Name: "estimand", Type: sheet.Text}, "", []string{estimands[0], estimands[1]}},
		{sheet.Field{Name: "days", Type: sheet.Whole}, "days", nil},
		{sheet.Field{Name: "at_risk", Type: sheet.Whole, Help: "just before the day's events"}, "joints", nil},
		{sheet.Field{Name: "revised_so_far", Type: sheet.Whole}, "joints", nil},
		{sheet.Field{Name: "estimate", Type: sheet.Fraction, Optional: true, Help: "the proportion by that day, from that day on"}, "proportion", nil},
		{sheet.Field{Name: "standard_error", Type: sheet.Fraction, Optional: true}, "proportion", nil},
		{sheet.Field{Name: "lower", Type: sheet.Fraction, Optional: true}, "proportion", nil},
		{sheet.Field{Name: "upper", Type: sheet.Fraction, Optional: true}, "proportion", nil},
	}
	return writeGroups(w, k, a, HoldsCurves, &a.Interval, columns, func(g *audit.Group, yield func(groupRow) error) error {
		for i, c := range []*survival.Curve{g.KaplanMeier(), g.Incidence()} {
			if c == nil {
				continue
			}
			for _, day := range c.Time {
				p, _ := c.At(day, a.Interval)
				if err := yield(groupRow{g, []string{estimands[i]}, []float64{day, p.AtRisk, p.Events, p.Estimate, p.SE, p.Lower, p.Upper}}); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

var estimands = [2]string{"cumulative revision, one minus Kaplan-Meier", "cumulative incidence, Aalen-Johansen"}

// writeGroups writes rows of groups, the groups' fields before the rows' own columns.
func writeGroups(w io.Writer, k Kind, a *audit.Audit, holds string, interval *survival.Interval, own []field, rows func(g *audit.Group, yield func(groupRow) error) error) error {
	if a.Shared != nil {
		return ErrShared
	}
	names := slices.Concat([]string{"joint", "procedure"}, a.By)
	var columns []field
	for _, n := range names {
		columns = append(columns, field{sheet.Field{Name: n, Type: sheet.Text, Optional: true, Help: "the " + cohort.Title(n) + ", as understood; missing where all are together"}, "", nil})
	}
	columns = append(columns, own...)
	about, err := aboutGroups(a, holds, interval, columns)
	if err != nil {
		return err
	}
	var written []sheet.Field
	for _, c := range columns {
		written = append(written, c.Field)
	}
	out, err := create(w, k, written, sheet.Pair{Key: AboutKey, Value: about})
	if err != nil {
		return err
	}
	values := out.values
	for i := range a.Groups {
		err := rows(&a.Groups[i], func(r groupRow) error {
			for i, v := range r.group.Values {
				values[i].Texts, values[i].Missing = append(values[i].Texts, v.Word), append(values[i].Missing, v.All)
			}
			texts, numbers := r.texts, r.of
			for i := len(names); i < len(columns); i++ {
				switch columns[i].Type {
				case sheet.Text:
					values[i].Texts, texts = append(values[i].Texts, texts[0]), texts[1:]
				case sheet.Whole:
					values[i].Wholes, numbers = append(values[i].Wholes, int32(numbers[0])), numbers[1:]
				default:
					x := numbers[0]
					values[i].Fractions, values[i].Missing, numbers = append(values[i].Fractions, x), append(values[i].Missing, math.IsNaN(x)), numbers[1:]
				}
			}
			return out.next()
		})
		if err != nil {
			return err
		}
	}
	return out.close()
}

// aboutGroups is what a file of an audit's groups says of itself.
func aboutGroups(a *audit.Audit, holds string, interval *survival.Interval, columns []field) (string, error) {
	about := &About{
		Holds: holds, Version: 1, Closing: a.Closing.Day.String(), Endpoint: a.Endpoint.String(), LostAfter: a.LostAfter, DaysPerYear: cohort.DaysPerYear,
		Scope: conditions(a.Scope), Assumed: conditions(a.Assumed), Definitions: append(slices.Clone(groupDefinitions), Caution),
		Account: fmt.Sprintf("%d rows read = %d used + %d set aside", a.Account.Read, a.Account.Used, a.Account.SetAside),
	}
	if interval != nil {
		about.Interval, about.Level = interval.Method.String(), cmp.Or(interval.Level, 0.95)
		about.Variance = "Greenwood's; of the cumulative incidence its form for competing events"
	}
	for _, c := range columns {
		about.Columns = append(about.Columns, Column{c.Name, typeNames[c.Type], c.unit, c.Help, c.values})
	}
	return about.json()
}
