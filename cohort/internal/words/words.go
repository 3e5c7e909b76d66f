// Package words knows the vocabulary of an outcomes table: what people type
// for a side, a sex, a bearing, a fixation, a procedure or a reason for
// revision, and for the headings above them.
//
// Words are compared whole. Case, accents and punctuation do not matter
// ("M/P", "m-o-p", "MoP"), and + and & are read as "and"; but no word is ever
// taken for the beginning of another, because CoP, CoC and CoCr differ by one
// letter. A cell is understood only if every word in it is: a rest that nobody
// knows makes the whole cell unknown. An unknown cell is given back as typed,
// with the space around it removed and the space in it made single, so that it
// can stand as a group of its own and be listed.
//
// Nothing is guessed. "MoP" does not say whether the polyethylene is
// cross-linked, so its canonical value leaves it unsaid; "hip replacement" does
// not say whether it was total; a single C may be cemented or cementless.
// Names of makers and products are not in the vocabulary.
//
// Besides English the commonest words are read in German, French, Dutch,
// Spanish, Danish, Norwegian and Swedish, where one word has one meaning in
// all of them.
//
// Functions that give a Meaning are idempotent: a canonical value means
// itself. They expect a cell that is not missing; for an empty one they return
// the zero Meaning. See Missing. Which column has which of these words is the
// business of package column.
package words

