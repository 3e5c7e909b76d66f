package survival_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// byGroup are the life tables of groups given as exits and causes.
func byGroup(t testing.TB, groups ...survival.Sample) []*survival.Table {
	t.Helper()
	var tables []*survival.Table
	for _, s := range groups {
		if s.Exit == nil {
			tables = append(tables, nil)
			continue
		}
		tables = append(tables, mustTable(t, s, 2))
	}
	return tables
}

var (
	none     survival.Sample
	firstTwo = survival.Sample{Exit: []float64{1, 2}, Cause: []int{0, 1}}
	lastTwo  = survival.Sample{Exit: []float64{3, 4}, Cause: []int{0, 0}}
)

// TestLogRankByHand compares the log-rank test with cases worked by hand in
// fractions.
func TestLogRankByHand(t *testing.T) {
	tests := []struct {
		name                         string
		strata                       [][]*survival.Table
		observed, expected, variance []float64 // the variance's diagonal
		set                          []int
		chiSquare                    float64
		df                           int
	}{
		{
			// Day 2: 1 and 2 at risk, 1 event. E = 1/3, V = 1/3·2/3, (2/3)²/(2/9) = 2.
			name: "one event", strata: [][]*survival.Table{byGroup(t, firstTwo, lastTwo)},
			observed: []float64{1, 0}, expected: []float64{1. / 3, 2. / 3}, variance: []float64{2. / 9, 2. / 9},
			set: []int{0, 0}, chiSquare: 2, df: 1,
		},
		{
			// Day 1: 2 and 2 at risk, 2 events. E = 1, V = 2·2/3·1/4 = 1/3. Day 2: 1 and 1 (the one
			// censored that day is at risk), 1 event: E = 1/2, V = 1/4. (1/2)²/(7/12) = 3/7.
			name: "ties", strata: [][]*survival.Table{byGroup(t,
				survival.Sample{Exit: []float64{1, 2}, Cause: []int{1, 0}},
				survival.Sample{Exit: []float64{1, 2}, Cause: []int{1, 1}})},
			observed: []float64{1, 2}, expected: []float64{1.5, 1.5}, variance: []float64{7. / 12, 7. / 12},
			set: []int{0, 0}, chiSquare: 3. / 7, df: 1,
		},
		{
			// Who enters on day 2 is not at risk that day: 1 and 1 at risk. E = 1/2, V = 1/4.
			name: "late entry", strata: [][]*survival.Table{byGroup(t, firstTwo,
				survival.Sample{Entry: []float64{1, 2}, Exit: []float64{3, 4}, Cause: []int{0, 0}})},
			observed: []float64{1, 0}, expected: []float64{.5, .5}, variance: []float64{.25, .25},
			set: []int{0, 0}, chiSquare: 1, df: 1,
		},
		{
			// Death on day 1 is censoring, and the others' event of the other cause on day 3 too.
			name: "other causes", strata: [][]*survival.Table{byGroup(t,
				survival.Sample{Exit: []float64{1, 2}, Cause: []int{2, 1}},
				survival.Sample{Exit: []float64{3, 4}, Cause: []int{2, 0}})},
			observed: []float64{1, 0}, expected: []float64{1. / 3, 2. / 3}, variance: []float64{2. / 9, 2. / 9},
			set: []int{0, 0}, chiSquare: 2, df: 1,
		},
		{
			// Twice the first case, in strata whose groups never meet: 2 + 2.
			name: "two sets of groups", strata: [][]*survival.Table{
				byGroup(t, none, firstTwo, none, lastTwo), byGroup(t, lastTwo, none, firstTwo, none)},
			observed: []float64{0, 1, 1, 0}, expected: []float64{2. / 3, 1. / 3, 1. / 3, 2. / 3},
			variance: []float64{2. / 9, 2. / 9, 2. / 9, 2. / 9},
			set:      []int{0, 1, 0, 1}, chiSquare: 4, df: 2,
		},
		{
			// Group 2 has left before anything happens.
			name: "a group that meets no event", strata: [][]*survival.Table{byGroup(t, firstTwo,
				survival.Sample{Exit: []float64{1, 1}, Cause: []int{0, 2}}, lastTwo)},
			observed: []float64{1, 0, 0}, expected: []float64{1. / 3, 0, 2. / 3}, variance: []float64{2. / 9, 0, 2. / 9},
			set: []int{0, -1, 0}, chiSquare: 2, df: 1,
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, err := survival.LogRank(test.strata, 1, survival.TestOptions{})
			if err != nil {
				t.Fatal(err)
			}
			var diagonal []float64
			for g := range got.Variance {
				diagonal = append(diagonal, got.Variance[g][g])
			}
			for name, pair := range map[string][2]any{
				"observed": {test.observed, got.Observed}, "expected": {test.expected, got.Expected}, "variance": {test.variance, diagonal},
				"set": {test.set, got.Set}, "χ²": {test.chiSquare, got.Value}, "degrees of freedom": {test.df, got.DF},
			} {
				if diff := cmp.Diff(pair[0], pair[1], cmpopts.EquateApprox(0, 1e-14)); diff != "" {
					t.Errorf("%s (-want +got):\n%s", name, diff)
				}
			}
		})
	}
}

