package main

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"
)

// Kaplan–Meier and the incidence are nearly unbiased, so their means over many
// practices must lie near the truth calculated by summing over days; and a
// reading that errs twice as often as it may would be seen.
func TestSetting(t *testing.T) {
	const practices = 1500
	s := newSetting(5, 200, .08, .6)
	net, crude := s.truth()
	if !(crude < net && net < .08) {
		t.Fatalf("truth %v, %v", net, crude)
	}
	got, err := s.run(practices, rand.New(rand.NewPCG(7, 7)))
	if err != nil {
		t.Fatal(err)
	}
	// The standard deviation of one estimate is about √(.06·.94/150) = .02, that
	// of the mean .0005.
	n := float64(got.read)
	if math.Abs(got.sumKM/n-net) > .002 || math.Abs(got.sumCIF/n-crude) > .002 {
		t.Errorf("means %v and %v, truth %v and %v", got.sumKM/n, got.sumCIF/n, net, crude)
	}
	for e := range got.exact {
		if got.exact[e].above > practices/20 || got.exact[e].below > practices/20 {
			t.Errorf("estimand %d: read %+v", e, got.exact[e])
		}
	}
	// At ten years the truth is what it was set to.
	if p := 1 - s.free(10*daysPerYear); math.Abs(p-.08) > 1e-12 {
		t.Errorf("%v at ten years", p)
	}
}

func TestRun(t *testing.T) {
	var a, b, errs bytes.Buffer
	for _, out := range []*bytes.Buffer{&a, &b} {
		if status := run([]string{"-practices", "2", "-seed", "3"}, out, &errs); status != 0 {
			t.Fatalf("status %d: %s", status, &errs)
		}
	}
	if a.Len() == 0 || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same seed gives other tables")
	}
	if status := run([]string{"-no"}, &a, &errs); status != 2 {
		t.Errorf("status %d", status)
	}
}
