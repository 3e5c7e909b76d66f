package cohort_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// What must never be said: an identifier, and a birth date in each form in
// which it could be written.
var secrets = []string{"SECRET", "secret", "1931-07-13", "13/07/1931", "07/13/1931", "13.07.1931", "19310713", "11517", "1931"}

// said is all that a cohort says of its tables.
func said(c *cohort.Cohort) string {
	return fmt.Sprintf("%+v\n%+v\n%+v\n%+v\n%+v\n%+v\n%+v\n%+v\n%+v\n%v", c.Files, c.Closing, c.Account(), c.Deaths(), c.Scope, c.SetAside(), c.Warnings(), c.Words(), c.Completeness(), c.Fields())
}

func keepsSecrets(t *testing.T, what, text string) {
	t.Helper()
	for _, s := range secrets {
		if i := strings.Index(text, s); i >= 0 {
			t.Errorf("%s says %q: …%s…", what, s, text[max(0, i-60):min(len(text), i+60)])
		}
	}
}

// identified adds columns that identify to each row of a table of the given
// text: a patient, a case number, a birth date or year.
func identified(text, separator string, born func(i int) string) string {
	lines := strings.Split(strings.TrimRight(text, "\r\n"), "\n")
	for i, line := range lines {
		line = strings.TrimRight(line, "\r")
		if i == 0 {
			lines[i] = strings.Join([]string{"patient", "joint_id", "dob", "yob", line}, separator)
		} else {
			lines[i] = strings.Join([]string{fmt.Sprintf("SECRET%d", i%3), "secret", born(i), "1931", line}, separator)
		}
	}
	return table(lines...)
}

func TestIdentifyingValuesAreNeverSaid(t *testing.T) {
	births := map[string]func(i int) string{
		"ISO":           func(int) string { return "1931-07-13" },
		"day first":     func(int) string { return "13/07/1931" },
		"month first":   func(int) string { return "07/13/1931" },
		"contradicting": func(i int) string { return []string{"13/07/1931", "07/13/1931"}[i%2] },
		"serial":        func(int) string { return "11517" }, // 13 July 1931
		"no date":       func(int) string { return "SECRET of old" },
		"impossible":    func(int) string { return "1931-07-13-secret" },
	}
	var texts []string
	add := func(lines ...string) { texts = append(texts, table(lines...)) }
	add("operation_date,revision_date", "2020-01-01,")
	add("operation_date,revision_date,age", "2020-01-01,,2", "2020-01-01,,3") // no usable row
	add("operation_date,side", "2020-01-01,left")                             // a column missing
	add("operation_date,operation_date,revision_date", "2020-01-01,2020-01-01,")
	add("operation_date,revision_date", "03/04/2019,", "05/06/2019,") // ambiguous
	add("operation_date,revision_date,side", "03/04/2019,,left", "05/06/2019,,right", "someday,,x")
	add("operation_date,revision_date,joint,side", "2020-01-01,,hip,left", "2020-01-01,,hip,left", "2020-01-01,,hip,left", "2021-01-01,,hip,left", "2021-01-01,,hip,left", "2021-01-01,,hip,left")
	add("operation_date,revision_date,age", "2020-01-01,,70", "2020-01-01,,old")
	add(everyHeadingBut("patient", "birth_date", "birth_year"), "2020-01-01,hip,B", "2020-01-01,toe,L/R,THR", "2020-01-01,hip,left,revision THR", `"2020-01-01,hip`)
	files, err := filepath.Glob(filepath.Join(tablesFolder, "*.csv"))
	if err != nil || len(files) < 20 {
		t.Fatalf("%d tables, %v", len(files), err)
	}
	for _, name := range files {
		if filepath.Base(name) == "quoted.csv" {
			continue // its lines are not its rows
		}
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		text := strings.TrimPrefix(string(b), "\ufeff")
		for strings.HasPrefix(text, "#") || strings.HasPrefix(text, "\n") || strings.HasPrefix(text, "\r\n") { // the cells go before the headings
			_, text, _ = strings.Cut(text, "\n")
		}
		texts = append(texts, text)
	}
	read, refused := 0, 0
	for kind, born := range births {
		for i, text := range texts {
			for _, o := range []cohort.Options{
				{EveryColumn: true},
				{DateOrder: cohort.DayFirst, Keep: []string{"notes", "diagnosis"}},
				{Where: []cohort.Condition{{"side", "nowhere"}}},
				{Where: []cohort.Condition{{"patient", "SECRET1"}}},
				{Keep: []string{"dob"}},
				{Columns: map[string]string{"dob": "death_date"}},
			} {
				// The settings say what identifies: a condition on a patient is the
				// user's own word and is not repeated either.
				what := fmt.Sprintf("table %d, births %s, options %+v", i, kind, o)
				for _, separator := range []string{",", ";"} {
					c, err := tryRead(t, o, identified(text, separator, born))
					if err != nil {
						refused++
						keepsSecrets(t, what, err.Error())
						keepsSecrets(t, what, fmt.Sprintf("%+v", err))
						continue
					}
					read++
					keepsSecrets(t, what, said(c))
				}
			}
		}
	}
	if read < 200 || refused < 200 {
		t.Errorf("%d tables read and %d refused: too few to test anything", read, refused)
	}
}

