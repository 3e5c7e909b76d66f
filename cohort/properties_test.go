package cohort_test

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/testtable"
)

// properties runs a test on practices of every layout.
func properties(t *testing.T, faults int, f func(t *testing.T, r *rand.Rand, layout testtable.Layout, p testtable.Practice)) {
	t.Helper()
	for layout := range testtable.LayoutCount {
		for seed := range uint64(6) {
			if testing.Short() && seed > 1 {
				break
			}
			t.Run(fmt.Sprintf("layout %d/seed %d", layout, seed), func(t *testing.T) {
				r := rand.New(rand.NewPCG(seed, uint64(layout)))
				f(t, r, layout, testtable.Patients(r, 90, layout, faults))
			})
		}
	}
}

// asked are options under which what a row comes to hangs on no other patient.
func asked() cohort.Options {
	return cohort.Options{ClosingDate: dayPointer("2020-12-31"), Keep: []string{"surgeon"}, EveryColumn: true}
}

// fates is what became of the rows of a cohort, by the row's place: the reason
// that set it aside, the warnings, and what became of a revision. A row without
// a remark is not in it.
func fates(c *cohort.Cohort) map[spot][]string {
	all := make(map[spot][]string)
	for _, p := range slices.Concat(c.SetAside(), c.Warnings(), c.Linked()) {
		at := spot{p.File, p.Row}
		all[at] = append(all[at], fmt.Sprintf("%v in %q", p.Reason, p.Column))
	}
	for _, said := range all {
		slices.Sort(said)
	}
	together := make(map[spot][]string)
	for _, p := range c.Problems() {
		for one := range p.Each() {
			at := spot{one.File, one.Row}
			together[at] = append(together[at], fmt.Sprintf("%v in %q", one.Reason, one.Column))
		}
	}
	for _, said := range together {
		slices.Sort(said)
	}
	if d := gocmp.Diff(all, together); d != "" {
		panic("what is listed together is not what is listed apart (-apart +together):\n" + d)
	}
	return all
}

// told is what a cohort comes to, but for where its rows stand.
func told(t *testing.T, c *cohort.Cohort) summary {
	t.Helper()
	s := summarise(t, c).withoutRows()
	// What is missing is counted by table.
	s.Missing = nil
	return s
}

func same(t *testing.T, want, got summary) {
	t.Helper()
	if !reflect.DeepEqual(want, got) {
		t.Errorf("(-want +got):\n%.3000s", gocmp.Diff(want, got))
	}
}

// Whatever the order of the rows: the same. Two rows of one joint and day are
// told apart by their place alone where they know alike, so no fault makes such.
func TestPracticeDoesNotHangOnOrder(t *testing.T) {
	properties(t, 3, func(t *testing.T, r *rand.Rand, _ testtable.Layout, p testtable.Practice) {
		want := told(t, mustReadPractice(t, p, asked()))
		for range 3 {
			for _, rows := range [][]testtable.Record{p.Primaries, p.Revisions, p.Deaths} {
				r.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
			}
			same(t, want, told(t, mustReadPractice(t, p, asked())))
		}
	})
}

// The rows in two tables, and revisions moved from the operations to a table of
// their own: the same.
func TestPracticeDoesNotHangOnTables(t *testing.T) {
	properties(t, 3, func(t *testing.T, r *rand.Rand, layout testtable.Layout, p testtable.Practice) {
		want := told(t, mustReadPractice(t, p, asked()))
		at := 1 + r.IntN(len(p.Primaries)-1)
		upper, lower := p, p
		upper.Primaries, lower.Primaries = p.Primaries[:at], p.Primaries[at:]
		o := asked()
		if p.Revisions != nil {
			o.Revisions = []cohort.Source{source("r.csv", p.RevisionText())}
		}
		if p.Deaths != nil {
			o.DeathLists = []cohort.Source{source("d.csv", p.DeathText())}
		}
		same(t, want, told(t, mustRead(t, o, upper.PrimaryText(), lower.PrimaryText())))
	})
}

// A revision among the operations, or in a table of revisions: the joints end
// alike.
func TestRevisionsInATableOfTheirOwn(t *testing.T) {
	for seed := range uint64(10) {
		together := testtable.Patients(rand.New(rand.NewPCG(seed, 1)), 90, testtable.OperationRows, 3)
		apart := together.Clone()
		apart.Primaries, apart.Revisions = nil, nil
		for _, r := range together.Clone().Primaries {
			if r.Cells["operation_type"] == "revision" {
				r.Cells["revision_date"] = r.Cells["operation_date"]
				apart.Revisions = append(apart.Revisions, r)
			} else {
				apart.Primaries = append(apart.Primaries, r)
			}
		}
		want := told(t, mustReadPractice(t, together, asked())).Cells
		got := told(t, mustReadPractice(t, apart, asked())).Cells
		if d := gocmp.Diff(want, got); d != "" {
			t.Errorf("seed %d (-together +apart):\n%.2000s", seed, d)
		}
	}
}

