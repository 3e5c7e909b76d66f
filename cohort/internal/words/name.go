package words

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// Name is the name of a surgeon or a hospital in the form in which names are
// compared: without case, accents, punctuation and titles.
type Name struct {
	// Key is the name; of one that holds nothing else, the title.
	Key string
	// Sex is what the title says of it: female, male, or "" for nothing.
	Sex string
}

const untold = "untold" // the class of titles that say no sex

var titles = newList(
	Male, `mr, mister, sir, lord, herr, hr, monsieur, meneer, dhr, senor`,
	Female, `mrs, miss, ms, lady, dame, frau, madame, mme, mlle, mevrouw, mevr, mw, fru, senora`,
	untold, `mx, dr, dr med, doctor, doktor, docteur, prof, professor, prof dr, prof dr med, a prof, assoc prof, associate professor, assistant professor, asst prof, emeritus professor, prof emeritus`,
)

// apostrophes join what stands beside them: St Mary's is St Marys.
var apostrophes = strings.NewReplacer("'", "", "’", "", "‘", "", "`", "", "´", "")

// ReadName reads a name as typed. The name is empty if no letter and no digit
// is in it.
func ReadName(typed string) Name {
	var n Name
	var rest, all []string
	for left := tokens(apostrophes.Replace(typed)); len(left) > 0; {
		class, length := titles.next(left)
		switch {
		case length == 0:
			rest, length = append(rest, left[0]), 1
		case class != untold:
			n.Sex = class
		}
		all, left = append(all, left[:length]...), left[length:]
	}
	if len(rest) == 0 {
		return Name{Key: strings.Join(all, " ")}
	}
	n.Key = strings.Join(joinInitials(rest), " ")
	return n
}

// joinInitials makes one word of letters that stand alone side by side: J. R.
// and J.R. are the same initials.
func joinInitials(parts []string) []string {
	joined := make([]string, 0, len(parts))
	after := false
	for _, w := range parts {
		alone := isInitial(w)
		if alone && after {
			joined[len(joined)-1] += w
		} else {
			joined = append(joined, w)
		}
		after = alone
	}
	return joined
}

func isInitial(w string) bool {
	return utf8.RuneCountInString(w) == 1 && (w < "0" || w > "9")
}

// MayBe says whether two names that differ may be of one person or hospital:
// one has nothing that the other has not, be it only as an initial. They share a word
// of three letters or more, and their titles do not say different sexes, nor their
// numbers, if both have any, different numbers in their order. J Linden may be Linden,
// and John Linden, but not R Linden, and Surgeon 1-2 not Surgeon 2-1.
func (n Name) MayBe(o Name) bool {
	if n.Sex != "" && o.Sex != "" && n.Sex != o.Sex {
		return false
	}
	a, b := strings.Fields(n.Key), strings.Fields(o.Key)
	if p, q := numbersIn(a), numbersIn(b); len(p) > 0 && len(q) > 0 && !slices.Equal(p, q) {
		return false
	}
	if len(a) > len(b) {
		a, b = b, a
	}
	left, shared := slices.Clone(b), false
	for pass, same := range []func(x, y string) bool{func(x, y string) bool { return x == y }, initialOf} {
		var rest []string
		for _, x := range a {
			i := slices.IndexFunc(left, func(y string) bool { return same(x, y) })
			if i < 0 {
				rest = append(rest, x)
				continue
			}
			shared = shared || pass == 0 && utf8.RuneCountInString(x) >= 3
			left = slices.Delete(left, i, i+1)
		}
		a = rest
	}
	return shared && len(a) == 0
}

// numbersIn are those of some words that begin with a digit.
func numbersIn(all []string) []string {
	return slices.DeleteFunc(slices.Clone(all), func(w string) bool { return w[0] < '0' || w[0] > '9' })
}

// initialOf says whether one of two words is the initial, or the initials, that
// the other begins with.
func initialOf(x, y string) bool {
	if len(x) > len(y) {
		x, y = y, x
	}
	return isInitial(x) && strings.HasPrefix(y, x)
}

// Fuller says whether a name tells more than another, by its words and then by
// their letters.
func (n Name) Fuller(o Name) bool {
	if a, b := strings.Count(n.Key, " "), strings.Count(o.Key, " "); a != b {
		return a > b
	}
	return len(n.Key) > len(o.Key)
}
