package cohort_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/testtable"
)

const tablesFolder = "../testdata/tables"

// Every table of the folder, and what is to become of it.
func TestTables(t *testing.T) {
	for _, test := range []struct {
		file     string
		err      []string // parts of the message; nil: it can be read
		is       error
		used     int
		revised  int
		format   string
		aside    []cohort.Problem
		warnings []cohort.Problem
		check    func(t *testing.T, c *cohort.Cohort)
	}{
		{file: "empty.csv", err: []string{"empty.csv", "the file is empty"}, is: sheet.ErrEmpty},
		{file: "headings-only.csv", err: []string{"headings-only.csv", "there are headings, and no rows below them"}, is: cohort.ErrNoUsableRow},
		{file: "no-headings.csv", err: []string{"no-headings.csv", "no column operation_date", "the first line looks like a row of data"}},
		{file: "spaces.csv", err: []string{"spaces.csv", "no column operation_date", `"operation_date revision_date side"`}},
		{file: "title-rows.csv", used: 1, revised: 1, format: "CSV, comma-separated, UTF-8", check: func(t *testing.T, c *cohort.Cohort) {
			if d := cmp.Diff([]string{"Invented data", "exported on a Tuesday"}, c.Files[0].Preamble); d != "" || c.Files[0].HeadingRow != 4 {
				t.Errorf("heading row %d, preamble (-want +got):\n%s", c.Files[0].HeadingRow, d)
			}
		}},
		{file: "ragged.csv", used: 5, revised: 1, format: "CSV, comma-separated, UTF-8",
			warnings: []cohort.Problem{{Row: 2, Column: "side", Reason: cohort.SideMissing}, {Row: 5, Reason: cohort.CellsBeyondHeadings}}},
		{file: "blank-lines.csv", used: 2, revised: 1, format: "CSV, comma-separated, UTF-8", check: func(t *testing.T, _ *cohort.Cohort) {
			if d := cmp.Diff([]int{3, 7}, rowsRead(t, cohort.Options{}, readTable(t, "blank-lines.csv"))); d != "" {
				t.Errorf("rows (-want +got):\n%s", d)
			}
		}},
		{file: "mark-and-crlf.csv", used: 2, revised: 1, format: "CSV, comma-separated, UTF-8", check: func(t *testing.T, c *cohort.Cohort) {
			if c.Files[0].Headings[0].Typed != "operation_date" || c.Files[0].Headings[2].Typed != "side" {
				t.Errorf("%+v", c.Files[0].Headings)
			}
		}},
		{file: "semicolons.csv", used: 2, revised: 1, format: "text, semicolon-separated, UTF-8", check: func(t *testing.T, c *cohort.Cohort) {
			want := map[string]int64{"not recorded|not recorded|left|65-74": 1, "not recorded|not recorded|right|<55": 1}
			if d := cmp.Diff(want, joints(mustTally(t, c, []string{"side", "age_band"}, cohort.Endpoint{}).Set)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		}},
		{file: "tabs.tsv", used: 2, revised: 1, format: "text, tab-separated, UTF-8"},
		{file: "quoted.csv", used: 2, revised: 1, format: "CSV, comma-separated, UTF-8", check: func(t *testing.T, _ *cohort.Cohort) {
			if d := cmp.Diff([]int{2, 5}, rowsRead(t, cohort.Options{}, readTable(t, "quoted.csv"))); d != "" {
				t.Errorf("rows (-want +got):\n%s", d)
			}
		}},
		{file: "open-quote.csv", used: 2, revised: 1, format: "CSV, comma-separated, UTF-8", aside: []cohort.Problem{{Row: 3, Reason: cohort.RowUnreadable}}},
		{file: "windows-1252.csv", used: 2, format: "CSV, comma-separated, Windows-1252", check: func(t *testing.T, c *cohort.Cohort) {
			want := map[string]int64{"not recorded|not recorded|Schütz": 2}
			if d := cmp.Diff(want, joints(mustTally(t, c, []string{"diagnosis"}, cohort.Endpoint{}).Set)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		}},
		{file: "day-first.csv", used: 2, revised: 1, format: "CSV, comma-separated, UTF-8", check: firstOperation("day-first.csv", "2019-04-03")},
		{file: "month-first.csv", used: 2, revised: 1, format: "CSV, comma-separated, UTF-8", check: firstOperation("month-first.csv", "2019-04-03")},
		{file: "ambiguous-dates.csv", err: []string{"ambiguous-dates.csv", "rows 2 and 3 could be day first or month first"}},
		{file: "contradicting-dates.csv", err: []string{"contradicting-dates.csv", "row 2 can only be day first, row 3 only month first"}},
		{file: "mixed-dates.csv", used: 4, revised: 3, format: "CSV, comma-separated, UTF-8", aside: []cohort.Problem{{Row: 6, Column: "operation_date", Reason: cohort.OperationDateImpossible}},
			check: func(t *testing.T, c *cohort.Cohort) {
				// 3 April 2019 to 3 April 2020 is 366 days, 29 February between; both
				// serials are 366 apart, and 43558 + 366 is the closing date.
				if d := cmp.Diff([]outcome{{356, 0}, {366, 1}, {366, 1}, {366, 1}}, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
					t.Errorf("(-want +got):\n%s", d)
				}
			}},
		{file: "missing-column.csv", err: []string{"missing-column.csv", "no column revision_date", `"revison_date"`, "Nearest"}},
		{file: "two-headings.csv", err: []string{"two-headings.csv", `"Date of operation" and "Surgery date" both mean operation_date`}},
		{file: "missing-words.csv", used: 3, format: "CSV, comma-separated, UTF-8",
			warnings: []cohort.Problem{{Row: 2, Column: "side", Reason: cohort.SideMissing}, {Row: 3, Column: "side", Reason: cohort.SideMissing}, {Row: 4, Column: "side", Reason: cohort.SideMissing}},
			check: func(t *testing.T, c *cohort.Cohort) {
				want := map[string]int64{"not recorded|not recorded|not recorded|not recorded|not recorded": 3}
				if d := cmp.Diff(want, joints(mustTally(t, c, []string{"bearing", "sex", "age_band"}, cohort.Endpoint{}).Set)); d != "" {
					t.Errorf("(-want +got):\n%s", d)
				}
				for _, m := range c.Completeness() {
					if want := 3; m.Heading.Typed != "operation_date" && m.Missing != want {
						t.Errorf("%s: %d missing, want %d", m.Heading.Typed, m.Missing, want)
					}
				}
			}},
		{file: "second-primaries.csv", used: 4, format: "CSV, comma-separated, UTF-8", aside: []cohort.Problem{
			{Row: 3, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 2},
			{Row: 4, Column: "operation_date", Reason: cohort.DuplicateRow, Of: 5},
			{Row: 8, Column: "side", Reason: cohort.BothSides},
			{Row: 9, Column: "procedure", Reason: cohort.NotPrimary},
		}},
		{file: "words-nobody-knows.csv", used: 3, format: "CSV, comma-separated, UTF-8", check: func(t *testing.T, c *cohort.Cohort) {
			want := map[string]int64{
				"hip|total|metal-on-polyethylene|cemented":                                 1,
				"hip|total|glass-on-glass|glue":                                            1,
				"(free text)|replacement|" + cohort.NotRecorded + "|" + cohort.NotRecorded: 1,
			}
			if d := cmp.Diff(want, joints(mustTally(t, c, []string{"bearing", "fixation"}, cohort.Endpoint{}).Set)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		}},
		{file: "impossible-dates.csv", used: 1, format: "CSV, comma-separated, UTF-8", aside: []cohort.Problem{
			{Row: 3, Column: "operation_date", Reason: cohort.OperationDateImpossible},
			{Row: 4, Column: "revision_date", Reason: cohort.RevisionBeforeOperation},
			{Row: 5, Column: "death_date", Reason: cohort.DeathBeforeOperation},
			{Row: 6, Column: "revision_date", Reason: cohort.RevisionDateImpossible},
			{Row: 7, Column: "operation_date", Reason: cohort.DateInFuture},
			{Row: 8, Column: "age", Reason: cohort.AgeOutOfRange},
		}},
	} {
		t.Run(test.file, func(t *testing.T) {
			name := filepath.Join(tablesFolder, test.file)
			c, err := cohort.Read(t.Context(), []cohort.Source{{Name: name}}, cohort.Options{Today: day(today), Keep: []string{"diagnosis"}})
			if test.err != nil {
				wantError(t, err, test.err...)
				if test.is != nil && !errors.Is(err, test.is) {
					t.Errorf("error %v is not %v", err, test.is)
				}
				if strings.Contains(err.Error(), "MARKER") || strings.Contains(err.Error(), "1950-01-31") {
					t.Errorf("the message repeats a cell: %v", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			balanced(t, c)
			revised := 0
			for _, o := range allOutcomes(t, c, cohort.Endpoint{}) {
				if o.Cause == cohort.CauseRevision {
					revised++
				}
			}
			if c.Account().Used != test.used || revised != test.revised || c.Files[0].Format != test.format {
				t.Errorf("%d used, want %d; %d revised, want %d; format %q, want %q", c.Account().Used, test.used, revised, test.revised, c.Files[0].Format, test.format)
			}
			if d := cmp.Diff(test.aside, c.SetAside()); d != "" {
				t.Errorf("set aside (-want +got):\n%s", d)
			}
			if d := cmp.Diff(test.warnings, c.Warnings()); d != "" {
				t.Errorf("warnings (-want +got):\n%s", d)
			}
			if test.check != nil {
				test.check(t, c)
			}
		})
	}
	files, err := os.ReadDir(tablesFolder)
	if err != nil {
		t.Fatal(err)
	}
	readme, err := os.ReadFile(filepath.Join(tablesFolder, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	source, err := os.ReadFile("tables_test.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		name := f.Name()
		if name == "README.md" || name == ".gitattributes" {
			continue
		}
		if !bytes.Contains(readme, []byte("`"+name+"`")) || !bytes.Contains(source, []byte(`file: "`+name+`"`)) {
			t.Errorf("%s is not described or not tested", name)
		}
	}
}

// readTable is a file of the folder.
func readTable(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(tablesFolder, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func firstOperation(name, want string) func(t *testing.T, c *cohort.Cohort) {
	return func(t *testing.T, _ *cohort.Cohort) {
		if got := operations(t, cohort.Options{}, readTable(t, name))[0]; got != want {
			t.Errorf("first operation %s, want %s", got, want)
		}
	}
}

func TestNotATable(t *testing.T) {
	dir := t.TempDir()
	file := func(name string, contents []byte) string {
		name = filepath.Join(dir, name)
		if err := os.WriteFile(name, contents, 0o600); err != nil {
			t.Fatal(err)
		}
		return name
	}
	binary := make([]byte, 4096)
	for i := range binary {
		binary[i] = byte(i * 7)
	}
	parquet := parquetFile(t, testtable.Strings([]string{"operation_date", "revision_date"}, [][]string{{"2020-01-01", ""}, {"2020-01-02", "2021-01-01"}}))
	for _, test := range []struct {
		name string
		is   error
	}{
		{t.TempDir(), sheet.ErrDirectory},
		{file("binary.csv", binary), sheet.ErrBinary},
		{file("truncated.parquet", parquet[:len(parquet)-20]), sheet.ErrCorrupt},
		{file("magic-only.parquet", parquet[:4]), sheet.ErrCorrupt},
		{file("workbook.xlsx", []byte("PK\x03\x04 [Content_Types].xml xl/workbook.xml")), sheet.ErrCorrupt},
		{file("wide-line.csv", bytes.Repeat([]byte("x"), 2<<20)), sheet.ErrLongRecord},
		{filepath.Join(dir, "absent.csv"), os.ErrNotExist},
	} {
		_, err := cohort.Read(t.Context(), []cohort.Source{{Name: test.name}}, cohort.Options{})
		if !errors.Is(err, test.is) {
			t.Errorf("%s: error %v, want %v", filepath.Base(test.name), err, test.is)
			continue
		}
		wantError(t, err, filepath.Base(test.name))
	}
	// Damage anywhere in the middle: an error, or the same rows; never a panic.
	for i := 4; i < len(parquet); i += 7 {
		damaged := slices.Clone(parquet)
		damaged[i] ^= 0x55
		name := file("damaged.parquet", damaged)
		if c, err := cohort.Read(t.Context(), []cohort.Source{{Name: name}}, cohort.Options{Today: day(today)}); err == nil {
			balanced(t, c)
		}
	}
}

// A separator asked for that the table does not have.
func TestWrongDelimiter(t *testing.T) {
	_, err := tryRead(t, cohort.Options{Delimiter: ';'}, table("operation_date,revision_date", "2020-01-01,"))
	wantError(t, err, "no column operation_date", `"operation_date,revision_date"`)
}

// A line of 2 MiB costs itself only.
func TestVeryLongLine(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,notes", "2020-01-01,,fine", "2020-01-02,,"+strings.Repeat("long ", 1<<19), "2020-01-03,,fine"))
	if d := cmp.Diff([]cohort.Problem{{Row: 3, Reason: cohort.RowUnreadable}}, c.SetAside()); d != "" || c.Account().Used != 2 {
		t.Errorf("%d used, set aside (-want +got):\n%s", c.Account().Used, d)
	}
}

func TestManyColumns(t *testing.T) {
	if testing.Short() {
		t.Skip("reads tables of 10,000 columns")
	}
	headings, cells := []string{"operation_date", "revision_date"}, []string{"2020-01-01", ""}
	for i := range 10_000 {
		headings, cells = append(headings, fmt.Sprintf("column %d", i)), append(cells, fmt.Sprint(i))
	}
	o := cohort.Options{EveryColumn: true, Keep: []string{"column 9999"}}
	c := mustRead(t, o, table(strings.Join(headings, ","), strings.Join(cells, ","), strings.Join(cells, ",")))
	if d := cmp.Diff(map[string]int64{"not recorded|not recorded|9999": 2}, joints(mustTally(t, c, []string{"column 9999"}, cohort.Endpoint{}).Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if n := len(c.Completeness()); n != 10_002 {
		t.Errorf("%d columns counted", n)
	}
	_, err := tryRead(t, cohort.Options{}, table(strings.Join(headings[1:], ","), strings.Join(cells[1:], ",")))
	wantError(t, err, "no column operation_date", "and 9961 more")
	if len(err.Error()) > 2000 {
		t.Errorf("a message of %d bytes", len(err.Error()))
	}
}

func parquetFile(t *testing.T, table testtable.Typed) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := testtable.WriteParquet(&b, table); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The same rows as CSV, Parquet, Arrow file and Arrow stream give the same
// cohort.
func TestParquetAndArrowEqualText(t *testing.T) {
	text, list := randomTable(newRand(7), 500)
	headings := strings.Split(strings.SplitN(text, "\n", 2)[0], ",")
	cells := make([][]string, len(list))
	for i, r := range list {
		for _, h := range headings {
			cells[i] = append(cells[i], r[h])
		}
	}
	types := map[string]testtable.Type{"operation_date": testtable.Date, "revision_date": testtable.Date, "death_date": testtable.Date,
		"age": testtable.Int, "bearing": testtable.Word, "fixation": testtable.Word}
	in := testtable.Typed{Rows: cells, Group: 128}
	for _, h := range headings {
		in.Columns = append(in.Columns, testtable.TypedColumn{Name: h, Type: types[h]})
	}
	dir := t.TempDir()
	names := []string{"t.csv", "t.parquet", "t.arrow", "t.arrows"}
	write := []func(f *os.File) error{
		func(f *os.File) error { _, err := f.WriteString(text); return err },
		func(f *os.File) error { return testtable.WriteParquet(f, in) },
		func(f *os.File) error { return testtable.WriteArrow(f, in) },
		func(f *os.File) error { return testtable.WriteArrowStream(f, in) },
	}
	var want summary
	for i, name := range names {
		name = filepath.Join(dir, name)
		f, err := os.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if err := write[i](f); err != nil {
			t.Fatal(err)
		}
		f.Close() // the writers of some formats have closed it
		c, err := cohort.Read(t.Context(), []cohort.Source{{Name: name}}, cohort.Options{Today: day(today), EveryColumn: true})
		if err != nil {
			t.Fatalf("%s: %v", filepath.Base(name), err)
		}
		balanced(t, c)
		got := summarise(t, c)
		if i == 0 {
			want = got
			continue
		}
		// Rows count from 1, text lines from the headings.
		for j := range got.Aside {
			got.Aside[j].Row++
			if got.Aside[j].Of > 0 {
				got.Aside[j].Of++
			}
			if got.Aside[j].At > 0 {
				got.Aside[j].At++
			}
		}
		for j := range got.Warned {
			got.Warned[j].Row++
			if got.Warned[j].At > 0 {
				got.Warned[j].At++
			}
		}
		for _, column := range got.Words {
			for j := range column.Words {
				if column.Words[j].Row > 0 {
					column.Words[j].Row++
				}
			}
		}
		got.Closing.Row++
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s (-csv +got):\n%s", filepath.Base(name), d)
		}
	}
}
