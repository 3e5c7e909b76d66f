package regress

import (
	"fmt"
	"math"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/internal/symmetric"
	"gonum.org/v1/gonum/mathext"
)

// Options are the options of a fit; the zero value is the default.
type Options struct {
	Ties  Ties    // Efron
	Level float64 // confidence level of the limits; 0 means 0.95
}

func (o *Options) check() error {
	if o.Level == 0 {
		o.Level = 0.95
	}
	if !(o.Level > 0 && o.Level < 1) {
		return fmt.Errorf("regress: confidence level %v, want a number between 0 and 1 such as 0.95", o.Level)
	}
	if o.Ties > Breslow {
		return fmt.Errorf("regress: unknown treatment of ties %d", o.Ties)
	}
	return nil
}

// Kind says what was fitted.
type Kind uint8

// The kinds of a fit.
const (
	ProportionalHazards         Kind = iota // Cox
	Penalised                               // Firth
	ProportionalSubdistribution             // FineGray
)

// Fit is a fitted model. The ratio of hazards for one unit of a covariate is the
// exponential of its coefficient: see [Fit.Ratio].
type Fit struct {
	Kind        Kind
	Names       []string
	Coefficient []float64
	SE          []float64
	Lower       []float64 // limits of the coefficients
	Upper       []float64
	P           []float64 // of a coefficient of 0
	Level       float64

	Variance [][]float64 // of the coefficients; the robust one if Robust
	Model    [][]float64 // the inverse of the information, whatever Variance is
	Robust   bool

	LogLikelihood float64
	Null          float64 // the log likelihood with all coefficients 0

	// Tests of all coefficients being 0. A test with 0 degrees of freedom is not
	// defined for this fit. The likelihood-ratio and the score test take weights
	// for counts and joints of one patient for independent: with either look at
	// Wald's, which uses Variance, and at RobustScore.
	LikelihoodRatio, Score, Wald, RobustScore survival.ChiSquare

	Subjects   int64
	Events     int64
	Iterations int

	model *model
}

// Ratio is the ratio of hazards for one unit of covariate j, with its limits.
func (f *Fit) Ratio(j int) (estimate, lower, upper float64) {
	return math.Exp(f.Coefficient[j]), math.Exp(f.Lower[j]), math.Exp(f.Upper[j])
}

