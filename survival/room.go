package survival

// Room is memory for the life table and the curves of one group after another, where there
// are many. What was made in it, as by [Both], is good until [Room.Clear]. The zero value is
// empty, and grows; with nil for a room everything has memory of its own. It is not safe for
// several goroutines.
type Room struct {
	floats []float64
	used   int
}

// Floats are so many numbers, of any value.
func (r *Room) Floats(n int) []float64 {
	if r == nil {
		return make([]float64, n)
	}
	if r.used+n > len(r.floats) { // what was given before stays as it is
		r.floats, r.used = make([]float64, max(n, 2*len(r.floats))), 0
	}
	some := r.floats[r.used : r.used+n : r.used+n]
	r.used += n
	return some
}

// Clear makes room for another group.
func (r *Room) Clear() { r.used = 0 }
