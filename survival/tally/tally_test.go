package tally_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// Counts are the same in whatever way subjects come to them, be they few, so that they are
// a list, or at most 255 or more of a day and cause: one by one, several at once, or with
// other counts, their own among them.
func TestCountsInEveryForm(t *testing.T) {
	const causes, days = 2, 40
	for seed := range uint64(400) {
		r := rand.New(rand.NewPCG(seed, 3))
		all, want := make([]*tally.Counts, 3), make([][days][causes + 1]int64, 3)
		for i := range all {
			all[i] = tally.New(causes)
		}
		for range 12 {
			to, day, cause := r.IntN(3), r.IntN(days), r.IntN(causes+1)
			c, n := all[to], &want[to]
			switch r.IntN(5) {
			case 0:
				for range []int{1, 200, 255, 256, 300}[r.IntN(5)] {
					c.Add(int32(day), cause)
					n[day][cause]++
				}
			case 1:
				for range r.IntN(900) {
					day := r.IntN(days)
					c.Add(int32(day), cause)
					n[day][cause]++
				}
			case 2:
				k := []int64{0, 1, 100, 255, 256, 1000}[r.IntN(6)]
				if err := c.AddExit(tally.Exit{Day: int32(day), Cause: cause, Subjects: k}); err != nil {
					t.Fatal(err)
				}
				n[day][cause] += k
			case 3:
				of := r.IntN(3)
				other := want[of]
				if err := c.Merge(all[of]); err != nil {
					t.Fatal(err)
				}
				for day := range n {
					for cause := range n[day] {
						n[day][cause] += other[day][cause]
					}
				}
			case 4:
				c.Grow(r.IntN(2 * days))
			}
		}
		for i, c := range all {
			sameCounts(t, c, want[i][:])
		}
	}
}

// sameCounts compares counts with those of each day and cause.
func sameCounts(t *testing.T, c *tally.Counts, want [][3]int64) {
	t.Helper()
	var subjects, personDays int64
	var totals [3]int64
	var exits []tally.Exit
	last := 0
	for day, of := range want {
		for cause, n := range of {
			if got := c.On(int32(day), cause); got != n {
				t.Fatalf("day %d, cause %d: %d, want %d", day, cause, got, n)
			}
			subjects, personDays, totals[cause] = subjects+n, personDays+n*int64(day), totals[cause]+n
			if n > 0 {
				last, exits = day+1, append(exits, tally.Exit{Day: int32(day), Cause: cause, Subjects: n})
			}
		}
	}
	if c.Subjects() != subjects || c.PersonDays() != personDays || c.Days() != last {
		t.Fatalf("%d subjects, %d person-days, %d days, want %d, %d and %d", c.Subjects(), c.PersonDays(), c.Days(), subjects, personDays, last)
	}
	for cause, n := range totals {
		if c.Total(cause) != n {
			t.Fatalf("cause %d: %d, want %d", cause, c.Total(cause), n)
		}
	}
	if got := slices.Collect(c.Exits()); !slices.Equal(got, exits) {
		t.Fatalf("exits %v, want %v", got, exits)
	}
}

// row is one subject.
type row struct {
	day   int32
	cause int
}

func draw(random *rand.Rand, n, days, causes int) []row {
	rows := make([]row, n)
	for i := range rows {
		rows[i] = row{int32(random.IntN(days)), random.IntN(causes + 1)}
	}
	return rows
}

func count(rows []row, causes int) *tally.Counts {
	c := tally.New(causes)
	for _, r := range rows {
		c.Add(r.day, r.cause)
	}
	return c
}

func sample(rows []row) survival.Sample {
	var s survival.Sample
	for _, r := range rows {
		s.Exit = append(s.Exit, float64(r.day))
		s.Cause = append(s.Cause, r.cause)
	}
	return s
}

func TestCounts(t *testing.T) {
	c := tally.New(2)
	if c.Causes() != 2 || c.Days() != 0 || c.Subjects() != 0 || c.PersonDays() != 0 {
		t.Errorf("empty counts: %+v", c)
	}
	for _, r := range []row{{0, 1}, {5, 0}, {5, 2}, {5, 2}, {3, 1}} {
		c.Add(r.day, r.cause)
	}
	if c.Days() != 6 || c.Subjects() != 5 || c.PersonDays() != 18 {
		t.Errorf("%d days, %d subjects, %d person-days", c.Days(), c.Subjects(), c.PersonDays())
	}
	for cause, want := range []int64{1, 2, 2} {
		if got := c.Total(cause); got != want {
			t.Errorf("cause %d: %d in all, want %d", cause, got, want)
		}
	}
	for _, x := range []struct {
		day   int32
		cause int
		want  int64
	}{{5, 2, 2}, {5, 0, 1}, {5, 1, 0}, {0, 1, 1}, {6, 1, 0}, {-1, 1, 0}, {5, 3, 0}, {4, 3, 0}, {5, -1, 0}, {math.MaxInt32, 2, 0}} {
		if got := c.On(x.day, x.cause); got != x.want {
			t.Errorf("day %d, cause %d: %d, want %d", x.day, x.cause, got, x.want)
		}
	}
	for _, cause := range []int{-1, 3, 4, 99} {
		if got := c.Total(cause); got != 0 {
			t.Errorf("cause %d: %d in all, want 0", cause, got)
		}
	}
	want := &survival.Table{
		Time: []float64{0, 3, 5}, AtRisk: []float64{5, 4, 3}, Censored: []float64{0, 0, 1},
		Event: [][]float64{{1, 1, 0}, {0, 0, 2}},
	}
	if d := cmp.Diff(want, c.Table()); d != "" {
		t.Errorf("table (-want +got):\n%s", d)
	}
	var room survival.Room
	for range 2 { // the second time in what the first left
		room.Clear()
		if d := cmp.Diff(want, c.TableIn(&room)); d != "" {
			t.Errorf("table in a room (-want +got):\n%s", d)
		}
	}
}

