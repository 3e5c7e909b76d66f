package figure

import (
	"bytes"
	"errors"
	"fmt"
	"image/png"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/monitor"
)

// sizes are the widths, in millimetres, that figures are looked at in.
var sizes = []vg.Length{80, 120, 170, 250}

// lookAtSizes draws a figure at several widths, and checks that its words stay
// within it and are not cut.
func lookAtSizes(t *testing.T, name string, draw func(width vg.Length) (*Figure, error)) {
	t.Helper()
	widths := sizes
	if testing.Short() {
		widths = sizes[:1]
	}
	for _, w := range widths {
		f, err := draw(w * mm)
		if err != nil {
			t.Fatal(err)
		}
		all := parsed(t, f)
		inside(t, f, all)
		plainWords(t, f)
		for _, s := range texts(all) {
			if strings.Contains(s, "…") {
				t.Errorf("%s, %v mm: %q is cut", name, float64(w), s)
			}
		}
		look(t, f, fmt.Sprintf("%s-%.0f", name, float64(w)))
	}
}

func TestSizes(t *testing.T) {
	practice := practiceBy(t, "bearing", "fixation", "age_band")
	long := bySurgeon(t, kind{"A", 200, 10, .01, .02}, kind{"B", 200, 10, .004, .02})
	rename(long, "A", "A very long name of a surgeon who signs with all of the names that were ever given")
	for name, draw := range map[string]func(width vg.Length) (*Figure, error){
		"curves": func(w vg.Length) (*Figure, error) {
			return Curves(practice, CurvesOptions{Field: "bearing", Joint: "hip", Procedure: "total", Width: w})
		},
		"curves-long": func(w vg.Length) (*Figure, error) {
			return Curves(long, CurvesOptions{Field: "surgeon", Names: Names{All: true}, Width: w})
		},
		"intervals": func(w vg.Length) (*Figure, error) {
			return Intervals(practice, IntervalsOptions{Joint: "hip", Procedure: "total", Width: w})
		},
		"strip": func(w vg.Length) (*Figure, error) { return Strip(practice, StripOptions{Width: w}) },
	} {
		t.Run(name, func(t *testing.T) { lookAtSizes(t, "sizes-"+name, draw) })
	}
}

// The strip has the audit's numbers at the latest year with 30 at risk, and the
// range that is usual: the central 95 % of a Poisson count (R: qpois(c(.025,
// .975), 10.4), 7.3 and 3.2).
func TestStrip(t *testing.T) {
	for _, c := range []struct {
		mean        float64
		least, most int
	}{{10.4, 5, 17}, {7.3, 3, 13}, {3.2, 0, 7}} {
		if least, most := benchmark.UsualCounts(c.mean); least != c.least || most != c.most {
			t.Errorf("usual for %v is %d to %d, want %d to %d", c.mean, least, most, c.least, c.most)
		}
	}
	a := practiceBy(t, "fixation")
	f, err := Strip(a, StripOptions{})
	if err != nil {
		t.Fatal(err)
	}
	own := auditCSV(t, a)
	for _, r := range csvOf(t, f) {
		found := false
		for _, w := range own {
			if w["joint"] != r["joint"] || w["procedure"] != r["procedure"] || w["fixation"] != "All" || w["years"] != r["years"] {
				continue
			}
			found = true
			if w["km_pct"] != r["pct"] || w["km_upper_pct"] != r["upper_pct"] || w["at_risk"] != r["at_risk"] || w["published_figures"] != "1" || w["published_least_pct"] != r["published_pct"] || w["reading"] != r["reading"] {
				t.Errorf("%v, want %v", r, w)
			}
		}
		for i := range a.Groups {
			g := &a.Groups[i]
			if e := g.Expected(); g.Pooling == audit.AllJoints && g.Word("joint") == r["joint"] && g.Word("procedure") == r["procedure"] && r["expected"] != "" &&
				(audit.Number(e.Observed) != r["observed"] || audit.Number(e.Expected) != r["expected"]) {
				t.Errorf("%v, want %v", r, e)
			}
		}
		if !found || number(t, r["at_risk"]) < 10 {
			t.Errorf("%v", r)
		}
	}
	dots := 0
	for _, e := range within(parsed(t, f), "path", "revisions") {
		if strings.Contains(e.attr["d"], "C") {
			dots++
		}
	}
	want := 0.0
	for _, r := range csvOf(t, f) {
		if r["observed"] != "" {
			want += number(t, r["observed"])
		}
	}
	if float64(dots) != want || dots == 0 {
		t.Errorf("%d dots for %v revisions", dots, want)
	}
	one := bySurgeon(t, kind{"Surgeon 1", 1, 3, 0, 0})
	if _, err := Strip(one, StripOptions{}); !errors.Is(err, ErrNothingToDraw) {
		t.Errorf("one joint: %v", err)
	}
}

