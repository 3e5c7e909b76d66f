package words

var sides = newVocabulary(
	Left, `left, l, lt, lft, lhs, left side, left sided, li, lks, linke, links, linkes, gauche, venstre, vanster,
		izquierda, izquierdo, izq, izda, izdo`,
	Right, `right, r, rt, rgt, rhs, right side, right sided, re, rechts, rechte, rechtes, droit, droite, hoyre, hojre, hoger,
		derecha, derecho, dcha, dcho`,
	Bilateral, `bilateral, b, b l, bil, bilat, both, both sides, both hips, both knees, bilaterally,
		beidseits, beidseitig, beids, beide, bds, bilaterale, bilateraal, bilateralt, dobbeltsidig, dubbelsidig, begge`,
	"and", `and, und, et, og, och, en, y`,
	filler, `side, hip, knee, hips, knees, the`,
)

// Side reads left, right or bilateral. "L + R" and "left and right" are
// bilateral; "L/R" is unknown, since it may be a form nobody filled in.
func Side(s string) Meaning {
	found, ok := sides.classes(tokens(s))
	if !ok {
		return unknown(s)
	}
	if found[Left] && found[Right] && found["and"] && !found[Bilateral] {
		return known(Bilateral)
	}
	if side, ok := found.only(); ok && side != "and" {
		return known(side)
	}
	return unknown(s)
}

var sexes = newVocabulary(
	Female, `female, f, fem, woman, w, lady, girl, weiblich, frau, femme, feminin, feminine, kvinne, kvinna, kvinde,
		vrouw, vrouwelijk, mujer, femenino`,
	Male, `male, m, man, gentleman, boy, mannlich, mann, homme, masculin, masculine, mand, mannelijk, hombre, varon, masculino`,
	filler, `sex, gender`,
)

// Sex reads female or male. Other words are given back as typed, and so are
// codes such as 1 and 2.
func Sex(s string) Meaning { return sexes.read(s) }

const (
	yesWords = `yes, y, true, t, 1, 1 0, ja, j, oui, si, wahr, vrai, verdadero, sant, sand, waar`
	noWords  = `no, n, false, f, 0, 0 0, nein, non, nej, nei, nee, falsch, faux, falso, falskt, onwaar`
)

var (
	deaths  = newVocabulary(Yes, yesWords+deadWords, No, noWords+aliveWords)
	revised = newVocabulary(Yes, yesWords+revisedWords, No, noWords+unrevisedWords)
)

const (
	deadWords = `, dead, deceased, died, has died, passed away, rip, late, verstorben, gestorben, tot, decede, decedee, dod,
		overleden, fallecido, fallecida, muerto, muerta`
	aliveWords = `, alive, living, still alive, not dead, not deceased, lebt, lebend, vivant, vivante, en vie, levende, i live,
		in leven, vivo, viva`
	revisedWords = `, revised, redone, exchanged, poly swap, poly exchange, liner swap, liner exchange, insert exchange, revision, revision done, has been revised, revidiert, revise, revisee, revidert, revideret, reviderad,
		gereviseerd, revisado, revisada`
	unrevisedWords = `, not revised, unrevised, never revised, no revision, without revision, none, in situ, insitu, implant in situ,
		still in situ, nicht revidiert, non revise, non revisee, ikke revidert, ikke revideret, ej reviderad, inte reviderad,
		niet gereviseerd, no revisado, no revisada`
)

// Dead reads yes or no, and words such as "deceased" and "alive".
func Dead(s string) Meaning { return deaths.read(s) }

// Revised reads yes or no, and words such as "revised", "not revised", "none" and
// "in situ". "Dead" says nothing about a revision and is unknown.
func Revised(s string) Meaning { return revised.read(s) }
