package table

import (
	"fmt"
	"math"

	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
)

// A spreadsheet may count days from 1904 instead of 1900, and so writes numbers for
// days that are read as so many days earlier.
const from1904 = 1462

// Limits of what looks like it.
const (
	fewestSerials = 5   // days last seen
	nearFrom1904  = 120 // how far the ends of the columns may lie apart beside it
)

// isSerial says whether a cell for a date is a number of days, as spreadsheets keep
// them: of five digits, with a fraction or without.
func isSerial(c []byte) bool {
	digits := 0
	for digits < len(c) && c[digits] >= '0' && c[digits] <= '9' {
		digits++
	}
	return digits == 5 && (len(c) == 5 || c[5] == '.' || c[5] == ',')
}

// FindEarlySeen says of tables whose days last seen are all numbers, and end four
// years before the table's other dates, or those of them up to the closing date, that
// they may be counted from 1904. It is called once when all tables are read.
func (r *Reader) FindEarlySeen(closing row.Day) {
	for i, t := range r.Store.Tables {
		if t.Role != row.Primaries || r.suspected[i].serials < fewestSerials {
			continue
		}
		never := row.Day(math.MinInt32)
		seen, others, within, days := never, never, never, 0
		for _, b := range r.Store.Blocks {
			if b.Table() != t {
				continue
			}
			for k := range b.Len() {
				for column := store.Operation; column <= store.Death; column++ {
					if day := b.Day(column, k); day <= r.options.Today {
						others = max(others, day)
						if day <= closing {
							within = max(within, day)
						}
					}
				}
				if day := b.Day(store.Seen, k); day.Known() {
					seen = max(seen, day)
					days++
				}
			}
		}
		near := func(end row.Day) bool {
			gap := int64(end) - int64(seen) - from1904
			return end.Known() && -nearFrom1904 <= gap && gap <= nearFrom1904
		}
		if days != r.suspected[i].serials || !near(others) && !near(within) {
			continue
		}
		f := &r.Files[i]
		f.SeenEarly = fmt.Sprintf("the days under %q are numbers, and end four years before the other dates, as those do that a spreadsheet counts from 1904: if so, joints are taken for lost that are not, and the days are to be written as 2019-04-03",
			f.Headings[r.suspected[i].headings[store.Seen]].Typed)
		f.Notes = append(f.Notes, f.SeenEarly)
	}
}
