package audit_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/survival"
)

// manyHips are 300 hips operated on 1 January 2010 and followed to the closing
// date, 4017 days: 18 revised on day 181, 12 patients died on day 1461, after 4
// years.
var manyHips = "operation_date,procedure,bearing,age,sex,revision_date,death_date\n" +
	repeat(18, "2010-01-01,THR,CoC,60,F,2010-07-01,") +
	repeat(12, "2010-01-01,THR,CoC,60,F,,2014-01-01") +
	repeat(270, "2010-01-01,THR,CoC,60,F,,")

const publishedHeadings = "source,joint,procedure,bearing,age_band,sex,years,revision_pct,lower_pct,upper_pct,level,estimand,citation\n"

func many(t *testing.T, published string, o audit.Options) []row {
	t.Helper()
	o.Book = book(t, publishedHeadings+published)
	if o.By == nil {
		o.By = []string{}
	}
	return csvRows(t, run(t, read(t, manyHips, cohort.Options{ClosingDate: closing(t)}), o))
}

// What stands in the published columns, and what the difference is taken from.
//
// Own at 5 years: 18 of 300 revised, 6 %; without a death before the last
// revision the incidence is 6 % too. Its exact limits are about 3.6 to 9.3, so
// that 4 (3 to 5), 4.5 (3.5 to 5.5) and 5 are all compatible: the lower limit
// of the difference to the first is 2 − √(2.4² + 1²) = −.6.
func TestOneEstimateForEachRow(t *testing.T) {
	const (
		km        = "km,hip,,,,,5,4,3,5,,1-KM,Invented\n"
		incidence = "inc,hip,,,,,5,4.5,3.5,5.5,,cumulative incidence,Invented\n"
		threshold = "limit,hip,,,,,5,5,,,,threshold,Invented\n"
		pooled    = "pool,hip,,,,,5,7,,,,pooled estimate,Invented\n"
	)
	nan := math.NaN()
	for _, c := range []struct {
		name, published, want string
		difference            float64
	}{
		{"1-KM alone", km, "km 4 1-KM compatible with", 2},
		{"incidence alone", incidence, "inc 4.5 cumulative incidence compatible with", 1.5},
		{"threshold alone", threshold, "limit 5 threshold compatible with", 1},
		{"pooled alone", pooled, ". . . .", nan},
		{"1-KM before incidence", incidence + km, "km 4 1-KM compatible with", 2},
		{"estimate before threshold", threshold + incidence, "inc 4.5 cumulative incidence compatible with", 1.5},
		{"all", pooled + threshold + incidence + km, "km 4 1-KM compatible with", 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			rows := many(t, c.published, audit.Options{Years: []float64{5}})
			if len(rows) != 1 {
				t.Fatalf("%d rows", len(rows))
			}
			got := rows[0].pick("published_source", "published_pct", "published_estimand", "reading")
			if d := cmp.Diff(c.want, got); d != "" {
				t.Error(d)
			}
			if got := rows[0].number(t, "difference_pct"); !near(got, c.difference) {
				t.Errorf("difference %v, want %v", got, c.difference)
			}
		})
	}
}

// The difference is own less published of the same kind: with deaths before
// the revisions the two own estimates differ.
//
// 20 hips: on day 365 ten patients die, on day 730 five hips are revised of the
// ten left: Kaplan–Meier 1/2; incidence 1·10/20·5/10 = 1/4.
func TestDifferenceByEstimand(t *testing.T) {
	table := "operation_date,procedure,revision_date,death_date\n" +
		repeat(10, "2010-01-01,THR,,2011-01-01") + repeat(5, "2010-01-01,THR,2012-01-01,") + repeat(5, "2010-01-01,THR,,")
	c := read(t, table, cohort.Options{ClosingDate: closing(t)})
	for _, w := range []struct {
		estimand, want string
	}{{"1-KM", "50 25 40"}, {"cumulative incidence", "50 25 15"}, {"threshold", "50 25 40"}} {
		a := run(t, c, audit.Options{By: []string{}, Years: []float64{3}, Book: book(t, publishedHeadings+"x,hip,,,,,3,10,,,,"+w.estimand+",Invented\n")})
		if got := csvRows(t, a)[0].pick("km_pct", "incidence_pct", "difference_pct"); got != w.want {
			t.Errorf("%s: %s, want %s", w.estimand, got, w.want)
		}
	}
}

