package audit_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/survival"
)

const star = audit.Suppressed

// Worked by hand from the rules.
func TestShareCounts(t *testing.T) {
	for _, test := range []struct {
		name   string
		counts []int64
		shared []int64
		total  int64
	}{
		{"nothing", nil, nil, 0},
		{"nothing to hide", []int64{8, 12, 13, 0}, []int64{10, 10, 15, 0}, 35},
		{"halves up", []int64{22, 23}, []int64{20, 25}, 45},
		{"one small, and the smallest other", []int64{3, 40, 20}, []int64{star, 40, star}, 65},
		{"two small that would be 5 together", []int64{3, 2, 40, 20}, []int64{star, star, 40, star}, 65},
		{"two small that protect each other", []int64{4, 6, 40}, []int64{star, star, 40}, 50},
		{"one small and zeros", []int64{3, 0, 20}, []int64{star, 0, star}, 25},
		{"small altogether", []int64{3, 0, 2}, []int64{star, 0, star}, star},
		{"one count", []int64{9}, []int64{10}, 10},
		{"one small count", []int64{7}, []int64{star}, star},
		// Four eights are 32, shown as 30, and four tens less than 33 are four eights.
		{"rounding that would say all", []int64{8, 8, 8, 8}, []int64{star, star, 10, 10}, 30},
	} {
		shared, total := audit.ShareCounts(test.counts)
		if d := cmp.Diff(test.shared, shared); d != "" || total != test.total {
			t.Errorf("%s: total %d, want %d; %s", test.name, total, test.total, d)
		}
	}
}

// All tables of three counts that fit are tried: of each hidden count at least
// five of the values 1 to 7 are possible to a reader who knows what is shown
// exactly, and two values of every other count.
func TestShareCountsExhaustively(t *testing.T) {
	hidden := 0
	for n := range 26 * 26 * 26 {
		counts := []int64{int64(n % 26), int64(n / 26 % 26), int64(n / 26 / 26)}
		shared, total := audit.ShareCounts(counts)
		sum := counts[0] + counts[1] + counts[2]
		if total == star {
			if sum < 1 || sum > 7 {
				t.Fatalf("%v: total hidden", counts)
			}
			continue
		}
		var low, high [3]int64
		low = [3]int64{99, 99, 99}
		for a := range sum + 1 {
			for b := range sum + 1 - a {
				try := [3]int64{a, b, sum - a - b}
				fits := true
				for i := range try {
					fits = fits && (shared[i] == star || try[i] == counts[i])
				}
				for i := range try {
					if fits {
						low[i], high[i] = min(low[i], try[i]), max(high[i], try[i])
					}
				}
			}
		}
		for i, c := range counts {
			small := c >= 1 && c <= 7
			switch {
			case small && shared[i] != star:
				t.Fatalf("%v: %d is shown", counts, c)
			case shared[i] != star && (shared[i]%5 != 0 || max(shared[i]-c, c-shared[i]) > 2):
				t.Fatalf("%v: %d is shown as %d", counts, c, shared[i])
			case small && min(high[i], 7)-max(low[i], 1)+1 < 5, shared[i] == star && high[i] == low[i]:
				t.Fatalf("%v, shown %v: count %d is %d to %d", counts, shared, i, low[i], high[i])
			}
			if shared[i] == star {
				hidden++
			}
		}
	}
	if hidden < 10000 {
		t.Errorf("only %d counts hidden", hidden)
	}
}

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

// practiceAudit is an audit of the practice.
func practiceAudit(t *testing.T, by ...string) *audit.Audit {
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "lists/Zzsurgeon 2020-12-17.csv", Reader: strings.NewReader(practice())}},
		cohort.Options{Today: day(t, "2024-06-30"), Where: []cohort.Condition{{Column: "surgeon", Value: "Zzsurgeon A"}, {Column: "surgeon", Value: "Zzsurgeon B"}, {Column: "surgeon", Value: "Zzsurgeon C"}}})
	if err != nil {
		t.Fatal(err)
	}
	return run(t, c, audit.Options{By: by, Years: append(yearly(15), 2.5), WorstCase: true, Published: book(t, practicePublished)})
}

