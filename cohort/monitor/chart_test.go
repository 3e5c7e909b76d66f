package monitor

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/holdfast/cohort/internal/testvalues"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// steady is a hazard of so much a day.
func steady(perDay float64) Hazard {
	return Hazard{At: func(days int) float64 { return perDay * float64(days) }}
}

// ten joints operated on on day 1000, of which those of rows 2 to 5 are revised on
// days 1100, 1110, 1120 and 1130; the others are seen until day 1250.
func ten() []Joint {
	joints := make([]Joint, 10)
	for i := range joints {
		joints[i] = Joint{Row: i + 2, Operation: 1000, Exit: 1250}
	}
	for i := range 4 {
		joints[i].Exit, joints[i].Revised = int32(1100+10*i), true
	}
	return joints
}

// Hand-worked, with a hazard of 0.001 a day: 10·0.1 are expected by day 1100, 9·0.01
// more by 1110, 8·0.01 by 1120, 7·0.01 by 1130 and 6·0.001 on each day after it. With
// 2 expected in the period the line is at 3·ln 2. The sum is 0 until day 1100, and
// 4·ln 2 − 0.24 on day 1130; it is below the line when it has fallen by
// ln 2 − 0.24 = 0.453147, on the 76th day after it.
func TestChartByHand(t *testing.T) {
	c, err := New(ten(), []Hazard{steady(.001)}, Options{Planned: 2, Notice: 100})
	if err != nil {
		t.Fatal(err)
	}
	if c.From != 1000 || c.Complete != 1150 || c.Through != 1250 || c.Joints != 10 || c.Period != 2 || !near(c.Limit, 3*math.Ln2, 1e-14) {
		t.Errorf("%+v", c)
	}
	if !near(c.Known.Expected, 1.36, 1e-12) || c.Known.Observed != 4 || !near(c.Known.Ratio, 4/1.36, 1e-12) || c.Known.Day != 1150 {
		t.Errorf("known: %+v", c.Known)
	}
	if !near(c.All.Expected, 1.96, 1e-12) || c.All.Observed != 4 {
		t.Errorf("all: %+v", c.All)
	}
	want := []Stretch{{Since: 1100, Touched: 1130, Until: 1205, Observed: 4, Expected: .01 + .09 + .08 + .07, Rows: []int{2, 3, 4, 5}}}
	if diff := cmp.Diff(want, c.Stretches, cmpopts.EquateApprox(0, 1e-12)); diff != "" {
		t.Error(diff)
	}
	sums := map[int32]float64{1000: 0, 1100: math.Ln2, 1110: 2*math.Ln2 - .09, 1120: 3*math.Ln2 - .17, 1130: 4*math.Ln2 - .24, 1150: 4*math.Ln2 - .36, 1250: 4*math.Ln2 - .96}
	for _, p := range c.Points {
		if want, ok := sums[p.Day]; ok {
			delete(sums, p.Day)
			if !near(p.Sum, want, 1e-11) {
				t.Errorf("day %d: sum %v, want %v", p.Day, p.Sum, want)
			}
		}
		if !near(p.Excess(), float64(p.Observed)-p.Expected, 1e-15) {
			t.Errorf("%+v: excess %v", p, p.Excess())
		}
	}
	if len(sums) > 0 {
		t.Errorf("no points on the days of %v", sums)
	}
	// The chance that the line of 2 expected is touched: crossing.csv.
	if math.Abs(c.Chance-.049067) > 1e-4 || c.Touches(1) != c.Chance || !(c.Touches(2) > .3) {
		t.Errorf("chance %v, at twice the rate %v", c.Chance, c.Touches(2))
	}
}

