package survival_test

import (
	"slices"
	"testing"

	"example.org/holdfast/survival"
)

// What a room gives is nobody else's until it is cleared, however much is asked for.
func TestRoom(t *testing.T) {
	var room survival.Room
	for range 3 {
		var all [][]float64
		for _, n := range []int{3, 0, 500, 2, 40, 2000} {
			some := room.Floats(n)
			if len(some) != n || cap(some) != n {
				t.Fatalf("%d numbers, with room for %d, of %d", len(some), cap(some), n)
			}
			for i := range some {
				some[i] = float64(n)
			}
			all = append(all, some)
		}
		for _, some := range all {
			if slices.ContainsFunc(some, func(x float64) bool { return x != float64(len(some)) }) {
				t.Fatalf("%d numbers were written over", len(some))
			}
		}
		room.Clear()
	}
	if got := (*survival.Room)(nil).Floats(4); !slices.Equal(got, make([]float64, 4)) {
		t.Errorf("without a room %v", got)
	}
}
