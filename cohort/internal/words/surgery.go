package words

import (
	"regexp"
	"strconv"
	"sync"
)

// Canonical words for how an operation was done, and by whom.
const (
	ManualTechnique = "manual"
	Navigated       = "navigated"
	RoboticAssisted = "robotic-assisted"
	PatientSpecific = "patient-specific"

	PosteriorApproach     = "posterior"
	LateralApproach       = "lateral"
	AnterolateralApproach = "anterolateral"
	AnteriorApproach      = "anterior"
	TrochantericApproach  = "trochanteric"
	MedialParapatellar    = "medial parapatellar"
	LateralParapatellar   = "lateral parapatellar"
	MidvastusApproach     = "midvastus"
	SubvastusApproach     = "subvastus"
	TubercleOsteotomy     = "tibial tubercle osteotomy"
	OtherApproach         = "other"

	Consultant          = "consultant"
	StaffGrade          = "staff grade"
	Fellow              = "fellow"
	SupervisedTrainee   = "trainee supervised"
	UnsupervisedTrainee = "trainee unsupervised"
	Trainee             = "trainee"
	OtherGrade          = "other"
)

var techniques = newVocabulary(
	ManualTechnique, `manual, manually, conventional, conventional instruments, conventional instrumentation, standard, standard instruments, standard instrumentation, freehand, free hand,
		by hand, jig, jigs, jig based, unassisted, non navigated, not navigated, no navigation, without navigation, non robotic, no robot, konventionell, manuell, conventionnelle, conventionnel, konvensjonell,
		konventionel, conventioneel, convencional`,
	Navigated, `navigated, navigation, nav, computer navigated, computer navigation, computer assisted, computer aided, computer assisted surgery, cas, caos, image free navigation, imageless navigation,
		ct navigation, ct based navigation, navigiert, naviguee, navigue, navigert, navigeret, navigerad, genavigeerd, navegada, navegado`,
	RoboticAssisted, `robotic assisted, robotic, robotics, robot, robot assisted, robotically assisted, robotic arm, robotic arm assisted, roboter, roboterassistiert, robotergestutzt, robotique,
		robotassistert, robotassisteret, robotassisterad, robotarm, robotica, robotico, asistida por robot`,
	PatientSpecific, `patient specific, patient specific instruments, patient specific instrumentation, patient specific guides, patient specific jigs, psi, patient matched,
		patient matched instruments, patient matched guides, custom jigs, custom guides, 3d printed guides`,
	filler, `technique, surgery, operation, assistance, hip, knee, replacement`,
)

// Technique reads how an operation was done: manual, navigated,
// robotic-assisted, or with patient-specific guides. Yes and no do not say with
// what, and are unknown; so are names of products.
func Technique(s string) Meaning { return techniques.read(s) }

var approaches = newVocabulary(
	PosteriorApproach, `posterior, post, posterolateral, postero lateral, dorsal, southern, moore, kocher langenbeck, kocher, mini posterior, posterior mini, hinterer, dorsale, posterieure, posteriore,
		bakre, bageste, posterieur, posterolaterale`,
	LateralApproach, `lateral, lat, direct lateral, dla, dl, straight lateral, hardinge, modified hardinge, transgluteal, trans gluteal, bauer, lateral hardinge, hardinge lateral, lateraler, laterale, seitlich,
		direkte lateral, direkt lateral, transgluteale`,
	AnterolateralApproach, `anterolateral, antero lateral, al, ala, watson jones, modified watson jones, anterolaterale, anterolateraler, antero externe`,
	AnteriorApproach, `anterior, ant, direct anterior, daa, da, smith petersen, smith peterson, hueter, huter, heuter, bikini, anterior bikini, ventral, vorderer, anterieure, anterieur, fremre, forreste, framre, voorste,
		direkt anteriore, anteriore, direct anterior bikini`,
	TrochantericApproach, `trochanteric, transtrochanteric, trans trochanteric, trochanteric osteotomy, trochanteric slide, trochanteric flip, trochanter osteotomy, extended trochanteric osteotomy, eto,
		surgical dislocation`,
	MedialParapatellar, `medial parapatellar, mpp, parapatellar medial, parapatellar, anteromedial, antero medial, medial para patellar, para patellar medial, insall, mediale parapatellaire, medial parapatellaer, parapatellar medialt`,
	LateralParapatellar, `lateral parapatellar, lpp, parapatellar lateral, lateral para patellar, keblish, anterolateral parapatellar`,
	MidvastusApproach, `midvastus, mid vastus, trivector`,
	SubvastusApproach, `subvastus, sub vastus, mini subvastus, mini sub vastus`,
	TubercleOsteotomy, `tibial tubercle osteotomy, tto, tubercle osteotomy, tibial tuberosity osteotomy`,
	OtherApproach, `other, others, sonstige, andere, autre, annen, anden, annan, otro, otra`,
	filler, `approach, surgical approach, to, hip, knee, the, mini, mis, minimally invasive, minimal invasive, minimal, modified, standard, left, right, zugang, voie, abord, voie d abord, tilgang, adgang, benadering, abordaje, via`,
)

// Approach reads the approach to a hip or a knee. A posterolateral approach is
// counted as posterior. "Medial" alone does not say which, and is unknown.
func Approach(s string) Meaning { return approaches.read(s) }

