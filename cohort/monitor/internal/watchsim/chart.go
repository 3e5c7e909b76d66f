package main

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"

	"example.org/holdfast/cohort/monitor"
	"example.org/holdfast/survival"
)

// one is a practice watched by itself, looked at once, at the end.
func one(w io.Writer, practices int, rng *rand.Rand) error {
	heading(w, "One practice, looked at once", practices, "joints a year", "years", "% at 10 y", "true ratio", "expected", "touched, %", "by the chain, %", "median year of touching")
	for _, p := range []practice{
		{perYear: 10, years: 5, atTen: .05}, {perYear: 20, years: 8, atTen: .05}, {perYear: 60, years: 8, atTen: .05},
		{perYear: 100, years: 10, atTen: .05}, {perYear: 250, years: 10, atTen: .05}, {perYear: 20, years: 8, atTen: .3},
	} {
		for _, p.truth = range []float64{1, 2, 3} {
			touched, expected, chance := []float64{}, 0.0, 0.0
			for range practices {
				c, err := monitor.New(p.joints(rng), []monitor.Hazard{p.hazard()}, monitor.Options{Through: p.through()})
				if err != nil {
					return err
				}
				expected += c.All.Expected
				chance += c.Touches(p.truth)
				if len(c.Stretches) > 0 {
					touched = append(touched, float64(c.Stretches[0].Touched-start)/year)
				}
			}
			slices.Sort(touched)
			n := float64(practices)
			fmt.Fprintf(w, "| %.0f | %.0f | %.0f | %.0f | %.1f | %s | %.1f | %s |\n", p.perYear, p.years, 100*p.atTen, p.truth,
				expected/n, percent(len(touched), practices), 100*chance/n, years(median(touched, practices)))
		}
	}
	return nil
}

func years(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	return fmt.Sprintf("%.1f", x)
}

// firstLook is the year of the first look, at the end of each year, at which a
// chart has touched its line; 0 if none has.
func firstLook(p practice, joints []monitor.Joint, notice []int32, back, planned float64) (float64, error) {
	for look := 1.0; look <= p.years; look++ {
		day := start + int32((look-back)*year)
		known := asKnown(joints, notice, start+int32(look*year))
		if back > 0 {
			known = asKnown(known, nil, day)
		}
		if len(known) == 0 {
			continue
		}
		c, err := monitor.New(known, []monitor.Hazard{p.hazard()}, monitor.Options{Through: day, Planned: planned})
		if err != nil {
			return 0, err
		}
		if len(c.Stretches) > 0 {
			return look, nil
		}
	}
	return 0, nil
}

// looks is a practice that is looked at every year, its line moved with the period
// or laid down for all of it.
func looks(w io.Writer, practices int, rng *rand.Rand) error {
	practices = max(1, practices/4)
	heading(w, "Looked at every year for ten years", practices, "joints a year", "true ratio", "expected", "line moved: touched, %", "median look", "line laid down: touched, %", "median look")
	for _, p := range []practice{{perYear: 30}, {perYear: 100}} {
		p.years, p.atTen = 10, .05
		whole := expectedOf(p, rng)
		for _, p.truth = range []float64{1, 2} {
			var at [2][]float64
			for range practices {
				joints := p.joints(rng)
				for i, planned := range []float64{0, whole} {
					look, err := firstLook(p, joints, nil, 0, planned)
					if err != nil {
						return err
					}
					if look > 0 {
						at[i] = append(at[i], look)
					}
				}
			}
			fmt.Fprintf(w, "| %.0f | %.0f | %.1f |", p.perYear, p.truth, whole)
			for _, a := range at {
				slices.Sort(a)
				fmt.Fprintf(w, " %s | %s |", percent(len(a), practices), years(median(a, practices)))
			}
			fmt.Fprintln(w)
		}
	}
	return nil
}

// expectedOf is the number of revisions expected, in the mean of practices with
// a true ratio of 1.
func expectedOf(p practice, rng *rand.Rand) float64 {
	p.truth = 1
	const draws = 200
	sum, h := 0.0, p.hazard()
	for range draws {
		for _, j := range p.joints(rng) {
			sum += h.At(int(j.Exit - j.Operation))
		}
	}
	return sum / draws
}

