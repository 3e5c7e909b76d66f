package table

import (
	"slices"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/words"
)

// bare marks the row in hand as bare if it is a line of totals, a note, a
// repetition of the headings or the like: its words say nothing about a joint,
// it has no date but perhaps that of the operation, no sex and no age, and, if
// it has that date, no patient. The words of such a row are left out of the
// count.
func (d *decoder) bare(r *sheet.Record, w *wording) {
	s, l := &d.row, &d.layout
	op := s.Dates[store.Operation]
	again := d.repeatsHeadings(r)
	label := l.patient >= 0 && words.Label(string(cell(r, l.patient)))  // in the patient's place
	total := label && op == dates.Missing && l.signature[sigJoint] >= 0 // though it has a date: of a table of revisions
	if !again && !d.saysNothing(r, w, label, total) {
		return
	}
	s.Flags |= row.FlagBare
	d.bareRows++
	perhaps := !again && op != dates.Missing
	if !perhaps {
		s.Codes = slices.Clone(s.Codes)
		clear(s.Codes[:store.CoreCount])
		s.Words = 0
	}
	if again { // it has no date, rather than an impossible one
		s.Dates[store.Operation] = dates.Missing
	}
	if op != dates.Missing || total {
		s.Patient = 0
	}
	leaveOut := func(t *typedWords, c []byte) { t.leaveOut(t.numberOf(c, r.Row), perhaps) }
	for k, at := range l.signature {
		leaveOut(&d.typed[k], cell(r, at))
	}
	leaveOut(&d.revised, cell(r, l.revised))
	leaveOut(&d.dead, cell(r, l.dead))
	for k := range l.extra {
		c, _ := d.extraCell(k, r)
		leaveOut(&d.extra[k], c)
	}
}

// saysNothing says whether the row in hand tells of no joint; label, that the
// patient's place has the label of a line of totals, and total, that it is one
// though there is a date.
func (d *decoder) saysNothing(r *sheet.Record, w *wording, label, total bool) bool {
	s, l := &d.row, &d.layout
	op := s.Dates[store.Operation]
	if !w.bare && !(op == dates.Missing && w.bareUndated) {
		return false
	}
	for k := store.Revision; k <= store.Birth; k++ {
		if !s.Dates[k].Bad() && s.Dates[k] != dates.Missing && !total {
			return false
		}
	}
	if op != dates.Missing && s.Patient != 0 && !label {
		return false
	}
	tells := l.extra[ExtraSex] >= 0 && s.Codes[store.Sex] != 0 || s.Age != row.NoAge
	return !tells || d.labelled(r)
}

// labelled says whether a cell of a row begins like a line of totals.
func (d *decoder) labelled(r *sheet.Record) bool {
	for i := range min(r.Len(), d.layout.headings) {
		if c := r.Cell(i); len(c) > 0 && words.Label(string(c)) {
			return true
		}
	}
	return false
}

// repeatsHeadings says whether a row has the heading of the operation date under
// that heading, and another's under another.
func (d *decoder) repeatsHeadings(r *sheet.Record) bool {
	at := d.layout.dates[store.Operation]
	if at < 0 || !d.row.Dates[store.Operation].Bad() || words.Fold(string(cell(r, at))) != d.headings[at] {
		return false
	}
	for i := range min(r.Len(), len(d.headings)) {
		if i != at && d.headings[i] != "" && words.Fold(string(cell(r, i))) == d.headings[i] {
			return true
		}
	}
	return false
}
