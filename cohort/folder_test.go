package cohort_test

import (
	"bytes"
	"context"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/testtable"
)

// partitioned writes rows as Parquet files in folders called after their values in two of
// the columns, which the files then lack.
func partitioned(t *testing.T, headings []string, rows [][]string, by ...int) string {
	t.Helper()
	folder := filepath.Join(t.TempDir(), "registry")
	parts := make(map[string][][]string)
	for _, r := range rows {
		var path []string
		for _, i := range by {
			value := url.PathEscape(r[i])
			if r[i] == "" {
				value = "__HIVE_DEFAULT_PARTITION__"
			}
			path = append(path, headings[i]+"="+value)
		}
		at := filepath.Join(path...)
		parts[at] = append(parts[at], without(r, by))
	}
	for at, rows := range parts {
		if err := os.MkdirAll(filepath.Join(folder, at), 0o777); err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := testtable.WriteParquet(&b, testtable.Strings(without(headings, by), rows)); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(folder, at, "part-0.parquet"), b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return folder
}

func without(cells []string, at []int) (rest []string) {
	for i, c := range cells {
		if i != at[0] && i != at[len(at)-1] {
			rest = append(rest, c)
		}
	}
	return rest
}

// A folder of Parquet files is one table: what the names of its folders say are columns,
// and files that are not of it are passed over. A patient of two of its files is one.
func TestAFolderIsATable(t *testing.T) {
	headings := []string{"patient", "operation_date", "joint", "side", "procedure", "revision_date", "hospital", "bearing"}
	var rows [][]string
	text := new(strings.Builder)
	fmt.Fprintln(text, strings.Join(headings, ","))
	for i := range 60 {
		r := []string{fmt.Sprintf("P%02d", i%50), fmt.Sprintf("20%02d-03-01", 10+i%9), "hip", []string{"L", "R"}[i/50], "total", "", []string{"St. Ann/West", "North", ""}[i%3], []string{"MoP", "CoC"}[i%2]}
		if i%7 == 0 {
			r[5] = "2020-05-05"
		}
		rows = append(rows, r)
		fmt.Fprintln(text, strings.Join(r, ","))
	}
	folder := partitioned(t, headings, rows, 6, 7)
	for _, name := range []string{"_SUCCESS", ".part-0.parquet", "notes.txt"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte("no table"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	closing := day("2024-12-31")
	read := func(s cohort.Source) *cohort.Cohort {
		t.Helper()
		c, err := cohort.Read(context.Background(), []cohort.Source{s}, cohort.Options{ClosingDate: &closing, Keep: []string{"hospital"}})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	whole, parts := read(cohort.Source{Name: "t.csv", Reader: strings.NewReader(text.String())}), read(cohort.Source{Name: folder})
	if n := len(parts.Files); n != 6 {
		t.Errorf("%d files", n)
	}
	for _, f := range parts.Files {
		if f.Folder != folder || f.Rows == 0 {
			t.Errorf("%s of %q: %d rows", f.Name, f.Folder, f.Rows)
		}
	}
	if diff := cmp.Diff(whole.Account(), parts.Account()); diff != "" {
		t.Error(diff)
	}
	var told [2][]string
	for i, c := range []*cohort.Cohort{whole, parts} {
		groups, err := c.Tally([]string{"hospital", "bearing"}, cohort.Endpoint{})
		if err != nil {
			t.Fatal(err)
		}
		set, patients, err := groups.Margin("hospital", "bearing")
		if err != nil {
			t.Fatal(err)
		}
		for key, counts := range set.All() {
			told[i] = append(told[i], fmt.Sprint(set.Words(key, ""), counts.Subjects(), counts.Total(cohort.CauseRevision), counts.PersonDays(), patients[key]))
		}
	}
	if diff := cmp.Diff(told[0], told[1]); diff != "" || len(told[0]) != 6 {
		t.Errorf("%d groups: %s", len(told[0]), diff)
	}
}

// What can't be read as one is refused, with the reason.
func TestFoldersThatAreNoTable(t *testing.T) {
	headings, rows := []string{"operation_date", "revision_date", "hospital", "bearing"}, [][]string{{"2010-01-01", "", "A", "MoP"}}
	differ := partitioned(t, headings, rows, 2, 3)
	if err := os.Rename(filepath.Join(differ, "hospital=A", "bearing=MoP"), filepath.Join(differ, "hospital=A", "surgeon=B")); err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(differ, os.DirFS(partitioned(t, headings, rows, 2, 3))); err != nil {
		t.Fatal(err)
	}
	twice := partitioned(t, headings, rows, 2, 3)
	if err := os.Rename(filepath.Join(twice, "hospital=A", "bearing=MoP"), filepath.Join(twice, "hospital=A", "hospital=B")); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct{ name, folder, want string }{
		{"empty", t.TempDir(), "this is a folder, not a file, and there is no Parquet file in it"},
		{"different columns", differ, "stand in folders of different columns"},
		{"a column twice", twice, "two folders say what hospital is"},
	} {
		t.Run(test.name, func(t *testing.T) {
			if _, err := cohort.Read(context.Background(), []cohort.Source{{Name: test.folder}}, cohort.Options{}); err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("%v, want %q", err, test.want)
			}
		})
	}
}
