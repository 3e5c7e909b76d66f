package audit

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/monitor"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// Unit is a surgeon's, hospital's or another unit's revisions beside those expected
// of its joints from all joints of the table, of their joint, procedure and age
// band, and of what else Within names.
type Unit struct {
	Joint, Procedure string
	Value            Value // the unit
	Joints, Revised  int64
	benchmark.Share

	// Within are the fields within whose words revisions are expected, beside joint
	// and procedure: the age band, and of sex, diagnosis and activity those that the
	// table has and of which each stratum with a revision still has joints of
	// [FewestInStratum] units.
	Within []string

	// Drawn is the ratio drawn towards that of all units ([monitor.Shrink]), NaN
	// where fewer than [monitor.FewestUnits] have revisions expected. It takes counts
	// for Poisson, though given the department's they are binomial, so that its
	// limits are somewhat wider than need be.
	Drawn monitor.Estimate
}

// FewestInStratum is the number of units that a stratum keeps if revisions are to be
// expected within one field more: with two, one unit's excess is the other's deficit.
const FewestInStratum = 3

// mostInStrata is the number of units up to which it is asked whether strata can be
// made finer.
const mostInStrata = 200

// Finer are the fields, beside the age band, within which revisions are expected of
// units if strata then keep enough of these, in the order in which they are taken. A
// cohort keeps them for it (cohort.Options.Keep).
func Finer() []string { return []string{"sex", "diagnosis", column.Activity} }

// ErrNoUnits: the audit is grouped by no column of units.
var ErrNoUnits = errors.New("expected from one's own department needs grouping by a column of units, such as surgeon or hospital")

// departments sets the units of each field that no series can state beside their
// department. Joints whose unit is not recorded are part of it and are no unit to be
// read: they are listed as the others are.
func (r *run) departments(c Source) error {
	fields := slices.DeleteFunc(r.audit.unstatable(), func(f string) bool { return f == OperationYear || slices.Contains(Finer(), f) })
	if len(fields) == 0 {
		return ErrNoUnits
	}
	for _, field := range fields {
		base := []string{field}
		if slices.Contains(c.Fields(), column.AgeBand) {
			base = append(base, column.AgeBand)
		}
		by := slices.Clone(base)
		if words, err := c.Values(field); err == nil && len(words) <= mostInStrata {
			by = append(by, slices.DeleteFunc(Finer(), func(f string) bool { return !c.HasColumn(f) || !c.Groupable(f) })...)
		}
		groups, err := c.Tally(by, r.options.Endpoint)
		if _, many := errors.AsType[*cohort.TooManyGroupsError](err); many {
			by = base
			groups, err = c.Tally(by, r.options.Endpoint)
		}
		if err != nil {
			return err
		}
		if err := r.department(groups, by, len(base)); err != nil {
			return err
		}
	}
	return nil
}

// department is that of one field, the first of by: for each joint and procedure,
// units within as many of the other fields as may be, but for the first ones always.
func (r *run) department(groups *cohort.Groups, by []string, always int) error {
	whole, err := groups.Set.Collapse("joint", "procedure")
	if err != nil {
		return err
	}
	for _, key := range whole.Keys() {
		kind := kindOfUnits{joint: key.Level(0), procedure: key.Level(1)}
		within := by[:always:always]
		if err := kind.collapse(groups.Set, within); err != nil {
			return err
		}
		for _, f := range by[always:] {
			next := kind
			if err := next.collapse(groups.Set, append(slices.Clone(within), f)); err != nil {
				return err
			}
			if next.keeps(FewestInStratum) {
				kind, within = next, append(within, f)
			}
		}
		r.units(&kind, by[0], within[1:])
	}
	return nil
}

// kindOfUnits are the units of one joint and procedure, by strata.
type kindOfUnits struct {
	joint, procedure int
	set              *tally.Set
	units            []int                   // levels, in order
	strata           []map[int]*tally.Counts // by unit
}

// collapse makes strata of the fields after the first, which is the units'.
func (k *kindOfUnits) collapse(set *tally.Set, fields []string) (err error) {
	if k.set, err = set.Collapse(append([]string{"joint", "procedure"}, fields...)...); err != nil {
		return err
	}
	k.units, k.strata = nil, nil
	at := make(map[tally.Key]int)
	for key, counts := range k.set.All() {
		if key.Level(0) != k.joint || key.Level(1) != k.procedure {
			continue
		}
		var levels []int
		for i := 3; i < key.Len(); i++ {
			levels = append(levels, key.Level(i))
		}
		stratum := tally.NewKey(levels...)
		if _, there := at[stratum]; !there {
			at[stratum] = len(k.strata)
			k.strata = append(k.strata, make(map[int]*tally.Counts))
		}
		k.strata[at[stratum]][key.Level(2)] = counts
		if !slices.Contains(k.units, key.Level(2)) {
			k.units = append(k.units, key.Level(2))
		}
	}
	slices.Sort(k.units)
	return nil
}

// keeps says whether each stratum with a revision has so many units.
func (k *kindOfUnits) keeps(units int) bool {
	for _, stratum := range k.strata {
		revised := int64(0)
		for _, counts := range stratum {
			revised += counts.Total(cohort.CauseRevision)
		}
		if revised > 0 && len(stratum) < units {
			return false
		}
	}
	return true
}

