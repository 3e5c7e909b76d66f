package regress

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/internal/symmetric"
)

// Clock is the scale of time on which a ratio of hazards may change.
type Clock uint8

const (
	// ShareFailed is 1 − S(t−), by Kaplan–Meier over all strata together.
	ShareFailed Clock = iota
	// Time is the time itself.
	Time
	// LogTime is its logarithm; times must lie above 0.
	LogTime
)

// Term is some coefficients that are tested together, such as those of one
// word with several values.
type Term struct {
	Name    string
	Columns []int
}

// TermTest is the test of a term.
type TermTest struct {
	Term
	survival.ChiSquare
}

// Errors of [Fit.Proportional].
var (
	ErrNotCox  = errors.New("regress: a test of proportional hazards needs a fit by Cox")
	ErrLogTime = errors.New("regress: an event at time 0 or before has no logarithm of time")
	ErrAtOnce  = errors.New("regress: events at too few times to tell whether a ratio changes")
)

// Proportional tests whether ratios of hazards stay the same over time: the
// score test of a coefficient for g(t)·x beside that of x, at 0. With
// s_t = Σ_events w·x − (W/D)Σ_k x̄_k and V_t = (W/D)Σ_k V_k:
//
//	u = Σ g·s_t,   M = Σ g²V_t − (Σ gV_t)(Σ V_t)⁻¹(Σ gV_t)
//	term J: u_J′ M_JJ⁻¹ u_J,   all together: u′M⁻¹u
//
// Where g starts does not matter. With late entry the Kaplan–Meier curve is the
// one with late entry; it takes no notice of weights. Terms nil: one for each
// coefficient. With few events the test has little chance of seeing a change.
//
// Errors: [ErrNotCox], [ErrLogTime], [ErrAtOnce], or a term that names no
// column.
//
// The idea is Grambsch & Therneau, Biometrika 1994;81:515, who use an
// approximation; this is the score test itself, as in R's survival from 3.0 on.
func (f *Fit) Proportional(clock Clock, terms []Term) (tests []TermTest, together survival.ChiSquare, err error) {
	if f.Kind != ProportionalHazards {
		return nil, together, ErrNotCox
	}
	if terms == nil {
		for j, name := range f.Names {
			terms = append(terms, Term{name, []int{j}})
		}
	}
	for _, term := range terms {
		if len(term.Columns) == 0 || slices.Min(term.Columns) < 0 || slices.Max(term.Columns) >= len(f.Names) {
			return nil, together, fmt.Errorf("regress: term %q: no such column", term.Name)
		}
	}
	m := f.model
	g, err := m.clock(clock)
	if err != nil {
		return nil, together, err
	}
	squares := make([]float64, len(g))
	for s, v := range g {
		squares[s] = float64(v * v)
	}
	once, twice := m.evaluate(f.Coefficient, g), m.evaluate(f.Coefficient, squares)
	variance := remaining(twice.information, once.information, f.Model)
	test := func(of []int) (survival.ChiSquare, error) {
		u := symmetric.Pick(once.score, of)
		v := symmetric.New(symmetric.Sub(variance, of), 1e-9)
		// A variance of 0 is left over by rounding if all events are at one time.
		for _, j := range of {
			if !(variance[j][j] > 1e-12*twice.information[j][j]) {
				return survival.ChiSquare{}, ErrAtOnce
			}
		}
		if len(v.Dropped) > 0 || !v.Positive {
			return survival.ChiSquare{}, ErrAtOnce
		}
		return survival.NewChiSquare(symmetric.Dot(u, v.Solve(u)), len(of)), nil
	}
	for _, term := range terms {
		c, err := test(term.Columns)
		if err != nil {
			return nil, together, err
		}
		tests = append(tests, TermTest{term, c})
	}
	together, err = test(all(len(f.Names)))
	return tests, together, err
}

// remaining is twice − once·inverse·once.
func remaining(twice, once, inverse [][]float64) [][]float64 {
	out := symmetric.Sandwich(once, inverse)
	for i, row := range out {
		for j := range row {
			row[j] = twice[i][j] - row[j]
		}
	}
	return out
}

// clock is g of each slot, less its mean over the events: M is then free of
// large numbers that cancel.
func (m *model) clock(c Clock) ([]float64, error) {
	at := make([]float64, len(m.times))
	switch c {
	case ShareFailed:
		at = m.shareFailed()
	case Time, LogTime:
		copy(at, m.times)
	default:
		return nil, fmt.Errorf("regress: unknown clock %d", c)
	}
	g := make([]float64, len(m.slots))
	mean, events := 0.0, 0.0
	for s := range m.slots {
		slot := &m.slots[s]
		if slot.deaths == 0 {
			continue
		}
		g[s] = at[slot.time]
		if c == LogTime {
			if !(g[s] > 0) {
				return nil, ErrLogTime
			}
			g[s] = math.Log(g[s])
		}
		mean += float64(slot.deaths * g[s])
		events += slot.deaths
	}
	for s := range g {
		g[s] -= mean / events
	}
	return g, nil
}

// shareFailed is 1 − S(t−) of each time, over all strata.
func (m *model) shareFailed() []float64 {
	leaving, entering := make([]int64, len(m.times)), make([]int64, len(m.times))
	deaths := make([]float64, len(m.times))
	var subjects int64
	for s := range m.slots {
		slot := &m.slots[s]
		leaving[slot.time] += slot.leaving
		entering[slot.time] += slot.entering
		deaths[slot.time] += slot.deaths
		subjects += slot.leaving - slot.entering // at risk from the beginning
	}
	failed := make([]float64, len(m.times))
	free := 1.0
	for t := range failed {
		failed[t] = 1 - free
		if deaths[t] > 0 {
			n := float64(subjects)
			free = float64(free*(n-deaths[t])) / n
		}
		subjects += entering[t] - leaving[t]
	}
	return failed
}
