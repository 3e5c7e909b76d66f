package gather

import (
	"cmp"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
)

// Instruction is what somebody who mends a table is to do about the rows that
// have one of several reasons.
type Instruction struct {
	List    string // what the rows are asked for by
	Do      string
	How     string // further words; "" where Do says it all
	Nothing bool   // the rows are as they should be, if the reason is right
	reasons []cohort.Reason
}

// instructions in the order in which they are best worked through: what hides
// or distorts revisions comes first.
var instructions = []Instruction{
	{List: "closing-date", Do: "Move the closing date, if the table has grown", How: "These operations are later than the day up to which follow-up is complete, so that they are set aside. If follow-up is complete to a later day by now, say so: --closing-date, or closing_date in the settings file (and deaths_complete_to, if deaths are known up to a later day).",
		reasons: []cohort.Reason{cohort.OperationAfterClosing}},
	{List: "revision-date", Do: "Fill in the date of revision", reasons: []cohort.Reason{cohort.RevisedWithoutDate, cohort.RevisionUndated}},
	{List: "operation-type", Do: "Say what the operation type stands for", How: "In a settings file, under [words.operation_type]: the word as typed = \"primary\" or \"revision\". The words stand below, under the words to settle. Until then these rows are set aside.",
		reasons: []cohort.Reason{cohort.OperationTypeNotUnderstood}},
	{List: "its-revision", Do: "Is this row a revision?", How: "If it is, enter its date as the first row's date of revision, and take this row out. If it is the other side, correct the side.",
		reasons: []cohort.Reason{cohort.PossibleRevision}},
	{List: "reason-only", Do: "Was the joint revised?", How: "If it was, fill in the date of revision; if not, take the reason out.", reasons: []cohort.Reason{cohort.ReasonWithoutRevision}},
	{List: "century", Do: "Say the century of two-digit years", How: "With --pivot 30, or pivot = 30 in the settings file, 29 is read as 2029 and 30 as 1930: choose the number between the latest year of this century and the earliest of the last. Or type the years in full.",
		reasons: []cohort.Reason{cohort.OperationYearShort, cohort.RevisionYearShort}},
	{List: "dates", Do: "Correct the date", reasons: []cohort.Reason{
		cohort.OperationDateImpossible, cohort.DateInFuture, cohort.RevisionDateImpossible, cohort.RevisionBeforeOperation, cohort.RevisionBeforePrimary,
		cohort.DeathBeforeOperation, cohort.RevisionOnTheDay, cohort.RevisionAfterDeath, cohort.LastSeenBeforeOperation, cohort.LastSeenUnusable,
	}},
	{List: "operation-date", Do: "Fill in the date of operation", reasons: []cohort.Reason{cohort.OperationDateMissing}},
	{List: "both-sides", Do: "Make two rows of it, one for each side", reasons: []cohort.Reason{cohort.BothSides}},
	{List: "twice", Do: "Is it entered twice?", How: "If it is, take one of the two rows out. If it is the other side, correct the side.", reasons: []cohort.Reason{cohort.DuplicateRow}},
	{List: "age", Do: "Correct the age or the date of birth", reasons: []cohort.Reason{cohort.AgeOutOfRange, cohort.AgeUnreadable, cohort.AgeDisagrees}},
	{List: "death-date", Do: "Fill in the date of death", reasons: []cohort.Reason{cohort.DeadWithoutDate, cohort.DeadWithoutDateCensored, cohort.DeathUndated}},
	{List: "lost", Do: "Look up what became of the patient", How: "Fill in the day last seen, and the revision or the death if there was one.", reasons: []cohort.Reason{cohort.LostToFollowUp}},
	{List: "unjoined", Do: "Fill in what is missing", How: "Without the patient, joint and side a revision is joined to no primary, and without the patient a death to nobody.",
		reasons: []cohort.Reason{cohort.RevisionUnlinkable, cohort.DeathUnlinkable}},
	{List: "no-primary", Do: "Is the primary missing from the table?", How: "If it is, add it, or correct the patient, joint or side. If it was done elsewhere, leave the row as it is.", reasons: []cohort.Reason{cohort.RevisionWithoutPrimary}},
	{List: "contradictions", Do: "Say which of the two is right", How: "Correct the other.", reasons: []cohort.Reason{
		cohort.RevisedNoWithDate, cohort.AliveWithDeathDate, cohort.RevisionDatesDiffer, cohort.DeathDatesDiffer, cohort.DeathRowsDiffer, cohort.DeathContradicted,
		cohort.BearingContradictsParts, cohort.FixationContradictsParts, cohort.JointContradictsProcedure,
	}},
	{List: "yes-no", Do: "Type yes or no", reasons: []cohort.Reason{cohort.YesNoUnreadable}},
	{List: "same-person", Do: "Is this one patient?", How: "If it is, give both rows the same identifier.", reasons: []cohort.Reason{cohort.TwoIdentifiers}},
	{List: "zeros", Do: "Write the identifier with all its zeros", How: "A spreadsheet takes away the zeros before a number. Write the identifier in full in every row and table, as text; where these are two patients, make the numbers differ in more than that.",
		reasons: []cohort.Reason{cohort.IdentifierZeros, cohort.IdentifierZerosJoined}},
	{List: "identifiers", Do: "Give each patient an identifier of their own", How: "This one stands at operations of more than six days, so that it is no patient's. Until then each of these rows counts as a patient, and no revision or death of another row is joined to it.",
		reasons: []cohort.Reason{cohort.IdentifierOfMany}},
	{List: "side", Do: "Fill in the side", reasons: []cohort.Reason{cohort.SideMissing}},
	{List: "bmi", Do: "Correct the body mass index", reasons: []cohort.Reason{cohort.BMIOutOfRange}},
	{List: "bearing-words", Do: "Correct the bearing or the procedure", reasons: []cohort.Reason{cohort.NotABearing, cohort.ResurfacingWithPolyethylene}},
	{List: "broken-rows", Do: "Mend the row", How: "Look for a delimiter or a quotation mark too many or too few.", reasons: []cohort.Reason{cohort.RowUnreadable, cohort.CellsBeyondHeadings, cohort.CellsMissing, cohort.CellOverManyLines}},
	{List: "look", Do: lookAtRow},
	{List: "as-they-are", Do: "Nothing to do, if the reason is right", Nothing: true, reasons: []cohort.Reason{
		cohort.NotAJoint, cohort.NotPrimary, cohort.RevisionJoined, cohort.RevisionLater, cohort.RevisionIsPrimary, cohort.DeathTaken,
	}},
}

