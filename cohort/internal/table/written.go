package table

import (
	"encoding/binary"
	"hash/maphash"
	"slices"

	"example.org/holdfast/cohort/internal/sheet"
)

// written are the words of the rows of a text as they stand there, cells that stand side
// by side with what separates them. Most rows have what an earlier one has, and their
// wording is found without a look at each cell. A processor does not foresee how long
// cells are: so a row's are a key of as many words of 8 bytes, whatever they are, with
// zeros behind the cells, which no text holds.
type written struct {
	runs   []run
	key    []uint64   // of the row in hand
	keyed  bool       // it has one
	hash   uint32     // of it
	slots  []knownRow // of a hash table with open addressing
	keys   []uint64   // of the rows in it, one after another
	places []int32    // of their wordings
	learnt int        // how many were ever put there
	most   int        // of these
	times  [8]uint64  // how words of a key are told apart in the hash
}

// run is headings side by side, and how many words a key has for their cells.
type run struct{ first, last, words int }

// knownRow is a row whose wording is known: as little as can be, so that they stay near the
// processor.
type knownRow struct {
	hash   uint32
	number uint32 // of its key, from 1; 0: no row
}

// How many words a key has for a cell that stands alone, and for so many side by side: of
// most rows they are no longer. The other rows are understood cell by cell.
const (
	wordsOfOne   = 2
	wordsOfCells = 8
	cellsOfWords = 5
)

// newWritten is for a table with such columns.
func newWritten(seed maphash.Seed, columns []wordColumn, most int) written {
	w := written{most: most, slots: make([]knownRow, 1<<8)}
	for i := range w.times {
		w.times[i] = maphash.Comparable(seed, i) | 1
	}
	var all []int
	for _, c := range columns {
		all = append(all, c.at)
	}
	slices.Sort(all)
	for _, at := range slices.Compact(all) {
		if n := len(w.runs); n > 0 && w.runs[n-1].last == at-1 {
			w.runs[n-1].last = at
		} else {
			w.runs = append(w.runs, run{first: at, last: at})
		}
	}
	words := 0
	for i := range w.runs {
		r := &w.runs[i]
		if r.words = wordsOfOne; r.last > r.first {
			r.words = wordsOfCells * ((r.last-r.first)/cellsOfWords + 1)
		}
		words += r.words
	}
	w.key = make([]uint64, words)
	return w
}

// place is that of a row's wording, if it is known.
func (w *written) place(r *sheet.Record) (at int32, ok bool) {
	if w.keyed = len(w.runs) > 0 && w.makeKey(r); !w.keyed {
		return 0, false
	}
	slot := w.first(w.hash)
	for s := &w.slots[slot]; s.number > 0; s = &w.slots[slot] {
		if n := int(s.number - 1); s.hash == w.hash && w.isKey(n) {
			return w.places[n], true
		}
		slot = w.next(slot)
	}
	return 0, false
}

// makeKey makes the key of a row, unless its cells are longer. What follows them in the text
// is read with them.
func (w *written) makeKey(r *sheet.Record) bool {
	hash, key := uint64(0), w.key
	for _, run := range w.runs {
		cells := r.Run(run.first, run.last)
		if n := 8 * run.words; cells == nil || len(cells) > n || cap(cells) < n {
			return false
		}
		left, rest := len(cells), cells[:8*run.words]
		if run.words == wordsOfOne {
			m, c, to := &before[left], (*[16]byte)(rest), (*[2]uint64)(key)
			to[0] = binary.LittleEndian.Uint64(c[:8]) & m[0]
			to[1] = binary.LittleEndian.Uint64(c[8:]) & m[1]
			hash = hash*31 + to[0]*w.times[0] + to[1]*w.times[1]
		} else {
			for to := key; len(rest) > 0; rest, to, left = rest[64:], to[8:], left-64 {
				hash = hash*31 + w.eightWords((*[8]uint64)(to), (*[64]byte)(rest), &before[max(0, min(left, 64))])
			}
		}
		key = key[run.words:]
	}
	w.hash = uint32(hash >> 32)
	return true
}

// before has the first bytes of 64, by how many and by word of 8 bytes.
var before = func() (mask [65][8]uint64) {
	for n := range mask {
		for i := range mask[n] {
			mask[n][i] = 1<<(8*uint(max(0, n-8*i))) - 1
		}
	}
	return mask
}()

// eightWords are the bytes that a mask has of some, and a hash of them.
func (w *written) eightWords(to *[8]uint64, c *[64]byte, m *[8]uint64) uint64 {
	t := &w.times
	to[0] = binary.LittleEndian.Uint64(c[:8]) & m[0]
	to[1] = binary.LittleEndian.Uint64(c[8:16]) & m[1]
	to[2] = binary.LittleEndian.Uint64(c[16:24]) & m[2]
	to[3] = binary.LittleEndian.Uint64(c[24:32]) & m[3]
	to[4] = binary.LittleEndian.Uint64(c[32:40]) & m[4]
	to[5] = binary.LittleEndian.Uint64(c[40:48]) & m[5]
	to[6] = binary.LittleEndian.Uint64(c[48:56]) & m[6]
	to[7] = binary.LittleEndian.Uint64(c[56:]) & m[7]
	return to[0]*t[0] + to[1]*t[1] + to[2]*t[2] + to[3]*t[3] + to[4]*t[4] + to[5]*t[5] + to[6]*t[6] + to[7]*t[7]
}

// isKey says whether the key of the row in hand is one of the keys.
func (w *written) isKey(number int) bool {
	from := number * len(w.key)
	other, differ := w.keys[from:from+len(w.key)], uint64(0)
	for i, word := range w.key {
		differ |= word ^ other[i]
	}
	return differ == 0
}

// first and next are the slots in which a row may stand.
func (w *written) first(hash uint32) int { return int(hash) & (len(w.slots) - 1) }

func (w *written) next(slot int) int { return (slot + 1) & (len(w.slots) - 1) }

// learn notes the place of the wording of the row in hand, which place did not find. It gives
// up if there are too many different ones.
func (w *written) learn(at int32) {
	if !w.keyed {
		return
	}
	if w.learnt++; w.learnt == w.most {
		w.runs = nil
		w.forget()
		return
	}
	w.keys, w.places = append(w.keys, w.key...), append(w.places, at)
	if 2*len(w.places) > len(w.slots) {
		w.grow()
	}
	w.put(knownRow{w.hash, uint32(len(w.places))})
}

// put puts a row in the slot that is its.
func (w *written) put(k knownRow) {
	slot := w.first(k.hash)
	for w.slots[slot].number > 0 {
		slot = w.next(slot)
	}
	w.slots[slot] = k
}

// grow makes room for more.
func (w *written) grow() {
	slots := w.slots
	w.slots = make([]knownRow, 2*len(slots))
	for _, k := range slots {
		if k.number > 0 {
			w.put(k)
		}
	}
}

// forget is for when there are no wordings any more.
func (w *written) forget() {
	clear(w.slots)
	w.keys, w.places = w.keys[:0], w.places[:0]
}
