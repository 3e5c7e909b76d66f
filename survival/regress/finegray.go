package regress

import (
	"math"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/internal/symmetric"
)

// FineGray fits proportional hazards of the subdistribution of a cause: ratios
// that act on the cumulative incidence, 1 − exp(−H(t)·exp(x′β)). Subjects with
// another event stay at risk, with weights that stand for their chance of not
// having been censored meanwhile. At t a subject counts
//
//	1 while it is under observation, G(t−)/G(s−) after another event at s < t, else 0
//
// with G the Kaplan–Meier curve of being censored, at which all who leave at
// u or later are at risk at u, those with an event at u included. Ties are
// Breslow's: score and information are those of [Cox] with these weights. The
// variance is I⁻¹ Σ(η+ψ)(η+ψ)′ I⁻¹, which allows for G being estimated:
//
//	η_i = Σ_t ([event at t] − w_i(t)·r_i·dΛ(t))·(x_i − x̄(t)),   dΛ = D/S
//	ψ_i = Σ_u (q(u)/π(u))·([censored at u] − [leaves at u or later]·dN_c(u)/π(u))
//	q(u) = Σ_{j: another event before u} r_j Σ_{t ≥ u} w_j(t)·(x_j − x̄(t))·dΛ(t)
//
// π(u) being the number that leave at u or later and dN_c(u) the number censored
// at u. Wald is the only test defined. The ratios say how covariates
// change the incidence, not the rate among those still at risk.
//
// Errors are those of [Cox], [ErrLateEntry], and [ErrWeights] with weights,
// clusters or strata.
//
// Fine & Gray, JASA 1999;94:496; conventions for ties as in R's cmprsk.
func FineGray(d Data, cause int, o Options) (*Fit, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	switch {
	case d.Sample.Weight != nil || d.Sample.Cluster != nil || d.Stratum != nil:
		return nil, ErrWeights
	case d.Sample.Entry != nil:
		return nil, ErrLateEntry
	}
	m, err := newModel(&d, Breslow, func(c int) int {
		switch {
		case c == cause && c > 0:
			return failed
		case c > 0:
			return competing
		}
		return censored
	})
	if err != nil {
		return nil, err
	}
	g := m.censoring()
	f, _, err := m.maximum(&d, func(beta []float64) evaluation { return m.subdistribution(beta, g) }, o)
	if err != nil {
		return nil, err
	}
	f.Kind, f.Robust = ProportionalSubdistribution, true
	f.Variance = symmetric.Sandwich(f.Model, m.subdistributionProducts(f.Coefficient, g))
	f.LikelihoodRatio, f.Score = survival.ChiSquare{}, survival.ChiSquare{}
	if err := f.normalLimits(); err != nil {
		return nil, err
	}
	return f, nil
}

// censoring is G(t−) of each slot.
func (m *model) censoring() []float64 {
	g := make([]float64, len(m.slots))
	left, now := float64(m.subjects), 1.0
	for s := range m.slots {
		slot := &m.slots[s]
		g[s] = now
		lost := 0.0
		for _, cell := range slot.exits[:slot.others] {
			lost += cell.weight
		}
		if lost > 0 {
			now = float64(now*(left-lost)) / left
		}
		left -= float64(slot.leaving)
	}
	return g
}

// subdistributionSweep visits the slots with an event, from the first to the
// last, with the sums of r·feature at risk of the subdistribution: those under
// observation, and G(t−) times the sum over those with another event earlier of
// 1/G(s−).
func (m *model) subdistributionSweep(r, g []float64, visit func(s int, atRisk []float64)) {
	observed := make([][]float64, len(m.slots)) // at risk under observation, where there is an event
	m.sweep(&m.x, r, func(s int, atRisk, _ []float64) { observed[s] = append([]float64(nil), atRisk...) })
	gone := newTotals(m.x.n)
	day := make([]float64, m.x.n)
	for s := range m.slots {
		if at := observed[s]; at != nil {
			for i, v := range gone.value {
				at[i] += float64(g[s] * v)
			}
			visit(s, at)
		}
		clear(day)
		for _, cell := range m.slots[s].competing() {
			m.x.add(day, cell.pattern, float64(cell.weight*r[cell.pattern])/g[s])
		}
		gone.add(1, day)
	}
}

// subdistribution is the likelihood of FineGray.
func (m *model) subdistribution(beta, g []float64) evaluation {
	p := m.coefficients()
	eta := m.predictors(beta)
	r := ratios(eta)
	e := evaluation{score: make([]float64, p), information: symmetric.Zero(p), raw: make([]float64, p)}
	hazard := make([]float64, len(m.slots))
	nobody := make([]float64, p)
	m.subdistributionSweep(r, g, func(s int, atRisk []float64) {
		slot := &m.slots[s]
		for _, cell := range slot.failures() {
			e.value += float64(cell.weight * eta[cell.pattern])
			m.covariates(cell.pattern, func(j int, x float64) { e.score[j] += float64(cell.weight * x) })
		}
		e.value -= float64(slot.deaths * math.Log(atRisk[0]))
		hazard[s] = slot.deaths / atRisk[0]
		addDay(&e, atRisk[1:], nobody, dayHazard{a: hazard[s]}, [3]float64{hazard[s] / atRisk[0], 0, 0})
	})
	weighted := weightedHazard(hazard, g)
	k := make([]float64, len(m.mass))
	running := 0.0
	for s := range m.slots {
		running += hazard[s]
		for _, cell := range m.slots[s].exits {
			k[cell.pattern] += float64(cell.weight * running)
		}
		for _, cell := range m.slots[s].competing() {
			k[cell.pattern] += float64(cell.weight*weighted[s+1]) / g[s]
		}
	}
	for p, v := range k {
		v = float64(v * r[p])
		m.square(int32(p), v, e.information)
		m.covariates(int32(p), func(j int, x float64) { e.raw[j] += float64(float64(v*x) * x) })
	}
	mirror(e.information)
	return e
}

