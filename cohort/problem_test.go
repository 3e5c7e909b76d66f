package cohort_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

const everyHeading = "patient,operation_date,joint,side,procedure,operation_type,bearing,head,liner,fixation,cup_fixation,stem_fixation," +
	"age,birth_date,birth_year,sex,bmi,initials,revision_date,revised,revision_reason,death_date,dead,last_seen_date"

// cells are a row under everyHeading with the named cells filled in. The rest
// is a plain left hip of 2020-01-01.
func cells(filled map[string]string) string {
	headings := strings.Split(everyHeading, ",")
	row := make([]string, len(headings))
	for name, value := range map[string]string{"operation_date": "2020-01-01", "joint": "hip", "side": "left", "procedure": "THR"} {
		row[slices.Index(headings, name)] = value
	}
	for name, value := range filled {
		row[slices.Index(headings, name)] = value
	}
	return strings.Join(row, ",")
}

type row = map[string]string

// reasonCases gives for each reason rows that have it and no other; the last
// is the row meant, and column the one that is named.
var reasonCases = map[cohort.Reason][]struct {
	rows   []row
	column string
}{
	cohort.RowUnreadable:           {}, // see the unterminated quote in TestEveryReason
	cohort.NotAJoint:               {{[]row{{"operation_date": "", "joint": "", "side": "", "procedure": "Total"}}, "operation_date"}},
	cohort.OperationDateMissing:    {{[]row{{"operation_date": ""}}, "operation_date"}, {[]row{{"operation_date": "not known"}}, "operation_date"}},
	cohort.OperationDateImpossible: {{[]row{{"operation_date": "2020-02-30"}}, "operation_date"}, {[]row{{"operation_date": "spring"}}, "operation_date"}, {[]row{{"operation_date": "2020"}}, "operation_date"}},
	cohort.NotPrimary: {{[]row{{"procedure": "revision THR", "operation_type": "primary"}}, "procedure"}, {[]row{{"procedure": "washout"}}, "procedure"},
		{[]row{{"operation_type": "Reoperation"}}, "operation_type"}},
	cohort.OperationTypeNotUnderstood: {{[]row{{"operation_type": "X7"}}, "operation_type"}, {[]row{{"operation_type": "conversion"}}, "operation_type"}},
	cohort.BothSides:                  {{[]row{{"side": "B"}}, "side"}, {[]row{{"side": "Bilat"}}, "side"}, {[]row{{"side": "left and right"}}, "side"}, {[]row{{"side": "", "procedure": "bilateral TKR", "joint": "knee"}}, "side"}},
	cohort.DateInFuture:               {{[]row{{"operation_date": "2033-01-01"}}, "operation_date"}, {[]row{{"revision_date": "2033-01-01"}}, "revision_date"}, {[]row{{"death_date": "2033-01-01"}}, "death_date"}},
	cohort.OperationAfterClosing:      {{[]row{{"operation_date": "2024-02-01"}}, "operation_date"}},
	cohort.RevisionDateImpossible:     {{[]row{{"revision_date": "2020-02-30"}}, "revision_date"}, {[]row{{"revision_date": "later"}}, "revision_date"}},
	cohort.OperationYearShort:         {{[]row{{"operation_date": "3-Apr-19"}}, "operation_date"}},
	cohort.RevisionYearShort:          {{[]row{{"revision_date": "3-Apr-21"}}, "revision_date"}},
	cohort.RevisedWithoutDate:         {{[]row{{"revised": "yes"}}, "revised"}, {[]row{{"revised": "Y", "revision_date": "n/a"}}, "revised"}},
	cohort.RevisionBeforeOperation:    {{[]row{{"revision_date": "2019-12-31"}}, "revision_date"}},
	cohort.DeathBeforeOperation:       {{[]row{{"death_date": "2019-12-31"}}, "death_date"}},
	cohort.DeadWithoutDate: {{[]row{{"dead": "yes"}}, "dead"}, {[]row{{"dead": "yes", "last_seen_date": "2019-12-31"}}, "dead"},
		{[]row{{"death_date": "2020-02-30"}}, "death_date"}},
	cohort.AgeOutOfRange: {{[]row{{"age": "9"}}, "age"}, {[]row{{"age": "111"}}, "age"}, {[]row{{"age": "1967"}}, "age"},
		{[]row{{"birth_date": "2010-01-02"}}, "birth_date"}, {[]row{{"birth_year": "1909"}}, "birth_year"},
		{[]row{{"birth_date": "2020-06-01"}}, "birth_date"}, {[]row{{"birth_year": "2021"}}, "birth_year"}, {[]row{{"birth_year": "2022"}}, "birth_year"}},
	cohort.PossibleRevision: {{[]row{{"patient": "p"}, {"patient": "p", "operation_date": "2020-01-02"}}, "operation_date"}},
	cohort.DuplicateRow:     {{[]row{{"patient": "p"}, {"patient": "p"}}, "operation_date"}},

	cohort.SideMissing:                 {{[]row{{"side": ""}}, "side"}, {[]row{{"side": "?"}}, "side"}},
	cohort.RevisionOnTheDay:            {{[]row{{"revision_date": "2020-01-01"}}, "revision_date"}},
	cohort.RevisionAfterDeath:          {{[]row{{"revision_date": "2021-01-02", "death_date": "2021-01-01"}}, "death_date"}},
	cohort.DeadWithoutDateCensored:     {{[]row{{"dead": "yes", "last_seen_date": "2021-01-01"}}, "dead"}, {[]row{{"death_date": "2020-02-30", "last_seen_date": "2021-01-01"}}, "death_date"}},
	cohort.LastSeenBeforeOperation:     {{[]row{{"last_seen_date": "2019-12-31"}}, "last_seen_date"}},
	cohort.LastSeenUnusable:            {{[]row{{"last_seen_date": "2020-02-30"}}, "last_seen_date"}, {[]row{{"last_seen_date": "2033-01-01"}}, "last_seen_date"}},
	cohort.RevisedNoWithDate:           {{[]row{{"revised": "no", "revision_date": "2021-01-01"}}, "revised"}},
	cohort.AliveWithDeathDate:          {{[]row{{"dead": "alive", "death_date": "2021-01-01"}}, "dead"}},
	cohort.YesNoUnreadable:             {{[]row{{"revised": "maybe"}}, "revised"}, {[]row{{"dead": "2"}}, "dead"}},
	cohort.AgeUnreadable:               {{[]row{{"age": "old"}}, "age"}, {[]row{{"birth_date": "1950-02-30"}}, "birth_date"}, {[]row{{"birth_year": "fifties"}}, "birth_year"}},
	cohort.AgeDisagrees:                {{[]row{{"age": "72", "birth_date": "1950-01-01"}}, "age"}, {[]row{{"age": "68", "birth_date": "1950-01-01"}}, "age"}},
	cohort.BearingContradictsParts:     {{[]row{{"bearing": "MoM", "head": "ceramic", "liner": "XLPE"}}, "bearing"}},
	cohort.FixationContradictsParts:    {{[]row{{"fixation": "cemented", "cup_fixation": "porous", "stem_fixation": "cemented"}}, "fixation"}},
	cohort.JointContradictsProcedure:   {{[]row{{"joint": "knee", "procedure": "THR"}}, "joint"}},
	cohort.NotABearing:                 {{[]row{{"bearing": "bipolar"}}, "bearing"}},
	cohort.ResurfacingWithPolyethylene: {{[]row{{"procedure": "HRA", "bearing": "MoP"}}, "bearing"}},
	cohort.CellsBeyondHeadings:         {{[]row{{"last_seen_date": "2023-01-01,more"}}, ""}},
	cohort.ReasonWithoutRevision:       {{[]row{{"revision_reason": "infection"}}, "revision_reason"}, {[]row{{"revision_reason": "infection", "revised": "no"}}, "revision_reason"}},
	cohort.DeathTaken:                  {{[]row{{"patient": "p", "side": "right", "death_date": "2021-01-01"}, {"patient": "p"}}, "death_date"}},
	cohort.DeathRowsDiffer:             {{[]row{{"patient": "p", "side": "right", "death_date": "2021-01-01"}, {"patient": "p", "death_date": "2021-01-02"}}, "death_date"}},
	cohort.LostToFollowUp:              {{[]row{{"last_seen_date": "2021-01-01"}}, "last_seen_date"}},
	cohort.TwoIdentifiers: {{[]row{{"patient": "p", "birth_date": "1950-01-01", "sex": "F", "initials": "A.B."}, {"patient": "q", "birth_date": "1950-01-01", "sex": "female", "initials": "ab"}}, "patient"},
		{[]row{{"patient": "p", "birth_date": "1950-01-01", "sex": "F"}, {"patient": "q", "birth_date": "1950-01-01", "sex": "F"}}, "patient"}},
	cohort.IdentifierZeros:   {{[]row{{"patient": "007"}, {"patient": "7", "side": "right"}}, "patient"}},
	cohort.BMIOutOfRange:     {{[]row{{"bmi": "9.9"}}, "bmi"}, {[]row{{"bmi": "\"274,1\""}}, "bmi"}},
	cohort.CellOverManyLines: {{[]row{{"bearing": "\"MoP" + strings.Repeat("\n", 20) + "\""}}, ""}},
}

