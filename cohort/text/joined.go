package text

import "unicode"

// joining are scripts whose letters change their shape or place with those
// beside them, which takes more than drawing one letter after another.
var joining = []struct {
	name  string
	table *unicode.RangeTable
}{
	{"Arabic", unicode.Arabic}, {"Syriac", unicode.Syriac}, {"N’Ko", unicode.Nko}, {"Mongolian", unicode.Mongolian},
	{"Devanagari", unicode.Devanagari}, {"Bengali", unicode.Bengali}, {"Gurmukhi", unicode.Gurmukhi}, {"Gujarati", unicode.Gujarati},
	{"Odia", unicode.Oriya}, {"Tamil", unicode.Tamil}, {"Telugu", unicode.Telugu}, {"Kannada", unicode.Kannada},
	{"Malayalam", unicode.Malayalam}, {"Sinhala", unicode.Sinhala}, {"Tibetan", unicode.Tibetan}, {"Burmese", unicode.Myanmar},
	{"Khmer", unicode.Khmer}, {"Javanese", unicode.Javanese}, {"Balinese", unicode.Balinese},
}

// Joined names the first script in a text whose letters join or change places,
// which outputs that draw letter by letter can't; "" if there is none.
func Joined(s string) string {
	for _, r := range s {
		if r < 0x600 {
			continue
		}
		for _, j := range joining {
			if unicode.Is(j.table, r) {
				return j.name
			}
		}
	}
	return ""
}
