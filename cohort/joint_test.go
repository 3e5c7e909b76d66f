package cohort_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival"
)

// The curves of a sample are those of the tally, to the bit, under any endpoint
// and in any part of a cohort.
func TestSampleGivesTheCurvesOfTheTally(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table(mess(newRand(3), 5000)...))
	for _, e := range []cohort.Endpoint{{}, {LostRevised: true}, {Reasons: []string{"infection"}}} {
		for _, where := range [][]cohort.Condition{nil, {{Column: "joint", Value: "hip"}}, {{Column: "joint", Value: "knee"}, {Column: "side", Value: "left"}}} {
			part, err := c.Where(where...)
			if err != nil {
				t.Fatal(err)
			}
			sample, err := part.Sample(e)
			if err != nil {
				t.Fatal(err)
			}
			groups := mustTally(t, part, nil, e)
			all, err := groups.Set.Collapse()
			if err != nil {
				t.Fatal(err)
			}
			for _, counts := range all.All() {
				causes := counts.Causes()
				fromSample, err := survival.NewTable(sample, causes)
				if err != nil {
					t.Fatal(err)
				}
				for cause := 1; cause <= causes; cause++ {
					for _, estimate := range []func(*survival.Table, int) (*survival.Curve, error){survival.KaplanMeier, survival.CumulativeIncidence} {
						want, err := estimate(counts.Table(), cause)
						if err != nil {
							t.Fatal(err)
						}
						got, err := estimate(fromSample, cause)
						if err != nil {
							t.Fatal(err)
						}
						for _, years := range []float64{1, 5, 10} {
							x, _ := want.At(cohort.DayOfYear(years), survival.Interval{})
							y, _ := got.At(cohort.DayOfYear(years), survival.Interval{})
							if d := cmp.Diff(x, y); d != "" {
								t.Errorf("%v %v, cause %d, %v years: %s", e, where, cause, years, d)
							}
						}
					}
				}
			}
		}
	}
}

// A part of a cohort is the joints that a filter leaves, and the fates of the
// parts by one column add up to those of the whole.
func TestWhereFiltersJoints(t *testing.T) {
	c := mustRead(t, cohort.Options{Keep: []string{"sex"}}, table(mess(newRand(4), 3000)...))
	list := func(c *cohort.Cohort) []cohort.Joint {
		joints, err := c.Joints(cohort.Endpoint{}, "side", "age_band")
		if err != nil {
			t.Fatal(err)
		}
		all := slices.Collect(joints)
		for i := range all {
			all[i].Patient = 0 // numbered anew in each part
		}
		return all
	}
	whole := list(c)
	var read, used int
	reasons := make(map[cohort.Reason]int)
	sides := []string{cohort.NotRecorded}
	for _, column := range c.Words() {
		for _, w := range column.Words {
			if column.Column == "side" && !slices.Contains(sides, w.Value) {
				sides = append(sides, w.Value)
			}
		}
	}
	for _, side := range sides {
		part, err := c.Where(cohort.Condition{Column: "side", Value: side})
		if err != nil {
			t.Fatal(err)
		}
		a := part.Account()
		read, used = read+a.Read, used+a.Used
		for _, r := range slices.Concat(a.Reasons, a.Warnings) {
			reasons[r.Reason] += r.Rows
		}
		var want []cohort.Joint
		for _, j := range whole {
			if j.Values[0] == side {
				want = append(want, j)
			}
		}
		if d := cmp.Diff(want, list(part)); d != "" {
			t.Errorf("%s: %s", side, d)
		}
		again, err := part.Where(cohort.Condition{Column: "age_band", Value: "75+"})
		if err != nil {
			t.Fatal(err)
		}
		want = slices.DeleteFunc(want, func(j cohort.Joint) bool { return j.Values[1] != "75+" })
		if d := cmp.Diff(want, list(again)); d != "" {
			t.Errorf("%s, 75 and over: %s", side, d)
		}
	}
	a := c.Account()
	if read != a.Read || used != a.Used {
		t.Errorf("%d read and %d used in parts, %d and %d in all", read, used, a.Read, a.Used)
	}
	for _, r := range slices.Concat(a.Reasons, a.Warnings) {
		if reasons[r.Reason] != r.Rows {
			t.Errorf("%v: %d in parts, %d in all", r.Reason, reasons[r.Reason], r.Rows)
		}
	}
}

