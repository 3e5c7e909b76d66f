package cohort_test

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

var scopeTable = table("operation_date,revision_date,patient,joint,procedure,side,bearing,age,Lead surgeon,Cup maker",
	"2019-01-01,,a,hip,THR,left,CoC,60,Ann,2",
	"2019-01-01,,b,hip,THR,left,MoP,70,Bob,1",
	"2020-01-01,,c,knee,TKR,right,fixed,70,Ann,2",
	"2020-01-01,,d,hip,THR,right,CoXLPE,80,Cai,?",
	"2020-01-01,,e,hip,THR,right,CoC,9,Ann,2")

func TestWhere(t *testing.T) {
	for _, test := range []struct {
		name  string
		where []cohort.Condition
		want  map[string]int64
		read  int
		scope []cohort.Condition
	}{
		{"one", []cohort.Condition{{"joint", "hip"}}, map[string]int64{"hip|total": 3}, 4, []cohort.Condition{{"joint", "hip"}}},
		{"or within a column", []cohort.Condition{{"bearing", "ceramic-on-ceramic"}, {"bearing", "metal-on-polyethylene"}}, map[string]int64{"hip|total": 2}, 3,
			[]cohort.Condition{{"bearing", "ceramic-on-ceramic"}, {"bearing", "metal-on-polyethylene"}}},
		{"and across columns", []cohort.Condition{{"surgeon", "Ann"}, {"joint", "hip"}}, map[string]int64{"hip|total": 1}, 2, []cohort.Condition{{"joint", "hip"}, {"surgeon", "Ann"}}},
		{"synonyms", []cohort.Condition{{"bearing", "MoP"}, {"procedure", "THA"}, {"side", "L"}}, map[string]int64{"hip|total": 1}, 1,
			[]cohort.Condition{{"bearing", "metal-on-polyethylene"}, {"procedure", "total"}, {"side", "left"}}},
		{"one twice", []cohort.Condition{{"bearing", "MoP"}, {"bearing", "metal-on-polyethylene"}}, map[string]int64{"hip|total": 1}, 1, []cohort.Condition{{"bearing", "metal-on-polyethylene"}}},
		{"in another case", []cohort.Condition{{"Surgeon", "ANN"}, {"JOINT", "Knee"}}, map[string]int64{"knee|total": 1}, 1, []cohort.Condition{{"joint", "knee"}, {"surgeon", "Ann"}}},
		{"by heading", []cohort.Condition{{"Lead surgeon", "Bob"}}, map[string]int64{"hip|total": 1}, 1, []cohort.Condition{{"surgeon", "Bob"}}},
		{"a column of the user's own", []cohort.Condition{{"cup maker", "2"}}, map[string]int64{"hip|total": 1, "knee|total": 1}, 3, []cohort.Condition{{"cup maker", "2"}}},
		{"not recorded", []cohort.Condition{{"Cup maker", "not recorded"}}, map[string]int64{"hip|total": 1}, 1, []cohort.Condition{{"Cup maker", "not recorded"}}},
		{"age band", []cohort.Condition{{"age_band", "65–74"}}, map[string]int64{"hip|total": 1, "knee|total": 1}, 2, []cohort.Condition{{"age_band", "65-74"}}},
		{"year", []cohort.Condition{{"operation_year", "2020"}}, map[string]int64{"hip|total": 1, "knee|total": 1}, 3, []cohort.Condition{{"operation_year", "2020"}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{Where: test.where}, scopeTable)
			if d := cmp.Diff(test.want, joints(mustTally(t, c, nil, cohort.Endpoint{}).Set)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			if c.Account().Read != test.read || c.Account().InFiles != 5 {
				t.Errorf("%+v", c.Account())
			}
			if d := cmp.Diff(test.scope, c.Scope); d != "" {
				t.Errorf("scope (-want +got):\n%s", d)
			}
		})
	}
}

