package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort/internal/sheet/internal/workbook"
)

const (
	pipeLimit   = 64 << 20 // bytes of a workbook that is not a file
	headingRows = 60       // rows among which the headings are looked for
	batchRows   = 1024     // rows of a sheet in a batch
)

// sheet is a table on a sheet of a workbook.
type sheet struct {
	t       *Table
	o       Options
	book    *workbook.Book
	number  int // of the sheet in the book
	rows    *workbook.Rows
	head    []workbook.Row // rows read so far that were not yet handed out
	accepts int            // index in head of the row that looks like headings; -1: none
	first   int            // index in head of the first row that is no comment; -1: none
	end     bool           // head is all of the sheet

	hidden      int // hidden rows below the headings
	firstHidden int
}

func (t *Table) openWorkbook(head []byte, r io.Reader, seekable io.ReaderAt, o Options) error {
	if seekable == nil {
		all, err := io.ReadAll(io.LimitReader(io.MultiReader(bytes.NewReader(head), r), pipeLimit+1))
		if err != nil {
			return cause(err)
		}
		if len(all) > pipeLimit {
			return fmt.Errorf("%w if it is a workbook of more than %d MiB; give the name of the file", ErrNotSeekable, pipeLimit>>20)
		}
		seekable, t.Size = bytes.NewReader(all), int64(len(all))
	}
	book, err := workbook.Open(&countedAt{seekable, t}, t.Size, t.ctx.Err)
	if err != nil {
		return bookError(err)
	}
	for _, s := range book.Sheets {
		name := s.Name
		if o.Hide != nil && o.Hide(name) {
			name = fmt.Sprintf("(sheet %d)", len(t.Sheets)+1)
		}
		t.Sheets = append(t.Sheets, name)
	}
	s, err := t.chooseSheet(book, o)
	if err != nil {
		return err
	}
	t.src, t.closer = s, closers{s, t.closer}
	t.Sheet = t.Sheets[s.number]
	return s.headings()
}

// closers closes both, and the second if it is not nil.
type closers struct{ first, second io.Closer }

func (c closers) Close() error {
	err := c.first.Close()
	if c.second != nil {
		err = errors.Join(err, c.second.Close())
	}
	return err
}

func (s *sheet) Close() error {
	s.rows.Close()
	return nil
}

// countedAt counts the bytes read for Table.Read. A part read twice counts
// once at most: the count never exceeds the size.
type countedAt struct {
	r io.ReaderAt
	t *Table
}

func (c *countedAt) ReadAt(p []byte, off int64) (int, error) {
	n, err := c.r.ReadAt(p, off)
	c.t.read.Store(min(c.t.read.Load()+int64(n), c.t.Size))
	return n, err
}

// chooseSheet opens the sheet that is asked for, else the only one with the
// wanted headings, else the only one that is not empty.
func (t *Table) chooseSheet(book *workbook.Book, o Options) (*sheet, error) {
	if o.Sheet != "" {
		i := slices.IndexFunc(book.Sheets, func(s workbook.Sheet) bool { return s.Name == o.Sheet })
		if i < 0 {
			i = slices.IndexFunc(book.Sheets, func(s workbook.Sheet) bool { return strings.EqualFold(s.Name, o.Sheet) })
		}
		if i < 0 {
			i = slices.Index(t.Sheets, o.Sheet)
		}
		if i < 0 {
			return nil, fmt.Errorf("%w: there is no sheet %q; the workbook has %s", ErrSheet, o.Sheet, names(t.Sheets))
		}
		return t.openSheet(book, i, o)
	}
	var chosen *sheet // the first with the headings, else the first with content
	var full, wanted []string
	for i, name := range t.Sheets {
		s, err := t.openSheet(book, i, o)
		if err != nil {
			if chosen != nil {
				chosen.Close()
			}
			return nil, err
		}
		if s.end && len(s.head) == 0 {
			s.Close()
			continue
		}
		full = append(full, name)
		if s.accepts >= 0 {
			wanted = append(wanted, name)
		}
		switch {
		case chosen == nil:
			chosen = s
		case s.accepts >= 0 && chosen.accepts < 0:
			chosen.Close()
			chosen = s
		default:
			s.Close()
		}
	}
	if len(wanted) == 1 || len(wanted) == 0 && len(full) == 1 {
		return chosen, nil
	}
	if chosen == nil {
		return nil, fmt.Errorf("%w: no sheet has any content", ErrEmpty)
	}
	chosen.Close()
	if len(wanted) == 0 {
		return nil, fmt.Errorf("%w: none has the headings that are looked for; name the sheet with --sheet NAME: %s", ErrSheet, names(full))
	}
	return nil, &SheetsError{Wanted: wanted}
}

