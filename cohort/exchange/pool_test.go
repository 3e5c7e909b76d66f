package exchange_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"hash/fnv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/contrast"
	"example.org/holdfast/cohort/exchange"
)

// sites are the invented practice in several tables, all rows of a patient in one.
func sites(t *testing.T, n int) []string {
	t.Helper()
	whole, err := os.ReadFile(practice)
	if err != nil {
		t.Fatal(err)
	}
	tables := make([]strings.Builder, n)
	headed := false
	for line := range strings.Lines(string(whole)) {
		who, _, _ := strings.Cut(line, ",")
		switch {
		case strings.HasPrefix(line, "#"):
		case !headed:
			headed = true
			for i := range tables {
				tables[i].WriteString(line)
			}
		default:
			h := fnv.New32a()
			h.Write([]byte(who))
			tables[h.Sum32()%uint32(n)].WriteString(line)
		}
	}
	folder := t.TempDir()
	var names []string
	for i := range tables {
		name := filepath.Join(folder, fmt.Sprintf("site%d.csv", i+1))
		if err := os.WriteFile(name, []byte(tables[i].String()), 0o666); err != nil {
			t.Fatal(err)
		}
		names = append(names, name)
	}
	return names
}

// published are the built-in figures, and an own file's.
func published(t *testing.T) []*benchmark.Series {
	t.Helper()
	f, err := os.Open("../../examples/registry/registry.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	own, _, err := benchmark.Read(f, "registry.csv")
	if err != nil {
		t.Fatal(err)
	}
	return append(own, benchmark.Builtin()...)
}

// written is a tally after a way through a file.
func through(t *testing.T, tl *exchange.Tally) *exchange.Tally {
	t.Helper()
	name := write(t, "t.parquet", func(f *os.File) error { return tl.Write(f) })
	again, err := exchange.Read(context.Background(), name, nil)
	if err != nil {
		t.Fatal(err)
	}
	return again
}

func tallies(t *testing.T, names []string, keep []string, o exchange.Options) []*exchange.Tally {
	t.Helper()
	var all []*exchange.Tally
	for _, name := range names {
		one, err := exchange.Count(name, read(t, cohort.Options{Keep: keep}, name), o)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, through(t, one))
	}
	return all
}

// files are all that an audit writes as data.
func files(t *testing.T, s audit.Source, o audit.Options) (groups, comparisons string) {
	t.Helper()
	a, err := audit.Run(s, o)
	if err != nil {
		t.Fatal(err)
	}
	var g, c bytes.Buffer
	if err := audit.WriteCSV(&g, a); err != nil {
		t.Fatal(err)
	}
	if err := audit.WriteComparisons(&c, a); err != nil {
		t.Fatal(err)
	}
	return g.String(), c.String()
}

// The tallies of several tables pooled give what all rows together give, to the last
// digit: groups, estimates, limits, comparisons, observed and expected.
func TestPooledTalliesAreTheRowsTogether(t *testing.T) {
	names := sites(t, 3)
	figures := published(t)
	keep := slices.Concat([]string{"surgeon", "hospital"}, audit.Statable(), audit.Finer())
	for _, test := range []struct {
		name    string
		made    exchange.Options
		audited audit.Options
	}{
		{"default", exchange.Options{Published: figures}, audit.Options{Published: figures, WorstCase: true}},
		{"by surgeon and sex", exchange.Options{By: []string{"surgeon", "sex", "operation_year"}, Published: figures},
			audit.Options{By: []string{"surgeon", "sex"}, Published: benchmark.Builtin(), ExpectedOwn: true}},
		{"by less than it was made for", exchange.Options{By: []string{"surgeon", "bearing", "age_band", "hospital"}, Published: figures},
			audit.Options{By: []string{"hospital", "bearing"}, Published: figures[:len(figures)/2], Years: []float64{2, 7.5}}},
		{"for infection", exchange.Options{Endpoint: cohort.Endpoint{Reasons: []string{"infection", "dislocation or instability"}}},
			audit.Options{Endpoint: cohort.Endpoint{Reasons: []string{"dislocation or instability", "infection"}}, WorstCase: true}},
	} {
		t.Run(test.name, func(t *testing.T) {
			pool, err := exchange.NewPool(tallies(t, names, keep, test.made)...)
			if err != nil {
				t.Fatal(err)
			}
			rows := read(t, cohort.Options{Keep: keep}, names...)
			wantGroups, wantComparisons := files(t, rows, test.audited)
			gotGroups, gotComparisons := files(t, pool, test.audited)
			if diff := cmp.Diff(wantGroups, gotGroups); diff != "" {
				t.Error(diff)
			}
			if diff := cmp.Diff(wantComparisons, gotComparisons); diff != "" {
				t.Error(diff)
			}
			want, got := rows.About(), pool.About()
			var together cohort.Account
			for _, s := range got.Sites {
				together = together.Add(s.Account)
			}
			if len(got.Sites) != len(names) || together.Used != want.Account.Used || together.SetAside != want.Account.SetAside || together.Lost != want.Account.Lost {
				t.Errorf("the accounts of %d tallies come to %+v", len(got.Sites), together)
			}
			want.Files, got.Files, got.Notes, got.Sites = nil, nil, nil, nil
			if diff := cmp.Diff(want, got); diff != "" {
				t.Error(diff)
			}
			if lines, _ := csv.NewReader(strings.NewReader(wantComparisons)).ReadAll(); len(test.audited.Published) > 0 && len(lines) < 20 {
				t.Errorf("%d comparisons: this compares little", len(lines))
			}
		})
	}
}

