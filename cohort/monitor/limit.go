package monitor

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"
)

// Crossing is the chance that a chart touches a line at the given limit at
// least once while so many revisions are expected, if revisions come truth times
// as fast as expected. With truth 1 it is the chance of touching by chance alone.
//
// The chart is that of [New]: its sum falls by (ratio − 1)·dA as the expected
// revisions A grow, never below 0, and rises by ln ratio at each revision. With
// ratio below 1 it is the downward one: it rises by (1 − ratio)·dA and falls by
// −ln ratio at each revision, never below 0.
//
// Measured in expected revisions instead of days, revisions that come as
// expected are a Poisson process of rate 1, whoever is operated on when (the
// time change of counting processes). So the chance depends on the four numbers
// alone, and is that of a Markov chain: the sum stands on a grid of step
// |ln ratio|/20, and in the time in which it moves by one step there is no
// revision, or one, or several, with Poisson probabilities. But for the sum's
// place within the step after it has left 0, which is put on the two neighbours
// so that its mean is right, the chain is exact: the chance errs by less than
// 0.0001, that of a downward chart by less than 0.001. The limit is rounded to the
// grid. Where expected is large, the chance of touching in each step, which
// settles, is taken as settled.
//
// It panics unless limit, ratio and truth are above 0 and finite, ratio is not
// 1, and expected is at least 0 and finite.
//
// The chart: Biswas & Kalbfleisch, Stat Med 2008;27:3382. Markov chains for
// limits: Brook & Evans, Biometrika 1972;59:539. The grid's rules are this
// project's.
func Crossing(limit, ratio, expected, truth float64) float64 {
	return newCurve(limit, ratio, truth).touched(expected)
}

// Limit is where the line of a chart is to stand so that, if revisions come as
// expected, it is touched at least once in the period with no more than the
// given chance: the least multiple of a quarter of |ln ratio| with
//
//	Crossing(limit, ratio, expected, 1) ≤ chance
//
// but for ratios above 1 never less than 2¼ of ln ratio: fewer than three
// revisions never touch the line, however few are expected.
//
// It panics as [Crossing] does, and unless 0 < chance < 1.
func Limit(ratio, expected, chance float64) float64 {
	return newLines(ratio, 0).limit(expected, chance)
}

// truths are true ratios that may be, and their weights, which add up to 1.
type truths []struct{ ratio, weight float64 }

// exactly is what is expected taken as known.
var exactly = truths{{1, 1}}

// around are the true ratios of a practice that is just like the past its hazards were made
// from, where these have a relative standard error: Gamma distributed with mean
// 1 and that standard deviation, on an even grid of 17 from 3½ below to 4½ above
// the mean. 0: exactly.
func around(relative float64) truths {
	if relative == 0 {
		return exactly
	}
	const points = 17
	gamma := distuv.Gamma{Alpha: 1 / float64(relative*relative), Beta: 1 / float64(relative*relative)}
	t, sum := make(truths, 0, points), 0.0
	for i := range points {
		x := 1 + float64(relative*(float64(float64(8*i)/(points-1))-3.5))
		if x <= 0 {
			continue
		}
		w := gamma.Prob(x)
		t = append(t, struct{ ratio, weight float64 }{x, w})
		sum += w
	}
	for i := range t {
		t[i].weight /= sum
	}
	return t
}

// lines are the lines of charts that are tuned alike and have the same error: where one
// stands, and how often it is touched. A line at one limit is touched by what is expected
// alone, so that practices at one line share its curves.
type lines struct {
	ratio float64
	truths
	mutex  sync.Mutex            // of curves
	curves map[[2]float64]*curve // by limit and truth
}

// newLines are those of charts with a ratio whose number expected has a relative
// standard error.
func newLines(ratio, relative float64) *lines {
	return &lines{ratio: ratio, truths: around(relative), curves: make(map[[2]float64]*curve)}
}

// at is [Crossing] at one true ratio.
func (l *lines) at(limit, expected, truth float64) float64 {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	c := l.curves[[2]float64{limit, truth}]
	if c == nil {
		c = newCurve(limit, l.ratio, truth)
		l.curves[[2]float64{limit, truth}] = c
	}
	return c.touched(expected)
}

