package main

import "math"

// All figures in this file are invented and come from no publication.

const (
	periodFrom = 2005 // first year of operations
	periodTo   = 2024 // last year of operations, and of follow-up
	months     = 15 * 12
)

var (
	reportYears = []int{1, 3, 5, 10, 15}
	ageBands    = []string{"<55", "55-64", "65-74", "75+"}
	sexes       = []string{"female", "male"}
)

// design is a bearing of one procedure: how many were implanted, when, in whom
// and how they were fixed.
type design struct {
	joint, procedure, bearing string
	joints                    int
	from, to                  int               // years of use
	early                     float64           // hazard a year in the first year
	late                      float64           // hazard a year from then on
	wear                      float64           // added to it for each year after the fifth
	ages                      [4]int            // per cent in each age band
	male                      int               // per cent men
	fixations                 [4]map[string]int // per cent, by age band
}

// same is one map for every age band.
func same(m map[string]int) [4]map[string]int {
	return [4]map[string]int{m, m, m, m}
}

var (
	hipFixations = [4]map[string]int{
		{"cemented": 10, "porous": 66, "hybrid": 21, "reverse hybrid": 3},
		{"cemented": 18, "porous": 53, "hybrid": 25, "reverse hybrid": 4},
		{"cemented": 38, "porous": 31, "hybrid": 26, "reverse hybrid": 5},
		{"cemented": 60, "porous": 13, "hybrid": 22, "reverse hybrid": 5},
	}
	hardFixations = same(map[string]int{"porous": 80, "hybrid": 20})
	kneeFixations = same(map[string]int{"cemented": 88, "porous": 8, "hybrid": 4})
	uniFixations  = same(map[string]int{"cemented": 62, "porous": 38})
	onlyHybrid    = same(map[string]int{"hybrid": 100})
	onlyCemented  = same(map[string]int{"cemented": 100})
)

var designs = []design{
	{"hip", "total", "metal-on-polyethylene", 24_000, 2005, 2018, .0110, .0036, .00042, [4]int{4, 14, 37, 45}, 38, hipFixations},
	{"hip", "total", "metal-on-crosslinked-polyethylene", 44_000, 2006, 2024, .0108, .0032, .00006, [4]int{5, 19, 40, 36}, 39, hipFixations},
	{"hip", "total", "ceramic-on-polyethylene", 8_000, 2005, 2020, .0104, .0034, .00030, [4]int{12, 28, 38, 22}, 41, hipFixations},
	{"hip", "total", "ceramic-on-crosslinked-polyethylene", 36_000, 2007, 2024, .0098, .0028, .00004, [4]int{17, 35, 35, 13}, 44, hipFixations},
	{"hip", "total", "ceramic-on-ceramic", 14_000, 2005, 2022, .0100, .0033, .00003, [4]int{38, 40, 18, 4}, 46, hardFixations},
	{"hip", "total", "metal-on-metal", 6_000, 2005, 2012, .0115, .0125, .00090, [4]int{30, 40, 24, 6}, 58, hardFixations},
	{"hip", "resurfacing", "metal-on-metal", 5_000, 2005, 2015, .0120, .0078, .00020, [4]int{55, 36, 9, 0}, 74, onlyHybrid},
	{"knee", "total", "fixed", 110_000, 2005, 2024, .0066, .0036, .00004, [4]int{7, 25, 40, 28}, 43, kneeFixations},
	{"knee", "total", "mobile", 28_000, 2005, 2024, .0080, .0041, .00004, [4]int{9, 28, 39, 24}, 43, kneeFixations},
	{"knee", "unicompartmental", "fixed", 7_000, 2006, 2024, .0105, .0086, .00010, [4]int{16, 34, 34, 16}, 52, uniFixations},
	{"knee", "unicompartmental", "mobile", 13_000, 2005, 2024, .0130, .0088, .00008, [4]int{15, 34, 35, 16}, 52, uniFixations},
	{"knee", "patellofemoral", "", 2_600, 2005, 2024, .0120, .0165, .00010, [4]int{40, 32, 19, 9}, 23, onlyCemented},
}