func share(t *testing.T, a *audit.Audit) *audit.Audit {
	t.Helper()
	s, err := audit.Share(a)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// marks finds what must not be in a shared audit.
var marks = regexp.MustCompile(`(?i)zz|-17\b|17 May|\b17/|[0-9]{4}-[0-9]{2}-[0-9]{2}`)

// Nothing marked, no date and no exact count is left in any exported field.
func TestSharedHoldsNothingMarked(t *testing.T) {
	from := practiceAudit(t, "bearing", "fixation", "surgeon", "age_band", "operation_year")
	if !marks.MatchString(fmt.Sprintf("%+v", from.Files)) || !marks.Match(jsonBytes(t, from)) {
		t.Fatal("nothing is marked in the audit itself")
	}
	to := share(t, from)
	// Numbers that are about the published figures, the settings and the sharing.
	public := regexp.MustCompile(`^\.(Shared|Years|Interval|LostAfter|Readings|ByChance)|\.(Figure|Series|ToYears|Level|Pooling|Time|Years|Basis\.Level|Notes|Method|PublishedExact|Reading|ReadWith|Together|Interpolation|Points|Sides|File|Reason|Rate\.Per)\b`)
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
				if !math.IsNaN(x) && math.Mod(x, 5) != 0 {
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
				if n != star && n != -1 && (n%5 != 0 || n < 0) {
					t.Errorf("%s is %d", path, n)
				}
			}
		}
	}
	walk("", reflect.ValueOf(*to))
	if numbers < 1000 {
		t.Errorf("only %d numbers looked at", numbers)
	}
	for name, b := range map[string][]byte{"CSV": csvBytes(t, to), "JSON": jsonBytes(t, to)} {
		if found := marks.FindAllString(string(b), -1); len(found) > 0 {
			t.Errorf("%s: %q", name, found)
		}
	}
	for _, g := range to.Groups {
		if g.Pooling == audit.Cell || g.KaplanMeier != nil || g.Incidence != nil || g.WorstCase != nil || g.Table != nil {
			t.Errorf("%s: a cell, or a curve", g.Title())
		}
	}
	if got := to.Scope[2].Value; !regexp.MustCompile(`^surgeon \d$`).MatchString(got) {
		t.Errorf("scope is %q", got)
	}
}

// The audit given stays as it was, and sharing twice is refused.
func TestShareChangesNothing(t *testing.T) {
	a := practiceAudit(t, "bearing", "fixation")
	c, j := csvBytes(t, a), jsonBytes(t, a)
	s := share(t, a)
	if string(csvBytes(t, a)) != string(c) || string(jsonBytes(t, a)) != string(j) {
		t.Error("the audit given was changed")
	}
	if string(jsonBytes(t, share(t, a))) != string(jsonBytes(t, s)) {
		t.Error("sharing again gives another audit")
	}
	if _, err := audit.Share(s); err == nil {
		t.Error("a shared audit was shared")
	}
}

// hundreds is a table of n joints operated on on 1 January 2010, of which some
// were revised on a day and others died on one.
func hundreds(n, revised, died int) string {
	return "operation_date,procedure,bearing,revision_date,death_date\n" +
		repeat(revised, "2010-01-01,THR,MoP,2012-01-01,") + repeat(died, "2010-01-01,THR,MoP,,2014-01-01") +
		repeat(n-revised-died, "2010-01-01,THR,MoP,,")
}

