package disclose

import (
	"cmp"
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// published is a copy of a series without where and when its values were seen.
func (r *sharer) published(s *benchmark.Series) *benchmark.Series {
	if s == nil {
		return nil
	}
	c, ok := r.series[s]
	if !ok {
		c = &benchmark.Series{Source: s.Source, Joint: s.Joint, Procedure: s.Procedure, Bearing: s.Bearing, Polyethylene: s.Polyethylene,
			Fixation: s.Fixation, Sex: s.Sex, Diagnosis: s.Diagnosis, Age: s.Age, Estimand: s.Estimand,
			Setting: s.Setting, Country: s.Country, Register: s.Register, Subset: s.Subset,
			PeriodFrom: s.PeriodFrom, PeriodTo: s.PeriodTo, Citation: s.Citation, User: s.User}
		for _, f := range s.Figures {
			c.Figures = append(c.Figures, unseen(f))
		}
		r.series[s] = c
	}
	return c
}

func unseen(f benchmark.Figure) benchmark.Figure {
	f.SeenAt, f.SeenOn = "", ""
	return f
}

// beside is a figure that is read, beside what is told of its own joints.
func (r *sharer) beside(b *audit.Beside, c *benchmark.Comparison) *audit.Beside {
	to := &audit.Beside{Series: r.published(b.Series), Figure: unseen(b.Figure), Joint: b.Joint, Procedure: b.Procedure,
		Match: b.Match, Assumed: b.Assumed, Comparison: c, ReadWith: b.ReadWith}
	for _, v := range b.Within {
		v.Word = r.names.word(v.Field, v.Word)
		to.Within = append(to.Within, v)
	}
	return to
}

// comparison sets what is told beside a figure. It reads above, below or compatible only where the least and
// the most that the numbers told can stand for do so too: nothing of the exact ones is in it.
func (r *sharer) comparison(from *benchmark.Comparison, own estimate) (*benchmark.Comparison, error) {
	s, f := r.published(from.Series), unseen(from.Figure)
	compare := func(curve *survival.Curve) (benchmark.Comparison, error) {
		if s.Estimand == benchmark.Threshold {
			return benchmark.CompareThreshold(curve, s, f, r.interval(), cohort.DayOfYear(f.Years))
		}
		return benchmark.Compare(curve, curve, s, f, r.interval(), cohort.DayOfYear(f.Years))
	}
	c, err := compare(own.curves[0])
	if err != nil || !c.Reached {
		return &c, err
	}
	c.NearTheLine, c.Own = false, own.point
	c.Notes &^= benchmark.NearTheLine
	for _, curve := range own.curves[1:] {
		other, err := compare(curve)
		if err != nil {
			return nil, err
		}
		if other.Reading != c.Reading {
			c.Reading = benchmark.TooFew
			c.Notes |= benchmark.OpenByRounding
		}
		c.Notes |= other.Notes & (benchmark.ZeroNotBelow | benchmark.FewerThanTen)
		c.Basis = other.Basis // in the end of the most revised, and the fewest at risk
	}
	c.Difference = c.Own.Estimate - f.Revision
	if math.IsNaN(c.DifferenceLower) {
		return &c, nil
	}
	lower, upper := f.Revision, f.Revision
	if f.HasLimits() {
		lower, upper = f.Lower, f.Upper
	}
	_, c.DifferenceLower, c.DifferenceUpper = benchmark.MOVER(c.Own.Estimate, c.Own.Lower, c.Own.Upper, f.Revision, lower, upper)
	if above, below := c.DifferenceLower > 0, c.DifferenceUpper < 0 && c.Notes&benchmark.ZeroNotBelow == 0; above != (c.Reading == benchmark.Above) || below != (c.Reading == benchmark.Below) {
		c.NearTheLine = true
		c.Notes |= benchmark.NearTheLine
	}
	return &c, nil
}

// kind is the own joints of published series, where they are no group.
type kind struct {
	figures []*audit.Beside
	years   []float64
}

// fewestLeftOut is how many joints a kind leaves out at least of those it is a part
// of, if it leaves out any: rounded, they are still 8 or more.
const fewestLeftOut = smallest + roundTo/2

// evidence adds the figures read beside a group that is told, and beside kinds of
// joints that can be, and counts the readings.
func (r *sharer) evidence() error {
	groups := make(map[*audit.Beside]*audit.Group)
	own := make(map[string]bool) // joints of groups, told or not
	for i := range r.from.Groups {
		g := &r.from.Groups[i]
		for _, row := range g.Rows() {
			for _, b := range row.Beside {
				own[b.OwnJoints()] = true
				if groups[b] == nil {
					groups[b] = r.told[g]
				}
			}
		}
	}
	var kinds []*kind
	byJoints := make(map[string]*kind)
	for _, b := range r.from.Beside {
		switch {
		case !b.Read() || !slices.Contains(r.from.Years, b.Figure.Years):
		case groups[b] != nil:
			r.besideGroup(b, groups[b])
		case own[b.OwnJoints()] || !r.apart(b):
		default:
			key := b.OwnJoints() + "\x00" + b.Series.Estimand.String()
			if byJoints[key] == nil {
				byJoints[key] = new(kind)
				kinds = append(kinds, byJoints[key])
			}
			byJoints[key].figures = append(byJoints[key].figures, b)
		}
	}
	for _, k := range kinds {
		if err := r.kind(k); err != nil {
			return err
		}
	}
	slices.SortStableFunc(r.to.Beside, func(a, b *audit.Beside) int { return cmp.Compare(a.ReadWith, b.ReadWith) })
	r.together()
	r.thresholds()
	return nil
}

// together reads what is told of the same joints, year and estimand together.
func (r *sharer) together() {
	for all := r.to.Beside; len(all) > 0; {
		n := 1
		for n < len(all) && all[n].ReadWith == all[0].ReadWith {
			n++
		}
		var comparisons []*benchmark.Comparison
		for _, b := range all[:n] {
			comparisons = append(comparisons, b.Comparison)
		}
		t := benchmark.ReadTogether(comparisons)
		for i, b := range all[:n] {
			b.Together, b.First = &t, i == 0
		}
		if t.Sides > 0 {
			r.to.Readings++
			r.to.ByChance += t.ByChance
		}
		all = all[n:]
	}
}

// besideGroup adds a figure that stands beside a group.
func (r *sharer) besideGroup(b *audit.Beside, g *audit.Group) {
	row := g.At(b.Figure.Years)
	for _, to := range row.Beside {
		if to.ReadWith == b.ReadWith && to.Series == r.published(b.Series) {
			to.Joints, to.Revised = g.Joints, g.Revised
			r.to.Beside = append(r.to.Beside, to)
		}
	}
}

// thresholds adds those that stand beside groups.
func (r *sharer) thresholds() {
	for i := range r.to.Groups {
		g := &r.to.Groups[i]
		for _, row := range g.Rows() {
			for _, c := range row.Thresholds {
				r.to.Beside = append(r.to.Beside, &audit.Beside{Series: c.Series, Figure: c.Figure, Joint: g.Word("joint"), Procedure: g.Word("procedure"),
					Joints: g.Joints, Revised: g.Revised, Match: audit.AThreshold, Comparison: c, Group: g.Values})
			}
		}
	}
}

// apart says whether the own joints of a figure, and those that they leave out of the
// joint and procedure, or of the group that they are within, can be told.
func (r *sharer) apart(b *audit.Beside) bool {
	far := func(whole int64) bool { return whole == b.Joints || whole-b.Joints >= fewestLeftOut }
	for _, p := range r.parts {
		if p.all.values[0].Word != b.Joint || p.all.values[1].Word != b.Procedure {
			continue
		}
		if p.none || b.Joints < smallest || !far(p.all.joints) {
			return false
		}
		for _, v := range b.Within {
			i := slices.IndexFunc(p.units(), func(u *unit) bool {
				return len(u.of) == 1 && u.of[0].Field() == v.Field && u.word(v.Field) == v.Word
			})
			if i < 0 || !far(p.units()[i].joints) {
				return false
			}
		}
		return true
	}
	return false
}

// kind adds the figures beside one kind of joints, all of whose counts are rounded.
func (r *sharer) kind(k *kind) error {
	byYear := make(map[float64]*benchmark.Comparison)
	for _, b := range k.figures {
		if y := b.Figure.Years; byYear[y] == nil {
			byYear[y] = b.Comparison
			k.years = append(k.years, y)
		}
	}
	slices.Sort(k.years)
	first := k.figures[0]
	t := &told{joints: rounded(first.Joints), revisedAll: rounded(first.Revised)}
	for _, y := range k.years {
		if c := byYear[y]; c.Reached {
			t.years = append(t.years, y)
			t.atRisk = append(t.atRisk, rounded(int64(c.Own.AtRisk)))
			t.revised = append(t.revised, rounded(int64(c.Own.Events)))
			t.others = append(t.others, rounded(int64(c.Own.Competing)))
		}
	}
	e, _ := first.Series.Estimand.Own()
	for _, b := range k.figures {
		var own estimate
		if i := slices.Index(t.years, b.Figure.Years); i >= 0 {
			var err error
			if own, err = t.estimate(i, e, r.interval()); err != nil {
				return err
			}
		}
		c, err := r.comparison(b.Comparison, own)
		if err != nil {
			return err
		}
		to := r.beside(b, c)
		to.Joints, to.Revised, to.NotRecorded = t.joints.Shown(), t.revisedAll.Shown(), rounded(b.NotRecorded).Shown()
		r.to.Beside = append(r.to.Beside, to)
	}
	return nil
}