// Cox fits proportional hazards to events of a cause (other causes are
// censored) by the partial likelihood: in each stratum the hazard of a subject
// with covariates x is the stratum's own times exp(x′β). With D events of total
// weight W on day t, r = exp(x′β), and c_k = k/D for k = 0 … D−1 (Efron) or D
// times 0 (Breslow):
//
//	S_k = Σ_{at risk} w·r·(1 − c_k·[has the event at t])
//	ℓ = Σ_events w·x′β − Σ_t (W/D) Σ_k log S_k
//	U = Σ_events w·x − Σ_t (W/D) Σ_k x̄_k,   I = Σ_t (W/D) Σ_k V_k
//
// x̄_k and V_k being mean and variance of x under the weights of S_k. Subjects are
// at risk on (entry, exit]. The variance is I⁻¹ or, with sampling weights or
// clusters, the robust one, I⁻¹(Σ_c R_cR_c′)I⁻¹ with R_c the sum of a cluster's
// score residuals, without a factor for the number of clusters. The tests are
// those of likelihood ratio, 2(ℓ − ℓ₀), score, U′I⁻¹U at 0, and Wald, β′V⁻¹β; the
// robust score test is s′(ΣR_cR_c′)⁻¹s at 0 with s = ΣR_c. Limits are β ± z·SE.
//
// Newton's method from 0, halving the step while the likelihood falls, stops
// when U′I⁻¹U is below 1e-16·max(1, |ℓ|), and fails after 40 steps. The order of
// rows changes nothing where Data.Pattern is given, and no more than the last
// digits where it is not.
//
// Errors: of the input, with row and field ([survival.RowError], [ErrDesign],
// [ErrNoColumns]); [ErrNoEvents]; [*ColumnError] naming a constant or collinear
// column, or one that separates those with the event from the others;
// [ErrNotConverged]; and [ErrVariance] where the clusters are too few for a
// robust variance above 0.
//
// Cox, J R Stat Soc B 1972;34:187; Efron, JASA 1977;72:557; Breslow, Biometrics
// 1974;30:89; Lin & Wei, JASA 1989;84:1074.
func Cox(d Data, cause int, o Options) (*Fit, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	m, err := newModel(&d, o.Ties, only(cause))
	if err != nil {
		return nil, err
	}
	f, null, err := m.maximum(&d, func(beta []float64) evaluation { return m.evaluate(beta, nil) }, o)
	if err != nil {
		return nil, err
	}
	f.LikelihoodRatio = survival.NewChiSquare(math.Max(0, 2*(f.LogLikelihood-f.Null)), len(f.Names))
	f.Score = survival.NewChiSquare(quadratic(null.information, null.score), len(f.Names))
	if d.Sample.Weight != nil || d.Sample.Cluster != nil {
		f.Robust = true
		meat, _ := m.residualProducts(&d, f.Coefficient, only(cause))
		f.Variance = symmetric.Sandwich(f.Model, meat)
		meat, score := m.residualProducts(&d, make([]float64, len(f.Names)), only(cause))
		if w := symmetric.New(meat, collinear); len(w.Dropped) == 0 && w.Positive {
			f.RobustScore = survival.NewChiSquare(symmetric.Dot(score, w.Solve(score)), len(f.Names))
		}
	}
	if err := f.normalLimits(); err != nil {
		return nil, err
	}
	return f, nil
}

// only makes events of a cause the event, and all else censoring.
func only(cause int) func(int) int {
	return func(c int) int {
		if c == cause && c > 0 {
			return failed
		}
		return censored
	}
}

// maximum fits all coefficients, and returns the likelihood at 0 too.
func (m *model) maximum(d *Data, evaluate func([]float64) evaluation, o Options) (*Fit, evaluation, error) {
	p := m.coefficients()
	if err := constant(m, d.Design); err != nil {
		return nil, evaluation{}, err
	}
	null := evaluate(make([]float64, p))
	if err := checkColumns(m.names, null); err != nil {
		return nil, null, err
	}
	x := &maximiser{names: m.names, evaluate: evaluate, spread: m.spread, tolerance: 1e-16, steps: 40, infinite: true}
	beta, at, steps, err := x.climb(make([]float64, p), null, all(p))
	if err != nil {
		return nil, null, err
	}
	return m.newFit(d, beta, at, null, steps, o), null, nil
}

// newFit fills in what every kind of fit has.
func (m *model) newFit(d *Data, beta []float64, at, null evaluation, steps int, o Options) *Fit {
	f := &Fit{
		Names: m.names, Coefficient: beta, Level: o.Level, LogLikelihood: at.value, Null: null.value,
		Events: m.events, Subjects: m.subjects, Iterations: steps, model: m,
	}
	if d.origin != nil {
		f.Subjects = d.originals()
	}
	f.Model = symmetric.New(at.information, 0).Inverse()
	f.Variance = f.Model
	return f
}

// spread is how far apart a step moves the linear predictors of the patterns in
// use, and which column moves them most.
func (m *model) spread(step []float64) (float64, int) {
	low, high := math.Inf(1), math.Inf(-1)
	p := m.coefficients()
	lows, highs := make([]float64, p), make([]float64, p)
	x := make([]float64, p)
	begun := false
	for i, used := range m.used {
		if !used {
			continue
		}
		eta := 0.0
		clear(x)
		m.covariates(int32(i), func(j int, v float64) {
			x[j] = v
			eta += float64(v * step[j])
		})
		low, high = math.Min(low, eta), math.Max(high, eta)
		for j, v := range x {
			if !begun || v < lows[j] {
				lows[j] = v
			}
			if !begun || v > highs[j] {
				highs[j] = v
			}
		}
		begun = true
	}
	most, column := 0.0, 0
	for j := range x {
		if move := math.Abs(step[j]) * (highs[j] - lows[j]); move > most {
			most, column = move, j
		}
	}
	return high - low, column
}

