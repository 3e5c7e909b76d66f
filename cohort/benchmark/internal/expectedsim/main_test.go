package main

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"
)

// With points at 1, 3, 5 and 10 years the ratio of a practice that is as
// published is 1 to 2 %, and to what chance does to some 4,000 revisions: 5 %.
func TestRatioIsOne(t *testing.T) {
	for _, h := range hazards {
		r, err := ratioOf(published[0], h, followUps[1], 200_000, rand.New(rand.NewPCG(1, 1)))
		if err != nil || math.Abs(r-1) > .05 {
			t.Errorf("%s: %v %v", h.name, r, err)
		}
	}
}

func TestRun(t *testing.T) {
	var a, b, errs bytes.Buffer
	for _, out := range []*bytes.Buffer{&a, &b} {
		if status := run([]string{"-joints", "200", "-seed", "3"}, out, &errs); status != 0 {
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
