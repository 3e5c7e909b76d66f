package command

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
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

// attack runs the program as somebody would, and looks for canaries in all that it
// writes: to standard output, in messages, and in files of every kind.
type attack struct {
	*testing.T
	folder string
}

func (a *attack) name(file string) string { return filepath.Join(a.folder, file) }

func (a *attack) look(what, text string) {
	a.Helper()
	for _, at := range anyCanary.FindAllStringIndex(text, 3) {
		a.Errorf("%s: %q", what, text[max(0, at[0]-40):min(len(text), at[1]+40)])
	}
}

// run runs one command. Table stands in it for the table's name.
func (a *attack) run(status int, table string, args ...string) {
	a.Helper()
	what := strings.Join(args, " ")
	for i := range args {
		args[i] = strings.ReplaceAll(args[i], "TABLE", table)
	}
	var stdout, stderr bytes.Buffer
	got := Main(args, strings.NewReader(""), &stdout, &stderr)
	if got != status && !strings.Contains(stderr.String(), "is no column to group") && !strings.Contains(stderr.String(), "no column") {
		a.Errorf("%s: status %d, want %d: %s", what, got, status, stderr.String())
	}
	a.look(what, stdout.String())
	a.look(what+", messages", stderr.String())
}

// files looks into all files but those named, and wants one of each ending.
func (a *attack) files(endings string, but ...string) {
	a.Helper()
	entries, err := os.ReadDir(a.folder)
	if err != nil {
		a.Fatal(err)
	}
	kinds := make(map[string]bool)
	for _, e := range entries {
		if slices.Contains(but, e.Name()) {
			continue
		}
		written, err := os.ReadFile(a.name(e.Name()))
		if err != nil {
			a.Fatal(err)
		}
		ending := filepath.Ext(e.Name())
		kinds[ending] = true
		a.look(e.Name(), e.Name())
		a.look(e.Name()+", bytes", string(written))
		if ending == ".pdf" {
			a.look(e.Name(), pdfText(a.T, written))
		}
		for at := 8; ending == ".png" && at+8 <= len(written); at += 12 + int(binary.BigEndian.Uint32(written[at:])) {
			if kind := string(written[at+4 : at+8]); kind == "iTXt" { // not compressed, so that the bytes are the text
				if _, text, _ := strings.Cut(string(written[at+8:]), "\x00"); !strings.HasPrefix(text, "\x00") {
					a.Errorf("%s has a text that can't be looked into", e.Name())
				}
			} else if !slices.Contains([]string{"IHDR", "pHYs", "PLTE", "tRNS", "IDAT", "IEND"}, kind) {
				a.Errorf("%s has a chunk %s", e.Name(), kind)
			}
		}
	}
	for ending := range strings.FieldsSeq(endings) {
		if !kinds[ending] {
			a.Errorf("no file %s was looked into", ending)
		}
	}
}

// pdfText is the text of a PDF: what its streams show as texts in parentheses, each
// letter as two bytes. It must have some.
func pdfText(t *testing.T, file []byte) string {
	t.Helper()
	var all strings.Builder
	for rest := file; ; {
		_, from, ok := bytes.Cut(rest, []byte("stream\n"))
		if !ok {
			break
		}
		rest = from
		z, err := zlib.NewReader(bytes.NewReader(from))
		if err != nil {
			continue
		}
		content, _ := io.ReadAll(z)
		for _, shown := range regexp.MustCompile(`(?s)\(((?:\\.|[^\\()])*)\)`).FindAllSubmatch(content, -1) {
			text := regexp.MustCompile(`(?s)\\(.)`).ReplaceAllFunc(shown[1], func(b []byte) []byte {
				if b[1] == 'r' {
					return []byte{'\r'}
				}
				return b[1:]
			})
			for i := 0; i+1 < len(text); i += 2 {
				all.WriteRune(rune(text[i])<<8 | rune(text[i+1]))
			}
		}
		all.WriteByte(' ')
	}
	for _, told := range []string{"evision", "oint"} {
		if !strings.Contains(all.String(), told) {
			t.Errorf("the text of the PDF could not be read: %.200q", all.String())
		}
	}
	return all.String()
}

