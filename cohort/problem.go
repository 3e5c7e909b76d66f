package cohort

import (
	"fmt"
	"slices"
	"strings"
)

// Reason says why a row was set aside, or what about it was warned of. One
// below [SideMissing] sets the row aside; the others leave it in use.
type Reason uint8

const (
	used Reason = iota
	outOfScope

	RowUnreadable
	NotAJoint
	OperationDateMissing
	OperationDateImpossible
	OperationYearShort
	NotPrimary
	OperationTypeNotUnderstood
	BothSides
	DateInFuture
	OperationAfterClosing
	RevisionDateImpossible
	RevisionYearShort
	RevisedWithoutDate
	RevisionBeforeOperation
	DeathBeforeOperation
	DeadWithoutDate
	AgeOutOfRange
	PossibleRevision
	DuplicateRow
	RevisionJoined
	RevisionLater
	RevisionWithoutPrimary
	RevisionBeforePrimary
	RevisionUndated
	RevisionUnlinkable
	DeathUndated
	DeathUnlinkable

	SideMissing
	RevisionAfterDeath
	DeadWithoutDateCensored
	LastSeenBeforeOperation
	LastSeenUnusable
	RevisedNoWithDate
	AliveWithDeathDate
	YesNoUnreadable
	AgeUnreadable
	AgeDisagrees
	BearingContradictsParts
	FixationContradictsParts
	JointContradictsProcedure
	NotABearing
	ResurfacingWithPolyethylene
	CellsBeyondHeadings
	CellOverManyLines
	ReasonWithoutRevision
	RevisionDatesDiffer
	DeathDatesDiffer
	DeathTaken
	DeathRowsDiffer
	DeathContradicted
	LostToFollowUp
	IdentifierOfMany
	TwoIdentifiers
	reasons
)

var reasonText = [reasons]struct{ text, column string }{
	RowUnreadable:              {"row cannot be read", ""},
	NotAJoint:                  {"not a joint: a total, a note or the like", "operation_date"},
	OperationDateMissing:       {"no operation date", "operation_date"},
	OperationDateImpossible:    {"operation date impossible", "operation_date"},
	OperationYearShort:         {"operation date with a two-digit year: its century is not known", "operation_date"},
	NotPrimary:                 {"not a primary", "procedure"},
	OperationTypeNotUnderstood: {"operation type not understood", "operation_type"},
	BothSides:                  {"both sides in one row: two joints need two rows", "side"},
	DateInFuture:               {"date in the future", ""},
	OperationAfterClosing:      {"operation after the closing date", "operation_date"},
	RevisionDateImpossible:     {"revision date impossible", "revision_date"},
	RevisionYearShort:          {"revision date with a two-digit year: its century is not known", "revision_date"},
	RevisedWithoutDate:         {"revised without a date", "revised"},
	RevisionBeforeOperation:    {"revision before operation", "revision_date"},
	DeathBeforeOperation:       {"death before operation", "death_date"},
	DeadWithoutDate:            {"dead without a date, and never seen since", "dead"},
	AgeOutOfRange:              {"age outside 10 to 110", "age"},
	PossibleRevision:           {"same joint again: possible revision", "operation_date"},
	DuplicateRow:               {"same joint and date again: duplicate", "operation_date"},

	RevisionJoined:         {"a revision: joined to its primary", "operation_date"},
	RevisionLater:          {"a revision after the first: kept apart", "operation_date"},
	RevisionWithoutPrimary: {"a revision without its primary in the table", "operation_date"},
	RevisionBeforePrimary:  {"a revision before its primary", "operation_date"},
	RevisionUndated:        {"a revision without a date", "operation_date"},
	RevisionUnlinkable:     {"a revision whose patient, joint or side is missing", "operation_date"},
	DeathUndated:           {"a death without a possible date", "death_date"},
	DeathUnlinkable:        {"a death without a patient", "patient"},

	SideMissing:                 {"side missing", "side"},
	RevisionAfterDeath:          {"revision after death", "death_date"},
	DeadWithoutDateCensored:     {"dead without a date: followed to the day last seen", "dead"},
	LastSeenBeforeOperation:     {"last seen before operation: ignored", "last_seen_date"},
	LastSeenUnusable:            {"last seen impossible or in the future: ignored", "last_seen_date"},
	RevisedNoWithDate:           {"revised says no, with a revision date: taken as revised", "revised"},
	AliveWithDeathDate:          {"dead says no, with a death date: taken as dead", "dead"},
	YesNoUnreadable:             {"neither yes nor no: ignored", ""},
	AgeUnreadable:               {"age or birth date unreadable: ignored", "age"},
	AgeDisagrees:                {"age and birth date disagree: birth date used", "age"},
	BearingContradictsParts:     {"bearing contradicts head and liner: head and liner used", "bearing"},
	FixationContradictsParts:    {"fixation contradicts its components: components used", "fixation"},
	JointContradictsProcedure:   {"joint contradicts the procedure: joint used", "joint"},
	NotABearing:                 {"not a bearing of a total replacement: bearing not recorded", "bearing"},
	ResurfacingWithPolyethylene: {"resurfacing with polyethylene", "bearing"},
	CellsBeyondHeadings:         {"more cells than headings: the extra ones ignored", ""},
	ReasonWithoutRevision:       {"a reason for revision, and no revision: taken as not revised", "revision_reason"},
	RevisionDatesDiffer:         {"revision dates differ between the tables: the earlier used", "revision_date"},
	DeathDatesDiffer:            {"death date differs from the list of deaths: the list used", "death_date"},
	DeathTaken:                  {"death taken from another row of the patient", "death_date"},
	DeathRowsDiffer:             {"death dates of the patient's rows differ: the earlier used", "death_date"},
	DeathContradicted:           {"the list of deaths gives the patient another day: the earlier used", "death_date"},
	LostToFollowUp:              {"lost to follow-up: last seen long before the closing date", "last_seen_date"},
	TwoIdentifiers:              {"same birth date and sex under another identifier: one patient?", "patient"},
	IdentifierOfMany:            {"identifier of more operations than a patient has: taken as missing", "patient"},
	CellOverManyLines:           {"a cell runs over more than 20 lines: a stray quotation mark may have swallowed rows", ""},
}

