package figure

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

func mustFunnel(t testing.TB, a *audit.Audit, o FunnelOptions) *Figure {
	t.Helper()
	f, err := Funnel(a, o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// dataOf parts a funnel's data into points and limits.
func dataOf(t testing.TB, f *Figure) (points, limits []map[string]string) {
	t.Helper()
	for _, r := range csvOf(t, f) {
		switch r["shown_as"] {
		case "point", "table":
			points = append(points, r)
		case "limits":
			limits = append(limits, r)
		default:
			t.Fatalf("%v", r)
		}
	}
	return points, limits
}

// Points are the audit's, to the last digit, in the order of the number expected,
// which tells nothing of whose they are; limits are benchmark.FunnelLimits'.
func TestFunnelData(t *testing.T) {
	a := against(t, department(25, 90, 0), "surgeon")
	f := mustFunnel(t, a, FunnelOptions{Names: Names{All: true}})
	points, limits := dataOf(t, f)
	var want []*audit.Group
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Pooling == audit.OneField {
			want = append(want, g)
		}
	}
	if len(points) != 25 || len(want) != 25 {
		t.Fatalf("%d points, %d surgeons", len(points), len(want))
	}
	slices.SortStableFunc(want, func(a, b *audit.Group) int {
		return cmp.Compare(a.Expected().Expected, b.Expected().Expected)
	})
	for i, g := range want {
		p, e := points[i], g.Expected()
		if p["group"] != g.Word("surgeon") || p["observed"] != audit.Number(e.Observed) || p["expected"] != audit.Number(e.Expected) || p["ratio"] != audit.Number(e.Ratio) ||
			p["expected_source"] != e.Series.Source || p["target"] != "1" {
			t.Errorf("%v, want %v", p, e)
		}
	}
	if len(limits) < 100 {
		t.Fatalf("limits at %d places", len(limits))
	}
	before := 0.0
	for _, l := range append(limits, points...) {
		x := number(t, l["expected"])
		low, high := benchmark.FunnelLimits(x, 1, .95)
		low8, high8 := benchmark.FunnelLimits(x, 1, .998)
		if number(t, l["lower_95"]) != low || number(t, l["upper_95"]) != high || number(t, l["lower_99_8"]) != low8 || number(t, l["upper_99_8"]) != high8 || l["widened"] != "no" {
			t.Errorf("%v, want %v to %v and %v to %v", l, low, high, low8, high8)
		}
		if l["shown_as"] == "limits" && x < before {
			t.Errorf("limits at %v after %v", x, before)
		}
		before = x
	}
	plainWords(t, f)
}

// What is seen: a marker at each point, limits of two kinds of dashes on both
// sides, the target, and no name.
func TestFunnelSeen(t *testing.T) {
	a := against(t, department(25, 150, 0), "surgeon")
	f := mustFunnel(t, a, FunnelOptions{})
	all := parsed(t, f)
	inside(t, f, all)
	points, limits := dataOf(t, f)
	x0, x1, to := axisOf(t, all)
	y := yAxisOf(t, all)
	var gotX, gotY, wantX, wantY []float64
	for _, e := range within(all, "path", "units") {
		if e.attr["fill"] == hex(ownInk) {
			gotX, gotY = append(gotX, middleX(t, e.attr["d"])), append(gotY, middleY(t, e.attr["d"]))
		}
	}
	for _, p := range points {
		if number(t, p["ratio"]) > number(t, p["axis_to"]) {
			t.Fatalf("beyond the axis: %v", p)
		}
		wantX = append(wantX, x0+(x1-x0)*number(t, p["expected"])/to)
		wantY = append(wantY, y(number(t, p["ratio"])))
		if p["group"] != "" {
			t.Errorf("a name that was not asked for: %v", p)
		}
	}
	if len(gotX) != 25 || !allNear(gotX, wantX, .1) || !allNear(gotY, wantY, .1) {
		t.Errorf("points at %v, %v, want %v, %v", gotX, gotY, wantX, wantY)
	}
	dashes := map[string]int{}
	lines := within(all, "path", "limits")
	for _, e := range lines {
		dashes[e.attr["stroke-dasharray"]]++
	}
	if len(lines) != 4 || len(dashes) != 2 {
		t.Errorf("%d limits, dashes %v", len(lines), dashes)
	}
	// The right end of each limit is that of the data.
	end := limits[len(limits)-1]
	var ends []float64
	for _, e := range lines {
		d := e.attr["d"]
		last := strings.Fields(d[strings.LastIndexAny(d, "L")+1:])
		ends = append(ends, number(t, last[1]))
	}
	if want := []float64{y(number(t, end["lower_95"])), y(number(t, end["upper_95"])), y(number(t, end["lower_99_8"])), y(number(t, end["upper_99_8"]))}; !allNear(ends, want, .1) {
		t.Errorf("limits end at %v, want %v", ends, want)
	}
	if target := within(all, "path", "target"); len(target) != 1 || math.Abs(middleY(t, target[0].attr["d"])-y(1)) > .1 {
		t.Errorf("target %v, want at %v", target, y(1))
	}
	var b bytes.Buffer
	if err := f.WriteSVG(&b); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "Surgeon ") {
		t.Error("a surgeon is named in the SVG")
	}

	// The words: how many lie outside, and would by chance.
	outside, outside8, chance := 0, 0, 0.0
	for _, p := range points {
		r := number(t, p["ratio"])
		if r < number(t, p["lower_95"]) || r > number(t, p["upper_95"]) {
			outside++
		}
		if r < number(t, p["lower_99_8"]) || r > number(t, p["upper_99_8"]) {
			outside8++
		}
		chance += benchmark.OutsideByChance(number(t, p["expected"]), 1, .95)
	}
	if want := fmt.Sprintf("%d outside the 95 %% limits around 1, of these %d outside the 99.8 %% limits", outside, outside8); !strings.Contains(f.Alternative, want) || !strings.Contains(f.Alternative, "25 surgeons") {
		t.Errorf("alternative %q, want %q", f.Alternative, want)
	}
	notes := strings.Join(f.Notes, "\n")
	for _, want := range []string{"is a question", "case mix", fmt.Sprintf("about %.1f of the 25 surgeons", chance), "φ", "vertical axis ends at", "[a] expected from invented-2024"} {
		if !strings.Contains(notes, want) {
			t.Errorf("notes lack %q: %s", want, notes)
		}
	}
}

