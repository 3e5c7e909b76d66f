package table

import (
	"fmt"

	"example.org/holdfast/cohort/internal/sheet"
)

// TooLargeError says that rows need more memory than there is for them.
type TooLargeError struct {
	File         string
	Rows, Fit    int64 // that there are, and that there is room for, about
	More         bool  // there are more rows than that: their number is not known
	Need, Memory int64 // bytes, about
}

func (e *TooLargeError) Error() string {
	rows := "about " + many(e.Rows)
	if e.More {
		rows = "more than " + many(e.Rows)
	}
	return fmt.Sprintf("%s: %s rows need about %s of memory; there are %s for them, in which about %s rows fit. Run it where there is more (GOMEMLIMIT, if it is set, is the limit); or count the table in parts with holdfast tally, all rows of a patient in one part, and audit the tallies together",
		e.File, rows, size(e.Need), size(e.Memory), many(e.Fit))
}

// many is a number to two digits.
func many(n int64) string {
	switch {
	case n >= 1e7:
		return fmt.Sprintf("%.0f million", float64(n)/1e6)
	case n >= 1e6:
		return fmt.Sprintf("%.1f million", float64(n)/1e6)
	case n >= 1e4:
		return fmt.Sprintf("%d,000", n/1000)
	}
	return fmt.Sprint(n)
}

func size(bytes int64) string {
	if bytes >= 1e9 {
		return fmt.Sprintf("%.1f GB", float64(bytes)/1e9)
	}
	return fmt.Sprintf("%.0f MB", float64(bytes)/1e6)
}

// foretold is how much of a file must be read, in percent, before its number of rows
// is told from that.
const foretold = 2

// room says whether there is no room for the rows of all tables: those read, and as
// many more as the rest of the table that is being read will have. Of its batches so
// many are handed out, the last to come, and not all of these are understood yet.
func (r *Reader) room(t *sheet.Table, l layout, batches int64) error {
	understood, rows, more := r.batches.Load(), r.rows.Load(), true
	if read := t.Read(); understood > 0 && t.Size > 0 && 100*read >= foretold*t.Size {
		each := float64(rows-r.before) / float64(understood)
		rows, more = r.before+int64(each*float64(batches)*float64(t.Size)/float64(read)), false
	}
	return r.roomFor(t, l, rows, more)
}

func (r *Reader) roomFor(t *sheet.Table, l layout, rows int64, more bool) error {
	memory, each := r.options.Memory, int64(l.columns().RowBytes())
	if memory <= 0 || rows*each <= memory {
		return nil
	}
	return &TooLargeError{File: t.Name, Rows: rows, Fit: memory / each, More: more, Need: rows * each, Memory: memory}
}
