package figure

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/disclose"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

func curvesOf(t testing.TB, a *audit.Audit, o CurvesOptions) *Figure {
	t.Helper()
	f, err := Curves(a, o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// made makes one of the figures that TestPictures makes.
func made(t testing.TB, name string) (*audit.Audit, *Figure) {
	t.Helper()
	for _, c := range pictured {
		if c.name == name {
			a, o := c.make(t)
			return a, curvesOf(t, a, o)
		}
	}
	t.Fatal("no picture " + name)
	return nil, nil
}

func TestCurvesGolden(t *testing.T) {
	for _, name := range []string{"two-both", "practice", "twelve", "scripts", "no-events", "one-joint"} {
		_, f := made(t, name)
		goldenSVG(t, f, "curves-"+name)
	}
}

// What a reader of any of the figures sees is within it, and under every tick
// of a horizontal axis stand counts at its very place.
func TestCurvesAlignment(t *testing.T) {
	for _, c := range pictured {
		t.Run(c.name, func(t *testing.T) {
			_, f := made(t, c.name)
			all := parsed(t, f)
			inside(t, f, all)
			plainWords(t, f)
			ticks := map[string]bool{}
			for _, e := range within(all, "text", "x ticks") {
				ticks[e.attr["x"]] = true
				if e.attr["text-anchor"] != "middle" {
					t.Errorf("tick %s is not centred", e.text)
				}
			}
			counts := 0
			for _, e := range within(all, "text", "table") {
				if e.attr["text-anchor"] != "middle" {
					continue // a label
				}
				counts++
				if !ticks[e.attr["x"]] {
					t.Errorf("count %s at %s, which is no tick", e.text, e.attr["x"])
				}
				if _, err := strconv.Atoi(e.text); err != nil {
					t.Errorf("count %q", e.text)
				}
			}
			if counts == 0 && len(ticks) > 0 {
				t.Error("no counts under the axis")
			}
		})
	}
}

// Curves, bands and published figures stay within the axes.
func TestCurvesWithinAxes(t *testing.T) {
	for _, c := range pictured {
		a, o := c.make(t)
		for _, top := range []float64{0, 2} { // 2 % cuts off most of them
			o.Top = top
			all := parsed(t, curvesOf(t, a, o))
			var boxes []box
			for _, e := range within(all, "path", "axes") {
				if b := boundsOf(t, e.attr["d"]); strings.Contains(e.attr["d"], "V") && strings.Contains(e.attr["d"], "H") {
					boxes = append(boxes, b)
				}
			}
			drawn := 0
			for _, class := range []string{"curves", "bands"} {
				for _, e := range within(all, "path", class) {
					drawn++
					b := boundsOf(t, e.attr["d"])
					if !slices.ContainsFunc(boxes, func(a box) bool { return a.holds(b) }) {
						t.Errorf("%s, top %v: %s %v is in no axes of %v", c.name, top, class, b, boxes)
					}
				}
			}
			if drawn == 0 && c.name != "one-joint" {
				t.Errorf("%s: nothing drawn", c.name)
			}
		}
	}
}

type box struct{ left, top, right, bottom float64 }

// holds allows for a hundredth of a point of rounding.
func (a box) holds(b box) bool {
	const e = .011
	return b.left >= a.left-e && b.right <= a.right+e && b.top >= a.top-e && b.bottom <= a.bottom+e
}

// samePath compares two paths, allowing for two hundredths of a point of
// rounding.
func samePath(got, want string) bool {
	number := regexp.MustCompile(`[0-9.]+`)
	if number.ReplaceAllString(got, "n") != number.ReplaceAllString(want, "n") {
		return false
	}
	g, w := number.FindAllString(got, -1), number.FindAllString(want, -1)
	for i := range g {
		x, err1 := strconv.ParseFloat(g[i], 64)
		y, err2 := strconv.ParseFloat(w[i], 64)
		if err1 != nil || err2 != nil || math.Abs(x-y) > .021 {
			return false
		}
	}
	return true
}

var pathPart = regexp.MustCompile(`([MLHV])([-0-9.]+)(?: ([-0-9.]+))?`)

// boundsOf are the bounds of a path of straight lines.
func boundsOf(t *testing.T, d string) box {
	t.Helper()
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("path %s: %v", d, err)
		}
		return x
	}
	for _, m := range pathPart.FindAllStringSubmatch(d, -1) {
		x, y := math.NaN(), math.NaN()
		switch m[1] {
		case "H":
			x = number(m[2])
		case "V":
			y = number(m[2])
		default:
			x, y = number(m[2]), number(m[3])
		}
		if !math.IsNaN(x) {
			b.left, b.right = min(b.left, x), max(b.right, x)
		}
		if !math.IsNaN(y) {
			b.top, b.bottom = min(b.top, y), max(b.bottom, y)
		}
	}
	return b
}

