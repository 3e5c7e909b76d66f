package table

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
)

// Limits of the days that are looked at for standing for none.
const (
	mostSuspects  = 4096 // different ones
	fewestNoDays  = 3    // rows in which such a day stands
	mostNoDayText = 3    // days that are named
)

// daysAmong are the days among words that stand for a missing value; nil if there
// are none.
func daysAmong(missing []string) map[int32]bool {
	var days map[int32]bool
	for _, w := range missing {
		raw := dates.Parse([]byte(w), dates.Options{})
		for _, order := range []dates.Order{dates.DayFirst, dates.MonthFirst} {
			if day, err := raw.Day(order); raw != dates.Missing && err == nil {
				if days == nil {
					days = make(map[int32]bool)
				}
				days[day] = true
			}
		}
	}
	return days
}

// beginnings are the days, each a first of January, on which programs' calendars begin: a
// day of none. Other days of the past are left as they are, since they may be
// somebody's birth, under the wrong heading.
var beginnings = []int32{newYear(1901), newYear(1904), newYear(1960), newYear(1970), newYear(1980)}

// newYear is the first day of a year.
func newYear(year int) int32 {
	if day, ok := dates.FromYMD(year, 1, 1); ok {
		return day
	}
	return math.MaxInt32
}

func yearOf(day row.Day) int {
	year, _, _ := dates.YMD(int32(day))
	return year
}

// suspicious says that a day is one of a coming year, or one on which a program's
// calendar begins.
func (d *decoder) suspicious(day int32) bool {
	return day >= d.comingYear || slices.Contains(beginnings, day)
}

// suspect counts a day that is.
func (d *decoder) suspect(column int, raw dates.Raw) {
	day, err := raw.Day(dates.DayFirst)
	if err != nil {
		if day, err = raw.Day(dates.MonthFirst); err != nil {
			return
		}
	}
	if !d.suspicious(day) {
		return
	}
	if d.suspects[column] == nil {
		d.suspects[column] = make(map[dates.Raw]int)
	}
	if _, ok := d.suspects[column][raw]; ok || len(d.suspects[column]) < mostSuspects {
		d.suspects[column][raw]++
	}
}

// usual says that a date is a day, whatever the order, that nobody need look at again: a
// long way from those that stand for none.
func (d *decoder) usual(raw dates.Raw) bool {
	day, settled := raw.Settled()
	return settled && d.missingDays == nil && day > beginnings[0] && !d.suspicious(day)
}

func (d *decoder) mergeSuspects(o *decoder) {
	for column, days := range o.suspects {
		if d.suspects[column] == nil {
			d.suspects[column] = days
			continue
		}
		for raw, n := range days {
			d.suspects[column][raw] += n
		}
	}
}

// suspected is what is counted of the days of one table.
type suspected struct {
	serials  int // days last seen that are written as numbers
	days     [store.DateCount]map[dates.Raw]int
	headings [store.DateCount]int
}

// SettleNoDays settles which days of all tables stand for none: those that are
// before every operation, or after today, in three rows or more of a column. It is
// said of each table, and called once when all are read.
func (r *Reader) SettleNoDays() {
	type place struct {
		column int
		day    row.Day
	}
	rows := make(map[place]int)
	for i, t := range r.Store.Tables {
		for column, days := range r.suspected[i].days {
			for raw, n := range days {
				if day, err := raw.Day(t.Orders[column]); err == nil {
					rows[place{column, row.Day(day)}] += n
				}
			}
		}
	}
	if !slices.ContainsFunc(slices.Collect(maps.Values(rows)), func(n int) bool { return n >= fewestNoDays }) {
		return
	}
	first := r.firstOperation()
	for i, t := range r.Store.Tables {
		var said []string
		for column, days := range r.suspected[i].days {
			total, named := 0, make(map[row.Day]bool)
			for raw, n := range days {
				day, err := raw.Day(t.Orders[column])
				if err != nil || rows[place{column, row.Day(day)}] < fewestNoDays || row.Day(day) <= r.options.Today && (!first.Known() || row.Day(day) >= first) {
					continue
				}
				if t.None[column] == nil {
					t.None[column] = make(map[dates.Raw]bool)
				}
				t.None[column][raw], named[row.Day(day)] = true, true
				total += n
			}
			if total > 0 {
				r.Files[i].missing[r.suspected[i].headings[column]] += total
				said = append(said, fmt.Sprintf("%s in %d rows of %s", listDays(named), total, DateColumns[column]))
			}
		}
		if said != nil {
			r.Files[i].Notes = append(r.Files[i].Notes, "days on which that can't be, each in several rows, read as empty: "+strings.Join(said, "; "))
		}
	}
}

// listDays names the first of some days.
func listDays(days map[row.Day]bool) string {
	var shown []string
	for _, day := range slices.Sorted(maps.Keys(days))[:min(len(days), mostNoDayText)] {
		shown = append(shown, dates.ISO(int32(day)))
	}
	if more := len(days) - len(shown); more > 0 {
		shown = append(shown, fmt.Sprintf("%d more", more))
	}
	return strings.Join(shown, ", ")
}

// firstOperation is the first day of an operation in the tables of primaries.
func (r *Reader) firstOperation() row.Day {
	first := row.NoDay
	for _, b := range r.Store.Blocks {
		if b.Table().Role != row.Primaries {
			continue
		}
		for i := range b.Len() {
			if day := b.Day(store.Operation, i); day.Known() && (!first.Known() || day < first) {
				first = day
			}
		}
	}
	return first
}
