package columnar

import (
	"encoding/binary"
	"math"
	"sync"

	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
)

// source gives the cells of one column of a row group.
type source interface {
	// ready says how many of the next rows can be had at once.
	ready() (rows int, err error)
	// load puts the next n of them into a column of the source's type.
	load(to Column, n int) error
}

// loader is a column that can be loaded from a source.
type loader interface {
	Column
	source(in file.PageReader, c *schema.Column, pool *sync.Pool, byArrow bool) source
}

// pages is a source of values that stand in its pages as they are, or as numbers of words
// in a dictionary. A page that is written otherwise is left to Arrow's reader, as is what follows.
type pages[T any] struct {
	file.PageReader
	column *schema.Column
	pool   *sync.Pool
	plain  func(to []T, data []byte) (rest []byte, err error)

	left    int    // rows of the page in hand
	present int32  // definition level of a value that is present
	levels  runs   // of the page, if values can be missing
	plainly []byte // values as they are
	numbers runs   // or of words
	coded   bool   // are they?
	words   []T
	dict    *Dictionary
	learnt  *file.DictionaryPage // the words
	level   []int32              // scratch
	rest    *byArrow[T]          // once Arrow has taken over
}

// source is that of such a column's values in its pages.
func (v *values[T]) source(in file.PageReader, c *schema.Column, pool *sync.Pool, byArrow bool) source {
	p := &pages[T]{PageReader: in, column: c, pool: pool, plain: v.plain, present: int32(c.MaxDefinitionLevel())}
	if byArrow || v.plain == nil {
		p.leave()
	} else {
		p.level = make([]int32, chunkRows)
	}
	return p
}

func (p *pages[T]) ready() (rows int, err error) {
	for p.left == 0 && p.rest == nil {
		if !p.Next() {
			if err := p.Err(); err != nil {
				return 0, err
			}
			return 0, errShort
		}
		if err := p.open(p.Page()); err != nil {
			return 0, err
		}
	}
	if p.rest != nil {
		return chunkRows, nil
	}
	return p.left, nil
}

// open begins a page.
func (p *pages[T]) open(page file.Page) error {
	switch d := page.(type) {
	case *file.DictionaryPage:
		return p.learn(d)
	case *file.DataPageV1, *file.DataPageV2:
	default:
		return nil
	}
	levels, data, known := parts(page, int16(p.present))
	switch parquet.Encoding(page.Encoding()) {
	case parquet.Encodings.Plain:
		p.coded, p.plainly = false, data
	case parquet.Encodings.PlainDict, parquet.Encodings.RLEDict:
		p.coded, p.numbers = true, runs{}
		if len(data) > 0 {
			p.numbers = runs{data: data[1:], width: int(data[0])}
		}
		if p.numbers.width > 32 {
			return errPage
		}
	default:
		known = false
	}
	if !known {
		p.leave(page)
		return nil
	}
	if p.left = int(page.NumValues()); p.left == 0 {
		return errShort
	}
	p.levels = runs{data: levels, width: levelBits(int16(p.present))}
	return nil
}

// learn takes the words of a dictionary.
func (p *pages[T]) learn(d *file.DictionaryPage) (err error) {
	n, encoding := d.NumValues(), parquet.Encoding(d.Encoding())
	if p.learnt != nil || encoding != parquet.Encodings.Plain && encoding != parquet.Encodings.PlainDict {
		return errPage
	}
	p.learnt = file.NewDictionaryPage(memory.NewBufferBytes(d.Data()), n, encoding)
	if int(n) > len(d.Data()) {
		return errPage
	}
	p.words, p.dict = make([]T, n), &Dictionary{int(n)}
	_, err = p.plain(p.words, d.Data())
	return err
}

func (p *pages[T]) load(to Column, n int) error {
	v := to.(interface{ all() *values[T] }).all()
	v.room(n)
	if p.rest != nil {
		return p.rest.load(v, n)
	}
	p.left -= n
	level, got := p.level[:n], n
	if p.present > 0 && !p.levels.pass(n, p.present) {
		if err := p.levels.read(level); err != nil {
			return err
		}
		got = 0
		for _, l := range level {
			if l == p.present {
				got++
			}
		}
	}
	if err := p.values(v, v.at[:got]); err != nil {
		return err
	}
	for i := n - 1; i >= got; i-- { // each to its row
		if level[i] == p.present {
			got--
			v.at[i] = v.at[got]
		} else {
			v.at[i] = -1
		}
	}
	return nil
}

