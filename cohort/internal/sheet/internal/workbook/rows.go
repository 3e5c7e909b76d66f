package workbook

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
)

// Place is a cell: row and column, both from 1. The zero Place is none.
type Place struct{ Row, Column int }

// Tally counts cells of one sort and names the first.
type Tally struct {
	Count int
	First Place
}

func (t *Tally) add(row, column int) {
	if t.Count == 0 {
		t.First = Place{row, column}
	}
	t.Count++
}

// Range is a merged range of cells.
type Range struct{ From, To Place }

// Rows streams one sheet.
type Rows struct {
	Unsaved       Tally   // formula cells without a saved value
	Errors        Tally   // cells that hold an error value
	HiddenColumns []Range // columns that are hidden, without rows
	Merged        []Range // those of several rows; known at the end
	limit         int     // bytes of text in a row

	b    *Book
	s    *scanner
	row  Row
	last int // number of the row read last
	end  bool

	// the cell that is being read
	column  int
	kind    string
	format  int
	formula bool
	stored  bool // it has a value, be it empty
	value   []byte
}

// Rows starts reading a sheet. Rows whose texts together exceed limit bytes
// are handed out without cells.
func (b *Book) Rows(sheet, limit int) (*Rows, error) {
	s, err := b.scan(b.Sheets[sheet].part)
	if err != nil {
		return nil, err
	}
	return &Rows{b: b, s: s, limit: limit}, nil
}

// Close ends reading.
func (r *Rows) Close() { r.s.close() }

// Last is the number of the row read last, where an error stands.
func (r *Rows) Last() int { return r.last }

// Next returns the next row that is not wholly blank, and io.EOF at the end. It
// is valid until the next call. A cell with an error or with a formula without
// a saved value has no text, but its row does not count as blank.
func (r *Rows) Next() (*Row, error) {
	for !r.end {
		t, err := r.s.next()
		if err == io.EOF {
			r.end = true
			break
		}
		if err != nil {
			return nil, err
		}
		e, ok := t.(xml.StartElement)
		if !ok {
			continue
		}
		switch n := len(r.s.path); {
		case n == 1 && e.Name.Local != "worksheet":
			return nil, fmt.Errorf("%w: a sheet is no sheet", ErrDamaged)
		case e.Name.Local == "row" && r.s.at("worksheet", "sheetData", "row"):
			content, err := r.readRow(e)
			if err != nil {
				return nil, err
			}
			if content {
				return &r.row, nil
			}
		case e.Name.Local == "col" && r.s.at("worksheet", "cols", "col"):
			r.hiddenColumn(e)
		case e.Name.Local == "mergeCell" && r.s.at("worksheet", "mergeCells", "mergeCell"):
			if m, ok := parseRange(attribute(e, "ref")); ok && m.To.Row > m.From.Row && len(r.Merged) < maxMerged {
				r.Merged = append(r.Merged, m)
			}
		}
	}
	return nil, io.EOF
}

func (r *Rows) hiddenColumn(e xml.StartElement) {
	from, err1 := strconv.Atoi(attribute(e, "min"))
	to, err2 := strconv.Atoi(attribute(e, "max"))
	if truth(attribute(e, "hidden")) && err1 == nil && err2 == nil && 1 <= from && from <= to && len(r.HiddenColumns) < maxColumns {
		r.HiddenColumns = append(r.HiddenColumns, Range{Place{0, from}, Place{0, min(to, maxColumns)}})
	}
}

// readRow reads the cells of a row up to its end, and reports whether any
// holds something.
func (r *Rows) readRow(e xml.StartElement) (content bool, err error) {
	number := r.last + 1
	r.row.Hidden, r.row.TooLong = false, false
	for _, a := range e.Attr {
		switch a.Name.Local {
		case "r":
			if number, err = strconv.Atoi(a.Value); err != nil || number <= r.last {
				return false, fmt.Errorf("%w: its rows are not in order", ErrDamaged)
			}
		case "hidden":
			r.row.Hidden = truth(a.Value)
		}
	}
	if number > maxRows {
		return false, fmt.Errorf("%w: it has more than %d rows", ErrTooLarge, maxRows)
	}
	r.last = number
	r.row.Number = number
	r.row.text, r.row.ends = r.row.text[:0], r.row.ends[:0]
	r.column = 0
	depth := len(r.s.path)
	for {
		t, err := r.s.next()
		if err != nil {
			return false, err
		}
		switch t := t.(type) {
		case xml.StartElement:
			if t.Name.Local != "c" || len(r.s.path) != depth+1 {
				continue
			}
			if err := r.startCell(t); err != nil {
				return false, err
			}
			if err := r.readCell(depth + 1); err != nil {
				return false, err
			}
			cell, err := r.endCell()
			if err != nil {
				return false, err
			}
			content = content || cell
		case xml.EndElement:
			if len(r.s.path) < depth {
				if r.row.TooLong {
					r.row.text, r.row.ends = r.row.text[:0], r.row.ends[:0]
				}
				return content, nil
			}
		}
	}
}

