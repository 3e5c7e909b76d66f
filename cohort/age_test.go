package cohort_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// bandOfRow reads one row and gives its age band.
func bandOfRow(t *testing.T, bounds []int, headings, row string) string {
	t.Helper()
	c := mustRead(t, cohort.Options{AgeBands: bounds}, table("operation_date,revision_date,"+headings, "2020-06-15,,"+row))
	if c.Account().Used != 1 {
		t.Fatalf("%s: %v", row, c.SetAside())
	}
	set := mustTally(t, c, []string{"age_band"}, cohort.Endpoint{}).Set
	for k := range set.All() {
		return set.Dimensions[2].Levels[k.Level(2)]
	}
	return ""
}

// The lower bound belongs to the band; ages are completed years. The operation
// is on 2020-06-15.
func TestAgeBands(t *testing.T) {
	for _, test := range []struct{ headings, row, want string }{
		{"age", "10", "<55"},
		{"age", "54", "<55"},
		{"age", "55", "55-64"},
		{"age", "64", "55-64"},
		{"age", "65", "65-74"},
		{"age", "74", "65-74"},
		{"age", "75", "75+"},
		{"age", "110", "75+"},
		{"age", "64.9", "55-64"},
		{"age", `"64,9"`, "55-64"},
		{"age", "65.0", "65-74"},
		{"age", "65 yrs", "65-74"},
		{"age", "65y", "65-74"},
		{"age", "64.9 years old", "55-64"},
		{"age", "75 J.", "75+"},
		{"age", "65 months", cohort.NotRecorded},
		{"age", "yrs", cohort.NotRecorded},
		{"age", "", cohort.NotRecorded},
		{"age", "0", cohort.NotRecorded},
		{"age", "n/a", cohort.NotRecorded},
		{"age", "about 70", cohort.NotRecorded},
		{"birth_date", "1955-06-15", "65-74"}, // 65 on the day
		{"birth_date", "1955-06-16", "55-64"}, // 65 the day after
		{"birth_date", "15-Jun-1955", "65-74"},
		{"birth_date", "", cohort.NotRecorded},
		{"birth_date", "1955-06-31", cohort.NotRecorded},
		{"birth_year", "1955", "65-74"},
		{"birth_year", "1956", "55-64"},
		{"birth_year", "0", cohort.NotRecorded},
		{"birth_year", "1955.0", "65-74"},
		{"birth_year", "55", cohort.NotRecorded},
		{"age,birth_date", "64,1955-06-15", "65-74"}, // the birth date decides
		{"age,birth_date", "64,1955-06-31", "55-64"}, // unless it is none
		{"age,birth_date", "64,", "55-64"},
		{"age,birth_year", "64,1955", "55-64"},
		{"age,birth_year", ",1955", "65-74"},
		{"age,birth_year", "old,1955", "65-74"},
	} {
		if got := bandOfRow(t, nil, test.headings, test.row); got != test.want {
			t.Errorf("%s %s: %s, want %s", test.headings, test.row, got, test.want)
		}
	}
}

