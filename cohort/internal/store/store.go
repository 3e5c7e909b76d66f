// Package store holds what was read, row by row in columns, and unpacks the rows
// of one patient at a time. Nothing in it changes once a table is read; it alone
// knows how rows are packed.
package store

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

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
	None    [DateCount]map[dates.Raw]bool // days that stand for none; nil where there are none
	Columns Columns
	Aside   []Range // rows that say nothing of a joint, and are not kept
}

// Range is rows of a table, one after another, that are set aside for one reason.
type Range struct {
	From, To int32 // as the file numbers them
	Reason   row.Reason
}

// Columns are the columns of a table for which its rows need room.
type Columns struct {
	Dates             [DateCount]bool
	Patient, Initials bool
	Names             bool // of joints
	Fields            int  // of words
}

// RowBytes is about how much memory a row takes while a table is read and what
// becomes of it is found out, when its patient's hash is forgotten.
func (c Columns) RowBytes() int {
	const packed, line, after, list, hash, outcome = 8, 2, 4, 4, 8, 4
	bytes := packed + line + after + list + outcome
	if c.Patient {
		bytes += hash - outcome
	}
	if slices.Contains(c.Dates[early:], true) {
		bytes += 3 * (DateCount - early)
	}
	for _, has := range []bool{c.Initials, c.Names} {
		if has {
			bytes += hash
		}
	}
	return bytes * 9 / 8 // with what is used no more and not yet seen to
}

// Record is one row as read, on its way into a block.
type Record struct {
	Line              int32 // as the file numbers it
	Dates             [DateCount]dates.Raw
	Age               int16  // see Years
	Patient, Initials uint64 // hashes; 0 if missing
	Name              uint64 // of the joint, the same
	Flags             row.Flags
	Codes             []row.Code // a code a field
	Words             uint32     // the number of codes and flags for the writer; 0 if it gave them none
	Told              row.Flags  // those that have this number
}

// Block is a run of rows of one table whose patients fall in one part, in the
// order of the table.
type Block struct {
	rows     []packed
	lines    lines
	high     []uint16                          // the upper half of the numbers of words; nil if all are 0
	patient  []uint64                          // nil if the table has no such column, as below, and once the rows are arranged
	after    [][after]dates.Packed             // what came after the operation, of the rows that tell of anything
	tell     [blockRows / 64]uint64            // these rows: a bit for each row
	before   [blockRows / 64]uint16            // how many of them come before each 64 rows
	late     [][DateCount - early]dates.Packed // the other dates; nil if the table has none of them
	initials []uint64
	names    []uint64
	words    *Words
	table    *Table
	index    int32 // of the table
}

// blockRows is how many rows a block has at most, 1 << blockBits.
const (
	blockBits = 10
	blockRows = 1 << blockBits
)

// packed is what of a row is needed to link it, side by side, since the rows of
// a patient are fetched from anywhere.
type packed struct {
	operation uint32 // the date, and above it the marks
	words     uint16 // the lower half of their number
	age       int16  // in years, or a birth year; see BirthYear
}

// Marks of a row, once the rows are arranged.
const (
	listed = 1 << (dates.RawBits + iota) // among those of patients with several rows
	nobody                               // it has no patient
)

func (p *packed) has(mark uint32) bool { return p.operation&mark != 0 }

func (p *packed) operated() dates.Raw { return dates.Raw(p.operation & (1<<dates.RawBits - 1)) }

// Words are the different codes and flags of the rows that one writer took, from
// number 1: most rows share theirs.
type Words struct {
	codes   []row.Code // of all fields of one, then of the next
	flags   []row.Flags
	fields  int
	flagged map[flagged]uint32 // those that differ in their flags from one that was given a number
}

// flagged is a wording and other flags for it.
type flagged struct {
	words uint32
	flags row.Flags
}

// Len is how many there are.
func (w *Words) Len() int { return len(w.flags) }

