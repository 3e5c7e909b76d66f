package workbook

import (
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"
)

// readFormats finds out which cell formats show numbers as dates.
func (b *Book) readFormats(name string) error {
	custom := map[int]bool{}
	return b.read(name, func(s *scanner, t xml.StartElement) error {
		switch {
		case s.at("styleSheet", "numFmts", "numFmt"):
			if id, err := strconv.Atoi(attribute(t, "numFmtId")); err == nil {
				custom[id] = dateFormat(attribute(t, "formatCode"))
			}
			if len(custom) > maxFormats {
				return fmt.Errorf("%w: it has too many cell formats", ErrTooLarge)
			}
		case s.at("styleSheet", "cellXfs", "xf"):
			if len(b.dates) == maxFormats {
				return fmt.Errorf("%w: it has too many cell formats", ErrTooLarge)
			}
			id, _ := strconv.Atoi(attribute(t, "numFmtId"))
			date, ok := custom[id]
			b.dates = append(b.dates, date || !ok && builtInDate(id))
		}
		return nil
	})
}

// builtInDate: the numbers of formats that are not written out (ECMA-376 part
// 1, 18.8.30). 18 to 21 and 45 to 47 are times of day and durations. 27 to 36
// and 50 to 58 depend on the East Asian edition; those that are dates in any
// count, since a time of day alone is no day and stays a number.
func builtInDate(id int) bool {
	switch {
	case 14 <= id && id <= 17, id == 22, 27 <= id && id <= 31, 34 <= id && id <= 36, 50 <= id && id <= 58:
		return true
	}
	return false
}

// dateFormat reports whether a format code shows a date: it has a year, a day,
// or a month that is no minute. Only the first of its sections counts; texts
// in it, colours, conditions and languages do not.
func dateFormat(code string) bool {
	var months, times bool
	for i := 0; i < len(code); i++ {
		switch c := code[i] | 0x20; {
		case code[i] == ';':
			return months && !times
		case code[i] == '"':
			k := strings.IndexByte(code[i+1:], '"')
			if k < 0 {
				return months && !times
			}
			i += k + 1
		case code[i] == '\\', code[i] == '_', code[i] == '*':
			i++ // the next character stands for itself, its width or a filling
		case code[i] == '[':
			k := strings.IndexByte(code[i:], ']')
			if k < 0 {
				return months && !times
			}
			times = times || elapsed(code[i+1:i+k])
			i += k
		case hasFold(code[i:], "general"):
			i += len("general") - 1
		case hasFold(code[i:], "am/pm"):
			times = true
			i += len("am/pm") - 1
		case hasFold(code[i:], "a/p"):
			times = true
			i += len("a/p") - 1
		case c == 'y', c == 'd':
			return true
		case c == 'm':
			n := 1
			for i+1 < len(code) && code[i+1]|0x20 == 'm' {
				n++
				i++
			}
			if n >= 3 {
				return true // the month's name
			}
			months = true
		case c == 'h', c == 's':
			times = true
		}
	}
	return months && !times
}

// elapsed reports whether the content of brackets is [h], [mm] or the like.
func elapsed(s string) bool {
	s = strings.ToLower(s)
	return s != "" && (strings.Trim(s, "h") == "" || strings.Trim(s, "m") == "" || strings.Trim(s, "s") == "")
}

func hasFold(s, prefix string) bool {
	return len(s) >= len(prefix) && strings.EqualFold(s[:len(prefix)], prefix)
}
