package dates

import "encoding/binary"

// Options says how cells are read. The zero value refuses two-digit years.
type Options struct {
	// PivotSet says that two-digit years are accepted.
	PivotSet bool
	// Pivot places them: a two-digit year below Pivot is 20yy, any other 19yy.
	// With 30, 29 is 2029 and 30 is 1930. Unused unless PivotSet.
	Pivot int
}

// Parse reads one cell. It allocates nothing and keeps no reference to cell.
// An empty cell, or one of white space only, is Missing; words for a missing
// value are for the caller to know.
func Parse(cell []byte, o Options) Raw {
	if len(cell) == 0 {
		return Missing
	}
	if r, ok := ParseISO(cell); ok {
		return r
	}
	return parse(trim(cell), o)
}

// ParseISO reads a cell that has the form of 2019-04-03 and nothing around it; ok says that it
// has. It looks at the year, the month and what stands between at once: x is then 0 in the
// place of a sign and its value in that of a digit, and the top bit of a byte of wrong is set
// where it is neither; each byte of two is that and ten times the one before it.
func ParseISO(cell []byte) (r Raw, ok bool) {
	const (
		signs  = 0x2d30302d30303030
		limits = 0x7f76767f76767676
		tops   = 0x8080808080808080
	)
	if len(cell) != 10 {
		return Missing, false
	}
	x := binary.LittleEndian.Uint64(cell[:8]) ^ signs
	tens, ones := cell[8]-'0', cell[9]-'0'
	if wrong := (x + limits | x) & tops; wrong != 0 || tens > 9 || ones > 9 {
		return Missing, false
	}
	two := x*10 + x>>8
	return settled(int(two&0xff)*100+int(two>>16&0xff), int(two>>40&0xff), int(tens)*10+int(ones)), true
}

// parse reads a cell that has no white space around it.
func parse(c []byte, o Options) Raw {
	if len(c) == 0 {
		return Missing
	}
	n1, digits1, rest := number(c)
	if digits1 == 0 {
		return parseNamed(c, o)
	}
	if len(rest) == 0 || digits1 >= 5 {
		return parsePlain(c, n1, digits1, rest)
	}
	sep, rest2 := separator(rest)
	if sep == 0 {
		return parseNamed(c, o)
	}
	n2, digits2, rest3 := number(rest2)
	if digits2 == 0 {
		return parseNamed(c, o)
	}
	sep2, rest4 := separator(rest3)
	n3, digits3, tail := number(rest4)
	if sep2 != sep || digits2 > 2 || digits3 == 0 || !timeOfDay(tail) {
		return badNotADate
	}
	if digits1 == 4 && digits3 <= 2 {
		return settled(n1, n2, n3)
	}
	if digits1 > 2 {
		return badNotADate
	}
	return unsettled(n1, n2, n3, digits3, o)
}

// unsettled packs two numbers followed by a year of so many digits.
func unsettled(a, b, y, digits int, o Options) Raw {
	switch {
	case digits == 4:
		return pair(a, b, y)
	case digits != 2:
		return badNotADate
	case o.PivotSet:
		return pivoted(pair(a, b, Century(y, o)))
	case possible(2000, a, b) || possible(2000, b, a):
		return badTwoDigitYear
	}
	return badImpossible
}

// Century gives a two-digit year its century by the pivot.
func Century(yy int, o Options) int {
	if yy < o.Pivot {
		return 2000 + yy
	}
	return 1900 + yy
}

// parsePlain reads a cell that begins with five digits or more, or has
// nothing else: 20190403 or a serial.
func parsePlain(c []byte, n, digits int, rest []byte) Raw {
	switch {
	case digits == 8:
		y, m, d := n/10000, n/100%100, n%100
		if y < MinYear || y > MaxYear || !zeroFraction(rest) && !timeOfDay(rest) {
			return badNotADate // a case number, more likely than a date of another age
		}
		return settled(y, m, d)
	case digits == 5 || digits == 6:
		if len(rest) > 0 {
			if rest[0] != '.' && rest[0] != ',' {
				return badNotADate
			}
			_, fraction, after := number(rest[1:])
			if len(after) > 0 || fraction == 0 && len(rest) > 1 {
				return badNotADate
			}
		}
		if c[0] == '0' || n < minSerial || n > maxSerial {
			return badNotADate
		}
		return Of(int32(n - serialEpoch))
	}
	return badNotADate
}

// zeroFraction reports whether c is .0, as a column of whole numbers gets when
// a program has kept it as decimal numbers.
func zeroFraction(c []byte) bool {
	if len(c) < 2 || c[0] != '.' && c[0] != ',' {
		return false
	}
	n, _, after := number(c[1:])
	return n == 0 && len(after) == 0
}

// number reads the digits at the start of c. The value is only meaningful for
// nine digits or fewer.
func number(c []byte) (n, digits int, rest []byte) {
	for digits < len(c) {
		b := c[digits] - '0'
		if b > 9 {
			break
		}
		if digits < 9 {
			n = n*10 + int(b)
		}
		digits++
	}
	return n, digits, c[digits:]
}

// separator reads one of - / . and the space around it.
func separator(c []byte) (sep byte, rest []byte) {
	if len(c) > 0 && space(c) > 0 {
		c = skipSpace(c)
	}
	if len(c) == 0 || c[0] != '-' && c[0] != '/' && c[0] != '.' {
		return 0, c
	}
	return c[0], skipSpace(c[1:])
}

// space returns the length of the white space character at the start of c:
// an ASCII one, a no-break space or a narrow no-break space.
func space(c []byte) int {
	switch {
	case len(c) == 0:
		return 0
	case c[0] == ' ' || c[0] >= '\t' && c[0] <= '\r':
		return 1
	case c[0] == 0xC2 && len(c) > 1 && c[1] == 0xA0:
		return 2
	case c[0] == 0xE2 && len(c) > 2 && c[1] == 0x80 && c[2] == 0xAF:
		return 3
	}
	return 0
}

func skipSpace(c []byte) []byte {
	for {
		n := space(c)
		if n == 0 {
			return c
		}
		c = c[n:]
	}
}

func trim(c []byte) []byte {
	c = skipSpace(c)
	for n := len(c); n > 0; n = len(c) {
		switch {
		case space(c[n-1:]) == 1:
			c = c[:n-1]
		case n >= 2 && space(c[n-2:]) == 2:
			c = c[:n-2]
		case n >= 3 && space(c[n-3:]) == 3:
			c = c[:n-3]
		default:
			return c
		}
	}
	return c
}