// Every reason there is: reached by a row, with that row and column, and set
// aside or used as it says.
func TestEveryReason(t *testing.T) {
	o := cohort.Options{ClosingDate: dayPointer("2024-01-31"), Keep: []string{"bmi"}}
	for reason := cohort.RowUnreadable; reason < cohort.EndOfReasons; reason++ {
		if linkReasons[reason] || reason == cohort.IdentifierOfMany || reason == cohort.IdentifierZerosJoined || reason == cohort.CellsMissing { // see TestJoinRevisions, TestJoinDeaths, TestIdentifierOfMany, TestLeadingZeros and TestCutRows
			continue
		}
		cases, ok := reasonCases[reason]
		if !ok || len(cases) == 0 && reason != cohort.RowUnreadable {
			t.Errorf("no case reaches %v", reason)
			continue
		}
		if reason == cohort.SideMissing-1 || reason == cohort.RowUnreadable || reason == cohort.SideMissing || reason == cohort.EndOfReasons-1 {
			if want := reason < cohort.SideMissing; reason.SetsAside() != want {
				t.Errorf("%v sets aside: %v", reason, !want)
			}
		}
		if reason == cohort.RowUnreadable {
			c := mustRead(t, o, table(everyHeading, cells(nil), `"`+cells(nil), cells(nil)))
			if d := cmp.Diff([]cohort.Problem{{Row: 3, Reason: cohort.RowUnreadable}}, c.SetAside()); d != "" {
				t.Errorf("%v (-want +got):\n%s", reason, d)
			}
			continue
		}
		for _, test := range cases {
			t.Run(reason.String(), func(t *testing.T) {
				lines := []string{everyHeading, cells(row{"side": "right"})} // one row to be used, whatever comes
				for _, r := range test.rows {
					lines = append(lines, cells(r))
				}
				c := mustRead(t, o, table(lines...))
				want := cohort.Problem{Row: len(lines), Column: test.column, Reason: reason}
				if reason == cohort.PossibleRevision || reason == cohort.DuplicateRow || reason == cohort.TwoIdentifiers || reason == cohort.IdentifierZeros {
					want.Of = len(lines) - 1
				}
				if reason == cohort.DeathTaken || reason == cohort.DeathRowsDiffer {
					want.At = len(lines) - 1
				}
				listed, empty := c.SetAside(), c.Warnings()
				if !reason.SetsAside() {
					listed, empty = empty, listed
				}
				if d := cmp.Diff([]cohort.Problem{want}, listed); d != "" {
					t.Errorf("(-want +got):\n%s", d)
				}
				if len(empty) != 0 {
					t.Errorf("other problems: %v", empty)
				}
				used := len(lines) - 1
				if reason.SetsAside() {
					used--
				}
				if c.Account().Used != used {
					t.Errorf("%d rows used, want %d", c.Account().Used, used)
				}
			})
		}
	}
}

