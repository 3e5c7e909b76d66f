package sheet

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync"
	"sync/atomic"
)

const (
	blockSize   = 1 << 19 // bytes read at a time
	recordLimit = 1 << 20 // longest record, in decoded bytes
	headSize    = 1 << 20 // the start of the file that settles line ends, separator and headings
)

// Options say how to read a table. The zero value finds everything from the
// file. Parquet and Arrow files need none and ignore them.
type Options struct {
	// Delimiter separates cells: ',', ';', '\t', '|' or another ASCII
	// character that is no letter, digit, space or quotation mark. 0: found
	// from the file.
	Delimiter rune

	// Encoding is one of the names listed by Encodings, in any case. Empty: found from
	// the file.
	Encoding string

	// HeadingRow is the physical line of the headings, from 1; for a workbook
	// the row of the sheet. What stands above it becomes the Preamble. 0: found
	// with IsHeadings.
	HeadingRow int

	// Sheet is the name of the sheet of a workbook. Empty: the only one with a
	// row for which IsHeadings is true, else the only one that is not empty.
	// Other kinds of table have no sheets and ignore it.
	Sheet string

	// IsHeadings says whether the cells of a row, without surrounding space,
	// look like the headings of the wanted table. It is called for at most the
	// first 60 rows of a sheet or text file that are not blank and no comment;
	// more than once for one row where its separator is not known, or where
	// cells are merged with others above. The first row for which it is true is the heading row, and what stands
	// above becomes the Preamble. If there is none, or without the function,
	// it is the first row that is not blank and no comment.
	IsHeadings func(cells []string) bool

	// Hide says whether the name of a sheet may hold somebody's data. The sheet
	// is then called by its place, as in "(sheet 2)", wherever it is named, and
	// may be asked for so.
	Hide func(sheet string) bool

	// Fixed are columns, each with the value of all rows, that a Parquet or Arrow file
	// has beside its own; one that it has itself is left out.
	Fixed [][2]string

	// Copy, if set, is given the bytes of the file, all and in order, by the time Next
	// returns io.EOF. They are those that the rows were made from: text is copied as it is
	// read; a file that is read here and there is read once more, through the same opening,
	// and if it was changed in between, Next returns ErrChanged.
	Copy io.Writer

	block, limit, head int  // for tests; 0: the constants
	marked             bool // for tests: a text is split as if it had quotation marks
}

// source is one kind of table. Its methods are called under the table's lock.
type source interface {
	next(b *Batch) error // fills b or returns io.EOF
	format() string
	notes() []string
	selectColumns(columns []int)
}

// Table is one opened table: its headings are known, its rows still to come.
// Next may be called by several goroutines; Select and Close may not run
// beside it.
type Table struct {
	Name       string   // file name as given; "-" is standard input
	Headings   []string // as typed, without byte order mark and surrounding space; empty headings at the end are dropped
	Upper      []string // the texts right above the headings, where some heading is empty or stands twice; they may be headings or anybody's data
	HeadingRow int      // physical line of the headings, or row of the sheet, from 1; 0 for Parquet and Arrow, whose rows count from 1
	Preamble   []string // the comment and title lines above the headings, without a leading "#"
	Comments   []string // of these, the lines that begin with "#"; titles may be anybody's data
	Size       int64    // bytes; 0 if not known
	Sheet      string   // workbooks: the sheet that is read
	Sheets     []string // workbooks: all sheets with cells, in order, hidden or not

	fixed  [][]byte // values of columns after the file's own
	ctx    context.Context
	src    source
	read   atomic.Int64
	mu     sync.Mutex
	stat   func() (fs.FileInfo, error) // of a regular file
	opened fs.FileInfo
	copied *copied // nil if nobody asked for the bytes
	seq    int
	err    error // returned by every further Next
	closer io.Closer
	pool   sync.Pool
}

// Open opens the named file, or reads r if it is not nil; name then only
// serves messages. Name "-" without r is standard input. Parquet and Arrow
// files need a regular file: a named one, or an r that is an *os.File or else
// an io.ReaderAt and io.Seeker at its start. A workbook is read into memory if it
// is no such file, up to 64 MiB. Reading stops when ctx is done.
//
// Errors are of type *Error, except that of ctx.
func Open(ctx context.Context, name string, r io.Reader, o Options) (*Table, error) {
	t := &Table{Name: name, ctx: ctx}
	t.pool.New = func() any { return &Batch{table: t} }
	if err := t.open(r, o); err != nil {
		t.Close()
		return nil, t.wrap(err)
	}
	return t, nil
}

func (t *Table) open(r io.Reader, o Options) error {
	if err := o.check(); err != nil {
		return err
	}
	if r == nil && t.Name == "-" {
		r = os.Stdin
	}
	if r == nil {
		f, err := os.Open(t.Name)
		if err != nil {
			return cause(err)
		}
		r, t.closer = f, f
	}
	seekable, size, err := measure(r)
	if err != nil {
		return err
	}
	t.Size = size
	if f, ok := r.(interface{ Stat() (fs.FileInfo, error) }); ok {
		if t.opened, err = f.Stat(); err == nil && t.opened.Mode().IsRegular() {
			t.stat = f.Stat
		}
	}

	if size > 0 { // no more buffer than a small file needs
		o.head = min(o.head, int(min(size, headSize))+1)
		o.block = min(o.block, int(min(size, blockSize))+1)
	}
	if o.Copy != nil {
		t.copied = &copied{from: r, to: o.Copy}
		r = t.copied
	}
	head := make([]byte, o.head)
	n, err := io.ReadFull(r, head)
	head = head[:n]
	whole := errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF)
	if err != nil && !whole {
		return cause(err)
	}
	k, err := sniff(head)
	if err != nil {
		return err
	}
	if t.copied != nil && (k == kindWorkbook || k == kindParquet || k == kindArrowFile) {
		t.copied.whole = seekable
	}
	switch k {
	case kindWorkbook:
		return t.openWorkbook(head, r, seekable, o)
	case kindCompound:
		return compound(head, seekable)
	case kindParquet, kindArrowFile, kindArrowStream:
		return t.openColumnar(k, head, r, seekable, o.Fixed)
	}
	return t.openText(head, whole, r, o)
}

