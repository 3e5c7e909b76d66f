package columnar

import (
	"errors"
	"fmt"
	"io"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/metadata"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

// Type is the type of a column that is written.
type Type uint8

const (
	Text     Type = iota // UTF-8
	Whole                // 32-bit whole number
	Fraction             // 64-bit floating point
	Day                  // a date without time or zone
	YesNo
)

// Field is a column that is written.
type Field struct {
	Name     string
	Type     Type
	Optional bool   // values may be missing
	Help     string // goes with the column in Arrow IPC, whose columns have metadata
}

// Pair is metadata of a file.
type Pair struct{ Key, Value string }

// Values are a run of one column's values, in the slice of its type: Texts;
// Wholes, for days since 1 January 1970 too; Fractions; or YesNos. Missing is nil
// where none is.
type Values struct {
	Texts     []string
	Wholes    []int32
	Fractions []float64
	YesNos    []bool
	Missing   []bool
}

// Writer writes runs of rows.
type Writer interface {
	Write(columns []Values, rows int) error
	// Close writes what stands at the end of the file. It does not close the
	// io.Writer.
	Close() error
}

// sink remembers the first error of a writer, which the Arrow library may lose, and
// how much has been written.
type sink struct {
	w   io.Writer
	at  int64
	err error
}

func (s *sink) Write(p []byte) (int, error) {
	if s.err != nil {
		return 0, s.err
	}
	n, err := s.w.Write(p)
	s.at += int64(n)
	s.err = err
	return n, err
}

// Seek tells the place in the file: nobody goes back in it.
func (s *sink) Seek(offset int64, whence int) (int64, error) {
	if offset != 0 || whence != io.SeekCurrent {
		return 0, errors.ErrUnsupported
	}
	return s.at, nil
}

// saved gives the sink's own error for what the library made of it.
func (s *sink) saved(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("writing failed: %v", p)
	}
	if s.err != nil {
		*err = s.err
	}
}

type parquetWriter struct {
	to     *sink
	f      *file.Writer
	fields []Field
	bytes  []parquet.ByteArray
}

// CreateParquet begins a Parquet file: one row group for each run, compressed with
// Snappy.
func CreateParquet(w io.Writer, fields []Field, about []Pair) (_ Writer, err error) {
	p := &parquetWriter{to: &sink{w: w}, fields: fields}
	defer p.to.saved(&err)
	var nodes schema.FieldList
	for _, f := range fields {
		n, err := node(f)
		if err != nil {
			return nil, err
		}
		nodes = append(nodes, n)
	}
	root, err := schema.NewGroupNode("table", parquet.Repetitions.Required, nodes, -1)
	if err != nil {
		return nil, err
	}
	pairs := metadata.NewKeyValueMetadata()
	for _, a := range about {
		if err := pairs.Append(a.Key, a.Value); err != nil {
			return nil, err
		}
	}
	props := parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Snappy), parquet.WithCreatedBy("holdfast"))
	p.f = file.NewParquetWriter(p.to, root, file.WithWriterProps(props), file.WithWriteMetadata(pairs))
	return p, nil
}

func node(f Field) (schema.Node, error) {
	repetition := parquet.Repetitions.Required
	if f.Optional {
		repetition = parquet.Repetitions.Optional
	}
	switch f.Type {
	case Text:
		return schema.NewPrimitiveNodeLogical(f.Name, repetition, schema.StringLogicalType{}, parquet.Types.ByteArray, 0, -1)
	case Day:
		return schema.NewPrimitiveNodeLogical(f.Name, repetition, schema.DateLogicalType{}, parquet.Types.Int32, 0, -1)
	case Fraction:
		return schema.NewFloat64Node(f.Name, repetition, -1), nil
	case YesNo:
		return schema.NewBooleanNode(f.Name, repetition, -1), nil
	}
	return schema.NewInt32Node(f.Name, repetition, -1), nil
}

func (p *parquetWriter) Write(columns []Values, rows int) (err error) {
	defer p.to.saved(&err)
	group := p.f.AppendRowGroup()
	for i, f := range p.fields {
		c, err := group.NextColumn()
		if err != nil {
			return err
		}
		if err := p.column(c, f, &columns[i], rows); err != nil {
			return err
		}
		if err := c.Close(); err != nil {
			return err
		}
	}
	return group.Close()
}

