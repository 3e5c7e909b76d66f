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

// A surgeon called "All" is told from all together, in a file and when it is read back.
func TestValueCalledAll(t *testing.T) {
	day, err := cohort.ParseDay("2024-12-31")
	if err != nil {
		t.Fatal(err)
	}
	table := "operation_date,joint,procedure,surgeon,revision_date\n2010-01-01,hip,THR,All,\n2010-01-01,hip,THR,All,\n2010-01-01,hip,THR,Elm,\n"
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(table)}}, cohort.Options{ClosingDate: &day, Keep: []string{"surgeon"}})
	if err != nil {
		t.Fatal(err)
	}
	a, err := audit.Run(c, audit.Options{By: []string{"surgeon"}, Years: []float64{5}})
	if err != nil {
		t.Fatal(err)
	}
	var text, object bytes.Buffer
	if err := errors.Join(audit.WriteCSV(&text, a), audit.WriteJSON(&object, a)); err != nil {
		t.Fatal(err)
	}
	for _, row := range []string{"\nhip,total,All,5,3,", "\nhip,total,“All”,5,2,", "\nhip,total,Elm,5,1,"} {
		if strings.Count(text.String(), row) != 1 {
			t.Errorf("not one row %q in\n%s", row, text.String())
		}
	}
	e, err := audit.ReadEarlier(&object)
	if err != nil {
		t.Fatal(err)
	}
	for unit, want := range map[audit.Value]int64{{}: 3, {Field: "surgeon", Word: "All"}: 2, {Field: "surgeon", Word: "Elm"}: 1} {
		if g := e.Group("hip", "total", unit); g == nil || g.Joints != want {
			t.Errorf("%v: %v, want %d joints", unit, g, want)
		}
	}
}
