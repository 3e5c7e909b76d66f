package disclose_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/disclose"
	"example.org/holdfast/cohort/internal/testaudit"
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

// cell is one count as a reader meets it, with what it was.
type cell struct {
	name  string
	truth int64
	shown int64
	v     int // unknown of the attacker
}

// seen is what a reader has of one group: joints, and by year at risk, revised and
// gone otherwise, the last two of the whole follow-up too. The last are not printed,
// but estimates are made from them.
type seen struct {
	field, word             string
	joints                  cell
	atRisk, revised, others []cell
}

// reader is what a reader of one joint and procedure has: all joints first.
type reader struct {
	groups []*seen
	kinds  []*seen // of published series, parts of all joints
}

// shownAs is how a count is rounded, written down anew: 0, 5 for 1 to 7, the nearest 5.
func shownAs(n int64) int64 {
	switch {
	case n == 0:
		return 0
	case n < 8:
		return 5
	}
	return 5 * int64(math.Floor(float64(n)/5+0.5))
}

// between are the counts that a shown one may stand for.
func between(shown int64) (least, most int64) {
	switch shown {
	case 0:
		return 0, 0
	case 5:
		return 1, 7
	case 10:
		return 8, 12
	}
	return shown - 2, shown + 2
}

// read collects what stands in the CSV of a shared audit, with the truth from the
// audit of the same table that is not shared. It fails where a number is none of the
// rounded ones.
func readerOf(t testing.TB, from, to *audit.Audit, procedure string) *reader {
	t.Helper()
	k := &reader{}
	byName := make(map[string]*seen)
	for _, r := range testaudit.Rows(t, to) {
		if r["procedure"] != procedure {
			continue
		}
		field, word := "", "All"
		for _, f := range to.By {
			if r[f] != "All" {
				field, word = f, r[f]
			}
		}
		was := groupsOf(from, to, procedure, field, word)
		name := procedure + " " + field + " " + word
		g := byName[name]
		count := func(what string, truth int64, shown string) cell {
			n, err := strconv.ParseInt(shown, 10, 64)
			if err != nil {
				t.Fatalf("%s, %s: %q is no count", name, what, shown)
			}
			c := cell{name: name + ", " + what, truth: truth, shown: n}
			if n != shownAs(truth) {
				t.Errorf("%s: %d is shown as %d", c.name, truth, n)
			}
			return c
		}
		total := func(of func(g *audit.Group) int64) (n int64) {
			for _, g := range was {
				n += of(g)
			}
			return n
		}
		if g == nil {
			g = &seen{field: field, word: word, joints: count("joints", total(func(g *audit.Group) int64 { return g.Joints }), r["joints"])}
			byName[name] = g
			k.groups = append(k.groups, g)
			g.revised = []cell{count("revised", total(func(g *audit.Group) int64 { return g.Revised }), r["revised"])}
			g.others = []cell{count("died", total(func(g *audit.Group) int64 { return g.Died }), r["died"])}
		}
		years := r.Number(t, "years")
		at := func(of func(r *audit.Row) int64, beyond func(g *audit.Group) int64) int64 {
			return total(func(g *audit.Group) int64 {
				if r := g.At(years); r.Reached {
					return of(r)
				}
				return beyond(g)
			})
		}
		none := func(*audit.Group) int64 { return 0 }
		atRisk := at(func(r *audit.Row) int64 { return int64(r.KaplanMeier.AtRisk) }, none)
		if r["revised_so_far"] == "" { // nobody is left
			if atRisk != 0 {
				t.Errorf("%s: nothing is shown of %v years", name, years)
			}
			continue
		}
		g.atRisk = append(g.atRisk, count("at risk at "+r["years"], atRisk, r["at_risk"]))
		n := len(g.revised) - 1
		revised := count("revised by "+r["years"], at(func(r *audit.Row) int64 { return int64(r.KaplanMeier.Events) }, func(g *audit.Group) int64 { return g.Revised }), r["revised_so_far"])
		others := cell{name: name + ", gone otherwise by " + r["years"], truth: at(func(r *audit.Row) int64 { return int64(r.Incidence.Competing) }, func(g *audit.Group) int64 { return g.Died })}
		others.shown = shownAs(others.truth)
		g.revised = slices.Insert(g.revised, n, revised)
		g.others = slices.Insert(g.others, n, others)
	}
	return k
}

