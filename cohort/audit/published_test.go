package audit_test

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/survival"
)

// manyHips are 300 hips operated on 1 January 2010 and followed to the closing
// date, 4017 days: 18 revised on day 181, 12 patients died on day 1461, after 4
// years.
var manyHips = "operation_date,procedure,bearing,age,sex,revision_date,death_date\n" +
	testaudit.Repeat(18, "2010-01-01,THR,CoC,60,F,2010-07-01,") +
	testaudit.Repeat(12, "2010-01-01,THR,CoC,60,F,,2014-01-01") +
	testaudit.Repeat(270, "2010-01-01,THR,CoC,60,F,,")

const publishedHeadings = "source,joint,procedure,bearing,age_band,sex,years,revision_pct,lower_pct,upper_pct,level,estimand,citation\n"

func many(t *testing.T, published string, o audit.Options) []testaudit.Row {
	t.Helper()
	o.Published = testaudit.Book(t, publishedHeadings+published)
	if o.By == nil {
		o.By = []string{}
	}
	return testaudit.Rows(t, testaudit.Run(t, testaudit.Read(t, manyHips, cohort.Options{ClosingDate: testaudit.Closing(t)}), o))
}

// The columns of the comparisons are a contract.
func TestComparisonColumns(t *testing.T) {
	var b bytes.Buffer
	if err := audit.WriteComparisons(&b, &audit.Audit{By: []string{"bearing", "surgeon"}}); err != nil {
		t.Fatal(err)
	}
	want := "joint,procedure,bearing,polyethylene,fixation,age_band,sex,diagnosis,surgeon,joints,revised,not_recorded,years,estimand,origin,match,reason," +
		"own_pct,own_lower_pct,own_upper_pct,at_risk,source,register,country,setting,subset,period_from,period_to,covers," +
		"published_pct,published_lower_pct,published_upper_pct,level,difference_pct,difference_lower_pct,difference_upper_pct," +
		"reading,read_with,together,sides,observed,expected,expected_to_years,joints_counted,interpolation_pct,ratio,ratio_lower,ratio_upper,notes\n"
	if d := cmp.Diff(want, b.String()); d != "" {
		t.Error(d)
	}
}

