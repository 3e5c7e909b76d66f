package columnar

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/decimal128"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
	"github.com/google/go-cmp/cmp"
)

// Every day from 1600 to 2400 against the standard library.
func TestAppendDate(t *testing.T) {
	day := time.Date(1600, 1, 1, 0, 0, 0, 0, time.UTC)
	for day.Year() < 2400 {
		if got, want := string(appendDate(nil, day.Unix()/86400)), day.Format(time.DateOnly); got != want {
			t.Fatalf("got %s, want %s", got, want)
		}
		day = day.AddDate(0, 0, 1)
	}
	if got := string(appendDate(nil, 1e9)); !strings.HasPrefix(got, "27") { // some 2.7 million years on
		t.Errorf("far date %s", got)
	}
}

// Hand-worked.
func TestAppendScaled(t *testing.T) {
	for _, tt := range []struct {
		digits string
		scale  int
		want   string
	}{
		{"12345", 2, "123.45"}, {"-5", 2, "-0.05"}, {"0", 0, "0"}, {"12", 2, "0.12"}, {"7", -2, "700"}, {"-120", 1, "-12.0"},
	} {
		if got := string(appendScaled([]byte("x"+tt.digits), 1, tt.scale)); got != "x"+tt.want {
			t.Errorf("%s at scale %d: %s, want %s", tt.digits, tt.scale, got[1:], tt.want)
		}
	}
}

func TestAppendFloat(t *testing.T) {
	for _, tt := range []struct {
		v    float64
		want string
	}{{0, "0"}, {0.1, "0.1"}, {-61.25, "-61.25"}, {2019, "2019"}, {math.NaN(), ""}, {1e300, "1e+300"}, {43000, "43000"}} {
		if got := string(appendFloat(nil, tt.v, 64)); got != tt.want {
			t.Errorf("%v: %q, want %q", tt.v, got, tt.want)
		}
	}
}

// all reads a table to its end as text.
func all(t *testing.T, r Reader) [][]string {
	t.Helper()
	var out [][]string
	var c Chunk
	for {
		err := r.Next(&c)
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		for i := range c.Rows {
			if _, err := c.Row(i, make([][]byte, len(c.Columns)), nil); err != nil {
				t.Fatal(err)
			}
			var row []string
			for k := range c.Columns {
				cell, _ := c.Text(k, i, nil)
				row = append(row, string(cell))
			}
			out = append(out, row)
		}
	}
}

// 18,262 days after 1970-01-01 is 2020-01-01; seconds, milliseconds and so on
// follow from it.
const (
	day2020    = 18262
	second2020 = day2020 * 86400
)

