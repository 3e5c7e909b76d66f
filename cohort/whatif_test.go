package cohort_test

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/testtable"
)

// readPractice reads the tables of a practice.
func readPractice(t testing.TB, p testtable.Practice, o cohort.Options) (*cohort.Cohort, error) {
	t.Helper()
	if p.Revisions != nil {
		o.Revisions = []cohort.Source{source("revisions.csv", strings.TrimSuffix(p.RevisionText(), "\n"))}
	}
	if p.Deaths != nil {
		o.DeathLists = []cohort.Source{source("deaths.csv", strings.TrimSuffix(p.DeathText(), "\n"))}
	}
	return tryRead(t, o, p.PrimaryText())
}

func mustReadPractice(t testing.TB, p testtable.Practice, o cohort.Options) *cohort.Cohort {
	t.Helper()
	c, err := readPractice(t, p, o)
	if err != nil {
		t.Fatal(err)
	}
	balanced(t, c)
	return c
}

// mending is a practice whose tables are mended row by row, as a person would
// mend them with the list of problems in hand.
type mending struct {
	testtable.Practice
	cohort  *cohort.Cohort // the tables as they were
	closing string
	latest  bool // of the days on which an event can have been
	added   []testtable.Record
	undone  bool // nothing that could be typed would settle a problem
}

// row is a row of one of the tables.
func (m *mending) row(file, row int) *testtable.Record {
	switch i := row - 2; m.cohort.Files[file].Holds {
	case "revisions":
		return &m.Revisions[i]
	case "deaths":
		return &m.Deaths[i]
	default:
		return &m.Primaries[i]
	}
}

func (m *mending) own(p cohort.Problem) *testtable.Record { return m.row(p.File, p.Row) }

// stands is the row where the value stands that a problem is about.
func (m *mending) stands(p cohort.Problem) *testtable.Record {
	if p.At > 0 {
		return m.row(p.AtFile, p.At)
	}
	return m.own(p)
}

// done is the practice without the rows taken out, and with those added.
func (m *mending) done() testtable.Practice {
	gone := func(r testtable.Record) bool { return r.Cells == nil }
	m.Primaries = append(slices.DeleteFunc(m.Primaries, gone), m.added...)
	m.Revisions = slices.DeleteFunc(m.Revisions, gone)
	return m.Practice
}

// died is the day on which a patient died, as far as a table says so.
func (m *mending) died(of *testtable.Record) string {
	id := of.Cells["patient"]
	for _, table := range [][]testtable.Record{m.Primaries, m.Deaths} {
		for i := range table {
			if r := &table[i]; (r.Cells["patient"] == id && id != "" && id != "x" || r == of) && r.Cells["death_date"] != "" && r.Cells["death_date"] == of.Died {
				return of.Died
			}
		}
	}
	return ""
}

// sometime is the first or the last day on which a joint can have been revised:
// the day after the operation, or the closing date or the day of death.
func (m *mending) sometime(of *testtable.Record) string {
	last := m.closing
	if died := m.died(of); died != "" && died >= of.Cells["operation_date"] {
		last = min(last, died)
	}
	if m.latest {
		return last
	}
	return min((day(of.Cells["operation_date"]) + 1).String(), last)
}

func (m *mending) reviseSometime(p cohort.Problem) {
	m.stands(p).Cells["revision_date"] = m.sometime(m.own(p))
}

// joined is the row of a revision that belongs to a row of a primary; nil if
// there is none.
func (m *mending) joined(file, row int) *testtable.Record {
	for _, r := range m.cohort.Revisions() {
		if r.Of == row && r.OfFile == file && r.Outcome == cohort.RevisionJoined {
			return m.row(r.File, r.Row)
		}
	}
	return nil
}

func (m *mending) notRevised(p cohort.Problem) {
	own := m.own(p).Cells
	own["revision_date"] = ""
	if own["revised"] == "yes" {
		own["revised"] = ""
	}
	if r := m.joined(p.File, p.Row); r != nil {
		r.Cells = nil
	}
}

func (m *mending) notDead(p cohort.Problem) {
	m.stands(p).Cells["death_date"] = ""
	if own := m.own(p).Cells; own["dead"] == "yes" {
		own["dead"] = ""
	}
}

// otherSide takes the side of a joint that stands in the table already for a
// mistyped one.
func (m *mending) otherSide(p cohort.Problem) {
	own := m.own(p).Cells
	other := map[string]string{"left": "right", "right": "left"}[own["side"]]
	for i, r := range m.Primaries {
		if i != p.Row-2 && r.Cells["patient"] == own["patient"] && r.Cells["joint"] == own["joint"] && r.Cells["side"] != own["side"] {
			m.undone = true // the patient has the other one too
		}
	}
	own["side"] = other
}

