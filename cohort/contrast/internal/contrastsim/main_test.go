package main

import (
	"bytes"
	"math/rand/v2"
	"testing"
)

// In practices whose groups are alike few tests reject and few readings differ, and
// a ratio of three is seen.
func TestSetting(t *testing.T) {
	same, err := setting{joints: 200, by10: .1, ratio: 1}.draw(60, rand.New(rand.NewPCG(3, 3)))
	if err != nil {
		t.Fatal(err)
	}
	if same.practices != 60 || same.compared == 0 || same.rejected > 12 || same.above+same.below > 9 {
		t.Errorf("%+v", same)
	}
	apart, err := setting{joints: 500, by10: .1, ratio: 3, model: true}.draw(10, rand.New(rand.NewPCG(3, 4)))
	if err != nil {
		t.Fatal(err)
	}
	if apart.rejected < 7 || apart.finite != 10 || apart.noModel > 0 {
		t.Errorf("%+v", apart)
	}
	if mean := float64(same.revised) / 60; mean < 8 || mean > 16 { // some 12: 10 % by ten years, half that by five
		t.Errorf("%v revised", mean)
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