// Code is that of one field.
func (w *Words) Code(number uint32, field int) row.Code { return w.codes[int(number-1)*w.fields+field] }

func (w *Words) of(number uint32) []row.Code {
	at := int(number-1) * w.fields
	return w.codes[at : at+w.fields]
}

// add gives codes and flags the next number.
func (w *Words) add(codes []row.Code, flags row.Flags) uint32 {
	w.codes, w.flags = append(w.codes, codes[:w.fields]...), append(w.flags, flags)
	return uint32(len(w.flags))
}

// withFlags is the number of the codes of another with other flags.
func (w *Words) withFlags(number uint32, flags row.Flags) uint32 {
	key := flagged{number, flags}
	n, ok := w.flagged[key]
	if !ok {
		n = w.add(w.of(number), flags)
		w.flagged[key] = n
	}
	return n
}

// The dates of a row: that of the operation; those of what came after it, which
// most rows have not; and others, for which a row has room if its table has them.
const (
	after = 2
	early = Operation + 1 + after
)

// newBlock has room for a number of rows, and grows.
func newBlock(c Columns, words *Words, room int) *Block {
	b := &Block{rows: make([]packed, 0, room), lines: lines{since: make([]uint16, 0, room)}, words: words}
	if slices.Contains(c.Dates[early:], true) {
		b.late = make([][DateCount - early]dates.Packed, 0, room)
	}
	if c.Initials {
		b.initials = make([]uint64, 0, room)
	}
	if c.Names {
		b.names = make([]uint64, 0, room)
	}
	return b
}

// leastRows is how many rows a part's first block has room for at first.
const leastRows = 16

func (b *Block) add(r *Record) {
	at := len(b.rows)
	if at%64 == 0 {
		b.before[at/64] = uint16(len(b.after))
	}
	if later := [after]dates.Raw(r.Dates[Revision:early]); later != [after]dates.Raw{} {
		b.after = append(b.after, [after]dates.Packed{later[0].Pack(), later[1].Pack()})
		b.tell[at/64] |= 1 << (at % 64)
	}
	if high := uint16(r.Words >> 16); high > 0 || b.high != nil {
		if b.high == nil {
			b.high = make([]uint16, at, blockRows)
		}
		b.high = append(b.high, high)
	}
	b.lines.add(at, r.Line)
	b.rows = append(b.rows, packed{operation: uint32(r.Dates[Operation]), words: uint16(r.Words), age: r.Age})
	if b.late != nil {
		b.late = append(b.late, [DateCount - early]dates.Packed{r.Dates[Seen].Pack(), r.Dates[Birth].Pack()})
	}
	if b.patient != nil {
		b.patient = append(b.patient, r.Patient)
	}
	if b.initials != nil {
		b.initials = append(b.initials, r.Initials)
	}
	if b.names != nil {
		b.names = append(b.names, r.Name)
	}
}

// clip gives back the room of rows that will not come, of which a table's many parts have some
// each. Hashes are forgotten soon.
func (b *Block) clip() {
	b.rows, b.lines.since, b.after, b.late = clipped(b.rows), clipped(b.lines.since), clipped(b.after), clipped(b.late)
}

// clipped is a slice with no room for more, if that is worth while.
func clipped[T any](s []T) []T {
	if s == nil || cap(s)-len(s) < cap(s)/8 {
		return s
	}
	return append(make([]T, 0, len(s)), s...)
}

// Len is the number of rows.
func (b *Block) Len() int { return len(b.rows) }

// Table of the rows.
func (b *Block) Table() *Table { return b.table }

// Line is how the file numbers a row.
func (b *Block) Line(i int) int { return int(b.lines.of(i)) }

// Flags of a row.
func (b *Block) Flags(i int) row.Flags { return b.words.flags[b.Word(i)-1] }

// codesOf a row, by field.
func (b *Block) codesOf(i int) []row.Code { return b.words.of(b.Word(i)) }

