package cohort_test

import (
	"bytes"
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testtable"
)

// damagedJoints is large enough for every damage to find rows to fall on, and
// for all words to occur.
const damagedJoints = 100

// audited is what must not change: the CSV of the audit by all columns of words,
// for revisions of any reason and for infection.
func audited(t *testing.T, c *cohort.Cohort) string {
	t.Helper()
	var b strings.Builder
	for _, o := range []audit.Options{
		{By: []string{"bearing", "fixation", "age_band", "sex", "surgeon"}, Years: []float64{1, 5, 10}},
		{By: []string{"hospital"}, Years: []float64{1, 5}, Endpoint: cohort.Endpoint{Reasons: []string{"infection"}}},
	} {
		a, err := audit.Run(c, o)
		if err != nil {
			t.Fatalf("audit: %v", err)
		}
		if err := audit.WriteCSV(&b, a); err != nil {
			t.Fatal(err)
		}
	}
	return b.String()
}

// readFiles reads a draft's files as a user would.
func readFiles(t *testing.T, d *testtable.Draft, files []testtable.File) (*cohort.Cohort, error) {
	t.Helper()
	o := d.Options
	var sources []cohort.Source
	for _, f := range files {
		s := cohort.Source{Name: f.Name, Reader: bytes.NewReader(f.Data), Sheet: f.Sheet}
		switch f.Holds {
		case "revisions":
			o.Revisions = append(o.Revisions, s)
		case "deaths":
			o.DeathLists = append(o.DeathLists, s)
		default:
			sources = append(sources, s)
		}
	}
	return cohort.Read(t.Context(), sources, o)
}

// spot is a row of a file, and listing what is said of it.
type spot struct{ File, Row int }

// cleanAudits gives the audit of the clean table without some joints.
type cleanAudits struct {
	joints   []testtable.Joint
	known    map[string]string
	warnings map[int][]cohort.Reason // by joint
}

func newCleanAudits(t *testing.T, joints []testtable.Joint) *cleanAudits {
	t.Helper()
	a := &cleanAudits{joints: joints, known: make(map[string]string)}
	d := testtable.NewDraft(testtable.TextFile, joints)
	files, err := d.Files()
	if err != nil {
		t.Fatal(err)
	}
	c, err := readFiles(t, d, files)
	if err != nil {
		t.Fatal(err)
	}
	if c.Account().Used != len(joints) || c.Account().SetAside != 0 {
		t.Fatalf("the clean table is not clean: %d of %d used, %v", c.Account().Used, len(joints), c.Account().Reasons)
	}
	for _, words := range c.Words() {
		for _, w := range words.Words {
			if !w.Known {
				t.Fatalf("the clean table has an unknown word: %s %q", words.Column, w.Typed)
			}
		}
	}
	a.warnings = warningsByJoint(d, c, files)
	return a
}

func warningsByJoint(d *testtable.Draft, c *cohort.Cohort, files []testtable.File) map[int][]cohort.Reason {
	joint := make(map[spot]int)
	for i, f := range files {
		for row, n := range f.Rows {
			joint[spot{i, n}] = row.Joint
		}
	}
	found := make(map[int][]cohort.Reason)
	for _, p := range c.Warnings() {
		j := joint[spot{p.File, p.Row}]
		found[j] = append(found[j], p.Reason)
	}
	for _, reasons := range found {
		slices.Sort(reasons)
	}
	return found
}

// without is the audit of the clean table without the joints left out.
func (a *cleanAudits) without(t *testing.T, left map[int]bool) string {
	t.Helper()
	key := fmt.Sprint(left)
	if s, ok := a.known[key]; ok {
		return s
	}
	var keep []testtable.Joint
	for i, j := range a.joints {
		if !left[i] {
			keep = append(keep, j)
		}
	}
	d := testtable.NewDraft(testtable.TextFile, keep)
	files, err := d.Files()
	if err != nil {
		t.Fatal(err)
	}
	c, err := readFiles(t, d, files)
	if err != nil {
		t.Fatal(err)
	}
	a.known[key] = audited(t, c)
	return a.known[key]
}

// quiet fails if a text holds something that identifies a patient.
func quiet(t *testing.T, identifiers []string, what, text string) {
	t.Helper()
	lower := strings.ToLower(text)
	for _, id := range identifiers {
		if at := strings.Index(lower, strings.ToLower(id)); at >= 0 {
			t.Errorf("%s holds an identifier: %.200s", what, text[max(0, at-60):])
		}
	}
}

