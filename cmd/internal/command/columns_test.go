package command

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// columnsTold are the names that a section of holdfast help columns tells of, by its
// first words.
func columnsTold(t *testing.T) map[string][]string {
	t.Helper()
	var out, errs bytes.Buffer
	if status := Main([]string{"help", "columns"}, strings.NewReader(""), &out, &errs); status != 0 {
		t.Fatal(errs.String())
	}
	told, section := make(map[string][]string), ""
	entry := regexp.MustCompile(`(?s)^([^:]*):`)
	for _, block := range strings.Split(out.String(), "\n\n") {
		title, entries, _ := strings.Cut(block, "\n")
		section, _, _ = strings.Cut(title, ":")
		for _, e := range regexp.MustCompile(`(?m)^  \b`).Split(entries, -1) {
			if m := entry.FindStringSubmatch(e); m != nil {
				told[section] = append(told[section], regexp.MustCompile(`[\s,]+`).Split(m[1], -1)...)
			}
		}
	}
	return told
}

// Every column of every file that is written is told of in holdfast help columns.
func TestEveryColumnIsToldOf(t *testing.T) {
	if testing.Short() {
		t.Skip("-short")
	}
	folder := t.TempDir()
	in := func(name string) string { return filepath.Join(folder, name) }
	table, closing := filepath.Join("..", "..", "..", "examples", "practice", "practice.csv"), "--closing-date=2024-12-31"
	told := columnsTold(t)
	for _, test := range []struct {
		section string
		file    string // "" for standard output
		args    []string
	}{
		{"holdfast audit --format csv", "", []string{"audit", table, closing, "--by", "fixation", "--format", "csv"}},
		{"holdfast audit --comparisons", "compared.csv", []string{"audit", table, closing, "--by", "fixation", "--comparisons", in("compared.csv")}},
		{"holdfast audit --set-aside", "aside.csv", []string{"audit", table, closing, "--set-aside", in("aside.csv")}},
		{"holdfast check --format csv", "", []string{"check", table, closing, "--format", "csv"}},
		{"holdfast contrast --format csv", "", []string{"contrast", table, closing, "--between", "fixation", "--format", "csv"}},
		{"holdfast reasons --format csv", "", []string{"reasons", table, closing, "--format", "csv"}},
		{"holdfast monitor --format csv", "", []string{"monitor", table, closing, "--past", "2021-12-31", "--format", "csv"}},
		{"holdfast plan --format csv", "", []string{"plan", table, closing, "--runs", "2", "--format", "csv"}},
		{"holdfast draw --data", "drawn.csv", []string{"draw", table, closing, "--kind", "curves", "--by", "fixation", "--out", in("f.svg"), "--data", in("drawn.csv")}},
		{"holdfast draw --data", "drawn.csv", []string{"draw", table, closing, "--kind", "intervals", "--by", "fixation", "--out", in("f.svg"), "--data", in("drawn.csv")}},
		{"holdfast draw --data", "drawn.csv", []string{"draw", table, closing, "--kind", "strip", "--out", in("f.svg"), "--data", in("drawn.csv")}},
		{"holdfast draw --data", "drawn.csv", []string{"draw", table, closing, "--kind", "funnel", "--out", in("f.svg"), "--data", in("drawn.csv")}},
		{"holdfast draw --data", "drawn.csv", []string{"draw", table, closing, "--kind", "follow-up", "--out", in("f.svg"), "--data", in("drawn.csv")}},
		{"holdfast published --format csv", "", []string{"published", "--format", "csv"}},
	} {
		var out, errs bytes.Buffer
		if status := Main(test.args, strings.NewReader(""), &out, &errs); status != 0 {
			t.Fatalf("%v: %s", test.args, errs.String())
		}
		written := out.Bytes()
		if test.file != "" {
			var err error
			if written, err = os.ReadFile(in(test.file)); err != nil {
				t.Fatal(err)
			}
		}
		names, err := csv.NewReader(bytes.NewReader(written)).Read()
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			if !slices.Contains(told[test.section], name) && name != "fixation" {
				t.Errorf("%s: nothing is said of %s", test.section, name)
			}
		}
	}
	for _, section := range []string{"holdfast check --cohort", "holdfast tally"} {
		if len(told[section]) < 12 {
			t.Errorf("%s: %q", section, told[section])
		}
	}
}
