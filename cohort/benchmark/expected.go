package benchmark

import (
	"math"
	"sort"

	"example.org/holdfast/survival"
)

// Ratio is the revisions observed beside those a published series would lead
// one to expect.
type Ratio struct {
	Observed float64 // revisions up to ToYears
	Expected float64
	ToYears  float64 // last year of the series
	Ratio    float64 // Observed/Expected; NaN where nothing is expected
	Lower    float64 // exact Poisson limits of Observed, over Expected
	Upper    float64
	Level    float64
	Series   *Series
}

// ObservedExpected counts the revisions (events of the cause) in a group's life
// table, and those expected had the group the revision of a published series.
// A joint followed to t is expected to have
//
//	H(min(t, T)),  H(t) = −ln(1 − F(t)) at the published years, linear between them and from 0
//
// revisions, T being the last published year. Observed are the revisions up to
// T, so that both are of the same follow-up. A joint that enters late is
// expected to have that less H at its entry. The limits are Garwood's for the
// observed count, divided by the expected, which is taken as exact.
//
// It is false, and to be noted as [NoEarlyFigure], unless the series is of 1-KM
// and has a figure at three years or earlier. Hazard is higher early on, and a
// line from the origin to a single ten-year figure expects too little before it:
// of an average practice whose joints were all followed for five years, 1.3 times
// the revisions expected would be seen, if hazard falls as that of a Weibull
// distribution of shape 0.6 ((5/10)^0.6 of the ten-year hazard, where the line
// has 5/10), and more with shorter follow-up. It is also false for a weighted
// table, and where a figure is 100 %. It panics unless daysPerYear > 0,
// 0 < level < 1 and the table has the cause.
//
// Breslow & Day, Statistical Methods in Cancer Research II, 1987, chapter 2.
func ObservedExpected(t *survival.Table, cause int, s *Series, daysPerYear, level float64) (Ratio, bool) {
	if !(daysPerYear > 0) {
		panic("benchmark: days in a year must be above 0")
	}
	if !s.early() || t.Weighted {
		return Ratio{}, false
	}
	h := newHazard(s)
	r := Ratio{ToYears: s.Figures[len(s.Figures)-1].Years, Level: level, Series: s}
	last := float64(daysPerYear * r.ToYears)
	own := t.Event[cause-1]
	for i, at := range t.Time {
		leave := t.Censored[i]
		for _, e := range t.Event {
			leave += e[i]
		}
		if t.Entered != nil {
			leave -= t.Entered[i]
		}
		if leave != 0 {
			r.Expected += float64(leave * h.at(math.Min(at, last)/daysPerYear))
		}
		if at <= last {
			r.Observed += own[i]
		}
	}
	r.Expected = math.Max(0, r.Expected)
	lower, upper := survival.PoissonLimits(r.Observed, level)
	if r.Expected > 0 {
		r.Ratio, r.Lower, r.Upper = r.Observed/r.Expected, lower/r.Expected, upper/r.Expected
	} else {
		r.Ratio, r.Lower, r.Upper = nan, nan, nan
	}
	return r, true
}

// hazard is a cumulative hazard by years, linear between its points.
type hazard struct{ years, cumulative []float64 }

func newHazard(s *Series) hazard {
	h := hazard{years: []float64{0}, cumulative: []float64{0}}
	for _, f := range s.Figures {
		h.years = append(h.years, f.Years)
		h.cumulative = append(h.cumulative, -math.Log1p(-f.Revision))
	}
	return h
}

// at is the cumulative hazard at a number of years; after the last point that
// of the last, before operation 0.
func (h hazard) at(years float64) float64 {
	i := sort.SearchFloat64s(h.years, years)
	switch {
	case i == 0:
		return 0
	case i == len(h.years):
		return h.cumulative[i-1]
	}
	share := (years - h.years[i-1]) / (h.years[i] - h.years[i-1])
	return h.cumulative[i-1] + float64(share*(h.cumulative[i]-h.cumulative[i-1]))
}