// Whole is an instruction in one text.
func (in Instruction) Whole() string {
	switch {
	case in.How == "":
		return in.Do
	case strings.HasSuffix(in.Do, "?"):
		return in.Do + " " + in.How
	}
	return in.Do + ". " + in.How
}

// lookAtRow is the instruction for reasons that have none of their own.
const lookAtRow = "Look at the row, and correct what is wrong"

// instructionFor is the place of a reason's instruction among instructions,
// and the place of the reason within it.
func instructionFor(r cohort.Reason) (instruction, reason int) {
	other := 0
	for i, in := range instructions {
		if j := slices.Index(in.reasons, r); j >= 0 {
			return i, j
		}
		if in.Do == lookAtRow {
			other = i
		}
	}
	return other, int(r)
}

// AsTheyAre says of a reason that there is nothing to do about its rows, if it is right.
func AsTheyAre(r cohort.Reason) bool {
	at, _ := instructionFor(r)
	return instructions[at].Nothing
}

// problems are those of all rows: set aside, warned of, and rows of tables of
// revisions; by instruction, reason, file and row.
func problems(c *cohort.Cohort) []cohort.Problem {
	all := c.Problems()
	slices.SortStableFunc(all, func(a, b cohort.Problem) int {
		ai, ar := instructionFor(a.Reason)
		bi, br := instructionFor(b.Reason)
		return cmp.Or(cmp.Compare(ai, bi), cmp.Compare(ar, br), cmp.Compare(a.File, b.File), cmp.Compare(a.Row, b.Row))
	})
	return all
}
