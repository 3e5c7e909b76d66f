package survival_test

import (
	"errors"
	"math"
	"testing"

	"example.org/holdfast/survival"
)

// TestStandardiseByHand: strata of 4 and of 2, in halves. By day 2 the first has
// F = 1/4 with variance 3/64, the second 0: F = 1/8, SE = √(3/64)/2. One more
// event would add 1/2·(3/4)/3 in the first, 1/2·1/2 in the second: w_m = 1/4.
// Without any event the upper limit is the 97.5 % quantile of an exponential
// distribution with mean w_m.
func TestStandardiseByHand(t *testing.T) {
	first := survival.Sample{Exit: []float64{1, 5, 5, 5}, Cause: []int{1, 0, 0, 0}}
	second := survival.Sample{Exit: []float64{5, 6}, Cause: []int{0, 1}}
	tables := byGroup(t, first, second, none)
	c := &comparison{t: t, what: "by hand", tolerance: 1e-12}
	got, err := survival.Standardise(tables, []float64{.5, .5, 0}, 1, survival.OneMinusKaplanMeier, 2, .95)
	if err != nil {
		t.Fatal(err)
	}
	c.close("estimate", got.Estimate, 1./8)
	c.close("SE", got.SE, math.Sqrt(3./64)/2)
	c.close("at risk", got.AtRisk, 2)
	got, err = survival.Standardise(tables, []float64{.5, .5, 0}, 1, survival.Incidence, .5, .95)
	if err != nil {
		t.Fatal(err)
	}
	c.close("lower limit without events", got.Lower, 0)
	c.close("upper limit without events", got.Upper, -math.Log(.025)/4) // w_m = 1/2·1/2

	for name, test := range map[string]struct {
		weight []float64
		at     float64
		want   error
	}{
		"a weight short":    {[]float64{.5, .5}, 2, survival.ErrMix},
		"not 1 in all":      {[]float64{.5, .4, 0}, 2, survival.ErrMix},
		"a weight below 0":  {[]float64{1.5, -.5, 0}, 2, survival.ErrMix},
		"no table":          {[]float64{.5, .25, .25}, 2, survival.ErrMix},
		"beyond a stratum":  {[]float64{.5, .5, 0}, 5.5, survival.ErrBeyondFollowUp},
		"not a number":      {[]float64{.5, math.NaN(), 0}, 2, survival.ErrMix},
		"time not a number": {[]float64{.5, .5, 0}, math.NaN(), survival.ErrBeyondFollowUp},
	} {
		if _, err := survival.Standardise(tables, test.weight, 1, survival.Incidence, test.at, .95); !errors.Is(err, test.want) {
			t.Errorf("%s: error %v, want %v", name, err, test.want)
		}
	}
}

// TestSmoothHazard smooths a constant hazard, which must come out at every time,
// the ends included: on each of 1,000 days 1 of every 1,000 at risk.
func TestSmoothHazard(t *testing.T) {
	table := &survival.Table{Event: [][]float64{nil}}
	for day := range 1000 {
		table.Time = append(table.Time, float64(day)+.5)
		table.AtRisk = append(table.AtRisk, 1000)
		table.Event[0] = append(table.Event[0], 1)
		table.Censored = append(table.Censored, 0)
	}
	got, err := survival.SmoothHazard(table, 1, 200, []float64{0, 20, 200, 500, 800, 950, 999.5}, .95)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range got.Point {
		// Days are steps: at the ends half a day of the kernel, 6/200 high, is too much.
		if math.Abs(p.Estimate-.001) > 1.6e-5 || !(p.Lower < p.Estimate && p.Estimate < p.Upper) {
			t.Errorf("hazard at %v: %v (%v to %v), want 0.001", p.Time, p.Estimate, p.Lower, p.Upper)
		}
	}
	for name, test := range map[string]struct {
		cause     int
		bandwidth float64
		at        float64
		want      error
	}{
		"no such cause":            {2, 0, 5, survival.ErrTable},
		"bandwidth below 0":        {1, -1, 5, survival.ErrBandwidth},
		"bandwidth above half":     {1, 501, 5, survival.ErrBandwidth},
		"bandwidth not a number":   {1, math.NaN(), 5, survival.ErrBandwidth},
		"a time below 0":           {1, 0, -1, nil},
		"a time beyond 10 at risk": {1, 0, 1000, nil},
	} {
		_, err := survival.SmoothHazard(table, test.cause, test.bandwidth, []float64{test.at}, .95)
		if err == nil || test.want != nil && !errors.Is(err, test.want) {
			t.Errorf("%s: error %v, want %v", name, err, test.want)
		}
	}
	table.Event[0] = make([]float64, 1000)
	if _, err := survival.SmoothHazard(table, 1, 0, nil, .95); !errors.Is(err, survival.ErrFewEvents) {
		t.Errorf("no events: error %v, want %v", err, survival.ErrFewEvents)
	}
}