// column writes the values of one column that are there.
func (p *parquetWriter) column(c file.ColumnChunkWriter, f Field, v *Values, rows int) error {
	var levels []int16
	if f.Optional {
		levels = make([]int16, rows)
		for i := range levels {
			if v.Missing == nil || !v.Missing[i] {
				levels[i] = 1
			}
		}
	}
	var err error
	switch w := c.(type) {
	case *file.ByteArrayColumnChunkWriter:
		p.bytes = p.bytes[:0]
		for _, s := range present(v.Texts, v.Missing) {
			p.bytes = append(p.bytes, parquet.ByteArray(s))
		}
		_, err = w.WriteBatch(p.bytes, levels, nil)
	case *file.Int32ColumnChunkWriter:
		_, err = w.WriteBatch(present(v.Wholes, v.Missing), levels, nil)
	case *file.Float64ColumnChunkWriter:
		_, err = w.WriteBatch(present(v.Fractions, v.Missing), levels, nil)
	case *file.BooleanColumnChunkWriter:
		_, err = w.WriteBatch(present(v.YesNos, v.Missing), levels, nil)
	}
	return err
}

// present are the values that are not missing.
func present[T any](values []T, missing []bool) []T {
	if missing == nil {
		return values
	}
	var all []T
	for i, v := range values {
		if !missing[i] {
			all = append(all, v)
		}
	}
	return all
}

func (p *parquetWriter) Close() (err error) {
	defer p.to.saved(&err)
	return p.f.FlushWithFooter()
}

type arrowWriter struct {
	to     *sink
	f      *ipc.FileWriter
	schema *arrow.Schema
	fields []Field
}

// CreateArrow begins an Arrow IPC file: one record batch for each run.
func CreateArrow(w io.Writer, fields []Field, about []Pair) (_ Writer, err error) {
	a := &arrowWriter{to: &sink{w: w}, fields: fields}
	defer a.to.saved(&err)
	var columns []arrow.Field
	for _, f := range fields {
		columns = append(columns, arrow.Field{Name: f.Name, Type: arrowType(f.Type), Nullable: f.Optional, Metadata: arrow.MetadataFrom(map[string]string{"help": f.Help})})
	}
	var keys, values []string
	for _, p := range about {
		keys, values = append(keys, p.Key), append(values, p.Value)
	}
	m := arrow.NewMetadata(keys, values)
	a.schema = arrow.NewSchema(columns, &m)
	a.f, err = ipc.NewFileWriter(a.to, ipc.WithSchema(a.schema))
	return a, err
}

func arrowType(t Type) arrow.DataType {
	switch t {
	case Text:
		return arrow.BinaryTypes.String
	case Day:
		return arrow.FixedWidthTypes.Date32
	case Fraction:
		return arrow.PrimitiveTypes.Float64
	case YesNo:
		return arrow.FixedWidthTypes.Boolean
	}
	return arrow.PrimitiveTypes.Int32
}

func (a *arrowWriter) Write(columns []Values, rows int) (err error) {
	defer a.to.saved(&err)
	b := array.NewRecordBuilder(memory.NewGoAllocator(), a.schema)
	defer b.Release()
	for i := range a.fields {
		v := &columns[i]
		var valid []bool
		if v.Missing != nil {
			valid = make([]bool, rows)
			for j, m := range v.Missing {
				valid[j] = !m
			}
		}
		switch to := b.Field(i).(type) {
		case *array.StringBuilder:
			to.AppendValues(v.Texts, valid)
		case *array.Int32Builder:
			to.AppendValues(v.Wholes, valid)
		case *array.Date32Builder:
			days := make([]arrow.Date32, rows)
			for j, d := range v.Wholes {
				days[j] = arrow.Date32(d)
			}
			to.AppendValues(days, valid)
		case *array.Float64Builder:
			to.AppendValues(v.Fractions, valid)
		case *array.BooleanBuilder:
			to.AppendValues(v.YesNos, valid)
		}
	}
	r := b.NewRecord()
	defer r.Release()
	return a.f.Write(r)
}

func (a *arrowWriter) Close() (err error) {
	defer a.to.saved(&err)
	return a.f.Close()
}
