package dates

// parseNamed reads a date whose month is a word: day month year, month day
// year or year month day, with an optional weekday before it.
func parseNamed(c []byte, o Options) Raw {
	var parts [3]struct{ n, digits int } // digits is 0 for the month
	months := 0
	count := 0
	first := true
	for count < 3 {
		if !first {
			c = skipBetween(c)
		}
		if len(c) == 0 {
			return badNotADate
		}
		n, digits, rest := number(c)
		if digits > 0 {
			if digits > 4 {
				return badNotADate
			}
			parts[count].n, parts[count].digits = n, digits
			count++
			c = skipOf(skipOrdinal(rest, digits))
			first = false
			continue
		}
		m, weekday, rest, ok := word(c)
		switch {
		case !ok:
			return badNotADate
		case weekday:
			if !first {
				return badNotADate
			}
		default:
			parts[count].n = m
			count++
			months++
		}
		first = false
		c = skipOf(rest)
	}
	if months != 1 || !timeOfDay(c) {
		return badNotADate
	}
	var m int
	var d, y struct{ n, digits int }
	switch {
	case parts[0].digits == 0:
		m, d, y = parts[0].n, parts[1], parts[2]
	case parts[1].digits == 0 && parts[0].digits == 4:
		m, d, y = parts[1].n, parts[2], parts[0]
	case parts[1].digits == 0:
		m, d, y = parts[1].n, parts[0], parts[2]
	default:
		return badNotADate
	}
	switch {
	case d.digits > 2:
		return badNotADate
	case y.digits == 4:
		return settled(y.n, m, d.n)
	case y.digits != 2:
		return badNotADate
	case o.PivotSet:
		return pivoted(settled(Century(y.n, o), m, d.n))
	case possible(2000, m, d.n):
		return badTwoDigitYear
	}
	return badImpossible
}

// skipBetween passes over what may stand between the parts of a date.
func skipBetween(c []byte) []byte {
	for len(c) > 0 {
		switch c[0] {
		case '-', '/', '.', ',':
			c = c[1:]
			continue
		}
		n := space(c)
		if n == 0 {
			return c
		}
		c = c[n:]
	}
	return c
}

// skipOrdinal passes over st, nd, rd or th after a day of the month.
func skipOrdinal(c []byte, digits int) []byte {
	if digits > 2 || len(c) < 2 || len(c) > 2 && letter(c[2]) {
		return c
	}
	switch string([]byte{c[0] | 0x20, c[1] | 0x20}) {
	case "st", "nd", "rd", "th":
		return c[2:]
	}
	return c
}

// skipOf passes over the word de, as in 3 de abril de 2019.
func skipOf(c []byte) []byte {
	rest := skipBetween(c)
	if len(rest) == len(c) || len(rest) < 3 || rest[0]|0x20 != 'd' || rest[1]|0x20 != 'e' || space(rest[2:]) == 0 {
		return c
	}
	return rest[2:]
}

func letter(b byte) bool { return b|0x20 >= 'a' && b|0x20 <= 'z' || b >= 0x80 }

const longestName = 12

// word reads the month or weekday at the start of c.
func word(c []byte) (month int, weekday bool, rest []byte, ok bool) {
	var folded [longestName]byte
	n := 0
	for n < len(c) && letter(c[n]) && space(c[n:]) == 0 {
		if n == longestName {
			return 0, false, nil, false
		}
		b := c[n]
		switch {
		case b < 0x80:
			b |= 0x20
		case n > 0 && c[n-1] == 0xC3 && b >= 0x80 && b <= 0x9E:
			b += 0x20 // À to Þ become à to þ
		}
		folded[n] = b
		n++
	}
	m, known := names[string(folded[:n])]
	return int(m), m == 0, c[n:], known
}

