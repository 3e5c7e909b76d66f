package exchange

import (
	"bytes"
	"encoding/hex"

	"example.org/holdfast/cohort/internal/sheet"
)

// What tests of coarsening look at: days as they are told, the days that stand as they
// are, and the error of coarsened counts.
var (
	CoarseDay     = Coarse.day
	CoarseBound   = Coarse.bound
	CoarseErrorOf = Coarse.errorOf
	CoarseMost    = Coarse.most
)

// Forge is the file of a tally with a header and rows of cells, its checksum that of them.
// An error says that the header can't be one's.
func Forge(header string, rows [][]string) ([]byte, error) {
	h, err := readHeader(header)
	if err != nil {
		return nil, err
	}
	s, err := newSum(*h)
	if err != nil {
		return nil, err
	}
	fields, values, n := []sheet.Field{}, []sheet.Values{}, 0
	for _, c := range h.rowColumns() {
		fields, values = append(fields, c.Field), append(values, sheet.Values{})
	}
	for _, r := range rows {
		if len(r) != len(fields) {
			return nil, ErrDamaged
		}
		for i, cell := range r {
			if err := put(&values[i], fields[i].Type, cell); err != nil {
				return nil, err
			}
		}
		s.row(r)
		n++
	}
	h.Checksum = hex.EncodeToString(s.Sum(nil))
	text, err := h.text()
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	w, err := sheet.Create(&b, sheet.Parquet, fields, []sheet.Pair{{Key: AboutKey, Value: text}})
	if err != nil {
		return nil, err
	}
	if n > 0 {
		if err := w.Write(values, n); err != nil {
			return nil, err
		}
	}
	err = w.Close()
	return b.Bytes(), err
}
