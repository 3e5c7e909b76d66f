package cohort

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/survival/tally"
)

// linkReasons are the reasons that only joined tables give.
var linkReasons = map[Reason]bool{
	RevisionJoined: true, RevisionLater: true, RevisionWithoutPrimary: true, RevisionBeforePrimary: true,
	RevisionUndated: true, RevisionUnlinkable: true, RevisionDatesDiffer: true, DeathDatesDiffer: true,
}

const (
	primaryHeadings   = "patient,joint,side,operation_date,revision_date,revised,death_date"
	revisionHeadings  = "patient,joint,side,revision_date,revision_reason"
	operationHeadings = "patient,joint,side,operation_type,operation_date,revision_reason"
)

// source is a table in memory.
func source(name string, lines ...string) Source {
	return Source{Name: name, Reader: strings.NewReader(table(lines...))}
}

// A revision is joined to the primary of the same patient, joint and side,
// whichever table it stands in. Every line of revs is one revision; want is
// what becomes of each, and of is the row of its primary.
var joinCases = []struct {
	name      string
	primaries []string // under primaryHeadings
	revs      []string // patient,joint,side,day,reason
	want      []Revision
	revised   int64
	aside     []Reason // of the primaries
	warned    []Reason
}{
	{"joined", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,L,2021-01-01,infection"},
		[]Revision{{Outcome: RevisionJoined, Of: 2}}, 1, nil, nil},
	{"on the day of the primary", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2020-01-01,"},
		[]Revision{{Outcome: RevisionJoined, Of: 2}}, 1, nil, nil},
	{"the first counts, whatever the order", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2022-01-01,", "p,hip,left,2021-01-01,"},
		[]Revision{{Outcome: RevisionLater, Of: 2}, {Outcome: RevisionJoined, Of: 2}}, 1, nil, nil},
	{"another side, joint or patient", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,right,2021-01-01,", "p,knee,left,2021-01-01,", "q,hip,left,2021-01-01,"},
		[]Revision{{Outcome: RevisionWithoutPrimary}, {Outcome: RevisionWithoutPrimary}, {Outcome: RevisionWithoutPrimary}}, 0, nil, nil},
	{"before its primary", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2019-12-31,"},
		[]Revision{{Outcome: RevisionBeforePrimary, Of: 2}}, 0, nil, nil},
	{"before, and after", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2019-12-31,", "p,hip,left,2021-01-01,"},
		[]Revision{{Outcome: RevisionBeforePrimary, Of: 2}, {Outcome: RevisionJoined, Of: 2}}, 1, nil, nil},
	{"undated: revised on a day nobody knows", []string{"p,hip,left,2020-01-01,,,", "r,hip,left,2020-01-01,,,"}, []string{"p,hip,left,,"},
		[]Revision{{Outcome: RevisionUndated, Of: 2}}, 0, []Reason{RevisedWithoutDate}, nil},
	{"impossible day", []string{"p,hip,left,2020-01-01,,,", "r,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2021-02-30,"},
		[]Revision{{Outcome: RevisionUndated, Of: 2}}, 0, []Reason{RevisedWithoutDate}, nil},
	{"side missing", []string{"p,hip,left,2020-01-01,,,"}, []string{"p,hip,,2021-01-01,", "p,hip,both,2021-01-01,"},
		[]Revision{{Outcome: RevisionUnlinkable}, {Outcome: RevisionUnlinkable}}, 0, nil, nil},
	{"the same day in both", []string{"p,hip,left,2020-01-01,2021-01-01,yes,"}, []string{"p,hip,left,2021-01-01,"},
		[]Revision{{Outcome: RevisionJoined, Of: 2}}, 1, nil, nil},
	{"earlier than the primary's own", []string{"p,hip,left,2020-01-01,2022-01-01,yes,"}, []string{"p,hip,left,2021-01-01,"},
		[]Revision{{Outcome: RevisionJoined, Of: 2}}, 1, nil, []Reason{RevisionDatesDiffer}},
	{"later than the primary's own", []string{"p,hip,left,2020-01-01,2021-01-01,yes,"}, []string{"p,hip,left,2022-01-01,"},
		[]Revision{{Outcome: RevisionLater, Of: 2}}, 1, nil, []Reason{RevisionDatesDiffer}},
	{"the date that revised=yes lacked", []string{"p,hip,left,2020-01-01,,yes,"}, []string{"p,hip,left,2021-01-01,"},
		[]Revision{{Outcome: RevisionJoined, Of: 2}}, 1, nil, nil},
	{"revised=no, and a revision", []string{"p,hip,left,2020-01-01,,no,"}, []string{"p,hip,left,2021-01-01,"},
		[]Revision{{Outcome: RevisionJoined, Of: 2}}, 1, nil, []Reason{RevisedNoWithDate}},
	{"the earliest primary of the joint", []string{"p,hip,left,2021-06-01,,,", "p,hip,left,2020-01-01,,,"}, []string{"p,hip,left,2022-01-01,"},
		[]Revision{{Outcome: RevisionJoined, Of: 3}}, 1, []Reason{PossibleRevision}, nil},
}