// What age band and sex do to the hazards, and age band to mortality a year.
var (
	earlyByAge  = [4]float64{1.15, 1.02, .95, 1.02}
	lateByAge   = [4]float64{1.70, 1.28, .92, .60}
	deathsByAge = [4]float64{.004, .010, .024, .072}
	hazardMale  = 1.08
	hazardWoman = .94
)

// fixationFactors multiply the early and the late hazard. Porous stems break
// old bones: their early hazard grows with age.
func fixationFactors(joint, fixation string, age int) (early, late float64) {
	switch {
	case fixation == "porous" && joint == "hip":
		return [4]float64{1.05, 1.10, 1.25, 1.60}[age], .94
	case fixation == "porous":
		return 1.05, 1.02
	case fixation == "hybrid":
		return 1, .97
	case fixation == "reverse hybrid":
		return .98, 1
	}
	return .88, 1.04
}

// cell is one bearing, fixation, age band and sex, followed month by month.
type cell struct {
	joint, procedure, bearing, fixation, ageBand, sex string
	joints                                            int
	atRisk, revised                                   [months]float64
}

// follow works out the expected course of a cell. Operations are spread evenly
// over the years of use, deaths and revisions are independent.
func follow(d design, fixation string, age, sex int, joints int) cell {
	c := cell{
		joint: d.joint, procedure: d.procedure, bearing: d.bearing, fixation: fixation,
		ageBand: ageBands[age], sex: sexes[sex], joints: joints,
	}
	longest, shortest := float64(periodTo+1-d.from), float64(periodTo-d.to)
	survivors := 1.0 // neither revised nor dead
	for m := range months {
		t := float64(m) / 12
		followed := (longest - t) / (longest - shortest)
		c.atRisk[m] = float64(joints) * survivors * min(max(followed, 0), 1)
		h := hazard(d, fixation, age, sex, m)
		c.revised[m] = c.atRisk[m] * h
		survivors *= (1 - h) * (1 - deathsByAge[age]/12)
	}
	return c
}

// hazard is the hazard of revision in a month after the operation.
func hazard(d design, fixation string, age, sex, month int) float64 {
	fe, fl := fixationFactors(d.joint, fixation, age)
	factor := hazardWoman
	if sex == 1 {
		factor = hazardMale
	}
	t := float64(month) / 12
	yearly := d.late * fl * lateByAge[age]
	if month < 12 {
		yearly = d.early * fe * earlyByAge[age]
	}
	if t > 5 {
		yearly += d.wear * lateByAge[age] * (t - 5)
	}
	return yearly * factor / 12
}

// group is a set of cells published together. An empty attribute means all.
type group struct {
	joint, procedure, bearing, fixation, ageBand, sex string
	joints                                            int
	atRisk, revised                                   [months]float64
}

func (g *group) add(c cell) {
	g.joints += c.joints
	for m := range months {
		g.atRisk[m] += c.atRisk[m]
		g.revised[m] += c.revised[m]
	}
}

// point is a figure with its limits, as proportions.
type point struct {
	years                  int
	revision, lower, upper float64
}

// fewest is the number at risk below which no figure is published.
const fewest = 50

// points gives the figures of the years at which enough joints are at risk.
func (g group) points() []point {
	var out []point
	for _, y := range reportYears {
		if 12*y > months || g.atRisk[12*y-1] < fewest {
			break
		}
		survival, variance := 1.0, 0.0 // variance of log survival, by Greenwood's formula
		for m := range 12 * y {
			n, d := g.atRisk[m], g.revised[m]
			survival *= 1 - d/n
			variance += d / (n * (n - d))
		}
		lower, upper := limits(survival, math.Sqrt(variance))
		out = append(out, point{y, 1 - survival, lower, upper})
	}
	return out
}

// limits gives the 95 % limits of the revision 1 - survival on the log(-log) scale:
//
//	1 − survival^exp(∓z·se/|log survival|)
//
// se is the standard error of log survival.
func limits(survival, se float64) (lower, upper float64) {
	const z = 1.959963984540054 // 97.5 % point of the normal distribution
	l := math.Log(survival)
	f := math.Exp(z * se / math.Abs(l))
	return 1 - math.Exp(l/f), 1 - math.Exp(l*f)
}