// late is a practice of which revisions are known with a delay of half a year in the
// mean, looked at every year.
func late(w io.Writer, practices int, rng *rand.Rand) error {
	practices = max(1, practices/4)
	heading(w, "Revisions known late: 60 joints a year, looked at every year for eight years, line laid down", practices, "true ratio", "known at once: touched, %", "median look", "half a year late, charted to the day: touched, %", "median look", "half a year late, closed 18 months back: touched, %", "median look")
	p := practice{perYear: 60, years: 8, atTen: .05}
	whole := expectedOf(p, rng)
	for _, p.truth = range []float64{1, 2.5} {
		var at [3][]float64
		for range practices {
			joints := p.joints(rng)
			notice := make([]int32, len(joints))
			for i, j := range joints {
				notice[i] = j.Exit + int32(rng.ExpFloat64()*year/2)
			}
			for i, how := range []struct {
				notice []int32
				back   float64
			}{{nil, 0}, {notice, 0}, {notice, 1.5}} {
				look, err := firstLook(p, joints, how.notice, how.back, whole)
				if err != nil {
					return err
				}
				if look > 0 {
					at[i] = append(at[i], look)
				}
			}
		}
		fmt.Fprintf(w, "| %.1f |", p.truth)
		for _, a := range at {
			slices.Sort(a)
			fmt.Fprintf(w, " %s | %s |", percent(len(a), practices), years(median(a, practices)))
		}
		fmt.Fprintln(w)
	}
	return nil
}

// past is a practice beside its own past: the Nelson–Aalen estimate of as many
// years before as are watched.
func past(w io.Writer, practices int, rng *rand.Rand) error {
	practices = max(1, practices/10)
	heading(w, "Beside the practice's own past: ten years before, five years watched", practices, "joints a year", "revised before", "expected", "true ratio", "past taken as exact: touched, %", "with its standard error: touched, %", "standard error, times 1/√revised")
	for _, perYear := range []float64{30, 100, 300} {
		for _, truth := range []float64{1, 2} {
			p := practice{perYear: perYear, years: 15, atTen: .05, truth: truth, since: 10}
			var touched [2]int
			revised, expected, times := 0.0, 0.0, 0.0
			for range practices {
				joints := p.joints(rng)
				before := asKnown(joints, nil, from-1)
				d := 0.0
				for _, j := range before {
					if j.Revised {
						d++
					}
				}
				revised += d
				hazard, relative, err := learnt(before, joints, p.through())
				if err != nil {
					return err
				}
				times += relative * math.Sqrt(math.Max(1, d))
				for i, relative := range []float64{0, relative} {
					c, err := monitor.New(joints, []monitor.Hazard{hazard}, monitor.Options{From: from, Through: p.through(), Error: relative})
					if err != nil {
						return err
					}
					if len(c.Stretches) > 0 {
						touched[i]++
					}
					expected += c.All.Expected / 2
				}
			}
			n := float64(practices)
			fmt.Fprintf(w, "| %.0f | %.0f | %.1f | %.0f | %s | %s | %.1f |\n", perYear, revised/n, expected/n, truth, percent(touched[0], practices), percent(touched[1], practices), times/n)
		}
	}
	return nil
}

// from is the first day watched where ten years before it are the past.
const from = start + 3652

// learnt is the Nelson–Aalen estimate of the past's joints, known to the longest follow-up
// of ten or more and of a tenth of them, and the standard error of what it expects of joints watched.
func learnt(before, watched []monitor.Joint, through int32) (monitor.Hazard, float64, error) {
	var sample survival.Sample
	for _, j := range before {
		cause := 0
		if j.Revised {
			cause = 1
		}
		sample.Exit, sample.Cause = append(sample.Exit, float64(j.Exit-j.Operation)), append(sample.Cause, cause)
	}
	table, err := survival.NewTable(sample, 1)
	if err != nil {
		return monitor.Hazard{}, 0, err
	}
	h, err := survival.NelsonAalen(table, 1)
	if err != nil {
		return monitor.Hazard{}, 0, err
	}
	last, enough := 1.0, math.Max(10, float64(len(before))/10)
	for i, n := range table.AtRisk {
		if n >= enough {
			last = math.Max(last, table.Time[i])
		}
	}
	hazard := monitor.Hazard{Last: int32(last), At: func(days int) float64 {
		n, exact := slices.BinarySearch(h.Time, float64(days))
		if exact {
			n++
		}
		if n == 0 {
			return 0
		}
		return h.Cumulative[n-1]
	}}
	return hazard, monitor.ErrorOf(watched, []monitor.Hazard{hazard}, []*survival.Hazard{h}, from, through), nil
}