// What cuts time at risk, or counts, on the ten joints; numbers worked by hand.
func TestChartOptions(t *testing.T) {
	known := func(last int32) Hazard { h := steady(.001); h.Last = last; return h }
	dead := ten()
	dead[9].Exit = 1010
	tied := ten()
	for i := range 4 {
		tied[i].Exit = 1100
	}
	for _, c := range []struct {
		name     string
		joints   []Joint
		hazard   Hazard
		o        Options
		joint    int
		observed int
		expected float64
		touched  int32 // 0: never
		late     bool
	}{
		{"as it is", ten(), steady(.001), Options{}, 10, 4, 1.96, 1130, true},
		{"death on day 10", dead, steady(.001), Options{}, 10, 4, 1.96 - .24, 1130, true},
		{"from the day of the first revision", ten(), steady(.001), Options{From: 1100}, 10, 4, 1.96 - .99, 1120, true},
		{"from the day after", ten(), steady(.001), Options{From: 1101}, 9, 3, 1.96 - 1, 1130, true},
		{"through the day of the last", ten(), steady(.001), Options{Through: 1130}, 10, 4, 1.24, 1120, true},
		{"through the day before", ten(), steady(.001), Options{Through: 1129}, 10, 3, 1.233, 1120, true},
		{"hazard to the day of the third revision", ten(), known(120), Options{}, 10, 3, 1.17, 1120, true},
		{"hazard to the day before it", ten(), known(119), Options{}, 10, 2, 1.162, 0, false},
		{"complete to the end", ten(), steady(.001), Options{Notice: -1}, 10, 4, 1.96, 1130, false},
		{"complete by the day it is touched", ten(), steady(.001), Options{Notice: 120}, 10, 4, 1.96, 1130, false},
		{"complete by the day before", ten(), steady(.001), Options{Notice: 121}, 10, 4, 1.96, 1130, true},
		{"four on one day", tied, steady(.001), Options{}, 10, 4, 1.9, 1100, true},
		{"twice the hazard", ten(), steady(.002), Options{}, 10, 4, 3.92, 0, false},
	} {
		chart, err := New(c.joints, []Hazard{c.hazard}, c.o)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if chart.Joints != c.joint || chart.All.Observed != c.observed || !near(chart.All.Expected, c.expected, 1e-11) {
			t.Errorf("%s: %d joints, %+v", c.name, chart.Joints, chart.All)
		}
		touched, late := int32(0), false
		if len(chart.Stretches) > 0 {
			touched, late = chart.Stretches[0].Touched, chart.Stretches[0].Late
		}
		if touched != c.touched || late != c.late {
			t.Errorf("%s: touched on %d, late %v (line at %v)", c.name, touched, late, chart.Limit)
		}
	}
}

// Calculated with testdata/monitor.R.
func TestChartReference(t *testing.T) {
	published := func(days int) float64 { // 3 % by 5 years, 5 % by 10, H linear in between
		five, tenth := -math.Log(.97), -math.Log(.95)
		years := float64(days) / 365.25
		if years <= 5 {
			return five * years / 5
		}
		return five + (tenth-five)*math.Min(1, (years-5)/5)
	}
	hazards := [][]Hazard{
		{{At: published}},
		{{At: func(days int) float64 { return .06 * math.Pow(float64(days)/3652.5, .7) }}, {At: func(days int) float64 { return .02 * float64(days) / 365.25 }, Last: 1461}},
	}
	options := []Options{{Through: 2922}, {From: 600, Through: 2500}}
	var joints [2][]Joint
	for _, r := range testvalues.Numbers(t, "joints.csv") {
		i := int(r["practice"]) - 1
		joints[i] = append(joints[i], Joint{Row: int(r["row"]), Operation: int32(r["operation"]), Exit: int32(r["exit"]), Revised: r["revised"] == 1, Hazard: int(r["hazard"])})
	}
	var charts [2]*Chart
	at := make(map[[2]int]Point)
	for i := range charts {
		var err error
		if charts[i], err = New(joints[i], hazards[i], options[i]); err != nil {
			t.Fatal(err)
		}
		for _, p := range charts[i].Points {
			at[[2]int{i, int(p.Day)}] = p
		}
	}
	rows := testvalues.Numbers(t, "chart.csv")
	if len(joints[0]) != 160 || len(joints[1]) != 150 || len(rows) != 29 {
		t.Fatalf("%d and %d joints, %d rows", len(joints[0]), len(joints[1]), len(rows))
	}
	for _, r := range rows {
		p, ok := at[[2]int{int(r["practice"]) - 1, int(r["day"])}]
		if !ok || p.Observed != int(r["observed"]) || !near(p.Expected, r["expected"], 1e-11) || !near(p.Sum, r["sum"], 1e-10) ||
			p.Low != int(r["low"]) || p.High != int(r["high"]) {
			t.Errorf("%v: %+v", r, p)
		}
	}
	// The first practice: the line of 4.6 expected is at 17 quarters of ln 2. By chart.csv
	// the sum last stood at 0 before the revision of day 1264 and is first at 2.946 or more on day
	// 2410, the ninth; there it stays.
	c := charts[0]
	if len(c.Stretches) != 1 {
		t.Fatalf("%+v", c.Stretches)
	}
	s := c.Stretches[0]
	if !near(c.Limit, 17*math.Ln2/4, 1e-14) || s.Since != 1264 || s.Touched != 2410 || s.Observed != 8 || !s.Open || s.Until != 2922 || s.Late || len(s.Rows) != 11 {
		t.Errorf("limit %v, %+v", c.Limit, s)
	}
	if c.Known.Day != 2557 || c.Known.Observed != 11 {
		t.Errorf("%+v", c.Known)
	}
}