// none is the reason of a row in which nothing is wrong.
const none cohort.Reason = 0

// Every reason has a text of its own, and a number that is none says so.
func TestReasonTexts(t *testing.T) {
	seen := make(map[string]bool)
	for r := cohort.RowUnreadable; r < cohort.EndOfReasons; r++ {
		s := r.String()
		if strings.HasPrefix(s, "Reason(") || seen[s] {
			t.Errorf("reason %d: %q", r, s)
		}
		seen[s] = true
	}
	if s := cohort.EndOfReasons.String(); !strings.HasPrefix(s, "Reason(") {
		t.Errorf("%q", s)
	}
}

// A row set aside is set aside for the first reason only, and is not warned of.
func TestOneReasonPerRow(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table(everyHeading, cells(nil),
		cells(row{"operation_date": "", "side": "B", "age": "2"}),
		cells(row{"revision_date": "2019-01-01", "age": "old", "side": "", "revised": "maybe"})))
	want := []cohort.Problem{
		{Row: 3, Column: "operation_date", Reason: cohort.OperationDateMissing},
		{Row: 4, Column: "revision_date", Reason: cohort.RevisionBeforeOperation},
	}
	if d := cmp.Diff(want, c.SetAside()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if len(c.Warnings()) != 0 {
		t.Errorf("warnings %v", c.Warnings())
	}
}

