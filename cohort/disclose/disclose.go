package disclose

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// Run makes an audit of a cohort, or of what gives the counts of one, that is safe to leave the building, by the rules in
// the package documentation. Its years are the whole ones of those asked for. The groups of all fields at once
// and the worst case are left out. Units beside their own department are an error,
// and so are options that [audit.Run] refuses.
func Run(c audit.Source, o audit.Options) (*audit.Audit, error) { return run(c, o, true) }

// run is Run; without guarded, what the rounded numbers give away is not looked at.
func run(c audit.Source, o audit.Options, guarded bool) (*audit.Audit, error) {
	if o.ExpectedOwn {
		return nil, errors.New("units beside their own department give small counts away: they can't be made safe to share")
	}
	asked := o.Years
	if asked == nil {
		asked = audit.DefaultYears()
	}
	o.NoCells, o.WorstCase = true, false
	o.Years = slices.DeleteFunc(slices.Clone(asked), func(y float64) bool { return y != math.Trunc(y) })
	if len(o.Years) == 0 {
		o.Years = audit.DefaultYears()
	}
	a, err := audit.Run(c, o)
	if err != nil {
		return nil, err
	}
	r := &sharer{from: a, guarded: guarded, names: newNames(a), series: make(map[*benchmark.Series]*benchmark.Series)}
	return r.share()
}

// sharer is the state of one Run.
type sharer struct {
	from    *audit.Audit
	guarded bool
	to      *audit.Audit
	names   *names
	series  map[*benchmark.Series]*benchmark.Series
	told    map[*audit.Group]*audit.Group // what is told of a group, where it is told by itself
	parts   []*part
}

func (r *sharer) share() (*audit.Audit, error) {
	a := r.from
	r.told = make(map[*audit.Group]*audit.Group)
	r.to = &audit.Audit{
		Shared: &audit.Sharing{ClosingYear: a.Closing.Day.Year()},
		// The first of January stands for the year.
		Closing: cohort.Closing{Day: firstOf(a.Closing.Day), Asked: true, DeathsEnd: a.Closing.DeathsEnd},
		Deaths:  cohort.Deaths{Recorded: a.Deaths.Recorded, Column: a.Deaths.Column},

		LostAfter: a.LostAfter, By: slices.Clone(a.By), DroppedBy: slices.Clone(a.DroppedBy), Interval: a.Interval, Years: slices.Clone(a.Years), Sought: a.Sought,
		Scope: r.names.conditions(a.Scope), Assumed: r.names.conditions(a.Assumed),
	}
	for _, reason := range a.Endpoint.Reasons {
		r.to.Endpoint.Reasons = append(r.to.Endpoint.Reasons, r.names.word("revision_reason", reason))
	}
	for i, f := range a.Files {
		to := cohort.File{Name: fmt.Sprintf("table %d", i+1), Holds: f.Holds}
		if f.Invented() {
			to.Preamble = []string{"Invented data."} // whatever else it says of itself
		}
		r.to.Files = append(r.to.Files, to)
	}
	for _, groups := range r.byPart() {
		p := newPart(groups, a.Years, a.Deaths.Recorded)
		r.names.reorder(p)
		p.recode(r.guarded)
		r.parts = append(r.parts, p)
		if p.none {
			continue
		}
		for _, u := range p.units() {
			if err := r.group(p, u); err != nil {
				return nil, err
			}
		}
	}
	if err := r.evidence(); err != nil {
		return nil, err
	}
	r.to.Shared.Words = append([]string{"Made for sharing: " + strings.ToLower(r.done()[:1]) + r.done()[1:]}, r.recoded()...)
	r.to.Notes, r.to.Method, r.to.Cautions = r.notes(), r.method(), r.cautions()
	return r.to, nil
}

// byPart are the groups of each joint and procedure.
func (r *sharer) byPart() [][]*audit.Group {
	var parts [][]*audit.Group
	for i := range r.from.Groups {
		g := &r.from.Groups[i]
		if g.Pooling == audit.AllJoints {
			parts = append(parts, nil)
		}
		last := len(parts) - 1
		parts[last] = append(parts[last], g)
	}
	return parts
}

// newPart is one joint and procedure as it is counted: all joints, then each field's
// groups.
func newPart(groups []*audit.Group, years []float64, deaths bool) *part {
	p := &part{deaths: deaths}
	for _, y := range years {
		if r := groups[0].At(y); r != nil && r.Reached {
			p.years = append(p.years, y)
		}
	}
	p.all = newUnit(groups[0].Values, p.years, groups[0])
	p.none = small(p.all.joints)
	for _, g := range groups[1:] {
		if n := len(p.fields); n == 0 || p.fields[n-1].name != g.Field() {
			p.fields = append(p.fields, &field{name: g.Field()})
		}
		f := p.fields[len(p.fields)-1]
		f.units = append(f.units, newUnit(g.Values, p.years, g))
	}
	for _, f := range p.fields {
		f.ordered = inOrder(f.name, f.units)
	}
	return p
}

var nan = math.NaN()