// Words are those of the block's rows, and of others.
func (b *Block) Words() *Words { return b.words }

// Word is the number of a row's among them.
func (b *Block) Word(i int) uint32 {
	if b.high == nil {
		return uint32(b.rows[i].words)
	}
	return uint32(b.high[i])<<16 | uint32(b.rows[i].words)
}

// Codes gives the rows' codes in one field.
func (b *Block) Codes(field int) func(i int) row.Code {
	return func(i int) row.Code { return b.words.Code(b.Word(i), field) }
}

// AllCodes lists the rows' codes in one field, to be changed at will.
func (b *Block) AllCodes(field int) []row.Code {
	all, code := make([]row.Code, b.Len()), b.Codes(field)
	for i := range all {
		all[i] = code(i)
	}
	return all
}

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
	switch {
	case column == Operation:
		return b.dayOf(column, i, b.rows[i].operated())
	case column < early:
		if later := b.afterOf(i); later != nil {
			return b.dayOf(column, i, later[column-Revision].Raw())
		}
	case b.late != nil:
		return b.dayOf(column, i, b.late[i][column-early].Raw())
	}
	return row.NoDay
}

// afterOf is what came after the operation of a row; nil if it tells of nothing.
func (b *Block) afterOf(i int) *[after]dates.Packed {
	tell, bit := b.tell[i/64], uint64(1)<<(i%64)
	if tell&bit == 0 {
		return nil
	}
	return &b.after[int(b.before[i/64])+bits.OnesCount64(tell&(bit-1))]
}

// Dated is a row and one of its dates.
type Dated struct {
	Day row.Day
	Row int
}

// Latest are the two rows with the latest days in one column, of those that are usable; the
// day is row.NoDay where there is none. Of rows with one day the first goes before.
func (b *Block) Latest(column int, usable func(i int, day row.Day) bool) (first, second Dated) {
	first, second = Dated{row.NoDay, -1}, Dated{row.NoDay, -1}
	floor := dates.Missing // settled days up to that of the second are not above it
	see := func(i int, raw dates.Raw) {
		day := b.dayOf(column, i, raw)
		switch {
		case day <= second.Day || !usable(i, day):
			return
		case day > first.Day:
			first, second = Dated{day, i}, first
		default:
			second = Dated{day, i}
		}
		if second.Row >= 0 {
			floor = dates.Of(int32(second.Day))
		}
	}
	switch {
	case column == Operation:
		for i := range b.rows {
			if raw := b.rows[i].operated(); raw > floor {
				see(i, raw)
			}
		}
	case column < early:
		at := 0
		for word, tell := range b.tell {
			for ; tell != 0; tell &= tell - 1 {
				if raw := b.after[at][column-Revision].Raw(); raw > floor {
					see(word*64+bits.TrailingZeros64(tell), raw)
				}
				at++
			}
		}
	default:
		for i := range b.late {
			if raw := b.late[i][column-early].Raw(); raw > floor {
				see(i, raw)
			}
		}
	}
	return first, second
}

// dayOf is the day of one date of a row, which is short of what most are.
func (b *Block) dayOf(column, i int, raw dates.Raw) row.Day {
	if day, settled := raw.Settled(); settled && b.table.None[column] == nil {
		return row.Day(day)
	}
	return b.settle(column, i, raw)
}

// settle is dayOf for what needs more than the date itself.
func (b *Block) settle(column, i int, raw dates.Raw) row.Day {
	switch day, settled := raw.Settled(); {
	case raw == dates.Missing || b.table.None[column][raw]:
		return row.NoDay
	case settled:
		return row.Day(day)
	}
	day, err := raw.Day(b.table.Orders[column])
	switch err {
	case nil:
		if column == Birth && raw.Pivoted() {
			return bornBefore(row.Day(day), b.Day(Operation, i))
		}
		return row.Day(day)
	case dates.ErrTwoDigitYear:
		return row.ShortYear
	}
	return row.Impossible
}

