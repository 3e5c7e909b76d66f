package audit_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testaudit"
)

const cellFigures = "a,hip,total,MoP,<65,,10,5.0,,,,1-KM,c\n" + "a,hip,total,MoP,65+,,10,3.0,,,,1-KM,c\n" +
	"a,hip,total,CoC,<65,,10,4.0,,,,1-KM,c\n" + "a,hip,total,CoC,65+,,10,2.0,,,,1-KM,c\n" +
	"a,hip,total,,<65,,10,6,5,7,,1-KM,c\n"

var cellsTable = "operation_date,procedure,bearing,age,revision_date,death_date\n" +
	testaudit.Repeat(2, "2008-01-01,THR,MoP,60,2008-06-30,") + testaudit.Repeat(28, "2008-01-01,THR,MoP,60,,") + testaudit.Repeat(30, "2008-01-01,THR,MoP,70,,") +
	testaudit.Repeat(40, "2008-01-01,THR,CoC,60,,") + testaudit.Repeat(12, "2008-01-01,THR,CoC,70,,") +
	testaudit.Repeat(1, "2008-01-01,THR,,60,2009-01-01,") + testaudit.Repeat(2, "2008-01-01,THR,,60,,")

// A file of cells only: no series is of all hips, so those by bearing and age are added up,
// each joint by its own; the margin by age alone takes in fewer and is not mixed in.
// By hand: 112 hips of four cells are followed ten years; 2 of 30 under 65 with MoP are revised in the first year. Expected of a
// cell with F at 10 years and nobody revised is n·H, H = −ln(1 − F); the two revised on day 181 count to it: H·181/3652.5 each, as
// one point is linear. 3 hips have no bearing; 1 of them is revised.
func TestCellsAreAddedUp(t *testing.T) {
	a := testaudit.Run(t, testaudit.Read(t, cellsTable, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}, Published: testaudit.Book(t, publishedHeadings+cellFigures)})
	g := a.Groups[0]
	if len(g.Ratios) != 0 || len(g.Sums) != 1 {
		t.Fatalf("%d ratios, %d sums", len(g.Ratios), len(g.Sums))
	}
	s := g.Sums[0]
	h := func(f float64) float64 { return -math.Log1p(-f) }
	want := (28+2*181/3652.5)*h(.05) + 30*h(.03) + 40*h(.04) + 12*h(.02)
	if strings.Join(s.By, " ") != "bearing age_band" || s.Source != "a" || s.Observed != 2 || s.Joints != 112 || s.Of != 115 || s.Outside != 3 || s.Missed != 1 || math.Abs(s.Expected-want) > 1e-3 {
		t.Errorf("%+v, want %v expected", s, want)
	}
	if low := (28+2*181/3652.5)*h(.0495) + 30*h(.0295) + 40*h(.0395) + 12*h(.0195); !(math.Abs(s.ExpectedLower-low) < 1e-3 && s.ExpectedUpper > s.Expected && s.Lower < s.Ratio.Ratio && s.Upper > s.Ratio.Ratio) {
		t.Errorf("limits %+v", s)
	}
	if !s.Instead || len(s.Parts) != 4 || s.Parts[0].Series.Stratum() != "ceramic-on-ceramic, <65" || math.Abs(s.Parts[0].Excess()) < math.Abs(s.Parts[1].Excess()) {
		t.Errorf("parts %+v", s.Parts)
	}
	if a.Readings != 0 && g.Rows()[0].Beside != nil {
		t.Errorf("a sum is read: %d", a.Readings)
	}
	// Where they take in less than nine in ten there is none.
	a = testaudit.Run(t, testaudit.Read(t, cellsTable, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}, Published: testaudit.Book(t, publishedHeadings+strings.Join(strings.SplitAfter(cellFigures, "\n")[:2], ""))})
	if s := a.Groups[0].Sums; len(s) != 1 || s[0].Instead || s[0].Joints != 60 {
		t.Errorf("sums of cells that take in 60 of 115: %+v", s)
	}
	// Where a series of the source is of all hips, it speaks.
	a = testaudit.Run(t, testaudit.Read(t, cellsTable, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}, Published: testaudit.Book(t, publishedHeadings+cellFigures+"a,hip,total,,,,10,5,4,6,,1-KM,c\n")})
	if g := a.Groups[0]; len(g.Sums) != 1 || g.Sums[0].Instead || len(g.Ratios) != 1 {
		t.Errorf("sums %+v beside %d ratios", g.Sums, len(g.Ratios))
	}
}

