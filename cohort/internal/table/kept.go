package table

import (
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
)

// keptColumns are columns of the batch in hand whose values are at hand as a Parquet or Arrow
// file keeps them. They are understood as their text would be, which need not be written.
type keptColumns struct {
	dates          [store.DateCount]*sheet.Days
	age, birthYear *sheet.Wholes
	patient        *sheet.Texts
}

// keep finds them in a batch, and the columns of words.
func (d *decoder) keep(b *sheet.Batch) {
	l := &d.layout
	for i, at := range l.dates {
		d.kept.dates[i] = sheet.Column[*sheet.Days](b, at)
	}
	d.kept.age, d.kept.birthYear = sheet.Column[*sheet.Wholes](b, l.age), sheet.Column[*sheet.Wholes](b, l.birthYear)
	d.kept.patient = sheet.Column[*sheet.Texts](b, l.patient)
	for i := range d.wordings.columns {
		c := &d.wordings.columns[i]
		if !c.asNumber {
			c.texts = sheet.Column[*sheet.Texts](b, c.at)
		}
	}
	d.coded.take(d.wordings.columns)
}

// keptDay is the day of a row in a column of days, or dates.Missing. It is not ok in another
// column, and where it is no date and may be a word for none.
func (d *decoder) keptDay(column int, r *sheet.Record) (raw dates.Raw, ok bool) {
	days := d.kept.dates[column]
	if days == nil {
		return dates.Missing, false
	}
	if day, ok := days.At(r.Index); ok {
		raw = dates.Of(day)
		return raw, !raw.Bad()
	}
	return dates.Missing, true
}

// keptNumber is the number of a row in a column of whole numbers, if it is one as wholeNumber
// reads it.
func keptNumber(wholes *sheet.Wholes, r *sheet.Record) (n int, ok bool) {
	if wholes == nil {
		return 0, false
	}
	whole, ok := wholes.At(r.Index)
	return int(whole), ok && 0 < whole && whole < 1e6
}