func mustPanic(t *testing.T, name string, f func()) {
	t.Helper()
	defer func() {
		if recover() == nil {
			t.Errorf("%s: no panic", name)
		}
	}()
	f()
}

func TestRange(t *testing.T) {
	c := tally.New(1)
	c.Add(tally.MaxDay, 1)
	if c.Days() != tally.MaxDay+1 || c.On(tally.MaxDay, 1) != 1 {
		t.Errorf("%d days", c.Days())
	}
	mustPanic(t, "after the last day", func() { c.Add(tally.MaxDay+1, 1) })
	mustPanic(t, "the last int32", func() { c.Add(math.MaxInt32, 1) })
	mustPanic(t, "before day 0", func() { c.Add(-1, 1) })
	mustPanic(t, "cause below 0", func() { c.Add(1, -1) })
	mustPanic(t, "cause 2 of 1", func() { c.Add(1, 2) })
	mustPanic(t, "no cause", func() { tally.New(0) })
	if c.Subjects() != 1 {
		t.Errorf("%d subjects after refused ones, want 1", c.Subjects())
	}
}

func TestGrow(t *testing.T) {
	c := tally.New(1)
	c.Add(2, 1)
	c.Grow(100)
	c.Grow(10)
	if c.Days() != 3 || c.On(2, 1) != 1 {
		t.Errorf("%d days, %d", c.Days(), c.On(2, 1))
	}
	day := int32(0)
	if allocations := testing.AllocsPerRun(98, func() { c.Add(day, 1); day++ }); allocations != 0 {
		t.Errorf("%v allocations within the room made", allocations)
	}
}

func TestMergeErrors(t *testing.T) {
	c, o := tally.New(1), tally.New(2)
	c.Add(1, 1)
	if err := c.Merge(o); err == nil {
		t.Error("counts of other causes merged")
	}
	// Doubling 31 times is just possible, once more is not.
	o = tally.New(1)
	o.Add(1, 1)
	o.Add(3, 1)
	for range 31 {
		if err := o.Merge(o); err != nil {
			t.Fatal(err)
		}
	}
	if o.On(1, 1) != 1<<31 {
		t.Fatalf("%d", o.On(1, 1))
	}
	before := o.On(3, 1)
	if err := o.Merge(o); err == nil {
		t.Error("an overflow passed")
	}
	if o.On(1, 1) != 1<<31 || o.On(3, 1) != before {
		t.Error("counts changed by a refused merge")
	}
	if err := c.Merge(o); err != nil || c.On(1, 1) != 1<<31+1 || c.Days() != 4 {
		t.Errorf("%v, %d", err, c.On(1, 1))
	}
	most := tally.Exit{Day: 2, Cause: 1, Subjects: math.MaxUint32}
	for _, n := range []int{1, 255, 256, 3000} { // as a list, and in other forms
		full, more := tally.New(1), tally.New(1)
		if err := full.AddExit(most); err != nil {
			t.Fatal(err)
		}
		for range n {
			more.Add(1, 1)
		}
		more.Add(2, 1)
		more.Add(9, 1)
		if err := full.Merge(more); err == nil {
			t.Errorf("an overflow by %d others passed", n)
		}
		if got := slices.Collect(full.Exits()); !slices.Equal(got, []tally.Exit{most}) || full.Days() != 3 {
			t.Errorf("after %d refused: %v, %d days", n+2, got, full.Days())
		}
	}
}