func logical(t *testing.T, name string, lt schema.LogicalType, p parquet.Type, length int) schema.Node {
	t.Helper()
	n, err := schema.NewPrimitiveNodeLogical(name, parquet.Repetitions.Required, lt, p, length, -1)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func TestParquetTypes(t *testing.T) {
	required := parquet.Repetitions.Required
	tests := []struct {
		node  schema.Node
		write func(w file.ColumnChunkWriter) error
		want  string
	}{
		{schema.NewBooleanNode("boolean", required, -1), func(w file.ColumnChunkWriter) error {
			_, err := w.(*file.BooleanColumnChunkWriter).WriteBatch([]bool{true}, nil, nil)
			return err
		}, "yes"},
		{schema.NewInt32Node("int32", required, -1), int32s(-7), "-7"},
		{logical(t, "date", schema.DateLogicalType{}, parquet.Types.Int32, 0), int32s(day2020), "2020-01-01"},
		{logical(t, "uint32", schema.NewIntLogicalType(32, false), parquet.Types.Int32, 0), int32s(-1), "4294967295"},
		{logical(t, "time", schema.NewTimeLogicalType(true, schema.TimeUnitMillis), parquet.Types.Int32, 0), int32s(3_723_000), "01:02:03"},
		{logical(t, "decimal32", schema.NewDecimalLogicalType(9, 2), parquet.Types.Int32, 0), int32s(-1205), "-12.05"},
		{schema.NewInt64Node("int64", required, -1), int64s(math.MinInt64), "-9223372036854775808"},
		{logical(t, "uint64", schema.NewIntLogicalType(64, false), parquet.Types.Int64, 0), int64s(-1), "18446744073709551615"},
		{logical(t, "millis", schema.NewTimestampLogicalType(false, schema.TimeUnitMillis), parquet.Types.Int64, 0), int64s(second2020*1e3 - 1), "2019-12-31"},
		{logical(t, "micros", schema.NewTimestampLogicalType(true, schema.TimeUnitMicros), parquet.Types.Int64, 0), int64s(second2020 * 1e6), "2020-01-01"},
		{logical(t, "nanos", schema.NewTimestampLogicalType(false, schema.TimeUnitNanos), parquet.Types.Int64, 0), int64s(second2020 * 1e9), "2020-01-01"},
		{logical(t, "decimal64", schema.NewDecimalLogicalType(18, 3), parquet.Types.Int64, 0), int64s(5), "0.005"},
		{schema.NewFloat32Node("float", required, -1), func(w file.ColumnChunkWriter) error {
			_, err := w.(*file.Float32ColumnChunkWriter).WriteBatch([]float32{0.1}, nil, nil)
			return err
		}, "0.1"},
		{schema.NewFloat64Node("double", required, -1), func(w file.ColumnChunkWriter) error {
			_, err := w.(*file.Float64ColumnChunkWriter).WriteBatch([]float64{61.5}, nil, nil)
			return err
		}, "61.5"},
		{schema.NewByteArrayNode("binary", required, -1), bytesOf("a\xffb"), "a\ufffdb"},
		{logical(t, "string", schema.StringLogicalType{}, parquet.Types.ByteArray, 0), bytesOf("é"), "é"},
		{logical(t, "decimal", schema.NewDecimalLogicalType(10, 1), parquet.Types.ByteArray, 0), bytesOf("\xff\x38"), "-20.0"}, // -200
		{logical(t, "fixed decimal", schema.NewDecimalLogicalType(4, 2), parquet.Types.FixedLenByteArray, 2), fixed("\x01\x00"), "2.56"},
		{logical(t, "uuid", schema.UUIDLogicalType{}, parquet.Types.FixedLenByteArray, 16),
			fixed("\x00\x11\x22\x33\x44\x55\x66\x77\x88\x99\xaa\xbb\xcc\xdd\xee\xff"), "00112233-4455-6677-8899-aabbccddeeff"},
		{schema.NewInt96Node("int96", required, -1), func(w file.ColumnChunkWriter) error {
			var v parquet.Int96
			binary.LittleEndian.PutUint32(v[8:], 2440588+day2020) // the Julian day of 1970-01-01, and the days since
			_, err := w.(*file.Int96ColumnChunkWriter).WriteBatch([]parquet.Int96{v}, nil, nil)
			return err
		}, "2020-01-01"},
		{schema.NewInt32Node("list", parquet.Repetitions.Repeated, -1), func(w file.ColumnChunkWriter) error {
			_, err := w.(*file.Int32ColumnChunkWriter).WriteBatch([]int32{1, 2}, []int16{1, 1}, []int16{0, 1})
			return err
		}, ""},
	}
	var fields schema.FieldList
	var names, want []string
	for _, tt := range tests {
		fields = append(fields, tt.node)
		names, want = append(names, tt.node.Name()), append(want, tt.want)
	}
	root, err := schema.NewGroupNode("schema", required, fields, -1)
	if err != nil {
		t.Fatal(err)
	}
	for _, version := range []parquet.DataPageVersion{parquet.DataPageV1, parquet.DataPageV2} {
		var b bytes.Buffer
		w := file.NewParquetWriter(&b, root, file.WithWriterProps(parquet.NewWriterProperties(parquet.WithDataPageVersion(version))))
		g := w.AppendRowGroup()
		for _, tt := range tests {
			c, err := g.NextColumn()
			if err == nil {
				err = tt.write(c)
			}
			if err == nil {
				err = c.Close()
			}
			if err != nil {
				t.Fatalf("%s: %v", tt.node.Name(), err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		r, err := OpenParquet(bytes.NewReader(b.Bytes()), int64(b.Len()))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(names, r.Headings()); d != "" {
			t.Error(d)
		}
		if d := cmp.Diff([][]string{want}, all(t, r)); d != "" {
			t.Errorf("pages of version %v: %s", version, d)
		}
		if d := cmp.Diff([]string{universal("micros"), notRead("list")}, r.Notes()); d != "" {
			t.Error(d)
		}
	}
}

func int32s(v int32) func(file.ColumnChunkWriter) error {
	return func(w file.ColumnChunkWriter) error {
		_, err := w.(*file.Int32ColumnChunkWriter).WriteBatch([]int32{v}, nil, nil)
		return err
	}
}

func int64s(v int64) func(file.ColumnChunkWriter) error {
	return func(w file.ColumnChunkWriter) error {
		_, err := w.(*file.Int64ColumnChunkWriter).WriteBatch([]int64{v}, nil, nil)
		return err
	}
}

func bytesOf(v string) func(file.ColumnChunkWriter) error {
	return func(w file.ColumnChunkWriter) error {
		_, err := w.(*file.ByteArrayColumnChunkWriter).WriteBatch([]parquet.ByteArray{parquet.ByteArray(v)}, nil, nil)
		return err
	}
}

func fixed(v string) func(file.ColumnChunkWriter) error {
	return func(w file.ColumnChunkWriter) error {
		_, err := w.(*file.FixedLenByteArrayColumnChunkWriter).WriteBatch([]parquet.FixedLenByteArray{parquet.FixedLenByteArray(v)}, nil, nil)
		return err
	}
}

func TestArrowTypes(t *testing.T) {
	london := &arrow.TimestampType{Unit: arrow.Second, TimeZone: "Europe/London"}
	nowhere := &arrow.TimestampType{Unit: arrow.Second, TimeZone: "No/Where"}
	tests := []struct {
		name string
		typ  arrow.DataType
		add  func(b array.Builder)
		want string
	}{
		{"boolean", arrow.FixedWidthTypes.Boolean, func(b array.Builder) { b.(*array.BooleanBuilder).Append(false) }, "no"},
		{"int8", arrow.PrimitiveTypes.Int8, func(b array.Builder) { b.(*array.Int8Builder).Append(-8) }, "-8"},
		{"uint64", arrow.PrimitiveTypes.Uint64, func(b array.Builder) { b.(*array.Uint64Builder).Append(math.MaxUint64) }, "18446744073709551615"},
		{"float32", arrow.PrimitiveTypes.Float32, func(b array.Builder) { b.(*array.Float32Builder).Append(0.1) }, "0.1"},
		{"float64", arrow.PrimitiveTypes.Float64, func(b array.Builder) { b.(*array.Float64Builder).Append(61.5) }, "61.5"},
		{"date32", arrow.FixedWidthTypes.Date32, func(b array.Builder) { b.(*array.Date32Builder).Append(day2020) }, "2020-01-01"},
		{"date64", arrow.FixedWidthTypes.Date64, func(b array.Builder) { b.(*array.Date64Builder).Append(second2020 * 1e3) }, "2020-01-01"},
		{"timestamp", arrow.FixedWidthTypes.Timestamp_us, func(b array.Builder) { b.(*array.TimestampBuilder).Append(second2020 * 1e6) }, "2020-01-01"},
		// In June London is an hour ahead: 23:00 of 31 May 2020 in universal time, 152 days on, is 1 June there.
		{"summer", london, func(b array.Builder) { b.(*array.TimestampBuilder).Append(second2020 + 152*86400 - 3600) }, "2020-06-01"},
		{"no zone", nowhere, func(b array.Builder) { b.(*array.TimestampBuilder).Append(second2020 - 1) }, "2019-12-31"},
		{"time", arrow.FixedWidthTypes.Time64ns, func(b array.Builder) { b.(*array.Time64Builder).Append(3_723_000_000_000) }, "01:02:03"},
		{"decimal", &arrow.Decimal128Type{Precision: 10, Scale: 2}, func(b array.Builder) {
			b.(*array.Decimal128Builder).Append(decimal128.FromI64(-1205))
		}, "-12.05"},
		{"large string", arrow.BinaryTypes.LargeString, func(b array.Builder) { b.(*array.LargeStringBuilder).Append("é") }, "é"},
		{"binary", arrow.BinaryTypes.Binary, func(b array.Builder) { b.(*array.BinaryBuilder).Append([]byte("a\xff")) }, "a\ufffd"},
		{"dictionary", &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: arrow.BinaryTypes.String}, func(b array.Builder) {
			if err := b.(*array.BinaryDictionaryBuilder).AppendString("CoP"); err != nil {
				t.Fatal(err)
			}
		}, "CoP"},
		{"null", arrow.Null, func(b array.Builder) { b.AppendNull() }, ""},
		{"list", arrow.ListOf(arrow.PrimitiveTypes.Int8), func(b array.Builder) { b.AppendNull() }, ""},
	}
	var fields []arrow.Field
	var want []string
	for _, tt := range tests {
		fields = append(fields, arrow.Field{Name: tt.name, Type: tt.typ, Nullable: true})
		want = append(want, tt.want)
	}
	sc := arrow.NewSchema(fields, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, sc)
	for i, tt := range tests {
		tt.add(b.Field(i))
		b.Field(i).AppendNull()
	}
	rec := b.NewRecord()
	for _, compress := range []ipc.Option{ipc.WithMinSpaceSavings(0), ipc.WithZstd(), ipc.WithLZ4()} {
		var buf bytes.Buffer
		w := ipc.NewWriter(&buf, ipc.WithSchema(sc), compress)
		if err := w.Write(rec); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		r, err := OpenStream(&buf)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff([][]string{want, make([]string, len(want))}, all(t, r)); d != "" {
			t.Error(d)
		}
		if d := cmp.Diff([]string{universal("no zone"), notRead("list")}, r.Notes()); d != "" {
			t.Error(d)
		}
	}
}