// names lists sheets in a message: the first twenty.
func names(list []string) string {
	const most = 20
	var b strings.Builder
	for i, name := range list {
		switch {
		case i == most:
			fmt.Fprintf(&b, " and %d more", len(list)-most)
			return b.String()
		case i > 0 && i == len(list)-1:
			b.WriteString(" and ")
		case i > 0:
			b.WriteString(", ")
		}
		b.WriteString(strconv.Quote(name))
	}
	return b.String()
}

// openSheet reads the start of a sheet, up to the row that looks like headings.
func (t *Table) openSheet(book *workbook.Book, number int, o Options) (*sheet, error) {
	s := &sheet{t: t, o: o, book: book, number: number, accepts: -1, first: -1}
	var err error
	if s.rows, err = book.Rows(number, o.limit); err != nil {
		return nil, bookError(err)
	}
	if err := s.readHead(); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

func (s *sheet) readHead() error {
	for size := 0; len(s.head) < headingRows && size < headSize; {
		i, err := s.more()
		if err != nil {
			return err
		}
		if i < 0 {
			break
		}
		size += s.head[i].Size()
		texts := headingTexts(&s.head[i])
		if isCommentRow(texts) || strings.Join(texts, "") == "" {
			continue
		}
		if s.first < 0 {
			s.first = i
		}
		if s.o.IsHeadings == nil {
			return nil
		}
		if s.o.IsHeadings(texts) {
			s.accepts = i
			return nil
		}
	}
	if s.o.IsHeadings == nil || len(s.head) < 2 {
		return nil
	}
	// Headings that stand in two rows, with cells merged over both.
	merged, err := s.book.Ranges(s.number)
	if err != nil || len(merged) == 0 {
		return bookError(err)
	}
	for i := range s.head {
		if texts, ok := s.filled(i, merged); ok && s.o.IsHeadings(texts) {
			s.accepts = i
			return nil
		}
	}
	return nil
}

// isCommentRow reports whether a row is a comment, as isComment does for a line.
func isCommentRow(texts []string) bool {
	k := slices.IndexFunc(texts, func(s string) bool { return s != "" })
	if k < 0 || texts[k][0] != '#' {
		return false
	}
	return texts[k] != "#" || strings.Join(texts[k+1:], "") == ""
}

// more reads one more row into head and returns its index, or -1 at the end.
func (s *sheet) more() (int, error) {
	r, err := s.rows.Next()
	if err == io.EOF {
		s.end = true
		return -1, nil
	}
	if err != nil {
		return -1, s.at(err)
	}
	s.head = append(s.head, r.Clone())
	return len(s.head) - 1, nil
}

// at puts the row on an error.
func (s *sheet) at(err error) error {
	if s.t.ctx.Err() != nil {
		return err
	}
	err = bookError(err)
	if len(s.book.Sheets) > 1 {
		err = fmt.Errorf("sheet %q: %w", s.t.Sheets[s.number], err)
	}
	return &rowError{s.rows.Last(), err}
}

func headingTexts(r *workbook.Row) []string {
	texts := make([]string, r.Len())
	for i := range texts {
		texts[i] = headingText(r.Cell(i))
	}
	return texts
}

// filled returns the texts of a row of the head, where empty cells that are
// merged with cells above have the text from above. ok is false if there are
// none.
func (s *sheet) filled(i int, merged []workbook.Range) (texts []string, ok bool) {
	row := s.head[i].Number
	texts = headingTexts(&s.head[i])
	for _, m := range merged {
		if m.From.Row >= row || m.To.Row < row {
			continue
		}
		column := m.From.Column - 1
		if column < len(texts) && texts[column] != "" {
			continue
		}
		for k := range i {
			if s.head[k].Number != m.From.Row {
				continue
			}
			if text := headingText(s.head[k].Cell(column)); text != "" {
				for len(texts) <= column {
					texts = append(texts, "")
				}
				texts[column], ok = text, true
			}
		}
	}
	return texts, ok
}

// headings settles the heading row, and leaves in head the rows below it.
func (s *sheet) headings() error {
	at := s.first
	if s.accepts >= 0 {
		at = s.accepts
	}
	if s.o.HeadingRow > 0 {
		i, err := s.rowNumbered(s.o.HeadingRow)
		if err != nil {
			return err
		}
		at = i
	}
	if at < 0 {
		return fmt.Errorf("%w but for blank and comment rows on the sheet %q", ErrEmpty, s.t.Sheet)
	}
	if s.head[at].TooLong {
		return &rowError{s.head[at].Number, fmt.Errorf("the headings: %w", ErrLongRecord)}
	}
	texts := headingTexts(&s.head[at])
	// A title over several columns leaves an empty cell beside it.
	gap := slices.Contains(texts, "")
	if !gap && !s.end {
		if at == len(s.head)-1 {
			if _, err := s.more(); err != nil {
				return err
			}
		}
		gap = at+1 < len(s.head) && s.head[at+1].Len() > len(texts)
	}
	if gap {
		var err error
		if at, texts, err = s.twoRows(at, texts); err != nil {
			return err
		}
	}
	t := s.t
	t.Headings = trimHeadings(texts)
	if s.accepts == at && at > 0 && s.head[at-1].Number == s.head[at].Number-1 {
		if upper := headingTexts(&s.head[at-1]); !isCommentRow(upper) {
			t.Headings, t.Upper = padded(t.Headings, upper)
		}
	}
	t.HeadingRow = s.head[at].Number
	for i := range at {
		t.Preamble = append(t.Preamble, title(&s.head[i]))
		if r := &s.head[i]; r.Len() > 0 && strings.HasPrefix(headingText(r.Cell(0)), "#") {
			t.Comments = append(t.Comments, title(r))
		}
	}
	s.head = slices.Delete(s.head, 0, at+1)
	return nil
}

// rowNumbered reads up to a row and returns its index in head. Of the rows
// above, the last ones are kept.
func (s *sheet) rowNumbered(number int) (int, error) {
	for i := 0; ; i++ {
		if i == len(s.head) {
			if len(s.head) > headingRows {
				s.head = slices.Delete(s.head, 0, 1)
				i--
			}
			k, err := s.more()
			if err != nil {
				return 0, err
			}
			if k < 0 {
				return 0, fmt.Errorf("%w before the heading row %d", ErrEmpty, number)
			}
		}
		switch n := s.head[i].Number; {
		case n == number:
			return i, nil
		case n > number:
			return 0, fmt.Errorf("%w: row %d is blank and cannot be the heading row", ErrOption, number)
		}
	}
}

// twoRows settles headings that stand in several rows. Where cells of the row
// at the index are merged with cells below, the last of these rows holds the
// headings, with the texts from above in the merged columns; a title over
// several columns is none. Where cells are merged with cells above, they get
// the text from there.
func (s *sheet) twoRows(at int, texts []string) (int, []string, error) {
	merged, err := s.book.Ranges(s.number)
	if err != nil || len(merged) == 0 {
		return at, texts, bookError(err)
	}
	row := s.head[at].Number
	bottom := row
	for _, m := range merged {
		if m.From.Row == row && m.To.Row <= row+maxHeadingRows {
			bottom = max(bottom, m.To.Row)
		}
	}
	for i := at; bottom > row; i++ {
		if i == len(s.head) {
			if k, err := s.more(); err != nil || k < 0 {
				if err != nil {
					return 0, nil, err
				}
				break
			}
		}
		if s.head[i].Number > bottom {
			break
		}
		if s.head[i].Number == bottom {
			below, ok := s.filled(i, merged)
			if ok && !s.head[i].TooLong && (s.o.IsHeadings == nil || s.accepts < 0 || s.o.IsHeadings(below)) {
				return i, below, nil
			}
		}
	}
	if above, ok := s.filled(at, merged); ok {
		texts = above
	}
	return at, texts, nil
}

// maxHeadingRows is how far below its first row a heading may reach.
const maxHeadingRows = 4

// title is the text of a row above the headings.
func title(r *workbook.Row) string {
	var parts []string
	for i := range r.Len() {
		if text := headingText(r.Cell(i)); text != "" {
			parts = append(parts, text)
		}
	}
	return strings.TrimSpace(strings.TrimPrefix(strings.Join(parts, " "), "#"))
}

func (s *sheet) next(b *Batch) error {
	b.workbook = true
	for i := range s.head {
		s.add(b, &s.head[i])
	}
	s.head = nil
	for b.sheet.Size() < s.o.block && b.sheet.Rows < batchRows && !s.end {
		r, err := s.rows.Next()
		if err == io.EOF {
			s.end = true
			break
		}
		if err != nil {
			return s.at(err)
		}
		s.add(b, r)
	}
	if b.sheet.Rows == 0 {
		s.t.read.Store(s.t.Size)
		return io.EOF
	}
	return nil
}

func (s *sheet) add(b *Batch, r *workbook.Row) {
	if r.Hidden {
		if s.hidden == 0 {
			s.firstHidden = r.Number
		}
		s.hidden++
	}
	b.sheet.Add(r)
}

func (s *sheet) format() string { return fmt.Sprintf("workbook (.xlsx), sheet %q", s.t.Sheet) }

func (s *sheet) selectColumns([]int) {}

func (s *sheet) notes() []string {
	var notes []string
	note := func(format string, args ...any) { notes = append(notes, fmt.Sprintf(format, args...)) }
	if s.book.Sheets[s.number].Hidden {
		note("the sheet %q is hidden; it was read all the same", s.t.Sheet)
	}
	if columns := s.hiddenColumns(); len(columns) > 0 {
		note("hidden columns were read like the others: %s", strings.Join(columns, ", "))
	}
	if s.hidden > 0 {
		note("%s read like the others; the first is row %d", plural(s.hidden, "hidden row was", "hidden rows were"), s.firstHidden)
	}
	if s.book.Since1904 {
		note("the workbook counts days from 1904-01-01; a date in a cell that is not formatted as a date is off by four years and a day")
	}
	if n := s.rows.Unsaved; n.Count > 0 {
		note("%s no saved value, read as empty; the first is %s; open and save the workbook in a spreadsheet program",
			plural(n.Count, "formula cell holds", "formula cells hold"), s.place(n.First))
	}
	if n := s.rows.Errors; n.Count > 0 {
		note("%s an error such as #N/A, read as empty; the first is %s",
			plural(n.Count, "cell holds", "cells hold"), s.place(n.First))
	}
	var below int
	var first workbook.Range
	for _, m := range s.rows.Merged {
		if m.From.Row > s.t.HeadingRow && m.From.Column <= len(s.t.Headings) {
			if below == 0 {
				first = m
			}
			below++
		}
	}
	if below > 0 {
		note("%s several rows, and only the first of these rows has the text; the first is %s",
			plural(below, "merged cell spans", "merged cells span"), s.place(first.From))
	}
	return notes
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// hiddenColumns names the hidden columns that have a heading: "B", "D:F".
func (s *sheet) hiddenColumns() []string {
	hidden := make([]bool, len(s.t.Headings)+2) // from 1, with an end
	for _, r := range s.rows.HiddenColumns {
		for c := r.From.Column; c <= min(r.To.Column, len(s.t.Headings)); c++ {
			hidden[c] = s.t.Headings[c-1] != ""
		}
	}
	var list []string
	from := 0
	for c, h := range hidden {
		switch {
		case h && from == 0:
			from = c
		case !h && from == c-1 && from > 0:
			list, from = append(list, workbook.ColumnName(from)), 0
		case !h && from > 0:
			list, from = append(list, workbook.ColumnName(from)+":"+workbook.ColumnName(c-1)), 0
		}
	}
	return list
}

func (s *sheet) place(p workbook.Place) string { return CellName(s.t.Sheet, p.Row, p.Column-1) }

// CellName names a cell of a workbook's sheet as a spreadsheet does: "Sheet1!C17".
// The row is numbered from 1 as in Record, the column from 0 as in Headings. Without a
// sheet, as of other kinds of table, and for places no sheet has, it is empty.
func CellName(name string, row, column int) string {
	if name == "" || row < 1 || column < 0 {
		return ""
	}
	if !simpleName(name) {
		name = "'" + strings.ReplaceAll(name, "'", "''") + "'"
	}
	return name + "!" + workbook.ColumnName(column+1) + strconv.Itoa(row)
}

// simpleName reports whether a sheet's name needs no quotation marks: letters,
// digits and underscores, and not taken for a cell or a number.
func simpleName(name string) bool {
	letters := 0
	for i, c := range name {
		letter := 'A' <= c && c <= 'Z' || 'a' <= c && c <= 'z' || c == '_' || c > 127
		if !letter && (i == 0 || c < '0' || c > '9') {
			return false
		}
		if letter {
			letters++
		}
	}
	return letters > 3 || letters == len(name) && letters > 1
}

// bookError turns an error of the workbook reader into one of this package.
func bookError(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, workbook.ErrDamaged):
		return fmt.Errorf("%w (%s)", ErrCorrupt, strings.TrimPrefix(err.Error(), workbook.ErrDamaged.Error()+": "))
	case errors.Is(err, workbook.ErrBinary):
		return fmt.Errorf("%w: this is a binary workbook (.xlsb); %s", ErrWorkbook, saveAs)
	case errors.Is(err, workbook.ErrForeign):
		return fmt.Errorf("%w: take the table out of this zip archive first", ErrCompressed)
	}
	return err
}

// saveAs says what to do with a workbook of another kind.
const saveAs = "open it in a spreadsheet program and save it as .xlsx or the sheet as CSV (UTF-8)"
