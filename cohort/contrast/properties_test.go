package contrast_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/contrast"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/cohort/internal/testvalues"
	"example.org/holdfast/survival/regress"
)

var everything = contrast.Options{Between: "bearing", Within: []string{"fixation", "sex"}, Adjust: []string{"fixation", "sex", "age"}, Gray: true}

// alike compares rows, numbers to some ten digits.
func alike(t *testing.T, got, want []contrast.Row) {
	t.Helper()
	near := cmp.Comparer(func(x, y float64) bool {
		return x == y || math.IsNaN(x) && math.IsNaN(y) || math.Abs(x-y) <= 1e-9*math.Max(.01, math.Abs(y))
	})
	if d := cmp.Diff(want, got, near); d != "" {
		t.Error(d)
	}
}

// The order of the rows of a table changes nothing.
func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	for _, patients := range []bool{false, true} {
		table := testaudit.Joints(t, patients)
		lines := strings.Split(strings.TrimSpace(table), "\n")
		want := run(t, testaudit.ReadClosed(t, table, cohort.Options{}), everything).Rows()
		rand.New(rand.NewPCG(7, 1)).Shuffle(len(lines)-1, func(i, j int) { lines[i+1], lines[j+1] = lines[j+1], lines[i+1] })
		alike(t, run(t, testaudit.ReadClosed(t, strings.Join(lines, "\n")+"\n", cohort.Options{}), everything).Rows(), want)
	}
}

// What groups are called changes nothing but their names and order.
func TestNamesOfGroupsDoNotMatter(t *testing.T) {
	table := testaudit.Joints(t, false)
	o := everything
	o.Against = groups[0]
	want := run(t, testaudit.ReadClosed(t, table, cohort.Options{}), o).Rows()
	swap := strings.NewReplacer(groups[0], groups[2], groups[2], groups[0])
	o.Against = groups[2]
	got := run(t, testaudit.ReadClosed(t, swap.Replace(table), cohort.Options{}), o).Rows()
	for i := range got {
		got[i].Group, got[i].Against = swap.Replace(got[i].Group), swap.Replace(got[i].Against)
		for n := range got[i].Notes {
			got[i].Notes[n] = swap.Replace(got[i].Notes[n])
		}
	}
	order := func(a, b contrast.Row) int {
		return strings.Compare(a.Item+"|"+a.Group+"|"+a.Estimand+"|"+strconv.FormatFloat(a.Years, 'f', 3, 64), b.Item+"|"+b.Group+"|"+b.Estimand+"|"+strconv.FormatFloat(b.Years, 'f', 3, 64))
	}
	slices.SortFunc(want, order)
	slices.SortFunc(got, order)
	alike(t, got, want)
}

// Against another group, its difference and ratio turn over.
func TestAgainstTurnsOver(t *testing.T) {
	c := testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{})
	o := everything
	o.Against = groups[0]
	first := run(t, c, o)
	o.Against = groups[1]
	second := run(t, c, o)
	for _, years := range []float64{1, 3, 5, 10} {
		a, b := row(t, first, "difference", groups[1], years, "1-KM"), row(t, second, "difference", groups[0], years, "1-KM")
		testvalues.Near(t, "difference", a.Value, -b.Value)
		testvalues.Near(t, "lower", a.Lower, -b.Upper)
	}
	testvalues.Near(t, "ratio", math.Log(row(t, first, "hazard ratio", groups[1], 0, "").Value), -math.Log(row(t, second, "hazard ratio", groups[0], 0, "").Value))
	testvalues.Near(t, "log likelihood", row(t, first, "loglik", "", 0, "").Value, row(t, second, "loglik", "", 0, "").Value)
	testvalues.Near(t, "log-rank", row(t, first, "logrank", "", 0, "").Value, row(t, second, "logrank", "", 0, "").Value)
}

// Observed and expected have one sum, of all strata together too, and strata of one
// word are no strata.
func TestExpectedAddsUp(t *testing.T) {
	for _, table := range []string{testaudit.Joints(t, false), testaudit.FewJoints(t)} {
		k := run(t, testaudit.ReadClosed(t, table, cohort.Options{}), contrast.Options{Between: "bearing", Within: []string{"sex", "age_band"}})
		sums := make(map[string]float64)
		for _, r := range k.Rows() {
			sums[r.Item] += r.Value
		}
		testvalues.Near(t, "expected", sums["expected"], sums["observed"])
		testvalues.Near(t, "expected within", sums["expected within"], sums["observed"])
		testvalues.Near(t, "revised", sums["revised"], sums["observed"])
		constant := run(t, testaudit.ReadClosed(t, table, cohort.Options{}), contrast.Options{Between: "bearing", Within: []string{"side"}})
		testvalues.Near(t, "one stratum", constant.Parts[0].Within.ChiSquare.Value, constant.Parts[0].LogRank.ChiSquare.Value)
	}
}