// Deaths beside every row of a patient, or in a list: the joints end alike.
func TestDeathsInAList(t *testing.T) {
	for seed := range uint64(10) {
		beside := testtable.Patients(rand.New(rand.NewPCG(seed, 2)), 90, testtable.WithRevisions, 0)
		listed := beside.Clone()
		listedOnce := make(map[string]bool)
		for _, r := range listed.Primaries {
			if id := r.Cells["patient"]; r.Cells["death_date"] != "" && !listedOnce[id] {
				listedOnce[id] = true
				listed.Deaths = append(listed.Deaths, testtable.Record{Cells: map[string]string{"patient": id, "death_date": r.Cells["death_date"]}})
			}
			r.Cells["death_date"] = ""
		}
		want, got := told(t, mustReadPractice(t, beside, asked())).Cells, told(t, mustReadPractice(t, listed, asked())).Cells
		if d := gocmp.Diff(want, got); d != "" {
			t.Errorf("seed %d (-beside +listed):\n%.2000s", seed, d)
		}
	}
}

// jointsOf lists the joints in use with one field, by the place of their rows.
// The number of a patient hangs on who else is there, and is left out.
func jointsOf(t *testing.T, c *cohort.Cohort, field string) map[spot]cohort.Joint {
	t.Helper()
	joints, err := c.Joints(cohort.Endpoint{}, field)
	if err != nil {
		t.Fatal(err)
	}
	all := make(map[spot]cohort.Joint)
	for j := range joints {
		j.Patient = 0
		all[spot{j.File, j.Row}] = j
	}
	return all
}

// remarks lists what is said of the rows in scope, by their place.
func remarks(c *cohort.Cohort) map[spot][]string {
	all := make(map[spot][]string)
	for _, p := range slices.Concat(c.SetAside(), c.Warnings()) {
		at := spot{p.File, p.Row}
		all[at] = append(all[at], p.Reason.String())
	}
	return all
}

// Narrowed to each value of a column, the parts hold the joints of the whole
// that have it, once each and ending as they do there, and every other row has
// the fate that it has there: narrowing looks at a part, and changes nothing.
// Asked while reading it is the same.
func TestNarrowedIsAPartOfTheWhole(t *testing.T) {
	properties(t, 3, func(t *testing.T, _ *rand.Rand, _ testtable.Layout, p testtable.Practice) {
		whole := mustReadPractice(t, p, asked())
		for _, column := range []string{"side", "sex", "surgeon", "bearing"} {
			joints, said := jointsOf(t, whole, column), remarks(whole)
			left, unsaid, read := maps.Clone(joints), maps.Clone(said), 0
			values := make(map[string]bool)
			for _, r := range p.Primaries {
				values[cmp.Or(r.Cells[column], cohort.NotRecorded)] = true
			}
			for value := range values {
				condition := cohort.Condition{Column: column, Value: value}
				part, err := whole.Where(condition)
				if err != nil {
					t.Fatalf("%s = %s: %v", column, value, err)
				}
				read += part.Account().Read
				own := jointsOf(t, part, column)
				for at, j := range own {
					if d := gocmp.Diff(joints[at], j); d != "" {
						t.Errorf("%s = %s, row %d (-whole +part):\n%s", column, value, at.Row, d)
					}
					delete(left, at)
				}
				saidOfPart := remarks(part)
				for at, remark := range saidOfPart {
					if d := gocmp.Diff(said[at], remark); d != "" {
						t.Errorf("%s = %s, row %d (-whole +part):\n%s", column, value, at.Row, d)
					}
					delete(unsaid, at)
				}
				o := asked()
				o.Where = []cohort.Condition{condition}
				again, err := readPractice(t, p, o)
				if len(own) == 0 && errors.Is(err, cohort.ErrNoUsableRow) {
					continue
				}
				if err != nil {
					t.Fatalf("%s = %s: %v", column, value, err)
				}
				if d := gocmp.Diff(own, jointsOf(t, again, column)) + gocmp.Diff(saidOfPart, remarks(again)); d != "" {
					t.Errorf("%s = %s (-narrowed +read so):\n%.2000s", column, value, d)
				}
			}
			if len(left) > 0 || len(unsaid) > 0 || read != whole.Account().Read {
				t.Errorf("%s: %d joints and %d rows with a remark are in no part; %d rows in the parts, %d in the whole", column, len(left), len(unsaid), read, whole.Account().Read)
			}
		}
	})
}

