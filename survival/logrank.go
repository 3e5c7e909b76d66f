package survival

import (
	"errors"
	"fmt"
	"math"

	"example.org/holdfast/survival/internal/symmetric"
	"gonum.org/v1/gonum/mathext"
)

// ChiSquare is a test statistic that has a χ² distribution if the hypothesis
// tested holds.
type ChiSquare struct {
	Value float64
	DF    int
	P     float64 // chance of a value as large or larger
}

// NewChiSquare is the test of a statistic with the given degrees of freedom. It
// panics below 1, and for a value that is below 0 or not finite.
func NewChiSquare(value float64, df int) ChiSquare {
	if df < 1 || !(value >= 0 && value <= math.MaxFloat64) {
		panic(fmt.Sprintf("survival: χ² of %v on %d degrees of freedom", value, df))
	}
	return ChiSquare{Value: value, DF: df, P: mathext.GammaIncRegComp(float64(df)/2, value/2)}
}

// Test is a comparison of groups over their whole follow-up.
type Test struct {
	Observed []float64   // events of each group, summed over strata
	Expected []float64   // of each group, if all had one event rate within each stratum
	Variance [][]float64 // of Observed − Expected

	// Set numbers, from 0, the sets of groups that were compared with one
	// another; −1 is a group that was at risk with no other when an event
	// happened. With more than one set, nothing is said about differences
	// between groups of different sets.
	Set  []int
	Sets int

	ChiSquare
	Trend *ChiSquare // of TestOptions.Scores; nil without
}

// TestOptions are the options of [LogRank] and [Gray].
type TestOptions struct {
	// Scores, one per group, add a test for trend with one degree of freedom.
	Scores []float64

	// Rho weights Gray's test by (1 − F)^Rho, F being the incidence so far in
	// all groups together. Above 0 it gives early events more weight. LogRank
	// takes 0 only.
	Rho float64
}

// Errors of [LogRank] and [Gray].
var (
	ErrNotCompared  = errors.New("survival: no two groups are at risk together when an event happens")
	ErrGroups       = errors.New("survival: want two groups or more, the same number in every stratum")
	ErrScores       = errors.New("survival: want one finite score for each group, not all alike")
	ErrTestLate     = errors.New("survival: Gray's test has no variance with late entry")
	ErrTestVariance = errors.New("survival: too few events for the variance of the test")
)

// LogRank tests whether groups have one event rate of a cause at every time;
// other causes are censored. strata[s][g] is the life table of group g in
// stratum s, nil where the group has nobody there; one stratum is the test
// without strata. Per stratum and time t, with n_g at risk and d_g events in
// group g, and n and d their sums:
//
//	E_g  = Σ d·n_g/n
//	V_gh = Σ d(n−d)/(n−1)·(n_g/n)(δ_gh − n_h/n), 0 where n = 1
//	χ²   = (O−E)′ V⁻ (O−E)
//
// O, E and V are summed over strata. The degrees of freedom are the rank of V:
// the number of groups less one for each set of groups that are at risk
// together ([Test.Set]). With late entry n_g counts those that entered before t.
// With scores c the test for trend is (c′(O−E))²/(c′Vc). The order of groups
// and of strata does not matter.
//
// Joints of one patient are taken as independent. With fewer than five events
// in all, look at O and E and not at P.
//
// Errors: [ErrGroups], [ErrScores], [ErrNotCompared], or of a table, as for
// [KaplanMeier].
//
// Mantel, Cancer Chemother Rep 1966;50:163; Peto & Peto, J R Stat Soc A
// 1972;135:185; with strata Klein & Moeschberger, Survival Analysis, 2003, §7.3
// to 7.5.
func LogRank(strata [][]*Table, cause int, o TestOptions) (Test, error) {
	groups, err := comparable(strata, cause, o)
	if err != nil {
		return Test{}, err
	}
	if o.Rho != 0 {
		return Test{}, fmt.Errorf("survival: log-rank test with rho %v, want 0", o.Rho)
	}
	t := newTest(groups)
	together := newSets(groups)
	for _, tables := range strata {
		d := newDays(tables)
		for d.next() {
			n, events := 0.0, 0.0
			for g, at := range d.atRisk {
				n += at
				events += d.events(g, cause)
			}
			if events == 0 {
				continue
			}
			v := 0.0
			if n > events {
				v = float64(events*(n-events)) / (n - 1)
				together.join(d.atRisk)
			}
			for g, at := range d.atRisk {
				if at == 0 {
					continue
				}
				t.Observed[g] += d.events(g, cause)
				t.Expected[g] += float64(events*at) / n
				share := float64(v*at) / n
				t.Variance[g][g] += share
				for h, other := range d.atRisk {
					t.Variance[g][h] -= float64(share*other) / n
				}
			}
		}
	}
	excess := make([]float64, groups)
	for g := range excess {
		excess[g] = t.Observed[g] - t.Expected[g]
	}
	err = t.finish(excess, together, o)
	return t, err
}

