package gather

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// What could move an estimate furthest comes first, in the doubts of an audit and in what a check
// says is to be done. Of 60 hips of 2010, 2 are revised in 2012; 6 were last seen on 2015-01-01, 20
// never again, the others at the end. By hand at ten years: 2/60 as it is, as nobody is censored
// before a revision. With the 20 followed no further than the operation 2/40. With none of the
// 6 lost revised 2/60 again, with all of them when last seen 1 − 58/60·52/58 = 8/60.
func TestDoubtsAndTasksHaveOneOrder(t *testing.T) {
	for name, c := range map[string]struct {
		unseen int
		want   []string
	}{
		"few assumed":  {20, []string{"lost to follow-up 6 0.033 to 0.033–0.133", cohort.FollowUpAssumed + " 20 0.033 to 0.050"}},
		"most assumed": {50, []string{cohort.FollowUpAssumed + " 50 0.033 to 0.200", "lost to follow-up 6 0.033 to 0.033–0.133"}},
		"all assumed":  {52, []string{cohort.FollowUpAssumed + " 52 0.033 to not known", "lost to follow-up 6 0.033 to 0.033–0.133"}},
	} {
		var b strings.Builder
		b.WriteString("patient,operation_date,joint,procedure,side,revision_date,last_seen_date\n")
		for i := range 60 {
			revised, seen := "", "2023-12-01"
			switch {
			case i < 2:
				revised = "2012-06-01"
			case i < 8:
				seen = "2015-01-01"
			case i < 8+c.unseen:
				seen = ""
			}
			fmt.Fprintf(&b, "P%d,2010-01-01,hip,total,left,%s,%s\n", i, revised, seen)
		}
		closing, err := cohort.ParseDay("2023-12-31")
		if err != nil {
			t.Fatal(err)
		}
		co, err := cohort.Read(context.Background(), []cohort.Source{{Name: "t.csv", Reader: strings.NewReader(b.String())}}, cohort.Options{ClosingDate: &closing})
		if err != nil {
			t.Fatal(err)
		}
		k, err := CheckOf(co, true)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, x := range k.Tasks {
			if x.Doubt == nil {
				continue
			}
			w := x.Doubt.Would[0]
			to := fmt.Sprintf("%.3f", w.Low)
			if w.High != w.Low {
				to += fmt.Sprintf("–%.3f", w.High)
			}
			if math.IsNaN(w.Low) {
				to = "not known"
			}
			got = append(got, fmt.Sprintf("%s %d %.3f to %s", x.Doubt.Problem, x.Doubt.Rows, w.Now, to))
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}