// kindsPublished are figures of kinds of hips, most of which are no group of a table.
func kindsPublished() string {
	var b strings.Builder
	b.WriteString("source,joint,procedure,bearing,fixation,sex,years,revision_pct,lower_pct,upper_pct,estimand,citation\n")
	for _, kind := range []string{",,F", ",,M", "CoC,,", "MoP,,F", "MoP,,M", ",cemented,F", ",cemented,M", "CoP,porous,"} {
		for i, year := range []int{1, 2, 3, 5, 8} {
			fmt.Fprintf(&b, "all,hip,total,%s,%d,%d,,,1-KM,Invented\n", kind, year, 2+2*i)
		}
	}
	return b.String()
}

// compared collects what stands in the comparisons of a shared audit of joints that are no group.
func (k *reader) compared(t testing.TB, from, to *audit.Audit, procedure string) {
	t.Helper()
	of := func(r testaudit.Row) string { return r.Pick("procedure", "bearing", "fixation", "sex") }
	type key struct{ kind, years string }
	was := make(map[key]testaudit.Row)
	for _, r := range testaudit.Comparisons(t, from) {
		was[key{of(r), r["years"]}] = r
	}
	kinds := make(map[string]*seen)
	for _, r := range testaudit.Comparisons(t, to) {
		truth := was[key{of(r), r["years"]}]
		if r["procedure"] != procedure || slices.ContainsFunc(k.groups, func(g *seen) bool { return g.kind(r) }) {
			continue
		}
		count := func(what string) cell {
			n := int64(r.Number(t, what))
			c := cell{name: of(r) + ", " + what + " at " + r["years"], truth: int64(truth.Number(t, what)), shown: n}
			if n != shownAs(c.truth) {
				t.Errorf("%s: %d is shown as %d", c.name, c.truth, n)
			}
			return c
		}
		s := kinds[of(r)]
		if s == nil {
			s = &seen{joints: count("joints"), revised: []cell{count("revised")}}
			kinds[of(r)] = s
			k.kinds = append(k.kinds, s)
		}
		if r["at_risk"] != "0" {
			s.atRisk = append(s.atRisk, count("at_risk"))
		}
	}
}

// kind says whether a row of the comparisons is of a group.
func (g *seen) kind(r testaudit.Row) bool {
	for _, f := range []string{"bearing", "fixation", "sex"} {
		want := "All"
		if f == g.field {
			want = g.word
		}
		if r[f] != want {
			return false
		}
	}
	return true
}

// groupsOf are the groups of an audit that one group of the shared one is.
func groupsOf(from, to *audit.Audit, procedure, field, word string) []*audit.Group {
	names := make(map[string]bool)
	for i := range to.Groups {
		if g := &to.Groups[i]; g.Word("procedure") == procedure && g.Field() == field {
			names[g.Word(field)] = true
		}
	}
	var was []*audit.Group
	for i := range from.Groups {
		g := &from.Groups[i]
		switch {
		case g.Word("procedure") != procedure || g.Pooling == audit.Cell || g.Field() != field:
		case field == "" || g.Word(field) == word || word == "other" && !names[g.Word(field)]:
			was = append(was, g)
		}
	}
	return was
}