// A threshold of a year that has an estimate too is still in the audit.
func TestThresholdBesideEstimate(t *testing.T) {
	a := run(t, read(t, manyHips, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{}, Years: []float64{5},
		Book: book(t, publishedHeadings+"km,hip,,,,,5,4,3,5,,1-KM,Invented\nlimit,hip,,,,,5,5,,,,threshold,Invented\n")})
	r := a.Groups[0].Rows[0]
	if r.Comparison == nil || r.Comparison.Series.Source != "km" || r.Threshold == nil || r.Threshold.Series.Source != "limit" {
		t.Errorf("comparison %v, threshold %v", r.Comparison, r.Threshold)
	}
	if a.Comparisons != 1 || math.Abs(a.ByChance-.05) > 1e-15 {
		t.Errorf("%d comparisons, %v by chance; a threshold is none", a.Comparisons, a.ByChance)
	}
}

// The notes of a row with an estimate are not those of its threshold. Of 150
// none is revised: enough to read below 4 % (3 to 5), which takes 94, and too
// few for 1 %, which takes 368.
func TestNotesOfThresholdBesideEstimate(t *testing.T) {
	const note = "zero revised could not read below"
	table := "operation_date,procedure,revision_date,death_date\n2010-01-01,THR,,2011-01-01\n" + repeat(150, "2010-01-01,THR,,")
	c := read(t, table, cohort.Options{ClosingDate: closing(t)})
	rows := func(published string) row {
		a := run(t, c, audit.Options{By: []string{}, Years: []float64{5}, Book: book(t, publishedHeadings+published)})
		return csvRows(t, a)[0]
	}
	const threshold = "limit,hip,,,,,5,1,,,,threshold,Invented\n"
	if r := rows(threshold); r["reading"] != "too few to say" || !strings.Contains(r["notes"], note) {
		t.Errorf("threshold alone: %s, notes %q", r["reading"], r["notes"])
	}
	if r := rows(threshold + "km,hip,,,,,5,4,3,5,,1-KM,Invented\n"); r["reading"] != "below" || strings.Contains(r["notes"], note) {
		t.Errorf("both: %s, notes %q", r["reading"], r["notes"])
	}
}

