package contrast

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival"
)

// groups fills in who the groups are and what became of them.
func (k *Contrast) groups(p *Part, s *subjects, o Options) error {
	one, strata := s.strata(nil)
	tables := s.tables(one, strata)[0]
	words := s.words[0]
	for n, word := range words.levels {
		g := Group{Word: word, Table: tables[n]}
		var ages []int16
		days := int64(0)
		for i, code := range words.code {
			if int(code) != n {
				continue
			}
			g.Joints++
			days += int64(s.days[i])
			switch s.cause[i] {
			case cohort.CauseRevision:
				g.Revised++
			case cohort.CauseDeath:
				g.Died++
			}
			if s.age[i] >= 0 {
				ages = append(ages, s.age[i])
			}
		}
		g.ImplantYears = float64(days) / cohort.DaysPerYear
		g.MedianAge = median(ages)
		for _, w := range s.words[1:] {
			if m := s.mix(uint16(n), w); m != nil {
				g.Mix = append(g.Mix, *m)
			}
		}
		var err error
		if g.KaplanMeier, err = survival.KaplanMeier(g.Table, cohort.CauseRevision); err != nil {
			return err
		}
		if k.Deaths.Recorded {
			if g.Incidence, err = survival.CumulativeIncidence(g.Table, cohort.CauseRevision); err != nil {
				return err
			}
		}
		g.Points = k.points(&g)
		p.Groups = append(p.Groups, g)
	}
	for n := range p.Groups {
		if o.Against == "" && p.Groups[n].Joints > p.Groups[p.Against].Joints || o.Against != "" && p.Groups[n].Word == words.word(o.Against) {
			p.Against = n
		}
	}
	return nil
}

// points reads a group's curves at the years asked for.
func (k *Contrast) points(g *Group) []Point {
	var points []Point
	for _, y := range k.Years {
		pt := Point{Years: y}
		pt.KaplanMeier, pt.Reached = g.KaplanMeier.At(cohort.DayOfYear(y), k.Interval)
		if g.Incidence != nil {
			pt.Incidence, _ = g.Incidence.At(cohort.DayOfYear(y), k.Interval)
		}
		points = append(points, pt)
	}
	return points
}

// mostWords is how many words a field may have to be counted in the mix.
const mostWords = 12

// mix counts a group's joints by their words in a field; nil for a field of one
// word, which says nothing, or of very many.
func (s *subjects) mix(group uint16, w *wordsOf) *Mix {
	if len(w.levels) < 2 || len(w.levels) > mostWords {
		return nil
	}
	m := &Mix{Field: w.field, Words: w.levels, Joints: make([]int64, len(w.levels))}
	for i, code := range w.code {
		if s.words[0].code[i] == group {
			m.Joints[code]++
		}
	}
	return m
}

func median(ages []int16) float64 {
	n := len(ages)
	if n == 0 {
		return math.NaN()
	}
	slices.Sort(ages)
	return (float64(ages[(n-1)/2]) + float64(ages[n/2])) / 2
}

// tests compares the groups over their whole follow-up.
func (k *Contrast) tests(p *Part, s *subjects, o Options) error {
	one, _ := s.strata(nil)
	all := s.tables(one, 1)
	t, err := survival.LogRank(all, cohort.CauseRevision, survival.TestOptions{})
	if errors.Is(err, survival.ErrNotCompared) {
		p.Refused = fmt.Sprintf("%s: no two groups were followed at the same time when a joint was revised, so nothing can be compared.", s.title())
		return nil
	}
	if err != nil {
		return err
	}
	p.LogRank = &t
	var within [][]*survival.Table
	if len(k.Within) > 0 {
		stratum, strata := s.strata(k.Within)
		within, p.Strata = s.tables(stratum, strata), strata
		t, err := survival.LogRank(within, cohort.CauseRevision, survival.TestOptions{})
		switch {
		case errors.Is(err, survival.ErrNotCompared):
			p.NotWithin = fmt.Sprintf("%s: within %s no two groups were followed at the same time when a joint was revised, so nothing can be compared there.", s.title(), titles(k.Within))
		case err != nil:
			return err
		case t.Sets > 1:
			p.NotWithin = fmt.Sprintf("%s: within %s some groups are never at risk together: %s. Leave out a field, or groups with --where.", s.title(), titles(k.Within), apart(t.Set, s.words[0].levels))
		default:
			p.Within = &t
		}
	}
	if o.Gray {
		return k.gray(p, all, within)
	}
	return nil
}

// apart lists the sets of groups that were compared with one another.
func apart(set []int, words []string) string {
	var sets [][]string
	for g, n := range set {
		for n >= len(sets) {
			sets = append(sets, nil)
		}
		if n >= 0 {
			sets[n] = append(sets[n], words[g])
		}
	}
	said := ""
	for i, s := range sets {
		if i > 0 {
			said += ", and "
		}
		said += list(s)
	}
	return said
}

// gray makes Gray's tests.
func (k *Contrast) gray(p *Part, all, within [][]*survival.Table) error {
	if !k.Deaths.Recorded {
		p.NotGray = "Gray's test needs deaths, and they are not recorded."
		return nil
	}
	for _, of := range []struct {
		strata [][]*survival.Table
		to     **survival.Test
	}{{all, &p.Gray}, {within, &p.GrayWithin}} {
		if of.strata == nil || of.to == &p.GrayWithin && p.Within == nil {
			continue
		}
		t, err := survival.Gray(of.strata, cohort.CauseRevision, survival.TestOptions{})
		switch {
		case errors.Is(err, survival.ErrNotCompared), errors.Is(err, survival.ErrTestVariance):
			p.NotGray = "There are too few revisions for Gray's test."
		case err != nil:
			return err
		default:
			*of.to = &t
		}
	}
	return nil
}
