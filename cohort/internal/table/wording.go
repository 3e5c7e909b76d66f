package table

import (
	"encoding/binary"
	"hash/maphash"
	"math/bits"
	"slices"

	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
)

// wording is what all words of a row together come to. A large table has few
// different ones.
type wording struct {
	rows  int // that have it and are not yet counted
	flags row.Flags
	codes []row.Code // of the core and the extra fields
	words uint32     // the number of both for the writer of the rows

	bare, bareUndated bool // see resolved
}

// wordings are those met so far, found by the words of a row as they stand in the file.
type wordings struct {
	columns []wordColumn
	key     []word // of the row in hand, by column
	all     []wording
	keys    []word   // of each of all
	numbers []uint32 // of the words of each
	slots   []uint32 // of a hash table with open addressing: place + 1; 0 empty
	alone   bool     // most rows have a wording of their own: none is looked for, and the last is kept alone
}

// word is a cell of at most 16 bytes and zeros behind it, or the number of its word.
type word struct{ first, last uint64 }

// isNumber is the last part of a number.
const isNumber = 0xff << 56

// wordOf is a cell as it stands in the file. It is not ok if it is too long, or ends in
// what stands behind one or marks a number. What follows a cell in a text is read with it, so
// that little hangs on how long it is.
func wordOf(cell []byte) (w word, ok bool) {
	n := len(cell)
	if n == 0 {
		return word{}, true
	}
	if n > 16 || cell[n-1] == 0 || cell[n-1] == 0xff {
		return word{}, false
	}
	if cap(cell) < 16 {
		cell = append(make([]byte, 0, 16), cell...)
	}
	w.first = binary.LittleEndian.Uint64(cell[:8]) & (1<<(8*n) - 1)
	w.last = binary.LittleEndian.Uint64(cell[8:16]) & (1<<(8*max(n-8, 0)) - 1)
	return w, true
}

// wordColumn is one cell with words in the rows of a table.
type wordColumn struct {
	at       int
	words    *typedWords
	of       int          // below signatureLength: the column of the signature; else ofRevised, ofDead, or ofExtra and on
	again    bool         // another column that reads the cell counts the missing
	asNumber bool         // its cells may be numbers, of which the band is the word
	times    uint64       // how its word is told from the others in the hash
	texts    *sheet.Texts // in the batch in hand, where the file keeps the cells as text; else nil
	recent   *[256]numbered
}

// numbered is a word that was met a moment ago, and its number.
type numbered struct {
	word
	number uint32
}

// cell is a row's in the column, perhaps with space around it.
func (c *wordColumn) cell(r *sheet.Record) []byte {
	if c.texts != nil {
		text, _ := c.texts.At(r.Index)
		return text
	}
	return r.Cell(c.at)
}

// The columns of words that are in no signature.
const (
	ofRevised = signatureLength + iota
	ofDead
	ofExtra
)

// mostWordings is how many are kept before the table begins anew, since most rows
// of this one have one of their own.
const mostWordings = 1 << 15

// impossible marks the number of a word of a cell whose value nobody has.
const impossible = 1 << 31

// newWordings are for the columns that stand in a decoder's table.
func (d *decoder) newWordings() wordings {
	k := wordings{slots: make([]uint32, 1<<10)}
	add := func(at int, words *typedWords, of int, again, bands bool) {
		if at >= 0 {
			times := maphash.Comparable(d.seed, len(k.columns)) | 1
			k.columns = append(k.columns, wordColumn{at, words, of, again, bands || d.asText, times, nil, new([256]numbered)})
		}
	}
	for i, at := range d.layout.signature {
		add(at, &d.typed[i], i, false, false)
	}
	add(d.layout.revised, &d.revised, ofRevised, false, false)
	add(d.layout.dead, &d.dead, ofDead, false, false)
	for i, at := range d.layout.extra {
		add(at, &d.extra[i], ofExtra+i, d.layout.again[i], d.interpreter.extra[i].reader.Numbers())
	}
	k.key = make([]word, len(k.columns))
	return k
}

// wordingOf is that of a row, which is counted among the rows that have it. It is
// good until the next row's.
func (d *decoder) wordingOf(r *sheet.Record) *wording {
	at, ok := d.written.place(r)
	if !ok {
		place := d.coded.place(r)
		if *place == 0 {
			*place = int32(d.find(r)) + 1
		}
		at = *place - 1
		d.written.learn(at)
	}
	w := &d.wordings.all[at]
	w.rows++
	return w
}

// find finds the wording of a row among all, or adds it.
func (d *decoder) find(r *sheet.Record) (at int) {
	k := &d.wordings
	d.note(r)
	if !k.alone {
		if at := k.slots[k.slot(k.key)]; at > 0 {
			return int(at - 1)
		}
	}
	if k.alone || len(k.all) == d.most {
		d.beginAnew()
	}
	k.all, k.keys = append(k.all, wording{}), append(k.keys, k.key...)
	for i, w := range k.key {
		k.numbers = append(k.numbers, d.numberOf(&k.columns[i], w, r))
	}
	at = len(k.all) - 1
	if !k.alone {
		k.put(at)
	}
	d.understand(&k.all[at])
	return at
}

// beginAnew counts the rows of all wordings and forgets these. Where few rows had one that was
// known, none is looked for any more.
func (d *decoder) beginAnew() {
	k := &d.wordings
	rows := d.countAll()
	k.all, k.keys, k.numbers = k.all[:0], k.keys[:0], k.numbers[:0]
	if k.alone {
		return
	}
	if k.alone = rows < 2*d.most; k.alone {
		k.slots, d.written, d.coded = nil, written{}, coded{off: true}
		return
	}
	clear(k.slots)
	d.coded.forget()
	d.written.forget()
}