func TestWhereRefused(t *testing.T) {
	for _, test := range []struct {
		where cohort.Condition
		want  []string
	}{
		{cohort.Condition{"bearing", "glass"}, []string{`no row has bearing "glass"`, `"ceramic-on-ceramic"`, `"metal-on-polyethylene"`}},
		{cohort.Condition{"joint", "ankle"}, []string{`no row has joint "ankle"`, `"hip", "knee"`}},
		{cohort.Condition{"joint", "not recorded"}, []string{`values found: "hip", "knee"`}},
		{cohort.Condition{"operation_year", "1999"}, []string{`no row has operation_year "1999"`, `values found: "2019", "2020"`}},
		{cohort.Condition{"age_band", "<55"}, []string{`no row has age_band "<55"`, `values found: "55-64", "65-74", "75+"`}},
		{cohort.Condition{"baering", "CoC"}, []string{`no column "baering"`, `did you mean "bearing"`, "operation_year"}},
		{cohort.Condition{"hospital", "A"}, []string{`no column "hospital"`}},
	} {
		_, err := tryRead(t, cohort.Options{Where: []cohort.Condition{test.where}}, scopeTable)
		if err == nil {
			t.Errorf("%v: no error", test.where)
			continue
		}
		wantError(t, err, test.want...)
	}
	_, err := tryRead(t, cohort.Options{Where: []cohort.Condition{{"colour", "red"}}}, scopeTable)
	var unknown *cohort.UnknownFieldError
	if !errors.As(err, &unknown) || unknown.Wanted != "colour" {
		t.Errorf("error %v", err)
	}
	_, err = tryRead(t, cohort.Options{Where: []cohort.Condition{{"joint", "knee"}, {"bearing", "ceramic-on-ceramic"}}}, scopeTable)
	wantError(t, err, "no row has bearing ceramic-on-ceramic and joint knee at once")
}

// Problems and account are of the rows in scope; the closing date is of all.
func TestWhereAndTheAccount(t *testing.T) {
	c := mustRead(t, cohort.Options{Where: []cohort.Condition{{"side", "left"}}}, scopeTable)
	if c.Closing.Day != day("2020-01-01") || c.Account().Read != 2 || c.Account().SetAside != 0 || len(c.SetAside()) != 0 {
		t.Errorf("closing %v, account %+v", c.Closing, c.Account())
	}
}

