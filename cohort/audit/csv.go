package audit

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
)

// Columns are the columns of [WriteCSV] for the given fields.
func Columns(by []string) []string {
	a := &Audit{Deaths: cohort.Deaths{Recorded: true}}
	g := &Group{}
	for _, field := range append([]string{"joint", "procedure"}, by...) {
		g.Values = append(g.Values, Value{Field: field})
	}
	var whole record
	a.whole(&whole, g)
	return names(a.row(nil, g.record(), whole, &Row{}))
}

// WriteCSV writes one row per group and year, UTF-8 with LF line ends, numbers
// in their shortest form that reads back to the same value, and empty cells
// where something is not defined. A heading or text cell that a spreadsheet
// would take for a formula gets a leading apostrophe.
//
// joints, patients, revised, died, implant_years and the rate are of the
// group's whole follow-up, and stand on each of its rows. The published columns
// are of the 1-KM figures read at that time whose own joints are exactly the
// group's; [WriteComparisons] writes every figure.
func WriteCSV(w io.Writer, a *Audit) error {
	cw := csv.NewWriter(w)
	headings := Columns(a.By)
	for i := range headings {
		headings[i] = text.Protect(headings[i])
	}
	if err := cw.Write(headings); err != nil {
		return err
	}
	var r, whole record
	var line []string
	for i := range a.Groups {
		g := &a.Groups[i]
		words := g.record()
		whole = whole[:0]
		a.whole(&whole, g)
		for j := range g.Rows {
			r = a.row(r[:0], words, whole, &g.Rows[j])
			line = appendCells(line[:0], r)
			if err := cw.Write(line); err != nil {
				return err
			}
		}
	}
	cw.Flush()
	return cw.Error()
}

// WriteComparisons writes one row for each published figure with own joints of its
// kind, the user's own without any last, and within each group of a field no series can state again for those that
// state nothing but a diagnosis, in the form of [WriteCSV].
//
// joints, revised, at_risk and the own estimate are of the series' kind, in which
// All stands for what it pools. reading is against the figure alone; the rows of
// one read_with are read together, together is that reading and sides, on the
// first of them, the number of sides on which it could have read. observed to
// ratio_upper are of the series over complete intervals, and repeated on its rows.
//
// Two kinds of rows have no figure, and nothing read: sums over the parts of a group
// that a source has figures of, where none is of the whole ([Sum.Instead]), whose reason
// names the columns; and, if asked for, units beside their own department.
func WriteComparisons(w io.Writer, a *Audit) error {
	cw := csv.NewWriter(w)
	by := a.unstatable()
	if err := cw.Write(names(a.comparison(&Beside{Series: &benchmark.Series{}}, by))); err != nil {
		return err
	}
	for _, r := range a.comparisons(by) {
		if err := cw.Write(cells(r)); err != nil {
			return err
		}
	}
	cw.Flush()
	return cw.Error()
}

// Count writes a count.
func Count(n int64) string { return strconv.FormatInt(n, 10) }

// Number is the shortest decimal form that reads back to x; empty for NaN.
func Number(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	if x == 0 {
		x = 0 // no minus sign
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// percentage is a proportion in percent, as Number writes numbers, in the digits
// of the proportion.
func percentage(p float64) string {
	if math.IsInf(p, 0) {
		return ""
	}
	return benchmark.Percent(p)
}