// manySites are 3,000 joints of eight hospitals and many ages, 86 of them revised and none
// of those of the last hospital.
func manySites(without bool) string {
	var b strings.Builder
	b.WriteString("operation_date,joint,procedure,bearing,fixation,sex,hospital,age,revision_date,death_date\n")
	rng := rand.New(rand.NewPCG(4, 4))
	bearings, fixations := []string{"CoC", "MoP", "CoP"}, []string{"cemented", "porous", "hybrid"}
	for i := range 3000 {
		site, revised := rng.IntN(8), ""
		bearing, fixation, sex, age, days := bearings[rng.IntN(3)], fixations[rng.IntN(3)], "FM"[i%2], 45+rng.IntN(40), rng.IntN(3000)
		if site < 7 && i%29 == 0 {
			revised = cohort.Day(10957 + days).String() // from 2000-01-01
		}
		if site < 7 || !without {
			fmt.Fprintf(&b, "2000-01-01,hip,THR,%s,%s,%c,site %d,%d,%s,\n", bearing, fixation, sex, site, age, revised)
		}
	}
	return b.String()
}

// Where the covariates have so many patterns that profiles of the penalised likelihood
// would take minutes, joints with a word of which nobody is revised are left out, and
// the rest have the ratios that they have by themselves, which is said.
func TestModelTooHeavyToPenalise(t *testing.T) {
	of := func(without bool, age string) *contrast.Model {
		c := testaudit.ReadClosed(t, manySites(without), cohort.Options{Keep: []string{"hospital"}})
		return run(t, c, contrast.Options{Between: "bearing", Adjust: []string{"hospital", "fixation", "sex", age}, Periods: []float64{}}).Parts[0].Model
	}
	m, apart := of(false, "age"), of(true, "age")
	if d := cmp.Diff("86 revised, 12 coefficients, few revisions for some: too many joints to penalise, so that limits are approximate; left out, since nobody is revised: hospital site 7", m.Chosen); d != "" || m.Kind != regress.ProportionalHazards || m.Refused != "" {
		t.Errorf("%v %q: %s", m.Kind, m.Refused, d)
	}
	if m.Joints != apart.Joints || m.Joints >= 3000 || m.Revised != apart.Revised {
		t.Errorf("%d joints, %d revised; by themselves %d and %d", m.Joints, m.Revised, apart.Joints, apart.Revised)
	}
	if d := cmp.Diff(apart.Ratios, m.Ratios, cmpopts.EquateApprox(1e-9, 0), cmpopts.EquateNaNs()); d != "" {
		t.Error(d)
	}
	for _, r := range append(m.Ratios, m.Covariates...) {
		if !(r.Lower > 0 && r.Lower <= r.Ratio && r.Ratio <= r.Upper && r.Upper < 100) || r.Word == "site 7" {
			t.Errorf("%+v", r)
		}
	}
}

// With few revisions the likelihood is penalised, and a group without any is said.
func TestModelByNumberOfRevisions(t *testing.T) {
	few := testaudit.ReadClosed(t, testaudit.FewJoints(t), cohort.Options{}) // 6 revisions
	m := run(t, few, contrast.Options{Between: "bearing"}).Parts[0].Model
	if m.Kind != regress.Penalised || m.Refused != "" {
		t.Errorf("%v %s", m.Kind, m.Refused)
	}
	for _, r := range m.Ratios {
		if r.Separated != (r.Word == groups[2]) {
			t.Errorf("%s: separated %v", r.Word, r.Separated)
		}
	}
	if d := cmp.Diff("few revisions (6 for 2 coefficients): penalised estimates (Firth), limits by profile", m.Chosen); d != "" {
		t.Error(d)
	}
	m = run(t, few, contrast.Options{Between: "bearing", Adjust: []string{"sex"}}).Parts[0].Model
	if d := cmp.Diff("6 revisions are too few for 3 coefficients, of which each needs 3: ratios without adjustment are as much as can be had. Observed and expected by group stand instead.", m.Refused); d != "" || m.Unfit {
		t.Error(d)
	}
	many := testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{})
	if m := run(t, many, everything).Parts[0].Model; m.Kind != regress.ProportionalHazards || m.Proportional == nil || len(m.Periods) != 3 {
		t.Errorf("%v, %d periods", m.Kind, len(m.Periods))
	}
}