// visits are practices beside their own past of whose joints those not revised were last
// seen up to a year and a half before the closing date, and one in ten of them three to six
// years before; revisions are known whenever they came.
func visits(w io.Writer, practices int, rng *rand.Rand) error {
	practices = max(1, practices/10)
	heading(w, "Those not revised last seen before the closing date: ten years of past, five watched", practices, "joints a year", "true ratio",
		"to the day last seen: observed / expected", "touched, %", "to the closing date: observed / expected", "touched, %")
	for _, perYear := range []float64{30, 100} {
		for _, truth := range []float64{1, 2} {
			p := practice{perYear: perYear, years: 15, atTen: .05, truth: truth, since: 10}
			var touched [2]int
			var observed, expected [2]float64
			for range practices {
				joints := p.joints(rng)
				for i, known := range [][]monitor.Joint{p.seen(joints, rng), joints} {
					hazard, relative, err := learnt(asKnown(known, nil, from-1), known, p.through())
					if err != nil {
						return err
					}
					c, err := monitor.New(known, []monitor.Hazard{hazard}, monitor.Options{From: from, Through: p.through(), Error: relative})
					if err != nil {
						return err
					}
					if len(c.Stretches) > 0 {
						touched[i]++
					}
					observed[i], expected[i] = observed[i]+float64(c.All.Observed), expected[i]+c.All.Expected
				}
			}
			fmt.Fprintf(w, "| %.0f | %.0f | %.2f | %s | %.2f | %s |\n", perYear, truth, observed[0]/expected[0], percent(touched[0], practices), observed[1]/expected[1], percent(touched[1], practices))
		}
	}
	return nil
}

// several are departments of surgeons of unequal size, in half of which one has twice
// the expected hazard.
func several(w io.Writer, practices int, rng *rand.Rand) error {
	practices = max(1, practices/10)
	heading(w, "Departments of surgeons with 10 to 100 joints a year, ten years, one chance for all together", practices, "surgeons", "one at twice, with joints a year", "any of the others touched, %", "two or more of them, %", "that one touched, %", "each at 5 %: any of the others, %", "that one, %")
	for _, surgeons := range []int{6, 20, 60} {
		for _, planted := range []float64{0, 30, 100} {
			if err := department(w, practices, surgeons, planted, rng); err != nil {
				return err
			}
		}
	}
	return nil
}

func department(w io.Writer, departments, surgeons int, planted float64, rng *rand.Rand) error {
	p := practice{years: 10, atTen: .05}
	var others, two, that [2]int
	for range departments {
		joints := make([][]monitor.Joint, surgeons)
		for i := range joints {
			p.perYear, p.truth = 10*math.Pow(10, rng.Float64()), 1
			if i == 0 && planted > 0 {
				p.perYear, p.truth = planted, 2
			}
			joints[i] = p.joints(rng)
		}
		hazards := []monitor.Hazard{p.hazard()}
		together, err := monitor.Several(joints, hazards, monitor.Options{Through: p.through()})
		if err != nil {
			return err
		}
		for i, kind := range []func(int) (*monitor.Chart, error){
			func(i int) (*monitor.Chart, error) { return together.Charts[i], nil },
			func(i int) (*monitor.Chart, error) {
				return monitor.New(joints[i], hazards, monitor.Options{Through: p.through()})
			},
		} {
			touched := 0
			for k := range joints {
				if len(joints[k]) == 0 {
					continue
				}
				c, err := kind(k)
				if err != nil {
					return err
				}
				switch {
				case len(c.Stretches) == 0:
				case k == 0 && planted > 0:
					that[i]++
				default:
					touched++
				}
			}
			if touched > 0 {
				others[i]++
			}
			if touched > 1 {
				two[i]++
			}
		}
	}
	name, found := "none", [2]string{"–", "–"}
	if planted > 0 {
		name = fmt.Sprintf("%.0f", planted)
		found = [2]string{percent(that[0], departments), percent(that[1], departments)}
	}
	fmt.Fprintf(w, "| %d | %s | %s | %s | %s | %s | %s |\n", surgeons, name, percent(others[0], departments), percent(two[0], departments),
		found[0], percent(others[1], departments), found[1])
	return nil
}

// downward is the chart that rises where fewer are revised than expected.
func downward(w io.Writer, practices int, rng *rand.Rand) error {
	practices = max(1, practices/4)
	heading(w, "Downward, tuned to half", practices, "joints a year", "true ratio", "expected", "touched, %", "by the chain, %")
	for _, perYear := range []float64{60, 100, 250} {
		for _, truth := range []float64{1, .5, .2} {
			p := practice{perYear: perYear, years: 10, atTen: .05, truth: truth}
			touched, expected, chance := 0, 0.0, 0.0
			for range practices {
				c, err := monitor.New(p.joints(rng), []monitor.Hazard{p.hazard()}, monitor.Options{Ratio: .5, Through: p.through(), Notice: -1})
				if err != nil {
					return err
				}
				if len(c.Stretches) > 0 {
					touched++
				}
				expected += c.All.Expected
				chance += c.Touches(truth)
			}
			n := float64(practices)
			fmt.Fprintf(w, "| %.0f | %.1f | %.1f | %s | %.1f |\n", perYear, truth, expected/n, percent(touched, practices), 100*chance/n)
		}
	}
	return nil
}
