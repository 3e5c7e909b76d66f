package cohort_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

func mustEffects(t testing.TB, c *cohort.Cohort, years ...float64) []cohort.Effect {
	t.Helper()
	e, err := c.WhatIf(years)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// Ten hips of 2010-01-01, all followed to 2020-01-01 but one, which is revised
// on 2012-01-01, day 730: at 5 years 1 of 10 is revised, and nine are at risk
// at 5 years and at 9. Rows 2 to 11; further rows are added by each test.
func ten(columns string, own ...string) string {
	lines := []string{"patient,operation_date,joint,procedure,side,revision_date,death_date,last_seen_date" + columns}
	extra := strings.Repeat(",", strings.Count(columns, ","))
	for i := range 10 {
		rev := ""
		if i == 0 {
			rev = "2012-01-01"
		}
		lines = append(lines, "p"+string(rune('0'+i))+"0,2010-01-01,hip,total,left,"+rev+",,"+extra)
	}
	return table(append(lines, own...)...)
}

// Each problem alone beside the ten, settled the other way, by hand. Now is 1/10 unless
// the row is in use itself.
func TestEffectsByHand(t *testing.T) {
	type at struct{ Years, Now, AtRisk, Low, High, AtRiskThen float64 }
	for _, test := range []struct {
		name    string
		columns string
		rows    []string
		problem string
		rowsIn  int
		at      []at
	}{
		// Day 2192 after the operation of p1: nine at risk, one revised: 9/10·8/9.
		{"possible revision", "", []string{"p10,2016-01-02,hip,total,left,,,"}, "same joint again: possible revision", 1,
			[]at{{5, .1, 9, .1, .1, 9}, {9, .1, 9, .2, .2, 8}}},
		// Two later rows of one joint: the earlier of them.
		{"possible revision twice", "", []string{"p10,2019-01-02,hip,total,left,,,", "p10,2016-01-02,hip,total,left,,,"}, "same joint again: possible revision", 1,
			[]at{{5, .1, 9, .1, .1, 9}, {9, .1, 9, .2, .2, 8}}},
		// Or a hip of its own, of 2016-01-02, followed for under 5 years: eleven at the start, one revised.
		{"another joint", "", []string{"p10,2016-01-02,hip,total,left,,,"}, "same joint again", 1,
			[]at{{2, .1, 10, 1. / 11, 1. / 11, 11}, {5, .1, 9, 1. / 11, 1. / 11, 9}}},
		// The day after: 1/11, then 1/10 of the rest: 1 − 10/11·9/10 = 2/11.
		// On the closing date: eleven at the start; day 3652 is after 9 years.
		{"revised without a date", ",revised", []string{"x,2010-01-01,hip,total,left,,,,yes"}, "revised without a date, or on an impossible one", 1,
			[]at{{5, .1, 9, 1. / 11, 2. / 11, 9}, {9, .1, 9, 1. / 11, 2. / 11, 9}}},
		// Dead on 2013-01-01, day 1096: the last day. 1 − 10/11·9/10.
		{"revised without a date, dead", ",revised", []string{"x,2010-01-01,hip,total,left,,2013-01-01,,yes"}, "revised without a date, or on an impossible one", 1,
			[]at{{2, .1, 10, 1. / 11, 2. / 11, 10}, {5, .1, 9, 2. / 11, 2. / 11, 9}}},
		{"revised on an impossible day", "", []string{"x,2010-01-01,hip,total,left,2012-02-30,,"}, "revised without a date, or on an impossible one", 1,
			[]at{{5, .1, 9, 1. / 11, 2. / 11, 9}}},
		{"revision before operation", "", []string{"x,2010-01-01,hip,total,left,2009-01-01,,"}, "revision before operation", 1,
			[]at{{5, .1, 9, 1. / 11, 2. / 11, 9}}},
		{"a reason and no revision", ",revision_reason", []string{"x,2010-01-01,hip,total,left,,,,infection"}, "a reason for revision, and no revision", 1,
			[]at{{5, 1. / 11, 10, 1. / 11, 2. / 11, 9}}},
		{"neither yes nor no", ",revised", []string{"x,2010-01-01,hip,total,left,,,,perhaps"}, "neither yes nor no in revised", 1,
			[]at{{5, 1. / 11, 10, 1. / 11, 2. / 11, 9}}},
		{"revised says no", ",revised", []string{"x,2010-01-01,hip,total,left,2012-01-01,,,no"}, "revised says no, with a revision date", 1,
			[]at{{5, 2. / 11, 9, 1. / 11, 1. / 11, 10}}},
		// Died on day 365 before the revision of day 730: censored then.
		{"revision after death", "", []string{"x,2010-01-01,hip,total,left,2012-01-01,2011-01-01,"}, "revision after death", 1,
			[]at{{5, 2. / 11, 9, .1, .1, 9}}},
		{"dead says no", ",dead", []string{"x,2010-01-01,hip,total,left,,2011-01-01,,no"}, "dead says no, with a death date", 1,
			[]at{{5, .1, 9, 1. / 11, 1. / 11, 10}}},
		{"death before operation", "", []string{"x,2010-01-01,hip,total,left,,2009-01-01,"}, "death before operation", 1,
			[]at{{5, .1, 9, 1. / 11, 1. / 11, 10}}},
		{"dead without a date", ",dead", []string{"x,2010-01-01,hip,total,left,,,,yes"}, "dead without a date, and never seen since", 1,
			[]at{{5, .1, 9, 1. / 11, .1, 9}}},
		{"age out of range", ",age", []string{"x,2010-01-01,hip,total,left,2012-01-01,,,740"}, "age outside 10 to 110", 1,
			[]at{{5, .1, 9, 2. / 11, 2. / 11, 9}}},
		{"both sides", "", []string{"x,2010-01-01,hip,total,both,,,"}, "both sides in one row", 1,
			[]at{{5, .1, 9, 1. / 12, 1. / 12, 11}}},
		// Last seen on day 365: ten remain for the revision of day 730. In place to the closing date,
		// it is one of eleven; revised, 1/11 before it.
		{"lost", "", []string{"x,2010-01-01,hip,total,left,,,2011-01-01"}, "lost to follow-up", 1,
			[]at{{5, .1, 9, 1. / 11, 2. / 11, 9}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, ten(test.columns, test.rows...))
			var years []float64
			var want []cohort.EffectAt
			for _, a := range test.at {
				years = append(years, a.Years)
				want = append(want, cohort.EffectAt(a))
			}
			for _, e := range mustEffects(t, c, years...) {
				if e.Problem != test.problem {
					continue
				}
				if e.Joint != "hip" || e.Procedure != "total" || e.Rows != test.rowsIn {
					t.Errorf("%+v", e)
				}
				if d := cmp.Diff(want, e.At, nearly); d != "" {
					t.Error(d)
				}
				return
			}
			t.Errorf("not among %+v", mustEffects(t, c, years...))
		})
	}
}

