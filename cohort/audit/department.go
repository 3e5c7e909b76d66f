package audit

import (
	"errors"
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/survival"
)

// Unit is a surgeon's, hospital's or another unit's revisions beside those expected
// of its joints from all joints of the table, of their joint, procedure and age
// band.
type Unit struct {
	Joint, Procedure string
	Value            Value // the unit
	Joints, Revised  int64
	benchmark.Share
}

// ErrNoUnits: the audit is grouped by no column of units.
var ErrNoUnits = errors.New("expected from one's own department needs grouping by a column of units, such as surgeon or hospital")

// departments sets the units of each field that no series can state beside their
// department. Joints whose unit is not recorded are part of it and are no unit to be
// read: they are listed as the others are.
func (r *run) departments(c *cohort.Cohort) error {
	fields := slices.DeleteFunc(r.audit.unstatable(), func(f string) bool { return f == OperationYear })
	if len(fields) == 0 {
		return ErrNoUnits
	}
	for _, field := range fields {
		by := []string{field}
		if slices.Contains(c.Fields(), column.AgeBand) {
			by = append(by, column.AgeBand)
		}
		groups, err := c.Tally(by, r.options.Endpoint)
		if err != nil {
			return err
		}
		r.department(groups, field)
	}
	return nil
}

// department is that of one field: for each joint and procedure, units by age
// band.
func (r *run) department(groups *cohort.Groups, field string) {
	type part struct {
		joint, procedure int
		units            []int
		strata           []int
	}
	var parts []*part
	set := groups.Set
	stratumOf := func(level func(int) int) int {
		if len(set.Dimensions) > 3 {
			return level(3)
		}
		return 0
	}
	for key := range set.All() {
		i := slices.IndexFunc(parts, func(p *part) bool { return p.joint == key.Level(0) && p.procedure == key.Level(1) })
		if i < 0 {
			i, parts = len(parts), append(parts, &part{joint: key.Level(0), procedure: key.Level(1)})
		}
		p := parts[i]
		if u := key.Level(2); !slices.Contains(p.units, u) {
			p.units = append(p.units, u)
		}
		if s := stratumOf(key.Level); !slices.Contains(p.strata, s) {
			p.strata = append(p.strata, s)
		}
	}
	for _, p := range parts {
		slices.Sort(p.units)
		tables := make([][]*survival.Table, len(p.strata))
		units := make([]*Unit, len(p.units))
		for i, u := range p.units {
			units[i] = &Unit{Joint: set.Dimensions[0].Levels[p.joint], Procedure: set.Dimensions[1].Levels[p.procedure], Value: Value{Field: field, Word: set.Dimensions[2].Levels[u]}}
		}
		for s := range tables {
			tables[s] = make([]*survival.Table, len(p.units))
		}
		for key, counts := range set.All() {
			if key.Level(0) != p.joint || key.Level(1) != p.procedure {
				continue
			}
			u := slices.Index(p.units, key.Level(2))
			tables[slices.Index(p.strata, stratumOf(key.Level))][u] = counts.Table()
			units[u].Joints += counts.Subjects()
			units[u].Revised += counts.Total(cohort.CauseRevision)
		}
		for u, share := range benchmark.FromDepartment(tables, cohort.CauseRevision, r.level()) {
			units[u].Share = share
		}
		r.audit.Department = append(r.audit.Department, units...)
	}
}

// record is a unit as a row of the comparisons, in which what is published is
// empty.
func (u *Unit) record(like record) record {
	set := map[string]string{
		"joint": u.Joint, "procedure": u.Procedure, u.Value.Field: u.Value.Word, "joints": Count(u.Joints), "revised": Count(u.Revised),
		"source": "own department", "origin": "department", "level": Number(u.Level),
		"observed": Number(u.Observed), "expected": Number(u.Expected), "joints_counted": Count(u.Joints),
		"ratio": Number(u.Ratio), "ratio_lower": Number(u.Lower), "ratio_upper": Number(u.Upper),
	}
	r := like.with(set)
	if u.Alone > 0 {
		r[len(r)-1].list = []string{NoteAlone}
	}
	return r
}

// NoteAlone: revisions at times at which the unit alone was at risk are left out of its
// observed and expected.
const NoteAlone = "revisions while it alone was at risk left out"

// Usual are the least and most revisions that chance gives a unit in 95 of 100
// departments alike, given the department's; false where nothing is expected.
func (u *Unit) Usual() (least, most float64, ok bool) {
	if math.IsNaN(u.Ratio) {
		return 0, 0, false
	}
	low, high := benchmark.BinomialFunnel(u.Department, u.Expected/u.Department, .95)
	return math.Floor(low) + 1, math.Ceil(high) - 1, true
}
