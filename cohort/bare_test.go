package cohort_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// Rows of a table that are no joints, in the middle of three that are. They
// don't set the closing date, and nobody is asked what their words mean.
func TestNotJoints(t *testing.T) {
	const headings = "patient,operation_date,joint,side,procedure,revision_date,revised,age,sex"
	joints := []string{"p1,2020-01-01,hip,left,THR,,no,60,F", "p2,2020-01-02,hip,right,THR,,no,61,M", "p3,2020-01-03,knee,left,TKR,,no,62,F"}
	for _, test := range []struct {
		name, row string
		want      cohort.Reason
	}{
		{"printed on", "Printed:,2024-06-01,,,,,,,", cohort.NotAJoint},
		{"a date under the total", ",2024-06-01,,,,,9,,", cohort.NotAJoint},
		{"a total with a date", "Total,2024-06-01,,,,2,9,61,", cohort.NotAJoint},
		{"a total under the procedure, with a date", ",2024-06-01,,,Total,,,,", cohort.NotAJoint},
		{"a subtotal", "Subtotal 2019,12,,,,1,0,65.5,", cohort.NotAJoint},
		{"a subtotal under the joint", ",,Subtotal,,,,9,,", cohort.NotAJoint},
		{"an average", "Average age,,,,,,,65.5,", cohort.NotAJoint},
		{"a year", "YEAR 2020,,,,,,,,", cohort.NotAJoint},
		{"a note", "NB: redo is any change,,,,,,,,", cohort.NotAJoint},
		{"the headings again", headings, cohort.NotAJoint},
		{"the headings again, typed otherwise", "Patient,Operation Date,JOINT,Side,Procedure,Revision date,Revised,Age,Sex", cohort.NotAJoint},
		{"a joint with a patient", "p4,2024-06-01,,,,,,,", none},
		{"a joint with a side", ",2024-06-01,,left,,,,,", none},
		{"a joint with a procedure", ",2024-06-01,,,THR,,,,", none},
		{"a joint with an age", ",2024-06-01,,,,,,60,", none},
		{"a joint with a revision", ",2024-05-01,,,,2024-06-01,,,", none},
		{"a joint without a date", "p4,,hip,left,THR,,,60,F", cohort.OperationDateMissing},
		{"a joint with an impossible date", "p4,spring,hip,left,THR,,,60,F", cohort.OperationDateImpossible},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{Today: day("2024-12-31")}, table(headings, joints[0], test.row, joints[1], joints[2]))
			got := none
			for _, p := range c.SetAside() {
				if got = p.Reason; p.Row != 3 {
					t.Errorf("row %d: %v", p.Row, p.Reason)
				}
			}
			if got != test.want {
				t.Errorf("%v, want %v", got, test.want)
			}
			closing := "2020-01-03"
			if test.want == none {
				closing = "2024-06-01"
			}
			if c.Closing.Day != day(closing) {
				t.Errorf("closing date %v, want %s", c.Closing.Day, closing)
			}
			if test.want != cohort.NotAJoint {
				return
			}
			for _, column := range c.Words() {
				for _, w := range column.Words {
					if !w.Known {
						t.Errorf("%s: %+v", column.Column, w)
					}
					if w.Rows > 3 {
						t.Errorf("%s: %q in %d rows", column.Column, w.Typed, w.Rows)
					}
				}
			}
		})
	}
}

// A table that has hardly more than dates has joints with nothing else.
func TestDatesAlone(t *testing.T) {
	for _, headings := range []string{"operation_date,revision_date", "operation_date,revision_date,side", "operation_date,revision_date,side,bearing"} {
		more := strings.Repeat(",", strings.Count(headings, ",")-1)
		c := mustRead(t, cohort.Options{}, table(headings, "2020-01-01,"+more, "2020-01-02,"+more, "2020-01-03,,"+strings.Replace(more, ",", "left,", 1)))
		if c.Account().Used != 3 {
			t.Errorf("%s: %v", headings, c.SetAside())
		}
	}
}

// Rows with nothing but a date are no joints while they are few: a table may
// begin with years of which little was written down.
func TestDatesAloneAmongOthers(t *testing.T) {
	for _, test := range []struct{ others, bare, aside int }{
		{1, 1, 0}, {2, 1, 1}, {2, 2, 0}, {3, 2, 2}, {4, 3, 0}, {11, 3, 0}, {12, 3, 3}, {40, 10, 10}, {39, 10, 0},
	} {
		lines := []string{"patient,operation_date,revision_date,joint,side"}
		for i := range test.bare {
			lines = append(lines, fmt.Sprintf(",2020-01-%02d,,,", 1+i))
		}
		for i := range test.others {
			lines = append(lines, fmt.Sprintf("p%d,2020-01-01,,hip,left", i))
		}
		if c := mustRead(t, cohort.Options{}, table(lines...)); c.Account().SetAside != test.aside {
			t.Errorf("%d rows with nothing but a date among %d others: %d set aside, want %d", test.bare, test.others, c.Account().SetAside, test.aside)
		}
	}
}

// What is assumed for every row does not make a row of a total.
func TestTotalsAndAssumptions(t *testing.T) {
	c := mustRead(t, cohort.Options{Assume: map[string]string{"joint": "hip", "procedure": "total", "sex": "F"}}, table("patient,operation_date,revision_date,side",
		"p1,2020-01-01,,left", "p2,2020-01-01,,left", "Total,3,,", ",2021-01-01,,", "p3,2020-01-01,,left"))
	want := []cohort.Problem{{Row: 4, Column: "operation_date", Reason: cohort.NotAJoint}, {Row: 5, Column: "operation_date", Reason: cohort.NotAJoint}}
	if d := cmp.Diff(want, c.SetAside()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// Identifiers are compared without regard to spaces and case.
func TestPatientsCompared(t *testing.T) {
	for _, test := range []struct {
		a, b string
		same bool
	}{
		{"AB 123", "ab123", true}, {"AB\u00a0123", "AB123", true}, {"a b\u202f1 2 3", "AB123", true}, {"'AB123", "AB123", true}, {"ÉB123", "éb 123", true},
		{"\ufeffAB123", "AB123", true}, {"ＡB123", "AB123", true}, {"AB123 ", "AB123", true},
		{"AB-123", "AB123", false}, {"AB123", "AB124", false}, {"0123", "123", false}, {"AB12\u00e93", "AB123", false},
	} {
		c := mustRead(t, cohort.Options{}, table("patient,operation_date,revision_date,joint,side", test.a+",2020-01-01,,hip,left", test.b+",2020-01-01,,hip,right"))
		_, patients, err := mustTally(t, c, nil, cohort.Endpoint{}).Margin()
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range patients {
			if (n == 1) != test.same {
				t.Errorf("%q and %q: %d patients", test.a, test.b, n)
			}
		}
	}
}
