package cohort

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

const everyHeading = "patient,operation_date,joint,side,procedure,operation_type,bearing,head,liner,fixation,cup_fixation,stem_fixation," +
	"age,birth_date,birth_year,sex,initials,revision_date,revised,revision_reason,death_date,dead,last_seen_date"

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

type typedRow = map[string]string

// reasonCases gives for each reason rows that have it and no other; the last
// is the row meant, and column the one that is named.
var reasonCases = map[Reason][]struct {
	rows   []typedRow
	column string
}{
	RowUnreadable:           {}, // see the unterminated quote in TestEveryReason
	NotAJoint:               {{[]typedRow{{"operation_date": "", "joint": "", "side": "", "procedure": "Total"}}, "operation_date"}},
	OperationDateMissing:    {{[]typedRow{{"operation_date": ""}}, "operation_date"}, {[]typedRow{{"operation_date": "not known"}}, "operation_date"}},
	OperationDateImpossible: {{[]typedRow{{"operation_date": "2020-02-30"}}, "operation_date"}, {[]typedRow{{"operation_date": "spring"}}, "operation_date"}, {[]typedRow{{"operation_date": "2020"}}, "operation_date"}},
	NotPrimary: {{[]typedRow{{"procedure": "revision THR", "operation_type": "primary"}}, "procedure"}, {[]typedRow{{"procedure": "washout"}}, "procedure"},
		{[]typedRow{{"operation_type": "Reoperation"}}, "operation_type"}},
	OperationTypeNotUnderstood: {{[]typedRow{{"operation_type": "X7"}}, "operation_type"}, {[]typedRow{{"operation_type": "conversion"}}, "operation_type"}},
	BothSides:                  {{[]typedRow{{"side": "B"}}, "side"}, {[]typedRow{{"side": "Bilat"}}, "side"}, {[]typedRow{{"side": "left and right"}}, "side"}, {[]typedRow{{"side": "", "procedure": "bilateral TKR", "joint": "knee"}}, "side"}},
	DateInFuture:               {{[]typedRow{{"operation_date": "2033-01-01"}}, "operation_date"}, {[]typedRow{{"revision_date": "2033-01-01"}}, "revision_date"}, {[]typedRow{{"death_date": "2033-01-01"}}, "death_date"}},
	OperationAfterClosing:      {{[]typedRow{{"operation_date": "2024-02-01"}}, "operation_date"}},
	RevisionDateImpossible:     {{[]typedRow{{"revision_date": "2020-02-30"}}, "revision_date"}, {[]typedRow{{"revision_date": "later"}}, "revision_date"}},
	OperationYearShort:         {{[]typedRow{{"operation_date": "3-Apr-19"}}, "operation_date"}},
	RevisionYearShort:          {{[]typedRow{{"revision_date": "3-Apr-21"}}, "revision_date"}},
	RevisedWithoutDate:         {{[]typedRow{{"revised": "yes"}}, "revised"}, {[]typedRow{{"revised": "Y", "revision_date": "n/a"}}, "revised"}},
	RevisionBeforeOperation:    {{[]typedRow{{"revision_date": "2019-12-31"}}, "revision_date"}},
	DeathBeforeOperation:       {{[]typedRow{{"death_date": "2019-12-31"}}, "death_date"}},
	DeadWithoutDate: {{[]typedRow{{"dead": "yes"}}, "dead"}, {[]typedRow{{"dead": "yes", "last_seen_date": "2019-12-31"}}, "dead"},
		{[]typedRow{{"death_date": "2020-02-30"}}, "death_date"}},
	AgeOutOfRange: {{[]typedRow{{"age": "9"}}, "age"}, {[]typedRow{{"age": "111"}}, "age"}, {[]typedRow{{"age": "1967"}}, "age"},
		{[]typedRow{{"birth_date": "2010-01-02"}}, "birth_date"}, {[]typedRow{{"birth_year": "1909"}}, "birth_year"},
		{[]typedRow{{"birth_date": "2020-06-01"}}, "birth_date"}, {[]typedRow{{"birth_year": "2021"}}, "birth_year"}, {[]typedRow{{"birth_year": "2022"}}, "birth_year"}},
	PossibleRevision: {{[]typedRow{{"patient": "p"}, {"patient": "p", "operation_date": "2020-01-02"}}, "operation_date"}},
	DuplicateRow:     {{[]typedRow{{"patient": "p"}, {"patient": "p"}}, "operation_date"}},

	SideMissing:                 {{[]typedRow{{"side": ""}}, "side"}, {[]typedRow{{"side": "?"}}, "side"}},
	RevisionAfterDeath:          {{[]typedRow{{"revision_date": "2021-01-02", "death_date": "2021-01-01"}}, "death_date"}},
	DeadWithoutDateCensored:     {{[]typedRow{{"dead": "yes", "last_seen_date": "2021-01-01"}}, "dead"}, {[]typedRow{{"death_date": "2020-02-30", "last_seen_date": "2021-01-01"}}, "death_date"}},
	LastSeenBeforeOperation:     {{[]typedRow{{"last_seen_date": "2019-12-31"}}, "last_seen_date"}},
	LastSeenUnusable:            {{[]typedRow{{"last_seen_date": "2020-02-30"}}, "last_seen_date"}, {[]typedRow{{"last_seen_date": "2033-01-01"}}, "last_seen_date"}},
	RevisedNoWithDate:           {{[]typedRow{{"revised": "no", "revision_date": "2021-01-01"}}, "revised"}},
	AliveWithDeathDate:          {{[]typedRow{{"dead": "alive", "death_date": "2021-01-01"}}, "dead"}},
	YesNoUnreadable:             {{[]typedRow{{"revised": "maybe"}}, "revised"}, {[]typedRow{{"dead": "2"}}, "dead"}},
	AgeUnreadable:               {{[]typedRow{{"age": "old"}}, "age"}, {[]typedRow{{"birth_date": "1950-02-30"}}, "birth_date"}, {[]typedRow{{"birth_year": "fifties"}}, "birth_year"}},
	AgeDisagrees:                {{[]typedRow{{"age": "72", "birth_date": "1950-01-01"}}, "age"}, {[]typedRow{{"age": "68", "birth_date": "1950-01-01"}}, "age"}},
	BearingContradictsParts:     {{[]typedRow{{"bearing": "MoM", "head": "ceramic", "liner": "XLPE"}}, "bearing"}},
	FixationContradictsParts:    {{[]typedRow{{"fixation": "cemented", "cup_fixation": "porous", "stem_fixation": "cemented"}}, "fixation"}},
	JointContradictsProcedure:   {{[]typedRow{{"joint": "knee", "procedure": "THR"}}, "joint"}},
	NotABearing:                 {{[]typedRow{{"bearing": "bipolar"}}, "bearing"}},
	ResurfacingWithPolyethylene: {{[]typedRow{{"procedure": "HRA", "bearing": "MoP"}}, "bearing"}},
	CellsBeyondHeadings:         {{[]typedRow{{"last_seen_date": "2023-01-01,more"}}, ""}},
	ReasonWithoutRevision:       {{[]typedRow{{"revision_reason": "infection"}}, "revision_reason"}, {[]typedRow{{"revision_reason": "infection", "revised": "no"}}, "revision_reason"}},
	DeathTaken:                  {{[]typedRow{{"patient": "p", "side": "right", "death_date": "2021-01-01"}, {"patient": "p"}}, "death_date"}},
	DeathRowsDiffer:             {{[]typedRow{{"patient": "p", "side": "right", "death_date": "2021-01-01"}, {"patient": "p", "death_date": "2021-01-02"}}, "death_date"}},
	LostToFollowUp:              {{[]typedRow{{"last_seen_date": "2021-01-01"}}, "last_seen_date"}},
	TwoIdentifiers: {{[]typedRow{{"patient": "p", "birth_date": "1950-01-01", "sex": "F", "initials": "A.B."}, {"patient": "q", "birth_date": "1950-01-01", "sex": "female", "initials": "ab"}}, "patient"},
		{[]typedRow{{"patient": "p", "birth_date": "1950-01-01", "sex": "F"}, {"patient": "q", "birth_date": "1950-01-01", "sex": "F"}}, "patient"}},
	CellOverManyLines: {{[]typedRow{{"bearing": "\"MoP" + strings.Repeat("\n", 20) + "\""}}, ""}},
}

