package survival_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/survival"
	"github.com/google/go-cmp/cmp"
)

// Every kind of tie at once, counted by hand: at 2 an event of each cause, a
// censoring and an entry; at 0 an event.
func TestNewTable(t *testing.T) {
	never := math.Inf(-1)
	got := mustTable(t, survival.Sample{
		Entry: []float64{never, never, 0, never, 2, 1, never},
		Exit:  []float64{0, 2, 2, 2, 5, 5, 3},
		Cause: []int{1, 1, 2, 0, 1, 0, 0},
	}, 2)
	want := &survival.Table{
		Time:     []float64{0, 1, 2, 3, 5},
		AtRisk:   []float64{4, 4, 5, 3, 2}, // at 1 and 2, not the row that enters just then
		Event:    [][]float64{{1, 0, 1, 0, 1}, {0, 0, 1, 0, 0}},
		Censored: []float64{0, 0, 1, 1, 1},
		Entered:  []float64{1, 1, 1, 0, 0},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("table (-want +got):\n%s", d)
	}
}

func TestNewTableWeighted(t *testing.T) {
	got := mustTable(t, survival.Sample{
		Exit:   []float64{1, 2, 2, 9},
		Cause:  []int{1, 0, 1, 1},
		Weight: []float64{0.5, 2, 0.25, 0},
	}, 1)
	want := &survival.Table{
		Time: []float64{1, 2}, AtRisk: []float64{2.75, 2.25},
		Event: [][]float64{{0.5, 0.25}}, Censored: []float64{0, 2}, Weighted: true,
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("table (-want +got):\n%s", d)
	}
}

func TestNewTableEmpty(t *testing.T) {
	for name, s := range map[string]survival.Sample{
		"no row":           {},
		"only weight zero": {Exit: []float64{3}, Cause: []int{1}, Weight: []float64{0}},
	} {
		table := mustTable(t, s, 2)
		if len(table.Time) != 0 || table.Causes() != 2 {
			t.Errorf("%s: got %+v", name, table)
		}
		if _, ok := table.LastExit(); ok {
			t.Errorf("%s: a last exit", name)
		}
		if table.AtRiskAt(0) != 0 || table.PersonTime() != 0 {
			t.Errorf("%s: somebody at risk", name)
		}
	}
}

// Where everybody left has the event, the number at risk is the number of
// events, whatever rounding did to the sums of weights.
func TestWeightedEverybodyFails(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 5))
	for range 2000 {
		s := draw(random, 2+random.IntN(12), 6, 2, random.IntN(2) == 0, true, false)
		for i, exit := range s.Exit {
			if exit == slices.Max(s.Exit) {
				s.Cause[i] = 1
			}
			if s.Weight[i] == 0 {
				s.Weight[i] = 0.1
			}
		}
		table := mustTable(t, s, 2)
		last := len(table.Time) - 1
		if table.AtRisk[last] != table.Event[0][last] {
			t.Fatalf("%+v: %v at risk, %v events", s, table.AtRisk[last], table.Event[0][last])
		}
		c, err := survival.Robust(s, 2, 1, survival.OneMinusKaplanMeier)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.Incidence[len(c.Incidence)-1]; got != 1 {
			t.Fatalf("%+v: estimate %v at the end, want 1", s, got)
		}
	}
}

// Order of rows changes no bit of a table or curve, with weights and late entry.
func TestRowOrder(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for i := range 3000 {
		s := draw(random, 1+random.IntN(40), 1+random.IntN(12), 1+i%3, i%2 == 1, i%5 > 2, i%7 > 3)
		shuffledSame(t, s, 1+i%3, random)
	}
	// Minus zero is a time like zero.
	s := survival.Sample{Exit: []float64{0, math.Copysign(0, -1), 0}, Cause: []int{1, 1, 1}}
	for range 20 {
		shuffledSame(t, s, 1, random)
	}
}

