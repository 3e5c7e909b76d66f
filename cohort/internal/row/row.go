// Package row has the types of the way from the rows of tables to joints. It
// has no rules: what a row comes to is decided by package link.
package row

import (
	"math"
	"slices"
)

// Day is a calendar day counted from 1 January 1970, or one of the values that
// are none, which lie below every day.
type Day int32

// What a cell for a date holds if it holds no day.
const (
	NoDay      Day = math.MinInt32 + iota // it is empty
	Impossible                            // there is no such day
	ShortYear                             // it has a two-digit year, of a century nobody knows
)

// Known says that it is a day.
func (d Day) Known() bool { return d > ShortYear }

// Unreadable says that a cell holds something, and no day.
func (d Day) Unreadable() bool { return d == Impossible || d == ShortYear }

// Place is where a row of all that were read is kept.
type Place struct{ Block, Index int32 }

// Code numbers the words of one column; 0 is not recorded.
type Code = uint16

// Ages in completed years.
const (
	MinAge = 10
	MaxAge = 110

	NoAge  = -1
	Unborn = -2 // at the operation: below every age, and not NoAge, as an age of −1 year would be
)

// Age is the age at operation as one row tells it.
type Age struct {
	Years      int16  // completed; NoAge, Unborn
	Column     Column // it was told by
	Disagrees  bool   // the row tells another by another column
	Unreadable Column // whose cell was passed over; WholeRow for none
}

// Flags are what else a row says.
type Flags uint32

// The flags of a row. Those of its words' meaning come from its combination of
// words, the others from its own cells.
const (
	FlagUnreadable Flags = 1 << iota // it is no row of the table's form
	FlagNotPrimary
	FlagBothSides
	FlagSideMissing
	FlagRevisedYes
	FlagRevisedNo
	FlagDeadYes
	FlagDeadNo
	FlagRevisedUnclear
	FlagDeadUnclear
	FlagAgeUnreadable
	FlagBirthYearUnreadable
	FlagBearingContradicts
	FlagFixationContradicts
	FlagJointContradicts
	FlagNotABearing
	FlagResurfacingPolyethylene
	FlagExtraCells
	FlagOperationTypeNotPrimary
	FlagManyLines
	FlagReoperation // nothing was exchanged
	FlagOperationTypePrimary
	FlagOperationTypeUnknown
	FlagBMIImpossible
	FlagCut   // fewer cells than headings
	FlagBare  // with an operation date at most, and nothing that tells of a joint
	FlagNamed // of a list, and joined to the primaries by the name of its joint
)

// RecordsRevision says whether a row of operations records a revision: its type
// says so, or its procedure where the type is missing or not understood.
func (f Flags) RecordsRevision() bool {
	return f&FlagNotPrimary != 0 && f&(FlagReoperation|FlagUnreadable|FlagBare) == 0 && (f&FlagOperationTypeNotPrimary != 0 || f&FlagOperationTypePrimary == 0)
}

// Row is one row of a table as understood, unpacked while its patient is in
// hand.
type Row struct {
	At    Place
	Table int32 // index into Facts.Tables

	Patient uint64 // a number of the patient's own; 0 if there is none
	Name    uint64 // of the joint, hashed; 0 if there is none

	Operation, Revision, Death, Seen, Birth Day

	Age    Age
	Joint  Code
	Side   Code
	Reason Code // for revision
	Flags  Flags
}

// Holder is what a row says of who has its identifier, where several identifiers
// differ in leading zeros only, or one stands in several tables.
type Holder struct {
	Role             Role
	Zeros            uint8 // before the number, one more, up to MostZeros
	Operation, Birth Day
	BornAt, BornBy   int16 // the earliest and the latest year of birth; 0: not known
	Sex, Joint, Side Code
}

// Pair is two rows, by index.
type Pair struct{ At, Of int32 }

// Holders says whose the rows are whose identifiers are one number but for the
// zeros before it: by row the first of the same patient; rows of the primaries
// with one of another patient who may be the same, since nothing tells; and rows
// of the primaries with one of a list that is joined to them, since there is
// nobody else whose it could be.
type Holders struct {
	Of            []int32
	Apart, Joined []Pair
}

// The last bits of an identifier's hash say how it is written: how many zeros
// stand before a number, one more, up to MostZeros, or NoNumber.
const (
	FormBits  = 4
	NoNumber  = 1<<FormBits - 1
	MostZeros = NoNumber - 1
)

// Role is what a table holds.
type Role uint8

// What a table holds.
const (
	Primaries Role = iota // one row per primary, or per operation of any kind
	Revisions             // one row per revision, joined to the primaries
	Deaths                // one row per death, joined by patient
)

// String is the plural as messages have it.
func (r Role) String() string { return [...]string{"primaries", "revisions", "deaths"}[r] }

// Table is what is known of a table before its rows are linked.
type Table struct {
	Role       Role
	Patients   bool // it has a column of patients
	Operations bool // its rows are operations of any kind, told apart by their type
	Whole      bool // most of its rows have a cell for each heading
	BareAside  bool // rows with an operation date and nothing else are no joints
}

// Facts are what the rows of all tables together say, known before any is
// linked.
type Facts struct {
	Today, Closing Day
	LostAfter      int32 // days last seen before the closing date from which on a joint is lost
	Sides          bool  // some table tells left from right
	Left, Right    Code  // of the sides
	Tables         []Table
}

// Cause is how the follow-up of a joint ended.
type Cause uint8

// The ends of follow-up.
const (
	Censored Cause = iota
	Revised
	Died
)

// Fate is what became of one row. Of, RevisionFrom and DeathFrom are indexes
// among the rows of its patient, −1 for none.
type Fate struct {
	Reason Reason // Used, or why it is set aside or what its revision or death came to
	Column Column // that the reason is about
	Warn   Warnings

	Of           int32 // the row it repeats or belongs to
	RevisionFrom int32 // the row that records the revision of this one
	DeathFrom    int32 // the row that tells the death of this one
}

// Joint is one joint in use, with its dates resolved: a revision recorded by
// another row or a death told by one stands here, and in no cell that was read.
type Joint struct {
	Row             int32 // index among the rows of its patient
	Start           Day
	Revision, Death Day
	Again           Day  // the first recorded revision after Revision; NoDay if there is none
	Seen            Day  // NoDay if it is of no use
	Reason          Code // for revision
	Exit            int32
	Cause           Cause
	Dead            bool // the patient died, be it on a day nobody knows
	DeadUndated     bool
	Lost            bool // last seen long before the closing date
}

// Linked is what the rows of one patient come to: a fate each, in their order,
// and the joints in use.
type Linked struct {
	Fates  []Fate
	Joints []Joint

	// Nobodys says that the identifier stands for many people: a row of the
	// primaries is then linked as if it had none.
	Nobodys bool

	// OnList says that a list of deaths has the patient with a day; ListJoined
	// that a row of the primaries is the patient's too.
	OnList, ListJoined bool
}

// Has says whether a row was set aside or warned of for one of several reasons.
func (f *Fate) Has(reasons []Reason) bool {
	if f.Reason != Used {
		return slices.Contains(reasons, f.Reason)
	}
	for reason := range f.Warn.All() {
		if slices.Contains(reasons, reason) {
			return true
		}
	}
	return false
}
