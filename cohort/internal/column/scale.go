package column

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort/internal/words"
)

// Scale says that cells of a column may be numbers.
type Scale struct {
	// Bounds are the lower bounds of the bands after the first, unless the
	// settings have others; nil keeps numbers as typed.
	Bounds []float64
	// Step is what the upper end of a band lies below the next bound, as it is
	// written: 0.1 for 25-29.9.
	Step float64
	// Least and Most are the numbers that are possible. One outside is a word
	// that is not understood, or, where it is Refused, not recorded and warned
	// of.
	Least, Most float64
	Refused     bool
	// Missing are numbers that stand for a missing value.
	Missing []float64
}

// Bands returns the bands between bounds, in order: <18.5, 18.5-24.9, …, 40+.
func (s *Scale) Bands(bounds []float64) []string {
	step := s.Step
	if slices.ContainsFunc(bounds, func(b float64) bool { return b != math.Trunc(b) }) {
		step = min(step, 0.1)
	}
	number := func(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }
	bands := make([]string, len(bounds)+1)
	for i := range bands {
		switch {
		case i == 0:
			bands[i] = "<" + number(bounds[0])
		case i == len(bounds):
			bands[i] = number(bounds[i-1]) + "+"
		case bounds[i]-step <= bounds[i-1]:
			bands[i] = number(bounds[i-1])
		default:
			bands[i] = number(bounds[i-1]) + "-" + number(bounds[i]-step)
		}
	}
	return bands
}

// CheckBands says what is wrong with bounds for the bands of a column: its
// numbers have no bands, or the bounds are none that increase.
func CheckBands(name string, bounds []float64) error {
	var banded []string
	for _, c := range columns {
		if c.Scale != nil {
			banded = append(banded, c.Name)
		}
	}
	if !slices.Contains(banded, name) {
		return fmt.Errorf("there are no bands for column %q; there are for %s", name, strings.Join(banded, ", "))
	}
	s := named(name).Scale
	if len(bounds) == 0 {
		return fmt.Errorf("bands of %s: none given", name)
	}
	for i, b := range bounds {
		if !(b > s.Least && b < s.Most) || math.Round(b*10) != b*10 || i > 0 && b <= bounds[i-1] {
			return fmt.Errorf("bands of %s %v: want numbers between %v and %v that increase, with one decimal at most", name, bounds, s.Least, s.Most)
		}
	}
	return nil
}

// Reader reads the cells of one column, with the bands in force.
type Reader struct {
	column *Column // nil for one of the user's own
	bounds []float64
	bands  []string
}

// NewReader reads a column's cells with bands between bounds; nil means those of
// the column, if it has any.
func NewReader(name string, bounds []float64) *Reader {
	r := &Reader{column: named(name), bounds: bounds}
	if r.column == nil || r.column.Scale == nil {
		r.bounds = nil
		return r
	}
	if r.bounds == nil {
		r.bounds = r.column.Scale.Bounds
	}
	if r.bounds != nil {
		r.bands = r.column.Scale.Bands(r.bounds)
	}
	return r
}

// Numbers says that numbers become bands, so that a cell is shortened before it
// is counted among the column's words, which would be as many as there are rows.
func (r *Reader) Numbers() bool { return r.bands != nil }

// Shorten gives the band of a cell that is a number; nothing where it stands for
// a missing value. One that can't be is impossible,
// where the column refuses it. Any other cell stays.
func (r *Reader) Shorten(cell []byte) (short []byte, impossible bool) {
	n, ok := words.Number(string(cell))
	if !ok {
		return cell, false
	}
	s := r.column.Scale
	switch {
	case n == 0 && r.column.ZeroMissing, slices.Contains(s.Missing, n):
		return nil, false
	case n >= s.Least && n <= s.Most:
		return []byte(r.band(n)), false
	case s.Refused:
		return nil, true
	}
	return cell, false
}

func (r *Reader) band(n float64) string {
	i := 0
	for i < len(r.bounds) && n >= r.bounds[i] {
		i++
	}
	return r.bands[i]
}

// Understand gives the meaning of a cell, as [Understand] does, with numbers in
// the bands in force.
func (r *Reader) Understand(typed string) words.Meaning {
	if band := strings.NewReplacer("–", "-", " ", "").Replace(typed); slices.Contains(r.bands, band) {
		return words.Meaning{Value: band, Known: true}
	}
	if r.column == nil || r.column.Read == nil {
		return words.Meaning{Value: words.Clean(typed), Known: true}
	}
	m := r.column.Read(typed)
	if s := r.column.Scale; s != nil && m.Known {
		n, ok := words.Number(m.Value)
		switch {
		case ok && (n < s.Least || n > s.Most):
			return words.Meaning{Value: words.Clean(typed)}
		case ok && r.bands != nil:
			return words.Meaning{Value: r.band(n), Known: true}
		}
	}
	return m
}

// aNumber is a number of a column, or a band of its numbers, and where it
// begins: −1 for <55.
func aNumber(value string) (from float64, ok bool) {
	rest, under := strings.CutPrefix(value, "<")
	first, last, band := strings.Cut(strings.TrimSuffix(rest, "+"), "-")
	if from, ok = words.Number(first); !ok || from >= 1000 || len(value) > 16 {
		return 0, false
	}
	if _, isNumber := words.Number(last); band && (!isNumber || under) {
		return 0, false
	}
	if under {
		from = -1
	}
	return from, true
}

// hasNumbers says whether values of a field may be numbers or bands.
func hasNumbers(field string) bool {
	c := named(field)
	return field == AgeBand || c != nil && c.Scale != nil
}

// Canonical reports whether a value is a canonical one of a field: a word in
// its order, or a number or band where it has any. Such a value is never about a
// patient.
func Canonical(field, value string) bool {
	if hasNumbers(field) {
		if _, ok := aNumber(value); ok {
			return true
		}
	}
	c := named(field)
	return c != nil && slices.Contains(c.Order, value)
}

// Compare gives the order in which values of a field are shown: its canonical
// words in their order, numbers and bands by where they begin, other words
// alphabetically, and what is not recorded last.
func Compare(field string, a, b string) int {
	x, y := placeOf(field, a), placeOf(field, b)
	return cmp.Or(cmp.Compare(x.kind, y.kind), cmp.Compare(x.number, y.number), cmp.Compare(a, b))
}

// place of a value among those of its field.
type place struct {
	kind   int
	number float64
}

func placeOf(field, value string) place {
	if value == words.NotRecorded {
		return place{kind: 3}
	}
	if hasNumbers(field) {
		if from, ok := aNumber(value); ok {
			return place{1, from}
		}
	}
	if c := named(field); c != nil {
		if i := slices.Index(c.Order, value); i >= 0 {
			return place{0, float64(i)}
		}
	}
	return place{kind: 2}
}