// Names only of those asked for; none lies over a point or another name.
func TestFunnelNames(t *testing.T) {
	a := against(t, department(60, 60, .3), "surgeon")
	f := mustFunnel(t, a, FunnelOptions{Names: Names{Some: []string{"Surgeon 7", "Surgeon 16", "Surgeon 999"}}})
	named := texts(within(parsed(t, f), "text", "names"))
	slices.Sort(named)
	if want := []string{"Surgeon 16", "Surgeon 7"}; !slices.Equal(named, want) {
		t.Errorf("names %q, want %q", named, want)
	}
	points, _ := dataOf(t, f)
	for _, p := range points {
		if g := p["group"]; g != "" && g != "Surgeon 7" && g != "Surgeon 16" {
			t.Errorf("%q is in the data", g)
		}
	}

	f = mustFunnel(t, a, FunnelOptions{Names: Names{All: true}})
	all := parsed(t, f)
	inside(t, f, all)
	var boxes []vg.Rectangle
	for _, e := range within(all, "text", "names") {
		x, y := vg.Length(number(t, e.attr["x"])), vg.Length(number(t, e.attr["y"]))
		boxes = append(boxes, vg.Rectangle{Min: vg.Point{X: x, Y: y - 5.5}, Max: vg.Point{X: x + defaultMeasure().width(labelText, e.text), Y: y + 1}})
	}
	missing := 60 - len(boxes)
	if missing == 0 || missing > 40 || !strings.Contains(strings.Join(f.Notes, "\n"), fmt.Sprintf("%d names left out for want of room", missing)) {
		t.Errorf("%d names missing; %q", missing, f.Notes)
	}
	for _, e := range within(all, "path", "units") {
		if e.attr["fill"] == hex(ownInk) {
			x, y := vg.Length(middleX(t, e.attr["d"])), vg.Length(middleY(t, e.attr["d"]))
			boxes = append(boxes, vg.Rectangle{Min: vg.Point{X: x, Y: y}, Max: vg.Point{X: x, Y: y}})
		}
	}
	for i, b := range boxes[:60-missing] {
		for j, c := range boxes {
			if i != j && b.Min.X < c.Max.X && c.Min.X < b.Max.X && b.Min.Y < c.Max.Y && c.Min.Y < b.Max.Y {
				t.Errorf("name %d lies over %d", i, j)
			}
		}
	}
}

