package columnar

import (
	"encoding/binary"
	"errors"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/bitutil"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
)

// arrowReader reads record batch by record batch and hands out slices of them.
type arrowReader struct {
	next     func() (arrow.Record, error) // io.EOF at the end
	part     func() float64
	schema   *arrow.Schema
	headings []string
	wanted   selection
	notes    []string
	ended    func() bool // whether the stream had its end marker

	record arrow.Record
	cells  []textFunc
	words  []words // by column
	pos    int
}

// words are those of the dictionary of a column of texts; none if there is no such.
type words struct {
	of   arrow.ArrayData
	all  []parquet.ByteArray
	dict *Dictionary
}

// textFunc appends the text of row i, which is not missing, to dst.
type textFunc func(dst []byte, i int) []byte

// OpenFile reads an Arrow IPC file of that size.
func OpenFile(r io.ReaderAt, size int64) (_ Reader, err error) {
	defer guard(&err)
	if err := checkFooter(r, size); err != nil {
		return nil, err
	}
	f, err := ipc.NewFileReader(io.NewSectionReader(r, 0, size), ipc.WithAllocator(newAllocator()))
	if err != nil {
		return nil, err
	}
	i := 0
	a := newArrowReader(f.Schema())
	a.next = func() (arrow.Record, error) {
		if i == f.NumRecords() {
			return nil, io.EOF
		}
		i++
		return f.RecordAt(i - 1)
	}
	a.part = func() float64 { return float64(i) / float64(f.NumRecords()) }
	return a, nil
}

// OpenStream reads an Arrow IPC stream.
func OpenStream(r io.Reader) (_ Reader, err error) {
	defer guard(&err)
	m := &messages{r: r}
	s, err := ipc.NewReaderFromMessageReader(m, ipc.WithAllocator(newAllocator()))
	if err != nil {
		return nil, err
	}
	a := newArrowReader(s.Schema())
	a.next = func() (arrow.Record, error) {
		if s.Next() {
			r := s.Record()
			r.Retain() // chunks outlive the next call
			return r, nil
		}
		if s.Err() != nil {
			return nil, s.Err()
		}
		return nil, io.EOF
	}
	a.part = func() float64 { return 0 }
	a.ended = func() bool { return m.marked }
	return a, nil
}

func newArrowReader(sc *arrow.Schema) *arrowReader {
	a := &arrowReader{schema: sc, wanted: newSelection(sc.NumFields()), words: make([]words, sc.NumFields())}
	for _, f := range sc.Fields() {
		name := strings.TrimSpace(f.Name)
		a.headings = append(a.headings, name)
		if t, ok := f.Type.(*arrow.TimestampType); ok && t.TimeZone != "" {
			if _, err := time.LoadLocation(t.TimeZone); err != nil {
				a.notes = append(a.notes, universal(name))
			}
		}
		if !arrowReadable(f.Type) {
			a.notes = append(a.notes, notRead(name))
		}
	}
	return a
}

func (a *arrowReader) About(key string) (string, bool) { return a.schema.Metadata().GetValue(key) }

func (a *arrowReader) Headings() []string   { return a.headings }
func (a *arrowReader) Select(columns []int) { a.wanted.set(columns) }
func (a *arrowReader) Part() float64        { return a.part() }

func (a *arrowReader) Notes() []string { return a.notes }

func (a *arrowReader) Next(c *Chunk) (err error) {
	defer guard(&err)
	c.start(len(a.headings))
	for a.record == nil || a.pos == int(a.record.NumRows()) {
		if a.record, err = a.next(); err != nil {
			if err == io.EOF && a.ended != nil && !a.ended() {
				a.ended = nil
				a.notes = append(a.notes, "the Arrow stream stops without its end marker; rows may be missing at the end")
			}
			a.record = nil
			return err
		}
		if a.record.NumRows() > maxBuffer {
			return errDescription
		}
		a.pos = 0
		a.cells = make([]textFunc, len(a.headings))
		for i := range a.headings {
			if a.wanted[i] {
				a.cells[i] = textOf(a.record.Column(i))
				a.words[i].learn(a.record.Column(i))
			}
		}
	}
	n := min(chunkRows, int(a.record.NumRows())-a.pos)
	for i, f := range a.cells {
		if f == nil {
			continue
		}
		c.Columns[i] = arrowColumn{a.record.Column(i), a.pos, f}
		if run, err := keep(c.reuse[i], a.record.Column(i), a.pos, n, &a.words[i]); run != nil && err == nil {
			c.Columns[i], c.reuse[i] = run, run
		}
	}
	c.end(n)
	a.pos += n
	return nil
}