// note notes a row's words as they stand in the file.
func (d *decoder) note(r *sheet.Record) {
	k := &d.wordings
	for i := range k.columns {
		c := &k.columns[i]
		cell := r.Plain(c.at)
		if cell == nil {
			cell = c.cell(r)
		}
		w, ok := wordOf(cell)
		if !ok || c.asNumber {
			w = word{uint64(d.numberIn(c, r)), isNumber}
		}
		k.key[i] = w
	}
}

// numberOf is the number of a row's word in one column, where it is known as it stands there.
func (d *decoder) numberOf(c *wordColumn, w word, r *sheet.Record) uint32 {
	if w.last == isNumber {
		return uint32(w.first)
	}
	n := &c.recent[w.hash()*0x9E3779B97F4A7C15>>56]
	if n.word != w {
		*n = numbered{w, d.numberIn(c, r)}
	}
	return n.number
}

// numberIn is the number of a row's word in one column.
func (d *decoder) numberIn(c *wordColumn, r *sheet.Record) uint32 {
	if c.of < ofExtra {
		return c.words.numberOf(c.cell(r), r.Row)
	}
	text, wrong := d.extraCell(c.of-ofExtra, r)
	n := c.words.numberOf(text, r.Row)
	if wrong {
		n |= impossible
	}
	return n
}

// hash tells it from others, mostly.
func (w word) hash() uint64 { return w.first ^ bits.RotateLeft64(w.last, 29) }

// slot is where a wording with such words is, or would be.
func (k *wordings) slot(key []word) uint64 {
	var hash uint64
	for i, w := range key {
		hash += w.hash() * k.columns[i].times
	}
	mask := uint64(len(k.slots) - 1)
	slot := (hash ^ hash>>32) & mask
	for k.slots[slot] != 0 && !slices.Equal(k.keyAt(int(k.slots[slot]-1)), key) {
		slot = (slot + 1) & mask
	}
	return slot
}

// keyAt are the words of a wording as they stand in the file.
func (k *wordings) keyAt(at int) []word {
	n := len(k.columns)
	return k.keys[at*n : at*n+n]
}

// numbersAt are their numbers.
func (k *wordings) numbersAt(at int) []uint32 {
	n := len(k.columns)
	return k.numbers[at*n : at*n+n]
}

// put puts a wording in the slot that is its, and makes room for more.
func (k *wordings) put(at int) {
	k.slots[k.slot(k.keyAt(at))] = uint32(at + 1)
	if 2*len(k.all) <= len(k.slots) {
		return
	}
	k.slots = make([]uint32, 2*len(k.slots))
	for at := range k.all {
		k.slots[k.slot(k.keyAt(at))] = uint32(at + 1)
	}
}

// understand makes the wording of the row in hand.
func (d *decoder) understand(w *wording) {
	typed, revised, dead := signature(d.assumed), uint32(0), uint32(0)
	extra := append(d.extraOfRow[:0], d.assumedExtra...)
	d.extraOfRow = extra
	for i, n := range d.wordings.numbersAt(len(d.wordings.all) - 1) {
		switch c := &d.wordings.columns[i]; {
		case c.of < signatureLength:
			typed[c.of] = n
		case c.of == ofRevised:
			revised = n
		case c.of == ofDead:
			dead = n
		default:
			extra[c.of-ofExtra] = n &^ impossible
			if n&impossible != 0 {
				w.flags |= row.FlagBMIImpossible
			}
		}
	}
	res, ok := d.resolved[typed]
	if !ok {
		res = d.resolve(typed, &d.layout.signature)
		d.resolved[typed] = res
	}
	w.codes = append(d.roomForCodes(len(res.core)+len(extra)), res.core[:]...)
	if w.codes[store.Joint] == 0 {
		w.codes[store.Joint] = d.onlyJoint
	}
	for i, n := range extra {
		w.codes = append(w.codes, d.extraOf(i, n))
	}
	w.flags |= res.flags | d.revised.yesNo(revised, row.FlagRevisedYes, row.FlagRevisedNo, row.FlagRevisedUnclear) |
		d.dead.yesNo(dead, row.FlagDeadYes, row.FlagDeadNo, row.FlagDeadUnclear)
	w.bare, w.bareUndated = res.bare, res.bareUndated
	w.words = d.rows.Words(w.codes, w.flags)
}

// roomForCodes is an empty list for so many codes, made with others: where each row has a
// wording of its own there are many.
func (d *decoder) roomForCodes(n int) []row.Code {
	const many = 1 << 12
	if len(d.codes) < n {
		d.codes = make([]row.Code, max(n, many))
	}
	room := d.codes[:0:n]
	d.codes = d.codes[n:]
	return room
}

// count counts the words of the rows that have a wording, and what they lack. It gives
// the number of rows.
func (d *decoder) count(at int) (rows int) {
	rows = d.wordings.all[at].rows
	d.wordings.all[at].rows = 0
	if rows == 0 {
		return 0
	}
	for i, n := range d.wordings.numbersAt(at) {
		c := &d.wordings.columns[i]
		n &^= impossible
		if c.words.add(n, rows); n == 0 && !c.again {
			d.missing[c.at] += rows
		}
	}
	return rows
}

// countAll counts the words of all rows so far.
func (d *decoder) countAll() (rows int) {
	for at := range d.wordings.all {
		rows += d.count(at)
	}
	return rows
}
