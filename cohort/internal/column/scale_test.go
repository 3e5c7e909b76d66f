package column

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Bands are labelled as those of ages are.
func TestBands(t *testing.T) {
	for _, test := range []struct {
		column string
		bounds []float64
		want   []string
	}{
		{BMI, []float64{18.5, 25, 30, 35, 40}, []string{"<18.5", "18.5-24.9", "25-29.9", "30-34.9", "35-39.9", "40+"}},
		{BMI, []float64{30}, []string{"<30", "30+"}},
		{Activity, []float64{4, 7}, []string{"<4", "4-6", "7+"}},
		{Activity, []float64{4.5, 7}, []string{"<4.5", "4.5-6.9", "7+"}},
		{Activity, []float64{4, 5, 7}, []string{"<4", "4", "5-6", "7+"}},
		{HeadSize, []float64{32, 36}, []string{"<32", "32-35", "36+"}},
	} {
		got := named(test.column).Scale.Bands(test.bounds)
		if d := cmp.Diff(test.want, got); d != "" {
			t.Errorf("%s %v (-want +got):\n%s", test.column, test.bounds, d)
		}
		r := NewReader(test.column, test.bounds)
		for _, band := range got {
			if m := r.Understand(band); !m.Known || m.Value != band {
				t.Errorf("%s: band %q means %+v", test.column, band, m)
			}
			if !Canonical(test.column, band) || MayIdentify(test.column, band) {
				t.Errorf("%s: band %q is not canonical", test.column, band)
			}
		}
		sorted := slices.Clone(got)
		slices.Reverse(sorted)
		slices.SortFunc(sorted, func(a, b string) int { return Compare(test.column, a, b) })
		if d := cmp.Diff(got, sorted); d != "" {
			t.Errorf("%s: order (-want +got):\n%s", test.column, d)
		}
	}
}

// A number falls into the band that begins at or below it: 24.95 is below 25.
func TestShorten(t *testing.T) {
	bmi, activity := NewReader(BMI, nil), NewReader(Activity, []float64{4, 7})
	for _, test := range []struct {
		r          *Reader
		cell, want string
		impossible bool
	}{
		{bmi, "27.4", "25-29.9", false}, {bmi, "27,4", "25-29.9", false}, {bmi, "27.400000000000002", "25-29.9", false}, {bmi, "24.95", "18.5-24.9", false}, {bmi, "25", "25-29.9", false},
		{bmi, "10", "<18.5", false}, {bmi, "80", "40+", false}, {bmi, "40.0", "40+", false}, {bmi, "0", "", false}, {bmi, "99", "", false}, {bmi, "99.0", "", false},
		{bmi, "9.9", "", true}, {bmi, "80.1", "", true}, {bmi, "274", "", true}, {bmi, "obese", "obese", false}, {bmi, "27 kg/m2", "27 kg/m2", false}, {bmi, "", "", false},
		{activity, "3.9", "<4", false}, {activity, "6.5", "4-6", false}, {activity, "10", "7+", false}, {activity, "0", "<4", false}, {activity, "high", "high", false}, {activity, "101", "101", false},
	} {
		short, impossible := test.r.Shorten([]byte(test.cell))
		if string(short) != test.want || impossible != test.impossible {
			t.Errorf("%q: %q, impossible %v", test.cell, short, impossible)
		}
	}
	if NewReader(Activity, nil).Numbers() || NewReader(Surgeon, []float64{1}).Numbers() || NewReader("cup maker", nil).Numbers() || !bmi.Numbers() {
		t.Error("numbers are banded where there are no bands, or not where there are")
	}
}

func TestReaderUnderstands(t *testing.T) {
	r := NewReader(HeadSize, []float64{32, 36})
	for cell, want := range map[string]string{"28mm": "<32", "32 mm +4": "32-35", "40": "36+", "32–35": "32-35"} {
		if m := r.Understand(cell); !m.Known || m.Value != want {
			t.Errorf("%q means %+v, want %q", cell, m, want)
		}
	}
	if m := r.Understand("28/36"); m.Known || m.Value != "28/36" {
		t.Errorf("%+v", m)
	}
	if m := NewReader(BMI, nil).Understand("9 kg/m2"); m.Known {
		t.Errorf("%+v", m)
	}
}

func TestCheckBands(t *testing.T) {
	for _, test := range []struct {
		column string
		bounds []float64
		want   string
	}{
		{BMI, []float64{25, 30}, "<nil>"},
		{Activity, []float64{4, 7}, "<nil>"},
		{Bearing, []float64{4}, `there are no bands for column "bearing"; there are for head_size, activity, bmi`},
		{BMI, nil, "bands of bmi: none given"},
		{BMI, []float64{30, 25}, "bands of bmi [30 25]: want numbers between 10 and 80 that increase, with one decimal at most"},
		{BMI, []float64{25.25}, "bands of bmi [25.25]: want numbers between 10 and 80 that increase, with one decimal at most"},
		{BMI, []float64{10}, "bands of bmi [10]: want numbers between 10 and 80 that increase, with one decimal at most"},
	} {
		if got := fmt.Sprint(CheckBands(test.column, test.bounds)); got != test.want {
			t.Errorf("%s %v: %s, want %s", test.column, test.bounds, got, test.want)
		}
	}
}

// Canonical words, then numbers, then words as typed, then what is missing.
func TestCompare(t *testing.T) {
	for field, want := range map[string][]string{
		Activity:    {"low", "high", "2", "10", "10.5", "active", "walks", "not recorded"},
		BMI:         {"<18.5", "18.5-24.9", "40+", "obese", "not recorded"},
		AgeBand:     {"<55", "55-64", "75+", "young", "not recorded"},
		Diagnosis:   {"osteoarthritis", "other", "12", "gout", "not recorded"},
		"cup maker": {"1", "10", "2", "a", "not recorded"},
	} {
		got := slices.Clone(want)
		slices.Reverse(got)
		slices.SortFunc(got, func(a, b string) int { return Compare(field, a, b) })
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", field, d)
		}
	}
}

func TestMissingNumbers(t *testing.T) {
	for _, cell := range []string{"0", "99", "99.0", "0,0"} {
		if !Missing(BMI, cell) {
			t.Errorf("BMI %q is not missing", cell)
		}
	}
	for column, cell := range map[string]string{ASA: "99", HeadSize: "99", Activity: "0", BMI: "98"} {
		if Missing(column, cell) {
			t.Errorf("%s %q is missing", column, cell)
		}
	}
}
