package survival

import (
	"errors"
	"fmt"
	"math"
)

// Sample is one row per subject, held in columns of equal length. The caller's
// slices are read and never changed.
type Sample struct {
	// Entry is the time at which each subject came under observation; the
	// subject is at risk on (Entry, Exit]. Nil means no late entry: everybody
	// is at risk from the beginning, at time 0 too. Minus infinity in one row
	// means the same for that row.
	Entry []float64

	// Exit is the time at which observation ended, in any unit.
	Exit []float64

	// Cause says why it ended: 0 censored, 1 to K an event of that cause.
	Cause []int

	// Weight is each subject's sampling weight; nil means 1 for all. A weight
	// of 0 leaves the row out. Weights are never frequencies: identical
	// subjects go in as rows, or as counts through package tally.
	Weight []float64

	// Cluster numbers the cluster each subject belongs to, such as the patient
	// to whom two joints belong; nil means each subject is its own. Only
	// [Robust] reads it.
	Cluster []int
}

// Errors that a [RowError] wraps.
var (
	ErrNotFinite     = errors.New("is not a finite number")
	ErrEntryNotLower = errors.New("is not before the exit")
	ErrUnknownCause  = errors.New("is not a cause from 0 to the number of causes")
	ErrWeight        = errors.New("is not a weight of 0 or more")
	ErrLength        = errors.New("has another length than Exit")
)

// RowError says which row and field of a sample can't be used. Row counts from
// 0; it is −1 where the whole field is at fault.
type RowError struct {
	Row   int
	Field string // Entry, Exit, Cause, Weight or Cluster
	Value float64
	Err   error
}

func (e *RowError) Error() string {
	if e.Row < 0 {
		return fmt.Sprintf("survival: %s %v", e.Field, e.Err)
	}
	return fmt.Sprintf("survival: row %d: %s %v %v", e.Row, e.Field, e.Value, e.Err)
}

func (e *RowError) Unwrap() error { return e.Err }

// Check reports the first row that can't be used, as a [*RowError]: numbers that
// are not finite, columns of different lengths, an entry at or after the exit, a
// cause that is not one of the given number, a weight below 0.
func (s *Sample) Check(causes int) error {
	n := len(s.Exit)
	for _, f := range []struct {
		name   string
		length int
		absent bool
	}{
		{"Entry", len(s.Entry), s.Entry == nil},
		{"Cause", len(s.Cause), false},
		{"Weight", len(s.Weight), s.Weight == nil},
		{"Cluster", len(s.Cluster), s.Cluster == nil},
	} {
		if !f.absent && f.length != n {
			return &RowError{Row: -1, Field: f.name, Err: ErrLength}
		}
	}
	for i, exit := range s.Exit {
		if math.IsNaN(exit) || math.IsInf(exit, 0) {
			return &RowError{i, "Exit", exit, ErrNotFinite}
		}
		if c := s.Cause[i]; c < 0 || c > causes {
			return &RowError{i, "Cause", float64(c), ErrUnknownCause}
		}
		if s.Entry != nil {
			switch entry := s.Entry[i]; {
			case math.IsNaN(entry) || math.IsInf(entry, 1):
				return &RowError{i, "Entry", entry, ErrNotFinite}
			case entry >= exit:
				return &RowError{i, "Entry", entry, ErrEntryNotLower}
			}
		}
		if s.Weight != nil {
			if w := s.Weight[i]; !(w >= 0) || math.IsInf(w, 1) {
				return &RowError{i, "Weight", w, ErrWeight}
			}
		}
	}
	return nil
}

// weight of row i; 1 without weights.
func (s *Sample) weight(i int) float64 {
	if s.Weight == nil {
		return 1
	}
	return s.Weight[i]
}

// entry of row i; minus infinity without late entry.
func (s *Sample) entry(i int) float64 {
	if s.Entry == nil {
		return math.Inf(-1)
	}
	return s.Entry[i]
}
