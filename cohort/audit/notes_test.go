package audit_test

import (
	"bytes"
	"encoding/json"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/disclose"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/survival"
)

// documented are the note codes of doc.go: a code, two spaces or more, and what
// it means.
func documented(t *testing.T) []string {
	t.Helper()
	b, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	_, list, ok := strings.Cut(string(b), "# Notes\n")
	if !ok {
		t.Fatal("doc.go has no section of notes")
	}
	var codes []string
	for _, m := range regexp.MustCompile(`(?m)^//\t(\S.*?)  +\S`).FindAllStringSubmatch(list, -1) {
		codes = append(codes, m[1])
	}
	if len(codes) < 10 {
		t.Fatalf("%d codes found in doc.go", len(codes))
	}
	slices.Sort(codes)
	return codes
}

// Every code that an output may hold is documented, and every documented code
// comes out of some table.
func TestNoteCodes(t *testing.T) {
	const y4 = "2014-01-01" // 1461 days after 2010-01-01, 4 years to the day
	deaths := "operation_date,procedure,revision_date,death_date\n2010-01-01,THR,,2010-02-01\n"
	scenarios := []struct {
		name      string
		table     string
		published string
		o         audit.Options
	}{
		{"follow-up, few and none revised", deaths + testaudit.Repeat(12, "2010-01-01,THR,,"), "", audit.Options{Years: []float64{1, 15}}},
		{"the last one fails", deaths + "2010-01-01,THR," + y4 + ",\n", "", audit.Options{Years: []float64{4}}},
		{"deaths not recorded, with a published incidence", "operation_date,procedure,revision_date\n2010-01-01,THR,\n",
			"a,hip,total,,,,4,4,3,5,,cumulative incidence,Invented\n", audit.Options{}},
		{"limits rounded away, none left", manyHips, "a,hip,total,,,,5,4,4,4,,1-KM,Invented\na,hip,total,,,,7,4,,,,1-KM,Invented\n", audit.Options{}},
		{"diagnosis taken for granted", manyHips, "", audit.Options{Published: testaudit.Book(t, "source,joint,procedure,diagnosis,years,revision_pct,lower_pct,upper_pct,estimand,citation\n"+
			"a,hip,total,osteoarthritis,5,4.0,3.0,5.0,1-KM,Invented\n")}},
		{"joints alone, and a number at risk", manyHips, "", audit.Options{Published: testaudit.Book(t, "source,joint,procedure,years,revision_pct,joints,at_risk,estimand,citation\n"+
			"a,hip,total,3,4.0,1000,,1-KM,Invented\na,hip,total,5,5.0,1000,600,1-KM,Invented\n")}},
		{"fewer than ten", deaths + testaudit.Repeat(8, "2010-01-01,THR,,"), "a,hip,total,,,,5,4,3,5,,1-KM,Invented\n", audit.Options{}},
		{"zero could not read below", deaths + testaudit.Repeat(40, "2010-01-01,THR,,"), "a,hip,total,,,,5,4,3,5,,1-KM,Invented\nb,hip,total,,,,6,.5,0,2,,1-KM,Invented\n", audit.Options{}},
		{"other level", manyHips, "a,hip,total,,,,5,4,3,5,,1-KM,Invented\n", audit.Options{Interval: survival.Interval{Level: .9}}},
		// Plain limits of 18 in 300 are 3.3 to 8.7, the exact ones 3.6 to 9.3:
		// between them lies 3.5.
		{"near the line", manyHips, "a,hip,total,,,,5,3.5,,,,1-KM,Invented\n", audit.Options{Interval: survival.Interval{Method: survival.Plain}}},
		{"a method that the incidence does not have", manyHips, "a,hip,total,,,,1,3.5,,,,1-KM,Invented\n", audit.Options{Interval: survival.Interval{Method: survival.Log}}},
	}
	known := documented(t)
	var seen []string
	for _, s := range scenarios {
		t.Run(s.name, func(t *testing.T) {
			s.o.By = []string{}
			if s.published != "" {
				s.o.Published = testaudit.Book(t, publishedHeadings+s.published)
			}
			c := testaudit.Read(t, s.table, cohort.Options{ClosingDate: testaudit.Closing(t)})
			a := testaudit.Run(t, c, s.o)
			shared, err := disclose.Run(c, s.o)
			if err != nil {
				t.Fatal(err)
			}
			form(t, a)
			codes := jsonNotes(t, a)
			for _, r := range slices.Concat(testaudit.Rows(t, a), testaudit.Rows(t, shared)) {
				if r["notes"] != "" {
					codes = append(codes, strings.Split(r["notes"], "; ")...)
				}
			}
			for _, code := range codes {
				if !slices.Contains(known, code) {
					t.Errorf("code %q is not documented", code)
				}
			}
			seen = append(seen, codes...)
		})
	}
	slices.Sort(seen)
	if d := cmp.Diff(known, slices.Compact(seen)); d != "" {
		t.Errorf("documented, and seen:\n%s", d)
	}
}