// What stands in the published columns of the first file: 1-KM figures alone, all
// of them. Own at 5 years: 18 of 300 revised, 6 %, exact limits about 3.6 to 9.3.
func TestPublishedColumns(t *testing.T) {
	const (
		low       = "low,hip,total,,,,5,1.0,0.9,1.1,,1-KM,Invented\n"
		km        = "km,hip,total,,,,5,4.0,3.0,5.0,,1-KM,Invented\n"
		incidence = "inc,hip,total,,,,5,4.5,3.5,5.5,,cumulative incidence,Invented\n"
		threshold = "limit,hip,total,,,,5,5,,,,threshold,Invented\n"
		pooled    = "pool,hip,total,,,,5,7,,,,pooled estimate,Invented\n"
	)
	for _, c := range []struct{ name, published, want string }{
		{"1-KM alone", km, "1 1 4 4 file compatible with"},
		{"two", low + km, "2 2 1 4 file above some"},
		{"incidence alone", incidence, ". . . . . ."},
		{"threshold alone", threshold, ". . . . . ."},
		{"pooled alone", pooled, ". . . . . ."},
		{"all", pooled + threshold + incidence + km, "1 1 4 4 file compatible with"},
	} {
		t.Run(c.name, func(t *testing.T) {
			rows := many(t, c.published, audit.Options{Years: []float64{5}})
			if len(rows) != 1 {
				t.Fatalf("%d rows", len(rows))
			}
			got := rows[0].Pick("published_figures", "published_registers", "published_least_pct", "published_most_pct", "published_origin", "reading")
			if d := cmp.Diff(c.want, got); d != "" {
				t.Error(d)
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
		testaudit.Repeat(10, "2010-01-01,THR,,2011-01-01") + testaudit.Repeat(5, "2010-01-01,THR,2012-01-01,") + testaudit.Repeat(5, "2010-01-01,THR,,")
	c := testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)})
	for estimand, want := range map[string]string{"1-KM": "50 40", "cumulative incidence": "25 15"} {
		a := testaudit.Run(t, c, audit.Options{By: []string{}, Years: []float64{3}, Published: testaudit.Book(t, publishedHeadings+"x,hip,total,,,,3,10.0,,,,"+estimand+",Invented\n")})
		if got := testaudit.Comparisons(t, a)[0].Pick("own_pct", "difference_pct"); got != want {
			t.Errorf("%s: %s, want %s", estimand, got, want)
		}
	}
}

// A threshold stands beside groups of one procedure by bearing, polyethylene or
// fixation: never beside all joints, an age band or a sex.
func TestThresholds(t *testing.T) {
	const limit = "limit,hip,total,,,,5,5,,,,threshold,Invented\n"
	for _, c := range []struct {
		by   []string
		o    cohort.Options
		want []string
	}{
		{[]string{"bearing", "sex"}, cohort.Options{}, []string{"ceramic-on-ceramic"}},
		{[]string{"age_band"}, cohort.Options{}, nil},
		{[]string{"bearing"}, cohort.Options{Where: []cohort.Condition{{Column: "sex", Value: "female"}}}, nil},
		{[]string{"sex"}, cohort.Options{Where: []cohort.Condition{{Column: "bearing", Value: "ceramic-on-ceramic"}}}, []string{"All"}},
	} {
		c.o.ClosingDate = testaudit.Closing(t)
		a := testaudit.Run(t, testaudit.Read(t, manyHips, c.o), audit.Options{By: c.by, Years: []float64{5}, NoCells: true, Published: testaudit.Book(t, publishedHeadings+limit)})
		var got []string
		for _, g := range a.Groups {
			for _, r := range g.Rows() {
				if len(r.Thresholds) > 0 {
					got = append(got, cmpWord(g.Word("bearing")))
				}
			}
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("by %v: %s", c.by, d)
		}
	}
}

func cmpWord(s string) string {
	if s == "" {
		return "All"
	}
	return s
}

// kinds is a table of 100 hips of 2010, of which only some have a value in each
// column.
var kinds = "operation_date,joint,procedure,bearing,age,sex,diagnosis,asa,revision_date,death_date\n" +
	testaudit.Repeat(60, "2010-01-01,hip,THR,CoC,60,F,OA,1,,") + testaudit.Repeat(20, "2010-01-01,hip,THR,CoC,50,M,fracture,1,,") +
	testaudit.Repeat(20, "2010-01-01,hip,THR,MoP,60,F,,2,2011-01-01,2013-01-01")

const kindHeadings = "source,joint,procedure,bearing,age_band,sex,diagnosis,setting,country,subset,period_from,period_to,years,revision_pct,lower_pct,upper_pct,estimand,citation\n"

// Each series meets the own joints of its kind, and none that is a subset, of one
// centre, of other years, of joints whose value is not recorded, or of joints
// narrowed by what it doesn't state is read.
func TestEachSeriesMeetsItsKind(t *testing.T) {
	series := func(cells string) string { return kindHeadings + "a,hip," + cells + ",1-KM,Invented\n" }
	where := func(column, value string) cohort.Options {
		return cohort.Options{Where: []cohort.Condition{{Column: column, Value: value}}}
	}
	for _, c := range []struct {
		name, published string
		o               cohort.Options
		want            string // joints, not recorded, match, reason
	}{
		{"all", series("total,,,,,,,,,,5,4.0,3.0,5.0"), cohort.Options{}, "100 0 like ."},
		{"bearing", series("total,CoC,,,,,,,,,5,4.0,3.0,5.0"), cohort.Options{}, "80 0 like ."},
		{"narrower than any group", series("total,,50-59,male,,,,,,,5,4.0,3.0,5.0"), cohort.Options{}, "20 0 like ."},
		{"superset of bearings", series("total,CoC|MoP,,,,,,,,,5,4.0,3.0,5.0"), cohort.Options{}, "100 0 like ."},
		{"diagnosis not recorded", series("total,,,,osteoarthritis,,,,,,5,4.0,3.0,5.0"), cohort.Options{}, "60 20 other diagnosis not recorded in 20 of 80"},
		{"subset", series("total,,,,,,,two designs,,,5,4.0,3.0,5.0"), cohort.Options{}, "100 0 other two designs"},
		{"one surgeon", series("total,,,,,one surgeon,,,,,5,4.0,3.0,5.0"), cohort.Options{}, "100 0 other one surgeon"},
		{"no procedure", series(",,,,,,,,,,5,4.0,3.0,5.0"), cohort.Options{}, "100 0 other no procedure stated"},
		{"earlier years", series("total,,,,,,,,1990,2009,5,4.0,3.0,5.0"), cohort.Options{}, "100 0 other 0 of the 100 that can reach 5 years were operated on in 1990–2009"},
		{"later years", series("total,,,,,,,,2010,,5,4.0,3.0,5.0"), cohort.Options{}, "100 0 like ."},
		{"too late", series("total,,,,,,,,,,15,4.0,3.0,5.0"), cohort.Options{}, "100 0 none operated on too late to reach 15 years"},
		{"narrowed by another column", series("total,,,,,,,,,,5,4.0,3.0,5.0"), where("asa", "1"), "80 0 other narrowed to asa 1"},
		{"narrowed by what is stated", series("total,,,female,,,,,,,5,4.0,3.0,5.0"), where("sex", "female"), "80 0 like ."},
		{"narrowed by what is not stated", series("total,,,,,,,,,,5,4.0,3.0,5.0"), where("sex", "female"), "80 0 other narrowed to sex female"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.o.ClosingDate, c.o.Keep = testaudit.Closing(t), []string{"diagnosis"}
			a := testaudit.Run(t, testaudit.Read(t, kinds, c.o), audit.Options{By: []string{}, Years: []float64{5}, Published: testaudit.Book(t, c.published)})
			rows := testaudit.Comparisons(t, a)
			if len(rows) != 1 {
				t.Fatalf("%d rows", len(rows))
			}
			if d := cmp.Diff(c.want, rows[0].Pick("joints", "not_recorded", "match", "reason")); d != "" {
				t.Error(d)
			}
			if read := rows[0]["match"] == "like"; read != (rows[0]["reading"] != "") || read != (a.Readings == 1) {
				t.Errorf("reading %q, %d readings", rows[0]["reading"], a.Readings)
			}
		})
	}
}

