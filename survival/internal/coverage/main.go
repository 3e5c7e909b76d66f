// Command coverage simulates practices of a surgeon's size and counts how often
// the confidence limits of package survival enclose the truth. It prints a
// Markdown table; its result is kept in survival/COVERAGE.md.
//
//	go run ./survival/internal/coverage
//
// With -visits it says instead what becomes of the estimates where whoever is neither
// revised nor dead is followed to the last visit, and revisions are known whenever they
// come.
package main

import (
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

const (
	year     = 365.25
	revised  = 1
	died     = 2
	accrual  = 12.0 // years over which operations are spread evenly, up to the closing date
	shape    = 0.75 // of the Weibull time to revision: more revisions early
	deaths   = 0.25 // dead by ten years, were nobody revised
	deathAge = 1.5  // shape of the Weibull time to death: more deaths late
)

func main() {
	seed := flag.Uint64("seed", 20241231, "seed of the simulation")
	samples := flag.Int("samples", 20_000, "samples for each size and proportion")
	atRisk := flag.Float64("min-at-risk", 0, "count only points with so many at risk")
	visits := flag.Bool("visits", false, "follow to the last visit, revisions whenever they come")
	flag.Parse()
	simulate := func() error { return run(os.Stdout, *seed, *samples, *atRisk) }
	if *visits {
		simulate = func() error { return runVisits(os.Stdout, *seed, *samples) }
	}
	if err := simulate(); err != nil {
		fmt.Fprintln(os.Stderr, "coverage:", err)
		os.Exit(1)
	}
}

func run(w io.Writer, seed uint64, samples int, atRisk float64) error {
	fmt.Fprint(w, "| joints | revised at 10 y | read at | points | no revision yet | estimate, limits | coverage | truth below | truth above | width |\n")
	fmt.Fprint(w, "|---|---|---|---|---|---|---|---|---|---|\n")
	for i, joints := range []int{50, 200, 500} {
		for j, proportion := range []float64{0.02, 0.04, 0.08} {
			s := scenario{joints: joints, proportion: proportion, atRisk: atRisk}
			results, err := s.simulate(rand.New(rand.NewPCG(seed, uint64(10*i+j))), samples)
			if err != nil {
				return err
			}
			for _, r := range results {
				if r.read == 0 {
					continue
				}
				fmt.Fprintf(w, "| %d | %.0f %% | %.0f y | %d | %.0f %% | %s | %.1f | %s | %s | %.1f |\n",
					joints, 100*proportion, r.years, r.read, r.percent(r.none), r.name, r.percent(r.read-r.below-r.above),
					r.error(r.below), r.error(r.above), 100*r.width/float64(r.read))
			}
		}
	}
	return nil
}

// scenario is one size of practice and one true proportion revised by ten years
// if nobody died.
type scenario struct {
	joints     int
	proportion float64
	atRisk     float64 // count only points with so many at risk
}

// hazards are the cumulative hazards of revision and of death at a time in years.
func (s scenario) hazards(years float64) (revision, death float64) {
	revision = -math.Log1p(-s.proportion) * math.Pow(years/10, shape)
	death = -math.Log1p(-deaths) * math.Pow(years/10, deathAge)
	return revision, death
}

// truth is the proportion revised by so many whole days, first if nobody died
// and then with death competing. Time is counted in whole days, so an event of a
// day is one in the day up to its end.
func (s scenario) truth(days int) (alone, competing float64) {
	const steps = 20 // to a day
	before, _ := s.hazards(0)
	for i := 1; i <= (days+1)*steps; i++ {
		at := float64(i) / steps / year
		revision, _ := s.hazards(at)
		_, death := s.hazards(at - 0.5/steps/year)
		competing += (math.Exp(-before) - math.Exp(-revision)) * math.Exp(-death)
		before = revision
	}
	return -math.Expm1(-before), competing
}

// draw counts one practice.
func (s scenario) draw(random *rand.Rand) *tally.Counts {
	c := tally.New(2)
	c.Grow(int(accrual*year) + 1)
	toRevision, toDeath := s.hazards(10)
	for range s.joints {
		revision := 10 * math.Pow(random.ExpFloat64()/toRevision, 1/shape)
		death := 10 * math.Pow(random.ExpFloat64()/toDeath, 1/deathAge)
		end := accrual * random.Float64()
		switch {
		case revision <= death && revision <= end:
			c.Add(int32(revision*year), revised)
		case death <= end:
			c.Add(int32(death*year), died)
		default:
			c.Add(int32(end*year), 0)
		}
	}
	return c
}

// result is how one kind of limits did at one time.
type result struct {
	name         string
	years        float64
	read         int // samples followed so far
	none         int // samples without a revision so far
	below, above int // truth below the lower, above the upper limit
	width        float64
}

func (r *result) percent(n int) float64 { return 100 * float64(n) / float64(r.read) }

// error marks a one-sided error that exceeds 2.5 % by more than chance.
func (r *result) error(n int) string {
	text := fmt.Sprintf("%.1f", r.percent(n))
	if r.percent(n) > 2.5+3*100*math.Sqrt(0.025*0.975/float64(r.read)) {
		return "**" + text + "**"
	}
	return text
}

// simulate draws samples and reads both estimates of each at five and ten years.
func (s scenario) simulate(random *rand.Rand, samples int) ([]result, error) {
	times := []float64{5, 10}
	methods := []survival.Method{survival.LogLog, survival.Log, survival.Plain, survival.BetaProduct}
	var results []result
	for _, years := range times {
		for _, m := range methods {
			results = append(results, result{name: "1−KM, " + m.String(), years: years})
		}
		for _, name := range []string{"log-log", "plain", "Clopper–Pearson on n*"} {
			results = append(results, result{name: "incidence, " + name, years: years})
		}
	}
	alone, competing := make([]float64, len(times)), make([]float64, len(times))
	for i, years := range times {
		alone[i], competing[i] = s.truth(int(years * year))
	}
	for range samples {
		table := s.draw(random).Table()
		km, err := survival.KaplanMeier(table, revised)
		if err != nil {
			return nil, err
		}
		incidence, err := survival.CumulativeIncidence(table, revised)
		if err != nil {
			return nil, err
		}
		r := results
		next := func() *result {
			first := &r[0]
			r = r[1:]
			return first
		}
		for i, years := range times {
			for _, m := range methods {
				p, ok := km.At(years*year, survival.Interval{Method: m})
				next().count(p, ok, s.atRisk, p.Lower, p.Upper, alone[i])
			}
			for _, m := range []survival.Method{survival.LogLog, survival.Plain} {
				p, ok := incidence.At(years*year, survival.Interval{Method: m})
				next().count(p, ok, s.atRisk, p.Lower, p.Upper, competing[i])
			}
			p, ok := incidence.At(years*year, survival.Interval{})
			lower, upper := p.Lower, p.Upper
			if p.SE > 0 {
				n := p.Estimate * (1 - p.Estimate) / (p.SE * p.SE)
				lower, upper = survival.BinomialLimits(p.Estimate*n, n, p.Level)
			}
			next().count(p, ok, s.atRisk, lower, upper, competing[i])
		}
	}
	return results, nil
}

func (r *result) count(p survival.Point, ok bool, atRisk, lower, upper, truth float64) {
	if !ok || p.AtRisk < atRisk {
		return
	}
	r.read++
	if p.Events == 0 {
		r.none++
	}
	if truth < lower {
		r.below++
	}
	if truth > upper {
		r.above++
	}
	r.width += upper - lower
}
