package disclose_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/disclose"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/survival"
)

// practice is a table of 300 hips. Every word of it that may identify somebody
// is marked: names begin with Zz, and days are the 17th.
func practice() string {
	r := rand.New(rand.NewPCG(4, 1))
	var b strings.Builder
	b.WriteString("# List of Zzpreamble of 17 May 2019\n\n")
	b.WriteString("Patient,Operation date,procedure,side,bearing,fixation,age,sex,surgeon,Zzheading,revision_date,death_date,last_seen_date\n")
	for i := range 300 {
		year, revision, death, seen := 2005+r.IntN(14), "", "", ""
		if x := r.Float64(); x < 0.12 {
			revision = fmt.Sprintf("%d-%02d-17", year+1+r.IntN(2020-year), 1+r.IntN(12))
		} else if x < 0.2 {
			death = fmt.Sprintf("%d-%02d-17", year+1+r.IntN(2020-year), 1+r.IntN(12))
		} else if x < 0.25 {
			seen = fmt.Sprintf("%d-12-17", year)
		}
		bearing := []string{"MoP", "CoP", "CoC", "Zzbearing"}[min(3, r.IntN(4)+r.IntN(2)*r.IntN(2))]
		surgeon := []string{"Zzsurgeon A", "Zzsurgeon B", "Zzsurgeon C"}[r.IntN(3)]
		fmt.Fprintf(&b, "Zz%d,%d-%02d-17,THR,L,%s,%s,%d,F,%s,Zzword,%s,%s,%s\n", i, year, 1+r.IntN(11), bearing,
			[]string{"cemented", "porous", "hybrid"}[r.IntN(3)], 40+r.IntN(50), surgeon, revision, death, seen)
	}
	b.WriteString("Zz300,,THR,L,MoP,cemented,60,F,Zzsurgeon A,Zzword,,,\n")                     // set aside
	b.WriteString("Zz301,2016-03-17,THR,L,MoP,cemented,60,F,Zzsurgeon A,Zzword,2015-01-17,,\n") // set aside
	return b.String()
}

const practicePublished = `source,joint,procedure,years,revision_pct,lower_pct,upper_pct,estimand,citation,seen_at,seen_on
invented,hip,total,1,1.5,1.4,1.6,1-KM,Invented for a test,Zzplace,2020-05-17
invented,hip,total,5,4,3.8,4.2,1-KM,Invented for a test,Zzplace,2020-05-17
invented,hip,total,7.5,5,4.8,5.2,1-KM,Invented for a test,Zzplace,2020-05-17
invented,hip,total,10,6,5.8,6.2,1-KM,Invented for a test,Zzplace,2020-05-17
limit,hip,total,10,5,,,threshold,Invented for a test,Zzplace,2020-05-17
`

// yearly are the whole years up to n.
func yearly(n int) []float64 {
	var years []float64
	for y := range n {
		years = append(years, float64(y+1))
	}
	return years
}

// practiceOf is the practice, and how it is audited.
func practiceOf(t *testing.T, by ...string) (*cohort.Cohort, audit.Options) {
	t.Helper()
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "lists/Zzsurgeon 2020-12-17.csv", Reader: strings.NewReader(practice())}},
		cohort.Options{Today: testaudit.Day(t, "2024-06-30"), Where: []cohort.Condition{{Column: "surgeon", Value: "Zzsurgeon A"}, {Column: "surgeon", Value: "Zzsurgeon B"}, {Column: "surgeon", Value: "Zzsurgeon C"}}})
	if err != nil {
		t.Fatal(err)
	}
	return c, audit.Options{By: by, Years: append(yearly(15), 2.5), WorstCase: true, Published: testaudit.Book(t, practicePublished)}
}