func (r *Rows) startCell(e xml.StartElement) error {
	r.column++
	r.kind, r.format, r.formula, r.stored, r.value = "", 0, false, false, r.value[:0]
	for _, a := range e.Attr {
		switch a.Name.Local {
		case "r":
			p, ok := parsePlace(a.Value)
			if !ok || p.Row != r.last || p.Column < r.column {
				return fmt.Errorf("%w: its cells are not in order", ErrDamaged)
			}
			r.column = p.Column
		case "s":
			r.format, _ = strconv.Atoi(a.Value)
		case "t":
			r.kind = a.Value
		}
	}
	if r.column > maxColumns {
		return fmt.Errorf("%w: it has more than %d columns", ErrTooLarge, maxColumns)
	}
	return nil
}

// readCell collects the stored value up to the end of the cell.
func (r *Rows) readCell(depth int) error {
	for {
		t, err := r.s.next()
		if err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.StartElement:
			if len(r.s.path) != depth+1 {
				continue
			}
			switch t.Name.Local {
			case "v", "is":
				r.stored = true
			case "f":
				r.formula = true
			}
		case xml.CharData:
			top := r.s.top()
			if top == "v" && len(r.s.path) == depth+1 ||
				top == "t" && r.s.path[depth] == "is" && !r.s.aid() {
				if len(r.value)+len(t) > maxToken {
					return fmt.Errorf("%w: a text in it is longer than 1 MiB", ErrTooLarge)
				}
				r.value = append(r.value, t...)
			}
		case xml.EndElement:
			if len(r.s.path) < depth {
				return nil
			}
		}
	}
}

// endCell appends the text of the cell to the row, and reports whether the
// cell holds something.
func (r *Rows) endCell() (content bool, err error) {
	text := &r.row.text
	from := len(*text)
	v := r.value
	switch {
	case r.kind == "e":
		r.Errors.add(r.last, r.column)
		content = true
	case r.formula && (!r.stored || len(v) == 0 && r.kind != "str"):
		r.Unsaved.add(r.last, r.column)
		content = true
	case r.kind == "s":
		if len(v) == 0 {
			break
		}
		i, err := strconv.Atoi(string(bytes.TrimSpace(v)))
		shared, ok := r.b.shared.get(i)
		if err != nil || !ok {
			return false, fmt.Errorf("%w: a cell refers to a text that is not there", ErrDamaged)
		}
		*text = append(*text, shared...)
	case r.kind == "str", r.kind == "inlineStr":
		*text = unescape(append(*text, v...), from)
	case r.kind == "b":
		switch string(bytes.TrimSpace(v)) {
		case "1", "true":
			*text = append(*text, "yes"...)
		case "0", "false":
			*text = append(*text, "no"...)
		default:
			*text = append(*text, v...)
		}
	case r.kind == "d":
		v = bytes.TrimSpace(v)
		if k := bytes.IndexByte(v, 'T'); k >= 0 {
			v = v[:k]
		}
		*text = append(*text, v...)
	default:
		if v = bytes.TrimSpace(v); len(v) == 0 {
			break
		}
		if r.b.date(r.format) {
			*text = appendDay(*text, v, r.b.Since1904)
		} else {
			*text = appendNumber(*text, v)
		}
	}
	if len(*text) == from {
		return content, nil
	}
	if r.row.TooLong || len(*text) > r.limit {
		r.row.TooLong = true
		*text = (*text)[:0]
		return true, nil
	}
	for len(r.row.ends) < r.column-1 {
		r.row.ends = append(r.row.ends, from)
	}
	r.row.ends = append(r.row.ends, len(*text))
	return content || len(bytes.TrimSpace((*text)[from:])) > 0, nil
}

// parsePlace reads a cell's name such as "C17".
func parsePlace(s string) (Place, bool) {
	var p Place
	i := 0
	for ; i < len(s) && i < 4; i++ {
		c := s[i] &^ 0x20
		if c < 'A' || c > 'Z' {
			break
		}
		p.Column = p.Column*26 + int(c-'A') + 1
	}
	digits := i
	for ; i < len(s) && i < digits+8; i++ {
		if s[i] < '0' || s[i] > '9' {
			return Place{}, false
		}
		p.Row = p.Row*10 + int(s[i]-'0')
	}
	return p, i == len(s) && p.Column > 0 && p.Row > 0
}

func parseRange(s string) (Range, bool) {
	for i := range len(s) {
		if s[i] == ':' {
			from, ok1 := parsePlace(s[:i])
			to, ok2 := parsePlace(s[i+1:])
			return Range{from, to}, ok1 && ok2
		}
	}
	p, ok := parsePlace(s)
	return Range{p, p}, ok
}

// ColumnName is a column's name, from 1: "A", "Z", "AA".
func ColumnName(column int) string {
	var name []byte
	for ; column > 0; column = (column - 1) / 26 {
		name = append([]byte{byte('A' + (column-1)%26)}, name...)
	}
	return string(name)
}
