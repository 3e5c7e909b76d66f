package words

import (
	"fmt"
	"regexp"
	"strings"
	"sync"
	"unicode"
)

const months = `jan|feb|mar|apr|may|mai|maj|mei|jun|jul|aug|sep|oct|okt|nov|dec|dez|des`

var (
	dateLike = regexp.MustCompile(`(?i)\b\d{1,4}[./-]\d{1,2}[./-]\d{1,4}\b|\b\d{1,2}(st|nd|rd|th)?[ .-]*(` + months + `)\pL*[ .,-]*\d{2,4}\b|\b(` + months + `)\pL* \d{1,2},? \d{4}\b`)
	titled   = regexp.MustCompile(`(?i)\b(mr|mrs|ms|miss|mx|herr|frau|mme|monsieur|madame)\b\.?\s+\pL`)
	address  = regexp.MustCompile(`\S@\S+\.\pL|(?i:\b[a-z]{1,2}\d[a-z\d]? ?\d[abd-hjlnp-uw-z]{2}\b)|\b\d{4} [A-Z]{2}\b`) // e-mail, or a postcode of letters and digits
	aDay     = regexp.MustCompile(`(?:19|20)\d\d[-. ]?[01]\d(?:[-. ]?[0-3]\d)?|[0-3]?\d[-. ]?[01]?\d[-. ]?(?:19|20)\d\d`)
	aYear    = regexp.MustCompile(`(?:^|\D)(?:19|20)\d\d(?:\D|$)`)
)

// MayIdentify says whether a text looks like free text that may name or number
// a patient: a date, six digits or more, an e-mail address, a postcode, a title
// before a name, or more than a phrase. Where names are expected, as of surgeons, they may have titles.
func MayIdentify(typed string, names bool) bool {
	return len(typed) > 120 || len(strings.Fields(typed)) > 10 || hasNumber(typed) || !names && titled.MatchString(typed)
}

// HeadingMayIdentify says the same of a heading or the name of a sheet, which may
// be long.
func HeadingMayIdentify(typed string) bool { return hasNumber(typed) || titled.MatchString(typed) }

// FileMayIdentify says the same of the name of a file, which may well name a surgeon
// or a day: an address, a title with a date, or seven digits that are no date's.
func FileMayIdentify(name string) bool {
	name = strings.ReplaceAll(name, "_", " ")
	for _, found := range address.FindAllString(name, -1) {
		if strings.Contains(found, "@") || !aYear.MatchString(found) { // "2024 UK"
			return true
		}
	}
	digits := 0
	for _, r := range aDay.ReplaceAllString(name, "") {
		if r >= '0' && r <= '9' {
			digits++
		}
	}
	return digits >= 7 || titled.MatchString(name) && aDay.MatchString(name)
}

// hasNumber says whether a text has six digits or more, a date, or an address.
func hasNumber(typed string) bool {
	digits := 0
	for _, r := range typed {
		if r >= '0' && r <= '9' {
			digits++
		}
	}
	return digits >= 6 || dateLike.MatchString(typed) || address.MatchString(typed)
}

// NamesSomebody says whether a word that is not understood looks as if it held
// a person's name: a surname and a first name with a comma between them, or a
// year of the 20th or 21st century.
func NamesSomebody(typed string) bool {
	if aYear.MatchString(typed) {
		return true
	}
	before, after, comma := strings.Cut(typed, ",")
	if !comma {
		return false
	}
	b, a := strings.Fields(before), strings.Fields(after)
	return len(b) > 0 && len(a) > 0 && capitalised(b[len(b)-1]) && (capitalised(a[0]) || initial(a[0]))
}

// LoneName says whether a word that is not understood is one capitalised word of
// three letters or more that no vocabulary has, and no code in capitals: it may be a
// surname.
func LoneName(typed string) bool {
	w := strings.TrimSpace(typed)
	return len([]rune(w)) > 2 && !strings.ContainsFunc(w, unicode.IsSpace) && capitalised(w) && strings.ToUpper(w) != w
}

// Shape says how long a word is and of what, so that somebody who looks for it knows
// it, and nobody else: "4 letters", "2 digits", "7 characters".
func Shape(typed string) string {
	count, letters, digits := 0, 0, 0
	for _, r := range typed {
		count++
		switch {
		case unicode.IsLetter(r):
			letters++
		case unicode.IsDigit(r):
			digits++
		}
	}
	of := "character"
	switch count {
	case letters:
		of = "letter"
	case digits:
		of = "digit"
	}
	if count != 1 {
		of += "s"
	}
	return fmt.Sprint(count, " ", of)
}