// A sum is a row of the comparisons, with what is observed and expected, and nothing published,
// read or counted for chance; in JSON with its citation.
func TestSumsAreWritten(t *testing.T) {
	a := testaudit.Run(t, testaudit.Read(t, cellsTable, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}, Published: testaudit.Book(t, publishedHeadings+cellFigures)})
	var sums []map[string]string
	for _, r := range testaudit.Comparisons(t, a) {
		if strings.HasPrefix(r["reason"], "added up") {
			sums = append(sums, r)
		}
	}
	if len(sums) != 1 {
		t.Fatalf("%d rows of sums", len(sums))
	}
	for column, want := range map[string]string{"joint": "hip", "procedure": "total", "bearing": "All", "age_band": "All", "joints": "115", "revised": "3", "years": "", "estimand": "1-KM",
		"origin": "file", "match": "like", "reason": "added up by bearing, age_band", "own_pct": "", "at_risk": "", "source": "a", "published_pct": "", "difference_pct": "", "reading": "", "read_with": "",
		"together": "", "sides": "", "observed": "2", "expected_to_years": "10", "joints_counted": "112", "interpolation_pct": "20", "notes": ""} {
		if got := sums[0][column]; got != want {
			t.Errorf("%s %q, want %q", column, got, want)
		}
	}
	if sums[0]["expected"] == "" || sums[0]["ratio"] == "" || sums[0]["ratio_lower"] == "" || sums[0]["ratio_upper"] == "" {
		t.Errorf("no ratio: %v", sums[0])
	}
	var b strings.Builder
	if err := audit.WriteJSON(&b, a); err != nil {
		t.Fatal(err)
	}
	var d struct {
		Comparisons []struct {
			Reason, Citation string
			Observed         float64
		}
	}
	if err := json.Unmarshal([]byte(b.String()), &d); err != nil {
		t.Fatal(err)
	}
	if last := d.Comparisons[len(d.Comparisons)-1]; last.Observed != 2 || last.Citation != "c" || last.Reason != "added up by bearing, age_band" {
		t.Errorf("%+v", last)
	}
}

// Series of the same parts in two periods overlap; those of one period are added up.
func TestSumsOfOnePeriod(t *testing.T) {
	headings := strings.Replace(publishedHeadings, "citation", "period_from,period_to,citation", 1)
	figures := "a,hip,total,,<65,,10,5,4,6,,1-KM,1995,2004,c\na,hip,total,,65+,,10,3,2,4,,1-KM,1995,2004,c\n" +
		"a,hip,total,,<65,,10,4,3,5,,1-KM,2005,2015,c\na,hip,total,,65+,,10,2,1,3,,1-KM,2005,2015,c\n"
	table := "operation_date,procedure,age,revision_date\n" + testaudit.Repeat(30, "2004-01-01,THR,60,") + testaudit.Repeat(20, "2004-01-01,THR,70,") + testaudit.Repeat(30, "2008-01-01,THR,60,") + testaudit.Repeat(20, "2008-01-01,THR,70,")
	a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}, Published: testaudit.Book(t, headings+figures)})
	s := a.Groups[0].Sums
	if len(s) != 2 || !s[0].Instead || s[1].Instead || s[0].Joints != 100 || s[1].Joints != 100 || s[0].Parts[0].Series.PeriodFrom != 1995 || s[1].Parts[0].Series.PeriodFrom != 2005 {
		t.Errorf("%+v", s)
	}
}
