package cohort_test

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival/tally"
)

// today is the machine's day in all tests that do not set one.
const today = "2024-06-30"

func day(s string) cohort.Day {
	d, err := cohort.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

func dayPointer(s string) *cohort.Day {
	d := day(s)
	return &d
}

// table is lines as a text table.
func table(lines ...string) string { return strings.Join(lines, "\n") + "\n" }

// tryRead reads tables from memory, named t1.csv, t2.csv and so on.
func tryRead(t testing.TB, o cohort.Options, tables ...string) (*cohort.Cohort, error) {
	t.Helper()
	if o.Today == 0 {
		o.Today = day(today)
	}
	var sources []cohort.Source
	for i, s := range tables {
		sources = append(sources, cohort.Source{Name: fmt.Sprintf("t%d.csv", i+1), Reader: strings.NewReader(s)})
	}
	return cohort.Read(t.Context(), sources, o)
}

func mustRead(t testing.TB, o cohort.Options, tables ...string) *cohort.Cohort {
	t.Helper()
	c, err := tryRead(t, o, tables...)
	if err != nil {
		t.Fatalf("reading: %v", err)
	}
	balanced(t, c)
	return c
}

// balanced checks what must hold for every cohort: no row vanishes.
func balanced(t testing.TB, c *cohort.Cohort) {
	t.Helper()
	a := c.Account()
	if a.Read != a.Used+a.SetAside {
		t.Errorf("rows read %d, used %d, set aside %d", a.Read, a.Used, a.SetAside)
	}
	rows := 0
	for _, f := range c.Files {
		if f.Holds == "primaries" {
			rows += f.Rows
		}
	}
	if rows != a.InFiles || len(c.Scope) == 0 && a.Read != a.InFiles {
		t.Errorf("rows in files %d and %d, read %d, conditions %v", rows, a.InFiles, a.Read, c.Scope)
	}
	if n := len(c.SetAside()); n != a.SetAside {
		t.Errorf("%d rows listed as set aside, %d counted", n, a.SetAside)
	}
	count := func(problems []cohort.Problem) map[cohort.Reason]int {
		n := make(map[cohort.Reason]int)
		for _, p := range problems {
			n[p.Reason]++
		}
		return n
	}
	for _, part := range []struct {
		counts   []cohort.ReasonCount
		problems []cohort.Problem
	}{{a.Reasons, c.SetAside()}, {a.Warnings, c.Warnings()}} {
		listed := count(part.problems)
		total := 0
		for _, r := range part.counts {
			total += r.Rows
			if listed[r.Reason] != r.Rows {
				t.Errorf("%v: %d rows counted, %d listed", r.Reason, r.Rows, listed[r.Reason])
			}
		}
		if total != len(part.problems) {
			t.Errorf("%d problems counted, %d listed", total, len(part.problems))
		}
	}
	groups := mustTally(t, c, nil, cohort.Endpoint{})
	var used int64
	for _, counts := range groups.Set.All() {
		used += counts.Subjects()
	}
	if used != int64(a.Used) {
		t.Errorf("%d rows tallied, %d used", used, a.Used)
	}
}

func mustTally(t testing.TB, c *cohort.Cohort, by []string, e cohort.Endpoint) *cohort.Groups {
	t.Helper()
	g, err := c.Tally(by, e)
	if err != nil {
		t.Fatalf("tally by %v: %v", by, err)
	}
	return g
}

// outcome is the end of one joint's follow-up.
type outcome struct {
	Day   int32
	Cause int // 0: censored
}

// outcomes lists the ends of follow-up of one group, by day and cause.
func outcomes(c *tally.Counts) []outcome {
	var all []outcome
	for d := range c.Days() {
		for cause := range c.Causes() + 1 {
			for range c.On(int32(d), cause) {
				all = append(all, outcome{int32(d), cause})
			}
		}
	}
	return all
}

// allOutcomes lists the ends of follow-up of all rows in use.
func allOutcomes(t testing.TB, c *cohort.Cohort, e cohort.Endpoint) []outcome {
	t.Helper()
	var whole *tally.Counts
	for _, counts := range mustTally(t, c, nil, e).Set.All() {
		if whole == nil {
			whole = tally.New(counts.Causes())
		}
		if err := whole.Merge(counts); err != nil {
			t.Fatal(err)
		}
	}
	if whole == nil {
		return nil
	}
	return outcomes(whole)
}

// names are the levels of a key, with "All" for a pooled dimension.
func names(s *tally.Set, k tally.Key) string {
	var all []string
	for i, d := range s.Dimensions {
		if l := k.Level(i); l == tally.All {
			all = append(all, "All")
		} else {
			all = append(all, d.Levels[l])
		}
	}
	return strings.Join(all, "|")
}

// joints is the number of joints in each group.
func joints(s *tally.Set) map[string]int64 {
	n := make(map[string]int64)
	for k, c := range s.All() {
		n[names(s, k)] = c.Subjects()
	}
	return n
}

// ordered lists the groups in the order of the set.
func ordered(s *tally.Set) []string {
	var all []string
	for k := range s.All() {
		all = append(all, names(s, k))
	}
	return all
}

// earliest is a day before every operation of the tests but those that need an
// earlier one, and a row of it: a table beside others in which a row is used
// whatever the closing date.
const earliest = "1900-01-01"

// closedEarly reads tables as of a closing date and lists the rows that are set
// aside then.
func closedEarly(t testing.TB, o cohort.Options, closing cohort.Day, tables []string) []cohort.Problem {
	t.Helper()
	o.ClosingDate = &closing
	c, err := tryRead(t, o, append(slices.Clone(tables), table("operation_date,revision_date", earliest+","))...)
	if err != nil {
		t.Fatal(err)
	}
	return c.SetAside()
}

// rowsRead are the numbers of the rows of some tables, all of them operated on
// after the earliest day.
func rowsRead(t testing.TB, o cohort.Options, tables ...string) []int {
	t.Helper()
	var rows []int
	for _, p := range closedEarly(t, o, day(earliest), tables) {
		rows = append(rows, p.Row)
	}
	return rows
}

// operations gives the operation date of each row of some tables: the first
// closing date on which the row is not set aside for being operated on later.
// It is "" for a row set aside for what comes before that.
func operations(t testing.TB, o cohort.Options, tables ...string) []string {
	t.Helper()
	var all []string
	for _, p := range closedEarly(t, o, day(earliest), tables) {
		if p.Reason != cohort.OperationAfterClosing {
			all = append(all, "")
			continue
		}
		days := sort.Search(int(day(today)-day(earliest)), func(days int) bool {
			return !slices.ContainsFunc(closedEarly(t, o, day(earliest)+cohort.Day(days), tables), func(q cohort.Problem) bool {
				return q.File == p.File && q.Row == p.Row && q.Reason == cohort.OperationAfterClosing
			})
		})
		all = append(all, (day(earliest) + cohort.Day(days)).String())
	}
	return all
}

// wantError checks an error's message, and that there is one.
func wantError(t testing.TB, err error, parts ...string) {
	t.Helper()
	if err == nil {
		t.Fatal("no error")
	}
	for _, p := range parts {
		if !strings.Contains(err.Error(), p) {
			t.Errorf("error %q lacks %q", err, p)
		}
	}
}
