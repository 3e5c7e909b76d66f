// Command contrastsim draws practices of a surgeon's size, reads each as an
// outcomes table, and counts how often a contrast says what is not so: tests,
// readings of differences, and ratios. It prints Markdown tables; they are kept in
// cohort/contrast/SIMULATION.md.
//
//	go run ./cohort/contrast/internal/contrastsim
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/contrast"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/regress"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("contrastsim", flag.ContinueOnError)
	flags.SetOutput(stderr)
	practices := flags.Int("practices", 2000, "practices for each line of tests and readings; a tenth of them for each of ratios")
	seed := flags.Uint64("seed", 1, "seed of the first line")
	if flags.Parse(args) != nil {
		return 2
	}
	for _, table := range []struct {
		title, headings string
		settings        []setting
		model           bool
		line            func(*tallied) string
	}{
		{"Tests, of groups that are alike", "joints | revised by 10 y | second joints | frailty | mean revised | without p | log-rank | within age band and sex", alike(), false, (*tallied).tests},
		{"Readings of the difference at five years", "joints | revised by 10 y | ratio | mean revised | above | below | too few to say | limits above the truth | limits below it", differing(), false, (*tallied).readings},
		{"Ratios, adjusted for age", "joints | revised by 10 y | ratio | mean revised | no model | penalised | limits above the truth | limits below it | mean log ratio less the truth", differing(), true, (*tallied).ratios},
	} {
		fmt.Fprintf(stdout, "### %s\n\n| %s |\n|%s\n", table.title, table.headings, strings.Repeat("---|", strings.Count(table.headings, "|")+1))
		for i, s := range table.settings {
			n := *practices
			if s.model = table.model; s.model {
				n = (n + 9) / 10
			}
			t, err := s.draw(n, rand.New(rand.NewPCG(*seed, uint64(i))))
			if err != nil {
				fmt.Fprintln(stderr, "contrastsim:", err)
				return 1
			}
			fmt.Fprintf(stdout, "| %s |\n", table.line(t))
		}
		fmt.Fprintln(stdout)
	}
	return 0
}

// setting is one kind of practice: joints of three bearings, in the shares 50, 30
// and 20 %, the last revised at a ratio to the others.
type setting struct {
	joints  int
	by10    float64 // revised by ten years, were nobody to die, in the first two
	ratio   float64
	seconds float64 // share of joints that are a patient's second
	frailty bool    // patients differ, by a gamma factor of mean and variance 1
	model   bool    // ratios are wanted, which take longer
}

func alike() []setting {
	var all []setting
	for _, by10 := range []float64{.04, .08, .15} {
		for _, seconds := range []float64{0, .2} {
			all = append(all, setting{joints: 150, by10: by10, ratio: 1, seconds: seconds, frailty: seconds > 0})
		}
	}
	return append(all, setting{joints: 500, by10: .06, ratio: 1}, setting{joints: 500, by10: .06, ratio: 1, seconds: .2, frailty: true})
}

func differing() []setting {
	var all []setting
	for _, joints := range []int{100, 200, 500} {
		for _, ratio := range []float64{1, 2, 3} {
			all = append(all, setting{joints: joints, by10: .08, ratio: ratio})
		}
	}
	return all
}

var bearings = []string{"metal-on-polyethylene", "ceramic-on-polyethylene", "ceramic-on-ceramic"}

// shape of the Weibull time to revision: more revisions early.
const shape = 0.7

// A practice of twelve years up to the closing date.
const days = 4382

// table is one practice as an outcomes table, closed on its last day.
func (s setting) table(start cohort.Day, random *rand.Rand) string {
	var b strings.Builder
	b.WriteString("patient,operation_date,procedure,side,bearing,age,sex,revision_date,death_date\n")
	for joints := 0; joints < s.joints; {
		p := s.patient(start, random)
		for _, side := range p.sides[:min(len(p.sides), s.joints-joints)] {
			s.joint(&b, joints, p, side, start, random)
			joints++
		}
	}
	return b.String()
}

// patient is what a patient's joints have in common.
type patient struct {
	number, age int
	bearing     int // of both joints
	sex         string
	factor      float64 // of the rate of revision
	death       cohort.Day
	sides       []string
}

func (s setting) patient(start cohort.Day, random *rand.Rand) patient {
	p := patient{number: random.Int(), age: int(math.Max(35, math.Min(92, 67+10*random.NormFloat64()))), sex: "female", factor: 1, sides: []string{"left"}}
	if random.Float64() < .4 {
		p.sex = "male"
	}
	if u := random.Float64(); u > .8 {
		p.bearing = 2
	} else if u > .5 {
		p.bearing = 1
	}
	if s.frailty {
		p.factor = random.ExpFloat64()
	}
	// A share s of joints is second if a share s/(1−s) of patients has two.
	if random.Float64() < s.seconds/(1-s.seconds) {
		p.sides = append(p.sides, "right")
	}
	p.death = start + days/2 + cohort.Day(3652*math.Pow(random.ExpFloat64()/.3, .7))
	return p
}

