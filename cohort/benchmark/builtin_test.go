package benchmark

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
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

// untraced are the sources of which no note stands in the tests' data, with their
// figures. The list may only shrink: a figure that comes in brings its note.
var untraced = map[string]int{"actaorthop2011": 4, "wangen2017": 1, "seppanen2016": 1, "bloemheuvel": 1, "nice-ta304": 1, "dyrhovden2017": 1,
	"jarthroplasty2025": 2, "hutt2018": 1, "bjj2016": 1, "koch2025": 2, "bjj2025": 4}

// Every built-in figure is what was noted when it was read.
func TestEveryBuiltinFigureWasRead(t *testing.T) {
	noted := make(map[string]int)
	for _, row := range rowsOf(t, "testdata/read.csv") {
		noted[strings.Join(row[:14], "|")]++
	}
	for _, row := range rowsOf(t, "testdata/printed.csv") {
		noted[strings.Join(row[:5], "|")]++
	}
	without := make(map[string]int)
	figures := 0
	for _, s := range Builtin() {
		for _, f := range s.Figures {
			figures++
			lower, upper := f.Lower, f.Upper
			if f.Notes&LimitsRounded != 0 {
				lower, upper = f.PrintedLower, f.PrintedUpper
			}
			years := strconv.FormatFloat(f.Years, 'f', -1, 64)
			whole := strings.Join([]string{s.Source, s.Joint, s.Procedure, s.Bearing, s.Polyethylene, s.Fixation, s.Age.String(), s.Sex, s.Diagnosis, s.Country, years,
				Percent(f.Revision), Percent(lower), Percent(upper)}, "|")
			if noted[whole] == 0 && noted[strings.Join([]string{s.Source, s.Procedure, s.Bearing, s.Age.String(), years}, "|")] == 0 {
				without[s.Source]++
			}
		}
	}
	if d := cmp.Diff(untraced, without); d != "" || figures != 107 {
		t.Errorf("%d figures, without a note: %s", figures, d)
	}
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
			if s.Source != row[0] || s.Procedure != row[1] || s.Bearing != row[2] || s.Age.String() != row[3] {
				continue
			}
			for _, f := range s.Figures {
				if f.Years != number(row[4]) {
					continue
				}
				found++
				lower, upper := f.Lower, f.Upper
				for i, x := range []float64{f.Revision, upper, lower} {
					want := 100 - number(row[5+i])
					if got := 100 * x; math.Abs(got-want) > 1e-9 || math.IsNaN(got) != math.IsNaN(want) {
						t.Errorf("%v: %v, want %v", row, got, want)
					}
				}
				if joints, _ := strconv.Atoi(row[8]); f.Joints != joints {
					t.Errorf("%v: %d joints", row, f.Joints)
				}
			}
		}
		if found != 1 {
			t.Errorf("%v: found %d times", row, found)
		}
	}
}