// saidOfDamaged is every text that a cohort gives for reading, without the headings.
func saidOfDamaged(c *cohort.Cohort) string {
	var b strings.Builder
	for _, f := range c.Files {
		fmt.Fprintln(&b, f.Name, f.Format, f.Notes, f.Preamble, f.DateOrders, f.Sheet, f.OtherSheets)
	}
	for _, p := range slices.Concat(c.SetAside(), c.Warnings()) {
		fmt.Fprintln(&b, p.Row, p.Column, c.Describe(p), c.Cell(p))
	}
	for _, w := range c.Words() {
		fmt.Fprintln(&b, w.Column, w.Words)
	}
	fmt.Fprintln(&b, c.Completeness(), c.Revisions(), c.DeathList(), c.Account(), c.Closing)
	return b.String()
}

// checkDamages applies damages and compares what comes of them with the clean table.
func checkDamages(t *testing.T, clean *cleanAudits, identifiers []string, kind testtable.Kind, several []testtable.Damage, r *rand.Rand) {
	t.Helper()
	d := testtable.NewDraft(kind, clean.joints)
	for _, x := range several {
		x.Apply(d, r)
	}
	files, err := d.Files()
	if err != nil {
		t.Fatalf("writing: %v", err)
	}
	c, err := readFiles(t, d, files)
	if refused := several[0].Refused; refused != nil {
		if err == nil || !refused(err) {
			t.Fatalf("error %v, want another", err)
		}
		quiet(t, identifiers, "the error", err.Error())
		return
	}
	if err != nil {
		quiet(t, identifiers, "the error", err.Error())
		t.Fatalf("refused: %v", err)
	}

	// No row is lost.
	rows, written := 0, 0
	for i, f := range c.Files {
		if f.Rows != len(files[i].Rows) {
			t.Errorf("%s: %d rows read, %d written", f.Name, f.Rows, len(files[i].Rows))
		}
		if f.Holds == "primaries" {
			rows += f.Rows
			written += len(files[i].Rows)
		}
	}
	if a := c.Account(); a.Read != rows || a.Read != a.Used+a.SetAside || rows != written || len(c.SetAside()) != a.SetAside {
		t.Errorf("%d rows written, %d counted, %d read, %d used, %d set aside, %d listed", written, rows, a.Read, a.Used, a.SetAside, len(c.SetAside()))
	}

	// The rows that can't be used are listed, and no others.
	listed := make(map[spot]cohort.Reason)
	for _, p := range c.SetAside() {
		listed[spot{p.File, p.Row}] = p.Reason
	}
	for _, v := range c.Revisions() {
		listed[spot{v.File, v.Row}] = v.Outcome
	}
	left := make(map[int]bool)
	for _, want := range d.Expected {
		at, ok := spot{}, false
		for i, f := range files {
			if n, in := f.Rows[want.Row]; in {
				at, ok = spot{i, n}, true
			}
		}
		if !ok {
			t.Fatal("an expected row was not written")
		}
		if !slices.Contains(want.Reasons, listed[at]) {
			t.Errorf("row %d of %s is listed as %v, want one of %v", at.Row, files[at.File].Name, listed[at], want.Reasons)
		}
		delete(listed, at)
		if want.Row.Joint >= 0 && files[at.File].Holds == "primaries" && !slices.Contains(want.Reasons, cohort.RevisionJoined) {
			left[want.Row.Joint] = true
		}
	}
	for at, reason := range listed {
		t.Errorf("row %d of %s is listed as %v, and nothing was done to it", at.Row, files[at.File].Name, reason)
	}

	// The others give the clean audit.
	if got, want := audited(t, c), clean.without(t, left); got != want {
		t.Errorf("audit of the damaged table (-clean +damaged):\n%.3000s", gocmp.Diff(strings.Split(want, "\n"), strings.Split(got, "\n")))
	}
	if len(d.Expected) == 0 || len(left) == 0 {
		warned := warningsByJoint(d, c, files)
		delete(warned, -1)
		for joint, reasons := range warned {
			warned[joint] = slices.DeleteFunc(reasons, func(r cohort.Reason) bool {
				return slices.ContainsFunc(several, func(x testtable.Damage) bool { return slices.Contains(x.Warns, r) })
			})
			if len(warned[joint]) == 0 {
				delete(warned, joint)
			}
		}
		if diff := gocmp.Diff(clean.warnings, warned); diff != "" {
			t.Errorf("warnings by joint (-clean +damaged):\n%.2000s", diff)
		}
	}
	all := saidOfDamaged(c)
	quiet(t, identifiers, "what is said of the table", all)
	for _, x := range several {
		for _, want := range x.Says {
			if !strings.Contains(all, want) {
				t.Errorf("nothing said of the file holds %q", want)
			}
		}
	}
}

