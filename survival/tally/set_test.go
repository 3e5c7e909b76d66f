package tally_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/holdfast/survival/tally"
	"github.com/google/go-cmp/cmp"
)

// named is a set's contents by the names of the levels, as a list so that no
// name can be confused with another.
func named(s *tally.Set) map[string]*tally.Counts {
	out := make(map[string]*tally.Counts)
	for k, c := range s.All() {
		name := ""
		for i, d := range s.Dimensions {
			if l := k.Level(i); l == tally.All {
				name += "all;"
			} else {
				name += fmt.Sprintf("%q;", d.Levels[l])
			}
		}
		out[name] = c
	}
	return out
}

func sameSet(a, b *tally.Set) string {
	x, y := named(a), named(b)
	for k := range x {
		if y[k] == nil {
			return fmt.Sprintf("%s is only in one of them", k)
		}
		if d := cmp.Diff(x[k].Table(), y[k].Table()); d != "" {
			return fmt.Sprintf("%s: %s", k, d)
		}
	}
	if len(x) != len(y) {
		return fmt.Sprintf("%d and %d groups", len(x), len(y))
	}
	return ""
}

func TestKey(t *testing.T) {
	k := tally.NewKey(2, tally.All, 0, 70_000)
	if k.Len() != 4 || k.Level(0) != 2 || k.Level(1) != tally.All || k.Level(2) != 0 || k.Level(3) != 70_000 {
		t.Errorf("got %d levels: %d %d %d %d", k.Len(), k.Level(0), k.Level(1), k.Level(2), k.Level(3))
	}
	if k != tally.NewKey(2, tally.All, 0, 70_000) {
		t.Error("equal levels, unequal keys")
	}
	if k == tally.NewKey(2, 0, 0, 70_000) || tally.NewKey(1, 2) == tally.NewKey(2, 1) {
		t.Error("unequal levels, equal keys")
	}
	if (tally.Key{}).Len() != 0 || tally.NewKey() != (tally.Key{}) {
		t.Error("the key of no dimension")
	}
	sorted := []tally.Key{
		tally.NewKey(tally.All, tally.All), tally.NewKey(tally.All, 0), tally.NewKey(0, tally.All), tally.NewKey(0, 1),
		tally.NewKey(0, 255), tally.NewKey(0, 256), tally.NewKey(0, 65_536), tally.NewKey(1, 0), tally.NewKey(300, 0),
	}
	for i, a := range sorted {
		for j, b := range sorted {
			want := 0
			if i < j {
				want = -1
			} else if i > j {
				want = 1
			}
			if got := a.Compare(b); got != want {
				t.Errorf("key %d against key %d: %d, want %d", i, j, got, want)
			}
		}
	}
}

// A level named "All", or with any separator in its name, is a level like others.
func TestLevelNamesNeverCollide(t *testing.T) {
	names := []string{"All", "", ";", "a;b", "a", "b", "-1", "not recorded", "\x00", "a,b", "a/b", "all"}
	s := tally.NewSet([]tally.Dimension{{Name: "bearing", Levels: names}, {Name: "fixation", Levels: names}}, []string{"revised"})
	for i := range names {
		for j := range names {
			for range i*len(names) + j + 1 {
				s.Group(tally.NewKey(i, j)).Add(7, 1)
			}
		}
	}
	s.Group(tally.NewKey(tally.All, tally.All)).Add(1, 0)
	if s.Len() != len(names)*len(names)+1 {
		t.Fatalf("%d groups", s.Len())
	}
	for i := range names {
		for j := range names {
			if got := s.Counts(tally.NewKey(i, j)).Total(1); got != int64(i*len(names)+j+1) {
				t.Errorf("%q, %q: %d", names[i], names[j], got)
			}
		}
	}
	if got := s.Counts(tally.NewKey(tally.All, tally.All)); got.Subjects() != 1 || got.Total(0) != 1 {
		t.Errorf("margin: %d", got.Subjects())
	}
	if got := s.Keys()[0]; got != tally.NewKey(tally.All, tally.All) {
		t.Errorf("the margin is not first")
	}
	if s.Counts(tally.NewKey(tally.All, 0)) != nil {
		t.Error("a group nobody counted")
	}
}

func TestSetMisuse(t *testing.T) {
	d := []tally.Dimension{{Name: "bearing", Levels: []string{"x", "y"}}}
	mustPanic(t, "no cause", func() { tally.NewSet(d, nil) })
	s := tally.NewSet(d, []string{"revised"})
	mustPanic(t, "two levels for one dimension", func() { s.Group(tally.NewKey(0, 0)) })
	mustPanic(t, "no such level", func() { s.Group(tally.NewKey(2)) })
	mustPanic(t, "below All", func() { s.Group(tally.NewKey(-2)) })
	if s.Len() != 0 {
		t.Errorf("%d groups made by misuse", s.Len())
	}
}