// A downward chart: 40 joints of which none is revised for 1,000 days, at 0.0003 a
// day. The sum rises by half of what is expected, 0.006 a day; the line of 12 expected is
// touched when that comes to it. It ends where revisions are complete.
func TestDownward(t *testing.T) {
	joints := make([]Joint, 40)
	for i := range joints {
		joints[i] = Joint{Row: i, Operation: 500, Exit: 1865}
	}
	joints[3].Exit, joints[3].Revised = 1600, true
	c, err := New(joints, []Hazard{steady(.0003)}, Options{Ratio: .5})
	if err != nil {
		t.Fatal(err)
	}
	if c.Through != 1500 || c.Complete != 1500 || !near(c.All.Expected, 12, 1e-12) || c.All != c.Known || c.All.Observed != 0 {
		t.Errorf("%+v", c)
	}
	touched := 500 + int32(math.Ceil(c.Limit/.006-1e-9))
	if len(c.Stretches) != 1 || c.Stretches[0].Touched != touched || c.Stretches[0].Since != 501 || c.Stretches[0].Rows != nil || !c.Stretches[0].Open {
		t.Errorf("limit %v: %+v", c.Limit, c.Stretches)
	}
	if _, err = New(joints, []Hazard{steady(.0003)}, Options{Ratio: .5, Through: 800}); err == nil {
		t.Error("no error for a downward chart of a period of which nothing is complete")
	}
}

// A sum that goes below the line and touches it anew makes a second stretch. Hand-worked:
// after the fourth revision of the ten joints the sum leaves the line after day 1205 (see
// TestChartByHand); on day 1211 it is 4·ln 2 − 0.24 − 81·0.006, and a revision takes it back.
func TestTwoStretches(t *testing.T) {
	joints := ten()
	joints[4].Exit, joints[4].Revised = 1211, true
	c, err := New(joints, []Hazard{steady(.001)}, Options{Planned: 2})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Stretches) != 2 || c.Stretches[0].Until != 1205 || c.Stretches[1].Touched != 1211 || c.Stretches[1].Since != 1100 ||
		!c.Stretches[1].Open || len(c.Stretches[0].Rows) != 4 || len(c.Stretches[1].Rows) != 5 {
		t.Errorf("%+v", c.Stretches)
	}
}

// The stretch begins where the sum has been at 0 during the day, too: a hazard that all
// comes on day 100 takes it there before that day's revisions. Rows 2 and 3, revised on days
// 50 and 51, are before it.
func TestSinceWithinDay(t *testing.T) {
	at100 := Hazard{At: func(days int) float64 { return map[bool]float64{true: .2}[days >= 100] }}
	joints := ten()
	for i, day := range []int32{1050, 1051, 1100, 1100, 1100, 1101} {
		joints[i].Exit, joints[i].Revised = day, true
	}
	c, err := New(joints, []Hazard{at100}, Options{Planned: 2})
	if err != nil {
		t.Fatal(err)
	}
	// 8 joints at 0.2 make the sum of 2·ln 2 = 1.386 fall to 0; three revisions of one
	// day take it to 3·ln 2, the line.
	want := []Stretch{{Since: 1100, Touched: 1100, Until: 1250, Open: true, Late: true, Observed: 3, Expected: 1.6, Rows: []int{4, 5, 6, 7}}}
	if diff := cmp.Diff(want, c.Stretches, cmpopts.EquateApprox(0, 1e-12)); diff != "" {
		t.Error(diff)
	}
}

// random is a practice with dates all over, for properties.
func random(seed uint64, n int) []Joint {
	rng := rand.New(rand.NewPCG(seed, 3))
	joints := make([]Joint, n)
	for i := range joints {
		operation := 12000 + rng.Int32N(3000)
		joints[i] = Joint{Row: i, Operation: operation, Exit: operation + rng.Int32N(2500), Revised: rng.IntN(12) == 0, Hazard: rng.IntN(3)}
	}
	return joints
}

var three = []Hazard{
	steady(1e-5),
	{At: func(days int) float64 { return .04 * math.Sqrt(float64(days)/3652.5) }},
	{At: func(days int) float64 { return math.Min(.05, 2e-5*float64(days)) }, Last: 1500},
}

