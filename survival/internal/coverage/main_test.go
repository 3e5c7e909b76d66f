package main

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/holdfast/survival"
)

// The truth is the one the program states, up to the part of a day that whole
// days add, and with competing deaths it is lower.
func TestTruth(t *testing.T) {
	for _, p := range []float64{0.02, 0.08} {
		alone, competing := scenario{joints: 50, proportion: p}.truth(3652)
		if math.Abs(alone-p) > 2e-4*p || !(competing < alone && competing > alone*(1-deaths)) {
			t.Errorf("%v: %v alone, %v with deaths", p, alone, competing)
		}
	}
}

// In a large sample the estimates come near the truth: within 4 standard errors.
func TestDraw(t *testing.T) {
	s := scenario{joints: 200_000, proportion: 0.08}
	table := s.draw(rand.New(rand.NewPCG(1, 1))).Table()
	for _, years := range []float64{1, 5, 10} {
		alone, competing := s.truth(int(years * year))
		km, _ := survival.KaplanMeier(table, revised)
		ci, _ := survival.CumulativeIncidence(table, revised)
		for truth, c := range map[float64]*survival.Curve{alone: km, competing: ci} {
			p, _ := c.At(years*year, survival.Interval{})
			if math.Abs(p.Estimate-truth) > 4*p.SE {
				t.Errorf("%v at %v years: %v ± %v, truth %v", c.Estimand, years, p.Estimate, p.SE, truth)
			}
		}
	}
}

// Followed to the closing date the estimates of a large sample come near the truth;
// followed to the last visit, with the revisions whenever they come, they are too high,
// and the more so the rarer the visits.
func TestVisits(t *testing.T) {
	before := 0.0
	for _, apart := range []float64{1, 2, 5} {
		shifts, err := visited{scenario{joints: 40_000, proportion: 0.08}, apart}.simulate(rand.New(rand.NewPCG(1, 1)), 1)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range shifts {
			if math.Abs(s.closed-s.truth) > s.width { // 4 standard errors
				t.Errorf("%s at %v years: %v, truth %v", s.estimand, s.years, s.closed, s.truth)
			}
			if s.seen <= s.closed {
				t.Errorf("%s at %v years, every %v: %v to the last visit, %v to the closing date", s.estimand, s.years, apart, s.seen, s.closed)
			}
		}
		if higher := shifts[0].seen / shifts[0].closed; higher <= before {
			t.Errorf("every %v years: %v times", apart, higher)
		} else {
			before = higher
		}
	}
}

func TestLastVisit(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	for _, test := range []struct{ by, apart, least, most float64 }{
		{0.1, 1, 0, 0}, {0.5, 1, first, first}, {1.5, 1, 1 - stray, 1 + stray}, {4.5, 5, first, first}, {7, 5, 5 - stray, 5 + stray}, {11, 5, 10 - stray, 10 + stray},
	} {
		for range 20 {
			if at := lastVisit(test.by, test.apart, random); at < test.least || at > test.most || at > test.by {
				t.Errorf("by %v, every %v: %v", test.by, test.apart, at)
			}
		}
	}
}

func TestRun(t *testing.T) {
	var a, b strings.Builder
	if err := run(&a, 7, 20, 0); err != nil {
		t.Fatal(err)
	}
	if err := run(&b, 7, 20, 0); err != nil {
		t.Fatal(err)
	}
	if a.String() != b.String() {
		t.Error("one seed, two results")
	}
	if got := strings.Count(a.String(), "\n"); got != 2+9*14 {
		t.Errorf("%d lines", got)
	}
	a.Reset()
	if err := runVisits(&a, 7, 2); err != nil || strings.Count(a.String(), "\n") != 2+3*2*3*4 {
		t.Errorf("%v: %s", err, &a)
	}
}
