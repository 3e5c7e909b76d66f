package sheet

import (
	"bytes"
	"encoding/binary"
	"math/bits"
	"slices"
	"unicode/utf8"
)

// style is how records are written in one text table.
type style struct {
	delim   byte
	columns int // number of headings: empty cells beyond are dropped
	limit   int // longest record in bytes, with its line end
}

// verdict is what became of the search for a record's end.
type verdict int

const (
	complete verdict = iota // the record ends at the position given
	more                    // the data end before the record; there is more to read
	unclosed                // a quoted cell does not end: the record is the first line, to the position given
	tooLong                 // the record is longer than the limit
)

// window clips data to what one record may take up; cut says that something
// was clipped. The rule for the limit looks at the record alone, never at how
// the text came in blocks: a record of exactly the limit is allowed.
func (s *style) window(data []byte) (w []byte, cut bool) {
	if len(data) > s.limit {
		return data[:s.limit], true
	}
	return data, false
}

// end finds the end of the record that starts at data[0]. eof says that
// nothing follows data. It agrees with parse on every input.
func (s *style) end(data []byte, eof bool) (int, verdict) {
	w, cut := s.window(data)
	final := cut || eof
	i := 0
	for {
		if i < len(w) && w[i] == '"' {
			open := i
			var ok bool
			if i, ok = closing(w, open); !ok {
				if !final {
					return 0, more
				}
				return s.firstLine(w, cut)
			}
			if i+1 >= len(w) && !final {
				return 0, more // what follows the mark decides
			}
			if s.junk(w[i:]) && bytes.IndexByte(w[open:i], '\n') >= 0 {
				return s.firstLine(w, cut)
			}
		}
		for i < len(w) && w[i] != s.delim && w[i] != '\n' {
			i++
		}
		switch {
		case i < len(w) && w[i] == '\n':
			return i + 1, complete
		case i < len(w):
			i++
		case cut:
			return 0, tooLong
		case eof:
			return len(w), complete
		default:
			return 0, more
		}
	}
}

// closing returns the position after the mark that closes the quoted cell
// opened at w[open].
func closing(w []byte, open int) (after int, ok bool) {
	i := open + 1
	for {
		// Most quoted cells are short.
		for n := min(len(w), i+16); i < n && w[i] != '"'; {
			i++
		}
		if i == len(w) {
			return 0, false
		}
		if w[i] != '"' {
			k := bytes.IndexByte(w[i:], '"')
			if k < 0 {
				return 0, false
			}
			i += k
		}
		i++
		if i == len(w) || w[i] != '"' {
			return i, true
		}
		i++
	}
}

// junk reports whether rest, what follows a closing mark, is neither a
// separator nor the end of the record.
func (s *style) junk(rest []byte) bool {
	switch {
	case len(rest) == 0, rest[0] == s.delim, rest[0] == '\n':
		return false
	case rest[0] == '\r':
		return len(rest) > 1 && rest[1] != '\n'
	}
	return true
}

// firstLine gives up on a quoted cell: the record is the first physical line.
func (s *style) firstLine(w []byte, cut bool) (int, verdict) {
	if k := bytes.IndexByte(w, '\n'); k >= 0 {
		return k + 1, unclosed
	}
	if cut {
		return 0, tooLong
	}
	return len(w), unclosed
}

// lastEndFast is lastEnd for text whose quotation marks are all in order: each
// quoted cell ends, and a separator or line end follows it. It looks at the
// marks and their neighbours alone. ok is false where that does not settle the
// matter; data must not be longer than the limit.
func (s *style) lastEndFast(data []byte) (end int, ok bool) {
	const pattern = ones * uint64('"')
	open := false
	skip := -1  // a mark already looked at
	closed := 0 // after the last quoted cell
	i := 0
	for i < len(data) {
		var m uint64
		if i+every <= len(data) {
			x := binary.LittleEndian.Uint64(data[i:]) ^ pattern
			m = ^(((x & lows) + lows) | x | lows)
		} else {
			for j, c := range data[i:] {
				if c == '"' {
					m |= 0x80 << (every * j)
				}
			}
		}
		for ; m != 0; m &= m - 1 {
			j := i + bits.TrailingZeros64(m)/every
			switch {
			case j == skip:
			case open:
				if j+1 == len(data) {
					return end, end > 0 // whether it closes is not known yet
				}
				if data[j+1] == '"' {
					skip = j + 1
					continue
				}
				if s.junk(data[j+1:]) {
					return 0, false
				}
				open, closed = false, j+1
			case j == 0 || data[j-1] == s.delim || data[j-1] == '\n':
				open = true
				if k := bytes.LastIndexByte(data[closed:j], '\n'); k >= 0 {
					end = closed + k + 1
				}
			}
		}
		i += every
	}
	if !open {
		if k := bytes.LastIndexByte(data[closed:], '\n'); k >= 0 {
			end = closed + k + 1
		}
	}
	return end, end > 0
}