// comparable checks the input of a test, and returns the number of groups.
func comparable(strata [][]*Table, cause int, o TestOptions) (groups int, err error) {
	if len(strata) == 0 || len(strata[0]) < 2 {
		return 0, ErrGroups
	}
	groups = len(strata[0])
	for s, tables := range strata {
		if len(tables) != groups {
			return 0, ErrGroups
		}
		for g, t := range tables {
			if t == nil {
				continue
			}
			if err := t.usable(cause); err != nil {
				return 0, fmt.Errorf("stratum %d, group %d: %w", s, g, err)
			}
		}
	}
	if o.Scores == nil {
		return groups, nil
	}
	if len(o.Scores) != groups {
		return 0, ErrScores
	}
	for _, c := range o.Scores {
		if !(math.Abs(c) <= math.MaxFloat64) {
			return 0, ErrScores
		}
	}
	return groups, nil
}

func newTest(groups int) Test {
	return Test{
		Observed: make([]float64, groups), Expected: make([]float64, groups),
		Variance: symmetric.Zero(groups), Set: make([]int, groups),
	}
}

// finish makes the statistics from the score and its variance: without one
// group of each set, since a set's scores add up to 0.
func (t *Test) finish(score []float64, together *sets, o TestOptions) error {
	var kept []int
	t.Sets = 0
	for g := range t.Set {
		t.Set[g] = -1
	}
	for g := range t.Set {
		if t.Set[g] >= 0 {
			continue
		}
		last := -1
		for h := g + 1; h < len(t.Set); h++ {
			if together.of(h) == together.of(g) {
				t.Set[g], t.Set[h], last = t.Sets, t.Sets, h
			}
		}
		if last < 0 {
			continue
		}
		for h := g; h < last; h++ {
			if t.Set[h] == t.Sets {
				kept = append(kept, h)
			}
		}
		t.Sets++
	}
	if len(kept) == 0 {
		return ErrNotCompared
	}
	u := symmetric.Pick(score, kept)
	f := symmetric.New(symmetric.Sub(t.Variance, kept), 1e-12)
	value := symmetric.Dot(u, f.Solve(u))
	if f.Rank() == 0 || !(value >= 0) {
		return ErrTestVariance
	}
	t.ChiSquare = NewChiSquare(value, f.Rank())
	if o.Scores == nil {
		return nil
	}
	variance := symmetric.Dot(o.Scores, symmetric.Times(t.Variance, o.Scores))
	scale := 0.0
	for g, c := range o.Scores {
		scale += float64(float64(c*c) * t.Variance[g][g])
	}
	if !(variance > 1e-12*scale) {
		return ErrScores
	}
	u1 := symmetric.Dot(o.Scores, score)
	trend := NewChiSquare(float64(u1*u1)/variance, 1)
	t.Trend = &trend
	return nil
}

// days walks over the distinct times of several groups' tables, forwards.
type days struct {
	tables []*Table
	row    []int // of each table, the first not yet passed
	time   float64
	atRisk []float64 // of each group, just before time
	begun  bool
}

func newDays(tables []*Table) *days {
	return &days{tables: tables, row: make([]int, len(tables)), atRisk: make([]float64, len(tables))}
}

// next goes on to the next time at which anything happens; false at the end.
func (d *days) next() bool {
	next := math.Inf(1)
	for g, t := range d.tables {
		if t == nil {
			continue
		}
		if d.begun && d.row[g] < len(t.Time) && t.Time[d.row[g]] == d.time {
			d.row[g]++
		}
		if d.row[g] < len(t.Time) {
			next = math.Min(next, t.Time[d.row[g]])
		}
	}
	d.begun, d.time = true, next
	for g, t := range d.tables {
		d.atRisk[g] = 0
		if t != nil && d.row[g] < len(t.Time) {
			// Between two of its times a table's number at risk is that of the later.
			d.atRisk[g] = t.AtRisk[d.row[g]]
		}
	}
	return !math.IsInf(next, 1)
}

// events of a cause in a group at the present time.
func (d *days) events(g, cause int) float64 {
	t := d.tables[g]
	if t == nil || d.row[g] == len(t.Time) || t.Time[d.row[g]] != d.time {
		return 0
	}
	return t.Event[cause-1][d.row[g]]
}

// sets of groups that are at risk together.
type sets []int

func newSets(groups int) *sets {
	s := make(sets, groups)
	for g := range s {
		s[g] = g
	}
	return &s
}

// of is the lowest group of a group's set.
func (s *sets) of(g int) int {
	for (*s)[g] != g {
		g = (*s)[g]
	}
	return g
}

// join puts the groups with anybody at risk into one set.
func (s *sets) join(atRisk []float64) {
	first := -1
	for g, n := range atRisk {
		if n == 0 {
			continue
		}
		if first < 0 {
			first = s.of(g)
			continue
		}
		a, b := first, s.of(g)
		first = min(a, b)
		(*s)[max(a, b)] = first
	}
}
