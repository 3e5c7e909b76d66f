// Package store holds what was read, row by row in columns, and unpacks the rows
// of one patient at a time. Nothing in it changes once a table is read; it alone
// knows how rows are packed.
package store

import (
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
)

// The dates of a row.
const (
	Operation = iota
	Revision
	Death
	Seen
	Birth
	DateCount
)

// The fields of words that every row has, in the order of their codes; the
// others follow.
const (
	Joint = iota
	Procedure
	Bearing
	Fixation
	Side
	CoreCount

	Sex    = CoreCount
	Reason = CoreCount + 1
)

// Table is one table and what its rows together say of its dates.
type Table struct {
	row.Table
	File    int
	Orders  [DateCount]dates.Order
	Columns Columns
}

// Columns are the columns of a table for which its rows need room.
type Columns struct {
	Dates             [DateCount]bool
	Age               bool // or a birth year
	Patient, Initials bool
	Fields            int // of words
}

// Record is one row as read, on its way into a block.
type Record struct {
	Line              int32 // as the file numbers it
	Dates             [DateCount]dates.Raw
	Age               int16  // see Years
	Patient, Initials uint64 // hashes; 0 if missing
	Flags             row.Flags
	Codes             []row.Code // a code a field
}

// Block is a run of rows of one table.
type Block struct {
	table    *Table
	index    int32 // of the table
	line     []int32
	dates    [DateCount][]dates.Raw // nil if the table has no such column, as below
	age      []int16
	flags    []row.Flags
	codes    [][]row.Code
	patient  []uint64
	initials []uint64
	several  []uint64 // a bit a row: its patient has others
}

// NewBlock is an empty block with room for a number of rows of a table.
func NewBlock(c Columns, rows int) *Block {
	b := &Block{line: make([]int32, 0, rows), flags: make([]row.Flags, 0, rows), codes: make([][]row.Code, c.Fields)}
	for k, has := range c.Dates {
		if has {
			b.dates[k] = make([]dates.Raw, 0, rows)
		}
	}
	for k := range b.codes {
		b.codes[k] = make([]row.Code, 0, rows)
	}
	if c.Age {
		b.age = make([]int16, 0, rows)
	}
	if c.Patient {
		b.patient = make([]uint64, 0, rows)
	}
	if c.Initials {
		b.initials = make([]uint64, 0, rows)
	}
	return b
}

// Add appends a row. What the table has no column for is not kept.
func (b *Block) Add(r *Record) {
	b.line, b.flags = append(b.line, r.Line), append(b.flags, r.Flags)
	for k := range b.dates {
		if b.dates[k] != nil {
			b.dates[k] = append(b.dates[k], r.Dates[k])
		}
	}
	for k := range b.codes {
		b.codes[k] = append(b.codes[k], r.Codes[k])
	}
	if b.age != nil {
		b.age = append(b.age, r.Age)
	}
	if b.patient != nil {
		b.patient = append(b.patient, r.Patient)
	}
	if b.initials != nil {
		b.initials = append(b.initials, r.Initials)
	}
}

// Len is the number of rows.
func (b *Block) Len() int { return len(b.line) }

// Table of the rows.
func (b *Block) Table() *Table { return b.table }

// Line is how the file numbers a row.
func (b *Block) Line(i int) int { return int(b.line[i]) }

// Flags of a row.
func (b *Block) Flags(i int) row.Flags { return b.flags[i] }

// Codes of all rows in one field, to be read only.
func (b *Block) Codes(field int) []row.Code { return b.codes[field] }

// Patient and initials of a row, as hashes; 0 if missing.
func (b *Block) Patient(i int) uint64 { return hash(b.patient, i) }

// Initials of a row's patient, as a hash; 0 if missing.
func (b *Block) Initials(i int) uint64 { return hash(b.initials, i) }

func hash(of []uint64, i int) uint64 {
	if of == nil {
		return 0
	}
	return of[i]
}

// Day is one date of a row.
func (b *Block) Day(column, i int) row.Day {
	if b.dates[column] == nil {
		return row.NoDay
	}
	raw := b.dates[column][i]
	day, err := raw.Day(b.table.Orders[column])
	switch err {
	case nil:
		if column == Birth && raw.Pivoted() {
			return bornBefore(row.Day(day), b.Day(Operation, i))
		}
		return row.Day(day)
	case dates.ErrMissing:
		return row.NoDay
	case dates.ErrTwoDigitYear:
		return row.ShortYear
	}
	return row.Impossible
}

// Store is all rows of all tables.
type Store struct {
	Tables []*Table
	Blocks []*Block

	shared []places // rows of patients who have several, in parts
}

// Add appends a table with its rows.
func (s *Store) Add(t *Table, blocks []*Block) {
	for _, b := range blocks {
		b.table, b.index = t, int32(len(s.Tables))
	}
	s.Tables = append(s.Tables, t)
	s.Blocks = append(s.Blocks, blocks...)
}

// Rows counts the rows of the primaries.
func (s *Store) Rows() int {
	n := 0
	for _, b := range s.Blocks {
		if b.table.Role == row.Primaries {
			n += b.Len()
		}
	}
	return n
}

// unpack gives one row as understood.
func (s *Store) unpack(at row.Place, r *row.Row) {
	b, i := s.Blocks[at.Block], int(at.Index)
	*r = row.Row{
		At: at, Table: b.index, Patient: b.Patient(i), Flags: b.flags[i],
		Operation: b.Day(Operation, i), Revision: b.Day(Revision, i), Death: b.Day(Death, i), Seen: b.Day(Seen, i), Birth: b.Day(Birth, i),
		Joint: b.codes[Joint][i], Side: b.codes[Side][i], Reason: b.codes[Reason][i],
	}
	r.Age = b.ageAt(i, r.Operation, r.Birth)
}
