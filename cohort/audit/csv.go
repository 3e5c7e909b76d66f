package audit

import (
	"bytes"
	"encoding/csv"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/parallel"
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
// would take for a formula gets a leading apostrophe. All stands where a column is
// pooled, “All” for a value that says so itself.
//
// joints, patients, revised, died, implant_years and the rate are of the
// group's whole follow-up, and stand on each of its rows. The published columns
// are of the 1-KM figures read at that time whose own joints are exactly the
// group's; [WriteComparisons] writes every figure.
func WriteCSV(w io.Writer, a *Audit) error {
	var head lines
	head.head(Columns(a.By))
	if err := head.flush(w); err != nil {
		return err
	}
	var out [partsAtOnce]lines
	return inParts(a.Groups, func(i int, some []Group) *lines {
		out[i].groups(a, some)
		return &out[i]
	}, func(l *lines) error { return l.flush(w) })
}

// How many groups are written at once, and in how many parts side by side.
const (
	groupsOfPart = 16
	partsAtOnce  = 8
)

// inParts writes groups in parts: each is made of some groups, by the function whose number is
// given, and all are then handed on in their order.
func inParts[T any](groups []Group, made func(part int, some []Group) T, hand func(T) error) error {
	for some := range slices.Chunk(groups, partsAtOnce*groupsOfPart) {
		parts, all := slices.Collect(slices.Chunk(some, groupsOfPart)), [partsAtOnce]T{}
		parallel.Each(len(parts), func(i int) { all[i] = made(i, parts[i]) })
		for _, part := range all[:len(parts)] {
			if err := hand(part); err != nil {
				return err
			}
		}
	}
	return nil
}

// groups writes a row per group and year.
func (l *lines) groups(a *Audit, groups []Group) {
	for i := range groups {
		g := &groups[i]
		l.whole = l.whole[:0]
		a.whole(&l.whole, g)
		words, whole := l.ready(g.record()), l.ready(l.whole) // of all its rows
		rows := g.rowsIn(l.rows)
		if g.Kept == nil {
			l.rows = rows
		}
		for j := range rows {
			l.row = a.row(l.row[:0], words, whole, &rows[j])
			l.write(l.row)
		}
	}
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
	var out lines
	out.head(names(a.comparison(&Beside{Series: &benchmark.Series{}}, by)))
	for _, r := range a.comparisons(by) {
		out.write(r)
	}
	return out.flush(w)
}

// lines are records as lines of CSV, as encoding/csv writes them. How it writes a text
// is asked once: the same words stand in line after line. So do many numbers: where nobody
// is revised, a year is as the one before.
type lines struct {
	text    []byte
	cell    map[string]string // by text
	new     *csv.Writer       // writes newCell
	newCell bytes.Buffer
	numbers []written // by place in the record

	row, whole record // room for those in hand
	rows       []Row
}

// written is the number that was last written in some place.
type written struct {
	value float64
	form  form
	cell  []byte
}

func (l *lines) head(headings []string) {
	var r record
	for _, h := range headings {
		r.text(h, h)
	}
	l.write(r)
}

func (l *lines) write(r record) {
	l.text = l.cells(l.text, r)
	l.text[len(l.text)-1] = '\n'
}

// flush gives all lines so far to w.
func (l *lines) flush(w io.Writer) error {
	_, err := w.Write(l.text)
	l.text = l.text[:0]
	return err
}

// ready is a record of what a record comes to as cells.
func (l *lines) ready(r record) record {
	from := len(l.text)
	cells := l.cells(l.text, r)
	l.text = cells[:from]
	return record{{form: isCells, text: string(cells[from:])}}
}

// cells adds the cells of a record, with a comma after each.
func (l *lines) cells(b []byte, r record) []byte {
	for i := range r {
		switch e := &r[i]; e.form {
		case isObject, isObjects, isRemark:
			continue
		case isCells:
			b = append(b, e.text...)
			continue
		case aNumber, aProportion:
			b = append(b, l.number(i, e)...)
		case aList:
			b = append(b, l.cellOf(strings.Join(e.list, "; "))...)
		default:
			b = append(b, l.cellOf(e.text)...)
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

// cellOf is a text as a cell.
func (l *lines) cellOf(s string) string {
	if s == "" {
		return ""
	}
	cell, known := l.cell[s]
	if !known {
		if l.cell == nil {
			l.cell, l.new = make(map[string]string), csv.NewWriter(&l.newCell)
		}
		l.newCell.Reset()
		l.new.Write([]string{text.Protect(s)}) // to memory, without an error
		l.new.Flush()
		cell = strings.TrimSuffix(l.newCell.String(), "\n")
		l.cell[s] = cell
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
