package audit_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// attacker is a reader of a shared audit who works out what is hidden. Unknown
// are the exact counts; known are linear bounds on them.
//
// The bounds are written as sum of coefficients times (count − truth) ≤ slack,
// so that slack is at least 0 and the truth is the start of every search. No
// answer depends on the truth otherwise.
type attacker struct {
	truth []float64
	exact []bool // the count is known
	rows  []bound
}

type bound struct {
	index []int
	coef  []float64
	slack float64
}

// unknown adds a count.
func (a *attacker) unknown(truth float64) int {
	a.truth, a.exact = append(a.truth, truth), append(a.exact, false)
	return len(a.truth) - 1
}

// atMost says that a sum of coefficients times counts is at most something.
func (a *attacker) atMost(limit float64, index []int, coef []float64) {
	for i, v := range index {
		limit -= coef[i] * a.truth[v]
	}
	if limit < -1e-9 {
		panic(fmt.Sprintf("what the attacker knows is wrong by %v", -limit))
	}
	b := bound{slack: math.Max(0, limit)}
	for i, v := range index {
		if !a.exact[v] {
			b.index, b.coef = append(b.index, v), append(b.coef, coef[i])
		}
	}
	if len(b.index) > 0 {
		a.rows = append(a.rows, b)
	}
}

// between says that a count lies between two numbers.
func (a *attacker) between(v int, low, high float64) {
	a.atMost(-low, []int{v}, []float64{-1})
	if !math.IsInf(high, 1) {
		a.atMost(high, []int{v}, []float64{1})
	}
}

// notAbove says that one count is at most another.
func (a *attacker) notAbove(v, w int) { a.atMost(0, []int{v, w}, []float64{1, -1}) }

// sum says that counts add up to a total.
func (a *attacker) sum(total int, parts []int) {
	index, plus, minus := append([]int{total}, parts...), []float64{-1}, []float64{1}
	for range parts {
		plus, minus = append(plus, 1), append(minus, -1)
	}
	a.atMost(0, index, plus)
	a.atMost(0, index, minus)
}

// solve gives the least and the greatest value that a sum of coefficients times
// counts can have, by the simplex method on a dense tableau with Bland's rule.
// Counts differ from the truth by x⁺ − x⁻; the slacks are a feasible basis.
func (a *attacker) solve(index []int, coef []float64) (low, high float64) {
	at := 0.0
	for i, v := range index {
		at += coef[i] * a.truth[v]
	}
	return at - a.maximum(index, coef, -1), at + a.maximum(index, coef, 1)
}

func (a *attacker) maximum(index []int, coef []float64, sign float64) float64 {
	column, n := make([]int, len(a.truth)), 0
	for v := range column {
		if column[v] = n; !a.exact[v] {
			n++
		}
	}
	m := len(a.rows)
	width := 2*n + m + 1
	t := make([][]float64, m+1)
	for i := range t {
		t[i] = make([]float64, width)
	}
	basis := make([]int, m)
	for i, r := range a.rows {
		for k, v := range r.index {
			t[i][column[v]] += r.coef[k]
			t[i][n+column[v]] -= r.coef[k]
		}
		t[i][2*n+i], t[i][width-1], basis[i] = 1, r.slack, 2*n+i
	}
	for k, v := range index {
		if !a.exact[v] {
			t[m][column[v]] -= sign * coef[k]
			t[m][n+column[v]] += sign * coef[k]
		}
	}
	const tiny = 1e-9
	for {
		enter := slices.IndexFunc(t[m][:width-1], func(x float64) bool { return x < -tiny })
		if enter < 0 {
			return t[m][width-1]
		}
		row := -1
		var best float64
		for i := range m {
			if p := t[i][enter]; p > tiny {
				ratio := t[i][width-1] / p
				if row < 0 || ratio < best-tiny || ratio < best+tiny && basis[i] < basis[row] {
					row, best = i, ratio
				}
			}
		}
		if row < 0 {
			return math.Inf(1)
		}
		p := t[row][enter]
		for j := range t[row] {
			t[row][j] /= p
		}
		for i := range t {
			if k := t[i][enter]; i != row && k != 0 {
				for j, x := range t[row] {
					if x != 0 {
						t[i][j] -= k * x
					}
				}
			}
		}
		basis[row] = enter
	}
}

