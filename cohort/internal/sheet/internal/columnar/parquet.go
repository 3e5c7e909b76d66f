package columnar

import (
	"fmt"
	"io"
	"math/big"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

// parquetReader reads row group by row group, a chunk of each column at a time.
type parquetReader struct {
	f        *file.Reader
	size     int64
	columns  []*schema.Column
	headings []string
	wanted   selection
	notes    []string

	group   int // next row group
	left    int64
	done    int64
	readers []file.ColumnChunkReader
}

// OpenParquet reads a Parquet file of that size.
func OpenParquet(r io.ReaderAt, size int64) (_ Reader, err error) {
	defer guard(&err)
	props := parquet.NewReaderProperties(newAllocator())
	props.BufferedStreamEnabled = true // pages one by one, not whole column chunks
	f, err := file.NewParquetReader(io.NewSectionReader(r, 0, size), file.WithReadProps(props))
	if err != nil {
		return nil, err
	}
	p := &parquetReader{f: f, size: size}
	sc := f.MetaData().Schema
	for i := range sc.NumColumns() {
		c := sc.Column(i)
		name := strings.TrimSpace(c.Path())
		p.columns = append(p.columns, c)
		p.headings = append(p.headings, name)
		switch {
		case !readable(c):
			p.notes = append(p.notes, notRead(name))
		case isUniversal(c):
			p.notes = append(p.notes, universal(name))
		}
	}
	p.wanted = newSelection(len(p.columns))
	p.readers = make([]file.ColumnChunkReader, len(p.columns))
	return p, p.checkExtents()
}

// checkExtents makes sure that every column chunk lies within the file and
// is not encrypted.
func (p *parquetReader) checkExtents() error {
	for g := range p.f.NumRowGroups() {
		meta := p.f.RowGroup(g).MetaData()
		if meta.NumColumns() != len(p.columns) {
			return fmt.Errorf("row group %d has %d of %d columns", g+1, meta.NumColumns(), len(p.columns))
		}
		for i := range p.columns {
			c, err := meta.ColumnChunk(i)
			if err != nil {
				return err
			}
			if c.CryptoMetadata() != nil {
				return fmt.Errorf("%w: encryption", ErrUnsupported)
			}
			at, n := c.DataPageOffset(), c.TotalCompressedSize()
			if at < 0 || n < 0 || at > p.size || n > p.size {
				return fmt.Errorf("row group %d lies outside the file", g+1)
			}
		}
	}
	return nil
}

func readable(c *schema.Column) bool {
	if c.MaxRepetitionLevel() > 0 {
		return false
	}
	_, interval := c.LogicalType().(schema.IntervalLogicalType)
	return !interval
}

func isUniversal(c *schema.Column) bool {
	t, ok := c.LogicalType().(*schema.TimestampLogicalType)
	return ok && t.IsAdjustedToUTC()
}

func (p *parquetReader) Headings() []string   { return p.headings }
func (p *parquetReader) Select(columns []int) { p.wanted.set(columns) }

func (p *parquetReader) Notes() []string { return p.notes }

func (p *parquetReader) About(key string) (string, bool) {
	if v := p.f.MetaData().KeyValueMetadata().FindValue(key); v != nil {
		return *v, true
	}
	return "", false
}

func (p *parquetReader) Part() float64 {
	if n := p.f.NumRows(); n > 0 {
		return float64(p.done) / float64(n)
	}
	return 1
}

func (p *parquetReader) Next(c *Chunk) (err error) {
	defer guard(&err)
	c.start(len(p.columns))
	for p.left == 0 {
		if p.group == p.f.NumRowGroups() {
			if p.done != p.f.NumRows() {
				return errShort
			}
			return io.EOF
		}
		if err := p.openGroup(); err != nil {
			return err
		}
	}
	n := int(min(chunkRows, p.left))
	for i, r := range p.readers {
		if r == nil {
			continue
		}
		if c.reuse[i] == nil {
			c.reuse[i] = newValues(p.columns[i])
		}
		if err := c.reuse[i].(loader).load(r, n); err != nil {
			return err
		}
		c.Columns[i] = c.reuse[i]
	}
	c.end(n)
	p.left -= int64(n)
	p.done += int64(n)
	return nil
}

func (p *parquetReader) openGroup() error {
	group := p.f.RowGroup(p.group)
	p.group++
	p.left = group.NumRows()
	if p.left < 0 {
		return errShort
	}
	for i, c := range p.columns {
		p.readers[i] = nil
		if p.wanted[i] && readable(c) && p.left > 0 {
			r, err := p.column(group, i)
			if err != nil {
				return err
			}
			p.readers[i] = r
		}
	}
	return nil
}

// loader is a Column that can be filled from a column reader.
type loader interface {
	Column
	load(r file.ColumnChunkReader, n int) error
}

// batchReader is what the typed column readers have in common.
type batchReader[T any] interface {
	ReadBatch(n int64, values []T, defLevels, repLevels []int16) (int64, int, error)
	Err() error
}

func (v *values[T]) load(r file.ColumnChunkReader, n int) error {
	v.room(n)
	got, err := readBatch(r, v.vals, v.levels, v.present)
	if err != nil {
		return err
	}
	return v.place(got)
}

// load takes whole numbers of 32 bits too.
func (w *Wholes) load(r file.ColumnChunkReader, n int) error {
	if _, ok := r.(batchReader[int32]); !ok {
		return w.values.load(r, n)
	}
	w.room(n)
	if cap(w.narrow) < n {
		w.narrow = make([]int32, n)
	}
	got, err := readBatch(r, w.narrow[:n], w.levels, w.present)
	if err != nil {
		return err
	}
	for i, v := range w.narrow[:got] {
		w.vals[i] = int64(v)
	}
	return w.place(got)
}

// readBatch fills vals with the next of a column, of which it says how many are there;
// levels are left as they are where none can be missing.
func readBatch[T any](r file.ColumnChunkReader, vals []T, levels []int16, present int16) (got int, err error) {
	if present == 0 {
		levels = nil
	}
	br := r.(batchReader[T])
	rows, got, err := br.ReadBatch(int64(len(vals)), vals, levels, nil)
	if err == nil {
		err = br.Err()
	}
	if err == nil && rows != int64(len(vals)) {
		err = errShort
	}
	return got, err
}

// place says for each row where its value is, of so many that are there.
func (v *values[T]) place(got int) error {
	if v.present == 0 {
		return nil
	}
	k := int32(0)
	for i, l := range v.levels {
		v.at[i] = -1
		if l == v.present {
			v.at[i] = k
			k++
		}
	}
	if int(k) != got {
		return errShort
	}
	return nil
}

// newValues chooses how a column's values become text.
func newValues(c *schema.Column) Column {
	present := c.MaxDefinitionLevel()
	scale := -1
	if d, ok := c.LogicalType().(*schema.DecimalLogicalType); ok {
		scale = int(d.Scale())
	}
	switch c.PhysicalType() {
	case parquet.Types.Boolean:
		return &values[bool]{present: present, append: appendBool}
	case parquet.Types.Int32:
		if _, ok := c.LogicalType().(schema.DateLogicalType); ok {
			return &Days{values[int32]{present: present, append: dayText}}
		}
		if text := int32Text(c.LogicalType(), scale); text != nil {
			return &values[int32]{present: present, append: text}
		}
		return &Wholes{values: values[int64]{present: present, append: wholeText}}
	case parquet.Types.Int64:
		if text := int64Text(c.LogicalType(), scale); text != nil {
			return &values[int64]{present: present, append: text}
		}
		return &Wholes{values: values[int64]{present: present, append: wholeText}}
	case parquet.Types.Int96:
		return &values[parquet.Int96]{present: present, append: func(dst []byte, v parquet.Int96) []byte {
			return appendMoment(dst, v.ToTime().Unix(), 1, nil)
		}}
	case parquet.Types.Float:
		return &values[float32]{present: present, append: func(dst []byte, v float32) []byte {
			return appendFloat(dst, float64(v), 32)
		}}
	case parquet.Types.Double:
		return &values[float64]{present: present, append: func(dst []byte, v float64) []byte {
			return appendFloat(dst, v, 64)
		}}
	case parquet.Types.FixedLenByteArray:
		return &values[parquet.FixedLenByteArray]{present: present, append: fixedText(c.LogicalType(), scale)}
	}
	if scale >= 0 {
		return &values[parquet.ByteArray]{present: present, append: func(dst []byte, v parquet.ByteArray) []byte {
			return appendDecimal(dst, v, scale)
		}}
	}
	return &Texts{values[parquet.ByteArray]{present: present}}
}

// int32Text is how numbers of 32 bits become text that are no days; nil for whole numbers
// as such.
func int32Text(t schema.LogicalType, scale int) func([]byte, int32) []byte {
	switch t := t.(type) {
	case *schema.TimeLogicalType:
		return func(dst []byte, v int32) []byte { return appendTime(dst, int64(v), 1e3) }
	case *schema.IntLogicalType:
		if !t.IsSigned() {
			return func(dst []byte, v int32) []byte { return strconv.AppendUint(dst, uint64(uint32(v)), 10) }
		}
	case *schema.DecimalLogicalType:
		return func(dst []byte, v int32) []byte {
			return appendScaled(strconv.AppendInt(dst, int64(v), 10), len(dst), scale)
		}
	}
	return nil
}

// int64Text is the same for 64 bits.
func int64Text(t schema.LogicalType, scale int) func([]byte, int64) []byte {
	switch t := t.(type) {
	case *schema.TimestampLogicalType:
		per := perSecond(t.TimeUnit())
		return func(dst []byte, v int64) []byte { return appendMoment(dst, v, per, nil) }
	case *schema.TimeLogicalType:
		per := perSecond(t.TimeUnit())
		return func(dst []byte, v int64) []byte { return appendTime(dst, v, per) }
	case *schema.IntLogicalType:
		if !t.IsSigned() {
			return func(dst []byte, v int64) []byte { return strconv.AppendUint(dst, uint64(v), 10) }
		}
	case *schema.DecimalLogicalType:
		return func(dst []byte, v int64) []byte {
			return appendScaled(strconv.AppendInt(dst, v, 10), len(dst), scale)
		}
	}
	return nil
}

func fixedText(t schema.LogicalType, scale int) func([]byte, parquet.FixedLenByteArray) []byte {
	switch t.(type) {
	case *schema.DecimalLogicalType:
		return func(dst []byte, v parquet.FixedLenByteArray) []byte { return appendDecimal(dst, v, scale) }
	case schema.UUIDLogicalType:
		return func(dst []byte, v parquet.FixedLenByteArray) []byte {
			return fmt.Appendf(dst, "%x-%x-%x-%x-%x", []byte(v[:4]), []byte(v[4:6]), []byte(v[6:8]), []byte(v[8:10]), []byte(v[10:]))
		}
	}
	return func(dst []byte, v parquet.FixedLenByteArray) []byte { return append(dst, Valid(v)...) }
}

func perSecond(u schema.TimeUnitType) int64 {
	switch u {
	case schema.TimeUnitMicros:
		return int64(time.Second / time.Microsecond)
	case schema.TimeUnitNanos:
		return int64(time.Second / time.Nanosecond)
	}
	return int64(time.Second / time.Millisecond)
}

// appendDecimal appends a decimal whose digits are a big-endian whole number
// in two's complement.
func appendDecimal(dst, digits []byte, scale int) []byte {
	n := new(big.Int).SetBytes(digits)
	if len(digits) > 0 && digits[0]&0x80 != 0 {
		n.Sub(n, new(big.Int).Lsh(big.NewInt(1), uint(8*len(digits))))
	}
	from := len(dst)
	return appendScaled(n.Append(dst, 10), from, scale)
}