// quadratic is u′A⁻¹u.
func quadratic(a [][]float64, u []float64) float64 {
	return math.Max(0, symmetric.Dot(u, symmetric.New(a, 0).Solve(u)))
}

// normalLimits fills in standard errors, limits, p values and Wald's test from
// the variance.
func (f *Fit) normalLimits() error {
	p := len(f.Names)
	f.SE, f.Lower, f.Upper, f.P = make([]float64, p), make([]float64, p), make([]float64, p), make([]float64, p)
	z := mathext.NormalQuantile(1 - float64((1-f.Level)/2))
	for j, b := range f.Coefficient {
		se := math.Sqrt(f.Variance[j][j])
		if !(se > 0 && se <= math.MaxFloat64) {
			return ErrVariance
		}
		width := float64(z * se)
		f.SE[j], f.Lower[j], f.Upper[j] = se, b-width, b+width
		f.P[j] = math.Erfc(math.Abs(b/se) / math.Sqrt2)
	}
	// With fewer clusters than coefficients the robust variance has no inverse.
	if v := symmetric.New(f.Variance, collinear); len(v.Dropped) == 0 && v.Positive {
		f.Wald = survival.NewChiSquare(symmetric.Dot(f.Coefficient, v.Solve(f.Coefficient)), p)
	}
	return nil
}

// Hazard is a cumulative baseline hazard: that of a subject whose covariates are
// all 0.
type Hazard struct {
	Stratum    int32
	Time       []float64 // times with an event, increasing
	Cumulative []float64
}

// Baseline is the cumulative baseline hazard of each stratum,
//
//	H(t) = Σ_{times ≤ t} (W/D) Σ_k 1/S_k
//
// with S_k as in [Cox], at x = 0. That of a subject with covariates x is
// H(t)·exp(x′β); one minus survival is 1 − exp(−H(t)·exp(x′β)). After
// [FineGray] it is the cumulative hazard of the subdistribution, so that this
// is the cumulative incidence.
func (f *Fit) Baseline() []Hazard {
	m := f.model
	steps := m.steps
	if f.Kind == ProportionalSubdistribution {
		steps = m.subdistributionSteps
	}
	shift := 0.0
	for j, c := range m.centre {
		shift += float64(c * f.Coefficient[j])
	}
	at := math.Exp(-shift)
	hazards := make([]Hazard, len(m.strata))
	for i, s := range m.strata {
		hazards[i].Stratum = s
	}
	for s, h := range steps(f.Coefficient) {
		slot := &m.slots[s]
		if slot.deaths == 0 {
			continue
		}
		to := &hazards[slot.stratum]
		total := float64(h.a * at)
		if n := len(to.Cumulative); n > 0 {
			total += to.Cumulative[n-1]
		}
		to.Time = append(to.Time, m.times[slot.time])
		to.Cumulative = append(to.Cumulative, total)
	}
	return hazards
}

// steps are what each slot adds to the cumulative hazard.
func (m *model) steps(beta []float64) []dayHazard {
	hazard := make([]dayHazard, len(m.slots))
	f := &features{n: 1} // the 1 alone
	f.begin(1)
	for range m.mass {
		f.set(0, 1)
		f.endPattern()
	}
	m.sweep(f, ratios(m.predictors(beta)), func(s int, atRisk, dead []float64) {
		m.ties.each(&m.slots[s], func(c, multiple float64) {
			one := multiple / (atRisk[0] - float64(c*dead[0]))
			hazard[s].a += one
			hazard[s].b += float64(c * one)
		})
	})
	return hazard
}
