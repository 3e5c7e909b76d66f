package regress

import (
	"math"

	"example.org/holdfast/survival/internal/symmetric"
)

// maximiser climbs a log likelihood by Newton's method, halving a step until
// the likelihood does not fall.
type maximiser struct {
	names    []string
	evaluate func(beta []float64) evaluation
	// spread is how far a step moves the linear predictor of one subject at risk
	// from another's, and the column that moves it most.
	spread func(step []float64) (float64, int)
	// curvature is minus the second derivative, where that is not the
	// information. Nil: it is.
	curvature func(beta []float64, at evaluation) [][]float64
	held      [][]float64 // as last found: it costs an evaluation a coefficient, and changes slowly

	tolerance float64 // of the decrement U′I⁻¹U, relative to the likelihood
	steps     int
	longest   float64 // spread of one step at most; 0: no limit
	infinite  bool    // the maximum may be at infinity: look
}

const (
	fastEnough = 0.01  // of the decrement before: with more left the curvature held is found anew
	noFall     = 1e-12 // a likelihood lower by no more than this, relatively, has not fallen
	nearEnd    = 1e-8  // decrement from which on a step must have become small
	stillMove  = 0.1   // spread of a step that has not
	nearly     = 1e-3  // and, since far out rounding may keep it from nearEnd, this
	farMove    = 3.0   // with this spread: the standard error of the predictor is a hundred
	collinear  = 1e-10 // pivot, relative to its start, of a column that depends on others
)

// climb maximises over the coefficients in free, from start, where the likelihood
// is at.
func (x *maximiser) climb(start []float64, at evaluation, free []int) (beta []float64, _ evaluation, steps int, err error) {
	beta = append([]float64(nil), start...)
	decrement, before := math.Inf(1), math.Inf(1)
	for steps = 0; steps < x.steps; steps++ {
		score := symmetric.Pick(at.score, free)
		if decrement > float64(fastEnough*before) {
			x.held = nil
		}
		before = decrement
		f := x.factor(beta, at, free)
		step := make([]float64, len(beta))
		for i, v := range f.Solve(score) {
			step[free[i]] = v
		}
		decrement = symmetric.Dot(step, at.score)
		singular := len(f.Dropped) > 0 || !f.Positive
		if singular && !x.infinite || !(decrement >= 0 && decrement <= math.MaxFloat64) {
			return nil, at, steps, ErrNotConverged
		}
		done := decrement <= float64(x.tolerance*math.Max(1, math.Abs(at.value)))
		moved, column := x.spread(step)
		ends := (done || decrement < nearEnd) && (moved > stillMove || singular)
		if x.infinite && (ends || decrement < nearly && moved > farMove) {
			if len(f.Dropped) > 0 {
				column = free[f.Dropped[0]]
			}
			return nil, at, steps, &ColumnError{Name: x.names[column], Err: ErrSeparated}
		}
		if x.longest > 0 && moved > x.longest {
			for i := range step {
				step[i] = float64(step[i]*x.longest) / moved
			}
		}
		next, there, ok := x.halve(beta, step, at)
		if !ok {
			if decrement < nearEnd {
				return beta, at, steps, nil // as high as rounding lets it be known
			}
			return nil, at, steps, ErrNotConverged
		}
		beta, at = next, there
		if done {
			return beta, at, steps + 1, nil
		}
	}
	if !x.infinite && decrement < nearEnd {
		return beta, at, steps, nil // rounding keeps it from the end
	}
	return nil, at, steps, ErrNotConverged
}

// factor is the curvature of the free coefficients, or the information where the
// curvature is not positive: far from the maximum.
func (x *maximiser) factor(beta []float64, at evaluation, free []int) *symmetric.Factor {
	if x.curvature != nil {
		if x.held == nil {
			x.held = x.curvature(beta, at)
		}
		if f := symmetric.New(symmetric.Sub(x.held, free), 1e-13); len(f.Dropped) == 0 && f.Positive {
			return f
		}
		x.held = nil
	}
	return symmetric.New(symmetric.Sub(at.information, free), 1e-13)
}

// bend is the curvature from the scores at β and a little beside it.
func bend(evaluate func([]float64) evaluation) func([]float64, evaluation) [][]float64 {
	return func(beta []float64, at evaluation) [][]float64 {
		p := len(beta)
		h := symmetric.Zero(p)
		beside := make([]float64, p)
		for j := range p {
			copy(beside, beta)
			beside[j] += 1e-5 / math.Sqrt(at.information[j][j])
			there := evaluate(beside)
			for k := range p {
				v := (at.score[k] - there.score[k]) / (beside[j] - beta[j])
				h[j][k] += float64(v / 2)
				h[k][j] += float64(v / 2)
			}
		}
		return h
	}
}

// halve takes the step, or the first of its halves after which the likelihood
// has not fallen.
func (x *maximiser) halve(beta, step []float64, at evaluation) ([]float64, evaluation, bool) {
	next := make([]float64, len(beta))
	for part := 1.0; part > 1e-12; part /= 2 {
		for i := range beta {
			next[i] = beta[i] + float64(part*step[i])
		}
		there := x.evaluate(next)
		if there.value >= at.value-float64(noFall*math.Abs(at.value)) && there.value <= math.MaxFloat64 {
			return next, there, true
		}
	}
	return nil, evaluation{}, false
}

// all is 0 to n − 1.
func all(n int) []int {
	of := make([]int, n)
	for i := range of {
		of[i] = i
	}
	return of
}

// checkColumns names a column without information, or one that is a combination
// of others, from the information at β = 0.
func checkColumns(names []string, e evaluation) error {
	for j, raw := range e.raw {
		if !(e.information[j][j] > float64(collinear*raw)) {
			return &ColumnError{Name: names[j], Err: ErrConstant}
		}
	}
	f := symmetric.New(e.information, collinear)
	if len(f.Dropped) == 0 {
		return nil
	}
	j := f.Dropped[0]
	c := &ColumnError{Name: names[j], Err: ErrCollinear}
	for k, v := range f.Combination(e.information, j) {
		if math.Abs(v)*math.Sqrt(e.information[k][k]/e.information[j][j]) > 1e-6 {
			c.Others = append(c.Others, names[k])
		}
	}
	return c
}

// constant is a column that is the same in every pattern in use, to ten digits.
func constant(m *model, design [][]float64) error {
	for j, name := range m.names {
		low, high := math.Inf(1), math.Inf(-1)
		for p, used := range m.used {
			if used {
				x := design[m.rowOf[p]][j]
				low, high = math.Min(low, x), math.Max(high, x)
			}
		}
		if !(high-low > 1e-10*math.Max(math.Abs(low), math.Abs(high))) {
			return &ColumnError{Name: name, Err: ErrConstant}
		}
	}
	return nil
}
