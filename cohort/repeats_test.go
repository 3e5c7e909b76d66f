package cohort_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

const repeatHeadings = "patient,operation_date,joint,side,revision_date,death_date,last_seen_date"

func TestRepeats(t *testing.T) {
	for _, test := range []struct {
		name     string
		rows     []string
		aside    []cohort.Problem
		possible int
	}{
		{"two patients", []string{"a,2020-01-01,hip,left,,,", "b,2020-01-01,hip,left,,,"}, nil, 0},
		{"two sides", []string{"a,2020-01-01,hip,left,,,", "a,2020-01-01,hip,right,,,"}, nil, 0},
		{"two joints", []string{"a,2020-01-01,hip,left,,,", "a,2020-01-01,knee,left,,,"}, nil, 0},
		{"side not recorded: no telling", []string{"a,2020-01-01,hip,,,,", "a,2020-01-01,hip,,,,"}, nil, 0},
		{"joint not recorded: no telling", []string{"a,2020-01-01,,left,,,", "a,2020-01-01,,left,,,"}, nil, 0},
		{"patient not recorded: no telling", []string{",2020-01-01,hip,left,,,", "?,2020-01-01,hip,left,,,"}, nil, 0},
		{"earlier kept", []string{"a,2020-01-01,hip,left,,,", "a,2021-01-01,hip,left,,,"},
			[]cohort.Problem{{Row: 3, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 2}}, 1},
		{"earlier kept, whatever the order of the rows", []string{"a,2021-01-01,hip,left,,,", "a,2020-01-01,hip,left,,,"},
			[]cohort.Problem{{Row: 2, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 3}}, 1},
		{"in other words", []string{"a,2020-01-01,Hip,L,,,", "a,2021-01-01,HIP,Left,,,"},
			[]cohort.Problem{{Row: 3, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 2}}, 1},
		{"the earlier is revised already: no more revised", []string{"a,2020-01-01,hip,left,2021-01-01,,", "a,2021-01-01,hip,left,,,"},
			[]cohort.Problem{{Row: 3, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 2}}, 0},
		{"one day: the one that knows more", []string{"a,2020-01-01,hip,left,,,", "a,2020-01-01,hip,left,2021-01-01,,"},
			[]cohort.Problem{{Row: 2, Column: "operation_date", Reason: cohort.DuplicateRow, Of: 3}}, 0},
		{"one day, death and last seen against last seen", []string{"a,2020-01-01,hip,left,,,2021-01-01", "a,2020-01-01,hip,left,,2021-01-01,2021-01-01"},
			[]cohort.Problem{{Row: 2, Column: "operation_date", Reason: cohort.DuplicateRow, Of: 3}}, 0},
		{"one day, alike: the first", []string{"a,2020-01-01,hip,left,,,", "a,2020-01-01,hip,left,,,"},
			[]cohort.Problem{{Row: 3, Column: "operation_date", Reason: cohort.DuplicateRow, Of: 2}}, 0},
		{"three: all later ones of the earliest", []string{"a,2021-01-01,hip,left,,,", "a,2020-01-01,hip,left,,,", "a,2022-01-01,hip,left,,,"},
			[]cohort.Problem{{Row: 2, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 3}, {Row: 4, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 3}}, 1},
		{"a duplicate and a later one", []string{"a,2020-01-01,hip,left,,,", "a,2020-01-01,hip,left,,,2021-01-01", "a,2022-01-01,hip,left,,,"},
			[]cohort.Problem{{Row: 2, Column: "operation_date", Reason: cohort.DuplicateRow, Of: 3}, {Row: 4, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 3}}, 1},
		{"both joints twice", []string{"a,2020-01-01,hip,left,,,", "a,2020-01-01,hip,right,,,", "a,2021-01-01,hip,left,,,", "a,2021-01-01,hip,right,,,"},
			[]cohort.Problem{{Row: 4, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 2}, {Row: 5, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 3}}, 2},
		{"the first is set aside: the later is no more a primary for that", []string{"a,2020-01-01,hip,left,2020-02-30,,", "a,2021-01-01,hip,left,,,", "b,2020-01-01,hip,left,,,"},
			[]cohort.Problem{{Row: 2, Column: "revision_date", Reason: cohort.RevisionDateImpossible}, {Row: 3, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 2}}, 0},
		{"the first is set aside, and entered again", []string{"a,2020-01-01,hip,left,2020-02-30,,", "a,2020-01-01,hip,left,2020-03-01,,"},
			[]cohort.Problem{{Row: 2, Column: "revision_date", Reason: cohort.RevisionDateImpossible}}, 0},
		{"the day of the first is in doubt: no telling", []string{"a,2020-01-01,hip,left,2019-01-01,,", "a,2021-01-01,hip,left,,,"},
			[]cohort.Problem{{Row: 2, Column: "revision_date", Reason: cohort.RevisionBeforeOperation}}, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{}, table(append([]string{repeatHeadings}, test.rows...)...))
			if d := cmp.Diff(test.aside, c.SetAside()); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			if c.Account().PossibleRevisions != test.possible {
				t.Errorf("%d possible revisions, want %d", c.Account().PossibleRevisions, test.possible)
			}
		})
	}
}