// Rows in another order give the same bits, and calendar days may be shifted. What
// joints expect is their hazard at exit, whatever day they were operated on.
func TestChartProperties(t *testing.T) {
	for seed := range uint64(20) {
		joints := random(seed, 120)
		o := Options{Through: 15500}
		want, err := New(joints, three, o)
		if err != nil {
			t.Fatal(err)
		}
		shuffled := append([]Joint(nil), joints...)
		rand.New(rand.NewPCG(seed, 4)).Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		got, err := New(shuffled, three, o)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got, cmpopts.EquateNaNs(), cmpopts.IgnoreUnexported(Chart{})); diff != "" {
			t.Fatalf("seed %d, shuffled: %s", seed, diff)
		}
		sum, revised := 0.0, 0
		for _, j := range joints {
			if j.Operation > 15500 {
				continue
			}
			end, event := min(j.Exit, 15500), j.Revised && j.Exit <= 15500
			if last := three[j.Hazard].Last; last > 0 && end > j.Operation+last {
				end, event = j.Operation+last, false
			}
			sum += three[j.Hazard].At(int(end - j.Operation))
			if event {
				revised++
			}
		}
		if !near(want.All.Expected, sum, 1e-11) || want.All.Observed != revised {
			t.Fatalf("seed %d: %+v, want %v and %v", seed, want.All, revised, sum)
		}
		last := want.Points[0]
		for _, p := range want.Points[1:] {
			if !(p.Day > last.Day && p.Expected >= last.Expected && p.Observed >= last.Observed && p.Sum >= 0 && p.Low <= p.High) {
				t.Fatalf("seed %d: %+v after %+v", seed, p, last)
			}
			last = p
		}
		for _, s := range want.Stretches {
			if !(s.Since <= s.Touched && s.Touched <= s.Until && s.Observed >= fewestRevisions && len(s.Rows) >= s.Observed) {
				t.Fatalf("seed %d: %+v", seed, s)
			}
		}
	}
}

// Nothing expected, or nobody at risk in the period, is no error and no number that
// is none but the ratio.
func TestNothingExpected(t *testing.T) {
	for name, o := range map[string]Options{"nothing expected": {}, "all left before": {From: 1300, Through: 1400}} {
		c, err := New(ten(), []Hazard{steady(0)}, o)
		if err != nil {
			t.Fatal(err)
		}
		if c.All.Expected != 0 || !math.IsNaN(c.All.Ratio) || !math.IsNaN(c.Known.Upper) || c.Chance != 0 || !(c.Limit > 2*math.Ln2) {
			t.Errorf("%s: %+v", name, c)
		}
	}
}

func TestNewErrors(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	hazard := []Hazard{steady(.001)}
	with := func(change func(*Joint)) []Joint { j := ten(); change(&j[5]); return j }
	for _, c := range []struct {
		want    string
		joints  []Joint
		hazards []Hazard
		o       Options
	}{
		{"no joint", nil, hazard, Options{}},
		{"row 7: the joint leaves before its operation", with(func(j *Joint) { j.Exit = 999 }), hazard, Options{}},
		{"row 7: there is no hazard 1", with(func(j *Joint) { j.Hazard = 1 }), hazard, Options{}},
		{"row 7: there is no hazard -1", with(func(j *Joint) { j.Hazard = -1 }), hazard, Options{}},
		{"row 7: the joint is followed for more than", with(func(j *Joint) { j.Operation = math.MinInt32 }), hazard, Options{}},
		{"has no function", ten(), []Hazard{{}}, Options{}},
		{"ends before the operation", ten(), []Hazard{{At: hazard[0].At, Last: -1}}, Options{}},
		{"hazard 0 is 0.25 on day 1 after operation, and 1 before", ten(), []Hazard{{At: func(days int) float64 { return math.Abs(1 - float64(days)*.75) }}}, Options{}},
		{"hazard 0 is NaN on day 0", ten(), []Hazard{{At: func(int) float64 { return nan }}}, Options{}},
		{"hazard 0 is +Inf", ten(), []Hazard{{At: func(int) float64 { return inf }}}, Options{}},
		{"hazard 0 is -1", ten(), []Hazard{{At: func(int) float64 { return -1 }}}, Options{}},
		{"ratio of 1", ten(), hazard, Options{Ratio: 1}},
		{"ratio of -2", ten(), hazard, Options{Ratio: -2}},
		{"chance of touching the line of 1", ten(), hazard, Options{Chance: 1}},
		{"confidence level of NaN", ten(), hazard, Options{Level: nan}},
		{"error of the number expected of -0.1", ten(), hazard, Options{Error: -.1}},
		{"more than 10 times what they can carry", ten(), []Hazard{steady(.1)}, Options{Error: .5}},
		{"+Inf revisions expected", ten(), hazard, Options{Planned: inf}},
		{"the last day charted, 1972-09-26, is before the first, 1972-09-27", ten(), hazard, Options{From: 1000, Through: 999}},
		{"longer than 73050 days", ten(), hazard, Options{From: math.MinInt32}},
	} {
		chart, err := New(c.joints, c.hazards, c.o)
		if err == nil || !strings.Contains(err.Error(), c.want) || chart != nil {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}

func BenchmarkNew(b *testing.B) {
	for _, n := range []int{200, 5000, 100000} {
		b.Run(fmt.Sprintf("joints=%d", n), func(b *testing.B) {
			joints := random(1, n)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := New(joints, three, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