// initial says whether a word is a capital letter alone.
func initial(w string) bool {
	r := []rune(strings.TrimSuffix(w, "."))
	return len(r) == 1 && unicode.IsUpper(r[0])
}

// MayName says whether a word that is not understood has two capitalised words
// side by side that no vocabulary has, or one beside an initial: a person's name,
// or else a maker's.
func MayName(typed string) bool {
	run, names := 0, 0
	for _, w := range strings.FieldsFunc(typed, func(r rune) bool { return unicode.IsSpace(r) || strings.ContainsRune("()[]/;:+&", r) }) {
		name := capitalised(w)
		switch {
		case !name && !(strings.HasSuffix(w, ".") && initial(w)): // "T." beside a name, but not a T alone
			run, names = 0, 0
			continue
		case name:
			names++
		}
		if run++; run > 1 && names > 0 {
			return true
		}
	}
	return false
}

// capitalised says whether a word begins with a capital letter, holds letters
// only, and is in no vocabulary.
func capitalised(w string) bool {
	w = strings.Trim(w, ".,'\"’`")
	for i, r := range w {
		if !unicode.IsLetter(r) && !strings.ContainsRune("-'’.", r) || i == 0 && !unicode.IsUpper(r) {
			return false
		}
	}
	return w != "" && !vocabularyWords()[Fold(w)]
}

// vocabularyWords are the single words of all vocabularies of cells, and of
// those for a missing value.
var vocabularyWords = sync.OnceValue(func() map[string]bool {
	all := make(map[string]bool)
	for _, v := range vocabularies {
		v.built()
		for phrase := range v.phrases {
			for w := range strings.FieldsSeq(phrase) {
				all[w] = true
			}
		}
	}
	for spelt := range hipInitials {
		all[spelt] = true
	}
	return all
})

// told are words of notes (common practice, no source).
var told = newList("death", `died, has died, death, dead, deceased, passed away, rip, verstorben, gestorben, decede, decedee, overleden, fallecido, fallecida`,
	"revision", `revised, revision, revisions, revn, re revision, redo, re do, liner exchange, poly exchange, liner swap, poly swap, revidiert, revidert, revideret, reviderad, wechsel, reprise`)

// Tells says whether a word for a death, or for a revision, stands in a text.
func Tells(text string) (death, revision bool) {
	for left := tokens(text); len(left) > 0; {
		class, n := told.next(left)
		death, revision = death || class == "death", revision || class == "revision"
		left = left[max(n, 1):]
	}
	return death, revision
}

var years = newList("years", `y, yr, yrs, year, years, y o, yo, years old, j, jahre, jahr, ans, an, ar, jaar, jr, anos`)

// Years says whether a text is the unit of an age.
func Years(unit string) bool { return years.has(Fold(unit)) }

// labels are words that begin a line of totals, a note or a title, and no row.
var labels = newList("label", `total, totals, subtotal, subtotals, sub total, grand total, sum, sums, summe, gesamt, somme, totaal, sum total, mean, average, avg, median, count, number,
	minimum, maximum, min, max, percent, percentage, printed, print date, date printed, updated, last updated, last update, exported, export date, as of, stand, year, jahr,
	nb, note, notes, note well, checked, checked by, compiled, compiled by, source, page, end of table`)

// Label says whether a cell begins like a line of totals, a note or a title, as
// in "Subtotal 2019" and "Printed:".
func Label(cell string) bool {
	if strings.HasSuffix(strings.TrimSpace(cell), ":") {
		return true
	}
	_, n := labels.next(tokens(cell))
	return n > 0
}

// IdentifyingHeading reports whether a heading of a table's own names what may
// identify a patient, such as "Surname", "Initials" or "Postcode". One that
// names the surgeon's or hospital's own name is not among them.
func IdentifyingHeading(heading string) bool { return identifying.has(Fold(heading)) }

var identifying = newList("identifying", `name, names, full name, patient name, name of patient, pat name, patients name, surname, last name, family name,
	forename, forenames, first name, first names, given name, given names, middle name, maiden name, initials, patient initials, pt initials, pt name, pt,
	nhs no, nhs number, chi, chi number, ni number, national insurance number, national id, national identity number, id number, personal number, personnummer, fodselsnummer, cpr,
	cpr number, cpr nummer, bsn, ssn, social security number, medicare number, insurance number, passport number, health card number, hospital no, hospital number,
	address, home address, street, post code, postcode, postal code, zip, zip code, phone, phone number, telephone, telephone number, tel, mobile phone, mobile number,
	email, e mail, email address, next of kin, nachname, vorname, patientenname, nom, prenom, nom du patient, efternavn, fornavn, etternavn, efternamn, fornamn,
	achternaam, voornaam, apellido, apellidos, nombre, adresse, adres, direccion`)
