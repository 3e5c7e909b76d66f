package workbook

// Row is one row of a sheet: its cells as text, one for each column from the
// first to the last that holds anything.
type Row struct {
	Number  int // from 1, as the spreadsheet counts
	Hidden  bool
	TooLong bool // the texts of the row exceed the limit; it has no cells

	text []byte
	ends []int // of the cells in text
}

// Len is the number of cells.
func (r *Row) Len() int { return len(r.ends) }

// Size is the number of bytes of text.
func (r *Row) Size() int { return len(r.text) }

// Cell is the text of a cell, from 0. It is valid as long as the row.
func (r *Row) Cell(i int) []byte {
	if i >= len(r.ends) {
		return nil
	}
	from := 0
	if i > 0 {
		from = r.ends[i-1]
	}
	return r.text[from:r.ends[i]:r.ends[i]]
}

// Clone copies a row that Next is about to overwrite.
func (r *Row) Clone() Row {
	c := *r
	c.text = append([]byte(nil), r.text...)
	c.ends = append([]int(nil), r.ends...)
	return c
}

// Chunk is a run of rows.
type Chunk struct {
	Rows int
	rows []Row
	text []byte
	ends []int
}

// Reset empties the chunk and keeps its memory.
func (c *Chunk) Reset() { c.Rows, c.rows, c.text, c.ends = 0, c.rows[:0], c.text[:0], c.ends[:0] }

// Size is the number of bytes of text.
func (c *Chunk) Size() int { return len(c.text) }

// Add copies a row to the end.
func (c *Chunk) Add(r *Row) {
	k := *r
	k.text, k.ends = nil, nil
	c.rows = append(c.rows, k)
	c.Rows++
	from := len(c.text)
	c.text = append(c.text, r.text...)
	// The number of cells comes first, then where each ends.
	c.ends = append(c.ends, len(r.ends), from)
	for _, e := range r.ends {
		c.ends = append(c.ends, from+e)
	}
}

// All calls yield with each row and its cells until it returns false. The
// cells are put into the slice given.
func (c *Chunk) All(cells [][]byte, yield func(r *Row, cells [][]byte) bool) {
	at := 0
	for i := range c.rows {
		n, from := c.ends[at], c.ends[at+1]
		at += 2
		cells = cells[:0]
		for _, end := range c.ends[at : at+n] {
			cells = append(cells, c.text[from:end:end])
			from = end
		}
		at += n
		if !yield(&c.rows[i], cells) {
			return
		}
	}
}
