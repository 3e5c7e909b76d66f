package survival

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// Estimand says what a curve estimates: one minus Kaplan–Meier, or the
// cumulative incidence (Aalen–Johansen). The two are never compared with each
// other.
type Estimand uint8

const (
	// OneMinusKaplanMeier is the proportion that would have had the event by t
	// if no other cause could remove a subject first: other causes censor.
	OneMinusKaplanMeier Estimand = iota
	// Incidence is the proportion that has had the event by t where other
	// causes do remove subjects: the cumulative incidence (Aalen–Johansen), see
	// CumulativeIncidence.
	Incidence
)

func (e Estimand) String() string {
	switch e {
	case OneMinusKaplanMeier:
		return "1-KM"
	case Incidence:
		return "cumulative incidence"
	}
	return fmt.Sprintf("Estimand(%d)", uint8(e))
}

// Variance names the formula of a standard error.
type Variance uint8

const (
	// Greenwood is the delta-method variance of the product-limit estimators:
	// Greenwood (1926) for Kaplan–Meier, Marubini & Valsecchi (1995) for the
	// cumulative incidence.
	Greenwood Variance = iota
	// InfinitesimalJackknife sums the squared influence of each subject, or of
	// each cluster.
	InfinitesimalJackknife
)

func (v Variance) String() string {
	switch v {
	case Greenwood:
		return "Greenwood variance"
	case InfinitesimalJackknife:
		return "infinitesimal jackknife variance"
	}
	return fmt.Sprintf("Variance(%d)", uint8(v))
}

// Curve is an estimated cumulative incidence: a right-continuous step function
// that is 0 before Time[0].
type Curve struct {
	Estimand  Estimand
	Cause     int       // the cause estimated, 1 to K
	Variance  Variance  // the formula of SE
	Time      []float64 // times at which the cause has events, increasing
	Incidence []float64 // proportion that has had the event by Time[i]
	SE        []float64 // standard error of Incidence[i]

	rows   rows      // copied from the table, which may change
	events []float64 // events of the cause up to Time[i]
	end    float64   // last exit
	any    bool      // somebody left observation
}

// rows is what a curve keeps of its table. For Kaplan–Meier every cause but its
// own is censoring.
type rows struct {
	time, atRisk []float64
	own          []float64 // events of the cause
	all          []float64 // events of every cause
	others       []float64 // events of other causes so far; nil if there are none
	seen         []float64 // at risk, over the proportion no other cause had removed before
}

// competing are the events of other causes up to a row.
func (r *rows) competing(i int) float64 {
	if r.others == nil {
		return 0
	}
	return r.others[i]
}

func newRows(room *Room, t *Table, cause int, e Estimand) rows {
	n, columns := len(t.Time), 6
	if e == OneMinusKaplanMeier || len(t.Event) == 1 { // nobody is removed by another
		columns = 3
	}
	column := room.Floats(columns * n)
	next := func() []float64 {
		c := column[:n:n]
		column = column[n:]
		return c
	}
	r := rows{time: next(), atRisk: next(), own: next()}
	copy(r.time, t.Time)
	copy(r.atRisk, t.AtRisk)
	copy(r.own, t.Event[cause-1])
	if columns == 3 {
		r.all, r.seen = r.own, r.atRisk
		return r
	}
	r.all, r.others, r.seen = next(), next(), next()
	others, free, seen := 0.0, 1.0, 0.0
	for i, at := range r.atRisk {
		all := 0.0
		for k, e := range t.Event {
			all += e[i]
			if k != cause-1 {
				others += e[i]
			}
		}
		r.all[i] = all
		// Once nobody is free of other events, those who enter late can't be either.
		if free > 0 {
			seen = at / free
		}
		r.others[i], r.seen[i] = others, seen
		if left := at - r.own[i]; r.all[i] > r.own[i] && left > 0 {
			free = float64(free * (max(0, at-r.all[i]) / left))
		}
	}
	return r
}

// upTo is the number of rows with times up to x.
func (r *rows) upTo(x float64) int {
	i := r.from(x)
	if i < len(r.time) && r.time[i] == x {
		i++
	}
	return i
}

// from is the first row of time x or later, or the number of rows.
func (r *rows) from(x float64) int { return sort.SearchFloat64s(r.time, x) }

// seenTo is the number seen to x without an event of the cause: at risk at x less
// its events of x, so that somebody closed exactly at x is among them. For the
// incidence it is divided by the proportion that no other cause has removed: as
// many as there would be had none been. While the cause has no event that is
//
//	(n − d)/S(x) = n/S(x−)
//
// with S the proportion free of every event and d those of x.
//
// Here i is the first row of time x or later.
func (c *Curve) seenTo(x float64, i int) float64 {
	r := &c.rows
	switch {
	case i == len(r.time):
		return 0
	case r.time[i] > x || r.own[i] == 0:
		return r.seen[i]
	}
	return r.seen[i] - float64(r.seen[i]/r.atRisk[i]*r.own[i])
}