func kinds(k testtable.Kind) []testtable.Kind {
	var all []testtable.Kind
	for _, one := range []testtable.Kind{testtable.TextFile, testtable.BookFile} {
		if k&one != 0 {
			all = append(all, one)
		}
	}
	return all
}

// Every damage alone: the audit is that of the clean table, or of the clean
// table without the rows listed, or the table is refused.
func TestEachDamage(t *testing.T) {
	joints := testtable.Clean(1, damagedJoints)
	clean, identifiers := newCleanAudits(t, joints), testtable.Identifiers(joints)
	names := make(map[string]bool)
	for i, x := range testtable.Damages() {
		if names[x.Name] {
			t.Errorf("two damages are called %q", x.Name)
		}
		names[x.Name] = true
		if testing.Short() && i%8 != 0 {
			continue
		}
		for _, kind := range kinds(x.Kind) {
			t.Run(fmt.Sprintf("%s/%s", x.Name, kind), func(t *testing.T) {
				checkDamages(t, clean, identifiers, kind, []testtable.Damage{x}, rand.New(rand.NewPCG(1, uint64(i))))
			})
		}
	}
	if len(names) < 200 {
		t.Errorf("%d damages, want 200 or more", len(names))
	}
}

// Several repairable damages at once give the clean audit. A failure's name
// holds what is needed to repeat it.
func TestCombinedDamages(t *testing.T) {
	joints := testtable.Clean(2, damagedJoints)
	clean, identifiers := newCleanAudits(t, joints), testtable.Identifiers(joints)
	combinations := 300
	if testing.Short() {
		combinations = 50
	}
	for n := range combinations {
		r := rand.New(rand.NewPCG(uint64(n), 7))
		kind := []testtable.Kind{testtable.TextFile, testtable.BookFile}[r.IntN(2)]
		several := combination(r, kind, 2+r.IntN(4))
		var names []string
		for _, x := range several {
			names = append(names, x.Name)
		}
		t.Run(fmt.Sprintf("%d/%s/%s", n, kind, strings.Join(names, " + ")), func(t *testing.T) {
			checkDamages(t, clean, identifiers, kind, several, r)
		})
	}
}

// Each damage together with another: what one says must not hide what the other
// does. The partners are drawn anew for each seed.
func TestDamagesInPairs(t *testing.T) {
	joints := testtable.Clean(3, damagedJoints)
	clean, identifiers := newCleanAudits(t, joints), testtable.Identifiers(joints)
	var repairable []testtable.Damage
	for _, x := range testtable.Damages() {
		if !x.Alone {
			repairable = append(repairable, x)
		}
	}
	for i, x := range repairable {
		if testing.Short() && i%8 != 0 {
			continue
		}
		r := rand.New(rand.NewPCG(uint64(i), 11))
		for {
			pair := []testtable.Damage{x, repairable[r.IntN(len(repairable))]}
			if !testtable.Together(pair) || pair[0].Kind&pair[1].Kind == 0 {
				continue
			}
			testtable.InOrder(pair)
			both := kinds(pair[0].Kind & pair[1].Kind)
			kind := both[r.IntN(len(both))]
			t.Run(fmt.Sprintf("%s/%s + %s", kind, pair[0].Name, pair[1].Name), func(t *testing.T) {
				checkDamages(t, clean, identifiers, kind, pair, r)
			})
			break
		}
	}
}

// combination draws so many repairable damages that go together.
func combination(r *rand.Rand, kind testtable.Kind, size int) []testtable.Damage {
	var repairable []testtable.Damage
	for _, x := range testtable.Damages() {
		if !x.Alone && x.Kind&kind != 0 {
			repairable = append(repairable, x)
		}
	}
	var several []testtable.Damage
	for len(several) < size {
		more := append(slices.Clone(several), repairable[r.IntN(len(repairable))])
		if testtable.Together(more) {
			several = more
		}
	}
	slices.SortFunc(several, func(a, b testtable.Damage) int { return cmp.Compare(a.Name, b.Name) })
	testtable.InOrder(several)
	return several
}
