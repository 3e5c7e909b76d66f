package cohort

import "example.org/holdfast/cohort/internal/row"

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
	RevisionIsPrimary          = row.RevisionIsPrimary
	RevisionUnlinkable         = row.RevisionUnlinkable
	DeathUndated               = row.DeathUndated
	DeathUnlinkable            = row.DeathUnlinkable

	SideMissing                 = row.SideMissing
	RevisionOnTheDay            = row.RevisionOnTheDay
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
	CellsMissing                = row.CellsMissing
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
	IdentifierZeros             = row.IdentifierZeros
	IdentifierZerosJoined       = row.IdentifierZerosJoined
)

// ReasonCount is how many rows have a reason.
type ReasonCount struct {
	Reason Reason
	Rows   int
}