// A grid's cells are the audit's, add up to all joints, and are shaded by their
// number alone.
func TestGrid(t *testing.T) {
	a := practiceBy(t, "age_band", "bearing")
	draw := func(w vg.Length) (*Figure, error) {
		return Grid(a, GridOptions{Joint: "hip", Procedure: "total", Width: w})
	}
	lookAtSizes(t, "grid", draw)
	f, err := draw(0)
	if err != nil {
		t.Fatal(err)
	}
	joints, revised := 0.0, 0.0
	for _, r := range csvOf(t, f) {
		joints, revised = joints+number(t, r["joints"]), revised+number(t, r["revised"])
	}
	if joints != 441 || revised != 12 { // of the invented practice: TestPracticeCounts of the command
		t.Errorf("%v joints, %v revised", joints, revised)
	}
	b := &grid{most: 100}
	if b.shade(100) == b.shade(1) || b.shade(0) != white {
		t.Error("shades do not tell numbers apart")
	}
	if c := b.shade(100); contrast(c.R, c.G, c.B) > 2 {
		t.Error("black on the darkest shade is hard to read")
	}
	if _, err := Grid(practiceBy(t, "bearing"), GridOptions{}); err == nil || !strings.Contains(err.Error(), "two fields") {
		t.Errorf("one field: %v", err)
	}
}

// What became of the joints of each year adds up to them.
func TestFollowUp(t *testing.T) {
	a := practiceAudit(t, audit.Options{By: []string{"operation_year"}, WorstCase: true, NoCells: true})
	draw := func(w vg.Length) (*Figure, error) {
		return FollowUp(a, FollowUpOptions{Joint: "hip", Procedure: "total", Width: w})
	}
	lookAtSizes(t, "follow-up", draw)
	f, err := draw(0)
	if err != nil {
		t.Fatal(err)
	}
	all := 0.0
	for _, r := range csvOf(t, f) {
		sum := 0.0
		for _, fate := range []string{"followed", "lost", "died", "revised"} {
			sum += number(t, r[fate])
		}
		if sum != number(t, r["joints"]) {
			t.Errorf("%v adds up to %v", r, sum)
		}
		all += sum
	}
	if all != 441 {
		t.Errorf("%v joints", all)
	}
	if _, err := FollowUp(practiceBy(t, "bearing"), FollowUpOptions{}); err == nil {
		t.Error("not grouped by year")
	}
}

// Surgeons have letters, by the number of joints, unless they are to be named;
// the data keep to it, and the caution stands either way.
func TestLetters(t *testing.T) {
	a := bySurgeon(t, kind{"Linden", 80, 10, .01, .02}, kind{"Ahorn", 200, 10, .01, .02}, kind{"not recorded", 60, 10, .01, .02})
	for _, c := range []struct {
		names      Names
		want, hide string
	}{
		{Names{}, "Surgeon B", "Linden"},
		{Names{Some: []string{"Linden"}}, "Linden", "Ahorn"},
		{Names{All: true}, "Ahorn", "Surgeon A"},
	} {
		curves := curvesOf(t, a, CurvesOptions{Field: "surgeon", Names: c.names})
		for _, f := range []*Figure{curves, mustIntervals(t, a, IntervalsOptions{Names: c.names})} {
			var svg, data bytes.Buffer
			if err := errors.Join(f.WriteSVG(&svg), f.WriteCSV(&data)); err != nil {
				t.Fatal(err)
			}
			for _, out := range []string{svg.String(), data.String()} {
				if !strings.Contains(out, c.want) || strings.Contains(out, c.hide) {
					t.Errorf("%+v: want %s, not %s", c.names, c.want, c.hide)
				}
			}
			if !strings.Contains(svg.String(), "case mix") || !strings.Contains(svg.String(), "surgeon not recorded") {
				t.Errorf("%+v: no caution, or who is not recorded", c.names)
			}
		}
	}
}

// Panels and lines stand in the order of their letters: that of the names would tell whose they are.
func TestLettersInTheirOrder(t *testing.T) {
	a := bySurgeon(t, kind{"Linden", 200, 10, .01, .02}, kind{"Ahorn", 80, 10, .01, .02}, kind{"not recorded", 300, 10, .01, .02})
	for _, f := range []*Figure{curvesOf(t, a, CurvesOptions{Field: "surgeon"}), mustIntervals(t, a, IntervalsOptions{})} {
		var data bytes.Buffer
		if err := f.WriteCSV(&data); err != nil {
			t.Fatal(err)
		}
		first, second, last := strings.Index(data.String(), "Surgeon A"), strings.Index(data.String(), "Surgeon B"), strings.Index(data.String(), "not recorded")
		if first < 0 || first > second || second > last {
			t.Errorf("Surgeon A at %d, Surgeon B at %d, not recorded at %d", first, second, last)
		}
	}
}

