package main

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The committed table must be what the program writes.
func TestTableIsCurrent(t *testing.T) {
	committed, err := os.ReadFile("registry.csv")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "table.csv")
	var stdout, stderr bytes.Buffer
	for _, args := range [][]string{nil, {"-out", file}} {
		if status := run(args, &stdout, &stderr); status != 0 || stderr.Len() > 0 {
			t.Fatalf("run(%q): status %d, %s", args, status, stderr.String())
		}
	}
	written, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(stdout.Bytes(), committed) {
		t.Error("registry.csv is not what the program writes: run it again with -out registry.csv")
	}
	if !bytes.Equal(written, committed) {
		t.Error("-out writes something else than standard output")
	}
}

func TestRunRefuses(t *testing.T) {
	for _, tt := range []struct {
		args   []string
		status int
		say    string
	}{
		{[]string{"-nonsense"}, 2, "nonsense"},
		{[]string{"extra"}, 2, `"extra"`},
		{[]string{"-out", filepath.Join(t.TempDir(), "no", "folder")}, 1, "registry:"},
	} {
		var stdout, stderr bytes.Buffer
		if got := run(tt.args, &stdout, &stderr); got != tt.status {
			t.Errorf("run(%q): status %d, want %d", tt.args, got, tt.status)
		}
		if !strings.Contains(stderr.String(), tt.say) || stdout.Len() > 0 {
			t.Errorf("run(%q): stderr %q, stdout %q", tt.args, stderr.String(), stdout.String())
		}
	}
}