// joint writes a row; number tells the patients apart.
func (s setting) joint(b *strings.Builder, number int, p patient, side string, start cohort.Day, random *rand.Rand) {
	at := start + cohort.Day(days*random.Float64())
	rate := -math.Log1p(-s.by10) * p.factor
	if p.bearing == 2 {
		rate *= s.ratio
	}
	after := 3652 * math.Pow(random.ExpFloat64()/rate, 1/shape)
	revised, died := "", ""
	if revision := float64(at) + after; revision <= float64(start+days) && cohort.Day(revision) <= max(p.death, at) {
		revised = cohort.Day(revision).String()
	}
	if death := max(p.death, at); death <= start+days {
		died = death.String()
	}
	fmt.Fprintf(b, "P%d,%s,THR,%s,%s,%d,%s,%s,%s\n", p.number, at, side, bearings[p.bearing], p.age, p.sex, revised, died)
}

// tallied is what the practices of a setting came to.
type tallied struct {
	setting
	practices, revised    int
	withoutP              int
	rejected, within      int // p below 0.05
	compared              int // readings
	above, below, tooFew  int
	over, under           int // limits of the difference wholly above or below the truth
	noModel, penalised    int
	ratioOver, ratioUnder int
	finite                int
	log                   float64
}

// draw reads so many practices.
func (s setting) draw(practices int, random *rand.Rand) (*tallied, error) {
	start, err := cohort.ParseDay("2009-01-01")
	if err != nil {
		return nil, err
	}
	t := &tallied{setting: s}
	closing := start + days
	for range practices {
		source := cohort.Source{Name: "drawn.csv", Reader: strings.NewReader(s.table(start, random))}
		c, err := cohort.Read(context.Background(), []cohort.Source{source}, cohort.Options{ClosingDate: &closing})
		if err != nil {
			return nil, err
		}
		o := contrast.Options{Between: "bearing", Within: []string{"age_band", "sex"}, Adjust: []string{"age"}, Years: []float64{5}, Against: bearings[0], Periods: []float64{}, NoModel: !s.model}
		k, err := contrast.Run(c, o)
		if _, refused := err.(*contrast.RefusedError); refused {
			t.practices, t.withoutP, t.noModel = t.practices+1, t.withoutP+1, t.noModel+1
			continue
		}
		if err != nil {
			return nil, err
		}
		t.add(k)
	}
	return t, nil
}

// add counts what one practice's contrast says.
func (t *tallied) add(k *contrast.Contrast) {
	p := &k.Parts[0]
	t.practices++
	t.revised += int(p.Revised)
	if p.Revised < contrast.FewestForP {
		t.withoutP++
	} else {
		if p.LogRank.P < .05 {
			t.rejected++
		}
		if p.Within != nil && p.Within.P < .05 {
			t.within++
		}
	}
	truth := -math.Expm1(math.Log1p(-t.by10)*t.ratio*math.Pow(.5, shape)) + math.Expm1(math.Log1p(-t.by10)*math.Pow(.5, shape))
	for _, d := range p.Differences {
		if d.Estimand == survival.OneMinusKaplanMeier && d.Reached && p.Groups[d.Group].Word == bearings[2] {
			t.difference(&d, truth)
		}
	}
	if p.Model != nil {
		t.fitted(p.Model)
	}
}

func (t *tallied) difference(d *contrast.Difference, truth float64) {
	t.compared++
	switch d.Reading {
	case benchmark.Above:
		t.above++
	case benchmark.Below:
		t.below++
	case benchmark.TooFew:
		t.tooFew++
	}
	switch {
	case d.Lower > truth:
		t.over++
	case d.Upper < truth:
		t.under++
	}
}

func (t *tallied) fitted(m *contrast.Model) {
	if m.Refused != "" {
		t.noModel++
		return
	}
	if m.Kind == regress.Penalised {
		t.penalised++
	}
	for _, r := range m.Ratios {
		if r.Word != bearings[2] {
			continue
		}
		t.finite++
		t.log += math.Log(r.Ratio / t.ratio)
		switch {
		case r.Lower > t.ratio:
			t.ratioOver++
		case r.Upper < t.ratio:
			t.ratioUnder++
		}
	}
}

// of is a percentage.
func of(n, all int) string {
	if all == 0 {
		return ""
	}
	return fmt.Sprintf("%.1f", 100*float64(n)/float64(all))
}

func (t *tallied) mean() string { return fmt.Sprintf("%.1f", float64(t.revised)/float64(t.practices)) }

func (t *tallied) tests() string {
	frailty := "no"
	if t.frailty {
		frailty = "yes"
	}
	said := t.practices - t.withoutP
	return strings.Join([]string{fmt.Sprint(t.joints), of(int(1000*t.by10), 1000), of(int(100*t.seconds), 100), frailty, t.mean(), of(t.withoutP, t.practices), of(t.rejected, said), of(t.within, said)}, " | ")
}

func (t *tallied) readings() string {
	return strings.Join([]string{fmt.Sprint(t.joints), of(int(1000*t.by10), 1000), fmt.Sprint(t.ratio), t.mean(), of(t.above, t.compared), of(t.below, t.compared), of(t.tooFew, t.compared), of(t.over, t.compared), of(t.under, t.compared)}, " | ")
}

func (t *tallied) ratios() string {
	bias := ""
	if t.finite > 0 {
		bias = fmt.Sprintf("%.2f", t.log/float64(t.finite))
	}
	return strings.Join([]string{fmt.Sprint(t.joints), of(int(1000*t.by10), 1000), fmt.Sprint(t.ratio), t.mean(), of(t.noModel, t.practices), of(t.penalised, t.finite), of(t.ratioOver, t.finite), of(t.ratioUnder, t.finite), bias}, " | ")
}
