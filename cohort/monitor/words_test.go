package monitor

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The numbers are those of TestChartByHand; day 1000 is 1972-09-27.
func TestSaid(t *testing.T) {
	again := ten()
	again[4].Exit, again[4].Revised = 1211, true
	quiet := make([]Joint, 40)
	for i := range quiet {
		quiet[i] = Joint{Row: i, Operation: 500, Exit: 1865}
	}
	const touched = "From 1973-01-05 on revisions came faster than expected: by 1973-02-04, when the chart touched its line, 4 where 0.2 were expected. "
	for _, c := range []struct {
		name   string
		joints []Joint
		perDay float64
		o      Options
		want   []string
	}{
		{"touched and left", ten(), .001, Options{Planned: 2, Notice: 100}, []string{
			"From 1972-09-27 through 1973-02-24, to which revisions are taken as complete: 4 revised, 1.4 expected. Chance alone gives 0 to 4.",
			touched + "It stood there or beyond until 1973-04-20. Look at these joints; the chart doesn't say why: rows 2, 3, 4, 5.",
			"If revisions come as expected, a chart like this one touches its line in 5 of 100 such periods.",
			"Revisions after 1973-02-24 are not all known yet; those still to come would raise the chart.",
		}},
		{"touched twice, complete", again, .001, Options{Planned: 2, Notice: -1}, []string{
			"From 1972-09-27 through 1973-06-04, to which revisions are taken as complete: 5 revised, 1.9 expected. Chance alone gives 0 to 5.",
			touched + "It stood there or beyond until 1973-04-20. Look at these joints; the chart doesn't say why: rows 2, 3, 4, 5.",
			"From 1973-01-05 on revisions came faster than expected: by 1973-04-26, when the chart touched its line again, 5 where 0.7 were expected. " +
				"It has stood there or beyond since. Look at these joints; the chart doesn't say why: those named above, and row 6.",
			"If revisions come as expected, a chart like this one touches its line in 5 of 100 such periods.",
		}},
		{"not touched, nothing complete", ten()[4:], .001, Options{}, []string{
			"The whole period, from 1972-09-27 through 1973-06-04, is so recent that not all of its revisions are known yet.",
			"The chart did not touch its line. That says little: were there twice the revisions expected, it would touch it by 1973-06-04 in 27 of 100 such periods.",
			"If revisions come as expected, a chart like this one touches its line in 5 of 100 such periods.",
			"Revisions after 1972-09-26 are not all known yet; those still to come would raise the chart.",
		}},
		{"downward", quiet, .0003, Options{Ratio: .5, Notice: 365}, []string{
			"From 1971-05-16 through 1974-02-09, to which revisions are taken as complete: 0 revised, 12.0 expected. Chance alone gives 6 to 19.",
			"From 1971-05-17 on fewer were revised than expected: by 1972-09-18, when the chart touched its line, 0 where 5.9 were expected. " +
				"It has stood there or beyond since. Before that is believed: are revisions missing from the table?",
			"If revisions come as expected, a chart like this one touches its line in 5 of 100 such periods.",
		}},
		{"nothing expected", ten()[4:], 0, Options{Error: .1, Notice: -1}, []string{
			"From 1972-09-27 through 1973-06-04, to which revisions are taken as complete: 0 revised, 0.0 expected. Chance alone gives 0.",
			"The chart did not touch its line. That says little: were there twice the revisions expected, it would touch it in none of 100 such periods.",
			"If revisions come as expected, a chart like this one touches its line in none of 100 such periods. That allows for what is expected being an estimate itself.",
		}},
	} {
		chart, err := New(c.joints, []Hazard{steady(c.perDay)}, c.o)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, chart.Said()); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
}

func TestOf100(t *testing.T) {
	for p, want := range map[float64]string{0: "none", .004: "less than 1", .005: "1", .0496: "5", .994: "99", .996: "more than 99", 1: "100"} {
		if got := of100(p); got != want+" of 100 such periods" {
			t.Errorf("%v: %s", p, got)
		}
	}
}

func TestTogetherSaid(t *testing.T) {
	together, err := Several([][]Joint{ten(), ten()[4:]}, []Hazard{steady(.0002)}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := together.Said(); !strings.HasPrefix(got, "Of 2 charts 1 touched the line. If revisions come as expected everywhere, any of them does in ") {
		t.Error(got)
	}
}

// Every point is a row; what is on the line or complete there is what stretches and
// Complete say. Rows can be written as JSON.
func TestRows(t *testing.T) {
	c, err := New(ten(), []Hazard{steady(.001)}, Options{Planned: 2, Notice: 100})
	if err != nil {
		t.Fatal(err)
	}
	rows := c.Rows()
	if len(rows) != len(c.Points) {
		t.Fatalf("%d rows of %d points", len(rows), len(c.Points))
	}
	for i, p := range c.Points {
		on := p.Day >= 1130 && p.Day <= 1205
		if r := rows[i]; r.OnLine != on || r.Complete != (p.Day <= 1150) || r.Excess != float64(p.Observed)-p.Expected || r.Limit != c.Limit {
			t.Errorf("%+v: %+v", p, r)
		}
	}
	b, err := json.Marshal(rows[0])
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"day":"1972-09-27","observed":0,"expected":0,"excess":0,"low":0,"high":0,"sum":0,"limit":2.0794415416798357,"on_line":false,"complete":true}`; string(b) != want {
		t.Errorf("%s", b)
	}
}