// read gives the committed table's figures by heading.
func read(t *testing.T) []map[string]string {
	t.Helper()
	f, err := os.Open("registry.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(headings, all[0]); diff != "" {
		t.Fatalf("headings (-want +got):\n%s", diff)
	}
	var rows []map[string]string
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, c := range cells {
			row[headings[i]] = c
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// key names the group of a row.
func key(row map[string]string) string {
	return strings.Join([]string{row["joint"], row["procedure"], row["bearing"], row["fixation"], row["age_band"], row["sex"]}, "/")
}

func TestFiguresArePossible(t *testing.T) {
	rows := read(t)
	if len(rows) < 500 {
		t.Errorf("%d figures, want several hundred", len(rows))
	}
	seen := map[string]bool{}
	for i, row := range rows {
		at := key(row) + " " + row["years"]
		if seen[at] {
			t.Errorf("%s: stands twice", at)
		}
		seen[at] = true
		v, lower, upper := number(t, row["revision_pct"]), number(t, row["lower_pct"]), number(t, row["upper_pct"])
		if !(0 < lower && lower < v && v < upper && upper < 100) {
			t.Errorf("%s: %v (%v to %v)", at, v, lower, upper)
		}
		if i > 0 && key(rows[i-1]) == key(row) {
			if v < number(t, rows[i-1]["revision_pct"]) || number(t, row["years"]) <= number(t, rows[i-1]["years"]) {
				t.Errorf("%s: falls, or the years do", at)
			}
		}
		if !strings.Contains(row["citation"], "not a publication") || !strings.Contains(row["covers"], "invented") {
			t.Errorf("%s: not labelled invented", at)
		}
	}
}

// Every group at any level finds its figure: the margins are there.
func TestMarginsArePresent(t *testing.T) {
	have := map[string]bool{}
	for _, row := range read(t) {
		have[key(row)] = true
	}
	for _, want := range []string{
		"hip/total////", "hip/total/ceramic-on-ceramic///", "hip/total//reverse hybrid//", "hip/total///<55/", "hip/total////female",
		"hip/total/metal-on-crosslinked-polyethylene/cemented//", "hip/total/metal-on-polyethylene//75+/", "hip/total//porous/55-64/",
		"hip/total/ceramic-on-crosslinked-polyethylene/porous/55-64/",
		"hip/resurfacing/metal-on-metal///",
		"knee/total////", "knee/total/mobile/hybrid//", "knee/total/fixed/cemented/65-74/",
		"knee/unicompartmental/mobile/porous//", "knee/unicompartmental/fixed/cemented/65-74/",
		"knee/patellofemoral////",
	} {
		if !have[want] {
			t.Errorf("no figure for %s", want)
		}
	}
}

// A margin's joints are the sum of its parts, and its figure lies among theirs.
func TestMarginsAgreeWithTheirParts(t *testing.T) {
	cells := population()
	total := 0
	for _, c := range cells {
		if c.joint == "hip" && c.procedure == "total" {
			total += c.joints
		}
	}
	rows := read(t)
	for _, l := range []struct {
		column string
		others []string
	}{
		{"bearing", []string{"fixation", "age_band", "sex"}},
		{"fixation", []string{"bearing", "age_band", "sex"}},
		{"age_band", []string{"bearing", "fixation", "sex"}},
		{"sex", []string{"bearing", "fixation", "age_band"}},
	} {
		joints, least, most, margin := 0, math.Inf(1), 0.0, 0.0
		for _, row := range rows {
			if row["joint"] != "hip" || row["procedure"] != "total" || row["years"] != "10" {
				continue
			}
			alone := true
			for _, o := range l.others {
				alone = alone && row[o] == ""
			}
			if !alone {
				continue
			}
			v := number(t, row["revision_pct"])
			if row[l.column] == "" {
				margin = v
				continue
			}
			joints += int(number(t, row["joints"]))
			least, most = min(least, v), max(most, v)
		}
		if joints != total || !(least < margin && margin < most) {
			t.Errorf("by %s: %d joints of %d; margin %v, parts %v to %v", l.column, joints, total, margin, least, most)
		}
	}
}

func TestSharesSumToAll(t *testing.T) {
	for _, d := range designs {
		ages := 0
		for i, share := range d.ages {
			ages += share
			sum := 0
			for _, f := range d.fixations[i] {
				sum += f
			}
			if sum != 100 {
				t.Errorf("%s %s, age band %d: fixations sum to %d %%", d.procedure, d.bearing, i, sum)
			}
		}
		if ages != 100 {
			t.Errorf("%s %s: age bands sum to %d %%", d.procedure, d.bearing, ages)
		}
	}
}

// Hand-worked. 100 joints, nobody leaves, 10 revised in the first month and none
// later: revision is 1/10 at every year, and the variance of log survival is
// 10/(100·90) = 1/900, so its error is 1/30. The limits solve
// log(-log S) = log(-log 0.9) ± z/(30·|log 0.9|).
func TestPointsByHand(t *testing.T) {
	g := group{joints: 100}
	g.atRisk[0], g.revised[0] = 100, 10
	for m := 1; m < months; m++ {
		g.atRisk[m] = 90
	}
	points := g.points()
	if len(points) != len(reportYears) {
		t.Fatalf("%d points, want %d", len(points), len(reportYears))
	}
	shift := 1.959963984540054 / (30 * math.Abs(math.Log(.9)))
	for i, p := range points {
		near(t, "revision", p.revision, .1)
		near(t, "lower", math.Log(-math.Log1p(-p.lower)), math.Log(-math.Log(.9))-shift)
		near(t, "upper", math.Log(-math.Log1p(-p.upper)), math.Log(-math.Log(.9))+shift)
		if p.years != reportYears[i] {
			t.Errorf("years %d, want %d", p.years, reportYears[i])
		}
	}

	for m := 40; m < months; m++ {
		g.atRisk[m] = fewest - 1
	}
	if points := g.points(); len(points) != 2 || points[1].years != 3 {
		t.Errorf("figures stand where fewer than %d are at risk: %v", fewest, points)
	}
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-12 {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func TestPercent(t *testing.T) {
	for _, tt := range []struct {
		v    float64
		want string
	}{{.04, "4.00"}, {.123449, "12.34"}, {.123451, "12.35"}, {.5, "50.00"}} {
		if got, err := percent(tt.v); err != nil || got != tt.want {
			t.Errorf("percent(%v) = %q, %v, want %q", tt.v, got, err, tt.want)
		}
	}
	if got, err := percent(.12345); err == nil {
		t.Errorf("percent(.12345) = %q, want it refused", got)
	}
}
