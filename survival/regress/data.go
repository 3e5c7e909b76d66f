package regress

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/survival"
)

// Data are subjects, or counts of subjects alike, with their covariates. The
// caller's slices are read and never changed.
type Data struct {
	// Names are the coefficients' names, such as "bearing C"; errors use them.
	Names []string

	// Design has one row for each pattern of covariates, and in it one number for
	// each name. A word with k values takes k − 1 columns of 0 and 1.
	Design [][]float64

	// Pattern is the row of Design of each subject; nil if Design has a row for
	// each. It is faster, and takes less memory, with far fewer patterns than
	// subjects.
	Pattern []int32

	// Sample says when each subject was under observation and why that ended.
	// Times that are equal to the last bit are ties; whole days are the fastest.
	Sample survival.Sample

	// Stratum numbers the stratum of each subject: each has its own baseline
	// hazard. Nil: one stratum.
	Stratum []int32

	// Count is how many subjects a row stands for, alike in everything above.
	// It is not a weight: all are counted. Nil: one each.
	Count []int64

	origin []int32 // after Split, the row of the data that were split
}

// Errors of this package. Those about a coefficient are wrapped in a
// [*ColumnError].
var (
	ErrNoEvents     = errors.New("regress: nobody has the event")
	ErrNotConverged = errors.New("regress: the likelihood has no maximum that can be found")
	ErrVariance     = errors.New("regress: too few subjects or clusters for a robust variance")
	ErrNoColumns    = errors.New("regress: no covariate")
	ErrDesign       = errors.New("regress: design")
	ErrLateEntry    = errors.New("regress: not defined with late entry")
	ErrWeights      = errors.New("regress: not defined with weights or clusters")

	// ErrConstant: the column is the same for all who are at risk together
	// whenever an event happens.
	ErrConstant = errors.New("is the same for all who are at risk when an event happens")
	// ErrCollinear: the column is a combination of others.
	ErrCollinear = errors.New("is a combination of other columns")
	// ErrSeparated: the likelihood goes on rising as the coefficient goes to
	// infinity, as for a group without events. See Firth.
	ErrSeparated = errors.New("has no finite estimate: it separates those with the event from the others")
)

// ColumnError says which coefficient can't be estimated.
type ColumnError struct {
	Name   string
	Others []string // the other columns it is a combination of
	Err    error    // ErrConstant, ErrCollinear or ErrSeparated
}

func (e *ColumnError) Error() string {
	text := fmt.Sprintf("regress: %q %v", e.Name, e.Err)
	if len(e.Others) > 0 {
		text += `: "` + strings.Join(e.Others, `", "`) + `"`
	}
	return text
}

func (e *ColumnError) Unwrap() error { return e.Err }

// rows is the number of rows.
func (d *Data) rows() int { return len(d.Sample.Exit) }

func (d *Data) pattern(i int) int32 {
	if d.Pattern == nil {
		return int32(i)
	}
	return d.Pattern[i]
}

func (d *Data) count(i int) int64 {
	if d.Count == nil {
		return 1
	}
	return d.Count[i]
}

// weight is that of one subject of row i.
func (d *Data) weight(i int) float64 {
	if d.Sample.Weight == nil {
		return 1
	}
	return d.Sample.Weight[i]
}

// used says that a row stands for somebody.
func (d *Data) used(i int) bool { return d.count(i) > 0 && d.weight(i) > 0 }

// check reports the first thing that can't be used.
func (d *Data) check() error {
	if len(d.Names) == 0 {
		return ErrNoColumns
	}
	if err := d.Sample.Check(math.MaxInt32); err != nil {
		return err
	}
	n := d.rows()
	switch {
	case n > math.MaxInt32:
		return fmt.Errorf("regress: %d rows, more than 2^31 − 1", n)
	case d.Pattern == nil && len(d.Design) != n:
		return fmt.Errorf("%w: %d rows for %d subjects, without Pattern", ErrDesign, len(d.Design), n)
	case d.Pattern != nil && len(d.Pattern) != n:
		return &survival.RowError{Row: -1, Field: "Pattern", Err: survival.ErrLength}
	case d.Stratum != nil && len(d.Stratum) != n:
		return &survival.RowError{Row: -1, Field: "Stratum", Err: survival.ErrLength}
	case d.Count != nil && len(d.Count) != n:
		return &survival.RowError{Row: -1, Field: "Count", Err: survival.ErrLength}
	}
	for p, row := range d.Design {
		if len(row) != len(d.Names) {
			return fmt.Errorf("%w: row %d has %d columns for %d names", ErrDesign, p, len(row), len(d.Names))
		}
		for j, x := range row {
			if !(math.Abs(x) <= math.MaxFloat64) {
				return fmt.Errorf("%w: row %d: %q is not a finite number", ErrDesign, p, d.Names[j])
			}
		}
	}
	for i, p := range d.Pattern {
		if p < 0 || int(p) >= len(d.Design) {
			return &survival.RowError{Row: i, Field: "Pattern", Value: float64(p), Err: errors.New("is not a row of the design")}
		}
	}
	for i, m := range d.Count {
		if m < 0 || m > 1<<52 {
			return &survival.RowError{Row: i, Field: "Count", Value: float64(m), Err: errors.New("is not a count")}
		}
	}
	if i := slices.IndexFunc(d.Stratum, func(s int32) bool { return s < 0 }); i >= 0 {
		return &survival.RowError{Row: i, Field: "Stratum", Value: float64(d.Stratum[i]), Err: errors.New("is below 0")}
	}
	return nil
}
