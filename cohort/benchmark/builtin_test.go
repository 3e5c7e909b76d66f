package benchmark

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// The built-in file must be without fault, and every word in it must be one
// that an outcomes table can hold.
func TestBuiltinFileIsClean(t *testing.T) {
	series, warnings, err := Read(bytes.NewReader(builtinFile), BuiltinName)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range warnings {
		t.Error(w)
	}
	for _, s := range series {
		for _, f := range s.Figures {
			if f.SeenAt == "" {
				t.Errorf("%s at %v years: not said where it was seen", s.Source, f.Years)
			}
		}
	}
	got := Builtin()
	if len(got) != len(series) || len(got) == 0 {
		t.Fatalf("Builtin has %d series, the file %d", len(got), len(series))
	}
	for _, s := range got {
		if s.User {
			t.Errorf("%s: marked as the user's", s.Source)
		}
	}
	got[0] = nil
	if Builtin()[0] == nil {
		t.Error("Builtin hands out its own slice")
	}
}

// rowsOf are the rows of a file of tests' data, its headings left out.
func rowsOf(t *testing.T, name string) [][]string {
	t.Helper()
	file, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	in := csv.NewReader(file)
	in.Comment = '#'
	rows, err := in.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

// readFigure is a built-in figure as its note has it: limits that were printed and left out,
// for which the figure says so, are those of the note.
func readFigure(s *Series, f Figure, lower, upper string) string {
	l, u := Percent(f.Lower), Percent(f.Upper)
	if f.Notes&LimitsRounded != 0 {
		l, u = Percent(f.PrintedLower), Percent(f.PrintedUpper)
	}
	if l == "" && strings.Contains(f.Covers, "left out") {
		l, u = lower, upper
	}
	return strings.Join([]string{s.Source, s.Joint, s.Procedure, s.Bearing, s.Polyethylene, s.Fixation, s.Age.String(), s.Sex, s.Diagnosis, s.Country,
		strconv.FormatFloat(f.Years, 'f', -1, 64), Percent(f.Revision), l, u}, "|")
}

// Every built-in figure is what was noted when it was read, in one of two files: as
// revision, or as the survival that a source prints. No note is of no figure.
func TestEveryBuiltinFigureWasRead(t *testing.T) {
	asRevision, asSurvival := rowsOf(t, "testdata/read.csv"), rowsOf(t, "testdata/printed.csv")
	used := make(map[string]int)
	figures := 0
	for _, s := range Builtin() {
		for _, f := range s.Figures {
			figures++
			notes := 0
			for _, row := range asRevision {
				if note := strings.Join(row[:14], "|"); note == readFigure(s, f, row[12], row[13]) {
					notes++
					used[note]++
				}
			}
			for _, row := range asSurvival {
				if printedOf(row, s, f) {
					notes++
					used[strings.Join(row, "|")]++
				}
			}
			if notes != 1 {
				t.Errorf("%s, %s %s %s at %v years: %d notes of it", s.Source, s.Joint, s.Procedure, s.Fixation, f.Years, notes)
			}
		}
	}
	if rows := len(asRevision) + len(asSurvival); figures != 107 || len(used) != rows {
		t.Errorf("%d figures, %d of %d notes used", figures, len(used), rows)
	}
}

// printedOf says whether a note of survival is of a figure.
func printedOf(row []string, s *Series, f Figure) bool {
	period := ""
	if s.PeriodFrom != 0 {
		period = strconv.Itoa(s.PeriodFrom)
	}
	return strings.Join(row[:7], "|") == strings.Join([]string{s.Source, s.Procedure, s.Bearing, s.Fixation, s.Age.String(), period, strconv.FormatFloat(f.Years, 'f', -1, 64)}, "|")
}

// Figures that were turned from survival by hand, beside what is printed.
func TestBuiltinIsWhatIsPrinted(t *testing.T) {
	rows := rowsOf(t, "testdata/printed.csv")
	number := func(s string) float64 {
		if s == "" {
			return math.NaN()
		}
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for _, row := range rows {
		found := 0
		for _, s := range Builtin() {
			for _, f := range s.Figures {
				if !printedOf(row, s, f) {
					continue
				}
				found++
				numbers := []float64{f.Revision, f.Upper, f.Lower}
				if math.IsNaN(f.Lower) && strings.Contains(f.Covers, "left out") {
					numbers = numbers[:1]
				}
				for i, x := range numbers {
					want := 100 - number(row[7+i])
					if got := 100 * x; math.Abs(got-want) > 1e-9 || math.IsNaN(got) != math.IsNaN(want) {
						t.Errorf("%v: %v, want %v", row, got, want)
					}
				}
				if joints, _ := strconv.Atoi(row[10]); f.Joints != joints {
					t.Errorf("%v: %d joints", row, f.Joints)
				}
			}
		}
		if found != 1 {
			t.Errorf("%v: found %d times", row, found)
		}
	}
}
