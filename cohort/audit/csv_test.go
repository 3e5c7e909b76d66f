package audit_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/cohort/text"
)

// proportion reads a percentage back, in the digits of the proportion: the
// decimal point is moved before rounding.
func proportion(t testing.TB, cell string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(cell+"e-2", 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// contract are the names of the CSV in their order, as programs that read it
// may rely on.
const contract = `joint procedure bearing fixation age_band years joints patients revised died implant_years
rate_per_100 rate_lower rate_upper at_risk revised_so_far
km_pct km_se_pct km_lower_pct km_upper_pct
incidence_pct incidence_se_pct incidence_lower_pct incidence_upper_pct
published_figures published_registers published_least_pct published_most_pct published_origin reading notes`

func TestColumns(t *testing.T) {
	if d := cmp.Diff(strings.Fields(contract), audit.Columns(audit.DefaultBy())); d != "" {
		t.Error(d)
	}
	names := strings.Fields(contract)
	if d := cmp.Diff(append(names[:2:2], names[5:]...), audit.Columns(nil)); d != "" {
		t.Error(d)
	}
	if d := cmp.Diff([]string{"joint", "procedure", "surgeon", "years"}, audit.Columns([]string{"surgeon"})[:4]); d != "" {
		t.Error(d)
	}
}

// mixed has several joints, procedures, bearings and words nobody knows.
var mixed = testaudit.Lines("patient,operation_date,joint,procedure,bearing,fixation,age,sex,surgeon,revision_date,death_date",
	"1,2012-01-05,knee,TKA,mobile,cemented,77,F,b,,",
	"2,2012-02-05,knee,TKA,fixed,cemented,60,M,a,2013-02-05,",
	"3,2012-03-05,knee,UKR,,cemented,60,M,a,,2014-02-05",
	"4,2010-03-05,hip,THR,CoC,porous,50,F,b,,",
	"5,2010-04-05,hip,THR,MoP,cemented,68,F,b,,",
	"6,2010-05-05,hip,THR,zzz unknown,hybrid,68,M,b,2010-05-05,",
	"7,2010-06-05,hip,THR,abc unknown,,,M,b,,",
	"8,2010-07-05,hip,THR,,cemented,80,F,,,2019-01-01",
	"9,2010-08-05,hip,THR,MoXLPE,cemented,68,F,b,,",
	"10,2010-09-05,ankle,TAR,,cemented,68,F,b,,",
	"11,2010-09-05,,,,cemented,68,F,b,,",
	"12,2010-10-05,hip,HRA,MoM,,50,M,a,2016-01-01,")

func TestOrderOfGroups(t *testing.T) {
	order := func(by []string, o cohort.Options) []string {
		o.ClosingDate = testaudit.Closing(t)
		rows := testaudit.Rows(t, testaudit.Run(t, testaudit.Read(t, mixed, o), audit.Options{By: by, Years: []float64{1}}))
		var all []string
		for _, r := range rows {
			cells := []string{r["joint"], r["procedure"]}
			for _, f := range by {
				cells = append(cells, r[f])
			}
			all = append(all, strings.Join(cells, "|"))
		}
		return all
	}
	t.Run("no field", func(t *testing.T) {
		want := []string{"hip|total", "hip|resurfacing", "knee|total", "knee|unicompartmental", "ankle|total", "not recorded|not recorded"}
		if d := cmp.Diff(want, order([]string{}, cohort.Options{})); d != "" {
			t.Error(d)
		}
	})
	hips := cohort.Options{Where: []cohort.Condition{{Column: "joint", Value: "hip"}, {Column: "procedure", Value: "total"}}}
	t.Run("one field", func(t *testing.T) { // and no cells, which would say the same again
		want := []string{
			"hip|total|All",
			"hip|total|metal-on-polyethylene",
			"hip|total|metal-on-crosslinked-polyethylene",
			"hip|total|ceramic-on-ceramic",
			"hip|total|abc unknown",
			"hip|total|zzz unknown",
			"hip|total|not recorded",
		}
		if d := cmp.Diff(want, order([]string{"bearing"}, hips)); d != "" {
			t.Error(d)
		}
	})
	t.Run("three fields", func(t *testing.T) {
		want := []string{
			"hip|total|All|All|All",
			"hip|total|cemented|All|All", "hip|total|porous|All|All", "hip|total|hybrid|All|All", "hip|total|not recorded|All|All",
			"hip|total|All|female|All", "hip|total|All|male|All",
			"hip|total|All|All|<55", "hip|total|All|All|65-74", "hip|total|All|All|75+", "hip|total|All|All|not recorded",
			"hip|total|cemented|female|65-74", "hip|total|cemented|female|75+",
			"hip|total|porous|female|<55",
			"hip|total|hybrid|male|65-74",
			"hip|total|not recorded|male|not recorded",
		}
		if d := cmp.Diff(want, order([]string{"fixation", "sex", "age_band"}, hips)); d != "" {
			t.Error(d)
		}
	})
}

// form checks what holds for every CSV: its columns, its characters, a row for
// every group and year asked for, and numbers in their shortest form.
func form(t testing.TB, a *audit.Audit) {
	t.Helper()
	b := testaudit.CSV(t, a)
	if !utf8.Valid(b) || bytes.HasPrefix(b, []byte("\ufeff")) || bytes.Contains(b, []byte("\r")) || !bytes.HasSuffix(b, []byte("\n")) {
		t.Error("not UTF-8 with LF line ends and no mark")
	}
	records, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(audit.Columns(a.By), records[0]); d != "" {
		t.Error(d)
	}
	text := map[string]bool{"joint": true, "procedure": true, "published_origin": true, "reading": true, "notes": true}
	for _, f := range a.By {
		text[f] = true
	}
	years := make(map[string]map[string]testaudit.Row)
	for _, r := range testaudit.Rows(t, a) {
		var words []string
		for _, f := range append([]string{"joint", "procedure"}, a.By...) {
			words = append(words, r[f])
		}
		group := strings.Join(words, "|")
		if years[group] == nil {
			years[group] = make(map[string]testaudit.Row)
		}
		if _, twice := years[group][r["years"]]; twice {
			t.Errorf("%s: year %s twice", group, r["years"])
		}
		years[group][r["years"]] = r
		for column, cell := range r {
			if text[column] || cell == "" {
				continue
			}
			x, err := strconv.ParseFloat(cell, 64)
			if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || strings.ContainsAny(cell, "eE+") || cell == "-0" {
				t.Errorf("%s: %s is %q, no plain number", group, column, cell)
			}
			if strings.HasSuffix(column, "_pct") {
				if shortest := strconv.FormatFloat(proportion(t, cell), 'e', -1, 64); digits(shortest) != digits(cell) {
					t.Errorf("%s: %s is %q, not the shortest form of its proportion %s", group, column, cell, shortest)
				}
			} else if shortest := strconv.FormatFloat(x, 'f', -1, 64); shortest != cell {
				t.Errorf("%s: %s is %q, shortest is %s", group, column, cell, shortest)
			}
		}
		if strings.Contains(r["notes"], "beyond follow-up") {
			for _, column := range []string{"revised_so_far", "km_pct", "km_se_pct", "km_lower_pct", "km_upper_pct",
				"incidence_pct", "incidence_se_pct", "incidence_lower_pct", "incidence_upper_pct"} {
				if r[column] != "" {
					t.Errorf("%s at %s: past the follow-up, with %s %s", group, r["years"], column, r[column])
				}
			}
			if r["at_risk"] != "0" {
				t.Errorf("%s at %s: at_risk %q, want 0", group, r["years"], r["at_risk"])
			}
		} else if r["km_pct"] == "" || r["revised_so_far"] == "" {
			t.Errorf("%s at %s: no estimate and no note", group, r["years"])
		}
	}
	for group, rows := range years {
		for _, y := range a.Years {
			if _, ok := rows[audit.Number(y)]; !ok {
				t.Errorf("%s: no row for year %v", group, y)
			}
		}
	}
}

// digits are the significant digits of a number as written.
func digits(s string) string {
	s, _, _ = strings.Cut(s, "e")
	s = strings.ReplaceAll(strings.TrimPrefix(s, "-"), ".", "")
	return strings.Trim(s, "0")
}

func TestForm(t *testing.T) {
	c := testaudit.Read(t, mixed, cohort.Options{ClosingDate: testaudit.Closing(t), Keep: []string{"surgeon"}})
	for _, by := range [][]string{nil, {}, {"sex"}, {"surgeon", "bearing"}, {"bearing", "fixation", "age_band", "sex"}} {
		form(t, testaudit.Run(t, c, audit.Options{By: by, Years: []float64{10, 1, 0.5, 15, 1}, Published: testaudit.Book(t, twelvePublished)}))
	}
}

// Rows stand in the order of their years, and each year once, however they
// were asked for.
func TestYears(t *testing.T) {
	c := testaudit.Read(t, twelveHips, cohort.Options{ClosingDate: testaudit.Closing(t)})
	var got []string
	for _, r := range testaudit.Rows(t, testaudit.Run(t, c, audit.Options{By: []string{}, Years: []float64{10, 1, 0.5, 1}, Published: testaudit.Book(t, twelvePublished)})) {
		got = append(got, r["years"])
	}
	if d := cmp.Diff([]string{"0.5", "1", "2", "10"}, got); d != "" { // 2 is published
		t.Error(d)
	}
	for _, years := range [][]float64{{}, {0}, {-1}, {101}, {math.NaN()}, {math.Inf(1)}} {
		if _, err := audit.Run(c, audit.Options{Years: years}); err == nil {
			t.Errorf("years %v: no error", years)
		}
	}
}

// A spreadsheet must not run somebody's word, or heading, as a formula.
func TestNoFormulas(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"=1+1", "'=1+1"}, {"+1", "'+1"}, {"-1", "'-1"}, {"@x", "'@x"}, {"\tx", "'\tx"}, {"\rx", "'\rx"},
		{"", ""}, {"a=b", "a=b"}, {"75+", "75+"}, {"<55", "<55"}, {"'=", "'="},
	} {
		if got := text.Protect(c.in); got != c.want {
			t.Errorf("%q: %q, want %q", c.in, got, c.want)
		}
	}
	c := testaudit.Read(t, testaudit.Lines(`operation_date,revision_date,joint,procedure,=SUM(A1)`,
		`2015-01-01,,=hip,+total,"=HYPERLINK(""x"")"`, `2015-01-01,,-hip,@total,-2+3`, `2015-01-01,,hip,THR,@x`, `2015-01-01,,hip,THR,+x`),
		cohort.Options{ClosingDate: testaudit.Closing(t), Keep: []string{"=SUM(A1)"}})
	a := testaudit.Run(t, c, audit.Options{By: []string{"=SUM(A1)"}})
	records, err := csv.NewReader(bytes.NewReader(testaudit.CSV(t, a))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, r := range records {
		for i, cell := range r {
			if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
				t.Errorf("column %d: %q", i, cell)
			}
			if strings.HasPrefix(cell, "'") {
				seen++
			}
		}
	}
	if seen < 8 {
		t.Errorf("%d protected cells: the words are not in the table", seen)
	}
	// A number keeps its sign: own 0 % less 5 % published is −5.
	a = testaudit.Run(t, testaudit.Read(t, "operation_date,revision_date,procedure\n"+testaudit.Repeat(20, "2015-01-01,,THR"), cohort.Options{ClosingDate: testaudit.Closing(t)}),
		audit.Options{By: []string{}, Years: []float64{1}, Published: testaudit.Book(t, "source,joint,procedure,years,revision_pct,estimand,citation\n=x,hip,total,1,5,1-KM,Invented\n")})
	if got := testaudit.Comparisons(t, a)[0].Pick("difference_pct", "source"); got != "-5 '=x" {
		t.Error(got)
	}
}

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want string
	}{{0, "0"}, {math.Copysign(0, -1), "0"}, {1. / 3, "0.3333333333333333"}, {1e-7, "0.0000001"}, {12, "12"}, {-.5, "-0.5"},
		{math.NaN(), ""}, {math.Inf(1), ""}, {math.Inf(-1), ""}} {
		if got := audit.Number(c.x); got != c.want {
			t.Errorf("%v: %q, want %q", c.x, got, c.want)
		}
	}
}
