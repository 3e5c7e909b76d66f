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
func (w Warnings) All() iter.Seq2[Reason, Column] {
	return func(yield func(Reason, Column) bool) {
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
	column Column
}{
	WarnLost:               {LostToFollowUp, ColumnSeenDate},
	WarnDeadUndated:        {DeadWithoutDateCensored, ColumnDead},
	WarnDeathUnreadable:    {DeadWithoutDateCensored, ColumnDeathDate},
	WarnRevisionOnTheDay:   {RevisionOnTheDay, ColumnRevisionDate},
	WarnRevisionAfterDeath: {RevisionAfterDeath, ColumnDeathDate},
	WarnSeenUnusable:       {LastSeenUnusable, ColumnSeenDate},
	WarnSeenBefore:         {LastSeenBeforeOperation, ColumnSeenDate},
	WarnRevisedNo:          {RevisedNoWithDate, ColumnRevised},
	WarnDeadNo:             {AliveWithDeathDate, ColumnDead},
	WarnAge:                {AgeUnreadable, ColumnAge},
	WarnBirthYear:          {AgeUnreadable, ColumnBirthYear},
	WarnBirthDate:          {AgeUnreadable, ColumnBirthDate},
	WarnAgeDisagrees:       {AgeDisagrees, ColumnAge},
	WarnReason:             {ReasonWithoutRevision, ColumnRevisionReason},
	WarnSide:               {SideMissing, ColumnSide},
	WarnRevisedUnclear:     {YesNoUnreadable, ColumnRevised},
	WarnDeadUnclear:        {YesNoUnreadable, ColumnDead},
	WarnBearing:            {BearingContradictsParts, ColumnBearing},
	WarnFixation:           {FixationContradictsParts, ColumnFixation},
	WarnJoint:              {JointContradictsProcedure, ColumnJoint},
	WarnNotABearing:        {NotABearing, ColumnBearing},
	WarnResurfacing:        {ResurfacingWithPolyethylene, ColumnBearing},
	WarnBMI:                {BMIOutOfRange, ColumnBMI},
	WarnCells:              {CellsBeyondHeadings, WholeRow},
	WarnCut:                {CellsMissing, WholeRow},
	WarnLines:              {CellOverManyLines, WholeRow},
	WarnRevisionDiffers:    {RevisionDatesDiffer, ColumnRevisionDate},
	WarnDeathDiffers:       {DeathDatesDiffer, ColumnDeathDate},
	WarnDeathTaken:         {DeathTaken, ColumnDeathDate},
	WarnDeathRows:          {DeathRowsDiffer, ColumnDeathDate},
	WarnIdentifier:         {IdentifierOfMany, ColumnPatient},
}

// Warnings are those that the flags of a row give by themselves.
func (f Flags) Warnings() Warnings {
	var w Warnings
	if f&anyWarning == 0 {
		return w
	}
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

// anyWarning is all flags that give one.
var anyWarning = func() (all Flags) {
	for _, o := range flagWarnings {
		all |= o.flag
	}
	return all
}()
