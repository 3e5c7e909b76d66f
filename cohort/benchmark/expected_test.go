package benchmark

import (
	"errors"
	"math"
	"testing"

	"example.org/holdfast/survival"
)

func atYears(figures ...float64) *Series {
	s := &Series{Source: "a", Estimand: OneMinusKaplanMeier}
	for i := 0; i < len(figures); i += 2 {
		s.Figures = append(s.Figures, Figure{Years: figures[i], Revision: figures[i+1]})
	}
	return s
}

// Worked with R 4.2.2 from the definition.
func TestHazard(t *testing.T) {
	for _, c := range []struct {
		s    *Series
		want map[float64]float64
	}{
		{atYears(1, .01, 3, .02, 5, .03, 10, .05), map[float64]float64{0: 0, .5: .00646940557, 1: .0100503359, 2: .0156133743, 4: .0254582184, 7: .0392275401, 10: .0512932944, 12: .0512932944}},
		{atYears(3, .02, 10, .05), map[float64]float64{1: .00863316119, 5: .0299982739}},
		{atYears(5, .02, 10, .06), map[float64]float64{2: .00808108293, 7: .0347840115}}, // the slope before 5 is capped
		{atYears(10, .05), map[float64]float64{4: .0205173178}},
	} {
		h, ok := NewHazard(c.s)
		if !ok {
			t.Fatal(c.s)
		}
		for years, want := range c.want {
			if got := h.At(years); math.Abs(got-want) > 5e-11+1e-9*want {
				t.Errorf("%v at %v: %v, want %v", c.s.Figures, years, got, want)
			}
		}
	}
	for _, s := range []*Series{{}, {Estimand: Incidence, Figures: atYears(1, .1).Figures}, atYears(), atYears(1, 1), atYears(0, .1)} {
		if _, ok := NewHazard(s); ok {
			t.Errorf("a hazard of %+v", s)
		}
	}
}

// Calculated with R 4.2.2 (qgamma) from the formulas.
func TestRatioLimits(t *testing.T) {
	for _, c := range []struct{ o, e, l, u, lower, upper float64 }{
		{10, 6, 6, 6, .799231, 3.06506},
		{10, 6, 5, 7.2, .785133, 3.16101},
		{0, 6, 5, 7.2, 0, .623534},
	} {
		ratio, lower, upper := RatioLimits(c.o, c.e, c.l, c.u, .95)
		if ratio != c.o/c.e || math.Abs(lower-c.lower) > 5e-6 || math.Abs(upper-c.upper) > 1e-5 {
			t.Errorf("%+v: %v to %v", c, lower, upper)
		}
	}
	if r, _, _ := RatioLimits(1, 0, 0, 0, .95); !math.IsNaN(r) {
		t.Error(r)
	}
}

// Complete intervals, by hand: points at 1 and 3 years, days as they are (100 a
// year). Reaching 3 years: one revised on day 300, inside; one on day 301,
// expected to 3 years and not observed; one dead on day 100. Reaching 1 year: one
// closed on day 250, which counts to 1. Reaching none: left out.
func TestCompleteIntervals(t *testing.T) {
	s := atYears(1, .01, 3, .02)
	table := func(exit []float64, cause []int) *survival.Table {
		t.Helper()
		table, err := survival.NewTable(survival.Sample{Exit: exit, Cause: cause}, 2)
		if err != nil {
			t.Fatal(err)
		}
		return table
	}
	day := func(years float64) float64 { return 100 * years }
	groups := []Exits{
		{Reached: 3, InPeriod: true, Table: table([]float64{300, 301, 100}, []int{1, 1, 2}), OperatedFrom: 2004, OperatedTo: 2006},
		{Reached: 1, Table: table([]float64{250}, []int{0}), OperatedFrom: 2008, OperatedTo: 2008},
		{InPeriod: true, Table: table([]float64{50, 60}, []int{1, 0}), OperatedFrom: 2010, OperatedTo: 2011},
	}
	r, ok := ObservedExpected(groups, 1, s, day, 100, .95)
	if r.OperatedFrom != 2004 || r.OperatedTo != 2008 {
		t.Errorf("operated on %d to %d; those that don't count are none of them", r.OperatedFrom, r.OperatedTo)
	}
	h1, h3 := -math.Log(.99), -math.Log(.98)
	if want := 2*h3 + 2*h1; !ok || r.Observed != 1 || math.Abs(r.Expected-want) > 1e-15 || r.Joints != 4 || r.Without != 2 || r.Revised != 2 || r.InPeriod != 3 || r.ToYears != 3 || r.Points != 2 {
		t.Errorf("%+v, want %v expected", r, want)
	}
	if _, ok := ObservedExpected(groups[2:], 1, s, day, 100, .95); ok {
		t.Error("no joint with a complete interval")
	}
}