func TestAllStops(t *testing.T) {
	s := tally.NewSet([]tally.Dimension{{Name: "bearing", Levels: []string{"x", "y", "z"}}}, []string{"revised"})
	for i := range 3 {
		s.Group(tally.NewKey(2-i)).Add(int32(i), 1)
	}
	var got []int
	for k, c := range s.All() {
		got = append(got, k.Level(0))
		if c.Subjects() != 1 {
			t.Error("wrong counts")
		}
		if len(got) == 2 {
			break
		}
	}
	if !slices.Equal(got, []int{0, 1}) {
		t.Errorf("got %v", got)
	}
}

func TestSetMergeErrors(t *testing.T) {
	base := func() *tally.Set {
		s := tally.NewSet([]tally.Dimension{{Name: "bearing", Levels: []string{"x"}}}, []string{"revised", "died"})
		s.Group(tally.NewKey(0)).Add(3, 2)
		return s
	}
	for name, o := range map[string]*tally.Set{
		"other causes":     tally.NewSet([]tally.Dimension{{Name: "bearing"}}, []string{"died", "revised"}),
		"fewer causes":     tally.NewSet([]tally.Dimension{{Name: "bearing"}}, []string{"revised"}),
		"more dimensions":  tally.NewSet([]tally.Dimension{{Name: "bearing"}, {Name: "sex"}}, []string{"revised", "died"}),
		"other dimensions": tally.NewSet([]tally.Dimension{{Name: "fixation", Levels: []string{"z"}}}, []string{"revised", "died"}),
	} {
		s := base()
		if err := s.Merge(o); err == nil {
			t.Errorf("%s: no error", name)
		}
		if d := sameSet(s, base()); d != "" || len(s.Dimensions[0].Levels) != 1 {
			t.Errorf("%s: the set changed: %s", name, d)
		}
	}
	// An overflow in one group leaves the others as they were.
	s, o := base(), base()
	big := o.Group(tally.NewKey(0))
	for range 31 {
		if err := big.Merge(big); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Merge(o); err != nil {
		t.Fatal(err)
	}
	before := s.Counts(tally.NewKey(0)).On(3, 2)
	if err := s.Merge(o); err == nil || s.Counts(tally.NewKey(0)).On(3, 2) != before {
		t.Errorf("overflow: %v, %d", err, s.Counts(tally.NewKey(0)).On(3, 2))
	}
}

// Levels are matched by name and may stand in another order, be missing or new.
func TestMergeDifferentLevels(t *testing.T) {
	causes := []string{"revised"}
	levels := []string{"x", "y"}
	a := tally.NewSet([]tally.Dimension{{Name: "bearing", Levels: levels}}, causes)
	a.Group(tally.NewKey(0)).Add(1, 1)
	a.Group(tally.NewKey(1)).Add(2, 0)
	b := tally.NewSet([]tally.Dimension{{Name: "bearing", Levels: []string{"z", "y", "All"}}}, causes)
	b.Group(tally.NewKey(0)).Add(3, 1)
	b.Group(tally.NewKey(1)).Add(4, 1)
	b.Group(tally.NewKey(2)).Add(5, 1)
	b.Group(tally.NewKey(tally.All)).Add(6, 1)
	if err := a.Merge(b); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"x", "y", "z", "All"}, a.Dimensions[0].Levels); d != "" {
		t.Errorf("levels (-want +got):\n%s", d)
	}
	if !slices.Equal(levels, []string{"x", "y"}) {
		t.Errorf("the caller's levels are now %v", levels)
	}
	for key, want := range map[int]int64{0: 1, 1: 6, 2: 3, 3: 5, tally.All: 6} {
		if got := a.Counts(tally.NewKey(key)).PersonDays(); got != want {
			t.Errorf("level %d: %d person-days, want %d", key, got, want)
		}
	}
	if got := b.Counts(tally.NewKey(1)).Subjects(); got != 1 {
		t.Errorf("the other set changed: %d", got)
	}
	a.Group(tally.NewKey(2)).Add(9, 0)
	if got := b.Counts(tally.NewKey(0)).Subjects(); got != 1 {
		t.Error("the two sets share counts after merging")
	}
}

