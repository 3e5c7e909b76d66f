package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
)

// text is a table of separated text.
type text struct {
	decoder decoder
	style   style
	block   int
	drop    int // bytes of text still to be passed over: what stands above the data
	carry   []byte
	line    int // physical line at the start of carry
	end     error
	unended bool // nothing ends the last line
	marked  bool // see Options
	remarks []string
}

func (t *Table) openText(head []byte, whole bool, r io.Reader, o Options) error {
	c, skip, err := findEncoding(head, o.Encoding)
	if err != nil {
		return err
	}
	head = head[skip:]
	probe := newDecoder(c, io.MultiReader(bytes.NewReader(head), stop{whole}))
	start, err := probe.append(nil, len(head)+1)
	if err != nil && err != io.EOF && err != errStop {
		if errors.Is(err, ErrBinary) || errors.Is(err, ErrEncoding) {
			err = &rowError{1 + bytes.Count(start, newline), err}
		}
		return err
	}
	crOnly := bytes.IndexByte(start, '\n') < 0 && bytes.IndexByte(start, '\r') >= 0
	if crOnly {
		start = bytes.ReplaceAll(start, []byte{'\r'}, newline)
	}
	l, err := findLayout(start, whole, o)
	if err != nil {
		return err
	}
	t.Headings, t.Upper, t.HeadingRow, t.Preamble, t.Comments = l.headings, l.upper, l.row, l.preamble, l.comments

	s := &text{style: l.style, block: o.block, drop: l.offset, line: l.line, marked: o.marked}
	// The head is decoded a second time, as part of the whole.
	s.decoder = newDecoder(c, &counted{io.MultiReader(bytes.NewReader(head), r), t})
	s.decoder.crOnly = crOnly
	t.read.Store(int64(skip))
	if crOnly {
		s.remarks = append(s.remarks, "lines end with CR alone")
	}
	t.src = s
	return nil
}

// stop ends the head of a file: with io.EOF if it is all of it, else with
// errStop, so that a character cut off at its end is not taken for damage.
type stop struct{ whole bool }

var errStop = errors.New("end of the head")

func (s stop) Read([]byte) (int, error) {
	if s.whole {
		return 0, io.EOF
	}
	return 0, errStop
}

// counted counts the bytes read for Table.Read.
type counted struct {
	r io.Reader
	t *Table
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.t.read.Add(int64(n))
	return n, err
}

// fill appends one more block of text to data, without what stands above the
// data rows.
func (s *text) fill(data []byte) []byte {
	from := len(data)
	data, s.end = s.decoder.append(data, s.block)
	if s.drop > 0 {
		k := min(s.drop, len(data)-from)
		s.drop -= k
		data = append(data[:from], data[from+k:]...)
	}
	return data
}

func (s *text) next(b *Batch) error {
	b.style = &s.style
	data := append(b.data, s.carry...)
	s.carry = s.carry[:0]
	if len(data) <= s.style.limit && s.end == nil {
		data = s.fill(data)
	}
	for {
		if s.end != nil && s.end != io.EOF {
			// Rows before the damage are not handed out: the table is refused.
			return s.fail(data)
		}
		end, v := s.style.lastEnd(data, s.end == io.EOF)
		switch {
		case end > 0:
			s.carry = append(s.carry, data[end:]...)
			b.data = data[:end]
			s.unended = end == len(data) && data[end-1] != '\n'
			b.line = s.line
			b.quotes = s.marked || bytes.IndexByte(b.data, '"') >= 0
			s.line += bytes.Count(b.data, newline)
			return nil
		case v == tooLong:
			return s.passOver(b, data)
		case s.end != nil:
			return io.EOF
		}
		data = s.fill(data)
	}
}

// passOver makes a batch of the one record that is too long, which starts
// data, and drops its text: up to the first line end beyond the limit.
func (s *text) passOver(b *Batch, data []byte) error {
	b.line, b.broken = s.line, ErrLongRecord
	from := s.style.limit
	for {
		k := bytes.IndexByte(data[from:], '\n')
		if k >= 0 {
			b.lines += bytes.Count(data[:from+k+1], newline)
			s.carry = append(s.carry, data[from+k+1:]...)
			break
		}
		b.lines += bytes.Count(data, newline)
		if s.end != nil {
			b.lines++
			break
		}
		data, from = s.fill(data[:0]), 0
		if s.end != nil && s.end != io.EOF {
			s.line += b.lines
			return s.fail(data)
		}
	}
	s.line += b.lines
	b.data = data[:0]
	return nil
}

// fail names the line at which decoding stopped: data is the text before it.
func (s *text) fail(data []byte) error {
	if errors.Is(s.end, ErrBinary) || errors.Is(s.end, ErrEncoding) {
		return &rowError{s.line + bytes.Count(data, newline), s.end}
	}
	return cause(s.end)
}

func (s *text) format() string {
	kind := "text"
	if s.style.delim == ',' {
		kind = "CSV"
	}
	return fmt.Sprintf("%s, %s-separated, %s", kind, delimiterWord(s.style.delim), s.decoder.label)
}

func (s *text) notes() []string {
	notes := s.remarks
	if s.decoder.switched {
		notes = append(notes[:len(notes):len(notes)], "the file is not UTF-8 and was read as Windows-1252")
	}
	if s.unended {
		notes = append(notes[:len(notes):len(notes)], "the last line has no end, as some programs write it; if the file was cut off, rows are missing")
	}
	return notes
}

func (s *text) selectColumns([]int) {}