// lastEnd returns the length of the whole records at the start of data, and
// why they end there: more, tooLong (the next record), or complete if data end
// with a whole record.
func (s *style) lastEnd(data []byte, eof bool) (int, verdict) {
	pos := 0
	if len(data) <= s.limit && !eof && bytes.IndexByte(data, '"') >= 0 {
		if end, ok := s.lastEndFast(data); ok {
			return end, more
		}
	}
	for pos < len(data) {
		quote := bytes.IndexByte(data[pos:], '"')
		plain := len(data) // lines up to here have no mark
		if quote >= 0 {
			plain = pos + bytes.LastIndexByte(data[pos:pos+quote], '\n') + 1
		}
		for pos < plain {
			w, cut := s.window(data[pos:plain])
			k := bytes.LastIndexByte(w, '\n')
			switch {
			case k >= 0:
				pos += k + 1
			case cut:
				return pos, tooLong
			case eof:
				pos = plain
			default:
				return pos, more
			}
		}
		if quote < 0 {
			break
		}
		end, v := s.end(data[pos:], eof)
		if v == more || v == tooLong {
			return pos, v
		}
		pos += end
	}
	return pos, complete
}

const (
	ones  = 0x0101010101010101
	lows  = 0x7f7f7f7f7f7f7f7f
	every = 8
)

// split appends the cells of a line without quotation marks and without its
// line end to cells. It looks at eight bytes at a time: a byte of x is zero
// where line holds the separator, and the top bit of the same byte of m is
// then set.
func (s *style) split(line []byte, cells [][]byte) [][]byte {
	pattern := ones * uint64(s.delim)
	start, i := 0, 0
	for ; i+every <= len(line); i += every {
		x := binary.LittleEndian.Uint64(line[i:]) ^ pattern
		m := ^(((x & lows) + lows) | x | lows)
		for m != 0 {
			j := i + bits.TrailingZeros64(m)/every
			cells = append(cells, line[start:j])
			start = j + 1
			m &= m - 1
		}
	}
	for ; i < len(line); i++ {
		if line[i] == s.delim {
			cells = append(cells, line[start:i])
			start = i + 1
		}
	}
	return append(cells, line[start:])
}

// plainRows yields the records of a batch without quotation marks. It looks for
// separators and line ends alike, a strip at a time.
func (b *Batch) plainRows(yield func(*Record) bool) {
	data, row := b.data, b.line
	b.record = Record{Lines: 1, text: data}
	first, n := 0, 1 // the bounds of the row in hand begin at the first, and n are known
	b.bounds = append(b.bounds[:0], -1)
	for i := 0; i < len(data); i += strip {
		if n+len(places{}) > len(b.bounds) {
			n = copy(b.bounds, b.bounds[first:n])
			first = 0
			b.bounds = slices.Grow(b.bounds[:n], max(mostBounds, n)+len(places{}))
			b.bounds = b.bounds[:cap(b.bounds)]
		}
		marks, lines := marksAt(data, i, b.style.delim)
		place((*places)(b.bounds[n:]), i, marks)
		for ; lines != 0; lines &= lines - 1 {
			end := n + bits.OnesCount64(marks&(lines&-lines-1))
			if !b.plainRow(row, b.bounds[first:end+1], yield) {
				return
			}
			row++
			first = end
		}
		n += bits.OnesCount64(marks)
	}
	if b.bounds[first]+1 < int32(len(data)) || n > first+1 {
		b.bounds = append(b.bounds[:n], int32(len(data)))
		b.plainRow(row, b.bounds[first:], yield)
	}
}

// mostBounds is how many bounds are kept if a row has no more: few, so that they stay near
// the processor.
const mostBounds = 1024

// marksAt is the marks of the strip that begins at i, the rest of the data if that is less.
func marksAt(data []byte, i int, delim byte) (marks, lines uint64) {
	if rest := data[i:]; len(rest) >= strip {
		return marksIn((*[strip]byte)(rest), delim)
	}
	var last [strip]byte // no separator is 0
	copy(last[:], data[i:])
	return marksIn(&last, delim)
}

// plainRow yields the record within some bounds, unless it is empty. The last is moved while
// that is done if a carriage return is before it.
func (b *Batch) plainRow(row int, bounds []int32, yield func(*Record) bool) (more bool) {
	r, last := &b.record, len(bounds)-1
	r.Row, r.bounds = row, bounds
	end := bounds[last]
	if bounds[last-1]+1 < end && b.data[end-1] == '\r' {
		bounds[last]--
	}
	if more = true; b.usual(bounds) || r.holds(b.style.columns) {
		more = yield(r)
	}
	bounds[last] = end
	return more
}

