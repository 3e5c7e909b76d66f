// Package dates reads the dates people type into tables and keeps them as
// whole days since 1 January 1970.
//
// Whether 3/4/2019 is the third of April or the fourth of March is only known
// when a whole column has been read. Parse therefore packs what a cell says
// into a Raw: nothing, a settled day, two numbers and a year whose order is
// open, or the reason why the cell is no date. Raw.Evidence says what one cell
// tells about the column's order; Raw.Day gives the day once the order is
// known.
//
// Accepted, with spaces around and inside ignored where they do not matter:
//
//	2019-04-03, 2019-4-3, 2019/04/03, 2019.04.03,
//	20190403, 20190403.0                                     settled
//	3/4/2019, 03.04.2019, 03-04-2019                         order of the column
//	3-Apr-2019, 3 April 2019, 3rd April 2019, 03Apr2019,
//	Apr 3, 2019, April 3 2019, 2019-Apr-03,
//	Wednesday, 3 April 2019                                  settled
//	43558, 43558.0, 43558.75                                 spreadsheet serial
//
// A time of day after the date, with or without a zone, is checked for its
// shape and left out: the day is the day as written. Month names are English,
// German, French, Dutch, Spanish, Danish, Norwegian or Swedish; abbreviations
// are those in common use.
//
// A serial is a whole number of days from 10000 (18 May 1927) to 109574
// (31 December 2199) in the 1900 system, in which 1 January 1970 is 25569; a
// fraction, after a point or a comma, is the time of day and is left out.
// Smaller numbers are not read as serials, since a year alone, an age or a
// case number would then become a date.
//
// Two-digit years are refused unless Options sets a pivot.
package dates

import (
	"errors"
	"strconv"
)

const (
	// MinYear and MaxYear bound the years a date may have.
	MinYear = 1900
	MaxYear = 2199

	minDay = -25567 // 1900-01-01
	maxDay = 84005  // 2199-12-31

	serialEpoch = 25569 // the 1900-system serial of 1970-01-01
	minSerial   = 10000
	maxSerial   = maxDay + serialEpoch
)

// The reasons why a cell gives no day. Raw.Day returns these values
// themselves, so that they may be compared with ==.
var (
	ErrMissing      = errors.New("no date")
	ErrNotADate     = errors.New("not a date")
	ErrImpossible   = errors.New("no such day in the calendar")
	ErrTwoDigitYear = errors.New("a two-digit year, and no pivot is set")
	ErrOutOfRange   = errors.New("the year is outside 1900 to 2199")
	ErrOrderUnknown = errors.New("day first or month first is not known")
)

// Order says which of the first two numbers in 3/4/2019 is the day.
type Order uint8

// The orders. The zero value is OrderUnknown.
const (
	OrderUnknown Order = iota
	DayFirst
	MonthFirst
)

// String is "day first", "month first" or, where it is not known, "from the table".
func (o Order) String() string {
	switch o {
	case DayFirst:
		return "day first"
	case MonthFirst:
		return "month first"
	}
	return "from the table"
}

// Evidence is what one cell tells about the order of its column.
type Evidence uint8

// The kinds of evidence.
const (
	None           Evidence = iota // missing, bad, settled, or alike in both orders (5/5/2019)
	OnlyDayFirst                   // a day only when read day first: 13/4/2019
	OnlyMonthFirst                 // a day only when read month first: 4/13/2019
	Either                         // two different days: 3/4/2019
)

// Raw is one cell's date before the order of its column is known. The zero
// value is Missing. Two Raws are equal if and only if the cells say the same.
type Raw int32

// Missing is the Raw of an empty cell.
const Missing Raw = 0

// A Raw is packed as, from the lowest bit:
//
//	19 bits  settled: day − minDay; pair: first number (5), second (5),
//	         year − MinYear (9); bad: index into reasons
//	 2 bits  Evidence
//	 2 bits  kind
//	 1 bit   the century is the pivot's
const (
	kindMissing = iota
	kindSettled
	kindPair
	kindBad

	evidenceShift = 19
	kindShift     = 21
	pivotedBit    = 1 << 23
	payloadMask   = 1<<evidenceShift - 1
)