// arrowColumn is a run of an Arrow array from a row on.
type arrowColumn struct {
	array arrow.Array
	from  int
	text  textFunc
}

func (c arrowColumn) Text(i int, scratch []byte) (cell, more []byte) {
	i += c.from
	if c.array.IsNull(i) {
		return nil, scratch
	}
	from := len(scratch)
	scratch = c.text(scratch, i)
	return scratch[from:], scratch
}

// keep takes n values of an array from a row on into a column that was used before, if its
// values can be kept; nil if not. A damaged array gives an error; which of its rows are
// damaged, an arrowColumn finds.
func keep(used Column, arr arrow.Array, from, n int, w *words) (c Column, err error) {
	defer guard(&err)
	switch a := arr.(type) {
	case *array.Date32:
		days, ok := used.(*Days)
		if !ok {
			days = &Days{values[int32]{append: dayText}}
		}
		days.keep(arr, from, n, func(i int) int32 { return int32(a.Value(i)) })
		return days, nil
	case *array.Int8:
		return keepWholes(used, arr, from, n, a.Int8Values()), nil
	case *array.Int16:
		return keepWholes(used, arr, from, n, a.Int16Values()), nil
	case *array.Int32:
		return keepWholes(used, arr, from, n, a.Int32Values()), nil
	case *array.Int64:
		return keepWholes(used, arr, from, n, a.Int64Values()), nil
	}
	text := textsIn(arr)
	if text == nil {
		return nil, nil
	}
	texts, ok := used.(*Texts)
	if !ok {
		texts = new(Texts)
	}
	if w.dict == nil {
		texts.keep(arr, from, n, text)
		return texts, nil
	}
	return texts, texts.code(arr.(*array.Dictionary), from, n, w)
}

// mostWords is of how many words a dictionary is known as such.
const mostWords = 1 << 16

// learn takes the words of an array's dictionary, unless they are known or damaged.
func (w *words) learn(arr arrow.Array) (err error) {
	defer guard(&err)
	a, ok := arr.(*array.Dictionary)
	if !ok || a.Data().Dictionary() == w.of {
		return nil
	}
	*w = words{of: a.Data().Dictionary()}
	dict := a.Dictionary()
	text := textsIn(dict)
	if text == nil || dict.Len() > mostWords {
		return nil
	}
	all := make([]parquet.ByteArray, dict.Len())
	for i := range all {
		if !dict.IsNull(i) {
			all[i] = text(i)
		}
	}
	w.all, w.dict = all, &Dictionary{len(all)}
	return nil
}

// code fills t with the places of n words from a row on.
func (t *Texts) code(a *array.Dictionary, from, n int, w *words) error {
	t.room(n)
	t.vals, t.coded = w.all, w.dict
	for i := range n {
		t.at[i] = -1
		if !a.IsNull(from + i) {
			k := a.GetValueIndex(from + i)
			if uint(k) >= uint(len(w.all)) {
				return errPage
			}
			t.at[i] = int32(k)
		}
	}
	return nil
}

// keep fills v with n values from a row on.
func (v *values[T]) keep(arr arrow.Array, from, n int, value func(i int) T) {
	v.room(n)
	v.vals, v.coded = v.own, nil
	missing, offset := arr.NullBitmapBytes(), arr.Data().Offset()
	for i := range n {
		v.at[i] = -1
		if len(missing) == 0 || bitutil.BitIsSet(missing, offset+from+i) {
			v.vals[i], v.at[i] = value(from+i), int32(i)
		}
	}
}

func keepWholes[T int8 | int16 | int32 | int64](used Column, arr arrow.Array, from, n int, numbers []T) Column {
	wholes, ok := used.(*Wholes)
	if !ok {
		wholes = &Wholes{values[int64]{append: wholeText}}
	}
	wholes.keep(arr, from, n, func(i int) int64 { return int64(numbers[i]) })
	return wholes
}

