package exchange

import (
	"fmt"
	"io"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/sheet"
)

// A Kind is a kind of file: Parquet or Arrow IPC.
type Kind = sheet.Kind

// The kinds.
const (
	Parquet  = sheet.Parquet
	ArrowIPC = sheet.ArrowIPC
)

// KindOf is the kind of file that the ending of a name asks for: .parquet, or
// .arrow, .feather or .ipc.
func KindOf(name string) (Kind, error) { return sheet.KindOf(name) }

// Column describes a column of a file.
type Column struct {
	Name   string   `json:"name"`
	Type   string   `json:"type"`
	Unit   string   `json:"unit,omitempty"`
	Help   string   `json:"help"`
	Values []string `json:"values,omitempty"` // the words it may hold, where they are fixed
}

// jointColumn is a column with what it holds of a joint.
type jointColumn struct {
	sheet.Field
	unit   string
	values []string
	put    func(v *sheet.Values, j *cohort.Joint)
}

func whole(name, unit, help string, of func(j *cohort.Joint) int) jointColumn {
	return jointColumn{Field: sheet.Field{Name: name, Type: sheet.Whole, Help: help}, unit: unit, put: func(v *sheet.Values, j *cohort.Joint) {
		v.Wholes = append(v.Wholes, int32(of(j)))
	}}
}

// dayIf is a day that is missing where a joint has none.
func dayIf(name, help string, of func(j *cohort.Joint) (cohort.Day, bool)) jointColumn {
	return jointColumn{Field: sheet.Field{Name: name, Type: sheet.Day, Optional: true, Help: help}, unit: "date", put: func(v *sheet.Values, j *cohort.Joint) {
		day, there := of(j)
		v.Wholes, v.Missing = append(v.Wholes, int32(day)), append(v.Missing, !there)
	}}
}

func word(name, help string, values []string, of func(j *cohort.Joint) string) jointColumn {
	return jointColumn{Field: sheet.Field{Name: name, Type: sheet.Text, Help: help}, values: values, put: func(v *sheet.Values, j *cohort.Joint) {
		v.Texts = append(v.Texts, of(j))
	}}
}

// exit is the day on which follow-up ended with a cause.
func exit(cause int) func(j *cohort.Joint) (cohort.Day, bool) {
	return func(j *cohort.Joint) (cohort.Day, bool) { return j.Operation + cohort.Day(j.Days), j.Cause == cause }
}

// before are the columns of a checked cohort before its fields.
func before(patients bool) []jointColumn {
	all := []jointColumn{
		whole("table", "", "which of the tables read, from 1", func(j *cohort.Joint) int { return j.File + 1 }),
		whole("row", "", "row of that table", func(j *cohort.Joint) int { return j.Row }),
	}
	if patients {
		all = append(all, whole("patient", "", "number of the patient, from 1 and in this file alone, in place of the identifier; a joint of which no patient is known has a number of its own", func(j *cohort.Joint) int { return j.Patient + 1 }))
	}
	return append(all,
		dayIf("operation_date", "day of the primary operation", func(j *cohort.Joint) (cohort.Day, bool) { return j.Operation, true }),
		jointColumn{Field: sheet.Field{Name: "age", Type: sheet.Whole, Optional: true, Help: "completed years at the operation"}, unit: "years", put: func(v *sheet.Values, j *cohort.Joint) {
			v.Wholes, v.Missing = append(v.Wholes, int32(j.Age)), append(v.Missing, j.Age < 0)
		}})
}

var causes = []string{"censored", cohort.EndRevision.String(), cohort.EndDeath.String()}

// after are the columns of a checked cohort after its fields.
func after() []jointColumn {
	var ends []string
	for _, e := range cohort.Ends() {
		if e != cohort.EndOther {
			ends = append(ends, e.String())
		}
	}
	return []jointColumn{
		whole("days", "days", "followed, from the operation to the first revision, else to death, else to the earlier of the day last seen and the closing date; an event on the day of the operation has 0", func(j *cohort.Joint) int { return j.Days }),
		word("cause", "how follow-up ended", causes, func(j *cohort.Joint) string { return causes[j.Cause] }),
		word("ended", "the same, and of joints that are censored how much is known: at the closing date; at the closing date, assumed, as nothing says that the joint was still known of; when last seen; lost, last seen so long before the closing date that it counts as lost to follow-up", ends, func(j *cohort.Joint) string { return j.End.String() }),
		{Field: sheet.Field{Name: "revision_reason", Type: sheet.Text, Optional: true, Help: "why, where follow-up ended in a revision"}, put: func(v *sheet.Values, j *cohort.Joint) {
			v.Texts, v.Missing = append(v.Texts, j.Reason), append(v.Missing, j.Reason == "")
		}},
		dayIf("revision_date", "day of the first revision, where follow-up ended in one", exit(cohort.CauseRevision)),
		dayIf("death_date", "day of death, where follow-up ended in it", exit(cohort.CauseDeath)),
		dayIf("last_seen_date", "day to which a joint that is censored is known to have been followed; none where that is assumed", func(j *cohort.Joint) (cohort.Day, bool) {
			return j.Operation + cohort.Day(j.Days), j.Cause == 0 && j.End != cohort.EndAssumed
		}),
		whole("possible_days", "days", "from the operation to the closing date, whatever became of the joint", func(j *cohort.Joint) int { return j.Possible }),
		whole("possible_years", "years", "completed years of these: the greatest number whose day, 365.25 times it without the fraction, is reached", func(j *cohort.Joint) int { return completed(j.Possible) }),
	}
}

