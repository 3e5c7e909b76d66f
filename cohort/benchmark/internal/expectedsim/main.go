// Expectedsim repeats the simulation that observed and expected revisions rest
// on: the ratio of a practice that is exactly as published, for four shapes of
// hazard, sets of published years, and follow-up with deaths and losses.
//
//	go run ./cohort/benchmark/internal/expectedsim
//
// Each line is the ratio of the sums over many practices: 1 where complete
// intervals and interpolation leave nothing over.
package main

import (
	"bufio"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("expectedsim", flag.ContinueOnError)
	flags.SetOutput(stderr)
	joints := flags.Int("joints", 2_000_000, "simulated joints per line")
	seed := flags.Uint64("seed", 1, "seed of the random numbers")
	if err := flags.Parse(args); err != nil {
		return 2
	}
	out := bufio.NewWriter(stdout)
	fmt.Fprintf(out, "%d joints a line, seed %d.\n\n| published at | hazard | ", *joints, *seed)
	for _, f := range followUps {
		fmt.Fprintf(out, "%s | ", f.name)
	}
	fmt.Fprint(out, "\n|---|---|", strings.Repeat("--:|", len(followUps)), "\n")
	for i, years := range published {
		for j, h := range hazards {
			fmt.Fprintf(out, "| %s | %s | ", strings.Trim(fmt.Sprint(years), "[]"), h.name)
			for k, f := range followUps {
				ratio, err := ratioOf(years, h, f, *joints, rand.New(rand.NewPCG(*seed, uint64(100*i+10*j+k))))
				if err != nil {
					fmt.Fprintln(stderr, err)
					return 1
				}
				if ratio != ratio { // nobody is followed to a published year
					fmt.Fprint(out, "– | ")
					continue
				}
				fmt.Fprintf(out, "%.3f | ", ratio)
			}
			fmt.Fprintln(out)
		}
	}
	if err := out.Flush(); err != nil {
		fmt.Fprintln(stderr, err)
		return 1
	}
	return 0
}

var published = [][]float64{{1, 3, 5, 10}, {3, 10}, {5, 10}, {1, 10}, {10}, {5}}

// hazard is a cumulative hazard of revision; 5 % are revised by ten years.
type hazard struct {
	name string
	at   func(years float64) float64
}

var hazards = []hazard{
	{"even", weibull(1)},
	{"falling", weibull(.6)},
	{"rising", weibull(1.5)},
	{"bath-tub", func(t float64) float64 { return (weibull(.4)(t) + weibull(2.5)(t)) / 2 }},
}

func weibull(shape float64) func(float64) float64 {
	return func(t float64) float64 { return -math.Log(.95) * math.Pow(t/10, shape) }
}

// followUp is what ends it: deaths and losses a year, and the years of accrual.
type followUp struct {
	name           string
	deaths, losses float64
	accrual        float64
}

var followUps = []followUp{
	{"nobody lost, 12 years", 0, 0, 12},
	{"deaths 4 %, 12 years", .04, 0, 12},
	{"deaths 4 %, 4 years", .04, 0, 4},
	{"deaths 6 %, losses 5 %, 12 years", .06, .05, 12},
}

// ratioOf is observed over expected, summed over joints operated on evenly over
// the accrual.
func ratioOf(years []float64, h hazard, f followUp, joints int, rng *rand.Rand) (float64, error) {
	s := &benchmark.Series{Source: "invented", Estimand: benchmark.OneMinusKaplanMeier}
	for _, y := range years {
		s.Figures = append(s.Figures, benchmark.Figure{Years: y, Revision: -math.Expm1(-h.at(y))})
	}
	samples := make(map[float64]*survival.Sample)
	for range joints {
		closing := math.Floor(rng.Float64() * f.accrual * cohort.DaysPerYear)
		reached := 0.0
		for _, y := range years {
			if cohort.DayOfYear(y) <= closing {
				reached = y
			}
		}
		if samples[reached] == nil {
			samples[reached] = &survival.Sample{}
		}
		exit, cause := closing, 0
		end := func(rate float64, c int) {
			if rate > 0 {
				if at := math.Floor(rng.ExpFloat64() / rate * cohort.DaysPerYear); at < exit {
					exit, cause = at, c
				}
			}
		}
		end(f.deaths, 2)
		end(f.losses, 0)
		if at := inverse(h, rng.ExpFloat64(), closing); at <= exit {
			exit, cause = at, 1
		}
		sample := samples[reached]
		sample.Exit, sample.Cause = append(sample.Exit, exit), append(sample.Cause, cause)
	}
	var groups []benchmark.Exits
	for reached, sample := range samples {
		table, err := survival.NewTable(*sample, 2)
		if err != nil {
			return 0, err
		}
		groups = append(groups, benchmark.Exits{Reached: reached, InPeriod: true, Table: table})
	}
	r, ok := benchmark.ObservedExpected(groups, 1, s, cohort.DayOfYear, cohort.DaysPerYear, .95)
	if !ok {
		return math.NaN(), nil
	}
	return r.Ratio, nil
}

// inverse is the day on which a cumulative hazard reaches x; +Inf after the
// closing day.
func inverse(h hazard, x, closing float64) float64 {
	low, high := 0.0, (closing+1)/cohort.DaysPerYear
	if h.at(high) < x {
		return math.Inf(1)
	}
	for range 40 {
		middle := (low + high) / 2
		if h.at(middle) < x {
			low = middle
		} else {
			high = middle
		}
	}
	return math.Floor(high * cohort.DaysPerYear)
}
