package testtable

import (
	"fmt"
	"math/rand/v2"
	"time"

	"example.org/holdfast/cohort"
)

var dateColumns = []string{"operation_date", "revision_date", "death_date", "last_seen_date", "birth_date"}

// eachDate calls f with every cell of a date column that holds an ISO date.
func eachDate(d *Draft, f func(c *Cell, y, m, day int)) {
	for _, column := range dateColumns {
		d.each(column, func(c *Cell, _ *Row) {
			if t, err := time.Parse(time.DateOnly, c.Text); err == nil && c.Book == nil {
				f(c, t.Year(), int(t.Month()), t.Day())
			}
		})
	}
}

// told says in which order dates stand, where small tables may not show it.
func told(d *Draft, o cohort.DateOrder) {
	if len(d.Tables) > 1 {
		d.Options.DateOrder = o
	}
}

// serial is the number by which a workbook that counts from 1900 stands for a
// day after February 1900.
func serial(y, m, day int) int {
	return int(time.Date(y, time.Month(m), day, 0, 0, 0, 0, time.UTC).Sub(time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)) / (24 * time.Hour))
}

// dated is a damage to every date.
func dated(name, does string, kind Kind, apply func(d *Draft, r *rand.Rand, c *Cell, y, m, day int), before func(d *Draft)) Damage {
	return Damage{Name: name, Does: does, Kind: kind, stage: days, groups: []string{"dates"}, apply: func(d *Draft, r *rand.Rand) {
		if before != nil {
			before(d)
		}
		eachDate(d, func(c *Cell, y, m, day int) { apply(d, r, c, y, m, day) })
	}}
}

var months = [...]string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

var dateDamages = []Damage{
	dated("day first", "3/4/2019 for 3 April", EitherFile,
		func(_ *Draft, _ *rand.Rand, c *Cell, y, m, day int) { c.Text = numeric(day, m, y, "/") },
		func(d *Draft) { told(d, cohort.DayFirst) }),
	dated("day first with dots", "03.04.2019 for 3 April, or 3.4.2019", EitherFile,
		func(_ *Draft, r *rand.Rand, c *Cell, y, m, day int) {
			if c.Text = numeric(day, m, y, "."); r.IntN(2) == 0 {
				c.Text = fmt.Sprintf("%d.%d.%d", day, m, y)
			}
		}, func(d *Draft) { told(d, cohort.DayFirst) }),
	dated("month first", "4/3/2019 for 3 April", EitherFile,
		func(_ *Draft, _ *rand.Rand, c *Cell, y, m, day int) { c.Text = numeric(m, day, y, "/") },
		func(d *Draft) { told(d, cohort.MonthFirst) }),
	dated("named months", "3-Apr-2019, 3 April 2019, April 3, 2019", EitherFile,
		func(_ *Draft, r *rand.Rand, c *Cell, y, m, day int) {
			c.Text = []string{
				fmt.Sprintf("%d-%s-%d", day, months[m-1][:3], y), fmt.Sprintf("%d %s %d", day, months[m-1], y),
				fmt.Sprintf("%s %d, %d", months[m-1], day, y),
			}[r.IntN(3)]
		}, nil),
	dated("two-digit years", "3/4/19, with the pivot in the settings", EitherFile,
		func(_ *Draft, _ *rand.Rand, c *Cell, y, m, day int) {
			c.Text = fmt.Sprintf("%02d/%02d/%02d", day, m, y%100)
		}, func(d *Draft) {
			pivot := 30
			d.Options.Pivot = &pivot
			told(d, cohort.DayFirst)
		}),
	dated("dates without marks", "20190403", EitherFile,
		func(_ *Draft, _ *rand.Rand, c *Cell, y, m, day int) { c.Text = fmt.Sprintf("%04d%02d%02d", y, m, day) }, nil),
	dated("dates with a time of day", "2019-04-03 00:00:00", EitherFile,
		func(_ *Draft, _ *rand.Rand, c *Cell, y, m, day int) {
			c.Text += " 00:00:00"
			c.Book = Shown{Value: float64(serial(y, m, day)) + 0.625, Format: "dd/mm/yyyy hh:mm"}
		}, nil),
	dated("several ways to write a date", "ISO in one row, a serial number in the next, a named month in the third", EitherFile,
		func(_ *Draft, r *rand.Rand, c *Cell, y, m, day int) {
			switch r.IntN(4) {
			case 0:
				c.Text = fmt.Sprint(serial(y, m, day))
				c.Book = serial(y, m, day)
			case 1:
				c.Text = fmt.Sprintf("%d %s %d", day, months[m-1][:3], y)
			case 2:
				c.Text = numeric(day, m, y, "/")
			}
		}, func(d *Draft) { told(d, cohort.DayFirst) }),
	dated("date cells", "numbers shown as dates", BookFile,
		func(_ *Draft, _ *rand.Rand, c *Cell, _, _, _ int) { c.Book = Day(c.Text) }, nil),
	dated("date cells from 1904", "numbers shown as dates in a workbook that counts days from 1904", BookFile,
		func(_ *Draft, _ *rand.Rand, c *Cell, _, _, _ int) { c.Book = Day(c.Text) },
		func(d *Draft) {
			for _, t := range d.Tables {
				t.Since1904 = true
			}
		}),
	dated("date cells and text", "a date in one row and text in the next", BookFile,
		func(_ *Draft, r *rand.Rand, c *Cell, y, m, day int) {
			if r.IntN(2) == 0 {
				c.Book = Day(c.Text)
			} else {
				c.Text = numeric(day, m, y, "/")
			}
		}, func(d *Draft) { told(d, cohort.DayFirst) }),
	dated("serial numbers", "dates as numbers without a format", BookFile,
		func(_ *Draft, _ *rand.Rand, c *Cell, y, m, day int) { c.Book = serial(y, m, day) }, nil),
	dated("dates by formula", "formulas with saved values, some of them text", BookFile,
		func(_ *Draft, r *rand.Rand, c *Cell, y, m, day int) {
			f := Formula{Text: fmt.Sprintf("DATE(%d,%d,%d)", y, m, day), Value: Day(c.Text)}
			if r.IntN(3) == 0 {
				f = Formula{Text: fmt.Sprintf(`TEXT(%d,"yyyy-mm-dd")`, serial(y, m, day)), Value: c.Text}
			}
			c.Book = f
		}, nil),
	dated("dates in many formats", "date cells shown as day first, month first and in words", BookFile,
		func(_ *Draft, r *rand.Rand, c *Cell, y, m, day int) {
			formats := []string{"dd/mm/yyyy", "mm-dd-yy", "d mmm yyyy", `dd\.mm\.yyyy`, `[$-809]dddd, d mmmm yyyy`, "yyyy-mm-dd;@"}
			c.Book = Shown{Value: float64(serial(y, m, day)), Format: formats[r.IntN(len(formats))]}
		}, nil),
}