// completed is the greatest whole number of years y for which ⌊365.25·y⌋ days are
// reached.
func completed(days int) int { return (4*days + 3) / 1461 }

// JointColumns are the columns of the checked cohort of tables that name patients,
// grouped by nothing but joint and procedure. Others have a column more for each
// field, before days.
func JointColumns() []Column { return described(layout([]string{"joint", "procedure"}, true)) }

// layout is the columns of a checked cohort with the given fields.
func layout(fields []string, patients bool) []jointColumn {
	all := before(patients)
	for i, f := range fields {
		help := "the " + cohort.Title(f) + ", as understood"
		for _, c := range cohort.Columns() {
			if c.Name == f {
				help = c.Description
			}
		}
		all = append(all, word(f, help, nil, func(j *cohort.Joint) string { return j.Values[i] }))
	}
	return append(all, after()...)
}

func described(columns []jointColumn) []Column {
	var all []Column
	for _, c := range columns {
		all = append(all, Column{c.Name, typeNames[c.Type], c.unit, c.Help, c.values})
	}
	return all
}

var typeNames = map[sheet.Type]string{sheet.Text: "text", sheet.Whole: "whole number", sheet.Fraction: "number", sheet.Day: "date", sheet.YesNo: "yes or no"}

// fieldsOf are the fields of a cohort that a checked cohort has as columns: what
// becomes of a joint afterwards has its own, and a field that has a value of its own in
// most rows, or is called like one of the columns, is left out.
func fieldsOf(c *cohort.Cohort) []string {
	var names []string
	for _, k := range slices.Concat(before(true), after()) {
		names = append(names, k.Name)
	}
	fields := []string{"joint", "procedure"}
	for _, f := range c.Fields() {
		if !slices.Contains(fields, f) && !slices.Contains(names, f) && !cohort.Outcome(f) && c.Groupable(f) {
			fields = append(fields, f)
		}
	}
	return fields
}

// WriteJoints writes the checked cohort: the joints in use and in scope, one row
// each, in the order of tables and rows, with follow-up to the first revision for
// whatever reason. What identifies a patient is not in it: patients have numbers. The
// metadata of the file, under the key [AboutKey], say in JSON what it holds (see
// [About]); of a cohort whose closing date was asked for, what a tally of it says of the
// tables stands under [CountsKey]. A table that calls itself invented makes one that does. An error of the io.Writer comes back as it is.
func WriteJoints(w io.Writer, k Kind, c *cohort.Cohort) error {
	fields := fieldsOf(c)
	columns := layout(fields, c.HasColumn("patient"))
	joints, err := c.Joints(cohort.Endpoint{}, fields...)
	if err != nil {
		return err
	}
	about, err := aboutJoints(c, columns).json()
	if err != nil {
		return err
	}
	var written []sheet.Field
	for _, col := range columns {
		written = append(written, col.Field)
	}
	metadata := []sheet.Pair{{Key: AboutKey, Value: about}}
	if slices.ContainsFunc(c.Files, cohort.File.Invented) {
		metadata = append(metadata, sheet.Pair{Key: sheet.InventedKey, Value: "yes"})
	}
	if c.Closing.Asked {
		header, err := headerOfJoints(c)
		if err != nil {
			return err
		}
		metadata = append(metadata, sheet.Pair{Key: CountsKey, Value: header})
	}
	out, err := create(w, k, written, metadata...)
	if err != nil {
		return err
	}
	for j := range joints {
		for i := range columns {
			columns[i].put(&out.values[i], &j)
		}
		if err := out.next(); err != nil {
			return err
		}
	}
	return out.close()
}

// aboutJoints is what a checked cohort says of itself.
func aboutJoints(c *cohort.Cohort, columns []jointColumn) *About {
	a := c.Account()
	return &About{
		Holds: HoldsJoints, Version: 1, Closing: c.Closing.Day.String(), Endpoint: cohort.Endpoint{}.String(),
		LostAfter: c.LostAfter(), DaysPerYear: cohort.DaysPerYear, Scope: conditions(c.Scope), Assumed: conditions(c.Assumed),
		Definitions: []string{
			"One row is one joint: one primary implantation. A revision is any operation that adds, removes or exchanges a component.",
			"days is whole days from the operation to the first revision, else to death, else to the earlier of the day last seen and the closing date. One year is 365.25 days; y years are reached on day 365.25 times y, without the fraction.",
			"On one day, events precede censoring: a joint that is censored on a day is at risk for that day's events. Revision and death on one day: revision.",
			fmt.Sprintf("Lost is last seen more than %d days before the closing date.", c.LostAfter()),
			"Columns of words hold the words as they were understood, " + cohort.NotRecorded + " for a missing value.",
		},
		Account: fmt.Sprintf("%d rows read = %d used + %d set aside", a.Read, a.Used, a.SetAside),
		Columns: described(columns),
	}
}

func conditions(all []cohort.Condition) []string {
	var said []string
	for _, c := range all {
		said = append(said, c.Column+"="+c.Value)
	}
	slices.Sort(said)
	return slices.Compact(said)
}
