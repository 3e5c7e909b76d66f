package disclose_test

import (
	"fmt"
	"hash/maphash"
	"iter"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/testaudit"
)

// fates are what may become of a hip operated on on 1 January 2018, closed on 1 July 2020: the
// revision, death and day last seen in a table; whether it is at risk, revised or dead at the first and
// the second year; and the least and most of years that such a hip may have been followed, its days
// not being known.
var fates = []struct {
	cells                 string
	atRisk, revised, dead [2]int64
	least, most           float64
}{
	{",,2020-07-01", [2]int64{1, 1}, [2]int64{}, [2]int64{}, 2, 3},
	{"2018-06-01,,", [2]int64{}, [2]int64{1, 1}, [2]int64{}, 0, 1},
	{",2018-06-01,", [2]int64{}, [2]int64{}, [2]int64{1, 1}, 0, 1},
	{"2019-06-01,,", [2]int64{1, 0}, [2]int64{0, 1}, [2]int64{}, 1, 2},
	{",,", [2]int64{1, 1}, [2]int64{}, [2]int64{}, 2, 3},       // assumed
	{",,2018-06-01", [2]int64{}, [2]int64{}, [2]int64{}, 0, 1}, // lost
}

// shares lists all ways in which n joints may have had the first of the fates.
func shares(n, of int) [][]int {
	if of == 1 {
		return [][]int{{n}}
	}
	var all [][]int
	for first := range n + 1 {
		for _, rest := range shares(n-first, of-1) {
			all = append(all, append([]int{first}, rest...))
		}
	}
	return all
}

// figuresAround are published figures of all hips and of cemented ones, so close to one another that
// readings of the exact numbers beside them would tell how many were revised.
func figuresAround(t testing.TB) []*benchmark.Series {
	var b strings.Builder
	b.WriteString(publishedHeadings)
	for _, pct := range []int{6, 25} {
		fmt.Fprintf(&b, "all %d,hip,total,,,,1,%[1]d,,,,1-KM,Invented\npart %[1]d,hip,total,,cemented,,1,%[1]d,,,,1-KM,Invented\n", pct)
		fmt.Fprintf(&b, "dead %d,hip,total,,,,2,%[1]d,,,,cumulative incidence,Invented\n", pct)
	}
	return testaudit.Book(t, b.String())
}

// countsOf is how many counts and differences there are of a group.
const countsOf = 12

// fared are groups whose joints had so many of each fate.
type fared struct {
	groups [][]int
	counts []int64      // every one, and every difference of two of which one is a part of the other
	years  [][2]float64 // of all and of each group, the least and the most there may be
}

func fare(groups [][]int) fared {
	f := fared{groups: groups}
	all := groups[0]
	for _, group := range groups[1:] {
		all = add(all, group)
	}
	for _, group := range append([][]int{all}, groups...) {
		var joints int64
		var atRisk, revised, dead [2]int64
		var followed [2]float64
		for i, n := range group {
			fate := fates[i]
			joints += int64(n)
			followed[0] += float64(n) * fate.least
			followed[1] += float64(n) * fate.most
			for y := range 2 {
				atRisk[y] += int64(n) * fate.atRisk[y]
				revised[y] += int64(n) * fate.revised[y]
				dead[y] += int64(n) * fate.dead[y]
			}
		}
		f.years = append(f.years, followed)
		f.counts = append(f.counts, joints, atRisk[0], atRisk[1], revised[0], revised[1], dead[0], dead[1],
			joints-atRisk[0], joints-atRisk[1], atRisk[0]-atRisk[1], revised[1]-revised[0], dead[1]-dead[0])
	}
	return f // all less one group is the other
}

// fingerprint is of every number and word that an audit holds, of which all that is shared is made,
// but for implant-years and their rate, which days that nobody knows go into.
func fingerprint(seed maphash.Seed, a *audit.Audit) uint64 {
	var h maphash.Hash
	h.SetSeed(seed)
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Func: // none is kept
		case reflect.Pointer, reflect.Interface:
			if h.WriteByte(1); !v.IsNil() {
				walk(v.Elem())
			}
		case reflect.Slice, reflect.Array:
			h.WriteByte(byte(v.Len()))
			for i := range v.Len() {
				walk(v.Index(i))
			}
		case reflect.Struct:
			for i := range v.NumField() {
				// Fields that are not exported are empty: TestSharedHoldsNothingMarked.
				if f := v.Type().Field(i); f.IsExported() && f.Name != "ImplantYears" && f.Name != "Rate" {
					walk(v.Field(i))
				}
			}
		case reflect.String:
			h.WriteString(v.String())
		case reflect.Float64:
			maphash.WriteComparable(&h, math.Float64bits(v.Float()))
		case reflect.Bool:
			maphash.WriteComparable(&h, v.Bool())
		default:
			if v.CanUint() {
				maphash.WriteComparable(&h, v.Uint())
			} else {
				maphash.WriteComparable(&h, v.Int())
			}
		}
	}
	walk(reflect.ValueOf(a))
	return h.Sum64()
}

// same is whether a table may be the one of which so many implant-years are shared, each more or less by
// as much as its rounding hides at least.
func (f *fared) same(years []float64) bool {
	for i, shown := range years {
		if f.years[i][0] > shown+2.5 || f.years[i][1] < shown-2.5 {
			return false
		}
	}
	return true
}

