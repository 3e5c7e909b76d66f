package cohort_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// whole is a table of so many joints whose rows have a cell for each heading.
func whole(rows int) []string {
	lines := []string{"operation_date,joint,procedure,side,revision_date,revised"}
	for range rows {
		lines = append(lines, "2020-01-01,hip,total,left,,no")
	}
	return lines
}

// A row with fewer cells than headings is warned of where most are full: what was
// cut off may have been a revision. Where a program leaves empty cells out,
// nothing is said, nor of a workbook.
func TestCutRows(t *testing.T) {
	for _, test := range []struct {
		name string
		rows int
		cut  []string
		want []int
	}{
		{"one of six", 5, []string{"2020-01-01,hip,total,left"}, []int{7}},
		{"cut in its last cell but one", 5, []string{"2020-01-01,hip,total,left,2021-0"}, nil}, // set aside: no such day
		{"empty cells left out", 3, []string{"2020-01-01,hip,total,left", "2020-01-01,hip,total,left"}, nil},
		{"a line of totals", 5, []string{"Total: 5"}, nil},
	} {
		c := mustRead(t, cohort.Options{}, table(append(whole(test.rows), test.cut...)...))
		var rows []int
		for _, p := range c.Warnings() {
			if p.Reason == cohort.CellsMissing {
				rows = append(rows, p.Row)
			}
		}
		if d := cmp.Diff(test.want, rows); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}

// A last line without its end is said, since the file may have been cut off.
func TestLastLineWithoutItsEnd(t *testing.T) {
	const said = "the last line has no end, as some programs write it; if the file was cut off, rows are missing"
	text := strings.Join(whole(3), "\n")
	for _, test := range []struct {
		text string
		want bool
	}{{text, true}, {text + "\n", false}, {text + "\r\n", false}, {text + "\n\n", false}, {strings.ReplaceAll(text, "\n", "\r") + "\r", false}, {strings.ReplaceAll(text, "\n", "\r"), true}} {
		c := mustRead(t, cohort.Options{}, test.text)
		if got := slices.Contains(c.Files[0].Notes, said); got != test.want {
			t.Errorf("%q: said %v, want %v", test.text[len(text)-4:], got, test.want)
		}
	}
}

// A file to which rows are added while it is read is said to have changed.
func TestFileThatChanges(t *testing.T) {
	name := filepath.Join(t.TempDir(), "t.csv")
	text := table(whole(50_000)...)
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	read := func(o cohort.Options) bool {
		c, err := cohort.Read(t.Context(), []cohort.Source{{Name: name}}, o)
		if err != nil {
			t.Fatal(err)
		}
		return c.Files[0].Changed
	}
	if read(cohort.Options{}) {
		t.Error("a file that nobody touched has changed")
	}
	added := false
	if !read(cohort.Options{Progress: func(cohort.Progress) {
		if added {
			return
		}
		added = true
		f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Error(err)
			return
		}
		f.WriteString("2020-01-01,hip,total,left,2021-01-01,yes\n")
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}}) {
		t.Error("nothing is said of a file to which a row was added")
	}
}
