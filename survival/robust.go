package survival

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// Robust estimates a curve from the sample itself, with the infinitesimal
// jackknife variance: the sum over clusters (over subjects, without clusters)
// of the squared influence of the cluster on the estimate,
//
//	var F_k(t) = Σ_c (Σ_{i in c} w_i·∂F_k(t)/∂w_i)²
//
// It is the variance to use with sampling weights, and with joints of one
// patient as a cluster. The estimate is that of [KaplanMeier] or
// [CumulativeIncidence] on the weighted table; numbers at risk and of events
// are sums of weights. Readings of the curve have no limits where those would
// be exact ones: see [Curve.At]. Without weights, clusters and late entry the
// variance equals Greenwood's.
//
// It takes O(n log n). Errors are as for [NewTable], or wrap [ErrTable] if there
// is no such cause.
//
// Therneau & Grambsch, Modeling Survival Data, 2000, ch. 2; influence written
// with the hazards a = d_k/n, h = d/n of the weighted table: a subject at risk
// since e has ∂S/∂w = S·(A(t) − A(e)), A(t) = Σ d/(n(n−d)), less S/(n−d) from
// its own event on; F_k follows by differentiating F_k(t) = Σ S(t_i−)·a.
func Robust(s Sample, causes, cause int, e Estimand) (*Curve, error) {
	if err := s.Check(causes); err != nil {
		return nil, err
	}
	tableCause := cause
	if e == OneMinusKaplanMeier && cause >= 1 && cause <= causes {
		s.Cause, causes, tableCause = only(s.Cause, cause), 1, 1
	}
	t, err := NewTable(s, causes)
	if err != nil {
		return nil, err
	}
	if err := t.hasCause(tableCause); err != nil {
		return nil, err
	}

	inf, exits, entries := newInfluence(s), order(s, func(i int) float64 { return s.Exit[i] }), s.late()
	for _, i := range exits {
		if math.IsInf(s.entry(i), -1) {
			inf.add(i, s.weight(i), line{b: 1})
		}
	}
	ahead := stillToCome(t, tableCause)
	c := newCurve(nil, t, tableCause, e, newRows(nil, t, tableCause, e), 0)
	c.Cause, c.Variance = cause, InfinitesimalJackknife
	p := pass{s: 1}
	var a, b float64                                    // A(t), B(t) = Σ S(t_i−)·(d_k/n)·(A(t_i−) − 1/n)
	start := slices.Repeat([]line{{b: 1}}, len(s.Exit)) // what each subject was at risk with
	for i, at := range t.Time {
		n, d := t.AtRisk[i], 0.0
		for _, ev := range t.Event {
			d += ev[i]
		}
		dk := t.Event[tableCause-1][i]
		before, own, loss := p.s, 0.0, 0.0
		if d > 0 {
			d = math.Min(d, n)
			own = before / n
			b += float64(float64(before*(dk/n)) * (a - 1/n))
			p.step(n, dk, d)
			if n > d {
				a += d / float64(n*(n-d))
				loss = 1 / (n - d)
			}
		}
		for ; len(exits) > 0 && s.Exit[exits[0]] == at; exits = exits[1:] {
			j := exits[0]
			w := s.weight(j)
			now := start[j].at(-ahead[i], b)
			u := a + start[j].f // A(t) − A(e)
			if s.Cause[j] != 0 {
				u -= loss
			}
			if s.Cause[j] == tableCause {
				now += own
			}
			inf.add(j, -w, start[j])
			inf.add(j, w, line{one: now + float64(u*ahead[i]), f: u})
		}
		for ; len(entries) > 0 && s.Entry[entries[0]] == at; entries = entries[1:] {
			j := entries[0]
			start[j] = line{one: -float64(a*ahead[i]) - b, f: -a, b: 1}
			inf.add(j, s.weight(j), start[j])
		}
		if dk > 0 {
			variance := inf.variance(-ahead[i], b)
			if p.f == 1 {
				variance = 0 // everybody failed, whatever the weights
			}
			c.append(at, p.f, math.Sqrt(math.Max(0, variance)), dk)
		}
	}
	return c, nil
}

