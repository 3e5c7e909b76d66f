package benchmark

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"strconv"
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

// Figures that were turned from survival by hand, beside what is printed.
func TestBuiltinIsWhatIsPrinted(t *testing.T) {
	file, err := os.Open("testdata/printed.csv")
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
	for _, row := range rows[1:] {
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
