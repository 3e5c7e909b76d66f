package cohort_test

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	diff "github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

func newRand(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, seed)) }

// summary is all that is to be the same.
type summary struct {
	Account  cohort.Account
	Closing  cohort.Closing
	Deaths   cohort.Deaths
	Aside    []cohort.Problem
	Warned   []cohort.Problem
	Words    []cohort.ColumnWords
	Missing  []int
	Cells    map[string][]outcome
	Patients map[string]int64
	Order    []string
}

func summarise(t testing.TB, c *cohort.Cohort) summary {
	t.Helper()
	s := summary{Account: c.Account(), Closing: c.Closing, Deaths: c.Deaths(), Aside: c.SetAside(), Warned: c.Warnings(), Words: c.Words(),
		Cells: make(map[string][]outcome), Patients: make(map[string]int64)}
	s.Account.RepeatsElsewhere = 0 // that is what tables differ in
	for _, m := range c.Completeness() {
		s.Missing = append(s.Missing, m.Missing)
	}
	g := mustTally(t, c, []string{"bearing", "fixation", "age_band"}, cohort.Endpoint{Reasons: []string{"infection"}})
	for k, counts := range g.Set.All() {
		s.Cells[names(g.Set, k)] = outcomes(counts)
		s.Order = append(s.Order, names(g.Set, k))
	}
	for _, keep := range [][]string{nil, {"bearing"}, {"bearing", "fixation", "age_band"}} {
		set, patients, err := g.Margin(keep...)
		if err != nil {
			t.Fatal(err)
		}
		for k, n := range patients {
			s.Patients[fmt.Sprint(keep, names(set, k))] = n
		}
	}
	return s
}

// withoutRows leaves out what hangs on where a row stands.
func (s summary) withoutRows() summary {
	for _, problems := range [][]cohort.Problem{s.Aside, s.Warned} {
		for i := range problems {
			problems[i].File, problems[i].Row, problems[i].OfFile, problems[i].Of = 0, 0, 0, 0
			problems[i].AtFile, problems[i].At = 0, 0
		}
		slices.SortFunc(problems, func(a, b cohort.Problem) int {
			return cmp.Or(cmp.Compare(a.Reason, b.Reason), cmp.Compare(a.Column, b.Column))
		})
	}
	for _, column := range s.Words {
		for i := range column.Words {
			column.Words[i].File, column.Words[i].Row = 0, 0
		}
	}
	s.Closing.File, s.Closing.Row = 0, 0
	return s
}

// mess is an invented table with a little of everything: n rows, all different.
func mess(r *rand.Rand, n int) []string {
	pick := func(values ...string) string { return values[r.IntN(len(values))] }
	lines := []string{everyHeading + ""}
	seen := make(map[string]bool)
	for len(lines) <= n {
		op := day("2008-01-01") + cohort.Day(r.IntN(5500))
		date := func() string {
			switch r.IntN(40) {
			case 0:
				return "2020-02-30"
			case 1:
				return "2031-01-01"
			case 2:
				return (op - cohort.Day(1+r.IntN(99))).String()
			}
			return (op + cohort.Day(r.IntN(2000))).String()
		}
		d := row{
			"patient":        fmt.Sprintf("p%d", r.IntN(n)),
			"operation_date": op.String(),
			"joint":          pick("hip", "Hip", "knee", "left hip", ""),
			"side":           pick("left", "L", "right", "R", "B", "", "L/R"),
			"procedure":      pick("THR", "THR", "TKR", "UKR medial", "HRA", "revision THR", "washout", "something"),
			"bearing":        pick("MoP", "CoC", "CoXLPE", "fixed", "RP", "glass", "bipolar", ""),
			"fixation":       pick("cemented", "porous", "uncemented", "hybrid", "glue", ""),
			"age":            pick("54", "55", "64,0", "65", "75", "9", "111", "old", ""),
		}
		if strings.ContainsRune(d["age"], ',') {
			d["age"] = `"` + d["age"] + `"`
		}
		switch r.IntN(6) {
		case 0:
			d["revision_date"] = date()
		case 1:
			d["death_date"] = date()
		case 2:
			d["last_seen_date"] = date()
		case 3:
			d["revised"], d["dead"] = pick("yes", "no", "maybe"), pick("yes", "no", "maybe", "")
		case 4:
			d["head"], d["liner"] = pick("metal", "ceramic", "28 mm"), pick("PE", "XLPE", "ceramic", "dual mobility")
			d["cup_fixation"], d["stem_fixation"] = pick("porous", "cemented"), pick("porous", "cemented", "glue")
		}
		line := cells(d) + "," + pick("infection", "PJI", "loosening", "gremlins", "")
		// Two rows of one patient and day that know alike are told apart by
		// their place alone: one is enough here.
		if key := d["patient"] + d["operation_date"]; !seen[key] {
			seen[key] = true
			lines = append(lines, line)
		}
	}
	return lines
}