// ErrWeighted is returned by estimators whose variance can't be had from a
// table of sampling weights.
var ErrWeighted = errors.New("survival: a table of sampling weights has no Greenwood variance; use Robust on the sample")

// KaplanMeier estimates 1 − S(t), the proportion that would have had an event
// of the cause by t if nothing else removed anybody: events of other causes
// are censored.
//
//	S(t) = ∏_{t_i ≤ t} (1 − d_i/n_i)
//	var S(t) = S(t)² · Σ_{t_i ≤ t} d_i/(n_i(n_i − d_i))
//
// carried forward step by step, so that nothing is divided by n_i − d_i: at
// the time when everybody left has the event, S and its error are 0. An empty
// table gives a curve without a value anywhere. Errors wrap [ErrTable] or are
// [ErrWeighted].
//
// Kaplan & Meier, JASA 1958;53:457; Greenwood, Reports on Public Health and
// Medical Subjects 33, 1926.
func KaplanMeier(t *Table, cause int) (*Curve, error) {
	if err := t.usable(cause); err != nil {
		return nil, err
	}
	return productLimit(t, cause, OneMinusKaplanMeier), nil
}

// CumulativeIncidence estimates F_k(t), the proportion that has had an event
// of the cause by t while the other causes remove subjects too
// (Aalen–Johansen):
//
//	F_k(t) = Σ_{t_i ≤ t} S(t_i−)·d_ki/n_i
//
// with S the proportion free of every event. The variance is the delta-method
// variance that is Greenwood's when there is one cause (Marubini & Valsecchi,
// Analysing Survival Data, 1995; Choudhury, Stat Med 2002;21:1129); the
// standard error may fall at the end of a curve. With late entry the formula
// is the same and the risk sets are those of the table. Without events of
// other causes estimate and error equal KaplanMeier's to the bit. Errors wrap
// [ErrTable] or are [ErrWeighted].
//
// Aalen & Johansen, Scand J Stat 1978;5:141.
func CumulativeIncidence(t *Table, cause int) (*Curve, error) {
	if err := t.usable(cause); err != nil {
		return nil, err
	}
	return productLimit(t, cause, Incidence), nil
}

// Both are the curves of [KaplanMeier] and of [CumulativeIncidence], to the bit, and their
// errors. The two take up less than if each were made by itself, and less again in a room: nil
// for none.
func Both(room *Room, t *Table, cause int) (kaplanMeier, incidence *Curve, err error) {
	if err := t.usable(cause); err != nil {
		return nil, nil, err
	}
	r := newRows(room, t, cause, Incidence)
	alone := rows{time: r.time, atRisk: r.atRisk, own: r.own, all: r.own, seen: r.atRisk}
	return alone.productLimit(room, t, cause, OneMinusKaplanMeier), r.productLimit(room, t, cause, Incidence), nil
}

func (t *Table) usable(cause int) error {
	if err := t.Check(); err != nil {
		return err
	}
	if t.Weighted {
		return ErrWeighted
	}
	return t.hasCause(cause)
}

func (t *Table) hasCause(cause int) error {
	if cause < 1 || cause > len(t.Event) {
		return fmt.Errorf("%w: no cause %d among %d", ErrTable, cause, len(t.Event))
	}
	return nil
}

func productLimit(t *Table, cause int, e Estimand) *Curve {
	r := newRows(nil, t, cause, e)
	return r.productLimit(nil, t, cause, e)
}

// productLimit is the one core of both estimators, for the rows of a table.
func (r *rows) productLimit(room *Room, t *Table, cause int, e Estimand) *Curve {
	steps := 0
	for _, d := range r.own {
		if d > 0 {
			steps++
		}
	}
	c := newCurve(room, t, cause, e, *r, steps)

	p := pass{s: 1}
	own, atRisk := r.own[:len(r.all)], r.atRisk[:len(r.all)]
	for i, d := range r.all {
		if d == 0 {
			continue
		}
		dk := own[i]
		p.step(atRisk[i], dk, d)
		if dk > 0 {
			c.append(r.time[i], p.f, math.Sqrt(max(0, p.w)), dk)
		}
	}
	return c
}

// newCurve has room for the given number of steps.
func newCurve(room *Room, t *Table, cause int, e Estimand, r rows, steps int) *Curve {
	all := room.Floats(4 * steps)
	column := func(i int) []float64 { return all[i*steps : i*steps : (i+1)*steps] }
	c := &Curve{Estimand: e, Cause: cause, Time: column(0), Incidence: column(1), SE: column(2), events: column(3), rows: r}
	c.end, c.any = t.LastExit()
	return c
}