// only makes one cause the first, and censors at all others.
func only(causes []int, cause int) []int {
	one := make([]int, len(causes))
	for i, c := range causes {
		if c == cause {
			one[i] = 1
		}
	}
	return one
}

// stillToCome is F at the end less F(t), for each time of the table. The lines
// below are written in F less its end: late in a curve, where S is small, their
// slopes are large, and would lose all digits against F itself.
func stillToCome(t *Table, cause int) []float64 {
	steps := make([]float64, len(t.Time))
	s := 1.0
	for i, n := range t.AtRisk {
		d := 0.0
		for _, e := range t.Event {
			d += e[i]
		}
		if d > 0 {
			d = math.Min(d, n)
			steps[i] = float64(s * (t.Event[cause-1][i] / n))
			s = float64(s * ((n - d) / n))
		}
	}
	total := 0.0
	for i := len(steps) - 1; i >= 0; i-- {
		steps[i], total = total, total+steps[i]
	}
	return steps
}

// order lists the rows of weight above 0 by the given time, ties so that the
// order of the rows does not matter.
func order(s Sample, time func(int) float64) []int {
	var rows []int
	for i := range s.Exit {
		if s.weight(i) > 0 {
			rows = append(rows, i)
		}
	}
	cluster := func(i int) int {
		if s.Cluster == nil {
			return 0
		}
		return s.Cluster[i]
	}
	slices.SortFunc(rows, func(i, j int) int {
		return cmp.Or(cmp.Compare(time(i), time(j)), cmp.Compare(s.Cause[i], s.Cause[j]),
			cmp.Compare(s.weight(i), s.weight(j)), cmp.Compare(s.entry(i), s.entry(j)),
			cmp.Compare(s.Exit[i], s.Exit[j]), cmp.Compare(cluster(i), cluster(j)))
	})
	return rows
}

// late lists the rows that enter late, in the order of entry.
func (s Sample) late() []int {
	if s.Entry == nil {
		return nil
	}
	rows := order(s, s.entry)
	return rows[sort.Search(len(rows), func(j int) bool { return !math.IsInf(s.entry(rows[j]), -1) }):]
}

// line is an influence as it stands between two changes of a subject's state:
// one + f·(F(t) − F(end)) + b·B(t), which holds for all t until the next change.
type line struct{ one, f, b float64 }

func (l line) at(f, b float64) float64 { return l.one + float64(l.f*f) + float64(l.b*b) }

// influence sums the squares of the clusters' lines, which are again
// a quadratic form in 1, F and B.
type influence struct {
	cluster []int // of each row; nil: the row itself
	lines   []line
	squares [6]sum
}

func newInfluence(s Sample) *influence {
	inf := &influence{lines: make([]line, len(s.Exit))}
	if s.Cluster != nil {
		inf.cluster = make([]int, len(s.Cluster))
		number := make(map[int]int)
		for i, c := range s.Cluster {
			if _, ok := number[c]; !ok {
				number[c] = len(number)
			}
			inf.cluster[i] = number[c]
		}
	}
	return inf
}

// add adds w times a line to the cluster of row i.
func (inf *influence) add(i int, w float64, l line) {
	if inf.cluster != nil {
		i = inf.cluster[i]
	}
	c := &inf.lines[i]
	inf.square(-1, *c)
	c.one += float64(w * l.one)
	c.f += float64(w * l.f)
	c.b += float64(w * l.b)
	inf.square(1, *c)
}

func (inf *influence) square(sign float64, l line) {
	for k, v := range [6]float64{l.one * l.one, l.f * l.f, l.b * l.b, l.one * l.f, l.one * l.b, l.f * l.b} {
		inf.squares[k].add(float64(sign * v))
	}
}

func (inf *influence) variance(f, b float64) float64 {
	q := &inf.squares
	var v sum
	v.add(q[0].value())
	v.add(float64(q[1].value() * float64(f*f)))
	v.add(float64(q[2].value() * float64(b*b)))
	v.add(float64(2 * float64(q[3].value()*f)))
	v.add(float64(2 * float64(q[4].value()*b)))
	v.add(float64(2 * float64(q[5].value()*float64(f*b))))
	return v.value()
}