// String is a short phrase that is fixed for each reason.
func (r Reason) String() string {
	if r < reasons && reasonText[r].text != "" {
		return reasonText[r].text
	}
	return fmt.Sprintf("Reason(%d)", uint8(r))
}

// SetsAside says whether a row with this reason is left out.
func (r Reason) SetsAside() bool { return r >= RowUnreadable && r < SideMissing }

// Problem is one remark on one row.
type Problem struct {
	File   int // index into Cohort.Files
	Row    int // as the file numbers it: the line on which the row starts
	Column string
	Reason Reason

	// Of is the row this one repeats, for PossibleRevision and DuplicateRow, or
	// another that it belongs to, such as its primary.
	OfFile, Of int

	// At is the row where the value stands that the problem is about, if that is
	// another row: the one of a joined revision, or of a death taken from
	// elsewhere. 0 means the row itself.
	AtFile, At int

	// Missing names the columns without which a revision can't be joined, such
	// as "joint and side"; for RevisionUnlinkable.
	Missing string
}

// ReasonCount is how many rows have a reason.
type ReasonCount struct {
	Reason Reason
	Rows   int
}

// Describe says a problem in words: its reason, the row that it repeats or
// belongs to, and the row where the value stands, if that is another.
func (c *Cohort) Describe(p Problem) string {
	said := p.Reason.String()
	if p.Of > 0 {
		of := c.nameRow(p, p.OfFile, p.Of)
		switch p.Reason {
		case DuplicateRow:
			said = "same joint and date again: duplicate of " + of
		case PossibleRevision:
			said = "same joint again: possible revision of " + of
		case OperationTypeNotUnderstood:
			said += ": possible revision of " + of
		default:
			said += " (" + of + ")"
		}
	}
	if p.Missing != "" {
		verb := " is"
		if strings.Contains(p.Missing, " and ") {
			verb = " are"
		}
		said = "a revision whose " + p.Missing + verb + " missing"
	}
	if p.At > 0 {
		said += "; the value stands in " + c.nameRow(p, p.AtFile, p.At)
	}
	return said
}

// nameRow names a row, and its table if that is not the problem's.
func (c *Cohort) nameRow(p Problem, file, row int) string {
	if file == p.File {
		return fmt.Sprintf("row %d", row)
	}
	return fmt.Sprintf("row %d of %s", row, c.Files[file].Title())
}

// Cell is how a spreadsheet names the cell that a problem is about, such as
// "Sheet1!C17": the one where the value stands. It is "" for a table that is no
// workbook, or a problem of the whole row.
func (c *Cohort) Cell(p Problem) string {
	file, row, column := p.File, p.Row, p.Column
	if p.At > 0 {
		file, row = p.AtFile, p.At
		switch f := c.Files[file]; {
		case f.has(column):
		case column == "dead" || column == "death_date":
			column = map[string]string{"dead": "death_date", "death_date": "dead"}[column]
		case f.has("revision_date") && f.Holds == revisions.String():
			column = "revision_date"
		default:
			column = "operation_date"
		}
	}
	f := c.Files[file]
	if f.cell == nil || column == "" {
		return ""
	}
	i := slices.IndexFunc(f.Headings, func(h Heading) bool { return h.Column == column })
	if i < 0 {
		return ""
	}
	return f.cell(row, i)
}