// Patients under other identifiers, one to one: the same.
func TestIdentifiersAreOnlyIdentifiers(t *testing.T) {
	properties(t, 3, func(t *testing.T, _ *rand.Rand, _ testtable.Layout, p testtable.Practice) {
		c := mustReadPractice(t, p, asked())
		want, wantFates := told(t, c), fates(c)
		other := make(map[string]string)
		for _, rows := range [][]testtable.Record{p.Primaries, p.Revisions, p.Deaths} {
			for _, r := range rows {
				id := r.Cells["patient"]
				if id != "" && other[id] == "" {
					other[id] = fmt.Sprintf("other %c%d", 'a'+len(other)%26, 7*len(other))
				}
				r.Cells["patient"] = other[id]
			}
		}
		c = mustReadPractice(t, p, asked())
		same(t, want, told(t, c))
		if d := gocmp.Diff(wantFates, fates(c)); d != "" {
			t.Errorf("(-want +got):\n%.2000s", d)
		}
	})
}

// A patient more changes nothing about the others: each row has the fate that it
// had, and each joint ends as it did.
func TestAStrangerChangesNobodyElse(t *testing.T) {
	properties(t, 3, func(t *testing.T, r *rand.Rand, layout testtable.Layout, p testtable.Practice) {
		all := mustReadPractice(t, p, asked())
		before, fatesBefore := jointsOf(t, all, "surgeon"), fates(all)
		strangers := testtable.Patients(r, 30, layout, 3)
		for range 10 {
			// One whose identifier no other row has.
			id := strangers.Primaries[r.IntN(len(strangers.Primaries))].Cells["patient"]
			if id == "" || id == "x" {
				continue
			}
			rename := func(rows []testtable.Record) []testtable.Record {
				var own []testtable.Record
				for _, row := range rows {
					if row.Cells["patient"] == id {
						row.Cells = maps.Clone(row.Cells)
						row.Cells["patient"] = "stranger"
						own = append(own, row)
					}
				}
				return own
			}
			stranger := testtable.Practice{Operations: p.Operations, Primaries: rename(strangers.Primaries), Revisions: rename(strangers.Revisions), Deaths: rename(strangers.Deaths)}
			more := testtable.Practice{Operations: p.Operations, Primaries: slices.Concat(p.Primaries, stranger.Primaries),
				Revisions: slices.Concat(p.Revisions, stranger.Revisions), Deaths: slices.Concat(p.Deaths, stranger.Deaths)}
			if p.Revisions == nil {
				more.Revisions = nil
			}
			if p.Deaths == nil {
				more.Deaths = nil
			}
			c := mustReadPractice(t, more, asked())
			after, now := jointsOf(t, c, "surgeon"), fates(c)
			maps.DeleteFunc(after, func(at spot, _ cohort.Joint) bool { return at.Row-2 >= len(p.Primaries) })
			if d := gocmp.Diff(before, after); d != "" {
				t.Fatalf("joints (-without +with the stranger):\n%.2000s", d)
			}
			counts := []int{len(p.Primaries)}
			if p.Revisions != nil {
				counts = append(counts, len(p.Revisions))
			}
			if p.Deaths != nil {
				counts = append(counts, len(p.Deaths))
			}
			maps.DeleteFunc(now, func(at spot, _ []string) bool { return at.Row-2 >= counts[at.File] })
			if d := gocmp.Diff(fatesBefore, now); d != "" {
				t.Fatalf("(-without +with the stranger):\n%.2000s", d)
			}
		}
	})
}

// Every row has one fate, however many rows a patient has.
func TestEveryRowHasAFate(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	pick := func(values ...string) string { return values[r.IntN(len(values))] }
	for n := range 201 {
		var rows []testtable.Record
		for range n {
			rows = append(rows, testtable.Record{Cells: map[string]string{
				"patient": "one", "operation_date": (day("2010-01-01") + cohort.Day(r.IntN(3000))).String(), "joint": pick("hip", "knee"), "side": pick("left", "right", "both", ""),
				"procedure": pick("total", "total", "revision THR"), "revised": pick("", "yes", "no"), "age": pick("60", "61", "740"),
			}})
		}
		bystander := testtable.Record{Cells: map[string]string{"patient": "two", "operation_date": "2011-02-03", "joint": "hip", "side": "left", "procedure": "total"}}
		p := testtable.Practice{Primaries: append(rows, bystander)}
		c, err := readPractice(t, p, asked())
		if refused := (*cohort.MostSetAsideError)(nil); err != nil && !errors.As(err, &refused) {
			t.Fatal(err)
		}
		balanced(t, c)
		fate := make(map[int]int)
		for _, q := range c.SetAside() {
			fate[q.Row]++
		}
		for row, times := range fate {
			if times != 1 {
				t.Errorf("%d rows: row %d is set aside %d times", n, row, times)
			}
		}
		if c.Account().Read != n+1 || len(fate)+c.Account().Used != n+1 {
			t.Errorf("%d rows: %d read, %d used, %d set aside", n+1, c.Account().Read, c.Account().Used, len(fate))
		}
	}
}

