package exchange_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/exchange"
	"example.org/holdfast/cohort/internal/sheet"
)

// smallTally is one of few joints, as a file.
func smallTally(f *testing.F, coarse exchange.Coarse) string {
	f.Helper()
	table := "patient,operation_date,joint,side,procedure,bearing,age,revision_date,death_date,last_seen_date\n" +
		"1,2010-01-08,knee,L,TKA,fixed,71,,2016-01-11,\n2,2012-01-22,hip,R,THR,CoP,76,,,2014-11-05\n2,2013-01-22,hip,L,THR,MoP,,2016-05-06,,\n3,,hip,L,THR,MoP,60,,,\n"
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: "t.csv", Reader: strings.NewReader(table)}}, cohort.Options{ClosingDate: &closing})
	if err != nil {
		f.Fatal(err)
	}
	one, err := exchange.Count("t", c, exchange.Options{Coarsen: coarse})
	if err != nil {
		f.Fatal(err)
	}
	name := filepath.Join(f.TempDir(), "t.parquet")
	var b bytes.Buffer
	if err := one.Write(&b); err != nil {
		f.Fatal(err)
	}
	if err := os.WriteFile(name, b.Bytes(), 0o666); err != nil {
		f.Fatal(err)
	}
	return name
}

// FuzzTally checks that whatever is put in place of a tally is refused, or is one that is
// written as it was.
func FuzzTally(f *testing.F) {
	whole, err := os.ReadFile(smallTally(f, exchange.ByDay))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	name := filepath.Join(f.TempDir(), "fuzzed.parquet")
	f.Fuzz(func(t *testing.T, file []byte) {
		if err := os.WriteFile(name, file, 0o666); err != nil {
			t.Fatal(err)
		}
		read, err := exchange.Read(context.Background(), name, nil)
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := read.Write(&b); err != nil || !bytes.Equal(b.Bytes(), whole) {
			t.Fatalf("read as another tally: %v", err)
		}
	})
}

// FuzzTallyContents checks that a header and rows that nobody wrote, with the checksum of
// them, are refused, or audited without a panic and written again.
func FuzzTallyContents(f *testing.F) {
	for _, c := range []exchange.Coarse{exchange.ByDay, exchange.ByQuarters} {
		table, err := sheet.Open(context.Background(), smallTally(f, c), nil, sheet.Options{})
		if err != nil {
			f.Fatal(err)
		}
		header, _ := table.About(exchange.AboutKey)
		b, err := table.Next()
		if err != nil {
			f.Fatal(err)
		}
		var rows []string
		for r := range b.Rows {
			var cells []string
			for i := range r.Len() {
				cells = append(cells, string(r.Cell(i)))
			}
			rows = append(rows, strings.Join(cells, "|"))
		}
		table.Close()
		f.Add(header, strings.Join(rows, "\n"))
	}
	name := filepath.Join(f.TempDir(), "fuzzed.parquet")
	f.Fuzz(func(t *testing.T, header, text string) {
		var rows [][]string
		for line := range strings.SplitSeq(text, "\n") {
			rows = append(rows, strings.Split(line, "|"))
		}
		file, err := exchange.Forge(header, rows)
		if err != nil {
			return
		}
		if err := os.WriteFile(name, file, 0o666); err != nil {
			t.Fatal(err)
		}
		read, err := exchange.Read(context.Background(), name, nil)
		if err != nil {
			return
		}
		pool, err := exchange.NewPool(read)
		if err != nil {
			return
		}
		if a, err := audit.Run(pool, audit.Options{By: pool.By(), WorstCase: true}); err == nil {
			if err := audit.WriteJSON(&bytes.Buffer{}, a); err != nil {
				t.Fatal(err)
			}
		}
		for _, ask := range []func() error{
			func() error { _, err := pool.FollowUp(); return err },
			func() error { _, err := pool.WhatIf(audit.DefaultYears()); return err },
			func() error { _, err := pool.Longest(); return err },
		} {
			_ = ask() // an error, or not
		}
		if err := read.Write(&bytes.Buffer{}); err != nil {
			t.Fatal(err)
		}
	})
}
