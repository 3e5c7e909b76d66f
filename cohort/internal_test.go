package cohort

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/table"
)

func readText(t *testing.T, text string) *Cohort {
	t.Helper()
	c, err := Read(t.Context(), []Source{{Name: "t.csv", Reader: strings.NewReader(text)}}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Hand-worked: 1.2 % a year at 65, twice that at 73, half at 57, at the middle
// of the follow-up; an age not recorded counts as 65.
func TestExpectedDeaths(t *testing.T) {
	for _, test := range []struct {
		age  int // 0: not recorded
		days int32
		want float64
	}{
		{65, 0, 0},
		{64, 1461, 4 * 0.012 * math.Exp2(1.0/8)}, // four years, middle at 66
		{72, 1461, 4 * 0.024 * math.Exp2(1.0/8)},
		{56, 1461, 4 * 0.006 * math.Exp2(1.0/8)},
		{0, 1461, 4 * 0.012 * math.Exp2(2.0/8)},
	} {
		if got := expectedDeaths(test.age, test.days); math.Abs(got-test.want) > 1e-15 {
			t.Errorf("age %d, %d days: %v, want %v", test.age, test.days, got, test.want)
		}
	}
}

// Nothing of an identifier is kept once the rows are linked, no hash either: patients
// are numbers of the reading's own.
func TestIdentifiersAreNotKept(t *testing.T) {
	c := readText(t, "patient,operation_date,revision_date\n,2020-01-01,\nSECRET,2020-01-01,\nSECRET,2020-02-01,\n")
	whose := c.store.Whose()
	var patients []uint64
	for _, at := range c.store.InOrder() {
		if c.store.Blocks[at.Block].Identifier(int(at.Index)) != 0 {
			t.Errorf("%+v has a hash", at)
		}
		patients = append(patients, whose(at))
	}
	if len(patients) != 3 || patients[0] != 0 || patients[1] == 0 || patients[1] != patients[2] {
		t.Errorf("patients %d", patients)
	}
}

// The columns that are decoded in ways of their own are columns of the table,
// and the core fields are among those offered for grouping.
func TestDecodedColumnsAreDescribed(t *testing.T) {
	for _, name := range append(slices.Clone(table.SignatureColumns[:]), table.DateColumns[:]...) {
		if !slices.Contains(column.Every(), name) {
			t.Errorf("%s has no descriptor", name)
		}
	}
	for _, name := range table.SignatureColumns {
		if !column.Closed(name) {
			t.Errorf("%s has no vocabulary of its own", name)
		}
	}
	for _, name := range table.CoreFields {
		if !slices.Contains(column.With(column.Grouping), name) {
			t.Errorf("%s is not offered for grouping", name)
		}
	}
}

// Rows that say nothing of a joint cost no memory each, and are all accounted for:
// of 30,000 that are totals, can't be read or are neither, the few joints are kept.
func TestRowsThatSayNothingAreRanges(t *testing.T) {
	var b strings.Builder
	b.WriteString("patient,operation_date,revision_date,joint,side\n")
	for i := range 10 {
		for range 1000 {
			b.WriteString("Total,,,,\n")
		}
		b.WriteString("p" + strconv.Itoa(i) + ",2020-01-01,,hip,left\n")
		for range 2000 {
			b.WriteString("p,\"x,,\n")
		}
	}
	c := readText(t, b.String())
	if n := c.store.Rows(); n != 10 {
		t.Errorf("%d rows kept, want 10", n)
	}
	if n := len(c.store.Tables[0].Aside); n > 20 {
		t.Errorf("%d ranges, want 20 at most", n)
	}
	if a := c.Account(); a.Read != 30_010 || a.Used != 10 || a.SetAside != 30_000 || c.Files[0].Rows != 30_010 {
		t.Errorf("%+v", a)
	}
	for i, p := range c.SetAside() {
		if want := map[bool]Reason{true: NotAJoint, false: RowUnreadable}[i%3000 < 1000]; p.Reason != want {
			t.Fatalf("row %d: %s, want %s", p.Row, p.Reason, want)
		}
	}
}
