package cohort_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival/tally"
)

// Revisions for one reason: others and death compete. Operations are on
// 2020-01-01; 31 January is day 30, 1 March day 60, 31 March day 90.
func TestEndpointByReason(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-12-31")}, table("operation_date,revision_date,reason for revision,death_date",
		"2020-01-01,2020-01-31,infected,",
		"2020-01-01,2020-01-31,loosening of the cup,",
		"2020-01-01,2020-03-01,PJI,",
		"2020-01-01,2020-03-01,,",
		"2020-01-01,2020-03-31,gremlins,",
		"2020-01-01,,infection,2020-03-31",
		"2020-01-01,,,"))
	for _, test := range []struct {
		e      cohort.Endpoint
		want   []outcome
		name   string
		causes []string
	}{
		{cohort.Endpoint{}, []outcome{{30, 1}, {30, 1}, {60, 1}, {60, 1}, {90, 1}, {90, 2}, {365, 0}},
			"revision for any reason", []string{"revision for any reason", "death"}},
		{cohort.Endpoint{Reasons: []string{"infection"}}, []outcome{{30, 1}, {30, 3}, {60, 1}, {60, 3}, {90, 2}, {90, 3}, {365, 0}},
			"revision for infection", []string{"revision for infection", "death", "revision for another reason"}},
		{cohort.Endpoint{Reasons: []string{"infection", "aseptic loosening"}}, []outcome{{30, 1}, {30, 1}, {60, 1}, {60, 3}, {90, 2}, {90, 3}, {365, 0}},
			"revision for infection or aseptic loosening", []string{"revision for infection or aseptic loosening", "death", "revision for another reason"}},
		{cohort.Endpoint{Reasons: []string{"gremlins"}}, []outcome{{30, 3}, {30, 3}, {60, 3}, {60, 3}, {90, 1}, {90, 2}, {365, 0}},
			"revision for gremlins", []string{"revision for gremlins", "death", "revision for another reason"}},
		{cohort.Endpoint{Reasons: []string{"pain"}}, []outcome{{30, 3}, {30, 3}, {60, 3}, {60, 3}, {90, 2}, {90, 3}, {365, 0}},
			"revision for pain", []string{"revision for pain", "death", "revision for another reason"}},
	} {
		g := mustTally(t, c, nil, test.e)
		if d := cmp.Diff(test.want, allOutcomes(t, c, test.e)); d != "" {
			t.Errorf("%v (-want +got):\n%s", test.e, d)
		}
		if test.e.String() != test.name {
			t.Errorf("%q, want %q", test.e, test.name)
		}
		if d := cmp.Diff(test.causes, g.Set.Causes); d != "" {
			t.Errorf("%v (-want +got):\n%s", test.e, d)
		}
		for _, counts := range g.Set.All() {
			want := make(map[int]int64)
			for _, o := range test.want {
				want[o.Cause]++
			}
			for cause := range counts.Causes() + 1 {
				if counts.Total(cause) != want[cause] {
					t.Errorf("%v: %d of cause %d, want %d", test.e, counts.Total(cause), cause, want[cause])
				}
			}
		}
	}
}

func TestParseReason(t *testing.T) {
	if r, ok := cohort.ParseReason("loose cup"); r != "aseptic loosening" || !ok {
		t.Errorf("%q, %v", r, ok)
	}
	if r, ok := cohort.ParseReason("gremlins"); r != "gremlins" || ok {
		t.Errorf("%q, %v", r, ok)
	}
}