// Labels and legends stand outside the axes, so that they cover no curve.
func TestLabelsCoverNothing(t *testing.T) {
	for _, c := range pictured {
		_, f := made(t, c.name)
		all := parsed(t, f)
		var boxes []box
		for _, e := range within(all, "path", "axes") {
			if strings.Contains(e.attr["d"], "V") && strings.Contains(e.attr["d"], "H") {
				boxes = append(boxes, boundsOf(t, e.attr["d"]))
			}
		}
		for _, class := range []string{"table", "x ticks", "y ticks"} {
			for _, e := range within(all, "text", class) {
				x, _ := strconv.ParseFloat(e.attr["x"], 64)
				y, _ := strconv.ParseFloat(e.attr["y"], 64)
				for _, b := range boxes {
					if x < b.right && y > b.top && y < b.bottom+2 && x+5 > b.left && class == "table" {
						t.Errorf("%s: %s %.40q at %v, %v lies in the axes %v", c.name, class, e.text, x, y, b)
					}
				}
			}
		}
	}
}

// The curve of a table by hand: 40 hips on 1 January 2010, closed on
// 2014-12-31, that is after 1825 days. 2 are revised on day 365, 4 on day 730,
// nobody dies. Worked by hand: 2/40 = 5 % from 1 year, which is day 365, then
// 1 − 38/40·34/38 = 15 % from 730/365.25 years.
func TestCurveByHand(t *testing.T) {
	table := "operation_date,joint,procedure,age,revision_date,death_date\n" +
		strings.Repeat("2010-01-01,hip,total,60,2011-01-01,\n", 2) +
		strings.Repeat("2010-01-01,hip,total,60,2012-01-01,\n", 4) +
		strings.Repeat("2010-01-01,hip,total,60,,\n", 34)
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(table)}},
		cohort.Options{ClosingDate: closingDay(t, "2014-12-31"), Today: *closingDay(t, "2020-01-01")})
	if err != nil {
		t.Fatal(err)
	}
	a, err := audit.Run(c, audit.Options{By: []string{}})
	if err != nil {
		t.Fatal(err)
	}
	f := curvesOf(t, a, CurvesOptions{})
	all := parsed(t, f)
	paths := within(all, "path", "curves")
	if len(paths) != 1 {
		t.Fatalf("%d paths", len(paths))
	}
	axis := within(all, "path", "axes")[0].attr["d"] // down, then to the right
	b := boundsOf(t, axis)
	// The axis ends at 5 years, since 1825 days are less, and at 40 %, since the
	// upper limit of 15 % is 1 − exp(−.1625·exp(.8012)) = 30.4 %: .1625 is −ln .85,
	// .8012 is 1.96·.05646/(.85·.1625), and .05646 is √(.15·.85/40). Zero lies 4
	// points above the horizontal axis.
	x := func(years float64) string { return decimal(b.left + (b.right-b.left)*years/5) }
	y := func(p float64) string { return decimal(b.bottom - 4 - (b.bottom-4-b.top)*p/.4) }
	want := fmt.Sprintf("M%s %sH%sV%sH%sV%sH%s", x(0), y(0), x(1), y(.05), x(730/365.25), y(.15), x(1825/365.25))
	if got := paths[0].attr["d"]; !samePath(got, want) {
		t.Errorf("curve %s, want %s", got, want)
	}
	// Under the axis, at 1, 3 and 5 years, on days 365, 1095 and 1826: those revised on
	// day 365 were at risk on it. At 5 nobody is left and nothing is known.
	var counts []string
	for _, e := range within(all, "text", "table") {
		if e.attr["text-anchor"] == "middle" {
			counts = append(counts, e.text)
		}
	}
	if got, want := strings.Join(counts, " "), "40 34 0 2 6"; got != want {
		t.Errorf("counts %s, want %s", got, want)
	}
}

