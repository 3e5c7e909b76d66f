package plan

import (
	"errors"
	"math"
	"math/rand/v2"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// Standing is a joint operated on so far: days followed to the closing date, or to
// the end given by Cause (0: followed on; else as [cohort.CauseRevision],
// [cohort.CauseDeath], or [Left] for one lost).
type Standing struct {
	Days  int
	Cause int
}

// Left is the cause of a joint that is followed no further.
const Left = -1

// Accrual is a practice that goes on operating.
type Accrual struct {
	PerYear  float64 // joints operated on a year from now on
	Standing []Standing
	Dying    float64 // proportion of patients dying a year

	// Truth is the true cumulative revision by years since operation, a
	// proportion that does not fall and starts at 0.
	Truth func(years float64) float64

	Bound float64 // the revision to be shown not to be exceeded
	Years float64 // at so many years since operation
	Level float64 // confidence level
}

// Chance is how often so many years from now the bound is shown.
type Chance struct {
	Year  int
	Shown float64 // share of the runs
}

// When simulates the practice going on, and gives for each year from now, to the
// last, in which share of the runs the upper limit of its cumulative revision (the
// beta product's) at a.Years is not above a.Bound, with ten at risk or more. The same seed gives the same
// numbers. Joints not yet followed so long count too: waiting until enough have been is
// one or two years too long.
func When(a Accrual, last, runs int, seed uint64) ([]Chance, error) {
	if !(a.PerYear >= 0 && a.Dying >= 0 && a.Dying < 1 && a.Bound > 0 && a.Bound < 1 && a.Years > 0 && a.Level > 0 && a.Level < 1) || a.Truth == nil || last < 1 || runs < 1 {
		return nil, errors.New("plan: a practice going on needs a rate, a true revision, and a bound, level and chance of dying between 0 and 1")
	}
	s := &simulation{Accrual: a, rng: rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15)), inverse: inverse(a.Truth, a.Years)}
	shown := make([]int, last)
	for range runs {
		for i, found := range s.run(last) {
			if found {
				shown[i]++
			}
		}
	}
	chances := make([]Chance, last)
	for i := range chances {
		chances[i] = Chance{i + 1, float64(shown[i]) / float64(runs)}
	}
	return chances, nil
}

// simulation is one practice going on.
type simulation struct {
	Accrual
	rng     *rand.Rand
	inverse func(p float64) float64
}

// course is one joint: its day of operation from now, and after how many days it
// is revised, dies and is closed for another reason.
type course struct{ operated, revised, dies, left float64 }

// run draws one course of all joints, and says for each year whether the bound is
// shown at its end.
func (s *simulation) run(last int) []bool {
	var courses []course
	for _, j := range s.Standing {
		c := course{operated: -float64(j.Days), revised: math.Inf(1), dies: math.Inf(1), left: math.Inf(1)}
		switch j.Cause {
		case 0:
			c.revised, c.dies = s.after(float64(j.Days))
		case cohort.CauseRevision:
			c.revised = float64(j.Days)
		case cohort.CauseDeath:
			c.dies = float64(j.Days)
		default:
			c.left = float64(j.Days)
		}
		courses = append(courses, c)
	}
	if s.PerYear > 0 {
		for day := s.rng.ExpFloat64() / s.PerYear * cohort.DaysPerYear; day < float64(last)*cohort.DaysPerYear; day += s.rng.ExpFloat64() / s.PerYear * cohort.DaysPerYear {
			revised, dies := s.after(0)
			courses = append(courses, course{day, revised, dies, math.Inf(1)})
		}
	}
	found := make([]bool, last)
	for y := range found {
		found[y] = s.shows(courses, cohort.DayOfYear(float64(y+1)))
	}
	return found
}

// after are the days since operation of the revision and death of a joint that
// has neither by a day.
func (s *simulation) after(day float64) (revised, dies float64) {
	p := s.Truth(day / cohort.DaysPerYear)
	revised = s.inverse(p+float64(s.rng.Float64()*(1-p))) * cohort.DaysPerYear
	dies = math.Inf(1)
	if s.Dying > 0 {
		dies = day - math.Log1p(-s.rng.Float64())/-math.Log1p(-s.Dying)*cohort.DaysPerYear
	}
	return math.Max(revised, day), math.Max(dies, day)
}

// shows says whether the upper limit is not above the bound on a day from now.
func (s *simulation) shows(courses []course, now float64) bool {
	at := cohort.DayOfYear(s.Years)
	seen := 0
	for _, c := range courses {
		if now-c.operated >= at && min(c.revised, c.dies, c.left) >= at {
			seen++
		}
	}
	if seen < benchmark.FewestAtRisk {
		return false
	}
	counts := tally.New(1)
	for _, c := range courses {
		followed := math.Min(now-c.operated, at+1)
		if followed < 0 {
			continue
		}
		end := math.Min(math.Min(c.dies, c.left), followed)
		if c.revised <= end {
			counts.Add(int32(c.revised), 1)
		} else {
			counts.Add(int32(end), 0)
		}
	}
	km, err := survival.KaplanMeier(counts.Table(), 1)
	if err != nil {
		return false
	}
	p, ok := km.At(at, survival.Interval{Method: survival.BetaProduct, Level: s.Level})
	return ok && p.Upper <= s.Bound
}

// inverse of a cumulative revision: the years by which a proportion is revised;
// infinite beyond what it reaches in three times the years asked about.
func inverse(truth func(float64) float64, years float64) func(p float64) float64 {
	const steps = 3000
	at := make([]float64, steps+1)
	for i := range at {
		at[i] = truth(3 * years * float64(i) / steps)
	}
	return func(p float64) float64 {
		low, high := 0, steps
		if at[steps] < p {
			return math.Inf(1)
		}
		for high-low > 1 {
			if middle := (low + high) / 2; at[middle] < p {
				low = middle
			} else {
				high = middle
			}
		}
		share := 1.0
		if at[high] > at[low] {
			share = (p - at[low]) / (at[high] - at[low])
		}
		return 3 * years * (float64(low) + share) / steps
	}
}
