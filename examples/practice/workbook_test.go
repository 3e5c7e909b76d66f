package main

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// workbook runs the program for a workbook and returns its name.
func workbook(t *testing.T) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "practice.xlsx")
	var stdout, stderr bytes.Buffer
	if status := run([]string{"-xlsx", name}, &stdout, &stderr); status != 0 || stdout.Len()+stderr.Len() > 0 {
		t.Fatalf("status %d, %s%s", status, stdout.String(), stderr.String())
	}
	return name
}

// read reads a table to the closing date, with nothing else settled.
func read(t *testing.T, name string) *cohort.Cohort {
	t.Helper()
	closing, err := cohort.ParseDay(closingDate)
	if err != nil {
		t.Fatal(err)
	}
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: name}}, cohort.Options{ClosingDate: &closing})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func audited(t *testing.T, c *cohort.Cohort) []string {
	t.Helper()
	a, err := audit.Run(c, audit.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := audit.WriteCSV(&b, a); err != nil {
		t.Fatal(err)
	}
	return strings.Split(b.String(), "\n")
}

// The workbook gives the audit of the text: the same joints, of which the same
// are set aside for the same reasons, besides the two rows below the table.
func TestWorkbookHasTheSameAudit(t *testing.T) {
	book, text := read(t, workbook(t)), read(t, "practice.csv")
	if diff := cmp.Diff(audited(t, text), audited(t, book)); diff != "" {
		t.Errorf("audit (-text +workbook):\n%.2000s", diff)
	}
	if got, want := book.Account().Used, text.Account().Used; got != want {
		t.Errorf("%d rows used, want %d", got, want)
	}
	reasons := func(c *cohort.Cohort) map[cohort.Reason]int {
		n := make(map[cohort.Reason]int)
		for _, p := range c.SetAside() {
			n[p.Reason]++
		}
		return n
	}
	want := reasons(text)
	want[cohort.NotAJoint] += 2 // the totals and the note below
	if diff := cmp.Diff(want, reasons(book)); diff != "" {
		t.Errorf("rows set aside by reason (-want +workbook):\n%s", diff)
	}
	if f := book.Files[0]; f.Sheet != tableSheet || f.HeadingRow != groupRow+1 {
		t.Errorf("headings in row %d of sheet %q", f.HeadingRow, f.Sheet)
	}
}

func TestWorkbookCannotBeWritten(t *testing.T) {
	var stdout, stderr bytes.Buffer
	nowhere := filepath.Join(t.TempDir(), "no", "practice.xlsx")
	if status := run([]string{"-xlsx", nowhere}, &stdout, &stderr); status != 1 || !strings.Contains(stderr.String(), "practice:") {
		t.Errorf("status %d, %s", status, stderr.String())
	}
}