const (
	badNotADate      = Raw(kindBad<<kindShift + 0)
	badImpossible    = Raw(kindBad<<kindShift + 1)
	badTwoDigitYear  = Raw(kindBad<<kindShift + 2)
	badYearOutOfSpan = Raw(kindBad<<kindShift + 3)
)

var reasons = [...]error{ErrNotADate, ErrImpossible, ErrTwoDigitYear, ErrOutOfRange}

// Of returns the Raw of a day that is already known, as from a column of a
// date type. A day outside 1900-01-01 to 2199-12-31 gives a Raw whose Day is
// ErrOutOfRange.
func Of(day int32) Raw {
	if day < minDay || day > maxDay {
		return badYearOutOfSpan
	}
	return Raw(kindSettled<<kindShift) | Raw(day-minDay)
}

// Evidence says what r tells about the order of day and month in its column.
// A cell that is no date in either order (31/2/2019), or that is refused for
// its year, tells nothing.
func (r Raw) Evidence() Evidence { return Evidence(r >> evidenceShift & 3) }

// Bad reports whether r is a cell that gives no day in any order, and is not
// Missing.
func (r Raw) Bad() bool { return r>>kindShift&3 == kindBad }

// Settled is r as a day where no order is needed to read it, and no pivot was.
func (r Raw) Settled() (day int32, ok bool) {
	return int32(r)&payloadMask + minDay, r>>kindShift == kindSettled
}

// RawBits is how many bits a Raw needs, the lowest.
const RawBits = 24

// Packed is a Raw in as few bytes as it needs.
type Packed [RawBits / 8]byte

// Pack is r in few bytes.
func (r Raw) Pack() Packed { return Packed{byte(r), byte(r >> 8), byte(r >> 16)} }

// Raw is what was packed.
func (p Packed) Raw() Raw { return Raw(p[0]) | Raw(p[1])<<8 | Raw(p[2])<<16 }

// Pivoted reports whether the year had two digits, and the pivot placed it.
func (r Raw) Pivoted() bool { return r&pivotedBit != 0 }

// pivoted marks a date whose century is the pivot's.
func pivoted(r Raw) Raw {
	if r.Bad() {
		return r
	}
	return r | pivotedBit
}

// YearsEarlier returns the day so many years before, and false if the calendar
// or the span of years does not have it.
func YearsEarlier(day int32, years int) (int32, bool) {
	y, m, d := YMD(day)
	return FromYMD(y-years, m, d)
}

// Day returns r as a day, reading an open pair in the given order. The error
// is one of the values above; the day is then 0. A settled day needs no order;
// an open pair without one is ErrOrderUnknown even if only one order would
// give a day, since one cell does not decide for its column.
func (r Raw) Day(o Order) (int32, error) {
	payload := int32(r) & payloadMask
	switch r >> kindShift & 3 {
	case kindSettled:
		return payload + minDay, nil
	case kindPair:
		a, b := int(payload&31), int(payload>>5&31)
		switch o {
		case DayFirst:
		case MonthFirst:
			a, b = b, a
		default:
			return 0, ErrOrderUnknown
		}
		day, ok := FromYMD(int(payload>>10)+MinYear, b, a)
		if !ok {
			return 0, ErrImpossible
		}
		return day, nil
	case kindBad:
		if int(payload) < len(reasons) {
			return 0, reasons[payload]
		}
		return 0, ErrNotADate
	}
	return 0, ErrMissing
}

// settled packs year, month and day whose order is known.
func settled(y, m, d int) Raw {
	day, ok := FromYMD(y, m, d)
	switch {
	case ok:
		return Raw(kindSettled<<kindShift) | Raw(day-minDay)
	case y < MinYear || y > MaxYear:
		return badYearOutOfSpan
	}
	return badImpossible
}

// pair packs two numbers and a year whose order is open.
func pair(a, b, y int) Raw {
	if y < MinYear || y > MaxYear {
		return badYearOutOfSpan
	}
	dayFirst, monthFirst := possible(y, b, a), possible(y, a, b)
	evidence := Either
	switch {
	case dayFirst && monthFirst && a == b:
		return settled(y, a, b)
	case dayFirst && monthFirst:
	case dayFirst:
		evidence = OnlyDayFirst
	case monthFirst:
		evidence = OnlyMonthFirst
	default:
		return badImpossible
	}
	return Raw(kindPair<<kindShift) | Raw(evidence)<<evidenceShift | Raw(a|b<<5|(y-MinYear)<<10)
}