func everyHeadingBut(without ...string) string {
	var kept []string
	for h := range strings.SplitSeq(everyHeading, ",") {
		keep := true
		for _, w := range without {
			keep = keep && h != w
		}
		if keep {
			kept = append(kept, h)
		}
	}
	return strings.Join(kept, ",")
}

// A word that stands for many patients is nobody's, be it on many days or few, and
// what lists say of it is nobody's either: of 20,000 rows none is set aside, and
// finding that out takes no longer than reading them.
func TestIdentifierOfThousands(t *testing.T) {
	rows, revisions, deaths := []string{"patient,joint,side,operation_date"}, []string{"patient,joint,side,revision_date"}, []string{"patient,death_date"}
	for i := range 20000 {
		day := i % 2000
		if i >= 10000 {
			day = i % 5
		}
		rows = append(rows, fmt.Sprintf("%s,hip,%s,20%02d-%02d-%02d", []string{"0/00", "00"}[i/10000], []string{"left", "right"}[i%2], 5+day/336, 1+day%336/28, 1+day%28))
		revisions = append(revisions, fmt.Sprintf("%s,hip,left,2015-01-%02d", []string{"0/00", "000"}[i%2], 1+i%28))
		deaths = append(deaths, fmt.Sprintf("%s,2015-02-%02d", []string{"0/00", "0"}[i%2], 1+i%28))
	}
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01"),
		Revisions: []cohort.Source{source("r.csv", revisions...)}, DeathLists: []cohort.Source{source("d.csv", deaths...)}}, table(rows...))
	a := c.Account()
	if a.Used != 20000 {
		t.Errorf("%d of 20000 rows used: %v", a.Used, a.Reasons)
	}
	for _, o := range allOutcomes(t, c, cohort.Endpoint{}) {
		if o.Cause != 0 {
			t.Fatalf("somebody has a revision or a death of nobody's: %v", o)
		}
	}
}

// Of many patients born on one day each is asked about once, and no row is
// compared with all others.
func TestThousandsBornOnOneDay(t *testing.T) {
	rows := []string{"patient,joint,side,operation_date,revision_date,birth_date,sex"}
	for i := range 20000 {
		rows = append(rows, fmt.Sprintf("p%d,hip,left,20%02d-%02d-01,,1950-01-01,F", i, 10+i%10, 1+i%12))
	}
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-01-01")}, table(rows...))
	if n := len(c.Warnings()); n != 19999 {
		t.Errorf("%d warnings, want 19999", n)
	}
}

// Very many rows under one word that is no identifier are linked in pieces, and come to
// what they do each by itself.
func TestACrowdIsLinkedInPieces(t *testing.T) {
	var crowd, apart strings.Builder
	for _, b := range []*strings.Builder{&crowd, &apart} {
		b.WriteString("patient,operation_date,joint,side,procedure,revision_date,death_date\nA,2015-01-02,hip,L,THR,,2018-01-01\nA,2016-01-02,hip,R,THR,,\n")
	}
	for i := range 10_000 {
		rest := fmt.Sprintf(",20%02d-03-0%d,hip,%s,THR,%s,\n", 10+i%9, 1+i%7, []string{"L", "R"}[i%2], []string{"", "", "2020-05-06"}[i%3])
		crowd.WriteString("private" + rest)
		fmt.Fprintf(&apart, "P%d%s", i, rest)
	}
	read := func(text string) *cohort.Cohort {
		return mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-01-01")}, text)
	}
	one, many := read(crowd.String()), read(apart.String())
	if d := cmp.Diff(allOutcomes(t, many, cohort.Endpoint{}), allOutcomes(t, one, cohort.Endpoint{})); d != "" {
		t.Errorf("(-apart +crowd):\n%s", d)
	}
	a := one.Account()
	if a.Used != 10_002 || a.SetAside != 0 {
		t.Errorf("%+v", a)
	}
	warned := 0
	for _, p := range one.Problems() {
		if p.Reason == cohort.IdentifierOfMany {
			warned++
		}
	}
	if warned != 10_000 {
		t.Errorf("%d rows are said to have an identifier of many", warned)
	}
}

// Rows that say nothing of a joint are listed as they follow one another, and one by
// one where rows are listed.
func TestRowsThatSayNothingAreRanges(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-01-01")}, table("patient,operation_date,joint,side,procedure,revision_date",
		"A,2015-01-02,hip,L,THR,", "Total of,,,,,", "Total of,,,,,", "Total of,,,,,", "B,2015-01-02,hip,L,THR,", "Total of,,,,,", "C,someday,hip,L,THR,"))
	want := []cohort.Problem{{Row: 3, To: 5, Column: "operation_date", Reason: cohort.NotAJoint}, {Row: 7, Column: "operation_date", Reason: cohort.NotAJoint}, {Row: 8, Column: "operation_date", Reason: cohort.OperationDateImpossible}}
	got := slices.DeleteFunc(c.Problems(), func(p cohort.Problem) bool { return !p.Reason.SetsAside() })
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	var rows []int
	for _, p := range c.SetAside() {
		if p.To != 0 || p.Rows() != 1 {
			t.Errorf("%+v", p)
		}
		rows = append(rows, p.Row)
	}
	if d := cmp.Diff([]int{3, 4, 5, 7, 8}, rows); d != "" || want[0].Rows() != 3 {
		t.Errorf("(-want +got):\n%s", d)
	}
}