// A list of deaths never sets the closing date: most of its people may be
// strangers, on whose death nobody would be followed.
func TestStrangersSetNoClosingDate(t *testing.T) {
	o := cohort.Options{DeathLists: []cohort.Source{source("deaths.csv", "patient,death_date", "nobody,2024-03-01", "nobody else,2024-02-15")}}
	c := mustRead(t, o, table("patient,operation_date,joint,side,procedure,revision_date", "a,2009-01-01,hip,left,total,", "b,2009-05-01,hip,left,total,2010-06-01"))
	if got := c.Closing.Day.String(); got != "2010-06-01" {
		t.Errorf("closing date %s", got)
	}
}

// Revisions that belong to no primary are counted once, for the whole, and not
// again in every part, which says that there are some.
func TestUnjoinedRevisionsCountOnce(t *testing.T) {
	count := func(where ...cohort.Condition) int {
		o := cohort.Options{Where: where, ClosingDate: dayPointer("2020-12-31"), Revisions: []cohort.Source{source("revisions.csv", "patient,joint,side,revision_date",
			"u,hip,left,2015-01-01", "v,hip,left,2015-01-01", "w,hip,left,2015-01-01")}}
		c := mustRead(t, o, table("patient,operation_date,joint,side,procedure,surgeon", "a,2009-01-01,hip,left,total,S0", "b,2009-05-01,hip,left,total,S1"))
		n := 0
		for _, r := range c.Account().Unjoined {
			n += r.Rows
		}
		if elsewhere := c.Account().UnjoinedOfWhole; len(where) > 0 && elsewhere != 3 {
			t.Errorf("%d left to the whole", elsewhere)
		}
		return n
	}
	if n := count(); n != 3 {
		t.Fatalf("%d unjoined in the whole", n)
	}
	parts := count(cohort.Condition{Column: "surgeon", Value: "S0"}) + count(cohort.Condition{Column: "surgeon", Value: "S1"})
	if parts != 0 {
		t.Errorf("%d unjoined in the parts", parts)
	}
}

// Followed to another day, nothing read again: what reading the tables with that closing
// date gives, of a part of them too.
func TestClosedOnIsReadWithThatClosingDate(t *testing.T) {
	properties(t, 3, func(t *testing.T, r *rand.Rand, _ testtable.Layout, p testtable.Practice) {
		o := asked()
		if r.IntN(2) == 0 {
			o.DeathsCompleteTo = dayPointer("2014-06-30")
		}
		now := mustReadPractice(t, p, o)
		before := told(t, now)
		for _, closing := range []string{"2013-12-31", "2016-02-29", "2024-01-31"} {
			o.ClosingDate = dayPointer(closing)
			want := mustReadPractice(t, p, o)
			got, err := now.ClosedOn(day(closing))
			if err != nil {
				t.Fatal(err)
			}
			balanced(t, got)
			same(t, told(t, want), told(t, got))
			if d := gocmp.Diff(fates(want), fates(got)); d != "" {
				t.Errorf("%s (-read +closed):\n%.2000s", closing, d)
			}
			left := cohort.Condition{Column: "side", Value: "left"}
			part, errPart := now.Where(left)
			part, errClosed := part.ClosedOn(day(closing))
			wanted, errWanted := want.Where(left)
			if err := errors.Join(errPart, errClosed, errWanted); err != nil {
				t.Fatal(err)
			}
			same(t, told(t, wanted), told(t, part))
		}
		same(t, before, told(t, now))
	})
	c := mustRead(t, cohort.Options{}, table("patient,operation_date,joint,side,procedure,revision_date", "a,2009-01-01,hip,left,total,", "b,2009-05-01,hip,left,total,2010-06-01"))
	if _, err := c.ClosedOn(day("2008-12-31")); !errors.Is(err, cohort.ErrNoUsableRow) {
		t.Errorf("before the first operation: %v", err)
	}
	var option *cohort.OptionError
	if _, err := c.ClosedOn(day(today) + 1); !errors.As(err, &option) {
		t.Errorf("after today: %v", err)
	}
}