func shuffledSame(t *testing.T, s survival.Sample, causes int, random *rand.Rand) {
	t.Helper()
	o := shuffled(s, random)
	a, b := mustTable(t, s, causes), mustTable(t, o, causes)
	if !sameTable(a, b) {
		t.Fatalf("%+v: order of rows changes the table\n%+v\n%+v", s, a, b)
	}
	if !a.Weighted {
		for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
			x, _ := estimate(a, 1)
			y, _ := estimate(b, 1)
			if !sameCurve(x, y) {
				t.Fatalf("%+v: order of rows changes the curve", s)
			}
		}
	}
	for _, e := range []survival.Estimand{survival.OneMinusKaplanMeier, survival.Incidence} {
		x, err := survival.Robust(s, causes, 1, e)
		if err != nil {
			t.Fatal(err)
		}
		y, _ := survival.Robust(o, causes, 1, e)
		if !sameCurve(x, y) {
			t.Fatalf("%+v: order of rows changes the robust curve:\n%v\n%v", s, x.SE, y.SE)
		}
	}
}

func sameBits(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) })
}

func sameTable(a, b *survival.Table) bool {
	return sameBits(a.Time, b.Time) && sameBits(a.AtRisk, b.AtRisk) && sameBits(a.Censored, b.Censored) &&
		(a.Entered == nil) == (b.Entered == nil) && sameBits(a.Entered, b.Entered) &&
		slices.EqualFunc(a.Event, b.Event, sameBits) && a.Weighted == b.Weighted
}

func sameCurve(a, b *survival.Curve) bool {
	return a.Estimand == b.Estimand && a.Cause == b.Cause && a.Variance == b.Variance &&
		sameBits(a.Time, b.Time) && sameBits(a.Incidence, b.Incidence) && sameBits(a.SE, b.SE)
}

func TestRowErrors(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	ok := func() survival.Sample {
		return survival.Sample{
			Entry: []float64{0, 1, math.Inf(-1)}, Exit: []float64{3, 4, 5}, Cause: []int{0, 1, 2},
			Weight: []float64{1, 2, 0}, Cluster: []int{1, 1, 2},
		}
	}
	for _, x := range []struct {
		change func(*survival.Sample)
		row    int
		field  string
		err    error
	}{
		{func(s *survival.Sample) { s.Exit[1] = nan }, 1, "Exit", survival.ErrNotFinite},
		{func(s *survival.Sample) { s.Exit[2] = inf }, 2, "Exit", survival.ErrNotFinite},
		{func(s *survival.Sample) { s.Exit[0] = -inf }, 0, "Exit", survival.ErrNotFinite},
		{func(s *survival.Sample) { s.Entry[1] = nan }, 1, "Entry", survival.ErrNotFinite},
		{func(s *survival.Sample) { s.Entry[1] = inf }, 1, "Entry", survival.ErrNotFinite},
		{func(s *survival.Sample) { s.Entry[0] = 3 }, 0, "Entry", survival.ErrEntryNotLower},
		{func(s *survival.Sample) { s.Entry[1] = 4.5 }, 1, "Entry", survival.ErrEntryNotLower},
		{func(s *survival.Sample) { s.Cause[2] = 3 }, 2, "Cause", survival.ErrUnknownCause},
		{func(s *survival.Sample) { s.Cause[0] = -1 }, 0, "Cause", survival.ErrUnknownCause},
		{func(s *survival.Sample) { s.Weight[1] = -0.5 }, 1, "Weight", survival.ErrWeight},
		{func(s *survival.Sample) { s.Weight[0] = nan }, 0, "Weight", survival.ErrWeight},
		{func(s *survival.Sample) { s.Weight[2] = inf }, 2, "Weight", survival.ErrWeight},
		{func(s *survival.Sample) { s.Entry = s.Entry[:2] }, -1, "Entry", survival.ErrLength},
		{func(s *survival.Sample) { s.Cause = nil }, -1, "Cause", survival.ErrLength},
		{func(s *survival.Sample) { s.Weight = []float64{} }, -1, "Weight", survival.ErrLength},
		{func(s *survival.Sample) { s.Cluster = s.Cluster[:1] }, -1, "Cluster", survival.ErrLength},
	} {
		s := ok()
		x.change(&s)
		_, err := survival.NewTable(s, 2)
		_, robust := survival.Robust(s, 2, 1, survival.Incidence)
		for _, err := range []error{err, robust} {
			var re *survival.RowError
			if !errors.As(err, &re) || re.Row != x.row || re.Field != x.field || !errors.Is(err, x.err) {
				t.Errorf("got %v, want row %d, %s: %v", err, x.row, x.field, x.err)
				continue
			}
			if !strings.Contains(err.Error(), x.field) || !strings.Contains(err.Error(), x.err.Error()) {
				t.Errorf("message %q names neither field nor reason", err)
			}
		}
	}
	if _, err := survival.NewTable(ok(), 2); err != nil {
		t.Error(err)
	}
	if _, err := survival.NewTable(ok(), 0); err == nil {
		t.Error("a table of no cause")
	}
	if _, err := survival.Robust(ok(), 0, 1, survival.Incidence); err == nil {
		t.Error("a curve of no cause")
	}
	for _, cause := range []int{0, 3} {
		for _, e := range []survival.Estimand{survival.OneMinusKaplanMeier, survival.Incidence} {
			if _, err := survival.Robust(ok(), 2, cause, e); !errors.Is(err, survival.ErrTable) {
				t.Errorf("%v of cause %d: got %v", e, cause, err)
			}
		}
	}
}

