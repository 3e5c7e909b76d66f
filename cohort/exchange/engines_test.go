package exchange_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
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
