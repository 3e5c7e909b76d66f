package sheet_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort/internal/sheet"
)

// FuzzText checks on any text that the records do not depend on how the text
// was cut into blocks, that every physical line belongs to one record or is
// blank, and that the records are those of encoding/csv where it accepts the
// text, and whether it is split as a text with quotation marks or not. Where no row is
// accepted as headings all is as without asking.
func FuzzText(f *testing.F) {
	for _, tt := range textTables {
		f.Add([]byte(tt.text), uint8(3), uint8(20))
	}
	f.Add([]byte("a,b\n\"1\n\"x,2\n\"\"\"\n\",\"\r\n\r\"\r"), uint8(1), uint8(7))
	f.Fuzz(func(t *testing.T, text []byte, block, limit uint8) {
		o := sheet.Options{}.WithLimit(1 + int(limit))
		one, oneErr := read(text, o)
		if marked, err := read(text, o.Marked()); fmt.Sprint(marked, err) != fmt.Sprint(one, oneErr) {
			t.Fatalf("%v, %v as a text with marks; %v, %v else", marked, err, one, oneErr)
		}
		o = o.InBlocks(1 + int(block))
		many, manyErr := read(text, o)
		if fmt.Sprint(oneErr) != fmt.Sprint(manyErr) {
			t.Fatalf("error %v in one block, %v in blocks of %d", oneErr, manyErr, 1+int(block))
		}
		o.IsHeadings = func([]string) bool { return false }
		if none, err := read(text, o); fmt.Sprint(none, err) != fmt.Sprint(many, manyErr) {
			t.Fatalf("%v, %v where no row is accepted as headings; %v, %v without asking", none, err, many, manyErr)
		}
		o.IsHeadings = func(cells []string) bool { return len(cells) > 2 }
		found, foundErr := read(text, o)
		o = o.InBlocks(0)
		if again, err := read(text, o); foundErr == nil && fmt.Sprint(again, err) != fmt.Sprint(found, foundErr) {
			t.Fatalf("%v, %v in one block, %v in blocks where headings are looked for", again, err, found)
		}
		if oneErr != nil {
			return
		}
		same := cmp.Comparer(func(a, b error) bool { return errors.Is(a, b) })
		if d := cmp.Diff(one, many, same); d != "" {
			t.Fatalf("blocks of %d (-one +many):\n%s", 1+int(block), d)
		}
		wide, err := read(text, sheet.Options{})
		if err != nil {
			return
		}
		checkLines(t, text)
		checkCSV(t, text, wide)
	})
}

func read(text []byte, o sheet.Options) ([]row, error) {
	table, err := sheet.Open(context.Background(), "t.csv", bytes.NewReader(text), o)
	if err != nil {
		return nil, err
	}
	return collect(table)
}

// checkLines makes sure that no line with content lies between the first data
// row and the last line of the text without belonging to a record. Only for
// UTF-8 with LF, where the lines of the text are those of the table.
func checkLines(t *testing.T, input []byte) {
	table, err := sheet.Open(context.Background(), "t.csv", bytes.NewReader(input), sheet.Options{})
	if err != nil || !utf8.Valid(input) || !strings.HasSuffix(table.Format(), "UTF-8") || bytes.IndexByte(input, '\n') < 0 {
		return
	}
	first := table.FirstLine() // of the first data row
	covered := map[int]bool{}
	last := 0
	for {
		b, err := table.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		for r := range b.Rows {
			if r.Row <= last {
				t.Fatalf("record at row %d after row %d", r.Row, last)
			}
			for i := range r.Lines {
				covered[r.Row+i] = true
			}
			last = r.Row + r.Lines - 1
		}
	}
	lines := strings.Split(string(input), "\n")
	if last > len(lines) {
		t.Fatalf("a record ends at line %d of %d", last, len(lines))
	}
	// Blank records may hold separators, spaces and marks; a line with
	// anything else must be covered. Lines above the data, and those of a
	// heading of several lines, come before the first record.
	for i := first - 1; i < len(lines); i++ {
		if strings.IndexFunc(lines[i], func(r rune) bool {
			return r > ' ' && r < 127 && !strings.ContainsRune("\""+string(rune(table.Delimiter())), r)
		}) >= 0 && !covered[i+1] {
			t.Fatalf("line %d was lost", i+1)
		}
	}
}

// checkCSV compares with encoding/csv.
func checkCSV(t *testing.T, text []byte, got []row) {
	table, err := sheet.Open(context.Background(), "t.csv", bytes.NewReader(text), sheet.Options{})
	if err != nil || !strings.HasPrefix(table.Format(), "CSV, comma-separated, UTF-8") ||
		table.HeadingRow != 1 || !utf8.Valid(text) || bytes.IndexByte(text, '\n') < 0 {
		return
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(text, []byte("\ufeff"))))
	r.FieldsPerRecord = -1
	var want [][]string
	for {
		cells, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return // encoding/csv refuses stray marks
		}
		want = append(want, cells)
	}
	var mine [][]string
	for _, r := range got {
		if r.Err != nil {
			return // a quoted cell ended within a line of the same record only for encoding/csv
		}
		mine = append(mine, r.Cells)
	}
	if len(want) == 0 {
		return
	}
	want = plain(want[1:], len(table.Headings))
	if d := cmp.Diff(want, plain(mine, len(table.Headings))); d != "" {
		t.Fatalf("-encoding/csv +rows:\n%s", d)
	}
}

// plain takes away what the two readers are meant to differ in: blank
// records, empty cells beyond the headings, CRLF inside cells, of whose carriage returns
// encoding/csv takes one.
func plain(records [][]string, columns int) [][]string {
	var out [][]string
	for _, cells := range records {
		empty := true
		var c []string
		for _, s := range cells {
			for strings.Contains(s, "\r\n") {
				s = strings.ReplaceAll(s, "\r\n", "\n")
			}
			empty = empty && strings.TrimSpace(s) == ""
			c = append(c, s)
		}
		for len(c) > columns && c[len(c)-1] == "" {
			c = c[:len(c)-1]
		}
		if !empty {
			out = append(out, c)
		}
	}
	return out
}