func TestRowErrorMessage(t *testing.T) {
	_, err := survival.NewTable(survival.Sample{Exit: []float64{1, math.NaN()}, Cause: []int{0, 0}}, 1)
	if got, want := err.Error(), "survival: row 1: Exit NaN is not a finite number"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	_, err = survival.NewTable(survival.Sample{Exit: []float64{1}}, 1)
	if got, want := err.Error(), "survival: Cause has another length than Exit"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// The caller's slices are read and never changed.
func TestInputUnchanged(t *testing.T) {
	s := draw(rand.New(rand.NewPCG(9, 9)), 60, 20, 2, true, true, true)
	var all []int
	for i := range s.Exit {
		all = append(all, i)
	}
	before := rows(s, all)
	mustTable(t, s, 2)
	for _, e := range []survival.Estimand{survival.OneMinusKaplanMeier, survival.Incidence} {
		c, err := survival.Robust(s, 2, 2, e)
		if err != nil {
			t.Fatal(err)
		}
		c.At(5, survival.Interval{})
	}
	if d := cmp.Diff(before, s); d != "" {
		t.Errorf("the sample was changed:\n%s", d)
	}

	s.Weight = nil
	table := mustTable(t, s, 2)
	copied := mustTable(t, s, 2)
	for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
		c, err := estimate(table, 2)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range everyMethod {
			c.At(7, survival.Interval{Method: m})
			c.Quantile(0.3, survival.Interval{Method: m})
		}
		c.RestrictedTimeLost(7, survival.Interval{})
	}
	if _, err := survival.NelsonAalen(table, 1); err != nil {
		t.Fatal(err)
	}
	table.Only(2)
	table.Pool()
	breaks := []float64{0, 5, 10}
	table.Counts(1, breaks...)
	if d := cmp.Diff(copied, table); d != "" {
		t.Errorf("the table was changed:\n%s", d)
	}
	if d := cmp.Diff([]float64{0, 5, 10}, breaks); d != "" {
		t.Errorf("the breaks were changed:\n%s", d)
	}
}