// append adds a step at which dk events of the cause happened.
func (c *Curve) append(at, incidence, se, dk float64) {
	if n := len(c.events); n > 0 {
		dk += c.events[n-1]
	}
	c.Time = append(c.Time, at)
	c.Incidence = append(c.Incidence, incidence)
	c.SE = append(c.SE, se)
	c.events = append(c.events, dk)
}

// pass carries the estimates and their variances forward over the times:
//
//	a = d_k/n,  q = 1 − d/n
//	W ← W + 2a·C + a²·V + S²·d_k(n−d_k)/n³
//	C ← q·(C + a·V) − S²·d_k(n−d)/n³
//	F ← F + S·a
//	V ← q²·V + S²·d(n−d)/n³
//	S ← q·S
//
// with V = var S, C = cov(S, F), W = var F. Until another cause has an event,
// F is 1 − S, so W = V and C = −V, which is exact where everybody fails.
type pass struct {
	s, f, v, c, w float64
	competing     bool
}

func (p *pass) step(n, dk, d float64) {
	if dk < d {
		p.competing = true
	}
	a := dk / n
	q := (n - d) / n
	s2 := float64(p.s * p.s)
	n3 := float64(float64(n*n) * n)
	if p.competing {
		ownVar := float64(s2*float64(dk*(n-dk))) / n3
		p.w += float64(2*float64(a*p.c)) + float64(float64(a*a)*p.v) + ownVar
		cross := float64(s2*float64(dk*(n-d))) / n3
		p.c = float64(q*(p.c+float64(a*p.v))) - cross
	}
	p.f = min(1, p.f+float64(p.s*a))
	p.v = float64(float64(q*q)*p.v) + float64(s2*float64(d*(n-d)))/n3
	p.s = float64(q * p.s)
	if !p.competing {
		p.w, p.c = p.v, -p.v
		if p.s == 0 {
			p.f = 1 // rounding may have left it just below
		}
	}
}

// Point is one reading of a curve.
type Point struct {
	Time     float64
	Estimate float64 // proportion with the event by Time
	SE       float64 // standard error of Estimate
	Lower    float64 // confidence limits; NaN where the notes say so
	Upper    float64
	Level    float64 // confidence level of the limits
	Method   Method  // how the limits were made
	AtRisk   float64 // at risk at Time
	// SeenTo is the number seen to Time without the event: at risk at Time less its
	// events of Time; for the incidence, over the proportion that no other cause
	// has removed. On so many rest the limits where there is no event.
	SeenTo    float64
	Events    float64 // events of the cause so far, those at Time included
	Competing float64 // events of other causes so far; 0 for Kaplan–Meier
	Notes     Note
}

// Survival is the complement of a point: the proportion still free of the
// event, with the limits swapped.
func (p Point) Survival() Point {
	p.Estimate, p.Lower, p.Upper = 1-p.Estimate, 1-p.Upper, 1-p.Lower
	return p
}

// index of the last step at or before x; −1 before the first.
func (c *Curve) index(x float64) int {
	return sort.Search(len(c.Time), func(i int) bool { return c.Time[i] > x }) - 1
}

// LastExit is the end of observation, beyond which nothing is estimated; false
// for an empty curve.
func (c *Curve) LastExit() (float64, bool) { return c.end, c.any }

// At reads the curve at time x. It is false, and the point's numbers are NaN,
// beyond the last exit, for an empty table and for NaN. At panics if iv is
// invalid, see [Interval.Check].
//
// Where the cause has had no event yet, the limits are 0 and 1 − (α/2)^(1/Y)
// with Y of [Point.SeenTo], whatever the method, with the note [NoEvents]. Where
// everybody has failed the limits are the beta product's, with the note
// [EverybodyFailed]. With the infinitesimal jackknife neither is available, nor
// is the beta product: the limits are NaN, with the note [LimitsUndefined].
func (c *Curve) At(x float64, iv Interval) (Point, bool) {
	r := c.Reader(iv)
	return r.At(x)
}

// Reader reads a curve at several times as [Curve.At] does, to the bit, and makes no limits
// anew where it can do without. It is not safe for several goroutines.
type Reader struct {
	c  *Curve
	iv Interval
	to momentsTo // the beta product's, as far as the curve was read
	x  float64   // to this time

	estimate, se float64 // of the last limits
	lower, upper float64 // that hang on nothing else
}

// Reader reads the curve with some intervals. It panics if iv is invalid.
func (c *Curve) Reader(iv Interval) *Reader {
	return &Reader{c: c, iv: iv.withDefaults(), to: momentsTo{c: c}, x: math.Inf(-1)}
}

