// Package tidy writes tables of one number a row, as CSV and JSON from the same rows.
package tidy

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/text"
)

// Row is one row: named values, in the order of its columns.
type Row []field

type field struct {
	name string
	text string
	kind kind
	list []string
}

type kind uint8

const (
	words kind = iota
	number
	notes
)

// Text adds a text; the empty one is not defined: an empty cell, null.
func (r Row) Text(name, s string) Row { return append(r, field{name: name, text: s}) }

// Number adds a number, in the shortest form that reads back to it; NaN and infinities
// are not defined.
func (r Row) Number(name string, x float64) Row {
	return append(r, field{name: name, text: audit.Number(x), kind: number})
}

// Count adds a count; 0 is not defined.
func (r Row) Count(name string, n int) Row {
	f := field{name: name, kind: number}
	if n > 0 {
		f.text = strconv.Itoa(n)
	}
	return append(r, f)
}

// Notes adds codes: joined by "; " in a cell, a list in JSON.
func (r Row) Notes(name string, codes []string) Row {
	return append(r, field{name: name, list: codes, kind: notes})
}

// Columns are the names of a row's values.
func (r Row) Columns() []string {
	var names []string
	for _, f := range r {
		names = append(names, f.name)
	}
	return names
}

// WriteCSV writes rows, of which all have the columns of the first given: UTF-8 with LF
// line ends. A text that a spreadsheet would take for a formula gets a leading apostrophe.
func WriteCSV(w io.Writer, columns []string, rows []Row) error {
	out := csv.NewWriter(w)
	if err := out.Write(columns); err != nil {
		return err
	}
	for _, r := range rows {
		var cells []string
		for _, f := range r {
			switch f.kind {
			case number:
				cells = append(cells, f.text)
			case notes:
				cells = append(cells, text.Protect(strings.Join(f.list, "; ")))
			default:
				cells = append(cells, text.Protect(f.text))
			}
		}
		if err := out.Write(cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// MarshalJSON writes an object with the columns as names, in their order. What is not
// defined is null.
func (r Row) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, f := range r {
		if i > 0 {
			b.WriteByte(',')
		}
		value := any(f.text)
		switch {
		case f.kind == notes:
			value = append([]string{}, f.list...)
		case f.text == "":
			value = nil
		case f.kind == number:
			value = json.RawMessage(f.text)
		}
		for j, x := range []any{f.name, value} {
			if j > 0 {
				b.WriteByte(':')
			}
			if err := encoder(&b).Encode(x); err != nil {
				return nil, err
			}
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// WriteJSON writes a value with its rows, indented.
func WriteJSON(w io.Writer, value any) error {
	e := encoder(w)
	e.SetIndent("", " ")
	return e.Encode(value)
}

func encoder(w io.Writer) *json.Encoder {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e
}
