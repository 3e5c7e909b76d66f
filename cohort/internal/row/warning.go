package row

import "iter"

// Warning is a reason with its column, for rows that are used all the same.
type Warning uint8

// Warnings are a set of them.
type Warnings uint64

// Has says whether a warning is among them.
func (w Warnings) Has(one Warning) bool { return w&(1<<one) != 0 }

// Add puts one among them.
func (w *Warnings) Add(one Warning) { *w |= 1 << one }

// All gives their reasons and columns, in the order in which they are listed.
func (w Warnings) All() iter.Seq2[Reason, string] {
	return func(yield func(Reason, string) bool) {
		for one := Warning(0); w != 0; one, w = one+1, w>>1 {
			if w&1 != 0 && !yield(warnings[one].reason, warnings[one].column) {
				return
			}
		}
	}
}

// The warnings, in the order in which those of one row are listed.
const (
	WarnLost Warning = iota
	WarnDeadUndated
	WarnDeathUnreadable
	WarnRevisionOnTheDay
	WarnRevisionAfterDeath
	WarnSeenUnusable
	WarnSeenBefore
	WarnRevisedNo
	WarnDeadNo
	WarnAge
	WarnBirthYear
	WarnBirthDate
	WarnAgeDisagrees
	WarnReason
	WarnSide
	WarnRevisedUnclear
	WarnDeadUnclear
	WarnBearing
	WarnFixation
	WarnJoint
	WarnNotABearing
	WarnResurfacing
	WarnBMI
	WarnCells
	WarnCut
	WarnLines
	WarnRevisionDiffers
	WarnDeathDiffers
	WarnDeathTaken
	WarnDeathRows
	WarnIdentifier
	warningCount
)

var warnings = [warningCount]struct {
	reason Reason
	column string
}{
	WarnLost:               {LostToFollowUp, "last_seen_date"},
	WarnDeadUndated:        {DeadWithoutDateCensored, "dead"},
	WarnDeathUnreadable:    {DeadWithoutDateCensored, "death_date"},
	WarnRevisionOnTheDay:   {RevisionOnTheDay, "revision_date"},
	WarnRevisionAfterDeath: {RevisionAfterDeath, "death_date"},
	WarnSeenUnusable:       {LastSeenUnusable, "last_seen_date"},
	WarnSeenBefore:         {LastSeenBeforeOperation, "last_seen_date"},
	WarnRevisedNo:          {RevisedNoWithDate, "revised"},
	WarnDeadNo:             {AliveWithDeathDate, "dead"},
	WarnAge:                {AgeUnreadable, "age"},
	WarnBirthYear:          {AgeUnreadable, "birth_year"},
	WarnBirthDate:          {AgeUnreadable, "birth_date"},
	WarnAgeDisagrees:       {AgeDisagrees, "age"},
	WarnReason:             {ReasonWithoutRevision, "revision_reason"},
	WarnSide:               {SideMissing, "side"},
	WarnRevisedUnclear:     {YesNoUnreadable, "revised"},
	WarnDeadUnclear:        {YesNoUnreadable, "dead"},
	WarnBearing:            {BearingContradictsParts, "bearing"},
	WarnFixation:           {FixationContradictsParts, "fixation"},
	WarnJoint:              {JointContradictsProcedure, "joint"},
	WarnNotABearing:        {NotABearing, "bearing"},
	WarnResurfacing:        {ResurfacingWithPolyethylene, "bearing"},
	WarnBMI:                {BMIOutOfRange, "bmi"},
	WarnCells:              {CellsBeyondHeadings, ""},
	WarnCut:                {CellsMissing, ""},
	WarnLines:              {CellOverManyLines, ""},
	WarnRevisionDiffers:    {RevisionDatesDiffer, "revision_date"},
	WarnDeathDiffers:       {DeathDatesDiffer, "death_date"},
	WarnDeathTaken:         {DeathTaken, "death_date"},
	WarnDeathRows:          {DeathRowsDiffer, "death_date"},
	WarnIdentifier:         {IdentifierOfMany, "patient"},
}

// Warnings are those that the flags of a row give by themselves.
func (f Flags) Warnings() Warnings {
	var w Warnings
	for _, o := range flagWarnings {
		if f&o.flag != 0 {
			w.Add(o.warning)
		}
	}
	return w
}

var flagWarnings = []struct {
	flag    Flags
	warning Warning
}{
	{FlagRevisedUnclear, WarnRevisedUnclear},
	{FlagDeadUnclear, WarnDeadUnclear},
	{FlagBearingContradicts, WarnBearing},
	{FlagFixationContradicts, WarnFixation},
	{FlagJointContradicts, WarnJoint},
	{FlagNotABearing, WarnNotABearing},
	{FlagResurfacingPolyethylene, WarnResurfacing},
	{FlagBMIImpossible, WarnBMI},
	{FlagExtraCells, WarnCells},
	{FlagManyLines, WarnLines},
}