// takenForRevision takes a later row of a joint for a revision: its type of
// operation says so, and that of every other row that it is no revision.
func (m *mending) takenForRevision(p cohort.Problem) {
	if !m.Operations {
		m.Operations = true
		for _, r := range m.Primaries {
			r.Cells["operation_type"] = "primary"
		}
	}
	m.own(p).Cells["operation_type"] = "revision"
}

// lastOperation is the day of the patient's last operation among the rows of
// primaries, before which nobody can have died.
func (m *mending) lastOperation(of *testtable.Record) string {
	last := of.Cells["operation_date"]
	for _, r := range m.Primaries {
		id, on := r.Cells["patient"], r.Cells["operation_date"]
		if id == of.Cells["patient"] && id != "" && id != "x" && on <= m.closing {
			last = max(last, on)
		}
	}
	return last
}

// mend is a problem that an effect is given for, with the way to mend one row. Where
// fault is set, an effect is known not to be what mending gives: a test fails as soon as
// it is, so that the mark is taken away.
type mend struct {
	problem string
	reasons []cohort.Reason
	ways    int // 2: on the earliest and on the latest day
	mend    func(m *mending, p cohort.Problem)
	fault   string
}

var mends = []mend{
	{"revised without a date, or on an impossible one", []cohort.Reason{cohort.RevisedWithoutDate, cohort.RevisionDateImpossible}, 2, (*mending).reviseSometime, ""},
	{"revision before operation", []cohort.Reason{cohort.RevisionBeforeOperation}, 2, (*mending).reviseSometime, ""},
	{"a reason for revision, and no revision", []cohort.Reason{cohort.ReasonWithoutRevision}, 2, (*mending).reviseSometime, ""},
	{"neither yes nor no in revised", []cohort.Reason{cohort.YesNoUnreadable}, 2, func(m *mending, p cohort.Problem) {
		if m.own(p).Cells["revision_date"] == "" && m.joined(p.File, p.Row) == nil {
			m.reviseSometime(p)
		}
	}, ""},
	{"revised says no, with a revision date", []cohort.Reason{cohort.RevisedNoWithDate}, 1, (*mending).notRevised, ""},
	{"revision after death", []cohort.Reason{cohort.RevisionAfterDeath}, 1, (*mending).notRevised, ""},
	{"dead says no, with a death date", []cohort.Reason{cohort.AliveWithDeathDate}, 1, (*mending).notDead, ""},
	{"death before operation", []cohort.Reason{cohort.DeathBeforeOperation}, 1, (*mending).notDead, ""},
	{"dead without a date, and never seen since", []cohort.Reason{cohort.DeadWithoutDate}, 2, func(m *mending, p cohort.Problem) {
		on := m.closing
		if !m.latest {
			on = min((day(m.lastOperation(m.own(p))) + 1).String(), on)
		}
		m.stands(p).Cells["death_date"] = on
	}, ""},
	{"age outside 10 to 110", []cohort.Reason{cohort.AgeOutOfRange}, 1, func(m *mending, p cohort.Problem) { m.own(p).Cells["age"] = "" }, ""},
	{"both sides in one row", []cohort.Reason{cohort.BothSides}, 1, func(m *mending, p cohort.Problem) {
		own := m.own(p)
		own.Cells["side"] = "left"
		right := testtable.Record{Cells: maps.Clone(own.Cells), Died: own.Died}
		right.Cells["side"] = "right"
		m.added = append(m.added, right)
	}, ""},
	{"same joint again: possible revision", []cohort.Reason{cohort.PossibleRevision}, 1, (*mending).takenForRevision, ""},
	{"same joint again", []cohort.Reason{cohort.PossibleRevision, cohort.DuplicateRow}, 1, (*mending).otherSide, ""},
	{"lost to follow-up", []cohort.Reason{cohort.LostToFollowUp}, 2, func(m *mending, p cohort.Problem) {
		own := m.own(p).Cells
		if m.latest {
			own["revision_date"] = own["last_seen_date"]
		} else {
			own["last_seen_date"] = m.closing
		}
	}, ""},
}

// estimates are the cumulative revision at some years, by joint and procedure:
// 1 − Kaplan–Meier, NaN beyond the longest follow-up.
func estimates(t testing.TB, c *cohort.Cohort, years []float64) map[string][]float64 {
	t.Helper()
	all := make(map[string][]float64)
	g := mustTally(t, c, nil, cohort.Endpoint{})
	for k, counts := range g.Set.All() {
		ends := outcomes(counts)
		var at []float64
		for _, y := range years {
			at = append(at, kaplanMeier(ends, y))
		}
		all[names(g.Set, k)] = at
	}
	return all
}