// whole are the least and greatest whole numbers in an interval.
func whole(low, high float64) (int64, int64) {
	if math.IsInf(high, 1) || high > 1e6 {
		high = 1e6
	}
	if math.IsInf(low, -1) || low < -1e6 {
		low = -1e6
	}
	return int64(math.Ceil(low - 1e-6)), int64(math.Floor(high + 1e-6))
}

// number is one count of a shared audit as the attacker meets it.
type number struct {
	name   string
	v      int // unknown of the attacker
	truth  int64
	shown  int64 // audit.Suppressed if hidden
	total  bool  // of all joints
	summed bool  // a total stands beside it that is shown, or is known to be 0
}

// counts are the cells of one joint and procedure, by kind, group and time.
// Times are the years, and last the whole follow-up (for atRisk, the day of
// operation).
type counts struct {
	groups  []string
	fields  map[string][]int
	reached [][]bool // known to the reader
	years   int
	kinds   map[string][][]number // atRisk, revised, died
}

// known collects what stands in a shared audit, and the truth from the audit it
// was made from.
func known(t testing.TB, from, to *audit.Audit, procedure string) *counts {
	t.Helper()
	k := &counts{fields: make(map[string][]int), kinds: make(map[string][][]number)}
	at := func(rows []audit.Row, years float64) *audit.Row {
		i := slices.IndexFunc(rows, func(r audit.Row) bool { return r.Years == years })
		if i < 0 {
			t.Fatalf("no row of %v years", years)
		}
		return &rows[i]
	}
	hidden := func(x float64) int64 {
		if math.IsNaN(x) {
			return audit.Suppressed
		}
		return int64(x)
	}
	i := 0
	for gi := range from.Groups {
		f := &from.Groups[gi]
		if f.Pooling == audit.Cell {
			continue
		}
		s := &to.Groups[i]
		i++
		if f.Word("procedure") != procedure {
			continue
		}
		g := len(k.groups)
		k.groups = append(k.groups, s.Title())
		if f.Pooling == audit.OneField {
			k.fields[f.Field()] = append(k.fields[f.Field()], g)
		}
		n := len(s.Rows)
		k.years = n
		atRisk, revised, reached := make([]number, n+1), make([]number, n+1), make([]bool, n+1)
		for y, row := range s.Rows {
			was := at(f.Rows, row.Years)
			name := fmt.Sprintf("%s at %v years", s.Title(), row.Years)
			atRisk[y] = number{name: name + ", at risk"}
			revised[y] = number{name: name + ", revised", truth: f.Revised}
			if was.Reached {
				atRisk[y].truth, revised[y].truth = int64(was.KaplanMeier.AtRisk), int64(was.KaplanMeier.Events)
			}
			if row.Reached {
				reached[y] = true
				atRisk[y].shown, revised[y].shown = hidden(row.KaplanMeier.AtRisk), hidden(row.KaplanMeier.Events)
			} else {
				revised[y].shown = s.Revised // nobody is left who could be revised
			}
		}
		atRisk[n] = number{name: s.Title() + ", joints", truth: f.Joints, shown: s.Joints}
		revised[n] = number{name: s.Title() + ", revised", truth: f.Revised, shown: s.Revised}
		k.reached = append(k.reached, reached)
		k.kinds["at risk"] = append(k.kinds["at risk"], atRisk)
		k.kinds["revised"] = append(k.kinds["revised"], revised)
		k.kinds["died"] = append(k.kinds["died"], []number{{name: s.Title() + ", died", truth: f.Died, shown: s.Died}})
	}
	for _, cells := range k.kinds {
		for g := range cells {
			for y := range cells[g] {
				c := &cells[g][y]
				c.total = g == 0
				c.summed = g > 0 && cells[0][y].shown != audit.Suppressed && cells[0][y].shown > 0
			}
		}
	}
	return k
}

