package report

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
)

// cohortOf reads a table; one of which every row is set aside is given all the
// same, as the check shows it.
func cohortOf(t testing.TB, name, table string, o cohort.Options) *cohort.Cohort {
	t.Helper()
	o.EveryColumn = true
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: name, Reader: strings.NewReader(table)}}, o)
	if err != nil && !errors.Is(err, cohort.ErrNoUsableRow) {
		t.Fatal(err)
	}
	return c
}

func checked(t testing.TB, c *cohort.Cohort, o Options) string {
	t.Helper()
	d, err := Check(checkingOf(t, c), CheckOptions{Full: true, Again: "holdfast check mine.csv"})
	if err != nil {
		t.Fatal(err)
	}
	return laidOut(t, d, o)
}

// awkward is forty hips of whom some have every kind of problem, with headings
// and words that are not understood. Invented, by rule.
func awkward() string {
	var b strings.Builder
	b.WriteString("patient,birth_date,operation_date,procedure,side,bearing,revised,revision_date,revision_reason,dead,death_date,last_seen_date,sex,=Cost,Knee or hip\n")
	for i := range 40 {
		rev, reason, seen := "", "", ""
		switch {
		case i%10 == 3:
			rev, reason = fmt.Sprintf("20%d-05-01", 11+i/10), "infection"
		case i%10 == 6:
			seen = "2012-03-04"
		}
		fmt.Fprintf(&b, "secret%d,%d-07-10,2010-0%d-11,THR,%s,MoP,,%s,%s,,,%s,F,12,\n", i, 1930+i, 1+i%9, [...]string{"L", "R"}[i%2], rev, reason, seen)
	}
	b.WriteString(`secret0,1930-07-10,2014-01-11,THR,L,std,,,,,,,F,=1+1,
secret90,1930-07-10,2010-01-11,THR,L,wonderstuff,yes,,,,,,F,,
secret91,1990-07-10,1989-01-11,THR,L,,,,,,,,,,
secret92,,2010-02-31,THR,R,,,,,,,,,,
secret93,,2010-03-01,THR,both,,,,,,,,,,
secret94,,2010-03-01,THR,,,,2009-01-01,,,,,,,
secret95,,2010-03-01,revision THR,L,,,,,,,,,,
secret96,,2010-03-01,THR,L,,maybe,,wear,no,2015-01-01,2009-01-01,,,
secret97,1931-07-10,2010-01-11,THR,R,MoP,,,,,,,F,,
`)
	return b.String()
}

// hostileWords is a table whose words, headings and name hold what a terminal,
// Markdown, a spreadsheet or a settings file would act on.
func hostileWords(t testing.TB) *cohort.Cohort {
	words := []string{"a|b *bold* [link](x) <script>", "\x1b[31mred\x1b[0m\x07", "\u202Eturned", "陶瓷对聚乙烯陶瓷对聚乙烯陶瓷对聚乙烯陶瓷对聚乙烯陶瓷对聚乙烯",
		strings.Repeat("unbroken", 14), "=HYPERLINK(1)", "quo\"\"te\\ ] [", "Mr Secret Name"}
	var b strings.Builder
	b.WriteString("operation_date,revision_date,joint,procedure,bearing,revised,\"a|b \x1b[2J *own* \n=head\"\n")
	for i := range 40 {
		fmt.Fprintf(&b, "2010-0%d-11,,\"sho|ul\x1bder\",total,\"%s\",%s,x\n", 1+i%9, words[i%len(words)], [...]string{"", "\x1b[2Jperhaps"}[i/39])
	}
	b.WriteString("2010-01-11,2009-01-01,\"sho|ul\x1bder\",total,,,x\n")
	return cohortOf(t, "=a|b\x1b[1m\n.csv", b.String(), cohort.Options{ClosingDate: day(t, "2019-12-31")})
}

