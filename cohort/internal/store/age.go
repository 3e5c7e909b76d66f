package store

import (
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
)

// pivotedYear is added to a birth year whose century was told by the pivot.
const pivotedYear = 10_000

// BirthYear is a birth year as Record.Age has it.
func BirthYear(year int, pivoted bool) int16 {
	if pivoted {
		year += pivotedYear
	}
	return int16(-year)
}

// bornBefore is a day of birth whose century the pivot placed: a century
// earlier if that leaves less than the least age at the operation.
func bornBefore(born, op row.Day) row.Day {
	if !op.Known() || dates.CompletedYears(int32(born), int32(op)) >= row.MinAge {
		return born
	}
	earlier, ok := dates.YearsEarlier(int32(born), 100)
	if !ok {
		return row.Impossible
	}
	return row.Day(earlier)
}

// Age is the age of a row's patient at the operation, in completed years; 0 if it is
// not recorded, or no age at which anybody is operated on.
func (b *Block) Age(i int) int {
	years := b.rows[i].age
	if b.late != nil || years < row.NoAge { // there may be a birth date, or is a birth year
		years = b.rows[i].ageAt(b.Day(Operation, i), b.Day(Birth, i), b.Flags(i)).Years
	}
	if years < row.MinAge || years > row.MaxAge {
		return 0
	}
	return int(years)
}

// ageAt is the age of a row's patient at an operation, in completed years. A
// birth date goes before an age as typed or a birth year.
func (p *packed) ageAt(op, born row.Day, flags row.Flags) row.Age {
	a := row.Age{Years: p.age, Column: row.ColumnAge}
	if a.Years < row.NoAge {
		a.Years, a.Column = yearsFrom(int(a.Years), op), row.ColumnBirthYear
	}
	switch {
	case born == row.NoDay:
		switch {
		case flags&row.FlagAgeUnreadable != 0:
			a.Unreadable = row.ColumnAge
		case flags&row.FlagBirthYearUnreadable != 0:
			a.Unreadable = row.ColumnBirthYear
		}
	case born.Unreadable():
		a.Unreadable = row.ColumnBirthDate
	default:
		typed := a.Years
		a.Years, a.Column = row.NoAge, row.ColumnBirthDate
		if !op.Known() {
			return a
		}
		if a.Years = int16(dates.CompletedYears(int32(born), int32(op))); a.Years < 0 {
			a.Years = row.Unborn
		}
		a.Disagrees = typed >= 0 && (typed-a.Years > 1 || a.Years-typed > 1)
	}
	return a
}

// yearsFrom is the age at an operation from a birth year as typed.
func yearsFrom(typed int, op row.Day) int16 {
	if !op.Known() {
		return row.NoAge
	}
	year, _, _ := dates.YMD(int32(op))
	if typed <= -pivotedYear {
		if typed += pivotedYear + year; typed < row.MinAge {
			typed += 100
		}
		return int16(typed)
	}
	if typed += year; typed < 0 {
		return row.Unborn
	}
	return int16(typed)
}
