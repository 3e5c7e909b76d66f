package figure

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
)

func mustOverYears(t testing.TB, a *audit.Audit, o OverYearsOptions) *Figure {
	t.Helper()
	f, err := OverYears(a, o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The data are audit.OverYears' to the last digit, and the last line of each
// panel is the audit's own ratio of all joints.
func TestOverYearsData(t *testing.T) {
	a := practiceBy(t, "operation_year")
	f := mustOverYears(t, a, OverYearsOptions{})
	cumulated, err := audit.OverYears(a)
	if err != nil {
		t.Fatal(err)
	}
	rows := csvOf(t, f)
	i := 0
	for _, c := range cumulated {
		if c.Points[len(c.Points)-1].Joints < 10 {
			continue
		}
		for _, p := range c.Points {
			r := rows[i]
			i++
			for column, want := range map[string]float64{"operated_up_to": float64(p.Year), "joints": float64(p.Joints), "observed": p.Observed, "expected": p.Expected,
				"ratio": p.Ratio, "ratio_lower": p.Lower, "ratio_upper": p.Upper, "level": .95, "expected_to_years": c.ToYears} {
				if number(t, r[column]) != want {
					t.Errorf("%s %s, want %v", column, r[column], want)
				}
			}
		}
		for k := range a.Groups {
			g, last := &a.Groups[k], rows[i-1]
			if g.Level == audit.AllJoints && g.Word("joint") == c.Joint && g.Word("procedure") == c.Procedure {
				e := g.Expected()
				if last["observed"] != audit.Number(e.Observed) || math.Abs(e.Expected-number(t, last["expected"])) > 1e-12*e.Expected {
					t.Errorf("%v, want %v", last, e)
				}
			}
		}
	}
	if i != len(rows) || i < 30 {
		t.Errorf("%d rows, want %d", len(rows), i)
	}
	notes := strings.Join(f.Notes, "\n")
	if !strings.Contains(notes, "Left out: Hip, resurfacing (fewer than 10 joints); Knee, patellofemoral (fewer than 10 joints).") {
		t.Errorf("notes %q", notes)
	}
	plainWords(t, f)
}

// What is seen: a marker at each ratio, a bar for each pair of limits, counts
// under the years.
func TestOverYearsSeen(t *testing.T) {
	a := against(t, department(6, 20, 0), "operation_year")
	f := mustOverYears(t, a, OverYearsOptions{})
	all := parsed(t, f)
	inside(t, f, all)
	rows := csvOf(t, f)
	if len(rows) != 12 { // those of 2024 have no whole interval
		t.Fatalf("%d rows, want 2012 to 2023", len(rows))
	}
	ticks, counts := within(all, "text", "x ticks"), within(all, "text", "table")
	if len(ticks) != 12 || len(counts) != 3+3*12 {
		t.Fatalf("%d ticks, %d counts", len(ticks), len(counts))
	}
	for i, row := range []string{"observed", "expected", "joints"} {
		at := slices.IndexFunc(counts, func(e element) bool { return e.text == row })
		if at < 0 {
			t.Fatalf("no %q", row)
		}
		for j, c := range counts[at+1 : at+13] {
			r := rows[j]
			want := r[row]
			if i == 1 {
				want = fmt.Sprintf("%.1f", number(t, want))
			}
			if c.text != want || ticks[j].text != r["operated_up_to"] || c.attr["x"] != ticks[j].attr["x"] {
				t.Errorf("%s of %s: %q at %s, want %q under %q at %s", row, r["operated_up_to"], c.text, c.attr["x"], want, ticks[j].text, ticks[j].attr["x"])
			}
		}
	}
	y := yAxisOf(t, all)
	var got, want []float64
	for _, e := range within(all, "path", "ratios") {
		if e.attr["fill"] == hex(ownInk) {
			got = append(got, middleY(t, e.attr["d"]))
		}
	}
	for _, r := range rows {
		if v := number(t, r["ratio"]); v <= number(t, r["axis_to"]) {
			want = append(want, y(v))
		}
	}
	if !allNear(got, want, .1) {
		t.Errorf("ratios at %v, want %v", got, want)
	}
	reference := within(all, "path", "reference")
	if len(reference) != 1 || reference[0].attr["stroke-dasharray"] == "" || math.Abs(middleY(t, reference[0].attr["d"])-y(1)) > .1 {
		t.Errorf("reference line %v, want at %v", reference, y(1))
	}
	last := rows[len(rows)-1]
	if !strings.Contains(f.Alternative, fmt.Sprintf("ratio %.2f", number(t, last["ratio"]))) || !strings.Contains(f.Alternative, last["observed"]+" revisions observed") {
		t.Errorf("alternative %q, last %v", f.Alternative, last)
	}
}

// yAxisOf maps a value to a height, for a figure of one panel.
func yAxisOf(t testing.TB, all []element) func(float64) float64 {
	t.Helper()
	ticks := within(all, "text", "y ticks")
	first, last := ticks[0], ticks[len(ticks)-1]
	off := .36 * float64(labelText.size) // of a label's base line from its tick
	y0, y1 := number(t, first.attr["y"])-off, number(t, last.attr["y"])-off
	v0, v1 := number(t, first.text), number(t, last.text)
	return func(v float64) float64 { return y0 + (y1-y0)*(v-v0)/(v1-v0) }
}

// middleY is the middle of a path's vertical extent.
func middleY(t testing.TB, d string) float64 {
	t.Helper()
	low, high := math.Inf(1), math.Inf(-1)
	see := func(s string) {
		y := number(t, s)
		low, high = math.Min(low, y), math.Max(high, y)
	}
	for d != "" {
		command := d[0]
		d = d[1:]
		end := strings.IndexAny(d, "MLHVCZ")
		if end < 0 {
			end = len(d)
		}
		numbers := strings.Fields(d[:end])
		d = d[end:]
		switch command {
		case 'H', 'Z':
		case 'V':
			see(numbers[0])
		default:
			for i := 1; i < len(numbers); i += 2 {
				see(numbers[i])
			}
		}
	}
	return (low + high) / 2
}

// Limits beyond the axis end in an arrow, and there are no more bars than years
// with limits.
func TestOverYearsCut(t *testing.T) {
	f := mustOverYears(t, practiceBy(t, "operation_year"), OverYearsOptions{Joint: "knee", Procedure: "total"})
	beyond := 0
	for _, r := range csvOf(t, f) {
		if number(t, r["ratio_upper"]) > number(t, r["axis_to"]) {
			beyond++
		}
	}
	arrows := 0
	for _, e := range within(parsed(t, f), "path", "limits") {
		if strings.Count(e.attr["d"], "L") == 2 { // a tip
			arrows++
		}
	}
	if beyond == 0 || arrows != beyond || !strings.Contains(strings.Join(f.Notes, " "), "arrow") {
		t.Errorf("%d arrows for %d limits; %q", arrows, beyond, f.Notes)
	}
}

func TestOverYearsLeftOut(t *testing.T) {
	a := practiceBy(t, "operation_year")
	if _, err := OverYears(a, OverYearsOptions{Procedure: "resurfacing"}); !errors.Is(err, ErrNothingToDraw) || !strings.Contains(err.Error(), "Hip, resurfacing (fewer than 10 joints)") {
		t.Errorf("%v", err)
	}
	none := auditTable(t, department(2, 10, 0), audit.Options{By: []string{"operation_year"}})
	if _, err := OverYears(none, OverYearsOptions{}); !errors.Is(err, ErrNothingToDraw) || !strings.Contains(err.Error(), "closing date reaches") {
		t.Errorf("nothing published: %v", err)
	}
	for name, o := range map[string]OverYearsOptions{"width": {Width: 1}, "no joints of elbow": {Joint: "elbow"}} {
		if _, err := OverYears(a, o); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := OverYears(practiceBy(t, "fixation"), OverYearsOptions{}); err == nil || !strings.Contains(err.Error(), "operation_year") {
		t.Errorf("not grouped by year: %v", err)
	}
}

// An audit made safe for sharing hides the counts of most single years, and
// with them the sums: * stands there and nothing is drawn.
func TestOverYearsHidden(t *testing.T) {
	shared, err := audit.Share(against(t, department(40, 60, 0), "operation_year"))
	if err != nil {
		t.Fatal(err)
	}
	f := mustOverYears(t, shared, OverYearsOptions{})
	hidden, shown := 0, 0
	for _, r := range csvOf(t, f) {
		if r["observed"] != "*" {
			shown++
			continue
		}
		hidden++
		if r["ratio"] != "" || r["ratio_lower"] != "" || r["ratio_upper"] != "" {
			t.Errorf("%v", r)
		}
	}
	markers := 0
	for _, e := range within(parsed(t, f), "path", "ratios") {
		if e.attr["fill"] == hex(ownInk) {
			markers++
		}
	}
	if hidden == 0 || markers != shown || !strings.Contains(strings.Join(f.Notes, " "), "*: not shown") {
		t.Errorf("%d hidden, %d shown, %d markers; %q", hidden, shown, markers, f.Notes)
	}
	plainWords(t, f)
	look(t, f, "overyears-shared")
}

func TestOverYearsPictures(t *testing.T) {
	noEvents := "operation_date,procedure,revision_date\n"
	for i := range 60 {
		noEvents += fmt.Sprintf("%d-03-01,THR,\n", 1998+i%26)
	}
	for name, a := range map[string]*audit.Audit{
		"overyears-practice":  practiceBy(t, "operation_year"),
		"overyears-big":       against(t, department(30, 90, .3), "operation_year"),
		"overyears-no-events": against(t, noEvents, "operation_year"),
		"overyears-one-year":  against(t, "operation_date,procedure,revision_date\n"+strings.Repeat("2015-02-03,THR,\n", 80)+strings.Repeat("2015-02-03,THR,2017-01-01\n", 4), "operation_year"),
	} {
		for _, width := range []float64{170, 85} {
			f := mustOverYears(t, a, OverYearsOptions{Width: mm * vg.Length(width)})
			inside(t, f, parsed(t, f))
			plainWords(t, f)
			look(t, f, fmt.Sprintf("%s-%.0f", name, width))
		}
	}
}

func TestOverYearsGolden(t *testing.T) {
	goldenSVG(t, mustOverYears(t, against(t, department(6, 20, 0), "operation_year"), OverYearsOptions{}), "overyears")
}
