package cohort_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// An identifier that lost its leading zeros in some rows is the same patient's
// where something else says so; else it is another's, and asked about.
func TestLeadingZeros(t *testing.T) {
	const heads = "patient,operation_date,joint,procedure,side,birth_date,sex,revision_date,death_date"
	lists := func(revisions, deaths string) cohort.Options {
		var o cohort.Options
		if revisions != "" {
			o.Revisions = []cohort.Source{{Name: "revisions.csv", Reader: strings.NewReader(revisions)}}
		}
		if deaths != "" {
			o.DeathLists = []cohort.Source{{Name: "deaths.csv", Reader: strings.NewReader(deaths)}}
		}
		return o
	}
	left, right := "2010-01-01,hip,total,left,", "2011-01-01,hip,total,right,"
	for _, test := range []struct {
		name     string
		options  cohort.Options
		rows     []string
		patients int64
		revised  int
		aside    []string
		warned   []string
	}{
		{"one birth date", lists("", ""), []string{"007," + left + "1950-01-01,F,,", "7," + right + "1950-01-01,F,,"}, 1, 0, nil, nil},
		{"two birth dates", lists("", ""), []string{"007," + left + "1950-01-01,F,,", "7," + right + "1950-01-02,F,,"}, 2, 0, nil, nil},
		{"no birth date", lists("", ""), []string{"007," + left + ",F,,", "7," + right + ",F,,"}, 2, 0, nil,
			[]string{"identifier of another row but for leading zeros: taken as two patients (row 2)"}},
		{"one operation typed twice", lists("", ""), []string{"007," + left + ",F,,", "7," + left + ",F,,"}, 1, 0,
			[]string{"same joint and date again: duplicate of row 2"}, nil},
		{"a spreadsheet's decimals", lists("", ""), []string{"12," + left + ",F,,", "12.0," + right + ",F,,"}, 1, 0, nil, nil},
		{"no number", lists("", ""), []string{"A07," + left + "1950-01-01,F,,", "A7," + right + "1950-01-01,F,,"}, 2, 0, nil, nil},
		{"a revision without its zeros", lists("patient,joint,side,revision_date\n7,hip,left,2012-01-01\n", ""), []string{"007," + left + ",F,,", "8," + right + ",F,,"}, 2, 1, nil,
			[]string{"identifier of a revision or death but for leading zeros: taken as one patient (row 2 of revisions.csv)"}},
		{"a revision that may be either's", lists("patient,joint,side,revision_date\n07,hip,left,2012-01-01\n", ""), []string{"007," + left + "1950-01-01,F,,", "7," + right + "1951-01-01,F,,"}, 2, 0, nil, nil},
		{"a death without its zeros", lists("", "patient,death_date\n7,2012-01-01\n"), []string{"007," + left + ",F,,", "8," + right + ",F,,"}, 2, 0, nil,
			[]string{"identifier of a revision or death but for leading zeros: taken as one patient (row 2 of deaths.csv)"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, test.options, table(append([]string{heads}, test.rows...)...))
			said := func(problems []cohort.Problem) []string {
				var all []string
				for _, p := range problems {
					all = append(all, c.Describe(p))
				}
				return all
			}
			ignored := 0
			if test.name == "one birth date" || test.name == "one operation typed twice" {
				ignored = 1
			}
			if c.ZerosIgnored() != ignored {
				t.Errorf("%d patients but for zeros, want %d", c.ZerosIgnored(), ignored)
			}
			if d := cmp.Diff(test.aside, said(c.SetAside())); d != "" {
				t.Errorf("set aside (-want +got):\n%s", d)
			}
			if d := cmp.Diff(test.warned, said(c.Warnings())); d != "" {
				t.Errorf("warned of (-want +got):\n%s", d)
			}
			_, patients, err := mustTally(t, c, nil, cohort.Endpoint{}).Margin()
			if err != nil {
				t.Fatal(err)
			}
			var n int64
			for _, k := range patients {
				n += k
			}
			found, err := c.Joints(cohort.Endpoint{})
			if err != nil {
				t.Fatal(err)
			}
			people, revised := make(map[int]bool), 0
			for j := range found {
				people[j.Patient] = true
				if j.Cause == cohort.CauseRevision {
					revised++
				}
			}
			if n != test.patients || len(people) != int(test.patients) || revised != test.revised {
				t.Errorf("%d patients, as clusters %d, %d revised; want %d and %d", n, len(people), revised, test.patients, test.revised)
			}
		})
	}
}
