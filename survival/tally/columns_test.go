package tally_test

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"example.org/holdfast/survival/tally"
)

// Columns gives what adding the subjects one by one gives: the same counts and
// the same tables, for few subjects and for many, on any number of workers.
func TestColumns(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{0, 1, 50, 1000, 300_000} {
		group, day, cause := make([]uint16, n), make([]int32, n), make([]uint8, n)
		for i := range n {
			group[i], day[i], cause[i] = uint16(r.IntN(7)), int32(r.IntN(400)), uint8(r.IntN(3))
			if group[i] == 3 {
				day[i] /= 8 // a group that ends early
			}
		}
		got, err := tally.Columns(8, 2, group, day, cause)
		if err != nil {
			t.Fatal(err)
		}
		for g := range 8 {
			want := tally.New(2)
			for i := range n {
				if int(group[i]) == g {
					want.Add(day[i], int(cause[i]))
				}
			}
			if !reflect.DeepEqual(got[g].Table(), want.Table()) || got[g].Subjects() != want.Subjects() ||
				got[g].PersonDays() != want.PersonDays() || got[g].Days() != want.Days() {
				t.Errorf("%d subjects, group %d differs", n, g)
			}
			got[g].Add(5, 1) // the counts can be added to
			if got[g].On(5, 1) != want.On(5, 1)+1 {
				t.Errorf("%d subjects, group %d: adding afterwards", n, g)
			}
		}
	}
}

func TestColumnsRefused(t *testing.T) {
	for _, test := range []struct {
		group []uint8
		day   []int32
		cause []uint8
	}{
		{[]uint8{0}, []int32{1, 2}, []uint8{0, 0}},
		{[]uint8{0, 0}, []int32{1, 2}, []uint8{0}},
		{[]uint8{2}, []int32{1}, []uint8{0}},
		{[]uint8{0}, []int32{-1}, []uint8{0}},
		{[]uint8{0}, []int32{tally.MaxDay + 1}, []uint8{0}},
		{[]uint8{0}, []int32{1}, []uint8{3}},
	} {
		if counts, err := tally.Columns(2, 2, test.group, test.day, test.cause); err == nil {
			t.Errorf("%+v: %v", test, counts)
		}
	}
}