// tell is what is told of a unit.
func (p *part) tellOf(u *unit) *told {
	t := &told{years: p.years, joints: rounded(u.joints), revisedAll: rounded(u.revised)}
	for y := range p.years {
		t.atRisk = append(t.atRisk, rounded(u.atRisk[y]))
		t.revised = append(t.revised, rounded(u.revisedBy[y]))
		t.others = append(t.others, rounded(u.othersBy[y]))
	}
	return t
}

// group adds a unit as it is told.
func (r *sharer) group(p *part, u *unit) error {
	t := p.tellOf(u)
	g := audit.Group{Pooling: u.of[0].Pooling, Joints: t.joints.Shown(), Patients: -1, Revised: t.revisedAll.Shown(),
		Died: rounded(u.died).Shown(), Other: rounded(u.otherwise).Shown()}
	step := stepOf(u.implantYears / float64(u.joints))
	g.ImplantYears = math.Round(u.implantYears/step) * step
	if len(u.of) > 1 {
		g.Joined = len(u.of)
	}
	for _, v := range u.values {
		if !v.All {
			v.Word = r.names.word(v.Field, v.Word)
		}
		g.Values = append(g.Values, v)
	}
	if u.patients >= 0 {
		g.Patients = rounded(u.patients).Shown()
	}
	g.Rate = rate(t.revisedAll, g.ImplantYears, step/2, r.level())
	single := u.of[0]
	if len(u.of) > 1 {
		single = nil
	}
	for _, y := range r.from.Years {
		row, err := r.row(t, single, y)
		if err != nil {
			return err
		}
		g.Kept = append(g.Kept, row)
	}
	g.Ratios = r.ratios(u, t, &g)
	r.to.Groups = append(r.to.Groups, g)
	if single != nil {
		// The pointer is to a copy, since the list may move.
		r.told[single] = &g
	}
	return nil
}

// row is what is told of a unit at a year; single is the group that it is, if it is
// one.
func (r *sharer) row(t *told, single *audit.Group, years float64) (row audit.Row, err error) {
	row = audit.Row{Years: years, Requested: slices.Contains(r.from.Years, years), IncidenceEmpty: true,
		KaplanMeier: survival.Point{Time: cohort.DayOfYear(years), Estimate: nan, SE: nan, Lower: nan, Upper: nan, Level: r.level(), Method: r.from.Interval.Method}}
	row.Incidence = row.KaplanMeier
	var km, incidence estimate
	if i := slices.Index(t.years, years); i >= 0 && t.atRisk[i].most > 0 {
		row.Reached, row.IncidenceEmpty = true, !r.from.Deaths.Recorded
		if km, incidence, err = t.row(i, !row.IncidenceEmpty, r.interval()); err != nil {
			return row, err
		}
		row.KaplanMeier, row.Incidence = km.point, incidence.point
		note(&row, (row.KaplanMeier.Notes &^ survival.OtherMethod).Codes()...)
		note(&row, audit.NoteRounded)
	} else {
		note(&row, audit.NoteBeyond)
	}
	if !r.from.Deaths.Recorded {
		note(&row, audit.NoteNoDeaths)
	}
	row.Show(r.from.Floor())
	if single == nil {
		return row, nil
	}
	from := single.At(years)
	for _, b := range from.Beside {
		if !b.Read() {
			continue
		}
		own := km
		if e, _ := b.Series.Estimand.Own(); e == survival.Incidence {
			own = incidence
		}
		c, err := r.comparison(b.Comparison, own)
		if err != nil {
			return row, err
		}
		row.Beside = append(row.Beside, r.beside(b, c))
		note(&row, c.Notes.Codes()...)
	}
	for _, x := range from.Thresholds {
		c, err := r.comparison(x, km)
		if err != nil {
			return row, err
		}
		row.Thresholds = append(row.Thresholds, c)
	}
	return row, nil
}

func note(row *audit.Row, codes ...string) {
	for _, code := range codes {
		if !slices.Contains(row.Notes, code) {
			row.Notes = append(row.Notes, code)
		}
	}
}

func (r *sharer) level() float64 { return r.from.Confidence() }

// interval is that of the audit, with its floor.
func (r *sharer) interval() survival.Interval {
	iv := r.from.Interval
	iv.Level, iv.MinAtRisk = r.level(), r.from.Floor()
	if iv.MinAtRisk == 0 {
		iv.MinAtRisk = -1
	}
	return iv
}

// ratios are observed and expected revisions of a unit, where all its groups have
// them: added up. Expected is made from what is told.
func (r *sharer) ratios(u *unit, t *told, g *audit.Group) []*benchmark.Ratio {
	var all []*benchmark.Ratio
	if len(u.of) > 1 {
		return nil // several groups are no unit
	}
	for _, from := range u.of[0].Ratios {
		e := &benchmark.Ratio{Expected: t.expected(from.Series, from.ToYears), ToYears: from.ToYears, Joints: rounded(from.Joints).Shown(),
			Revised: rounded(from.Revised).Shown(), InPeriod: rounded(from.InPeriod).Shown(),
			Interpolation: from.Interpolation, Points: from.Points, Level: from.Level, Series: r.published(from.Series)}
		e.Without = rounded(g.Joints - e.Joints).Shown()
		ratio(e, rounded(int64(from.Observed)))
		all = append(all, e)
	}
	return all
}
