package monitor_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/monitor"
)

func read(t *testing.T, text string, keep ...string) *cohort.Cohort {
	t.Helper()
	closing := day(t, "2020-12-31")
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "mine.csv", Reader: strings.NewReader(text)}}, cohort.Options{ClosingDate: &closing, Keep: keep})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func day(t *testing.T, s string) cohort.Day {
	t.Helper()
	d, err := cohort.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// twenty are 20 hips of 1 January 2010, ten a surgeon, of which so many as given are
// revised a year, two years … after, and one of 2015 revised in 2016.
func twenty(revised int) string {
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,side,procedure,surgeon,revision_date\n")
	for i := range 20 {
		on := ""
		if i < revised {
			on = fmt.Sprintf("%d-01-01", 2011+i%4)
		}
		fmt.Fprintf(&b, "%c%c,2010-01-01,hip,left,THR,%s,%s\n", 'a'+i, 'a'+i, []string{"Ash", "Elm"}[i%2], on)
	}
	b.WriteString("zz,2015-01-01,hip,left,THR,Ash,2016-01-01\n")
	return b.String()
}

// Hand-worked: of 20 hips six were revised by 2014-12-31, two on each of days 365
// and 730, and one each on 1096 and 1461. Nelson and Aalen: 2/20 + 2/18 + 1/16 + 1/15
// of all, the joint of 2015 not being there yet; 14 go on and nothing more is expected
// of them after day 1461. Of the joint of 2015 2/20 were expected by day 365, when it
// was revised; that rests on two revisions, so that its variance is 2/20² and its
// relative error 1/√2.
func TestWatchFromThePast(t *testing.T) {
	past := day(t, "2014-12-31")
	w, err := monitor.Run(read(t, twenty(6)), cohort.Endpoint{}, monitor.Question{Past: &past, Options: monitor.Options{Notice: -1}})
	if err != nil {
		t.Fatal(err)
	}
	c := w.Units[0].Chart
	if w.Revised != 6 || w.Joints != 21 || len(w.LeftOut) != 0 || math.Abs(c.Error-1/math.Sqrt(2)) > 1e-15 {
		t.Errorf("%d revised of %d joints, %v left out, error %v", w.Revised, w.Joints, w.LeftOut, c.Error)
	}
	if c.All.Observed != 1 || math.Abs(c.All.Expected-2.0/20) > 1e-12 {
		t.Errorf("%d observed, %v expected, want 1 and 0.1", c.All.Observed, c.All.Expected)
	}
	if got := cohort.Day(c.From).String(); got != "2015-01-01" {
		t.Errorf("from %s", got)
	}
}

// A joint is watched to the closing date whenever it was last seen: a day last seen of each
// of those not revised, in 2012 or a year before the closing date, changes nothing.
func TestWatchWheneverLastSeen(t *testing.T) {
	past := day(t, "2014-12-31")
	q := monitor.Question{Past: &past, Options: monitor.Options{Notice: -1}}
	more := "yy,2015-06-01,hip,left,THR,Elm,\n"
	plain, err := monitor.Run(read(t, twenty(6)+more), cohort.Endpoint{}, q)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for i, line := range strings.Split(strings.TrimSpace(twenty(6)+more), "\n") {
		seen := []string{"2012-05-05", "2019-12-31"}[i%2]
		switch {
		case i == 0:
			seen = "last_seen_date"
		case !strings.HasSuffix(line, ","):
			seen = ""
		case strings.HasPrefix(line, "yy"):
			seen = "2015-07-01"
		}
		b.WriteString(line + "," + seen + "\n")
	}
	seen, err := monitor.Run(read(t, b.String()), cohort.Endpoint{}, q)
	if err != nil {
		t.Fatal(err)
	}
	got, want := seen.Units[0].Chart, plain.Units[0].Chart
	if got.All != want.All || got.Limit != want.Limit || got.Error != want.Error || !(want.All.Expected > .25) {
		t.Errorf("%+v at %v, error %v; without days last seen %+v at %v, error %v", got.All, got.Limit, got.Error, want.All, want.Limit, want.Error)
	}
}

// What happens in the period and counts in no chart is counted: a hip revised seven years after
// its operation, of which the past tells five, and a knee, of which it tells nothing. One revised
// before the period, and one after the day to which revisions are complete, are not of it.
func TestWatchUncounted(t *testing.T) {
	past := day(t, "2014-12-31")
	more := "ya,2010-01-02,hip,left,THR,Elm,2017-02-03\nyb,2015-01-02,knee,left,TKR,Elm,2016-02-03\nyc,2010-01-02,knee,left,TKR,Elm,2012-02-03\nyd,2010-01-02,hip,left,THR,Elm,2020-12-30\n"
	for _, test := range []struct{ notice, want int32 }{{365, 2}, {-1, 3}} {
		w, err := monitor.Run(read(t, twenty(6)+more), cohort.Endpoint{}, monitor.Question{Past: &past, Options: monitor.Options{Notice: test.notice}})
		if err != nil {
			t.Fatal(err)
		}
		if w.Uncounted != int(test.want) {
			t.Errorf("notice %d: %d revisions count in no chart, want %d", test.notice, w.Uncounted, test.want)
		}
	}
}

// One revision fewer than are needed: nothing is expected, and that is said.
func TestWatchTooFew(t *testing.T) {
	past := day(t, "2014-12-31")
	_, err := monitor.Run(read(t, twenty(4)), cohort.Endpoint{}, monitor.Question{Past: &past})
	var nothing *monitor.NothingExpectedError
	if !errors.As(err, &nothing) || nothing.Why != "no joint and procedure has 5 revisions up to 2014-12-31, to learn from: name a later day, or expect what was published" {
		t.Errorf("%v", err)
	}
	late := day(t, "2021-01-01")
	if _, err = monitor.Run(read(t, twenty(6)), cohort.Endpoint{}, monitor.Question{Past: &late}); !errors.As(err, &nothing) {
		t.Errorf("a past that ends after the table: %v", err)
	}
}

// Strata with too few revisions are put together: each surgeon has three of the six,
// so that both are learnt from as one.
func TestWatchPoolsStrata(t *testing.T) {
	past := day(t, "2014-12-31")
	c := read(t, twenty(6), "surgeon")
	whole, err := monitor.Run(c, cohort.Endpoint{}, monitor.Question{Past: &past})
	if err != nil {
		t.Fatal(err)
	}
	within, err := monitor.Run(c, cohort.Endpoint{}, monitor.Question{Past: &past, Within: []string{"surgeon"}})
	if err != nil {
		t.Fatal(err)
	}
	if whole.Units[0].Chart.All != within.Units[0].Chart.All || within.Expected[0] != "hip, total, others: 20 joints, 6 revised by 2014-12-31; known to 5.0 years after operation." {
		t.Errorf("%+v, then %+v: %q", whole.Units[0].Chart.All, within.Units[0].Chart.All, within.Expected)
	}
}

// Units add up to the whole, and each has the name it is to have. Of the twenty hips
// nothing is known to be expected after the past's last day, their 1825th: one joint
// is at risk.
func TestWatchByUnit(t *testing.T) {
	past := day(t, "2014-12-31")
	w, err := monitor.Run(read(t, twenty(6), "surgeon"), cohort.Endpoint{}, monitor.Question{By: "surgeon", Past: &past, Options: monitor.Options{Notice: -1}})
	if err != nil {
		t.Fatal(err)
	}
	joints, observed := 0, 0
	for _, u := range w.Units {
		joints, observed = joints+u.Chart.Joints, observed+u.Chart.All.Observed
	}
	if len(w.Units) != 2 || w.Units[0].Word != "Ash" || joints != 1 || observed != 1 {
		t.Errorf("%d units, %d joints at risk after the past, %d revised", len(w.Units), joints, observed)
	}
	lettered := w.Called(map[string]string{"Ash": "B", "Elm": "A"})
	if lettered.Units[0].Word != "A" || lettered.Units[1].Chart.All.Observed != 1 || w.Units[0].Word != "Ash" {
		t.Errorf("%q and %q", lettered.Units[0].Word, lettered.Units[1].Word)
	}
}

// Figures without a point at a year or earlier, of a part of the joints, or of
// another estimate are not what is expected; those of the joint and procedure alone
// go before those of a bearing, and joints that none is of are counted. Hand-worked: of
// H(t) = H(1)·t^s, s = log10(H(10)/H(1)), H(1) = −ln .99, H(10) = −ln .95, three joints
// took 365 days, two 730, one each 1096 and 1461, and fourteen the 3652 of ten years.
func TestWatchFromAPublication(t *testing.T) {
	series := func(change func(*benchmark.Series)) *benchmark.Series {
		s := &benchmark.Series{Source: "made", Joint: "hip", Procedure: "total", Estimand: benchmark.OneMinusKaplanMeier,
			Figures: []benchmark.Figure{{Years: 1, Revision: .01}, {Years: 10, Revision: .05}}}
		change(s)
		return s
	}
	nothing := func(*benchmark.Series) {}
	c := read(t, twenty(6))
	for _, test := range []struct {
		name   string
		series []*benchmark.Series
		why    string
	}{
		{"all hips", []*benchmark.Series{series(func(s *benchmark.Series) { s.Bearing = "metal-on-metal" }), series(nothing)}, ""},
		{"none", nil, "there are no published figures"},
		{"late", []*benchmark.Series{series(func(s *benchmark.Series) { s.Figures = s.Figures[1:] })}, "no series has a figure at a year or earlier, without which early revisions are spread evenly"},
		{"a part", []*benchmark.Series{series(func(s *benchmark.Series) { s.Subset = "one maker's cups" })}, "each series is of a part of the joints: one maker's cups"},
		{"another estimate", []*benchmark.Series{series(func(s *benchmark.Series) { s.Estimand = benchmark.Incidence })}, "no series gives the complement of Kaplan and Meier's estimate below 100 %"},
		{"two alike", []*benchmark.Series{series(nothing), series(nothing)}, "made has several series of hip, total that state as much as each other: give one of them in a file of its own"},
		{"knees", []*benchmark.Series{series(func(s *benchmark.Series) { s.Joint = "knee" })}, "of no joint it is said how many are expected to be revised"},
	} {
		w, err := monitor.Run(c, cohort.Endpoint{}, monitor.Question{Series: test.series, Options: monitor.Options{Notice: -1}})
		var refused *monitor.NothingExpectedError
		switch {
		case test.why != "" && (!errors.As(err, &refused) || refused.Why != test.why):
			t.Errorf("%s: %v, want %s", test.name, err, test.why)
		case test.why == "" && err != nil:
			t.Errorf("%s: %v", test.name, err)
		case test.why == "" && (w.Units[0].Chart.All.Observed != 7 || math.Abs(w.Units[0].Chart.All.Expected-0.8296812025539381) > 1e-12):
			t.Errorf("%s: %+v", test.name, w.Units[0].Chart.All)
		}
	}
}