// Numbers by hand: 203 joints, 12 revised in the second year, 31 died in the
// fifth. The step is 5 of 205 joints: 12/203 is 2.42 steps, so 2; without
// censoring the effective number is 203, rounded 205; the exact limits of 10 of
// 205 are looked up with BinomialLimits.
func TestSharedNumbersByHand(t *testing.T) {
	table := hundreds(203, 12, 31)
	from := run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{"bearing"}, Years: yearly(12),
		Interval: survival.Interval{Method: survival.BetaProduct}, Published: book(t, publishedHeadings+"a,hip,total,,,,3,4,3,5,,1-KM,Invented\n")})
	s := share(t, from)
	g := s.Groups[0]
	if got, want := []int64{g.Joints, g.Revised, g.Died, g.Patients}, []int64{205, 10, 30, -1}; !slices.Equal(got, want) {
		t.Errorf("joints, revised, died, patients %v, want %v", got, want)
	}
	third := g.Rows[2].KaplanMeier
	l, u := survival.BinomialLimits(10, 205, 0.95)
	want := survival.Point{Time: 1095, Estimate: 10. / 205, SE: math.NaN(), Lower: math.Floor(l*41) / 41, Upper: math.Ceil(u*41) / 41,
		Level: 0.95, Method: survival.BetaProduct, AtRisk: 190, Events: 10, Competing: math.NaN()}
	if d := cmp.Diff(want, third, cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 1e-12)); d != "" {
		t.Error(d)
	}
	// Nobody revised in the first year: 0 to 1 − .025^(1/205), to the step: 1.78 % is .73 steps.
	first := g.Rows[0].KaplanMeier
	if first.Estimate != 0 || first.Lower != 0 || !near(first.Upper, 1./41) || first.Notes != survival.NoEvents {
		t.Errorf("first year: %+v", first)
	}
	c := g.Rows[2].Beside[0].Comparison
	if !near(c.Difference, 10./205-0.04) || c.Own.Lower != third.Lower || c.Reading != from.Groups[0].Rows[2].Beside[0].Comparison.Reading {
		t.Errorf("comparison: %+v", c)
	}
	if r := survival.NewRate(10, g.ImplantYears, 100, 0.95); g.Rate != r || math.Mod(g.ImplantYears, 5) != 0 {
		t.Errorf("rate %+v, want %+v", g.Rate, r)
	}
	if last := g.Rows[11]; last.Reached || last.KaplanMeier.AtRisk != 0 {
		t.Errorf("nobody is followed for twelve years: %+v", last)
	}
}

// With 5 revised and 3 dead both are hidden, and all estimates after the first
// revision. The CSV and JSON say so.
func TestSharedFiles(t *testing.T) {
	from := run(t, read(t, hundreds(100, 5, 3), cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{"bearing"}, Years: []float64{1, 5, 12},
		Published: book(t, publishedHeadings+"a,hip,total,,,,1,1,,,,1-KM,Invented\na,hip,total,,,,5,4,3,5,,1-KM,Invented\n")})
	s := share(t, from)
	rows := csvRows(t, s)
	if d := cmp.Diff(audit.Columns(from.By), audit.Columns(s.By)); d != "" {
		t.Error(d)
	}
	const columns = "years joints patients revised died rate_per_100 at_risk revised_so_far km_pct km_se_pct km_upper_pct incidence_pct published_least_pct reading notes"
	for i, want := range []string{
		"1 100 . * * * 100 0 0 * 5 0 1 too few to say no events; zero revised could not read below; rounding only; published error unknown",
		"5 100 . * * * 90 * * * * * 4 * hidden for sharing",
		"12 100 . * * * 0 . . . . . . . beyond follow-up",
	} {
		if got := rows[i].pick(strings.Fields(columns)...); got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
	d := document(t, s)
	each(d["groups"], func(g object) {
		if g["revised"] != "*" || g["rate_per_100"] != "*" || fmt.Sprint(g["joints"]) != "100" {
			t.Errorf("group %v", g)
		}
	})
	if got := d["table"].(object)["closing_date"].(object)["date"]; got != strconv.Itoa(2020) {
		t.Errorf("closing date %v", got)
	}
	hidden := 0
	each(d["comparisons"], func(c object) {
		if c["reading"] == "*" && c["own_pct"] == "*" && c["difference_pct"] == "*" && c["published_pct"] != "*" {
			hidden++
		}
	})
	if hidden != 1 { // of all joints, which are those of the bearing
		t.Errorf("%d comparisons hidden, want 1", hidden)
	}
}