// Joints revised on a day nobody knows are counted apart: each makes every
// estimate too low.
func TestRevisedUndated(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table(everyHeading, cells(nil),
		cells(row{"revised": "yes"}),
		cells(row{"revised": "yes", "revision_date": "2020-02-30"}),
		cells(row{"revision_date": "2020-13-13"}),
		cells(row{"revised": "yes", "revision_date": "2021-01-01"}),
		cells(row{"revised": "no"})))
	if c.Account().RevisedUndated != 3 || c.Account().SetAside != 3 || c.Account().Used != 3 {
		t.Errorf("%+v", c.Account())
	}
}

func TestEveryRowSetAside(t *testing.T) {
	_, err := tryRead(t, cohort.Options{}, table("operation_date,revision_date,age", "2020-01-01,,2", "2020-01-02,,3", "2020-01-02,2019-01-01,40"))
	if !errors.Is(err, cohort.ErrNoUsableRow) {
		t.Fatalf("error %v", err)
	}
	var none *cohort.NoUsableRowError
	if !errors.As(err, &none) || none.Account.Read != 3 || none.Account.SetAside != 3 {
		t.Fatalf("error %+v", err)
	}
	wantError(t, err, "all 3 rows are set aside", "age outside 10 to 110: 2", "revision before operation: 1")
}

// Problems come in the order of the rows, across the parts a table is read in.
func TestProblemsInOrder(t *testing.T) {
	text := []string{everyHeading}
	for i := range 40_000 {
		r := row{}
		if i%3 == 0 {
			r["age"] = "2"
		}
		text = append(text, cells(r))
	}
	c := mustRead(t, cohort.Options{}, table(text...))
	aside := c.SetAside()
	if len(aside) != 13_334 {
		t.Fatalf("%d rows set aside", len(aside))
	}
	for i, p := range aside {
		if p.Row != 2+3*i {
			t.Fatalf("problem %d is of row %d", i, p.Row)
		}
	}
}