func TestCheck(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	ok := func() *survival.Table {
		return &survival.Table{
			Time: []float64{1, 2}, AtRisk: []float64{5, 3}, Event: [][]float64{{1, 1}, {0, 1}},
			Censored: []float64{1, 1}, Entered: []float64{0, 0},
		}
	}
	if err := ok().Check(); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*survival.Table){
		"at risk shorter":        func(t *survival.Table) { t.AtRisk = t.AtRisk[:1] },
		"censored longer":        func(t *survival.Table) { t.Censored = append(t.Censored, 0) },
		"entered empty":          func(t *survival.Table) { t.Entered = []float64{} },
		"no cause":               func(t *survival.Table) { t.Event = nil },
		"events shorter":         func(t *survival.Table) { t.Event[1] = t.Event[1][:1] },
		"times fall":             func(t *survival.Table) { t.Time[1] = 0.5 },
		"times stand":            func(t *survival.Table) { t.Time[1] = 1 },
		"time NaN":               func(t *survival.Table) { t.Time[0] = nan },
		"time infinite":          func(t *survival.Table) { t.Time[1] = inf },
		"events below 0":         func(t *survival.Table) { t.Event[0][0] = -1 },
		"events NaN":             func(t *survival.Table) { t.Event[0][0] = nan },
		"at risk below 0":        func(t *survival.Table) { t.AtRisk[0] = -1 },
		"at risk NaN":            func(t *survival.Table) { t.AtRisk[0] = nan },
		"at risk infinite":       func(t *survival.Table) { t.AtRisk[0] = inf },
		"censored below 0":       func(t *survival.Table) { t.Censored[1] = -1 },
		"entered NaN":            func(t *survival.Table) { t.Entered[1] = nan },
		"more events than risk":  func(t *survival.Table) { t.Event[0][1] = 3 },
		"events of nobody":       func(t *survival.Table) { t.AtRisk[1] = 0 },
		"causes together exceed": func(t *survival.Table) { t.Event[0][0], t.Event[1][0] = 3, 3 },
	} {
		table := ok()
		change(table)
		if err := table.Check(); !errors.Is(err, survival.ErrTable) {
			t.Errorf("%s: got %v", name, err)
		}
		for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
			if _, err := estimate(table, 1); !errors.Is(err, survival.ErrTable) {
				t.Errorf("%s: estimator: got %v", name, err)
			}
		}
		if _, err := survival.NelsonAalen(table, 1); !errors.Is(err, survival.ErrTable) {
			t.Errorf("%s: Nelson–Aalen: got %v", name, err)
		}
	}
	weighted := ok()
	weighted.Weighted = true
	for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
		if _, err := estimate(weighted, 1); !errors.Is(err, survival.ErrWeighted) {
			t.Errorf("weighted: got %v", err)
		}
		for _, cause := range []int{-1, 0, 3} {
			if _, err := estimate(ok(), cause); !errors.Is(err, survival.ErrTable) {
				t.Errorf("cause %d: got %v", cause, err)
			}
		}
	}
}

// A life table as printed in a paper needs no sample: the 6-MP arm of Freireich
// et al., Blood 1963;21:699 (Cox & Oakes table 1.1), by event week only.
func TestTableByHand(t *testing.T) {
	table := &survival.Table{
		Time:     []float64{6, 7, 10, 13, 16, 22, 23},
		AtRisk:   []float64{21, 17, 15, 12, 11, 7, 6},
		Event:    [][]float64{{3, 1, 1, 1, 1, 1, 1}},
		Censored: []float64{1, 1, 2, 0, 3, 0, 5},
	}
	c, err := survival.KaplanMeier(table, 1)
	if err != nil {
		t.Fatal(err)
	}
	// Calculated with R, survival 3.5-3.
	for i, want := range []float64{.85714, .80672, .75294, .69020, .62745, .53782, .44818} {
		if !printed(1-c.Incidence[i], want, 5) {
			t.Errorf("S(%v) = %v, want %v", c.Time[i], 1-c.Incidence[i], want)
		}
	}
}

func TestOnlyAndPool(t *testing.T) {
	table := &survival.Table{
		Time: []float64{1, 2, 3}, AtRisk: []float64{9, 6, 3},
		Event: [][]float64{{1, 0, 2}, {1, 1, 0}, {0, 1, 1}}, Censored: []float64{1, 1, 0}, Entered: []float64{0, 0, 0},
	}
	only := table.Only(2)
	want := &survival.Table{
		Time: table.Time, AtRisk: table.AtRisk, Event: [][]float64{{1, 1, 0}},
		Censored: []float64{2, 2, 3}, Entered: table.Entered,
	}
	if d := cmp.Diff(want, only); d != "" {
		t.Errorf("Only (-want +got):\n%s", d)
	}
	want = &survival.Table{
		Time: table.Time, AtRisk: table.AtRisk, Event: [][]float64{{2, 2, 3}},
		Censored: []float64{1, 1, 0}, Entered: table.Entered,
	}
	if d := cmp.Diff(want, table.Pool()); d != "" {
		t.Errorf("Pool (-want +got):\n%s", d)
	}
	if d := cmp.Diff(only, only.Only(1)); d != "" {
		t.Errorf("Only of one cause:\n%s", d)
	}
	mustPanic(t, "Only(0)", func() { table.Only(0) })
	mustPanic(t, "Only(4)", func() { table.Only(4) })
}

