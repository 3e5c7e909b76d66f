package main

// All figures in this file are invented. They are chosen so that the table
// looks like a practice, and come from no publication.

// kind is what was implanted.
type kind int

const (
	totalHip kind = iota
	resurfacing
	totalKnee
	unicompartmental
	patellofemoral
)

func (k kind) hip() bool { return k == totalHip || k == resurfacing }

// lastResurfacing is the last year in which a hip was resurfaced.
const lastResurfacing = 2013

// The bearings, those of the hip first.
const (
	metalPolyethylene = iota
	metalCrosslinked
	ceramicPolyethylene
	ceramicCrosslinked
	ceramicCeramic
	metalMetal
	dualMobility
	fixedBearing
	mobileBearing
	noBearing // patellofemoral joints have none of these
)

// The fixations.
const (
	cemented = iota
	porous
	hybrid
	reverseHybrid
)

// yearWeights are patients by year of first operation, 2010 to 2024.
var yearWeights = []int{44, 50, 54, 58, 60, 62, 64, 66, 68, 70, 38, 56, 66, 72, 70}

// Patients by surgeon.
var (
	practiceSurgeons   = []int{96, 4}
	departmentSurgeons = []int{34, 30, 26, 10}
)

// hospitalWeights are patients by hospital for each surgeon.
var hospitalWeights = [][]int{{65, 35}, {50, 50}, {80, 20}, {30, 70}}

// surgeonPercent scales the revision hazard in the department, where the
// surgeons differ on purpose. In the practice all are alike.
var surgeonPercent = []int{100, 85, 150, 100}

var meanAge = [...]int{totalHip: 68, resurfacing: 51, totalKnee: 69, unicompartmental: 64, patellofemoral: 57}

// yearlyDeaths per million at ages 35, 40, ... 105.
var yearlyDeaths = []int{600, 900, 1_500, 2_500, 4_000, 6_500, 10_500, 17_000, 28_000, 47_000, 80_000, 135_000, 220_000, 340_000, 500_000}

// kind draws what was implanted: resurfacing is given up after 2013.
func (s source) kind(year int, male bool) kind {
	if s.chance(455_000) {
		perMillion := map[int]int{2010: 240_000, 2011: 170_000, 2012: 90_000, 2013: 40_000}[year]
		if male {
			perMillion *= 2
		} else {
			perMillion /= 4
		}
		if s.chance(perMillion) {
			return resurfacing
		}
		return totalHip
	}
	return []kind{totalKnee, unicompartmental, patellofemoral}[s.choose([]int{825, 150, 25})]
}

// otherJoint draws a knee for a patient with a hip and a hip for one with a knee.
func (s source) otherJoint(k kind) kind {
	if k.hip() {
		return totalKnee
	}
	return totalHip
}

// totalHipBearings are weights by age group (under 65, 65 to 74, 75 and over)
// and by three years from 2010, in the order of the bearings.
var totalHipBearings = [3][5][]int{
	{{15, 25, 8, 15, 30, 7, 0}, {6, 30, 6, 33, 25, 0, 0}, {2, 28, 3, 50, 16, 0, 1}, {1, 24, 1, 64, 7, 0, 3}, {0, 20, 0, 72, 4, 0, 4}},
	{{35, 40, 8, 9, 5, 3, 0}, {18, 55, 6, 16, 5, 0, 0}, {7, 58, 4, 27, 3, 0, 1}, {3, 52, 2, 38, 1, 0, 4}, {1, 46, 1, 46, 0, 0, 6}},
	{{55, 38, 4, 2, 0, 1, 0}, {35, 55, 4, 5, 0, 0, 1}, {15, 70, 3, 10, 0, 0, 2}, {6, 70, 2, 16, 0, 0, 6}, {3, 66, 1, 21, 0, 0, 9}},
}

func ageGroup(age int) int {
	switch {
	case age < 65:
		return 0
	case age < 75:
		return 1
	}
	return 2
}

func (s source) bearing(k kind, year, age int) int {
	period := (year - 2010) / 3
	switch k {
	case totalHip:
		return s.choose(totalHipBearings[ageGroup(age)][period])
	case resurfacing:
		return metalMetal
	case totalKnee:
		mobile := 30 - 5*period
		return fixedBearing + s.choose([]int{100 - mobile, mobile})
	case unicompartmental:
		return fixedBearing + s.choose([]int{35, 65})
	}
	return noBearing
}

func (s source) fixation(k kind, bearing, year, age int) int {
	switch k {
	case totalHip:
		if bearing == ceramicCeramic || bearing == metalMetal {
			return s.choose([]int{0, 78, 22})
		}
		return s.choose([][]int{{12, 62, 22, 4}, {38, 32, 24, 6}, {62, 10, 24, 4}}[ageGroup(age)])
	case resurfacing:
		return hybrid
	case totalKnee:
		return s.choose([]int{90, 7, 3})
	case unicompartmental:
		if year >= 2014 {
			return s.choose([]int{50, 50})
		}
	}
	return cemented
}

// monthlyRevisions per million joints in months 0 to 2, 3 to 11, 12 to 35 and from 36.
var monthlyRevisions = [...][4]int{
	totalHip:         {2_000, 550, 330, 330},
	resurfacing:      {2_200, 600, 700, 850},
	totalKnee:        {1_100, 550, 520, 260},
	unicompartmental: {1_800, 1_000, 950, 800},
	patellofemoral:   {1_500, 1_000, 1_200, 1_100},
}

