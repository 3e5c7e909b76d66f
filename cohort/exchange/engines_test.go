package exchange_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/exchange"
)

// duckdb runs statements, each ended by a semicolon and a line end, and gives the rows
// of the last. The engine is where HOLDFAST_DUCKDB says, else in the user's cache,
// where .ci/run installs it.
func duckdb(t *testing.T, statements string) [][]string {
	t.Helper()
	folder := os.Getenv("HOLDFAST_DUCKDB")
	if folder == "" {
		cache, err := os.UserCacheDir()
		if err != nil {
			t.Skip("NOT TESTED with DuckDB: ", err)
		}
		folder = filepath.Join(cache, "holdfast", "duckdb")
	}
	node, err := exec.LookPath("node")
	if _, missing := os.Stat(filepath.Join(folder, "node_modules", "@duckdb", "node-api")); err != nil || missing != nil {
		t.Skipf("NOT TESTED with DuckDB: node, or the package @duckdb/node-api in %s, is missing", folder)
	}
	c := exec.Command(node, "testdata/duckdb.js")
	c.Env = append(os.Environ(), "HOLDFAST_DUCKDB="+folder)
	c.Stdin = strings.NewReader(statements)
	return rowsOf(t, c)
}

// rowsOf are the rows that a command prints as CSV.
func rowsOf(t *testing.T, c *exec.Cmd) [][]string {
	t.Helper()
	var failed strings.Builder
	c.Stderr = &failed
	out, err := c.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, failed.String())
	}
	rows, err := csv.NewReader(strings.NewReader(string(out))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// DuckDB reads a checked cohort as we do: types, counts by cause, and metadata.
func TestDuckDBReadsACheckedCohort(t *testing.T) {
	c := read(t, cohort.Options{}, practice)
	path := writeJoints(t, c, "cohort.parquet")
	got := duckdb(t, fmt.Sprintf(`select typeof(operation_date), typeof(days), typeof(bearing), count(*), sum(days), count(revision_date), count(age), min(operation_date)::varchar,
 (select json_extract_string(decode(value), '$.closing_date') from parquet_kv_metadata('%[1]s') where key = 'holdfast')
 from '%[1]s' group by 1, 2, 3;
`, path))
	var days, revised, ages int
	first := cohort.Day(1 << 30)
	joints, err := c.Joints(cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for j := range joints {
		n++
		days += j.Days
		first = min(first, j.Operation)
		if j.Cause == cohort.CauseRevision {
			revised++
		}
		if j.Age >= 0 {
			ages++
		}
	}
	want := [][]string{{"DATE", "INTEGER", "VARCHAR", fmt.Sprint(n), fmt.Sprint(days), fmt.Sprint(revised), fmt.Sprint(ages), first.String(), closing.String()}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// R reads a checked cohort with the package arrow or nanoparquet, if it has one.
func TestRReadsACheckedCohort(t *testing.T) {
	r, err := exec.LookPath("Rscript")
	if err != nil {
		t.Skip("NOT TESTED with R: it is not installed")
	}
	c := read(t, cohort.Options{}, practice)
	path := writeJoints(t, c, "cohort.parquet")
	out, err := exec.Command(r, "-e", `read <- if (requireNamespace("nanoparquet", quietly = TRUE)) nanoparquet::read_parquet else if (requireNamespace("arrow", quietly = TRUE)) arrow::read_parquet else quit(status = 3)
d <- read(commandArgs(TRUE)[1]); cat(nrow(d), sum(d$days), class(d$operation_date), sum(d$cause == "revision"))`, path).Output()
	if exit, ok := err.(*exec.ExitError); ok && exit.ExitCode() == 3 {
		t.Skip("NOT TESTED with R: it has neither the package nanoparquet nor arrow")
	}
	if err != nil {
		t.Fatal(err)
	}
	s, err := c.Sample(cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	days, revised := 0.0, 0
	for i, d := range s.Exit {
		days += d
		if s.Cause[i] == cohort.CauseRevision {
			revised++
		}
	}
	if want := fmt.Sprint(len(s.Exit), " ", days, " Date ", revised); string(out) != want {
		t.Errorf("%q, want %q", out, want)
	}
}

// counting is the query of holdfast help engines on a table, with a text for the columns
// that a cohort lacks.
func counting(t *testing.T, table string, has []string) string {
	t.Helper()
	told, err := os.ReadFile("../../cmd/internal/command/topics/engines.txt")
	if err != nil {
		t.Fatal(err)
	}
	_, query, found := strings.Cut(string(told), "\n  SELECT ")
	query, _, ended := strings.Cut(query, "\n\n")
	if !found || !ended {
		t.Fatal("no query in help engines")
	}
	for _, name := range []string{"bearing", "polyethylene", "fixation", "sex", "diagnosis"} {
		if !slices.Contains(has, name) {
			query = strings.Replace(query, name+",", "'not recorded',", 1)
		}
	}
	return "SELECT " + strings.Replace(query, "FROM cohort", "FROM "+table, 1) + ";\n"
}

// counted are the rows of the tally of a cohort, and the checked cohort as Parquet and as
// CSV.
func counted(t *testing.T) (want []string, parquet, csvFile string, headings []string) {
	t.Helper()
	c := read(t, cohort.Options{Keep: audit.Statable()}, practice)
	parquet = writeJoints(t, c, "cohort.parquet")
	one, err := exchange.Count("site", c, exchange.Options{By: []string{"fixation"}})
	if err != nil {
		t.Fatal(err)
	}
	tallied := write(t, "tally.parquet", func(f *os.File) error { return one.Write(f) })
	names, rows := allCells(t, tallied)
	if len(names) != 13 {
		t.Fatalf("columns %q", names)
	}
	for _, r := range rows {
		want = append(want, strings.Join(r, "|"))
	}
	slices.Sort(want)
	headings, rows = allCells(t, parquet)
	csvFile = write(t, "cohort.csv", func(f *os.File) error {
		w := csv.NewWriter(f)
		w.Write(headings)
		return w.WriteAll(rows)
	})
	return want, parquet, csvFile, headings
}

// sameRows holds an engine's rows to those of the tally, and the tally made of them to the
// one that was made of the rows of joints, byte for byte.
func sameRows(t *testing.T, want []string, got [][]string, joints string) {
	t.Helper()
	var counts strings.Builder
	if err := csv.NewWriter(&counts).WriteAll(got); err != nil {
		t.Fatal(err)
	}
	made, err := exchange.Counted(t.Context(), "counted", joints, strings.NewReader(counts.String()), nil)
	if err != nil {
		t.Fatal(err)
	}
	one, err := exchange.Count("site", read(t, cohort.Options{Keep: audit.Statable()}, practice), exchange.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var files [2]bytes.Buffer
	for i, tl := range []*exchange.Tally{made, one} {
		if err := tl.Write(&files[i]); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(files[0].Bytes(), files[1].Bytes()) {
		t.Error("the tally made of the counts is another file")
	}
	var rows []string
	for _, r := range got {
		rows = append(rows, strings.Join(r, "|"))
	}
	slices.Sort(rows)
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Error(diff)
	}
}

// The documented query counts in DuckDB what a tally holds.
func TestSQLInDuckDBCountsWhatATallyHolds(t *testing.T) {
	want, parquet, _, headings := counted(t)
	sameRows(t, want, duckdb(t, counting(t, "'"+parquet+"'", headings)), parquet)
}

// types are the columns of the checked cohort for CREATE TABLE.
func types(headings []string) string {
	var columns []string
	for _, h := range headings {
		kind := "TEXT"
		if slices.Contains([]string{"age", "days", "possible_days", "possible_years", "patient", "row"}, h) {
			kind = "INTEGER"
		}
		columns = append(columns, `"`+h+`" `+kind)
	}
	return "CREATE TABLE cohort (" + strings.Join(columns, ", ") + ");\n"
}

// It does in SQLite.
func TestSQLInSQLiteCountsWhatATallyHolds(t *testing.T) {
	sqlite, err := exec.LookPath("sqlite3")
	if err != nil {
		t.Skip("NOT TESTED with SQLite: sqlite3 is not installed")
	}
	want, parquet, file, headings := counted(t)
	c := exec.Command(sqlite, "-batch")
	c.Stdin = strings.NewReader(types(headings) + ".import --csv --skip 1 " + file + " cohort\nUPDATE cohort SET age = NULL WHERE age = '';\n.mode csv\n" + counting(t, "cohort", headings))
	sameRows(t, want, rowsOf(t, c), parquet)
}

// It does in PostgreSQL, in a server of its own that ends with the test.
func TestSQLInPostgreSQLCountsWhatATallyHolds(t *testing.T) {
	found, _ := filepath.Glob("/usr/lib/postgresql/*/bin")
	if len(found) == 0 {
		t.Skip("NOT TESTED with PostgreSQL: it is not installed")
	}
	if testing.Short() {
		t.Skip("-short")
	}
	bin := found[len(found)-1]
	folder, err := os.MkdirTemp("", "pg") // a short name: that of a socket is limited
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	as := func(name string, args ...string) *exec.Cmd { return exec.Command(filepath.Join(bin, name), args...) }
	if os.Getuid() == 0 { // the server refuses to run as root
		runuser, err := exec.LookPath("runuser")
		if err != nil {
			t.Skip("NOT TESTED with PostgreSQL: it does not run as root, and runuser is missing")
		}
		if out, err := exec.Command("chown", "postgres", folder).CombinedOutput(); err != nil {
			t.Skipf("NOT TESTED with PostgreSQL: there is no user postgres: %s", out)
		}
		as = func(name string, args ...string) *exec.Cmd {
			c := exec.Command(runuser, append([]string{"-u", "postgres", "--", filepath.Join(bin, name)}, args...)...)
			c.Dir = folder
			return c
		}
	}
	data := filepath.Join(folder, "data")
	if out, err := as("initdb", "-D", data, "-A", "trust", "-U", "test", "-N", "--locale=C", "-E", "UTF8").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	options := "-c listen_addresses='' -c fsync=off -k " + folder
	if out, err := as("pg_ctl", "-D", data, "-w", "-l", filepath.Join(folder, "log"), "-o", options, "start").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	t.Cleanup(func() { as("pg_ctl", "-D", data, "-m", "immediate", "stop").Run() })
	want, parquet, file, headings := counted(t)
	rows, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	c := as("psql", "-h", folder, "-U", "test", "-d", "postgres", "-q", "-v", "ON_ERROR_STOP=1", "--csv", "-t")
	c.Stdin = strings.NewReader(types(headings) + "COPY cohort FROM STDIN WITH (FORMAT csv, HEADER);\n" + string(rows) + "\\.\n" + counting(t, "cohort", headings))
	sameRows(t, want, rowsOf(t, c), parquet)
}

// A folder that DuckDB writes, partitioned by hospital and year of operation, is audited as
// the table it was made from.
func TestAFolderThatDuckDBPartitions(t *testing.T) {
	c := read(t, cohort.Options{Keep: append([]string{"hospital"}, audit.Statable()...)}, practice)
	path := writeJoints(t, c, "cohort.parquet")
	folder := filepath.Join(t.TempDir(), "registry")
	duckdb(t, fmt.Sprintf(`copy (select *, year(operation_date) as operated from '%s') to '%s' (format parquet, partition_by (hospital, operated));
select 1;
`, path, folder))
	parts := read(t, cohort.Options{Keep: append([]string{"hospital"}, audit.Statable()...)}, folder)
	if len(parts.Files) < 15 {
		t.Errorf("%d files", len(parts.Files))
	}
	for _, by := range [][]string{{"bearing", "sex"}, {"hospital", "operation_year"}} {
		if diff := cmp.Diff(auditCSV(t, c, audit.Options{By: by}), auditCSV(t, parts, audit.Options{By: by})); diff != "" {
			t.Errorf("by %v: %s", by, diff)
		}
	}
}
