package cohort

import (
	"fmt"
	"strings"
	"testing"

	"example.org/holdfast/survival/tally"
)

// today is the machine's day in all tests that do not set one.
const today = "2024-06-30"

func day(s string) Day {
	d, err := ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

func dayPointer(s string) *Day {
	d := day(s)
	return &d
}

// table is lines as a text table.
func table(lines ...string) string { return strings.Join(lines, "\n") + "\n" }

// tryRead reads tables from memory, named t1.csv, t2.csv and so on.
func tryRead(t testing.TB, o Options, tables ...string) (*Cohort, error) {
	t.Helper()
	if o.Today == 0 {
		o.Today = day(today)
	}
	var sources []Source
	for i, s := range tables {
		sources = append(sources, Source{Name: fmt.Sprintf("t%d.csv", i+1), Reader: strings.NewReader(s)})
	}
	return Read(t.Context(), sources, o)
}

func mustRead(t testing.TB, o Options, tables ...string) *Cohort {
	t.Helper()
	c, err := tryRead(t, o, tables...)
	if err != nil {
		t.Fatalf("reading: %v", err)
	}
	balanced(t, c)
	return c
}

// balanced checks what must hold for every cohort: no row vanishes.
func balanced(t testing.TB, c *Cohort) {
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
	count := func(problems []Problem) map[Reason]int {
		n := make(map[Reason]int)
		for _, p := range problems {
			n[p.Reason]++
		}
		return n
	}
	for _, part := range []struct {
		counts   []ReasonCount
		problems []Problem
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
	groups := mustTally(t, c, nil, Endpoint{})
	var used int64
	for _, counts := range groups.Set.All() {
		used += counts.Subjects()
	}
	if used != int64(a.Used) {
		t.Errorf("%d rows tallied, %d used", used, a.Used)
	}
}

func mustTally(t testing.TB, c *Cohort, by []string, e Endpoint) *Groups {
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
func allOutcomes(t testing.TB, c *Cohort, e Endpoint) []outcome {
	t.Helper()
	whole := tally.New(len(e.causes()))
	for _, counts := range mustTally(t, c, nil, e).Set.All() {
		if err := whole.Merge(counts); err != nil {
			t.Fatal(err)
		}
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