// enumeration shares tables of groups that fared in some way, and keeps what is shared of each.
type enumeration struct {
	t       *testing.T
	seed    maphash.Seed
	options audit.Options
	end     cohort.Day
}

func newEnumeration(t *testing.T) *enumeration {
	return &enumeration{t, maphash.MakeSeed(), audit.Options{By: []string{"fixation"}, Years: []float64{1, 2}, Published: figuresAround(t)}, testaudit.Day(t, "2020-07-01")}
}

// shared is a table, a fingerprint of what is shared of it, and the implant-years in that.
type shared struct {
	fared
	print uint64
	years []float64
}

func (e *enumeration) share(groups [][]int) shared {
	e.t.Helper()
	var b strings.Builder
	b.WriteString("operation_date,procedure,fixation,revision_date,death_date,last_seen_date\n")
	for g, group := range groups {
		for i, n := range group {
			b.WriteString(testaudit.Repeat(n, "2018-01-01,THR,"+[]string{"cemented", "porous"}[g]+","+fates[i].cells))
		}
	}
	a := share(e.t, testaudit.Read(e.t, b.String(), cohort.Options{ClosingDate: &e.end, Keep: audit.Statable()}), e.options)
	s := shared{fared: fare(groups), print: fingerprint(e.seed, a)}
	for i := range a.Groups {
		s.years = append(s.years, a.Groups[i].ImplantYears)
	}
	s.counts = s.counts[:countsOf*len(a.Groups)] // of a group that is not told of nothing is told
	return s
}

// tells is which counts of 1 to 7 of a table all tables like it have.
func (s *shared) tells(like iter.Seq[shared]) (small int, told []int) {
	for i, n := range s.counts {
		if n >= 1 && n <= 7 {
			told = append(told, i)
		}
	}
	small = len(told)
	for other := range like {
		if len(told) == 0 {
			break
		}
		if other.print == s.print && other.same(s.years) {
			told = slices.DeleteFunc(told, func(i int) bool { return other.counts[i] != s.counts[i] })
		}
	}
	return small, told
}

func add(a, b []int) []int {
	sum := slices.Clone(a)
	for i := range b {
		sum[i] += b[i]
	}
	return sum
}

// TestNothingIsToldByEnumeration: whoever makes every table there can be, shares each and keeps those of
// which the same is shared as of a table, knows no count of 1 to 7 of it, nor such a difference. What is
// compared is all that a shared audit holds: text, files, comparisons and figures are made from nothing else.
// Tables are all of 8 to 12 joints, which 10 stands for.
func TestNothingIsToldByEnumeration(t *testing.T) {
	for _, test := range []struct {
		name string
		ways []int // of the fates
		long bool
	}{
		{"revised early, or not", []int{0, 1}, false},
		{"revised early and late, or dead", []int{0, 1, 2, 3}, true},
		{"revised, lost, or not seen for long", []int{1, 4, 5}, true},
	} {
		if test.long && testing.Short() {
			continue
		}
		e := newEnumeration(t)
		alike := make(map[uint64][]shared)
		for n := 8; n <= 12; n++ {
			for _, some := range shares(n, len(test.ways)) {
				group := make([]int, len(fates))
				for i, way := range test.ways {
					group[way] = some[i]
				}
				s := e.share([][]int{group})
				alike[s.print] = append(alike[s.print], s)
			}
		}
		small := 0
		for _, all := range alike {
			for _, s := range all {
				n, told := s.tells(slices.Values(all))
				if small += n; len(told) > 0 {
					t.Fatalf("%s: of joints that fared %v, count %d is told; %d are like it", test.name, s.groups, told[0], len(all)-1)
				}
			}
		}
		t.Logf("%s: %d small counts", test.name, small)
		if small < 100 {
			t.Errorf("%s: %d small counts are too few to be a test", test.name, small)
		}
	}
}

// TestNothingIsToldOfTwoGroups: the same of random tables of two groups, beside those in which one joint or two
// fared otherwise, or were not there.
func TestNothingIsToldOfTwoGroups(t *testing.T) {
	if testing.Short() {
		t.Skip("thousands of audits")
	}
	e, small := newEnumeration(t), 0
	for seed := range uint64(6) {
		r := rand.New(rand.NewPCG(seed, 3))
		groups := [][]int{make([]int, len(fates)), make([]int, len(fates))}
		for g := range groups {
			usual := r.IntN(len(fates))
			for range 8 + r.IntN(30) {
				if r.IntN(3) > 0 {
					groups[g][usual]++
				} else {
					groups[g][r.IntN(len(fates))]++
				}
			}
		}
		s := e.share(groups)
		n, told := s.tells(func(yield func(shared) bool) {
			for range 1500 {
				if !yield(e.share(moved(r, groups))) {
					return
				}
			}
		})
		if small += n; len(told) > 0 {
			t.Errorf("of joints that fared %v, count %v is told", groups, told)
		}
	}
	t.Logf("%d small counts", small)
}

// moved is groups in which one joint to three fared otherwise, came or went.
func moved(r *rand.Rand, groups [][]int) [][]int {
	to := [][]int{slices.Clone(groups[0]), slices.Clone(groups[1])}
	for range 1 + r.IntN(3) {
		group := to[r.IntN(2)]
		if from := r.IntN(len(fates) + 1); from < len(fates) && group[from] > 0 {
			group[from]--
		}
		if at := r.IntN(len(fates) + 1); at < len(fates) {
			group[at]++
		}
	}
	return to
}
