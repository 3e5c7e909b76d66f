package cohort_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// The rules of time, one joint at a time, operated on 2020-01-01 with the
// closing date 2020-12-31. 2020 is a leap year: 31 January is day 30, 1 March
// day 60 and 31 December day 365, counted by hand.
func TestTime(t *testing.T) {
	const censored = 0
	for _, test := range []struct {
		name     string
		row      string // revision, death, last seen, revised, dead
		want     outcome
		warnings []cohort.Reason
	}{
		{name: "nothing happened: followed to the closing date", row: ",,,,", want: outcome{365, censored}},
		{name: "revision", row: "2020-03-01,,,,", want: outcome{60, cohort.CauseRevision}},
		{name: "death", row: ",2020-03-01,,,", want: outcome{60, cohort.CauseDeath}},
		{name: "last seen before the closing date", row: ",,2020-03-01,,", want: outcome{60, censored}},
		{name: "last seen after the closing date", row: ",,2021-03-01,,", want: outcome{365, censored}},
		{name: "last seen on the closing date", row: ",,2020-12-31,,", want: outcome{365, censored}},
		{name: "last seen never cuts short a revision", row: "2020-03-01,,2020-01-31,,", want: outcome{60, cohort.CauseRevision}},
		{name: "last seen never cuts short a death", row: ",2020-03-01,2020-01-31,,", want: outcome{60, cohort.CauseDeath}},
		{name: "revision after the closing date proves follow-up to it", row: "2021-02-01,,2020-01-31,,", want: outcome{365, censored}},
		{name: "death after the closing date proves follow-up to it", row: ",2021-02-01,2020-01-31,,", want: outcome{365, censored}},
		{name: "revision on the closing date", row: "2020-12-31,,,,", want: outcome{365, cohort.CauseRevision}},
		{name: "death on the closing date", row: ",2020-12-31,,,", want: outcome{365, cohort.CauseDeath}},
		{name: "revision the day after the closing date", row: "2021-01-01,,,,", want: outcome{365, censored}},
		{name: "death before the closing date, revision after it", row: "2021-01-01,2020-03-01,,,", want: outcome{60, cohort.CauseDeath}, warnings: []cohort.Reason{cohort.RevisionAfterDeath}},
		{name: "revision before the closing date, death after it", row: "2020-03-01,2021-01-01,,,", want: outcome{60, cohort.CauseRevision}},
		{name: "revision then death", row: "2020-01-31,2020-03-01,,,", want: outcome{30, cohort.CauseRevision}},
		{name: "revision and death on one day: revision", row: "2020-03-01,2020-03-01,,,", want: outcome{60, cohort.CauseRevision}},
		{name: "revision after death: used, warned", row: "2020-03-01,2020-01-31,,,", want: outcome{60, cohort.CauseRevision}, warnings: []cohort.Reason{cohort.RevisionAfterDeath}},
		{name: "revision on day 0", row: "2020-01-01,,,,", want: outcome{0, cohort.CauseRevision}, warnings: []cohort.Reason{cohort.RevisionOnTheDay}},
		{name: "death on day 0", row: ",2020-01-01,,,", want: outcome{0, cohort.CauseDeath}},
		{name: "last seen on day 0", row: ",,2020-01-01,,", want: outcome{0, censored}},
		{name: "last seen before the operation: ignored, warned", row: ",,2019-12-31,,", want: outcome{365, censored}, warnings: []cohort.Reason{cohort.LastSeenBeforeOperation}},
		{name: "last seen in the future: ignored, warned", row: ",,2025-01-01,,", want: outcome{365, censored}, warnings: []cohort.Reason{cohort.LastSeenUnusable}},
		{name: "last seen impossible: ignored, warned", row: ",,2020-02-30,,", want: outcome{365, censored}, warnings: []cohort.Reason{cohort.LastSeenUnusable}},
		{name: "dead without a date, last seen: censored then", row: ",,2020-03-01,,yes", want: outcome{60, censored}, warnings: []cohort.Reason{cohort.DeadWithoutDateCensored}},
		{name: "death date impossible, last seen: censored then", row: ",2020-02-30,2020-03-01,,", want: outcome{60, censored}, warnings: []cohort.Reason{cohort.DeadWithoutDateCensored}},
		{name: "dead without a date, revised: revision", row: "2020-03-01,,,,yes", want: outcome{60, cohort.CauseRevision}},
		{name: "revised says no, with a date", row: "2020-03-01,,,no,", want: outcome{60, cohort.CauseRevision}, warnings: []cohort.Reason{cohort.RevisedNoWithDate}},
		{name: "dead says no, with a date", row: ",2020-03-01,,,no", want: outcome{60, cohort.CauseDeath}, warnings: []cohort.Reason{cohort.AliveWithDeathDate}},
		{name: "words for no date", row: "in situ,alive,-,no,no", want: outcome{365, censored}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-12-31")}, table(
				"operation_date,side,revision_date,death_date,last_seen_date,revised,dead",
				"2020-01-01,left,"+test.row))
			if d := cmp.Diff([]outcome{test.want}, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			var warned []cohort.Reason
			for _, p := range c.Warnings() {
				warned = append(warned, p.Reason)
				if p.Row != 2 {
					t.Errorf("%v: row %d, want 2", p.Reason, p.Row)
				}
			}
			if d := cmp.Diff(test.warnings, warned); d != "" {
				t.Errorf("warnings (-want +got):\n%s", d)
			}
		})
	}
}

