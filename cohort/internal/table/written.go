package table

import (
	"slices"

	"example.org/holdfast/cohort/internal/sheet"
)

// written are the words of the rows of a text as they stand there, cells that stand side
// by side with what separates them. Most rows have what an earlier one has, and their
// wording is found without a look at each cell.
type written struct {
	runs   [][2]int         // the first and the last of headings side by side
	known  map[string]int32 // place of a wording by these cells
	key    []byte           // of the row in hand; empty if it has none
	missed int              // rows whose wording was not known
}

// newWritten is for a table with such columns.
func newWritten(columns []wordColumn) written {
	w := written{known: make(map[string]int32)}
	var all []int
	for _, c := range columns {
		all = append(all, c.at)
	}
	slices.Sort(all)
	for _, at := range slices.Compact(all) {
		if n := len(w.runs); n > 0 && w.runs[n-1][1] == at-1 {
			w.runs[n-1][1] = at
		} else {
			w.runs = append(w.runs, [2]int{at, at})
		}
	}
	return w
}

// place is that of a row's wording.
func (w *written) place(r *sheet.Record) (at int32, ok bool) {
	w.key = w.key[:0]
	for _, run := range w.runs {
		cells := r.Run(run[0], run[1])
		if cells == nil {
			w.key = w.key[:0]
			return 0, false
		}
		w.key = append(append(w.key, cells...), '\n') // which no cell holds
	}
	if len(w.key) > longestWritten {
		w.key = w.key[:0]
	}
	at, ok = w.known[string(w.key)]
	return at, ok
}

// longestWritten is how long the words of a row are together, in bytes, that are kept as
// they stand there: so many rows of longer ones could take much memory.
const longestWritten = 256

// learn notes the place of the wording of the row in hand. It gives up if there are too
// many different ones.
func (w *written) learn(at int32) {
	if len(w.key) == 0 {
		return
	}
	w.known[string(w.key)] = at
	if w.missed++; w.missed == mostWordings {
		w.runs = nil
		w.forget()
	}
}

// forget is for when there are no wordings any more.
func (w *written) forget() { clear(w.known) }
