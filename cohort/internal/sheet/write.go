package sheet

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"example.org/holdfast/cohort/internal/sheet/internal/columnar"
)

// What is written: a Field is a column with its Type, Values are a run of one
// column's values, a Pair is metadata of the file.
type (
	Type   = columnar.Type
	Field  = columnar.Field
	Values = columnar.Values
	Pair   = columnar.Pair
)

// Types of columns that are written. Days are counted from 1 January 1970.
const (
	Text     = columnar.Text
	Whole    = columnar.Whole
	Fraction = columnar.Fraction
	Day      = columnar.Day
	YesNo    = columnar.YesNo
)

// Kind is a kind of file that is written.
type Kind uint8

// The kinds of files that are written.
const (
	Parquet Kind = iota
	ArrowIPC
)

// KindOf is the kind of file that the ending of a name asks for.
func KindOf(name string) (Kind, error) {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".parquet":
		return Parquet, nil
	case ".arrow", ".feather", ".ipc":
		return ArrowIPC, nil
	}
	return 0, fmt.Errorf("%s: the ending chooses the kind of file: .parquet, or .arrow for Arrow IPC", name)
}

// A Writer writes runs of rows; Close ends the file, and closes nothing else.
type Writer = columnar.Writer

// Create begins a file.
func Create(w io.Writer, k Kind, fields []Field, about []Pair) (Writer, error) {
	if k == ArrowIPC {
		return columnar.CreateArrow(w, fields, about)
	}
	return columnar.CreateParquet(w, fields, about)
}
