package command

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// ownTable is a table of many joints in a folder of its own.
func ownTable(t *testing.T) (folder, table string) {
	t.Helper()
	folder = t.TempDir()
	table = filepath.Join(folder, "own.csv")
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,side,procedure,bearing,age,revision_date,last_seen_date\n")
	for i := range 300 {
		revised := ""
		if i%11 == 0 {
			revised = "2020-03-01"
		}
		fmt.Fprintf(&b, "%d,20%02d-%02d-%02d,hip,L,total,%s,%d,%s,2024-05-05\n", i, 10+i%8, 1+i%12, 1+i%28, []string{"MoP", "CoC"}[i%2], 50+i%40, revised)
	}
	if err := os.WriteFile(table, []byte(b.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	return folder, table
}

// left are the names in a folder.
func left(t *testing.T, folder string) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// Where there is no room for a file the command fails, says so, leaves nothing of the new
// file, and the old one as it was.
func TestNoRoomOnTheDisk(t *testing.T) {
	folder, table := ownTable(t)
	for _, c := range []struct {
		out  string
		args []string
	}{
		{"audit.csv", []string{"audit", "--format", "csv", "--out"}}, {"audit.json", []string{"audit", "--format", "json", "--out"}},
		{"site.parquet", []string{"tally", "--published", "none", "--out"}}, {"cohort.parquet", []string{"check", "--cohort"}}, {"cohort.arrow", []string{"check", "--cohort"}},
		{"figure.svg", []string{"draw", "--out"}}, {"report.html", []string{"report", "--out"}}, {"report.pdf", []string{"report", "--out"}},
	} {
		for _, old := range []string{"", "the old file"} {
			t.Run(c.out+old, func(t *testing.T) {
				out := filepath.Join(folder, c.out)
				if old != "" {
					if err := os.WriteFile(out, []byte(old), 0o666); err != nil {
						t.Fatal(err)
					}
					defer os.Remove(out)
				}
				before := left(t, folder)
				// A file of more than a block can't be written: as on a full disk, but that the error is another.
				run := exec.Command("sh", append([]string{"-c", `trap '' XFSZ; ulimit -f 1; exec holdfast "$@"`, "sh"}, append(append([]string{}, c.args...), out, table, "--closing-date", "2024-12-31")...)...)
				var failed bytes.Buffer
				run.Stderr = &failed
				err := run.Run()
				if exit, ok := err.(*exec.ExitError); !ok || exit.ExitCode() != 1 || !strings.Contains(failed.String(), "file too large") {
					t.Errorf("%v: %s", err, failed.String())
				}
				if after := left(t, folder); !slices.Equal(before, after) {
					t.Errorf("%q before, %q after", before, after)
				}
				if now, err := os.ReadFile(out); old != "" && (err != nil || string(now) != old) {
					t.Errorf("the old file is %q, %v", now, err)
				}
			})
		}
	}
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip(err)
	}
	defer full.Close()
	run := exec.Command("holdfast", "audit", table)
	var failed bytes.Buffer
	run.Stdout, run.Stderr = full, &failed
	if err := run.Run(); err == nil || !strings.Contains(failed.String(), "no space left on device") {
		t.Errorf("%v: %s", err, failed.String())
	}
}

// Several runs that write one file at once leave one whole file, and nothing beside it.
func TestSeveralRunsOnOneFile(t *testing.T) {
	folder, table := ownTable(t)
	for _, c := range []struct {
		out  string
		args []string
	}{
		{"site.parquet", []string{"tally", "--published", "none", "--out"}}, {"audit.json", []string{"audit", "--format", "json", "--out"}}, {"cohort.parquet", []string{"check", "--cohort"}},
	} {
		t.Run(c.out, func(t *testing.T) {
			args := func(out string) []string {
				return append(append([]string{}, c.args...), filepath.Join(folder, out), table, "--closing-date", "2024-12-31")
			}
			if out, err := exec.Command("holdfast", args("alone"+filepath.Ext(c.out))...).CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
			before := left(t, folder)
			var runs []*exec.Cmd
			for range 4 {
				r := exec.Command("holdfast", args(c.out)...)
				if err := r.Start(); err != nil {
					t.Fatal(err)
				}
				runs = append(runs, r)
			}
			for _, r := range runs {
				if err := r.Wait(); err != nil {
					t.Error(err)
				}
			}
			want, err := os.ReadFile(filepath.Join(folder, "alone"+filepath.Ext(c.out)))
			if err != nil {
				t.Fatal(err)
			}
			got, err := os.ReadFile(filepath.Join(folder, c.out))
			if err != nil || !bytes.Equal(got, want) {
				t.Errorf("%d bytes, alone %d: %v", len(got), len(want), err)
			}
			if after := left(t, folder); len(after) != len(before)+1 {
				t.Errorf("%q before, %q after", before, after)
			}
		})
	}
}