// crossing is the mean of [Crossing] over what the true hazards may be.
func (l *lines) crossing(limit, expected, truth float64) float64 {
	sum := 0.0
	for _, x := range l.truths {
		sum += float64(x.weight * l.at(limit, expected, float64(truth*x.ratio)))
	}
	return sum
}

// limit is that of [Limit], with the mean chance.
func (l *lines) limit(expected, chance float64) float64 {
	if !(chance > 0 && chance < 1) {
		panic(fmt.Sprintf("monitor: a limit with chance %v", chance))
	}
	fewest := 1
	if l.ratio > 1 {
		fewest = 4*(fewestRevisions-1) + 1
	}
	quarter := math.Abs(math.Log(l.ratio)) / 4
	at := func(quarters int) float64 { return float64(quarters) * quarter }
	fits := func(quarters int) bool { return l.crossing(at(quarters), expected, 1) <= chance }
	// The chance of touching a high line is about 0.2·expected·e^−limit with ratio 2: a start.
	quarters := fewest
	if guess := math.Log(.2*expected/chance) / quarter; guess > float64(fewest) {
		quarters = int(guess)
	}
	// It is above low and at most high, which draw apart in growing strides.
	low, high := quarters-1, quarters
	for stride := 1; !fits(high); stride *= 2 {
		low, high = high, high+stride
	}
	for stride := 1; low >= fewest && fits(low); stride *= 2 {
		low, high = max(fewest-1, low-stride), low
	}
	for high-low > 1 {
		if middle := (low + high) / 2; fits(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return at(high)
}

// fewestRevisions is the least number of revisions that can touch the line of
// an upward chart.
const fewestRevisions = 3

func positive(x float64) bool { return x > 0 && !math.IsInf(x, 1) }

// perJump is the number of steps of the grid in one revision's jump; a multiple
// of 4, so that limits of [Limit] stand on the grid.
const perJump = 20

// chain is the distribution of a chart's sum over the grid, among charts that
// have not touched the line.
type chain struct {
	down     bool
	line     int       // the limit, in steps
	expected float64   // revisions in the time of one step
	several  []float64 // chance of 0, 1, 2, … revisions in that time
	at, next []float64 // chance of standing at each step below the line
}

func newChain(limit, ratio, truth float64) *chain {
	step := math.Abs(math.Log(ratio)) / perJump
	c := &chain{down: ratio < 1, line: max(1, int(math.Round(limit/step))), expected: step / math.Abs(ratio-1)}
	c.several = poisson(truth * c.expected)
	c.at, c.next = make([]float64, c.line), make([]float64, c.line)
	c.at[0] = 1
	return c
}

// poisson is the chance of 0, 1, 2, … with a mean, until the rest is lost in
// rounding.
func poisson(mean float64) []float64 {
	p := []float64{math.Exp(-mean)}
	for k := 1; float64(k) <= mean || p[k-1] > 1e-13; k++ {
		p = append(p, float64(p[k-1]*mean)/float64(k))
	}
	return p
}

// curve is the chance of touching a line as more and more are expected. A chain is moved
// on once for all that ask.
type curve struct {
	*chain
	by   []float64 // chance of having touched after 0, 1, 2, … steps, as far as the chain was moved
	rate float64   // chance of touching in each step once it has settled; 0 until then
	seen float64   // what it was when last looked at
}

func newCurve(limit, ratio, truth float64) *curve {
	if !(positive(limit) && positive(ratio) && ratio != 1 && positive(truth)) {
		panic(fmt.Sprintf("monitor: chance of touching %v with ratio %v, truth %v", limit, ratio, truth))
	}
	return &curve{chain: newChain(limit, ratio, truth), by: []float64{0}}
}

// gone is the chance that is left when a line is taken to have been touched for sure.
const gone = 1e-12

// settling is after how many steps it is asked again whether the chance of touching in
// each one has settled.
const settling = 64

// move moves the chain by one step.
func (c *curve) move() {
	done := len(c.by) - 1
	alive, touched := 1-c.by[done], c.step()
	c.by = append(c.by, math.Min(1, c.by[done]+touched))
	if done%settling != 0 {
		return
	}
	rate := touched / alive
	if rate > 0 && math.Abs(rate-c.seen) < float64(1e-7*rate) {
		c.rate = rate
	}
	c.seen = rate
}

// touched is the chance of having touched the line while so many are expected. Between two
// steps as many of those left touch it at every moment.
func (c *curve) touched(expected float64) float64 {
	if !(expected >= 0) || math.IsInf(expected, 1) {
		panic(fmt.Sprintf("monitor: chance of touching with %v expected", expected))
	}
	steps := expected / c.expected
	whole := math.Floor(steps + 1e-9)
	part := math.Max(0, steps-whole)
	if c.down && whole < float64(c.line) {
		return 0 // it can't have risen so far
	}
	for float64(len(c.by)-1) <= whole && c.rate == 0 {
		if 1-c.by[len(c.by)-1] < gone {
			return 1
		}
		c.move()
	}
	from := min(int(math.Min(whole, math.MaxInt32)), len(c.by)-1)
	alive, rate := 1-c.by[from], c.rate
	if alive < gone {
		return 1
	}
	if from+1 < len(c.by) {
		rate = math.Min(1, (c.by[from+1]-c.by[from])/alive)
	}
	left := whole - float64(from) + part
	if left == 0 {
		return c.by[from]
	}
	return c.by[from] - float64(alive*math.Expm1(float64(left*math.Log1p(-rate))))
}

// step moves the chain by the time of one step, and returns the chance of
// touching in it.
func (c *chain) step() (touched float64) {
	clear(c.next)
	for k, chance := range c.several {
		if c.down {
			touched += c.fall(k, chance)
		} else {
			touched += c.rise(k, chance)
		}
	}
	c.at, c.next = c.next, c.at
	return touched
}

// rise moves an upward chain by a step with k revisions, which has a chance.
// From j it goes to j − 1 + k·perJump; on the way it touches the line if j − u +
// k·perJump reaches that for a time u of the step between 0 and 1.
func (c *chain) rise(k int, chance float64) (touched float64) {
	shift := k*perJump - 1
	below := min(c.line, c.line-k*perJump+1) // the least j above 0 from which it touches
	for j := 1; j < below; j++ {
		c.next[j+shift] += float64(c.at[j] * chance)
	}
	for _, p := range c.at[max(1, below):] {
		touched += float64(p * chance)
	}
	p := float64(c.at[0] * chance)
	switch {
	case k == 0:
		c.next[0] += p
	case c.touchesFrom0(k):
		touched += p
	default:
		// It doesn't fall before the first revision, which comes at 1/(k+1) of the step in
		// the mean, and ends between k·perJump − 1 and k·perJump.
		c.split(p, shift, 1/float64(k+1))
	}
	return touched
}

// touchesFrom0 says whether k revisions in a step take a sum of 0 to the line. One
// finds it at 0; several never come at the same time.
func (c *chain) touchesFrom0(k int) bool {
	return k*perJump > c.line || k == 1 && perJump == c.line
}

// fall moves a downward chain by a step with k revisions, which has a chance. It
// touches the line only at the end of a step without one. Having fallen to 0 it
// rises again for what is left after the last of k revisions, 1/(k+1) of the step in
// the mean.
func (c *chain) fall(k int, chance float64) (touched float64) {
	shift := 1 - k*perJump
	for j, at := range c.at {
		p := float64(at * chance)
		switch to := j + shift; {
		case to >= c.line:
			touched += p
		case to >= 1:
			c.next[to] += p
		default:
			c.split(p, 0, 1/float64(k+1))
		}
	}
	return touched
}

// split puts a chance on a place and the one above it, of which above is the
// share of the latter; never on the line.
func (c *chain) split(p float64, place int, above float64) {
	if place+1 == c.line {
		above = 0
	}
	high := float64(p * above)
	c.next[place] += p - high
	if high > 0 {
		c.next[place+1] += high
	}
}
