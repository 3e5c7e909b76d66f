package audit_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// hips is a table of left hips operated on 2010-01-01: so many revised a year
// later, so many last seen on the closing date, and so many of which nothing is
// said.
func hips(t *testing.T, revised, seen, silent int) *cohort.Cohort {
	t.Helper()
	lines := []string{"operation_date,joint,procedure,side,revision_date,last_seen_date,death_date"}
	add := func(n int, rest string) {
		for range n {
			lines = append(lines, "2010-01-01,hip,total,left,"+rest)
		}
	}
	add(revised, "2011-01-01,,")
	add(seen, ",2020-01-01,")
	add(silent, ",,")
	closing, err := cohort.ParseDay("2020-01-01")
	if err != nil {
		t.Fatal(err)
	}
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "t.csv", Reader: strings.NewReader(strings.Join(lines, "\n") + "\n")}}, cohort.Options{ClosingDate: &closing})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Hand-worked. 10 revised after a year, 10 seen on the closing date, 20 silent: as
// assumed 10/40 at five years, with the silent ones gone on the first day 10/20;
// one revision more adds (3/4)/40 on the first day, (3/4)/30 on the last.
func TestAssumedFollowUp(t *testing.T) {
	const nothingKnown = "How many are lost can't be worked out"
	for _, test := range []struct {
		revised, seen, silent int
		assumed               int64
		known                 float64 // at five years; NaN: nobody known so long
		adds                  [2]float64
		said                  string
	}{
		{10, 10, 20, 20, 0.5, [2]float64{0.75 / 40, 0.75 / 30}, "Hip, total: 20 of 40, 25.0 % at 5 years as assumed, 50.0 % if these were followed no further than the day of the operation; each revision not known of adds 1.9 to 2.5 points."},
		{10, 0, 30, 30, math.NaN(), [2]float64{0.75 / 40, 0.75 / 30}, "Hip, total: 30 of 40, 25.0 % at 5 years as assumed, nobody known to have been followed so long; each revision not known of adds 1.9 to 2.5 points."},
		{10, 30, 0, 0, 0, [2]float64{}, ""},
		{0, 30, 10, 10, 0, [2]float64{1.0 / 40, 1.0 / 40}, "Hip, total: 10 of 40, 0.0 % at 5 years as assumed; each revision not known of adds 2.5 points."},
	} {
		name := fmt.Sprintf("%d revised, %d seen, %d silent", test.revised, test.seen, test.silent)
		c := hips(t, test.revised, test.seen, test.silent)
		a, err := audit.Run(c, audit.Options{Years: []float64{1, 5}, By: []string{"side"}})
		if err != nil {
			t.Fatal(err)
		}
		g := &a.Groups[0]
		if g.Assumed != test.assumed || a.Account.Assumed != int(test.assumed) || a.Account.Known != test.seen || (g.Rows()[1].Known == nil) != (test.assumed == 0) {
			t.Errorf("%s: %d assumed, in the account %d, %d known", name, g.Assumed, a.Account.Assumed, a.Account.Known)
		}
		r := g.Rows()[1]
		if test.assumed > 0 && !(math.Abs(r.Known.Estimate-test.known) < 1e-12 || math.IsNaN(r.Known.Estimate) && math.IsNaN(test.known)) {
			t.Errorf("%s: %v with the silent gone, want %v", name, r.Known.Estimate, test.known)
		}
		if least, most := g.Adds(&r); math.Abs(least-test.adds[0]) > 1e-12 || math.Abs(most-test.adds[1]) > 1e-12 {
			t.Errorf("%s: one more adds %v and %v, want %v", name, least, most, test.adds)
		}
		if a.Groups[1].Rows()[1].Known != nil {
			t.Errorf("%s: a group of one side has it too", name)
		}
		notes := strings.Join(a.Notes, "\n")
		if test.said == "" && strings.Contains(notes, "assumed") || !strings.Contains(notes, test.said) {
			t.Errorf("%s: notes lack %q:\n%s", name, test.said, notes)
		}
		if got := strings.Contains(notes, nothingKnown); got != (test.seen == 0) {
			t.Errorf("%s: said that losses can't be worked out: %v", name, got)
		}
		f, err := c.FollowUp()
		if err != nil {
			t.Fatal(err)
		}
		if got := math.IsNaN(f[0].LostPerRevised); got != (test.seen == 0 || test.revised == 0) || f[0].Assumed != test.assumed {
			t.Errorf("%s: %+v", name, f[0])
		}
	}
}

// A table without a revision is asked whether none was entered; one with any, dated
// or not, and a part of it are not.
func TestNoRevisionRecorded(t *testing.T) {
	const heads = "operation_date,joint,procedure,side,surgeon,revision_date,revised,revision_reason\n"
	for text, want := range map[string]bool{
		"2020-01-01,hip,total,left,A,,,\n2020-01-01,hip,total,left,B,,no,\n":           true,
		"2020-01-01,hip,total,left,A,,,\n2020-01-01,hip,total,left,B,2021-01-01,,\n":   false,
		"2020-01-01,hip,total,left,A,,,\n2020-01-01,hip,total,left,B,,yes,\n":          false,
		"2020-01-01,hip,total,left,A,,,\n2020-01-01,hip,total,left,B,,,infection\n":    false,
		"2020-01-01,hip,total,left,A,,,\n2020-01-01,hip,revision THR,left,B,,,\n":      false,
		"2020-01-01,hip,total,left,A,,,\n2020-01-01,hip,total,left,B,not revised,,\n":  true,
		"2020-01-01,hip,total,left,A,,,\n2020-01-01,hip,total,left,B,1900-01-01,no,\n": true,
	} {
		c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "t.csv", Reader: strings.NewReader(heads + text)}}, cohort.Options{Where: []cohort.Condition{{Column: "surgeon", Value: "A"}}})
		if err != nil {
			t.Fatal(err)
		}
		a, err := audit.Run(c, audit.Options{})
		if err != nil {
			t.Fatal(err)
		}
		asked := slices.ContainsFunc(a.Notes, func(n string) bool { return strings.HasPrefix(n, "No revision is recorded at all.") })
		if asked != want {
			t.Errorf("%q: asked %v, want %v", text, asked, want)
		}
	}
}
