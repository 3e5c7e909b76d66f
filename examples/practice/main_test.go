package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// The committed files must be what the program writes.
func TestTableIsCurrent(t *testing.T) {
	dir := t.TempDir()
	table, list := filepath.Join(dir, "practice.csv"), filepath.Join(dir, "errors.csv")
	var stdout, stderr bytes.Buffer
	if status := run([]string{"-out", table, "-errors", list}, &stdout, &stderr); status != 0 || stderr.Len()+stdout.Len() > 0 {
		t.Fatalf("status %d, %s%s", status, stdout.String(), stderr.String())
	}
	for _, file := range []string{table, list} {
		want, err := os.ReadFile(filepath.Base(file))
		if err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is not what the program writes: make it again as README.md says", filepath.Base(file))
		}
	}
	if status := run(nil, &stdout, &stderr); status != 0 {
		t.Fatalf("status %d, %s", status, stderr.String())
	}
	got, err := os.ReadFile(table)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, stdout.Bytes()) {
		t.Error("-out writes something else than standard output")
	}
}

func TestRunRefuses(t *testing.T) {
	nowhere := filepath.Join(t.TempDir(), "no", "folder")
	for _, tt := range []struct {
		args   []string
		status int
		say    string
	}{
		{[]string{"-nonsense"}, 2, "nonsense"},
		{[]string{"extra"}, 2, `"extra"`},
		{[]string{"-joints", "-3"}, 2, "-joints is -3"},
		{[]string{"-clean", "-errors", "e.csv"}, 2, "-clean plants no errors"},
		{[]string{"-joints", "20"}, 1, "ask for more joints"},
		{[]string{"-out", nowhere}, 1, "practice:"},
		{[]string{"-errors", nowhere}, 1, "practice:"},
	} {
		var stdout, stderr bytes.Buffer
		if got := run(tt.args, &stdout, &stderr); got != tt.status {
			t.Errorf("run(%q): status %d, want %d", tt.args, got, tt.status)
		}
		if !strings.Contains(stderr.String(), tt.say) || stdout.Len() > 0 {
			t.Errorf("run(%q): stderr %q, stdout %.80q", tt.args, stderr.String(), stdout.String())
		}
	}
}

// typed is a row read back from a table, by heading.
type typed map[string]string