// A table of revisions beside the primaries.
func TestJoinRevisions(t *testing.T) {
	reached := make(map[Reason]bool)
	for _, test := range joinCases {
		t.Run(test.name, func(t *testing.T) {
			c, err := tryRead(t, Options{ClosingDate: dayPointer("2024-01-31"),
				Revisions: []Source{source("revisions.csv", append([]string{revisionHeadings}, test.revs...)...)}},
				table(append([]string{primaryHeadings}, test.primaries...)...))
			if err != nil {
				t.Fatal(err)
			}
			want := make([]Revision, len(test.want))
			for i, r := range test.want {
				r.File, r.Row = 1, i+2
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
	reached[DeathDatesDiffer] = true // by TestJoinDeaths
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
			c := mustRead(t, Options{ClosingDate: dayPointer("2024-01-31")}, table(lines...))
			want := make([]Revision, len(test.want))
			aside := test.aside
			for i, r := range test.want {
				r.Row = 2 + len(test.primaries) + i
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
func check(t *testing.T, c *Cohort, revised int64, aside, warned []Reason) {
	t.Helper()
	g, err := c.Tally(nil, Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	var got int64
	for _, counts := range g.Set.All() {
		got += counts.Total(CauseRevision)
	}
	if got != revised {
		t.Errorf("%d revised, want %d", got, revised)
	}
	reasonsOf := func(problems []Problem) map[Reason]int {
		m := make(map[Reason]int)
		for _, p := range problems {
			m[p.Reason]++
		}
		return m
	}
	count := func(list []Reason) map[Reason]int {
		m := make(map[Reason]int)
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
	c := mustRead(t, Options{ClosingDate: dayPointer("2024-01-31")}, table(operationHeadings,
		"p,hip,left,primary,2020-01-01,", "p,hip,left,revision,2021-01-01,infection", "q,hip,left,primary,2020-01-01,", "q,hip,left,revision,2021-01-01,pain"))
	g, err := c.Tally(nil, Endpoint{Reasons: []string{"infection"}})
	if err != nil {
		t.Fatal(err)
	}
	for _, counts := range g.Set.All() {
		if a, b := counts.Total(CauseRevision), counts.Total(CauseOther); a != 1 || b != 1 {
			t.Errorf("%d for infection and %d for another reason, want 1 and 1", a, b)
		}
	}
}

// A list of deaths gives every joint of a patient the day of death; follow-up
// ends where deaths are no longer known.
func TestJoinDeaths(t *testing.T) {
	deaths := source("deaths.csv", "patient,date of death", "p,2022-01-01", "q,2022-01-01", "nobody,2022-01-01", ",2022-01-01", "p,2022-02-01", "s,2022-02-30")
	complete := day("2023-12-31")
	c := mustRead(t, Options{ClosingDate: dayPointer("2024-01-31"), DeathLists: []Source{deaths}, DeathsCompleteTo: &complete},
		table("patient,joint,side,operation_date,revision_date,death_date", "p,hip,left,2020-01-01,,", "p,hip,right,2020-01-01,2021-01-01,", "q,hip,left,2020-01-01,,2021-12-31", "r,hip,left,2020-01-01,,"))
	want := DeathList{Patients: 3, Joined: 2, Unusable: 2, Contradicting: 1, CompleteTo: &complete}
	if d := cmp.Diff(want, c.DeathList); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if c.Closing.Day != complete || !c.Closing.DeathsEnd || !c.Deaths.Recorded {
		t.Errorf("%+v, %+v", c.Closing, c.Deaths)
	}
	check(t, c, 1, nil, []Reason{DeathDatesDiffer})
	g, _ := c.Tally(nil, Endpoint{})
	for _, counts := range g.Set.All() {
		// p's left hip and q's died on the list's day, 731 days on; r was followed to the end of the deaths, 1,460 days.
		for _, want := range []struct {
			day   int32
			cause int
			n     int64
		}{{731, CauseDeath, 2}, {366, CauseRevision, 1}, {1460, 0, 1}} {
			if got := counts.On(want.day, want.cause); got != want.n {
				t.Errorf("day %d, cause %d: %d, want %d", want.day, want.cause, got, want.n)
			}
		}
	}
}

// Lost to follow-up: seen last longer before the closing date than stated,
// neither revised nor dead. In the worst case each was revised on that day.
func TestLost(t *testing.T) {
	c := mustRead(t, Options{ClosingDate: dayPointer("2024-01-01"), LostAfter: 365}, table("operation_date,revision_date,death_date,dead,last_seen_date",
		"2020-01-01,,,,2023-01-01",           // 365 days: not yet
		"2020-01-01,,,,2022-12-31",           // 366: lost
		"2020-01-01,,,,",                     // followed to the closing date
		"2020-01-01,2021-01-01,,,2021-01-01", // revised
		"2020-01-01,,2021-01-01,,2021-01-01", // dead
		"2020-01-01,,,yes,2021-01-01",        // dead, on a day that is not known
	))
	if c.Account.Lost != 1 {
		t.Errorf("%d lost, want 1", c.Account.Lost)
	}
	revised := func(e Endpoint) int64 {
		g, err := c.Tally(nil, e)
		if err != nil {
			t.Fatal(err)
		}
		var n int64
		g.Set.All()(func(_ tally.Key, counts *tally.Counts) bool { n += counts.Total(CauseRevision); return true })
		return n
	}
	if a, b := revised(Endpoint{}), revised(Endpoint{LostRevised: true}); a != 1 || b != 2 {
		t.Errorf("%d revised and %d in the worst case, want 1 and 2", a, b)
	}
}

// What a joined table must have, and what it must not change.
func TestJoinedTablesColumns(t *testing.T) {
	for _, test := range []struct {
		options Options
		want    string
	}{
		{Options{Revisions: []Source{source("r.csv", "patient,revision_date", "p,2021-01-01")}}, "no column joint"},
		{Options{Revisions: []Source{source("r.csv", "joint,side,revision_date", "hip,left,2021-01-01")}}, "no column patient"},
		{Options{DeathLists: []Source{source("d.csv", "patient", "p")}}, "no column death_date"},
	} {
		_, err := tryRead(t, test.options, table("patient,joint,side,operation_date", "p,hip,left,2020-01-01"))
		if test.options.DeathLists != nil {
			_, err = tryRead(t, test.options, table("patient,joint,side,operation_date,revision_date", "p,hip,left,2020-01-01,"))
		}
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%v, want %s", err, test.want)
		}
	}
}
