package audit_test

import (
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// What is shown of a row follows from the numbers at risk; the year that speaks
// is the latest with the floor at risk, else with ten.
func TestShown(t *testing.T) {
	day, err := cohort.ParseDay("2024-12-31")
	if err != nil {
		t.Fatal(err)
	}
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "../../examples/practice/practice.csv"}}, cohort.Options{ClosingDate: &day})
	if err != nil {
		t.Fatal(err)
	}
	a, err := audit.Run(c, audit.Options{})
	if err != nil {
		t.Fatal(err)
	}
	seen := make(map[audit.Shown]int)
	for i := range a.Groups {
		g := &a.Groups[i]
		for _, r := range g.Rows() {
			seen[r.Shown]++
			n := r.KaplanMeier.AtRisk
			want := audit.Plain
			switch {
			case !r.Reached:
				want = audit.NotReached
			case n < 10:
				want = audit.Counts
			case n < 30:
				want = audit.Faint
			}
			if r.Shown != want {
				t.Errorf("%s at %v years, %v at risk: %v, want %v", g.Title(), r.Years, n, r.Shown, want)
			}
		}
	}
	for _, s := range []audit.Shown{audit.Plain, audit.Faint, audit.Counts, audit.NotReached} {
		if seen[s] == 0 {
			t.Errorf("no row is shown as %v", s)
		}
	}
	// At 10 years 74 total hips and 71 total knees are at risk, of unicompartmental
	// knees 32 at 5 years and 12 at 10. The groups of unicompartmental knees have 30 at
	// risk at 1 year alone, those of age never. Counted with R apart from the program.
	for title, want := range map[string][2]float64{"hip, total": {10, 5}, "knee, total": {10, 5}, "knee, unicompartmental": {5, 1}} {
		found := false
		for i := range a.Groups {
			g := &a.Groups[i]
			if g.Pooling != audit.AllJoints || g.Word("joint")+", "+g.Word("procedure") != title {
				continue
			}
			found = true
			common, ok := a.CommonYear(g, a.By)
			if h := a.Headline(g); h == nil || h.Years != want[0] || !ok || common != want[1] {
				t.Errorf("%s: headline %v, common year %v, want %v", title, h, common, want)
			}
		}
		if !found {
			t.Errorf("no %s", title)
		}
	}
}
