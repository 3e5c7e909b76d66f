package testtable

import (
	"fmt"
	"io"
	"strconv"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	parquetfile "github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

// Type is the type of a column.
type Type int

const (
	Text Type = iota
	Date      // cells are ISO dates
	Int       // cells are whole numbers
	Word      // text, as a dictionary in Arrow
)

// TypedColumn is the heading and type of a column.
type TypedColumn struct {
	Name string
	Type Type
}

// Typed is a table of text. An empty or absent cell is written as missing.
type Typed struct {
	Columns []TypedColumn
	Rows    [][]string
	Group   int // rows in one row group or record batch; 0: 10,000
}

// Strings is a table whose columns are all Text.
func Strings(headings []string, rows [][]string) Typed {
	t := Typed{Rows: rows}
	for _, h := range headings {
		t.Columns = append(t.Columns, TypedColumn{Name: h})
	}
	return t
}

// groups calls f with each run of rows.
func (t Typed) groups(f func(rows [][]string) error) error {
	n := t.Group
	if n <= 0 {
		n = 10_000
	}
	for rest := t.Rows; len(rest) > 0; {
		k := min(n, len(rest))
		if err := f(rest[:k]); err != nil {
			return err
		}
		rest = rest[k:]
	}
	return nil
}

func cellAt(row []string, i int) string {
	if i < len(row) {
		return row[i]
	}
	return ""
}

// epochDay is the number of days from 1970-01-01 to an ISO date.
func epochDay(s string) (int32, error) {
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, fmt.Errorf("not an ISO date")
	}
	return int32(d.Unix() / 86400), nil
}

// WriteParquet writes a Parquet file with Snappy compression.
func WriteParquet(w io.Writer, t Typed) error {
	var fields schema.FieldList
	for _, c := range t.Columns {
		var n schema.Node
		var err error
		switch c.Type {
		case Date:
			n, err = schema.NewPrimitiveNodeLogical(c.Name, parquet.Repetitions.Optional, schema.DateLogicalType{}, parquet.Types.Int32, 0, -1)
		case Int:
			n = schema.NewInt64Node(c.Name, parquet.Repetitions.Optional, -1)
		default:
			n, err = schema.NewPrimitiveNodeLogical(c.Name, parquet.Repetitions.Optional, schema.StringLogicalType{}, parquet.Types.ByteArray, 0, -1)
		}
		if err != nil {
			return err
		}
		fields = append(fields, n)
	}
	root, err := schema.NewGroupNode("schema", parquet.Repetitions.Required, fields, -1)
	if err != nil {
		return err
	}
	pw := parquetfile.NewParquetWriter(w, root, parquetfile.WithWriterProps(parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Snappy))))
	if err := t.groups(func(rows [][]string) error { return writeGroup(pw.AppendRowGroup(), t.Columns, rows) }); err != nil {
		return err
	}
	return pw.Close()
}

func writeGroup(g parquetfile.SerialRowGroupWriter, columns []TypedColumn, rows [][]string) error {
	for i, c := range columns {
		cw, err := g.NextColumn()
		if err != nil {
			return err
		}
		levels := make([]int16, len(rows))
		var days []int32
		var ints []int64
		var texts []parquet.ByteArray
		for j, row := range rows {
			s := cellAt(row, i)
			if s == "" {
				continue
			}
			levels[j] = 1
			switch c.Type {
			case Date:
				d, err := epochDay(s)
				if err != nil {
					return err
				}
				days = append(days, d)
			case Int:
				n, err := strconv.ParseInt(s, 10, 64)
				if err != nil {
					return err
				}
				ints = append(ints, n)
			default:
				texts = append(texts, parquet.ByteArray(s))
			}
		}
		switch cw := cw.(type) {
		case *parquetfile.Int32ColumnChunkWriter:
			_, err = cw.WriteBatch(days, levels, nil)
		case *parquetfile.Int64ColumnChunkWriter:
			_, err = cw.WriteBatch(ints, levels, nil)
		case *parquetfile.ByteArrayColumnChunkWriter:
			_, err = cw.WriteBatch(texts, levels, nil)
		}
		if err != nil {
			return err
		}
		if err := cw.Close(); err != nil {
			return err
		}
	}
	return g.Close()
}

// WriteArrow writes an Arrow IPC file.
func WriteArrow(w io.WriteSeeker, t Typed) error {
	f, err := ipc.NewFileWriter(w, ipc.WithSchema(t.schema()))
	if err != nil {
		return err
	}
	if err := t.records(f.Write); err != nil {
		return err
	}
	return f.Close()
}

// WriteArrowStream writes an Arrow IPC stream.
func WriteArrowStream(w io.Writer, t Typed) error {
	s := ipc.NewWriter(w, ipc.WithSchema(t.schema()))
	if err := t.records(s.Write); err != nil {
		return err
	}
	return s.Close()
}

var word = &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int32, ValueType: arrow.BinaryTypes.String}

func (t Typed) schema() *arrow.Schema {
	var fields []arrow.Field
	for _, c := range t.Columns {
		types := map[Type]arrow.DataType{
			Text: arrow.BinaryTypes.String, Date: arrow.FixedWidthTypes.Date32,
			Int: arrow.PrimitiveTypes.Int64, Word: word,
		}
		fields = append(fields, arrow.Field{Name: c.Name, Type: types[c.Type], Nullable: true})
	}
	return arrow.NewSchema(fields, nil)
}

// records builds one record per group of rows. The dictionaries of all are
// alike, since an Arrow file may not replace one.
func (t Typed) records(write func(arrow.Record) error) error {
	dictionaries := make([]arrow.Array, len(t.Columns))
	for i, c := range t.Columns {
		if c.Type == Word {
			dictionaries[i] = t.dictionary(i)
		}
	}
	return t.groups(func(rows [][]string) error {
		b := array.NewRecordBuilder(memory.DefaultAllocator, t.schema())
		defer b.Release()
		for i := range t.Columns {
			if d, ok := b.Field(i).(*array.BinaryDictionaryBuilder); ok {
				if err := d.InsertStringDictValues(dictionaries[i].(*array.String)); err != nil {
					return err
				}
			}
			for _, row := range rows {
				if err := appendCell(b.Field(i), cellAt(row, i)); err != nil {
					return err
				}
			}
		}
		rec := b.NewRecord()
		defer rec.Release()
		return write(rec)
	})
}

func (t Typed) dictionary(i int) arrow.Array {
	b := array.NewStringBuilder(memory.DefaultAllocator)
	seen := map[string]bool{"": true}
	for _, row := range t.Rows {
		if s := cellAt(row, i); !seen[s] {
			seen[s] = true
			b.Append(s)
		}
	}
	return b.NewArray()
}

func appendCell(b array.Builder, s string) error {
	if s == "" {
		b.AppendNull()
		return nil
	}
	switch b := b.(type) {
	case *array.StringBuilder:
		b.Append(s)
	case *array.BinaryDictionaryBuilder:
		return b.AppendString(s)
	case *array.Date32Builder:
		d, err := epochDay(s)
		if err != nil {
			return err
		}
		b.Append(arrow.Date32(d))
	case *array.Int64Builder:
		n, err := strconv.ParseInt(s, 10, 64)
		if err != nil {
			return err
		}
		b.Append(n)
	}
	return nil
}
