package benchmark

import (
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/column"
)

// Condition is a value of one column that a series can state, such as age_band
// <55.
type Condition struct{ Column, Value string }

// ParseCondition reads a column as it is headed and a value as it is typed: THR is
// the procedure total. A word that is not known, or ages that are none, are
// refused.
func ParseCondition(heading, typed string) (Condition, error) {
	name := columnNamed(heading)
	stated := append(column.With(column.Published), column.AgeBand)
	switch {
	case !slices.Contains(stated, name):
		return Condition{}, fmt.Errorf("%q is nothing that a published series states; there are %s", heading, strings.Join(stated, ", "))
	case name == column.AgeBand:
		age, err := ParseAge(typed)
		return Condition{name, age.String()}, err
	}
	value, ok := canonical(name, "", typed)
	if !ok {
		return Condition{}, fmt.Errorf("%s %s is not known; there are %s", name, quote(typed), strings.Join(known(name), ", "))
	}
	return Condition{name, value}, nil
}

// Of says how a series' population stands to a condition: [Meets] if it states
// the column and has the value in it, or ages that overlap; [NotRecorded] if it
// states nothing of the column, and is of all values together; else [Outside].
// A bearing whose polyethylene is not stated is among those of either.
func (s *Series) Of(c Condition) Fit {
	if c.Column == column.AgeBand {
		asked, err := ParseAge(c.Value)
		switch {
		case err != nil:
			return Outside
		case s.Age == AgeInterval{}:
			return NotRecorded
		case s.Age.overlaps(asked):
			return Meets
		}
		return Outside
	}
	alone, own := &Series{}, Joints{}
	of := map[string]struct {
		stated string
		series *string
		own    *string
	}{
		column.Joint: {s.Joint, &alone.Joint, &own.Joint}, column.Procedure: {s.Procedure, &alone.Procedure, &own.Procedure},
		column.Bearing: {s.Bearing, &alone.Bearing, &own.Bearing}, column.Polyethylene: {s.Polyethylene, &alone.Polyethylene, &own.Polyethylene},
		column.Fixation: {s.Fixation, &alone.Fixation, &own.Fixation}, column.Sex: {s.Sex, &alone.Sex, &own.Sex},
		column.Diagnosis: {s.Diagnosis, &alone.Diagnosis, &own.Diagnosis},
	}[c.Column]
	if of.series == nil {
		return Outside
	}
	if unstated(fold(of.stated)) {
		return NotRecorded
	}
	*of.series, *of.own = of.stated, c.Value
	fit, _ := newKind(alone).Fit(own)
	if fit == NotRecorded { // of a bearing: its polyethylene isn't said
		return Meets
	}
	return fit
}

func (a AgeInterval) overlaps(b AgeInterval) bool {
	return (a.Below == 0 || b.From < a.Below) && (b.Below == 0 || a.From < b.Below)
}

// Narrow parts series into those that state every column asked about and have one
// of its values in each, and those that are of all values together in some. The
// others are left out, and so is a series that states no joint or procedure asked
// about.
func Narrow(series []*Series, conditions []Condition) (stated, pooled []*Series) {
	var names []string
	for _, c := range conditions {
		if !slices.Contains(names, c.Column) {
			names = append(names, c.Column)
		}
	}
	for _, s := range series {
		worst := Meets
		for _, name := range names {
			best := Outside
			for _, c := range conditions {
				if c.Column == name {
					best = max(best, s.Of(c))
				}
			}
			if best == NotRecorded && (name == column.Joint || name == column.Procedure) {
				best = Outside
			}
			worst = min(worst, best)
		}
		switch worst {
		case Meets:
			stated = append(stated, s)
		case NotRecorded:
			pooled = append(pooled, s)
		}
	}
	return stated, pooled
}