func checks(t testing.TB) map[string]*cohort.Cohort {
	closing := cohort.Options{ClosingDate: day(t, "2019-12-31")}
	return map[string]*cohort.Cohort{
		"awkward":  cohortOf(t, "awkward.csv", awkward(), closing),
		"hostile":  hostileWords(t),
		"practice": cohortOf(t, "practice.csv", file(t, "../../../examples/practice/practice.csv"), cohort.Options{ClosingDate: day(t, "2024-12-31")}),
		"none":     cohortOf(t, "none.csv", "operation_date,revision_date,revised\n2010-01-01,,yes\nx,,\n", closing),
		"few":      cohortOf(t, "few.csv", "operation_date,revision_date,last_seen_date\n2010-01-01,,2011-01-01\n", closing),
		"doubtful": cohortOf(t, "doubtful.csv", "operation_date,revision_date\n"+strings.Repeat("2010-01-01,\n", 20)+"2015-01-01,\n2019-01-01,\n", cohort.Options{}),
	}
}

func checkingOf(t testing.TB, c *cohort.Cohort) *gather.Checking {
	t.Helper()
	f, err := gather.CheckOf(c, true)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestCheckGolden(t *testing.T) {
	c := checks(t)["awkward"]
	var list bytes.Buffer
	if err := CheckCSV(&list, c, gather.Tasks(c, nil)); err != nil {
		t.Fatal(err)
	}
	for name, got := range map[string]string{
		"check.txt": checked(t, c, Options{}),
		"check.md":  checked(t, c, Options{Markdown: true}),
		"check.csv": list.String(),
	} {
		golden(t, name, got)
	}
}

func TestCheckFits(t *testing.T) {
	for name, c := range checks(t) {
		for _, most := range []int{60, 72, 100} {
			text := checked(t, c, Options{Width: most})
			cleanLines(t, name, text)
			for i, line := range strings.Split(text, "\n") {
				if document.Width(line) > most && !strings.HasPrefix(line, "       ") { // lines to be copied are not broken
					t.Errorf("%s at %d, line %d is %d wide: %q", name, most, i+1, document.Width(line), line)
				}
			}
			if word := forbidden.FindString(text); word != "" {
				t.Errorf("%s says %q", name, word)
			}
			if strings.Contains(strings.ToLower(text), "secret") {
				t.Errorf("%s shows an identifying value", name)
			}
		}
	}
}

// Rows of Markdown tables have the same number of cells, whatever stands in them.
func TestCheckMarkdown(t *testing.T) {
	unescaped := regexp.MustCompile(`(^|[^\\])((\\\\)*)\|`)
	for name, c := range checks(t) {
		text := checked(t, c, Options{Markdown: true})
		want := 0
		for i, line := range strings.Split(text, "\n") {
			if !strings.HasPrefix(line, "|") {
				want = 0
				continue
			}
			n := len(unescaped.FindAllString(strings.ReplaceAll(line, "||", "| |"), -1))
			if want == 0 {
				want = n
			}
			if n != want {
				t.Errorf("%s line %d: %d bars, want %d: %s", name, i+1, n, want, line)
			}
		}
		if strings.Contains(text, "<script") && !strings.Contains(text, `\<script`) || strings.Contains(strings.ToLower(text), "secret") {
			t.Errorf("%s: not escaped, or an identifying value", name)
		}
	}
}

// The list for a spreadsheet has one line per problem, none of which is run as
// a formula, and no identifying value.
func TestCheckCSV(t *testing.T) {
	for name, c := range checks(t) {
		var b bytes.Buffer
		if err := CheckCSV(&b, c, gather.Tasks(c, nil)); err != nil {
			t.Fatal(err)
		}
		records, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff([]string{"file", "sheet", "row", "cell", "column", "reason", "what_to_do", "done"}, records[0]); d != "" {
			t.Error(d)
		}
		want := 0
		for _, t := range gather.ToDo(gather.Tasks(c, nil)) {
			want += len(t.Rows)
		}
		if c.Closing.Doubtful() {
			want++
			if r := records[1]; r[2] != "23" || r[4] != "operation_date" || !strings.HasPrefix(r[5], "sets the closing date") {
				t.Errorf("%s: %q", name, r)
			}
		}
		if len(records)-1 != want {
			t.Errorf("%s: %d lines, want %d", name, len(records)-1, want)
		}
		for _, r := range records[1:] {
			if r[2] == "" || r[5] == "" || r[6] == "" || r[7] != "" {
				t.Errorf("%s: %q", name, r)
			}
			for _, cell := range r {
				if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) || strings.ContainsFunc(cell, unicode.IsControl) || strings.Contains(strings.ToLower(cell), "secret") {
					t.Errorf("%s: cell %q", name, cell)
				}
			}
		}
	}
}

