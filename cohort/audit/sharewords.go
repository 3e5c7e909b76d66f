package audit

import (
	"fmt"
	"strings"
)

// shareNotes says what about the data as a whole bears on every estimate of a
// shared audit.
func shareNotes(a *Audit) []string {
	s := a.Shared
	n := []string{fmt.Sprintf("Made for sharing. %s stands for a hidden number: %d counts are hidden because they are 1 to 7, %d more so that those cannot be worked out, and %d estimates with them. The other %d counts are rounded to the nearest 5.",
		Hidden, s.Small, s.Further, s.Estimates, s.Rounded)}
	if s.Groups > 0 {
		n = append(n, "The groups of all fields at once are left out.")
	}
	if s.WorstCase {
		n = append(n, "The worst case is left out: beside the other estimates it would show how many joints were lost when.")
	}
	about := func(k int, what string) {
		if k != 0 {
			n = append(n, fmt.Sprintf(what, Count(int64(k))))
		}
	}
	about(a.Account.RevisedUndated, "Rows set aside because the joint was revised on a day that is not known: %s. Every estimate is too low because of them.")
	about(a.Account.PossibleRevisions, "Joints that stand in the table a second time, where the later row may be the revision: %s. Every estimate is too low if it is.")
	about(a.Account.Lost, "Joints lost to follow-up: %s. What became of them is not known.")
	if !a.Deaths.Recorded {
		n = append(n, "Deaths not recorded: the unknown dead stay at risk, so every estimate comes out too low, and the cumulative incidence is left empty.")
	}
	if a.Closing.DeathsEnd {
		n = append(n, "Follow-up ends where deaths are no longer known.")
	}
	if len(a.DroppedBy) > 0 {
		n = append(n, fmt.Sprintf("The table has nothing to group by %s, so that is left out.", strings.Join(a.DroppedBy, " or ")))
	}
	return n
}

// shareMethod says how the numbers of a shared audit were made.
func shareMethod(a *Audit) []string {
	level := a.Interval.Level
	if level == 0 {
		level = 0.95
	}
	m := method(a)[:3] // the event, and what the two estimates mean
	m = append(m,
		"Sharing: counts of 1 to 7 are hidden, and as many others as are needed so that none of them can be worked out from totals or over the years; other counts are rounded to the nearest 5. Points are of whole years alone. An estimate is hidden where the joints, the number at risk or the number revised so far is.",
		fmt.Sprintf("Estimates are rounded to a step worth five joints of the group. %s %% intervals: %s, made from the rounded estimate and the effective number F(1−F)/SE² rounded to the nearest 5, and rounded outwards to the step. No revision so far: 0 to 1−(α/2)^(1/Y), Y the rounded number at risk. Standard errors are left out.",
			percent(level), a.Interval.Method),
		"Rates: revisions per 100 implant-years with exact Poisson limits, from the rounded numbers of both; a rate hides a hazard that changes.")
	if compared(a) {
		m = append(m,
			"Difference: own − published, from the rounded estimate and its limits (MOVER). A published figure without limits may be off by its rounding; the reading takes it to have at least the error of its number of joints, where that is published.",
			"Reading: made from the exact numbers. \"too few to say\" below 10 at risk, or where so few are at risk that even a group without a single revision could not be told from the published figure; \"compatible with\" is no evidence of a difference and not \"as good as\". There is none where the estimate is hidden.",
			"Observed/expected: both rounded, expected to a step worth five joints followed to the last published year; exact Poisson limits. No reading is taken from it.")
	}
	return m
}

// shareCautions stand on every shared report.
func shareCautions(*Audit) []string {
	return append(cautions(),
		"Made so that it can be shared; it does not hide a patient from somebody who knows the patient, and two shared reports, figures or files of one table or of overlapping ones hide different numbers and can be subtracted from each other: share one.")
}
