package audit

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// part is one joint and procedure while it is shared.
type part struct {
	from   []*Group
	years  []float64
	groups []Group

	// The times of atRisk are the years backwards, then 0, the day of operation;
	// those of revised are the years, then the end of all follow-up.
	atRisk, revised, died, other *sheet

	fields   [][]int                      // the groups of each field
	observed map[*benchmark.Series]*sheet // revisions observed over complete intervals
}

// part shares the groups of one joint and procedure. Of each kind of count they
// are one sheet. The groups of all fields at once are left out: each would be an
// equation in two more ways.
func (r *sharer) part(all []Group) *part {
	p := &part{}
	for i := range all {
		if all[i].Pooling == Cell {
			r.sharing.Groups++
			r.sharing.Rows += len(all[i].Rows)
			continue
		}
		p.from = append(p.from, &all[i])
	}
	if len(p.from) == 0 {
		return p
	}
	r.reorder(p.from)
	p.commonYears()
	p.sheets(r.further)
	for i := range p.from {
		p.groups = append(p.groups, r.group(p, i))
	}
	return p
}

// reorder puts the groups whose words are numbered in the order of the numbers,
// in the places that they have.
func (r *sharer) reorder(groups []*Group) {
	for start := 0; start < len(groups); start++ {
		field := groups[start].Field()
		var places []int
		for i := start; i < len(groups) && groups[i].Field() == field; i++ {
			if groups[i].Pooling == OneField && !kept(field, groups[i].Word(field)) {
				places = append(places, i)
			}
		}
		numbered := make([]*Group, len(places))
		for n, i := range places {
			numbered[n] = groups[i]
		}
		slices.SortFunc(numbered, func(a, b *Group) int {
			return slices.Index(r.words[field], a.Word(field)) - slices.Index(r.words[field], b.Word(field))
		})
		for n, i := range places {
			groups[i] = numbered[n]
		}
		for start+1 < len(groups) && groups[start+1].Field() == field {
			start++
		}
	}
}

// commonYears are the whole years that every group has a row of.
func (p *part) commonYears() {
	n := make(map[float64]int)
	for _, g := range p.from {
		for _, row := range g.Rows {
			if row.Years == math.Trunc(row.Years) {
				n[row.Years]++
			}
		}
	}
	for y, k := range n {
		if k == len(p.from) {
			p.years = append(p.years, y)
		}
	}
	slices.Sort(p.years)
}

// row is a group's row at one of the common years.
func (p *part) row(g *Group, year int) *Row {
	return &g.Rows[slices.IndexFunc(g.Rows, func(r Row) bool { return r.Years == p.years[year] })]
}

// sheets hides counts, those of joints first.
func (p *part) sheets(further bool) {
	var fields [][]int
	for i, g := range p.from {
		if g.Pooling != OneField {
			continue
		}
		if last := i - 1; len(fields) > 0 && p.from[last].Pooling == OneField && p.from[last].Field() == g.Field() {
			fields[len(fields)-1] = append(fields[len(fields)-1], i)
		} else {
			fields = append(fields, []int{i})
		}
	}
	var atRisk, revised, died, other [][]int64
	reached := make([]int, len(p.from))
	for i, g := range p.from {
		n, e := make([]int64, len(p.years)+1), make([]int64, len(p.years)+1)
		n[len(p.years)], e[len(p.years)] = g.Joints, g.Revised
		for y := range p.years {
			e[y] = g.Revised // nobody is followed that long
			if row := p.row(g, y); row.Reached {
				reached[i] = y + 1
				n[len(p.years)-1-y], e[y] = int64(row.KaplanMeier.AtRisk), int64(row.KaplanMeier.Events)
			}
		}
		atRisk, revised = append(atRisk, n), append(revised, e)
		died, other = append(died, []int64{g.Died}), append(other, []int64{g.Other})
	}
	p.fields = fields
	p.atRisk = newSheet(atRisk, fields)
	p.atRisk.hide(further)
	p.revised, p.died, p.other = newSheet(revised, fields), newSheet(died, fields), newSheet(other, fields)
	for i, g := range p.from {
		p.revised.settled[i] = reached[i]
		if !p.atRisk.hidden[i][len(p.years)] {
			for _, s := range []*sheet{p.revised, p.died, p.other} {
				s.most[i] = g.Joints
			}
		}
	}
	for _, s := range []*sheet{p.revised, p.died, p.other} {
		s.hide(further)
	}
}