// attack lists all that a reader knows.
func (k *reader) attack() *attacker {
	a := &attacker{}
	tell := func(c *cell) int {
		c.v = a.unknown(float64(c.truth))
		if least, most := between(c.shown); least == most {
			a.exact[c.v] = true
		} else {
			a.between(c.v, float64(least), float64(most))
		}
		return c.v
	}
	for _, g := range append(slices.Clone(k.groups), k.kinds...) {
		before := tell(&g.joints)
		for y := range g.atRisk {
			v := tell(&g.atRisk[y])
			a.notAbove(v, before)
			before = v
		}
		for _, list := range [][]cell{g.revised, g.others} {
			for y := range list {
				tell(&list[y])
				if y > 0 {
					a.notAbove(list[y-1].v, list[y].v)
				}
			}
		}
		// A joint is at risk at a year, or revised or gone otherwise before it; one that
		// left on the very day is both.
		disjoint := func(parts ...cell) {
			sum, index, coef := int64(0), []int{g.joints.v}, []float64{-1}
			for _, p := range parts {
				sum, index, coef = sum+p.truth, append(index, p.v), append(coef, 1)
			}
			if sum <= g.joints.truth {
				a.atMost(0, index, coef)
			}
		}
		if len(g.others) == 0 { // a kind
			disjoint(g.revised[0])
			continue
		}
		for y := range g.atRisk {
			disjoint(g.atRisk[y], g.revised[y], g.others[y])
		}
		disjoint(g.revised[len(g.revised)-1], g.others[len(g.others)-1])
	}
	all := k.groups[0]
	fields := make(map[string][]*seen)
	for _, g := range k.groups[1:] {
		fields[g.field] = append(fields[g.field], g)
	}
	for _, groups := range fields {
		sum := func(total cell, of func(g *seen) *cell) {
			var parts []int
			for _, g := range groups {
				if c := of(g); c != nil {
					parts = append(parts, c.v)
				}
			}
			a.sum(total.v, parts)
		}
		at := func(list []cell, y int, whole bool) *cell {
			switch {
			case whole:
				return &list[len(list)-1]
			case y < len(list):
				return &list[y]
			}
			return nil
		}
		sum(all.joints, func(g *seen) *cell { return &g.joints })
		for y := range all.atRisk {
			sum(all.atRisk[y], func(g *seen) *cell { return at(g.atRisk, y, false) })
			sum(all.revised[y], func(g *seen) *cell { return at(g.revised, y, y >= len(g.atRisk)) })
			sum(all.others[y], func(g *seen) *cell { return at(g.others, y, y >= len(g.atRisk)) })
		}
		sum(all.revised[len(all.revised)-1], func(g *seen) *cell { return at(g.revised, 0, true) })
		sum(all.others[len(all.others)-1], func(g *seen) *cell { return at(g.others, 0, true) })
	}
	for _, g := range k.kinds {
		a.notAbove(g.joints.v, all.joints.v)
		a.notAbove(g.revised[len(g.revised)-1].v, all.revised[len(all.revised)-1].v)
		for y := range g.atRisk {
			if len(g.atRisk) == len(all.atRisk) {
				a.notAbove(g.atRisk[y].v, all.atRisk[y].v)
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
	for _, f := range fields {
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
	end := testaudit.Day(t, "2020-12-31")
	n := int(math.Exp(math.Log(3) + r.Float64()*math.Log(200)))
	span, risk, resurfacing := 1+r.IntN(12), 0.3*r.Float64()*r.Float64(), r.Float64() < 0.3
	eras := r.Float64() < 0.4 // each bearing was used in its own years
	var b strings.Builder
	b.WriteString("operation_date,procedure," + strings.Join(fields, ",") + ",revision_date,death_date\n")
	for range n {
		ago := r.IntN(365*span) + 1
		start := end - cohort.Day(ago)
		procedure := "THR"
		if resurfacing && r.Float64() < 0.1 {
			procedure = "HRA"
		}
		fmt.Fprintf(&b, "%s,%s", start, procedure)
		for _, f := range fields {
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
	tables, groups, kinds, counts, small, differences int
	found                                             []string
}

// attackAll attacks shared random tables.
func attackAll(t *testing.T, tables int, share func(audit.Source, audit.Options) (*audit.Audit, error)) attacked {
	t.Helper()
	var all attacked
	years := []float64{1, 2, 3, 5, 8}
	published := testaudit.Book(t, kindsPublished())
	for seed := range tables {
		r := rand.New(rand.NewPCG(uint64(seed), 1))
		table, by := randomTable(t, r)
		o := audit.Options{By: by, Years: years[:1+r.IntN(5)]}
		if seed%3 == 0 {
			o.Published = published
		}
		c := testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t), Keep: audit.Statable()})
		from := testaudit.Run(t, c, o)
		to, err := share(c, o)
		if err != nil {
			t.Fatal(err)
		}
		all.tables++
		for _, procedure := range []string{"total", "resurfacing"} {
			k := readerOf(t, from, to, procedure)
			if len(k.groups) > 0 {
				k.compared(t, from, to, procedure)
				k.attackOne(seed, &all)
			}
		}
	}
	return all
}

// attackOne looks at every count of 1 to 7 of one joint and procedure, and at every
// such difference: between a year and the next, and between all joints and a group.
func (k *reader) attackOne(seed int, all *attacked) {
	a := k.attack()
	is := func(n int64) bool { return n >= 1 && n <= 7 }
	look := func(what *int, of cell, less *cell) {
		index, coef, truth, name := []int{of.v}, []float64{1}, of.truth, of.name
		if less != nil {
			index, coef, truth, name = append(index, less.v), []float64{1, -1}, truth-less.truth, name+" less "+less.name
		}
		if !is(truth) {
			return
		}
		*what++
		if least, most := whole(a.solve(index, coef)); least >= most {
			all.found = append(all.found, fmt.Sprintf("table %d: %s is %d", seed, name, least))
		}
	}
	for _, g := range k.kinds {
		all.kinds++
		look(&all.differences, k.groups[0].joints, &g.joints)
		for _, list := range [][]cell{g.atRisk, g.revised} {
			for i := range list {
				look(&all.small, list[i], nil)
				look(&all.differences, g.joints, &list[i])
			}
		}
		whole := k.groups[0].revised
		look(&all.differences, whole[len(whole)-1], &g.revised[0])
	}
	for i, g := range k.groups {
		all.groups++
		look(&all.small, g.joints, nil)
		before := &g.joints
		for y := range g.atRisk {
			look(&all.small, g.atRisk[y], nil)
			look(&all.differences, *before, &g.atRisk[y])
			before = &g.atRisk[y]
		}
		lists := [][2][]cell{{g.revised, k.groups[0].revised}, {g.others, k.groups[0].others}}
		for _, list := range lists {
			for y, c := range list[0] {
				all.counts++
				look(&all.small, c, nil)
				if y > 0 {
					look(&all.differences, c, &list[0][y-1])
				}
			}
			if i > 0 {
				last, whole := list[0][len(list[0])-1], list[1][len(list[1])-1]
				look(&all.differences, whole, &last)
			}
		}
		if i > 0 {
			look(&all.differences, k.groups[0].joints, &g.joints)
		}
	}
}

// TestSharedCountsCannotBeSolved: no count of 1 to 7, nor such a difference, can be
// worked out from all that is told together.
func TestSharedCountsCannotBeSolved(t *testing.T) {
	tables := 100
	if testing.Short() {
		tables = 20
	}
	all := attackAll(t, tables, disclose.Run)
	for i, f := range all.found {
		if i < 20 {
			t.Error(f)
		}
	}
	t.Logf("%d tables, %d groups, %d kinds beside published figures; %d counts of 1 to 7, %d such differences; %d found", all.tables, all.groups, all.kinds, all.small, all.differences, len(all.found))
	if len(all.found) > 0 {
		t.Errorf("%d numbers found", len(all.found))
	}
	if all.groups < 2*all.tables || all.kinds < all.tables/2 || all.small < 3*all.tables || all.differences < 3*all.tables {
		t.Error("the tables show too little to be a test")
	}
}

// TestAttackerSolvesWithoutJoining: the same attacker works counts out where groups
// are rounded and no more are joined than have fewer than 8 joints.
func TestAttackerSolvesWithoutJoining(t *testing.T) {
	if testing.Short() {
		t.Skip("sixty tables")
	}
	all := attackAll(t, 60, disclose.RunRoundedAlone)
	t.Logf("%d of %d found", len(all.found), all.small+all.differences)
	if len(all.found) == 0 {
		t.Error("the attacker finds too little to be a test")
	}
}
