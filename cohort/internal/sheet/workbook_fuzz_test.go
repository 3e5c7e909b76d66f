package sheet_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"testing"
	"time"
	"unicode/utf8"

	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/testtable"
)

// FuzzWorkbook puts any text in the place of one part of a workbook, or
// damages the archive itself, and checks that the result is refused with one
// of the errors meant for it or read in order: row numbers rise, cells are
// valid UTF-8, a record names a row the format has, and a second reading
// through a pipe gives the same.
func FuzzWorkbook(f *testing.F) {
	plain := book(f, testtable.Workbook{Sheets: []testtable.Sheet{
		{Name: "Joints", Merged: []string{"A1:A2", "B1:C1", "A4:A5"}, HiddenColumns: []string{"B"}, HiddenRows: []int{3}, Rows: [][]any{
			{"operation_date", "components", nil}, {nil, "joint", "liner"},
			{testtable.Day("2019-04-03"), testtable.Rich{"h", "ip"}, true}, {testtable.Fault("#N/A"), 1.5, testtable.Formula{Text: "A9"}},
			{testtable.Formula{Text: "A3", Value: testtable.Day("2019-04-03")}, testtable.Raw(`t="inlineStr"><is><r><t>a_x000A_</t></r></is>`)},
		}},
		{Name: "Other", Hidden: true, Rows: [][]any{{"x"}}},
	}})
	parts := []string{"xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/styles.xml", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "_rels/.rels"}
	for i, part := range parts {
		testtable.Rewrite(plain, func(name string, content []byte) []byte {
			if name == part {
				f.Add(uint8(i), content, uint16(0), uint8(0))
			}
			return content
		})
	}
	for at := 0; at < len(plain); at += len(plain) / 40 {
		f.Add(uint8(255), []byte{}, uint16(at), uint8(0x10))
	}
	f.Fuzz(func(t *testing.T, part uint8, content []byte, at uint16, flip uint8) {
		data := bytes.Clone(plain)
		if int(part) < len(parts) {
			var err error
			if data, err = testtable.Rewrite(plain, func(name string, old []byte) []byte {
				if name == parts[part] {
					return content
				}
				return old
			}); err != nil {
				t.Fatal(err)
			}
		}
		if int(at) < len(data) {
			data[at] ^= flip
		}
		start := time.Now()
		first, err := readBook(t, bytes.NewReader(data))
		if took := time.Since(start); took > 10*time.Second {
			t.Fatalf("took %v", took)
		}
		second, again := readBook(t, onlyReader{bytes.NewReader(data)})
		if fmt.Sprint(first, err) != fmt.Sprint(second, again) {
			t.Fatalf("read as a file: %v, %v; through a pipe: %v, %v", first, err, second, again)
		}
	})
}

func readBook(t *testing.T, r io.Reader) ([]row, error) {
	table, err := sheet.Open(context.Background(), "t.xlsx", r, sheet.Options{IsHeadings: wanted})
	var rows []row
	if err == nil {
		defer table.Close()
		rows, err = collect(table)
		table.Notes()
	}
	if err != nil {
		var e *sheet.Error
		if !errors.As(err, &e) {
			t.Fatalf("error without a file: %v", err)
		}
		for _, allowed := range []error{sheet.ErrCorrupt, sheet.ErrTooLarge, sheet.ErrSheet, sheet.ErrEmpty, sheet.ErrPassword, sheet.ErrWorkbook, sheet.ErrCompressed, sheet.ErrLongRecord} {
			if errors.Is(err, allowed) {
				return rows, err
			}
		}
		// The first bytes of the archive decide what it is taken for.
		if errors.Is(err, sheet.ErrBinary) || errors.Is(err, sheet.ErrEncoding) || errors.Is(err, sheet.ErrQuote) || errors.Is(err, sheet.ErrUnsupported) || errors.Is(err, sheet.ErrNotSeekable) {
			return rows, err
		}
		t.Fatalf("unexpected error: %v", err)
	}
	if table.Sheet == "" {
		return rows, nil // the damage made it a text
	}
	last := table.HeadingRow
	for _, r := range rows {
		if r.Row <= last || r.Row > 1_048_576 || len(r.Cells) > 16_384 {
			t.Fatalf("record with %d cells at row %d after row %d", len(r.Cells), r.Row, last)
		}
		last = r.Row
		for _, c := range r.Cells {
			if !utf8.ValidString(c) {
				t.Fatalf("row %d holds invalid UTF-8", r.Row)
			}
		}
	}
	return rows, nil
}