// Store is all rows of all tables, in parts: all rows of a patient are in one.
type Store struct {
	Tables []*Table
	Blocks []*Block // of all parts

	parts [][]int32 // the blocks of each
	lists []list    // of each, once arranged
	zeros bool      // some number has zeros before it

	// Apart and Joined are rows of the primaries with another row whose
	// identifier differs in leading zeros only: of a patient who may be the same,
	// and of a list that is joined all the same.
	Apart, Joined map[row.Place]row.Place

	ButForZeros int // patients with identifiers in the primaries that differ in leading zeros only
}

// New is an empty store for tables that take up about so many bytes together; 0
// if nobody knows.
func New(bytes int64) *Store {
	parts := 1
	for parts < mostParts && (bytes == 0 && parts < unknownParts || int64(parts)*partBytes < bytes) {
		parts *= 2
	}
	return &Store{parts: make([][]int32, parts)}
}

// The rows of a part are to stay in a processor's cache while its patients are
// found: a line of a text table takes up more than the row.
const (
	partBytes    = 2 << 20
	mostParts    = 256
	unknownParts = 16
)

// Writer takes the rows of one table from one reader of it.
type Writer struct {
	columns Columns
	words   *Words
	blocks  [][]*Block // by part
	open    []*Block   // of each part, the last; nil if there is none
	hashes  []uint64   // for the patients of blocks to come
	rows    int
	zeros   bool // some number has zeros before it
}

// NewWriter is for a table with such columns.
func (s *Store) NewWriter(c Columns) *Writer {
	return &Writer{columns: c, words: &Words{fields: c.Fields, flagged: make(map[flagged]uint32)}, blocks: make([][]*Block, len(s.parts)), open: make([]*Block, len(s.parts))}
}

// Words gives codes, one a field, and flags a number for rows to come.
func (w *Writer) Words(codes []row.Code, flags row.Flags) uint32 { return w.words.add(codes, flags) }

// Add takes a row. Rows come in the order of the table, though not all of them.
func (w *Writer) Add(r *Record) {
	if r.Words == 0 {
		r.Words, r.Told = w.Words(r.Codes, r.Flags), r.Flags
	} else if r.Flags != r.Told {
		r.Words = w.words.withFlags(r.Words, r.Flags)
	}
	part := w.part(r)
	b := w.open[part]
	if b == nil || len(b.rows) == blockRows {
		b = w.next(part)
	}
	b.add(r)
	w.rows++
	form := r.Patient & row.NoNumber
	w.zeros = w.zeros || form > 1 && form != row.NoNumber
}

// next opens another block of a part.
func (w *Writer) next(part int) *Block {
	var b *Block
	if last := w.open[part]; last == nil {
		b = newBlock(w.columns, w.words, leastRows)
	} else {
		b = newBlock(w.columns, w.words, blockRows)
		b.after = slices.Grow(b.after, len(last.after)*17/16) // as many as the last had, or a few more
	}
	if w.columns.Patient {
		b.patient = w.patients(cap(b.rows))
	}
	w.blocks[part], w.open[part] = append(w.blocks[part], b), b
	return b
}

// patients has room for the hashes of so many. Those of many blocks stand side by side:
// when they are forgotten there is room for something large.
func (w *Writer) patients(room int) []uint64 {
	const blocks = 64
	if room < blockRows {
		return make([]uint64, 0, room)
	}
	if len(w.hashes) == 0 {
		w.hashes = make([]uint64, blocks*blockRows)
	}
	of := w.hashes[:0:blockRows]
	w.hashes = w.hashes[blockRows:]
	return of
}

// part is where a patient's rows are; those without are spread.
func (w *Writer) part(r *Record) int {
	who := r.Patient >> row.FormBits
	if who == 0 {
		who = uint64(r.Line) / blockRows
	}
	return int(who & uint64(len(w.blocks)-1))
}

