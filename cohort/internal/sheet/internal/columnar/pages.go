package columnar

import (
	"encoding/binary"
	"errors"
	"math/bits"
	"slices"

	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
)

var errPage = errors.New("a page of a column is damaged")

// checkedPages looks at each page before Arrow decodes it. Arrow sets memory
// aside by the dictionary numbers it reads, so that one damaged byte can ask
// for more than there is, and reads on for ever where a page has fewer
// definition levels than it says. Format: the Parquet project's Encodings.md,
// "run length encoding / bit-packing hybrid".
type checkedPages struct {
	file.PageReader
	maxLevel int16
	words    int // values in the dictionary
	err      error
}

func (p *checkedPages) Next() bool {
	if p.err != nil || !p.PageReader.Next() {
		return false
	}
	if !p.sound(p.PageReader.Page()) {
		p.err = errPage
	}
	return p.err == nil
}

func (p *checkedPages) Err() error {
	if p.err != nil {
		return p.err
	}
	return p.PageReader.Err()
}

func (p *checkedPages) sound(page file.Page) bool {
	n := int(page.NumValues())
	switch page.(type) {
	case *file.DictionaryPage:
		p.words = n
		return true
	case *file.DataPageV1, *file.DataPageV2:
	default:
		return true
	}
	levels, data, inRuns := parts(page, p.maxLevel)
	if p.maxLevel > 0 && inRuns && countRuns(levels, levelBits(p.maxLevel)) < n {
		return false
	}
	switch parquet.Encoding(page.Encoding()) {
	case parquet.Encodings.PlainDict, parquet.Encodings.RLEDict:
		return p.soundNumbers(data, n)
	}
	return true
}

// levelled gives the pages of a column in which nothing can be missing definition levels
// that say so. Where there are none, Arrow reads on for ever if a page has fewer values than
// it says, or has not understood its beginning.
type levelled struct {
	file.PageReader
	page file.Page
}

func (l *levelled) Next() bool {
	if !l.PageReader.Next() {
		return false
	}
	l.page = l.PageReader.Page()
	switch l.page.(type) {
	case *file.DataPageV1, *file.DataPageV2:
		_, values, _ := parts(l.page, 0)
		n := l.page.NumValues()
		levels := append(binary.AppendUvarint(nil, uint64(n)<<1), 1) // one run of ones
		data := slices.Concat(levels, values)
		l.page = file.NewDataPageV2(memory.NewBufferBytes(data), n, 0, n, parquet.Encoding(l.page.Encoding()), int32(len(levels)), 0, int32(len(data)), false)
	}
	return true
}

func (l *levelled) Page() file.Page { return l.page }

// levelBits is how many bits a definition level takes.
func levelBits(most int16) int { return bits.Len16(uint16(most)) }

// parts are the definition levels of a data page and its values. Levels that are not
// written in runs, as long ago, are left out.
func parts(page file.Page, maxLevel int16) (levels, data []byte, inRuns bool) {
	data = page.Data()
	switch d := page.(type) {
	case *file.DataPageV1:
		switch {
		case maxLevel == 0:
		case d.DefinitionLevelEncoding() != parquet.Encodings.RLE:
			return nil, data[(int(page.NumValues())*levelBits(maxLevel)+7)/8:], false
		default:
			n := binary.LittleEndian.Uint32(data)
			levels, data = data[4:4+n], data[4+n:]
		}
	case *file.DataPageV2:
		data = data[d.RepetitionLevelByteLen():]
		levels, data = data[:d.DefinitionLevelByteLen()], data[d.DefinitionLevelByteLen():]
	}
	return levels, data, true
}

// soundNumbers checks the numbers of dictionary words that a page holds. They
// may be wider than the dictionary asks for, within reason.
func (p *checkedPages) soundNumbers(data []byte, n int) bool {
	if len(data) == 0 {
		return n == 0 || p.maxLevel > 0 // all missing
	}
	width := int(data[0])
	if width > bits.Len(uint(p.words))+8 || width > 32 {
		return false
	}
	return p.maxLevel > 0 || countRuns(data[1:], width) >= n
}
