package audit_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/testaudit"
)

// Expected of units from their own department add up to what is observed, to the
// digit; where one unit is everybody at risk nothing is counted. By hand: two
// surgeons of 10 hips each below 55, followed to the closing date. A revises on day 181, when both have 10 at
// risk: each is expected 1/2. B's on day 365 then has 9 and 10: 9/19 and 10/19. A alone has
// hips of 75 and over, of which one is revised: left out.
func TestExpectedFromTheDepartment(t *testing.T) {
	table := "operation_date,procedure,age,surgeon,revision_date\n" +
		"2010-01-01,THR,50,A,2010-07-01\n" + testaudit.Repeat(9, "2010-01-01,THR,50,A,") +
		"2010-01-01,THR,50,B,2011-01-01\n" + testaudit.Repeat(9, "2010-01-01,THR,50,B,") +
		"2010-01-01,THR,80,A,2012-01-01\n" + testaudit.Repeat(4, "2010-01-01,THR,80,A,")
	c := testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t), Keep: []string{"surgeon"}})
	a := testaudit.Run(t, c, audit.Options{By: []string{"surgeon"}, ExpectedOwn: true})
	if len(a.Department) != 2 {
		t.Fatalf("%d units", len(a.Department))
	}
	sum := 0.0
	for i, want := range []struct {
		unit            string
		joints, revised int64
		observed, alone float64
		expected        float64
	}{{"A", 15, 2, 1, 1, .5 + 9./19}, {"B", 10, 1, 1, 0, .5 + 10./19}} {
		u := a.Department[i]
		if u.Value.Word != want.unit || u.Joints != want.joints || u.Revised != want.revised || u.Observed != want.observed || u.Alone != want.alone ||
			math.Abs(u.Expected-want.expected) > 1e-15 || u.Department != 2 || math.Abs(u.Ratio-1/want.expected) > 1e-15 {
			t.Errorf("%+v, want %+v", u, want)
		}
		if least, most, ok := u.Usual(); !ok || least != 0 || most != 2 {
			t.Errorf("%s: usual %v to %v", want.unit, least, most)
		}
		sum += u.Expected
	}
	if math.Abs(sum-2) > 1e-15 {
		t.Errorf("the expected add up to %v", sum)
	}
	rows := testaudit.Comparisons(t, a)
	if r := rows[0]; len(rows) != 2 || r["source"] != "own department" || r["origin"] != "department" || r["surgeon"] != "A" || r["bearing"] != "All" ||
		r["observed"] != "1" || r["published_pct"] != "" || r["match"] != "" || r["notes"] != audit.NoteAlone || !strings.HasPrefix(r["ratio"], "1.027") {
		t.Errorf("%v", rows)
	}
	if _, err := audit.Run(c, audit.Options{By: []string{}, ExpectedOwn: true}); !errors.Is(err, audit.ErrNoUnits) {
		t.Errorf("without units: %v", err)
	}
}

// ΣE = ΣO to the digit with many units, strata, deaths and days.
func TestDepartmentAddsUp(t *testing.T) {
	var b strings.Builder
	b.WriteString("operation_date,procedure,age,surgeon,revision_date,death_date\n")
	for i := range 600 {
		op, out := 2005+i%10, "," // by a fixed pattern: a revision, a death or neither
		switch {
		case i%17 == 0:
			out = dateOf(2006+i%10+i%4, i) + ","
		case i%11 == 0:
			out = "," + dateOf(2007+i%10+i%3, i)
		}
		b.WriteString(dateOf(op, i) + ",THR," + []string{"50", "60", "70", "80"}[i%4] + ",S" + string(rune('a'+i%7)) + "," + out + "\n")
	}
	a := testaudit.Run(t, testaudit.Read(t, b.String(), cohort.Options{ClosingDate: testaudit.Closing(t), Keep: []string{"surgeon"}}), audit.Options{By: []string{"surgeon"}, ExpectedOwn: true})
	observed, expected, alone, revised := 0.0, 0.0, 0.0, int64(0)
	for _, u := range a.Department {
		observed, expected, alone, revised = observed+u.Observed, expected+u.Expected, alone+u.Alone, revised+u.Revised
	}
	if observed+alone != float64(revised) || math.Abs(expected-observed) > 1e-12*observed || observed < 20 || len(a.Department) != 7 {
		t.Errorf("%d units: observed %v, expected %v, alone %v, revised %d", len(a.Department), observed, expected, alone, revised)
	}
}

func dateOf(year, i int) string {
	return fmt.Sprintf("%d-%02d-%02d", year, i%12+1, i%28+1)
}

// Revisions are expected within sex where each stratum with a revision has three
// surgeons, and not where one has two. Ratios are drawn towards all from three units on:
// the mean of three equal ratios of 1 stays near it. A department of 40 revisions, a quarter of them a unit's: 5 to
// 16 are usual, and with twice the others' rate, odds 2/3 of each, more are had in 43.19 of 100 (exact
// fractions in Python: 1 − Σ C(40,k)·.4^k·.6^(40−k), k to 16).
func TestDepartmentIsMadeFiner(t *testing.T) {
	var b strings.Builder
	b.WriteString("operation_date,procedure,surgeon,sex,revision_date\n")
	for _, s := range []string{"A", "B", "C"} {
		for i := range 20 {
			sex, revised := "F", ""
			if i < 4 {
				revised = "2012-03-01"
			}
			if i%2 == 1 {
				sex = "M"
			}
			b.WriteString("2010-01-01,THR," + s + "," + sex + "," + revised + "\n")
		}
	}
	for _, test := range []struct {
		why, more string
		within    []string
	}{
		{"three surgeons in each stratum", "", []string{"sex"}},
		{"a stratum of two, with a revision", "2010-01-01,THR,A,,2011-01-01\n2010-01-01,THR,B,,\n", nil},
		{"a stratum of two, without one", "2010-01-01,THR,A,,\n2010-01-01,THR,B,,\n", []string{"sex"}},
	} {
		t.Run(test.why, func(t *testing.T) {
			c := testaudit.Read(t, b.String()+test.more, cohort.Options{ClosingDate: testaudit.Closing(t), Keep: append([]string{"surgeon"}, audit.Finer()...)})
			a := testaudit.Run(t, c, audit.Options{By: []string{"surgeon"}, ExpectedOwn: true})
			for _, u := range a.Department {
				if !slices.Equal(u.Within, test.within) {
					t.Errorf("%s within %v, want %v", u.Value.Word, u.Within, test.within)
				}
				if !(u.Drawn.Ratio > .8 && u.Drawn.Ratio < 1.3 && u.Drawn.Lower < 1 && u.Drawn.Upper > 1) {
					t.Errorf("%s drawn to %+v", u.Value.Word, u.Drawn)
				}
			}
			letters := a.Called("surgeon", map[string]string{"A": "C", "B": "A", "C": "B"})
			if u := letters.Department[0]; u.Value.Word != "A" || u.Joints != a.Department[1].Joints || a.Department[0].Value.Word != "A" {
				t.Errorf("called %+v", u)
			}
		})
	}
	share, _ := benchmark.ShareOf(16, 10, 40, .95)
	if got := (&audit.Unit{Share: share}).Finds(2); math.Abs(got-0.4318682519667183) > 1e-10 {
		t.Errorf("found in %v", got)
	}
}
