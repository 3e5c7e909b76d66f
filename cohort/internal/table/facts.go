package table

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
)

// add adds the rows of a table, with what they say together. An error is that
// of the order of day and month, without which no date can be read.
func (r *Reader) add(name string, f *File, l layout, holds row.Role, decoders []*decoder) error {
	read := merge(decoders)
	columns := l.columns()
	columns.Patient = true // which joining gives
	apart := r.Store.NewWriter(columns)
	if l.apart != nil && l.patient >= 0 && !r.options.PatientsByTable {
		f.Notes = append(f.Notes, "a checked cohort, whose patients have numbers of their own: nobody in it is taken for a patient of another table")
	}
	if said := read.named.join(r.Store, apart); said != "" {
		f.Notes = append(f.Notes, said)
	}
	f.Rows = apart.Rows() + read.aside.rows
	rows := []*store.Writer{apart}
	for _, d := range decoders {
		rows = append(rows, d.rows)
		f.Rows += d.rows.Rows()
	}
	for i := range read.missing {
		if !slices.Contains(l.cells(), i) {
			read.missing[i] = -1
		}
	}
	f.values, f.missing = read.values, read.missing
	if read.shortYears > 0 {
		f.Notes = append(f.Notes, ShortYears)
	}
	if said := placeholders(read.placeholders); said != "" {
		f.Notes = append(f.Notes, said)
	}
	var heading [store.DateCount]string
	for i, at := range l.dates {
		if at >= 0 {
			heading[i] = f.Headings[at].Typed
		}
	}
	t := &store.Table{File: len(r.Files), Aside: read.aside.inOrder(), Columns: l.columns(), Table: row.Table{Role: holds, Patients: l.patient >= 0, Operations: l.signature[sigOperationType] >= 0,
		Whole: 5*read.cutRows <= f.Rows, BareAside: bareAside(f.Headings, read.missing, f.Rows, read.bareRows)}}
	var err error
	t.Orders, f.DateOrders, err = settleOrders(name, read.evidence, heading, r.options.DateOrder)
	if unsettled, ok := errors.AsType[*DateOrderError](err); ok {
		unsettled.Another, unsettled.Order = settledBefore(r.Files)
	}
	for _, d := range decoders {
		for _, words := range d.counted() {
			words.count(t.BareAside)
			words.shared.firstIn(t.File, words.first)
		}
	}
	r.Store.Add(t, rows)
	r.suspected = append(r.suspected, suspected{read.serials, read.suspects, l.dates})
	return err
}

// placeholders is the note on a table with days that stand for none.
func placeholders(found [store.DateCount]int) string {
	var where []string
	for i, n := range found {
		if n > 0 {
			where = append(where, fmt.Sprintf("%d in %s", n, DateColumns[i]))
		}
	}
	if where == nil {
		return ""
	}
	return "days that databases write where there is none, such as 1900-01-01 or 9999-12-31, read as empty: " + strings.Join(where, ", ")
}

// merge puts together what the decoders of a table found out about it as a
// whole; the result is the first of them.
func merge(decoders []*decoder) *decoder {
	all := decoders[0]
	for _, d := range decoders[1:] {
		for i := range all.evidence {
			all.evidence[i].merge(d.evidence[i])
		}
		for i, n := range d.missing {
			all.missing[i] += n
		}
		for i, v := range d.values {
			if v != nil {
				all.values[i].merge(v)
			}
		}
		all.mergeSuspects(d)
		all.cutRows += d.cutRows
		all.bareRows += d.bareRows
		all.aside.merge(&d.aside)
		all.named.rows = append(all.named.rows, d.named.rows...)
		all.named.told = append(all.named.told, d.named.told...)
		all.shortYears += d.shortYears
		all.serials += d.serials
		for i, n := range d.placeholders {
			all.placeholders[i] += n
		}
	}
	return all
}

// ShortYears is the note on a table with two-digit years and no pivot.
const ShortYears = "dates with two-digit years are not read; say from which year on they mean 19yy, with --pivot 30 for example"

// bareAside says whether rows with an operation date and nothing else are taken
// for no joints: at least two of the columns that tell joints apart are filled
// in four fifths of the other rows, of which there are four times as many, or
// more than one or two. Where more rows have nothing else, the table may begin
// with years of which little was written down.
func bareAside(headings []Heading, missing []int, rows, bare int) bool {
	filled := 0
	for i, h := range headings {
		switch h.Column {
		case "patient", "joint", "side", "procedure", "operation_type", "bearing", "head", "fixation", "cup_fixation", "tibia_fixation", "age", "birth_date", "birth_year", "sex":
			if missing[i] >= 0 && 5*(rows-missing[i]) >= 4*(rows-bare) {
				filled++
			}
		}
	}
	others := rows - bare
	return filled >= 2 && (others >= 4*bare || bare <= 2 && others > bare)
}

// count adds a decoder's words to the vocabulary, less those of rows that are no
// joints.
func (t *typedWords) count(bareAside bool) {
	for n, rows := range t.rows {
		if bareAside && n < len(t.bare) {
			rows -= t.bare[n]
		}
		t.shared.Words[n].Rows += rows
	}
}

func (d *decoder) counted() []*typedWords {
	all := []*typedWords{&d.revised, &d.dead}
	for i := range d.typed {
		all = append(all, &d.typed[i])
	}
	for i := range d.extra {
		all = append(all, &d.extra[i])
	}
	return all
}