// usual says of a row that its first cell holds something, as of most, and that it has no
// cell too many.
func (b *Batch) usual(bounds []int32) bool {
	if from := bounds[0] + 1; from < bounds[1] && len(bounds)-1 <= b.style.columns {
		c := b.data[from]
		return c > ' ' && c < utf8.RuneSelf
	}
	return false
}

// quotedRows yields the records of a batch with quotation marks.
func (b *Batch) quotedRows(yield func(*Record) bool) {
	data, row := b.data, b.line
	r := &b.record
	mark := bytes.IndexByte(data, '"') // the next mark, from the start of data; len(data) if none
	if mark < 0 {
		mark = len(data)
	}
	for len(data) > 0 {
		end := bytes.IndexByte(data, '\n') + 1
		if end == 0 {
			end = len(data)
		}
		v, lines := complete, 1
		if mark >= end {
			b.cells = b.style.split(trimCR(bytes.TrimSuffix(data[:end], newline)), b.cells[:0])
		} else {
			if end, v = b.parse(data, true); end == 0 {
				panic("sheet: a batch holds part of a record")
			}
			lines = lineCount(data[:end])
		}
		if v == unclosed {
			*r = Record{Row: row, Lines: 1, Err: ErrQuote}
			if !yield(r) {
				return
			}
		} else {
			r.Row, r.Lines, r.cells, r.Err = row, lines, b.cells, nil
			if r.holds(b.style.columns) && !yield(r) {
				return
			}
		}
		row += lines
		data = data[end:]
		if mark -= end; mark < 0 {
			if mark = bytes.IndexByte(data, '"'); mark < 0 {
				mark = len(data)
			}
		}
	}
}

var newline = []byte{'\n'}

// lineCount is the number of physical lines in a record.
func lineCount(record []byte) int {
	n := bytes.Count(record, newline)
	if len(record) == 0 || record[len(record)-1] != '\n' {
		n++
	}
	return n
}

func trimCR(line []byte) []byte {
	if n := len(line); n > 0 && line[n-1] == '\r' {
		return line[:n-1]
	}
	return line
}

// parse splits the record at the start of data into b.cells and returns its
// end as style.end does. Cells with doubled marks, or with text after the
// closing mark, are put together in b.scratch; all others are parts of data.
func (b *Batch) parse(data []byte, eof bool) (int, verdict) {
	s := b.style
	w, cut := s.window(data)
	final := cut || eof
	b.cells, b.scratch = b.cells[:0], b.scratch[:0]
	i := 0
	for {
		start := i
		quoted := i < len(w) && w[i] == '"'
		if quoted {
			var ok bool
			if i, ok = closing(w, start); !ok {
				if !final {
					return 0, more
				}
				return s.firstLine(w, cut)
			}
			if i+1 >= len(w) && !final {
				return 0, more
			}
			if s.junk(w[i:]) && bytes.IndexByte(w[start:i], '\n') >= 0 {
				return s.firstLine(w, cut)
			}
		}
		after := i // end of the quoted part
		for i < len(w) && w[i] != s.delim && w[i] != '\n' {
			i++
		}
		cell := w[start:i]
		if i == len(w) || w[i] == '\n' {
			cell = trimCR(cell)
		}
		if quoted {
			cell = b.unquote(cell[1:after-start-1], cell[after-start:])
		}
		b.cells = append(b.cells, cell)
		switch {
		case i < len(w) && w[i] == '\n':
			return i + 1, complete
		case i < len(w):
			i++
		case cut:
			return 0, tooLong
		case eof:
			return len(w), complete
		default:
			return 0, more
		}
	}
}

// unquote undoes the doubling of marks in the quoted part of a cell and adds
// what was typed after the closing mark.
func (b *Batch) unquote(inner, rest []byte) []byte {
	k := bytes.IndexByte(inner, '"')
	if k < 0 && len(rest) == 0 {
		return inner
	}
	from := len(b.scratch)
	for k >= 0 {
		b.scratch = append(b.scratch, inner[:k+1]...)
		inner = inner[k+2:]
		k = bytes.IndexByte(inner, '"')
	}
	b.scratch = append(append(b.scratch, inner...), rest...)
	return b.scratch[from:]
}

// holds says whether any cell holds more than space, and drops empty cells beyond
// the last heading.
func (r *Record) holds(columns int) bool {
	n := r.Len()
	k := 0
	for k < n && blank(r.Cell(k)) {
		k++
	}
	if k == n {
		return false
	}
	for n > columns && len(r.Cell(n-1)) == 0 {
		n--
	}
	if r.bounds != nil {
		r.bounds = r.bounds[:n+1]
	} else {
		r.cells = r.cells[:n]
	}
	return true
}

func blank(cell []byte) bool {
	for _, c := range cell {
		if c != ' ' && c != '\t' && c != '\r' && c != '\n' {
			return len(cell) > 1 && len(bytes.TrimSpace(cell)) == 0 // a space outside ASCII
		}
	}
	return true
}