// Years of published figures are added to the rows of the groups they match,
// and to no others.
func TestPublishedYears(t *testing.T) {
	table := manyHips + "2010-01-01,TKA,fixed,60,F,,\n"
	a := run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{"bearing"}, Years: []float64{1, 5},
		Book: book(t, publishedHeadings+"a,hip,,,,,2,4,,,,1-KM,Invented\na,hip,,,,,5,5,,,,1-KM,Invented\n"+
			"b,hip,,CERAMIC-ON-CERAMIC,,,7,4,,,,1-KM,Invented\nc,knee,,,,,15,9,,,,cumulative incidence,Invented\n"+
			"d,hip,,,,,3,9,,,,pooled estimate,Invented\ne,hip,,,<55,,4,9,,,,1-KM,Invented\n")})
	got := make(map[string][]string)
	for _, g := range a.Groups {
		for _, r := range g.Rows {
			y := audit.Number(r.Years)
			if !r.Requested {
				y += "+"
			}
			key := g.Word("joint") + " " + g.Word("bearing")
			got[key] = append(got[key], y)
		}
	}
	want := map[string][]string{
		"hip All": {"1", "2+", "5"}, "hip ceramic-on-ceramic": {"1", "2+", "5", "7+"},
		"knee All": {"1", "5", "15+"}, "knee fixed": {"1", "5", "15+"},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// Observed, expected and ratio stand on every row of a group, whatever is
// compared there.
//
// Against a curve of 2 % at 1 year and 5 % at 5, hazards −ln .98 and −ln .95:
// the 18 revised on day 181 are expected to have −ln .98·181/365.25 each, the 12
// who died on day 1461, after 4 years, three quarters of the way from the
// first to the second, the other 270 all of it.
func TestExpectedOnEveryRow(t *testing.T) {
	rows := many(t, "early,hip,,,,,1,2,,,,1-KM,Invented\nearly,hip,,,,,5,5,,,,1-KM,Invented\nlate,hip,,,,F*,10,9,,,,1-KM,Invented\n", audit.Options{Years: []float64{1, 3, 15}})
	h1, h5 := -math.Log(.98), -math.Log(.95)
	expected := 18*h1*181/365.25 + 12*(h1+(h5-h1)*3/4) + 270*h5
	var years []string
	for _, r := range rows {
		years = append(years, r["years"])
		if got := r.pick("observed", "expected_to_years", "expected_source"); got != "18 5 early" {
			t.Errorf("%s years: %s", r["years"], got)
		}
		if !near(r.number(t, "expected"), expected) || !near(r.number(t, "ratio"), 18/expected) {
			t.Errorf("%s years: expected %s, ratio %s; want %v, %v", r["years"], r["expected"], r["ratio"], expected, 18/expected)
		}
		if strings.Contains(r["notes"], "no early published figure") {
			t.Errorf("%s years: %s", r["years"], r["notes"])
		}
	}
	if d := cmp.Diff([]string{"1", "3", "5", "15"}, years); d != "" {
		t.Error(d)
	}
	// A single figure at 10 years gives no expected number.
	for _, r := range many(t, "late,hip,,,,,10,9,,,,1-KM,Invented\n", audit.Options{Years: []float64{5}}) {
		if got := r.pick("observed", "expected", "expected_to_years", "ratio", "ratio_lower", "ratio_upper", "expected_source"); got != ". . . . . . ." {
			t.Errorf("%s years: %s", r["years"], got)
		}
		if !strings.Contains(r["notes"], "no early published figure") {
			t.Errorf("%s years: notes %q", r["years"], r["notes"])
		}
	}
}

// Where the reading's own level is not the figure's there is no difference's
// limit, and still a reading.
func TestOtherLevel(t *testing.T) {
	const published = "x,hip,,,,,5,2,1.9,2.1,0.95,1-KM,Invented\n"
	columns := []string{"difference_lower_pct", "difference_upper_pct"}
	rows := many(t, published, audit.Options{Years: []float64{5}, Interval: survival.Interval{Level: 0.9}})
	if got := rows[0].pick(columns...); got != ". ." || !near(rows[0].number(t, "difference_pct"), 4) {
		t.Errorf("%s", got)
	}
	if rows[0]["reading"] == "" || !strings.Contains(rows[0]["notes"], "other level") {
		t.Errorf("reading %q, notes %q", rows[0]["reading"], rows[0]["notes"])
	}
	same := many(t, published, audit.Options{Years: []float64{5}})
	if same[0]["difference_lower_pct"] == "" || strings.Contains(same[0]["notes"], "other level") {
		t.Errorf("at 95 %%: %s, %s", same[0].pick(columns...), same[0]["notes"])
	}
	if same[0]["reading"] != rows[0]["reading"] {
		t.Errorf("the reading is made at the figure's level: %q and %q", same[0]["reading"], rows[0]["reading"])
	}
}

// With an endpoint of single reasons nothing is compared with figures of all
// revisions.
func TestReasonsAreNotCompared(t *testing.T) {
	table := "operation_date,procedure,revision_date,revision_reason\n" +
		repeat(3, "2010-01-01,THR,2011-01-01,infection") + repeat(2, "2010-01-01,THR,2012-01-01,loosening") + repeat(95, "2010-01-01,THR,,")
	c := read(t, table, cohort.Options{ClosingDate: closing(t)})
	o := audit.Options{By: []string{}, Years: []float64{5}, Book: book(t, publishedHeadings+"x,hip,,,,,5,2,1.9,2.1,0.95,1-KM,Invented\nx,hip,,,,,7,2,1.9,2.1,,1-KM,Invented\nlimit,hip,,,,,5,5,,,,threshold,Invented\n")}
	if rows := csvRows(t, run(t, c, o)); len(rows) != 2 || rows[0].pick("revised", "published_source", "expected") == "5 . ." {
		t.Fatalf("for any reason: %v", rows)
	}
	o.Endpoint.Reasons = []string{"infection"}
	a := run(t, c, o)
	rows := csvRows(t, a)
	if len(rows) != 1 {
		t.Fatalf("%d rows: years of figures that are not compared", len(rows))
	}
	for _, column := range []string{"published_pct", "published_source", "difference_pct", "reading", "observed", "expected", "ratio", "expected_source"} {
		if rows[0][column] != "" {
			t.Errorf("%s is %q", column, rows[0][column])
		}
	}
	if got := rows[0].pick("revised", "notes"); got != "3 deaths not recorded" {
		t.Error(got)
	}
	if g := a.Groups[0]; g.Other != 2 || a.Comparisons != 0 {
		t.Errorf("%d for another reason, %d comparisons", g.Other, a.Comparisons)
	}
	if a.Event() != "revision for infection" {
		t.Error(a.Event())
	}
}

// A value that the scope or an assumption gives every row is the group's own,
// though nothing is grouped by it.
func TestScopeAndAssumptionsMatch(t *testing.T) {
	const published = "female,hip,,,,female,5,2,,,,1-KM,Invented\nyoung,hip,,,<65,,6,2,,,,1-KM,Invented\nceramic,hip,,ceramic-on-ceramic,,,7,3,,,,1-KM,Invented\nmale,hip,,,,male,9,2,,,,1-KM,Invented\nanybody,hip,,,,,8,3,,,,1-KM,Invented\n"
	const bare = "operation_date,procedure,revision_date\n2010-01-01,THR,\n"
	where := func(pairs ...string) (all []cohort.Condition) {
		for _, p := range pairs {
			column, value, _ := strings.Cut(p, "=")
			all = append(all, cohort.Condition{Column: column, Value: value})
		}
		return all
	}
	for _, c := range []struct {
		name  string
		table string
		o     cohort.Options
		want  string // years of the figures that match
	}{
		{"nothing said", manyHips, cohort.Options{}, "8"},
		{"scope", manyHips, cohort.Options{Where: where("sex=F")}, "5 8"},
		{"scope of a band", manyHips, cohort.Options{Where: where("age_band=55-64")}, "6 8"},
		{"two scopes", manyHips, cohort.Options{Where: where("sex=woman", "bearing=CoC")}, "5 7 8"},
		{"two values of one column", manyHips + "2010-01-01,THR,MoP,60,M,,\n", cohort.Options{Where: where("sex=F", "sex=M")}, "8"},
		{"assumption in the canonical word", bare, cohort.Options{Assume: map[string]string{"sex": "female"}}, "5 8"},
		{"assumption as typed", bare, cohort.Options{Assume: map[string]string{"sex": "F", "bearing": "CoC"}}, "5 7 8"},
		{"assumption that is no word", bare, cohort.Options{Assume: map[string]string{"sex": "somebody"}}, "8"},
		{"joint assumed", "operation_date,revision_date\n2010-01-01,\n", cohort.Options{Assume: map[string]string{"joint": "Hips", "sex": "f"}}, "5 8"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.o.ClosingDate = closing(t)
			a := run(t, read(t, c.table, c.o), audit.Options{By: []string{}, Years: []float64{1}, Book: book(t, publishedHeadings+published)})
			var years []string
			for _, r := range a.Groups[0].Rows {
				if r.Comparison != nil {
					years = append(years, audit.Number(r.Years))
				}
			}
			if got := strings.Join(years, " "); got != c.want {
				t.Errorf("figures at %s years, want %s", got, c.want)
			}
		})
	}
}

