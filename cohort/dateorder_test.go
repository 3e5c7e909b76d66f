package cohort

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort/internal/store"
)

// operations gives each used or set-aside row's operation date; "" is none.
func operations(c *Cohort) []string {
	var all []string
	for _, b := range c.store.Blocks {
		for i := range b.Len() {
			s := ""
			if d := b.Day(store.Operation, i); d.Known() {
				s = Day(d).String()
			}
			all = append(all, s)
		}
	}
	return all
}

func TestDateOrderFromTheColumnItself(t *testing.T) {
	for _, test := range []struct {
		name string
		rows []string
		want []string
		said DateOrder
	}{
		{"day first", []string{"03/04/2019,", "13/04/2019,"}, []string{"2019-04-03", "2019-04-13"}, DayFirst},
		{"month first", []string{"04/13/2019,", "03/04/2019,"}, []string{"2019-04-13", "2019-03-04"}, MonthFirst},
		{"with points", []string{"03.04.2019,", "13.04.2019,"}, []string{"2019-04-03", "2019-04-13"}, DayFirst},
		{"alike in both orders and settled ones do not decide", []string{"05/05/2019,", "2019-04-13,", "13-4-2019,"},
			[]string{"2019-05-05", "2019-04-13", "2019-04-13"}, DayFirst},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, Options{}, table(append([]string{"operation_date,revision_date"}, test.rows...)...))
			if d := cmp.Diff(test.want, operations(c)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			want := []ColumnOrder{{"operation_date", test.said, "operation_date"}}
			if d := cmp.Diff(want, c.Files[0].DateOrders); d != "" {
				t.Errorf("orders (-want +got):\n%s", d)
			}
		})
	}
}

