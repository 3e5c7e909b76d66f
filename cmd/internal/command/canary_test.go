package command

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
)

// canaries are what identifies somebody, each in a form of its own that no other text
// holds: an e-mail address, a postcode, a telephone number, a name alone, and a word
// that is none of a column's. Each is given the number of its cell.
var canaries = []struct {
	kind  string
	typed func(n int) string
	in    func(column string) bool // where it may not stand
}{
	{"e-mail", func(n int) string { return fmt.Sprintf("qz%s@quux.example", letters(n)) }, anywhere},
	{"postcode", func(n int) string { return fmt.Sprintf("QZ%d %dZQ", n%9+1, n/9%9+1) }, anywhere},
	{"telephone", func(n int) string { return fmt.Sprintf("07700 9%05d", 77000+n) }, anywhere},
	{"name", func(n int) string { return "Qzname" + letters(n) }, coded},
	{"word", func(n int) string { return "qzword" + letters(n) }, ofFewWords},
}

var anyCanary = regexp.MustCompile(`(?i)qz[a-z]*@|quux|QZ\d \dZQ|07700|qzname|qzword|qzhead`)

func letters(n int) string { return string(rune('a'+n/26%26)) + string(rune('a'+n%26)) }

func anywhere(string) bool { return true }

// ofFewWords says whether a column has few words, or none but days, numbers and
// identifiers.
func ofFewWords(name string) bool {
	for _, c := range cohort.Columns() {
		if c.Name == name && (c.Identifying || strings.HasSuffix(name, "_date")) {
			return true
		}
	}
	return slices.Contains([]string{"sex", "side", "joint", "revised", "dead", "age"}, name)
}

// coded says whether a column is one whose words are all known, so that one that is
// not may be somebody's: of yes and no, closed, or of dates and numbers.
func coded(name string) bool {
	return !slices.Contains([]string{"surgeon", "hospital", "diagnosis", "Notes"}, name)
}

// canaryTable has 60 joints, and then one row for each canary and column, with the
// canary in that column's cell.
func canaryTable() (text string, columns []string) {
	base := map[string]string{"operation_date": "2015-01-02", "joint": "hip", "side": "left", "procedure": "THR", "bearing": "CoC", "fixation": "cemented", "age": "66", "sex": "F", "surgeon": "A", "hospital": "B"}
	for _, c := range cohort.Columns() {
		columns = append(columns, c.Name)
	}
	columns = append(columns, "Notes", "qzhead@quux.example", "07700 900900", "Mrs Qzhead 3/4/1950")
	var b strings.Builder
	b.WriteString(strings.Join(columns, ",") + "\n")
	number := 0
	row := func(at int, planted string) {
		number++
		for i, name := range columns {
			cell := base[name]
			switch {
			case i == at:
				cell = planted
			case name == "patient", name == "joint_id":
				cell = fmt.Sprintf("Qzname%d", number)
			case name == "revision_date" && number%7 == 0:
				cell = "2017-05-06"
			case name == "initials":
				cell = "QZ"
			}
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(cell)
		}
		b.WriteByte('\n')
	}
	for range 60 {
		row(-1, "")
	}
	for at, name := range columns {
		for k, c := range canaries {
			if c.in(name) {
				row(at, c.typed(at*len(canaries)+k))
			}
		}
	}
	return b.String(), columns
}

// What identifies somebody stands in no output, in whatever cell or heading it was
// typed: on the page, in full, as Markdown, CSV and JSON, in the rows set aside, the
// comparisons, the check with its lists and its settings, the report as a web page,
// the checked cohort by every column, and what is said beside each.
func TestCanariesStayInTheTable(t *testing.T) {
	folder := t.TempDir()
	text, columns := canaryTable()
	name := func(file string) string { return filepath.Join(folder, file) }
	if err := os.WriteFile(name("own.csv"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	look := func(what, text string) {
		t.Helper()
		for _, at := range anyCanary.FindAllStringIndex(text, 3) {
			t.Errorf("%s: %q", what, text[max(0, at[0]-40):min(len(text), at[1]+40)])
		}
	}
	run := func(args ...string) {
		t.Helper()
		var stdout, stderr bytes.Buffer
		status := Main(args, strings.NewReader(""), &stdout, &stderr)
		what := strings.Join(append([]string{args[0]}, args[2:]...), " ")
		if status != 0 && !strings.Contains(stderr.String(), "is no column to group") && !strings.Contains(stderr.String(), "no column") {
			t.Errorf("%s: status %d: %s", what, status, stderr.String())
		}
		look(what, stdout.String())
		look(what+", messages", stderr.String())
	}
	own := name("own.csv")
	run("audit", own, "--closing-date", "2022-12-31", "--set-aside", name("aside.csv"), "--comparisons", name("compared.csv"))
	run("audit", own, "--full", "--format", "markdown")
	run("audit", own, "--format", "json")
	run("check", own, "--full", "--write-settings", name("own.toml"))
	run("check", own, "--format", "csv")
	run("check", own, "--format", "json")
	run("report", own, "--out", name("report.html"))
	for _, column := range columns {
		if slices.Contains([]string{"sex", "diagnosis", "head", "cup_fixation", "asa", "bmi", "activity", "approach", "grade", "smoking", "surgeon", "side", "polyethylene"}, column) {
			run("audit", own, "--by", column, "--format", "csv")
		}
	}
	for _, file := range []string{"aside.csv", "compared.csv", "own.toml", "report.html"} {
		written, err := os.ReadFile(name(file))
		if err != nil {
			t.Fatal(err)
		}
		look(file, string(written))
	}
}

// Control and direction marks reach no output raw, from a cell, a heading, a sheet or
// a file's name.
func TestMarksReachNoOutputRaw(t *testing.T) {
	const marks = "\u202e\u2066\u200f\x1b[31m\x07"
	folder := t.TempDir()
	own := filepath.Join(folder, "own\u202e\x1b[31m.csv")
	var b strings.Builder
	fmt.Fprintf(&b, "operation_date,revision_date,joint,procedure,surgeon,hospital,diagnosis,Team%s\n", marks)
	for i := range 40 {
		fmt.Fprintf(&b, "2015-01-02,,hip,THR,A%[1]s,B%[1]s,odd%[1]s%[2]d,red%[1]s\n", marks, i%3)
	}
	if err := os.WriteFile(own, []byte(b.String()), 0o600); err != nil {
		t.Skip("no file of such a name here: ", err)
	}
	page := filepath.Join(folder, "report.html")
	for _, args := range [][]string{
		{"audit", own, "--by", "surgeon,hospital"}, {"audit", own, "--by", "surgeon,diagnosis", "--full", "--format", "markdown"}, {"audit", own, "--by", "surgeon,hospital,diagnosis", "--format", "csv"},
		{"audit", own, "--by", "surgeon", "--format", "json"}, {"check", own, "--full"}, {"check", own, "--format", "csv"}, {"check", own, "--format", "json"},
		{"audit", own, "--by", "nothing" + marks}, {"report", own, "--by", "surgeon", "--out", page},
	} {
		var stdout, stderr bytes.Buffer
		Main(args, strings.NewReader(""), &stdout, &stderr)
		written, _ := os.ReadFile(page)
		for _, text := range []string{stdout.String(), stderr.String(), string(written)} {
			if at := strings.IndexAny(text, "\u202e\x1b\x07"); at >= 0 {
				t.Errorf("%q: a mark stands raw: %q", args[:1], text[max(0, at-60):min(len(text), at+40)])
			}
		}
	}
}