// Every reason there is: reached by a row, with that row and column, and set
// aside or used as it says.
func TestEveryReason(t *testing.T) {
	o := Options{ClosingDate: dayPointer("2024-01-31")}
	for reason := RowUnreadable; reason < reasons; reason++ {
		if linkReasons[reason] || reason == IdentifierOfMany { // see TestJoinRevisions, TestJoinDeaths and TestIdentifierOfMany
			continue
		}
		cases, ok := reasonCases[reason]
		if !ok || len(cases) == 0 && reason != RowUnreadable {
			t.Errorf("no case reaches %v", reason)
			continue
		}
		if reason == SideMissing-1 || reason == RowUnreadable || reason == SideMissing || reason == reasons-1 {
			if want := reason < SideMissing; reason.SetsAside() != want {
				t.Errorf("%v sets aside: %v", reason, !want)
			}
		}
		if reason == RowUnreadable {
			c := mustRead(t, o, table(everyHeading, cells(nil), `"`+cells(nil), cells(nil)))
			if d := cmp.Diff([]Problem{{Row: 3, Reason: RowUnreadable}}, c.SetAside()); d != "" {
				t.Errorf("%v (-want +got):\n%s", reason, d)
			}
			continue
		}
		for _, test := range cases {
			t.Run(reason.String(), func(t *testing.T) {
				lines := []string{everyHeading, cells(typedRow{"side": "right"})} // one row to be used, whatever comes
				for _, r := range test.rows {
					lines = append(lines, cells(r))
				}
				c := mustRead(t, o, table(lines...))
				want := Problem{Row: len(lines), Column: test.column, Reason: reason}
				if reason == PossibleRevision || reason == DuplicateRow || reason == TwoIdentifiers {
					want.Of = len(lines) - 1
				}
				if reason == DeathTaken || reason == DeathRowsDiffer {
					want.At = len(lines) - 1
				}
				listed, empty := c.SetAside(), c.Warnings()
				if !reason.SetsAside() {
					listed, empty = empty, listed
				}
				if d := cmp.Diff([]Problem{want}, listed); d != "" {
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

// Every reason has a text of its own, and a number that is none says so.
func TestReasonTexts(t *testing.T) {
	seen := make(map[string]bool)
	for r := RowUnreadable; r < reasons; r++ {
		s := r.String()
		if strings.HasPrefix(s, "Reason(") || seen[s] {
			t.Errorf("reason %d: %q", r, s)
		}
		seen[s] = true
	}
	if s := reasons.String(); !strings.HasPrefix(s, "Reason(") {
		t.Errorf("%q", s)
	}
}

// A row set aside is set aside for the first reason only, and is not warned of.
func TestOneReasonPerRow(t *testing.T) {
	c := mustRead(t, Options{}, table(everyHeading, cells(nil),
		cells(typedRow{"operation_date": "", "side": "B", "age": "2"}),
		cells(typedRow{"revision_date": "2019-01-01", "age": "old", "side": "", "revised": "maybe"})))
	want := []Problem{
		{Row: 3, Column: "operation_date", Reason: OperationDateMissing},
		{Row: 4, Column: "revision_date", Reason: RevisionBeforeOperation},
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
	c := mustRead(t, Options{}, table(everyHeading, cells(nil),
		cells(typedRow{"revised": "yes"}),
		cells(typedRow{"revised": "yes", "revision_date": "2020-02-30"}),
		cells(typedRow{"revision_date": "2020-13-13"}),
		cells(typedRow{"revised": "yes", "revision_date": "2021-01-01"}),
		cells(typedRow{"revised": "no"})))
	if c.Account().RevisedUndated != 3 || c.Account().SetAside != 3 || c.Account().Used != 3 {
		t.Errorf("%+v", c.Account())
	}
}

func TestEveryRowSetAside(t *testing.T) {
	_, err := tryRead(t, Options{}, table("operation_date,revision_date,age", "2020-01-01,,2", "2020-01-02,,3", "2020-01-02,2019-01-01,40"))
	if !errors.Is(err, ErrNoUsableRow) {
		t.Fatalf("error %v", err)
	}
	var none *NoUsableRowError
	if !errors.As(err, &none) || none.Account.Read != 3 || none.Account.SetAside != 3 {
		t.Fatalf("error %+v", err)
	}
	wantError(t, err, "all 3 rows are set aside", "age outside 10 to 110: 2", "revision before operation: 1")
}

// Problems come in the order of the rows, across the parts a table is read in.
func TestProblemsInOrder(t *testing.T) {
	text := []string{everyHeading}
	for i := range 40_000 {
		r := typedRow{}
		if i%3 == 0 {
			r["age"] = "2"
		}
		text = append(text, cells(r))
	}
	c := mustRead(t, Options{}, table(text...))
	aside := c.SetAside()
	if len(c.store.Blocks) < 2 || len(aside) != 13_334 {
		t.Fatalf("%d parts, %d rows set aside", len(c.store.Blocks), len(aside))
	}
	for i, p := range aside {
		if p.Row != 2+3*i {
			t.Fatalf("problem %d is of row %d", i, p.Row)
		}
	}
}
