// Package columnar reads Parquet and Arrow IPC files as rows of text cells, and hands out
// the texts, days and whole numbers in them as they are, too.
// It is the only package that imports Apache Arrow for reading, so that a
// change of Arrow's import path stays here.
//
// Parquet is read through Arrow's column readers (parquet/file) and not
// through its conversion to Arrow arrays (parquet/pqarrow), which would add
// 30 MB and more than 10 ms of start-up to every program.
//
// Cells: whole numbers and fractions as the shortest text that gives the
// number back, dates and times of day of a date as ISO dates, times as
// hh:mm:ss, booleans as yes and no, decimals in full; missing values and NaN
// are nil.
package columnar

import (
	"errors"
	"fmt"

	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
)

// ErrUnsupported: the file is sound but uses a feature that is not read.
var ErrUnsupported = errors.New("feature not read")

// chunkRows is the most rows in one chunk: so many that its columns, which are gone
// through side by side, stay near the processor.
const chunkRows = 1024

// Reader streams one table.
type Reader interface {
	Headings() []string
	// Select names the columns to be read; all, if never called.
	Select(columns []int)
	// Next fills c with the next rows and returns io.EOF at the end. What c
	// held before is overwritten.
	Next(c *Chunk) error
	// Part is the part of the table that Next has handed out, 0 if not known.
	Part() float64
	Notes() []string
	// About is the metadata of the file under a key.
	About(key string) (string, bool)
}

// Column gives the cells of one column of a chunk.
type Column interface {
	// Text returns the cell of row i, which is valid as long as scratch is,
	// and scratch with what was needed appended.
	Text(i int, scratch []byte) (cell, more []byte)
}

// Texts, Days and Wholes are columns whose values are kept as they are in the file, to be
// had without making text of them. None of their cells is damaged.
type (
	// Texts may hold what is no UTF-8; Valid is then their text.
	Texts struct{ values[parquet.ByteArray] }
	// Days count from 1970-01-01.
	Days struct{ values[int32] }
	// Wholes are whole numbers.
	Wholes struct{ values[int64] }
)

// values holds n cells of one column.
type values[T any] struct {
	at     []int32     // index into vals, -1 where missing
	vals   []T         // the words of a dictionary, or those present in own
	coded  *Dictionary // nil if they are in own
	own    []T
	append func(dst []byte, v T) []byte
	plain  func(to []T, data []byte) (rest []byte, err error) // reads values as Parquet writes them; nil if Arrow is to
}

// Dictionary is one that a file has for a column in some of its rows. It is equal to
// itself alone.
type Dictionary struct{ Words int }

// Coded gives for each row the place of its value in a dictionary, −1 where it is missing.
// The dictionary is nil where the file has none.
func (v *values[T]) Coded() (d *Dictionary, at []int32) { return v.coded, v.at }

func (v *values[T]) all() *values[T] { return v }

// At is the value in row i; false where it is missing, or i is below 0.
func (v *values[T]) At(i int) (value T, ok bool) {
	if i >= 0 {
		i = int(v.at[i])
	}
	if i < 0 {
		return value, false
	}
	return v.vals[i], true
}

// Text is that of the value in row i.
func (v *values[T]) Text(i int, scratch []byte) (cell, more []byte) {
	value, ok := v.At(i)
	if !ok {
		return nil, scratch
	}
	from := len(scratch)
	scratch = v.append(scratch, value)
	return scratch[from:], scratch
}

// room makes it for n cells.
func (v *values[T]) room(n int) {
	if cap(v.own) < n {
		v.own, v.at = make([]T, n), make([]int32, n)
	}
	v.own, v.at = v.own[:n], v.at[:n]
}

// Text is that of row i.
func (t *Texts) Text(i int, scratch []byte) (cell, more []byte) {
	text, _ := t.At(i)
	return Valid(text), scratch
}

// Chunk is a run of rows.
type Chunk struct {
	Rows    int
	Columns []Column // nil where not selected or not readable
	reuse   []Column
	made    []int // columns whose values are not kept
}

// start makes c ready for n columns and keeps the buffers of its last use.
func (c *Chunk) start(n int) {
	if len(c.reuse) != n {
		c.reuse, c.Columns = make([]Column, n), make([]Column, n)
	}
	clear(c.Columns)
	c.end(0)
}

// end says how many rows were put into c.
func (c *Chunk) end(rows int) {
	c.Rows, c.made = rows, c.made[:0]
	for i, column := range c.Columns {
		switch column.(type) {
		case nil, *Texts, *Days, *Wholes:
		default:
			c.made = append(c.made, i)
		}
	}
}

// Row puts into cells those of row i that have to be made text, since the values of their
// columns are not kept, and appends to scratch what is needed for it. A damaged row gives an error.
func (c *Chunk) Row(i int, cells [][]byte, scratch []byte) (more []byte, err error) {
	if len(c.made) == 0 {
		return scratch, nil
	}
	defer guard(&err)
	for _, k := range c.made {
		cells[k], scratch = c.Columns[k].Text(i, scratch)
	}
	return scratch, nil
}

// Text is the cell of a column in a row for which Row gave no error; nil if there is none.
func (c *Chunk) Text(column, i int, scratch []byte) (cell, more []byte) {
	if column >= len(c.Columns) || c.Columns[column] == nil {
		return nil, scratch
	}
	return c.Columns[column].Text(i, scratch)
}

// guard turns a panic of the Arrow library on a damaged file into an error.
// The panic's own text is left out: it could hold parts of a cell.
func guard(err *error) {
	p := recover()
	if p == nil {
		return
	}
	*err = errors.New("decoding failed")
	if p == any(errLarge) {
		*err = errLarge
	}
}

// selection says which of n columns are wanted.
type selection []bool

func newSelection(n int) selection {
	s := make(selection, n)
	for i := range s {
		s[i] = true
	}
	return s
}

func (s selection) set(columns []int) {
	clear(s)
	for _, i := range columns {
		if i >= 0 && i < len(s) {
			s[i] = true
		}
	}
}

// maxBuffer is the largest single buffer: a damaged length must not take the
// machine's memory.
const maxBuffer = 1 << 30

var errLarge = fmt.Errorf("%w: a part of more than 1 GiB", ErrUnsupported)

// limited is Go's allocator with that limit. It panics; guard catches it.
type limited struct{ memory.Allocator }

func newAllocator() limited { return limited{memory.NewGoAllocator()} }

func (l limited) Allocate(n int) []byte {
	checkSize(n)
	return l.Allocator.Allocate(n)
}

func (l limited) Reallocate(n int, b []byte) []byte {
	checkSize(n)
	return l.Allocator.Reallocate(n, b)
}

func checkSize(n int) {
	if n < 0 || n > maxBuffer {
		panic(errLarge)
	}
}

// notRead is the note on a column of a type that is not text, number or date.
func notRead(name string) string {
	return fmt.Sprintf("column %q holds lists or another compound type and was left empty", name)
}

// universal is the note on a column of moments whose zone is not known.
func universal(name string) string {
	return fmt.Sprintf("column %q holds moments in universal time; their dates in universal time were taken", name)
}

var errShort = errors.New("fewer rows than the file says")