// A joint has the age its age band is of, and a field the values its joints have,
// in the order of the tally.
func TestJointsHaveAgesAndValues(t *testing.T) {
	c := mustRead(t, cohort.Options{AgeBands: []int{60, 70}}, table(mess(newRand(5), 2000)...))
	joints, err := c.Joints(cohort.Endpoint{}, "age_band", "Side")
	if err != nil {
		t.Fatal(err)
	}
	without := 0
	for j := range joints {
		want := cohort.NotRecorded
		switch {
		case j.Age >= 70:
			want = "70+"
		case j.Age >= 60:
			want = "60-69"
		case j.Age >= 0:
			want = "<60"
		default:
			without++
		}
		if j.Values[0] != want {
			t.Fatalf("age %d in band %s", j.Age, j.Values[0])
		}
	}
	if without == 0 {
		t.Error("every age is known: nothing is shown of those that are not")
	}
	field, err := c.Field("Laterality")
	if err != nil || field != "side" {
		t.Errorf("Laterality is %q, %v", field, err)
	}
	values, err := c.Values("side") // "bilateral" stands in rows set aside only
	if d := cmp.Diff([]string{"left", "right", "(free text 1: 3 characters)", cohort.NotRecorded}, values); d != "" || err != nil {
		t.Errorf("%s, %v", d, err)
	}
	if _, err := c.Values("no such"); err == nil {
		t.Error("values of no field")
	}
	if !cohort.Outcome("revision_reason") || cohort.Outcome("bearing") {
		t.Error("a reason for revision is known only afterwards, a bearing before")
	}
}

// What became of joints after their first revision: the next one on a later day, of
// a table of revisions or of operations; else death, else the day last seen or the
// closing date, 2020-12-31.
func TestRerevisions(t *testing.T) {
	primaries := source("primaries.csv", "patient,joint,side,operation_date,revision_date,death_date,last_seen_date,bearing",
		"A,hip,L,2010-01-01,,,,MoP",                     // revised twice, the second recorded twice
		"B,hip,L,2010-01-01,2012-01-01,2015-01-01,,MoP", // revised, and died
		"C,hip,L,2010-01-01,2012-01-01,,2013-01-01,CoC", // revised, and seen a year later
		"D,hip,L,2010-01-01,2020-12-31,,,CoC",           // revised on the closing date
		"E,hip,L,2010-01-01,2012-01-01,,,CoC",           // its revision again in the other table, and one after the closing date
		"F,hip,L,2010-01-01,,,,MoP",
		"G,hip,L,2010-01-01,2012-01-01,,2011-01-01,MoP") // last seen before the revision
	revisions := source("revisions.csv", "patient,joint,side,revision_date,revision_reason",
		"A,hip,L,2014-01-01,infection", "A,hip,L,2012-01-01,pain", "A,hip,L,2016-01-01,infection", "E,hip,L,2012-01-01,pain", "E,hip,L,2021-03-01,pain")
	closing := day("2020-12-31")
	c, err := cohort.Read(t.Context(), []cohort.Source{primaries}, cohort.Options{ClosingDate: &closing, Today: day(today), Revisions: []cohort.Source{revisions}})
	if err != nil {
		t.Fatal(err)
	}
	got, err := c.Rerevisions("bearing")
	if err != nil {
		t.Fatal(err)
	}
	want := []cohort.Rerevision{
		{Row: 2, Days: 731, Cause: cohort.CauseRevision, Values: []string{"metal-on-polyethylene"}}, // 2012-01-01 to 2014-01-01
		{Row: 3, Days: 1096, Cause: cohort.CauseDeath, Values: []string{"metal-on-polyethylene"}},
		{Row: 4, Days: 366, Values: []string{"ceramic-on-ceramic"}},
		{Row: 5, Days: 0, Values: []string{"ceramic-on-ceramic"}},
		{Row: 6, Days: 3287, Values: []string{"ceramic-on-ceramic"}}, // 2012-01-01 to 2020-12-31
		{Row: 8, Days: 0, Values: []string{"metal-on-polyethylene"}},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	reasons := map[int]string{2: "pain", 3: cohort.NotRecorded, 6: "pain", 7: ""}
	joints, err := c.Joints(cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	for j := range joints {
		if want, asked := reasons[j.Row]; asked && j.Reason != want {
			t.Errorf("row %d: reason %q, want %q", j.Row, j.Reason, want)
		}
	}
	part, err := c.Where(cohort.Condition{Column: "bearing", Value: "CoC"})
	if err != nil {
		t.Fatal(err)
	}
	if got, err := part.Rerevisions(); err != nil || len(got) != 3 {
		t.Errorf("%d of the part, %v", len(got), err)
	}
}

// Joints whose follow-up is assumed are those that the account counts.
func TestJointsAssumed(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table(mess(newRand(5), 3000)...))
	joints, err := c.Joints(cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	assumed := 0
	for j := range joints {
		if j.Assumed {
			assumed++
			if j.Cause != 0 {
				t.Errorf("row %d ended by %d, its follow-up assumed", j.Row, j.Cause)
			}
		}
	}
	if want := c.Account().Assumed; assumed != want || want == 0 {
		t.Errorf("%d joints, the account has %d", assumed, want)
	}
}