// kaplanMeier is 1 − Kaplan–Meier of ends sorted by day, by multiplying.
func kaplanMeier(ends []outcome, years float64) float64 {
	if len(ends) == 0 || float64(ends[len(ends)-1].Day) < cohort.DayOfYear(years) {
		return math.NaN()
	}
	s := 1.0
	for i := 0; i < len(ends) && float64(ends[i].Day) <= cohort.DayOfYear(years); {
		n, d, j := len(ends)-i, 0, i
		for ; j < len(ends) && ends[j].Day == ends[i].Day; j++ {
			if ends[j].Cause == cohort.CauseRevision {
				d++
			}
		}
		s *= 1 - float64(d)/float64(n)
		i = j
	}
	return 1 - s
}

func alike(a, b float64) bool { return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) < 1e-12 }

// span is the lowest and the highest estimate of the mended tables.
type span struct{ low, high []float64 }

// mended reads the tables with one problem mended in every row that has it, the
// earliest and the latest way. It is nil where the problem can't be mended by
// typing.
func mended(t testing.TB, p testtable.Practice, c *cohort.Cohort, which int, o cohort.Options, years []float64) map[string]span {
	t.Helper()
	spans := make(map[string]span)
	for way := range mends[which].ways {
		m := &mending{Practice: p.Clone(), cohort: c, closing: o.ClosingDate.String(), latest: way > 0}
		for _, problem := range slices.Concat(c.SetAside(), c.Warnings()) {
			if slices.Contains(mends[which].reasons, problem.Reason) {
				mends[which].mend(m, problem)
			}
		}
		if m.undone {
			return nil
		}
		for name, at := range estimates(t, mustReadPractice(t, m.done(), o), years) {
			s, ok := spans[name]
			if !ok {
				s = span{slices.Clone(at), slices.Clone(at)}
			}
			for i, x := range at {
				s.low[i], s.high[i] = math.Min(s.low[i], x), math.Max(s.high[i], x)
			}
			spans[name] = s
		}
	}
	return spans
}

// What settling a problem would change is what reading the tables again gives,
// once they are mended so: with every other joint of the patient and every other
// table there, and for a problem that no row has nothing at all.
func TestWhatIfIsWhatMendingGives(t *testing.T) {
	if testing.Short() {
		t.Skip("reads hundreds of tables again; other tests link patients side by side")
	}
	closing := day("2020-12-31")
	o := cohort.Options{ClosingDate: &closing}
	years := []float64{1, 2, 3, 4, 5, 6, 7, 8}
	reached, differ := make([]int, len(mends)), make([]string, len(mends))
	for layout := range testtable.LayoutCount {
		for seed := range uint64(12) {
			p := testtable.Patients(rand.New(rand.NewPCG(seed, 5)), 80, layout, 4)
			c := mustReadPractice(t, p, o)
			now := estimates(t, c, years)
			effects := mustEffects(t, c, years...)
			for _, e := range effects {
				if !slices.ContainsFunc(mends, func(x mend) bool { return x.problem == e.Problem }) {
					t.Errorf("nobody mends: %s", e.Problem)
				}
			}
			for which, x := range mends {
				want := mended(t, p, c, which, o, years)
				if want == nil {
					continue
				}
				for name, w := range want {
					got := span{now[name], now[name]}
					for _, e := range effects {
						if e.Problem == x.problem && e.Joint+"|"+e.Procedure == name {
							reached[which]++
							got = span{}
							for _, at := range e.At {
								got.low, got.high = append(got.low, at.Low), append(got.high, at.High)
							}
						}
					}
					if !slices.EqualFunc(got.low, w.low, alike) || !slices.EqualFunc(got.high, w.high, alike) {
						differ[which] = fmt.Sprintf("layout %d, seed %d, %s: %.4f to %.4f, mended %.4f to %.4f", layout, seed, name, got.low, got.high, w.low, w.high)
					}
				}
			}
		}
	}
	for which, x := range mends {
		switch {
		case reached[which] < 5:
			t.Errorf("%s: reached %d times", x.problem, reached[which])
		case x.fault == "" && differ[which] != "":
			t.Errorf("%s: %s", x.problem, differ[which])
		case x.fault != "" && differ[which] == "":
			t.Errorf("%s: mended tables give what is said; take the mark away: %s", x.problem, x.fault)
		}
	}
}
