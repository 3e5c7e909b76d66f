package exchange

import (
	"fmt"
	"iter"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/survival/tally"
)

// Pool is tallies of several places together. It gives the counts that a cohort of all
// their rows would, except that patients are the sum over places: a patient of two is
// counted twice, and a joint that two have is two. It is a source of audits
// (audit.Source).
type Pool struct {
	tallies []*Tally
	header  header // what all have alike
	about   cohort.About
	cells   *tally.Set
}

// NewPool pools tallies. An [*cohort.OptionError] names the first thing in which two of
// them differ and must not.
func NewPool(tallies ...*Tally) (*Pool, error) {
	if len(tallies) == 0 {
		return nil, refused("no tally to pool")
	}
	p := &Pool{tallies: tallies, header: tallies[0].header}
	first := tallies[0]
	var all []*tally.Set
	for i, t := range tallies {
		if d := first.header.differs(&t.header); d != "" {
			return nil, refused("%s and %s can't be pooled: they differ in the %s", first.Name, t.Name, d)
		}
		about, err := t.header.about(t.Name)
		if err != nil {
			return nil, err
		}
		site := cohort.Site{Name: t.Name, Tables: t.header.Tables, Account: about.Account, Deaths: about.Deaths.Add(cohort.Deaths{Column: true})}
		if i == 0 {
			p.about = about
			p.about.Deaths = p.about.Deaths.Add(cohort.Deaths{Column: true})
		} else {
			if t.header.Checksum != "" && slices.ContainsFunc(tallies[:i], func(o *Tally) bool { return o.header.Checksum == t.header.Checksum }) {
				return nil, refused("%s is the same tally as one before it: its joints would be counted twice", t.Name)
			}
			p.add(about)
		}
		p.about.Sites = append(p.about.Sites, site)
		for _, f := range t.header.Has {
			if !slices.Contains(p.header.Has, f) {
				p.header.Has = append(slices.Clip(p.header.Has), f)
			}
		}
		all = append(all, t.cells)
	}
	if len(p.about.Deaths.Without) == len(tallies) { // none has deaths: nothing sets these apart
		p.about.Deaths.Without = nil
	}
	p.about.Notes = []string{"From tallies, without rows: a patient of two of them is counted in each, and a joint that two have is two joints."}
	var err error
	if p.cells, err = p.header.order(all...); err != nil {
		return nil, err
	}
	p.about.Coarsened, err = p.coarseSaid()
	return p, err
}

func (p *Pool) add(o cohort.About) {
	a := &p.about
	a.Files = append(a.Files, o.Files...)
	a.Account = a.Account.Add(o.Account)
	a.Deaths = a.Deaths.Add(o.Deaths)
	a.DeathList = a.DeathList.Add(o.DeathList)
	a.Revisions = cohort.Account{Unjoined: a.Revisions}.Add(cohort.Account{Unjoined: o.Revisions}).Unjoined
}

// About is what is known of the tables as wholes.
func (p *Pool) About() cohort.About { return p.about }

// By are the fields that the tallies are grouped by.
func (p *Pool) By() []string { return slices.Clone(p.header.By) }

// NameQuestions asks nothing: names that may be one are asked about where the rows are.
func (p *Pool) NameQuestions() []cohort.NameQuestion { return nil }

// Fields lists what the joints can be grouped by, but joint and procedure.
func (p *Pool) Fields() []string {
	var names []string
	for _, f := range p.header.dimensionNames() {
		switch {
		case f == cohort.AtomAge, f == cohort.AtomReach, f == "joint", f == "procedure":
		case f == column.OperationYear || p.HasColumn(f):
			names = append(names, f)
		}
	}
	if p.header.AgesAs == "years" {
		names = append(names, column.AgeBand)
	}
	return names
}

