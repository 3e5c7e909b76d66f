package plan

import (
	"math"

	"example.org/holdfast/cohort/benchmark"
)

// Power is the share of series in which what can be shown is to be shown.
const Power = .8

// Ratios are those of true to published revision for which the chance of a reading is
// given.
func Ratios() []float64 { return []float64{1, 1.5, 2, 3} }

// Plan is what series of joints can show.
type Plan struct {
	Parts []Part

	Bound, Years, Level float64 // the revision to be shown not to be exceeded, at so many years, at a level
	Runs                int
	Seed                uint64

	With   []With   // numbers of joints that show the bound
	Needed []Needed // and that do in [Power] of such series
}

// Part is one joint and procedure, or a number of joints that was only given.
type Part struct {
	Joint, Procedure string // "" if Given is not 0
	Given            int
	Beside           []Beside

	PerYear, Dying float64 // joints operated on, and the proportion of patients dying, a year
	Last           int     // years simulated
	When           []Truth // nil without a rate
}

// Beside is what a number of joints, all followed to a figure's years, can show
// beside it. Fewer than [benchmark.FewestAtRisk] show nothing.
type Beside struct {
	Joints int
	Figure benchmark.Figure
	Series *benchmark.Series // nil for a figure that was only given

	Reach        benchmark.Reach
	Above, Below float64   // the smallest ratios shown with Power; NaN where none is ([Smallest])
	Chance       []float64 // of a reading above, by Ratios
}

// NewBeside makes one.
func NewBeside(joints int, f benchmark.Figure, s *benchmark.Series) Beside {
	b := Beside{Joints: joints, Figure: f, Series: s, Reach: benchmark.ReachOf(joints, f)}
	b.Above, b.Below = Smallest(b.Reach, f.Revision, Power)
	for _, ratio := range Ratios() {
		b.Chance = append(b.Chance, b.Reach.ChanceAbove(math.Min(1, float64(ratio*f.Revision))))
	}
	return b
}

// Truth is when the bound is shown if revision is truly so.
type Truth struct {
	Revision float64
	Chances  []Chance
}

// With is how many joints, all followed, of which some are revised show a bound.
type With struct{ Revised, Joints int }

// Needed is how many joints show a bound in [Power] of such series, they and every larger
// number, if revision is truly so.
type Needed struct {
	Revision float64
	Joints   int
}

// Show fills in how many joints show the bound.
func (p *Plan) Show() {
	p.With, p.Needed = nil, nil
	for revised := range 6 {
		p.With = append(p.With, With{revised, FewestWith(revised, p.Bound, p.Level)})
	}
	for _, tenths := range []float64{2, 4, 5, 6, 7, 8} {
		truth := float64(tenths*p.Bound) / 10
		if n, err := JointsNeeded(truth, p.Bound, Power, p.Level); err == nil {
			p.Needed = append(p.Needed, Needed{truth, n})
		}
	}
}