// What is made of a table that calls itself invented says so too.
func TestInventedStaysInvented(t *testing.T) {
	const joints = "operation_date,joint,procedure,revision_date\n2015-03-02,hip,total,\n2016-03-02,hip,total,2017-01-02\n"
	for comment, want := range map[string]bool{"# Invented joints\n": true, "# Joints of 2015\n": false} {
		name := write(t, "mine.csv", func(f *os.File) error { _, err := f.WriteString(comment + joints); return err })
		c := read(t, cohort.Options{}, name)
		for _, ending := range []string{".parquet", ".arrow"} {
			if got := read(t, cohort.Options{}, writeJoints(t, c, "checked"+ending)).Files[0].Invented(); got != want {
				t.Errorf("%q: a checked cohort, %s: %t", comment, ending, got)
			}
		}
		pool, err := exchange.NewPool(tallies(t, []string{name}, nil, exchange.Options{})...)
		if err != nil {
			t.Fatal(err)
		}
		if got := pool.About().Files[0].Invented(); got != want {
			t.Errorf("%q: a tally: %t", comment, got)
		}
	}
}

// A tally that was cut short, changed or written again by another program is refused;
// wherever a byte of the file is changed nothing is read that was not written.
func TestDamagedTalliesAreRefused(t *testing.T) {
	one, err := exchange.Count("site", read(t, cohort.Options{}, practice), exchange.Options{By: []string{"fixation"}})
	if err != nil {
		t.Fatal(err)
	}
	var whole bytes.Buffer
	if err := one.Write(&whole); err != nil {
		t.Fatal(err)
	}
	file := whole.Bytes()
	name := filepath.Join(t.TempDir(), "t.parquet")
	reads := func(content []byte) error {
		if err := os.WriteFile(name, content, 0o666); err != nil {
			t.Fatal(err)
		}
		_, err := exchange.Read(context.Background(), name, nil)
		return err
	}
	if err := reads(file); err != nil {
		t.Fatal(err)
	}
	for cut := range 20 {
		if reads(file[:len(file)*cut/20]) == nil {
			t.Errorf("cut at %d of 20: read", cut)
		}
	}
	changed := 0
	for i := 4; i < len(file)-4; i += len(file) / 150 {
		damaged := bytes.Clone(file)
		damaged[i] ^= 0x20
		if err := os.WriteFile(name, damaged, 0o666); err != nil {
			t.Fatal(err)
		}
		again, err := exchange.Read(context.Background(), name, nil)
		if err != nil {
			changed++
			continue
		}
		var b bytes.Buffer
		if err := again.Write(&b); err != nil || !bytes.Equal(b.Bytes(), file) {
			t.Fatalf("byte %d changed: read as another tally", i)
		}
	}
	if changed < 110 {
		t.Errorf("%d of 150 changes noticed", changed)
	}
	edited := bytes.Replace(file, []byte(`"rows_set_aside":`), []byte(`"rows_set_aside":1`), 1)
	if reads(edited) == nil {
		t.Error("a header that was edited is read")
	}
}

