// Package testaudit has what tests of audits and of contrasts share: tables read from
// memory, rows of an audit's CSV, and the invented joints whose values were calculated
// with R. Only tests import it.
package testaudit

import (
	"bytes"
	_ "embed" // the invented joints
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// Day is a day as it is written, such as 2020-12-31.
func Day(t testing.TB, s string) cohort.Day {
	t.Helper()
	d, err := cohort.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Closing is 2020-12-31.
func Closing(t testing.TB) *cohort.Day {
	d := Day(t, "2020-12-31")
	return &d
}

// ReadClosed reads a table from memory, closed on that day.
func ReadClosed(t testing.TB, table string, o cohort.Options) *cohort.Cohort {
	t.Helper()
	o.ClosingDate = Closing(t)
	return Read(t, table, o)
}

// Read reads a table from memory, on 2024-06-30.
func Read(t testing.TB, table string, o cohort.Options) *cohort.Cohort {
	t.Helper()
	o.Today = Day(t, "2024-06-30")
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(table)}}, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Run is an audit that has to succeed.
func Run(t testing.TB, c audit.Source, o audit.Options) *audit.Audit {
	t.Helper()
	a, err := audit.Run(c, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// Book reads published figures from memory; warnings are failures.
func Book(t testing.TB, text string) []*benchmark.Series {
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

// CSV is an audit as CSV.
func CSV(t testing.TB, a *audit.Audit) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := audit.WriteCSV(&b, a); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// JSON is an audit as JSON.
func JSON(t testing.TB, a *audit.Audit) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := audit.WriteJSON(&b, a); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Row is one row of an audit's CSV by column.
type Row map[string]string

// Rows are the rows of an audit's CSV, checked for its form.
func Rows(t testing.TB, a *audit.Audit) []Row {
	t.Helper()
	return rows(t, a, audit.WriteCSV)
}

// Comparisons are the rows of an audit's comparisons.
func Comparisons(t testing.TB, a *audit.Audit) []Row {
	t.Helper()
	return rows(t, a, audit.WriteComparisons)
}

func rows(t testing.TB, a *audit.Audit, write func(io.Writer, *audit.Audit) error) []Row {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b, a); err != nil {
		t.Fatal(err)
	}
	records, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var all []Row
	for _, r := range records[1:] {
		m := make(Row)
		for i, h := range records[0] {
			m[h] = r[i]
		}
		all = append(all, m)
	}
	return all
}

// Pick are the cells of some columns, joined by a space; an empty one is ".".
func (r Row) Pick(columns ...string) string {
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

// Number reads a cell; NaN for an empty one.
func (r Row) Number(t testing.TB, column string) float64 {
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

// Near compares to 12 significant digits. Two NaN are alike.
func Near(got, want float64) bool {
	if math.IsNaN(want) {
		return math.IsNaN(got)
	}
	return math.Abs(got-want) <= 1e-12*math.Max(math.Abs(want), 1e-3)
}

// Lines is a table of lines.
func Lines(s ...string) string { return strings.Join(s, "\n") + "\n" }

// Repeat is a line a number of times.
func Repeat(n int, line string) string { return strings.Repeat(line+"\n", n) }

// joints are 600 invented joints and few 150, whose values were calculated with R; see
// testdata/README.md of the project.
//
//go:embed joints.csv
var joints string

//go:embed few.csv
var few string

// words are what the invented joints are called in an outcomes table.
var words = map[string]string{
	"A": "metal-on-polyethylene", "B": "ceramic-on-polyethylene", "C": "ceramic-on-ceramic",
	"p": "cemented", "q": "porous", "r": "hybrid", "0": "female", "1": "male",
}

// Joints are an outcomes table of 600 invented joints, 79 of them revised for one of two
// reasons: with deaths and no patients, or with patients, deaths then being the end of
// follow-up and no more, since the death of a patient would be that of both joints.
func Joints(t testing.TB, patients bool) string {
	t.Helper()
	return outcomes(t, joints, patients)
}

// FewJoints are an outcomes table of 150 invented joints, 6 of them revised.
func FewJoints(t testing.TB) string {
	t.Helper()
	return outcomes(t, few, false)
}

func outcomes(t testing.TB, invented string, patients bool) string {
	t.Helper()
	all, err := csv.NewReader(strings.NewReader(invented)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	start := Day(t, "2001-01-01")
	var b strings.Builder
	b.WriteString("operation_date,joint,procedure,side,bearing,fixation,sex,age,revision_date,revision_reason,last_seen_date")
	if patients {
		b.WriteString(",patient\n")
	} else {
		b.WriteString(",death_date\n")
	}
	seen := make(map[string]bool)
	for _, cells := range all[1:] {
		r := make(map[string]string)
		for i, h := range all[0] {
			r[h] = cells[i]
		}
		days, err := strconv.Atoi(r["day"])
		if err != nil {
			t.Fatal(err)
		}
		end := (start + cohort.Day(days)).String()
		revised, reason, last, extra := "", "", "", ""
		switch r["cause"] {
		case "1", "2":
			revised, reason = end, map[string]string{"1": "infection", "2": "pain"}[r["cause"]]
		case "3":
			last, extra = end, end
		default:
			last = end
		}
		side := "left"
		if seen[r["patient"]] {
			side = "right"
		}
		seen[r["patient"]] = patients
		if patients {
			extra = "P" + r["patient"]
		}
		fmt.Fprintf(&b, "%s,hip,total,%s,%s,%s,%s,%s,%s,%s,%s,%s\n", start, side, words[r["bearing"]], words[r["fixation"]], words[r["sex"]], r["age"], revised, reason, last, extra)
	}
	return b.String()
}