// A group whose age is not recorded meets only figures of all ages.
func TestAgeNotRecorded(t *testing.T) {
	table := lines("operation_date,procedure,age,revision_date", "2010-01-01,THR,60,", "2010-01-01,THR,,")
	a := run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{"age_band"}, Years: []float64{1},
		Book: book(t, publishedHeadings+"a,hip,,,<65,,5,2,,,,1-KM,Invented\nb,hip,,,55-64,,6,2,,,,1-KM,Invented\nc,hip,,,,,7,2,,,,1-KM,Invented\nd,hip,,,55-59,,8,2,,,,1-KM,Invented\n")})
	var got []string
	for _, g := range a.Groups {
		var years []string
		for _, r := range g.Rows {
			if r.Comparison != nil {
				years = append(years, audit.Number(r.Years))
			}
		}
		got = append(got, fmt.Sprint(g.Word("age_band"), " ", strings.Join(years, ",")))
	}
	if d := cmp.Diff([]string{"All 7", "55-64 5,6,7", "not recorded 7"}, got); d != "" {
		t.Error(d)
	}
}

// Readings too few to say are no comparisons that could fall outside by chance.
func TestComparisonsCounted(t *testing.T) {
	table := manyHips + repeat(5, "2010-01-01,THR,MoP,60,F,,")
	a := run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{"bearing"}, Years: []float64{5},
		Book: book(t, publishedHeadings+"km,hip,,,,,5,6,5,7,,1-KM,Invented\n")})
	var readings []string
	for _, r := range csvRows(t, a) {
		readings = append(readings, r.pick("bearing", "reading"))
	}
	want := []string{"All compatible with", "metal-on-polyethylene too few to say", "ceramic-on-ceramic compatible with"}
	if d := cmp.Diff(want, readings); d != "" {
		t.Error(d)
	}
	if a.Comparisons != 2 || !near(a.ByChance, .1) {
		t.Errorf("%d comparisons, %v by chance; want 2, 0.1", a.Comparisons, a.ByChance)
	}
	if a := run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{}); a.Comparisons != 0 ||
		slices.ContainsFunc(a.Groups, func(g audit.Group) bool { return g.Expected != nil }) {
		t.Error("something is compared without a book")
	}
}
