package gather

import (
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// Before is what moved since an earlier audit of the same table.
type Before struct {
	Closing cohort.Day // to which the earlier audit was followed
	Moved   []Moved    // all joints of each joint and procedure, then its units

	// Unknown are the units' fields that the earlier audit was not grouped by.
	Unknown []string

	// New are the units that the earlier audit has not under this word, though it was
	// grouped by their field, and Gone is how many it has that are not in this table, by
	// field.
	New  []audit.Value
	Gone map[string]int
}

// Moved is one estimate as the earlier audit had it, as this table would have given
// it then, and as it is now. From the first to the second data were mended; from
// the second to the third patients were followed and new joints came.
type Moved struct {
	Joint, Procedure string
	Unit             audit.Value // of a field; the zero value is all joints
	Last, Then, Now  State
	Years            float64 // the latest at which all three have an estimate on ten at risk or more; 0 without one
}

// State is joints, those revised, and cumulative revision as a proportion.
type State struct {
	Joints, Revised int64
	Estimate        float64
}

// Mended and Followed are the two parts of what an estimate moved by.
func (m Moved) Mended() float64   { return m.Then.Estimate - m.Last.Estimate }
func (m Moved) Followed() float64 { return m.Now.Estimate - m.Then.Estimate }

// Since parts what moved since an earlier audit. Then is an audit of this table as
// it would have been made at the earlier closing date, and now the audit of today,
// both by the same units if by any. A joint, procedure or unit that one of the three
// lacks is left out; units that the earlier audit lacks altogether are new.
func Since(earlier *audit.Earlier, then, now *audit.Audit) *Before {
	b := &Before{Closing: earlier.Closing, Gone: make(map[string]int)}
	for _, field := range now.By {
		b.units(earlier, now, field)
	}
	for i := range now.Groups {
		g := &now.Groups[i]
		unit := unitOf(g)
		m := Moved{Joint: g.Word("joint"), Procedure: g.Word("procedure"), Unit: unit}
		last, before := earlier.Group(m.Joint, m.Procedure, unit), groupOf(then, m.Joint, m.Procedure, unit)
		if g.Pooling == audit.Cell || last == nil || before == nil {
			continue
		}
		m.Last, m.Then, m.Now = State{last.Joints, last.Revised, 0}, State{before.Joints, before.Revised, 0}, State{g.Joints, g.Revised, 0}
		for _, y := range slices.Backward(now.Years) {
			at, ok := last.At(y)
			was, is := before.At(y), g.At(y)
			if ok && at.AtRisk >= benchmark.FewestAtRisk && was != nil && was.Shown.Estimated() && is != nil && is.Shown.Estimated() {
				m.Years, m.Last.Estimate, m.Then.Estimate, m.Now.Estimate = y, at.Estimate, was.KaplanMeier.Estimate, is.KaplanMeier.Estimate
				break
			}
		}
		b.Moved = append(b.Moved, m)
	}
	return b
}

// units says which units of a field one of two audits has and the other has not.
func (b *Before) units(earlier *audit.Earlier, now *audit.Audit, field string) {
	was, is := make(map[audit.Value]bool), make(map[audit.Value]bool)
	for _, g := range earlier.Groups {
		if g.Unit.Field == field {
			was[g.Unit] = true
		}
	}
	if len(was) == 0 {
		b.Unknown = append(b.Unknown, field)
		return
	}
	for i := range now.Groups {
		unit := unitOf(&now.Groups[i])
		if unit.Field != field || is[unit] {
			continue
		}
		if is[unit] = true; !was[unit] {
			b.New = append(b.New, unit)
		}
	}
	for unit := range was {
		if !is[unit] {
			b.Gone[field]++
		}
	}
}

// unitOf is what a group of one field is of; the zero value of all joints.
func unitOf(g *audit.Group) audit.Value {
	if g.Pooling != audit.OneField {
		return audit.Value{}
	}
	return audit.Value{Field: g.Field(), Word: g.Word(g.Field())}
}

func groupOf(a *audit.Audit, joint, procedure string, unit audit.Value) *audit.Group {
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Pooling != audit.Cell && g.Word("joint") == joint && g.Word("procedure") == procedure && unitOf(g) == unit {
			return g
		}
	}
	return nil
}

// Of is what moved of one unit, as if its joints were all.
func (b *Before) Of(unit audit.Value) *Before {
	one := *b
	one.Moved, one.Gone = nil, nil
	one.New = slices.DeleteFunc(slices.Clone(b.New), func(v audit.Value) bool { return v != unit })
	for _, m := range b.Moved {
		if m.Unit == unit {
			m.Unit = audit.Value{}
			one.Moved = append(one.Moved, m)
		}
	}
	return &one
}