// A date mistyped as 2023 sets the closing date; without it all hips are
// followed to 2015-01-01, and there is no value at 10 years. The row of that
// date was operated on after the other closing date, and is then set aside.
func TestEffectOfDoubtfulClosing(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,joint,procedure,revision_date",
		"2010-01-01,hip,total,2012-01-01", "2010-01-01,hip,total,", "2015-01-01,hip,total,", "2023-01-01,hip,total,", "2010-01-01,knee,total,"))
	if !c.Closing.Doubtful() {
		t.Fatal("not doubtful")
	}
	got := mustEffects(t, c, 4, 10)
	if len(got) != 2 || got[0].Problem != "closing date doubtful" || got[0].Supposed != "the next latest date, 2015-01-01" || got[1].Joint != "knee" {
		t.Fatalf("%+v", got)
	}
	// Now: 4 at the start, one censored on day 0, then 1 of 3 revised. Then: the row of
	// 2023 is no more, one of 2015 is censored on day 0: 1 of 2.
	want := []cohort.EffectAt{{4, 1. / 3, 2, .5, .5, 1}, {10, 1. / 3, 1, math.NaN(), math.NaN(), 0}}
	if d := cmp.Diff(want, got[0].At, nearly); d != "" || got[0].Rows != 3 {
		t.Errorf("%d rows: %s", got[0].Rows, d)
	}
}

