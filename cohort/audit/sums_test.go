package audit_test

import (
	"math"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// A file of cells only: no series is of all hips, so those by bearing and age are added up,
// each joint by its own; the margin by age alone takes in fewer and is not mixed in.
// By hand: 112 hips of four cells are followed ten years; 2 of 30 under 65 with MoP are revised in the first year. Expected of a
// cell with F at 10 years and nobody revised is n·H, H = −ln(1 − F); the two revised on day 181 count to it: H·181/3652.5 each, as
// one point is linear. 3 hips have no bearing; 1 of them is revised.
func TestCellsAreAddedUp(t *testing.T) {
	table := "operation_date,procedure,bearing,age,revision_date,death_date\n" +
		repeat(2, "2008-01-01,THR,MoP,60,2008-06-30,") + repeat(28, "2008-01-01,THR,MoP,60,,") + repeat(30, "2008-01-01,THR,MoP,70,,") +
		repeat(40, "2008-01-01,THR,CoC,60,,") + repeat(12, "2008-01-01,THR,CoC,70,,") +
		repeat(1, "2008-01-01,THR,,60,2009-01-01,") + repeat(2, "2008-01-01,THR,,60,,")
	cells := "a,hip,total,MoP,<65,,10,5.0,,,,1-KM,c\n" + "a,hip,total,MoP,65+,,10,3.0,,,,1-KM,c\n" +
		"a,hip,total,CoC,<65,,10,4.0,,,,1-KM,c\n" + "a,hip,total,CoC,65+,,10,2.0,,,,1-KM,c\n" +
		"a,hip,total,,<65,,10,6,5,7,,1-KM,c\n"
	a := run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{}, Published: book(t, publishedHeadings+cells)})
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
	if a.Readings != 0 && g.Rows[0].Beside != nil {
		t.Errorf("a sum is read: %d", a.Readings)
	}
	// Where they take in less than nine in ten there is none.
	a = run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{}, Published: book(t, publishedHeadings+strings.Join(strings.SplitAfter(cells, "\n")[:2], ""))})
	if n := len(a.Groups[0].Sums); n != 0 {
		t.Errorf("%d sums of cells that take in 60 of 115", n)
	}
	// Where a series of the source is of all hips, it speaks.
	a = run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: []string{}, Published: book(t, publishedHeadings+cells+"a,hip,total,,,,10,5,4,6,,1-KM,c\n")})
	if g := a.Groups[0]; len(g.Sums) != 0 || len(g.Ratios) != 1 {
		t.Errorf("%d sums beside %d ratios", len(g.Sums), len(g.Ratios))
	}
}
