package row

import "fmt"

// Reason says why a row was set aside, or what about it was warned of. One
// below [SideMissing] sets the row aside; the others leave it in use.
type Reason uint8

// The reasons; each has its words in reasonText.
const (
	Used Reason = iota

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
	RevisionIsPrimary
	RevisionUnlinkable
	DeathUndated
	DeathUnlinkable

	SideMissing
	RevisionOnTheDay
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
	BMIOutOfRange
	CellsBeyondHeadings
	CellsMissing
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
	IdentifierZeros
	IdentifierZerosJoined
	ReasonCount
)

var reasonText = [ReasonCount]string{
	RowUnreadable:              "row cannot be read",
	NotAJoint:                  "not a joint: a total, a note or the like",
	OperationDateMissing:       "no operation date",
	OperationDateImpossible:    "operation date impossible",
	OperationYearShort:         "operation date with a two-digit year: its century is not known",
	NotPrimary:                 "not a primary",
	OperationTypeNotUnderstood: "operation type not understood",
	BothSides:                  "both sides in one row: two joints need two rows",
	DateInFuture:               "date in the future",
	OperationAfterClosing:      "operation after the closing date",
	RevisionDateImpossible:     "revision date impossible",
	RevisionYearShort:          "revision date with a two-digit year: its century is not known",
	RevisedWithoutDate:         "revised without a date",
	RevisionBeforeOperation:    "revision before operation",
	DeathBeforeOperation:       "death before operation",
	DeadWithoutDate:            "dead without a date, and never seen since",
	AgeOutOfRange:              "age outside 10 to 110",
	PossibleRevision:           "same joint again: possible revision",
	DuplicateRow:               "same joint and date again: duplicate",
	RevisionJoined:             "a revision: joined to its primary",
	RevisionLater:              "a revision after the first: kept apart",
	RevisionWithoutPrimary:     "a revision without its primary in the table",
	RevisionBeforePrimary:      "a revision before its primary",
	RevisionUndated:            "a revision without a date",
	RevisionIsPrimary:          "the primary itself, in a table of revisions: no revision of it",
	RevisionUnlinkable:         "a revision whose patient, joint or side is missing",
	DeathUndated:               "a death without a possible date",
	DeathUnlinkable:            "a death without a patient",

	SideMissing:                 "side missing",
	RevisionOnTheDay:            "revision on the day of the operation: counted",
	RevisionAfterDeath:          "revision after death",
	DeadWithoutDateCensored:     "dead without a date: followed to the day last seen",
	LastSeenBeforeOperation:     "last seen before operation: ignored",
	LastSeenUnusable:            "last seen impossible or in the future: ignored",
	RevisedNoWithDate:           "revised says no, with a revision date: taken as revised",
	AliveWithDeathDate:          "dead says no, with a death date: taken as dead",
	YesNoUnreadable:             "neither yes nor no: ignored",
	AgeUnreadable:               "age or birth date unreadable: ignored",
	AgeDisagrees:                "age and birth date disagree: birth date used",
	BearingContradictsParts:     "bearing contradicts head and liner: head and liner used",
	FixationContradictsParts:    "fixation contradicts its components: components used",
	JointContradictsProcedure:   "joint contradicts the procedure: joint used",
	NotABearing:                 "not a bearing of a total replacement: bearing not recorded",
	ResurfacingWithPolyethylene: "resurfacing with polyethylene",
	BMIOutOfRange:               "BMI outside 10 to 80: not recorded",
	CellsBeyondHeadings:         "more cells than headings: the extra ones ignored",
	CellsMissing:                "fewer cells than headings, unlike most rows: was the row cut off?",
	CellOverManyLines:           "a cell runs over more than 20 lines: a stray quotation mark may have swallowed rows",
	ReasonWithoutRevision:       "a reason for revision, and no revision: taken as not revised",
	RevisionDatesDiffer:         "revision dates differ between the tables: the earlier used",
	DeathDatesDiffer:            "death date differs from the list of deaths: the list used",
	DeathTaken:                  "death taken from another row of the patient",
	DeathRowsDiffer:             "death dates of the patient's rows differ: the earlier used",
	DeathContradicted:           "the list of deaths gives the patient another day: the earlier used",
	LostToFollowUp:              "lost to follow-up: last seen long before the closing date",
	IdentifierOfMany:            "identifier of more operations than a patient has: taken as missing",
	IdentifierZeros:             "identifier of another row but for leading zeros: taken as two patients",
	IdentifierZerosJoined:       "identifier of a revision or death but for leading zeros: taken as one patient",
	TwoIdentifiers:              "same birth date, sex and initials, or joint and side, under another identifier: one patient?",
}

// String is a short phrase that is fixed for each reason.
func (r Reason) String() string {
	if r < ReasonCount && reasonText[r] != "" {
		return reasonText[r]
	}
	return fmt.Sprintf("Reason(%d)", uint8(r))
}

// SetsAside says whether a row with this reason is left out.
func (r Reason) SetsAside() bool { return r >= RowUnreadable && r < SideMissing }
