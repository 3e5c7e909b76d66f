package benchmark

import (
	"errors"
	"fmt"
)

// RowError is one thing wrong with a file of published figures.
type RowError struct {
	File   string // the name given to Read
	Row    int    // physical line, from 1; 0 where the whole file is meant
	Column string // heading, as this package spells it; "" where the whole row is meant
	Err    error
}

func (e *RowError) Error() string {
	return place(e.File, e.Row, e.Column) + e.Err.Error()
}

func (e *RowError) Unwrap() error { return e.Err }

// Warning is something in a file that was kept or passed over, and that may
// not be what its author meant.
type Warning struct {
	File   string
	Row    int    // physical line of the first occurrence
	Column string // heading
	Text   string
}

func (w Warning) String() string {
	return place(w.File, w.Row, w.Column) + w.Text
}

func place(file string, row int, column string) string {
	s := file
	if row > 0 {
		s = fmt.Sprintf("%s:%d", file, row)
	}
	if column != "" {
		s += ": column " + column
	}
	return s + ": "
}

// Errors that [RowError] or a comparison may wrap.
var (
	// ErrColumn: a needed column is missing, or there are two of one name.
	ErrColumn = errors.New("headings")
	// ErrEstimand: an estimand that can't be compared in the way asked for.
	ErrEstimand = errors.New("benchmark: estimand")

	errNoSeries = errors.New("benchmark: no series is given")
)
