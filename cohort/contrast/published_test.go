package contrast_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/contrast"
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
	c := read(t, outcomes(t, "joints.csv", false), cohort.Options{})
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
	near(t, "difference", got[0].Value, .012)
	near(t, "lower", got[0].Lower, .009171572875253806)
	near(t, "upper", got[0].Upper, .015162277660168378)
	// Of ages, one without limits.
	if got := find("age_band", "75+"); len(got) != 1 || got[0].Group != "<55" || got[0].Lower == got[0].Lower {
		t.Errorf("%+v", got)
	}
	if got := find("sex", "male"); len(got) != 0 {
		t.Errorf("%+v", got)
	}
}
