package table

import (
	"slices"

	"example.org/holdfast/cohort/internal/sheet"
)

// coded are the rows of a batch of which all words stand in dictionaries of its file:
// the places of a row's words in them, put together, are one number, and there is a list of
// the wordings by such numbers.
type coded struct {
	numbers []int32             // by row; none if some column has no dictionary
	of      []*sheet.Dictionary // of the last such batch, by column of words
	known   []int32             // place of a wording + 1 by number; 0 not yet known
	none    int32               // that of a row without number
	off     bool                // no list is kept
}

// mostCoded is for how many different rows there is a list.
const mostCoded = 1 << 18

// take numbers the rows of a batch with such columns.
func (c *coded) take(columns []wordColumn) {
	c.numbers = c.numbers[:0]
	if c.off {
		return
	}
	most, same := 1, len(c.of) == len(columns)
	for i := range columns {
		if columns[i].texts == nil {
			return
		}
		d, _ := columns[i].texts.Coded()
		if d == nil || d.Words >= mostCoded {
			return
		}
		if most *= d.Words + 1; most > mostCoded {
			return
		}
		same = same && c.of[i] == d
	}
	if !same {
		c.of = c.of[:0]
		c.known = slices.Grow(c.known[:0], most)[:most]
		clear(c.known)
	}
	for i := range columns {
		d, at := columns[i].texts.Coded()
		if !same {
			c.of = append(c.of, d)
		}
		if i == 0 {
			c.numbers = append(c.numbers, make([]int32, len(at))...)
		}
		for row, word := range at {
			c.numbers[row] = c.numbers[row]*int32(d.Words+1) + word + 1
		}
	}
}

// place is where that of a row's wording stands.
func (c *coded) place(r *sheet.Record) *int32 {
	if uint(r.Index) >= uint(len(c.numbers)) {
		c.none = 0
		return &c.none
	}
	return &c.known[c.numbers[r.Index]]
}

// forget is for when there are no wordings any more.
func (c *coded) forget() { clear(c.known) }