// Whatever the number of processors: all of it, row numbers included. The table
// is several times as long as the part that one processor takes at a time.
func TestResultDoesNotHangOnProcessors(t *testing.T) {
	rows := 30_000
	if testing.Short() {
		rows = 6000 // two batches of the reader
	}
	text := table(mess(newRand(11), rows)...)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	var want summary
	for i, processors := range []int{1, 2, 8} {
		runtime.GOMAXPROCS(processors)
		c := mustRead(t, cohort.Options{EveryColumn: true}, text)
		got := summarise(t, c)
		if i == 0 {
			want = got
			for _, r := range []cohort.Reason{cohort.NotPrimary, cohort.BothSides, cohort.PossibleRevision, cohort.AgeOutOfRange} {
				if !slices.ContainsFunc(got.Account.Reasons, func(n cohort.ReasonCount) bool { return n.Reason == r }) {
					t.Errorf("the table has no row of %v", r)
				}
			}
			continue
		}
		if !reflect.DeepEqual(want, got) {
			d := diff.Diff(want, got)
			t.Fatalf("%d processors (-1 +got):\n%s", processors, d)
		}
	}
}

// Whatever the order of the rows: all but the row numbers.
func TestResultDoesNotHangOnOrder(t *testing.T) {
	r := newRand(12)
	lines := mess(r, 3000)
	want := summarise(t, mustRead(t, cohort.Options{EveryColumn: true}, table(lines...))).withoutRows()
	for range 4 {
		rest := lines[1:]
		r.Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
		got := summarise(t, mustRead(t, cohort.Options{EveryColumn: true}, table(lines...))).withoutRows()
		if !reflect.DeepEqual(want, got) {
			d := diff.Diff(want, got)
			t.Fatalf("shuffled (-want +got):\n%s", d)
		}
	}
}

// Two tables are the same as one.
func TestTwoTablesAreOne(t *testing.T) {
	lines := mess(newRand(13), 3000)
	o := cohort.Options{EveryColumn: true}
	want := summarise(t, mustRead(t, o, table(lines...))).withoutRows()
	for _, at := range []int{2, 700, 1500, 3000} {
		got := summarise(t, mustRead(t, o, table(lines[:at]...), table(append([]string{lines[0]}, lines[at:]...)...))).withoutRows()
		// What is missing is counted by table.
		half := len(got.Missing) / 2
		for i := range half {
			got.Missing[i] += got.Missing[half+i]
		}
		got.Missing = got.Missing[:half]
		if !reflect.DeepEqual(want, got) {
			d := diff.Diff(want, got)
			t.Fatalf("cut at %d (-want +got):\n%s", at, d)
		}
	}
}

// The same table twice: every joint of a patient is a duplicate, and none of
// the counts changes.
func TestSameTableTwice(t *testing.T) {
	text := table("patient,operation_date,joint,side,procedure,revision_date",
		"a,2020-01-01,hip,left,THR,", "a,2020-01-01,hip,right,THR,", "b,2019-01-01,knee,left,TKR,2020-01-01")
	one, two := mustRead(t, cohort.Options{}, text), mustRead(t, cohort.Options{}, text, text)
	if d := diff.Diff(allOutcomes(t, one, cohort.Endpoint{}), allOutcomes(t, two, cohort.Endpoint{})); d != "" {
		t.Errorf("(-one +two):\n%s", d)
	}
	if d := diff.Diff([]cohort.ReasonCount{{cohort.DuplicateRow, 3}}, two.Account().Reasons); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}