// A curve is faint from the last day with the floor at risk, and ends on the
// last with 10. 35 hips, one leaves the follow-up each 100 days: n − i are at
// risk on day 100·i+100, so that 30 are on day 600 and 10 on day 2600.
func TestFaintAndEnd(t *testing.T) {
	var b strings.Builder
	b.WriteString("operation_date,joint,procedure,age,revision_date,death_date\n")
	first, err := cohort.ParseDay("2010-01-01")
	if err != nil {
		t.Fatal(err)
	}
	for i := range 35 {
		fmt.Fprintf(&b, "2010-01-01,hip,total,60,,%s\n", first+cohort.Day(100*(i+1)))
	}
	a := auditTable(t, b.String(), audit.Options{By: []string{}})
	rows := csvOf(t, curvesOf(t, a, CurvesOptions{}))
	last, faintFrom := 0., math.Inf(1)
	for _, r := range rows {
		if r["kind"] != "curve" {
			continue
		}
		years, err := strconv.ParseFloat(r["years"], 64)
		if err != nil {
			t.Fatal(err)
		}
		last = max(last, years)
		n, _ := strconv.Atoi(r["at_risk"])
		if (r["faint"] == "yes") != (n < 30) || n < 10 {
			t.Errorf("%d at risk at %v years, faint %q", n, years, r["faint"])
		}
		if r["faint"] == "yes" {
			faintFrom = min(faintFrom, years)
		}
	}
	if want := 2600 / 365.25; last != want {
		t.Errorf("the curve ends at %v years, want %v", last, want)
	}
	if faintFrom <= 600/365.25 || faintFrom > 700/365.25 {
		t.Errorf("faint from %v years, want after %v", faintFrom, 600/365.25)
	}
	for _, c := range []struct{ floor, lines float64 }{{0, 2}, {-1, 1}, {100, 1}} {
		a.Interval.MinAtRisk = c.floor
		if got := within(parsed(t, curvesOf(t, a, CurvesOptions{})), "path", "curves"); float64(len(got)) != c.lines {
			t.Errorf("floor %v: %d lines, want %v", c.floor, len(got), c.lines)
		}
	}
}

