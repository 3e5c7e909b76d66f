package table

import (
	"hash/maphash"

	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
)

// wording is what all words of a row together come to. A large table has few
// different ones.
type wording struct {
	cells []byte // what they are understood from, one after another
	rows  int    // that have it and are not yet counted

	typed         signature
	revised, dead uint32
	extra         []uint32

	resolved
	codes []row.Code // of the core and the extra fields
	words uint32     // the codes' number for the writer of the rows
}

// wordings are those met a moment ago, each in a place that its cells say.
type wordings struct {
	recent     [512]wording
	met, found int
	off        bool // most rows have one of their own
}

// leastMet is how many rows are looked at before most are said to differ.
const leastMet = 4096

// endOfCell stands behind a cell: no text has such a byte.
const endOfCell = 0xFF

// wordingOf is that of a row, which is counted among the rows that have it. It is
// good until the next row's.
func (d *decoder) wordingOf(r *sheet.Record) *wording {
	k := &d.wordings
	if k.off {
		w := &k.recent[0]
		d.count(w)
		d.understand(w, r)
		w.rows = 1
		return w
	}
	cells := d.wordCells(r)
	w := &k.recent[maphash.Bytes(d.seed, cells)%uint64(len(k.recent))]
	k.met++
	if string(w.cells) == string(cells) {
		k.found++
		w.rows++
		return w
	}
	k.off = k.met > leastMet && 2*k.found < k.met
	d.count(w)
	w.cells = append(w.cells[:0], cells...)
	d.understand(w, r)
	w.rows = 1
	return w
}

// wordCells are the cells that a row's wording is understood from. They are never
// empty, as a wording's own are before there is one.
func (d *decoder) wordCells(r *sheet.Record) []byte {
	l, cells := &d.layout, append(d.cells[:0], endOfCell)
	for _, at := range l.worded {
		if at < len(r.Cells) {
			cells = append(cells, r.Cells[at]...)
		}
		cells = append(cells, endOfCell)
	}
	for i, at := range l.extra {
		if at >= 0 {
			c, impossible := d.extraCell(i, r)
			if cells = append(append(cells, c...), endOfCell); impossible {
				cells = append(cells, endOfCell)
			}
		}
	}
	d.cells = cells
	return cells
}

// understand makes a row's wording.
func (d *decoder) understand(w *wording, r *sheet.Record) {
	l := &d.layout
	for i, at := range l.signature {
		if w.typed[i] = d.assumed[i]; at >= 0 {
			w.typed[i] = d.typed[i].numberOf(cell(r, at), r.Row)
		}
	}
	res, ok := d.resolved[w.typed]
	if !ok {
		res = d.resolve(w.typed, &l.signature)
		d.resolved[w.typed] = res
	}
	w.resolved = res
	w.codes = append(w.codes[:0], res.core[:]...)
	if w.codes[store.Joint] == 0 {
		w.codes[store.Joint] = d.onlyJoint
	}
	w.revised, w.dead = d.revised.numberOf(cell(r, l.revised), r.Row), d.dead.numberOf(cell(r, l.dead), r.Row)
	w.flags |= d.revised.yesNo(w.revised, row.FlagRevisedYes, row.FlagRevisedNo, row.FlagRevisedUnclear)
	w.flags |= d.dead.yesNo(w.dead, row.FlagDeadYes, row.FlagDeadNo, row.FlagDeadUnclear)
	w.extra = w.extra[:0]
	for i, at := range l.extra {
		n := d.assumedExtra[i]
		if at >= 0 {
			c, impossible := d.extraCell(i, r)
			if n = d.extra[i].numberOf(c, r.Row); impossible {
				w.flags |= row.FlagBMIImpossible
			}
		}
		w.extra = append(w.extra, n)
		w.codes = append(w.codes, d.extraOf(i, n))
	}
	w.words = d.rows.Words(w.codes)
}

// count counts the words of the rows that have a wording, and what they lack.
func (d *decoder) count(w *wording) {
	if w.rows == 0 {
		return
	}
	l, rows := &d.layout, w.rows
	w.rows = 0
	count := func(t *typedWords, n uint32, at int, again bool) {
		if at < 0 {
			return
		}
		if t.add(n, rows); n == 0 && !again {
			d.missing[at] += rows
		}
	}
	for i, at := range l.signature {
		count(&d.typed[i], w.typed[i], at, false)
	}
	count(&d.revised, w.revised, l.revised, false)
	count(&d.dead, w.dead, l.dead, false)
	for i, at := range l.extra {
		count(&d.extra[i], w.extra[i], at, l.again[i])
	}
}

// countAll counts the words of all rows so far.
func (d *decoder) countAll() {
	for i := range d.wordings.recent {
		d.count(&d.wordings.recent[i])
	}
}
