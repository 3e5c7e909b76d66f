package regress

import (
	"math"
	"slices"

	"example.org/holdfast/survival/internal/symmetric"
)

// model is collapsed data with their covariates, ready for one likelihood after
// another.
type model struct {
	*cells
	names  []string
	ties   Ties
	x      features  // 1, and the covariates, centred unless they are 0 and 1 or mostly 0
	centre []float64 // what was taken off each covariate
	used   []bool    // of each pattern: somebody is at risk when an event happens
}

func newModel(d *Data, ties Ties, reason func(int) int) (*model, error) {
	if err := d.check(); err != nil {
		return nil, err
	}
	c, err := collapse(d, reason)
	if err != nil {
		return nil, err
	}
	m := &model{cells: c, names: d.Names, ties: ties, centre: make([]float64, len(d.Names))}
	total := 0.0
	filled := make([]float64, len(d.Names)) // weight of the patterns in which a covariate is not 0
	binary := slices.Repeat([]bool{true}, len(d.Names))
	for p, w := range c.mass {
		total += w
		for j, x := range d.Design[c.rowOf[p]] {
			if x != 0 {
				filled[j] += w
				m.centre[j] += float64(w * x)
				binary[j] = binary[j] && x == 1
			}
		}
	}
	for j := range m.centre {
		if m.centre[j] /= total; binary[j] || filled[j] <= total/2 {
			m.centre[j] = 0
		}
	}
	m.x.begin(1 + len(d.Names))
	for _, row := range c.rowOf {
		m.x.set(0, 1)
		for j, x := range d.Design[row] {
			m.x.set(j+1, x-m.centre[j])
		}
		m.x.endPattern()
	}
	m.findUsed()
	return m, nil
}

// findUsed marks the patterns that the likelihood depends on.
func (m *model) findUsed() {
	m.used = make([]bool, len(m.mass))
	events := make(map[int32]float64) // of each stratum
	for s := range m.slots {
		events[m.slots[s].stratum] += m.slots[s].deaths
	}
	met := make([]float64, len(m.mass)) // events met, summed over the cells of a pattern
	running := 0.0
	for s := range m.slots {
		slot := &m.slots[s]
		if s == 0 || m.slots[s-1].stratum != slot.stratum {
			running = 0
		}
		running += slot.deaths
		for _, cell := range slot.exits {
			met[cell.pattern] += running
		}
		for _, cell := range slot.competing() { // stays at risk of the subdistribution
			met[cell.pattern] += events[slot.stratum]
		}
		for _, cell := range slot.entries {
			met[cell.pattern] -= running
		}
	}
	for p, n := range met {
		m.used[p] = n > 0
	}
}

// coefficients is their number.
func (m *model) coefficients() int { return len(m.names) }

// covariates calls with each covariate of a pattern that is not 0.
func (m *model) covariates(pattern int32, f func(j int, x float64)) {
	for i := m.x.start[pattern] + 1; i < m.x.start[pattern+1]; i++ {
		f(int(m.x.column[i])-1, m.x.value[i])
	}
}

// predictors are x′β of every pattern.
func (m *model) predictors(beta []float64) []float64 {
	eta := make([]float64, len(m.mass))
	for p := range eta {
		m.covariates(int32(p), func(j int, x float64) { eta[p] += float64(x * beta[j]) })
	}
	return eta
}

// ratios are exp(η).
func ratios(eta []float64) []float64 {
	r := make([]float64, len(eta))
	for p, e := range eta {
		r[p] = math.Exp(e)
	}
	return r
}

// evaluation is a log likelihood and its derivatives at one β.
type evaluation struct {
	value       float64
	score       []float64
	information [][]float64
	raw         []float64 // the diagonal of the information before the means were taken off
}

// dayHazard is what an event day adds to the cumulative hazard at x = 0: a in
// full, and a − b for those who have the event that day.
type dayHazard struct{ a, b float64 }

