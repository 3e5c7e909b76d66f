package symmetric

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Worked by hand: A = LDL′ with L = [1; 1/2 1; 1/4 1/2 1], D = (4, 2, 1) has
// A = [4 2 1; 2 3 3/2; 1 3/2 7/4] and determinant 8. All are exact in binary.
var worked = [][]float64{{4, 2, 1}, {2, 3, 1.5}, {1, 1.5, 1.75}}

func TestFactor(t *testing.T) {
	f := New(worked, 1e-12)
	if got := f.Solve([]float64{7, 6.5, 4.25}); !cmp.Equal(got, []float64{1, 1, 1}) {
		t.Errorf("solution %v, want 1, 1, 1, the sums of the rows being given", got)
	}
	if got := f.LogDeterminant(); math.Abs(got-math.Log(8)) > 1e-15 {
		t.Errorf("logarithm of the determinant %v, want log 8", got)
	}
	// The inverse by cofactors: of 8, [3 −2 0; −2 6 −4; 0 −4 8].
	want := [][]float64{{.375, -.25, 0}, {-.25, .75, -.5}, {0, -.5, 1}}
	if diff := cmp.Diff(want, f.Inverse()); diff != "" {
		t.Errorf("inverse (-want +got):\n%s", diff)
	}
	if !f.Positive || f.Rank() != 3 {
		t.Errorf("positive %v, rank %d, want true, 3", f.Positive, f.Rank())
	}
}

func TestFactorOfDependentRows(t *testing.T) {
	// Columns x, 0, 2x + y and y: the third depends on the first only with the
	// fourth, which is dropped as the last of the three.
	x, y := []float64{1, 2, 3, 5}, []float64{1, -1, 1, 2}
	columns := [][]float64{x, make([]float64, 4), {3, 3, 7, 12}, y}
	a := Zero(4)
	for i := range a {
		for j := range a {
			a[i][j] = Dot(columns[i], columns[j])
		}
	}
	f := New(a, 1e-10)
	if diff := cmp.Diff([]int{1, 3}, f.Dropped); diff != "" {
		t.Errorf("dropped (-want +got):\n%s", diff)
	}
	// y = (2x + y) − 2x
	for i, want := range []float64{-2, 0, 1} {
		if got := f.Combination(a, 3)[i]; math.Abs(got-want) > 1e-12 {
			t.Errorf("combination: %v of column %d, want %v", got, i, want)
		}
	}
	// A·A⁻·A = A for a generalised inverse.
	for i, row := range Sandwich(a, f.Inverse()) {
		for j, got := range row {
			if math.Abs(got-a[i][j]) > 1e-9 {
				t.Errorf("A·A⁻·A: %v at %d, %d, want %v", got, i, j, a[i][j])
			}
		}
	}
}

func TestFactorOfIndefiniteMatrix(t *testing.T) {
	f := New([][]float64{{1, 2}, {2, 1}}, 1e-12)
	if f.Positive {
		t.Error("a matrix with determinant −3 is called positive")
	}
	if got := f.Solve([]float64{3, 3}); !cmp.Equal(got, []float64{1, 1}) {
		t.Errorf("solution %v, want 1, 1", got)
	}
}