func TestReadTable(t *testing.T) {
	table := &survival.Table{
		Time: []float64{2, 4, 7, 9}, AtRisk: []float64{10, 8, 5, 2}, Event: [][]float64{{1, 2, 0, 0}, {0, 0, 1, 0}},
		Censored: []float64{1, 1, 2, 0}, Entered: []float64{0, 0, 0, 3},
	}
	for x, want := range map[float64]float64{-1: 10, 2: 10, 2.5: 8, 4: 8, 7: 5, 8: 2, 9: 2, 9.5: 0, math.Inf(1): 0} {
		if got := table.AtRiskAt(x); got != want {
			t.Errorf("at risk at %v: got %v, want %v", x, got, want)
		}
	}
	if got, ok := table.LastExit(); got != 7 || !ok { // nobody leaves at 9
		t.Errorf("last exit %v %v, want 7", got, ok)
	}
	table.Event[1][2], table.Censored[2] = 0, 0
	if got, _ := table.LastExit(); got != 4 {
		t.Errorf("last exit %v, want 4", got)
	}
	if got := table.PersonTime(); got != 2*10+2*8+3*5+2*2 {
		t.Errorf("person-time %v", got)
	}
}

// Person-time is the sum of the subjects' own times.
func TestPersonTime(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	for i := range 300 {
		s := draw(random, 1+random.IntN(30), 12, 2, i%2 == 1, i%3 == 1, false)
		want := 0.0
		for j, exit := range s.Exit {
			entry, w := 0.0, 1.0
			if s.Entry != nil {
				entry = math.Max(0, s.Entry[j])
			}
			if s.Weight != nil {
				w = s.Weight[j]
			}
			want += w * math.Max(0, exit-entry)
		}
		if got := mustTable(t, s, 2).PersonTime(); math.Abs(got-want) > 1e-12*(1+want) {
			t.Fatalf("%+v: got %v, want %v", s, got, want)
		}
	}
}

func TestCountsPerInterval(t *testing.T) {
	table := mustTable(t, survival.Sample{
		Entry: []float64{-1, -1, -1, -1, 3, 4, -1},
		Exit:  []float64{0, 2, 3, 3, 6, 8, 9},
		Cause: []int{1, 0, 1, 2, 1, 0, 0},
	}, 2)
	want := []survival.Count{
		{From: 0, To: 3, AtRisk: 5, Events: 1, Censored: 1},
		{From: 3, To: 6, AtRisk: 3, Entered: 2, Events: 1, Competing: 1},
		{From: 6, To: math.Inf(1), AtRisk: 3, Events: 1, Censored: 2},
	}
	if d := cmp.Diff(want, table.Counts(1, 0, 3, 6, math.Inf(1))); d != "" {
		t.Errorf("counts (-want +got):\n%s", d)
	}
	if got := table.Counts(1, 5); got != nil {
		t.Errorf("one break: %v", got)
	}
	if got := table.Counts(1); got != nil {
		t.Errorf("no break: %v", got)
	}
	if got := table.Counts(2, 20, 30); got[0] != (survival.Count{From: 20, To: 30}) {
		t.Errorf("after the end: %+v", got)
	}
	mustPanic(t, "breaks fall", func() { table.Counts(1, 0, 3, 2) })
	mustPanic(t, "breaks stand", func() { table.Counts(1, 0, 0) })
	mustPanic(t, "break NaN", func() { table.Counts(1, 0, math.NaN()) })
	mustPanic(t, "no such cause", func() { table.Counts(3, 0, 1) })
}

// Over all intervals, counts add up to the sample.
func TestCountsAddUp(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 1))
	for range 200 {
		n := 1 + random.IntN(40)
		s := draw(random, n, 20, 3, true, false, false)
		table := mustTable(t, s, 3)
		var left, entered float64
		for _, c := range table.Counts(2, math.Inf(-1), 0, 3, 4, 11, math.Inf(1)) {
			left += c.Events + c.Competing + c.Censored
			entered += c.Entered
		}
		late := 0
		for _, e := range s.Entry {
			if !math.IsInf(e, -1) {
				late++
			}
		}
		if left != float64(n) || entered != float64(late) {
			t.Fatalf("%v left of %d, %v entered of %d", left, n, entered, late)
		}
	}
}

// No table at all is an error, as one that contradicts itself is.
func TestNoTable(t *testing.T) {
	for name, estimate := range map[string]func(*survival.Table, int) (*survival.Curve, error){
		"Kaplan-Meier": survival.KaplanMeier, "cumulative incidence": survival.CumulativeIncidence,
	} {
		if c, err := estimate(nil, 1); c != nil || !errors.Is(err, survival.ErrTable) {
			t.Errorf("%s: %v, %v", name, c, err)
		}
	}
}
