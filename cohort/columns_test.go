package cohort_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/column"
)

// departmentTable has the columns that a department records, as people type
// them, under headings as they type those.
var departmentTable = table(`operation_date,revision_date,joint,procedure,Indication,Activity level,ASA grade,BMI (kg/m2),Smoker,Surgical approach,Technique,Surgeon grade,Head size (mm)`,
	`2020-01-01,,hip,THR,OA L hip,low,II,"27,4",ex-smoker,Post,nav,ST6 (consultant scrubbed),32mm`,
	`2020-01-01,,hip,THR,osteo-arthritis,7,ASA 2,27.9,former,posterior approach,Navigation,Registrar supervised,32`,
	`2020-01-01,,hip,THR,OA secondary to DDH,6.5,3E,18.4,No,DAA,robot-assisted,Cons,36 mm +4`,
	`2020-01-01,,hip,THR,OA / AVN,?,N/A,99,n/k,?,-,?,0`,
	`2020-01-01,,hip,THR,#NOF,H,"2,0",8,20/day,through a window,yes,boss,28/36`)

// Each of those columns is grouped by in canonical order, what is not understood
// as typed after it, and what is not recorded last.
func TestColumnsOfADepartment(t *testing.T) {
	want := map[string][]string{
		column.Diagnosis: {"osteoarthritis", "fracture", "dysplasia or childhood hip disease", "OA / AVN", cohort.NotRecorded},
		column.Activity:  {"low", "high", "6.5", "7", cohort.NotRecorded},
		column.ASA:       {"2", "3", cohort.NotRecorded},
		column.BMI:       {"<18.5", "25-29.9", cohort.NotRecorded},
		column.Smoking:   {"former", "non-smoker", "20/day", cohort.NotRecorded},
		column.Approach:  {"posterior", "anterior", "through a window", cohort.NotRecorded},
		column.Technique: {"navigated", "robotic-assisted", "yes", cohort.NotRecorded},
		column.Grade:     {"consultant", "trainee supervised", "boss", cohort.NotRecorded},
		column.HeadSize:  {"32", "36", "28/36", cohort.NotRecorded},
	}
	c := mustRead(t, cohort.Options{EveryColumn: true}, departmentTable)
	for name, levels := range want {
		if d := cmp.Diff(levels, levelsOf(t, c, name)); d != "" {
			t.Errorf("%s (-want +got):\n%s", name, d)
		}
		if !slices.Contains(cohort.CaseMix(), name) {
			t.Errorf("%s is not in the case mix", name)
		}
	}
	if d := cmp.Diff([]cohort.Problem{{Row: 6, Column: "bmi", Reason: cohort.BMIOutOfRange}}, slices.DeleteFunc(c.Warnings(), func(p cohort.Problem) bool { return p.Reason == cohort.SideMissing })); d != "" {
		t.Errorf("warnings (-want +got):\n%s", d)
	}
	for _, condition := range []cohort.Condition{{Column: "ASA grade", Value: "II"}, {Column: "bmi", Value: "27"}, {Column: "head_size", Value: "32 mm"}, {Column: "smoking", Value: "ex"}, {Column: "diagnosis", Value: "Coxarthrose"}} {
		part, err := c.Where(condition)
		if err != nil {
			t.Errorf("%v: %v", condition, err)
		} else if got := part.Account().Used; got < 1 || got > 3 {
			t.Errorf("%v: %d rows", condition, got)
		}
	}
}