// values takes the next that are present, and where they are.
func (p *pages[T]) values(v *values[T], at []int32) (err error) {
	if v.coded = nil; !p.coded {
		for i := range at {
			at[i] = int32(i)
		}
		v.vals = v.own[:len(at)]
		p.plainly, err = p.plain(v.vals, p.plainly)
		return err
	}
	v.vals, v.coded = p.words, p.dict
	if err := p.numbers.read(at); err != nil {
		return err
	}
	for _, k := range at {
		if uint(k) >= uint(len(p.words)) {
			return errPage
		}
	}
	return nil
}

// sized reads values of a number of bytes each.
func sized[T any](size int, value func(b []byte) T) func(to []T, data []byte) (rest []byte, err error) {
	return func(to []T, data []byte) (rest []byte, err error) {
		if len(data) < size*len(to) {
			return nil, errPage
		}
		for i := range to {
			to[i] = value(data[i*size : (i+1)*size])
		}
		return data[size*len(to):], nil
	}
}

func int32Of(b []byte) int32     { return int32(binary.LittleEndian.Uint32(b)) }
func int64Of(b []byte) int64     { return int64(binary.LittleEndian.Uint64(b)) }
func wideOf(b []byte) int64      { return int64(int32Of(b)) }
func float64Of(b []byte) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(b)) }

// plainTexts reads texts with their lengths before them.
func plainTexts(to []parquet.ByteArray, data []byte) (rest []byte, err error) {
	for i := range to {
		if len(data) < 4 {
			return nil, errPage
		}
		n := int(binary.LittleEndian.Uint32(data))
		if data = data[4:]; n > len(data) {
			return nil, errPage
		}
		to[i], data = data[:n], data[n:]
	}
	return data, nil
}

// byArrow is what Arrow reads of a column.
type byArrow[T any] struct {
	reader  batchReader[T]
	present int16
	level   [chunkRows]int16
}

// batchReader is what Arrow's readers of columns have in common.
type batchReader[T any] interface {
	ReadBatch(n int64, values []T, defLevels, repLevels []int16) (int64, int, error)
	Err() error
}

// leave leaves the pages in hand, and what follows them, to Arrow.
func (p *pages[T]) leave(inHand ...file.Page) {
	if p.learnt != nil {
		inHand = append([]file.Page{p.learnt}, inHand...)
	}
	column, in := p.column, file.PageReader(&again{PageReader: p.PageReader, pages: inHand})
	if p.present == 0 {
		column, in = schema.NewColumn(column.SchemaNode().(*schema.PrimitiveNode), 1, 0), &levelled{PageReader: in}
	}
	checked := &checkedPages{PageReader: in, maxLevel: column.MaxDefinitionLevel()}
	p.rest = &byArrow[T]{present: column.MaxDefinitionLevel()}
	switch r := file.NewColumnReader(column, checked, newAllocator(), p.pool).(type) {
	case batchReader[T]:
		p.rest.reader = r
	case *file.Int32ColumnChunkReader:
		p.rest.reader = any(&widened{Int32ColumnChunkReader: r}).(batchReader[T])
	}
}

func (b *byArrow[T]) load(v *values[T], n int) error {
	v.vals, v.coded = v.own[:n], nil
	rows, got, err := b.reader.ReadBatch(int64(n), v.vals, b.level[:n], nil)
	if err == nil {
		err = b.reader.Err()
	}
	if err != nil {
		return err
	}
	k := int32(0)
	for i, level := range b.level[:n] {
		v.at[i] = -1
		if level == b.present {
			v.at[i] = k
			k++
		}
	}
	if rows != int64(n) || int(k) != got {
		return errShort
	}
	return nil
}

// again gives pages once more before those that follow them.
type again struct {
	file.PageReader
	pages []file.Page
	page  file.Page
}

func (a *again) Next() bool {
	if a.page = nil; len(a.pages) > 0 {
		a.page, a.pages = a.pages[0], a.pages[1:]
		return true
	}
	return a.PageReader.Next()
}

func (a *again) Page() file.Page {
	if a.page != nil {
		return a.page
	}
	return a.PageReader.Page()
}

// widened gives whole numbers of 32 bits as such of 64.
type widened struct {
	*file.Int32ColumnChunkReader
	narrow [chunkRows]int32
}

func (w *widened) ReadBatch(n int64, values []int64, defLevels, repLevels []int16) (int64, int, error) {
	rows, got, err := w.Int32ColumnChunkReader.ReadBatch(n, w.narrow[:n], defLevels, repLevels)
	for i, v := range w.narrow[:got] {
		values[i] = int64(v)
	}
	return rows, got, err
}