const (
	asTrainee      = "a trainee"
	asSupervised   = "supervised"
	asUnsupervised = "unsupervised"
)

var grades = newVocabulary(
	Consultant, `consultant, cons, con, consultant surgeon, attending, attending surgeon, attending physician, senior consultant, locum consultant, specialist, specialist surgeon, professor, prof, chief surgeon,
		oberarzt, oa, chefarzt, facharzt, overlege, overlaege, overlakare, speciallaege, specialist lakare, chef de service, praticien hospitalier, adjunto`,
	StaffGrade, `staff grade, staff grade surgeon, sas, sas doctor, sas grade, associate specialist, specialty doctor, speciality doctor, trust grade, trust doctor, trust grade doctor, clinical assistant, hospital practitioner, staff specialist, middle grade`,
	Fellow, `fellow, clinical fellow, arthroplasty fellow, senior fellow, surgical fellow, post cct fellow, senior clinical fellow, fellowship`,
	asTrainee, traineeWords(),
	asSupervised, `supervised, consultant supervised, supervised by consultant, consultant scrubbed, with consultant, with consultant scrubbed, consultant assisting, consultant assisted, consultant present, trainer scrubbed, supervised scrubbed, under supervision,
		supervised by consultant scrubbed, scrubbed, sts, supervised trainer scrubbed, assisted by consultant, consultant in theatre, trainer present`,
	asUnsupervised, `unsupervised, not supervised, independent, independently, without supervision, consultant not present, consultant unscrubbed elsewhere, alone, performed independently`,
	OtherGrade, `other, others, sonstige, andere, autre, otro`,
	filler, `grade, surgeon, operating, operator, level, lead, by, orthopaedic, orthopedic, trauma and orthopaedic, year`,
)

// traineeWords are what those who are being trained are called.
func traineeWords() string {
	all := `trainee, registrar, senior registrar, specialist registrar, specialty registrar, speciality registrar, spr, str, reg, sho, core trainee, core surgical trainee, house officer, senior house officer, resident,
		senior resident, chief resident, junior resident, intern, junior, trainee surgeon, specialist trainee, specialty trainee, foundation doctor, assistenzarzt, interne, chef de clinique, lis, lis lege, turnuslege, ikc laege, kursuslaege, st lakare, aios, residente, mir`
	for _, of := range []struct {
		prefix string
		years  int
	}{{"st", 8}, {"ct", 3}, {"pgy", 7}, {"r", 6}, {"fy", 2}, {"f", 2}, {"spr", 6}, {"cst", 3}} {
		for year := 1; year <= of.years; year++ {
			n := strconv.Itoa(year)
			all += ", " + of.prefix + n + ", " + of.prefix + " " + n
		}
	}
	return all
}

// Grade reads the grade of who operated. A trainee's year is passed over, and
// supervision kept where the cell says it. Two grades in one cell, such as that
// of the surgeon and of the assistant, are unknown, but for a consultant beside
// a supervised trainee.
func Grade(s string) Meaning {
	found, ok := grades.classes(tokens(s))
	if !ok {
		return unknown(s)
	}
	supervised := found[asSupervised]
	switch {
	case found.within(asTrainee):
		return known(Trainee)
	case found[asTrainee] && supervised && found.within(asTrainee, asSupervised, Consultant):
		return known(SupervisedTrainee)
	case found[asTrainee] && found.within(asTrainee, asUnsupervised):
		return known(UnsupervisedTrainee)
	}
	if !found[asTrainee] { // of others supervision is not kept
		delete(found, asSupervised)
		delete(found, asUnsupervised)
	}
	if class, ok := found.only(); ok && (class == Consultant && !supervised || class == StaffGrade || class == Fellow || class == OtherGrade) {
		return known(class)
	}
	return unknown(s)
}

// Sizes of heads in mm, the smallest and the largest.
const (
	leastHead = 22
	mostHead  = 64
)

// HeadSizes returns the sizes of heads in mm, from the smallest. The caller may
// change it.
func HeadSizes() []string {
	var all []string
	for size := leastHead; size <= mostHead; size++ {
		all = append(all, strconv.Itoa(size))
	}
	return all
}

// headSize is a size with the length of the neck after it.
var headSize = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)^'?(\d\d(?:[.,]\d+)?) ?(?:mm|millimet(?:re|er)s?)? ?(?:head)?(?: ?/? ?[+\-\x{2212}\x{2013}\x{00b1}] ?(?:1[0-6]|\d)(?:[.,]\d+)? ?(?:mm)?)?$`)
})

// HeadSize reads the diameter of a hip's head in whole mm, with or without the
// unit; 22.2 and 22.225 are 22. The length of the neck after it, as in "36 mm
// +4", is passed over. "28/36" does not say which of the two is meant, and is
// unknown.
func HeadSize(s string) Meaning {
	found := headSize().FindStringSubmatch(Clean(s))
	if found == nil {
		return unknown(s)
	}
	n, ok := Number(found[1])
	whole := int(n)
	if !ok || whole < leastHead || whole > mostHead || n != float64(whole) && whole != leastHead {
		return unknown(s)
	}
	return known(strconv.Itoa(whole))
}