// Over-dispersion is judged in any case, allowed for on request, and said.
func TestFunnelOverDispersion(t *testing.T) {
	apart, alike, few := against(t, department(60, 60, .6), "surgeon"), against(t, department(25, 90, 0), "surgeon"), against(t, department(6, 30, 0), "surgeon")
	for _, c := range []struct {
		name    string
		a       *audit.Audit
		ask     bool
		widened string
		want    string
	}{
		{"differ, asked for", apart, true, "yes", "Limits widened for over-dispersion, by Spiegelhalter's method: φ"},
		{"differ, not asked for", apart, false, "no", "The limits do not allow for it."},
		{"alike, asked for", alike, true, "no", "Over-dispersion not found, limits not widened: φ"},
		{"alike, not asked for", alike, false, "no", "No over-dispersion found: φ"},
		{"few, asked for", few, true, "no", "that needs 10 surgeons with at least 1 revision expected"},
	} {
		f := mustFunnel(t, c.a, FunnelOptions{OverDispersion: c.ask})
		notes := strings.Join(f.Notes, "\n")
		if !strings.Contains(notes, c.want) {
			t.Errorf("%s: notes lack %q: %s", c.name, c.want, notes)
		}
		points, limits := dataOf(t, f)
		var units []benchmark.Unit
		for _, p := range points {
			units = append(units, benchmark.Unit{Observed: number(t, p["observed"]), Expected: number(t, p["expected"])})
		}
		d, err := benchmark.OverDispersion(units, 1, benchmark.DefaultWinsorise)
		if errors.Is(err, benchmark.ErrFewUnits) != (len(units) < 10) {
			t.Fatal(err)
		}
		exact := 0
		for _, l := range append(limits, points...) {
			x := number(t, l["expected"])
			lower, upper := benchmark.FunnelLimits(x, 1, .95)
			if r := l["ratio"]; r != "" && (number(t, r) < lower || number(t, r) > upper) {
				exact++
			}
			if c.widened == "yes" {
				lower, upper = d.Limits(x, 1, .95)
			}
			if l["widened"] != c.widened || number(t, l["lower_95"]) != lower || number(t, l["upper_95"]) != upper {
				t.Errorf("%s: %v, want %v to %v", c.name, l, lower, upper)
			}
			if err == nil && number(t, l["phi"]) != d.Phi {
				t.Errorf("%s: φ %v, want %v", c.name, l["phi"], d.Phi)
			}
		}
		if c.widened == "yes" && !strings.Contains(notes, fmt.Sprintf("without it %d", exact)) {
			t.Errorf("%s: %d outside the exact limits: %s", c.name, exact, notes)
		}
	}
}

// Another target moves the limits and the line.
func TestFunnelTarget(t *testing.T) {
	f := mustFunnel(t, against(t, department(12, 40, 0), "surgeon"), FunnelOptions{Target: .8})
	points, _ := dataOf(t, f)
	for _, p := range points {
		low, high := benchmark.FunnelLimits(number(t, p["expected"]), .8, .998)
		if number(t, p["lower_99_8"]) != low || number(t, p["upper_99_8"]) != high || p["target"] != "0.8" {
			t.Errorf("%v, want %v to %v", p, low, high)
		}
	}
	all := parsed(t, f)
	if y := yAxisOf(t, all); math.Abs(middleY(t, within(all, "path", "target")[0].attr["d"])-y(.8)) > .1 || !strings.Contains(f.Alternative, "around 0.8") {
		t.Errorf("target %v; %s", within(all, "path", "target"), f.Alternative)
	}
}