// At the years that both have, the figure's numbers are the audit's to the last
// digit.
func TestCurvesCSV(t *testing.T) {
	a := practiceAudit(t, audit.Options{By: []string{"fixation"}, Years: []float64{1, 2, 3, 5, 7.5, 10, 12}})
	type key struct{ joint, procedure, group, years string }
	want := map[key]map[string]string{}
	for _, r := range auditCSV(t, a) {
		want[key{r["joint"], r["procedure"], r["fixation"], r["years"]}] = r
	}
	beside := map[key][]map[string]string{}
	for i := range a.Groups {
		g := &a.Groups[i]
		for _, r := range g.Rows() {
			for _, b := range r.Beside {
				if !b.Read() {
					continue
				}
				k := key{g.Word("joint"), g.Word("procedure"), g.Word("fixation"), audit.Number(r.Years)}
				f := b.Figure
				lower, upper := "", ""
				if f.HasLimits() {
					lower, upper = benchmark.Percent(f.Lower), benchmark.Percent(f.Upper)
				}
				beside[k] = append(beside[k], map[string]string{"estimate_pct": benchmark.Percent(f.Revision), "lower_pct": lower, "upper_pct": upper,
					"source": b.Series.Source, "estimand": b.Series.Estimand.String()})
			}
		}
	}
	curve, published, under := 0, 0, 0
	for _, o := range []CurvesOptions{{Field: "fixation", Estimand: Both}, {Estimand: Both}} {
		for _, r := range csvOf(t, curvesOf(t, a, o)) {
			w, ok := want[key{r["joint"], r["procedure"], r["group"], r["years"]}]
			prefix := map[string]string{"1-KM": "km", "cumulative incidence": "incidence"}[r["estimand"]]
			same := func(column, of string) {
				t.Helper()
				if r[column] != w[of] {
					t.Errorf("%s %s of %s, %s at %s years: %s, the audit has %s", r["kind"], column, r["group"], r["estimand"], r["years"], r[column], w[of])
				}
			}
			switch r["kind"] {
			case "curve":
				if !ok {
					continue
				}
				curve++
				same("estimate_pct", prefix+"_pct")
				same("lower_pct", prefix+"_lower_pct")
				same("upper_pct", prefix+"_upper_pct")
				same("at_risk", "at_risk")
				same("revised_so_far", "revised_so_far")
			case "at risk":
				if ok {
					under++
					same("at_risk", "at_risk")
					same("revised_so_far", "revised_so_far")
				}
			case "published":
				published++
				if !slices.ContainsFunc(beside[key{r["joint"], r["procedure"], r["group"], r["years"]}], func(w map[string]string) bool {
					for column, want := range w {
						if r[column] != want {
							return false
						}
					}
					return true
				}) {
					t.Errorf("published at %s years: %v, which the audit has not", r["years"], r)
				}
			default:
				t.Errorf("kind %q", r["kind"])
			}
		}
	}
	if curve < 60 || published < 30 || under < 30 {
		t.Errorf("compared only %d points of curves, %d published figures and %d counts", curve, published, under)
	}
}

// 1-KM stands with Kaplan–Meier, cumulative incidence with the incidence, and
// neither with the other.
func TestPublishedByEstimand(t *testing.T) {
	const headings = "source,joint,procedure,years,revision_pct,lower_pct,upper_pct,estimand,citation\n"
	series, _, err := benchmark.Read(strings.NewReader(headings+
		"first,hip,total,2,1,.5,1.5,1-KM,Invented\nsecond,hip,total,4,2,1.5,2.5,cumulative incidence,Invented\n"), "published.csv")
	if err != nil {
		t.Fatal(err)
	}
	a := auditTable(t, invented(kind{"A", 300, 10, .01, .03}), audit.Options{By: []string{}, Published: series})
	got := map[string]string{}
	f := curvesOf(t, a, CurvesOptions{Estimand: Both})
	for _, r := range csvOf(t, f) {
		if r["kind"] == "published" {
			got[r["source"]] += r["estimand"]
		}
	}
	if got["first"] != "1-KM" || got["second"] != "cumulative incidence" || len(got) != 2 {
		t.Errorf("published %v", got)
	}
	if n := len(within(parsed(t, f), "path", "published")); n == 0 {
		t.Error("no marker")
	}
	without := curvesOf(t, a, CurvesOptions{Estimand: Both, NoPublished: true})
	if n := len(within(parsed(t, without), "path", "published")); n != 0 {
		t.Error("markers without published figures")
	}
	if notes := strings.Join(f.Notes, " "); !strings.Contains(notes, "[a] first: INVENTED") || !strings.Contains(notes, "[b] second: INVENTED") {
		t.Errorf("sources not named: %s", notes)
	}
}

func TestGroupsInOrderOfTheAudit(t *testing.T) {
	a := twelve(t)
	f := curvesOf(t, a, CurvesOptions{Names: Names{All: true}, Field: "surgeon"})
	var want []string
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Pooling == audit.OneField && g.Joints >= 40 {
			want = append(want, g.Word("surgeon"))
		}
	}
	var got []string
	for _, r := range csvOf(t, f) {
		if r["group"] != "All" && (len(got) == 0 || got[len(got)-1] != r["group"]) {
			got = append(got, r["group"])
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("groups %q, want %q", got, want)
	}
	if notes := strings.Join(f.Notes, " "); !strings.Contains(notes, "Surgeon 01 (0 of 5 revised)") {
		t.Errorf("the group with 5 joints is not named: %s", notes)
	}
	all := parsed(t, f)
	if n := len(within(all, "path", "axes")); n < 11 {
		t.Errorf("%d axes of 11 groups", n)
	}
}