func TestOperationYear(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,procedure", "2019-12-31,,THR", "2020-01-01,,THR", "2020-12-31,,THR"))
	want := map[string]int64{"hip|total|2019": 1, "hip|total|2020": 2}
	if d := cmp.Diff(want, joints(mustTally(t, c, []string{"Operation year"}, cohort.Endpoint{}).Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestTallyRefused(t *testing.T) {
	c := mustRead(t, cohort.Options{}, scopeTable)
	_, err := c.Tally([]string{"hopsital"}, cohort.Endpoint{})
	var unknown *cohort.UnknownFieldError
	if !errors.As(err, &unknown) {
		t.Fatalf("error %v", err)
	}
	want := cohort.UnknownFieldError{Wanted: "hopsital", Known: []string{"joint", "procedure", "bearing", "side", "age_band", "operation_year", "surgeon", "Cup maker"}}
	if d := cmp.Diff(want, *unknown); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	_, err = c.Tally([]string{"surgeon"}, cohort.Endpoint{})
	wantError(t, err, `column "surgeon" was not kept to group or select by`)
	for _, by := range [][]string{{"bearing", "Bearing"}, {"joint"}, {"side", "procedure"}} {
		_, err := c.Tally(by, cohort.Endpoint{})
		wantError(t, err, "named twice")
	}
	g := mustTally(t, c, []string{"side"}, cohort.Endpoint{})
	if _, _, err := g.Margin("bearing"); err == nil {
		t.Error("a margin by a field that was not tallied")
	}
}

// Reasons can't be told apart in a table that has none.
func TestEndpointWithoutReasons(t *testing.T) {
	c := mustRead(t, cohort.Options{}, scopeTable)
	_, err := c.Tally(nil, cohort.Endpoint{Reasons: []string{"infection"}})
	wantError(t, err, "revision_reason")
}

// randomTable is an invented table of n rows: patients with up to three joints,
// and missing values.
func randomTable(r *rand.Rand, n int) (string, []map[string]string) {
	pick := func(values ...string) string { return values[r.IntN(len(values))] }
	headings := []string{"patient", "operation_date", "joint", "procedure", "side", "bearing", "fixation", "sex", "age", "revision_date", "death_date", "revision_reason"}
	lines := []string{strings.Join(headings, ",")}
	var rows []map[string]string
	joints := make(map[string]int)
	for i := range n {
		op := day("2010-01-01") + cohort.Day(r.IntN(4000))
		row := map[string]string{
			"patient":        fmt.Sprintf("p%d", r.IntN(n/2+1)),
			"operation_date": op.String(),
			"joint":          pick("hip", "hip", "knee"),
			"procedure":      pick("total", "total", "resurfacing", ""),
			"side":           fmt.Sprintf("side%d", i), // so that no row is a repeat
			"bearing":        pick("ceramic-on-ceramic", "metal-on-polyethylene", "fixed", "glass", ""),
			"fixation":       pick("cemented", "porous", "hybrid", ""),
			"sex":            pick("female", "male"),
			"age":            pick("40", "55", "64", "70", "90", ""),
		}
		if r.IntN(20) == 0 {
			row["patient"] = ""
		}
		if joints[row["patient"]]++; joints[row["patient"]] > 6 {
			row["patient"] = fmt.Sprintf("q%d", i)
		}
		if r.IntN(4) == 0 {
			row["revision_date"] = (op + cohort.Day(r.IntN(3000))).String()
			row["revision_reason"] = pick("infection", "pain", "")
		}
		if r.IntN(4) == 0 {
			row["death_date"] = (op + cohort.Day(r.IntN(3000))).String()
		}
		rows = append(rows, row)
	}
	// A patient dies once, after the last operation.
	for _, row := range rows {
		died := row["death_date"]
		for _, other := range rows {
			if died != "" && row["patient"] != "" && other["patient"] == row["patient"] {
				died = max(died, other["operation_date"], other["death_date"])
			}
		}
		for _, other := range rows {
			if died != "" && row["patient"] != "" && other["patient"] == row["patient"] {
				other["death_date"] = died
			}
		}
	}
	for _, row := range rows {
		var cells []string
		for _, h := range headings {
			cells = append(cells, row[h])
		}
		lines = append(lines, strings.Join(cells, ","))
	}
	return table(lines...), rows
}

// Joints, patients, revisions and deaths of every group and margin equal those
// counted row by row into maps.
func TestMarginsAndPatients(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	fields := []string{"bearing", "fixation", "sex", "age_band", "operation_year"}
	band := map[string]string{"40": "<55", "55": "55-64", "64": "55-64", "70": "65-74", "90": "75+", "": cohort.NotRecorded}
	closing := day("2020-12-31")
	for size := range 60 {
		text, rows := randomTable(r, 1+4*size)
		parts := []string{text} // 2010 to 2029: later than the other tests' today
		if size%2 == 1 {        // in two tables
			lines := strings.SplitAfter(text, "\n")
			parts = []string{strings.Join(lines[:size], ""), lines[0] + strings.Join(lines[size:], "")}
		}
		c := mustRead(t, cohort.Options{ClosingDate: &closing, Today: day("2030-01-01")}, parts...)
		by := slices.Clone(fields)
		r.Shuffle(len(by), func(i, j int) { by[i], by[j] = by[j], by[i] })
		by = by[:1+r.IntN(len(by))]
		keep := by[:r.IntN(len(by)+1)]
		g := mustTally(t, c, by, cohort.Endpoint{})
		set, patients, err := g.Margin(keep...)
		if err != nil {
			t.Fatal(err)
		}

		type count struct{ Joints, Patients, Revised, Died int64 }
		want := make(map[string]count)
		seen := make(map[string]bool)
		for i, row := range rows {
			const never cohort.Day = math.MaxInt32
			op, rev, dead := day(row["operation_date"]), never, never
			if row["revision_date"] != "" {
				rev = day(row["revision_date"])
			}
			if row["death_date"] != "" {
				dead = day(row["death_date"])
			}
			if op > closing {
				continue
			}
			value := map[string]string{"age_band": band[row["age"]], "operation_year": row["operation_date"][:4]}
			for _, f := range []string{"joint", "procedure", "bearing", "fixation", "sex"} {
				if value[f] = row[f]; row[f] == "" {
					value[f] = cohort.NotRecorded
				}
			}
			key := []string{value["joint"], value["procedure"]}
			for _, f := range by {
				if slices.Contains(keep, f) {
					key = append(key, value[f])
				} else {
					key = append(key, "All")
				}
			}
			k := strings.Join(key, "|")
			n := want[k]
			n.Joints++
			who := k + "\n" + row["patient"]
			if row["patient"] == "" {
				who += fmt.Sprint(i)
			}
			if !seen[who] {
				seen[who] = true
				n.Patients++
			}
			switch {
			case rev <= closing:
				n.Revised++
			case dead <= closing:
				n.Died++
			}
			want[k] = n
		}
		got := make(map[string]count)
		for k, counts := range set.All() {
			got[names(set, k)] = count{counts.Subjects(), patients[k], counts.Total(cohort.CauseRevision), counts.Total(cohort.CauseDeath)}
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("%d rows by %v, kept %v (-want +got):\n%s", len(rows), by, keep, d)
		}
	}
}

// Without a patient column the number of patients is not known.
func TestPatientsNotNamed(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date", "2020-01-01,"))
	_, patients, err := mustTally(t, c, nil, cohort.Endpoint{}).Margin()
	if patients != nil || err != nil {
		t.Errorf("%v, %v", patients, err)
	}
}

// A value typed as "All" is a group, not the margin.
func TestValueCalledAll(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,procedure,bearing", "2020-01-01,,THR,All", "2020-01-01,,THR,MoM"))
	g := mustTally(t, c, []string{"bearing"}, cohort.Endpoint{})
	set, _, err := g.Margin()
	if err != nil {
		t.Fatal(err)
	}
	k := set.Keys()[0]
	if len(set.Keys()) != 1 || k.Level(2) != tally.All || set.Counts(k).Subjects() != 2 || g.Set.Len() != 2 {
		t.Errorf("margin %v, cells %v", joints(set), joints(g.Set))
	}
}

func TestTooManyValues(t *testing.T) {
	if testing.Short() {
		t.Skip("reads tables of 65,536 words")
	}
	const most = 1<<16 - 1
	text := func(n int) string {
		var b strings.Builder
		b.WriteString("operation_date,revision_date,note\n")
		for i := range n {
			fmt.Fprintf(&b, "2020-01-01,,note %d\n2020-01-01,,note %d\n", i, i)
		}
		return b.String()
	}
	o := cohort.Options{Keep: []string{"note"}}
	c := mustRead(t, o, text(most))
	if g := mustTally(t, c, []string{"note"}, cohort.Endpoint{}); g.Set.Len() != most {
		t.Errorf("%d groups", g.Set.Len())
	}
	_, err := tryRead(t, o, text(most+1))
	wantError(t, err, "column note has more than 65535 different values, the last in row ")
	mustRead(t, cohort.Options{}, text(most+1)) // nobody asked for it
}