// A sum takes in the years of operation of all its parts, and of parts that don't say theirs none.
func TestYearsOfOperation(t *testing.T) {
	s := Sum([]*Ratio{{Expected: 1, Level: .95}, {Expected: 1, OperatedFrom: 2005, OperatedTo: 2010}, {Expected: 1, OperatedFrom: 2003, OperatedTo: 2004}})
	if s.OperatedFrom != 2003 || s.OperatedTo != 2010 {
		t.Errorf("%d to %d", s.OperatedFrom, s.OperatedTo)
	}
}

func TestUsualCounts(t *testing.T) {
	// qpois(c(.025, .975), 7.4) is 3 and 13, of 1.4 it is 0 and 4 (R 4.2.2).
	for _, c := range []struct {
		mean        float64
		least, most int
	}{{7.4, 3, 13}, {1.4, 0, 4}} {
		if least, most := UsualCounts(c.mean); least != c.least || most != c.most {
			t.Errorf("%v: %d to %d", c.mean, least, most)
		}
	}
}

// Calculated with R 4.2.2 (qbeta): 16 of 40 with w = .25.
func TestShareOf(t *testing.T) {
	s, ok := ShareOf(16, 10, 40, .95)
	for _, c := range []struct{ got, want float64 }{
		{s.Ratio, 1.6}, {s.Lower, .994600}, {s.Upper, 2.26693}, {s.Others, 2}, {s.Least, .992813}, {s.Most, 3.92414},
	} {
		if math.Abs(c.got-c.want) > 5e-6*c.want {
			t.Errorf("%+v: got %v, want %v", s, c.got, c.want)
		}
	}
	if _, alone := ShareOf(4, 4, 4, .95); alone || !ok {
		t.Error("a department of one unit tells nothing")
	}
}

// Without a series or a table nothing is expected, and nothing compared.
func TestNothingToCompare(t *testing.T) {
	day := func(y float64) float64 { return 365 * y }
	s := &Series{Estimand: OneMinusKaplanMeier, Figures: []Figure{{Years: 5, Revision: .1}}}
	if _, ok := ObservedExpected([]Exits{{Reached: 5}}, 1, s, day, 365, .95); ok {
		t.Error("expected of no table")
	}
	if _, ok := ObservedExpected(nil, 1, nil, day, 365, .95); ok {
		t.Error("expected from no series")
	}
	if _, err := Compare(nil, nil, nil, Figure{}, survival.Interval{}, 1); err == nil {
		t.Error("compared with no series")
	}
	for _, f := range []Figure{{Years: 5, Revision: 4}, {Years: 5, Revision: .04, Lower: .05, Upper: .06}, {Years: 5, Revision: .04, Lower: 3, Upper: 5}} {
		if _, err := Compare(nil, nil, s, f, survival.Interval{}, 1); err == nil {
			t.Errorf("%v is taken", f)
		}
	}
	if _, err := Compare(nil, nil, &Series{}, s.Figures[0], survival.Interval{}, 1); !errors.Is(err, ErrEstimand) {
		t.Errorf("a series that does not say what it estimates: %v", err)
	}
}