// attack lists all that a reader of the kinds of numbers knows: sums, the order
// of years, and every number that is shown, exactly or as rounded. A number
// shown as 5k lies within 2 of it; what is shown as 0 is 0. A total that is
// hidden is at least 1, since a 0 is shown.
func (k *counts) attack(exact bool, kinds ...string) *attacker {
	a := &attacker{}
	for _, kind := range kinds {
		cells := k.kinds[kind]
		for g := range cells {
			for y := range cells[g] {
				c := &cells[g][y]
				c.v = a.unknown(float64(c.truth))
				switch {
				case c.shown == audit.Suppressed && c.total:
					a.between(c.v, 1, math.Inf(1))
				case c.shown == audit.Suppressed:
					a.between(c.v, 0, math.Inf(1))
				case exact || c.shown == 0:
					a.exact[c.v] = true
				default:
					a.between(c.v, float64(c.shown)-2, float64(c.shown)+2)
				}
			}
		}
		for y := range cells[0] {
			for _, groups := range k.fields {
				var parts []int
				for _, g := range groups {
					parts = append(parts, cells[g][y].v)
				}
				a.sum(cells[0][y].v, parts)
			}
		}
		for g := range cells {
			switch kind {
			case "at risk": // falls with the years, from all joints
				for y := range k.years {
					earlier := cells[g][k.years].v
					if y > 0 {
						earlier = cells[g][y-1].v
					}
					a.notAbove(cells[g][y].v, earlier)
				}
			case "revised": // rises
				for y := range k.years {
					a.notAbove(cells[g][y].v, cells[g][y+1].v)
					if !k.reached[g][y] {
						a.notAbove(cells[g][y+1].v, cells[g][y].v)
					}
				}
			}
		}
	}
	if !slices.Contains(kinds, "at risk") {
		return a
	}
	// A joint is at risk at a year or was revised before it, or neither. One
	// revised on the very day is both; day 1461 is a whole number of years.
	atRisk, revised, died := k.kinds["at risk"], k.kinds["revised"], k.kinds["died"]
	for g := range k.groups {
		joints := atRisk[g][k.years].v
		if slices.Contains(kinds, "revised") {
			for y := range k.years {
				if (y+1)%4 != 0 {
					a.atMost(0, []int{revised[g][y].v, atRisk[g][y].v, joints}, []float64{1, 1, -1})
				}
			}
			if slices.Contains(kinds, "died") {
				a.atMost(0, []int{revised[g][k.years].v, died[g][0].v, joints}, []float64{1, 1, -1})
			}
		}
	}
	return a
}

// randomTable is a table of 3 to 600 hips: up to three fields of up to five
// words, some of them rare, operated on over one to twelve years.
func randomTable(t testing.TB, r *rand.Rand) (table string, by []string) {
	fields := []string{"bearing", "fixation", "sex"}
	levels := map[string][]string{
		"bearing": {"MoP", "MoXLPE", "CoP", "CoC", "MoM"}, "fixation": {"cemented", "porous", "hybrid", "reverse hybrid"}, "sex": {"F", "M"}}
	by = fields[:1+r.IntN(3)]
	weights := make(map[string][]float64)
	for _, f := range by {
		for range levels[f] {
			weights[f] = append(weights[f], math.Pow(r.Float64(), 1+6*r.Float64()))
		}
	}
	pick := func(f string) string {
		total := 0.0
		for _, w := range weights[f] {
			total += w
		}
		x := total * r.Float64()
		for i, w := range weights[f] {
			if x -= w; x <= 0 {
				return levels[f][i]
			}
		}
		return levels[f][0]
	}
	end := day(t, "2020-12-31")
	n := int(math.Exp(math.Log(3) + r.Float64()*math.Log(200)))
	span, risk, resurfacing := 1+r.IntN(12), 0.3*r.Float64()*r.Float64(), r.Float64() < 0.3
	eras := r.Float64() < 0.4 // each bearing was used in its own years
	var b strings.Builder
	b.WriteString("operation_date,procedure," + strings.Join(by, ",") + ",revision_date,death_date\n")
	for range n {
		ago := r.IntN(365*span) + 1
		start := end - cohort.Day(ago)
		procedure := "THR"
		if resurfacing && r.Float64() < 0.1 {
			procedure = "HRA"
		}
		fmt.Fprintf(&b, "%s,%s", start, procedure)
		for _, f := range by {
			if f == "bearing" && eras {
				b.WriteString("," + levels[f][ago*4/(365*span)])
				continue
			}
			b.WriteString("," + pick(f))
		}
		revision, death := "", ""
		if r.Float64() < risk*3 {
			if d := start + cohort.Day(r.ExpFloat64()*1500); d <= end {
				revision = d.String()
			}
		}
		if d := start + cohort.Day(r.ExpFloat64()*6000); revision == "" && d <= end {
			death = d.String()
		}
		fmt.Fprintf(&b, ",%s,%s\n", revision, death)
	}
	return b.String(), by
}