// jsonNotes are the note codes of rows and comparisons in the JSON.
func jsonNotes(t *testing.T, a *audit.Audit) []string {
	t.Helper()
	var d struct {
		Groups      []struct{ Rows []struct{ Notes []string } }
		Comparisons []struct{ Notes []string }
	}
	if err := json.NewDecoder(bytes.NewReader(testaudit.JSON(t, a))).Decode(&d); err != nil {
		t.Fatal(err)
	}
	var codes []string
	for _, g := range d.Groups {
		for _, r := range g.Rows {
			codes = append(codes, r.Notes...)
		}
	}
	for _, c := range d.Comparisons {
		codes = append(codes, c.Notes...)
	}
	return codes
}

// A row says each thing once: that nobody was followed so far is reason enough
// for an own value that is not there.
func TestNotesSayThingsOnce(t *testing.T) {
	rows := many(t, "a,hip,total,,,,15,4,3,5,,1-KM,Invented\n", audit.Options{Years: []float64{15}})
	if got := rows[0]["notes"]; got != "beyond follow-up" {
		t.Errorf("notes %q", got)
	}
}

// Without deaths both estimates are doubtful, and every row says so.
func TestDeathsNotRecorded(t *testing.T) {
	const headings = "operation_date,procedure,age,revision_date"
	body := func(tail string) string {
		return testaudit.Repeat(3, "2005-01-01,THR,75,2007-01-01"+tail) + testaudit.Repeat(57, "2005-01-01,THR,75,"+tail)
	}
	for _, c := range []struct {
		name, table string
		recorded    bool
	}{
		{"no column", headings + "\n" + body(""), false},
		// 60 people of 75 over 16 years: far more than 5 deaths are expected.
		{"a column without a death", headings + ",death_date\n" + body(","), false},
		{"a death", headings + ",death_date\n" + body(",") + "2005-01-01,THR,75,,2010-01-01\n", true},
		{"few and young", headings + ",death_date\n2019-01-01,THR,40,,\n", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := testaudit.Run(t, testaudit.Read(t, c.table, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{Years: []float64{1, 3, 20}})
			for _, r := range testaudit.Rows(t, a) {
				noted := slices.Contains(strings.Split(r["notes"], "; "), audit.NoteNoDeaths)
				empty := r.Pick("incidence_pct", "incidence_se_pct", "incidence_lower_pct", "incidence_upper_pct") == ". . . ."
				beyond := strings.Contains(r["notes"], audit.NoteBeyond)
				if noted == c.recorded || empty != (beyond || !c.recorded) {
					t.Errorf("years %s: incidence %q, notes %q", r["years"], r["incidence_pct"], r["notes"])
				}
				if (r["died"] == "") == c.recorded {
					t.Errorf("years %s: died %q", r["years"], r["died"])
				}
				if !beyond && r["km_pct"] == "" {
					t.Errorf("years %s: no Kaplan–Meier", r["years"])
				}
			}
			said := slices.ContainsFunc(a.Notes, func(n string) bool { return strings.HasPrefix(n, "Deaths not recorded") })
			if said == c.recorded {
				t.Errorf("notes %q", a.Notes)
			}
		})
	}
}

// A latest date that stands alone is named with its row and column.
func TestDoubtfulClosingDate(t *testing.T) {
	table := func(last string) string {
		return testaudit.Lines("operation_date,procedure,revision_date", "2015-01-01,THR,", "2016-01-01,THR,", last)
	}
	for _, c := range []struct {
		last     string
		closing  bool
		doubtful bool
	}{
		{"2016-03-31,THR,", false, false}, // 90 days on
		{"2016-04-01,THR,", false, true},  // 91
		{"2016-04-01,THR,", true, false},  // asked for
		{"2015-06-01,THR,2021-03-05", false, true},
	} {
		o := cohort.Options{}
		if c.closing {
			o.ClosingDate = testaudit.Closing(t)
		}
		a := testaudit.Run(t, testaudit.Read(t, table(c.last), o), audit.Options{})
		i := slices.IndexFunc(a.Notes, func(n string) bool { return strings.HasPrefix(n, "The closing date") })
		if (i >= 0) != c.doubtful {
			t.Errorf("%s: notes %q", c.last, a.Notes)
		}
		if i >= 0 && !strings.Contains(a.Notes[i], "row 4, column") {
			t.Errorf("%s: %s", c.last, a.Notes[i])
		}
	}
}