func TestHostileLabels(t *testing.T) {
	hostile := []string{`<script>alert("x")</script>`, "=HYPERLINK(1)", "a\u202eb\u2066c\x00d", "\"quoted' & <b>", strings.Repeat("x", 5000)}
	var kinds []kind
	for i := range hostile {
		kinds = append(kinds, kind{fmt.Sprintf("Surgeon %d", i), 60, 8, .01, .02})
	}
	a := bySurgeon(t, kinds...)
	for i, h := range hostile {
		rename(a, kinds[i].word, h)
	}
	f := curvesOf(t, a, CurvesOptions{Names: Names{All: true}, Field: "surgeon"})
	all := parsed(t, f) // no script, well formed
	inside(t, f, all)
	seen := strings.Join(texts(all), "\n")
	for _, want := range []string{`<script>alert("x")</script>`, "=HYPERLINK(1)", "abcd", `"quoted' & <b>`, "xxxx"} {
		if !strings.Contains(seen, want) {
			t.Errorf("label %q is not in the figure", want)
		}
	}
	if strings.ContainsAny(seen, "\u202e\u2066\x00") {
		t.Error("control characters in the figure")
	}
	for _, r := range csvOf(t, f) {
		if strings.HasPrefix(r["group"], "=") {
			t.Fatalf("a formula in the data: %s", r["group"])
		}
	}
	for _, write := range []func(*bytes.Buffer) error{
		func(b *bytes.Buffer) error { return f.WritePDF(b) },
		func(b *bytes.Buffer) error { return f.WritePNG(b, 96) },
	} {
		if err := write(new(bytes.Buffer)); err != nil {
			t.Error(err)
		}
	}
}

func TestDeathsNotRecorded(t *testing.T) {
	_, f := made(t, "no-deaths")
	all := parsed(t, f)
	if s := strings.Join(texts(within(all, "text", "message")), " "); !strings.Contains(s, "deaths are not recorded") {
		t.Errorf("message %q", s)
	}
	for _, r := range csvOf(t, f) {
		if r["estimand"] != "1-KM" {
			t.Fatalf("data of %s", r["estimand"])
		}
	}
	if n := len(within(all, "text", "x ticks")); n == 0 {
		t.Error("no axes for Kaplan–Meier")
	}
}

func TestTooFewJoints(t *testing.T) {
	_, f := made(t, "one-joint")
	if all := parsed(t, f); len(within(all, "path", "axes")) > 0 || len(within(all, "text", "message")) != 1 {
		t.Error("one joint has axes, or no message")
	}
	if notes := strings.Join(f.Notes, " "); !strings.Contains(notes, "Hip, total (0 of 1 revised)") {
		t.Errorf("notes %s", notes)
	}
	if rows := csvOf(t, f); len(rows) != 0 {
		t.Errorf("%d rows of data", len(rows))
	}
}

// An audit without curves is drawn from its rows.
func TestPointsWithoutCurves(t *testing.T) {
	a := bySurgeon(t, kind{"Surgeon 1", 300, 12, .01, .02}, kind{"Surgeon 2", 200, 12, .02, .02})
	for i := range a.Groups {
		g := &a.Groups[i]
		g.Counts = nil
	}
	f := curvesOf(t, a, CurvesOptions{Names: Names{All: true}, Field: "surgeon"})
	look(t, f, "curves-points")
	all := parsed(t, f)
	if n := len(within(all, "path", "curves")); n != 0 {
		t.Errorf("%d lines of curves", n)
	}
	if n := len(within(all, "path", "bars")); n < 6 {
		t.Errorf("%d marks", n)
	}
	for _, r := range csvOf(t, f) {
		if r["kind"] == "curve" {
			t.Error("a step of a curve")
		}
	}
}

