// Readingsim repeats the simulation the rule of reading rests on: how often
// an interval, and the reading itself, says above or below when the published
// figure is the truth. It prints the tables of SIMULATION.md:
//
//	go run ./cohort/benchmark/internal/readingsim
//
// The same seed gives the same tables.
package main

import (
	"bufio"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("readingsim", flag.ContinueOnError)
	flags.SetOutput(stderr)
	practices := flags.Int("practices", 20000, "simulated practices per line")
	seed := flags.Uint64("seed", 1, "seed of the random numbers")
	if err := flags.Parse(args); err != nil {
		return 2
	}
	out := bufio.NewWriter(stdout)
	if err := simulate(out, *practices, *seed); err != nil {
		fmt.Fprintln(stderr, err)
		return 1
	}
	if err := out.Flush(); err != nil {
		fmt.Fprintln(stderr, err)
		return 1
	}
	return 0
}

const (
	daysPerYear = cohort.DaysPerYear
	accrual     = 2    // times the years read at, over which joints are operated on, up to the closing date
	deaths      = 0.03 // per year
	registry    = 20000
)

// setting is one kind of practice.
type setting struct {
	readAt  float64 // years
	joints  int
	atTen   float64 // revised by ten years
	shape   float64 // of the Weibull time to revision; below 1, hazard falls
	scale   float64 // in days
	lastDay int     // last day that counts at readAt
}

func newSetting(readAt float64, joints int, atTen, shape float64) setting {
	s := setting{readAt: readAt, joints: joints, atTen: atTen, shape: shape, lastDay: int(cohort.DayOfYear(readAt))}
	s.scale = 10 * daysPerYear / math.Pow(-math.Log1p(-atTen), 1/shape)
	return s
}

// free of revision for t days.
func (s setting) free(t float64) float64 { return math.Exp(-math.Pow(t/s.scale, s.shape)) }

// truth at readAt: the proportion revised if nobody died, and with deaths.
// Times are cut to whole days, and a revision on the day of death comes first.
func (s setting) truth() (net, crude float64) {
	for day := range s.lastDay + 1 {
		p := s.free(float64(day)) - s.free(float64(day+1))
		net += p
		crude += p * math.Exp(-deaths*float64(day)/daysPerYear)
	}
	return net, crude
}

// practice draws one, with joints spread evenly over the years of accrual.
func (s setting) practice(rng *rand.Rand) (*survival.Table, error) {
	sample := survival.Sample{Exit: make([]float64, s.joints), Cause: make([]int, s.joints)}
	for i := range s.joints {
		closing := math.Floor(rng.Float64() * accrual * s.readAt * daysPerYear)
		death := math.Floor(rng.ExpFloat64() / deaths * daysPerYear)
		revision := math.Floor(s.scale * math.Pow(rng.ExpFloat64(), 1/s.shape))
		switch {
		case revision <= death && revision <= closing:
			sample.Exit[i], sample.Cause[i] = revision, 1
		case death <= closing:
			sample.Exit[i], sample.Cause[i] = death, 2
		default:
			sample.Exit[i] = closing
		}
	}
	return survival.NewTable(sample, 2)
}

// sides counts intervals, or readings, above and below the truth.
type sides struct{ above, below int }

func (s *sides) interval(lower, upper, truth float64) {
	if lower > truth {
		s.above++
	}
	if upper < truth {
		s.below++
	}
}

// tally of one setting.
type tally struct {
	loglogKM, plainKM, beta    sides // of Kaplan–Meier
	loglogCIF, plainCIF, nstar sides // of the incidence
	// Readings, [0] of Kaplan–Meier and [1] of the incidence: against the
	// truth, exact; against a published estimate with limits; against half and
	// twice the truth.
	exact, limited, half, twice [2]sides
	tooFew, tooFewHalf          [2]int
	sumKM, sumCIF               float64 // of estimates, where there are any
	read                        int     // practices with an estimate
}

func (s setting) run(practices int, rng *rand.Rand) (tally, error) {
	var t tally
	net, crude := s.truth()
	for range practices {
		table, err := s.practice(rng)
		if err != nil {
			return t, err
		}
		km, err := survival.KaplanMeier(table, 1)
		if err != nil {
			return t, err
		}
		cif, err := survival.CumulativeIncidence(table, 1)
		if err != nil {
			return t, err
		}
		if err := t.add(s.readAt, km, cif, net, crude, rng); err != nil {
			return t, err
		}
	}
	return t, nil
}

