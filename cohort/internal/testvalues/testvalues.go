// Package testvalues reads the values that tests compare with from testdata: tables of
// numbers, and values calculated with R. Only tests import it.
package testvalues

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// Records are the rows of a file of testdata by heading. Lines from # on are comments.
func Records(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, r := range all[1:] {
		m := make(map[string]string)
		for i, h := range all[0] {
			m[h] = r[i]
		}
		rows = append(rows, m)
	}
	return rows
}

// Numbers are the rows of a file of testdata all of whose cells are numbers.
func Numbers(t testing.TB, name string) []map[string]float64 {
	t.Helper()
	var rows []map[string]float64
	for _, r := range Records(t, name) {
		row := make(map[string]float64)
		for h, cell := range r {
			x, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			row[h] = x
		}
		rows = append(rows, row)
	}
	return rows
}

// References are values calculated with R from files of testdata, as "case: what"; see
// testdata/README.md of the project. Those that are no numbers are left out.
func References(t testing.TB, names ...string) map[string]float64 {
	t.Helper()
	m := make(map[string]float64)
	for _, name := range names {
		for _, r := range Records(t, name) {
			if x, err := strconv.ParseFloat(r["value"], 64); err == nil {
				m[r["case"]+": "+r["what"]] = x
			}
		}
	}
	return m
}

// Near wants a number to agree to ten digits, or to 1e-10 if it is small.
func Near(t testing.TB, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-10*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: got %.15g, want %.15g", what, got, want)
	}
}