// HasColumn says whether a table has a column that the tallies know of.
func (p *Pool) HasColumn(name string) bool {
	counted := name == "age" || name == "patient" || name == column.AgeBand || p.dimension(name) >= 0
	return counted && (slices.Contains(p.header.Has, name) || name == "joint" || name == "procedure")
}

// Groupable says whether the joints can be grouped by a field.
func (p *Pool) Groupable(field string) bool { return slices.Contains(p.Fields(), field) }

// Values lists the words of a field that joints have, in order.
func (p *Pool) Values(field string) ([]string, error) {
	set, err := p.count([]string{field}, cohort.Endpoint{Reasons: p.header.Reasons}, false)
	if err != nil {
		return nil, err
	}
	var words []string
	for _, key := range set.Keys() {
		words = append(words, set.Dimensions[0].Levels[key.Level(0)])
	}
	return words, nil
}

// Field is the field that a name stands for. An [*cohort.UnknownFieldError] says that
// the name is none.
func (p *Pool) Field(name string) (string, error) {
	fields := append([]string{"joint", "procedure"}, p.Fields()...)
	if f, ok := column.Named(fields, name); ok {
		return f, nil
	}
	if m := column.Heading(name); m.Column != "" {
		if f, ok := column.Named(fields, m.Column); ok {
			return f, nil
		}
	}
	return "", &cohort.UnknownFieldError{Wanted: name, Known: fields[2:]}
}

// Lacks says what the tallies lack to part their joints at some ages and years of
// possible follow-up; "" for nothing.
func (p *Pool) Lacks(ages []int, years []float64) string {
	var lacks []string
	for _, a := range ages {
		if p.header.AgesAs != "bands" && !slices.Contains(p.header.Ages, a) {
			lacks = append(lacks, fmt.Sprintf("at age %d", a))
		}
	}
	for _, y := range years {
		if !slices.Contains(p.header.Years, y) {
			lacks = append(lacks, fmt.Sprintf("at %v years of possible follow-up", y))
		}
	}
	if len(lacks) == 0 {
		return ""
	}
	return "the tallies don't part joints " + strings.Join(lacks, " and ") + ": they were made without these figures"
}

// Tally counts the joints by joint, procedure and the named fields, as
// [cohort.Cohort.Tally] does.
func (p *Pool) Tally(by []string, e cohort.Endpoint) (*cohort.Groups, error) {
	names := []string{"joint", "procedure"}
	for _, wanted := range by {
		name, err := p.Field(wanted)
		if err != nil {
			return nil, err
		}
		if slices.Contains(names, name) {
			return nil, refused("column %q is named twice, or separates the audit anyway", wanted)
		}
		names = append(names, name)
	}
	set, err := p.count(names, e, false)
	if err != nil {
		return nil, err
	}
	known, err := p.count(names[:2], e, true)
	if err != nil {
		return nil, err
	}
	return cohort.NewGroups(set, known, p.patients), nil
}

// Joints gives each joint with its follow-up and its words in the fields named, as
// [cohort.Cohort.Joints] does, but in the order of the cells, and without what tells one
// from another: row, patient, operation and age are not known, and Possible is a bound
// below: the last of the tallies' years that the closing date reaches, or the days
// followed if they are more.
func (p *Pool) Joints(e cohort.Endpoint, fields ...string) (iter.Seq[cohort.Joint], error) {
	reach := p.reach(p.header.Years)
	views := []view{reach}
	for _, wanted := range fields {
		name, err := p.Field(wanted)
		if err != nil {
			return nil, err
		}
		v, err := p.view(name)
		if err != nil {
			return nil, err
		}
		views = append(views, v)
	}
	if err := p.counts(e); err != nil {
		return nil, err
	}
	return func(yield func(cohort.Joint) bool) {
		for key, counts := range p.cells.All() {
			j := cohort.Joint{Patient: -1, Age: -1}
			for _, v := range views[1:] {
				j.Values = append(j.Values, v.Levels[v.to[key.Level(v.from)]])
			}
			possible := 0
			if l := key.Level(reach.from); l > 0 {
				possible = int(cohort.DayOfYear(p.header.Years[l-1]))
			}
			for x := range counts.Exits() {
				j.Days, j.End = int(x.Day), cohort.End(x.Cause)
				j.Cause, j.Possible, j.Assumed = j.End.Cause(), max(possible, j.Days), j.End == cohort.EndAssumed
				if j.End == cohort.EndLost && e.LostRevised {
					j.Cause = cohort.CauseRevision
				}
				for range x.Subjects {
					if !yield(j) {
						return
					}
				}
			}
		}
	}, nil
}