// attacked is what attackers found in a number of random tables.
type attacked struct {
	tables, hidden, small, shown, exact, rounded, narrow, differences, pinnedDifferences int
	found                                                                                []string
}

// attackAll attacks shared random tables.
func attackAll(t *testing.T, tables int, share func(*audit.Audit) (*audit.Audit, error)) attacked {
	t.Helper()
	var all attacked
	years := []float64{1, 2, 3, 5, 8}
	for seed := range tables {
		r := rand.New(rand.NewPCG(uint64(seed), 1))
		table, by := randomTable(t, r)
		from := run(t, read(t, table, cohort.Options{ClosingDate: closing(t)}), audit.Options{By: by, Years: years[:1+r.IntN(5)]})
		to, err := share(from)
		if err != nil {
			t.Fatal(err)
		}
		all.tables++
		for _, procedure := range []string{"total", "resurfacing"} {
			k := known(t, from, to, procedure)
			if len(k.groups) > 0 {
				k.attackOne(seed, &all)
			}
		}
	}
	return all
}

// attackOne attacks every hidden count of one joint and procedure.
func (k *counts) attackOne(seed int, all *attacked) {
	found := func(format string, args ...any) {
		all.found = append(all.found, fmt.Sprintf("table %d: ", seed)+fmt.Sprintf(format, args...))
	}
	for _, kind := range []string{"at risk", "revised", "died"} {
		a := k.attack(true, kind) // all numbers of the kind that are shown, exactly
		for _, cells := range k.kinds[kind] {
			for _, c := range cells {
				if c.shown != audit.Suppressed {
					all.shown++
					continue
				}
				all.hidden++
				least, most := whole(a.solve([]int{c.v}, []float64{1}))
				isSmall := c.truth >= 1 && c.truth <= 7
				if isSmall {
					all.small++
				}
				switch {
				case least >= most:
					all.exact++
					found("%s: %d", c.name, least)
				case isSmall && c.summed && min(most, 7)-max(least, 1)+1 < 5:
					all.narrow++
					found("%s: %d to %d", c.name, least, most)
				}
			}
		}
	}
	a := k.attack(false, "at risk", "revised", "died") // as rounded, all together
	for _, kind := range []string{"at risk", "revised", "died"} {
		for _, cells := range k.kinds[kind] {
			for y, c := range cells {
				if c.shown == audit.Suppressed {
					if least, most := whole(a.solve([]int{c.v}, []float64{1})); least >= most {
						all.rounded++
						found("%s, from rounded numbers: %d", c.name, least)
					}
				}
				// How many it was more than the year before.
				if y == 0 {
					continue
				}
				before := cells[y-1]
				if d := c.truth - before.truth; d >= 1 && d <= 7 || d <= -1 && d >= -7 {
					all.differences++
					if least, most := whole(a.solve([]int{c.v, before.v}, []float64{1, -1})); least >= most {
						all.pinnedDifferences++
						found("%s less the year before: %d", c.name, least)
					}
				}
			}
		}
	}
}

// No hidden count can be worked out, neither by a reader who knows every number
// shown exactly, nor from all rounded numbers together.
func TestSharedCountsCannotBeSolved(t *testing.T) {
	tables := 150
	if testing.Short() {
		tables = 40
	}
	all := attackAll(t, tables, audit.Share)
	for i, f := range all.found {
		if i < 20 {
			t.Error(f)
		}
	}
	t.Logf("%+v", all)
	if len(all.found) > 0 {
		t.Errorf("%d numbers found", len(all.found))
	}
	if all.shown < all.tables || all.small < all.tables || all.hidden < all.small+all.tables {
		t.Error("the tables show or hide too little to be a test")
	}
}

// The same attacker works out counts where only those of 1 to 7 are hidden.
func TestAttackerSolvesWithoutFurtherHiding(t *testing.T) {
	all := attackAll(t, 40, audit.ShareSmallAlone)
	t.Logf("%d of %d hidden counts found, %d to less than five values", all.exact, all.hidden, all.narrow)
	if all.exact < all.tables {
		t.Errorf("%d counts found in %d tables", all.exact, all.tables)
	}
}
