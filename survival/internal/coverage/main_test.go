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
}
