package figure

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

func mustIntervals(t testing.TB, a *audit.Audit, o IntervalsOptions) *Figure {
	t.Helper()
	f, err := Intervals(a, o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// hips are invented: n hips a year from 2010 to 2019 with each fixation, of
// which every so-manieth is revised after two years.
func hips(words map[string][2]int) string {
	var b strings.Builder
	b.WriteString("operation_date,procedure,fixation,revision_date,death_date\n")
	for _, word := range slices.Sorted(mapKeys(words)) {
		n, every := words[word][0], words[word][1]
		for i := range n {
			year, revised := 2010+i%10, ""
			if every > 0 && i%every == every-1 {
				revised = fmt.Sprintf("%d-06-30", year+2)
			}
			died := ""
			if revised == "" && i%17 == 5 {
				died = fmt.Sprintf("%d-01-15", year+4)
			}
			fmt.Fprintf(&b, "%d-06-15,THR,\"%s\",%s,%s\n", year, strings.ReplaceAll(word, `"`, `""`), revised, died)
		}
	}
	return b.String()
}

func mapKeys(m map[string][2]int) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// Every line of the data is the audit's own row, to the last digit, and in the
// audit's order.
func TestIntervalsData(t *testing.T) {
	a := practiceBy(t, "bearing", "fixation", "age_band")
	own := auditCSV(t, a)
	for _, o := range []IntervalsOptions{{}, {Years: 10}, {Estimand: Incidence, Years: 3}, {Field: "age_band", Estimand: Both}} {
		f := mustIntervals(t, a, o)
		rows := csvOf(t, f)
		if len(rows) < 10 {
			t.Fatalf("%d rows", len(rows))
		}
		last := map[string]int{}
		figures := map[string]int{} // rows that have one, by group: each published figure has a row
		published := map[string]string{}
		for _, r := range rows {
			i := slices.IndexFunc(own, func(w map[string]string) bool {
				if w["joint"] != r["joint"] || w["procedure"] != r["procedure"] || w["years"] != r["years"] {
					return false
				}
				for _, field := range a.By {
					want := "All"
					if field == r["field"] {
						want = r["group"]
					}
					if w[field] != want {
						return false
					}
				}
				return true
			})
			if i < 0 {
				t.Fatalf("no row of the audit for %v", r)
			}
			w := own[i]
			panel := r["joint"] + r["procedure"] + r["estimand"]
			group := panel + r["field"] + r["group"]
			if i < last[panel]-1 || i == last[panel]-1 && figures[group] == 0 {
				t.Errorf("%v is not in the audit's order", r)
			}
			last[panel] = i + 1
			estimate := "km"
			if r["estimand"] == survival.Incidence.String() {
				estimate = "incidence"
			}
			if r["joints"] != w["joints"] || r["at_risk"] != w["at_risk"] || r["revised_so_far"] != w["revised_so_far"] {
				t.Errorf("%v, want %v", r, w)
			}
			atRisk, err := strconv.ParseFloat(w["at_risk"], 64)
			if err != nil {
				t.Fatal(err)
			}
			switch {
			case atRisk >= 10:
				as := map[bool]string{true: "estimate", false: "faint estimate"}[atRisk >= 30]
				if r["shown_as"] != as || r["pct"] == "" || r["pct"] != w[estimate+"_pct"] || r["lower_pct"] != w[estimate+"_lower_pct"] || r["upper_pct"] != w[estimate+"_upper_pct"] || r["level"] != "0.95" {
					t.Errorf("%v, want %s, %v", r, as, w)
				}
			case r["pct"] != "" || r["lower_pct"] != "" || !slices.Contains([]string{"revised/joints", "beyond follow-up"}, r["shown_as"]):
				t.Errorf("an estimate on fewer than 10: %v", r)
			}
			if r["estimand"] != survival.OneMinusKaplanMeier.String() {
				continue // the file of the audit holds those of 1-KM
			}
			if r["published_pct"] != "" {
				figures[group]++
				if r["reading"] != w["reading"] || number(t, r["published_pct"]) < number(t, w["published_least_pct"]) || number(t, r["published_pct"]) > number(t, w["published_most_pct"]) {
					t.Errorf("published: %v, want %v", r, w)
				}
			}
			published[group] = cmp.Or(w["published_figures"], "0")
		}
		for group, want := range published {
			if strconv.Itoa(figures[group]) != want {
				t.Errorf("%s: %d published, want %s", group, figures[group], want)
			}
		}
		plainWords(t, f)
		inside(t, f, parsed(t, f))
	}
}

// What is seen: a marker at each estimate, its interval, the published figure,
// the numbers beside it.
func TestIntervalsSeen(t *testing.T) {
	a := against(t, hips(map[string][2]int{"cemented": {400, 40}, "porous": {300, 12}, "hybrid": {60, 25}, "reverse hybrid": {8, 4}}), "fixation")
	f := mustIntervals(t, a, IntervalsOptions{Years: 5})
	all := parsed(t, f)
	inside(t, f, all)
	rows := csvOf(t, f)
	var groups []string
	for _, r := range rows {
		groups = append(groups, r["group"])
	}
	if want := []string{"all joints", "cemented", "porous", "hybrid", "reverse hybrid"}; !slices.Equal(groups, want) {
		t.Fatalf("groups %q, want %q", groups, want)
	}
	seen := texts(within(all, "text", "group"))
	for _, r := range rows {
		if r["shown_as"] == "revised/joints" {
			if slices.Contains(seen, r["group"]) || !strings.Contains(strings.Join(f.Notes, " "), r["group"]+" 2/"+r["joints"]) {
				t.Errorf("%v is drawn, or not in the notes %q", r, f.Notes)
			}
			continue
		}
		if !slices.Contains(seen, strings.Replace(r["group"], "all joints", "all hips", 1)) || !slices.Contains(seen, r["at_risk"]) {
			t.Errorf("%v is not all in %q", r, seen)
		}
		want := fmt.Sprintf("(%.1f–%.1f)", number(t, r["lower_pct"]), number(t, r["upper_pct"]))
		if r["shown_as"] == "estimate" {
			want = fmt.Sprintf("%.1f ", number(t, r["pct"])) + want
		}
		if !slices.Contains(seen, want) {
			t.Errorf("%q is not in %q", want, seen)
		}
	}

	// Points only from 30 at risk on. The horizontal axis is linear: from two of
	// its ticks follows where each stands.
	x0, x1, to := axisOf(t, all)
	at := func(pct string) float64 { return x0 + (x1-x0)*number(t, pct)/to }
	var ownX, wantOwn, boxes, wantBoxes []float64
	for _, e := range within(all, "path", "group") {
		switch {
		case e.attr["fill"] == hex(ownInk) && strings.Contains(e.attr["d"], "C"): // a circle
			ownX = append(ownX, middleX(t, e.attr["d"]))
		case e.attr["fill"] == hex(bandInk):
			boxes = append(boxes, middleX(t, e.attr["d"]))
		}
	}
	for _, r := range rows {
		if r["shown_as"] == "estimate" {
			wantOwn = append(wantOwn, at(r["pct"]))
		}
		if r["published_pct"] != "" && r["shown_as"] != "revised/joints" {
			wantBoxes = append(wantBoxes, (at(r["published_lower_pct"])+at(r["published_upper_pct"]))/2)
		}
	}
	if !allNear(ownX, wantOwn, .1) || len(ownX) < 3 {
		t.Errorf("estimates at %v, want %v", ownX, wantOwn)
	}
	if !allNear(boxes, wantBoxes, .1) || len(boxes) != 4 {
		t.Errorf("published at %v, want %v", boxes, wantBoxes)
	}
	if !strings.Contains(f.Alternative, "Hip, total") || !strings.Contains(f.Alternative, "4 groups") {
		t.Errorf("alternative: %s", f.Alternative)
	}
}

func number(t testing.TB, cell string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// axisOf is where the horizontal axis of a figure of one panel starts and ends,
// and what it ends at.
func axisOf(t testing.TB, all []element) (x0, x1, to float64) {
	t.Helper()
	ticks := within(all, "text", "x ticks")
	first, last := ticks[0], ticks[len(ticks)-1]
	return number(t, first.attr["x"]), number(t, last.attr["x"]), number(t, last.text)
}

// middleX is the middle of a closed path, from its extent.
func middleX(t testing.TB, d string) float64 {
	t.Helper()
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range pathX(t, d) {
		low, high = math.Min(low, x), math.Max(high, x)
	}
	return (low + high) / 2
}

// pathX are the horizontal coordinates in a path of absolute commands.
func pathX(t testing.TB, d string) []float64 {
	t.Helper()
	var all []float64
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
		case 'V', 'Z':
		case 'H':
			all = append(all, number(t, numbers[0]))
		default:
			for i := 0; i < len(numbers); i += 2 {
				all = append(all, number(t, numbers[i]))
			}
		}
	}
	return all
}

func allNear(got, want []float64, within float64) bool {
	return slices.EqualFunc(got, want, func(a, b float64) bool { return math.Abs(a-b) <= within })
}

// A published figure that is of all groups together stands beside no group of a
// field that a series can state; a surgeon's joints are of the kind of all.
func TestIntervalsOwnKind(t *testing.T) {
	published := `source,joint,procedure,fixation,years,revision_pct,lower_pct,upper_pct,estimand,citation
all,hip,total,,5,4,3.5,4.5,1-KM,A journal
`
	series, _, err := benchmark.Read(strings.NewReader(published), "published.csv")
	if err != nil {
		t.Fatal(err)
	}
	a := againstWith(t, hips(map[string][2]int{"cemented": {400, 40}, "porous": {300, 12}}), audit.Options{By: []string{"fixation"}, Published: series})
	for _, r := range csvOf(t, mustIntervals(t, a, IntervalsOptions{Years: 5})) {
		if got, want := r["published_pct"] != "", r["group"] == "all joints"; got != want {
			t.Errorf("%v, want published %v", r, want)
		}
	}
	f := mustIntervals(t, against(t, department(3, 30, 0), "surgeon"), IntervalsOptions{Years: 5})
	for _, r := range csvOf(t, f) {
		if r["published_pct"] == "" || r["group"] != "all joints" && !slices.Contains([]string{"Surgeon A", "Surgeon B", "Surgeon C"}, r["group"]) {
			t.Errorf("%v", r)
		}
	}
	if notes := strings.Join(f.Notes, " "); !strings.Contains(notes, "case mix") {
		t.Errorf("no caution: %s", notes)
	}
}

// Two sources have letters; a threshold is a line; one source has no letter.
func TestIntervalsSources(t *testing.T) {
	published := `source,joint,procedure,fixation,years,revision_pct,lower_pct,upper_pct,estimand,citation
first,hip,total,cemented,5,4,3.5,4.5,1-KM,Invented for a test
second,hip,total,porous,5,6,5,7,1-KM,"Invented for a test, too"
limit,hip,total,hybrid,5,5,,,threshold,Invented for a test
`
	series, _, err := benchmark.Read(strings.NewReader(published), "published.csv")
	if err != nil {
		t.Fatal(err)
	}
	table := hips(map[string][2]int{"cemented": {400, 40}, "porous": {300, 12}, "hybrid": {90, 25}})
	a := againstWith(t, table, audit.Options{By: []string{"fixation"}, Published: series})
	f := mustIntervals(t, a, IntervalsOptions{Years: 5})
	notes := strings.Join(f.Notes, "\n")
	if !strings.Contains(notes, "[a] first: INVENTED figures.") || !strings.Contains(notes, "[b] second: INVENTED figures.") || !strings.Contains(notes, "threshold") {
		t.Errorf("notes %q", f.Notes)
	}
	seen := texts(within(parsed(t, f), "text", "group"))
	for _, letter := range []string{"a", "b"} {
		if !slices.Contains(seen, letter) {
			t.Errorf("no letter %s in %q", letter, seen)
		}
	}
	dashed := 0
	for _, e := range within(parsed(t, f), "path", "published") {
		if e.attr["stroke-dasharray"] != "" {
			dashed++
		}
	}
	if dashed != 1 {
		t.Errorf("%d dashed lines for one threshold", dashed)
	}
	look(t, f, "intervals-sources")
}

// The figure of a shared audit has no other number than the audit, shows every group
// of it, and says what was done.
func TestIntervalsShared(t *testing.T) {
	a := shared(t, practiceTable(t), "fixation")
	f := mustIntervals(t, a, IntervalsOptions{})
	groups := 0
	for _, r := range csvOf(t, f) {
		groups++
		for _, column := range []string{"at_risk", "revised_so_far"} {
			if c := r[column]; c != "" && math.Mod(number(t, c), 5) != 0 {
				t.Errorf("%s %s of %v", column, c, r)
			}
		}
		if number(t, r["joints"]) < 8 {
			t.Errorf("joints of %v", r)
		}
	}
	if groups < len(a.Groups) || !strings.Contains(strings.Join(f.Notes, " "), "rounded to the nearest 5") {
		t.Errorf("%d groups; %q", groups, f.Notes)
	}
	plainWords(t, f)
	parsed(t, f)
	look(t, f, "intervals-shared")
}

func TestIntervalsErrors(t *testing.T) {
	a := against(t, hips(map[string][2]int{"cemented": {40, 9}}), "fixation")
	noDeaths := against(t, department(1, 12, 0), "surgeon")
	for name, c := range map[string]struct {
		a    *audit.Audit
		o    IntervalsOptions
		want string
	}{
		"another field":    {a, IntervalsOptions{Field: "bearing"}, "not grouped by"},
		"another year":     {a, IntervalsOptions{Years: 7}, "not read at 7 years"},
		"another joint":    {a, IntervalsOptions{Joint: "knee"}, "no joints of knee"},
		"no such estimand": {a, IntervalsOptions{Estimand: 9}, "estimand"},
		"too narrow":       {a, IntervalsOptions{Width: 10}, "width"},
		"no deaths":        {noDeaths, IntervalsOptions{Estimand: Both}, "deaths are not recorded"},
	} {
		if _, err := Intervals(c.a, c.o); err == nil || !strings.Contains(err.Error(), c.want) || errors.Is(err, ErrNothingToDraw) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Tables of every kind are drawn without text outside the figure.
func TestIntervalsPictures(t *testing.T) {
	many := map[string][2]int{}
	for i := range 40 {
		many[fmt.Sprintf("fixation %02d", i)] = [2]int{10 + 7*i, 20}
	}
	hostile := map[string][2]int{
		`<script>alert(1)</script>`: {60, 20}, `=HYPERLINK("x")`: {60, 15}, "קיבוע 12 (א)": {60, 12}, "固定": {60, 30}, "a\x01b\u202ec": {50, 10},
		strings.Repeat("long ", 900): {70, 30}, strings.Repeat("x", 4000): {70, 25}, `a&b'"<>`: {50, 25},
	}
	for name, c := range map[string]struct {
		a *audit.Audit
		o IntervalsOptions
	}{
		"intervals-practice":  {practiceBy(t, "bearing", "fixation", "age_band"), IntervalsOptions{}},
		"intervals-both":      {practiceBy(t, "fixation"), IntervalsOptions{Joint: "knee", Procedure: "total", Estimand: Both, Years: 10}},
		"intervals-many":      {against(t, hips(many), "fixation"), IntervalsOptions{}},
		"intervals-hostile":   {against(t, hips(hostile), "fixation"), IntervalsOptions{}},
		"intervals-no-events": {against(t, hips(map[string][2]int{"cemented": {50, 0}, "porous": {35, 0}}), "fixation"), IntervalsOptions{}},
		"intervals-one-joint": {against(t, hips(map[string][2]int{"cemented": {1, 0}}), "fixation"), IntervalsOptions{}},
		"intervals-narrow":    {practiceBy(t, "fixation"), IntervalsOptions{Joint: "hip", Width: 90 * mm}},
	} {
		t.Run(name, func(t *testing.T) {
			f := mustIntervals(t, c.a, c.o)
			all := parsed(t, f)
			inside(t, f, all)
			for _, e := range all {
				if e.name == "text" && len([]rune(e.text)) > 400 || strings.ContainsRune(e.text, '\u202e') || strings.ContainsRune(e.text, '\x01') {
					t.Errorf("text %.80q", e.text)
				}
			}
			if name != "intervals-hostile" {
				plainWords(t, f)
			}
			look(t, f, name)
		})
	}
	f := mustIntervals(t, against(t, hips(hostile), "fixation"), IntervalsOptions{})
	var b bytes.Buffer
	if err := f.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "\n=") || strings.Contains(b.String(), ",=") || strings.Contains(b.String(), `,"=`) {
		t.Error("a formula in the data")
	}
}

func TestIntervalsGolden(t *testing.T) {
	goldenSVG(t, mustIntervals(t, against(t, hips(map[string][2]int{"cemented": {400, 40}, "porous": {60, 12}, "hybrid": {12, 5}, "reverse hybrid": {4, 0}}), "fixation"), IntervalsOptions{}), "intervals")
}

// Figures without limits, and more of them than are written out: their letters stand
// beside them, and their range and number in the column.
func TestManyPublishedFigures(t *testing.T) {
	published := "source,joint,procedure,fixation,years,revision_pct,lower_pct,upper_pct,joints,estimand,citation\n" +
		"one,hip,total,,10,5.0,,,,1-KM,Invented one\ntwo,hip,total,,10,4.0,3.5,4.5,,1-KM,Invented two\nthree,hip,total,,10,4.6,4.1,5.1,,1-KM,Invented three\n"
	series, _, err := benchmark.Read(strings.NewReader(published), "published.csv")
	if err != nil {
		t.Fatal(err)
	}
	table, err := os.ReadFile(filepath.Join("..", "..", "examples", "practice", "practice.csv"))
	if err != nil {
		t.Fatal(err)
	}
	f, err := Intervals(againstWith(t, string(table), audit.Options{By: []string{"fixation"}, Published: series}), IntervalsOptions{Joint: "hip", Procedure: "total", Years: 10})
	if err != nil {
		t.Fatal(err)
	}
	all := parsed(t, f)
	inside(t, f, all)
	if said := texts(all); !slices.Contains(said, "4.0–5.0 (3)") {
		t.Errorf("no range of three figures in %q", said)
	}
}