// Rows that make every estimate too low are said first.
func TestRowsThatLowerEstimates(t *testing.T) {
	table := testaudit.Lines("patient,operation_date,procedure,side,revision_date,revised",
		"A,2010-01-01,THR,L,,", "A,2014-01-01,THR,L,,", // perhaps its revision
		"B,2010-01-01,THR,L,2011-01-01,", "B,2013-01-01,THR,L,,", // revised before that anyway
		"C,2010-01-01,THR,L,,yes", "D,2010-01-01,THR,L,,yes", "E,2010-01-01,THR,L,,no")
	a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}})
	if len(a.Notes) < 2 || !strings.HasPrefix(a.Notes[0], "2 rows are set aside because the joint was revised on a day that is not known.") {
		t.Fatalf("notes %q", a.Notes)
	}
	// Of A, B and E in use B is revised; with A's second row two would be.
	if !strings.HasPrefix(a.Notes[1], "1 joint that is not revised stands in the table a second time") || !strings.Contains(a.Notes[1], "the number revised would be 2 instead of 1") {
		t.Errorf("%s", a.Notes[1])
	}
	if got := a.Account; got.Read != 7 || got.Used != 3 || got.SetAside != 4 {
		t.Errorf("%+v", got)
	}
}

// A default field that the table lacks is left out, and said; one that was asked
// for is refused.
func TestFieldsThatTheTableLacks(t *testing.T) {
	c := testaudit.Read(t, "operation_date,procedure,fixation,revision_date\n2015-01-01,THR,cemented,\n", cohort.Options{ClosingDate: testaudit.Closing(t)})
	a := testaudit.Run(t, c, audit.Options{})
	if d := cmp.Diff([]string{"fixation"}, a.By); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"bearing", "age_band"}, a.DroppedBy); d != "" {
		t.Error(d)
	}
	if !slices.ContainsFunc(a.Notes, func(n string) bool { return strings.Contains(n, "bearing or age_band") }) {
		t.Errorf("notes %q", a.Notes)
	}
	_, err := audit.Run(c, audit.Options{By: []string{"fixation", "bearing"}})
	if unknown, ok := err.(*cohort.UnknownFieldError); !ok || unknown.Wanted != "bearing" {
		t.Errorf("error %v", err)
	}
	for _, by := range [][]string{{"fixation", "fixation"}, {"joint"}} {
		if _, err := audit.Run(c, audit.Options{By: by}); err == nil {
			t.Errorf("by %v: no error", by)
		}
	}
}

// The method names what was asked for.
func TestMethod(t *testing.T) {
	c := testaudit.Read(t, manyHips, cohort.Options{ClosingDate: testaudit.Closing(t)})
	for _, w := range []struct {
		interval survival.Interval
		says     string
		not      string
	}{
		{survival.Interval{}, "95 % intervals: log-log, on log(−log S) for Kaplan–Meier and on log(−log F) for the incidence", ""},
		{survival.Interval{}, "fewer than 30 at risk, where one more revision moves the estimate by more than 3.3 points", ""},
		{survival.Interval{MinAtRisk: 50}, "fewer than 50 at risk, where one more revision moves the estimate by more than 2 points", ""},
		{survival.Interval{MinAtRisk: -1}, "Below 10 at risk revised/joints", "-"},
		{survival.Interval{Level: .999, Method: survival.Plain}, "99.9 % intervals: plain.", ""},
		{survival.Interval{Method: survival.BetaProduct}, "beta-product for Kaplan–Meier; the incidence keeps log-log", ""},
		{survival.Interval{Method: survival.Log}, "log for Kaplan–Meier; the incidence keeps log-log", ""},
		{survival.Interval{}, "Greenwood variance", ""},
	} {
		a := testaudit.Run(t, c, audit.Options{Interval: w.interval})
		i := slices.IndexFunc(a.Method, func(m string) bool { return strings.Contains(m, w.says) })
		if i < 0 {
			t.Errorf("%+v: no %q in %q", w.interval, w.says, a.Method)
		} else if w.not != "" && strings.Contains(a.Method[i], w.not) {
			t.Errorf("%+v: %s", w.interval, a.Method[i])
		}
	}
	for _, iv := range []survival.Interval{{Level: 1}, {Level: -1}, {Method: 9}} {
		if _, err := audit.Run(c, audit.Options{Interval: iv}); err == nil {
			t.Errorf("%+v: no error", iv)
		}
	}
}
