package sheet_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/testtable"
	"github.com/google/go-cmp/cmp"
)

// typed is a table of n rows with every type testtable writes, missing cells
// among them, in groups that do not end where chunks do.
func typed(n int) testtable.Typed {
	t := testtable.Typed{
		Columns: []testtable.TypedColumn{
			{Name: "joint_id", Type: testtable.Int}, {Name: " operation_date ", Type: testtable.Date},
			{Name: "notes"}, {Name: "bearing", Type: testtable.Word},
		},
		Group: 7777,
	}
	words := []string{"CoP", "MoP", "", "CoC"}
	for i := range n {
		date := fmt.Sprintf("20%02d-%02d-%02d", i%25, 1+i%12, 1+i%28)
		if i%11 == 0 {
			date = ""
		}
		t.Rows = append(t.Rows, []string{fmt.Sprint(i - 3), date, fmt.Sprintf("note, \"%d\"\u00e9", i%50), words[i%len(words)]})
	}
	return t
}

func write(t *testing.T, kind string, table testtable.Typed) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "t.bin")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	switch kind {
	case "Parquet":
		err = testtable.WriteParquet(f, table)
	case "Arrow IPC":
		err = testtable.WriteArrow(f, table)
	case "Arrow IPC stream":
		err = testtable.WriteArrowStream(f, table)
	}
	if err != nil {
		t.Fatal(err)
	}
	return name
}

var kinds = []string{"Parquet", "Arrow IPC", "Arrow IPC stream"}

func TestColumnar(t *testing.T) {
	for _, n := range []int{0, 1, 20_000} {
		in := typed(n)
		for _, kind := range kinds {
			t.Run(fmt.Sprintf("%s/%d", kind, n), func(t *testing.T) {
				table, err := sheet.Open(context.Background(), write(t, kind, in), nil, sheet.Options{})
				if err != nil {
					t.Fatal(err)
				}
				defer table.Close()
				got, err := collect(table)
				if err != nil {
					t.Fatal(err)
				}
				if table.Format() != kind || table.HeadingRow != 0 || len(table.Notes()) != 0 {
					t.Errorf("%q, heading row %d, notes %q", table.Format(), table.HeadingRow, table.Notes())
				}
				if d := cmp.Diff(cells("joint_id", "operation_date", "notes", "bearing"), table.Headings); d != "" {
					t.Error(d)
				}
				var want []row
				for i, r := range in.Rows {
					want = append(want, row{Row: i + 1, Cells: r})
				}
				if d := cmp.Diff(want, got); d != "" {
					t.Error(d)
				}
				if table.Read() != table.Size {
					t.Errorf("read %d of %d", table.Read(), table.Size)
				}
			})
		}
	}
}

func TestSelect(t *testing.T) {
	in := typed(100)
	for _, kind := range kinds {
		table, err := sheet.Open(context.Background(), write(t, kind, in), nil, sheet.Options{})
		if err != nil {
			t.Fatal(err)
		}
		table.Select([]int{2, 0, 99, -1})
		got, err := collect(table)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(cells("9", "", in.Rows[12][2], ""), got[12].Cells); d != "" {
			t.Errorf("%s: %s", kind, d)
		}
		table.Close()
	}
}

// Batches must stay valid when later ones have been read.
func TestColumnarBatchesTogether(t *testing.T) {
	in := typed(20_000)
	for _, kind := range kinds {
		table, err := sheet.Open(context.Background(), write(t, kind, in), nil, sheet.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var batches []*sheet.Batch
		for {
			b, err := table.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			batches = append(batches, b)
		}
		table.Close()
		i := 0
		for _, b := range batches {
			for r := range b.Rows {
				if string(r.Cell(2)) != in.Rows[i][2] || string(r.Cell(0)) != in.Rows[i][0] {
					t.Fatalf("%s: row %d is wrong", kind, r.Row)
				}
				i++
			}
		}
		if i != len(in.Rows) {
			t.Errorf("%s: %d rows", kind, i)
		}
	}
}

func TestColumnarFromStream(t *testing.T) {
	for _, kind := range kinds {
		data, err := os.ReadFile(write(t, kind, typed(10)))
		if err != nil {
			t.Fatal(err)
		}
		table, err := sheet.Open(context.Background(), "-", io.MultiReader(bytes.NewReader(data)), sheet.Options{})
		if kind == "Arrow IPC stream" {
			if err != nil {
				t.Fatal(err)
			}
			if got, err := collect(table); err != nil || len(got) != 10 {
				t.Errorf("%d rows, %v", len(got), err)
			}
		} else if !errors.Is(err, sheet.ErrNotSeekable) {
			t.Errorf("%s: %v", kind, err)
		}
	}
}

// Every cut of a small file is an error, never a panic and never fewer rows
// without one. An Arrow stream may lack its end marker: then all rows are
// there and a note says so, or it is cut between record batches, which
// nothing but the note can show.
func TestColumnarCut(t *testing.T) {
	in := typed(30)
	in.Group = 10
	for _, kind := range kinds {
		data, err := os.ReadFile(write(t, kind, in))
		if err != nil {
			t.Fatal(err)
		}
		for n := 8; n < len(data); n++ {
			table, err := sheet.Open(context.Background(), "t", bytes.NewReader(data[:n]), sheet.Options{})
			if err == nil {
				_, err = collect(table)
			}
			if err == nil && kind == "Arrow IPC stream" && len(table.Notes()) == 1 {
				continue
			}
			if !errors.Is(err, sheet.ErrCorrupt) {
				t.Errorf("%s cut at %d of %d: %v", kind, n, len(data), err)
			}
		}
	}
}

// Damaged bytes are an error or change cells, but never a panic.
func TestColumnarDamaged(t *testing.T) {
	in := typed(300)
	in.Group = 100
	r := rand.New(rand.NewPCG(3, 4))
	for _, kind := range kinds {
		data, err := os.ReadFile(write(t, kind, in))
		if err != nil {
			t.Fatal(err)
		}
		for range 400 {
			bad := bytes.Clone(data)
			for range 1 + r.IntN(3) {
				bad[8+r.IntN(len(bad)-8)] = byte(r.IntN(256))
			}
			table, err := sheet.Open(context.Background(), "t", bytes.NewReader(bad), sheet.Options{})
			if err == nil {
				_, err = collect(table)
			}
			if err != nil && !errors.Is(err, sheet.ErrCorrupt) && !errors.Is(err, sheet.ErrUnsupported) {
				t.Errorf("%s: %v", kind, err)
			}
		}
	}
}
