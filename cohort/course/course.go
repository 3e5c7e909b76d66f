package course

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// Options say what is shown. The zero value is the default.
type Options struct {
	Years    []float64 // since operation; nil means audit.DefaultYears
	Interval survival.Interval

	// Smooth adds the smoothed hazard.
	Smooth bool
}

// Course is what becomes of joints, as plain data, for each joint and procedure by
// itself. Proportions are between 0 and 1.
type Course struct {
	Files    []cohort.File
	Closing  cohort.Closing
	Account  cohort.Account
	Deaths   cohort.Deaths
	Interval survival.Interval
	Years    []float64
	Parts    []Part
	Method   []string // how the numbers were made, in words
	Cautions []string
}

// Part is the course of one joint and procedure.
type Part struct {
	Joint, Procedure      string
	Joints, Revised, Died int64
	ImplantYears          float64

	// Reasons are the reasons for revision that occur, in canonical order; one that
	// is not recorded is a reason of its own.
	Reasons []Reason

	// Death is the proportion that died unrevised, and Gone the proportion revised or
	// dead: its complement is free of both. The reasons, death and free add up to 1
	// at every time. Where deaths are not recorded nobody dies.
	Death, Gone *survival.Curve
	Points      []Point // as Course.Years

	Rates []Rate
	Again *Again // nil if no joint is revised

	Smoothed *survival.Smoothed // times in days; nil unless asked for, or with too few revisions
}

// Reason is one reason for revision.
type Reason struct {
	Word      string
	Revised   int64
	Incidence *survival.Curve // the other reasons and death compete
}

// Point is how the joints are divided at one time.
type Point struct {
	Years   float64
	Reached bool // somebody was followed that long; else the rest is empty
	AtRisk  float64
	Reasons []survival.Point // as Part.Reasons
	Death   survival.Point
	Free    survival.Point // the proportion free of both
}

// Rate is the revisions of a period of time since operation.
type Rate struct {
	From, To float64 // days; after From, up to and with To, which is +Inf for the last
	Title    string
	survival.Rate
}

// Again is what became of the joints after their first revision.
type Again struct {
	Joints, Revised, Died int64
	KaplanMeier           *survival.Curve // of the next revision, in days since the first
	Points                []survival.Point
	Years                 []float64 // of Points
}

// Run describes the course of a cohort's joints. Errors are about options.
func Run(c *cohort.Cohort, o Options) (*Course, error) {
	if err := o.Interval.Check(); err != nil {
		return nil, err
	}
	k := &Course{Files: c.Files, Closing: c.Closing, Account: c.Account(), Deaths: c.Deaths(), Interval: o.Interval, Years: slices.Clone(o.Years)}
	if k.Years == nil {
		k.Years = audit.DefaultYears()
	}
	slices.Sort(k.Years)
	if k.Years = slices.Compact(k.Years); len(k.Years) == 0 || !(k.Years[0] > 0) || !(k.Years[len(k.Years)-1] <= 100) {
		return nil, fmt.Errorf("years %v: want numbers above 0 and up to 100, such as 1,3,5,10,15", k.Years)
	}
	parts, err := collect(c)
	if err != nil {
		return nil, err
	}
	for _, g := range parts {
		p, err := k.part(g, o)
		if err != nil {
			return nil, err
		}
		k.Parts = append(k.Parts, *p)
	}
	k.Method, k.Cautions = method(k, o), cautions()
	return k, nil
}

// group is the joints of one joint and procedure: days followed and how that ended,
// 0 censored, then the reasons in the order of their numbers, then death.
type group struct {
	joint, procedure string
	days             []int32
	cause            []int
	reasons          []string
	again            []cohort.Rerevision
}

// collect takes every joint's follow-up, with a cause for each reason for revision.
func collect(c *cohort.Cohort) ([]*group, error) {
	order := append(cohort.Reasons(), cohort.NotRecorded)
	joints, err := c.Joints(cohort.Endpoint{}, "joint", "procedure")
	if err != nil {
		return nil, err
	}
	parts := make(map[[2]string]*group)
	words := make(map[[2]string][]string) // of each joint, "" for none
	for j := range joints {
		at := [2]string(j.Values)
		g := parts[at]
		if g == nil {
			g = &group{joint: at[0], procedure: at[1]}
			parts[at] = g
		}
		word := ""
		g.days, g.cause = append(g.days, int32(j.Days)), append(g.cause, 0)
		switch j.Cause {
		case cohort.CauseRevision:
			if word = j.Reason; !slices.Contains(g.reasons, word) {
				g.reasons = append(g.reasons, word)
			}
		case cohort.CauseDeath:
			g.cause[len(g.cause)-1] = -1
		}
		words[at] = append(words[at], word)
	}
	for at, g := range parts {
		slices.SortFunc(g.reasons, func(a, b string) int { return rank(order, a, b) })
		for i, word := range words[at] {
			switch {
			case word != "":
				g.cause[i] = 1 + slices.Index(g.reasons, word)
			case g.cause[i] < 0:
				g.cause[i] = 1 + len(g.reasons)
			}
		}
	}
	again, err := c.Rerevisions("joint", "procedure")
	if err != nil {
		return nil, err
	}
	for _, r := range again {
		g := parts[[2]string(r.Values)]
		g.again = append(g.again, r)
	}
	return inOrder(c, parts)
}

// rank orders words that are known, then others by the alphabet, not recorded last.
func rank(order []string, a, b string) int {
	x, y := slices.Index(order, a), slices.Index(order, b)
	last := len(order) - 1
	if x < 0 {
		x = last - 1
	} else if x == last {
		x++
	}
	if y < 0 {
		y = last - 1
	} else if y == last {
		y++
	}
	if x != y {
		return x - y
	}
	if a < b {
		return -1
	}
	return 1
}