// textsIn gives the bytes of the values of an array of texts; nil for another.
func textsIn(arr arrow.Array) func(i int) parquet.ByteArray {
	switch a := arr.(type) {
	case *array.String:
		return between(a.ValueOffsets(), a.Data().Buffers()[2])
	case *array.LargeString:
		return between(a.ValueOffsets(), a.Data().Buffers()[2])
	case *array.Dictionary:
		words := a.Dictionary()
		text := textsIn(words)
		if text == nil {
			return nil
		}
		return func(i int) parquet.ByteArray {
			if k := a.GetValueIndex(i); !words.IsNull(k) {
				return text(k)
			}
			return nil
		}
	}
	return nil
}

// between are the texts between offsets into a buffer, which is nil where all are empty.
func between[T int32 | int64](offsets []T, buffer *memory.Buffer) func(i int) parquet.ByteArray {
	var data []byte
	if buffer != nil {
		data = buffer.Bytes()
	}
	return func(i int) parquet.ByteArray { return data[offsets[i]:offsets[i+1]] }
}

// arrowReadable reports whether textOf knows the type.
func arrowReadable(t arrow.DataType) bool {
	switch t := t.(type) {
	case *arrow.DictionaryType:
		return arrowReadable(t.ValueType)
	case arrow.ExtensionType:
		return arrowReadable(t.StorageType())
	case arrow.NestedType:
		return false
	}
	switch t.ID() {
	case arrow.INTERVAL_MONTHS, arrow.INTERVAL_DAY_TIME, arrow.INTERVAL_MONTH_DAY_NANO, arrow.DURATION:
		return false
	}
	return true
}

// textOf chooses how an array's values become text; nil if they cannot.
func textOf(arr arrow.Array) textFunc {
	switch a := arr.(type) {
	case *array.String:
		return func(dst []byte, i int) []byte { return appendText(dst, a.Value(i)) }
	case *array.LargeString:
		return func(dst []byte, i int) []byte { return appendText(dst, a.Value(i)) }
	case *array.StringView:
		return func(dst []byte, i int) []byte { return appendText(dst, a.Value(i)) }
	case *array.Binary:
		return func(dst []byte, i int) []byte { return append(dst, Valid(a.Value(i))...) }
	case *array.LargeBinary:
		return func(dst []byte, i int) []byte { return append(dst, Valid(a.Value(i))...) }
	case *array.BinaryView:
		return func(dst []byte, i int) []byte { return append(dst, Valid(a.Value(i))...) }
	case *array.FixedSizeBinary:
		return func(dst []byte, i int) []byte { return append(dst, Valid(a.Value(i))...) }
	case *array.Boolean:
		return func(dst []byte, i int) []byte { return appendBool(dst, a.Value(i)) }
	case *array.Int8:
		return signed(a.Int8Values())
	case *array.Int16:
		return signed(a.Int16Values())
	case *array.Int32:
		return signed(a.Int32Values())
	case *array.Int64:
		return signed(a.Int64Values())
	case *array.Uint8:
		return unsigned(a.Uint8Values())
	case *array.Uint16:
		return unsigned(a.Uint16Values())
	case *array.Uint32:
		return unsigned(a.Uint32Values())
	case *array.Uint64:
		return unsigned(a.Uint64Values())
	case *array.Float16:
		return func(dst []byte, i int) []byte { return appendFloat(dst, float64(a.Value(i).Float32()), 32) }
	case *array.Float32:
		return func(dst []byte, i int) []byte { return appendFloat(dst, float64(a.Value(i)), 32) }
	case *array.Float64:
		return func(dst []byte, i int) []byte { return appendFloat(dst, a.Value(i), 64) }
	case *array.Decimal128:
		scale := a.DataType().(*arrow.Decimal128Type).Scale
		return func(dst []byte, i int) []byte {
			return appendScaled(a.Value(i).BigInt().Append(dst, 10), len(dst), int(scale))
		}
	case *array.Decimal256:
		scale := a.DataType().(*arrow.Decimal256Type).Scale
		return func(dst []byte, i int) []byte {
			return appendScaled(a.Value(i).BigInt().Append(dst, 10), len(dst), int(scale))
		}
	case *array.Dictionary:
		words := a.Dictionary()
		text := textOf(words)
		if text == nil {
			return nil
		}
		return func(dst []byte, i int) []byte {
			k := a.GetValueIndex(i)
			if words.IsNull(k) {
				return dst
			}
			return text(dst, k)
		}
	case array.ExtensionArray:
		return textOf(a.Storage())
	}
	return timeOf(arr)
}

