// Package symmetric solves systems of equations with small symmetric matrices,
// such as the variance of a test or the information of a model, to the same
// bits on every machine.
package symmetric

import "math"

// Factor is a symmetric matrix A as L·D·L′, L being lower triangular with ones
// on its diagonal and D diagonal.
type Factor struct {
	lower [][]float64 // below the diagonal
	pivot []float64   // D; 0 where the row was left out

	// Dropped are the rows that depend on those before them, or are 0. They
	// were left out: solutions are 0 there, so that the inverse is a generalised
	// one.
	Dropped []int

	// Positive says that no pivot that was kept is below 0.
	Positive bool
}

// New factorises the matrix, of which only the diagonal and what is below it
// is read. A row whose pivot is within tolerance of 0, relative to its own
// diagonal element, is dropped.
func New(a [][]float64, tolerance float64) *Factor {
	f := &Factor{lower: make([][]float64, len(a)), pivot: make([]float64, len(a)), Positive: true}
	for i := range a {
		row := make([]float64, i)
		for j := range row {
			v := a[i][j]
			for k := range j {
				v -= float64(float64(row[k]*f.pivot[k]) * f.lower[j][k])
			}
			if f.pivot[j] != 0 {
				row[j] = v / f.pivot[j]
			}
		}
		f.lower[i] = row
		d := a[i][i]
		for k, l := range row {
			d -= float64(float64(l*l) * f.pivot[k])
		}
		if !(math.Abs(d) > float64(tolerance*math.Abs(a[i][i]))) {
			f.Dropped = append(f.Dropped, i)
			clear(row)
			continue
		}
		f.pivot[i] = d
		f.Positive = f.Positive && d > 0
	}
	return f
}

// Rank is the number of rows that were kept.
func (f *Factor) Rank() int { return len(f.pivot) - len(f.Dropped) }

// Solve is the x with A·x = b.
func (f *Factor) Solve(b []float64) []float64 {
	x := make([]float64, len(b))
	copy(x, b)
	for i, row := range f.lower {
		for k, l := range row {
			x[i] -= float64(l * x[k])
		}
		if f.pivot[i] == 0 {
			x[i] = 0
		}
	}
	for i := len(x) - 1; i >= 0; i-- {
		if f.pivot[i] == 0 {
			continue
		}
		x[i] /= f.pivot[i]
		for k := i + 1; k < len(x); k++ {
			x[i] -= float64(f.lower[k][i] * x[k])
		}
	}
	return x
}

// Inverse is the inverse of A, with 0 in the rows and columns dropped.
func (f *Factor) Inverse() [][]float64 {
	inverse := Zero(len(f.pivot))
	unit := make([]float64, len(f.pivot))
	for j := range inverse {
		if f.pivot[j] == 0 {
			continue
		}
		clear(unit)
		unit[j] = 1
		for i, v := range f.Solve(unit) {
			inverse[i][j] = v
		}
	}
	for i := range inverse { // rounding leaves the two halves apart
		for j := range i {
			inverse[i][j] = inverse[j][i]
		}
	}
	return inverse
}

// LogDeterminant is the logarithm of the determinant of the rows kept, which
// must be positive definite.
func (f *Factor) LogDeterminant() float64 {
	total := 0.0
	for _, d := range f.pivot {
		if d != 0 {
			total += math.Log(d)
		}
	}
	return total
}

// Combination says how dropped row j depends on those before it: row j of A is
// the sum of the other rows times these numbers.
func (f *Factor) Combination(a [][]float64, j int) []float64 {
	head := &Factor{lower: f.lower[:j], pivot: f.pivot[:j]}
	return head.Solve(a[j][:j])
}

// Zero is a matrix of n rows and columns of 0.
func Zero(n int) [][]float64 {
	all := make([]float64, n*n)
	a := make([][]float64, n)
	for i := range a {
		a[i] = all[i*n : (i+1)*n : (i+1)*n]
	}
	return a
}

// Times is A·x.
func Times(a [][]float64, x []float64) []float64 {
	y := make([]float64, len(a))
	for i, row := range a {
		y[i] = Dot(row, x)
	}
	return y
}

// Dot is x′y.
func Dot(x, y []float64) float64 {
	total := 0.0
	for i, v := range x {
		total += float64(v * y[i])
	}
	return total
}

// AddOuter adds c·x·y′ to A.
func AddOuter(a [][]float64, c float64, x, y []float64) {
	for i, row := range a {
		cx := float64(c * x[i])
		if cx == 0 {
			continue
		}
		for j, v := range y {
			row[j] += float64(cx * v)
		}
	}
}

// Sub is the matrix of some rows and columns of A.
func Sub(a [][]float64, of []int) [][]float64 {
	s := Zero(len(of))
	for i, r := range of {
		for j, c := range of {
			s[i][j] = a[r][c]
		}
	}
	return s
}

// Pick is some elements of x.
func Pick(x []float64, of []int) []float64 {
	s := make([]float64, len(of))
	for i, r := range of {
		s[i] = x[r]
	}
	return s
}

// Sandwich is A·B·A for symmetric A and B.
func Sandwich(a, b [][]float64) [][]float64 {
	n := len(a)
	half, out := Zero(n), Zero(n)
	multiply := func(to, x, y [][]float64) {
		for i := range n {
			for k := range n {
				xik := x[i][k]
				for j := range n {
					to[i][j] += float64(xik * y[k][j])
				}
			}
		}
	}
	multiply(half, a, b)
	multiply(out, half, a)
	return out
}
