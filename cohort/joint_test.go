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
	if d := cmp.Diff([]string{"left", "right", "L/R", cohort.NotRecorded}, values); d != "" || err != nil {
		t.Errorf("%s, %v", d, err)
	}
	if _, err := c.Values("no such"); err == nil {
		t.Error("values of no field")
	}
	if !cohort.Outcome("revision_reason") || cohort.Outcome("bearing") {
		t.Error("a reason for revision is known only afterwards, a bearing before")
	}
}
