package cohort_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"

	"example.org/holdfast/cohort/internal/column"
)

func TestReadStops(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	text := inventedTable(1e5)
	calls := 0
	o := cohort.Options{Today: day(today), Progress: func(cohort.Progress) {
		if calls++; calls == 2 {
			cancel()
		}
	}}
	_, err := cohort.Read(ctx, []cohort.Source{{Name: "t.csv", Reader: strings.NewReader(text)}}, o)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if _, err := cohort.Read(ctx, []cohort.Source{{Name: "t.csv", Reader: strings.NewReader(text)}}, o); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

func TestProgress(t *testing.T) {
	text := inventedTable(1e5)
	var last, size, rows int64
	o := cohort.Options{Today: day(today), Progress: func(p cohort.Progress) {
		if p.Read < last || p.Rows < rows {
			t.Errorf("%+v after %d bytes, %d rows", p, last, rows)
		}
		last, size, rows = p.Read, p.Total, p.Rows
	}}
	if _, err := cohort.Read(t.Context(), []cohort.Source{{Name: "t.csv", Reader: strings.NewReader(text)}}, o); err != nil {
		t.Fatal(err)
	}
	if last != int64(len(text)) || size != int64(len(text)) {
		t.Errorf("%d of %d bytes, the text has %d", last, size, len(text))
	}
	if rows < 50_000 || rows > 100_000 { // the last batches may still be decoded when the last is told
		t.Errorf("%d rows of 100,000", rows)
	}
}

// An error while the rows are read, as of a disk, is handed on with the name.
func TestReadError(t *testing.T) {
	failed := errors.New("the disk failed")
	text := inventedTable(1e5)
	_, err := cohort.Read(t.Context(), []cohort.Source{{Name: "t.csv", Reader: &failing{strings.NewReader(text[:3<<20]), failed}}}, cohort.Options{Today: day(today)})
	if !errors.Is(err, failed) {
		t.Errorf("error %v", err)
	}
	wantError(t, err, "t.csv")
}

type failing struct {
	r   *strings.Reader
	err error
}

func (f *failing) Read(p []byte) (int, error) {
	if f.r.Len() == 0 {
		return 0, f.err
	}
	return f.r.Read(p)
}

// The caller's options are as they were.
func TestOptionsAreNotChanged(t *testing.T) {
	keep := []string{"Cup maker", "surgeon", "Boss"}
	o := cohort.Options{Keep: keep, Where: []cohort.Condition{{"joint", "HIP"}}, Assume: map[string]string{"hospital": "West"}, Columns: map[string]string{"x": ""}}
	mustRead(t, o, scopeTable)
	if d := cmp.Diff([]string{"Cup maker", "surgeon", "Boss"}, keep); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if len(o.Assume) != 1 || len(o.Columns) != 1 || o.Where[0].Value != "HIP" || o.AgeBands != nil || o.Today != 0 {
		t.Errorf("%+v", o)
	}
	if !slices.Equal(cohort.DefaultAgeBands(), []int{55, 65, 75}) {
		t.Errorf("%v", cohort.DefaultAgeBands())
	}
}

// So many rows that patients are matched in several parts: every patient's two
// rows are found.
func TestRepeatsOfManyRows(t *testing.T) {
	const patients = 150_000
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,side,revision_date\n")
	for i := range 2 * patients {
		side := "left"
		if i >= patients && i%3 == 0 { // the other hip: no repeat
			side = "right"
		}
		fmt.Fprintf(&b, "P%d,20%02d-01-01,hip,%s,\n", i%patients, 10+i/patients, side)
	}
	c := mustRead(t, cohort.Options{}, b.String())
	if c.Account().Used != patients+patients/3 || c.Account().PossibleRevisions != patients-patients/3 {
		t.Errorf("%+v", c.Account())
	}
	for _, p := range c.SetAside() {
		if p.Row != p.Of+patients || p.Reason != cohort.PossibleRevision {
			t.Fatalf("%+v", p)
		}
	}
	_, n, err := mustTally(t, c, nil, cohort.Endpoint{}).Margin()
	if err != nil {
		t.Fatal(err)
	}
	for k := range n {
		if n[k] != patients {
			t.Errorf("%d patients, want %d", n[k], patients)
		}
	}
}

// Columns that others are made from can be kept and grouped by too.
func TestKeepParts(t *testing.T) {
	c := mustRead(t, cohort.Options{Keep: []string{"head", "Liner material", "cup_fixation", "operation_type", "polyethylene"}},
		table("operation_date,revision_date,procedure,side,head,liner,cup_fixation,operation type,poly type",
			"2020-01-01,,THR,left,CoCr,XLPE,HA,primary,HXLPE", "2020-01-01,,THR,left,metal,PE,,,"))
	want := map[string]int64{
		"hip|total|metal|crosslinked-polyethylene|porous|primary|crosslinked":          1,
		"hip|total|metal|polyethylene|not recorded|not recorded|" + cohort.NotRecorded: 1,
	}
	by := []string{"head", "liner", "cup_fixation", "operation_type", "polyethylene"}
	if d := cmp.Diff(want, joints(mustTally(t, c, by, cohort.Endpoint{}).Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	seen := make(map[string]bool)
	for _, w := range c.Words() {
		if seen[w.Column] {
			t.Errorf("the words of %s are listed twice", w.Column)
		}
		seen[w.Column] = true
	}
}

func TestDescribe(t *testing.T) {
	c := mustRead(t, cohort.Options{},
		table(repeatHeadings, "a,2020-01-01,hip,left,,,", "a,2020-01-01,hip,left,,,", "a,2021-01-01,hip,left,,,", "b,2020-01-01,hip,left,2019-01-01,,"),
		table(repeatHeadings, "a,2022-01-01,hip,left,,,"))
	var got []string
	for _, p := range c.SetAside() {
		got = append(got, c.Describe(p))
	}
	want := []string{
		"same joint and date again: duplicate of row 2",
		"same joint again: possible revision of row 2",
		"revision before operation",
		"same joint again: possible revision of row 2 of t1.csv",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestColumns(t *testing.T) {
	var needed, identifying []string
	for _, c := range cohort.Columns() {
		if c.Description == "" || column.Heading(c.Name).Column != c.Name {
			t.Errorf("%+v", c)
		}
		if c.Needed {
			needed = append(needed, c.Name)
		}
		if c.Identifying {
			identifying = append(identifying, c.Name)
		}
	}
	if d := cmp.Diff([]string{"operation_date", "revision_date"}, needed); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	slices.Sort(identifying)
	if d := cmp.Diff([]string{"birth_date", "birth_year", "initials", "joint_id", "patient"}, identifying); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	for _, r := range cohort.Reasons() {
		if got, ok := cohort.ParseReason(r); got != r || !ok {
			t.Errorf("reason %q is read as %q, %v", r, got, ok)
		}
	}
	if len(cohort.Reasons()) != 15 || cohort.Nearest("baering", []string{"fixation", "bearing"}) != "bearing" || cohort.Nearest("x", []string{"bearing"}) != "" {
		t.Errorf("%v", cohort.Reasons())
	}
}

// Wrong options are told apart from wrong tables.
func TestOptionErrors(t *testing.T) {
	text := table("operation_date,revision_date,side", "2020-01-01,,left")
	for _, test := range []struct {
		o    cohort.Options
		text string
		want bool
	}{
		{cohort.Options{AgeBands: []int{2, 1}}, text, true},
		{cohort.Options{Where: []cohort.Condition{{"side", "right"}}}, text, true},
		{cohort.Options{Keep: []string{"patient"}}, text, true},
		{cohort.Options{}, table("operation_date", "2020-01-01"), false},
	} {
		_, err := tryRead(t, test.o, test.text)
		var option *cohort.OptionError
		if errors.As(err, &option) != test.want || err == nil {
			t.Errorf("%+v: error %v", test.o, err)
		}
		if test.want && errors.Unwrap(option) == nil {
			t.Errorf("%v wraps nothing", err)
		}
	}
}
