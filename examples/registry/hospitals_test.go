package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/exchange"
)

// tables are those of the hospitals, with few joints each.
func tables(t *testing.T) []string {
	t.Helper()
	folder := t.TempDir()
	if status := run([]string{"-hospitals", folder, "-joints", "4000"}, os.Stdout, os.Stderr); status != 0 {
		t.Fatalf("status %d", status)
	}
	names, err := filepath.Glob(filepath.Join(folder, "*.csv"))
	if err != nil || len(names) != hospitals {
		t.Fatalf("%d tables, %v", len(names), err)
	}
	return names
}

func cohortOf(t *testing.T, names ...string) *cohort.Cohort {
	t.Helper()
	day, err := cohort.ParseDay("2024-12-31")
	if err != nil {
		t.Fatal(err)
	}
	var sources []cohort.Source
	for _, n := range names {
		sources = append(sources, cohort.Source{Name: n})
	}
	c, err := cohort.Read(t.Context(), sources, cohort.Options{ClosingDate: &day, Keep: slices.Concat([]string{"surgeon", "hospital"}, audit.Statable(), audit.Finer())})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The tables of twenty hospitals hold the joints asked for, all of them usable, and the same
// seed gives the same tables.
func TestHospitals(t *testing.T) {
	names := tables(t)
	c := cohortOf(t, names...)
	a := c.Account()
	if a.Read < 3900 || a.Read > 4000 || a.SetAside != 0 || a.Lost == 0 || a.Assumed == 0 {
		t.Errorf("%+v", a)
	}
	again := tables(t)
	for i := range names {
		one, err := os.ReadFile(names[i])
		if err != nil {
			t.Fatal(err)
		}
		other, err := os.ReadFile(again[i])
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(one, other) {
			t.Errorf("%s is another table the second time", filepath.Base(names[i]))
		}
	}
}

// Twenty hospitals' tallies, pooled, give what all their rows in one cohort give, to the
// last digit: groups, and every
// comparison with the figures of the registry.
func TestTwentyTalliesAreAllRows(t *testing.T) {
	names := tables(t)
	f, err := os.Open("registry.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	figures, _, err := benchmark.Read(f, "registry.csv")
	if err != nil {
		t.Fatal(err)
	}
	var all []*exchange.Tally
	for i, name := range names {
		site, err := exchange.Count(name, cohortOf(t, name), exchange.Options{By: []string{"hospital", "bearing"}, Published: figures})
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), fmt.Sprintf("%d.parquet", i))
		var b bytes.Buffer
		if err := site.Write(&b); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
		if site, err = exchange.Read(t.Context(), file, nil); err != nil {
			t.Fatal(err)
		}
		all = append(all, site)
	}
	pool, err := exchange.NewPool(all...)
	if err != nil {
		t.Fatal(err)
	}
	var files [2][2]bytes.Buffer
	for i, s := range []audit.Source{cohortOf(t, names...), pool} {
		a, err := audit.Run(s, audit.Options{By: []string{"hospital", "bearing"}, Published: figures, NoCells: true, WorstCase: true})
		if err != nil {
			t.Fatal(err)
		}
		if err := audit.WriteCSV(&files[i][0], a); err != nil {
			t.Fatal(err)
		}
		if err := audit.WriteComparisons(&files[i][1], a); err != nil {
			t.Fatal(err)
		}
	}
	for k := range files[0] {
		want, got := files[0][k].String(), files[1][k].String()
		if want != got {
			t.Error(cmp.Diff(want, got))
		}
		if n := bytes.Count(files[0][k].Bytes(), []byte("\n")); n < 200 {
			t.Errorf("%d lines: this compares little", n)
		}
	}
}
