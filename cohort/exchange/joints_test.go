package exchange_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/exchange"
	"example.org/holdfast/cohort/internal/sheet"
)

var closing = mustDay("2024-12-31")

func mustDay(s string) cohort.Day {
	d, err := cohort.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// practice is the invented practice, with everything in it that people do to tables.
const practice = "../../examples/practice/practice.csv"

func read(t *testing.T, o cohort.Options, names ...string) *cohort.Cohort {
	t.Helper()
	if o.ClosingDate == nil {
		o.ClosingDate = &closing
	}
	var sources []cohort.Source
	for _, n := range names {
		sources = append(sources, cohort.Source{Name: n})
	}
	c, err := cohort.Read(context.Background(), sources, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// write writes a file whole.
func write(t *testing.T, name string, to func(f *os.File) error) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := to(f); err != nil {
		t.Fatal(err)
	}
	return path
}

func writeJoints(t *testing.T, c *cohort.Cohort, name string) string {
	t.Helper()
	k, err := exchange.KindOf(name)
	if err != nil {
		t.Fatal(err)
	}
	return write(t, name, func(f *os.File) error { return exchange.WriteJoints(f, k, c) })
}

func auditCSV(t *testing.T, c *cohort.Cohort, o audit.Options) string {
	t.Helper()
	a, err := audit.Run(c, o)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := audit.WriteCSV(&b, a); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A checked cohort is an outcomes table too, with nothing left to set aside: its
// audit is that of the table it was made from, to the last digit.
func TestACheckedCohortIsAnOutcomesTable(t *testing.T) {
	c := read(t, cohort.Options{EveryColumn: true}, practice)
	for _, name := range []string{"cohort.parquet", "cohort.arrow"} {
		path := writeJoints(t, c, name)
		again := read(t, cohort.Options{}, path)
		account := again.Account()
		if account.SetAside != 0 || account.Read != c.Account().Used || account.Assumed != c.Account().Assumed || account.Lost != c.Account().Lost {
			t.Errorf("%s: %+v, of a table with %+v", name, account, c.Account())
		}
		for _, by := range [][]string{nil, {"surgeon", "sex"}} {
			o := audit.Options{By: by, WorstCase: true}
			want := auditCSV(t, read(t, cohort.Options{Keep: by}, practice), o)
			got := auditCSV(t, read(t, cohort.Options{Keep: by}, path), o)
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("%s by %v: %s", name, by, diff)
			}
		}
	}
}

// Patients' numbers are of one checked cohort alone. Those of two hospitals, read
// together, stay two hospitals' patients, and give what their tables give together.
func TestCheckedCohortsOfTwoHospitals(t *testing.T) {
	table := func(hospital string) string {
		rows := "patient,operation_date,joint,side,sex,age,procedure,revision_date,death_date,last_seen_date\n"
		for i := range 40 {
			rows += fmt.Sprintf("%s%d,201%d-03-0%d,hip,%s,%s,6%d,total,%s,,202%d-05-01\n", hospital, i/2, i%10, 1+i%9, []string{"left", "right"}[i%2], []string{"F", "M"}[i/2%2], i/2%10,
				[]string{"", "2021-02-03"}[i/7%2], i%5)
		}
		return write(t, hospital+".csv", func(f *os.File) error { _, err := f.WriteString(rows); return err })
	}
	north, south := table("north"), table("south")
	want := read(t, cohort.Options{}, north, south)
	pooled := []string{writeJoints(t, read(t, cohort.Options{EveryColumn: true}, north), "north.parquet"), writeJoints(t, read(t, cohort.Options{EveryColumn: true}, south), "south.arrow")}
	c := read(t, cohort.Options{EveryColumn: true}, pooled...)
	if diff := cmp.Diff(want.Account(), c.Account()); diff != "" || c.Account().Used != 80 {
		t.Errorf("%+v: %s", c.Account(), diff)
	}
	if diff := cmp.Diff(auditCSV(t, want, audit.Options{}), auditCSV(t, read(t, cohort.Options{}, pooled...), audit.Options{})); diff != "" {
		t.Error(diff)
	}
	for _, f := range c.Files {
		if !strings.Contains(strings.Join(f.Notes, ""), "nobody in it is taken for a patient of another table") {
			t.Errorf("%s: notes %q", f.Name, f.Notes)
		}
		if i := slices.IndexFunc(f.Headings, func(h cohort.Heading) bool { return h.Typed == "cause" }); i < 0 || len(f.Headings[i].Between) > 0 {
			t.Errorf("%s: why follow-up ended is a question: %+v", f.Name, f.Headings)
		}
	}
	// One that stands alone can be joined by its numbers.
	if notes := read(t, cohort.Options{}, pooled[0]).Files[0].Notes; len(notes) > 0 {
		t.Errorf("notes %q", notes)
	}
}

// What a checked cohort says of itself lists its columns, and nothing in it
// identifies a patient.
func TestACheckedCohortSaysWhatItHolds(t *testing.T) {
	c := read(t, cohort.Options{EveryColumn: true}, practice)
	path := writeJoints(t, c, "cohort.parquet")
	table, err := sheet.Open(context.Background(), path, nil, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	said, ok := table.About(exchange.AboutKey)
	if !ok {
		t.Fatal("nothing said")
	}
	var about exchange.About
	if err := json.Unmarshal([]byte(said), &about); err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, k := range about.Columns {
		names = append(names, k.Name)
		if k.Help == "" || k.Type == "" {
			t.Errorf("nothing said of %s", k.Name)
		}
	}
	if diff := cmp.Diff(table.Headings, names); diff != "" {
		t.Error(diff)
	}
	if about.Closing != closing.String() || about.LostAfter != cohort.DefaultLostAfter {
		t.Errorf("%+v", about)
	}
	cells, err := os.ReadFile(practice)
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for line := range strings.Lines(string(cells)) {
		if who, _, _ := strings.Cut(line, ","); strings.HasPrefix(who, "P0") {
			if seen++; bytes.Contains(file, []byte(who)) {
				t.Fatal("the file holds an identifier of the table")
			}
		}
	}
	if seen < 500 {
		t.Fatalf("%d identifiers in the table: this looks for none", seen)
	}
}

// Two runs write the same bytes.
func TestACheckedCohortIsReproducible(t *testing.T) {
	for _, k := range []exchange.Kind{exchange.Parquet, exchange.ArrowIPC} {
		var runs [2]bytes.Buffer
		for i := range runs {
			if err := exchange.WriteJoints(&runs[i], k, read(t, cohort.Options{}, practice)); err != nil {
				t.Fatal(err)
			}
		}
		if !bytes.Equal(runs[0].Bytes(), runs[1].Bytes()) {
			t.Errorf("kind %d: two runs differ", k)
		}
	}
}

// The days possible and the years completed are those of [cohort.DayOfYear].
func TestCompletedYears(t *testing.T) {
	c := read(t, cohort.Options{}, practice)
	path := writeJoints(t, c, "cohort.parquet")
	rows := cells(t, path, "possible_days", "possible_years")
	if len(rows) != c.Account().Used {
		t.Fatalf("%d rows", len(rows))
	}
	for _, r := range rows {
		var days, years int
		if _, err := fmt.Sscan(r[0]+" "+r[1], &days, &years); err != nil {
			t.Fatal(err)
		}
		if float64(days) < cohort.DayOfYear(float64(years)) || float64(days) >= cohort.DayOfYear(float64(years+1)) {
			t.Errorf("%d days, %d years", days, years)
		}
	}
}

// cells are some columns of a file, as text.
func cells(t *testing.T, path string, names ...string) [][]string {
	t.Helper()
	headings, rows := allCells(t, path)
	var all [][]string
	for _, r := range rows {
		var row []string
		for _, n := range names {
			row = append(row, r[slices.Index(headings, n)])
		}
		all = append(all, row)
	}
	return all
}

// allCells are those of a file.
func allCells(t *testing.T, path string) (headings []string, rows [][]string) {
	t.Helper()
	table, err := sheet.Open(context.Background(), path, nil, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	for {
		b, err := table.Next()
		if err == io.EOF {
			return table.Headings, rows
		}
		if err != nil {
			t.Fatal(err)
		}
		b.Rows(func(r *sheet.Record) bool {
			var row []string
			for i := range r.Len() {
				c := r.Cell(i)
				row = append(row, string(c))
			}
			rows = append(rows, row)
			return true
		})
	}
}
