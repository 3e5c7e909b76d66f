package cohort_test

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

func TestDateOrderFromTheColumnItself(t *testing.T) {
	for _, test := range []struct {
		name string
		rows []string
		want []string
		said cohort.DateOrder
	}{
		{"day first", []string{"03/04/2019,", "13/04/2019,"}, []string{"2019-04-03", "2019-04-13"}, cohort.DayFirst},
		{"month first", []string{"04/13/2019,", "03/04/2019,"}, []string{"2019-04-13", "2019-03-04"}, cohort.MonthFirst},
		{"with points", []string{"03.04.2019,", "13.04.2019,"}, []string{"2019-04-03", "2019-04-13"}, cohort.DayFirst},
		{"alike in both orders and settled ones do not decide", []string{"05/05/2019,", "2019-04-13,", "13-4-2019,"},
			[]string{"2019-05-05", "2019-04-13", "2019-04-13"}, cohort.DayFirst},
	} {
		t.Run(test.name, func(t *testing.T) {
			text := table(append([]string{"operation_date,revision_date"}, test.rows...)...)
			c := mustRead(t, cohort.Options{}, text)
			if d := cmp.Diff(test.want, operations(t, cohort.Options{}, text)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			want := []cohort.ColumnOrder{{Column: "operation_date", Order: test.said, From: "operation_date"}}
			if d := cmp.Diff(want, c.Files[0].DateOrders); d != "" {
				t.Errorf("orders (-want +got):\n%s", d)
			}
		})
	}
}

func TestDateOrderNothingToSettle(t *testing.T) {
	text := table("operation_date,revision_date", "2019-04-03,", "05/05/2019,", "3-Apr-2019,")
	c := mustRead(t, cohort.Options{}, text)
	if d := cmp.Diff([]string{"2019-04-03", "2019-05-05", "2019-04-03"}, operations(t, cohort.Options{}, text)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if len(c.Files[0].DateOrders) != 0 {
		t.Errorf("orders said: %v", c.Files[0].DateOrders)
	}
}

// An order settled in one column serves the others, and is said.
func TestDateOrderServesTheOtherColumns(t *testing.T) {
	text := table("operation_date,revision_date,death_date,birth_date",
		"03/04/2019,05/06/2019,,01/02/1950",
		"03/04/2018,13/06/2019,,",
		"03/04/2018,,2020-01-01,")
	c := mustRead(t, cohort.Options{}, text)
	if d := cmp.Diff([]string{"2019-04-03", "2018-04-03", "2018-04-03"}, operations(t, cohort.Options{}, text)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	want := []cohort.ColumnOrder{
		{Column: "operation_date", Order: cohort.DayFirst, From: "revision_date"},
		{Column: "revision_date", Order: cohort.DayFirst, From: "revision_date"},
		{Column: "birth_date", Order: cohort.DayFirst, From: "revision_date"},
	}
	if d := cmp.Diff(want, c.Files[0].DateOrders); d != "" {
		t.Errorf("orders (-want +got):\n%s", d)
	}
}

// Each table settles its own order: two departments may write differently.
func TestDateOrderPerTable(t *testing.T) {
	got := operations(t, cohort.Options{},
		table("operation_date,revision_date", "13/04/2019,", "03/04/2019,"),
		table("operation_date,revision_date", "04/13/2019,", "03/04/2019,"))
	if d := cmp.Diff([]string{"2019-04-13", "2019-04-03", "2019-04-13", "2019-03-04"}, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// Of a table that tells nothing it is said what an earlier one tells, and left to the user.
func TestDateOrderToldByAnother(t *testing.T) {
	for name, test := range map[string]struct{ first, said string }{
		"settled":     {"13/04/2019,", `row 2 could be day first or month first, and nothing in the table says which; those of t1.csv are day first.`},
		"not settled": {"2019-04-13,", `row 2 could be day first or month first, and nothing in the table says which.`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := tryRead(t, cohort.Options{}, table("operation_date,revision_date", test.first), table("operation_date,revision_date", "03/04/2019,"))
			wantError(t, err, "t2.csv", test.said)
		})
	}
}

func TestDateOrderRefused(t *testing.T) {
	for _, test := range []struct {
		name     string
		headings string
		rows     []string
		want     cohort.DateOrderError
		message  []string
	}{
		{"contradiction within a column", "Date of operation,revision_date",
			[]string{"13/04/2019,", "03/04/2019,", "04/13/2019,"},
			cohort.DateOrderError{Column: "operation_date", Heading: "Date of operation", RowA: 2, RowB: 4, Contradiction: true},
			[]string{`column "Date of operation": row 2 can only be day first, row 4 only month first`}},
		{"contradiction between columns", "operation_date,Date revised",
			[]string{"04/13/2019,", "03/04/2019,", "03/04/2019,13/06/2019"},
			cohort.DateOrderError{Column: "revision_date", Heading: "Date revised", RowA: 4, RowB: 2, Contradiction: true, OtherColumn: "operation_date", OtherHeading: "operation_date"},
			[]string{`row 4 of column "Date revised" can only be day first, row 2 of column "operation_date" only month first`}},
		{"no evidence", "operation_date,revision_date",
			[]string{"2019-01-02,", "03/04/2019,", "05/05/2019,", "06/07/2019,", "08/09/2019,"},
			cohort.DateOrderError{Column: "operation_date", Heading: "operation_date", RowA: 3, RowB: 5},
			[]string{`column "operation_date": rows 3 and 5 could be day first or month first`, "--date-order"}},
		{"no evidence, one row", "operation_date,revision_date",
			[]string{"2019-01-02,", "2019-01-02,03/04/2019"},
			cohort.DateOrderError{Column: "revision_date", Heading: "revision_date", RowA: 3},
			[]string{`column "revision_date": row 3 could be day first or month first`}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := tryRead(t, cohort.Options{}, table(append([]string{test.headings}, test.rows...)...))
			var got *cohort.DateOrderError
			if !errors.As(err, &got) {
				t.Fatalf("error %v", err)
			}
			test.want.File = "t1.csv"
			if d := cmp.Diff(test.want, *got); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			wantError(t, err, append(test.message, "t1.csv")...)
		})
	}
}

func TestDateOrderAsked(t *testing.T) {
	for _, test := range []struct {
		order cohort.DateOrder
		want  []string
	}{
		{cohort.DayFirst, []string{"2019-04-03", "2019-04-13", ""}},
		{cohort.MonthFirst, []string{"2019-03-04", "", "2019-04-13"}},
	} {
		o, text := cohort.Options{DateOrder: test.order}, table("operation_date,revision_date", "03/04/2019,", "13/04/2019,", "04/13/2019,")
		c := mustRead(t, o, text)
		if d := cmp.Diff(test.want, operations(t, o, text)); d != "" {
			t.Errorf("order %d (-want +got):\n%s", test.order, d)
		}
		if d := cmp.Diff([]cohort.ColumnOrder{{Column: "operation_date", Order: test.order}}, c.Files[0].DateOrders); d != "" {
			t.Errorf("order %d said (-want +got):\n%s", test.order, d)
		}
		if a := c.SetAside(); len(a) != 1 || a[0].Reason != cohort.OperationDateImpossible {
			t.Errorf("order %d: set aside %v", test.order, a)
		}
	}
}

func TestDateOrderUnknownRefused(t *testing.T) {
	_, err := tryRead(t, cohort.Options{DateOrder: cohort.MonthFirst + 1}, table("operation_date,revision_date", "13/04/2019,"))
	wantError(t, err, "date order 3")
}

// Forms of dates that need no order. 43558 is 2019-04-03 in the 1900 system of
// spreadsheets: 25569 is 1970-01-01, and 43558 − 25569 = 17989 days later.
func TestDateForms(t *testing.T) {
	for _, test := range []struct{ typed, want string }{
		{"2019-04-03", "2019-04-03"},
		{" 2019-04-03 ", "2019-04-03"},
		{"2019-04-03 08:30", "2019-04-03"},
		{"2019-04-03T08:30:00Z", "2019-04-03"},
		{"2019/4/3", "2019-04-03"},
		{"20190403", "2019-04-03"},
		{"43558", "2019-04-03"},
		{"43558.0", "2019-04-03"},
		{`"43558,75"`, "2019-04-03"},
		{"3-Apr-2019", "2019-04-03"},
		{"3 April 2019", "2019-04-03"},
		{`"April 3, 2019"`, "2019-04-03"},
		{"3. März 2019", "2019-03-03"},
		{"2019-02-29", ""},
		{"2019", ""},
		{"0", ""},
		{"n/a", ""},
		{"3-Apr-19", ""},
	} {
		if got := operations(t, cohort.Options{}, table("operation_date,revision_date", "2019-01-01,", test.typed+","))[1]; got != test.want {
			t.Errorf("%s: %q, want %q", test.typed, got, test.want)
		}
	}
}

func TestTwoDigitYears(t *testing.T) {
	text := table("operation_date,revision_date", "2019-01-01,", "13/04/19,", "3-Apr-99,", "3-Apr-19,", "13/04/30,")
	c := mustRead(t, cohort.Options{}, text)
	if d := cmp.Diff([]string{"2019-01-01", "", "", "", ""}, operations(t, cohort.Options{}, text)); d != "" {
		t.Errorf("without a pivot (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]cohort.ReasonCount{{cohort.OperationYearShort, 4}}, c.Account().Reasons); d != "" {
		t.Errorf("without a pivot (-want +got):\n%s", d)
	}
	pivot := 30
	if d := cmp.Diff([]string{"2019-01-01", "2019-04-13", "1999-04-03", "2019-04-03", "1930-04-13"}, operations(t, cohort.Options{Pivot: &pivot}, text)); d != "" {
		t.Errorf("pivot 30 (-want +got):\n%s", d)
	}
	zero := 0 // a pivot of 0 is one: every year is of the 20th century
	text = table("operation_date,revision_date", "2019-01-01,", "3-Apr-02,")
	if d := cmp.Diff([]string{"2019-01-01", "1902-04-03"}, operations(t, cohort.Options{Pivot: &zero}, text)); d != "" {
		t.Errorf("pivot 0 (-want +got):\n%s", d)
	}
}