func TestCurvesOptions(t *testing.T) {
	a := bySurgeon(t, kind{"Surgeon 1", 60, 8, .01, .02})
	for _, c := range []struct {
		o    CurvesOptions
		want string
	}{
		{CurvesOptions{Field: "hospital"}, "not grouped by"},
		{CurvesOptions{Joint: "knee"}, "no joints"},
		{CurvesOptions{Procedure: "resurfacing"}, "no joints"},
		{CurvesOptions{MaxYears: -1}, "years"},
		{CurvesOptions{MaxYears: math.NaN()}, "years"},
		{CurvesOptions{Top: 101}, "top"},
		{CurvesOptions{Top: math.NaN()}, "top"},
		{CurvesOptions{Estimand: 3}, "estimand"},
		{CurvesOptions{Width: 10}, "width"},
	} {
		if _, err := Curves(a, c.o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v, want %q", c.o, err, c.want)
		}
	}
	f := curvesOf(t, a, CurvesOptions{MaxYears: 2, Top: 40})
	for _, r := range csvOf(t, f) {
		if y, _ := strconv.ParseFloat(r["years"], 64); y > 2 {
			t.Errorf("%s at %v years", r["kind"], y)
		}
	}
	if ticks := within(parsed(t, f), "text", "y ticks"); ticks[len(ticks)-1].text != "40" {
		t.Errorf("the axis ends at %s", ticks[len(ticks)-1].text)
	}
	if err := f.WritePNG(new(bytes.Buffer), 5); err == nil {
		t.Error("5 dots per inch were taken")
	}
}

// A published figure without limits leaves the axis as high as what is drawn needs.
func TestAxisWithoutPublishedLimits(t *testing.T) {
	table, err := os.ReadFile("../../examples/practice/practice.csv")
	if err != nil {
		t.Fatal(err)
	}
	a := auditTable(t, string(table), audit.Options{Published: benchmark.Builtin()})
	if !slices.ContainsFunc(a.Beside, func(b *audit.Beside) bool { return b.Read() && b.Joint == "knee" && !(b.Figure.Upper > 0) }) {
		t.Fatal("every figure beside the knees has limits")
	}
	ticks := within(parsed(t, curvesOf(t, a, CurvesOptions{Joint: "knee", Procedure: "total"})), "text", "y ticks")
	if top := ticks[len(ticks)-1].text; top == "100" {
		t.Errorf("the axis ends at %s", top)
	}
}

// More steps than can be seen are drawn once for each place, and the last of a
// place is kept, so that the curve is right where it is drawn.
func TestThinned(t *testing.T) {
	var days []float64
	for d := range 9000 {
		days = append(days, float64(d))
	}
	kept := thinned(days, 8999)
	if len(kept) > mostSteps+1 || kept[len(kept)-1] != 8999 {
		t.Errorf("%d kept, the last %v", len(kept), kept[len(kept)-1])
	}
	if got := thinned(days[:100], 50); len(got) != 51 {
		t.Errorf("%d kept of 51", len(got))
	}
}

func TestRepeatable(t *testing.T) {
	for _, name := range []string{"practice", "twelve"} {
		_, f := made(t, name)
		_, g := made(t, name)
		for _, write := range []func(*Figure, *bytes.Buffer) error{
			func(f *Figure, b *bytes.Buffer) error { return f.WriteSVG(b) },
			func(f *Figure, b *bytes.Buffer) error { return f.WritePDF(b) },
			func(f *Figure, b *bytes.Buffer) error { return f.WritePNG(b, 60) },
			func(f *Figure, b *bytes.Buffer) error { return f.WriteCSV(b) },
		} {
			var x, y bytes.Buffer
			if err := write(f, &x); err != nil {
				t.Fatal(err)
			}
			if err := write(g, &y); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(x.Bytes(), y.Bytes()) {
				t.Errorf("%s differs the second time", name)
			}
		}
	}
}

// The golden files stay small.
func TestGoldenSize(t *testing.T) {
	entries, err := os.ReadDir("testdata")
	if err != nil {
		t.Fatal(err)
	}
	total := int64(0)
	for _, e := range entries {
		info, err := e.Info()
		if err != nil {
			t.Fatal(err)
		}
		total += info.Size()
	}
	if total > 300<<10 {
		t.Errorf("testdata is %d bytes, want at most 300 KB", total)
	}
}