func TestDateOrderNothingToSettle(t *testing.T) {
	c := mustRead(t, Options{}, table("operation_date,revision_date", "2019-04-03,", "05/05/2019,", "3-Apr-2019,"))
	if d := cmp.Diff([]string{"2019-04-03", "2019-05-05", "2019-04-03"}, operations(c)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if len(c.Files[0].DateOrders) != 0 {
		t.Errorf("orders said: %v", c.Files[0].DateOrders)
	}
}

// An order settled in one column serves the others, and is said.
func TestDateOrderServesTheOtherColumns(t *testing.T) {
	c := mustRead(t, Options{}, table("operation_date,revision_date,death_date,birth_date",
		"03/04/2019,05/06/2019,,01/02/1950",
		"03/04/2018,13/06/2019,,",
		"03/04/2018,,2020-01-01,"))
	if d := cmp.Diff([]string{"2019-04-03", "2018-04-03", "2018-04-03"}, operations(c)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	want := []ColumnOrder{
		{"operation_date", DayFirst, "revision_date"},
		{"revision_date", DayFirst, "revision_date"},
		{"birth_date", DayFirst, "revision_date"},
	}
	if d := cmp.Diff(want, c.Files[0].DateOrders); d != "" {
		t.Errorf("orders (-want +got):\n%s", d)
	}
}

// Each table settles its own order: two departments may write differently.
func TestDateOrderPerTable(t *testing.T) {
	c := mustRead(t, Options{},
		table("operation_date,revision_date", "13/04/2019,", "03/04/2019,"),
		table("operation_date,revision_date", "04/13/2019,", "03/04/2019,"))
	if d := cmp.Diff([]string{"2019-04-13", "2019-04-03", "2019-04-13", "2019-03-04"}, operations(c)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestDateOrderRefused(t *testing.T) {
	for _, test := range []struct {
		name     string
		headings string
		rows     []string
		want     DateOrderError
		message  []string
	}{
		{"contradiction within a column", "Date of operation,revision_date",
			[]string{"13/04/2019,", "03/04/2019,", "04/13/2019,"},
			DateOrderError{Column: "operation_date", Heading: "Date of operation", RowA: 2, RowB: 4, Contradiction: true},
			[]string{`column "Date of operation": row 2 can only be day first, row 4 only month first`}},
		{"contradiction between columns", "operation_date,Date revised",
			[]string{"04/13/2019,", "03/04/2019,", "03/04/2019,13/06/2019"},
			DateOrderError{Column: "revision_date", Heading: "Date revised", RowA: 4, RowB: 2, Contradiction: true, OtherColumn: "operation_date", OtherHeading: "operation_date"},
			[]string{`row 4 of column "Date revised" can only be day first, row 2 of column "operation_date" only month first`}},
		{"no evidence", "operation_date,revision_date",
			[]string{"2019-01-02,", "03/04/2019,", "05/05/2019,", "06/07/2019,", "08/09/2019,"},
			DateOrderError{Column: "operation_date", Heading: "operation_date", RowA: 3, RowB: 5},
			[]string{`column "operation_date": rows 3 and 5 could be day first or month first`, "--date-order"}},
		{"no evidence, one row", "operation_date,revision_date",
			[]string{"2019-01-02,", "2019-01-02,03/04/2019"},
			DateOrderError{Column: "revision_date", Heading: "revision_date", RowA: 3},
			[]string{`column "revision_date": row 3 could be day first or month first`}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := tryRead(t, Options{}, table(append([]string{test.headings}, test.rows...)...))
			var got *DateOrderError
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
		order DateOrder
		want  []string
	}{
		{DayFirst, []string{"2019-04-03", "2019-04-13", ""}},
		{MonthFirst, []string{"2019-03-04", "", "2019-04-13"}},
	} {
		c := mustRead(t, Options{DateOrder: test.order}, table("operation_date,revision_date", "03/04/2019,", "13/04/2019,", "04/13/2019,"))
		if d := cmp.Diff(test.want, operations(c)); d != "" {
			t.Errorf("order %d (-want +got):\n%s", test.order, d)
		}
		if d := cmp.Diff([]ColumnOrder{{"operation_date", test.order, ""}}, c.Files[0].DateOrders); d != "" {
			t.Errorf("order %d said (-want +got):\n%s", test.order, d)
		}
		if a := c.SetAside(); len(a) != 1 || a[0].Reason != OperationDateImpossible {
			t.Errorf("order %d: set aside %v", test.order, a)
		}
	}
}

func TestDateOrderUnknownRefused(t *testing.T) {
	_, err := tryRead(t, Options{DateOrder: MonthFirst + 1}, table("operation_date,revision_date", "13/04/2019,"))
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
		c := mustRead(t, Options{}, table("operation_date,revision_date", "2019-01-01,", test.typed+","))
		if got := operations(c)[1]; got != test.want {
			t.Errorf("%s: %q, want %q", test.typed, got, test.want)
		}
	}
}

func TestTwoDigitYears(t *testing.T) {
	text := table("operation_date,revision_date", "2019-01-01,", "13/04/19,", "3-Apr-99,", "3-Apr-19,", "13/04/30,")
	c := mustRead(t, Options{}, text)
	if d := cmp.Diff([]string{"2019-01-01", "", "", "", ""}, operations(c)); d != "" {
		t.Errorf("without a pivot (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]ReasonCount{{OperationYearShort, 4}}, c.Account().Reasons); d != "" {
		t.Errorf("without a pivot (-want +got):\n%s", d)
	}
	pivot := 30
	c = mustRead(t, Options{Pivot: &pivot}, text)
	if d := cmp.Diff([]string{"2019-01-01", "2019-04-13", "1999-04-03", "2019-04-03", "1930-04-13"}, operations(c)); d != "" {
		t.Errorf("pivot 30 (-want +got):\n%s", d)
	}
	zero := 0 // a pivot of 0 is one: every year is of the 20th century
	c = mustRead(t, Options{Pivot: &zero}, table("operation_date,revision_date", "2019-01-01,", "3-Apr-02,"))
	if d := cmp.Diff([]string{"2019-01-01", "1902-04-03"}, operations(c)); d != "" {
		t.Errorf("pivot 0 (-want +got):\n%s", d)
	}
}
