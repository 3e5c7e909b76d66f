package command

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

const practiceFolder = "../../../examples/practice/"

// planted are the errors of the invented practice, as errors.csv lists them.
type planted struct {
	line                    int
	column, what, treatment string
}

func plantedErrors(t *testing.T) []planted {
	t.Helper()
	f, err := os.Open(practiceFolder + "errors.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var all []planted
	for _, record := range records[1:] {
		line, err := strconv.Atoi(record[1])
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, planted{line, record[2], record[3], record[4]})
	}
	return all
}

// What each planted error is called in the output, and the column it is found
// in where that is not the column it was put into.
var practiceReasons = map[string]struct{ reason, column string }{
	"revision before the operation":                           {"revision before operation", ""},
	"revision after death":                                    {"revision after death", "death_date"},
	"death before the operation":                              {"death before operation", ""},
	"second primary of the same joint, possibly its revision": {"same joint again: possible revision of row ", "operation_date"},
	"entered twice":                                           {"same joint and date again: duplicate of row ", "operation_date"},
	"age below 10":                                            {"age outside 10 to 110", ""},
	"age above 110":                                           {"age outside 10 to 110", ""},
	"revised without a date":                                  {"revised without a date", "revised"},
	"not a primary":                                           {"not a primary", ""},
	"impossible date":                                         {"operation date impossible", ""},
	"both sides in one row":                                   {"both sides in one row", ""},
	"operation after the closing date":                        {"operation after the closing date", ""},
	"side missing":                                            {"side missing", ""},
	"last seen before the operation":                          {"last seen before operation", ""},
}

// Every error planted in the invented practice is found, in its row and column,
// and no other row is set aside.
func TestPractice(t *testing.T) {
	dir := t.TempDir()
	aside := filepath.Join(dir, "aside.csv")
	main := func(args ...string) (string, string) {
		t.Helper()
		var stdout, stderr bytes.Buffer
		if status := Main(args, strings.NewReader(""), &stdout, &stderr); status != 0 {
			t.Fatalf("%q: status %d: %s", args, status, stderr.String())
		}
		return stdout.String(), stderr.String()
	}
	table := practiceFolder + "practice.csv"
	_, said := main("audit", table, "--closing-date", "2024-12-31", "--format", "csv", "--set-aside", aside)
	checked, _ := main("check", "--full", table, "--closing-date", "2024-12-31")

	f, err := os.Open(aside)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	found := make(map[int][]string) // by row
	for _, r := range records[1:] {
		row, err := strconv.Atoi(r[2])
		if err != nil {
			t.Fatal(err)
		}
		found[row] = r
	}

	errors := plantedErrors(t)
	if len(errors) < 15 {
		t.Fatalf("%d planted errors", len(errors))
	}
	aparts := 0
	for _, e := range errors {
		want, ok := practiceReasons[e.what]
		if !ok && e.treatment != "listed" {
			t.Errorf("line %d: %q is new", e.line, e.what)
			continue
		}
		if want.column == "" {
			want.column = e.column
		}
		switch e.treatment {
		case "set aside":
			aparts++
			r := found[e.line]
			if r == nil || r[3] != want.column || !strings.HasPrefix(r[4], want.reason) {
				t.Errorf("line %d, %s: set aside as %q, want column %s, reason %q", e.line, e.what, r, want.column, want.reason)
			}
		case "warned":
			if r := found[e.line]; r != nil {
				t.Errorf("line %d, %s: set aside as %q", e.line, e.what, r)
			}
			if !inSection(checked, want.reason, e.line, want.column) {
				t.Errorf("line %d, %s: not in the check under %q, column %s", e.line, e.what, want.reason, want.column)
			}
		case "listed":
			// The planted word is kept, and marked as not known.
			word := cellOf(t, table, e.line, e.column)
			if !regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(word) + ` +\d+ +"` + regexp.QuoteMeta(word) + `" = `).MatchString(checked) {
				t.Errorf("line %d: word %q is not listed as not known", e.line, word)
			}
		default:
			t.Errorf("line %d: treatment %q", e.line, e.treatment)
		}
	}
	if len(found) != aparts {
		t.Errorf("%d rows set aside, %d planted", len(found), aparts)
	}
	// The set-aside file, the check and the account agree.
	for _, r := range records[1:] {
		row, _ := strconv.Atoi(r[2])
		reason, _, _ := strings.Cut(r[4], " of row ")
		if !inSection(checked, reason, row, r[3]) {
			t.Errorf("row %d: %q is not in the check", row, r[4])
		}
	}
	if want := "= " + strconv.Itoa(rowsOf(t, table)-aparts) + " used + " + strconv.Itoa(aparts) + " set aside."; !strings.Contains(said, want) {
		t.Errorf("stderr %q, want %q", said, want)
	}
	if !strings.Contains(said, "1 row is set aside because the joint was revised on a day that is not known.") ||
		!strings.Contains(said, "1 joint that is not revised stands in the table a second time") {
		t.Errorf("stderr %q", said)
	}
}