// readTable reads a table the program wrote, skipping comments.
func readTable(t *testing.T, data []byte) []typed {
	t.Helper()
	if !bytes.HasPrefix(data, []byte("# Invented data.")) {
		t.Error("the first line does not say that the data are invented")
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []typed
	for _, cells := range all[1:] {
		row := typed{}
		for i, c := range cells {
			row[all[0][i]] = c
		}
		rows = append(rows, row)
	}
	return rows
}

// output runs the program and reads its table.
func output(t *testing.T, args ...string) []typed {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if status := run(args, &stdout, &stderr); status != 0 {
		t.Fatalf("run(%q): status %d, %s", args, status, stderr.String())
	}
	return readTable(t, stdout.Bytes())
}

// impossible names what is wrong with a clean row, or nothing.
func impossible(r typed) string {
	const last = "2024-12-31"
	for _, column := range []string{"operation_date", "revision_date", "death_date", "last_seen_date"} {
		d := r[column]
		if d == "" && column != "operation_date" {
			continue
		}
		if _, err := time.Parse(time.DateOnly, d); err != nil {
			return column + ": no date"
		}
		if d < "2010-01-01" || d > last || d < r["operation_date"] {
			return column + ": before the operation, or outside the years"
		}
		if r["death_date"] != "" && d > r["death_date"] {
			return column + ": after death"
		}
	}
	age, err := strconv.Atoi(r["age"])
	switch {
	case err != nil || age < 35 || age > 92:
		return "age"
	case r["revised"] != "yes" && r["revised"] != "no":
		return "revised"
	case (r["revised"] == "yes") != (r["revision_date"] != "") || (r["revised"] == "yes") != (r["revision_reason"] != ""):
		return "revised, revision_date and revision_reason disagree"
	case r["joint"] != "hip" && r["joint"] != "knee", r["side"] == "", r["patient"] == "", r["procedure"] == "":
		return "a cell is empty"
	case r["sex"] != "F" && r["sex"] != "M":
		return "sex"
	case strings.Contains(r["procedure"], "revision"):
		return "procedure"
	}
	return ""
}

func TestCleanTablesHoldNoError(t *testing.T) {
	for _, args := range [][]string{{"-clean"}, {"-clean", "-seed", "9"}, {"-clean", "-department"}} {
		rows := output(t, args...)
		seen := map[string]bool{}
		people := map[string]typed{}
		previous := ""
		for i, r := range rows {
			if what := impossible(r); what != "" {
				t.Errorf("%q, row %d: %s", args, i+1, what)
			}
			joint := r["patient"] + r["joint"] + r["side"][:1]
			if seen[joint] {
				t.Errorf("%q, row %d: the same patient, joint and side twice", args, i+1)
			}
			seen[joint] = true
			if first := people[r["patient"]]; first == nil {
				people[r["patient"]] = r
			} else {
				for _, column := range []string{"sex", "death_date", "last_seen_date"} {
					if first[column] != r[column] {
						t.Errorf("%q, row %d: %s differs between the joints of one patient", args, i+1, column)
					}
				}
			}
			if r["operation_date"] < previous {
				t.Errorf("%q, row %d: out of order", args, i+1)
			}
			previous = r["operation_date"]
		}
	}
}

// Every planted error is where errors.csv says, and is what it says; and there
// is no error besides them.
func TestPlantedErrorsAreWhereTheListSays(t *testing.T) {
	data, err := os.ReadFile("practice.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows := readTable(t, data)
	lines := strings.Split(string(data), "\n")
	list, err := os.ReadFile("errors.csv")
	if err != nil {
		t.Fatal(err)
	}
	same := func(a, b typed) bool {
		return a["patient"] == b["patient"] && a["joint"] == b["joint"] && a["side"] == b["side"]
	}
	// earlier counts rows above row i with its patient, joint and side.
	earlier := func(i int) (n int, last typed) {
		for _, r := range rows[:i] {
			if same(r, rows[i]) {
				n++
				last = r
			}
		}
		return n, last
	}
	bearings := slices.Concat(slices.Concat(bearingWords[:]...), missingWords)
	checks := map[string]func(i int, r typed) bool{
		"impossible date": func(_ int, r typed) bool {
			_, err := time.Parse(time.DateOnly, r["operation_date"])
			return err != nil
		},
		"operation after the closing date": func(_ int, r typed) bool { return r["operation_date"] > closingDate },
		"revision before the operation": func(_ int, r typed) bool {
			return r["revision_date"] != "" && r["revision_date"] < r["operation_date"]
		},
		"revised without a date": func(_ int, r typed) bool { return r["revised"] == "yes" && r["revision_date"] == "" },
		"death before the operation": func(_ int, r typed) bool {
			return r["death_date"] != "" && r["death_date"] < r["operation_date"]
		},
		"revision after death": func(_ int, r typed) bool {
			return r["death_date"] >= r["operation_date"] && r["revision_date"] > r["death_date"]
		},
		"age below 10":          func(_ int, r typed) bool { a, err := strconv.Atoi(r["age"]); return err == nil && a < 10 },
		"age above 110":         func(_ int, r typed) bool { a, err := strconv.Atoi(r["age"]); return err == nil && a > 110 },
		"not a primary":         func(_ int, r typed) bool { return strings.HasPrefix(r["procedure"], "revision") },
		"both sides in one row": func(_ int, r typed) bool { return r["side"] == "Bilat" },
		"side missing":          func(_ int, r typed) bool { return r["side"] == "" },
		"unknown word":          func(_ int, r typed) bool { return !slices.Contains(bearings, r["bearing"]) },
		"entered twice": func(i int, r typed) bool {
			n, first := earlier(i)
			return n == 1 && first["operation_date"] == r["operation_date"] && r["bearing"] == "" && first["bearing"] != ""
		},
		"second primary of the same joint, possibly its revision": func(i int, r typed) bool {
			n, first := earlier(i)
			return n == 1 && first["operation_date"] < r["operation_date"] && first["revised"] == "no"
		},
		"last seen before the operation": func(_ int, r typed) bool {
			return r["last_seen_date"] != "" && r["last_seen_date"] < r["operation_date"]
		},
	}

	r := csv.NewReader(bytes.NewReader(list))
	r.Comment = '#'
	entries, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := map[string][]int{} // rows by what is wrong with them
	for _, e := range entries[1:] {
		row, _ := strconv.Atoi(e[0])
		line, _ := strconv.Atoi(e[1])
		if row < 1 || row > len(rows) || line < 1 || !strings.HasPrefix(lines[line-1], rows[row-1]["patient"]+","+rows[row-1]["operation_date"]) {
			t.Fatalf("%q: row and line do not meet", e)
		}
		if !slices.Contains(headings[:], e[2]) || !slices.Contains([]string{setAside, warned, listed}, e[4]) {
			t.Errorf("%q: unknown column or treatment", e)
		}
		want[e[3]] = append(want[e[3]], row)
	}
	if len(entries)-1 != len(mistakes) {
		t.Errorf("%d errors listed, want %d", len(entries)-1, len(mistakes))
	}
	got := map[string][]int{}
	for i, r := range rows {
		for what, is := range checks {
			if is(i, r) {
				got[what] = append(got[what], i+1)
			}
		}
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("rows by error (-listed +found):\n%s", diff)
	}
}

// The practice looks like one. The bounds are the ones the example promises; no source.
func TestPracticeIsPlausible(t *testing.T) {
	rows := output(t, "-clean")
	if len(rows) != practiceJoints {
		t.Errorf("%d joints, want %d", len(rows), practiceJoints)
	}
	joints := map[string]int{}
	procedures, surgeons, hospitals := map[string]int{}, map[string]int{}, map[string]int{}
	dead := 0
	for _, r := range rows {
		joints[r["patient"]]++
		procedures[r["procedure"][:1]]++
		surgeons[r["surgeon"]]++
		hospitals[r["hospital"]]++
		if r["death_date"] != "" {
			dead++
		}
		if strings.HasPrefix(r["procedure"], "H") && r["operation_date"] > "2014" {
			t.Errorf("a hip was resurfaced after %d", lastResurfacing)
		}
	}
	two := 0
	for _, n := range joints {
		if n == 2 {
			two++
		}
	}
	between(t, "patients with two joints, per cent", 100*two/len(joints), 10, 20)
	between(t, "joints of patients who died, per cent", 100*dead/len(rows), 10, 25)
	between(t, "unicompartmental knees, per cent", 100*procedures["U"]/len(rows), 6, 10)
	between(t, "patellofemoral joints", procedures["P"], 3, 20)
	between(t, "resurfaced hips", procedures["H"], 3, 30)
	between(t, "joints by the first surgeon, per cent", 100*surgeons["Surgeon 1"]/len(rows), 90, 99)
	between(t, "joints in the first hospital, per cent", 100*hospitals["Hospital A"]/len(rows), 50, 80)
	if len(surgeons) != 2 || len(hospitals) != 2 {
		t.Errorf("surgeons %v, hospitals %v, want two of each", surgeons, hospitals)
	}
}

func TestDepartment(t *testing.T) {
	pairs := map[string]int{}
	rows := output(t, "-department")
	for _, r := range rows {
		pairs[r["surgeon"]+" in "+r["hospital"]]++
	}
	// The planted errors include two rows added.
	if len(rows) != departmentJoints+2 || len(pairs) != 8 {
		t.Errorf("%d rows by %v, want %d by 4 surgeons in 2 hospitals", len(rows), pairs, departmentJoints+2)
	}
}

// The hazards give what they are meant to, over many joints: Kaplan–Meier at ten
// years by hand. The bounds are the ones the example promises; no source.
func TestRevisionAtTenYears(t *testing.T) {
	if testing.Short() {
		t.Skip("30,000 joints")
	}
	days := func(date string) int {
		at, err := time.Parse(time.DateOnly, date)
		if err != nil {
			t.Fatal(err)
		}
		return int(at.Unix() / 86400)
	}
	type exits struct{ revised, all map[int]int }
	groups := map[string]exits{}
	for _, r := range output(t, "-clean", "-joints", "30000") {
		name := r["joint"]
		switch r["procedure"][:1] {
		case "U":
			name = "unicompartmental"
		case "P":
			name = "patellofemoral"
		case "H":
			name = "resurfacing"
		}
		g, ok := groups[name]
		if !ok {
			g = exits{map[int]int{}, map[int]int{}}
			groups[name] = g
		}
		end := closingDate
		for _, column := range []string{"last_seen_date", "death_date", "revision_date"} {
			if r[column] != "" {
				end = r[column]
			}
		}
		day := days(end) - days(r["operation_date"])
		g.all[day]++
		if r["revised"] == "yes" {
			g.revised[day]++
		}
	}
	for _, tt := range []struct {
		name      string
		low, high int // in hundredths of a per cent
	}{
		{"hip", 370, 560},
		{"knee", 320, 500},
		{"unicompartmental", 800, 1300},
		{"patellofemoral", 1300, 2300},
		{"resurfacing", 900, 1600},
	} {
		g := groups[tt.name]
		atRisk := 0
		for _, n := range g.all {
			atRisk += n
		}
		survival := 1.0
		for day := range 3653 {
			if atRisk > 0 {
				survival *= 1 - float64(g.revised[day])/float64(atRisk)
			}
			atRisk -= g.all[day]
		}
		between(t, tt.name+" revised at ten years, in hundredths of a per cent", int(1e4*(1-survival)), tt.low, tt.high)
	}
}

func between(t *testing.T, what string, got, low, high int) {
	t.Helper()
	if got < low || got > high {
		t.Errorf("%s: %d, want %d to %d", what, got, low, high)
	}
}

// Two runs with one seed are alike; another seed gives another table.
func TestSeed(t *testing.T) {
	a, b, c := output(t, "-seed", "5"), output(t, "-seed", "5"), output(t, "-seed", "6")
	if !cmp.Equal(a, b) {
		t.Error("the same seed gave two tables")
	}
	if cmp.Equal(a, c) {
		t.Error("two seeds gave one table")
	}
}