// TestGrayByHand compares Gray's test with cases worked by hand in fractions.
func TestGrayByHand(t *testing.T) {
	// As in the first case above: R = 1, 2, H = Q = 3, z = 2/3, V = (2/3)²·(1/3 + 1/6).
	got, err := survival.Gray([][]*survival.Table{byGroup(t, firstTwo, lastTwo)}, 1, survival.TestOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.Value-2) > 1e-14 || math.Abs(got.Variance[0][0]-2./9) > 1e-14 {
		t.Errorf("χ² %v with variance %v, want 2 and 2/9", got.Value, got.Variance[0][0])
	}
	// Group A: death on day 1, event on day 2; group B: censored on days 2 and 3.
	// Day 1: R = 2, 2, H = 4, c = 0 as D = 0; S_A = 1/2.
	// Day 2: n = 1, 2, R = 1/(1/2), 2/1, H = 4, Q = 4, z_A = 1 − 2/4 = 1/2,
	//        a_AA = 2 − 4/4 = 1, c_AA(∞) = 1·1/4, F⁰ = 1/4.
	// V: event, day 2, L = 0: q_A = (1/2)/(4·1) = 1/8, q_B = 1/(4·2) = 1/8, u = 1: 1/8 + 1/8.
	//    death, day 1, L = 1/4, S_A = 1/2, F⁰ = 0: u = (1/4)/(1/2) = 1/2, q = 1/4: 1/16.
	// χ² = (1/4)/(5/16) = 4/5.
	got, err = survival.Gray([][]*survival.Table{byGroup(t,
		survival.Sample{Exit: []float64{1, 2}, Cause: []int{2, 1}},
		survival.Sample{Exit: []float64{2, 3}, Cause: []int{0, 0}})}, 1, survival.TestOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.Value-.8) > 1e-14 || math.Abs(got.Variance[0][0]-5./16) > 1e-14 || math.Abs(got.Expected[0]-.5) > 1e-14 {
		t.Errorf("χ² %v, variance %v, expected %v, want 4/5, 5/16, 1/2", got.Value, got.Variance[0][0], got.Expected[0])
	}
}

// TestLogRankPublished compares with the remissions of Freireich et al., Blood
// 1963;21:699 (as in Cox & Oakes, Analysis of Survival Data, table 1.1). Values
// calculated with R 4.2.2, survival 3.5-3, survdiff.
func TestLogRankPublished(t *testing.T) {
	treated := survival.Sample{
		Exit:  []float64{6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35},
		Cause: []int{1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0},
	}
	placebo := survival.Sample{Exit: []float64{1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23}}
	for range placebo.Exit {
		placebo.Cause = append(placebo.Cause, 1)
	}
	got, err := survival.LogRank([][]*survival.Table{byGroup(t, treated, placebo)}, 1, survival.TestOptions{Scores: []float64{3, 5}})
	if err != nil {
		t.Fatal(err)
	}
	c := &comparison{t: t, what: "Freireich 1963", tolerance: 1e-9}
	c.close("χ²", got.Value, 16.79294099)
	c.close("trend over two groups", got.Trend.Value, got.Value)
	c.tolerance = 5e-5
	c.close("expected", got.Expected[0], 19.2505)
	c.close("expected", got.Expected[1], 10.7495)
}

