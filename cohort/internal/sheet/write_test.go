package sheet_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"example.org/holdfast/cohort/internal/sheet"
	"github.com/google/go-cmp/cmp"
)

// written are two runs with a value of every type, missing ones among them.
var written = []struct {
	rows    int
	columns []sheet.Values
}{
	{3, []sheet.Values{
		{Texts: []string{"hip", "knee", "a \"b\"\né"}}, {Wholes: []int32{1, -2, 3}}, {Fractions: []float64{0.1, 1e-300, 7.5}},
		{Wholes: []int32{0, 19_000, 0}, Missing: []bool{true, false, true}}, {YesNos: []bool{true, false, true}},
	}},
	{1, []sheet.Values{{Texts: []string{""}}, {Wholes: []int32{9}}, {Fractions: []float64{-1}}, {Wholes: []int32{-1}}, {YesNos: []bool{false}}}},
}

var writtenFields = []sheet.Field{
	{Name: "word", Type: sheet.Text, Help: "a word"}, {Name: "whole", Type: sheet.Whole}, {Name: "fraction", Type: sheet.Fraction},
	{Name: "day", Type: sheet.Day, Optional: true}, {Name: "flag", Type: sheet.YesNo},
}

func writeAll(w io.Writer, k sheet.Kind) error {
	c, err := sheet.Create(w, k, writtenFields, []sheet.Pair{{Key: "one", Value: "1"}, {Key: "two", Value: "é"}})
	if err != nil {
		return err
	}
	for _, run := range written {
		if err := c.Write(run.columns, run.rows); err != nil {
			return err
		}
	}
	return c.Close()
}

// What is written is read again: values, missing ones, and metadata.
func TestWrittenIsReadAgain(t *testing.T) {
	for _, name := range []string{"t.parquet", "t.arrow"} {
		t.Run(name, func(t *testing.T) {
			k, err := sheet.KindOf(name)
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), name)
			f, err := os.Create(path)
			if err != nil {
				t.Fatal(err)
			}
			if err := errors.Join(writeAll(f, k), f.Close()); err != nil {
				t.Fatal(err)
			}
			table, err := sheet.Open(context.Background(), path, nil, sheet.Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer table.Close()
			var got [][]string
			for {
				b, err := table.Next()
				if err == io.EOF {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				b.Rows(func(r *sheet.Record) bool {
					var cells []string
					for i := range r.Len() {
						cells = append(cells, string(r.Cell(i)))
					}
					got = append(got, cells)
					return true
				})
			}
			want := [][]string{ // 19,000 days after 1 January 1970 is 8 January 2022
				{"hip", "1", "0.1", "", "yes"}, {"knee", "-2", "1e-300", "2022-01-08", "no"}, {"a \"b\"\né", "3", "7.5", "", "yes"},
				{"", "9", "-1", "1969-12-31", "no"},
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Error(diff)
			}
			if v, ok := table.About("two"); v != "é" || !ok {
				t.Errorf("metadata %q %v", v, ok)
			}
			if _, ok := table.About("three"); ok {
				t.Error("metadata that nobody wrote")
			}
		})
	}
}

// full is a disk with room for so many bytes more.
type full int

var errFull = errors.New("no space left")

func (f *full) Write(p []byte) (int, error) {
	if len(p) > int(*f) {
		return 0, errFull
	}
	*f -= full(len(p))
	return len(p), nil
}

// Wherever the disk is full, its own error comes back.
func TestWritingToAFullDisk(t *testing.T) {
	for _, k := range []sheet.Kind{sheet.Parquet, sheet.ArrowIPC} {
		var whole bytes.Buffer
		if err := writeAll(&whole, k); err != nil {
			t.Fatal(err)
		}
		for room := range whole.Len() {
			f := full(room)
			if err := writeAll(&f, k); !errors.Is(err, errFull) {
				t.Fatalf("kind %d, room for %d of %d bytes: %v", k, room, whole.Len(), err)
			}
		}
	}
}

func TestKindOfAFile(t *testing.T) {
	if _, err := sheet.KindOf("joints.csv"); err == nil {
		t.Error("a CSV is no columnar file")
	}
}