// Longest is the longest that a joint could have been followed, as
// [cohort.Cohort.Longest].
func (p *Pool) Longest() (map[[2]string]int, error) {
	all := make(map[[2]string]int)
	for _, t := range p.tallies {
		for _, l := range t.header.Longest {
			of := [2]string{l.Joint, l.Procedure}
			all[of] = max(all[of], l.Days)
		}
	}
	return all, nil
}

// Atoms counts as [cohort.Cohort.Atoms] does, at ages and years that the tallies have:
// see [Pool.Lacks].
func (p *Pool) Atoms(ages []int, years []float64, by []string, e cohort.Endpoint) (*tally.Set, error) {
	if lacks := p.Lacks(ages, years); lacks != "" {
		return nil, refused("%s", lacks)
	}
	var views []view
	for _, name := range slices.Concat(fixed, by) {
		switch name {
		case cohort.AtomAge:
			views = append(views, p.ages(name, cohort.AgeBands(ages)))
		case cohort.AtomReach:
			views = append(views, p.reach(years))
		default:
			v, err := p.view(name)
			if err != nil {
				return nil, err
			}
			views = append(views, v)
		}
	}
	return p.regroup(views, e, false)
}

func (p *Pool) count(names []string, e cohort.Endpoint, assumedOut bool) (*tally.Set, error) {
	var views []view
	for _, name := range names {
		v, err := p.view(name)
		if err != nil {
			return nil, err
		}
		views = append(views, v)
	}
	return p.regroup(views, e, assumedOut)
}

// view is a dimension made from one of the cells: to gives its level for each of that.
type view struct {
	tally.Dimension
	from int
	to   []int
}

// view is a field as it stands in the cells, or the age band of ages.
func (p *Pool) view(name string) (view, error) {
	at := p.dimension(name)
	switch {
	case at >= 0:
		v := view{Dimension: p.cells.Dimensions[at], from: at}
		for l := range v.Levels {
			v.to = append(v.to, l)
		}
		return v, nil
	case name == column.AgeBand && p.header.AgesAs != "none":
		return p.ages(name, p.about.AgeBands), nil
	}
	return view{}, &cohort.UnknownFieldError{Wanted: name, Known: p.Fields()}
}

func (p *Pool) dimension(name string) int {
	return slices.IndexFunc(p.cells.Dimensions, func(d tally.Dimension) bool { return d.Name == name })
}

// ages are the cells' ages in bands, whose bounds are among theirs.
func (p *Pool) ages(name string, bands []cohort.AgeBand) view {
	v := view{Dimension: tally.Dimension{Name: name}, from: p.dimension(cohort.AtomAge)}
	for _, b := range bands {
		v.Levels = append(v.Levels, b.String())
	}
	v.Levels = append(v.Levels, cohort.NotRecorded)
	for _, of := range cohort.AgeBands(p.header.Ages) {
		v.to = append(v.to, slices.IndexFunc(bands, func(b cohort.AgeBand) bool { return of.From >= b.From && (b.To == 0 || of.To != 0 && of.To <= b.To) }))
	}
	v.to = append(v.to, len(bands))
	return v
}