func TestClosingDateFound(t *testing.T) {
	for _, test := range []struct {
		name string
		rows []string // operation, revision, death, last seen
		want cohort.Closing
	}{
		{"latest operation", []string{"2019-01-01,,,", "2020-03-01,,,", "2020-02-01,,,"},
			cohort.Closing{Day: day("2020-03-01"), Row: 3, Column: "operation_date", NextLatest: day("2020-02-01"), GapDays: 29}},
		{"latest revision", []string{"2019-01-01,2020-03-02,,", "2020-03-01,,,"},
			cohort.Closing{Day: day("2020-03-02"), Row: 2, Column: "revision_date", NextLatest: day("2020-03-01"), GapDays: 1}},
		{"latest death", []string{"2020-03-01,,,", "2019-01-01,,2020-03-05,"},
			cohort.Closing{Day: day("2020-03-05"), Row: 3, Column: "death_date", NextLatest: day("2020-03-01"), GapDays: 4}},
		{"latest day last seen", []string{"2020-03-01,,,", "2019-01-01,,,2020-03-11"},
			cohort.Closing{Day: day("2020-03-11"), Row: 3, Column: "last_seen_date", NextLatest: day("2020-03-01"), GapDays: 10}},
		{"two dates of one row: the gap is to another row", []string{"2019-12-01,,,", "2019-11-01,2020-02-28,,2020-02-29", "2019-12-02,,,"},
			cohort.Closing{Day: day("2020-02-29"), Row: 3, Column: "last_seen_date", NextLatest: day("2019-12-02"), GapDays: 89}},
		{"two rows of one day", []string{"2020-03-01,,,", "2020-03-01,,,"},
			cohort.Closing{Day: day("2020-03-01"), Row: 2, Column: "operation_date", NextLatest: day("2020-03-01")}},
		{"future dates do not count", []string{"2020-03-01,,,", "2020-01-31,,,2033-01-01", "2034-01-01,,,", "2020-02-28,2044-01-01,,"},
			cohort.Closing{Day: day("2020-03-01"), Row: 2, Column: "operation_date", NextLatest: day("2020-02-28"), GapDays: 2}},
		{"today counts", []string{"2020-03-01,,," + today, "2020-03-01,,,2024-07-01"},
			cohort.Closing{Day: day(today), Row: 2, Column: "last_seen_date", NextLatest: day("2020-03-01"), GapDays: 1582}},
		{"one row", []string{"2020-03-01,,,"},
			cohort.Closing{Day: day("2020-03-01"), Row: 2, Column: "operation_date"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{}, table(append([]string{"operation_date,revision_date,death_date,last_seen_date"}, test.rows...)...))
			if d := cmp.Diff(test.want, c.Closing); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

// The closing date is that of all tables, and names the table.
func TestClosingDateOfSeveralTables(t *testing.T) {
	c := mustRead(t, cohort.Options{},
		table("operation_date,revision_date", "2020-01-01,"),
		table("operation_date,revision_date", "2019-01-01,2020-02-01", "2019-01-01,"),
		table("operation_date,revision_date", "2018-01-01,"))
	want := cohort.Closing{Day: day("2020-02-01"), File: 1, Row: 2, Column: "revision_date", NextLatest: day("2020-01-01"), GapDays: 31}
	if d := cmp.Diff(want, c.Closing); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A date that joints take from another row counts where it stands, and once: a
// mistyped one is as doubtful as if one joint had it.
func TestClosingDateOfOtherRows(t *testing.T) {
	const headings = "patient,joint,side,operation_date,revision_date,death_date"
	lines := []string{headings, "p,knee,left,2019-01-01,,", "p,knee,right,2019-02-01,,", "q,knee,left,2020-01-01,,"}
	for _, test := range []struct {
		name string
		o    cohort.Options
		more []string
		want cohort.Closing
	}{
		{"a death of another joint", cohort.Options{}, []string{"p,hip,left,2018-01-01,,2023-01-01"},
			cohort.Closing{Day: day("2023-01-01"), Row: 5, Column: "death_date", NextLatest: day("2020-01-01"), GapDays: 1096}},
		{"a list of deaths, which sets none", cohort.Options{DeathLists: []cohort.Source{source("deaths.csv", "patient,death_date", "p,2023-01-01")}}, nil,
			cohort.Closing{Day: day("2020-01-01"), Row: 4, Column: "operation_date", NextLatest: day("2019-02-01"), GapDays: 334}},
		{"a table of revisions", cohort.Options{Revisions: []cohort.Source{source("revisions.csv", revisionHeadings, "p,knee,left,2023-01-01,")}}, nil,
			cohort.Closing{Day: day("2023-01-01"), File: 1, Row: 2, Column: "revision_date", NextLatest: day("2020-01-01"), GapDays: 1096}},
		{"two rows that say the same", cohort.Options{}, []string{"p,hip,left,2018-01-01,,2023-01-01", "r,hip,left,2018-01-01,,2023-01-01"},
			cohort.Closing{Day: day("2023-01-01"), Row: 5, Column: "death_date", NextLatest: day("2023-01-01")}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, test.o, table(append(slices.Clone(lines), test.more...)...))
			if d := cmp.Diff(test.want, c.Closing); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

func TestClosingDateDoubtful(t *testing.T) {
	for _, test := range []struct {
		name, last string
		asked      *cohort.Day
		want       bool
	}{
		{"90 days", "2020-03-31", nil, false}, // 31 + 29 + 30 days after 1 January
		{"91 days", "2020-04-01", nil, true},
		{"asked for", "2020-04-01", dayPointer("2020-04-01"), false},
	} {
		c := mustRead(t, cohort.Options{ClosingDate: test.asked}, table("operation_date,revision_date", "2020-01-01,", test.last+","))
		if got := c.Closing.Doubtful(); got != test.want {
			t.Errorf("%s: doubtful %v, gap %d", test.name, got, c.Closing.GapDays)
		}
	}
}

func TestClosingDateAsked(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-12-31")}, table("operation_date,revision_date",
		"2020-01-01,", "2020-12-31,", "2021-01-01,", "2020-06-01,2022-01-01"))
	if d := cmp.Diff(cohort.Closing{Day: day("2020-12-31"), Asked: true}, c.Closing); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if d := cmp.Diff([]cohort.Problem{{Row: 4, Column: "operation_date", Reason: cohort.OperationAfterClosing}}, c.SetAside()); d != "" {
		t.Errorf("set aside (-want +got):\n%s", d)
	}
	// 1 June to 31 December is 213 days.
	if d := cmp.Diff([]outcome{{0, 0}, {213, 0}, {365, 0}}, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// Follow-up can't be complete up to a day that has not come.
func TestClosingDateInTheFutureRefused(t *testing.T) {
	_, err := tryRead(t, cohort.Options{ClosingDate: dayPointer("2024-07-01")}, table("operation_date,revision_date", "2020-01-01,"))
	wantError(t, err, "closing date 2024-07-01 is after today, 2024-06-30")
	mustRead(t, cohort.Options{ClosingDate: dayPointer(today)}, table("operation_date,revision_date", "2020-01-01,"))
}

func TestFutureDatesAreSetAside(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,death_date",
		"2020-01-01,,",
		"2024-07-01,,",
		"2020-01-01,2024-07-01,",
		"2020-01-01,,2024-07-01"))
	want := []cohort.Problem{
		{Row: 3, Column: "operation_date", Reason: cohort.DateInFuture},
		{Row: 4, Column: "revision_date", Reason: cohort.DateInFuture},
		{Row: 5, Column: "death_date", Reason: cohort.DateInFuture},
	}
	if d := cmp.Diff(want, c.SetAside()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestNoDateAtAll(t *testing.T) {
	_, err := tryRead(t, cohort.Options{}, table("operation_date,revision_date", "soon,", ",never"))
	wantError(t, err, "no row can be used", "no date could be read")
}

// One year is 365.25 days, in one constant.
func TestDaysPerYear(t *testing.T) {
	if cohort.DaysPerYear != 365.25 {
		t.Errorf("%v", cohort.DaysPerYear)
	}
}

func TestDay(t *testing.T) {
	d := day("2024-02-29")
	if d.String() != "2024-02-29" || d.Year() != 2024 {
		t.Errorf("%v, %d", d, d.Year())
	}
	if day("1970-01-02") != 1 {
		t.Errorf("%d", day("1970-01-02"))
	}
	for _, s := range []string{"", "2023-02-29", "29/02/2024", "1899-12-31", "2200-01-01"} {
		if _, err := cohort.ParseDay(s); err == nil {
			t.Errorf("%q was read", s)
		}
	}
}

// Days that databases export where there is none are none: the table gives the
// same figures as with empty cells, and says how many there were.
func TestPlaceholderDays(t *testing.T) {
	rows := func(none string) string {
		lines := []string{"patient,joint,side,operation_date,revision_date,death_date,last_seen_date"}
		for i := range 40 {
			revised, died := none, none
			if i%8 == 0 {
				revised = "2016-03-01"
			}
			if i%7 == 0 {
				died = "2018-05-01"
			}
			lines = append(lines, fmt.Sprintf("p%d,hip,left,2012-05-%02d,%s,%s,%s", i, 1+i%28, revised, died, none))
		}
		return table(lines...)
	}
	want := mustRead(t, cohort.Options{}, rows(""))
	for _, none := range []string{"1900-01-01", "1753-01-01", "9999-12-31", "0000-00-00", "31/12/9999", "1900-01-01 00:00:00", "1899-12-30", "0001-01-01", "1970-01-01", "2099-12-31"} {
		got := mustRead(t, cohort.Options{}, rows(none))
		if d := cmp.Diff(want.Account(), got.Account()); d != "" || want.Closing.Day != got.Closing.Day {
			t.Errorf("%s: closed %s, clean %s; %s", none, got.Closing.Day, want.Closing.Day, d)
		}
		if a, b := joints(mustTally(t, want, nil, cohort.Endpoint{}).Set), joints(mustTally(t, got, nil, cohort.Endpoint{}).Set); !maps.Equal(a, b) {
			t.Errorf("%s: %v, clean %v", none, b, a)
		}
		said := strings.Join(got.Files[0].Notes, "\n")
		if !strings.Contains(said, "35 in revision_date, 34 in death_date, 40 in last_seen_date") &&
			!strings.Contains(said, fmt.Sprintf("%[1]s in 35 rows of revision_date; %[1]s in 34 rows of death_date; %[1]s in 40 rows of last_seen_date", none)) {
			t.Errorf("%s: %s", none, said)
		}
	}
	// A day of the settings is none too, however it is written.
	for _, none := range []string{"2015-07-08", "08/07/2015", "8 July 2015"} {
		got := mustRead(t, cohort.Options{Missing: []string{"2015-07-08"}, DateOrder: cohort.DayFirst}, rows(none))
		if d := cmp.Diff(want.Account(), got.Account()); d != "" {
			t.Errorf("%s: %s", none, d)
		}
	}
	// In two rows a day on which that can't be is a mistake like any other.
	c := mustRead(t, cohort.Options{}, table("operation_date,joint,side,revision_date", "2012-05-01,hip,left,1970-01-01", "2012-05-01,hip,left,1970-01-01", "2012-05-01,hip,left,", "2012-05-02,hip,left,2012-05-01", "2012-05-02,hip,left,2012-05-01", "2012-05-02,hip,left,2012-05-01"))
	if a := c.Account(); a.SetAside != 5 || a.Used != 1 {
		t.Errorf("%+v", a)
	}
	// An operation on such a day is a mistake, and stays one.
	if _, err := tryRead(t, cohort.Options{}, table("operation_date,joint,revision_date", "9999-12-31,hip,")); err == nil {
		t.Error("operated on 9999-12-31")
	}
}