// evaluate is the partial likelihood. Event day t of a stratum, D events of
// total weight W, r = exp(x′β), c_k as in Ties:
//
//	S_k = Σ_{at risk} w·r·(1 − c_k·[has the event at t])
//	ℓ = Σ_events w·x′β − Σ_t (W/D) Σ_k log S_k
//	U = Σ_events w·x − Σ_t (W/D) Σ_k x̄_k,   I = Σ_t (W/D) Σ_k V_k
//
// x̄_k and V_k being mean and variance of x under these weights. The sums of xx′
// over those at risk are not needed day by day: each subject's xx′r counts with
// the cumulative hazard over its own time at risk. scale, nil for 1, multiplies
// what each slot adds to U and I.
func (m *model) evaluate(beta, scale []float64) evaluation {
	p := m.coefficients()
	eta := m.predictors(beta)
	r := ratios(eta)
	e := evaluation{score: make([]float64, p), information: symmetric.Zero(p), raw: make([]float64, p)}
	hazard := make([]dayHazard, len(m.slots))
	likelihood := newTotals(1)
	m.sweep(&m.x, r, func(s int, atRisk, dead []float64) {
		slot := &m.slots[s]
		g := 1.0
		if scale != nil {
			g = scale[s]
		}
		own := 0.0
		for _, cell := range slot.failures() {
			own += float64(cell.weight * eta[cell.pattern])
			m.covariates(cell.pattern, func(j int, x float64) { e.score[j] += float64(float64(g*cell.weight) * x) })
		}
		var h dayHazard
		var g0, g1, g2 float64
		m.ties.each(slot, func(c, multiple float64) {
			at := atRisk[0] - float64(c*dead[0])
			one := multiple / at
			two := one / at
			h.a += one
			h.b += float64(c * one)
			g0 += two
			g1 += float64(c * two)
			g2 += float64(float64(c*c) * two)
			own -= float64(multiple * math.Log(at))
		})
		likelihood.add(1, []float64{own})
		hazard[s] = dayHazard{float64(g * h.a), float64(g * h.b)}
		addDay(&e, atRisk[1:], dead[1:], hazard[s], [3]float64{float64(g * g0), float64(g * g1), float64(g * g2)})
	})
	e.value = likelihood.value[0]
	m.addSquares(&e, r, hazard)
	return e
}

// addDay takes the means of an event day off: their sum off the score, the sum
// of their products off the information, of which only the lower half is kept.
func addDay(e *evaluation, atRisk, dead []float64, h dayHazard, g [3]float64) {
	for i, x := range atRisk {
		y := dead[i]
		e.score[i] -= float64(h.a*x) - float64(h.b*y)
		// g0·x·x′ − g1(x·y′ + y·x′) + g2·y·y′
		ofX := float64(g[0]*x) - float64(g[1]*y)
		ofY := float64(g[2]*y) - float64(g[1]*x)
		row := e.information[i]
		for j, xj := range atRisk[:i+1] {
			row[j] -= float64(ofX*xj) + float64(ofY*dead[j])
		}
	}
}

// addSquares adds Σ xx′·r·(cumulative hazard while at risk) to the information,
// and fills in its upper half.
func (m *model) addSquares(e *evaluation, r []float64, hazard []dayHazard) {
	k := make([]float64, len(m.mass))
	running := 0.0
	for s := range m.slots {
		slot := &m.slots[s]
		if s == 0 || m.slots[s-1].stratum != slot.stratum {
			running = 0
		}
		running += hazard[s].a
		for _, cell := range slot.exits[:slot.dead] {
			k[cell.pattern] += float64(cell.weight * running)
		}
		for _, cell := range slot.failures() {
			k[cell.pattern] += float64(cell.weight * (running - hazard[s].b))
		}
		for _, cell := range slot.entries {
			k[cell.pattern] -= float64(cell.weight * running)
		}
	}
	for p, v := range k {
		v = float64(v * r[p])
		m.square(int32(p), v, e.information)
		m.covariates(int32(p), func(j int, x float64) { e.raw[j] += float64(float64(v*x) * x) })
	}
	mirror(e.information)
}

// square adds v·xx′ of a pattern to the lower half of a matrix.
func (m *model) square(pattern int32, v float64, to [][]float64) {
	m.covariates(pattern, func(i int, x float64) {
		vx := float64(v * x)
		m.covariates(pattern, func(j int, y float64) {
			if j <= i {
				to[i][j] += float64(vx * y)
			}
		})
	})
}

// mirror copies the lower half of a matrix to the upper.
func mirror(a [][]float64) {
	for i := range a {
		for j := range i {
			a[j][i] = a[i][j]
		}
	}
}