// A settlement that changes nothing is not listed, nor one of rows out of scope; what is
// in other cells stays as it is; and a cohort without a usable row has effects too.
func TestEffectsListed(t *testing.T) {
	if e := mustEffects(t, mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, ten("")), 5); len(e) != 0 {
		t.Errorf("no problem: %+v", e)
	}
	// Dead after the closing date, and dead says no: followed to the closing date either way.
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, ten(",dead", "x,2010-01-01,hip,total,left,,2021-01-01,,no"))
	if e := mustEffects(t, c, 5); len(e) != 0 {
		t.Errorf("nothing changes: %+v", e)
	}
	o := cohort.Options{ClosingDate: dayPointer("2020-01-01"), Where: []cohort.Condition{{"side", "right"}}}
	c = mustRead(t, o, ten("", "x,2010-01-01,hip,total,left,,,2011-01-01", "x,2010-01-01,hip,total,right,,,2011-01-01", "y,2010-01-01,knee,total,right,,,2011-01-01"))
	e := mustEffects(t, c, 1)
	if len(e) != 2 || e[0].Rows != 1 || e[0].Joint != "hip" || e[1].Joint != "knee" {
		t.Errorf("scope: %+v", e)
	}
	none, err := tryRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, table("operation_date,joint,procedure,revision_date,revised", "2010-01-01,hip,total,,yes"))
	if !errors.Is(err, cohort.ErrNoUsableRow) {
		t.Fatal(err)
	}
	e = mustEffects(t, none, 5)
	if len(e) != 1 || !math.IsNaN(e[0].At[0].Now) || !math.IsNaN(e[0].At[0].Low) {
		t.Errorf("no usable row: %+v", e)
	}
}

// Every lost joint revised when last seen, the most that an effect gives, is the worst case
// of the endpoint; the least is every one seen on the closing date.
func TestEffectOfLostIsTheWorstCase(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, ten("",
		"x,2010-01-01,hip,total,left,,,2011-01-01", "y,2010-01-01,hip,total,left,,,2014-01-01", "z,2010-01-01,hip,total,left,,,2019-01-01"))
	e := mustEffects(t, c, 5)
	worst := outcomesKM(t, c, cohort.Endpoint{LostRevised: true}, 5)
	best := outcomesKM(t, mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, ten("",
		"x,2010-01-01,hip,total,left,,,2020-01-01", "y,2010-01-01,hip,total,left,,,2020-01-01", "z,2010-01-01,hip,total,left,,,2019-01-01")), cohort.Endpoint{}, 5)
	if len(e) != 1 || e[0].Rows != 2 || math.Abs(e[0].At[0].High-worst) > 1e-15 || math.Abs(e[0].At[0].Low-best) > 1e-15 {
		t.Errorf("%+v, worst case %v, none revised %v", e, worst, best)
	}
}

// outcomesKM is 1 − Kaplan–Meier of all joints, by multiplying.
func outcomesKM(t testing.TB, c *cohort.Cohort, e cohort.Endpoint, years float64) float64 {
	all := allOutcomes(t, c, e)
	s := 1.0
	for i := 0; i < len(all); {
		n, d, j := len(all)-i, 0, i
		for ; j < len(all) && all[j].Day == all[i].Day; j++ {
			if all[j].Cause == cohort.CauseRevision {
				d++
			}
		}
		if float64(all[i].Day) <= cohort.DayOfYear(years) {
			s *= 1 - float64(d)/float64(n)
		}
		i = j
	}
	return 1 - s
}

// varied is a table of hips with dates drawn at random, and rows added to it.
func varied(r *rand.Rand, columns string, rows ...string) string {
	lines := []string{"patient,operation_date,joint,procedure,side,revision_date,death_date,last_seen_date" + columns}
	extra := strings.Repeat(",", strings.Count(columns, ","))
	for i := range 40 {
		op := day("2005-01-01") + cohort.Day(r.IntN(3650))
		ends := [3]string{}
		if k := r.IntN(5); k < 3 {
			ends[k] = min(op+cohort.Day(r.IntN(4000)), day("2019-12-30")).String()
		}
		lines = append(lines, fmt.Sprintf("v%d0,%s,hip,total,left,%s,%s,%s%s", i, op, ends[0], ends[1], ends[2], extra))
	}
	return table(append(lines, rows...)...)
}