// An own file's figures are read alone; built-in ones of the same joints, year and
// estimand are listed, and those of another estimand are read.
func TestOwnFileComesFirst(t *testing.T) {
	builtin := testaudit.Book(t, kindHeadings+
		"b,hip,total,,,,,national register,Norway,,2005,2015,5,4.0,3.0,5.0,1-KM,Invented\n"+
		"c,hip,total,,,,,national register,Norway,,2005,2015,5,4.0,3.0,5.0,cumulative incidence,Invented\n"+
		"d,hip,total,,,,,national register,Norway,,,,5,4.0,3.0,5.0,1-KM,Invented\n")
	for _, s := range builtin {
		s.User = false
	}
	own := testaudit.Book(t, kindHeadings+"a,hip,total,,,,,,,,,,5,20.0,19.0,21.0,1-KM,Invented\n")
	a := testaudit.Run(t, testaudit.Read(t, kinds, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}, Years: []float64{5}, Published: append(own, builtin...)})
	var got []string
	for _, r := range testaudit.Comparisons(t, a) {
		got = append(got, r.Pick("source", "origin", "match", "reason", "reading", "read_with"))
	}
	want := []string{
		"a file like . compatible with 1", "b built-in like your own file's figures are read here . .",
		"c built-in like . above 2", "d built-in other no period stated . .",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// No table has a diagnosis: a series of osteoarthritis is met, said, and listed
// alone where one that states none has the same joints.
func TestDiagnosisTakenForGranted(t *testing.T) {
	arthritis := "a,hip,total,,,,osteoarthritis,,,,,,5,4.0,3.0,5.0,1-KM,Invented\n"
	table := strings.ReplaceAll(kinds, "diagnosis", "notes")
	for _, c := range []struct{ published, want string }{
		{arthritis, "like ."}, {arthritis + "b,hip,total,,,,,,,,,,5,4.0,3.0,5.0,1-KM,Invented\n", "other diagnosis not recorded"},
	} {
		a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}, Published: testaudit.Book(t, kindHeadings+c.published)})
		r := testaudit.Comparisons(t, a)[0]
		if got := r.Pick("match", "reason"); got != c.want || !strings.Contains(r["notes"], "diagnosis not recorded: taken as osteoarthritis") {
			t.Errorf("%s, notes %q", got, r["notes"])
		}
	}
}

// Within a field no series can state kinds are formed anew, for series that state
// nothing but a diagnosis.
func TestKindsWithinSurgeons(t *testing.T) {
	table := "operation_date,procedure,bearing,surgeon,revision_date,death_date\n" +
		testaudit.Repeat(40, "2010-01-01,THR,CoC,A,,") + testaudit.Repeat(30, "2010-01-01,THR,MoP,B,2010-02-01,2011-01-01")
	a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t), Keep: []string{"surgeon"}}), audit.Options{By: []string{"surgeon"}, Years: []float64{5},
		Published: testaudit.Book(t, kindHeadings+"a,hip,total,,,,,,,,,,1,4.0,3.0,5.0,1-KM,Invented\nb,hip,total,CoC,,,,,,,,,1,4.0,3.0,5.0,1-KM,Invented\n")})
	var got []string
	for _, r := range testaudit.Comparisons(t, a) {
		got = append(got, r.Pick("source", "bearing", "surgeon", "joints", "revised", "observed"))
	}
	want := []string{"a All All 70 30 30", "a All A 40 0 0", "a All B 30 30 30", "b ceramic-on-ceramic All 40 0 0"}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	for _, g := range a.Groups {
		if n := len(g.Ratios); n != 1 {
			t.Errorf("%s: %d ratios", g.Title(), n)
		}
	}
}