// names gives the month, 1 to 12, or 0 for a weekday. No word means one month
// in one language and another month in another.
var names = map[string]uint8{
	"mon": 0, "tue": 0, "tues": 0, "wed": 0, "weds": 0, "thu": 0, "thur": 0, "thurs": 0,
	"fri": 0, "sat": 0, "sun": 0, "monday": 0, "tuesday": 0, "wednesday": 0, "thursday": 0,
	"friday": 0, "saturday": 0, "sunday": 0,

	"jan": 1, "january": 1, "januar": 1, "jänner": 1, "januari": 1, "janvier": 1, "janv": 1, "ene": 1, "enero": 1,
	"feb": 2, "february": 2, "februar": 2, "februari": 2, "février": 2, "fevrier": 2, "févr": 2, "fév": 2, "febrero": 2,
	"mar": 3, "march": 3, "märz": 3, "mär": 3, "mrz": 3, "mars": 3, "mrt": 3, "maart": 3, "marts": 3, "marzo": 3,
	"apr": 4, "april": 4, "avril": 4, "avr": 4, "abr": 4, "abril": 4,
	"may": 5, "mai": 5, "maj": 5, "mei": 5, "mayo": 5,
	"jun": 6, "june": 6, "juni": 6, "juin": 6, "junio": 6,
	"jul": 7, "july": 7, "juli": 7, "juillet": 7, "juil": 7, "julio": 7,
	"aug": 8, "august": 8, "augusti": 8, "augustus": 8, "août": 8, "aout": 8, "ago": 8, "agosto": 8,
	"sep": 9, "sept": 9, "september": 9, "septembre": 9, "septiembre": 9,
	"oct": 10, "okt": 10, "october": 10, "oktober": 10, "octobre": 10, "octubre": 10,
	"nov": 11, "november": 11, "novembre": 11, "noviembre": 11,
	"dec": 12, "dez": 12, "des": 12, "dic": 12, "december": 12, "dezember": 12, "desember": 12,
	"décembre": 12, "decembre": 12, "déc": 12, "diciembre": 12,
}

// timeOfDay reports whether c, what follows a date, is empty or a time of day:
// T or white space, hours and minutes, optional seconds with a fraction, am or
// pm, and a zone. Midnight written as 24:00 is refused, since it belongs to
// the next day.
func timeOfDay(c []byte) bool {
	if len(c) == 0 {
		return true
	}
	if c[0]|0x20 == 't' {
		c = c[1:]
	} else {
		after := skipSpace(c)
		if len(after) == len(c) {
			return false
		}
		c = after
	}
	h, digits, c := number(c)
	switch digits {
	case 1, 2:
		if len(c) == 0 || c[0] != ':' {
			return false
		}
		minute, n, rest := number(c[1:])
		if h > 23 || n != 2 || minute > 59 {
			return false
		}
		c = rest
		if len(c) > 0 && c[0] == ':' {
			second, n, rest := number(c[1:])
			if n != 2 || second > 60 {
				return false
			}
			c = rest
		}
	case 4: // hhmm
		if h/100 > 23 || h%100 > 59 {
			return false
		}
	case 6: // hhmmss
		if h/10000 > 23 || h/100%100 > 59 || h%100 > 60 {
			return false
		}
	default:
		return false
	}
	if len(c) > 1 && (c[0] == '.' || c[0] == ',') {
		_, n, rest := number(c[1:])
		if n == 0 {
			return false
		}
		c = rest
	}
	return zone(c)
}

// zone reports whether c is am or pm, a zone, both or nothing.
func zone(c []byte) bool {
	c = skipSpace(c)
	if len(c) >= 2 && (c[0]|0x20 == 'a' || c[0]|0x20 == 'p') && c[1]|0x20 == 'm' {
		c = skipSpace(c[2:])
	}
	switch string(c) {
	case "", "Z", "z", "UTC", "GMT", "BST", "IST", "WET", "WEST", "CET", "CEST", "EET", "EEST",
		"EST", "EDT", "CST", "CDT", "MST", "MDT", "PST", "PDT",
		"AEST", "AEDT", "ACST", "ACDT", "AWST", "NZST", "NZDT":
		return true
	}
	if c[0] != '+' && c[0] != '-' {
		return false
	}
	h, digits, rest := number(c[1:])
	switch {
	case digits == 2 && len(rest) == 3 && rest[0] == ':':
		m, n, end := number(rest[1:])
		return h <= 14 && n == 2 && m <= 59 && len(end) == 0
	case digits == 4:
		return h/100 <= 14 && h%100 <= 59 && len(rest) == 0
	}
	return digits == 2 && h <= 14 && len(rest) == 0
}