func inOrder(c *cohort.Cohort, parts map[[2]string]*group) ([]*group, error) {
	joints, err := c.Values("joint")
	if err != nil {
		return nil, err
	}
	procedures, err := c.Values("procedure")
	if err != nil {
		return nil, err
	}
	var all []*group
	for _, joint := range joints {
		for _, procedure := range procedures {
			if g := parts[[2]string{joint, procedure}]; g != nil {
				all = append(all, g)
			}
		}
	}
	return all, nil
}

// part makes the course of one joint and procedure.
func (k *Course) part(g *group, o Options) (*Part, error) {
	p := &Part{Joint: g.joint, Procedure: g.procedure, Joints: int64(len(g.days))}
	death := 1 + len(g.reasons)
	counts := tally.New(death)
	for i, day := range g.days {
		counts.Add(day, g.cause[i])
	}
	p.Died, p.ImplantYears = counts.Total(death), float64(counts.PersonDays())/cohort.DaysPerYear
	table := counts.Table()
	for n, word := range g.reasons {
		curve, err := survival.CumulativeIncidence(table, n+1)
		if err != nil {
			return nil, err
		}
		p.Reasons = append(p.Reasons, Reason{word, counts.Total(n + 1), curve})
		p.Revised += counts.Total(n + 1)
	}
	var err error
	if p.Death, err = survival.CumulativeIncidence(table, death); err != nil {
		return nil, err
	}
	if p.Gone, err = survival.KaplanMeier(table.Pool(), 1); err != nil {
		return nil, err
	}
	for _, y := range k.Years {
		p.Points = append(p.Points, k.point(p, y))
	}
	p.Rates = rates(g, k.level())
	if err := k.afterwards(p, g); err != nil || !o.Smooth {
		return p, err
	}
	return p, k.smooth(p, g)
}

// point reads a joint and procedure at one time.
func (k *Course) point(p *Part, years float64) Point {
	day := cohort.DayOfYear(years)
	pt := Point{Years: years}
	gone, reached := p.Gone.At(day, k.Interval)
	if pt.Reached = reached; !reached {
		return pt
	}
	pt.AtRisk, pt.Free = gone.AtRisk, gone.Survival()
	pt.Death, _ = p.Death.At(day, k.Interval)
	for _, r := range p.Reasons {
		x, _ := r.Incidence.At(day, k.Interval)
		pt.Reasons = append(pt.Reasons, x)
	}
	return pt
}

// periods are those of the rates: the first 90 days, the rest of the first year, the
// years to the fifth, and after it. A day on a bound is before it, and the day of the
// operation is in the first.
func periods() []Rate {
	return []Rate{
		{From: 0, To: 90, Title: "0 to 90 days"},
		{From: 90, To: cohort.DaysPerYear, Title: "91 days to 1 year"},
		{From: cohort.DaysPerYear, To: 5 * cohort.DaysPerYear, Title: "1 to 5 years"},
		{From: 5 * cohort.DaysPerYear, To: math.Inf(1), Title: "5 years and more"},
	}
}

// rates counts revisions and implant-years by period.
func rates(g *group, level float64) []Rate {
	all := periods()
	for n := range all {
		r := &all[n]
		revised, time := 0, 0.0
		for i, day := range g.days {
			d := float64(day)
			if c := g.cause[i]; c > 0 && c <= len(g.reasons) && d <= r.To && (d > r.From || n == 0) {
				revised++
			}
			time += math.Max(0, math.Min(d, r.To)-r.From)
		}
		r.Rate = survival.NewRate(float64(revised), time/cohort.DaysPerYear, 100, level)
	}
	return all
}

// afterwards follows the joints from their first revision on.
func (k *Course) afterwards(p *Part, g *group) error {
	if len(g.again) == 0 {
		return nil
	}
	counts := tally.New(2)
	for _, r := range g.again {
		counts.Add(int32(r.Days), r.Cause)
	}
	a := &Again{Joints: counts.Subjects(), Revised: counts.Total(cohort.CauseRevision), Died: counts.Total(cohort.CauseDeath)}
	var err error
	if a.KaplanMeier, err = survival.KaplanMeier(counts.Table(), cohort.CauseRevision); err != nil {
		return err
	}
	for _, y := range k.Years {
		if pt, ok := a.KaplanMeier.At(cohort.DayOfYear(y), k.Interval); ok {
			a.Points, a.Years = append(a.Points, pt), append(a.Years, y)
		}
	}
	p.Again = a
	return nil
}

// smooth makes the smoothed hazard of any revision at 0, 6 months and each year.
func (k *Course) smooth(p *Part, g *group) error {
	counts := tally.New(2)
	for i, day := range g.days {
		counts.Add(day, min(1, g.cause[i])+min(1, g.cause[i]/(1+len(g.reasons))))
	}
	s, err := survival.SmoothHazard(counts.Table(), 1, 0, nil, k.level())
	if errors.Is(err, survival.ErrFewEvents) {
		return nil
	}
	if err != nil {
		return err
	}
	var at []float64
	for _, y := range append([]float64{0, .5}, whole(s.End/cohort.DaysPerYear)...) {
		if day := float64(cohort.DaysPerYear * y); day <= s.End {
			at = append(at, day)
		}
	}
	p.Smoothed, err = survival.SmoothHazard(counts.Table(), 1, 0, at, k.level())
	return err
}

// whole are the whole years up to a number.
func whole(to float64) []float64 {
	var all []float64
	for y := 1.0; y <= to; y++ {
		all = append(all, y)
	}
	return all
}

func (k *Course) level() float64 {
	if k.Interval.Level == 0 {
		return 0.95
	}
	return k.Interval.Level
}
