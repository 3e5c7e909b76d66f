package contrast

import (
	"errors"
	"math"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// Difference is the cumulative revision of a group less that of another, at one
// time.
type Difference struct {
	Group, Against int // of Part.Groups
	Years          float64
	Estimand       survival.Estimand
	Reached        bool // both groups are followed that long; else numbers are NaN

	// Difference is a proportion, with limits by MOVER from the limits of both
	// groups as printed. SE takes the groups for independent.
	Difference, SE, Lower, Upper float64
	Level                        float64

	// Reading says whether the group is above or below the other, from limits by
	// MOVER of exact intervals, at a level of 0.95; see the package
	// documentation. NearTheLine says that the printed limits would read
	// otherwise.
	Reading     benchmark.Reading
	NearTheLine bool
	Notes       []string

	// Published are the differences that sources publish for the same choice.
	Published []PublishedPair
}

// FewestToRead is the number of revisions by a year, of two groups together, below
// which only a difference that is clear is read: with five and none, two groups of
// one size differ as much one time in sixteen by chance.
const FewestToRead = 6

// differences compares each group with the one that others are compared with.
func (k *Contrast) differences(p *Part, series []*benchmark.Series) {
	for _, e := range []survival.Estimand{survival.OneMinusKaplanMeier, survival.Incidence} {
		if e == survival.Incidence && !k.Deaths.Recorded {
			continue
		}
		for n, y := range k.Years {
			for g := range p.Groups {
				if g != p.Against {
					d := k.difference(p, g, n, y, e)
					k.published(p, &d, series)
					p.Differences = append(p.Differences, d)
				}
			}
		}
	}
}

func (k *Contrast) difference(p *Part, group, n int, years float64, e survival.Estimand) Difference {
	a, b := &p.Groups[group], &p.Groups[p.Against]
	nan := math.NaN()
	d := Difference{Group: group, Against: p.Against, Years: years, Estimand: e, Difference: nan, SE: nan, Lower: nan, Upper: nan, Level: k.level()}
	pa, pb := a.Points[n], b.Points[n]
	if d.Reached = pa.Reached && pb.Reached; !d.Reached {
		d.Notes = append(d.Notes, NoteBeyond)
		return d
	}
	x, y, ca, cb := pa.KaplanMeier, pb.KaplanMeier, a.KaplanMeier, b.KaplanMeier
	if e == survival.Incidence {
		x, y, ca, cb = pa.Incidence, pb.Incidence, a.Incidence, b.Incidence
	}
	d.Difference, d.Lower, d.Upper = benchmark.MOVER(x.Estimate, x.Lower, x.Upper, y.Estimate, y.Lower, y.Upper)
	d.SE = math.Sqrt(float64(x.SE*x.SE) + float64(y.SE*y.SE))
	d.read(ca, cb, x, y)
	d.Notes = append(d.Notes, ((x.Notes | y.Notes) &^ survival.OtherMethod).Codes()...)
	if d.NearTheLine {
		d.Notes = append(d.Notes, NoteNear)
	}
	if p.Shared > 0 {
		d.Notes = append(d.Notes, NoteBilateral)
	}
	return d
}

// read makes the reading of a difference from exact intervals.
func (d *Difference) read(a, b *survival.Curve, x, y survival.Point) {
	p, q := benchmark.BasisOf(a, x.Time, readingLevel), benchmark.BasisOf(b, y.Time, readingLevel)
	_, lower, upper := benchmark.MOVER(x.Estimate, p.Lower, p.Upper, y.Estimate, q.Lower, q.Upper)
	d.Reading = side(lower, upper)
	switch {
	case math.Min(x.AtRisk, y.AtRisk) < benchmark.FewestAtRisk, lower != lower || upper != upper,
		d.Reading == benchmark.Compatible && x.Events+y.Events < FewestToRead:
		d.Reading = benchmark.TooFew
	}
	sign := d.Reading
	if sign == benchmark.TooFew {
		sign = benchmark.Compatible
	}
	d.NearTheLine = d.Level == readingLevel && side(d.Lower, d.Upper) != sign
}

// side is where limits of a difference lie.
func side(lower, upper float64) benchmark.Reading {
	switch {
	case lower > 0:
		return benchmark.Above
	case upper < 0:
		return benchmark.Below
	}
	return benchmark.Compatible
}

// Means are restricted means: the mean time free of revision within some years.
type Means struct {
	Years   float64 // the same for all groups
	Asked   bool    // the last of the years asked for; else the most that all allow
	Groups  []int   // those followed long enough
	LeftOut []int   // those that are not
	Mean    []survival.Mean
	Against int // the index in Groups that others are compared with; −1 if it is left out
	// Difference of each of Groups from it, in days, with normal limits; the groups
	// are taken for independent. Where one of the two has no revision by then, its
	// variance is not known, and there are no limits.
	Difference []MeanDifference
}

// MeanDifference is a difference of restricted means, in days.
type MeanDifference struct{ Difference, SE, Lower, Upper float64 }

// fewestForMeans is the number at risk up to which restricted means are taken.
const fewestForMeans = 10

// means compares restricted means up to one time for all groups.
func (k *Contrast) means(p *Part, o Options) error {
	m := &Means{Against: -1}
	least, enough := math.Inf(1), float64(cohort.DaysPerYear*max(1, k.Years[p.Year]))
	for g := range p.Groups {
		days := lastWith(p.Groups[g].Table, fewestForMeans)
		if days < math.Floor(enough) {
			m.LeftOut = append(m.LeftOut, g)
			continue
		}
		if g == p.Against {
			m.Against = len(m.Groups)
		}
		m.Groups, least = append(m.Groups, g), math.Min(least, days)
	}
	if len(m.Groups) < 2 || m.Against < 0 {
		return nil
	}
	m.Years = max(1, math.Floor(least/cohort.DaysPerYear))
	if o.Years != nil {
		if asked := k.Years[len(k.Years)-1]; k.allFollowed(p, m.Groups, float64(cohort.DaysPerYear*asked)) {
			m.Years, m.Asked = asked, true
		}
	}
	for _, g := range m.Groups {
		mean, err := p.Groups[g].KaplanMeier.RestrictedMean(float64(cohort.DaysPerYear*m.Years), k.Interval)
		if errors.Is(err, survival.ErrBeyondFollowUp) {
			return nil
		}
		if err != nil {
			return err
		}
		m.Mean = append(m.Mean, mean)
	}
	z := normalQuantile(1 - (1-k.level())/2)
	base := m.Mean[m.Against]
	for _, mean := range m.Mean {
		d := MeanDifference{Difference: mean.Mean - base.Mean, SE: math.Sqrt(float64(mean.SE*mean.SE) + float64(base.SE*base.SE))}
		if mean.SE == 0 || base.SE == 0 {
			d.SE = math.NaN()
		}
		d.Lower, d.Upper = d.Difference-float64(z*d.SE), d.Difference+float64(z*d.SE)
		m.Difference = append(m.Difference, d)
	}
	p.Means = m
	return nil
}

// allFollowed says whether somebody of each group is followed to a day.
func (k *Contrast) allFollowed(p *Part, groups []int, day float64) bool {
	for _, g := range groups {
		if last, ok := p.Groups[g].Table.LastExit(); !ok || last < day {
			return false
		}
	}
	return true
}

// lastWith is the last day on which so many are at risk; −1 if they never are.
func lastWith(t *survival.Table, atRisk float64) float64 {
	for i := len(t.Time) - 1; i >= 0; i-- {
		if t.AtRisk[i] >= atRisk {
			return t.Time[i]
		}
	}
	return -1
}
