package regress

import "math"

// features are some numbers for each pattern, of which only those that are not
// 0 are kept. Feature 0 is 1.
type features struct {
	n      int
	start  []int32 // of each pattern, and the end of the last
	column []int32
	value  []float64
	binary bool // all values are 1
}

func (f *features) begin(n int) {
	f.n, f.binary = n, true
	f.start = append(f.start, 0)
}

func (f *features) set(column int, value float64) {
	if value != 0 {
		f.column = append(f.column, int32(column))
		f.value = append(f.value, value)
		f.binary = f.binary && value == 1
	}
}

func (f *features) endPattern() { f.start = append(f.start, int32(len(f.column))) }

// add adds w times the features of a pattern.
func (f *features) add(to []float64, pattern int32, w float64) {
	from, end := f.start[pattern], f.start[pattern+1]
	if f.binary {
		for _, c := range f.column[from:end] {
			to[c] += w
		}
		return
	}
	values := f.value[from:end]
	for i, c := range f.column[from:end] {
		to[c] += float64(w * values[i])
	}
}

// totals are sums that gain and lose terms. What is added at one time is summed
// first, then added without losing the small terms (Neumaier 1974).
type totals struct{ total, lost, value []float64 }

func newTotals(n int) *totals {
	return &totals{make([]float64, n), make([]float64, n), make([]float64, n)}
}

func (t *totals) clear() {
	clear(t.total)
	clear(t.lost)
	clear(t.value)
}

func (t *totals) add(sign float64, terms []float64) {
	for i, x := range terms {
		x = float64(x * sign)
		sum := t.total[i] + x
		if math.Abs(t.total[i]) >= math.Abs(x) {
			t.lost[i] += (t.total[i] - sum) + x
		} else {
			t.lost[i] += (x - sum) + t.total[i]
		}
		t.total[i] = sum
		t.value[i] = sum + t.lost[i]
	}
}

// sweep visits the slots with an event, in each stratum from the last time to
// the first, with the sums of weight·r·feature over all who are at risk, and
// over those who have the event.
func (c *cells) sweep(f *features, r []float64, visit func(s int, atRisk, dead []float64)) {
	at := newTotals(f.n)
	day, dead := make([]float64, f.n), make([]float64, f.n)
	var heads int64
	for s := len(c.slots) - 1; s >= 0; s-- {
		slot := &c.slots[s]
		if s == len(c.slots)-1 || c.slots[s+1].stratum != slot.stratum {
			at.clear()
			heads = 0
		}
		clear(day)
		for _, cell := range slot.exits[:slot.dead] {
			f.add(day, cell.pattern, float64(cell.weight*r[cell.pattern]))
		}
		if slot.deaths > 0 {
			clear(dead)
			for _, cell := range slot.failures() {
				f.add(dead, cell.pattern, float64(cell.weight*r[cell.pattern]))
			}
			for i, v := range dead {
				day[i] += v
			}
		}
		at.add(1, day)
		if len(slot.entries) > 0 {
			clear(day)
			for _, cell := range slot.entries {
				f.add(day, cell.pattern, float64(cell.weight*r[cell.pattern]))
			}
			at.add(-1, day)
		}
		heads += slot.leaving - slot.entering
		if heads == 0 {
			at.clear() // nobody, whatever rounding left
		}
		if slot.deaths > 0 {
			visit(s, at.value, dead)
		}
	}
}

// Ties says how events at one time are treated.
type Ties uint8

const (
	// Efron takes those who have the event at one time out of the risk set in
	// equal parts (Efron, JASA 1977;72:557).
	Efron Ties = iota
	// Breslow leaves all of them in (Breslow, Biometrics 1974;30:89).
	Breslow
)

func (t Ties) String() string {
	switch t {
	case Efron:
		return "Efron"
	case Breslow:
		return "Breslow"
	}
	return "unknown"
}

// each calls with every fraction c_k, how many of the D times it stands for, and
// W/D times that number.
func (t Ties) each(s *slot, f func(c, multiple float64)) {
	if t == Breslow {
		f(0, s.deathWeight)
		return
	}
	multiple := s.deathWeight / s.deaths
	for k := 0.0; k < s.deaths; k++ {
		f(k/s.deaths, multiple)
	}
}