// Groups are shown together at the latest year at which enough of the one that the others are
// read against are at risk: of 120 hips of women for six years, though the men's 180 are for sixteen.
func TestYearOfTheGroupReadAgainst(t *testing.T) {
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,procedure,sex,revision_date\n")
	for i := range 300 {
		sex, day, revised := "F", "2014-01-01", ""
		if i >= 120 {
			sex, day = "M", "2004-01-01"
		}
		if i%10 == 0 {
			revised = "2014-06-01"
		}
		fmt.Fprintf(&b, "P%d,%s,hip,THR,%s,%s\n", i, day, sex, revised)
	}
	c := testaudit.ReadClosed(t, b.String(), cohort.Options{})
	for against, want := range map[string]float64{"female": 5, "male": 15} {
		k := run(t, c, contrast.Options{Between: "sex", Against: against})
		if got := k.Years[k.Parts[0].Year]; got != want {
			t.Errorf("against %s: at %v years, want %v", against, got, want)
		}
	}
}

// The file has the columns it is said to have, no NaN, and numbers that read back.
func TestFiles(t *testing.T) {
	k := run(t, testaudit.ReadClosed(t, testaudit.FewJoints(t), cohort.Options{}), contrast.Options{Between: "bearing", Years: []float64{1, 5, 50}})
	var text, object bytes.Buffer
	if err := contrast.WriteCSV(&text, k); err != nil {
		t.Fatal(err)
	}
	records, err := csv.NewReader(&text).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(contrast.Columns(), records[0]); d != "" {
		t.Error(d)
	}
	rows := k.Rows()
	if len(records) != len(rows)+1 {
		t.Fatalf("%d lines for %d rows", len(records), len(rows))
	}
	for i, r := range records[1:] {
		if x, err := strconv.ParseFloat(r[9], 64); r[9] != "" && (err != nil || x != rows[i].Value) || r[9] == "" && !math.IsNaN(rows[i].Value) {
			t.Errorf("line %d: %q for %v", i+2, r[9], rows[i].Value)
		}
		if slices.ContainsFunc(r, func(cell string) bool { return strings.Contains(cell, "NaN") || strings.Contains(cell, "Inf") }) {
			t.Errorf("line %d: %q", i+2, r)
		}
	}
	if err := contrast.WriteJSON(&object, k); err != nil {
		t.Fatal(err)
	}
	var d struct {
		Rows    []map[string]any
		Refused []string
	}
	if err := json.Unmarshal(object.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	if len(d.Rows) != len(rows) || d.Rows[0]["item"] != "joints" || d.Rows[0]["se"] != nil {
		t.Errorf("%d rows, %v", len(d.Rows), d.Rows[0])
	}
}

// What can't be compared is one sentence.
func TestRefused(t *testing.T) {
	c := testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{})
	for _, test := range []struct {
		o    contrast.Options
		want string
	}{
		{contrast.Options{}, "between which groups? Name a column, such as bearing"},
		{contrast.Options{Between: "side"}, "Hip, total: there is one group only, side left, and nothing to compare it with."},
		{contrast.Options{Between: "bearing", Adjust: []string{"side"}}, "Hip, total: the side is left in every joint, so it can't be adjusted for."},
		{contrast.Options{Between: "bearing", Within: []string{"sex", "sex"}}, "within sex: it is named twice"},
		{contrast.Options{Between: "bearing", Adjust: []string{"bearing"}}, "adjust for bearing: its groups are what is compared"},
	} {
		_, err := contrast.Run(c, test.o)
		var refused *contrast.RefusedError
		if !errors.As(err, &refused) || refused.Why != test.want {
			t.Errorf("%v, want %s", err, test.want)
		}
	}
}

// One sentence a joint and procedure, within age band and sex where the table has
// them: χ² 16.4867 on 2 degrees of freedom, p .000263, by survdiff of R 4.2.2 with
// strata.
func TestSentences(t *testing.T) {
	c := testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{})
	got, err := contrast.Sentences(c, "bearing", cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	want := []contrast.Sentence{{Joint: "hip", Procedure: "total", Within: []string{"age_band", "sex"}, Series: "3 of 10,000 such series", Revised: 79, Text: "If all groups by bearing had one revision rate within age band and sex, revisions would divide as unevenly as this in 3 of 10,000 such series."}}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if got, err := contrast.Sentences(c, "side", cohort.Endpoint{}); err != nil || len(got) != 0 { // one group
		t.Errorf("%v, %v", got, err)
	}
	if got, err := contrast.Sentences(testaudit.ReadClosed(t, testaudit.FewJoints(t), cohort.Options{}), "sex", cohort.Endpoint{}); err != nil || len(got) != 1 || !strings.Contains(got[0].Text, "within age band,") {
		t.Errorf("%v, %v", got, err)
	}
}