// units adds the units of one joint and procedure to the audit.
func (r *run) units(k *kindOfUnits, field string, within []string) {
	tables := make([][]*survival.Table, len(k.strata))
	units := make([]*Unit, len(k.units))
	for i, u := range k.units {
		units[i] = &Unit{Joint: k.set.Dimensions[0].Levels[k.joint], Procedure: k.set.Dimensions[1].Levels[k.procedure],
			Value: Value{Field: field, Word: k.set.Dimensions[2].Levels[u]}, Within: within}
	}
	for s, stratum := range k.strata {
		tables[s] = make([]*survival.Table, len(k.units))
		for i, u := range k.units {
			if counts := stratum[u]; counts != nil {
				tables[s][i] = counts.Table()
				units[i].Joints += counts.Subjects()
				units[i].Revised += counts.Total(cohort.CauseRevision)
			}
		}
	}
	for i, share := range benchmark.FromDepartment(tables, cohort.CauseRevision, r.level()) {
		units[i].Share = share
	}
	draw(units, r.level())
	r.audit.Department = append(r.audit.Department, units...)
}

// draw draws the units' ratios towards that of all, those of joints whose unit is not
// recorded apart.
func draw(units []*Unit, level float64) {
	var counts []monitor.Count
	var of []*Unit
	for _, u := range units {
		u.Drawn = monitor.Estimate{Ratio: math.NaN(), Lower: math.NaN(), Upper: math.NaN()}
		if u.Value.Word != cohort.NotRecorded && !math.IsNaN(u.Ratio) {
			of, counts = append(of, u), append(counts, monitor.Count{Observed: int(u.Observed), Expected: u.Expected})
		}
	}
	if len(of) > mostInStrata {
		return
	}
	drawn, err := monitor.Shrink(counts, level)
	if err != nil { // too few units, or no revision: nothing is drawn anywhere
		return
	}
	for i, e := range drawn.Units {
		of[i].Drawn = e
	}
}

// FewestForRatio is how many revisions a department has at least if a unit's ratio is to be shown
// (common practice, no source): with fewer, counts are.
const FewestForRatio = 10

// Shown says that a unit's ratio is worth showing, in a table or as a point.
func (u *Unit) Shown() bool { return !math.IsNaN(u.Ratio) && u.Department >= FewestForRatio }

// ByChance is how often chance alone puts a unit outside what is usual; 0 where nothing
// is expected.
func (u *Unit) ByChance() float64 {
	least, most, ok := u.Usual()
	if !ok {
		return 0
	}
	b := distuv.Binomial{N: u.Department, P: u.Expected / u.Department}
	below := 0.0
	if least > 0 {
		below = b.CDF(least - 1)
	}
	return below + 1 - b.CDF(most)
}

// Outside says on which side of what is usual a unit's revisions are: 1 for more, −1 for
// fewer, 0 for neither.
func (u *Unit) Outside() int {
	switch least, most, ok := u.Usual(); {
	case !ok:
		return 0
	case u.Observed > most:
		return 1
	case u.Observed < least:
		return -1
	}
	return 0
}

// Finds is the chance that a unit of this size, revised at so many times the others'
// rate, has more revisions than is usual: of D revisions in the department each is
// then the unit's with odds ratio·w/(1−w), w = E/D. It is NaN where nothing is expected.
func (u *Unit) Finds(ratio float64) float64 {
	_, most, ok := u.Usual()
	if !ok {
		return math.NaN()
	}
	w := u.Expected / u.Department
	odds := float64(ratio*w) / (1 - w)
	return 1 - distuv.Binomial{N: u.Department, P: odds / (1 + odds)}.CDF(most)
}

// record is a unit as a row of the comparisons, in which what is published is
// empty.
func (u *Unit) record(like record) record {
	var own record
	own.text("joint", u.Joint)
	own.text("procedure", u.Procedure)
	own.text(u.Value.Field, u.Value.Word)
	own.number("joints", float64(u.Joints))
	own.number("revised", float64(u.Revised))
	own.text("source", "own department")
	own.text("origin", "department")
	own.number("level", u.Level)
	own.number("observed", u.Observed)
	own.number("expected", u.Expected)
	own.number("joints_counted", float64(u.Joints))
	own.number("ratio", u.Ratio)
	own.number("ratio_lower", u.Lower)
	own.number("ratio_upper", u.Upper)
	r := like.with(own)
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

// Called is an audit whose units of a field have other words, as letters instead of
// names, in the order of these. What asks about names is left out.
func (a *Audit) Called(field string, words map[string]string) *Audit {
	b := *a
	b.Names = slices.DeleteFunc(slices.Clone(a.Names), func(q cohort.NameQuestion) bool { return q.Column == field })
	b.Department = nil
	for _, u := range a.Department {
		other := *u
		if word, ok := words[u.Value.Word]; ok && u.Value.Field == field {
			other.Value.Word = word
		}
		b.Department = append(b.Department, &other)
	}
	for at := 0; at < len(b.Department); {
		n := 1
		like := func(u *Unit) bool {
			first := b.Department[at]
			return u.Joint == first.Joint && u.Procedure == first.Procedure && u.Value.Field == first.Value.Field
		}
		for at+n < len(b.Department) && like(b.Department[at+n]) {
			n++
		}
		if b.Department[at].Value.Field == field {
			slices.SortStableFunc(b.Department[at:at+n], func(x, y *Unit) int { return compareLetters(x.Value.Word, y.Value.Word) })
		}
		at += n
	}
	return &b
}

// compareLetters orders A to Z, then AA, AB and so on, and what is not recorded last.
func compareLetters(x, y string) int {
	last := func(s string) int {
		if s == cohort.NotRecorded {
			return 1
		}
		return 0
	}
	return cmp.Or(cmp.Compare(last(x), last(y)), cmp.Compare(len(x), len(y)), cmp.Compare(x, y))
}