// An effect is what reading the table again gives, once it is mended so: each
// problem in a table of random dates, and the rows that settle it the earliest
// and the latest way.
func TestEffectIsWhatMendingGives(t *testing.T) {
	for _, test := range []struct{ name, columns, rows, problem, earliest, latest string }{
		{"possible revision", "", "x9,2010-03-04,hip,total,left,,,\nx9,2013-05-06,hip,total,left,,,", "same joint again: possible revision", "x9,2010-03-04,hip,total,left,2013-05-06,,", ""},
		{"another joint", "", "x9,2010-03-04,hip,total,left,,,\nx9,2013-05-06,hip,total,left,,,", "same joint again", "x9,2010-03-04,hip,total,left,,,\nx9,2013-05-06,hip,total,right,,,", ""},
		{"undated", ",revised", "x9,2010-03-04,hip,total,left,,,,yes", "revised without a date, or on an impossible one", "x9,2010-03-04,hip,total,left,2010-03-05,,,yes", "x9,2010-03-04,hip,total,left,2020-01-01,,,yes"},
		{"undated, dead", "", "x9,2010-03-04,hip,total,left,2010-02-30,2014-07-08,", "revised without a date, or on an impossible one", "x9,2010-03-04,hip,total,left,2010-03-05,2014-07-08,", "x9,2010-03-04,hip,total,left,2014-07-08,2014-07-08,"},
		{"before operation", "", "x9,2010-03-04,hip,total,left,2009-01-01,,2011-01-01", "revision before operation", "x9,2010-03-04,hip,total,left,2010-03-05,,", "x9,2010-03-04,hip,total,left,2020-01-01,,"},
		{"dead", ",dead", "x9,2010-03-04,hip,total,left,,,,yes", "dead without a date, and never seen since", "x9,2010-03-04,hip,total,left,,2010-03-05,,yes", "x9,2010-03-04,hip,total,left,,2020-01-01,,yes"},
		{"death before operation", ",dead", "x9,2010-03-04,hip,total,left,,2001-01-01,2016-01-01,yes", "death before operation", "x9,2010-03-04,hip,total,left,,,2016-01-01,", ""},
		{"age", ",age", "x9,2010-03-04,hip,total,left,2012-01-01,,,7", "age outside 10 to 110", "x9,2010-03-04,hip,total,left,2012-01-01,,,", ""},
		{"both sides", "", "x9,2010-03-04,hip,total,both,2012-01-01,,", "both sides in one row", "x9,2010-03-04,hip,total,left,2012-01-01,,\nx9,2010-03-04,hip,total,right,2012-01-01,,", ""},
		{"revision after death", "", "x9,2010-03-04,hip,total,left,2012-01-01,2011-01-01,", "revision after death", "x9,2010-03-04,hip,total,left,,2011-01-01,", ""},
		{"not revised", ",revised", "x9,2010-03-04,hip,total,left,2012-01-01,,2015-01-01,no", "revised says no, with a revision date", "x9,2010-03-04,hip,total,left,,,2015-01-01,no", ""},
		{"not dead", ",dead", "x9,2010-03-04,hip,total,left,,2012-01-01,,no", "dead says no, with a death date", "x9,2010-03-04,hip,total,left,,,,no", ""},
		{"closing date", "", "x9,2010-03-04,hip,total,left,,,\nx9,2022-03-04,hip,total,right,,,", "closing date doubtful", "x9,2010-03-04,hip,total,left,,,\nx9,2022-03-04,hip,total,right,,,", ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			for seed := range uint64(5) {
				of := func(rows string) string { return varied(rand.New(rand.NewPCG(seed, 1)), test.columns, rows) }
				o := cohort.Options{ClosingDate: dayPointer("2020-01-01")}
				if test.problem == "closing date doubtful" {
					o.ClosingDate = nil
				}
				c := mustRead(t, o, of(test.rows))
				years := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9}
				i := 0
				effects := mustEffects(t, c, years...)
				for i < len(effects) && effects[i].Problem != test.problem {
					i++
				}
				if i == len(effects) {
					t.Fatalf("seed %d: not among %+v", seed, effects)
				}
				if o.ClosingDate == nil {
					next := c.Closing.NextLatest
					o.ClosingDate = &next
				}
				mended := []*cohort.Cohort{mustRead(t, o, of(test.earliest))}
				if test.latest != "" {
					mended = append(mended, mustRead(t, o, of(test.latest)))
				}
				for _, at := range effects[i].At {
					low, high := math.Inf(1), math.Inf(-1)
					for _, m := range mended {
						km := outcomesKM(t, m, cohort.Endpoint{}, at.Years)
						low, high = min(low, km), max(high, km)
					}
					if now := outcomesKM(t, c, cohort.Endpoint{}, at.Years); math.Abs(now-at.Now) > 1e-12 || math.Abs(low-at.Low) > 1e-12 || math.Abs(high-at.High) > 1e-12 {
						t.Errorf("seed %d: %+v, mended %v to %v, now %v", seed, at, low, high, now)
					}
				}
			}
		})
	}
}