// Units without an expected number, joints of nobody, panels without any.
func TestFunnelLeftOut(t *testing.T) {
	table := department(4, 30, 0) + strings.Repeat("2018-03-01,THR,,Hospital A,\n", 7) + // no surgeon
		strings.Repeat("2018-03-01,TKR,Surgeon 1,Hospital A,\n", 4)
	a := against(t, table, "surgeon")
	for i := range a.Groups {
		if a.Groups[i].Word("surgeon") == "Surgeon 2" {
			a.Groups[i].Ratios = nil
		}
	}
	f := mustFunnel(t, a, FunnelOptions{})
	points, _ := dataOf(t, f)
	notes := strings.Join(f.Notes, "\n")
	if len(points) != 3 {
		t.Errorf("%d points", len(points))
	}
	for _, want := range []string{"1 surgeon without an expected number left out.", "7 joints of which the surgeon is not recorded left out.", "Left out: Knee, total (fewer than 10 joints)."} {
		if !strings.Contains(notes, want) {
			t.Errorf("notes lack %q: %s", want, notes)
		}
	}
	if _, err := Funnel(a, FunnelOptions{Joint: "knee"}); !errors.Is(err, ErrNothingToDraw) {
		t.Errorf("few knees: %v", err)
	}
	none := auditTable(t, department(3, 20, 0), audit.Options{By: []string{"surgeon"}})
	if _, err := Funnel(none, FunnelOptions{}); !errors.Is(err, ErrNothingToDraw) || !strings.Contains(err.Error(), "closing date reaches") {
		t.Errorf("nothing published: %v", err)
	}
	for name, c := range map[string]struct {
		o    FunnelOptions
		want string
	}{
		"another field": {FunnelOptions{Field: "hospital"}, `not grouped by "hospital"`},
		"target":        {FunnelOptions{Target: -1}, "target ratio"},
		"width":         {FunnelOptions{Width: 3}, "width"},
		"joint":         {FunnelOptions{Joint: "elbow"}, "no joints of elbow"},
	} {
		if _, err := Funnel(a, c.o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Funnel(practiceBy(t, "surgeon", "hospital"), FunnelOptions{}); err == nil || !strings.Contains(err.Error(), "needs the field") {
		t.Errorf("two fields: %v", err)
	}
}

// Fewer than five units are a table, with the counts that chance alone leaves: Poisson's of
// what is published, a share's of one's own department. Five are a funnel, unless their department
// has too few revisions for ratios to be shown.
func TestFunnelOfFew(t *testing.T) {
	for _, x := range []struct {
		units, most int
		own         bool
		as          string
	}{{4, 60, false, "table"}, {4, 60, true, "table"}, {5, 60, false, "point"}, {5, 60, true, "table"}, {5, 400, true, "point"}} {
		table := department(x.units, x.most, 0)
		a := againstWith(t, table, audit.Options{By: []string{"surgeon"}, ExpectedOwn: x.own})
		f := mustFunnel(t, a, FunnelOptions{Own: x.own, Names: Names{All: true}})
		points, limits := dataOf(t, f)
		if len(points) != x.units || (len(limits) == 0) != (x.as == "table") {
			t.Fatalf("%d units: %d points and %d limits", x.units, len(points), len(limits))
		}
		drawn := parsed(t, f)
		inside(t, f, drawn)
		words := ""
		for _, e := range drawn {
			words += e.text + "\n"
		}
		for _, p := range points {
			if p["shown_as"] != x.as || (p["axis_to"] == "") != (x.as == "table") {
				t.Errorf("%v", p)
			}
			if x.as == "point" {
				continue
			}
			expected, err := strconv.ParseFloat(p["expected"], 64)
			if err != nil {
				t.Fatal(err)
			}
			least, most := benchmark.UsualCounts(expected)
			if x.own {
				d := a.Department[0].Department
				low, high := benchmark.BinomialFunnel(d, expected/d, .95)
				least, most = int(math.Floor(low))+1, int(math.Ceil(high))-1
			}
			if want := fmt.Sprintf("%d–%d", least, most); !strings.Contains(words, want) || !strings.Contains(words, p["group"]) {
				t.Errorf("%s: no %s in %q", p["group"], want, words)
			}
		}
		if strings.Contains(strings.Join(f.Notes, " "), "Fewer than 5 units are a table") != (x.as == "table") || strings.Contains(strings.Join(f.Notes, " "), "axis ends") != (x.as == "point") {
			t.Errorf("notes %q", f.Notes)
		}
	}
}

// In a shared funnel a unit is outside where all that its numbers can stand for is, and so by its exact ones; points are
// rounded and that is said, units joined to others are counted and not drawn, and
// over-dispersion is not judged.
func TestFunnelShared(t *testing.T) {
	table := department(25, 90, 0)
	for i := range 3 {
		table += fmt.Sprintf("2019-01-0%d,THR,Locum %d,Hospital A,\n", i+1, i)
	}
	exact, told := against(t, table, "surgeon"), shared(t, table, "surgeon")
	outsideOf := func(a *audit.Audit) (n int) {
		for i := range a.Groups {
			g := &a.Groups[i]
			if e := g.Expected(); e != nil && g.Pooling == audit.OneField && !strings.HasPrefix(g.Word("surgeon"), "Locum") && e.Sides[0] != benchmark.Compatible {
				n++
			}
		}
		return n
	}
	f := mustFunnel(t, told, FunnelOptions{OverDispersion: true})
	joined, outside, moved := 0, outsideOf(told), 0
	for i := range told.Groups {
		joined += told.Groups[i].Joined
		if e := told.Groups[i].Expected(); e != nil && told.Groups[i].Pooling == audit.OneField && told.Groups[i].Joined == 0 &&
			(benchmark.FunnelSide(e.Observed, e.Expected, 1, .95) == benchmark.Compatible) != (e.Sides[0] == benchmark.Compatible) {
			moved++
		}
	}
	if all := outsideOf(exact); outside == 0 || outside > all {
		t.Errorf("%d outside by what is told, %d by the exact numbers", outside, all)
	}
	points, _ := dataOf(t, f)
	notes := strings.Join(f.Notes, "\n")
	if joined < 3 || len(points)+joined != 28 || !strings.Contains(notes, fmt.Sprintf("%d surgeons left out, whose numbers are too small", joined)) {
		t.Errorf("%d joined, %d points; %q", joined, len(points), notes)
	}
	if !strings.Contains(notes, "Points are rounded") || !strings.Contains(f.Alternative, fmt.Sprintf("%d outside the 95 %% limits", outside)) {
		t.Errorf("%d outside; %q; %q", outside, notes, f.Alternative)
	}
	if moved == 0 {
		t.Error("rounding moves no point across a limit: not a test")
	}
	drawn := 0
	for _, p := range points {
		if p["phi"] != "" || p["widened"] != "no" {
			t.Errorf("over-dispersion judged of rounded numbers: %v", p)
		}
		if r := number(t, p["ratio"]); r > number(t, p["upper_95"]) || r < number(t, p["lower_95"]) {
			drawn++
		}
	}
	if drawn > outside || !strings.Contains(notes, fmt.Sprintf("%d surgeon", outside)) {
		t.Errorf("%d points drawn outside, %d are", drawn, outside)
	}
	plainWords(t, f)
	look(t, f, "funnel-shared")
}

// A unit with hardly anything expected and a revision stands at the end of the
// axis as a triangle.
func TestFunnelBeyond(t *testing.T) {
	a := against(t, department(8, 60, 0)+"2022-01-05,THR,Locum,Hospital A,2022-03-01\n", "surgeon")
	f := mustFunnel(t, a, FunnelOptions{Names: Names{Some: []string{"Locum"}}})
	points, _ := dataOf(t, f)
	locum := points[slices.IndexFunc(points, func(p map[string]string) bool { return p["group"] == "Locum" })]
	if number(t, locum["ratio"]) < 20 || number(t, locum["axis_to"]) > 6 {
		t.Errorf("%v", locum)
	}
	triangles, beyond := 0, 0
	for _, p := range points {
		if number(t, p["ratio"]) > number(t, p["axis_to"]) {
			beyond++
		}
	}
	all := parsed(t, f)
	for _, e := range within(all, "path", "units") {
		if e.attr["fill"] == hex(ownInk) && !strings.Contains(e.attr["d"], "C") {
			triangles++
		}
	}
	if triangles != beyond || !strings.Contains(strings.Join(f.Notes, "\n"), fmt.Sprintf("%d surgeons above the end of the axis, drawn as a triangle, %d of them outside 95 %% limits.", beyond, beyond)) {
		t.Errorf("%d triangles for %d; %q", triangles, beyond, f.Notes)
	}
	if names := texts(within(all, "text", "names")); !slices.Equal(names, []string{"Locum"}) {
		t.Errorf("names %q", names)
	}
	look(t, f, "funnel-beyond")
}

// surgeonsNamed gives the first surgeons of an audit other names.
func surgeonsNamed(a *audit.Audit, names ...string) {
	for i := range a.Groups {
		for j := range a.Groups[i].Values {
			v := &a.Groups[i].Values[j]
			for k, n := range names {
				if v.Field == "surgeon" && v.Word == fmt.Sprintf("Surgeon %d", k+1) {
					v.Word = n
				}
			}
		}
	}
}

var hostileNames = []string{`<script>alert(1)</script>`, `=HYPERLINK("x")`, "מנתח 12 (א)", "Ωμέγα", "外科医生王", "a\x01b\u202ec", strings.Repeat("long ", 1000), strings.Repeat("x", 5000), `a&b'"<>`, "@SUM(A1)", "not a number", "-1+1"}

func TestFunnelPictures(t *testing.T) {
	hostile := against(t, department(14, 60, 0), "surgeon")
	surgeonsNamed(hostile, hostileNames...)
	zero := "operation_date,procedure,surgeon,revision_date\n"
	for i := range 90 {
		zero += fmt.Sprintf("%d-03-01,THR,Surgeon %d,\n", 2005+i%15, 1+i%3)
	}
	for name, c := range map[string]struct {
		a *audit.Audit
		o FunnelOptions
	}{
		"funnel-25":         {against(t, department(25, 90, 0), "surgeon"), FunnelOptions{}},
		"funnel-25-named":   {against(t, department(25, 90, 0), "surgeon"), FunnelOptions{Names: Names{All: true}}},
		"funnel-60":         {against(t, department(60, 60, .6), "surgeon"), FunnelOptions{OverDispersion: true}},
		"funnel-60-named":   {against(t, department(60, 60, .6), "surgeon"), FunnelOptions{Names: Names{All: true}, OverDispersion: true}},
		"funnel-hospitals":  {practiceBy(t, "hospital"), FunnelOptions{Names: Names{All: true}}},
		"funnel-one":        {against(t, department(1, 60, 0), "surgeon"), FunnelOptions{Names: Names{All: true}}},
		"funnel-hostile":    {hostile, FunnelOptions{Names: Names{All: true}}},
		"funnel-narrow":     {against(t, department(5, 12, 0), "surgeon"), FunnelOptions{Names: Names{All: true}, Width: 85 * mm}},
		"funnel-zero":       {against(t, zero, "surgeon"), FunnelOptions{}},
		"funnel-big":        {against(t, department(12, 1500, 0), "surgeon"), FunnelOptions{}},
		"funnel-target-0.5": {against(t, department(25, 90, 0), "surgeon"), FunnelOptions{Target: .5}},
	} {
		t.Run(name, func(t *testing.T) {
			f := mustFunnel(t, c.a, c.o)
			all := parsed(t, f)
			inside(t, f, all)
			for _, e := range within(all, "text", "names") {
				if strings.ContainsAny(e.text, "\u202e\x01") || len([]rune(e.text)) > 100 {
					t.Errorf("name %.80q", e.text)
				}
			}
			plainWords(t, f)
			look(t, f, name)
		})
	}
	var b bytes.Buffer
	if err := mustFunnel(t, hostile, FunnelOptions{Names: Names{All: true}}).WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	for _, start := range []string{",=", `,"=`, ",@", `,"@`, ",-1+"} {
		if strings.Contains(b.String(), start) {
			t.Errorf("a cell starts as %q", start)
		}
	}
}

// Words that are hostile are harmless in the other figures' labels too.
func TestIntervalsHostileNames(t *testing.T) {
	a := against(t, department(14, 60, 0), "surgeon")
	surgeonsNamed(a, hostileNames...)
	f := mustIntervals(t, a, IntervalsOptions{})
	inside(t, f, parsed(t, f))
	look(t, f, "intervals-hostile-names")
}

func TestFunnelGolden(t *testing.T) {
	goldenSVG(t, mustFunnel(t, against(t, department(12, 40, 0), "surgeon"), FunnelOptions{Names: Names{Some: []string{"Surgeon 3"}}}), "funnel")
}

func BenchmarkFunnel(b *testing.B) {
	for _, n := range []int{25, 60} {
		a := against(b, department(n, 40, 0), "surgeon")
		b.Run(fmt.Sprintf("units=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := mustFunnel(b, a, FunnelOptions{Names: Names{All: true}}).WriteSVG(io.Discard); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