// A ratio needs most of the joints that count in the series' years.
func TestRatioOfOtherYears(t *testing.T) {
	rows := func(period string) []testaudit.Row {
		a := testaudit.Run(t, testaudit.Read(t, kinds, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{},
			Published: testaudit.Book(t, kindHeadings+"a,hip,total,,,,,,,,"+period+",5,4.0,3.0,5.0,1-KM,Invented\na,hip,total,,,,,,,,"+period+",15,9.0,8.0,10.0,1-KM,Invented\n")})
		return testaudit.Comparisons(t, a)
	}
	if r := rows("2005,2015")[0]; r.Pick("observed", "expected_to_years", "joints_counted") != "20 5 100" {
		t.Errorf("%v", r)
	}
	if r := rows("1990,1999")[0]; r["ratio"] != "" {
		t.Errorf("%v", r)
	}
}

// Years of published figures are added to the rows of the groups they match,
// and to no others.
func TestPublishedYears(t *testing.T) {
	table := manyHips + "2010-01-01,TKA,fixed,60,F,,\n"
	a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{"bearing"}, Years: []float64{1, 5},
		Published: testaudit.Book(t, publishedHeadings+"a,hip,total,,,,2,4,,,,1-KM,Invented\na,hip,total,,,,5,5,,,,1-KM,Invented\n"+
			"b,hip,total,CERAMIC-ON-CERAMIC,,,7,4,,,,1-KM,Invented\nc,knee,total,,,,15,9,,,,cumulative incidence,Invented\n"+
			"d,hip,total,,,,3,9,,,,pooled estimate,Invented\ne,hip,total,,<55,,4,9,,,,1-KM,Invented\n")})
	got := make(map[string][]string)
	for _, g := range a.Groups {
		for _, r := range g.Rows() {
			y := audit.Number(r.Years)
			if !r.Requested {
				y += "+"
			}
			key := g.Word("joint") + " " + g.Word("bearing")
			got[key] = append(got[key], y)
		}
	}
	want := map[string][]string{
		"hip All": {"1", "2+", "5", "7+"}, "hip ceramic-on-ceramic": {"1", "2+", "5", "7+"}, // the same joints
		"knee All": {"1", "5"}, "knee fixed": {"1", "5"}, // 15 years are out of reach
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// Where the reading's own level is not the figure's there is no difference's
// limit, and still a reading.
func TestOtherLevel(t *testing.T) {
	const published = "x,hip,total,,,,5,2,1.9,2.1,0.95,1-KM,Invented\n"
	columns := []string{"difference_lower_pct", "difference_upper_pct"}
	many := func(t *testing.T, published string, o audit.Options) []testaudit.Row {
		o.Published, o.By = testaudit.Book(t, publishedHeadings+published), []string{}
		return testaudit.Comparisons(t, testaudit.Run(t, testaudit.Read(t, manyHips, cohort.Options{ClosingDate: testaudit.Closing(t)}), o))
	}
	rows := many(t, published, audit.Options{Years: []float64{5}, Interval: survival.Interval{Level: 0.9}})
	if got := rows[0].Pick(columns...); got != ". ." || !testaudit.Near(rows[0].Number(t, "difference_pct"), 4) {
		t.Errorf("%s", got)
	}
	if rows[0]["reading"] == "" || !strings.Contains(rows[0]["notes"], "other level") {
		t.Errorf("reading %q, notes %q", rows[0]["reading"], rows[0]["notes"])
	}
	same := many(t, published, audit.Options{Years: []float64{5}})
	if same[0]["difference_lower_pct"] == "" || strings.Contains(same[0]["notes"], "other level") {
		t.Errorf("at 95 %%: %s, %s", same[0].Pick(columns...), same[0]["notes"])
	}
	if same[0]["reading"] != rows[0]["reading"] {
		t.Errorf("the reading is made at the figure's level: %q and %q", same[0]["reading"], rows[0]["reading"])
	}
}

// With an endpoint of single reasons nothing is compared with figures of all
// revisions.
func TestReasonsAreNotCompared(t *testing.T) {
	table := "operation_date,procedure,revision_date,revision_reason\n" +
		testaudit.Repeat(3, "2010-01-01,THR,2011-01-01,infection") + testaudit.Repeat(2, "2010-01-01,THR,2012-01-01,loosening") + testaudit.Repeat(95, "2010-01-01,THR,,")
	c := testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)})
	o := audit.Options{By: []string{}, Years: []float64{5}, Published: testaudit.Book(t, publishedHeadings+"x,hip,total,,,,5,2,1.9,2.1,0.95,1-KM,Invented\nx,hip,total,,,,7,2,1.9,2.1,,1-KM,Invented\nlimit,hip,total,,,,5,5,,,,threshold,Invented\n")}
	if rows := testaudit.Rows(t, testaudit.Run(t, c, o)); len(rows) != 2 || rows[0]["reading"] == "" {
		t.Fatalf("for any reason: %v", rows)
	}
	o.Endpoint.Reasons = []string{"infection"}
	a := testaudit.Run(t, c, o)
	rows := testaudit.Rows(t, a)
	if len(rows) != 1 {
		t.Fatalf("%d rows: years of figures that are not compared", len(rows))
	}
	for _, column := range []string{"published_figures", "published_least_pct", "reading"} {
		if rows[0][column] != "" {
			t.Errorf("%s is %q", column, rows[0][column])
		}
	}
	if got := rows[0].Pick("revised", "notes"); got != "3 deaths not recorded" {
		t.Error(got)
	}
	if g := a.Groups[0]; g.Other != 2 || a.Readings != 0 || len(a.Beside) != 0 {
		t.Errorf("%d for another reason, %d readings", g.Other, a.Readings)
	}
	if a.Event() != "revision for infection" {
		t.Error(a.Event())
	}
}

