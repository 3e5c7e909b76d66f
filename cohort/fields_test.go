package cohort_test

import (
	"errors"
	"slices"
	"testing"

	"example.org/holdfast/cohort"
)

// A table's own age bands are a field like any other where it has no ages, in
// the order of the ages.
func TestAgeBandsOfTheTable(t *testing.T) {
	c := mustRead(t, cohort.Options{Keep: []string{"age_band"}}, table("operation_date,revision_date,joint,Age band",
		"2020-01-01,,hip,75+", "2020-01-01,2021-01-01,hip,<55", "2020-01-01,,hip,55-74", "2020-01-01,,hip,"))
	g, err := c.Tally([]string{"age_band"}, cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"<55", "55-74", "75+", cohort.NotRecorded}
	if got := g.Set.Dimensions[2].Levels; !slices.Equal(got, want) {
		t.Errorf("levels %q, want %q", got, want)
	}
}

// What only the procedure's words say can be grouped by too.
func TestFieldsFromTheProcedure(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,procedure", "2020-01-01,,Left cemented THR", "2020-01-01,,THR"))
	for _, field := range []string{"joint", "procedure", "side", "fixation"} {
		if !slices.Contains(c.Fields(), field) {
			t.Errorf("no field %s among %q", field, c.Fields())
		}
	}
	if slices.Contains(c.Fields(), "bearing") {
		t.Error("a field bearing, which no row has")
	}
}

// Columns that identify patients can't be kept, whatever they are called.
func TestIdentifyingHeadingsAreRefused(t *testing.T) {
	for _, heading := range []string{"patient", "Surname", "Patient name", "NHS number", "initials", "Postcode", "birth_date", "E-mail"} {
		_, err := tryRead(t, cohort.Options{Keep: []string{heading}}, table("operation_date,revision_date,"+heading, "2020-01-01,,x"))
		var option *cohort.OptionError
		if !errors.As(err, &option) {
			t.Errorf("%s: %v", heading, err)
		}
	}
}

// Deaths count as recorded only if every table has a column for them.
func TestDeathsOfSeveralTables(t *testing.T) {
	with := table("operation_date,revision_date,death_date", "2020-01-01,,2021-01-01")
	without := table("operation_date,revision_date", "2020-01-01,")
	c := mustRead(t, cohort.Options{}, with, without)
	if d := c.Deaths(); d.Recorded || d.Column || !slices.Equal(d.Without, []string{"t2.csv"}) {
		t.Errorf("%+v", d)
	}
}
