package cohort_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// A row of a list that has no patient is joined by joint_id. By hand: operations
// on 1 January 2020, revisions and deaths 366 days later, closing date 1 January
// 2022 (731 days).
func TestJoinByJointID(t *testing.T) {
	const (
		joined     = cohort.RevisionJoined
		unlinkable = cohort.RevisionUnlinkable
	)
	for _, test := range []struct {
		name                         string
		primaries, revisions, deaths []string
		want                         []outcome
		became                       []cohort.Reason // of the revisions, in order
		note                         string
	}{
		{"with a patient, whom the list lacks", []string{"joint_id,patient,joint,side,operation_date", "7,p,hip,left,2020-01-01", "8,p,hip,right,2020-01-01"},
			[]string{"joint_id,revision_date", "8,2021-01-01"}, nil, []outcome{{366, cohort.CauseRevision}, {731, 0}}, []cohort.Reason{joined}, "1 of 1"},
		{"without any patient", []string{"case no,joint,side,operation_date", "7,hip,left,2020-01-01", "8,hip,right,2020-01-01"},
			[]string{"case no,revision_date", "8,2021-01-01"}, nil, []outcome{{366, cohort.CauseRevision}, {731, 0}}, []cohort.Reason{joined}, "1 of 1"},
		{"without any side", []string{"joint_id,patient,joint,operation_date", "7,p,hip,2020-01-01", "8,p,hip,2020-01-01", "9,p,hip,2020-01-01"},
			[]string{"joint_id,revision_date", "8,2021-01-01", "9,2021-01-02"}, nil, []outcome{{366, cohort.CauseRevision}, {367, cohort.CauseRevision}, {731, 0}}, []cohort.Reason{joined, joined}, "2 of 2"},
		{"some rows of the list have a patient", []string{"joint_id,patient,joint,side,operation_date", "7,p,hip,left,2020-01-01", "8,q,hip,right,2020-01-01"},
			[]string{"joint_id,patient,joint,side,revision_date", "7,p,hip,left,2021-01-01", "8,,,,2021-01-02"}, nil, []outcome{{366, cohort.CauseRevision}, {367, cohort.CauseRevision}}, []cohort.Reason{joined, joined}, "1 of 1"},
		{"the list numbers its rows for itself", []string{"joint_id,patient,joint,side,operation_date", "1,p,hip,left,2020-01-01", "2,q,hip,right,2020-01-01"},
			[]string{"joint_id,patient,joint,side,revision_date", "1,q,hip,right,2021-01-01", "2,,,,2021-01-02"}, nil, []outcome{{366, cohort.CauseRevision}, {731, 0}}, []cohort.Reason{joined, unlinkable}, ""},
		{"of another side", []string{"joint_id,patient,joint,side,operation_date", "7,p,hip,left,2020-01-01"},
			[]string{"joint_id,side,revision_date", "7,right,2021-01-01"}, nil, []outcome{{731, 0}}, []cohort.Reason{unlinkable}, ""},
		{"one number for two joints", []string{"joint_id,patient,joint,side,operation_date", "7,p,hip,left,2020-01-01", "7,q,hip,left,2020-01-01"},
			[]string{"joint_id,revision_date", "7,2021-01-01"}, nil, []outcome{{731, 0}, {731, 0}}, []cohort.Reason{unlinkable}, ""},
		{"a number that lost its zeros", []string{"joint_id,joint,side,operation_date", "0007,hip,left,2020-01-01"},
			[]string{"joint_id,revision_date", "7.0,2021-01-01"}, nil, []outcome{{366, cohort.CauseRevision}}, []cohort.Reason{joined}, "1 of 1"},
		{"a later revision of the same joint is by patient", []string{"joint_id,patient,joint,side,operation_date", "7,p,hip,left,2020-01-01"},
			[]string{"joint_id,patient,joint,side,revision_date", "7,,,,2021-01-01", ",p,hip,left,2021-06-01"}, nil, []outcome{{366, cohort.CauseRevision}}, []cohort.Reason{joined, cohort.RevisionLater}, "1 of 1"},
		{"a death, of both joints", []string{"joint_id,patient,joint,side,operation_date,revision_date", "7,p,hip,left,2020-01-01,", "8,p,hip,right,2020-01-01,"},
			nil, []string{"joint_id,death_date", "8,2021-01-01"}, []outcome{{366, cohort.CauseDeath}, {366, cohort.CauseDeath}}, nil, "1 of 1"},
		{"a death, without any patient", []string{"joint_id,joint,side,operation_date,revision_date", "7,hip,left,2020-01-01,", "8,hip,right,2020-01-01,"},
			nil, []string{"joint_id,death_date", "8,2021-01-01", "9,2021-01-01"}, []outcome{{366, cohort.CauseDeath}, {731, 0}}, nil, "1 of 2"},
	} {
		t.Run(test.name, func(t *testing.T) {
			o := cohort.Options{ClosingDate: dayPointer("2022-01-01")}
			if test.revisions != nil {
				o.Revisions = []cohort.Source{source("r.csv", test.revisions...)}
			}
			if test.deaths != nil {
				o.DeathLists = []cohort.Source{source("d.csv", test.deaths...)}
			}
			c := mustRead(t, o, table(test.primaries...))
			if d := cmp.Diff(test.want, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			var became []cohort.Reason
			for _, r := range c.Revisions() {
				became = append(became, r.Outcome)
			}
			if d := cmp.Diff(test.became, became); d != "" {
				t.Errorf("revisions (-want +got):\n%s", d)
			}
			if test.note == "" != (c.Files[1].Notes == nil) || !strings.Contains(strings.Join(c.Files[1].Notes, ""), test.note) {
				t.Errorf("notes %q, want %q", c.Files[1].Notes, test.note)
			}
		})
	}
}

// Many joints, in all parts of the store, joined by number alone come to what they
// come to when they are joined by patient.
func TestJoinByJointIDAsByPatient(t *testing.T) {
	var withPatient, without, byPatient, byName []string
	for i := range 3000 {
		op := fmt.Sprintf("20%02d-%02d-%02d", 10+i%10, 1+i%12, 1+i%28)
		withPatient = append(withPatient, fmt.Sprintf("c%d,p%d,hip,%s,%s", i, i/2, []string{"left", "right"}[i%2], op))
		without = append(without, fmt.Sprintf("c%d,,hip,%s,%s", i, []string{"left", "right"}[i%2], op))
		if i%7 == 0 {
			byPatient = append(byPatient, fmt.Sprintf("p%d,hip,%s,2021-02-03,infection", i/2, []string{"left", "right"}[i%2]))
			byName = append(byName, fmt.Sprintf("C %d,2021-02-03,infection", i))
		}
	}
	read := func(primaries []string, heading string, revisions []string) []outcome {
		o := cohort.Options{ClosingDate: dayPointer("2022-01-01"), Revisions: []cohort.Source{source("r.csv", append([]string{heading}, revisions...)...)}}
		c := mustRead(t, o, table(append([]string{"joint_id,patient,joint,side,operation_date"}, primaries...)...))
		if n := c.Account().Used; n != 3000 {
			t.Errorf("%d joints", n)
		}
		return allOutcomes(t, c, cohort.Endpoint{Reasons: []string{"infection"}})
	}
	want := read(withPatient, "patient,joint,side,revision_date,revision_reason", byPatient)
	if n := len(slices.DeleteFunc(slices.Clone(want), func(o outcome) bool { return o.Cause == 0 })); n != len(byPatient) {
		t.Fatalf("%d revised, want %d", n, len(byPatient))
	}
	for name, primaries := range map[string][]string{"with patients": withPatient, "without": without} {
		if d := cmp.Diff(want, read(primaries, "joint_id,revision_date,revision_reason", byName)); d != "" {
			t.Errorf("%s (-want +got):\n%s", name, d)
		}
	}
}

// Where the primaries are of one joint, patient and side say of which a revision
// is: its table needs no column of joints.
func TestRevisionsOfTheOnlyJoint(t *testing.T) {
	o := cohort.Options{ClosingDate: dayPointer("2022-01-01"), Revisions: []cohort.Source{source("r.csv", "patient,side,revision_date", "p,left,2021-01-01")}}
	c := mustRead(t, o, table("patient,joint,side,operation_date", "p,hip,left,2020-01-01", "p,hip,right,2020-01-01"))
	if d := cmp.Diff([]outcome{{366, cohort.CauseRevision}, {731, 0}}, allOutcomes(t, c, cohort.Endpoint{})); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}