// A table without a problem says so.
func TestCheckWithoutProblems(t *testing.T) {
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,procedure,side,bearing,fixation,age,sex,revised,revision_date,revision_reason,death_date,last_seen_date\n")
	for i := range 12 {
		fmt.Fprintf(&b, "p%d0,2010-01-01,hip,total,left,MoP,cemented,70,F,no,,,,2019-12-01\n", i)
	}
	c := cohortOf(t, "clean.csv", b.String(), cohort.Options{ClosingDate: day(t, "2019-12-31")})
	text := checked(t, c, Options{})
	for _, want := range []string{
		"Nothing stops an audit",
		"12 joints and no revision: was none of them revised, or was none entered?",
		"No problem that is left open would change an estimate",
		"12 joints, 119 implant-years. Longest follow-up 9.9 years, median 9.9 years.",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("lacks %q", want)
		}
	}
	if strings.Count(text, "\nNone.\n") != 1 { // words
		t.Error("words to settle")
	}
	var list bytes.Buffer
	if err := CheckCSV(&list, c, gather.Tasks(c, nil)); err != nil || strings.Count(list.String(), "\n") != 1 {
		t.Errorf("%v: %s", err, list.String())
	}
}

// A closing date that may be mistyped is the first thing to look at.
func TestCheckDoubtfulClosing(t *testing.T) {
	text := checked(t, checks(t)["doubtful"], Options{})
	want := "1  Is 1 January 2019 right (row 23, column operation_date)? It sets the closing date, and stands 1,461 days after every other row’s"
	if !strings.Contains(strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(want), " ")) || !strings.Contains(text, "\n       closing_date = 2015-01-01\n") {
		t.Errorf("lacks %q in\n%s", want, text)
	}
}

// In a workbook the cell is named; row numbers have no comma. Rows of a table of
// revisions stand in the list too.
func TestCheckNamesCells(t *testing.T) {
	f := excelize.NewFile()
	defer f.Close()
	set := func(cell string, values ...any) {
		if err := f.SetSheetRow("Sheet1", cell, &values); err != nil {
			t.Fatal(err)
		}
	}
	set("B3", "patient", "operation_date", "joint", "side", "revised", "revision_date")
	for i := range 1200 {
		set(fmt.Sprintf("B%d", i+4), fmt.Sprintf("p%d", 100+i), "2010-01-01", "hip", "left", "no", "")
	}
	set("B1204", "p9000", "2010-01-01", "hip", "left", "yes", "")
	var book bytes.Buffer
	if err := f.Write(&book); err != nil {
		t.Fatal(err)
	}
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: "own.xlsx", Reader: &book}}, cohort.Options{ClosingDate: day(t, "2019-12-31"), EveryColumn: true,
		Revisions: []cohort.Source{{Name: "revisions.csv", Reader: strings.NewReader("patient,joint,side,revision_date\np101,hip,left,2012-01-01\nsecret1,hip,left,2012-01-01\np102,hip,,2012-01-01\n")}}})
	if err != nil {
		t.Fatal(err)
	}
	text := checked(t, c, Options{})
	for _, want := range []string{
		`(?m)^1204  Sheet1!F1204  revised +own\.xlsx$`,
		`(?m)^A revision: joined to its primary: 1 row\n +2 +revision_date +a revision: joined to its primary \(row 5 of own\.xlsx\) +revisions\.csv$`,
		`(?m)^A revision without its primary in the table: 1 row\n +3 `,
		`(?m)^A revision whose patient, joint or side is missing: 1 row\n +4 `,
	} {
		if !regexp.MustCompile(want).MatchString(text) {
			t.Errorf("lacks %s in\n%s", want, text)
		}
	}
	var list bytes.Buffer
	if err := CheckCSV(&list, c, gather.Tasks(c, nil)); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"own.xlsx,Sheet1,1204,Sheet1!F1204,revised,revised without a date,Fill in the date of revision,\n", "revisions.csv,,4,,side,a revision whose side is missing,"} {
		if !strings.Contains(list.String(), want) {
			t.Errorf("lacks %q in\n%s", want, list.String())
		}
	}
	if strings.Contains(list.String()+text, "secret") {
		t.Error("shows an identifying value")
	}
}