// revisionsPerMillion is the hazard in a month after the operation.
func revisionsPerMillion(k kind, bearing, fixation, age, month int) int {
	phase := 3
	switch {
	case month < 3:
		phase = 0
	case month < 12:
		phase = 1
	case month < 36:
		phase = 2
	}
	h := monthlyRevisions[k][phase]
	switch {
	case k == totalHip && bearing == metalMetal && phase >= 2:
		h *= 4
	case k == totalHip && bearing == metalPolyethylene && month >= 96:
		h = h * 150 / 100 // late wear
	}
	if k == totalHip && fixation == porous && phase == 0 {
		h = h * 130 / 100
	}
	switch {
	case age < 55:
		h = h * 165 / 100
	case age < 65:
		h = h * 125 / 100
	case age < 75:
		h = h * 95 / 100
	default:
		h = h * 70 / 100
	}
	return h
}

var sideWords = map[bool][]string{
	true:  {"R", "R", "R", "R", "Right", "Rt"},
	false: {"L", "L", "L", "L", "Left", "Lt"},
}

var procedureWords = [...][]string{
	totalHip:         {"THR", "THR", "THR", "THR", "THA", "total"},
	resurfacing:      {"HRA", "HR"},
	totalKnee:        {"TKR", "TKR", "TKR", "TKR", "TKA", "total"},
	unicompartmental: {"UKR medial", "UKR medial", "UKR", "UKA", "UKR lateral"},
	patellofemoral:   {"PFJ", "PFA"},
}

var bearingWords = [...][]string{
	metalPolyethylene:   {"MoP", "MoP", "MoP", "MOP", "M/P", "metal/poly"},
	metalCrosslinked:    {"MoXLPE", "MoXLPE", "MoXLPE", "MoXLPE", "MoXPE", "MoP (XL)", "metal-XLPE"},
	ceramicPolyethylene: {"CoP", "CoP", "CoP", "C/P", "ceramic/poly"},
	ceramicCrosslinked:  {"CoXLPE", "CoXLPE", "CoXLPE", "CoXLPE", "CoXPE", "CoP(XL)", "CoHXLPE"},
	ceramicCeramic:      {"CoC", "CoC", "CoC", "C/C", "cer-cer"},
	metalMetal:          {"MoM", "MoM", "M/M"},
	dualMobility:        {"DM", "dual mob"},
	fixedBearing:        {"fixed", "fixed", "fixed", "Fixed", "fixed bearing"},
	mobileBearing:       {"mobile", "mobile", "mobile", "Mobile", "mobile bearing"},
	noBearing:           {""},
}

var fixationWords = [...][]string{
	cemented:      {"cemented", "cemented", "cemented", "Cemented"},
	porous:        {"uncemented", "uncemented", "uncemented", "cementless", "press-fit", "porous"},
	hybrid:        {"hybrid", "hybrid", "Hybrid"},
	reverseHybrid: {"reverse hybrid", "reverse hybrid", "inverse hybrid"},
}

var missingWords = []string{"", "n/a", "?"}

func (s source) diagnosis(k kind) string {
	words := []string{"OA", "osteoarthritis", "rheumatoid arthritis", "post-traumatic arthritis", "avascular necrosis", "dysplasia", "fractured neck of femur", ""}
	switch k {
	case totalHip:
		return words[s.choose([]int{56, 24, 3, 2, 5, 4, 5, 1})]
	case resurfacing:
		return words[s.choose([]int{70, 20, 0, 2, 2, 6})]
	case totalKnee:
		return words[s.choose([]int{64, 28, 4, 3, 0, 0, 0, 1})]
	}
	return words[s.choose([]int{70, 30})]
}

// reason draws why a joint was revised; early is within half a year.
func (s source) reason(k kind, bearing int, early bool) string {
	words := []string{
		"infection", "dislocation", "periprosthetic fracture", "aseptic loosening cup", "aseptic loosening stem", "wear",
		"adverse reaction to metal debris", "aseptic loosening", "instability", "stiffness", "patellar problem",
		"progression of disease", "pain", "not recorded",
	}
	var weights []int
	switch {
	case k.hip() && early:
		weights = []int{34, 34, 26, 4, 2}
	case bearing == metalMetal:
		weights = []int{6, 3, 10, 8, 4, 0, 64, 0, 0, 0, 0, 0, 5}
	case k.hip():
		weights = []int{14, 16, 17, 20, 14, 12, 0, 0, 0, 0, 0, 0, 4, 3}
	case early:
		weights = []int{62, 0, 10, 0, 0, 0, 0, 8, 10, 10}
	case k == totalKnee:
		weights = []int{22, 0, 4, 0, 0, 6, 0, 30, 16, 7, 8, 0, 5, 2}
	case k == unicompartmental:
		weights = []int{6, 3, 2, 0, 0, 7, 0, 30, 5, 0, 0, 35, 10, 2}
	default:
		weights = []int{4, 0, 0, 0, 0, 5, 0, 10, 5, 4, 12, 52, 8}
	}
	return words[s.choose(weights)]
}
