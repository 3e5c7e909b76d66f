package sheet

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"example.org/holdfast/cohort/internal/sheet/internal/columnar"
)

// InventedKey is the key of the metadata of a Parquet or Arrow file whose rows are
// invented, and Invented is the line that then stands above its headings.
const (
	InventedKey = "holdfast.invented"
	Invented    = "Invented data."
)

// AboutKey is the key of the metadata under which a Parquet or Arrow file of this
// program says in JSON what it holds, and HoldsJoints is what a checked cohort says.
const (
	AboutKey    = "holdfast"
	HoldsJoints = "checked cohort"
)

// Holds is what a file of this program says it holds; "" for any other.
func (t *Table) Holds() string {
	var about struct{ Holds string }
	text, ok := t.About(AboutKey)
	if !ok || json.Unmarshal([]byte(text), &about) != nil {
		return ""
	}
	return about.Holds
}

// table is a Parquet or Arrow table.
type table struct {
	t    *Table
	r    columnar.Reader
	name string
	row  int // number of the next row
}

func (t *Table) openColumnar(k kind, head []byte, r io.Reader, seekable io.ReaderAt, fixed [][2]string) error {
	s := &table{t: t, row: 1}
	var err error
	switch {
	case k == kindArrowStream:
		s.name = "Arrow IPC stream"
		s.r, err = columnar.OpenStream(&counted{io.MultiReader(bytes.NewReader(head), r), t})
	case seekable == nil:
		return fmt.Errorf("%w: Parquet and Arrow files have their contents list at the end; give the name of the file", ErrNotSeekable)
	case k == kindParquet:
		s.name = "Parquet"
		s.r, err = columnar.OpenParquet(seekable, t.Size)
	default:
		s.name = "Arrow IPC"
		s.r, err = columnar.OpenFile(seekable, t.Size)
	}
	if err != nil {
		return damaged(err)
	}
	t.Headings = slices.Clone(s.r.Headings())
	for _, f := range fixed {
		if !slices.Contains(t.Headings, f[0]) {
			t.Headings, t.fixed = append(t.Headings, f[0]), append(t.fixed, []byte(f[1]))
		}
	}
	if _, ok := s.r.About(InventedKey); ok {
		t.Comments = []string{Invented}
		t.Preamble = t.Comments
	}
	t.src = s
	return nil
}

func (s *table) next(b *Batch) error {
	b.columnar = true
	if err := s.r.Next(&b.chunk); err != nil {
		if err == io.EOF {
			s.t.read.Store(max(s.t.Size, s.t.read.Load()))
			return err
		}
		return &rowError{s.row, damaged(err)}
	}
	b.line = s.row
	s.row += b.chunk.Rows
	if part := s.r.Part(); part > 0 {
		s.t.read.Store(int64(part * float64(s.t.Size)))
	}
	return nil
}

func (s *table) format() string              { return s.name }
func (s *table) notes() []string             { return s.r.Notes() }
func (s *table) selectColumns(columns []int) { s.r.Select(columns) }

// damaged turns an error of the columnar readers into one of this package.
func damaged(err error) error {
	if errors.Is(err, columnar.ErrUnsupported) {
		return fmt.Errorf("%w: %v", ErrUnsupported, err)
	}
	return fmt.Errorf("%w (%v)", ErrCorrupt, err)
}