// FuzzSummaries sums up any table: the numbers add up, and estimates are
// proportions in order.
func FuzzSummaries(f *testing.F) {
	for reason := cohort.RowUnreadable; reason < cohort.EndOfReasons; reason++ {
		for _, test := range reasonCases[reason] {
			lines := []string{everyHeading}
			for _, r := range test.rows {
				lines = append(lines, cells(r))
			}
			f.Add([]byte(table(lines...)))
		}
	}
	f.Add([]byte(table(mess(newRand(1), 40)...)))
	f.Add([]byte(ten(",revised", "p10,2016-01-02,hip,total,left,,,,yes")))
	f.Fuzz(func(t *testing.T, text []byte) {
		c, _ := tryRead(t, cohort.Options{}, string(text))
		if c == nil {
			return
		}
		for _, e := range mustEffects(t, c, 1, 5, 10) {
			if e.Rows < 1 || len(e.At) != 3 {
				t.Errorf("%+v", e)
			}
			for _, a := range e.At {
				if a.Now < 0 || a.Now > 1 || a.Low < 0 || a.Low > a.High || a.High > 1 || math.IsNaN(a.Low) != math.IsNaN(a.High) {
					t.Errorf("%+v", a)
				}
			}
		}
		all := mustFollowUp(t, c)
		whole := all[0]
		if whole.Joints != int64(c.Account().Used) || whole.Lost != int64(c.Account().Lost) || whole.Recent+whole.NeverSeen > whole.Living ||
			whole.Living+whole.Revised+whole.Died > whole.Joints || whole.MedianYears > whole.LongestYears {
			t.Errorf("%+v", whole)
		}
		for _, p := range all[1:] {
			whole.Joints -= p.Joints
		}
		if len(all) > 1 && whole.Joints != 0 {
			t.Errorf("%d joints in no part", whole.Joints)
		}
		y := c.CompletenessByYear()
		for _, k := range y.Columns {
			for i := range y.Years {
				if k.Filled[i] > k.Rows[i] {
					t.Errorf("%+v", k)
				}
			}
		}
	})
}

// A death before an operation is the death of the patient's other joint too, whose
// follow-up ends otherwise without it: two rows change, and one has the problem.
func TestRowsOfAnEffectThatHaveTheProblem(t *testing.T) {
	table := "patient,operation_date,joint,side,procedure,revision_date,death_date\n" +
		"P100,2010-01-01,hip,left,total,,2014-05-06\nP100,2016-01-01,hip,right,total,,\nP101,2011-01-01,hip,left,total,2012-01-01,\n"
	closing, err := cohort.ParseDay("2020-12-31")
	if err != nil {
		t.Fatal(err)
	}
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: "deaths.csv", Reader: strings.NewReader(table)}}, cohort.Options{ClosingDate: &closing})
	if err != nil {
		t.Fatal(err)
	}
	effects, err := c.WhatIf([]float64{1})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range effects {
		if slices.Contains(e.Reasons, cohort.DeathBeforeOperation) {
			if e.Rows != 2 || e.With != 1 {
				t.Errorf("%d rows change, of which %d have the problem; want 2 and 1", e.Rows, e.With)
			}
			return
		}
	}
	t.Errorf("no effect of a death before an operation: %+v", effects)
}
