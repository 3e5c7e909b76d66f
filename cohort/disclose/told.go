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
// Prentice, The Statistical Analysis of Failure Time Data, 2002, 1.3). What happened
// within a year stands just before its end, where the last row has those still at risk. For the
// incidence what competes is an event; else it is one of the other reasons.
func (t *told) table(p path, competing bool) *survival.Table {
	n := len(p.atRisk)
	table := &survival.Table{Time: make([]float64, n+1), AtRisk: make([]float64, n+1), Censored: make([]float64, n+1), Event: [][]float64{make([]float64, n+1), make([]float64, n+1)}}
	at, revised, others := p.joints[0], 0.0, 0.0
	for i := range n {
		d := math.Max(0, p.revised[i]-revised)
		k := math.Max(0, p.others[i]-others)
		if !competing {
			k = 0
		}
		left := math.Max(0, at-p.atRisk[i]-d-k)
		table.Time[i] = cohort.DayOfYear(t.years[i]) - .5
		table.AtRisk[i] = math.Max(d+k, at-left/2)
		table.Event[0][i], table.Event[1][i] = d, k
		table.Censored[i] = left
		at, revised, others = p.atRisk[i], math.Max(revised, p.revised[i]), math.Max(others, p.others[i])
	}
	table.Time[n], table.AtRisk[n], table.Censored[n] = cohort.DayOfYear(t.years[n-1]), at, at
	return table
}

// estimate is what the numbers told make of a year: a curve of those shown, one of the
// least and one of the most that they can stand for, and the estimate of the first with
// limits that allow for the others. The zero one is of a year that nobody reached.
type estimate struct {
	curves [3]*survival.Curve
	point  survival.Point
}

// estimate at a year. The lower limit is that of the least that the numbers told can stand
// for, the upper one that of the most.
func (t *told) estimate(year int, of survival.Estimand, iv survival.Interval) (e estimate, err error) {
	estimator := survival.KaplanMeier
	if of == survival.Incidence {
		estimator = survival.CumulativeIncidence
	}
	var points [3]survival.Point
	for i, extreme := range []int{0, -1, 1} {
		if e.curves[i], err = estimator(t.table(t.way(year, extreme), of == survival.Incidence), cohort.CauseRevision); err != nil {
			return e, err
		}
		points[i], _ = e.curves[i].At(cohort.DayOfYear(t.years[year]), iv)
	}
	p := points[0]
	p.SE, p.SeenTo, p.Competing = nan, nan, nan
	p.AtRisk, p.Events = t.atRisk[year].float(), t.revised[year].float()
	p.Notes &^= survival.FewAtRisk | survival.LastIsEvent
	if p.AtRisk < iv.MinAtRisk {
		p.Notes |= survival.FewAtRisk
	}
	if t.revised[year].most == 0 {
		p.Upper = 1 - math.Pow((1-p.Level)/2, 1/math.Max(1, float64(t.atRisk[year].least)))
	} else {
		p.Lower, p.Upper = math.Min(p.Lower, points[1].Lower), math.Max(p.Upper, points[2].Upper)
	}
	e.point = p
	return e, nil
}

// row is both estimates at a year.
func (t *told) row(year int, deaths bool, iv survival.Interval) (km, incidence estimate, err error) {
	if km, err = t.estimate(year, survival.OneMinusKaplanMeier, iv); err == nil && deaths {
		incidence, err = t.estimate(year, survival.Incidence, iv)
	}
	return km, incidence, err
}

// stepOf is what implant-years are rounded to, where a joint has so many on average: those
// of five joints or the next 1, 2 or 5 times a power of ten, so that one joint more or less
// that is revised seldom shows; and 5 at least.
func stepOf(mean float64) float64 {
	for ten := 1.; ; ten *= 10 {
		for _, step := range []float64{ten, 2 * ten, 5 * ten} {
			if step >= roundTo && !(step < roundTo*mean) {
				return step
			}
		}
	}
}

// rate is revised per 100 implant-years, which may be so many more or fewer, with limits of
// the least and the most.
func rate(revised Count, years, around, level float64) survival.Rate {
	r := survival.NewRate(revised.float(), years, 100, level)
	r.Lower = survival.NewRate(float64(revised.least), years+around, 100, level).Lower
	r.Upper = survival.NewRate(float64(revised.most), max(0, years-around), 100, level).Upper
	return r
}

// expected is how many revisions a published series would lead one to expect of what is told,
// up to a year of the series. Whoever is revised or gone otherwise between two years told
// counts to the middle; whoever left for another reason, to the last of the series' years
// that had come by then, any day between the two alike (compare
// [benchmark.ObservedExpected], which knows the days).
func (t *told) expected(s *benchmark.Series, to float64) float64 {
	h, ok := benchmark.NewHazard(s)
	if !ok || len(t.years) == 0 {
		return 0
	}
	const days = 24 // between two years told
	left := func(from, until float64) (mean float64) {
		for i := range days {
			now, last := from+(until-from)*(float64(i)+.5)/days, 0.
			for _, f := range s.Figures {
				if f.Years <= min(now, to) {
					last = max(last, f.Years)
				}
			}
			mean += h.At(last) / days
		}
		return mean
	}
	p := t.way(len(t.years)-1, 0)
	at, revised, others, before, sum := p.joints[0], 0., 0., 0., 0.
	for i, y := range t.years {
		gone := max(0, p.revised[i]-revised) + max(0, p.others[i]-others)
		sum += gone*h.At(min((before+y)/2, to)) + max(0, at-p.atRisk[i]-gone)*left(before, y)
		at, revised, others, before = p.atRisk[i], max(revised, p.revised[i]), max(others, p.others[i]), y
	}
	return sum + at*left(before, max(before, to))
}

// ratio is observed over expected, with limits of the least and the most. It lies outside a
// funnel where both do.
func ratio(r *benchmark.Ratio, observed Count) {
	r.Observed, r.Ratio, r.Lower, r.Upper = observed.float(), nan, nan, nan
	r.Sides = [2]benchmark.Reading{benchmark.Compatible, benchmark.Compatible}
	if r.Expected > 0 {
		lower, _ := survival.PoissonLimits(float64(observed.least), r.Level)
		_, upper := survival.PoissonLimits(float64(observed.most), r.Level)
		r.Ratio, r.Lower, r.Upper = r.Observed/r.Expected, lower/r.Expected, upper/r.Expected
		for i, level := range benchmark.FunnelLevels {
			least := benchmark.FunnelSide(float64(observed.least), r.Expected, 1, level)
			if most := benchmark.FunnelSide(float64(observed.most), r.Expected, 1, level); most == least {
				r.Sides[i] = most
			}
		}
	}
}
