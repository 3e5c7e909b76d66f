package cohort_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// What a heading means may hang on what stands below it.
func TestHeadingsByTheirCells(t *testing.T) {
	for _, test := range []struct {
		name, heading string
		cells         [4]string
		want          string
	}{
		{"patients", "Pat", [4]string{"A12", "A13", "A14", "A12"}, "patient"},
		{"the patella", "Pat", [4]string{"Y", "N", "Y", "Y"}, ""},
		{"the patella in words", "Pat", [4]string{"resurfaced", "not", "not", "resurfaced"}, ""},
		{"the joint", "H/K", [4]string{"H", "K", "h", "Hip"}, "joint"},
		{"something else", "H/K", [4]string{"high", "low", "high", "low"}, ""},
		{"how the cup is fixed", "Cup", [4]string{"Cem", "Uncem", "", "cemented"}, "cup_fixation"},
		{"a maker", "Cup", [4]string{"Examplar", "Examplar", "", "Prototype"}, ""},
		{"how the stem is fixed", "Stem", [4]string{"uncem", "Uncem", "HA", "cem"}, "stem_fixation"},
		{"cup and stem in one cell", "Cup/Stem", [4]string{"Cem/Uncem", "Uncem / Uncem", "", "cem/cem"}, "fixation"},
		{"one word for cup and stem", "Stem / cup", [4]string{"Cem", "hybrid", "Uncem", "uncemented"}, "fixation"},
		{"makers of both", "Cup/Stem", [4]string{"Examplar/Prototype", "Prototype/Prototype", "", "Examplar"}, ""},
		{"two words as a heading", "Cem/Uncem", [4]string{"Cem", "Uncem", "Uncem", ""}, "fixation"},
		{"deaths", "DOD", [4]string{"2019-01-02", "", "", "2021-05-06"}, "death_date"},
		{"discharges", "DOD", [4]string{"2019-01-02", "2018-01-01", "2018-02-01", ""}, ""},
		{"no days", "DOD", [4]string{"home", "", "", ""}, ""},
		{"nothing", "Cup", [4]string{}, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			rows := []string{"Op date,Rev date," + test.heading}
			for _, cell := range test.cells {
				rows = append(rows, "2018-01-01,,"+cell)
			}
			c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-01-01")}, table(rows...))
			if got := c.Files[0].Headings[2].Column; got != test.want {
				t.Errorf("taken for %q, want %q", got, test.want)
			}
		})
	}
}

// Of two words in one cell that differ nobody knows which is the cup's: they are a
// question, and no fixation is made of them.
func TestTwoFixationsInOneCell(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-01-01")}, table("Op date,Rev date,Joint,Procedure,Cup/Stem",
		"2018-01-01,,hip,THR,Cem/Uncem", "2018-01-01,,hip,THR,Cem/Cem", "2018-01-01,,hip,THR,Uncem/uncem", "2018-01-01,,hip,THR,hybrid"))
	want := map[string]int64{"hip|total|Cem/Uncem": 1, "hip|total|cemented": 1, "hip|total|porous": 1, "hip|total|hybrid": 1}
	if d := cmp.Diff(want, joints(mustTally(t, c, []string{"fixation"}, cohort.Endpoint{}).Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if w := word(t, c, "fixation", "Cem/Uncem"); w.Known {
		t.Errorf("%+v", w)
	}
}

// A heading that names a column outright goes before one that may be it.
func TestAHeadingThatMayBeGivesWay(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-01-01")}, table("Op date,Rev date,Pat,Hosp No", "2018-01-01,,A1,7", "2018-01-01,,A2,8", "2018-01-01,,A3,9"))
	if h := c.Files[0].Headings; h[2].Column != "" || h[3].Column != "patient" {
		t.Errorf("%+v", h)
	}
}

// So does one in short, wherever it stands; of two in short the first is taken.
func TestAHeadingInShortGivesWay(t *testing.T) {
	for _, test := range []struct{ headings, want string }{
		{"Op date,Rev date,Jt,Joint replaced", "operation_date,revision_date,,joint"},
		{"Op date,Rev date,Joint replaced,Jt", "operation_date,revision_date,joint,"},
		{"Op date,Rev date,Jt,Brg", "operation_date,revision_date,joint,bearing"},
		{"Op date,Rev date,Dx,Diag", "operation_date,revision_date,diagnosis,"},
		{"Dt of op,Rev dt,Pt,Hosp No", "operation_date,revision_date,,patient"},
	} {
		c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-01-01")}, table(test.headings, "2018-01-01,,hip,hip"))
		var got []string
		for _, h := range c.Files[0].Headings {
			got = append(got, h.Column)
		}
		if got := strings.Join(got, ","); got != test.want {
			t.Errorf("%s: %s, want %s", test.headings, got, test.want)
		}
	}
}

// In a list of deaths the only heading that may be the day is the day.
func TestDeathsUnderAnyHeading(t *testing.T) {
	for _, heading := range []string{"DOD", "Died", "Date", "death", "RIP date"} {
		c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-01-01"), DeathLists: []cohort.Source{source("d.csv", "Hosp No,"+heading, "7,2019-01-01")}},
			table("Hosp No,Op date,Rev date", "7,2018-01-01,"))
		if d := cmp.Diff([]outcome{{365, cohort.CauseDeath}}, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
			t.Errorf("%s (-want +got):\n%s", heading, d)
		}
	}
}

// A range of ages stands for the bands it is made of.
func TestWhereAges(t *testing.T) {
	text := table("operation_date,revision_date,age", "2020-01-01,,50", "2020-01-01,,54", "2020-01-01,,60", "2020-01-01,,70", "2020-01-01,,80")
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2022-01-01")}, text)
	for value, want := range map[string]int{"<55": 2, "under 55": 2, "Under  55": 2, "<= 54": 2, "below 65": 3, "75+": 1, ">=75": 1, "over 74": 1, "65 and over": 2, "55-64": 1, "<75": 4} {
		part, err := c.Where(cohort.Condition{Column: "age_band", Value: value})
		if err != nil {
			t.Errorf("%s: %v", value, err)
			continue
		}
		if n := part.Account().Used; n != want {
			t.Errorf("%s: %d joints, want %d", value, n, want)
		}
	}
	_, err := c.Where(cohort.Condition{Column: "age_band", Value: "under 60"})
	wantError(t, err, "--age-bands 60", "<55, 55-64, 65-74, 75+")
}
