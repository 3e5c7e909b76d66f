package audit_test

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/disclose"
)

// An audit is read back from its JSON; one made for sharing, and what is none,
// are refused.
func TestReadEarlier(t *testing.T) {
	day, err := cohort.ParseDay("2024-12-31")
	if err != nil {
		t.Fatal(err)
	}
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "../../examples/practice/practice.csv"}}, cohort.Options{ClosingDate: &day, Keep: []string{"surgeon"}})
	if err != nil {
		t.Fatal(err)
	}
	a, err := audit.Run(c, audit.Options{By: []string{"surgeon"}})
	if err != nil {
		t.Fatal(err)
	}
	var written bytes.Buffer
	if err := audit.WriteJSON(&written, a); err != nil {
		t.Fatal(err)
	}
	e, err := audit.ReadEarlier(&written)
	if err != nil || e.Closing != day {
		t.Fatalf("%v, %v", e, err)
	}
	found, units := 0, 0
	for i := range a.Groups {
		g := &a.Groups[i]
		unit := audit.Value{}
		if g.Pooling == audit.OneField {
			unit = audit.Value{Field: "surgeon", Word: g.Word("surgeon")}
			units++
		}
		back := e.Group(g.Word("joint"), g.Word("procedure"), unit)
		if back == nil || back.Joints != g.Joints || back.Revised != g.Revised {
			t.Fatalf("%s: %v", g.Title(), back)
		}
		for _, r := range g.Rows() {
			if row, ok := back.At(r.Years); ok != r.Reached || ok && (math.Abs(row.Estimate-r.KaplanMeier.Estimate) > 1e-15 || row.AtRisk != r.KaplanMeier.AtRisk) {
				t.Errorf("%s at %v years: %v, want %v", g.Title(), r.Years, row, r.KaplanMeier)
			} else if ok {
				found++
			}
		}
	}
	if found < 10 || units < 2 || e.Group("hip", "patellofemoral", audit.Value{}) != nil {
		t.Errorf("%d estimates", found)
	}
	shared, err := disclose.Run(c, audit.Options{By: []string{"surgeon"}})
	if err != nil {
		t.Fatal(err)
	}
	written.Reset()
	if err := audit.WriteJSON(&written, shared); err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{written.String(), "", "{}", `{"table": {"closing_date": {"date": "2024-12-31"}}}`, "joint,procedure\n"} {
		if _, err := audit.ReadEarlier(strings.NewReader(s)); !errors.Is(err, audit.ErrNotEarlier) {
			t.Errorf("%.40q: %v", s, err)
		}
	}
}
