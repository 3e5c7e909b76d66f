package benchmark

import (
	"math"
	"testing"

	"example.org/holdfast/survival"
)

// Points 3 % at 5 years and 5 % at 10. Hand-worked: H(2) = −ln(.97)·2/5,
// H(7.5) = −(ln .97 + ln .95)/2, H(14) = −ln .95.
func TestHazard(t *testing.T) {
	h := newHazard(&Series{Estimand: OneMinusKaplanMeier, Figures: []Figure{{Years: 5, Revision: .03}, {Years: 10, Revision: .05}}})
	for years, want := range map[float64]float64{
		2: .0121837, 7.5: .0408763, 14: .0512933, 0: 0, -1: 0, 5: .0304592, 10: .0512933,
	} {
		if got := h.at(years); math.Abs(got-want) > 5e-8 {
			t.Errorf("H(%v) = %v, want %v", years, got, want)
		}
	}
}

func early(revisions ...float64) *Series {
	s := &Series{Source: "a", Estimand: OneMinusKaplanMeier}
	for i, p := range revisions {
		s.Figures = append(s.Figures, Figure{Years: []float64{1, 3, 10}[i], Revision: p})
	}
	return s
}

// Years of 100 days; 1 % at 1 year, 2 % at 3. Revised on days 50 and 400, dead
// on day 200, censored on day 500. Hand-worked, with h1 = −ln .99, h3 = −ln .98:
// .5·h1 + (h1 + h3)/2 + 2·h3 = h1 + 2.5·h3 expected, one observed by day 300.
func TestObservedExpected(t *testing.T) {
	table := &survival.Table{
		Time: []float64{50, 200, 400, 500}, AtRisk: []float64{4, 3, 2, 1},
		Event:    [][]float64{{1, 0, 1, 0}, {0, 1, 0, 0}},
		Censored: []float64{0, 0, 0, 1},
	}
	s := early(.01, .02)
	r, ok := ObservedExpected(table, 1, s, 100, .95)
	if !ok {
		t.Fatal("no ratio")
	}
	h1, h3 := -math.Log(.99), -math.Log(.98)
	want := h1 + 2.5*h3
	if r.Observed != 1 || math.Abs(r.Expected-want) > 1e-15 || r.ToYears != 3 || r.Series != s || r.Level != .95 {
		t.Errorf("%+v, want 1 observed, %v expected", r, want)
	}
	// Garwood's limits of 1 are .0253 to 5.5716.
	if math.Abs(r.Ratio*want-1) > 1e-12 || math.Abs(r.Lower*want-.0253) > 5e-5 || math.Abs(r.Upper*want-5.5716) > 5e-5 {
		t.Errorf("%+v", r)
	}

	// A revision on the last published day counts, one just after it does not.
	table.Time[2] = 300
	if r, _ := ObservedExpected(table, 1, s, 100, .95); r.Observed != 2 || math.Abs(r.Expected-want) > 1e-15 {
		t.Errorf("revised on the last day: %+v", r)
	}
	table.Time[2] = 300.5
	if r, _ := ObservedExpected(table, 1, s, 100, .95); r.Observed != 1 || math.Abs(r.Expected-want) > 1e-15 {
		t.Errorf("revised after the last day: %+v", r)
	}

	// The second cause: one death.
	if r, _ := ObservedExpected(table, 2, s, 100, .95); r.Observed != 1 || math.Abs(r.Expected-want) > 1e-15 {
		t.Errorf("other cause: %+v", r)
	}
}

// A joint that enters on day 100 and is censored on day 300 is expected to have
// H(3) − H(1).
func TestObservedExpectedLateEntry(t *testing.T) {
	table := &survival.Table{
		Time: []float64{100, 300}, AtRisk: []float64{0, 1},
		Event: [][]float64{{0, 0}}, Censored: []float64{0, 1}, Entered: []float64{1, 0},
	}
	r, ok := ObservedExpected(table, 1, early(.01, .02), 100, .95)
	if want := math.Log(.99 / .98); !ok || math.Abs(r.Expected-want) > 1e-15 || r.Observed != 0 || r.Lower != 0 {
		t.Errorf("%+v, want %v expected", r, want)
	}
}

// A group that follows the published hazard exactly has a ratio near 1: 1 000 000
// joints, revised on the days the published figures say.
func TestObservedExpectedOfThePublished(t *testing.T) {
	s := early(.01, .02, .05)
	table := &survival.Table{Event: [][]float64{{}}}
	h := newHazard(s)
	alive := 1e6
	for day := 1.; day <= 1500; day++ {
		d := alive * -math.Expm1(h.at((day-1)/100)-h.at(day/100))
		table.Time = append(table.Time, day)
		table.AtRisk = append(table.AtRisk, alive)
		table.Event[0] = append(table.Event[0], d)
		alive -= d
		c := 0.
		if day > 200 { // follow-up ends from day 200 on, evenly
			c = alive / (1501 - day)
		}
		alive -= c
		table.Censored = append(table.Censored, c)
	}
	r, ok := ObservedExpected(table, 1, s, 100, .95)
	// The expected number of a joint is H at the end of the day on which it is
	// revised, which is too high by half a day's hazard of those revised.
	if !ok || math.Abs(r.Ratio-1) > 1e-4 {
		t.Errorf("%+v, want a ratio of 1", r)
	}
}

func TestObservedExpectedRefused(t *testing.T) {
	table := &survival.Table{Time: []float64{50}, AtRisk: []float64{1}, Event: [][]float64{{1}}, Censored: []float64{0}}
	for name, s := range map[string]*Series{
		"incidence": {Estimand: Incidence, Figures: early(.01).Figures},
		"threshold": {Estimand: Threshold, Figures: early(.01).Figures},
		"late":      {Figures: []Figure{{Years: 3.01, Revision: .02}, {Years: 10, Revision: .05}}},
		"empty":     {},
		"all":       {Figures: []Figure{{Years: 1, Revision: .5}, {Years: 3, Revision: 1}}},
	} {
		if r, ok := ObservedExpected(table, 1, s, 100, .95); ok {
			t.Errorf("%s: %+v", name, r)
		}
	}
	weighted := *table
	weighted.Weighted = true
	if _, ok := ObservedExpected(&weighted, 1, early(.01), 100, .95); ok {
		t.Error("weighted table")
	}
	// Three years is early enough.
	if _, ok := ObservedExpected(table, 1, &Series{Estimand: OneMinusKaplanMeier, Figures: []Figure{{Years: 3, Revision: .02}}}, 100, .95); !ok {
		t.Error("a figure at three years")
	}
	// Nothing expected: no ratio.
	if r, ok := ObservedExpected(table, 1, early(0), 100, .95); !ok || !math.IsNaN(r.Ratio) || !math.IsNaN(r.Upper) || r.Observed != 1 {
		t.Errorf("nothing expected: %+v", r)
	}
	// An empty table expects nothing.
	if r, ok := ObservedExpected(&survival.Table{Event: [][]float64{{}}}, 1, early(.01), 100, .95); !ok || r.Expected != 0 || !math.IsNaN(r.Ratio) {
		t.Errorf("empty table: %+v", r)
	}
}
