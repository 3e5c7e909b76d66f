package tally_test

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"testing"

	"example.org/holdfast/survival/tally"
)

// Columns gives what adding the subjects one by one gives: the same counts and
// the same tables, for few subjects and for many, on any number of workers, also where more
// leave on one day than a byte tells.
func TestColumns(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, size := range []struct{ n, days int }{{0, 1}, {1, 400}, {50, 400}, {1000, 400}, {300_000, 400}, {300_000, 9}, {200_000, 1}} {
		n := size.n
		group, day, cause := make([]uint16, n), make([]int32, n), make([]uint8, n)
		for i := range n {
			group[i], day[i], cause[i] = uint16(r.IntN(7)), int32(r.IntN(size.days)), uint8(r.IntN(3))
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
				t.Errorf("%+v, group %d differs", size, g)
			}
			got[g].Add(5, 1) // the counts can be added to
			if got[g].On(5, 1) != want.On(5, 1)+1 {
				t.Errorf("%+v, group %d: adding afterwards", size, g)
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

// Of many rows the first that is out of range is named, whoever comes to it.
func TestColumnsNamesTheFirst(t *testing.T) {
	const n = 200_000
	for _, first := range []int{0, 70_000, n - 1} {
		for wrong, spoil := range map[string]func(group, cause []uint8, day []int32){
			"group 3, day 5, cause 0":      func(group, _ []uint8, _ []int32) { group[first] = 3 },
			"group 0, day 5, cause 2":      func(_, cause []uint8, _ []int32) { cause[first] = 2 },
			"group 0, day -1, cause 0":     func(_, _ []uint8, day []int32) { day[first] = -1 },
			"group 0, day 100000, cause 0": func(_, _ []uint8, day []int32) { day[first] = tally.MaxDay + 1 },
		} {
			group, cause, day := make([]uint8, n), make([]uint8, n), make([]int32, n)
			for i := range day {
				day[i] = 5
			}
			for i := first; i < n; i += 50_000 {
				cause[i] = 0xff // and others after it
			}
			cause[first] = 0
			spoil(group, cause, day)
			_, err := tally.Columns(3, 1, group, day, cause)
			if want := fmt.Sprintf("tally: row %d: %s", first, wrong); err == nil || err.Error() != want {
				t.Errorf("got %v, want %s", err, want)
			}
		}
	}
}
