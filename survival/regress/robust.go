package regress

import (
	"math"
	"slices"

	"example.org/holdfast/survival/internal/symmetric"
)

// eventDay is what an event day adds to the score residuals of those at risk.
type eventDay struct {
	slot       int
	a, b       float64   // as in dayHazard
	means      []float64 // (W/D) Σ x̄_k/S_k, summed over this and the earlier event days of the stratum
	ofDead     []float64 // (W/D) Σ c_k·x̄_k/S_k
	mean       []float64 // (1/D) Σ x̄_k
	cumulative float64   // a, summed likewise
}

// eventDays are in the order of the slots.
func (m *model) eventDays(beta []float64) []eventDay {
	p := m.coefficients()
	var days []eventDay
	m.sweep(&m.x, ratios(m.predictors(beta)), func(s int, atRisk, dead []float64) {
		slot := &m.slots[s]
		d := eventDay{slot: s, means: make([]float64, p), ofDead: make([]float64, p), mean: make([]float64, p)}
		var g0, g1, g2 float64
		m.ties.each(slot, func(c, multiple float64) {
			at := atRisk[0] - float64(c*dead[0])
			one := multiple / at
			two := one / at
			d.a += one
			d.b += float64(c * one)
			g0 += two
			g1 += float64(c * two)
			g2 += float64(float64(c*c) * two)
		})
		for j := range p {
			x, y := atRisk[j+1], dead[j+1]
			d.means[j] = float64(g0*x) - float64(g1*y)
			d.ofDead[j] = float64(g1*x) - float64(g2*y)
			d.mean[j] = (float64(d.a*x) - float64(d.b*y)) / slot.deathWeight
		}
		days = append(days, d)
	})
	slices.Reverse(days)
	for i := range days {
		d := &days[i]
		d.cumulative = d.a
		if i > 0 && m.slots[days[i-1].slot].stratum == m.slots[d.slot].stratum {
			d.cumulative += days[i-1].cumulative
			for j, v := range days[i-1].means {
				d.means[j] += v
			}
		}
	}
	return days
}

// residuals makes score residuals of one subject of a row:
//
//	R = w·[ event·(x − (1/D)Σ_k x̄_k) − Σ_{t: at risk} (W/D) Σ_k r·(1 − c_k·[event at t])·(x − x̄_k)/S_k ]
type residuals struct {
	m      *model
	d      *Data
	r      []float64
	days   []eventDay
	last   []int32 // of each slot, the last event day of its stratum up to it; −1: none
	slotOf func(stratum int32, time float64) int
	number func(row int) int32
	reason func(cause int) int
}

func (m *model) newResiduals(d *Data, beta []float64, reason func(int) int) *residuals {
	r := &residuals{m: m, d: d, r: ratios(m.predictors(beta)), days: m.eventDays(beta), reason: reason}
	r.last = make([]int32, len(m.slots))
	first := make([]int, len(m.strata)+1) // first slot of each stratum
	day, passed := int32(-1), int32(0)
	for s := range m.slots {
		stratum := m.slots[s].stratum
		if s == 0 || m.slots[s-1].stratum != stratum {
			day = -1
		}
		if m.slots[s].deaths > 0 {
			day, passed = passed, passed+1
		}
		r.last[s] = day
		first[stratum+1] = s + 1
	}
	r.number = new(cells).numberStrata(d)
	r.slotOf = m.slotFinder(first)
	return r
}

// slotFinder returns a function that finds the slot of a stratum and time, given
// the first slot of each stratum: in a list of all, unless it would be very long.
func (m *model) slotFinder(first []int) func(stratum int32, time float64) int {
	if n := len(m.strata) * len(m.times); n <= 1<<24 {
		at := make([]int32, n)
		for s := range m.slots {
			at[int(m.slots[s].stratum)*len(m.times)+int(m.slots[s].time)] = int32(s)
		}
		return func(stratum int32, time float64) int { return int(at[int(stratum)*len(m.times)+int(m.place(time))]) }
	}
	return func(stratum int32, time float64) int {
		slots := m.slots[first[stratum]:first[stratum+1]]
		i, _ := slices.BinarySearchFunc(slots, m.place(time), func(s slot, t int32) int { return int(s.time) - int(t) })
		return first[stratum] + i
	}
}

// add adds n times the residual of one subject of a row.
func (r *residuals) add(to []float64, row int, n float64) {
	d := r.d
	stratum, pattern := r.number(row), r.m.patternOf[d.pattern(row)]
	w := float64(n * d.weight(row))
	wr := float64(w * r.r[pattern])
	at := r.slotOf(stratum, d.Sample.Exit[row])
	atX, means := 0.0, func(sign float64, v []float64) {
		for j, x := range v {
			to[j] += float64(sign * float64(wr*x))
		}
	}
	if day := r.last[at]; day >= 0 {
		h := &r.days[day]
		atX -= float64(wr * h.cumulative)
		means(1, h.means)
		if r.reason(d.Sample.Cause[row]) == failed {
			atX += w + float64(wr*h.b)
			means(-1, h.ofDead)
			for j, x := range h.mean {
				to[j] -= float64(w * x)
			}
		}
	}
	if late := d.Sample.Entry; late != nil && !math.IsInf(late[row], -1) {
		if day := r.last[r.slotOf(stratum, late[row])]; day >= 0 {
			atX += float64(wr * r.days[day].cumulative)
			means(-1, r.days[day].means)
		}
	}
	r.m.covariates(pattern, func(j int, x float64) { to[j] += float64(atX * x) })
}

// residualProducts is Σ R_c·R_c′ over clusters, and ΣR. Without clusters
// each subject is its own; the subjects of a row have one residual.
func (m *model) residualProducts(d *Data, beta []float64, reason func(int) int) (products [][]float64, sum []float64) {
	p := m.coefficients()
	r := m.newResiduals(d, beta, reason)
	products, sum = symmetric.Zero(p), make([]float64, p)
	one := make([]float64, p)
	flush := func(n float64) {
		for i, v := range one {
			v = float64(n * v)
			sum[i] += v
			row := products[i]
			for j, w := range one[:i+1] {
				row[j] += float64(v * w)
			}
		}
		clear(one)
	}
	if d.Sample.Cluster == nil && d.origin == nil {
		for i := range d.rows() {
			if d.used(i) {
				r.add(one, i, 1)
				flush(float64(d.count(i)))
			}
		}
		mirror(products)
		return products, sum
	}
	keys, rows := d.byCluster()
	for k, i := range rows {
		n := float64(d.count(int(i)))
		if d.Sample.Cluster == nil { // the periods of the subjects of one row
			r.add(one, int(i), 1)
		} else {
			r.add(one, int(i), n)
			n = 1
		}
		if k == len(rows)-1 || keys[k+1] != keys[k] {
			flush(n)
		}
	}
	mirror(products)
	return products, sum
}

// byCluster lists the rows used by cluster or, without, by the row they were
// split from.
func (d *Data) byCluster() (keys []uint64, rows []int32) {
	for i := range d.rows() {
		if !d.used(i) {
			continue
		}
		key := uint64(0)
		if d.Sample.Cluster != nil {
			key = uint64(d.Sample.Cluster[i])
		} else {
			key = uint64(d.origin[i])
		}
		keys, rows = append(keys, key), append(rows, int32(i))
	}
	sortKeys(keys, rows, 64)
	return keys, rows
}
