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
	sources []source
	byArrow bool // for tests: Arrow reads all pages
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
	p.sources = make([]source, len(p.columns))
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
	n, err := p.load(c)
	if err == io.EOF { // of a page, and not of the table
		err = errShort
	}
	if err != nil {
		return err
	}
	c.end(n)
	p.left -= int64(n)
	p.done += int64(n)
	return nil
}

// load puts as many of the row group's next rows into c as can be had at once.
func (p *parquetReader) load(c *Chunk) (rows int, err error) {
	rows = int(min(chunkRows, p.left))
	for _, s := range p.sources {
		if s != nil {
			ready, err := s.ready()
			if err != nil {
				return 0, err
			}
			rows = min(rows, ready)
		}
	}
	for i, s := range p.sources {
		if s == nil {
			continue
		}
		if c.reuse[i] == nil {
			c.reuse[i] = newValues(p.columns[i])
		}
		if err := s.load(c.reuse[i], rows); err != nil {
			return 0, err
		}
		c.Columns[i] = c.reuse[i]
	}
	return rows, nil
}

func (p *parquetReader) openGroup() error {
	group := p.f.RowGroup(p.group)
	p.group++
	p.left = group.NumRows()
	if p.left < 0 {
		return errShort
	}
	for i, c := range p.columns {
		p.sources[i] = nil
		if p.wanted[i] && readable(c) && p.left > 0 {
			pages, err := group.GetColumnPageReader(i)
			if err != nil {
				return err
			}
			p.sources[i] = newValues(c).source(pages, c, p.f.BufferPool(), p.byArrow)
		}
	}
	return nil
}

// newValues chooses how a column's values are read and become text.
func newValues(c *schema.Column) loader {
	scale := -1
	if d, ok := c.LogicalType().(*schema.DecimalLogicalType); ok {
		scale = int(d.Scale())
	}
	switch c.PhysicalType() {
	case parquet.Types.Boolean:
		return &values[bool]{append: appendBool}
	case parquet.Types.Int32:
		if _, ok := c.LogicalType().(schema.DateLogicalType); ok {
			return &Days{values[int32]{plain: sized(4, int32Of), append: dayText}}
		}
		if text := int32Text(c.LogicalType(), scale); text != nil {
			return &values[int32]{plain: sized(4, int32Of), append: text}
		}
		return &Wholes{values[int64]{plain: sized(4, wideOf), append: wholeText}}
	case parquet.Types.Int64:
		if text := int64Text(c.LogicalType(), scale); text != nil {
			return &values[int64]{plain: sized(8, int64Of), append: text}
		}
		return &Wholes{values[int64]{plain: sized(8, int64Of), append: wholeText}}
	case parquet.Types.Int96:
		return &values[parquet.Int96]{append: func(dst []byte, v parquet.Int96) []byte {
			return appendMoment(dst, v.ToTime().Unix(), 1, nil)
		}}
	case parquet.Types.Float:
		return &values[float32]{append: func(dst []byte, v float32) []byte {
			return appendFloat(dst, float64(v), 32)
		}}
	case parquet.Types.Double:
		return &values[float64]{plain: sized(8, float64Of), append: func(dst []byte, v float64) []byte {
			return appendFloat(dst, v, 64)
		}}
	case parquet.Types.FixedLenByteArray:
		return &values[parquet.FixedLenByteArray]{append: fixedText(c.LogicalType(), scale)}
	}
	if scale >= 0 {
		return &values[parquet.ByteArray]{append: func(dst []byte, v parquet.ByteArray) []byte {
			return appendDecimal(dst, v, scale)
		}}
	}
	return &Texts{values[parquet.ByteArray]{plain: plainTexts}}
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