var nan = math.NaN()

// group is the i-th group of a part as it is shared.
func (r *sharer) group(p *part, i int) Group {
	from, end := p.from[i], len(p.years)
	g := Group{Pooling: from.Pooling, Patients: -1, ImplantYears: nan, Rate: survival.Rate{Rate: nan, Lower: nan, Upper: nan, Level: from.Rate.Level}}
	for _, v := range from.Values {
		if !v.All {
			v.Word = r.word(v.Field, v.Word)
		}
		g.Values = append(g.Values, v)
	}
	g.Joints, g.Revised = r.count(p.atRisk, i, end), r.count(p.revised, i, end)
	g.Died, g.Other = r.count(p.died, i, 0), r.count(p.other, i, 0)
	if from.Patients >= 0 {
		switch {
		case small(from.Patients):
			g.Patients = Suppressed
			r.sharing.Small++
		case g.Joints == Suppressed:
			g.Patients = Suppressed
			r.sharing.Further++
		default:
			g.Patients = rounded(from.Patients)
			r.sharing.Rounded++
		}
	}
	if g.Joints != Suppressed {
		g.ImplantYears = math.Round(from.ImplantYears/roundTo) * roundTo
		if g.Revised != Suppressed && g.ImplantYears > 0 {
			g.Rate = survival.NewRate(float64(g.Revised), g.ImplantYears, 100, from.Rate.Level)
		}
	}
	for y := range p.years {
		g.Rows = append(g.Rows, r.row(p, i, y, &g))
	}
	r.sharing.Rows += len(from.Rows) - len(g.Rows)
	for _, ratio := range from.Ratios {
		g.Ratios = append(g.Ratios, r.ratio(p, i, &g, ratio))
	}
	return g
}

// row is the i-th group at a year as it is shared.
func (r *sharer) row(p *part, i, y int, g *Group) Row {
	from := p.row(p.from[i], y)
	time := len(p.years) - 1 - y
	row := Row{Years: from.Years, Requested: from.Requested, Reached: from.Reached, IncidenceEmpty: from.IncidenceEmpty}
	if !from.Reached && !p.atRisk.hidden[i][time] {
		row.KaplanMeier, row.Incidence = from.KaplanMeier, from.Incidence
		row.Beside = r.beside(from, g, r.notReached)
		for _, c := range from.Thresholds {
			row.Thresholds = append(row.Thresholds, r.notReached(c))
		}
		row.Notes = slices.Clone(from.Notes)
		row.Shown = from.Shown
		return row
	}
	if !from.Reached { // that nobody was followed so long is hidden
		row.Reached, row.IncidenceEmpty = true, !r.from.Deaths.Recorded
	}
	n := r.count(p.atRisk, i, time)
	e := r.count(p.revised, i, y)
	open := from.Reached && g.Joints != Suppressed && n != Suppressed && e != Suppressed
	point := func(from survival.Point, estimand survival.Estimand) survival.Point {
		q := survival.Point{Time: from.Time, Level: from.Level, Method: from.Method, AtRisk: float(n), Events: float(e),
			Estimate: nan, SE: nan, Lower: nan, Upper: nan, Competing: nan}
		if !open {
			r.sharing.Estimates++
			return q
		}
		r.sharing.Kept++
		estimate(&q, from, estimand, float64(g.Joints), float64(n))
		if q.AtRisk < r.from.Floor() {
			q.Notes |= survival.FewAtRisk
		}
		return q
	}
	row.KaplanMeier = point(from.KaplanMeier, survival.OneMinusKaplanMeier)
	if !row.IncidenceEmpty {
		row.Incidence = point(from.Incidence, survival.Incidence)
	}
	row.show(r.from.Floor())
	row.note(row.KaplanMeier.Notes.Codes()...)
	if !open {
		row.note(NoteHidden)
	}
	if slices.Contains(from.Notes, NoteNoDeaths) {
		row.note(NoteNoDeaths)
	}
	row.Beside = r.beside(from, g, func(c *benchmark.Comparison) *benchmark.Comparison { return r.comparison(c, &row) })
	for _, b := range row.Beside {
		row.note(b.Comparison.Notes.Codes()...)
	}
	for _, c := range from.Thresholds {
		row.Thresholds = append(row.Thresholds, r.comparison(c, &row))
	}
	return row
}

