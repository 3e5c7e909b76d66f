package cohort_test

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// The values under a heading that is not understood, for 12 rows each.
func TestCommonValues(t *testing.T) {
	numbered := func(form string) []string {
		all := make([]string, 12)
		for i := range all {
			all[i] = fmt.Sprintf(form, i+1)
		}
		return all
	}
	repeated := func(values ...string) []string {
		all := make([]string, 12)
		for i := range all {
			all[i] = values[i%len(values)]
		}
		return all
	}
	word := func(typed string, rows int) cohort.Word { return cohort.Word{Typed: typed, Rows: rows} }
	for _, test := range []struct {
		name, heading string
		cells         []string
		want          []cohort.Word
		looks         string
	}{
		{"a few words", "Redo?", []string{"Y", "N", "N", "N", "Y", "N", "N", "N", "n/k", "", "", "-"}, []cohort.Word{word("N", 6), word("Y", 2)}, ""},
		{"too many for so few rows", "Letter", []string{"f", "e", "e", "e", "d", "d", "d", "c", "c", "b", "b", "b"}, nil, "many different values"},
		{"numbers", "Score", repeated("1", "2", "3"), []cohort.Word{word("1", 4), word("2", 4), word("3", 4)}, ""},
		{"dates", "Redo on", []string{"", "", "2020-01-01", "3/4/20", "n/a", "3-Apr-2020", "", "", "", "", "", "spring"}, nil, "dates"},
		{"a date among words", "Redo", repeated("no", "no", "no", "no", "no", "3/4/2020"), nil, "free text"},
		{"all different", "Tray", numbered("tray %d"), nil, "many different values"},
		{"long numbers", "Lot", repeated("4857773", "1234567"), nil, "long numbers"},
		{"words with days among them", "Trouble", repeated("redone for pain 12/3/2017", "wound"), nil, "free text"},
		{"names", "Seen by", repeated("Test Persona", "Anna Testa"), nil, "free text"},
		{"a name with a comma", "Who", repeated("PERSONA, Test"), nil, "free text"},
		{"a title", "Who", repeated("Mrs Testa"), nil, "free text"},
		{"sentences", "Comments", repeated(strings.Repeat("well ", 10)), nil, "free text"},
		{"short sentences", "Comments", repeated("came walking and was well", "came walking and was quite well"), nil, "free text"},
		{"a phrase", "Way in", repeated("through the back of it", "front"), []cohort.Word{word("front", 6), word("through the back of it", 6)}, ""},
		{"nothing", "Empty", repeated(""), nil, ""},
		{"once each", "Pair", []string{"a", "b", "", "", "", "", "", "", "", "", "", ""}, nil, ""},
		{"which may mean several columns", "Outcome", repeated("ok", "redo"), []cohort.Word{word("ok", 6), word("redo", 6)}, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			lines := []string{"operation_date,revision_date,side,\"" + test.heading + "\""}
			for _, cell := range test.cells {
				lines = append(lines, `2020-01-01,,left,"`+cell+`"`)
			}
			c := mustRead(t, cohort.Options{EveryColumn: true}, table(lines...))
			got := c.CommonValues()
			if len(got) != 1 {
				t.Fatalf("%+v", got)
			}
			if d := cmp.Diff(test.want, got[0].Values); d != "" || got[0].Looks != test.looks || got[0].Heading.Typed != test.heading {
				t.Errorf("%+v (-want +got):\n%s", got[0], d)
			}
			if c := mustRead(t, cohort.Options{}, table(lines...)); len(c.CommonValues()) > 0 {
				t.Error("counted without being asked for")
			}
		})
	}
}

// Words for deaths and revisions are counted by rows, in whatever language and whatever
// is said of them.
func TestWordsForDeathsAndRevisions(t *testing.T) {
	c := mustRead(t, cohort.Options{EveryColumn: true}, table("operation_date,revision_date,Comments", "2020-01-01,,RIP 2021", "2020-01-01,,pt died 12.11.2020 after revision",
		"2020-01-01,,poly exchange elsewhere", "2020-01-01,,Verstorben", "2020-01-01,,deadline", "2020-01-01,,décédé", "2020-01-01,,doing well", "2020-01-01,,"))
	if got := c.CommonValues()[0]; got.Deaths != 4 || got.Revisions != 2 {
		t.Errorf("%+v", got)
	}
}

// Headings that name what identifies are not looked into, nor those that are
// understood or left out.
func TestValuesNotCounted(t *testing.T) {
	c := mustRead(t, cohort.Options{EveryColumn: true, Columns: map[string]string{"Colour": ""}}, table("operation_date,revision_date,Surname,joint_id,NHS number,Colour,sex,Mrs Testa 3/4/1950,,diagnosis",
		"2020-01-01,,a,b,c,d,F,x,y,OA", "2020-01-01,,a,b,c,d,F,x,y,OA"))
	if got := c.CommonValues(); len(got) > 0 {
		t.Errorf("%+v", got)
	}
}

// Whatever the number of decoders, and never more than 200 values, of which five are shown.
func TestValuesOfManyRows(t *testing.T) {
	lines := []string{"operation_date,revision_date,few,just,many"}
	for i := range 40_000 {
		lines = append(lines, fmt.Sprintf("2020-01-01,,%c,x%d,y%d", 'a'+i%7*i%3, i%200, i%201))
	}
	text := table(lines...)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	var want []cohort.CommonValues
	for _, n := range []int{1, 2, 8} {
		runtime.GOMAXPROCS(n)
		got := mustRead(t, cohort.Options{EveryColumn: true}, text).CommonValues()
		if want == nil {
			want = got
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%d processors (-1 +got):\n%s", n, d)
		}
	}
	if want[0].Looks != "" || want[1].Looks != "" || len(want[1].Values) != 5 || want[2].Looks != "many different values" || want[2].Values != nil {
		t.Errorf("%+v", want)
	}
}