func (t *tally) add(readAt float64, km, cif *survival.Curve, net, crude float64, rng *rand.Rand) error {
	x := cohort.DayOfYear(readAt)
	if p, ok := km.At(x, survival.Interval{}); ok {
		t.read++
		t.sumKM += p.Estimate
		t.loglogKM.interval(p.Lower, p.Upper, net)
		// Greenwood's error as it stands: none without a revision.
		z := 1.959963984540054 // standard normal quantile at .975
		t.plainKM.interval(p.Estimate-z*p.SE, p.Estimate+z*p.SE, net)
		q, _ := cif.At(x, survival.Interval{})
		t.sumCIF += q.Estimate
		t.loglogCIF.interval(q.Lower, q.Upper, crude)
		t.plainCIF.interval(q.Estimate-z*q.SE, q.Estimate+z*q.SE, crude)
	}
	for e, truth := range []float64{net, crude} {
		series := &benchmark.Series{Estimand: []benchmark.Measure{benchmark.OneMinusKaplanMeier, benchmark.Incidence}[e]}
		read := func(published, lower, upper float64) (benchmark.Comparison, error) {
			f := benchmark.Figure{Years: readAt, Revision: published, Lower: lower, Upper: upper}
			return benchmark.Compare(km, cif, series, f, survival.Interval{}, x)
		}
		exact, err := read(truth, math.NaN(), math.NaN())
		if err != nil {
			return err
		}
		if e == 0 {
			t.beta.interval(exact.Basis.Lower, exact.Basis.Upper, truth)
		} else {
			t.nstar.interval(exact.Basis.Lower, exact.Basis.Upper, truth)
		}
		t.exact[e].count(exact.Reading)
		if exact.Reading == benchmark.TooFew {
			t.tooFew[e]++
		}
		// A register of so many has the same truth and an error of its own.
		revised := binomial(rng, registry, truth)
		lower, upper := survival.BinomialLimits(revised, registry, .95)
		limited, err := read(revised/registry, lower, upper)
		if err != nil {
			return err
		}
		t.limited[e].count(limited.Reading)
		half, err := read(truth/2, math.NaN(), math.NaN())
		if err != nil {
			return err
		}
		t.half[e].count(half.Reading)
		if half.Reading == benchmark.TooFew {
			t.tooFewHalf[e]++
		}
		twice, err := read(2*truth, math.NaN(), math.NaN())
		if err != nil {
			return err
		}
		t.twice[e].count(twice.Reading)
	}
	return nil
}

func (s *sides) count(r benchmark.Reading) {
	switch r {
	case benchmark.Above:
		s.above++
	case benchmark.Below:
		s.below++
	}
}

// binomial is a draw by the normal approximation, which n = 20,000 allows.
func binomial(rng *rand.Rand, n, p float64) float64 {
	x := math.Round(n*p + rng.NormFloat64()*math.Sqrt(n*p*(1-p)))
	return math.Max(0, math.Min(n, x))
}

func simulate(w io.Writer, practices int, seed uint64) error {
	var settings []setting
	for _, readAt := range []float64{5, 10} {
		for _, shape := range []float64{1, 0.6} {
			for _, joints := range []int{50, 100, 200, 500, 800} {
				for _, atTen := range []float64{.04, .06, .08} {
					settings = append(settings, newSetting(readAt, joints, atTen, shape))
				}
			}
		}
	}
	tallies := make([]tally, len(settings))
	for i, s := range settings {
		var err error
		if tallies[i], err = s.run(practices, rand.New(rand.NewPCG(seed, uint64(i)))); err != nil {
			return err
		}
	}
	pct := func(n int) string { return fmt.Sprintf("%.1f", 100*float64(n)/float64(practices)) }
	both := func(s sides) string { return pct(s.above) + " / " + pct(s.below) }
	name := func(s setting) string {
		hazard := "even"
		if s.shape < 1 {
			hazard = "early"
		}
		return fmt.Sprintf("| %.0f | %d | %.0f | %s |", s.readAt, s.joints, 100*s.atTen, hazard)
	}
	fmt.Fprintf(w, "%d practices a line, seed %d; above / below, in per cent.\n\n", practices, seed)
	fmt.Fprint(w, "### Intervals\n\n",
		"| read at | joints | % at 10 y | hazard | KM log-log | KM plain | KM beta product | incidence log-log | incidence plain | incidence n* |\n",
		"|--:|--:|--:|---|---|---|---|---|---|---|\n")
	for i, s := range settings {
		t := tallies[i]
		fmt.Fprintf(w, "%s %s | %s | %s | %s | %s | %s |\n", name(s), both(t.loglogKM), both(t.plainKM), both(t.beta),
			both(t.loglogCIF), both(t.plainCIF), both(t.nstar))
	}
	for e, title := range []string{"Kaplan–Meier", "cumulative incidence"} {
		fmt.Fprintf(w, "\n### The reading, %s\n\n", title)
		fmt.Fprint(w, "| read at | joints | % at 10 y | hazard | truth, exact | truth, with limits | too few | own twice: above | own twice: too few | own half: below |\n",
			"|--:|--:|--:|---|---|---|--:|--:|--:|--:|\n")
		for i, s := range settings {
			t := tallies[i]
			fmt.Fprintf(w, "%s %s | %s | %s | %s | %s | %s |\n", name(s), both(t.exact[e]), both(t.limited[e]),
				pct(t.tooFew[e]), pct(t.half[e].above), pct(t.tooFewHalf[e]), pct(t.twice[e].below))
		}
	}
	return nil
}
