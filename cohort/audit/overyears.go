package audit

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// OperationYear is the field [OverYears] needs an audit to be grouped by.
const OperationYear = "operation_year"

// Cumulated are the revisions observed and expected of one joint and procedure,
// cumulated over the years of operation.
type Cumulated struct {
	Joint, Procedure string

	// Series is what revisions are expected from, the same for every year; nil
	// if no series allows it ([benchmark.ObservedExpected]), and there are then
	// no points. ToYears is its last year, to which observed and expected count.
	Series  *benchmark.Series
	ToYears float64
	Level   float64 // confidence level of the limits

	Points  []YearPoint // by year of operation; years without an operation have none
	Without []int       // years of operation without an expected number, left out
}

// YearPoint is of all joints operated on in a year or before it. In an audit
// made safe for sharing Joints is [Suppressed], and another number NaN, from the
// first year on of which it is hidden.
type YearPoint struct {
	Year     int
	Joints   int64
	Observed float64
	Expected float64
	Ratio    float64 // Observed/Expected; NaN where nothing is expected
	Lower    float64 // exact Poisson limits of Observed (survival.PoissonLimits), over Expected
	Upper    float64
}

// OverYears cumulates an audit's observed and expected revisions over the years
// of operation, for each joint and procedure in the audit's order. The audit's
// By must contain [OperationYear]; its other fields do not matter.
//
// Each joint counts with its complete intervals ([benchmark.ObservedExpected]), so a
// point is the ratio that an audit of the joints operated on up to that year gives
// at the same closing date; the last is that of all joints. A run of points is not a
// series of independent numbers: each contains those before it.
//
// The series is the one of which the group of all joints has the first ratio
// ([Group.Ratios]).
func OverYears(a *Audit) ([]Cumulated, error) {
	if !slices.Contains(a.By, OperationYear) {
		return nil, errors.New("an audit over years needs grouping by " + OperationYear)
	}
	var all []Cumulated
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Level == AllJoints {
			c, err := cumulate(a, g)
			if err != nil {
				return nil, err
			}
			all = append(all, c)
		}
	}
	return all, nil
}

// cumulate is that of one joint and procedure, given by its group of all joints.
func cumulate(a *Audit, all *Group) (Cumulated, error) {
	c := Cumulated{Joint: all.Word("joint"), Procedure: all.Word("procedure"), Level: a.Interval.Level}
	if c.Level == 0 {
		c.Level = 0.95
	}
	type yearOf struct {
		year int
		*Group
	}
	var years []yearOf
	for i := range a.Groups {
		g := &a.Groups[i]
		if g.Level != OneField || g.Field() != OperationYear || g.Word("joint") != c.Joint || g.Word("procedure") != c.Procedure {
			continue
		}
		year, err := strconv.Atoi(g.Word(OperationYear))
		if err != nil {
			return c, fmt.Errorf("a year of operation is not a number: %w", err)
		}
		years = append(years, yearOf{year, g})
	}
	slices.SortFunc(years, func(a, b yearOf) int { return a.year - b.year })
	if e := all.Expected(); e != nil {
		c.Series = e.Series
	}
	var sum YearPoint
	for _, y := range years {
		e := y.from(c.Series)
		if e == nil {
			c.Without = append(c.Without, y.year)
			continue
		}
		c.ToYears = max(c.ToYears, e.ToYears)
		sum.Year = y.year
		if sum.Joints == Suppressed || y.Joints == Suppressed {
			sum.Joints = Suppressed
		} else {
			sum.Joints += y.Joints
		}
		sum.Observed += e.Observed
		sum.Expected += e.Expected
		c.Points = append(c.Points, sum.ratio(c.Level))
	}
	if len(c.Points) == 0 {
		c.Series, c.ToYears = nil, 0
	}
	return c, nil
}

// from is a group's ratio from a series; nil if it has none.
func (g *Group) from(s *benchmark.Series) *benchmark.Ratio {
	for _, r := range g.Ratios {
		if r.Series == s {
			return r
		}
	}
	return nil
}

// ratio fills in ratio and limits.
func (p YearPoint) ratio(level float64) YearPoint {
	p.Ratio, p.Lower, p.Upper = math.NaN(), math.NaN(), math.NaN()
	if p.Expected > 0 && p.Observed >= 0 {
		lower, upper := survival.PoissonLimits(p.Observed, level)
		p.Ratio, p.Lower, p.Upper = p.Observed/p.Expected, lower/p.Expected, upper/p.Expected
	}
	return p
}