// What identifies somebody stands in no output, in whatever cell or heading it was
// typed: on the page, in full, as Markdown, CSV and JSON, in the rows set aside, the
// comparisons, the check with its lists and its settings, reports as web page and as
// PDF, figures of every kind, tallies, and what is said beside each.
func TestCanariesStayInTheTable(t *testing.T) {
	a := &attack{t, t.TempDir()}
	text, columns := canaryTable()
	own := a.name("own.csv")
	if err := os.WriteFile(own, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(`
audit TABLE --closing-date 2022-12-31 --set-aside DIR/aside.csv --comparisons DIR/compared.csv
audit TABLE --full --format markdown
audit TABLE --format json
check TABLE --full --write-settings DIR/own.toml
check TABLE --format csv
check TABLE --format json
check TABLE --cohort DIR/own.arrow
report TABLE --out DIR/report.html
report TABLE --out DIR/report.pdf
reasons TABLE --figure DIR/reasons.svg --data DIR/reasons.csv
contrast TABLE --between sex
contrast TABLE --between fixation --format csv
tally TABLE --out DIR/tally.parquet --by sex,bearing --closing-date 2022-12-31
draw TABLE --by bearing --out DIR/curves.svg --data DIR/curves.csv --caption DIR/curves.txt
draw TABLE --by fixation --out DIR/curves.png
draw TABLE --by sex --kind intervals --out DIR/intervals.pdf
draw TABLE --by side --kind intervals --out DIR/intervals.svg
draw TABLE --kind grid --by sex,bearing --out DIR/grid.svg
draw TABLE --kind strip --out DIR/strip.pdf
draw TABLE --kind follow-up --out DIR/follow-up.svg`) {
		if args := strings.Fields(strings.ReplaceAll(line, "DIR", a.folder)); len(args) > 0 {
			a.run(0, own, args...)
		}
	}
	for _, column := range columns {
		if slices.Contains([]string{"sex", "diagnosis", "head", "cup_fixation", "asa", "bmi", "activity", "approach", "grade", "smoking", "surgeon", "side", "polyethylene"}, column) {
			a.run(0, own, "audit", "TABLE", "--by", column, "--format", "csv")
		}
	}
	a.files(".csv .toml .html .pdf .svg .png .txt .parquet .arrow", "own.csv")
}

// Nor from the name of a sheet or of a file.
func TestCanariesOfSheetsAndFiles(t *testing.T) {
	a := &attack{t, t.TempDir()}
	headings := []any{"Patient ID", "Joint", "Side", "Procedure", "Date of operation", "Date of revision", "Date of death"}
	rows := func(from int) [][]any {
		all := [][]any{headings}
		for i := range 30 {
			all = append(all, []any{fmt.Sprint("P", from+i), "hip", "L", "THR", date(2015, 1, 1+i), nil, nil})
		}
		return append(all, []any{"P1", "hip", "L", "THR", "someday", nil, nil})
	}
	book := workbookOf(sheet{"qzsheet@quux.example", rows(0)}, sheet{"Mrs Qzhead", rows(100)}, sheet{"07700 900900", rows(200)},
		sheet{"Revisions QZ1 1ZQ", [][]any{{"Patient ID", "Joint", "Side", "Date of revision"}, {"P1", "hip", "L", date(2017, 1, 1)}}})
	const own, told = "Mrs Qzhead QZ1 1ZQ.xlsx", "deaths of qzname@quux.example.csv"
	for name, content := range map[string][]byte{own: book, told: []byte("Patient ID,Date of death\nP2,2018-01-01\nP3,someday\n")} {
		if err := os.WriteFile(a.name(name), content, 0o600); err != nil {
			t.Skip("no file of such a name here: ", err)
		}
	}
	run := func(status int, line string) {
		args := strings.Fields(line)
		for i := range args {
			args[i] = strings.ReplaceAll(strings.ReplaceAll(args[i], "DIR", a.folder), "DEATHS", a.name(told))
		}
		a.run(status, a.name(own), args...)
	}
	run(1, "audit TABLE")
	run(1, "check TABLE --write-settings DIR/unsettled.toml")
	const with = " --sheet all --deaths DEATHS"
	for line := range strings.Lines(`
audit TABLE --full --set-aside DIR/aside.csv
audit TABLE --format csv --comparisons DIR/compared.csv
audit TABLE --format json
check TABLE --full
check TABLE --format html --out DIR/check.html
check TABLE --format csv
check TABLE --format json
report TABLE --out DIR/report.html
report TABLE --out DIR/report.pdf
tally TABLE --out DIR/tally.parquet --closing-date 2022-12-31
draw TABLE --out DIR/curves.svg --data DIR/curves.csv
draw TABLE --out DIR/curves.pdf`) {
		if line != "\n" {
			run(0, line+with)
		}
	}
	run(0, "check TABLE --sheet all --write-settings DIR/own.toml") // a settings file has to name the other file
	a.files(".csv .toml .html .pdf .svg .parquet", own, told)
	// Alone, the program writes beside the table and calls its files after it.
	var stdout, stderr bytes.Buffer
	Main([]string{a.name(own)}, strings.NewReader(""), &stdout, &stderr)
	if page, err := os.ReadFile(a.name(strings.TrimSuffix(own, ".xlsx") + "-check.html")); err != nil {
		t.Error(err)
	} else {
		a.look("the check beside the table", string(page))
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
	book := filepath.Join(folder, "own\u202e.xlsx")
	headings := []any{"operation_date", "revision_date", "joint", "procedure", "surgeon" + marks[:6]}
	if err := os.WriteFile(book, workbookOf(sheet{"2019\u202e", [][]any{headings, {"2015-01-02", nil, "hip", "THR", "A\u202e"}, {"someday", nil, "hip", "THR", "A"}}},
		sheet{"2020\u2066", [][]any{headings, {"2015-01-02", "2016-01-02", "hip", "THR", "A"}}}), 0o600); err != nil {
		t.Skip("no file of such a name here: ", err)
	}
	page, figure, proposal := filepath.Join(folder, "report.html"), filepath.Join(folder, "figure.svg"), filepath.Join(folder, "own.toml")
	for _, args := range [][]string{
		{"audit", book}, {"check", book}, {"check", book, "--write-settings", proposal}, {"audit", book, "--sheet", "all", "--format", "json"}, {"check", book, "--sheet", "all", "--full"},
		{"check", book, "--sheet", "all", "--format", "json"}, {"check", book, "--sheet", "all", "--format", "csv"}, {"report", book, "--sheet", "all", "--out", page}, {"draw", book, "--sheet", "all", "--out", figure},
		{"draw", own, "--by", "surgeon", "--name", "--out", figure},
		{"audit", own, "--by", "surgeon,hospital"}, {"audit", own, "--by", "surgeon,diagnosis", "--full", "--format", "markdown"}, {"audit", own, "--by", "surgeon,hospital,diagnosis", "--format", "csv"},
		{"audit", own, "--by", "surgeon", "--format", "json"}, {"check", own, "--full"}, {"check", own, "--format", "csv"}, {"check", own, "--format", "json"},
		{"audit", own, "--by", "nothing" + marks}, {"report", own, "--by", "surgeon", "--out", page},
	} {
		var stdout, stderr bytes.Buffer
		Main(args, strings.NewReader(""), &stdout, &stderr)
		texts := []string{stdout.String(), stderr.String()}
		for _, name := range []string{page, figure, proposal} {
			written, _ := os.ReadFile(name)
			texts = append(texts, string(written))
		}
		for _, text := range texts {
			if at := strings.IndexAny(text, "\u202e\u2066\u200f\x1b\x07"); at >= 0 {
				t.Errorf("%q: a mark stands raw: %q", append(args[:1:1], args[2:]...), text[max(0, at-60):min(len(text), at+40)])
			}
		}
	}
}