type full struct{}

var errFull = errors.New("full")

func (full) Write([]byte) (int, error) { return 0, errFull }

func TestCheckWriterError(t *testing.T) {
	c := checks(t)["awkward"]
	if err := CheckCSV(full{}, c, gather.Tasks(c, nil)); !errors.Is(err, errFull) {
		t.Errorf("got %v", err)
	}
}

func TestTOML(t *testing.T) {
	for typed, want := range map[string]string{
		"std": `"std"`, `a"b\c`: `"a\"b\\c"`, "\x1b[1m\t": `"\u001B[1m\u0009"`, "\u202Ex": `"\u202Ex"`, "陶瓷": `"陶瓷"`, "\U000E0001": `"\U000E0001"`,
	} {
		if got := TOML(typed); got != want {
			t.Errorf("TOML(%q) = %s, want %s", typed, got, want)
		}
	}
}

// Headings that may be a column which the table lacks are asked about, by what
// stands under them; where it is not clear the others stand as comments.
func TestCheckAsksForHeadings(t *testing.T) {
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,revision_date,Passed,Glue,M or F,Ward\n")
	for i := range 12 {
		fmt.Fprintf(&b, "p%d0,2010-01-01,hip,%s,2018-01-0%d,%s,%s,%s\n", i, [...]string{"", "2012-02-02"}[i/11], 1+i%9, [...]string{"cemented", "hybrid"}[i%2], [...]string{"M", "F"}[i%2], [...]string{"4", "5"}[i%2])
	}
	c := cohortOf(t, "asks.csv", b.String(), cohort.Options{ClosingDate: day(t, "2019-12-31")})
	d, err := Check(checkingOf(t, c), CheckOptions{})
	if err != nil {
		t.Fatal(err)
	}
	text := laidOut(t, d, Options{})
	for _, want := range []string{
		"Is “Passed” (12 rows: looks like dates) the death date, or the last seen date? Without it the unknown dead stay at risk",
		"\n       [columns]\n       \"Passed\" = \"death_date\"\n       # or: \"Passed\" = \"last_seen_date\"\n",
		"Is “Glue” (12 rows: cemented (6), hybrid (6)) the fixation?",
		"Is “M or F” (12 rows: F (6), M (6)) the sex?",
		"Kept under its own name, and not used unless asked for: “Ward”.",
	} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(want), " ")) {
			t.Errorf("lacks %q in\n%s", want, text)
		}
	}
	if strings.Contains(text, "ROWS TO CHASE") {
		t.Error("rows to chase, of which there are none")
	}
}

// Every list has a name of its own, by which it is written.
func TestCheckLists(t *testing.T) {
	c := checks(t)["awkward"]
	seen := make(map[string]bool)
	for _, name := range CheckLists() {
		if seen[name] {
			t.Errorf("%s names two lists", name)
		}
		seen[name] = true
		d, err := Check(checkingOf(t, c), CheckOptions{List: name})
		if err != nil || len(d.Blocks) == 0 {
			t.Errorf("%s: %v, %d blocks", name, err, len(d.Blocks))
		}
	}
	for _, x := range gather.Tasks(c, nil) {
		if !seen[x.List] {
			t.Errorf("the rows of %q can't be asked for", x.Do)
		}
	}
	if _, err := Check(checkingOf(t, c), CheckOptions{List: "nothing of the kind"}); err == nil {
		t.Error("a list that there is not")
	}
}

// A heading that may be a column of days or one of words is asked about as what its cells
// look like first: that line is pasted.
func TestHeadingIsAskedAboutByItsCells(t *testing.T) {
	for cell, want := range map[string][]string{"2020-01-02": {"death_date", "dead"}, "yes": {"dead", "death_date"}} {
		table := "patient,operation_date,joint,procedure,revision_date,RIP\n"
		for i := range 6 {
			table += fmt.Sprintf("P%d,2012-03-0%d,hip,total,,%s\n", 10+i, 1+i, cell)
		}
		asked := mayStandFor(cohortOf(t, "rip.csv", table, cohort.Options{EveryColumn: true}))
		if len(asked) != 1 || !slices.Equal(asked[0].columns, want) {
			t.Errorf("%s: %+v, want %v", cell, asked, want)
		}
	}
}