// Rows is how many were taken.
func (w *Writer) Rows() int { return w.rows }

// Add appends a table with its rows.
func (s *Store) Add(t *Table, writers []*Writer) {
	for _, w := range writers {
		s.zeros = s.zeros || w.zeros
		for part, blocks := range w.blocks {
			if b := w.open[part]; b != nil {
				b.clip()
			}
			for _, b := range blocks {
				b.table, b.index = t, int32(len(s.Tables))
				s.parts[part] = append(s.parts[part], int32(len(s.Blocks)))
				s.Blocks = append(s.Blocks, b)
			}
		}
	}
	s.Tables = append(s.Tables, t)
}

// Compare gives the order of two rows: that of their tables, and in a table that
// of its lines.
func (s *Store) Compare(a, b row.Place) int {
	x, y := s.Blocks[a.Block], s.Blocks[b.Block]
	if x.index != y.index {
		return cmp.Compare(x.index, y.index)
	}
	return cmp.Compare(x.lines.of(int(a.Index)), y.lines.of(int(b.Index)))
}

// InOrder gives the places of all rows in their order.
func (s *Store) InOrder() []row.Place {
	of := make([][]int32, len(s.Tables)) // blocks by table
	for bi, b := range s.Blocks {
		of[b.index] = append(of[b.index], int32(bi))
	}
	var all []row.Place
	for _, blocks := range of {
		all = append(all, s.byLine(blocks)...)
	}
	return all
}

// byLine gives the places of one table's rows by line. Lines are nearly as dense as
// rows, so each place is put where its line is.
func (s *Store) byLine(blocks []int32) []row.Place {
	rows, first, last := 0, int32(math.MaxInt32), int32(0)
	for _, bi := range blocks {
		b := s.Blocks[bi]
		rows += b.Len()
		for i := range b.rows {
			line := b.lines.of(i)
			first, last = min(first, line), max(last, line)
		}
	}
	if rows == 0 {
		return nil
	}
	none := row.Place{Block: -1}
	var at []row.Place
	if int(last-first) < 2*rows {
		at = slices.Repeat([]row.Place{none}, int(last-first)+1)
	}
	var rest []row.Place // of lines far apart, or on the line of another row
	for _, bi := range blocks {
		b := s.Blocks[bi]
		for i := range b.rows {
			line := b.lines.of(i)
			place := row.Place{Block: bi, Index: int32(i)}
			if at == nil || at[line-first] != none {
				rest = append(rest, place)
			} else {
				at[line-first] = place
			}
		}
	}
	at = slices.DeleteFunc(at, func(p row.Place) bool { return p == none })
	if len(rest) > 0 {
		at = append(at, rest...)
		slices.SortStableFunc(at, s.Compare)
	}
	return at
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

// unpack gives one row of a patient, who has a number, as understood.
func (s *Store) unpack(at row.Place, who uint64, r *row.Row) {
	b, i := s.Blocks[at.Block], int(at.Index)
	p, word := &b.rows[i], b.Word(i)
	r.At, r.Table, r.Patient, r.Flags = at, b.index, who, b.words.flags[word-1]
	r.Operation, r.Revision, r.Death, r.Seen, r.Birth = b.dayOf(Operation, i, p.operated()), row.NoDay, row.NoDay, row.NoDay, row.NoDay
	if later := b.afterOf(i); later != nil {
		r.Revision, r.Death = b.dayOf(Revision, i, later[0].Raw()), b.dayOf(Death, i, later[1].Raw())
	}
	if b.late != nil {
		r.Seen, r.Birth = b.Day(Seen, i), b.Day(Birth, i)
	}
	code := b.words.of(word)
	r.Joint, r.Side, r.Reason, r.Name = code[Joint], code[Side], code[Reason], hash(b.names, i)
	r.Age = p.ageAt(r.Operation, r.Birth, r.Flags)
}