// What may not be pooled is refused, and the difference named.
func TestTalliesThatDifferAreRefused(t *testing.T) {
	names := sites(t, 2)
	first := tallies(t, names[:1], nil, exchange.Options{})[0]
	earlier := mustDay("2023-12-31")
	for _, test := range []struct {
		name string
		read cohort.Options
		made exchange.Options
		want string
	}{
		{"closing date", cohort.Options{ClosingDate: &earlier}, exchange.Options{}, "differ in the closing date: 2024-12-31 and 2023-12-31"},
		{"endpoint", cohort.Options{}, exchange.Options{Endpoint: cohort.Endpoint{Reasons: []string{"infection"}}}, "differ in the endpoint: revision for any reason and revision for infection"},
		{"bands", cohort.Options{AgeBands: []int{60, 70}}, exchange.Options{}, "differ in the lower bounds of the age bands: [55 65 75] and [60 70]"},
		{"lost", cohort.Options{LostAfter: 365}, exchange.Options{}, "differ in the days after which a joint is lost: 730 and 365"},
		{"grouped by", cohort.Options{}, exchange.Options{By: []string{"sex"}}, "differ in the columns grouped by: [bearing fixation age_band] and [sex]"},
		{"scope", cohort.Options{Where: []cohort.Condition{{Column: "joint", Value: "hip"}}}, exchange.Options{}, "differ in the part of the tables: [] and [joint=hip]"},
		{"figures", cohort.Options{}, exchange.Options{Published: []*benchmark.Series{{Age: benchmark.AgeInterval{From: 80}}}}, "differ in the ages at which joints are parted: [55 65 75] and [55 65 75 80]"},
	} {
		t.Run(test.name, func(t *testing.T) {
			other, err := exchange.Count("other", read(t, test.read, names[1]), test.made)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := exchange.NewPool(first, other); err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("%v, want %q", err, test.want)
			}
		})
	}
	if _, err := exchange.NewPool(first, first); err == nil || !strings.Contains(err.Error(), "counted twice") {
		t.Errorf("the same tally twice: %v", err)
	}
	if _, err := exchange.Count("no closing date", mustRead(t, cohort.Options{}, names[0]), exchange.Options{}); err == nil {
		t.Error("a tally without a closing date that was named")
	}
	pool, err := exchange.NewPool(first)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := audit.Run(pool, audit.Options{Endpoint: cohort.Endpoint{Reasons: []string{"infection"}}}); err == nil {
		t.Error("another endpoint than that of the tally")
	}
}

// A figure that the tallies part no joints for is said, and not read.
func TestFiguresThatTalliesWereMadeWithout(t *testing.T) {
	pool, err := exchange.NewPool(tallies(t, sites(t, 1), nil, exchange.Options{})...)
	if err != nil {
		t.Fatal(err)
	}
	a, err := audit.Run(pool, audit.Options{Published: benchmark.Builtin()})
	if err != nil {
		t.Fatal(err)
	}
	lacking := 0
	for _, b := range a.Unmet {
		if strings.Contains(b.Reason, "the tallies don't part joints at age") {
			lacking++
		}
	}
	read := 0
	for _, b := range a.Beside {
		if b.Read() {
			read++
		}
	}
	if lacking == 0 || read == 0 {
		t.Errorf("%d figures lacking, %d read", lacking, read)
	}
}

func mustRead(t *testing.T, o cohort.Options, name string) *cohort.Cohort {
	t.Helper()
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: name}}, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A contrast of pooled tallies is that of the rows together, but for the note on patients
// with two joints, of whom tallies know nothing; what is fitted, whose sums are in the
// order of the joints, to ten digits.
func TestContrastsOfPooledTallies(t *testing.T) {
	names := sites(t, 3)
	pool, err := exchange.NewPool(tallies(t, names, audit.Statable(), exchange.Options{By: []string{"fixation"}})...)
	if err != nil {
		t.Fatal(err)
	}
	o := contrast.Options{Between: "fixation", Within: []string{"age_band"}, Adjust: []string{"sex"}, Gray: true}
	var files [2][][]string
	for i, s := range []contrast.Source{read(t, cohort.Options{Keep: audit.Statable()}, names...), pool} {
		k, err := contrast.Run(s, o)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := contrast.WriteCSV(&b, k); err != nil {
			t.Fatal(err)
		}
		text := strings.NewReplacer("; bilateral", "", ",bilateral", ",").Replace(b.String())
		if files[i], err = csv.NewReader(strings.NewReader(text)).ReadAll(); err != nil {
			t.Fatal(err)
		}
	}
	alike := cmp.Comparer(func(a, b string) bool {
		x, errX := strconv.ParseFloat(a, 64)
		y, errY := strconv.ParseFloat(b, 64)
		return a == b || errX == nil && errY == nil && math.Abs(x-y) <= 1e-10*max(math.Abs(x), 1)
	})
	if diff := cmp.Diff(files[0], files[1], alike); diff != "" {
		t.Error(diff)
	}
	if len(files[0]) < 50 {
		t.Errorf("%d numbers: this compares little", len(files[0]))
	}
}