import (
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Meaning is what one cell says.
type Meaning struct {
	// Value is the canonical value if Known, else the cell as typed, cleaned.
	Value string
	// Known says that the whole cell was understood.
	Known bool
}

// NotRecorded is the value shown for a missing one.
const NotRecorded = "not recorded"

// Canonical values that other packages compare with.
const (
	Hip  = "hip"
	Knee = "knee"

	Total             = "total"
	Resurfacing       = "resurfacing"
	Unicompartmental  = "unicompartmental"
	Patellofemoral    = "patellofemoral"
	Hemiarthroplasty  = "hemiarthroplasty"
	Primary           = "primary"
	Revision          = "revision"
	Reoperation       = "reoperation"
	Left              = "left"
	Right             = "right"
	Bilateral         = "bilateral"
	Female            = "female"
	Male              = "male"
	Yes               = "yes"
	No                = "no"
	Cemented          = "cemented"
	Porous            = "porous"
	Hybrid            = "hybrid"
	ReverseHybrid     = "reverse hybrid"
	Metal             = "metal"
	Ceramic           = "ceramic"
	CeramicisedMetal  = "ceramicised-metal"
	PlainPolyethylene = "polyethylene"
	Crosslinked       = "crosslinked"
	CrosslinkedPE     = "crosslinked-polyethylene"
	Conventional      = "conventional"
	DualMobility      = "dual-mobility"
	FixedBearing      = "fixed"
	MobileBearing     = "mobile"
)

// Clean returns s with the white space around it removed and every run of
// white space in it made one space.
func Clean(s string) string { return strings.Join(strings.Fields(s), " ") }

// Fold returns the form in which two spellings of one word are equal: lower
// case, without accents and punctuation, words separated by one space. It is
// meant for comparing, as of diagnoses that differ in case only, not for
// showing. A cell without a letter or a digit folds to the empty string.
func Fold(s string) string { return strings.Join(tokens(s), " ") }

// tokens splits s into folded words. The signs + and & become the word "and",
// and letters with full stops between them one word, as T.H.R. becomes thr.
func tokens(s string) []string {
	if plain, ok := plainTokens(s); ok {
		return plain
	}
	return mixedTokens(s)
}

// mixedTokens splits any text.
func mixedTokens(s string) []string {
	var folded []rune
	for _, r := range norm.NFKD.String(strings.ToValidUTF8(s, " ")) {
		r = unicode.ToLower(r)
		switch {
		case unicode.Is(unicode.Mn, r):
		case r == 'ß':
			folded = append(folded, 's', 's')
		case r == 'æ':
			folded = append(folded, 'a', 'e')
		case r == 'œ':
			folded = append(folded, 'o', 'e')
		case r == 'ø':
			folded = append(folded, 'o')
		case r == '+' || r == '&':
			folded = append(folded, []rune(" and ")...)
		case r == '.' || unicode.IsLetter(r) || unicode.IsDigit(r):
			folded = append(folded, r)
		default:
			folded = append(folded, ' ')
		}
	}
	var b strings.Builder
	for i, r := range folded {
		switch {
		case r != '.':
			b.WriteRune(r)
		case !loneLetter(folded, i-1) || !loneLetter(folded, i+1):
			b.WriteByte(' ')
		}
	}
	return strings.Fields(b.String())
}

// plainTokens splits text of ASCII that has none of the signs which are more than a
// space between words, as most cells are.
func plainTokens(s string) ([]string, bool) {
	folded := make([]byte, len(s))
	for i := range len(s) {
		switch c := s[i]; {
		case c >= utf8.RuneSelf || c == '.' || c == '+' || c == '&':
			return nil, false
		case 'a' <= c && c <= 'z' || '0' <= c && c <= '9':
			folded[i] = c
		case 'A' <= c && c <= 'Z':
			folded[i] = c + 'a' - 'A'
		default:
			folded[i] = ' '
		}
	}
	return strings.Fields(string(folded)), true
}

// loneLetter reports whether a letter stands at i and none beside it.
func loneLetter(s []rune, i int) bool {
	letter := func(i int) bool { return i >= 0 && i < len(s) && (unicode.IsLetter(s[i]) || unicode.IsDigit(s[i])) }
	return letter(i) && unicode.IsLetter(s[i]) && !letter(i-1) && !letter(i+1)
}

// vocabulary gives the class of each phrase of folded words. It is built when
// it is first asked, since most tables have few of the columns.
type vocabulary struct {
	pairs   []string
	once    sync.Once
	phrases map[string]string
	longest int // words in the longest phrase
}

// filler is the class of words that say nothing about the field.
const filler = ""

// vocabularies are all of the words of cells.
var vocabularies []*vocabulary

// newVocabulary holds pairs of a class and its phrases, separated by commas, of
// what is typed into cells.
func newVocabulary(pairs ...string) *vocabulary {
	v := newList(pairs...)
	vocabularies = append(vocabularies, v)
	return v
}

// newList is a vocabulary of what is no word of a cell, so that a person may be
// called by it.
func newList(pairs ...string) *vocabulary { return &vocabulary{pairs: pairs} }

// built reads the pairs. A phrase in two classes is a mistake in this package
// and panics.
func (v *vocabulary) built() {
	v.once.Do(func() {
		v.phrases = make(map[string]string)
		for i := 0; i+1 < len(v.pairs); i += 2 {
			for phrase := range strings.SplitSeq(v.pairs[i+1], ",") {
				v.add(v.pairs[i], strings.Join(strings.Fields(phrase), " "))
			}
		}
		v.pairs = nil
	})
}

func (v *vocabulary) add(class, phrase string) {
	if old, ok := v.phrases[phrase]; ok && old != class {
		panic("words: " + phrase + " is both " + old + " and " + class)
	}
	v.phrases[phrase] = class
	v.longest = max(v.longest, strings.Count(phrase, " ")+1)
}

// class is that of one phrase, and whether the vocabulary has it.
func (v *vocabulary) class(phrase string) (class string, has bool) {
	v.built()
	class, has = v.phrases[phrase]
	return class, has
}

// has says whether the vocabulary has a phrase.
func (v *vocabulary) has(phrase string) bool {
	_, has := v.class(phrase)
	return has
}

// next returns the class of the longest phrase at the start of words and its
// length, which is 0 if there is none.
func (v *vocabulary) next(words []string) (class string, n int) {
	v.built()
	for n := min(v.longest, len(words)); n > 0; n-- {
		if class, ok := v.phrases[strings.Join(words[:n], " ")]; ok {
			return class, n
		}
	}
	return "", 0
}

// classes splits words into phrases, longest first, and returns the classes
// found, each once, without fillers. It reports false if a word is left over.
func (v *vocabulary) classes(words []string) (set, bool) {
	found := make(set)
	for len(words) > 0 {
		class, n := v.next(words)
		if n == 0 {
			return nil, false
		}
		if class != filler {
			found[class] = true
		}
		words = words[n:]
	}
	return found, true
}

// set is a set of classes.
type set map[string]bool

// only returns the one member of a set that has one.
func (s set) only() (string, bool) {
	if len(s) != 1 {
		return "", false
	}
	for class := range s {
		return class, true
	}
	return "", false
}

// within reports whether every member of s is among classes, and s has any.
func (s set) within(classes ...string) bool {
	n := 0
	for _, class := range classes {
		if s[class] {
			n++
		}
	}
	return n > 0 && n == len(s)
}

// read gives the meaning of a cell whose phrases all belong to one class.
func (v *vocabulary) read(s string) Meaning {
	if found, ok := v.classes(tokens(s)); ok {
		if class, ok := found.only(); ok {
			return known(class)
		}
	}
	return unknown(s)
}

func known(value string) Meaning { return Meaning{Value: value, Known: true} }
func unknown(s string) Meaning   { return Meaning{Value: Clean(s)} }

func lower(s string) string { return strings.ToLower(Clean(s)) }
