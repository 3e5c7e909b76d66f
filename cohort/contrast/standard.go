package contrast

import (
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

// StandardJoints is the number of joints from which a group's cumulative revision
// is given at one mix of patients.
const StandardJoints = 500

// Standard is the cumulative revision that large groups would have with the mix of
// ages and sexes of all joints compared.
type Standard struct {
	Years   float64
	Sex     bool       // the mix is of age and sex, else of age alone
	Bands   [][]string // age bands, merged where few are at risk
	Covered float64    // share of the joints whose age and sex are recorded
	Groups  []int
	Points  []survival.Standardised
	Against int // the index in Groups of the one that others are compared with; −1 for none

	// Difference of each from it, limits by MOVER from those of both.
	Difference []survivalDifference

	// Not says why there is nothing: the other fields are then empty.
	Not string
}

type survivalDifference struct{ Difference, Lower, Upper float64 }

// fewestInStratum is the number at risk below which a stratum is merged with
// another.
const fewestInStratum = 10

// standard gives large groups one mix of patients, at the last year at which that
// can be.
func (k *Contrast) standard(p *Part, s *subjects) error {
	m := &Standard{Against: -1}
	for g := range p.Groups {
		if p.Groups[g].Joints >= StandardJoints {
			if g == p.Against {
				m.Against = len(m.Groups)
			}
			m.Groups = append(m.Groups, g)
		}
	}
	if len(m.Groups) < 2 || k.Between == ageBand || !slices.Contains(s.fields, ageBand) {
		return nil
	}
	p.Standard = m
	for n := len(k.Years) - 1; n >= 0; n-- {
		for _, sex := range []bool{true, false} {
			if sex && (k.Between == "sex" || !slices.Contains(s.fields, "sex")) {
				continue
			}
			if tables, weight := s.mixStrata(m, sex, cohort.DayOfYear(k.Years[n])); tables != nil {
				m.Years, m.Sex = k.Years[n], sex
				return k.atOneMix(m, tables, weight)
			}
		}
	}
	m.Not = "fewer than 10 at risk at some ages in a group, at every year asked for"
	return nil
}

// mixStrata merges age bands until every stratum has enough at risk in every group;
// nil if it never does. The tables are by group and stratum.
func (s *subjects) mixStrata(m *Standard, sex bool, day float64) (tables [][]*survival.Table, weight []float64) {
	bands := s.of(ageBand).levels
	if bands[len(bands)-1] == cohort.NotRecorded {
		bands = bands[:len(bands)-1]
	}
	merged := make([][]string, len(bands))
	for i, b := range bands {
		merged[i] = []string{b}
	}
	for len(merged) > 0 {
		stratum, strata, covered := s.mixOf(merged, sex)
		all := s.tables(stratum, strata)
		few, fewest := -1, math.Inf(1)
		for st, groups := range all {
			for _, g := range m.Groups {
				n := 0.0
				if groups[g] != nil {
					n = groups[g].AtRiskAt(day)
				}
				if n < fewestInStratum && n < fewest {
					few, fewest = st%len(merged), n
				}
			}
		}
		if few < 0 {
			m.Bands, m.Covered = merged, covered
			return transpose(all, m.Groups), weights(stratum, strata)
		}
		if len(merged) == 1 {
			return nil, nil
		}
		with := few - 1
		if few == 0 {
			with = 0
		}
		merged[with] = slices.Concat(merged[with], merged[with+1])
		merged = slices.Delete(merged, with+1, with+2)
	}
	return nil, nil
}

// mixOf numbers the strata of merged age bands, and of sexes; −1 is a joint of which
// one is not recorded.
func (s *subjects) mixOf(merged [][]string, sex bool) (stratum []int32, strata int, covered float64) {
	bands, sexes := s.of(ageBand), (*wordsOf)(nil)
	strata = len(merged)
	if sex {
		sexes = s.of("sex")
		strata *= len(sexes.levels)
	}
	band := make([]int32, len(bands.levels))
	for l, word := range bands.levels {
		band[l] = int32(slices.IndexFunc(merged, func(of []string) bool { return slices.Contains(of, word) }))
	}
	n := 0
	for i, code := range bands.code {
		st := band[code]
		if sexes != nil && st >= 0 {
			if sexes.levels[sexes.code[i]] == cohort.NotRecorded {
				st = -1
			} else {
				st += int32(sexes.code[i]) * int32(len(merged))
			}
		}
		if st >= 0 {
			n++
		}
		stratum = append(stratum, st)
	}
	if sexes != nil && sexes.levels[len(sexes.levels)-1] == cohort.NotRecorded {
		strata -= len(merged)
	}
	return stratum, strata, float64(n) / float64(len(stratum))
}

// weights are the shares of the strata among the joints that are in one.
func weights(stratum []int32, strata int) []float64 {
	w, n := make([]float64, strata), 0.0
	for _, st := range stratum {
		if st >= 0 {
			w[st]++
			n++
		}
	}
	for i := range w {
		w[i] /= n
	}
	return w
}

func transpose(all [][]*survival.Table, groups []int) [][]*survival.Table {
	out := make([][]*survival.Table, len(groups))
	for i, g := range groups {
		for _, stratum := range all {
			out[i] = append(out[i], stratum[g])
		}
	}
	return out
}

// atOneMix reads the groups' curves in the given mix.
func (k *Contrast) atOneMix(m *Standard, tables [][]*survival.Table, weight []float64) error {
	for _, of := range tables {
		point, err := survival.Standardise(of, weight, cohort.CauseRevision, survival.OneMinusKaplanMeier, cohort.DayOfYear(m.Years), k.level())
		if err != nil {
			return err
		}
		m.Points = append(m.Points, point)
	}
	if m.Against < 0 {
		return nil
	}
	b := m.Points[m.Against]
	for _, a := range m.Points {
		var d survivalDifference
		d.Difference, d.Lower, d.Upper = benchmark.MOVER(a.Estimate, a.Lower, a.Upper, b.Estimate, b.Lower, b.Upper)
		m.Difference = append(m.Difference, d)
	}
	return nil
}