// What a page says beside an audit is, of pooled tallies, what it is of the rows: follow-up
// but for the days of the first and the last operation, of which the months are known, and
// what would be if every joint lost had been revised.
func TestFollowUpAndTheLostOfPooledTallies(t *testing.T) {
	names := sites(t, 3)
	for _, o := range []exchange.Options{{}, {Endpoint: cohort.Endpoint{Reasons: []string{"infection"}}}} {
		pool, err := exchange.NewPool(tallies(t, names, audit.Statable(), o)...)
		if err != nil {
			t.Fatal(err)
		}
		rows := read(t, cohort.Options{Keep: audit.Statable()}, names...)
		want, err := rows.FollowUp()
		if err != nil {
			t.Fatal(err)
		}
		for i := range want {
			for _, d := range []*cohort.Day{&want[i].FirstOperation, &want[i].LastOperation} {
				*d = mustDay(d.String()[:8] + "01")
			}
		}
		got, err := pool.FollowUp()
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got, cmpopts.EquateNaNs()); diff != "" {
			t.Error(diff)
		}
		effects, err := rows.WhatIf(audit.DefaultYears())
		if err != nil {
			t.Fatal(err)
		}
		effects = slices.DeleteFunc(effects, func(e cohort.Effect) bool { return !slices.Contains(e.Reasons, cohort.LostToFollowUp) })
		of, err := pool.WhatIf(audit.DefaultYears())
		if err != nil {
			t.Fatal(err)
		}
		for i, e := range effects { // counts tell nothing of the joints lost that are in place still
			effects[i].Supposed = "all revised"
			for k := range e.At {
				e.At[k].Low = e.At[k].High
			}
		}
		if diff := cmp.Diff(effects, of, cmpopts.EquateNaNs()); diff != "" || len(of) < 3 {
			t.Errorf("%d effects: %s", len(of), diff)
		}
	}
}

// Counts that are not of the checked cohort's joints are no tally of it.
func TestCountsThatAreNoTally(t *testing.T) {
	asked := read(t, cohort.Options{Keep: []string{"hospital"}}, practice)
	joints := writeJoints(t, asked, "cohort.parquet")
	one, err := exchange.Count("site", asked, exchange.Options{By: []string{"hospital"}})
	if err != nil {
		t.Fatal(err)
	}
	names, rows := allCells(t, write(t, "t.parquet", func(f *os.File) error { return one.Write(f) }))
	made := func(by []string, change func(rows [][]string) [][]string) (*exchange.Tally, error) {
		var all [][]string
		for _, r := range rows {
			all = append(all, slices.Clone(r))
		}
		var b bytes.Buffer
		if err := csv.NewWriter(&b).WriteAll(append([][]string{names}, change(all)...)); err != nil {
			t.Fatal(err)
		}
		return exchange.Counted(t.Context(), "counted", joints, &b, by)
	}
	if tl, err := made([]string{"hospital"}, func(r [][]string) [][]string { return r }); err != nil {
		t.Error(err)
	} else if _, err := exchange.NewPool(tl); err != nil {
		t.Error(err)
	}
	last := len(names) - 1
	for _, test := range []struct {
		name   string
		by     []string
		change func(r [][]string) [][]string
		want   string
	}{
		{"a row twice", []string{"hospital"}, func(r [][]string) [][]string { return append(r, r[0]) }, "the counts have"},
		{"a row left out", []string{"hospital"}, func(r [][]string) [][]string { return r[1:] }, "the counts have"},
		{"nothing", []string{"hospital"}, func([][]string) [][]string { return nil }, "the counts have 0 joints"},
		{"without the hospital", nil, func(r [][]string) [][]string { return r }, "has 15 cells, want 13: joint, procedure, bearing"},
		{"an age that is no band", []string{"hospital"}, func(r [][]string) [][]string { r[1][8] = "64"; return r }, `row 3 of the counts: "64" in column age`},
		{"no joints", []string{"hospital"}, func(r [][]string) [][]string { r[1][last] = "0"; return r }, `row 3 of the counts: "0" joints`},
		{"an end that is none", []string{"hospital"}, func(r [][]string) [][]string { r[1][last-1] = "moved"; return r }, `"moved"`},
		{"another column", []string{"ward"}, func(r [][]string) [][]string { return r }, `no column "ward"`},
	} {
		t.Run(test.name, func(t *testing.T) {
			if _, err := made(test.by, test.change); err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("%v, want %q", err, test.want)
			}
		})
	}
	if _, err := exchange.Counted(t.Context(), "counted", practice, strings.NewReader(""), nil); err == nil || !strings.Contains(err.Error(), "no checked cohort") {
		t.Error(err)
	}
}
