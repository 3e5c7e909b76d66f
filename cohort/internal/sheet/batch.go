package sheet

import (
	"slices"

	"example.org/holdfast/cohort/internal/sheet/internal/columnar"
	"example.org/holdfast/cohort/internal/sheet/internal/workbook"
)

// Batch is a run of whole records, about half a MiB of text. It belongs to the
// caller until Release.
type Batch struct {
	Seq int // 0, 1, 2, ...: the order of the batches in the table

	table *Table

	// text: whole records, the physical line of the first, and how to split them
	data   []byte
	line   int
	quotes bool // data holds a quotation mark
	style  *style

	// a record that could not be held: no data, only its row
	broken error
	lines  int

	columnar bool // Parquet and Arrow: the records are in chunk
	chunk    columnar.Chunk

	workbook bool // the records are in sheet
	sheet    workbook.Chunk

	record  Record
	bounds  []int32
	cells   [][]byte
	scratch []byte
}

// Record is one row of the table. It and its cells are valid until the next
// iteration.
type Record struct {
	Row   int   // text: the physical line on which the record starts, from 1; else the number of the row, from 1 (workbooks: of the sheet)
	Lines int   // text: the physical lines the record takes up; more than 1 only with line ends inside quotation marks
	Err   error // not nil: the record is malformed and has no cells (ErrQuote, ErrLongRecord); reading goes on

	Index  int      // Parquet and Arrow: its place in the batch; −1 with Err
	text   []byte   // a text without quotation marks: where the cells are,
	bounds []int32  // and what stands around them: before the first, after it, and after each other
	cells  [][]byte // any other; nil of a cell that is made when it is asked for
	of     *Batch   // Parquet and Arrow: that batch
}

// Len is the number of cells: one per heading in order; a short record has fewer, a long one
// more.
func (r *Record) Len() int { return max(0, len(r.bounds)-1) + len(r.cells) }

// Plain is a cell that is had without a call; nil if there is none, or Cell has yet to make it.
func (r *Record) Plain(i int) []byte {
	if next := i + 1; i >= 0 && next < len(r.bounds) {
		return r.text[r.bounds[i]+1 : r.bounds[next]]
	}
	if uint(i) < uint(len(r.cells)) {
		return r.cells[i]
	}
	return nil
}

// Run is the cells from first to last as they stand side by side in a text without
// quotation marks, with what separates them; nil if they don't.
func (r *Record) Run(first, last int) []byte {
	if last+1 >= len(r.bounds) {
		return nil
	}
	return r.text[r.bounds[first]+1 : r.bounds[last+1]]
}

// Cell is one of them, nil if there is none: valid UTF-8, quotation marks taken off. What a
// Parquet or Arrow file keeps as text, a day or a whole number becomes a cell when it is
// asked for.
func (r *Record) Cell(i int) []byte {
	cell := r.Plain(i)
	if cell == nil && r.of != nil && i >= 0 && i < len(r.cells) {
		cell, r.of.scratch = r.of.chunk.Text(i, r.Index, r.of.scratch)
	}
	return cell
}

// Texts, Days and Wholes are columns of a Parquet or Arrow batch whose values are at hand as
// the file keeps them: their method At takes a record's Index.
type (
	Texts  = columnar.Texts
	Days   = columnar.Days
	Wholes = columnar.Wholes
)

// Dictionary is one that a Parquet or Arrow file has for the texts of a batch.
type Dictionary = columnar.Dictionary

// Valid is a text with bytes that are no UTF-8 replaced.
func Valid(text []byte) []byte { return columnar.Valid(text) }

// Column is column i of a batch if it is such a one; else nil, and its cells are to be had
// from the records alone.
func Column[T *Texts | *Days | *Wholes](b *Batch, i int) T {
	var c T
	if b.columnar && i >= 0 && i < len(b.chunk.Columns) {
		c, _ = b.chunk.Columns[i].(T)
	}
	return c
}

// Rows calls yield with each record in turn until yield returns false. It has
// the form of an iterator: for r := range b.Rows.
func (b *Batch) Rows(yield func(*Record) bool) {
	switch {
	case b.broken != nil:
		b.record = Record{Row: b.line, Lines: b.lines, Err: b.broken}
		yield(&b.record)
	case b.columnar:
		b.columnarRows(yield)
	case b.workbook:
		b.sheetRows(yield)
	case b.quotes:
		b.quotedRows(yield)
	default:
		b.plainRows(yield)
	}
}

// Release gives the batch back for reuse. The batch and its records must not
// be used afterwards.
func (b *Batch) Release() { b.table.pool.Put(b) }

func (b *Batch) reset() {
	b.Seq, b.data, b.line, b.quotes, b.broken, b.lines = 0, b.data[:0], 0, false, nil, 0
	b.columnar, b.workbook = false, false
	b.sheet.Reset()
	b.record = Record{}
}

func (b *Batch) columnarRows(yield func(*Record) bool) {
	r := &b.record
	b.cells = append(slices.Grow(b.cells[:0], len(b.chunk.Columns)+len(b.table.fixed))[:len(b.chunk.Columns)], b.table.fixed...)
	clear(b.cells[:len(b.chunk.Columns)])
	*r = Record{Lines: 1, of: b}
	for i := range b.chunk.Rows {
		var err error
		b.scratch, err = b.chunk.Row(i, b.cells, b.scratch[:0])
		r.Row, r.Index, r.Err, r.cells = b.line+i, i, nil, b.cells
		if err != nil {
			r.cells, r.Index, r.Err = nil, -1, damaged(err)
		}
		if !yield(r) {
			return
		}
	}
}

func (b *Batch) sheetRows(yield func(*Record) bool) {
	r := &b.record
	b.sheet.All(b.cells, func(row *workbook.Row, cells [][]byte) bool {
		b.cells = cells
		*r = Record{Row: row.Number, Lines: 1, cells: cells}
		if row.TooLong {
			r.cells, r.Err = nil, ErrLongRecord
		}
		return yield(r)
	})
}
