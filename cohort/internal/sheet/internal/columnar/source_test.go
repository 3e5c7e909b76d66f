package columnar

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
	"github.com/google/go-cmp/cmp"
)

// pagesTable is an invented table of columns that may be read without Arrow, in pages of
// every kind that its writer knows. Where the writer fails, as Arrow v17's does of the
// differences in about one table in 100, all pages that have no dictionary are plain.
func pagesTable(t *testing.T, seed uint64) []byte {
	t.Helper()
	data, err := pagesWritten(rand.New(rand.NewPCG(seed, 1)), false)
	if err != nil {
		data, err = pagesWritten(rand.New(rand.NewPCG(seed, 1)), true)
	}
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func pagesWritten(r *rand.Rand, plain bool) ([]byte, error) {
	optional, required := parquet.Repetitions.Optional, parquet.Repetitions.Required
	props := []parquet.WriterProperty{
		parquet.WithDictionaryDefault(r.IntN(3) > 0), parquet.WithDictionaryPageSizeLimit(1 << r.IntN(14)),
		parquet.WithDataPageSize(1 << (4 + r.IntN(12))),
		parquet.WithCompression([]compress.Compression{compress.Codecs.Uncompressed, compress.Codecs.Snappy}[r.IntN(2)]),
		parquet.WithDataPageVersion([]parquet.DataPageVersion{parquet.DataPageV1, parquet.DataPageV2}[r.IntN(2)]),
	}
	var fields, inner schema.FieldList
	for i := range 1 + r.IntN(8) {
		repetition := []parquet.Repetition{optional, required}[r.IntN(2)]
		name := fmt.Sprint("c", i)
		var n schema.Node
		encoding := parquet.Encodings.Plain
		switch r.IntN(5) {
		case 0:
			n = schema.NewByteArrayNode(name, repetition, -1)
			encoding = []parquet.Encoding{encoding, parquet.Encodings.DeltaByteArray, parquet.Encodings.DeltaLengthByteArray}[r.IntN(3)]
		case 1:
			n = schema.NewInt32Node(name, repetition, -1)
			encoding = []parquet.Encoding{encoding, parquet.Encodings.DeltaBinaryPacked}[r.IntN(2)]
		case 2:
			n = schema.NewInt64Node(name, repetition, -1)
			encoding = []parquet.Encoding{encoding, parquet.Encodings.DeltaBinaryPacked}[r.IntN(2)]
		case 3:
			n = schema.NewFloat64Node(name, repetition, -1)
		case 4:
			n = schema.Must(schema.NewPrimitiveNodeLogical(name, repetition, schema.DateLogicalType{}, parquet.Types.Int32, 0, -1))
		}
		if r.IntN(4) == 0 {
			inner, name = append(inner, n), "within."+name
		} else {
			fields = append(fields, n)
		}
		if plain {
			encoding = parquet.Encodings.Plain
		}
		props = append(props, parquet.WithEncodingFor(name, encoding))
	}
	if len(inner) > 0 { // whose values are at level 1 or 2
		fields = append(fields, schema.Must(schema.NewGroupNode("within", optional, inner, -1)))
	}
	root := schema.MustGroup(schema.NewGroupNode("table", required, fields, -1))
	var b bytes.Buffer
	w := file.NewParquetWriter(&b, root, file.WithWriterProps(parquet.NewWriterProperties(props...)))
	for range r.IntN(3) {
		if err := pagesGroup(r, w.AppendRowGroup(), 1+r.IntN(10)*(1+r.IntN(400))); err != nil {
			return nil, err
		}
	}
	err := w.Close()
	return b.Bytes(), err
}

// pagesGroup writes a row group: few different values or many, missing now and then or in runs.
func pagesGroup(r *rand.Rand, g file.SerialRowGroupWriter, rows int) error {
	for range g.NumColumns() {
		c, err := g.NextColumn()
		if err != nil {
			return err
		}
		present := c.Descr().MaxDefinitionLevel()
		run, different := 1+r.IntN(50), int64(1)<<r.IntN(12)
		for from := 0; from < rows; { // a page ends where a part that is written does
			part := min(1+r.IntN(1500), rows-from)
			from += part
			var levels []int16
			var numbers []int64
			for i := range part {
				if present > 0 && i%run == 0 {
					levels = append(levels, int16(r.IntN(int(present)+1)))
				} else if present > 0 {
					levels = append(levels, levels[i-1])
				}
				if present == 0 || levels[i] == present {
					numbers = append(numbers, r.Int64N(different)+int64(r.IntN(100)/99)<<62)
				}
			}
			if err := pagesPart(c, numbers, levels); err != nil {
				return err
			}
		}
		if err := c.Close(); err != nil {
			return err
		}
	}
	return g.Close()
}

func pagesPart(c file.ColumnChunkWriter, numbers []int64, levels []int16) (err error) {
	switch w := c.(type) {
	case *file.ByteArrayColumnChunkWriter:
		_, err = w.WriteBatch(each(numbers, func(n int64) parquet.ByteArray { return fmt.Appendf(nil, "%.*d", n%19, n) }), levels, nil)
	case *file.Int32ColumnChunkWriter:
		_, err = w.WriteBatch(each(numbers, func(n int64) int32 { return int32(n ^ n>>40) }), levels, nil)
	case *file.Int64ColumnChunkWriter:
		_, err = w.WriteBatch(numbers, levels, nil)
	case *file.Float64ColumnChunkWriter:
		_, err = w.WriteBatch(each(numbers, func(n int64) float64 { return float64(n) / 8 }), levels, nil)
	}
	return err
}

func each[T any](numbers []int64, value func(int64) T) []T {
	var all []T
	for _, n := range numbers {
		all = append(all, value(n))
	}
	return all
}

// pagesRead is the text of a table, column by column, read by Arrow or not.
func pagesRead(data []byte, byArrow bool) ([][]string, error) {
	r, err := OpenParquet(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	r.(*parquetReader).byArrow = byArrow
	out := make([][]string, len(r.Headings()))
	var c Chunk
	for rows := 0; rows < 1<<16; rows += c.Rows {
		if err := r.Next(&c); err == io.EOF {
			break
		} else if err != nil {
			return nil, err
		}
		for k := range out {
			for i := range c.Rows {
				cell, _ := c.Text(k, i, nil)
				out[k] = append(out[k], fmt.Sprintf("%q %v", cell, cell == nil))
			}
		}
	}
	return out, nil
}

// Pages are read as Arrow reads them. Damaged ones are refused, or read alike too.
func pagesAlike(t *testing.T, seed uint64, damages []byte) {
	data := pagesTable(t, seed)
	for i := 0; i+2 < len(damages); i += 3 {
		data[(int(damages[i])<<8|int(damages[i+1]))%len(data)] ^= damages[i+2]
	}
	got, err := pagesRead(data, false)
	want, wantErr := pagesRead(data, true)
	if len(damages) < 3 && (err != nil || wantErr != nil) {
		t.Fatalf("%v; Arrow: %v", err, wantErr)
	}
	if err != nil || wantErr != nil {
		return
	}
	for i := range want {
		if !slices.Equal(got[i], want[i]) {
			t.Errorf("seed %d, column %d: −Arrow +own\n%s", seed, i, cmp.Diff(want[i], got[i]))
		}
	}
}

func TestPagesAreReadAsArrowReadsThem(t *testing.T) {
	for seed := range uint64(40) {
		pagesAlike(t, seed, nil)
	}
}

func FuzzPages(f *testing.F) {
	f.Add(uint64(1), []byte{})
	f.Add(uint64(2), []byte{0, 9, 1, 1, 40, 255})
	f.Add(uint64(595), []byte{})         // whose differences Arrow cannot write
	f.Add(uint64(436), []byte("12\xc9")) // the beginning of a page of texts that are never missing: Arrow read on for ever
	f.Fuzz(pagesAlike)
}
