package cohort_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/cohort"
)

var nearly = cmp.Options{cmpopts.EquateNaNs(), cmpopts.EquateApprox(1e-12, 0)}

func mustFollowUp(t testing.TB, c *cohort.Cohort) []cohort.FollowUp {
	t.Helper()
	f, err := c.FollowUp()
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Worked by hand. Closing date 2020-01-01; hips of 2010-01-01 are followed for
// 3,652 days by then.
//
//	days  end                             at risk  G
//	 100  revised                            6     1
//	 365  last seen 2011-01-01               5     4/5
//	 731  died 2012-01-02                    4     4/5
//	1826  last seen 2015-01-01               3     8/15
//	3652  followed, no day last seen         2     4/15
//	3652  last seen 2019-12-01 is 3,621 days 2     (that comes first)
//
// So in order: 365 (4/5), 1826 (8/15), 3621 (4/15): the median is 3,621 days.
func TestFollowUpByHand(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, table(
		"operation_date,joint,procedure,revision_date,death_date,last_seen_date",
		"2010-01-01,hip,total,2010-04-11,,",
		"2010-01-01,hip,total,,,2011-01-01",
		"2010-01-01,hip,total,,2012-01-02,",
		"2010-01-01,hip,total,,,2015-01-01",
		"2010-01-01,hip,total,,,",
		"2010-01-01,hip,total,,,2019-12-01"))
	want := []cohort.FollowUp{{
		Joints: 6, Revised: 1, Died: 1,
		ImplantYears:   (100 + 365 + 731 + 1826 + 3652 + 3621) / 365.25,
		FirstOperation: day("2010-01-01"), LastOperation: day("2010-01-01"),
		MedianYears: 3621 / 365.25, LongestYears: 3652 / 365.25,
		Living: 4, Recent: 1, NeverSeen: 1, Lost: 2, LostPerRevised: 2, Assumed: 1,
	}}
	if d := cmp.Diff(want, mustFollowUp(t, c), nearly); d != "" {
		t.Error(d)
	}
}

// Half of the curve exactly, over an interval: the middle of it. Of four joints
// censored at 10, 20, 40 and 50 days G is 1/2 from day 20 to day 40: 30 days.
func TestFollowUpMedianInTheMiddle(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-02-20")}, table(
		"operation_date,joint,procedure,revision_date",
		"2020-02-10,hip,total,", "2020-01-31,hip,total,", "2020-01-11,hip,total,", "2020-01-01,hip,total,"))
	if got := mustFollowUp(t, c)[0].MedianYears * cohort.DaysPerYear; math.Abs(got-30) > 1e-9 {
		t.Errorf("median %v days, want 30", got)
	}
}

// A median that R's survfit gives on the reversed indicator (R survival 3.5.3):
//
//	days <- (1:40 * 97) %% 1009 + 300; end <- 1:40 %% 4
//	survfit(Surv(days, end != 1 & end != 2) ~ 1)   # 1 revised, 2 died
//
// with its median printed; likewise for the even rows alone, the knees.
func TestFollowUpAgainstSurvfit(t *testing.T) {
	lines := []string{"operation_date,joint,procedure,revision_date,death_date,last_seen_date"}
	for i := 1; i <= 40; i++ {
		end := (day("2015-01-01") + cohort.Day(i*97%1009+300)).String()
		joint := [...]string{"knee", "hip"}[i%2]
		switch i % 4 {
		case 1:
			lines = append(lines, fmt.Sprintf("2015-01-01,%s,total,%s,,", joint, end))
		case 2:
			lines = append(lines, fmt.Sprintf("2015-01-01,%s,total,,%s,", joint, end))
		default:
			lines = append(lines, fmt.Sprintf("2015-01-01,%s,total,,,%s", joint, end))
		}
	}
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-01")}, table(lines...))
	got := mustFollowUp(t, c)
	if len(got) != 3 || got[0].Joint != "" || got[1].Joint != "hip" || got[2].Joint != "knee" || got[2].Procedure != "total" {
		t.Fatalf("parts: %+v", got)
	}
	for i, want := range []float64{1056, 1056, 1076} {
		if d := got[i].MedianYears * cohort.DaysPerYear; math.Abs(d-want) > 1e-9 {
			t.Errorf("part %d: median %v days, want %v", i, d, want)
		}
	}
	if got[0].Joints != got[1].Joints+got[2].Joints || math.Abs(got[0].ImplantYears-got[1].ImplantYears-got[2].ImplantYears) > 1e-9 {
		t.Errorf("the parts do not add up: %+v", got)
	}
}

// Where the curve never reaches a half there is no median, and nothing to
// divide by where nobody is revised.
func TestFollowUpWithoutMedian(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, table(
		"operation_date,joint,procedure,revision_date",
		"2010-01-01,hip,total,2011-01-01", "2012-01-01,hip,total,2013-06-01"))
	if f := mustFollowUp(t, c)[0]; !math.IsNaN(f.MedianYears) || f.LostPerRevised != 0 || f.Living != 0 {
		t.Errorf("everybody revised: %+v", f)
	}
	c = mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, table("operation_date,joint,procedure,revision_date", "2010-01-01,hip,total,"))
	if f := mustFollowUp(t, c)[0]; !math.IsNaN(f.LostPerRevised) || f.NeverSeen != 1 {
		t.Errorf("nobody revised: %+v", f)
	}
}

// A death without a day is neither living nor lost; a revision after the
// closing date shows that the joint was followed to it.
func TestFollowUpOfWhomItKnows(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, table(
		"operation_date,joint,procedure,revision_date,dead,last_seen_date",
		"2010-01-01,hip,total,,yes,2012-01-01",
		"2010-01-01,hip,total,2021-01-01,,2012-01-01",
		"2018-06-01,hip,total,,,",
		"2010-01-01,hip,total,,,2018-01-02",  // 729 days before
		"2010-01-01,hip,total,,,2018-01-01",  // 730 days before
		"2010-01-01,hip,total,,,2017-12-31")) // 731 days before
	f := mustFollowUp(t, c)[0]
	if f.Joints != 6 || f.Living != 5 || f.Recent != 4 || f.NeverSeen != 0 || f.Lost != 1 || f.Lost != int64(c.Account().Lost) {
		t.Errorf("%+v, account lost %d", f, c.Account().Lost)
	}
}

func TestCompletenessByYear(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2020-01-01")}, table(
		"operation_date,joint,procedure,side,head,liner,birth_date,revision_date,revision_reason,last_seen_date",
		"2010-01-01,hip,total,left,metal,polyethylene,1940-05-01,2011-01-01,infection,",
		"2010-05-01,hip,total,,metal,polyethylene,,2012-01-01,,",
		"2010-06-01,hip,total,,,,,,,2019-12-01",
		"2012-01-01,hip,total,right,wonderstuff,polyethylene,nonsense,,,",
		"2013-01-01,hip,total,right,,,,2012-01-01,,")) // set aside
	want := cohort.YearlyCompleteness{Years: []int{2010, 2012}, Columns: []cohort.ColumnYears{
		{"side", "", []int{3, 1}, []int{1, 1}},
		{"bearing", "", []int{3, 1}, []int{2, 0}},
		{"age", "", []int{3, 1}, []int{1, 0}},
		{"revision_reason", "revised", []int{2, 0}, []int{1, 0}},
		{"last_seen_date", "neither revised nor dead", []int{1, 1}, []int{1, 0}},
	}}
	if d := cmp.Diff(want, c.CompletenessByYear()); d != "" {
		t.Error(d)
	}
}
