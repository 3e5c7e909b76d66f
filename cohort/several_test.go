package cohort_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// numbered is a table of 60 patients with random ages, sexes, ends and a second joint now and
// then, numbered from 1 with a prefix.
func numbered(seed uint64, prefix string) string {
	r := rand.New(rand.NewPCG(seed, 1))
	lines := []string{"patient,operation_date,joint,procedure,side,age,sex,revision_date,death_date,last_seen_date"}
	for i := range 60 {
		born, sex := 1930+r.IntN(40), []string{"f", "m"}[r.IntN(2)]
		for range 1 + r.IntN(5)/4 {
			operation := day("2005-01-01") + cohort.Day(r.IntN(3650))
			ends := [3]string{}
			if k := r.IntN(5); k < 3 {
				ends[k] = min(operation+cohort.Day(1+r.IntN(4000)), day("2019-12-30")).String()
			}
			lines = append(lines, fmt.Sprintf("%s%d,%s,%s,total,%s,%d,%s,%s,%s,%s", prefix, 1+i, operation, []string{"hip", "knee"}[r.IntN(2)],
				[]string{"left", "right"}[r.IntN(2)], operation.Year()-born, sex, ends[0], ends[1], ends[2]))
		}
	}
	return table(lines...)
}

// Two tables that each number their patients from 1 are found out by sexes and ages; kept apart, they
// come to what they come to with numbers of their own.
func TestPatientsByTable(t *testing.T) {
	o := cohort.Options{ClosingDate: dayPointer("2020-01-01")}
	together := mustRead(t, o, numbered(1, ""), numbered(2, ""))
	if s := together.InSeveralTables(); s.Patients != 60 || s.Compared != 60 || s.Contradicting < 50 || !s.Doubtful() {
		t.Errorf("%+v", s)
	}
	distinct := mustRead(t, o, numbered(1, "n"), numbered(2, "s"))
	if s := distinct.InSeveralTables(); s != (cohort.InSeveralTables{}) {
		t.Errorf("no number in two tables: %+v", s)
	}
	o.PatientsByTable = true
	apart := mustRead(t, o, numbered(1, ""), numbered(2, ""))
	if s := apart.InSeveralTables(); s != (cohort.InSeveralTables{}) {
		t.Errorf("kept apart: %+v", s)
	}
	if d := cmp.Diff(distinct.Account(), apart.Account()); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff(allOutcomes(t, distinct, cohort.Endpoint{}), allOutcomes(t, apart, cohort.Endpoint{})); d != "" {
		t.Error(d)
	}
	if alike := together.Account().Used; alike >= apart.Account().Used {
		t.Errorf("%d rows in use taken together, %d apart: the test shows nothing", alike, apart.Account().Used)
	}

	one := mustRead(t, o, numbered(1, ""))
	o.PatientsByTable = false
	if d := cmp.Diff(mustRead(t, o, numbered(1, "")).Account(), one.Account()); d != "" {
		t.Errorf("one table: %s", d)
	}
}

// The same patients in two tables are not doubted for a mistyped age or two, nor where
// nothing can be compared.
func TestInSeveralTables(t *testing.T) {
	hips := []string{"patient,operation_date,joint,procedure,side,revision_date,age,sex"}
	knees, bare := []string{hips[0]}, []string{"patient,operation_date,joint,procedure,side,revision_date"}
	for i := range 40 {
		age := 60 + i%20
		hips = append(hips, fmt.Sprintf("p%d,2010-03-04,hip,total,left,,%d,f", i, age))
		if i < 3 {
			age -= 10 // 3 of 40 contradict: fewer than one in ten
		}
		knees = append(knees, fmt.Sprintf("p%d,2013-03-04,knee,total,left,,%d,f", i, age+3))
		bare = append(bare, fmt.Sprintf("p%d,2013-03-04,knee,total,left,", i))
	}
	o := cohort.Options{ClosingDate: dayPointer("2020-01-01")}
	for _, test := range []struct {
		name, second string
		want         cohort.InSeveralTables
	}{
		{"mistyped", table(knees...), cohort.InSeveralTables{Patients: 40, Compared: 40, Contradicting: 3}},
		{"nothing to compare", table(bare...), cohort.InSeveralTables{Patients: 40}},
	} {
		got := mustRead(t, o, table(hips...), test.second).InSeveralTables()
		if got != test.want || got.Doubtful() {
			t.Errorf("%s: %+v", test.name, got)
		}
	}
	o.PatientsByTable, o.DeathLists = true, []cohort.Source{{Name: "deaths.csv"}}
	var wrong *cohort.OptionError
	if _, err := tryRead(t, o, table(hips...), table(knees...)); !errors.As(err, &wrong) {
		t.Errorf("a list of deaths can't be joined, and got %v", err)
	}
}

// A table that stands in another without patients' numbers, or with numbers of its own,
// is found by its joints; two tables of different joints are not.
func TestTablesAgain(t *testing.T) {
	withoutPatients := func(s string) string {
		var lines []string
		for _, line := range strings.Split(strings.TrimSpace(s), "\n") {
			_, rest, _ := strings.Cut(line, ",")
			lines = append(lines, rest)
		}
		return table(lines...)
	}
	o := cohort.Options{ClosingDate: dayPointer("2020-01-01")}
	for _, test := range []struct {
		name   string
		tables []string
		again  bool
	}{
		{"no patients", []string{withoutPatients(numbered(1, "")), withoutPatients(numbered(2, "")), withoutPatients(numbered(1, ""))}, true},
		{"other numbers", []string{numbered(1, "a"), numbered(2, "b"), numbered(1, "c")}, true},
		{"the same numbers, so that every row is set aside", []string{numbered(1, "a"), numbered(2, "b"), numbered(1, "a")}, false},
		{"other joints", []string{numbered(1, "a"), numbered(2, "b"), numbered(3, "c")}, false},
	} {
		c := mustRead(t, o, test.tables...)
		again := c.TablesAgain()
		if len(again) > 0 != test.again {
			t.Errorf("%s: %+v", test.name, again)
		}
		for _, a := range again {
			if a.File != 2 || a.Of != 0 || a.Too != a.Joints || a.Joints < 60 {
				t.Errorf("%s: %+v", test.name, a)
			}
		}
	}
}