func share(t *testing.T, c audit.Source, o audit.Options) *audit.Audit {
	t.Helper()
	s, err := disclose.Run(c, o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// marks finds what must not be in a shared audit.
var marks = regexp.MustCompile(`(?i)zz|-17\b|17 May|\b17/|[0-9]{4}-[0-9]{2}-[0-9]{2}`)

// Nothing marked, no date and no exact count is left in any exported field.
func TestSharedHoldsNothingMarked(t *testing.T) {
	c, o := practiceOf(t, "bearing", "fixation", "surgeon", "age_band", "operation_year")
	from := testaudit.Run(t, c, o)
	if !marks.MatchString(fmt.Sprintf("%+v", from.Files)) || !marks.Match(testaudit.JSON(t, from)) {
		t.Fatal("nothing is marked in the audit itself")
	}
	to := share(t, c, o)
	// Numbers that are about the published figures, the settings and the sharing.
	public := regexp.MustCompile(`^\.(Shared|Years|Interval|LostAfter|Readings|ByChance)|\.(Figure|Series|ToYears|Level|Pooling|Time|Years|Basis\.Level|Notes|Method|PublishedExact|Reading|ReadWith|Together|Interpolation|Points|Sides|File|Reason|Rate\.Per|Joined)\b`)
	derived := regexp.MustCompile(`\.(Estimate|SE|Lower|Upper|Difference|DifferenceLower|DifferenceUpper|Rate|Expected|Ratio|Basis)\b`)
	numbers := 0
	var walk func(path string, v reflect.Value)
	walk = func(path string, v reflect.Value) {
		switch v.Kind() {
		case reflect.Pointer, reflect.Interface:
			if !v.IsNil() {
				walk(path, v.Elem())
			}
		case reflect.Slice, reflect.Array:
			for i := range v.Len() {
				walk(path, v.Index(i))
			}
		case reflect.Map:
			t.Errorf("%s: a map is not looked into", path)
		case reflect.Struct:
			for i := range v.NumField() {
				f := v.Type().Field(i)
				if !f.IsExported() {
					if !v.Field(i).IsZero() {
						t.Errorf("%s.%s is not exported and not empty", path, f.Name)
					}
					continue
				}
				walk(path+"."+f.Name, v.Field(i))
			}
		case reflect.String:
			if marks.MatchString(v.String()) {
				t.Errorf("%s: %q", path, v.String())
			}
		case reflect.Bool:
		case reflect.Float64:
			if x := v.Float(); !public.MatchString(path) && !derived.MatchString(path) {
				numbers++
				if !math.IsNaN(x) && math.Mod(x, 5) != 0 && !strings.HasSuffix(path, ".Joints") {
					t.Errorf("%s is %v", path, x)
				}
			}
		default:
			if d, ok := v.Interface().(cohort.Day); ok {
				if d != 0 && !strings.HasSuffix(d.String(), "-01-01") {
					t.Errorf("%s is the day %s", path, d)
				}
				return
			}
			var n int64
			switch {
			case v.CanInt():
				n = v.Int()
			case v.CanUint():
				n = int64(v.Uint())
			default:
				t.Fatalf("%s is a %s", path, v.Kind())
			}
			if !public.MatchString(path) && !strings.HasSuffix(path, ".Level") && !strings.HasSuffix(path, ".Shown") {
				numbers++
				if n != -1 && (n%5 != 0 || n < 0) && (!strings.HasSuffix(path, ".Joints") || n < 8) {
					t.Errorf("%s is %d", path, n)
				}
			}
		}
	}
	walk("", reflect.ValueOf(*to))
	if numbers < 1000 {
		t.Errorf("only %d numbers looked at", numbers)
	}
	for name, b := range map[string][]byte{"CSV": testaudit.CSV(t, to), "JSON": testaudit.JSON(t, to)} {
		if found := marks.FindAllString(string(b), -1); len(found) > 0 {
			t.Errorf("%s: %q", name, found)
		}
	}
	for _, g := range to.Groups {
		if g.Pooling == audit.Cell || g.Counts != nil || g.KaplanMeier() != nil || g.Incidence() != nil {
			t.Errorf("%s: a cell, or a curve", g.Title())
		}
	}
	if got := to.Scope[2].Value; !regexp.MustCompile(`^surgeon \d$`).MatchString(got) {
		t.Errorf("scope is %q", got)
	}
}

// The same table gives the same audit, and what gives small counts away is refused.
func TestRunAgain(t *testing.T) {
	c, o := practiceOf(t, "bearing", "fixation")
	first := testaudit.JSON(t, share(t, c, o))
	if string(first) != string(testaudit.JSON(t, share(t, c, o))) {
		t.Error("sharing again gives another audit")
	}
	o.ExpectedOwn = true
	if _, err := disclose.Run(c, o); err == nil {
		t.Error("units beside their own department were shared")
	}
}

// hundreds is a table of n joints operated on on 1 January 2010, of which some
// were revised on a day and others died on one.
func hundreds(n, revised, died int) string {
	return "operation_date,procedure,bearing,revision_date,death_date\n" +
		testaudit.Repeat(revised, "2010-01-01,THR,MoP,2012-01-01,") + testaudit.Repeat(died, "2010-01-01,THR,MoP,,2014-01-01") +
		testaudit.Repeat(n-revised-died, "2010-01-01,THR,MoP,,")
}

const publishedHeadings = "source,joint,procedure,bearing,fixation,age_band,years,revision_pct,lower_pct,upper_pct,joints,estimand,citation\n"

// logLog are the limits where d of n were revised, and then others of others, on
// log(−log S) with Greenwood's variance (Kalbfleisch & Prentice).
func logLog(dn ...float64) (lower, upper float64) {
	s, v := 1., 0.
	for i := 0; i < len(dn); i += 2 {
		d, n := dn[i], dn[i+1]
		s, v = s*(1-d/n), v+d/(n*(n-d))
	}
	k := 1.959963984540054 * math.Sqrt(v) / -math.Log(s)
	return 1 - math.Pow(s, math.Exp(-k)), 1 - math.Pow(s, math.Exp(k))
}

// Numbers by hand: 203 joints, 12 revised on the day of the second year, 31 died in
// the fourth. 12 is told as 10, which stands for 8 to 12, and 203 as 205, for 203 to 207; all are
// followed until then, so that the estimate is 10 of 205, and its limits are those of 8 of 207 and of 12 of 203. By
// the third year the most is 8 in the second and 4 in the third, of the 203 at risk that
// are the least of 205 less half of the 11 who leave until the least of 190, 188.
func TestNumbersByHand(t *testing.T) {
	c := testaudit.Read(t, hundreds(203, 12, 31), cohort.Options{ClosingDate: testaudit.Closing(t)})
	o := audit.Options{By: []string{"bearing"}, Years: yearly(12), Published: testaudit.Book(t, publishedHeadings+"a,hip,total,,,,3,4,3,5,,1-KM,Invented\n")}
	from, s := testaudit.Run(t, c, o), share(t, c, o)
	g := s.Groups[0]
	if got, want := []int64{g.Joints, g.Revised, g.Died, g.Patients}, []int64{205, 10, 30, -1}; !slices.Equal(got, want) {
		t.Errorf("joints, revised, died, patients %v, want %v", got, want)
	}
	lower, _ := logLog(8, 207)
	_, upper := logLog(12, 203)
	for _, year := range []int{2, 3} {
		want := survival.Point{Time: cohort.DayOfYear(float64(year)), Estimate: 10. / 205, SE: math.NaN(), Lower: lower, Upper: upper,
			Level: 0.95, Method: survival.LogLog, AtRisk: 205, SeenTo: math.NaN(), Events: 10, Competing: math.NaN()}
		if year == 3 {
			want.AtRisk = 190
			_, want.Upper = logLog(8, 203, 4, 203-5.5)
		}
		if d := cmp.Diff(want, g.Rows()[year-1].KaplanMeier, cmpopts.EquateNaNs(), cmpopts.EquateApprox(1e-9, 0)); d != "" {
			t.Errorf("year %d: %s", year, d)
		}
	}
	// Nobody revised in the first year: 0 to 1 − .025^(1/Y), Y at least 203 of 205 shown.
	first := g.Rows()[0].KaplanMeier
	if first.Estimate != 0 || first.Lower != 0 || !testaudit.Near(first.Upper, 1-math.Pow(.025, 1./203)) || first.Notes != survival.NoEvents {
		t.Errorf("first year: %+v", first)
	}
	k := g.Rows()[2].Beside[0].Comparison
	if !testaudit.Near(k.Difference, 10./205-0.04) || k.Reading != from.Groups[0].Rows()[2].Beside[0].Comparison.Reading {
		t.Errorf("comparison: %+v", k)
	}
	// 10 in so many implant-years, 8 at least and 12 at most; about 9.5 years a joint, so that implant-years are rounded to 50.
	least, most := survival.NewRate(8, g.ImplantYears+25, 100, .95), survival.NewRate(12, g.ImplantYears-25, 100, .95)
	if r := g.Rate; !testaudit.Near(r.Rate, 1000/g.ImplantYears) || r.Lower != least.Lower || r.Upper != most.Upper || math.Mod(g.ImplantYears, 50) != 0 {
		t.Errorf("rate %+v", r)
	}
	if last := g.Rows()[11]; last.Reached || last.KaplanMeier.AtRisk != 0 {
		t.Errorf("nobody is followed for twelve years: %+v", last)
	}
}

// Of 100 joints 5 are revised and 3 dead: both are told as 5. CSV and JSON agree.
func TestSharedFiles(t *testing.T) {
	c := testaudit.Read(t, hundreds(100, 5, 3), cohort.Options{ClosingDate: testaudit.Closing(t)})
	s := share(t, c, audit.Options{By: []string{"bearing"}, Years: []float64{1, 5, 12},
		Published: testaudit.Book(t, publishedHeadings+"a,hip,total,,,,1,1,,,,1-KM,Invented\na,hip,total,,,,5,4,3,5,,1-KM,Invented\n")})
	const columns = "years joints patients revised died at_risk revised_so_far km_pct km_se_pct incidence_pct published_least_pct reading notes"
	for i, want := range []string{
		"1 100 . 5 5 100 0 0 . 0 1 too few to say no events; rounded for sharing; zero revised could not read below; rounding only; published error unknown",
		"5 100 . 5 5 90 5 5.128205128205128 . 5 4 too few to say rounded for sharing; zero revised could not read below",
		"12 100 . 5 5 0 . . . . . . beyond follow-up",
	} {
		if got := testaudit.Rows(t, s)[i].Pick(strings.Fields(columns)...); got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
	var d struct {
		Table struct {
			ClosingDate struct{ Date string } `json:"closing_date"`
			RowsRead    *int                  `json:"rows_read"`
		}
		Groups []struct{ Joints, Revised int }
	}
	if err := json.Unmarshal(testaudit.JSON(t, s), &d); err != nil {
		t.Fatal(err)
	}
	if d.Table.ClosingDate.Date != "2020" || d.Table.RowsRead != nil {
		t.Errorf("table %+v", d.Table)
	}
	for _, g := range d.Groups {
		if g.Joints != 100 || g.Revised != 5 {
			t.Errorf("group %+v", g)
		}
	}
}

// Groups by hand: how many joints each has, and what is told of them.
func TestGroupsJoined(t *testing.T) {
	for _, test := range []struct {
		name string
		by   string
		rows string
		want string
	}{
		{"none small", "fixation", testaudit.Repeat(20, "2010-01-01,THR,MoP,cemented,60") + testaudit.Repeat(20, "2010-01-01,THR,MoP,porous,60"), "cemented 20, porous 20"},
		{"one of two small", "fixation", testaudit.Repeat(20, "2010-01-01,THR,MoP,cemented,60") + testaudit.Repeat(7, "2010-01-01,THR,MoP,porous,60"), ""},
		{"small ones together", "fixation", testaudit.Repeat(20, "2010-01-01,THR,MoP,cemented,60") + testaudit.Repeat(4, "2010-01-01,THR,MoP,porous,60") + testaudit.Repeat(4, "2010-01-01,THR,MoP,hybrid,60"), "cemented 20, other 10"},
		{"a small one with the next", "fixation", testaudit.Repeat(20, "2010-01-01,THR,MoP,cemented,60") + testaudit.Repeat(9, "2010-01-01,THR,MoP,porous,60") + testaudit.Repeat(4, "2010-01-01,THR,MoP,hybrid,60"), "cemented 20, other 15"},
		{"not recorded stays last", "fixation", testaudit.Repeat(20, "2010-01-01,THR,MoP,cemented,60") + testaudit.Repeat(4, "2010-01-01,THR,MoP,porous,60") + testaudit.Repeat(4, "2010-01-01,THR,MoP,hybrid,60") + testaudit.Repeat(9, "2010-01-01,THR,MoP,,60"), "cemented 20, other 10, not recorded 10"},
		{"ages with their neighbour", "age_band", testaudit.Repeat(3, "2010-01-01,THR,MoP,cemented,50") + testaudit.Repeat(20, "2010-01-01,THR,MoP,cemented,60") + testaudit.Repeat(9, "2010-01-01,THR,MoP,cemented,80"), "<65 25, 75+ 10"},
		{"years with the smaller neighbour", "operation_year", testaudit.Repeat(20, "2010-01-01,THR,MoP,cemented,50") + testaudit.Repeat(3, "2011-01-01,THR,MoP,cemented,50") + testaudit.Repeat(9, "2012-01-01,THR,MoP,cemented,50"), "2010 20, 2011-2012 10"},
	} {
		table := "operation_date,procedure,bearing,fixation,age,revision_date\n" + strings.ReplaceAll(test.rows, "\n", ",\n")
		s := share(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{test.by}, Years: []float64{1}})
		var got []string
		for i := range s.Groups {
			if g := &s.Groups[i]; g.Pooling == audit.OneField {
				got = append(got, fmt.Sprintf("%s %d", g.Word(test.by), g.Joints))
			}
		}
		if d := cmp.Diff(test.want, strings.Join(got, ", ")); d != "" {
			t.Errorf("%s: %s", test.name, d)
		}
	}
}
