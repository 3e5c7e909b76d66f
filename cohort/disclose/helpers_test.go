package disclose_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

func day(t testing.TB, s string) cohort.Day {
	t.Helper()
	d, err := cohort.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// closing is the closing date of all tests that set none.
func closing(t testing.TB) *cohort.Day {
	d := day(t, "2020-12-31")
	return &d
}

// read reads a table from memory. Its closing date is 2020-12-31 unless told
// otherwise.
func read(t testing.TB, table string, o cohort.Options) *cohort.Cohort {
	t.Helper()
	o.Today = day(t, "2024-06-30")
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(table)}}, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func run(t testing.TB, c audit.Source, o audit.Options) *audit.Audit {
	t.Helper()
	a, err := audit.Run(c, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// book reads published figures from memory; warnings are failures.
func book(t testing.TB, text string) []*benchmark.Series {
	t.Helper()
	series, warnings, err := benchmark.Read(strings.NewReader(text), "published.csv")
	if err != nil {
		t.Fatal(err)
	}
	if len(warnings) > 0 {
		t.Fatal(warnings)
	}
	return series
}

// csvBytes is an audit as CSV.
func csvBytes(t testing.TB, a *audit.Audit) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := audit.WriteCSV(&b, a); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func jsonBytes(t testing.TB, a *audit.Audit) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := audit.WriteJSON(&b, a); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// row is one row of the CSV by column.
type row map[string]string

// csvRows are the rows of an audit's CSV, checked for its form.
func csvRows(t testing.TB, a *audit.Audit) []row {
	t.Helper()
	records, err := csv.NewReader(bytes.NewReader(csvBytes(t, a))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []row
	for _, r := range records[1:] {
		m := make(row)
		for i, h := range records[0] {
			m[h] = r[i]
		}
		rows = append(rows, m)
	}
	return rows
}

// pick are the cells of some columns, joined by a space; an empty one is ".".
func (r row) pick(columns ...string) string {
	var cells []string
	for _, c := range columns {
		cell, ok := r[c]
		switch {
		case !ok:
			cell = "no column " + c
		case cell == "":
			cell = "."
		}
		cells = append(cells, cell)
	}
	return strings.Join(cells, " ")
}

// number reads a cell; NaN for an empty one.
func (r row) number(t testing.TB, column string) float64 {
	t.Helper()
	cell, ok := r[column]
	if !ok {
		t.Fatalf("no column %q", column)
	}
	if cell == "" {
		return math.NaN()
	}
	x, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		t.Fatalf("column %s: %v", column, err)
	}
	return x
}

// near compares to 12 significant digits. Two NaN are alike.
func near(got, want float64) bool {
	if math.IsNaN(want) {
		return math.IsNaN(got)
	}
	return math.Abs(got-want) <= 1e-12*math.Max(math.Abs(want), 1e-3)
}

// repeat is a line a number of times.
func repeat(n int, line string) string { return strings.Repeat(line+"\n", n) }