// weightedHazard is Σ G(t−)·dΛ(t) over each slot and those after it.
func weightedHazard(hazard, g []float64) []float64 {
	sum := make([]float64, len(hazard)+1)
	for s := len(hazard) - 1; s >= 0; s-- {
		sum[s] = sum[s+1] + float64(g[s]*hazard[s])
	}
	return sum
}

// subdistributionSteps are what each slot adds to the cumulative hazard of the
// subdistribution.
func (m *model) subdistributionSteps(beta []float64) []dayHazard {
	hazard := make([]dayHazard, len(m.slots))
	m.subdistributionSweep(ratios(m.predictors(beta)), m.censoring(), func(s int, atRisk []float64) {
		hazard[s].a = m.slots[s].deaths / atRisk[0]
	})
	return hazard
}

// subdistributionProducts is Σ (η+ψ)(η+ψ)′ over the subjects.
func (m *model) subdistributionProducts(beta, g []float64) [][]float64 {
	n, p := len(m.slots), m.coefficients()
	r := ratios(m.predictors(beta))
	hazard := make([]float64, n)
	means := make([][]float64, n) // x̄(t) of the event days
	m.subdistributionSweep(r, g, func(s int, atRisk []float64) {
		hazard[s] = m.slots[s].deaths / atRisk[0]
		means[s] = make([]float64, p)
		for j := range p {
			means[s][j] = atRisk[1+j] / atRisk[0]
		}
	})
	weighted := weightedHazard(hazard, g)
	// Σ G(t−)·dΛ(t)·x̄(t) over each slot and those after it
	weightedMeans := make([][]float64, n+1)
	weightedMeans[n] = make([]float64, p)
	for s := n - 1; s >= 0; s-- {
		weightedMeans[s] = append([]float64(nil), weightedMeans[s+1]...)
		for j, x := range means[s] {
			weightedMeans[s][j] += float64(float64(g[s]*hazard[s]) * x)
		}
	}
	products := symmetric.Zero(p)
	add := m.censoringInfluence(r, g, weighted, weightedMeans)
	running, runningMeans := 0.0, make([]float64, p)
	one, psiEnd, psiCensored := make([]float64, p), make([]float64, p), make([]float64, p)
	for s := range m.slots {
		running += hazard[s]
		for j, x := range means[s] {
			runningMeans[j] += float64(hazard[s] * x)
		}
		add(s, psiEnd, psiCensored)
		for i, cell := range m.slots[s].exits {
			copy(one, psiEnd)
			atX, ri := -float64(r[cell.pattern]*running), r[cell.pattern]
			for j, v := range runningMeans {
				one[j] += float64(ri * v)
			}
			switch {
			case i < m.slots[s].others:
				for j, v := range psiCensored {
					one[j] += v
				}
			case i < m.slots[s].dead:
				atX -= float64(ri*weighted[s+1]) / g[s]
				for j, v := range weightedMeans[s+1] {
					one[j] += float64(ri*v) / g[s]
				}
			default:
				atX++
				for j, v := range means[s] {
					one[j] -= v
				}
			}
			m.covariates(cell.pattern, func(j int, x float64) { one[j] += float64(atX * x) })
			symmetric.AddOuter(products, cell.weight, one, one)
		}
	}
	return products
}

// censoringInfluence returns a function to be called for the slots in order. It
// sets what G adds to ψ of all who leave in the slot, −Σ_{u ≤ slot} q·dN_c/π²,
// and, further, of those censored in it, q/π.
func (m *model) censoringInfluence(r, g, weighted []float64, weightedMeans [][]float64) func(s int, end, own []float64) {
	p := m.coefficients()
	// Over those with another event so far: Σ m·r/G(s−), and times x.
	gone := make([]float64, m.x.n)
	left := float64(m.subjects)
	return func(s int, end, own []float64) {
		slot := &m.slots[s]
		clear(own)
		lost := 0.0
		for _, cell := range slot.exits[:slot.others] {
			lost += cell.weight
		}
		if lost > 0 {
			for j := range p {
				q := float64(gone[1+j]*weighted[s]) - float64(gone[0]*weightedMeans[s][j])
				own[j] = q / left
				end[j] -= float64(own[j]*lost) / left
			}
		}
		for _, cell := range slot.competing() {
			m.x.add(gone, cell.pattern, float64(cell.weight*r[cell.pattern])/g[s])
		}
		left -= float64(slot.leaving)
	}
}