func TestOwnAgeBands(t *testing.T) {
	for _, test := range []struct {
		bounds []int
		age    string
		want   string
	}{
		{[]int{60}, "59", "<60"},
		{[]int{60}, "60", "60+"},
		{[]int{40, 50, 60, 70, 80}, "79", "70-79"},
		{[]int{65, 66}, "65", "65-65"},
		{[]int{}, "79", "all ages"},
	} {
		if got := bandOfRow(t, test.bounds, "age", test.age); got != test.want {
			t.Errorf("%v, age %s: %s, want %s", test.bounds, test.age, got, test.want)
		}
	}
	c := mustRead(t, cohort.Options{AgeBands: []int{60, 70}}, table("operation_date,revision_date,age", "2020-01-01,,65"))
	if d := cmp.Diff([]cohort.AgeBand{{0, 60}, {60, 70}, {70, 0}}, c.AgeBands()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestAgeLimits(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,age",
		"2020-01-01,,9", "2020-01-01,,10", "2020-01-01,,110", "2020-01-01,,111", "2020-01-01,,123456"))
	want := []cohort.Problem{
		{Row: 2, Column: "age", Reason: cohort.AgeOutOfRange},
		{Row: 5, Column: "age", Reason: cohort.AgeOutOfRange},
		{Row: 6, Column: "age", Reason: cohort.AgeOutOfRange},
	}
	if d := cmp.Diff(want, c.SetAside()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// An age that is off by one beside the birth date is usual: the year counted
// before the birthday.
func TestAgeDisagrees(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,side,age,birth_date",
		"2020-06-15,,left,63,1955-06-15", "2020-06-15,,left,64,1955-06-15", "2020-06-15,,left,66,1955-06-15", "2020-06-15,,left,67,1955-06-15"))
	want := []cohort.Problem{{Row: 2, Column: "age", Reason: cohort.AgeDisagrees}, {Row: 5, Column: "age", Reason: cohort.AgeDisagrees}}
	if d := cmp.Diff(want, c.Warnings()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestWrongOptions(t *testing.T) {
	number := func(n int) *int { return &n }
	for _, test := range []struct {
		o    cohort.Options
		want []string
	}{
		{cohort.Options{AgeBands: []int{65, 55}}, []string{"age bands [65 55]"}},
		{cohort.Options{AgeBands: []int{55, 55}}, []string{"age bands [55 55]"}},
		{cohort.Options{AgeBands: []int{0, 55}}, []string{"age bands [0 55]", "1 to 110"}},
		{cohort.Options{AgeBands: []int{55, 111}}, []string{"age bands [55 111]"}},
		{cohort.Options{Pivot: number(-1)}, []string{"pivot -1", "0 to 100"}},
		{cohort.Options{Pivot: number(101)}, []string{"pivot 101"}},
		{cohort.Options{Columns: map[string]string{"Art": "proceduer"}}, []string{`"Art"`, `"proceduer"`, `did you mean "procedure"`}},
		{cohort.Options{Columns: map[string]string{"Art": "xyzzy"}}, []string{`"xyzzy", which is no column`}},
		{cohort.Options{Assume: map[string]string{"operation_date": "2020-01-01"}}, []string{"can't be assumed", "operation_date"}},
		{cohort.Options{Assume: map[string]string{"patient": "a"}}, []string{"can't be assumed", "patient"}},
		{cohort.Options{Delimiter: '"'}, []string{"separator"}},
		{cohort.Options{Encoding: "ebcdic"}, []string{"ebcdic"}},
	} {
		_, err := tryRead(t, test.o, table("operation_date,revision_date", "2020-01-01,"))
		wantError(t, err, test.want...)
	}
	if _, err := cohort.Read(t.Context(), nil, cohort.Options{}); err == nil {
		t.Error("no table was read without an error")
	}
}

// A two-digit year of birth is in the pivot's century, or in the one before if
// the patient would then be younger than 10 at the operation of 2020-06-15.
func TestBirthByPivot(t *testing.T) {
	for _, test := range []struct {
		name, headings, row string
		want                string
	}{
		{"the pivot's century", "birth_date", "15/6/50", "65-74"},                     // 1950: 70
		{"before the operation, and below the pivot", "birth_date", "15/6/10", "<55"}, // 2010: 10 on the day
		{"younger than 10 a day later", "birth_date", "16/6/10", "75+"},               // 1910: 109
		{"after the operation", "birth_date", "1/1/25", "75+"},                        // 1925: 95
		{"with a month in words", "birth_date", "1-Jan-25", "75+"},
		{"four digits stay as typed", "birth_date", "1/1/2025", ""}, // set aside
		{"a leap day the century before lacks", "birth_date", "29/2/00", "<55"},
		{"year of birth: the pivot's", "birth_year", "50", "65-74"},
		{"year of birth: after the operation", "birth_year", "25", "75+"},
		{"year of birth: ten years before", "birth_year", "10", "<55"},
		{"year of birth: nine years before", "birth_year", "11", "75+"}, // 1911: 109
		{"year of birth as typed", "birth_year", "1950", "65-74"},
	} {
		t.Run(test.name, func(t *testing.T) {
			pivot := 30
			c := mustRead(t, cohort.Options{Pivot: &pivot, DateOrder: cohort.DayFirst}, table("operation_date,revision_date,"+test.headings,
				"2020-06-15,,"+test.row, "2020-06-15,,"))
			got := ""
			set := mustTally(t, c, []string{"age_band"}, cohort.Endpoint{}).Set
			for k := range set.All() {
				if l := set.Dimensions[2].Levels[k.Level(2)]; l != cohort.NotRecorded {
					got = l
				}
			}
			if got != test.want {
				t.Errorf("%q, want %q; %v", got, test.want, c.SetAside())
			}
		})
	}
}