// beside are the figures read at a row as they are shared: their own joints are
// the group's. Other figures are of joints that are not shown, and left out.
func (r *sharer) beside(from *Row, g *Group, shared func(*benchmark.Comparison) *benchmark.Comparison) []*Beside {
	var to []*Beside
	for _, b := range from.Beside {
		if !b.Read() {
			continue
		}
		to = append(to, &Beside{Series: r.published(b.Series), Figure: figureShared(b.Figure), Joint: b.Joint, Procedure: b.Procedure,
			Joints: g.Joints, Revised: g.Revised, NotRecorded: Suppressed, Match: b.Match, Assumed: b.Assumed,
			Comparison: shared(b.Comparison), ReadWith: b.ReadWith, Together: b.Together, First: b.First})
	}
	return to
}

// float is a count as a number: NaN where it is hidden.
func float(n int64) float64 {
	if n == Suppressed {
		return nan
	}
	return float64(n)
}

// estimate rounds an estimate to a step worth five joints, and makes its limits
// from what is shared alone: the rounded estimate p and the effective number
// n* = p(1−p)/SE², rounded to the nearest 5 like a count. Rounding the limits of
// the exact numbers would not do: each of three numbers would have its own
// place at which one more revision moves it to the next step, and together they
// could tell the number revised. The lower limit is rounded down to the step,
// the upper one up.
func estimate(q *survival.Point, from survival.Point, estimand survival.Estimand, joints, atRisk float64) {
	steps := joints / roundTo
	switch {
	case q.Events == 0:
		q.Notes |= survival.NoEvents
		q.Estimate, q.Lower = 0, 0
		q.Upper = upwards(1-math.Pow((1-q.Level)/2, 1/atRisk), steps)
		return
	default:
		q.Estimate = math.Min(1, math.Max(1, math.Round(from.Estimate*steps))/steps)
	}
	if q.Estimate == 1 {
		q.Notes |= survival.EverybodyFailed
		l, _ := survival.BinomialLimits(atRisk, atRisk, q.Level)
		q.Lower, q.Upper = downwards(l, steps), 1
		return
	}
	number := joints
	if v := from.SE * from.SE; v > 0 {
		number = math.Min(joints, math.Round(from.Estimate*(1-from.Estimate)/v/roundTo)*roundTo)
	}
	number = math.Max(roundTo, number)
	l, u := limits(q.Estimate, number, q.Level, q.Method, estimand)
	q.Lower, q.Upper = downwards(math.Max(0, l), steps), upwards(math.Min(1, u), steps)
}

// Rounding to a step of which there are so many in 1. A limit that stands on a
// step already stays there.
func downwards(x, steps float64) float64 { return math.Max(0, math.Floor(x*steps+1e-9)/steps) }
func upwards(x, steps float64) float64   { return math.Min(1, math.Ceil(x*steps-1e-9)/steps) }

// limits are those of a proportion p of n, by the method of the audit.
func limits(p, n, level float64, method survival.Method, estimand survival.Estimand) (lower, upper float64) {
	z := distuv.UnitNormal.Quantile((1 + level) / 2)
	se := math.Sqrt(p * (1 - p) / n)
	switch s := 1 - p; method {
	case survival.BetaProduct:
		return survival.BinomialLimits(p*n, n, level)
	case survival.Plain:
		return p - z*se, p + z*se
	case survival.Log:
		return 1 - s*math.Exp(z*se/s), 1 - s*math.Exp(-z*se/s)
	default:
		if estimand == survival.Incidence {
			k := z * se / (p * -math.Log(p))
			return math.Pow(p, math.Exp(k)), math.Pow(p, math.Exp(-k))
		}
		k := z * se / (s * -math.Log(s))
		return 1 - math.Pow(s, math.Exp(-k)), 1 - math.Pow(s, math.Exp(k))
	}
}

// notReached is a comparison without an own value.
func (r *sharer) notReached(c *benchmark.Comparison) *benchmark.Comparison {
	if c == nil {
		return nil
	}
	to := *c
	to.Series, to.Figure = r.published(c.Series), figureShared(c.Figure)
	return &to
}

