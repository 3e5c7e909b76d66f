package cohort_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/cohort"
)

func TestHeadings(t *testing.T) {
	for _, test := range []struct {
		name     string
		headings string
		columns  map[string]string
		want     []cohort.Heading
	}{
		{"by name", "operation_date,revision_date", nil,
			[]cohort.Heading{{Typed: "operation_date", Column: "operation_date", How: cohort.ByName}, {Typed: "revision_date", Column: "revision_date", How: cohort.ByName}}},
		{"by name in another case, with space", " Operation_Date ,REVISION_DATE", nil,
			[]cohort.Heading{{Typed: "Operation_Date", Column: "operation_date", How: cohort.ByName}, {Typed: "REVISION_DATE", Column: "revision_date", How: cohort.ByName}}},
		{"by variants", "Date of operation,Date died (dd/mm/yyyy),revision date", nil,
			[]cohort.Heading{{Typed: "Date of operation", Column: "operation_date", How: cohort.ByVariant}, {Typed: "Date died (dd/mm/yyyy)", Column: "death_date", How: cohort.ByVariant}, {Typed: "revision date", Column: "revision_date", How: cohort.ByVariant}}},
		{"unmatched", "operation_date,revision_date,Cup maker", nil,
			[]cohort.Heading{{Typed: "operation_date", Column: "operation_date", How: cohort.ByName}, {Typed: "revision_date", Column: "revision_date", How: cohort.ByName}, {Typed: "Cup maker"}}},
		{"by the settings, before any other", "operation_date,When,side", map[string]string{"when": "revision_date", "Side": "hospital"},
			[]cohort.Heading{{Typed: "operation_date", Column: "operation_date", How: cohort.ByName}, {Typed: "When", Column: "revision_date", How: cohort.BySettings}, {Typed: "side", Column: "hospital", How: cohort.BySettings}}},
		{"left out", "operation_date,revision_date,side", map[string]string{"side": ""},
			[]cohort.Heading{{Typed: "operation_date", Column: "operation_date", How: cohort.ByName}, {Typed: "revision_date", Column: "revision_date", How: cohort.ByName}, {Typed: "side", How: cohort.LeftOut}}},
		{"unclear", "operation_date,revision_date,Date", nil,
			[]cohort.Heading{{Typed: "operation_date", Column: "operation_date", How: cohort.ByName}, {Typed: "revision_date", Column: "revision_date", How: cohort.ByName}, {Typed: "Date", Between: []string{"operation_date", "revision_date", "death_date", "last_seen_date"}}}},
		{"a name before a variant", "Date of operation,operation_date,revision_date", nil,
			[]cohort.Heading{{Typed: "Date of operation", How: cohort.OtherHeading}, {Typed: "operation_date", Column: "operation_date", How: cohort.ByName}, {Typed: "revision_date", Column: "revision_date", How: cohort.ByName}}},
		{"a variant after the name", "operation_date,Date of operation,revision_date", nil,
			[]cohort.Heading{{Typed: "operation_date", Column: "operation_date", How: cohort.ByName}, {Typed: "Date of operation", How: cohort.OtherHeading}, {Typed: "revision_date", Column: "revision_date", How: cohort.ByName}}},
		{"the settings before a name", "operation_date,Op,revision_date", map[string]string{"Op": "operation_date"},
			[]cohort.Heading{{Typed: "operation_date", How: cohort.OtherHeading}, {Typed: "Op", Column: "operation_date", How: cohort.BySettings}, {Typed: "revision_date", Column: "revision_date", How: cohort.ByName}}},
		{"two of the user's own", "operation_date,revision_date,x,x", nil,
			[]cohort.Heading{{Typed: "operation_date", Column: "operation_date", How: cohort.ByName}, {Typed: "revision_date", Column: "revision_date", How: cohort.ByName}, {Typed: "x"}, {Typed: "x"}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			row := strings.Repeat("2020-01-01,", strings.Count(test.headings, ",")+1)
			c := mustRead(t, cohort.Options{Columns: test.columns}, table(test.headings, row))
			if d := cmp.Diff(test.want, c.Files[0].Headings, cmpopts.EquateEmpty()); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

// Headings in two rows: one that is not clear takes the text above, also that of a cell
// which goes over several, where both name a column; so does one that is empty.
func TestHeadingsInTwoRows(t *testing.T) {
	for _, test := range []struct {
		name, upper, lower, want string
	}{
		{"a date of each", "Patient,,Operation,,Revision,,Status", "No,Age,Date,Side,Date,Why,", "Patient No|Age|Operation Date|Side|Revision Date|Why|Status"},
		{"one that is clear stays", "Patient,,First,,Last,", "Hosp No,Age,Op date,Side,Rev date,Rev date", "Hosp No|Age|Op date|Side|Rev date|Rev date"},
		{"a title is no heading", "Log of 2019,,,Ward 7,", "Hosp No,Op date,Rev date,Date,Date", "Hosp No|Op date|Rev date|Date|Date"},
		{"another names it", "Death,,,Operation,", "Date,Op date,Rev date,Date,Date", "Death Date|Op date|Rev date|Date|Date"},
	} {
		t.Run(test.name, func(t *testing.T) {
			row := strings.Repeat("2020-01-01,", strings.Count(test.lower, ",")) + "x"
			c, err := cohort.Read(t.Context(), []cohort.Source{source("t.csv", table(test.upper, test.lower, row))}, cohort.Options{EveryColumn: true})
			if c == nil {
				t.Fatal(err)
			}
			var got []string
			for _, h := range c.Files[0].Headings {
				got = append(got, h.Typed)
			}
			if got := strings.Join(got, "|"); got != test.want {
				t.Errorf("%s, want %s", got, test.want)
			}
		})
	}
}

func TestHeadingMatchWords(t *testing.T) {
	seen := make(map[string]bool)
	for m := cohort.Unmatched; m <= cohort.OtherHeading; m++ {
		if s := m.String(); s == "" || seen[s] {
			t.Errorf("%d: %q", m, s)
		} else {
			seen[s] = true
		}
	}
}

func TestTwoHeadingsForOneColumn(t *testing.T) {
	for _, test := range []struct {
		name, headings string
		columns        map[string]string
		want           cohort.TwoColumnsError
		message        string
	}{
		{"two variants", "Op date,Date of surgery,revision_date", nil, cohort.TwoColumnsError{File: "t1.csv", Column: "operation_date", First: "Op date", Second: "Date of surgery"},
			`t1.csv: the headings "Op date" and "Date of surgery" both mean operation_date`},
		{"one twice", "operation_date,operation_date,revision_date", nil, cohort.TwoColumnsError{File: "t1.csv", Column: "operation_date", First: "operation_date", Second: "operation_date"},
			`the heading "operation_date" stands twice`},
		{"two of the settings", "a,b,revision_date", map[string]string{"a": "operation_date", "b": "operation_date"}, cohort.TwoColumnsError{File: "t1.csv", Column: "operation_date", First: "a", Second: "b"},
			`the headings "a" and "b" both mean operation_date`},
	} {
		_, err := tryRead(t, cohort.Options{Columns: test.columns}, table(test.headings, "2020-01-01,2020-01-01,"))
		var two *cohort.TwoColumnsError
		if !errors.As(err, &two) {
			t.Errorf("%s: error %v", test.name, err)
			continue
		}
		if d := cmp.Diff(test.want, *two); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
		wantError(t, err, test.message)
	}
}

func TestMissingColumn(t *testing.T) {
	many := make([]string, 60)
	for i := range many {
		many[i] = fmt.Sprintf("c%d", i)
	}
	for _, test := range []struct {
		name, headings string
		column, near   string
		message        []string
	}{
		{"no revision date", "operation_date,side", "revision_date", "",
			[]string{"t1.csv: no column revision_date", `Headings found: "operation_date", "side".`}},
		{"nearest", "operation_date,revison_dates", "revision_date", "revison_dates", []string{`Nearest: "revison_dates".`}},
		{"unclear is not guessed", "Date,revision_date", "operation_date", "", []string{"no column operation_date", `"Date"`}},
		{"a screenful at most", "side," + strings.Join(many, ","), "operation_date", "", []string{`"c38" and 21 more`}},
		{"none is known", "foo,bar", "operation_date", "", []string{"none of the 2 headings is known", "title lines"}},
		{"the only one is not known", "foo", "operation_date", "", []string{"its only heading is not known", "title lines"}},
		{"long headings are cut", "operation_date," + strings.Repeat("é", 100), "revision_date", "", []string{"é…"}},
	} {
		_, err := tryRead(t, cohort.Options{}, table(test.headings, "2020-01-01,"))
		var missing *cohort.MissingColumnError
		if !errors.As(err, &missing) {
			t.Errorf("%s: error %v", test.name, err)
			continue
		}
		if missing.Column != test.column || missing.Near != test.near || len(missing.Found) != strings.Count(test.headings, ",")+1 {
			t.Errorf("%s: %+v", test.name, missing)
		}
		wantError(t, err, test.message...)
		if len(err.Error()) > 1000 {
			t.Errorf("%s: a message of %d bytes", test.name, len(err.Error()))
		}
	}
}

// A column left out by the settings is not used, though its heading is known.
func TestLeftOutColumn(t *testing.T) {
	c := mustRead(t, cohort.Options{Columns: map[string]string{"death_date": ""}}, table("operation_date,revision_date,side,death_date", "2020-01-01,,left,2020-02-01"))
	if c.HasColumn("death_date") || c.Deaths().Column {
		t.Error("the column left out is there")
	}
	if d := cmp.Diff([]outcome{{0, 0}}, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// Tables with other headings in another order, and with other columns, go
// together.
func TestTablesOfDifferentShape(t *testing.T) {
	o := cohort.Options{ClosingDate: dayPointer("2020-12-31")}
	c := mustRead(t, o,
		table("operation_date,revision_date,joint,procedure,side,bearing", "2020-01-01,2020-01-31,hip,THR,left,CoC", "2020-01-01,,hip,THR,right,MoP"),
		table("Procedure,Date of death,Side,Date of operation;,Date of revision,age", "total hip,2020-03-01,L,2020-01-01,,70"))
	want := map[string]int64{
		"hip|total|metal-on-polyethylene|not recorded": 1,
		"hip|total|ceramic-on-ceramic|not recorded":    1,
		"hip|total|not recorded|65-74":                 1,
	}
	if d := cmp.Diff(want, joints(mustTally(t, c, []string{"bearing", "age_band"}, cohort.Endpoint{}).Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if d := cmp.Diff([]outcome{{30, cohort.CauseRevision}, {60, cohort.CauseDeath}, {365, 0}}, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if len(c.Files) != 2 || c.Files[1].Name != "t2.csv" || c.Files[0].Rows != 2 || c.Files[1].Rows != 1 {
		t.Errorf("files %+v", c.Files)
	}
}
