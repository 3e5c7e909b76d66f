package sheet_test

import (
	"bytes"
	"context"
	"fmt"
	"testing"

	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/testtable"
)

// FuzzColumnar checks that whatever is put in place of a Parquet or Arrow file is read or
// refused, as it is again, though perhaps with another of its damages named, and that each record has a cell for each heading.
func FuzzColumnar(f *testing.F) {
	for _, write := range []func(b *bytes.Buffer) error{
		func(b *bytes.Buffer) error { return testtable.WriteParquet(b, typed(5)) },
		func(b *bytes.Buffer) error { return testtable.WriteArrowStream(b, typed(5)) },
		func(b *bytes.Buffer) error {
			w, err := sheet.Create(b, sheet.ArrowIPC, []sheet.Field{{Name: "day", Type: sheet.Day, Optional: true}, {Name: "word", Type: sheet.Text}}, []sheet.Pair{{Key: "holds", Value: "words"}})
			if err != nil {
				return err
			}
			if err := w.Write([]sheet.Values{{Wholes: []int32{1, 2}, Missing: []bool{false, true}}, {Texts: []string{"a", "b"}}}, 2); err != nil {
				return err
			}
			return w.Close()
		},
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			f.Fatal(err)
		}
		f.Add(b.Bytes())
	}
	f.Fuzz(func(t *testing.T, file []byte) {
		if !bytes.HasPrefix(file, []byte("PAR1")) && !bytes.HasPrefix(file, []byte("ARROW1")) && !bytes.HasPrefix(file, []byte("\xff\xff\xff\xff")) {
			return
		}
		read := func() string {
			table, err := sheet.Open(context.Background(), "t.bin", bytes.NewReader(file), sheet.Options{Fixed: [][2]string{{"hospital", "A"}}})
			if err != nil {
				return "refused"
			}
			defer table.Close()
			if len(table.Headings) == 1 { // without columns of its own a file may claim any number of rows, of which none is a table's
				return "no columns"
			}
			rows, err := collect(table)
			for _, r := range rows {
				if r.Err == nil && len(r.Cells) != len(table.Headings) {
					t.Fatalf("row %d has %d cells under %d headings", r.Row, len(r.Cells), len(table.Headings))
				}
			}
			return fmt.Sprint(rows, err != nil)
		}
		if once, again := read(), read(); once != again {
			t.Fatalf("%s\n\nagain:\n%s", once, again)
		}
	})
}
