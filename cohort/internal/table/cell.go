package table

import (
	"bytes"
	"encoding/binary"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/words"
)

// cell i of a record, without surrounding space; empty if the record is short.
func cell(r *sheet.Record, i int) []byte { return trim(r.Cell(i)) }

// trim takes surrounding space off.
func trim(c []byte) []byte {
	if n := len(c); n > 0 && (maySpace(c[0]) || maySpace(c[n-1])) {
		return bytes.TrimSpace(c)
	}
	return c
}

// maySpace says whether a byte may be of a space.
func maySpace(b byte) bool { return b-'!' >= utf8.RuneSelf-'!' }

// plainCell is cell i of a record without an apostrophe before it, which people and
// programs type to keep a spreadsheet from working on a number or a date. Names
// may begin with one, so words keep it.
func plainCell(r *sheet.Record, i int) []byte {
	c := r.Plain(i)
	if c == nil {
		c = r.Cell(i)
	}
	return plain(c)
}

// plain is any cell likewise.
func plain(c []byte) []byte {
	if c = trim(c); len(c) > 1 && c[0] == '\'' {
		c = bytes.TrimSpace(c[1:])
	}
	return c
}

// plainNumber is an identifier without the zeros before it, and how many these
// are, if it is a number; the zeros that a spreadsheet adds behind a point are left
// out. Any other stays, and zeros is −1.
func plainNumber(id []byte) (number []byte, zeros int) {
	digits := 0
	for digits < len(id) && id[digits] >= '0' && id[digits] <= '9' {
		digits++
	}
	if digits == 0 {
		return id, -1
	}
	if rest := id[digits:]; len(rest) > 0 {
		if rest[0] != '.' || len(rest) == 1 || len(bytes.TrimLeft(rest[1:], "0")) > 0 {
			return id, -1
		}
	}
	for zeros < digits-1 && id[zeros] == '0' {
		zeros++
	}
	return id[zeros:digits], zeros
}

// foldPatient is an identifier in the form in which it is compared: without
// spaces, and in lower case. It is written to a buffer. It looks at eight bytes at a time: each
// is told from the others by its top bit after a sum that no other byte has a part in.
func foldPatient(to, c []byte) []byte {
	const ones, tops = 0x0101010101010101, 0x8080808080808080
	to = append(to[:0], c...)
	rest := to
	for ; len(rest) >= 8; rest = rest[8:] {
		x := binary.LittleEndian.Uint64(rest)
		if visible := (x | tops) - ('!' * ones); (x|^visible)&tops != 0 {
			return foldAny(to[:0], c)
		}
		capital := (x + (0x80-'A')*ones) &^ (x + (0x80-'Z'-1)*ones) & tops
		binary.LittleEndian.PutUint64(rest, x|capital>>2)
	}
	for i, b := range rest {
		switch {
		case b >= 'A' && b <= 'Z':
			rest[i] = b | 0x20
		case b <= ' ' || b >= utf8.RuneSelf:
			return foldAny(to[:0], c)
		}
	}
	return to
}

// foldAny does so of one with spaces, or letters outside ASCII.
func foldAny(to, c []byte) []byte {
	for _, b := range c {
		switch {
		case b >= utf8.RuneSelf:
			to = to[:0]
			for _, r := range norm.NFKC.String(string(c)) {
				if !unicode.IsSpace(r) && !unicode.Is(unicode.Cf, r) {
					to = utf8.AppendRune(to, unicode.ToLower(r))
				}
			}
			return to
		case b == ' ' || b == '\t' || b == '\n' || b == '\r':
		case b >= 'A' && b <= 'Z':
			to = append(to, b|0x20)
		default:
			to = append(to, b)
		}
	}
	return to
}

// age is the age as typed, or the birth year.
func (d *decoder) age(r *sheet.Record) (age int16, unreadable row.Flags) {
	if c := r.Plain(d.layout.age); len(c) == 2 && d.layout.birthYear < 0 && !d.asText { // as most
		if tens, ones := c[0]-'0', c[1]-'0'; 1 <= tens && tens <= 9 && ones <= 9 {
			return int16(tens*10 + ones), 0
		}
	}
	number := func(at int, kept *sheet.Wholes, column string, flag row.Flags) (n int, ok bool) {
		if at < 0 {
			return 0, false
		}
		if n, ok = keptNumber(kept, r); ok {
			return n, true
		}
		c := plainCell(r, at)
		if len(c) == 0 {
			d.missing[at]++
			return 0, false
		}
		if n, ok = wholeNumber(c); !ok && column == "age" {
			c = withoutYears(c)
			n, ok = wholeNumber(c)
		}
		if ok && n > 0 {
			return n, true
		}
		if d.isMissing(column, c) || ok {
			d.missing[at]++
		} else {
			unreadable |= flag
		}
		return 0, false
	}
	years, isAge := number(d.layout.age, d.kept.age, "age", row.FlagAgeUnreadable)
	year, isYear := number(d.layout.birthYear, d.kept.birthYear, "birth_year", row.FlagBirthYearUnreadable)
	if isYear && year < 100 && d.dates.PivotSet && !isAge {
		return store.BirthYear(dates.Century(year, d.dates), true), unreadable
	}
	switch {
	case isAge:
		return int16(min(years, 999)), unreadable
	case isYear && (year < dates.MinYear-100 || year > dates.MaxYear):
		return row.NoAge, unreadable | row.FlagBirthYearUnreadable
	case isYear:
		return store.BirthYear(year, false), unreadable
	}
	return row.NoAge, unreadable
}

// withoutYears is an age without the word for years behind it.
func withoutYears(c []byte) []byte {
	if last := c[len(c)-1]; last >= '0' && last <= '9' {
		return c
	}
	digits := bytes.IndexFunc(c, func(r rune) bool { return (r < '0' || r > '9') && r != '.' && r != ',' })
	if digits <= 0 || !words.Years(string(c[digits:])) {
		return c
	}
	return c[:digits]
}

