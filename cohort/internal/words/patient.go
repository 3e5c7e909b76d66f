package words

import (
	"strconv"
	"strings"
)

// Canonical words for a patient's activity and smoking.
const (
	LowActivity      = "low"
	ModerateActivity = "moderate"
	HighActivity     = "high"

	NeverSmoked   = "never"
	FormerSmoker  = "former"
	NonSmoker     = "non-smoker" // never or former: not said
	CurrentSmoker = "current"
)

var activities = newVocabulary(
	LowActivity, `low, l, sedentary, inactive, low demand, household, housebound, minimal, gering, niedrig, faible, lav, lag, laag, baja, bajo`,
	ModerateActivity, `moderate, m, mod, medium, intermediate, moderately active, moderate demand, mittel, massig, moderee, modere, moderat, middels, medel, matig, moderada, moderado`,
	HighActivity, `high, h, very active, highly active, high demand, athletic, athlete, sport, sports, sporty, hoch, elevee, eleve, hoy, hoj, hog, hoge, hoog, alta, alto`,
	filler, `activity, level, demand, aktivitat, activite, actividad`,
)

// Activity reads how active a patient is: low, moderate or high, or a number
// of a scale, which stays as typed. "Active" alone does not say
// how much, and is unknown.
func Activity(s string) Meaning {
	if n, ok := Number(s); ok {
		return known(numberOf(n))
	}
	return activities.read(s)
}

var physicalStatuses = newVocabulary(physicalStatusWords()...)

// physicalStatusWords are the five grades, in either figures and with the
// addition for emergencies.
func physicalStatusWords() []string {
	var pairs []string
	for i, roman := range []string{"i", "ii", "iii", "iv", "v"} {
		grade := strconv.Itoa(i + 1)
		words := ""
		for _, form := range []string{grade, roman} {
			words += form + ", " + form + "e, asa" + form + ", asa" + form + "e, p" + form + ", ps" + form + ", "
		}
		pairs = append(pairs, grade, words+grade+" 0")
	}
	return append(pairs, filler, `asa, grade, class, score, ps, physical status, status, e, emergency`)
}

// PhysicalStatus reads the physical status of the American Society of
// Anesthesiologists, 1 to 5, in either kind of figures; the E for an emergency
// is passed over. Grade 6 is that of a donor, and unknown.
func PhysicalStatus(s string) Meaning {
	word := s
	if n, ok := Number(s); ok {
		word = numberOf(n)
	}
	if m := physicalStatuses.read(word); m.Known {
		return m
	}
	return unknown(s)
}

// BodyMassIndex reads a body mass index, with or without its unit.
func BodyMassIndex(s string) Meaning {
	number := lower(s)
	for _, unit := range []string{"kg/m2", "kg/m²", "kg/m^2", "kg m2"} {
		number = strings.TrimSuffix(number, unit)
	}
	if n, ok := Number(number); ok {
		return known(numberOf(n))
	}
	return unknown(s)
}

var smokers = newVocabulary(
	NeverSmoked, `never, never smoked, never smoker, never a smoker, lifelong non smoker, life long non smoker, has never smoked, nie, niemals, jamais, aldrig, aldri, nooit, nunca`,
	FormerSmoker, `former, former smoker, formerly, ex, ex smoker, exsmoker, past, past smoker, previous, previous smoker, previously, quit, has quit, stopped, stopped smoking, gave up, given up,
		ehemalig, ehemals, exraucher, ex raucher, ancien fumeur, sevre, tidligere, tidigare, voormalig, gestopt, exfumador, ex fumador`,
	NonSmoker, `non smoker, nonsmoker, no, n, non, does not smoke, not smoking, not a smoker, no smoking, not current, nichtraucher, nein, nei, nej, nee, non fumeur, ikke royker, ikke ryger, icke rokare, no fumador`,
	CurrentSmoker, `current, current smoker, currently, currently smoking, smoker, smokes, smoking, active smoker, active, yes, y, heavy smoker, light smoker, occasional smoker, social smoker,
		raucher, raucht, ja, fumeur, oui, royker, ryger, rokare, roker, fumador, si`,
	filler, `status`,
)

// Smoking reads never, former or current. "No" and "non-smoker" do not say
// whether the patient ever smoked: they are a value of their own, non-smoker.
// Cigarettes a day and pack-years are unknown.
func Smoking(s string) Meaning { return smokers.read(s) }