func TestGroupErrors(t *testing.T) {
	two := [][]*survival.Table{byGroup(t, firstTwo, lastTwo)}
	weighted := mustTable(t, survival.Sample{Exit: []float64{1, 2}, Cause: []int{1, 0}, Weight: []float64{2, 1}}, 2)
	late := mustTable(t, survival.Sample{Entry: []float64{0, 1}, Exit: []float64{1, 2}, Cause: []int{1, 0}}, 2)
	type call = func([][]*survival.Table, int, survival.TestOptions) (survival.Test, error)
	tests := []struct {
		name   string
		test   call
		strata [][]*survival.Table
		cause  int
		o      survival.TestOptions
		want   error
	}{
		{"no stratum", survival.LogRank, nil, 1, survival.TestOptions{}, survival.ErrGroups},
		{"one group", survival.LogRank, [][]*survival.Table{byGroup(t, firstTwo)}, 1, survival.TestOptions{}, survival.ErrGroups},
		{"strata of different lengths", survival.Gray, append(two, byGroup(t, firstTwo, lastTwo, none)), 1, survival.TestOptions{}, survival.ErrGroups},
		{"no such cause", survival.LogRank, two, 3, survival.TestOptions{}, survival.ErrTable},
		{"weights", survival.LogRank, [][]*survival.Table{{two[0][0], weighted}}, 1, survival.TestOptions{}, survival.ErrWeighted},
		{"no event", survival.LogRank, [][]*survival.Table{byGroup(t, lastTwo, lastTwo)}, 1, survival.TestOptions{}, survival.ErrNotCompared},
		{"no event, Gray", survival.Gray, [][]*survival.Table{byGroup(t, lastTwo, lastTwo)}, 1, survival.TestOptions{}, survival.ErrNotCompared},
		{"groups apart", survival.LogRank, [][]*survival.Table{byGroup(t, firstTwo, none), byGroup(t, none, firstTwo)}, 1, survival.TestOptions{}, survival.ErrNotCompared},
		{"empty groups", survival.LogRank, [][]*survival.Table{byGroup(t, none, none)}, 1, survival.TestOptions{}, survival.ErrNotCompared},
		{"late entry, Gray", survival.Gray, [][]*survival.Table{{two[0][0], late}}, 1, survival.TestOptions{}, survival.ErrTestLate},
		{"scores too few", survival.LogRank, two, 1, survival.TestOptions{Scores: []float64{1}}, survival.ErrScores},
		{"scores alike", survival.LogRank, two, 1, survival.TestOptions{Scores: []float64{1, 1}}, survival.ErrScores},
		{"scores not finite", survival.Gray, two, 1, survival.TestOptions{Scores: []float64{1, math.NaN()}}, survival.ErrScores},
	}
	for _, test := range tests {
		if _, err := test.test(test.strata, test.cause, test.o); !errors.Is(err, test.want) {
			t.Errorf("%s: error %v, want %v", test.name, err, test.want)
		}
	}
	if _, err := survival.LogRank(two, 1, survival.TestOptions{Rho: 1}); err == nil {
		t.Error("log-rank with rho: no error")
	}
}

// TestGroupProperties draws samples and changes what must not matter: the order
// of groups and strata, the unit of time, an empty group, tallies for rows.
func TestGroupProperties(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 8))
	for round := range 60 {
		s := draw(random, 20+random.IntN(100), 3+random.IntN(20), 2, round%3 == 0, false, false)
		group, stratum := make([]int, len(s.Exit)), make([]int, len(s.Exit))
		for i := range group {
			group[i], stratum[i] = random.IntN(4), random.IntN(3)
			if group[i] == 1 && round%2 == 0 { // leaves early
				s.Exit[i] = math.Min(s.Exit[i], 2)
				if s.Entry != nil {
					s.Entry[i] = math.Inf(-1)
				}
			}
		}
		for name, test := range map[string]func([][]*survival.Table, int, survival.TestOptions) (survival.Test, error){
			"log-rank": survival.LogRank, "Gray": survival.Gray,
		} {
			if name == "Gray" && s.Entry != nil {
				continue
			}
			strata := tablesBy(t, s, group, stratum, 2)
			want, err := test(strata, 1, survival.TestOptions{})
			if err != nil {
				t.Logf("round %d, %s: %v", round, name, err)
				continue
			}
			same := func(how string, got survival.Test, err error) {
				if err != nil || math.Abs(got.Value-want.Value) > 1e-10*(1+want.Value) || got.DF != want.DF {
					t.Errorf("round %d, %s, %s: %v on %d, %v, want %v on %d", round, name, how, got.Value, got.DF, err, want.Value, want.DF)
				}
			}
			other, otherStratum := make([]int, len(group)), make([]int, len(group))
			for i := range group {
				other[i], otherStratum[i] = []int{2, 4, 0, 1}[group[i]], []int{1, 2, 0}[stratum[i]] // group 3 stays empty
			}
			got, err := test(tablesBy(t, s, other, otherStratum, 2), 1, survival.TestOptions{})
			same("other numbers", got, err)
			scaled := s
			scaled.Exit, scaled.Entry = times(s.Exit, 0.37), times(s.Entry, 0.37)
			got, err = test(tablesBy(t, scaled, group, stratum, 2), 1, survival.TestOptions{})
			same("another unit of time", got, err)
			if s.Entry != nil {
				continue
			}
			counts := make([][]*survival.Table, len(strata))
			for st := range strata {
				for g := range strata[st] {
					c := tally.New(2)
					for i, exit := range s.Exit {
						if group[i] == g && stratum[i] == st {
							c.Add(int32(exit), s.Cause[i])
						}
					}
					counts[st] = append(counts[st], c.Table())
				}
			}
			got, err = test(counts, 1, survival.TestOptions{})
			if diff := cmp.Diff(want, got); diff != "" || err != nil {
				t.Errorf("round %d, %s, tallies: %v (-want +got):\n%s", round, name, err, diff)
			}
		}
	}
}

func times(x []float64, by float64) []float64 {
	if x == nil {
		return nil
	}
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = v * by
	}
	return out
}
