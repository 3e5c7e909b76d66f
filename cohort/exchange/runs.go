package exchange

import (
	"io"

	"example.org/holdfast/cohort/internal/sheet"
)

// runs writes rows to a file, many at a time: each row's values are appended to those of
// their columns, and next ends it.
type runs struct {
	out    sheet.Writer
	values []sheet.Values // by column
	rows   int
}

// runRows is how many rows are written at a time.
const runRows = 1 << 16

// create begins a file.
func create(w io.Writer, k Kind, fields []sheet.Field, metadata ...sheet.Pair) (*runs, error) {
	out, err := sheet.Create(w, k, fields, metadata)
	return &runs{out: out, values: make([]sheet.Values, len(fields))}, err
}

func (r *runs) next() error {
	if r.rows++; r.rows < runRows {
		return nil
	}
	return r.flush()
}

func (r *runs) flush() error {
	if r.rows == 0 {
		return nil
	}
	err := r.out.Write(r.values, r.rows)
	r.rows = 0
	for i, v := range r.values {
		r.values[i] = sheet.Values{Texts: v.Texts[:0], Wholes: v.Wholes[:0], Fractions: v.Fractions[:0], YesNos: v.YesNos[:0], Missing: v.Missing[:0]}
	}
	return err
}

func (r *runs) close() error {
	if err := r.flush(); err != nil {
		return err
	}
	return r.out.Close()
}