// At reads the curve at time x.
func (r *Reader) At(x float64) (Point, bool) {
	c, iv := r.c, r.iv
	if !c.any || !(x <= c.end) {
		nan := math.NaN()
		return Point{Time: x, Estimate: nan, SE: nan, Lower: nan, Upper: nan, Level: iv.Level, Method: iv.methodFor(c.Estimand)}, false
	}
	if x < r.x {
		r.to = momentsTo{c: c}
	}
	r.x = x
	p := Point{Time: x, Level: iv.Level, Method: iv.methodFor(c.Estimand)}
	if i := c.index(x); i >= 0 {
		p.Estimate, p.SE, p.Events = c.Incidence[i], c.SE[i], c.events[i]
	}
	i := c.rows.from(x)
	p.SeenTo = c.seenTo(x, i)
	if i < len(c.rows.time) {
		p.AtRisk = c.rows.atRisk[i]
		if c.rows.time[i] == x {
			i++
		}
	}
	if i > 0 {
		p.Competing = c.rows.competing(i - 1)
	}
	if p.Method != iv.Method {
		p.Notes |= OtherMethod
	}
	if p.AtRisk < iv.MinAtRisk {
		p.Notes |= FewAtRisk
	}
	if n := len(c.Time); n > 0 && x == c.end && c.Time[n-1] == c.end {
		p.Notes |= LastIsEvent
	}
	r.setLimits(&p)
	return p, true
}

// setLimits fills in the limits of a point.
func (r *Reader) setLimits(p *Point) {
	c, alpha2 := r.c, tail(r.iv.Level)
	// The incidence also stays 0 if events of the cause come only after all at
	// risk have had another event: late entry allows it.
	none, all := p.Estimate == 0, p.Estimate == 1
	if p.Events == 0 {
		p.Notes |= NoEvents
	}
	if all {
		p.Notes |= EverybodyFailed
	}
	switch exact := none || all || p.Method == BetaProduct; {
	case exact && c.Variance == InfinitesimalJackknife:
		p.Lower, p.Upper = math.NaN(), math.NaN()
		p.Notes |= LimitsUndefined
		return
	case none:
		p.Lower, p.Upper = noEventLimits(p.SeenTo, alpha2)
	case exact:
		p.Method = BetaProduct
		p.Lower, p.Upper = r.to.limits(p.Time, alpha2)
	default:
		if p.Estimate != r.estimate || p.SE != r.se {
			r.estimate, r.se = p.Estimate, p.SE
			r.lower, r.upper = normalLimits(p.Method, c.Estimand, p.Estimate, p.SE, normalQuantile(1-alpha2))
		}
		p.Lower, p.Upper = r.lower, r.upper
	}
	p.Lower = math.Max(0, math.Min(p.Lower, p.Estimate))
	p.Upper = math.Min(1, math.Max(p.Upper, p.Estimate))
}

// Quantile is the time by which a proportion P has had the event.
type Quantile struct {
	P     float64
	Time  float64
	Lower float64 // confidence limits of Time; +Inf where not reached, NaN where the curve has none
	Upper float64
	Level float64
}

// Quantile is the first time at which the curve reaches p, with limits found
// where the curve's own pointwise limits reach p (Brookmeyer & Crowley,
// Biometrics 1982;38:29). Where a curve stands at p exactly over an interval of
// time, the middle of that interval is taken, as is usual for a median; equal
// means within 1e-9. It is false if the curve never reaches p. It panics if p
// is not between 0 and 1 or iv is invalid.
func (c *Curve) Quantile(p float64, iv Interval) (Quantile, bool) {
	if !(p > 0 && p < 1) {
		panic("survival: a quantile's proportion must lie between 0 and 1")
	}
	iv = iv.withDefaults()
	n := len(c.Time)
	lower, upper := make([]float64, n), make([]float64, n)
	r := c.Reader(iv)
	for i, at := range c.Time {
		pt, _ := r.At(at)
		lower[i], upper[i] = pt.Lower, pt.Upper
	}
	q := Quantile{P: p, Level: iv.Level}
	var ok bool
	q.Time, ok = c.reaches(p, c.Incidence)
	q.Lower, _ = c.reaches(p, upper)
	q.Upper, _ = c.reaches(p, lower)
	return q, ok
}

// reaches is the time at which the step function y over c.Time reaches p.
func (c *Curve) reaches(p float64, y []float64) (float64, bool) {
	const equal = 1e-9
	i := 0
	for i < len(y) && y[i] < p-equal {
		i++
	}
	switch {
	case i == len(y):
		return math.Inf(1), false
	case math.IsNaN(y[i]): // limits undefined from here on, or everywhere
		return y[i], false
	}
	j := i
	for j < len(y) && y[j] < p+equal {
		j++
	}
	until := c.end
	if j < len(y) {
		until = c.Time[j]
	}
	if j == i {
		return c.Time[i], true
	}
	return (c.Time[i] + until) / 2, true
}
