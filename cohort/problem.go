package cohort

import (
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/row"
)

// Reason says why a row was set aside, or what about it was warned of. One
// below [SideMissing] sets the row aside; the others leave it in use. Its String
// is a short phrase that is fixed; SetsAside says whether a row with it is left
// out.
type Reason = row.Reason

// The reasons.
const (
	RowUnreadable              = row.RowUnreadable
	NotAJoint                  = row.NotAJoint
	OperationDateMissing       = row.OperationDateMissing
	OperationDateImpossible    = row.OperationDateImpossible
	OperationYearShort         = row.OperationYearShort
	NotPrimary                 = row.NotPrimary
	OperationTypeNotUnderstood = row.OperationTypeNotUnderstood
	BothSides                  = row.BothSides
	DateInFuture               = row.DateInFuture
	OperationAfterClosing      = row.OperationAfterClosing
	RevisionDateImpossible     = row.RevisionDateImpossible
	RevisionYearShort          = row.RevisionYearShort
	RevisedWithoutDate         = row.RevisedWithoutDate
	RevisionBeforeOperation    = row.RevisionBeforeOperation
	DeathBeforeOperation       = row.DeathBeforeOperation
	DeadWithoutDate            = row.DeadWithoutDate
	AgeOutOfRange              = row.AgeOutOfRange
	PossibleRevision           = row.PossibleRevision
	DuplicateRow               = row.DuplicateRow
	RevisionJoined             = row.RevisionJoined
	RevisionLater              = row.RevisionLater
	RevisionWithoutPrimary     = row.RevisionWithoutPrimary
	RevisionBeforePrimary      = row.RevisionBeforePrimary
	RevisionUndated            = row.RevisionUndated
	RevisionUnlinkable         = row.RevisionUnlinkable
	DeathUndated               = row.DeathUndated
	DeathUnlinkable            = row.DeathUnlinkable

	SideMissing                 = row.SideMissing
	RevisionAfterDeath          = row.RevisionAfterDeath
	DeadWithoutDateCensored     = row.DeadWithoutDateCensored
	LastSeenBeforeOperation     = row.LastSeenBeforeOperation
	LastSeenUnusable            = row.LastSeenUnusable
	RevisedNoWithDate           = row.RevisedNoWithDate
	AliveWithDeathDate          = row.AliveWithDeathDate
	YesNoUnreadable             = row.YesNoUnreadable
	AgeUnreadable               = row.AgeUnreadable
	AgeDisagrees                = row.AgeDisagrees
	BearingContradictsParts     = row.BearingContradictsParts
	FixationContradictsParts    = row.FixationContradictsParts
	JointContradictsProcedure   = row.JointContradictsProcedure
	NotABearing                 = row.NotABearing
	ResurfacingWithPolyethylene = row.ResurfacingWithPolyethylene
	BMIOutOfRange               = row.BMIOutOfRange
	CellsBeyondHeadings         = row.CellsBeyondHeadings
	CellOverManyLines           = row.CellOverManyLines
	ReasonWithoutRevision       = row.ReasonWithoutRevision
	RevisionDatesDiffer         = row.RevisionDatesDiffer
	DeathDatesDiffer            = row.DeathDatesDiffer
	DeathTaken                  = row.DeathTaken
	DeathRowsDiffer             = row.DeathRowsDiffer
	DeathContradicted           = row.DeathContradicted
	LostToFollowUp              = row.LostToFollowUp
	IdentifierOfMany            = row.IdentifierOfMany
	TwoIdentifiers              = row.TwoIdentifiers
)

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
func (c *Cohort) nameRow(p Problem, file, line int) string {
	if file == p.File {
		return fmt.Sprintf("row %d", line)
	}
	return fmt.Sprintf("row %d of %s", line, c.Files[file].Title())
}

// Cell is how a spreadsheet names the cell that a problem is about, such as
// "Sheet1!C17": the one where the value stands. It is "" for a table that is no
// workbook, or a problem of the whole row.
func (c *Cohort) Cell(p Problem) string {
	file, line, column := p.File, p.Row, p.Column
	if p.At > 0 {
		file, line = p.AtFile, p.At
		switch f := c.Files[file]; {
		case f.has(column):
		case column == "dead" || column == "death_date":
			column = map[string]string{"dead": "death_date", "death_date": "dead"}[column]
		case f.has("revision_date") && f.Holds == row.Revisions.String():
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
	return f.cell(line, i)
}