// Letters that join, and groups that lost letters would make one, are refused
// where they can't be drawn, with what to do.
func TestRefusedLetters(t *testing.T) {
	for want, names := range map[string][2]string{
		"Arabic letters":     {"جراح", "A"},
		"Devanagari letters": {"शल्य", "A"},
		"the font lacks":     {"外科医生王", "外科医生李"},
	} {
		a := bySurgeon(t, kind{names[0], 100, 8, .01, .02}, kind{names[1], 90, 8, .01, .02})
		f := curvesOf(t, a, CurvesOptions{Field: "surgeon", Names: Names{All: true}})
		if err := f.WriteSVG(new(bytes.Buffer)); err != nil {
			t.Error(err)
		}
		for _, err := range []error{f.WritePNG(new(bytes.Buffer), 96), f.WritePDF(new(bytes.Buffer))} {
			if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "SVG") {
				t.Errorf("%q: %v", names, err)
			}
		}
	}
}

// A PNG says its resolution, title and what it shows; a PDF has the closing date.
func TestWhatFilesSay(t *testing.T) {
	_, f := made(t, "practice")
	f = f.Titled("Our hips")
	var b, pdf bytes.Buffer
	if err := errors.Join(f.WritePNG(&b, 200), f.WritePDF(&pdf)); err != nil {
		t.Fatal(err)
	}
	// 200 dots per inch are 7874 per metre: 0x1EC2.
	for _, want := range []string{"pHYs\x00\x00\x1e\xc2\x00\x00\x1e\xc2\x01", "iTXtTitle\x00\x00\x00\x00\x00Our hips", "iTXtDescription\x00\x00\x00\x00\x00" + f.Alternative} {
		if !bytes.Contains(b.Bytes(), []byte(want)) {
			t.Errorf("the PNG lacks %.40q", want)
		}
	}
	if n := b.Len(); n > 200<<10 {
		t.Errorf("the PNG has %d bytes", n)
	}
	if _, err := png.Decode(&b); err != nil {
		t.Error(err)
	}
	if !bytes.Contains(pdf.Bytes(), []byte("/CreationDate (D:20241231")) {
		t.Error("the PDF is not of the closing date")
	}
}

// A practice over calendar time, and six surgeons of whom one has more revisions than
// expected: the difference is drawn, heavy where the chart stood on its line, and a
// panel has a unit's word.
func TestWatchFigure(t *testing.T) {
	hazard := []monitor.Hazard{{At: func(days int) float64 { return .02 * float64(days) / 1000 }}}
	unit := func(word string, every int) monitor.Unit {
		var joints []monitor.Joint
		for i := range 200 {
			j := monitor.Joint{Row: i + 2, Operation: int32(14000 + 10*i), Exit: 17500}
			if i%every == 0 {
				j.Exit, j.Revised = j.Operation+700, true
			}
			joints = append(joints, j)
		}
		c, err := monitor.New(joints, hazard, monitor.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return monitor.Unit{Word: word, Chart: c}
	}
	for name, w := range map[string]*monitor.Watch{
		"watch-one": {Chance: .05, Units: []monitor.Unit{unit("", 9)}},
		"watch-six": {By: "surgeon", Chance: .05, Units: []monitor.Unit{unit("A", 40), unit("B", 30), unit("C", 9), unit("D", 200), unit("E", 50), unit("F", 25)}},
	} {
		t.Run(name, func(t *testing.T) {
			lookAtSizes(t, name, func(width vg.Length) (*Figure, error) { return Watch(w, WatchOptions{Width: width}) })
			f, err := Watch(w, WatchOptions{})
			if err != nil {
				t.Fatal(err)
			}
			var svg strings.Builder
			if err := f.WriteSVG(&svg); err != nil {
				t.Fatal(err)
			}
			if touched := strings.Contains(svg.String(), "on the line"); !touched || !strings.Contains(f.Alternative, "touched its line") {
				t.Errorf("touched %v: %s", touched, f.Alternative)
			}
		})
	}
	if _, err := Watch(new(monitor.Watch), WatchOptions{}); !errors.Is(err, ErrNothingToDraw) {
		t.Errorf("of nobody: %v", err)
	}
}