// measure returns r as a file that can be read anywhere, where it is one and
// stands at its start, and its size, where known.
func measure(r io.Reader) (seekable io.ReaderAt, size int64, err error) {
	if f, ok := r.(interface{ Stat() (fs.FileInfo, error) }); ok {
		info, err := f.Stat()
		if err != nil {
			return nil, 0, cause(err)
		}
		if info.IsDir() {
			return nil, 0, ErrDirectory
		}
		if !info.Mode().IsRegular() {
			return nil, 0, nil
		}
	}
	s, ok := r.(interface {
		io.ReaderAt
		io.Seeker
	})
	if !ok {
		return nil, 0, nil
	}
	at, err := s.Seek(0, io.SeekCurrent)
	if err != nil {
		return nil, 0, nil
	}
	size, err = s.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, 0, nil
	}
	if _, err := s.Seek(at, io.SeekStart); err != nil {
		return nil, 0, cause(err)
	}
	if at != 0 {
		return nil, size - at, nil
	}
	return s, size, nil
}

// check refuses values that are not allowed and fills in the private defaults.
func (o *Options) check() error {
	if o.Delimiter != 0 && !separates(o.Delimiter) {
		return fmt.Errorf("%w: the separator must be a tab or one ASCII character that is no letter, digit, space or quotation mark", ErrOption)
	}
	if o.Encoding != "" {
		if _, err := encodingByName(o.Encoding); err != nil {
			return err
		}
	}
	if o.HeadingRow < 0 {
		return fmt.Errorf("%w: heading row %d; rows count from 1", ErrOption, o.HeadingRow)
	}
	if o.block == 0 {
		o.block = blockSize
	}
	if o.limit == 0 {
		o.limit = recordLimit
	}
	if o.head == 0 {
		o.head = headSize
	}
	return nil
}

// Format says in words what was read: "CSV, comma-separated, UTF-8", "text,
// semicolon-separated, Windows-1252", "Parquet", "Arrow IPC", `workbook (.xlsx),
// sheet "Joints"`. For text the encoding is certain only when reading has ended.
func (t *Table) Format() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.src.format()
}

// Notes are sentences on what a reader of the result should know about how the
// file was read. Complete when reading has ended.
func (t *Table) Notes() []string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.src.notes()
}

// About is what the metadata of a Parquet or Arrow file say under a key; false if
// nothing, and for other kinds of table.
func (t *Table) About(key string) (string, bool) {
	if c, ok := t.src.(*table); ok {
		return c.r.About(key)
	}
	return "", false
}

// Select names the columns, from 0, whose cells are needed. Parquet and Arrow
// files then leave the others nil and, for Parquet, unread; text tables and
// workbooks hand out all cells whatever was selected. To be called before the first Next. A
// number without a heading is ignored.
func (t *Table) Select(columns []int) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.src.selectColumns(columns)
}

// Next returns the next batch of whole records, and io.EOF at the end. It may
// be called by several goroutines; Batch.Seq tells the order. After an error
// every further call returns the same error.
func (t *Table) Next() (*Batch, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.err != nil {
		return nil, t.err
	}
	if err := t.ctx.Err(); err != nil {
		t.err = err
		return nil, err
	}
	b := t.pool.Get().(*Batch)
	b.reset()
	if err := t.src.next(b); err != nil {
		if err == io.EOF && t.copied != nil {
			err = t.copied.rest(t.Size, t.Changed)
		}
		if err != io.EOF {
			err = t.wrap(err)
		}
		t.err = err
		b.Release()
		return nil, err
	}
	b.Seq = t.seq
	t.seq++
	return b, nil
}

// Changed says whether the file has another size or time than when it was
// opened, so that what was read may be neither the old nor the new. It is false
// for what is no file.
func (t *Table) Changed() bool {
	if t.stat == nil {
		return false
	}
	now, err := t.stat()
	return err == nil && (now.Size() != t.opened.Size() || !now.ModTime().Equal(t.opened.ModTime()))
}

// Read is the number of bytes of the file consumed so far. It may be called
// at any time, beside Next too.
func (t *Table) Read() int64 { return t.read.Load() }

// Close closes the file if Open opened it. Batches stay valid.
func (t *Table) Close() error {
	if t.closer == nil {
		return nil
	}
	c := t.closer
	t.closer = nil
	return c.Close()
}

// wrap puts the table's name on an error.
func (t *Table) wrap(err error) error {
	var e *Error
	if errors.As(err, &e) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	var at *rowError
	if errors.As(err, &at) {
		return &Error{File: t.Name, Row: at.row, Err: at.err}
	}
	return &Error{File: t.Name, Err: err}
}

// rowError is an error at a row, before the file's name is put on it.
type rowError struct {
	row int
	err error
}

func (e *rowError) Error() string { return e.err.Error() }

// cause takes the operation and the path off an error of the operating
// system, since Error names the file.
func cause(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