// monthStart is the first day of each month from January of MinYear, and the day after
// the last.
var monthStart = func() (start [(MaxYear-MinYear+1)*12 + 1]int32) {
	day := int32(minDay)
	for i := range start {
		start[i] = day
		switch y, m := MinYear+i/12, i%12+1; m {
		case 2:
			day += 28
			if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
				day++
			}
		case 4, 6, 9, 11:
			day += 30
		default:
			day += 31
		}
	}
	return start
}()

// possible reports whether the month has the day.
func possible(y, m, d int) bool {
	_, ok := FromYMD(y, m, d)
	return ok
}

// FromYMD returns the day of a date of the Gregorian calendar, and false if
// the calendar has no such date or its year is outside MinYear to MaxYear.
func FromYMD(y, m, d int) (int32, bool) {
	if y < MinYear || y > MaxYear || m < 1 || m > 12 {
		return 0, false
	}
	month := (y-MinYear)*12 + m - 1
	first := monthStart[month]
	if d < 1 || d > int(monthStart[month+1]-first) {
		return 0, false
	}
	return first + int32(d) - 1, true
}

// YMD returns the year, month and day of any day, in the Gregorian calendar.
func YMD(day int32) (y, m, d int) {
	year, dayOfYear := marchYear(day)
	month := (5*dayOfYear + 2) / 153 // 0 is March
	d = int(dayOfYear-(153*month+2)/5) + 1
	m = int(month) + 3
	y = int(year)
	if m > 12 {
		m -= 12
		y++
	}
	return y, m, d
}

// marchYear returns the year a day is in, and its number there from 0, if years are
// counted from 1 March: the leap day is then the last of its year. In the 200 years up to
// 28 February 2100 each fourth has one.
func marchYear(day int32) (year, dayOfYear int64) {
	const before, days = 25508, 200*365 + 49 // 1970, from 1 March 1900
	if n := uint32(day + before); n < days {
		quarters := 4*n + 3
		return 1900 + int64(quarters/1461), int64(quarters % 1461 / 4)
	}
	return anyMarchYear(day)
}

// anyMarchYear is marchYear for any day. Days are split into eras of 400 years of 146,097
// days.
func anyMarchYear(day int32) (year, dayOfYear int64) {
	n := int64(day) + 719468 // days since 1 March of year 0
	era := n / 146097
	if n < 0 {
		era = (n - 146096) / 146097
	}
	dayOfEra := n - era*146097
	yearOfEra := (dayOfEra - dayOfEra/1460 + dayOfEra/36524 - dayOfEra/146096) / 365
	return yearOfEra + era*400, dayOfEra - (365*yearOfEra + yearOfEra/4 - yearOfEra/100)
}

// ISO returns the day as 2019-04-03.
func ISO(day int32) string { return string(AppendISO(nil, day)) }

// AppendISO appends the day as 2019-04-03. A year before 0 or after 9999 is
// written with as many digits as it needs, and a minus sign before 0.
func AppendISO(b []byte, day int32) []byte {
	y, m, d := YMD(day)
	if y < 0 || y > 9999 {
		b = strconv.AppendInt(b, int64(y), 10)
	} else {
		b = append(b, byte('0'+y/1000), byte('0'+y/100%10), byte('0'+y/10%10), byte('0'+y%10))
	}
	return append(b, '-', byte('0'+m/10), byte('0'+m%10), '-', byte('0'+d/10), byte('0'+d%10))
}

// CompletedYears returns the number of whole years from one day to another,
// as an age is counted: it rises on each anniversary of the first day. After a
// first day of 29 February it rises on 1 March in years without that day. If
// to is before from the result is negative: −1 up to a year before.
func CompletedYears(from, to int32) int {
	y1, d1 := marchYear(from)
	y2, d2 := marchYear(to)
	if d2 < d1 {
		y2--
	}
	return int(y2 - y1)
}
