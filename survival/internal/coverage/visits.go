package main

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// first and stray say when visits are: six weeks after the operation, then so many
// years apart, each up to a month early or late.
const (
	first = 6.0 / 52
	stray = 1.0 / 12
)

// lastVisit is the time of the last visit by a time, in years.
func lastVisit(by, apart float64, random *rand.Rand) float64 {
	last := 0.0
	if first <= by {
		last = first
	}
	for visit := apart; visit-stray <= by; visit += apart {
		if at := visit + stray*(2*random.Float64()-1); at <= by {
			last = max(last, at)
		}
	}
	return last
}

// visited are practices in which every revision and death is known whenever it came,
// and whoever has neither is known of up to the last visit.
type visited struct {
	scenario
	apart float64 // years
}

// draw counts one practice twice: followed to the closing date, and to the last visit.
func (v visited) draw(random *rand.Rand) (closed, seen *tally.Counts) {
	closed, seen = tally.New(2), tally.New(2)
	toRevision, toDeath := v.hazards(10)
	for range v.joints {
		revision := 10 * math.Pow(random.ExpFloat64()/toRevision, 1/shape)
		death := 10 * math.Pow(random.ExpFloat64()/toDeath, 1/deathAge)
		end := accrual * random.Float64()
		last := lastVisit(end, v.apart, random)
		switch {
		case revision <= death && revision <= end:
			closed.Add(int32(revision*year), revised)
			seen.Add(int32(revision*year), revised)
		case death <= end:
			closed.Add(int32(death*year), died)
			seen.Add(int32(death*year), died)
		default:
			closed.Add(int32(end*year), 0)
			seen.Add(int32(last*year), 0)
		}
	}
	return closed, seen
}

// shift is what following to the last visit makes of one estimate at one time.
type shift struct {
	estimand                    string
	years, truth                float64
	read                        int
	closed, seen, width, atRisk float64 // sums; the width that of the limits where all are followed to the closing date
}

// simulate draws samples and reads both estimates of each at five and ten years.
func (v visited) simulate(random *rand.Rand, samples int) ([]shift, error) {
	var shifts []shift
	for _, years := range []float64{5, 10} {
		alone, competing := v.truth(int(years * year))
		shifts = append(shifts, shift{estimand: "1−KM", years: years, truth: alone}, shift{estimand: "incidence", years: years, truth: competing})
	}
	for range samples {
		closed, seen := v.draw(random)
		for i := range shifts {
			estimate := survival.KaplanMeier
			if shifts[i].estimand == "incidence" {
				estimate = survival.CumulativeIncidence
			}
			if err := shifts[i].add(estimate, closed.Table(), seen.Table()); err != nil {
				return nil, err
			}
		}
	}
	return shifts, nil
}

func (s *shift) add(estimate func(*survival.Table, int) (*survival.Curve, error), closed, seen *survival.Table) error {
	a, err := estimate(closed, revised)
	if err != nil {
		return err
	}
	b, err := estimate(seen, revised)
	if err != nil {
		return err
	}
	all, ok := a.At(s.years*year, survival.Interval{})
	part, there := b.At(s.years*year, survival.Interval{})
	if !ok || !there {
		return nil
	}
	s.read++
	s.closed += all.Estimate
	s.seen += part.Estimate
	s.width += all.Upper - all.Lower
	s.atRisk += part.AtRisk
	return nil
}

// runVisits prints what it comes to as a Markdown table.
func runVisits(w io.Writer, seed uint64, samples int) error {
	fmt.Fprint(w, "| joints | revised at 10 y | visits | read at | estimate | truth, % | to the closing date, % | to the last visit, % | still followed | too high by, of the width of the limits |\n")
	fmt.Fprint(w, "|--:|--:|---|--:|---|--:|--:|--:|--:|--:|\n")
	for i, joints := range []int{200, 500, 2000} {
		for j, proportion := range []float64{0.04, 0.08} {
			for k, apart := range []float64{1, 2, 5} {
				v := visited{scenario{joints: joints, proportion: proportion}, apart}
				shifts, err := v.simulate(rand.New(rand.NewPCG(seed, uint64(100*i+10*j+k))), samples)
				if err != nil {
					return err
				}
				for _, s := range shifts {
					n := float64(s.read)
					fmt.Fprintf(w, "| %d | %.0f %% | every %s | %.0f y | %s | %.2f | %.2f | %.2f | %.0f | %.2f |\n", joints, 100*proportion,
						map[float64]string{1: "year", 2: "2 years", 5: "5 years"}[apart], s.years, s.estimand, 100*s.truth, 100*s.closed/n, 100*s.seen/n, s.atRisk/n, (s.seen-s.closed)/s.width)
				}
			}
		}
	}
	return nil
}