func BenchmarkCurves(b *testing.B) {
	a := bySurgeon(b, kind{"Surgeon 1", 1500, 25, .008, .03}, kind{"Surgeon 2", 900, 25, .014, .03}, kind{"Surgeon 3", 300, 14, .03, .03})
	a.Interval.Method = survival.LogLog
	o := CurvesOptions{Names: Names{All: true}, Field: "surgeon", Estimand: Both}
	b.Run("make", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			curvesOf(b, a, o)
		}
	})
	f := curvesOf(b, a, o)
	for _, c := range []struct {
		name  string
		write func(*bytes.Buffer) error
	}{
		{"svg", func(w *bytes.Buffer) error { return f.WriteSVG(w) }},
		{"png", func(w *bytes.Buffer) error { return f.WritePNG(w, 96) }},
		{"pdf", func(w *bytes.Buffer) error { return f.WritePDF(w) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := c.write(new(bytes.Buffer)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// An audit made safe for sharing gives nothing in a figure that it does not say
// itself: each number of the data is one of the audit's own data, at whole years.
func TestSharedAudit(t *testing.T) {
	var years []float64
	for y := range 12 {
		years = append(years, float64(y+1))
	}
	a := practiceMade(t, audit.Options{By: []string{"fixation"}, Years: years}, disclose.Run)
	said := map[string]bool{}
	for _, r := range auditCSV(t, a) {
		said[r["joint"]+r["procedure"]+r["fixation"]+r["years"]+":"+r["km_pct"]+" "+r["at_risk"]] = true
	}
	points := 0
	for _, o := range []CurvesOptions{{Field: "fixation"}, {}} {
		f := curvesOf(t, a, o)
		look(t, f, "curves-shared"+o.Field)
		plainWords(t, f)
		for _, r := range csvOf(t, f) {
			if r["kind"] != "point" {
				continue
			}
			points++
			if k := r["joint"] + r["procedure"] + r["group"] + r["years"] + ":" + r["estimate_pct"] + " " + r["at_risk"]; !said[k] {
				t.Errorf("%s is not in the audit's data", k)
			}
		}
		for _, r := range csvOf(t, f) {
			if r["kind"] == "curve" {
				t.Fatal("a step of a curve in a shared figure")
			}
		}
	}
	if points < 20 {
		t.Errorf("only %d points", points)
	}
}

// A registry's counts leave one another, and the labels, alone.
func TestLargeCounts(t *testing.T) {
	for _, n := range []int{2, 8} {
		var kinds []kind
		for i := range n {
			kinds = append(kinds, kind{fmt.Sprintf("Surgeon %d", i+1), 60, 20, .01, .02})
		}
		a := bySurgeon(t, kinds...)
		for i := range a.Groups {
			g := &a.Groups[i]
			g.Joints *= 50_000
			// The same curve of many more joints.
			scaled := tally.New(g.Counts.Causes())
			for e := range g.Counts.Exits() {
				e.Subjects *= 50_000
				if err := scaled.AddExit(e); err != nil {
					t.Fatal(err)
				}
			}
			g.Counts = scaled
		}
		f := curvesOf(t, a, CurvesOptions{Names: Names{All: true}, Field: "surgeon"})
		look(t, f, fmt.Sprintf("curves-large-%d", n))
		all := parsed(t, f)
		inside(t, f, all)
		ends := map[string][][2]float64{}
		for _, e := range within(all, "text", "table") {
			x, _ := strconv.ParseFloat(e.attr["x"], 64)
			size, _ := strconv.ParseFloat(e.attr["font-size"], 64)
			w := float64(defaultMeasure().width(textStyle{size: 1}, e.text)) * size
			switch e.attr["text-anchor"] {
			case "middle":
				x -= w / 2
			case "end":
				x -= w
			}
			for _, other := range ends[e.attr["y"]] {
				if x < other[1]+1 && x+w > other[0]-1 {
					t.Errorf("%d groups: %q at %v overlaps what stands at %v", n, e.text, x, other)
				}
			}
			ends[e.attr["y"]] = append(ends[e.attr["y"]], [2]float64{x, x + w})
		}
	}
}
