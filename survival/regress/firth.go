package regress

import (
	"errors"
	"math"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/internal/symmetric"
	"gonum.org/v1/gonum/mathext"
)

// Firth fits proportional hazards as [Cox] does, but with the penalised
// likelihood that takes away most of the bias of few events, and has a maximum
// where a group has no event at all:
//
//	ℓ* = ℓ + ½·log|I|,   U* = U + ½·tr(I⁻¹ ∂I/∂β)
//
// With A = I⁻¹, q = x′Ax and means under the weights of each S_k of [Cox]:
//
//	½·tr(I⁻¹ ∂I/∂β) = ½ Σ_t (W/D) Σ_k { mean(q·x) − mean(q)·x̄_k − 2·V_k·A·x̄_k }
//
// Limits are where twice the fall of ℓ* from its maximum, with the other
// coefficients fitted again and the penalty always that of all of them, is the
// quantile of χ² with one degree of freedom; they are infinite where ℓ* does not
// fall as far, or can't be followed as far, with events hardly more than
// coefficients. P is that test at 0, LikelihoodRatio the same for all
// coefficients together. SE is from I, and only describes: Score and Wald are
// not defined.
//
// Errors are those of [Cox], and [ErrWeights] with weights or clusters, for
// which the penalty has no meaning.
//
// Firth, Biometrika 1993;80:27; Heinze & Schemper, Biometrics 2001;57:114.
func Firth(d Data, cause int, o Options) (*Fit, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	if d.Sample.Weight != nil || d.Sample.Cluster != nil {
		return nil, ErrWeights
	}
	m, err := newModel(&d, o.Ties, only(cause))
	if err != nil {
		return nil, err
	}
	if err := constant(m, d.Design); err != nil {
		return nil, err
	}
	p := m.coefficients()
	start := make([]float64, p)
	if err := checkColumns(m.names, m.evaluate(start, nil)); err != nil {
		return nil, err
	}
	evaluate := m.penalised()
	x := &maximiser{
		names: m.names, evaluate: evaluate, spread: m.spread, curvature: bend(evaluate),
		tolerance: 1e-18, steps: 100, longest: 2,
	}
	null := evaluate(start)
	beta, at, steps, err := x.climb(start, null, all(p))
	if err != nil {
		return nil, err
	}
	f := m.newFit(&d, beta, at, null, steps, o)
	f.Kind = Penalised
	if err := f.normalLimits(); err != nil {
		return nil, err
	}
	f.Wald = survival.ChiSquare{}
	f.LikelihoodRatio = survival.NewChiSquare(math.Max(0, 2*(f.LogLikelihood-f.Null)), p)
	for j := range f.Names {
		if err := f.profile(x, j); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// profile fills in p value and limits of coefficient j.
func (f *Fit) profile(x *maximiser, j int) error {
	var free []int
	for k := range f.Names {
		if k != j {
			free = append(free, k)
		}
	}
	start := append([]float64(nil), f.Coefficient...)
	fall := func(value float64) (float64, error) { // of ℓ*, doubled
		from, err := start[j], error(nil)
		var at evaluation
		for _, steps := range []int{1, 16} { // a value far off is gone to in steps, if it can't be at once
			begin := append([]float64(nil), start...)
			for k := 1; k <= steps; k++ {
				begin[j] = from + float64((value-from)*float64(k)/float64(steps))
				var beta []float64
				if beta, at, _, err = x.climb(begin, x.evaluate(begin), free); err != nil {
					break
				}
				begin = beta
			}
			if err == nil {
				copy(start, begin)
				break
			}
		}
		return math.Max(0, 2*(f.LogLikelihood-at.value)), err
	}
	atZero, err := fall(0)
	if err != nil {
		return err
	}
	f.P[j] = survival.NewChiSquare(atZero, 1).P
	z := mathext.NormalQuantile(1 - float64((1-f.Level)/2))
	for _, side := range []struct {
		sign  float64
		limit *float64
	}{{-1, &f.Lower[j]}, {1, &f.Upper[j]}} {
		copy(start, f.Coefficient)
		excess := func(away float64) (float64, error) {
			v, err := fall(f.Coefficient[j] + float64(side.sign*away))
			return v - float64(z*z), err
		}
		away, err := firstRoot(excess, f.SE[j])
		if errors.Is(err, errNoRoot) {
			*side.limit = math.Inf(int(side.sign))
			continue
		}
		if err != nil {
			return err
		}
		*side.limit = f.Coefficient[j] + float64(side.sign*away)
	}
	return nil
}

var errNoRoot = errors.New("regress: no root")

// firstRoot is where a function that begins below 0 at 0, and rises, reaches 0;
// looked for by doubling a first step, then by Ridders' method.
func firstRoot(f func(float64) (float64, error), step float64) (float64, error) {
	low, high := 0.0, step
	atLow, err := f(low)
	if err != nil {
		return 0, err
	}
	atHigh, err := f(high)
	for range 8 {
		if err != nil || atHigh >= 0 {
			break
		}
		low, atLow, high = high, atHigh, 2*high
		atHigh, err = f(high)
	}
	if atHigh < 0 || errors.Is(err, ErrNotConverged) {
		return 0, errNoRoot
	}
	if err != nil {
		return 0, err
	}
	for range 60 {
		middle := low + float64((high-low)/2)
		if high-low <= 1e-12*high || middle == low || middle == high {
			break
		}
		atMiddle, err := f(middle)
		if err != nil {
			return 0, err
		}
		root := math.Sqrt(float64(atMiddle*atMiddle) - float64(atLow*atHigh))
		if root == 0 {
			return middle, nil
		}
		x := middle - float64((middle-low)*atMiddle)/root // f rises
		atX, err := f(x)
		if err != nil {
			return 0, err
		}
		if math.Abs(atX) < 1e-13 {
			return x, nil
		}
		for _, e := range [][2]float64{{middle, atMiddle}, {x, atX}} {
			if e[1] < 0 && e[0] > low {
				low, atLow = e[0], e[1]
			}
			if e[1] >= 0 && e[0] < high {
				high, atHigh = e[0], e[1]
			}
		}
	}
	return low + float64((high-low)/2), nil
}

// penalised is the penalised likelihood as a function of β.
func (m *model) penalised() func([]float64) evaluation {
	p := m.coefficients()
	squares := 2 + 2*p // where the products of covariates begin
	return func(beta []float64) evaluation {
		e := m.evaluate(beta, nil)
		f := symmetric.New(e.information, 1e-14)
		if len(f.Dropped) > 0 || !f.Positive {
			e.value = math.Inf(-1)
			return e
		}
		a := f.Inverse()
		e.value += float64(0.5 * f.LogDeterminant())
		m.sweep(m.thirdMoments(a), ratios(m.predictors(beta)), func(s int, atRisk, dead []float64) {
			mean := make([]float64, p)
			second := make([]float64, p) // mean of x·x′·A·x̄
			m.ties.each(&m.slots[s], func(c, multiple float64) {
				of := func(i int) float64 { return atRisk[i] - float64(c*dead[i]) }
				total := of(0)
				for j := range mean {
					mean[j] = of(1+j) / total
				}
				ax := symmetric.Times(a, mean)
				clear(second)
				i := squares
				for j := range p {
					for k := range j + 1 {
						v := of(i) / total
						second[j] += float64(v * ax[k])
						if k < j {
							second[k] += float64(v * ax[j])
						}
						i++
					}
				}
				q := of(1+p) / total
				own := symmetric.Dot(mean, ax)
				for j, x := range mean {
					g := of(2+p+j)/total - float64(q*x) - float64(2*(second[j]-float64(x*own)))
					e.score[j] += float64(float64(0.5*multiple) * g)
				}
			})
		})
		return e
	}
}

// thirdMoments are, of each pattern, 1, x, q = x′Ax, q·x and the products of
// covariates.
func (m *model) thirdMoments(a [][]float64) *features {
	p := m.coefficients()
	f := new(features)
	f.begin(2 + 2*p + p*(p+1)/2)
	x := make([]float64, p)
	for pattern := range m.mass {
		clear(x)
		m.covariates(int32(pattern), func(j int, v float64) { x[j] = v })
		q := symmetric.Dot(x, symmetric.Times(a, x))
		f.set(0, 1)
		f.set(1+p, q)
		i := 2 + 2*p
		for j, v := range x {
			f.set(1+j, v)
			f.set(2+p+j, float64(q*v))
			for _, w := range x[:j+1] {
				f.set(i, float64(v*w))
				i++
			}
		}
		f.endPattern()
	}
	return f
}