// inSection says whether the check lists a row and column under a reason.
func inSection(checked, reason string, row int, column string) bool {
	in := false
	line := regexp.MustCompile(`^ *` + strconv.Itoa(row) + ` +` + regexp.QuoteMeta(column) + `( |$)`)
	for _, l := range strings.Split(checked, "\n") {
		switch {
		case regexp.MustCompile(`: \d+ rows?$`).MatchString(l):
			in = strings.HasPrefix(strings.ToLower(l), strings.ToLower(reason))
		case in && line.MatchString(l):
			return true
		}
	}
	return false
}

// lines of a table, from 1.
func tableLines(t *testing.T, name string) []string {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(b), "\n"), "\n")
}

// headingLine is the first line that is no comment.
func headingLine(lines []string) int {
	for i, l := range lines {
		if !strings.HasPrefix(l, "#") {
			return i
		}
	}
	return 0
}

func rowsOf(t *testing.T, name string) int {
	lines := tableLines(t, name)
	return len(lines) - headingLine(lines) - 1
}

// cellOf is a cell of a table without quotation marks.
func cellOf(t *testing.T, name string, line int, column string) string {
	t.Helper()
	lines := tableLines(t, name)
	cells := strings.Split(lines[line-1], ",")
	for i, h := range strings.Split(lines[headingLine(lines)], ",") {
		if h == column {
			return cells[i]
		}
	}
	t.Fatalf("no column %s", column)
	return ""
}

// The invented registry's table is read whole, without a remark, and the
// practice's groups meet it.
func TestRegistry(t *testing.T) {
	var stdout, stderr bytes.Buffer
	compared := filepath.Join(t.TempDir(), "comparisons.csv")
	status := Main([]string{"audit", practiceFolder + "practice.csv", "--closing-date", "2024-12-31", "--format", "csv",
		"--comparisons", compared, "--published", practiceFolder + "../registry/registry.csv"}, strings.NewReader(""), &stdout, &stderr)
	if status != 0 {
		t.Fatalf("status %d: %s", status, stderr.String())
	}
	if strings.Contains(stderr.String(), "registry.csv") {
		t.Errorf("remarks on the registry: %s", stderr.String())
	}
	file, err := os.Open(compared)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	records, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := make(map[string]int)
	for i, h := range records[0] {
		at[h] = i
	}
	like, expected := 0, 0
	for _, r := range records[1:] {
		if r[at["match"]] == "like" && strings.HasPrefix(r[at["source"]], "invented-") {
			like++
		}
		if r[at["expected"]] != "" {
			expected++
		}
	}
	if like < 50 || expected < 50 {
		t.Errorf("%d figures of the registry beside own joints, %d with an expected number", like, expected)
	}
}
