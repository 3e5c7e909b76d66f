package cohort_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival/tally"
)

// linkReasons are the reasons that only joined tables give.
var linkReasons = map[cohort.Reason]bool{
	cohort.RevisionJoined: true, cohort.RevisionLater: true, cohort.RevisionWithoutPrimary: true, cohort.RevisionBeforePrimary: true,
	cohort.RevisionUndated: true, cohort.RevisionIsPrimary: true, cohort.RevisionUnlinkable: true, cohort.RevisionDatesDiffer: true, cohort.DeathDatesDiffer: true,
	cohort.DeathUndated: true, cohort.DeathUnlinkable: true, cohort.DeathContradicted: true,
}

const (
	primaryHeadings   = "patient,joint,side,operation_date,revision_date,revised,death_date"
	revisionHeadings  = "patient,joint,side,revision_date,revision_reason"
	operationHeadings = "patient,joint,side,operation_type,operation_date,revision_reason"
)

// source is a table in memory.
func source(name string, lines ...string) cohort.Source {
	return cohort.Source{Name: name, Reader: strings.NewReader(table(lines...))}
}

// A revision is joined to the primary of the same patient, joint and side,
// whichever table it stands in. Every line of revs is one revision; want is
// what becomes of each, and of is the row of its primary.
var joinCases = []struct {
	name      string
	primaries []string // under primaryHeadings
	revs      []string // patient,joint,side,day,reason
	want      []cohort.Revision
	revised   int64
	aside     []cohort.Reason // of the primaries
	warned    []cohort.Reason
}{
	{"joined", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,L,2021-01-01,infection"},
		[]cohort.Revision{{Outcome: cohort.RevisionJoined, Of: 2}}, 1, nil, nil},
	{"on the day of the primary", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2020-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionJoined, Of: 2}}, 1, nil, []cohort.Reason{cohort.RevisionOnTheDay}},
	{"the first counts, whatever the order", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2022-01-01,", "p,hip,left,2021-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionLater, Of: 2}, {Outcome: cohort.RevisionJoined, Of: 2}}, 1, nil, nil},
	{"another side, joint or patient", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,right,2021-01-01,", "p,knee,left,2021-01-01,", "q,hip,left,2021-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionWithoutPrimary}, {Outcome: cohort.RevisionWithoutPrimary}, {Outcome: cohort.RevisionWithoutPrimary}}, 0, nil, nil},
	{"before its primary", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2019-12-31,"},
		[]cohort.Revision{{Outcome: cohort.RevisionBeforePrimary, Of: 2}}, 0, nil, nil},
	{"before, and after", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2019-12-31,", "p,hip,left,2021-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionBeforePrimary, Of: 2}, {Outcome: cohort.RevisionJoined, Of: 2}}, 1, nil, nil},
	{"undated: revised on a day nobody knows", []string{"p,hip,left,2020-01-01,,,", "r,hip,left,2020-01-01,,,"}, []string{"p,hip,left,,"},
		[]cohort.Revision{{Outcome: cohort.RevisionUndated, Of: 2}}, 0, []cohort.Reason{cohort.RevisedWithoutDate}, nil},
	{"impossible day", []string{"p,hip,left,2020-01-01,,,", "r,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2021-02-30,"},
		[]cohort.Revision{{Outcome: cohort.RevisionUndated, Of: 2}}, 0, []cohort.Reason{cohort.RevisedWithoutDate}, nil},
	{"side missing", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,,2021-01-01,", "p,hip,both,2021-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionUnlinkable}, {Outcome: cohort.RevisionUnlinkable}}, 0, nil, nil},
	{"the same day in both", []string{"p,hip,left,2020-01-01,2021-01-01,yes,"}, []string{"p,hip,left,2021-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionJoined, Of: 2}}, 1, nil, nil},
	{"earlier than the primary's own", []string{"p,hip,left,2020-01-01,2022-01-01,yes,"}, []string{"p,hip,left,2021-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionJoined, Of: 2}}, 1, nil, []cohort.Reason{cohort.RevisionDatesDiffer}},
	{"later than the primary's own", []string{"p,hip,left,2020-01-01,2021-01-01,yes,"}, []string{"p,hip,left,2022-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionLater, Of: 2}}, 1, nil, []cohort.Reason{cohort.RevisionDatesDiffer}},
	{"the date that revised=yes lacked", []string{"p,hip,left,2020-01-01,,yes,"}, []string{"p,hip,left,2021-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionJoined, Of: 2}}, 1, nil, nil},
	{"revised=no, and a revision", []string{"p,hip,left,2020-01-01,,no,"}, []string{"p,hip,left,2021-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionJoined, Of: 2}}, 1, nil, []cohort.Reason{cohort.RevisedNoWithDate}},
	{"the earliest primary of the joint", []string{"p,hip,left,2021-06-01,,,", "p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2022-01-01,"},
		[]cohort.Revision{{Outcome: cohort.RevisionJoined, Of: 3}}, 1, []cohort.Reason{cohort.PossibleRevision}, nil},
}

// A table of revisions beside the primaries.
func TestJoinRevisions(t *testing.T) {
	reached := make(map[cohort.Reason]bool)
	for _, test := range joinCases {
		t.Run(test.name, func(t *testing.T) {
			c, err := tryRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31"),
				Revisions: []cohort.Source{source("revisions.csv", append([]string{revisionHeadings}, test.revs...)...)}},
				table(append([]string{primaryHeadings}, test.primaries...)...))
			if err != nil {
				t.Fatal(err)
			}
			want := make([]cohort.Revision, len(test.want))
			for i, r := range test.want {
				r.File, r.Row = 1, i+2
				if r.Outcome == cohort.RevisionUnlinkable {
					r.Missing = []string{"side"}
				}
				want[i] = r
			}
			if d := cmp.Diff(want, c.Revisions()); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			check(t, c, test.revised, test.aside, test.warned)
		})
		for _, r := range test.want {
			reached[r.Outcome] = true
		}
		for _, r := range test.warned {
			reached[r] = true
		}
	}
	for _, r := range []cohort.Reason{cohort.DeathDatesDiffer, cohort.DeathUndated, cohort.DeathUnlinkable, cohort.DeathContradicted} {
		reached[r] = true // by TestJoinDeaths
	}
	reached[cohort.RevisionIsPrimary] = true // by TestTableAsItsOwnRevisions
	for r := range linkReasons {
		if !reached[r] {
			t.Errorf("no case reaches %v", r)
		}
	}
}

// The same as rows of one table of operations of any kind, before and after
// their primaries.
func TestOperationsOfAnyKind(t *testing.T) {
	for _, test := range joinCases {
		if strings.Contains(strings.Join(test.primaries, ""), "yes") || strings.Contains(strings.Join(test.primaries, ""), "no") {
			continue // such a table has no such columns
		}
		t.Run(test.name, func(t *testing.T) {
			lines := []string{operationHeadings}
			for _, p := range test.primaries {
				cells := strings.Split(p, ",")
				lines = append(lines, strings.Join([]string{cells[0], cells[1], cells[2], "primary", cells[3], ""}, ","))
			}
			for _, r := range test.revs {
				cells := strings.Split(r, ",")
				lines = append(lines, strings.Join([]string{cells[0], cells[1], cells[2], "revision", cells[3], cells[4]}, ","))
			}
			c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31")}, table(lines...))
			want := make([]cohort.Revision, len(test.want))
			aside := test.aside
			for i, r := range test.want {
				r.Row = 2 + len(test.primaries) + i
				if r.Outcome == cohort.RevisionUnlinkable {
					r.Missing = []string{"side"}
				}
				want[i] = r
				aside = append(aside, r.Outcome)
			}
			if d := cmp.Diff(want, c.Revisions()); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			check(t, c, test.revised, aside, test.warned)
		})
	}
}

// check compares the number revised, and the reasons of the primaries' rows.
func check(t *testing.T, c *cohort.Cohort, revised int64, aside, warned []cohort.Reason) {
	t.Helper()
	g, err := c.Tally(nil, cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	var got int64
	for _, counts := range g.Set.All() {
		got += counts.Total(cohort.CauseRevision)
	}
	if got != revised {
		t.Errorf("%d revised, want %d", got, revised)
	}
	reasonsOf := func(problems []cohort.Problem) map[cohort.Reason]int {
		m := make(map[cohort.Reason]int)
		for _, p := range problems {
			m[p.Reason]++
		}
		return m
	}
	count := func(list []cohort.Reason) map[cohort.Reason]int {
		m := make(map[cohort.Reason]int)
		for _, r := range list {
			m[r]++
		}
		return m
	}
	if d := cmp.Diff(count(aside), reasonsOf(c.SetAside())); d != "" {
		t.Errorf("set aside (-want +got):\n%s", d)
	}
	if d := cmp.Diff(count(warned), reasonsOf(c.Warnings())); d != "" {
		t.Errorf("warned (-want +got):\n%s", d)
	}
}

// A joined revision brings its reason.
func TestJoinedReason(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31")}, table(operationHeadings,
		"p,hip,left,primary,2020-01-01,", "p,hip,left,revision,2021-01-01,infection", "q,hip,left,primary,2020-01-01,", "q,hip,left,revision,2021-01-01,pain"))
	g, err := c.Tally(nil, cohort.Endpoint{Reasons: []string{"infection"}})
	if err != nil {
		t.Fatal(err)
	}
	for _, counts := range g.Set.All() {
		if a, b := counts.Total(cohort.CauseRevision), counts.Total(cohort.CauseOther); a != 1 || b != 1 {
			t.Errorf("%d for infection and %d for another reason, want 1 and 1", a, b)
		}
	}
}

// A table given as its own revisions makes no joint revised on the day of its
// operation; one file is not read as both.
func TestTableAsItsOwnRevisions(t *testing.T) {
	lines := []string{"patient,joint,side,operation_date,revision_date", "p,hip,left,2020-01-01,", "p,hip,right,2020-02-01,2021-01-01", "q,knee,left,2020-03-01,"}
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31"), Revisions: []cohort.Source{source("again.csv", lines...)}}, table(lines...))
	want := []cohort.Revision{
		{File: 1, Row: 2, Outcome: cohort.RevisionIsPrimary, Of: 2}, {File: 1, Row: 3, Outcome: cohort.RevisionJoined, Of: 3}, {File: 1, Row: 4, Outcome: cohort.RevisionIsPrimary, Of: 4},
	}
	if d := cmp.Diff(want, c.Revisions()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if a := c.Account(); a.UnjoinedJoints != 0 || len(a.Unjoined) != 0 {
		t.Errorf("%+v: what is no revision counts as one that is not joined", a)
	}
	check(t, c, 1, nil, nil)
	for _, o := range []cohort.Options{
		{Revisions: []cohort.Source{source("./t1.csv", lines...)}},
		{DeathLists: []cohort.Source{source("t1.csv", "patient,death_date", "p,2022-01-01")}},
	} {
		_, err := tryRead(t, o, table(lines...))
		wantError(t, err, "t1.csv is named as a table of primaries and as one of ")
	}
}

// A list of deaths gives every joint of a patient the day of death; follow-up
// ends where deaths are no longer known.
func TestJoinDeaths(t *testing.T) {
	deaths := source("deaths.csv", "patient,date of death", "p,2022-01-01", "q,2022-01-01", "nobody,2022-01-01", ",2022-01-01", "p,2022-02-01", "s,2022-02-30")
	complete := day("2023-12-31")
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31"), DeathLists: []cohort.Source{deaths}, DeathsCompleteTo: &complete},
		table("patient,joint,side,operation_date,revision_date,death_date", "p,hip,left,2020-01-01,,", "p,hip,right,2020-01-01,2021-01-01,", "q,hip,left,2020-01-01,,2021-12-31", "r,hip,left,2020-01-01,,"))
	want := cohort.DeathList{Patients: 3, Joined: 2, Unusable: 2, Contradicting: 1, CompleteTo: &complete}
	if d := cmp.Diff(want, c.DeathList()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	wantListed := []cohort.Problem{
		{File: 1, Row: 5, Column: "patient", Reason: cohort.DeathUnlinkable},
		{File: 1, Row: 6, Column: "death_date", Reason: cohort.DeathContradicted, OfFile: 1, Of: 2},
		{File: 1, Row: 7, Column: "death_date", Reason: cohort.DeathUndated},
	}
	if d := cmp.Diff(wantListed, c.Linked()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	wantWarned := []cohort.Problem{{Row: 4, Column: "death_date", Reason: cohort.DeathDatesDiffer, AtFile: 1, At: 3}}
	if d := cmp.Diff(wantWarned, c.Warnings()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if said := c.Describe(wantWarned[0]); !strings.HasSuffix(said, "; the value stands in row 3 of deaths.csv") {
		t.Errorf("%s", said)
	}
	if c.Closing.Day != complete || !c.Closing.DeathsEnd || !c.Deaths().Recorded {
		t.Errorf("%+v, %+v", c.Closing, c.Deaths())
	}
	check(t, c, 1, nil, []cohort.Reason{cohort.DeathDatesDiffer})
	g, _ := c.Tally(nil, cohort.Endpoint{})
	for _, counts := range g.Set.All() {
		// p's left hip and q's died on the list's day, 731 days on; r was followed to the end of the deaths, 1,460 days.
		for _, want := range []struct {
			day   int32
			cause int
			n     int64
		}{{731, cohort.CauseDeath, 2}, {366, cohort.CauseRevision, 1}, {1460, 0, 1}} {
			if got := counts.On(want.day, want.cause); got != want.n {
				t.Errorf("day %d, cause %d: %d, want %d", want.day, want.cause, got, want.n)
			}
		}
	}
}

// Lost to follow-up: seen last longer before the closing date than stated,
// neither revised nor dead. In the worst case each was revised on that day.
func TestLost(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-01"), LostAfter: 365}, table("operation_date,revision_date,death_date,dead,last_seen_date",
		"2020-01-01,,,,2023-01-01",           // 365 days: not yet
		"2020-01-01,,,,2022-12-31",           // 366: lost
		"2020-01-01,,,,",                     // followed to the closing date
		"2020-01-01,2021-01-01,,,2021-01-01", // revised
		"2020-01-01,,2021-01-01,,2021-01-01", // dead
		"2020-01-01,,,yes,2021-01-01",        // dead, on a day that is not known
	))
	if c.Account().Lost != 1 {
		t.Errorf("%d lost, want 1", c.Account().Lost)
	}
	revised := func(e cohort.Endpoint) int64 {
		g, err := c.Tally(nil, e)
		if err != nil {
			t.Fatal(err)
		}
		var n int64
		g.Set.All()(func(_ tally.Key, counts *tally.Counts) bool { n += counts.Total(cohort.CauseRevision); return true })
		return n
	}
	if a, b := revised(cohort.Endpoint{}), revised(cohort.Endpoint{LostRevised: true}); a != 1 || b != 2 {
		t.Errorf("%d revised and %d in the worst case, want 1 and 2", a, b)
	}
}

// What a joined table must have, and what it must not change.
func TestJoinedTablesColumns(t *testing.T) {
	for _, test := range []struct {
		options cohort.Options
		want    string
	}{
		{cohort.Options{Revisions: []cohort.Source{source("r.csv", "patient,revision_date", "p,2021-01-01")}}, "no column joint"},
		{cohort.Options{Revisions: []cohort.Source{source("r.csv", "joint,side,revision_date", "hip,left,2021-01-01")}}, "no column patient"},
		{cohort.Options{DeathLists: []cohort.Source{source("d.csv", "patient", "p")}}, "no column death_date"},
	} {
		_, err := tryRead(t, test.options, table("patient,joint,side,operation_date,revision_date", "p,hip,left,2020-01-01,", "p,knee,left,2020-01-01,"))
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%v, want %s", err, test.want)
		}
	}
}

// A row of operations is a revision by its type, or by its procedure where the
// type is missing or not understood.
func TestOperationTypes(t *testing.T) {
	const headings = "patient,joint,side,Prim/Rev,Procedure,operation_date"
	first := "p,hip,left,P,THR,2020-01-01"
	for _, test := range []struct {
		name, row string
		reason    cohort.Reason // of the row; none: a primary
		of        int
		revised   int64
		possible  int
		unjoined  int
	}{
		{"R", "p,hip,left,R,,2021-01-01", cohort.RevisionJoined, 2, 1, 0, 0},
		{"Redo", "p,hip,left,Redo,THR,2021-01-01", cohort.RevisionJoined, 2, 1, 0, 0},
		{"2°", "p,hip,left,2°,THR,2021-01-01", cohort.RevisionJoined, 2, 1, 0, 0},
		{"not understood, and the procedure says it", "p,hip,left,X7,Revision THR,2021-01-01", cohort.RevisionJoined, 2, 1, 0, 0},
		{"missing, and the procedure says it", "p,hip,left,,Revision THR,2021-01-01", cohort.RevisionJoined, 2, 1, 0, 0},
		{"not understood: perhaps a revision", "p,hip,left,X7,THR,2021-01-01", cohort.OperationTypeNotUnderstood, 2, 0, 1, 0},
		{"not understood, before the primary", "p,hip,left,X7,THR,2019-01-01", cohort.OperationTypeNotUnderstood, 0, 0, 0, 0},
		{"not understood, another joint", "p,hip,right,X7,THR,2021-01-01", cohort.OperationTypeNotUnderstood, 0, 0, 0, 0},
		{"not understood, no patient", ",hip,left,X7,THR,2021-01-01", cohort.OperationTypeNotUnderstood, 0, 0, 0, 0},
		{"elective says nothing", "q,hip,left,elective,THR,2021-01-01", none, 0, 0, 0, 0},
		{"primary, though the procedure says revision", "p,hip,left,P,conversion of hemi to THR,2021-01-01", cohort.NotPrimary, 0, 0, 0, 0},
		{"of no joint in the table", "q,hip,left,R,THR,2021-01-01", cohort.RevisionWithoutPrimary, 0, 0, 0, 1},
		{"no side", "p,hip,,R,THR,2021-01-01", cohort.RevisionUnlinkable, 0, 0, 0, 1},
		{"a washout", "p,hip,left,washout,,2021-01-01", cohort.NotPrimary, 0, 0, 0, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31"), Columns: map[string]string{"Prim/Rev": "operation_type"}}, table(headings, first, test.row))
			reason, of, said := none, 0, ""
			for _, p := range c.SetAside() {
				reason, of, said = p.Reason, p.Of, c.Describe(p)
			}
			if reason != test.reason || of != test.of {
				t.Errorf("%v of row %d, want %v of row %d", reason, of, test.reason, test.of)
			}
			if reason == cohort.RevisionUnlinkable && said != "a revision whose side is missing" {
				t.Errorf("%s", said)
			}
			if n := revisedIn(t, c); n != test.revised {
				t.Errorf("%d revised, want %d", n, test.revised)
			}
			if c.Account().PossibleRevisions != test.possible || c.Account().UnjoinedJoints != test.unjoined {
				t.Errorf("%+v", c.Account())
			}
		})
	}
}

func revisedIn(t *testing.T, c *cohort.Cohort) int64 {
	var n int64
	for _, counts := range mustTally(t, c, nil, cohort.Endpoint{}).Set.All() {
		n += counts.Total(cohort.CauseRevision)
	}
	return n
}

// Where no column tells the types apart, a procedure that says revision is one
// beside its primary, and else no primary.
func TestRevisionByProcedure(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31")}, table("patient,joint,side,procedure,operation_date,revision_date",
		"p,hip,left,THR,2020-01-01,", "p,hip,left,revision THR,2021-01-01,2022-01-01", "q,hip,left,revision THR,2021-01-01,", ",hip,left,revision THR,2021-01-01,"))
	want := []cohort.Problem{
		{Row: 3, Column: "procedure", Reason: cohort.RevisionJoined, Of: 2}, // on the day of that operation, not of the next
		{Row: 4, Column: "procedure", Reason: cohort.NotPrimary},
		{Row: 5, Column: "procedure", Reason: cohort.NotPrimary},
	}
	if d := cmp.Diff(want, c.SetAside()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if d := cmp.Diff([]outcome{{366, cohort.CauseRevision}}, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if d := cmp.Diff([]cohort.ReasonCount{{cohort.NotPrimary, 2}}, c.Account().Unjoined); d != "" || c.Account().UnjoinedJoints != 2 {
		t.Errorf("%d joints (-want +got):\n%s", c.Account().UnjoinedJoints, d)
	}
}

// Revisions that belong to no joint in use: one joint counts once, and not if it
// is revised already.
func TestUnjoined(t *testing.T) {
	revs := source("revisions.csv", revisionHeadings, "p,hip,left,2021-01-01,", "q,hip,left,2021-01-01,", "q,hip,left,2022-01-01,", "r,hip,,2021-01-01,", "p,hip,left,2019-01-01,", "s,hip,left,2019-01-01,", "Total,,,,", "Total,,,14,", "Total:,,,2023-01-01,")
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31"), Revisions: []cohort.Source{revs}}, table(primaryHeadings, "p,hip,left,2020-01-01,,,", "s,hip,left,2020-01-01,,,"))
	want := []cohort.ReasonCount{{cohort.RevisionWithoutPrimary, 2}, {cohort.RevisionBeforePrimary, 2}, {cohort.RevisionUnlinkable, 1}}
	if d := cmp.Diff(want, c.Account().Unjoined); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if n := c.Account().UnjoinedJoints; n != 3 { // q's, r's and s's
		t.Errorf("%d joints", n)
	}
	listed := []cohort.Problem{
		{File: 1, Row: 2, Column: "revision_date", Reason: cohort.RevisionJoined, Of: 2},
		{File: 1, Row: 3, Column: "revision_date", Reason: cohort.RevisionWithoutPrimary},
		{File: 1, Row: 4, Column: "revision_date", Reason: cohort.RevisionWithoutPrimary},
		{File: 1, Row: 5, Column: "side", Reason: cohort.RevisionUnlinkable, Missing: "side"},
		{File: 1, Row: 6, Column: "revision_date", Reason: cohort.RevisionBeforePrimary, Of: 2},
		{File: 1, Row: 7, Column: "revision_date", Reason: cohort.RevisionBeforePrimary, Of: 3},
		{File: 1, Row: 8, Reason: cohort.NotAJoint},
		{File: 1, Row: 9, Reason: cohort.NotAJoint},
		{File: 1, Row: 10, Reason: cohort.NotAJoint},
	}
	if d := cmp.Diff(listed, c.Linked()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A list of deaths may name patients as totals are named.
func TestDeathsOfLabels(t *testing.T) {
	c := mustRead(t, cohort.Options{ClosingDate: dayPointer("2024-01-31"), DeathLists: []cohort.Source{source("deaths.csv", "patient,death_date", "Max,2021-01-01", "Page 2,2021-01-01", "Total,2")}},
		table(primaryHeadings, "Max,hip,left,2020-01-01,,,", "page2,hip,left,2020-01-01,,,"))
	if l := c.DeathList(); l.Joined != 2 || c.Deaths().Used != 2 {
		t.Errorf("%+v, %+v", l, c.Deaths())
	}
}

// A death on any row of a patient holds for all of the patient's joints.
func TestDeathsOfOtherRows(t *testing.T) {
	const headings = "patient,joint,side,operation_type,operation_date,death_date,dead,last_seen_date"
	for _, test := range []struct {
		name  string
		rows  []string
		revs  []string // patient,joint,side,revision_date,death_date
		want  []outcome
		warn  []cohort.Problem
		aside []cohort.Problem
	}{
		{"the other joint", []string{"p,hip,left,P,2020-01-01,2021-01-01,,", "p,hip,right,P,2020-01-01,,,"}, nil,
			[]outcome{{366, cohort.CauseDeath}, {366, cohort.CauseDeath}}, []cohort.Problem{{Row: 3, Column: "death_date", Reason: cohort.DeathTaken, At: 2}}, nil},
		{"whichever comes first", []string{"P 1,hip,left,P,2020-01-01,,,", "p1,hip,right,P,2020-01-01,2021-01-01,,"}, nil,
			[]outcome{{366, cohort.CauseDeath}, {366, cohort.CauseDeath}}, []cohort.Problem{{Row: 2, Column: "death_date", Reason: cohort.DeathTaken, At: 3}}, nil},
		{"another patient", []string{"p,hip,left,P,2020-01-01,2021-01-01,,", "q,hip,right,P,2020-01-01,,,"}, nil,
			[]outcome{{366, cohort.CauseDeath}, {1491, 0}}, nil, nil},
		{"no patient", []string{",hip,left,P,2020-01-01,2021-01-01,,", ",hip,right,P,2020-01-01,,,"}, nil,
			[]outcome{{366, cohort.CauseDeath}, {1491, 0}}, nil, nil},
		{"the row of a revision", []string{"p,hip,left,P,2020-01-01,,,", "p,hip,left,R,2020-07-01,2021-01-01,,", "p,hip,right,P,2020-01-01,,,"}, nil,
			[]outcome{{182, cohort.CauseRevision}, {366, cohort.CauseDeath}},
			[]cohort.Problem{{Row: 2, Column: "death_date", Reason: cohort.DeathTaken, At: 3}, {Row: 4, Column: "death_date", Reason: cohort.DeathTaken, At: 3}},
			[]cohort.Problem{{Row: 3, Column: "operation_type", Reason: cohort.RevisionJoined, Of: 2}}},
		{"a table of revisions", []string{"p,hip,left,P,2020-01-01,,,", "p,hip,right,P,2020-01-01,,,"}, []string{"p,hip,left,2020-07-01,2021-01-01"},
			[]outcome{{182, cohort.CauseRevision}, {366, cohort.CauseDeath}},
			[]cohort.Problem{{Row: 2, Column: "death_date", Reason: cohort.DeathTaken, AtFile: 1, At: 2}, {Row: 3, Column: "death_date", Reason: cohort.DeathTaken, AtFile: 1, At: 2}}, nil},
		{"a table of revisions, one joint", []string{"p,hip,left,P,2020-01-01,,,"}, []string{"p,hip,right,2020-07-01,2021-01-01"},
			[]outcome{{366, cohort.CauseDeath}}, []cohort.Problem{{Row: 2, Column: "death_date", Reason: cohort.DeathTaken, AtFile: 1, At: 2}}, nil},
		{"two days: the earlier", []string{"p,hip,left,P,2020-01-01,2022-01-01,,", "p,hip,right,P,2020-01-01,2021-01-01,,"}, nil,
			[]outcome{{366, cohort.CauseDeath}, {366, cohort.CauseDeath}}, []cohort.Problem{{Row: 2, Column: "death_date", Reason: cohort.DeathRowsDiffer, At: 3}}, nil},
		{"before its own operation: in doubt, and kept to itself", []string{"p,hip,left,P,2020-01-01,2019-01-01,,", "p,hip,right,P,2018-01-01,,,"}, nil,
			[]outcome{{2221, 0}}, nil, []cohort.Problem{{Row: 2, Column: "death_date", Reason: cohort.DeathBeforeOperation}}},
		{"in the future: kept to itself", []string{"p,hip,left,P,2020-01-01,2034-01-01,,", "p,hip,right,P,2020-01-01,,,"}, nil,
			[]outcome{{1491, 0}}, nil, []cohort.Problem{{Row: 2, Column: "death_date", Reason: cohort.DateInFuture}}},
		{"operated on after the death", []string{"p,hip,left,P,2020-01-01,2021-01-01,,", "p,hip,right,P,2022-01-01,,,"}, nil,
			[]outcome{{366, cohort.CauseDeath}}, nil, []cohort.Problem{{Row: 3, Column: "death_date", Reason: cohort.DeathBeforeOperation, At: 2}}},
		{"impossible, and the day elsewhere", []string{"p,hip,left,P,2020-01-01,2021-01-01,,", "p,hip,right,P,2020-01-01,2021-02-30,,"}, nil,
			[]outcome{{366, cohort.CauseDeath}, {366, cohort.CauseDeath}}, []cohort.Problem{{Row: 3, Column: "death_date", Reason: cohort.DeathTaken, At: 2}}, nil},
		{"dead without a day", []string{"p,hip,left,P,2020-01-01,,yes,2021-01-01", "p,hip,right,P,2020-01-01,,,2022-01-01"}, nil,
			[]outcome{{366, 0}, {731, 0}},
			[]cohort.Problem{{Row: 2, Column: "dead", Reason: cohort.DeadWithoutDateCensored}, {Row: 3, Column: "dead", Reason: cohort.DeadWithoutDateCensored, At: 2}, {Row: 3, Column: "death_date", Reason: cohort.DeathTaken, At: 2}}, nil},
		{"dead without a day, and the day elsewhere", []string{"p,hip,left,P,2020-01-01,,yes,", "p,hip,right,P,2020-01-01,2021-01-01,,"}, nil,
			[]outcome{{366, cohort.CauseDeath}, {366, cohort.CauseDeath}}, []cohort.Problem{{Row: 2, Column: "death_date", Reason: cohort.DeathTaken, At: 3}}, nil},
	} {
		t.Run(test.name, func(t *testing.T) {
			o := cohort.Options{ClosingDate: dayPointer("2024-01-31"), LostAfter: 9999}
			if test.revs != nil {
				o.Revisions = []cohort.Source{source("revisions.csv", append([]string{"patient,joint,side,revision_date,death_date"}, test.revs...)...)}
			}
			c := mustRead(t, o, table(append([]string{headings}, test.rows...)...))
			if d := cmp.Diff(test.want, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			if d := cmp.Diff(test.warn, c.Warnings()); d != "" {
				t.Errorf("warned (-want +got):\n%s", d)
			}
			if d := cmp.Diff(test.aside, c.SetAside()); d != "" {
				t.Errorf("set aside (-want +got):\n%s", d)
			}
		})
	}
}