// timeOf is textOf for days and times.
func timeOf(arr arrow.Array) textFunc {
	switch a := arr.(type) {
	case *array.Date32:
		return func(dst []byte, i int) []byte { return appendDate(dst, int64(a.Value(i))) }
	case *array.Date64:
		return func(dst []byte, i int) []byte { return appendMoment(dst, int64(a.Value(i)), 1e3, nil) }
	case *array.Timestamp:
		t := a.DataType().(*arrow.TimestampType)
		per := int64(time.Second / t.Unit.Multiplier())
		zone, err := time.LoadLocation(t.TimeZone)
		if t.TimeZone == "" || err != nil {
			zone = nil
		}
		return func(dst []byte, i int) []byte { return appendMoment(dst, int64(a.Value(i)), per, zone) }
	case *array.Time32:
		per := int64(time.Second / a.DataType().(*arrow.Time32Type).Unit.Multiplier())
		return func(dst []byte, i int) []byte { return appendTime(dst, int64(a.Value(i)), per) }
	case *array.Time64:
		per := int64(time.Second / a.DataType().(*arrow.Time64Type).Unit.Multiplier())
		return func(dst []byte, i int) []byte { return appendTime(dst, int64(a.Value(i)), per) }
	}
	return nil
}

func appendText(dst []byte, s string) []byte {
	from := len(dst)
	dst = append(dst, s...)
	return append(dst[:from], Valid(dst[from:])...)
}

func signed[T int8 | int16 | int32 | int64](v []T) textFunc {
	return func(dst []byte, i int) []byte { return strconv.AppendInt(dst, int64(v[i]), 10) }
}

func unsigned[T uint8 | uint16 | uint32 | uint64](v []T) textFunc {
	return func(dst []byte, i int) []byte { return strconv.AppendUint(dst, uint64(v[i]), 10) }
}

// messages frames the messages of a stream. Arrow's own reader takes a stream
// cut off between a message's head and its body for complete and believes any
// length; this one refuses both.
type messages struct {
	r      io.Reader
	marked bool // the end marker was read
}

const maxHead = 64 << 20 // longest head of a message

var (
	errFrame = errors.New("not a message of an Arrow stream")
	errCut   = errors.New("the stream is cut short")
)

func (m *messages) Message() (*ipc.Message, error) {
	var frame [8]byte
	if _, err := io.ReadFull(m.r, frame[:]); err == io.EOF {
		return nil, io.EOF
	} else if err != nil {
		return nil, cutShort(err)
	}
	n := int32(binary.LittleEndian.Uint32(frame[4:]))
	switch {
	case binary.LittleEndian.Uint32(frame[:]) != 0xFFFFFFFF, n < 0, n > maxHead:
		return nil, errFrame
	case n == 0:
		m.marked = true
		return nil, io.EOF
	}
	head := make([]byte, n)
	if _, err := io.ReadFull(m.r, head); err != nil {
		return nil, cutShort(err)
	}
	if err := checkMessage(head); err != nil {
		return nil, err
	}
	meta := memory.NewBufferBytes(head)
	size := ipc.NewMessage(meta, memory.NewBufferBytes(nil)).BodyLen()
	if size < 0 || size > maxBuffer {
		return nil, errFrame
	}
	body := make([]byte, size)
	if _, err := io.ReadFull(m.r, body); err != nil {
		return nil, cutShort(err)
	}
	return ipc.NewMessage(meta, memory.NewBufferBytes(body)), nil
}

// cutShort keeps the end of the data from passing for the end of the stream.
func cutShort(err error) error {
	if err == io.EOF || err == io.ErrUnexpectedEOF {
		return errCut
	}
	return err
}

func (m *messages) Retain()  {}
func (m *messages) Release() {}
