package cohort

import (
	"cmp"
	"errors"
	"fmt"
	"math"

	"example.org/holdfast/cohort/internal/parallel"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/table"
)

// ErrNoUsableRow says that every row of the tables was set aside, or that they
// have none.
var ErrNoUsableRow = errors.New("no row can be used")

// Closing is the day up to which follow-up is complete.
type Closing struct {
	Day   Day
	Asked bool // given, rather than found

	// DeathsEnd says that the day is the one up to which deaths are known,
	// which is earlier than the closing date found or given.
	DeathsEnd bool

	// Where the day was found, unless it was asked for.
	File   int
	Row    int
	Column string

	// NextLatest is the latest date of another row; GapDays how far the
	// closing date stands after it.
	NextLatest Day
	GapDays    int
}

// LongestGap is the gap above which a found closing date is doubtful.
const LongestGap = 90

// Doubtful says that the closing date was found and stands so far after every
// other row's dates that it may be a typing error.
func (c Closing) Doubtful() bool { return !c.Asked && c.GapDays > LongestGap }

// latest holds the latest date of a set of rows, and the latest of another row.
type latest struct {
	day, next row.Day
	at        row.Place
	column    int
}

func (l *latest) see(day row.Day, at row.Place, column int) {
	switch {
	case day > l.day:
		if at != l.at {
			l.next = l.day
		}
		l.day, l.at, l.column = day, at, column
	case at != l.at && day > l.next:
		l.next = day
	}
}

// latestOf finds the latest date of a block's rows that is not after today. Rows
// that are no joints have none, and lists of deaths have none either: they know
// nothing of revisions, and most of their people are strangers.
func latestOf(b *store.Block, block int, today row.Day) latest {
	l := latest{day: math.MinInt32, next: math.MinInt32, at: row.Place{Block: int32(block), Index: -1}}
	if b.Table().Role == row.Deaths {
		return l
	}
	aside := row.FlagUnreadable
	if b.Table().BareAside {
		aside |= row.FlagBare
	}
	for column := store.Operation; column <= store.Seen; column++ {
		if !b.Table().Columns.Dates[column] {
			continue
		}
		first, second := b.Latest(column, func(i int, day row.Day) bool {
			return day <= today && day.Known() && b.Flags(i)&aside == 0
		})
		for _, d := range []store.Dated{first, second} {
			if d.Row >= 0 {
				l.see(d.Day, row.Place{Block: int32(block), Index: int32(d.Row)}, column)
			}
		}
	}
	return l
}

// closingOf finds the closing date, or takes the one asked for.
func closingOf(t *table.Reader, o Options) (Closing, error) {
	if o.ClosingDate != nil {
		return Closing{Day: *o.ClosingDate, Asked: true}, nil
	}
	blocks := t.Store.Blocks
	found := make([]latest, len(blocks))
	parallel.Each(len(blocks), func(bi int) { found[bi] = latestOf(blocks[bi], bi, row.Day(o.Today)) })
	all := latest{day: math.MinInt32, next: math.MinInt32}
	for _, l := range found {
		if l.day > all.day || l.day == all.day && l.day.Known() && cmp.Or(cmp.Compare(l.column, all.column), t.Store.Compare(l.at, all.at)) < 0 {
			all, l = l, all
		}
		all.next = max(all.next, l.day, l.next)
	}
	if !all.day.Known() {
		for _, f := range t.Files {
			for _, n := range f.Notes {
				if n == table.ShortYears {
					return Closing{}, fmt.Errorf("%w: %s: %s", ErrNoUsableRow, f.Title(), n)
				}
			}
		}
		return Closing{}, fmt.Errorf("%w: no date could be read", ErrNoUsableRow)
	}
	b := blocks[all.at.Block]
	c := Closing{Day: Day(all.day), File: b.Table().File, Row: b.Line(int(all.at.Index)), Column: table.DateColumns[all.column]}
	if all.next.Known() {
		c.NextLatest, c.GapDays = Day(all.next), int(all.day-all.next)
	}
	return c, nil
}
