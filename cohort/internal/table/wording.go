package table

import (
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

// wordings are those met so far, found by the numbers of their words.
type wordings struct {
	columns []wordColumn
	numbers []uint32  // of the row in hand, by column
	all     []wording // and
	known   []uint32  // the numbers of each
	slots   []uint32  // of a hash table with open addressing: place + 1; 0 empty
}

// wordColumn is one cell with words in the rows of a table.
type wordColumn struct {
	at    int
	words *typedWords
	of    int          // below signatureLength: the column of the signature; else ofRevised, ofDead, or ofExtra and on
	again bool         // another column that reads the cell counts the missing
	times uint64       // what a number adds to the hash
	texts *sheet.Texts // in the batch in hand, where the file keeps the cells as text; else nil
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
	times := uint64(1)
	add := func(at int, words *typedWords, of int, again bool) {
		if at >= 0 {
			times *= 0x9E3779B97F4A7C15 // 2⁶⁴ by the golden ratio
			k.columns = append(k.columns, wordColumn{at, words, of, again, times, nil})
		}
	}
	for i, at := range d.layout.signature {
		add(at, &d.typed[i], i, false)
	}
	add(d.layout.revised, &d.revised, ofRevised, false)
	add(d.layout.dead, &d.dead, ofDead, false)
	for i, at := range d.layout.extra {
		add(at, &d.extra[i], ofExtra+i, d.layout.again[i])
	}
	k.numbers = make([]uint32, len(k.columns))
	return k
}

// wordingOf is that of a row, which is counted among the rows that have it. It is
// good until the next row's.
func (d *decoder) wordingOf(r *sheet.Record) *wording {
	place := d.coded.place(r)
	if *place == 0 {
		*place = int32(d.find(r)) + 1
	}
	w := &d.wordings.all[*place-1]
	w.rows++
	return w
}

// find finds the wording of a row among all, or adds it.
func (d *decoder) find(r *sheet.Record) (at int) {
	k := &d.wordings
	hash := d.number(r)
	slot := k.slot(hash, k.numbers)
	if at := k.slots[slot]; at > 0 {
		return int(at - 1)
	}
	if len(k.all) == mostWordings {
		d.countAll()
		clear(k.slots)
		k.all, k.known = k.all[:0], k.known[:0]
		d.coded.forget()
		slot = k.slot(hash, k.numbers)
	}
	k.all, k.known = append(k.all, wording{}), append(k.known, k.numbers...)
	if k.slots[slot] = uint32(len(k.all)); 2*len(k.all) > len(k.slots) {
		k.grow()
	}
	at = len(k.all) - 1
	d.understand(&k.all[at])
	return at
}

// number notes the numbers of a row's words, and gives a hash of them.
func (d *decoder) number(r *sheet.Record) (hash uint64) {
	k := &d.wordings
	for i := range k.columns {
		c := &k.columns[i]
		if c.texts != nil {
			text, _ := c.texts.At(r.Index)
			k.numbers[i] = c.words.numberOf(text, r.Row)
		} else {
			k.numbers[i] = d.numberIn(c, r)
		}
		hash += uint64(k.numbers[i]) * c.times
	}
	return hash
}

// numberIn is the number of a row's word in one column.
func (d *decoder) numberIn(c *wordColumn, r *sheet.Record) uint32 {
	if c.of < ofExtra {
		return c.words.numberOf(cell(r, c.at), r.Row)
	}
	text, wrong := d.extraCell(c.of-ofExtra, r)
	n := c.words.numberOf(text, r.Row)
	if wrong {
		n |= impossible
	}
	return n
}

// slot is where a wording with such numbers is, or would be.
func (k *wordings) slot(hash uint64, numbers []uint32) uint64 {
	mask := uint64(len(k.slots) - 1)
	slot := (hash ^ hash>>32) & mask
	for k.slots[slot] != 0 && !slices.Equal(k.of(int(k.slots[slot]-1)), numbers) {
		slot = (slot + 1) & mask
	}
	return slot
}

// of are the numbers of a wording.
func (k *wordings) of(at int) []uint32 {
	n := len(k.columns)
	return k.known[at*n : at*n+n]
}

// grow makes room for more.
func (k *wordings) grow() {
	k.slots = make([]uint32, 2*len(k.slots))
	for at := range k.all {
		hash := uint64(0)
		for i, n := range k.of(at) {
			hash += uint64(n) * k.columns[i].times
		}
		k.slots[k.slot(hash, k.of(at))] = uint32(at + 1)
	}
}

// understand makes the wording of the row in hand.
func (d *decoder) understand(w *wording) {
	typed, revised, dead := signature(d.assumed), uint32(0), uint32(0)
	extra := slices.Clone(d.assumedExtra)
	for i, n := range d.wordings.numbers {
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
	w.codes = append(w.codes, res.core[:]...)
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

// count counts the words of the rows that have a wording, and what they lack.
func (d *decoder) count(at int) {
	rows := d.wordings.all[at].rows
	d.wordings.all[at].rows = 0
	if rows == 0 {
		return
	}
	for i, n := range d.wordings.of(at) {
		c := &d.wordings.columns[i]
		n &^= impossible
		if c.words.add(n, rows); n == 0 && !c.again {
			d.missing[c.at] += rows
		}
	}
}

// countAll counts the words of all rows so far.
func (d *decoder) countAll() {
	for at := range d.wordings.all {
		d.count(at)
	}
}