// takesPlaceholders says whether a column may hold days that stand for none, as
// databases export them.
func takesPlaceholders(column int) bool {
	return column == store.Revision || column == store.Death || column == store.Seen
}

// date reads a date cell and notes what it says about the column's order.
func (d *decoder) date(column, at int, r *sheet.Record) dates.Raw {
	c := r.Plain(at)
	if c != nil && !d.asText {
		if len(c) == 0 { // as most that are no operation's
			d.missing[at]++
			return dates.Missing
		}
		if raw, ok := dates.ParseISO(c); ok && column != store.Seen && d.usual(raw) { // as most others
			return raw
		}
	}
	raw, ok := d.keptDay(column, r)
	if !ok {
		c = plainCell(r, at)
		raw = dates.Parse(c, d.dates)
	}
	if raw == dates.Missing {
		d.missing[at]++
		return raw
	}
	if column != store.Seen && d.usual(raw) && !d.asText {
		return raw
	}
	if d.missingDays != nil && d.standsForNone(raw) {
		d.missing[at]++
		return dates.Missing
	}
	if takesPlaceholders(column) {
		d.suspect(column, raw)
		if column == store.Seen && isSerial(c) {
			d.serials++
		}
	}
	if takesPlaceholders(column) && dates.Placeholder(c, raw) {
		d.placeholders[column]++
		d.missing[at]++
		return dates.Missing
	}
	if e := raw.Evidence(); e != dates.None {
		d.evidence[column].add(e, r.Row)
		return raw
	}
	switch _, err := raw.Day(dates.DayFirst); {
	case err == dates.ErrTwoDigitYear:
		d.shortYears++
	case err == dates.ErrNotADate && d.isMissing(DateColumns[column], c):
		d.missing[at]++
		return dates.Missing
	}
	return raw
}

// standsForNone says whether a day is one that the settings say stands for none,
// in either order of day and month.
func (d *decoder) standsForNone(raw dates.Raw) bool {
	for _, order := range []dates.Order{dates.DayFirst, dates.MonthFirst} {
		if day, err := raw.Day(order); err == nil && d.missingDays[day] {
			return true
		}
	}
	return false
}

// isMissing says whether a cell that is no value stands for a missing one. It
// remembers the words met, up to a number.
func (d *decoder) isMissing(name string, c []byte) bool {
	if len(c) > 32 {
		return false
	}
	memo := d.notValues[name]
	missing, ok := memo[string(c)]
	if !ok {
		missing = column.Missing(name, string(c)) || d.interpreter.missing[words.Fold(string(c))]
		if memo == nil {
			memo = make(map[string]bool)
			d.notValues[name] = memo
		}
		if len(memo) < 4096 {
			memo[string(c)] = missing
		}
	}
	return missing
}

// isPatient says whether a cell holds an identifier. Anything of two digits or
// more does.
func (d *decoder) isPatient(c []byte) bool {
	digits := 0
	for _, b := range c {
		if b >= '0' && b <= '9' {
			if digits++; digits == 2 {
				return true
			}
		}
	}
	return len(c) > 0 && !d.isMissing(column.Patient, c)
}

// yesNo is what a word of a column of yes and no says, by its number.
func (t *typedWords) yesNo(n uint32, yes, no, unclear row.Flags) row.Flags {
	if n == 0 {
		return 0
	}
	if n < uint32(len(t.flags)) && t.flags[n] != 0 {
		return t.flags[n]
	}
	for n >= uint32(len(t.flags)) {
		t.flags = append(t.flags, 0)
	}
	m := column.Understand(t.shared.Column, t.shared.typed(n))
	t.shared.understood(n, m)
	switch {
	case m.Known && m.Value == words.Yes:
		t.flags[n] = yes
	case m.Known && m.Value == words.No:
		t.flags[n] = no
	default:
		t.flags[n] = unclear
	}
	return t.flags[n]
}

// extraCell is the cell of extra field i, or the band of its number; nothing of
// one that is impossible.
func (d *decoder) extraCell(i int, r *sheet.Record) (c []byte, impossible bool) {
	c = cell(r, d.layout.extra[i])
	if len(c) == 0 || !d.interpreter.extra[i].reader.Numbers() {
		return c, false
	}
	return d.interpreter.extra[i].reader.Shorten(c)
}

// extraOf is the code of a typed word in extra field i.
func (d *decoder) extraOf(i int, n uint32) uint16 {
	if n == 0 {
		return 0
	}
	known := d.extraCode[i]
	if int(n) < len(known) && known[n] != 0 {
		return known[n]
	}
	for int(n) >= len(known) {
		known = append(known, 0)
	}
	v := d.extraWords[i]
	f := d.interpreter.extra[i]
	m := f.reader.Understand(v.typed(n))
	v.understood(n, m)
	known[n] = f.code(m.Value)
	d.extraCode[i] = known
	return known[n]
}

// wholeNumber reads a number such as 67, 67.0 or 67,8, without its fraction.
func wholeNumber(c []byte) (int, bool) {
	n, digits := 0, 0
	for digits < len(c) && c[digits] >= '0' && c[digits] <= '9' {
		if digits == 6 {
			return 0, false
		}
		n = n*10 + int(c[digits]-'0')
		digits++
	}
	if digits == 0 {
		return 0, false
	}
	if rest := c[digits:]; len(rest) > 0 {
		if rest[0] != '.' && rest[0] != ',' {
			return 0, false
		}
		for _, b := range rest[1:] {
			if b < '0' || b > '9' {
				return 0, false
			}
		}
	}
	return n, true
}
