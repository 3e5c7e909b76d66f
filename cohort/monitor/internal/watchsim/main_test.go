package main

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/holdfast/cohort/monitor"
)

// What is expected of a practice that is as expected is, in the mean, what is observed;
// its Nelson–Aalen estimate is the hazard.
func TestPractice(t *testing.T) {
	if testing.Short() {
		t.Skip("many practices")
	}
	p := practice{perYear: 400, years: 10, atTen: .08, truth: 1}
	rng := rand.New(rand.NewPCG(7, 7))
	observed, expected, own := 0.0, 0.0, 0.0
	const runs = 20
	for range runs {
		joints := p.joints(rng)
		c, err := monitor.New(joints, []monitor.Hazard{p.hazard()}, monitor.Options{Through: p.through()})
		if err != nil {
			t.Fatal(err)
		}
		observed += float64(c.All.Observed)
		expected += c.All.Expected
		hazard, _, err := learnt(joints, joints, p.through())
		if err != nil {
			t.Fatal(err)
		}
		own += hazard.At(1826) / runs
	}
	if math.Abs(observed-expected) > 4*math.Sqrt(expected) {
		t.Errorf("%v observed, %v expected", observed, expected)
	}
	if want := p.hazard().At(1826); math.Abs(own-want) > .05*want {
		t.Errorf("hazard at five years %v, want %v", own, want)
	}
	if h := p.hazard().At(3652); math.Abs(h+math.Log1p(-.08)) > 1e-4 {
		t.Errorf("hazard at ten years %v", h)
	}
	// From a time on at twice the hazard: of joints operated on from then on, twice as many.
	p.truth, p.since = 2, 5
	late, lateExpected := 0.0, 0.0
	for range runs {
		var after []monitor.Joint
		for _, j := range p.joints(rng) {
			if j.Operation >= start+1827 {
				after = append(after, j)
			}
		}
		c, err := monitor.New(after, []monitor.Hazard{p.hazard()}, monitor.Options{Through: p.through()})
		if err != nil {
			t.Fatal(err)
		}
		late += float64(c.All.Observed)
		lateExpected += c.All.Expected
	}
	if math.Abs(late-2*lateExpected) > 4*math.Sqrt(2*lateExpected) {
		t.Errorf("%v observed, twice %v expected", late, lateExpected)
	}
}

func TestRun(t *testing.T) {
	var a, b, errs bytes.Buffer
	if status := run([]string{"-no"}, &a, &errs); status != 2 {
		t.Errorf("status %d", status)
	}
	if testing.Short() {
		t.Skip("tables take ten seconds")
	}
	for _, out := range []*bytes.Buffer{&a, &b} {
		if err := drawn(out, 1, rand.New(rand.NewPCG(3, 3))); err != nil {
			t.Fatal(err)
		}
	}
	if a.Len() == 0 || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same seed gives other tables")
	}
	a.Reset()
	if status := run([]string{"-practices", "1"}, &a, &errs); status != 0 || bytes.Count(a.Bytes(), []byte("\n### ")) != 8 {
		t.Errorf("status %d: %s\n%s", status, &errs, &a)
	}
}