func TestRepeatsAcrossTables(t *testing.T) {
	c := mustRead(t, cohort.Options{},
		table(repeatHeadings, "a,2021-01-01,hip,left,,,", "b,2020-01-01,knee,right,,,"),
		table("side,joint,operation_date,patient,revision_date", "left,hip,2020-01-01,a,", "right,knee,2020-01-01,b,"))
	want := []cohort.Problem{
		{File: 0, Row: 2, Column: "operation_date", Reason: cohort.PossibleRevision, OfFile: 1, Of: 2},
		{File: 1, Row: 3, Column: "operation_date", Reason: cohort.DuplicateRow, OfFile: 0, Of: 3},
	}
	if d := cmp.Diff(want, c.SetAside()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A table without patients beside one with: its rows repeat nothing.
func TestRepeatsNeedAPatient(t *testing.T) {
	c := mustRead(t, cohort.Options{},
		table(repeatHeadings, "a,2020-01-01,hip,left,,,", "a,2020-01-01,hip,right,,,"),
		table("operation_date,joint,side,revision_date", "2020-01-01,hip,left,", "2020-01-01,hip,left,"))
	if c.Account().SetAside != 0 {
		t.Errorf("set aside %v", c.SetAside())
	}
	_, patients, err := mustTally(t, c, nil, cohort.Endpoint{}).Margin()
	if err != nil {
		t.Fatal(err)
	}
	for k, n := range patients {
		if n != 3 { // one with two joints, two joints without a patient
			t.Errorf("%v: %d patients, want 3", k, n)
		}
	}
}

// Many rows under one identifier that may be one patient's cost time in step
// with their number.
func TestRepeatsOfOneIdentifier(t *testing.T) {
	var b strings.Builder
	b.WriteString(repeatHeadings + ",birth_date\n")
	const n = 60_000
	for i := range n {
		fmt.Fprintf(&b, "XX99,2020-01-%02d,hip,left,,,,1950-01-01\n", 1+i%6)
	}
	c := mustRead(t, cohort.Options{}, b.String())
	if c.Account().Used != 1 || c.Account().SetAside != n-1 || c.Account().PossibleRevisions != 1 {
		t.Errorf("%+v", c.Account())
	}
}

// An identifier at more operations than one patient has, such as a word for
// "unknown" nobody knows, makes no patient: no row is a repeat of another, and
// no death holds for the others.
func TestIdentifierOfMany(t *testing.T) {
	rows := func(patient, born string, n int) []string {
		var lines []string
		for i := range n {
			died := ""
			if i == 0 {
				died = "2019-01-01"
			}
			lines = append(lines, fmt.Sprintf("%s,20%02d-01-01,hip,,%s,%s", patient, 10+i, born, died))
		}
		return lines
	}
	for _, test := range []struct {
		name     string
		lines    []string
		died     int // rows in use that have a death
		nobodys  int
		taken    int
		patients int64
	}{
		{"more operations than a patient has", rows("private", "", 7), 1, 7, 0, 7},
		{"as many as a patient may have", rows("p", "", 6), 6, 0, 5, 1},
		{"one date of birth", rows("p", "1950-01-01", 7), 7, 0, 6, 1},
		{"several dates of birth", append(rows("NHS", "1950-01-01", 4), "NHS,2014-02-01,hip,,1951-01-01,", "NHS,2014-03-01,hip,,1952-01-01,", "NHS,2014-04-01,hip,,1953-01-01,"), 1, 7, 0, 7},
		{"others beside it", append(append([]string{"a,2011-05-05,hip,,,", "a,2012-05-05,knee,,,2015-01-01"}, rows("private", "", 7)...), "b,2012-05-05,knee,,,", "b,2012-05-06,hip,,,"), 3, 7, 1, 11}, // 7, and a's and b's hip and knee, which are counted apart
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31")},
				table(append([]string{"patient,operation_date,joint,revision_date,birth_date,death_date"}, test.lines...)...))
			if c.Account().SetAside > 0 || c.Deaths().Used != test.died {
				t.Errorf("%d set aside, %d dead; want none and %d", c.Account().SetAside, c.Deaths().Used, test.died)
			}
			var nobodys, taken int
			for _, w := range c.Warnings() {
				switch w.Reason {
				case cohort.IdentifierOfMany:
					nobodys++
				case cohort.DeathTaken:
					taken++
				}
			}
			if nobodys != test.nobodys || taken != test.taken {
				t.Errorf("%d rows of nobody, %d deaths taken; want %d and %d", nobodys, taken, test.nobodys, test.taken)
			}
			_, patients, err := mustTally(t, c, nil, cohort.Endpoint{}).Margin()
			if err != nil {
				t.Fatal(err)
			}
			total := int64(0)
			for _, n := range patients {
				total += n
			}
			if total != test.patients {
				t.Errorf("%d patients, want %d", total, test.patients)
			}
		})
	}
}
