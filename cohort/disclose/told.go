package disclose

import (
	"math"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// told is all that is told of some joints over the years. Whatever is shared of
// them is made from it alone, so that it gives nothing back that it does not hold.
type told struct {
	years                   []float64
	joints                  Count
	atRisk, revised, others []Count // at each year; others: ended by something else so far
	revisedAll              Count   // of the whole follow-up
}

// path is one way in which the joints may have fared by what is told.
type path struct{ joints, atRisk, revised, others []float64 }

// way picks a number of each count up to a year: the one shown, or those that make
// the proportion revised by then least or most. It is least with as many revised
// early as may be, when more were at risk.
func (t *told) way(to int, extreme int) path {
	p := path{joints: []float64{t.pick(t.joints, -extreme)}}
	last := t.revised[to]
	for i := range to + 1 {
		revised := t.revised[i].float()
		switch {
		case extreme < 0:
			revised = float64(min(t.revised[i].most, last.least))
		case extreme > 0 && i == to:
			revised = float64(last.most)
		case extreme > 0:
			revised = float64(t.revised[i].least)
		}
		p.atRisk = append(p.atRisk, min(p.joints[0], t.pick(t.atRisk[i], -extreme)))
		p.revised = append(p.revised, revised)
		p.others = append(p.others, t.others[i].float())
	}
	return p
}

func (t *told) pick(c Count, extreme int) float64 {
	switch {
	case extreme < 0:
		return float64(c.least)
	case extreme > 0:
		return float64(c.most)
	}
	return c.float()
}

// table is the life table of a way, a row a year: those who left for another reason
// within a year were at risk for half of it (the actuarial estimate: Kalbfleisch &
// Prentice, The Statistical Analysis of Failure Time Data, 2002, 1.3). For the
// incidence what competes is an event; else it is one of the other reasons.
func (t *told) table(p path, competing bool) *survival.Table {
	n := len(p.atRisk)
	table := &survival.Table{Time: make([]float64, n), AtRisk: make([]float64, n), Censored: make([]float64, n), Event: [][]float64{make([]float64, n), make([]float64, n)}}
	at, revised, others := p.joints[0], 0.0, 0.0
	for i := range n {
		d := math.Max(0, p.revised[i]-revised)
		k := math.Max(0, p.others[i]-others)
		if !competing {
			k = 0
		}
		left := math.Max(0, at-p.atRisk[i]-d-k)
		table.Time[i] = cohort.DayOfYear(t.years[i])
		table.AtRisk[i] = math.Max(d+k, at-left/2)
		table.Event[0][i], table.Event[1][i] = d, k
		table.Censored[i] = left
		if i == n-1 {
			table.Censored[i] += p.atRisk[i] // and so followed to here
		}
		at, revised, others = p.atRisk[i], math.Max(revised, p.revised[i]), math.Max(others, p.others[i])
	}
	return table
}

// point is the estimate at a year, from the numbers told. The lower limit is that of
// the least that they can stand for, the upper one that of the most.
func (t *told) point(year int, e survival.Estimand, iv survival.Interval) (survival.Point, error) {
	read := func(extreme int) (survival.Point, error) {
		table := t.table(t.way(year, extreme), e == survival.Incidence)
		estimate := survival.KaplanMeier
		if e == survival.Incidence {
			estimate = survival.CumulativeIncidence
		}
		c, err := estimate(table, cohort.CauseRevision)
		if err != nil {
			return survival.Point{}, err
		}
		p, _ := c.At(table.Time[year], iv)
		return p, nil
	}
	p, err := read(0)
	if err != nil {
		return p, err
	}
	p.SE, p.SeenTo, p.Competing = math.NaN(), math.NaN(), math.NaN()
	p.AtRisk, p.Events = t.atRisk[year].float(), t.revised[year].float()
	p.Notes &^= survival.FewAtRisk | survival.LastIsEvent
	if p.AtRisk < iv.MinAtRisk {
		p.Notes |= survival.FewAtRisk
	}
	if t.revised[year].most == 0 {
		p.Upper = 1 - math.Pow((1-p.Level)/2, 1/math.Max(1, float64(t.atRisk[year].least)))
		return p, nil
	}
	least, err := read(-1)
	if err != nil {
		return p, err
	}
	most, err := read(1)
	if err != nil {
		return p, err
	}
	p.Lower, p.Upper = math.Min(p.Lower, least.Lower), math.Max(p.Upper, most.Upper)
	return p, nil
}

// row reads both estimates at a year.
func (t *told) row(year int, deaths bool, iv survival.Interval) (km, incidence survival.Point, err error) {
	if km, err = t.point(year, survival.OneMinusKaplanMeier, iv); err == nil && deaths {
		incidence, err = t.point(year, survival.Incidence, iv)
	}
	return km, incidence, err
}

// rate is revised per 100 implant-years, with limits of the least and the most.
func rate(revised Count, years, level float64) survival.Rate {
	r := survival.NewRate(revised.float(), years, 100, level)
	r.Lower, r.Upper = survival.NewRate(float64(revised.least), years, 100, level).Lower, survival.NewRate(float64(revised.most), years, 100, level).Upper
	return r
}

// ratio is observed over expected, with limits of the least and the most.
func ratio(r *benchmark.Ratio, observed Count) {
	r.Observed, r.Ratio, r.Lower, r.Upper = observed.float(), math.NaN(), math.NaN(), math.NaN()
	if r.Expected > 0 {
		lower, _ := survival.PoissonLimits(float64(observed.least), r.Level)
		_, upper := survival.PoissonLimits(float64(observed.most), r.Level)
		r.Ratio, r.Lower, r.Upper = r.Observed/r.Expected, lower/r.Expected, upper/r.Expected
	}
}