// comparison is made anew from the row's rounded estimate. The reading stays,
// where the estimate does.
func (r *sharer) comparison(from *benchmark.Comparison, row *Row) *benchmark.Comparison {
	c := r.notReached(from)
	c.Own, c.Reached, c.NearTheLine = row.KaplanMeier, true, false
	if own, _ := from.Series.Estimand.Own(); own == survival.Incidence {
		c.Own = row.Incidence
		if row.IncidenceEmpty {
			return r.notReached(from)
		}
	}
	c.Difference, c.DifferenceLower, c.DifferenceUpper = nan, nan, nan
	c.Basis = benchmark.Basis{Lower: nan, Upper: nan, Level: from.Basis.Level, EffectiveNumber: nan, SeenTo: nan}
	const published = benchmark.LimitsRounded | benchmark.RoundingOnly | benchmark.ErrorUnknown | benchmark.LeastError | benchmark.MadeFromAtRisk
	if math.IsNaN(c.Own.Estimate) {
		c.Reading, c.Notes = benchmark.TooFew, from.Notes&published
		return c
	}
	c.Notes = from.Notes & (published | benchmark.OtherLevel | benchmark.ZeroNotBelow | benchmark.ReachesZero | benchmark.FewerThanTen | benchmark.OwnLimitsUndefined)
	f := c.Figure
	c.Difference = c.Own.Estimate - f.Revision
	if math.IsNaN(from.DifferenceLower) {
		return c
	}
	lower, upper := f.Revision, f.Revision
	if f.HasLimits() {
		lower, upper = f.Lower, f.Upper
	}
	_, c.DifferenceLower, c.DifferenceUpper = benchmark.MOVER(c.Own.Estimate, c.Own.Lower, c.Own.Upper, f.Revision, lower, upper)
	if above, below := c.DifferenceLower > 0, c.DifferenceUpper < 0; above != (c.Reading == benchmark.Above) || below != (c.Reading == benchmark.Below) {
		c.NearTheLine = true
		c.Notes |= benchmark.NearTheLine
	}
	return c
}

// ratio is observed and expected as they are shared. Observed counts of one
// series are hidden and rounded as other counts are, and with the number revised.
// Expected is rounded to a step worth five joints followed to the end.
func (r *sharer) ratio(p *part, i int, g *Group, from *benchmark.Ratio) *benchmark.Ratio {
	e := &benchmark.Ratio{Observed: nan, Expected: nan, ToYears: from.ToYears, Ratio: nan, Lower: nan, Upper: nan,
		Joints: Suppressed, Without: Suppressed, Revised: Suppressed, InPeriod: Suppressed,
		Interpolation: from.Interpolation, Points: from.Points, Sides: from.Sides, Level: from.Level, Series: r.published(from.Series)}
	f, ok := from.Series.At(from.ToYears)
	if !ok || g.Joints == Suppressed {
		return e
	}
	if step := -roundTo * math.Log1p(-f.Revision); step > 0 {
		e.Expected = math.Round(from.Expected/step) * step
	}
	observed := p.observedOf(from.Series, r.further)
	if observed.hidden[i][0] || g.Revised == Suppressed {
		return e
	}
	e.Observed = float64(rounded(int64(from.Observed)))
	if e.Expected > 0 {
		lower, upper := survival.PoissonLimits(e.Observed, e.Level)
		e.Ratio, e.Lower, e.Upper = e.Observed/e.Expected, lower/e.Expected, upper/e.Expected
	}
	return e
}

// observedOf is the sheet of a series' observed counts. Of a field of which a
// group has none, they add up to nothing that is shown.
func (p *part) observedOf(s *benchmark.Series, further bool) *sheet {
	if known := p.observed[s]; known != nil {
		return known
	}
	value := make([][]int64, len(p.from))
	has := make([]bool, len(p.from))
	for i, g := range p.from {
		value[i] = []int64{0}
		for _, ratio := range g.Ratios {
			if ratio.Series == s {
				value[i][0], has[i] = int64(ratio.Observed), true
			}
		}
	}
	var fields [][]int
	for _, groups := range p.fields {
		if has[0] && !slices.ContainsFunc(groups, func(i int) bool { return !has[i] }) {
			fields = append(fields, groups)
		}
	}
	counts := newSheet(value, fields)
	counts.hide(further)
	if p.observed == nil {
		p.observed = make(map[*benchmark.Series]*sheet)
	}
	p.observed[s] = counts
	return counts
}