// Every way of reading counts agrees with the rows, at any size.
func TestReadings(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for _, n := range []int{0, 1, 2, 254, 255, 256, 257, 258, 600} {
		rows := draw(random, n, 30, 2)
		c := count(rows, 2)
		var personDays int64
		total, on, days := make(map[int]int64), make(map[row]int64), 0
		for _, r := range rows {
			personDays += int64(r.day)
			total[r.cause]++
			on[r]++
			days = max(days, int(r.day)+1)
		}
		if c.Subjects() != int64(n) || c.PersonDays() != personDays || c.Days() != days {
			t.Errorf("%d rows: %d subjects, %d person-days, %d days", n, c.Subjects(), c.PersonDays(), c.Days())
		}
		for cause := range 3 {
			if c.Total(cause) != total[cause] {
				t.Errorf("%d rows, cause %d: %d, want %d", n, cause, c.Total(cause), total[cause])
			}
			for day := range int32(31) {
				if got := c.On(day, cause); got != on[row{day, cause}] {
					t.Errorf("%d rows, day %d, cause %d: %d, want %d", n, day, cause, got, on[row{day, cause}])
				}
			}
		}
		// Merged into itself, everything is there twice.
		if err := c.Merge(c); err != nil {
			t.Fatal(err)
		}
		twice, err := survival.NewTable(sample(append(rows, rows...)), 2)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(twice, c.Table()); d != "" {
			t.Errorf("%d rows, twice (-want +got):\n%s", n, d)
		}
	}
}

func sameTable(a, b *survival.Table) bool { return cmp.Equal(a, b) }

// curves of a table, read by every method.
type reading struct {
	Curve [3][]float64
	Point survival.Point
}

func readings(t *testing.T, table *survival.Table) []reading {
	t.Helper()
	var out []reading
	for k := 1; k <= table.Causes(); k++ {
		for _, estimate := range []func(*survival.Table, int) (*survival.Curve, error){survival.KaplanMeier, survival.CumulativeIncidence} {
			c, err := estimate(table, k)
			if err != nil {
				t.Fatal(err)
			}
			r := reading{Curve: [3][]float64{c.Time, c.Incidence, c.SE}}
			r.Point, _ = c.At(9, survival.Interval{Method: survival.BetaProduct})
			out = append(out, r)
		}
	}
	return out
}

// The table of the counts is the table of the sample, to the bit; so it is after
// splitting the rows into parts and merging their counts in any order; and so are
// the curves made of them.
func TestSameAsSample(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	for i := range 4000 {
		causes := 1 + i%4
		size := 120
		if i%10 == 0 {
			size = 2000 // above any number that may be kept in another way
		}
		rows := draw(random, random.IntN(size), 1+random.IntN(40), causes)
		want, err := survival.NewTable(sample(rows), causes)
		if err != nil {
			t.Fatal(err)
		}
		got := count(rows, causes).Table()
		if !sameTable(want, got) {
			t.Fatalf("%v: tables differ:\n%s", rows, cmp.Diff(want, got))
		}
		if err := got.Check(); err != nil {
			t.Fatal(err)
		}

		parts := make([]*tally.Counts, 1+random.IntN(8))
		for j := range parts {
			parts[j] = tally.New(causes)
		}
		for _, r := range rows {
			parts[random.IntN(len(parts))].Add(r.day, r.cause)
		}
		random.Shuffle(len(parts), func(i, j int) { parts[i], parts[j] = parts[j], parts[i] })
		for len(parts) > 1 { // two by two, in any tree
			i, j := len(parts)-1, random.IntN(len(parts)-1)
			if err := parts[j].Merge(parts[i]); err != nil {
				t.Fatal(err)
			}
			parts = parts[:i]
		}
		merged := parts[0].Table()
		if !sameTable(want, merged) {
			t.Fatalf("%v: tables differ after merging:\n%s", rows, cmp.Diff(want, merged))
		}
		if i%8 == 0 {
			if d := cmp.Diff(readings(t, want), readings(t, merged), cmpopts.EquateNaNs()); d != "" {
				t.Fatalf("%v: curves differ:\n%s", rows, d)
			}
		}
	}
}

// What is counted can be taken apart and counted again, as a list and as a number for
// each day.
func TestExitsGiveTheCountsBack(t *testing.T) {
	for _, n := range []int{0, 1, 200, 257, 5000} {
		random := rand.New(rand.NewPCG(uint64(n), 2))
		c := tally.New(2)
		for range n {
			c.Add(int32(random.IntN(300)), random.IntN(3))
		}
		again := tally.New(2)
		last, total := tally.Exit{Day: -1}, int64(0)
		for e := range c.Exits() {
			if e.Day < last.Day || e.Day == last.Day && e.Cause <= last.Cause || e.Subjects != c.On(e.Day, e.Cause) {
				t.Fatalf("%d subjects: %+v after %+v", n, e, last)
			}
			last, total = e, total+e.Subjects
			if err := again.AddExit(e); err != nil {
				t.Fatal(err)
			}
		}
		if total != int64(n) {
			t.Errorf("%d of %d subjects", total, n)
		}
		if diff := cmp.Diff(c.Table(), again.Table()); diff != "" {
			t.Errorf("%d subjects: %s", n, diff)
		}
		for range c.Exits() { // may be left early
			break
		}
	}
	for _, e := range []tally.Exit{{-1, 0, 1}, {tally.MaxDay + 1, 0, 1}, {0, 3, 1}, {0, -1, 1}, {0, 0, -1}, {0, 0, 1 << 32}} {
		if err := tally.New(2).AddExit(e); err == nil {
			t.Errorf("%+v: no error", e)
		}
	}
}
