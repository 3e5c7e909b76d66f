package audit

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"example.org/holdfast/cohort"
)

// Earlier is an audit read back from its JSON: all joints of each joint and
// procedure, and its groups by one field.
type Earlier struct {
	Closing cohort.Day
	Groups  []EarlierGroup
}

// EarlierGroup is all joints of one joint and procedure, or those of one word of a
// field, as an earlier audit had them.
type EarlierGroup struct {
	Joint, Procedure string
	Unit             Value // the zero value is all joints
	Joints, Revised  int64
	rows             map[float64]EarlierRow
}

// EarlierRow is an earlier estimate: cumulative revision as a proportion, and the
// number at risk.
type EarlierRow struct{ Estimate, AtRisk float64 }

// At is the estimate at a year; false if there is none.
func (g *EarlierGroup) At(years float64) (EarlierRow, bool) {
	r, ok := g.rows[years]
	return r, ok
}

// Group is that of a joint and procedure, of all joints or of one word of a field;
// nil if there was none.
func (e *Earlier) Group(joint, procedure string, unit Value) *EarlierGroup {
	for i := range e.Groups {
		if g := &e.Groups[i]; g.Joint == joint && g.Procedure == procedure && g.Unit == unit {
			return g
		}
	}
	return nil
}

// ErrNotEarlier: what was read is no audit of this program.
var ErrNotEarlier = errors.New("this is not the JSON of an audit (holdfast audit --format json)")

// ReadEarlier reads what [WriteJSON] wrote. An audit made for sharing can't be
// read back, since its numbers are rounded and hidden.
func ReadEarlier(r io.Reader) (*Earlier, error) {
	var d struct {
		Table struct {
			ClosingDate struct{ Date any } `json:"closing_date"`
		}
		Groups []struct {
			Values          map[string]string
			Pooled          string
			Joints, Revised any
			Rows            []struct {
				Years  float64
				AtRisk any `json:"at_risk"`
				KMPct  any `json:"km_pct"`
			}
		}
	}
	if err := json.NewDecoder(r).Decode(&d); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrNotEarlier, err)
	}
	day, ok := d.Table.ClosingDate.Date.(string)
	if !ok {
		return nil, fmt.Errorf("%w, or one made for sharing", ErrNotEarlier)
	}
	closing, err := cohort.ParseDay(day)
	if err != nil {
		return nil, fmt.Errorf("%w, or one made for sharing", ErrNotEarlier)
	}
	e := &Earlier{Closing: closing}
	for _, g := range d.Groups {
		joints, known := g.Joints.(float64)
		revised, ok := g.Revised.(float64)
		unit, told := earlierUnit(g.Values, g.Pooled)
		if !told || !known || !ok {
			continue
		}
		group := EarlierGroup{Joint: g.Values["joint"], Procedure: g.Values["procedure"], Unit: unit, Joints: int64(joints), Revised: int64(revised), rows: make(map[float64]EarlierRow)}
		for _, row := range g.Rows {
			atRisk, known := row.AtRisk.(float64)
			if km, ok := row.KMPct.(float64); ok && known {
				group.rows[row.Years] = EarlierRow{Estimate: km / 100, AtRisk: math.Round(atRisk)}
			}
		}
		e.Groups = append(e.Groups, group)
	}
	if len(e.Groups) == 0 {
		return nil, ErrNotEarlier
	}
	return e, nil
}

// earlierUnit is what a group was of beside joint and procedure. It is not told of
// groups of several fields.
func earlierUnit(values map[string]string, pooled string) (unit Value, told bool) {
	for field, word := range values {
		if field != "joint" && field != "procedure" && word != "All" {
			if word == allTyped {
				word = "All"
			}
			unit = Value{Field: field, Word: word}
		}
	}
	switch pooled {
	case AllJoints.String():
		return Value{}, true
	case OneField.String():
		return unit, unit.Field != ""
	}
	return Value{}, false
}
