package audit

import (
	"bufio"
	"encoding/csv"
	"io"
	"math"
	"strconv"
	"strings"

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
	out := newLines(w, Columns(a.By))
	var r, whole record
	for i := range a.Groups {
		g := &a.Groups[i]
		whole = whole[:0]
		a.whole(&whole, g)
		words, whole := out.ready(g.record()), out.ready(whole) // of all its rows
		for j := range g.Rows {
			r = a.row(r[:0], words, whole, &g.Rows[j])
			out.write(r)
		}
	}
	return out.to.Flush()
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
	by := a.unstatable()
	out := newLines(w, names(a.comparison(&Beside{Series: &benchmark.Series{}}, by)))
	for _, r := range a.comparisons(by) {
		out.write(r)
	}
	return out.to.Flush()
}

// lines are records as lines of CSV, as encoding/csv writes them. How it writes a text
// is asked once: the same words stand in line after line. So do many numbers: where nobody
// is revised, a year is as the one before.
type lines struct {
	to      *bufio.Writer // keeps the first error
	line    []byte
	texts   map[string]string
	numbers []written // by place in the record
}

// written is the number that was last written in some place.
type written struct {
	value float64
	form  form
	cell  []byte
}

func newLines(w io.Writer, headings []string) *lines {
	l := &lines{to: bufio.NewWriterSize(w, 1<<16), texts: make(map[string]string)}
	var r record
	for _, h := range headings {
		r.text(h, h)
	}
	l.write(r)
	return l
}

func (l *lines) write(r record) {
	l.line = l.cells(l.line[:0], r)
	l.line[len(l.line)-1] = '\n'
	l.to.Write(l.line)
}

// ready is a record of what a record comes to as cells.
func (l *lines) ready(r record) record {
	l.line = l.cells(l.line[:0], r)
	return record{{form: isCells, text: string(l.line)}}
}

// cells adds the cells of a record, with a comma after each.
func (l *lines) cells(b []byte, r record) []byte {
	for i := range r {
		switch e := &r[i]; e.form {
		case isNested:
			continue
		case isCells:
			b = append(b, e.text...)
			continue
		case aNumber, aProportion:
			b = append(b, l.number(i, e)...)
		case aList:
			b = append(b, l.text(strings.Join(e.list, "; "))...)
		default:
			b = append(b, l.text(e.text)...)
		}
		b = append(b, ',')
	}
	return b
}

// number is a number or a proportion in some place as a cell.
func (l *lines) number(place int, e *entry) []byte {
	for place >= len(l.numbers) {
		l.numbers = append(l.numbers, written{value: math.NaN()})
	}
	last := &l.numbers[place]
	if e.value != last.value || e.form != last.form {
		last.value, last.form, last.cell = e.value, e.form, e.appendNumber(last.cell[:0])
	}
	return last.cell
}

// text is a text as a cell.
func (l *lines) text(s string) string {
	cell, known := l.texts[s]
	if !known {
		var b strings.Builder
		out := csv.NewWriter(&b)
		out.Write([]string{text.Protect(s)}) // to memory, without an error
		out.Flush()
		cell = strings.TrimSuffix(b.String(), "\n")
		l.texts[s] = cell
	}
	return cell
}

// Count writes a count.
func Count(n int64) string { return strconv.FormatInt(n, 10) }

// Number is the shortest decimal form that reads back to x; empty for NaN.
func Number(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return string(appendNumber(nil, x))
}

func appendNumber(b []byte, x float64) []byte {
	if x == 0 {
		x = 0 // no minus sign
	}
	return strconv.AppendFloat(b, x, 'f', -1, 64)
}