// reach is how many of some of the cells' years the closing date reaches.
func (p *Pool) reach(years []float64) view {
	v := view{Dimension: tally.Dimension{Name: cohort.AtomReach, Levels: []string{"0"}}, from: p.dimension(cohort.AtomReach), to: []int{0}}
	for _, y := range years {
		v.Levels = append(v.Levels, yearText(y))
	}
	for _, y := range p.header.Years {
		n, exact := slices.BinarySearch(years, y)
		if exact {
			n++
		}
		v.to = append(v.to, n)
	}
	return v
}

// regroup counts the cells by some views of their dimensions, follow-up ended as an
// endpoint has it; with assumedOut the joints whose follow-up is assumed are censored on
// the day of the operation.
func (p *Pool) regroup(views []view, e cohort.Endpoint, assumedOut bool) (*tally.Set, error) {
	if err := p.counts(e); err != nil {
		return nil, err
	}
	causes := []string{e.String(), cohort.EndDeath.String()}
	if len(e.Reasons) > 0 {
		causes = append(causes, "revision for another reason")
	}
	return p.ended(views, causes, func(end cohort.End, day int32) (int, int32) {
		switch {
		case end == cohort.EndLost && e.LostRevised:
			return cohort.CauseRevision, day
		case end == cohort.EndAssumed && assumedOut:
			day = 0
		}
		return end.Cause(), day
	})
}

// ended counts the cells by some views of their dimensions: as gives the cause and the
// day for how follow-up ended and when.
func (p *Pool) ended(views []view, causes []string, as func(end cohort.End, day int32) (int, int32)) (*tally.Set, error) {
	var dimensions []tally.Dimension
	for _, v := range views {
		dimensions = append(dimensions, v.Dimension)
	}
	set := tally.NewSet(dimensions, causes)
	levels := make([]int, len(views))
	for key, counts := range p.cells.All() {
		for i, v := range views {
			levels[i] = v.to[key.Level(v.from)]
		}
		to := set.Group(tally.NewKey(levels...))
		for x := range counts.Exits() {
			x.Cause, x.Day = as(cohort.End(x.Cause), x.Day)
			if err := to.AddExit(x); err != nil {
				return nil, err
			}
		}
	}
	return set, nil
}

// counts refuses an endpoint that is not the tallies'.
func (p *Pool) counts(e cohort.Endpoint) error {
	if reasons := slices.Sorted(slices.Values(e.Reasons)); !slices.Equal(reasons, p.header.Reasons) {
		return refused("the tallies count %s, and can't count %s: that is settled when a tally is made", p.header.Endpoint, e)
	}
	return nil
}

// patients adds up the patients of a margin over the tallies; nil if one of them did
// not count them so, or names none.
func (p *Pool) patients(keep []string, of *tally.Set) map[tally.Key]int64 {
	sum := make(map[string]int64)
	for _, t := range p.tallies {
		i := slices.IndexFunc(t.header.Patients, func(m margin) bool { return sameFields(m.Fields, keep) })
		if i < 0 {
			return nil
		}
		m := t.header.Patients[i]
		for _, g := range m.Groups {
			sum[wordsKey(m.Fields, g.Words)] += g.Patients
		}
	}
	patients := make(map[tally.Key]int64, of.Len())
	for _, key := range of.Keys() {
		var fields, words []string
		for i, d := range of.Dimensions {
			if l := key.Level(i); l != tally.All {
				fields, words = append(fields, d.Name), append(words, d.Levels[l])
			}
		}
		patients[key] = sum[wordsKey(fields, words)]
	}
	return patients
}

func sameFields(a, b []string) bool {
	return len(a) == len(b) && !slices.ContainsFunc(a, func(f string) bool { return !slices.Contains(b, f) })
}

// wordsKey tells groups of the same fields apart, in whichever order they are named.
func wordsKey(fields, words []string) string {
	var parts []string
	for i, f := range fields {
		parts = append(parts, f+"\x00"+words[i])
	}
	slices.Sort(parts)
	return strings.Join(parts, "\x01")
}
