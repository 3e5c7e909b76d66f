package exchange_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/disclose"
	"example.org/holdfast/cohort/exchange"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/survival"
)

// number writes a number as a cell of a file that was read says it.
func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// plain are cells with their numbers written one way.
func plain(rows [][]string) [][]string {
	for _, r := range rows {
		for i, c := range r {
			if x, err := strconv.ParseFloat(c, 64); err == nil {
				r[i] = number(x)
			}
		}
	}
	return rows
}

// Life tables and curves, read back from Parquet and from Arrow, are those of the audit to
// the last digit, and say what they are.
func TestLifeTablesAndCurvesAreReadBack(t *testing.T) {
	a, err := audit.Run(read(t, cohort.Options{Keep: audit.Statable()}, practice), audit.Options{By: []string{"bearing", "sex"}, Interval: survival.Interval{Level: 0.9}})
	if err != nil {
		t.Fatal(err)
	}
	var tables, curves [][]string
	for i := range a.Groups {
		g := &a.Groups[i]
		var words []string
		for _, v := range g.Values {
			word := v.Word
			if v.All {
				word = ""
			}
			words = append(words, word)
		}
		table := g.Counts.Table()
		for j, day := range table.Time {
			row := append([]string{}, words...)
			for _, x := range []float64{day, table.AtRisk[j], table.Event[0][j], table.Event[1][j], 0, table.Censored[j]} {
				row = append(row, number(x))
			}
			tables = append(tables, row)
		}
		for _, c := range []struct {
			name string
			*survival.Curve
		}{{"cumulative revision, one minus Kaplan-Meier", g.KaplanMeier()}, {"cumulative incidence, Aalen-Johansen", g.Incidence()}} {
			for j, day := range c.Time {
				p, _ := c.At(day, a.Interval)
				row := append(append([]string{}, words...), c.name)
				for _, x := range []float64{day, p.AtRisk, p.Events, c.Incidence[j], c.SE[j], p.Lower, p.Upper} {
					row = append(row, number(x))
				}
				curves = append(curves, row)
			}
		}
	}
	for _, test := range []struct {
		name, holds, columns string
		write                func(f *os.File, k exchange.Kind) error
		want                 [][]string
	}{
		{"tables", exchange.HoldsTables, "joint procedure bearing sex days at_risk revised died revised_otherwise censored",
			func(f *os.File, k exchange.Kind) error { return exchange.WriteLifeTables(f, k, a) }, tables},
		{"curves", exchange.HoldsCurves, "joint procedure bearing sex estimand days at_risk revised_so_far estimate standard_error lower upper",
			func(f *os.File, k exchange.Kind) error { return exchange.WriteCurves(f, k, a) }, curves},
	} {
		for _, k := range []exchange.Kind{exchange.Parquet, exchange.ArrowIPC} {
			t.Run(fmt.Sprint(test.name, k), func(t *testing.T) {
				name := write(t, "groups", func(f *os.File) error { return test.write(f, k) })
				names, rows := allCells(t, name)
				if diff := cmp.Diff(strings.Fields(test.columns), names); diff != "" {
					t.Error(diff)
				}
				if diff := cmp.Diff(test.want, plain(rows)); diff != "" || len(rows) < 100 {
					t.Errorf("%d rows: %s", len(rows), diff)
				}
				file, err := sheet.Open(context.Background(), name, nil, sheet.Options{})
				if err != nil {
					t.Fatal(err)
				}
				defer file.Close()
				text, _ := file.About(exchange.AboutKey)
				var about exchange.About
				if err := json.Unmarshal([]byte(text), &about); err != nil {
					t.Fatal(err)
				}
				if about.Holds != test.holds || about.Closing != "2024-12-31" || about.Endpoint != "revision for any reason" || len(about.Columns) != len(names) ||
					test.holds == exchange.HoldsCurves && (about.Level != 0.9 || about.Interval != "log-log") {
					t.Errorf("%+v", about)
				}
			})
		}
	}
	shared, err := disclose.Run(read(t, cohort.Options{Keep: audit.Statable()}, practice), audit.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, err := range []error{exchange.WriteLifeTables(&bytes.Buffer{}, exchange.Parquet, shared), exchange.WriteCurves(&bytes.Buffer{}, exchange.Parquet, shared)} {
		if !errors.Is(err, exchange.ErrShared) {
			t.Error(err)
		}
	}
}

// DuckDB reads curves as they are: from the last row of each it has the latest estimate.
func TestDuckDBReadsCurves(t *testing.T) {
	a, err := audit.Run(read(t, cohort.Options{}, practice), audit.Options{By: []string{}})
	if err != nil {
		t.Fatal(err)
	}
	name := write(t, "curves.parquet", func(f *os.File) error { return exchange.WriteCurves(f, exchange.Parquet, a) })
	var want [][]string
	for i := range a.Groups {
		g := &a.Groups[i]
		curve := g.KaplanMeier()
		if n := len(curve.Time); n > 0 {
			want = append(want, []string{g.Word("joint"), g.Word("procedure"), number(curve.Time[n-1]), number(curve.Incidence[n-1])})
		}
	}
	got := duckdb(t, fmt.Sprintf(`select joint, procedure, max(days), max(estimate) from '%s' where estimand like '%%Kaplan%%' group by 1, 2 order by joint, 1 - (procedure = 'total')::int, procedure = 'patellofemoral', procedure;
`, name))
	if diff := cmp.Diff(want, plain(got)); diff != "" {
		t.Error(diff)
	}
}