func TestCollapse(t *testing.T) {
	dimensions := []tally.Dimension{
		{Name: "bearing", Levels: []string{"x", "y"}}, {Name: "fixation", Levels: []string{"p", "q"}},
	}
	s := tally.NewSet(dimensions, []string{"revised"})
	for i := range 2 {
		for j := range 2 {
			for range 1 + 2*i + j {
				s.Group(tally.NewKey(i, j)).Add(int32(10*i+j), 1)
			}
		}
	}
	for _, x := range []struct {
		keep []string
		want map[tally.Key]int64
	}{
		{nil, map[tally.Key]int64{tally.NewKey(tally.All, tally.All): 10}},
		{[]string{"bearing"}, map[tally.Key]int64{tally.NewKey(0, tally.All): 3, tally.NewKey(1, tally.All): 7}},
		{[]string{"fixation"}, map[tally.Key]int64{tally.NewKey(tally.All, 0): 4, tally.NewKey(tally.All, 1): 6}},
		{[]string{"fixation", "bearing", "bearing"}, map[tally.Key]int64{
			tally.NewKey(0, 0): 1, tally.NewKey(0, 1): 2, tally.NewKey(1, 0): 3, tally.NewKey(1, 1): 4}},
	} {
		c, err := s.Collapse(x.keep...)
		if err != nil {
			t.Fatal(err)
		}
		got := make(map[tally.Key]int64)
		for k, counts := range c.All() {
			got[k] = counts.Subjects()
		}
		if d := cmp.Diff(x.want, got, cmp.AllowUnexported(tally.Key{})); d != "" {
			t.Errorf("keep %v (-want +got):\n%s", x.keep, d)
		}
	}
	if _, err := s.Collapse("sex"); err == nil {
		t.Error("a dimension that is not there was kept")
	}
	if s.Len() != 4 || s.Counts(tally.NewKey(1, 1)).Subjects() != 4 {
		t.Error("the set changed")
	}
	big := s.Group(tally.NewKey(0, 0))
	for range 31 {
		if err := big.Merge(big); err != nil {
			t.Fatal(err)
		}
	}
	other := s.Group(tally.NewKey(0, 1))
	if err := other.Merge(big); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Collapse("bearing"); err == nil {
		t.Error("an overflow passed")
	}
}

// However rows are split over sets, whatever order the sets know their levels in,
// and whether margins are taken before or after, the same counts come out.
func TestSplitMergeCollapse(t *testing.T) {
	random := rand.New(rand.NewPCG(21, 22))
	causes := []string{"revised", "died"}
	all := [][]string{{"x", "y", "z"}, {"p", "q", "All", "p;q"}, {"<55", "55-64"}}
	names := []string{"bearing", "fixation", "age_band"}
	keeps := [][]string{nil, {"bearing"}, {"age_band"}, {"fixation", "age_band"}, names}
	for range 400 {
		set := func(order bool) (*tally.Set, []map[string]int) {
			var d []tally.Dimension
			var at []map[string]int
			for i, levels := range all {
				levels = slices.Clone(levels)
				if order {
					random.Shuffle(len(levels), func(i, j int) { levels[i], levels[j] = levels[j], levels[i] })
				}
				index := make(map[string]int)
				for j, l := range levels {
					index[l] = j
				}
				d, at = append(d, tally.Dimension{Name: names[i], Levels: levels}), append(at, index)
			}
			return tally.NewSet(d, causes), at
		}
		whole, at := set(false)
		var parts []*tally.Set
		var indexes []([]map[string]int)
		for range 1 + random.IntN(5) {
			s, at := set(true)
			parts, indexes = append(parts, s), append(indexes, at)
		}
		for range random.IntN(200) {
			day, cause := int32(random.IntN(30)), random.IntN(3)
			part := random.IntN(len(parts))
			key, partKey := make([]int, 3), make([]int, 3)
			for i, levels := range all {
				level := levels[random.IntN(len(levels))]
				key[i], partKey[i] = at[i][level], indexes[part][i][level]
			}
			whole.Group(tally.NewKey(key...)).Add(day, cause)
			parts[part].Group(tally.NewKey(partKey...)).Add(day, cause)
		}
		keep := keeps[random.IntN(len(keeps))]
		want, err := whole.Collapse(keep...)
		if err != nil {
			t.Fatal(err)
		}
		first := random.IntN(2) == 0 // margins of the parts first
		merged, _ := set(true)
		for _, i := range random.Perm(len(parts)) {
			p := parts[i]
			if first {
				if p, err = p.Collapse(keep...); err != nil {
					t.Fatal(err)
				}
			}
			if err := merged.Merge(p); err != nil {
				t.Fatal(err)
			}
		}
		if merged, err = merged.Collapse(keep...); err != nil {
			t.Fatal(err)
		}
		if d := sameSet(want, merged); d != "" {
			t.Fatal(d)
		}
	}
}

func TestWords(t *testing.T) {
	s := tally.NewSet([]tally.Dimension{{"joint", []string{"hip", "knee"}}, {"bearing", []string{"All", "fixed"}}}, []string{"revision"})
	for _, test := range []struct {
		key  tally.Key
		want []string
	}{
		{tally.NewKey(1, 1), []string{"knee", "fixed"}}, {tally.NewKey(0, tally.All), []string{"hip", "all"}}, {tally.NewKey(tally.All, 0), []string{"all", "All"}},
	} {
		if got := s.Words(test.key, "all"); !slices.Equal(got, test.want) {
			t.Errorf("%q, want %q", got, test.want)
		}
	}
}
