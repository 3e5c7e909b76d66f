package contrast_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/contrast"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/cohort/internal/testvalues"
	"example.org/holdfast/survival"
)

// Invented figures. 4.2 less 3.0 is 1.2, with limits of 4.0 to 4.5 and 2.9 to 3.2:
// 1.2 − √(.2² + .2²) to 1.2 + √(.3² + .1²).
const publishedPair = `source,joint,procedure,bearing,fixation,age_band,sex,years,revision_pct,lower_pct,upper_pct,estimand,citation
first,hip,total,metal-on-polyethylene,,,,5,3.0,2.9,3.2,1-KM,Invented first
first,hip,total,ceramic-on-polyethylene,,,,5,4.2,4.0,4.5,1-KM,Invented first
first,hip,total,ceramic-on-ceramic,,,female,5,9,8,10,1-KM,Invented first
first,hip,total,,,<55,,5,9,8,10,1-KM,Invented first
first,hip,total,,,75+,,5,2,,,1-KM,Invented first
other,hip,total,ceramic-on-ceramic,,,,5,6,5,7,1-KM,Invented other
other,knee,total,metal-on-polyethylene,,,,5,6,5,7,1-KM,Invented other
`

func TestPublishedPair(t *testing.T) {
	series, _, err := benchmark.Read(strings.NewReader(publishedPair), "published.csv")
	if err != nil {
		t.Fatal(err)
	}
	c := testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{})
	find := func(between, against string) (found []contrast.Row) {
		for _, r := range run(t, c, contrast.Options{Between: between, Against: against, Years: []float64{1, 5}, Published: series}).Rows() {
			if r.Item == "published difference" {
				found = append(found, r)
			}
		}
		return found
	}
	got := find("bearing", groups[0])
	if len(got) != 1 || got[0].Group != groups[1] || got[0].Against != groups[0] || got[0].Years != 5 || !cmp.Equal(got[0].Notes, []string{"first"}) {
		t.Fatalf("%+v", got)
	}
	testvalues.Near(t, "difference", got[0].Value, .012)
	testvalues.Near(t, "lower", got[0].Lower, .009171572875253806)
	testvalues.Near(t, "upper", got[0].Upper, .015162277660168378)
	// Of ages, one without limits.
	if got := find("age_band", "75+"); len(got) != 1 || got[0].Group != "<55" || got[0].Lower == got[0].Lower {
		t.Errorf("%+v", got)
	}
	if got := find("sex", "male"); len(got) != 0 {
		t.Errorf("%+v", got)
	}
}

// Observed and expected of the age bands that a source publishes add up to those of all
// joints, the largest difference first; so do the rows of the CSV. The ratio of all is of the sums, with
// Garwood's limits, since these figures are taken as exact.
func TestByStratum(t *testing.T) {
	const bands = `source,joint,procedure,age_band,years,revision_pct,estimand,citation
first,hip,total,<55,5,4.1111,1-KM,Invented first
first,hip,total,55-64,5,3.1111,1-KM,Invented first
first,hip,total,65-74,5,2.1111,1-KM,Invented first
first,hip,total,75+,5,1.1111,1-KM,Invented first
`
	series, _, err := benchmark.Read(strings.NewReader(bands), "published.csv")
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range series {
		s.Figures[0].Rounding = 0
	}
	k := run(t, testaudit.ReadClosed(t, testaudit.Joints(t, false), cohort.Options{}), contrast.Options{Between: "bearing", Published: series})
	sums := k.Parts[0].ByStratum
	if len(sums) != 1 || len(sums[0].Parts) != 4 || sums[0].Outside != 0 || !cmp.Equal(sums[0].By, []string{"age_band"}) {
		t.Fatalf("%+v", sums)
	}
	s := sums[0]
	observed, expected, last := 0.0, 0.0, math.Inf(1)
	for _, part := range s.Parts {
		observed, expected = observed+part.Observed, expected+part.Expected
		if e := math.Abs(part.Excess()); e > last {
			t.Errorf("%s stands after one with a smaller difference", part.Series.Stratum())
		} else {
			last = e
		}
	}
	if observed != s.Observed || observed < 50 || math.Abs(expected-s.Expected) > 1e-12 {
		t.Errorf("parts add up to %v and %v, want %v and %v", observed, expected, s.Observed, s.Expected)
	}
	lower, upper := survival.PoissonLimits(s.Observed, .95)
	testvalues.Near(t, "ratio", s.Ratio.Ratio, observed/expected)
	testvalues.Near(t, "lower", s.Lower, lower/expected)
	testvalues.Near(t, "upper", s.Upper, upper/expected)
	for item, want := range map[string]float64{"observed by stratum": observed, "expected by stratum": expected, "ratio by stratum": observed / expected} {
		all, sum := row(t, k, item, "all", 0, ""), 0.0
		if testvalues.Near(t, item, all.Value, want); all.Within != "age_band" || !cmp.Equal(all.Notes, []string{"first"}) {
			t.Errorf("%+v", all)
		}
		for _, part := range s.Parts {
			sum += row(t, k, item, part.Series.Stratum(), 0, "").Value
		}
		if item != "ratio by stratum" {
			testvalues.Near(t, item+" added up", sum, want)
		}
	}
}