// Readings too few to say are no comparisons that could fall outside by chance.
func TestComparisonsCounted(t *testing.T) {
	table := manyHips + testaudit.Repeat(5, "2010-01-01,THR,MoP,60,F,,")
	a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{"bearing"}, Years: []float64{5},
		Published: testaudit.Book(t, publishedHeadings+"km,hip,total,,,,5,6,5,7,,1-KM,Invented\n")})
	// Beside all joints alone: the series states no bearing.
	var readings []string
	for _, r := range testaudit.Rows(t, a) {
		readings = append(readings, r.Pick("bearing", "reading"))
	}
	want := []string{"All compatible with", "metal-on-polyethylene .", "ceramic-on-ceramic ."}
	if d := cmp.Diff(want, readings); d != "" {
		t.Error(d)
	}
	if a.Readings != 1 || !testaudit.Near(a.ByChance, .05) {
		t.Errorf("%d readings, %v by chance; want 1, 0.05", a.Readings, a.ByChance)
	}
	if a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{}); a.Readings != 0 ||
		slices.ContainsFunc(a.Groups, func(g audit.Group) bool { return g.Expected() != nil }) {
		t.Error("something is compared without a book")
	}
}

// A user's own figures that no own joint is of are listed with the reason, and so
// are those of other joints; nobody need wonder where they went.
func TestFiguresThatNothingMeetsAreListed(t *testing.T) {
	a := testaudit.Run(t, testaudit.Read(t, manyHips, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}, Published: testaudit.Book(t, publishedHeadings+
		"one,hip,total,,,,5,4,3.5,4.5,,1-KM,c\n"+
		"two,knee,total,,,,5,4,3.5,4.5,,1-KM,c\n"+
		"two,hip,total,MoM,,,5,4,3.5,4.5,,1-KM,c\n"+
		"two,hip,total,MoM,,,10,8,7,9,,1-KM,c\n")})
	var got []string
	for _, r := range testaudit.Comparisons(t, a) {
		got = append(got, strings.Join([]string{r["source"], r["joint"], r["bearing"], r["years"], r["match"], r["reason"], r["joints"]}, ","))
	}
	none := ",none,no own joint is of its kind,0"
	if d := cmp.Diff([]string{"one,hip,All,5,like,,300", "two,knee,All,5" + none, "two,hip,metal-on-metal,5" + none, "two,hip,metal-on-metal,10" + none}, got); d != "" {
		t.Error(d)
	}
	if len(a.Beside) != 1 || len(a.Unmet) != 3 {
		t.Errorf("%d beside, %d unmet", len(a.Beside), len(a.Unmet))
	}
}

// A series that is nil is an error, not a crash.
func TestPublishedNil(t *testing.T) {
	c := testaudit.Read(t, "operation_date,procedure,revision_date\n2010-01-01,THR,\n", cohort.Options{ClosingDate: testaudit.Closing(t)})
	if a, err := audit.Run(c, audit.Options{Published: []*benchmark.Series{nil}}); a != nil || err == nil {
		t.Errorf("%v, %v", a, err)
	}
}