// A second row of a joint is a repeat even where the first is out of scope.
func TestWhereAndRepeats(t *testing.T) {
	c := mustRead(t, cohort.Options{Where: []cohort.Condition{{"operation_year", "2021"}}}, table("patient,operation_date,joint,side,revision_date",
		"a,2020-01-01,hip,left,", "a,2021-01-01,hip,left,", "b,2021-01-01,hip,left,"))
	if d := cmp.Diff([]cohort.Problem{{Row: 3, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 2}}, c.SetAside()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if c.Account().PossibleRevisions != 0 { // the joint it would revise is not in use here
		t.Errorf("%+v", c.Account())
	}
}

func TestAssume(t *testing.T) {
	c := mustRead(t, cohort.Options{Assume: map[string]string{"joint": "Hip", "procedure": "THR", "bearing": "CoC", "hospital": "West", "sex": "F"}},
		table("operation_date,revision_date,side,procedures", "2020-01-01,,left,x", "2020-01-01,,right,y"))
	g := mustTally(t, c, []string{"bearing", "hospital", "sex"}, cohort.Endpoint{})
	if d := cmp.Diff(map[string]int64{"hip|total|ceramic-on-ceramic|West|female": 2}, joints(g.Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	want := []cohort.Condition{{"bearing", "CoC"}, {"hospital", "West"}, {"joint", "Hip"}, {"procedure", "THR"}, {"sex", "F"}}
	if d := cmp.Diff(want, c.Assumed); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if !c.HasColumn("hospital") || !c.HasColumn("bearing") {
		t.Error("an assumed column is not there")
	}

	_, err := tryRead(t, cohort.Options{Assume: map[string]string{"side": "left"}}, table("operation_date,revision_date,Laterality", "2020-01-01,,"))
	wantError(t, err, `t1.csv has a column "Laterality"`, "can't be assumed for side")
}

func TestKeep(t *testing.T) {
	text := table("operation_date,revision_date,joint,procedure,Boss,Cup maker,Unit,Operated side,head",
		"2020-01-01,,hip,THR,Ann,2,West,L,metal", "2020-01-01,,hip,THR,Bob,n/a,West,R,metal")
	o := cohort.Options{Columns: map[string]string{"Boss": "surgeon"}, Keep: []string{"cup maker", "Boss", "Unit", "Operated side", "nowhere", "Cup Maker", "age_band"}}
	c := mustRead(t, o, text)
	want := []string{"joint", "procedure", "bearing", "side", "operation_year", "cup maker", "hospital", "surgeon"}
	if d := cmp.Diff(want, c.Fields()); d != "" {
		t.Errorf("fields (-want +got):\n%s", d)
	}
	for by, want := range map[string]map[string]int64{
		"Cup maker":     {"hip|total|2": 1, "hip|total|not recorded": 1},
		"cup_maker":     {"hip|total|2": 1, "hip|total|not recorded": 1},
		"Boss":          {"hip|total|Ann": 1, "hip|total|Bob": 1},
		"surgeon":       {"hip|total|Ann": 1, "hip|total|Bob": 1},
		"Unit":          {"hip|total|West": 2},
		"hospital":      {"hip|total|West": 2},
		"Operated side": {"hip|total|left": 1, "hip|total|right": 1},
	} {
		if d := cmp.Diff(want, joints(mustTally(t, c, []string{by}, cohort.Endpoint{}).Set)); d != "" {
			t.Errorf("by %s (-want +got):\n%s", by, d)
		}
	}
	if _, err := c.Tally([]string{"nowhere"}, cohort.Endpoint{}); err == nil {
		t.Error("grouped by a column that is not there")
	}
	if n := len(c.Words()); n != 7 { // joint, side, procedure, head, cup maker, hospital, surgeon: each once
		t.Errorf("words of %d columns: %+v", n, c.Words())
	}
}

// What identifies a patient can't be kept for grouping or chosen by.
func TestIdentifyingColumnsAreNotKept(t *testing.T) {
	text := table("operation_date,revision_date,Patient ID,DOB,joint_id,yob", "2020-01-01,,MARKER,1950-01-01,MARKER,1950")
	for _, name := range []string{"patient", "Patient ID", "birth_date", "dob", "DOB", "joint_id", "birth_year", "yob"} {
		_, err := tryRead(t, cohort.Options{Keep: []string{name}}, text)
		wantError(t, err, "identifies patients")
		_, err = tryRead(t, cohort.Options{Where: []cohort.Condition{{name, "MARKER"}}}, text)
		wantError(t, err, "identifies patients")
	}
	_, err := tryRead(t, cohort.Options{Columns: map[string]string{"case": "patient"}, Keep: []string{"Case"}}, table("operation_date,revision_date,case", "2020-01-01,,MARKER"))
	wantError(t, err, "column patient identifies patients")
	c := mustRead(t, cohort.Options{EveryColumn: true}, text)
	for _, name := range []string{"patient", "Patient ID", "DOB", "yob", "joint_id"} {
		if _, err := c.Tally([]string{name}, cohort.Endpoint{}); err == nil {
			t.Errorf("tallied by %s", name)
		}
	}
}

// A row that is set aside has an age band too, and stays in the account of it.
func TestWhereAgeBandKeepsRowsSetAside(t *testing.T) {
	c := mustRead(t, cohort.Options{Where: []cohort.Condition{{"age_band", "65-74"}}}, table("operation_date,revision_date,age,birth_date,revised,side",
		"2020-01-01,,70,,no,left", "2020-01-01,,70,,yes,left", "2020-01-01,2019-01-01,,1950-01-01,,left", "2020-01-01,,60,,yes,left", "2020-01-01,,7,,,left", ",,70,,,left"))
	want := []cohort.Problem{{Row: 3, Column: "revised", Reason: cohort.RevisedWithoutDate}, {Row: 4, Column: "revision_date", Reason: cohort.RevisionBeforeOperation}, {Row: 7, Column: "operation_date", Reason: cohort.OperationDateMissing}}
	if d := cmp.Diff(want, c.SetAside()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if c.Account().RevisedUndated != 1 || c.Account().Used != 1 {
		t.Errorf("%+v", c.Account())
	}
}

func TestWhereAgeBandFromBirth(t *testing.T) {
	for heading, born := range map[string]string{"birth_date": "1950-01-01", "birth_year": "1950"} {
		c := mustRead(t, cohort.Options{Where: []cohort.Condition{{"age_band", "65-74"}}}, table("operation_date,revision_date,"+heading, "2020-01-01,,"+born, "2020-01-01,,"))
		if c.Account().Used != 1 || c.Account().Read != 1 {
			t.Errorf("%s: %+v", heading, c.Account())
		}
	}
}