// levelsOf are the values of a field, in order, of the joints in use.
func levelsOf(t *testing.T, c *cohort.Cohort, name string) []string {
	t.Helper()
	g, err := c.Tally([]string{name}, cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	return g.Set.Dimensions[2].Levels
}

func TestBandsOfNumbers(t *testing.T) {
	o := cohort.Options{Keep: []string{"activity", "bmi", "head_size"}, Bands: map[string][]float64{"activity": {4, 7}, "bmi": {20, 30}, "head_size": {36}}}
	c := mustRead(t, o, departmentTable)
	for name, levels := range map[string][]string{
		"activity":  {"low", "high", "4-6", "7+", cohort.NotRecorded},
		"bmi":       {"<20", "20-29.9", cohort.NotRecorded},
		"head_size": {"<36", "36+", "28/36", cohort.NotRecorded},
	} {
		if d := cmp.Diff(levels, levelsOf(t, c, name)); d != "" {
			t.Errorf("%s (-want +got):\n%s", name, d)
		}
	}
	part, err := c.Where(cohort.Condition{Column: "activity", Value: "5"})
	if err != nil || part.Account().Used != 1 {
		t.Errorf("%v", err)
	}
	_, err = tryRead(t, cohort.Options{Bands: map[string][]float64{"side": {1}}}, departmentTable)
	wantError(t, err, `there are no bands for column "side"; there are for head_size, activity, bmi`)
}

// However many different numbers a column has, its words are its bands.
func TestNumbersOfManyRows(t *testing.T) {
	lines := []string{"operation_date,revision_date,bmi"}
	for i := range 70_000 {
		lines = append(lines, fmt.Sprintf("2020-01-01,,%d.%05d", 15+i%30, i))
	}
	c := mustRead(t, cohort.Options{Keep: []string{"bmi"}}, table(lines...))
	if got := levelsOf(t, c, "bmi"); len(got) != 7 {
		t.Errorf("%q", got)
	}
	for _, w := range c.Words() {
		if w.Column == "bmi" && len(w.Words) != 6 {
			t.Errorf("%+v", w.Words)
		}
	}
}

// A person's name in one of the columns that have a vocabulary is not shown; in
// the column of diagnoses, which is open, none that looks like free text is.
func TestNamesInColumnsOfADepartment(t *testing.T) {
	for _, name := range []string{"activity", "asa", "bmi", "smoking", "approach", "technique", "grade", "head_size"} {
		c := mustRead(t, cohort.Options{Keep: []string{name}}, table("operation_date,revision_date,"+name, `2020-01-01,,"PERSONA, Test"`, "2020-01-01,,Test Persona", "2020-01-01,,485 777 3456"))
		if shown := fmt.Sprint(c.Words(), levelsOf(t, c, name)); strings.Contains(strings.ToLower(shown), "persona") || strings.Contains(shown, "777") {
			t.Errorf("%s: %s", name, shown)
		}
	}
}

// What the documentation says of adding a column holds: every column that the
// template lists is a heading, and each with words of its own can be grouped by,
// is understood by its own canonical words, and is named in the settings.
func TestEveryColumnOfWords(t *testing.T) {
	for _, described := range column.All() {
		if described.Kind != column.Words || described.Uses&column.Grouping == 0 || described.Name == column.Joint || described.Name == column.Procedure {
			continue
		}
		lines := []string{"operation_date,revision_date,joint,procedure," + strings.ToUpper(described.Name)}
		for _, word := range slices.Backward(described.Order) {
			lines = append(lines, "2020-01-01,,hip,total,"+word)
		}
		lines = append(lines, "2020-01-01,,hip,total,", "2020-01-01,,hip,total,zzz")
		o := cohort.Options{Keep: []string{described.Name}, Words: map[string]map[string]string{described.Name: {"zzz": described.Order[0]}}}
		c := mustRead(t, o, table(lines...))
		levels := levelsOf(t, c, described.Name)
		want := append(slices.Clone(described.Order), cohort.NotRecorded)
		if described.Name == column.Side { // both sides are two joints, and set aside
			want = []string{"left", "right", "bilateral", cohort.NotRecorded}
		}
		if described.Name == column.Bearing { // those of a knee are no bearings of a hip
			levels, want = levels[:10], want[:10]
		}
		if d := cmp.Diff(want, levels); d != "" {
			t.Errorf("%s (-want +got):\n%s", described.Name, d)
		}
	}
}
