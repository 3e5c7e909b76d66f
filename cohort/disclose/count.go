package disclose

// Count is what is told of a count: that it lies between two numbers, which are
// one for 0. What it was is not in it.
type Count struct{ least, most int64 }

const (
	smallest = 8 // the least count that is no small one
	roundTo  = 5 // counts are rounded to a multiple of it
)

// small says that a count is too small to be known.
func small(n int64) bool { return n > 0 && n < smallest }

// rounded is a count to the nearest 5, halves up; 1 to 7 are one, and 0 stays 0.
func rounded(n int64) Count {
	switch {
	case n <= 0:
		return Count{}
	case small(n):
		return Count{1, smallest - 1}
	}
	n = (n + roundTo/2) / roundTo * roundTo
	return Count{max(smallest, n-roundTo/2), n + roundTo/2}
}

// Shown is a count as it is written: 5 stands for 1 to 7.
func (c Count) Shown() int64 {
	switch {
	case c.least == c.most:
		return c.least
	case c.least < smallest:
		return roundTo
	}
	return c.most - roundTo/2
}

func (c Count) float() float64 { return float64(c.Shown()) }
