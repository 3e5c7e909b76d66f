package audit

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
)

// notes says in words what about the data as a whole bears on every estimate.
func notes(a *Audit) []string {
	n := notesOfRows(a)
	add := func(format string, args ...any) { n = append(n, fmt.Sprintf(format, args...)) }
	for _, f := range a.By {
		if n := unshown(a, f); n > 0 {
			add("What is typed as %s of %s is not shown, since it may be about a patient: what stands in few rows is one group, whatever it says. What it stands for can be said in a settings file, under [words.%s].",
				column.Title(f), text.Counted(n, "joint"), f)
		}
	}
	if n := namesAsked(a.Names); n != "" {
		add("%s", n)
	}
	if !a.Deaths.Recorded {
		why := "there is no column for deaths"
		if len(a.Deaths.Without) > 0 {
			why = fmt.Sprintf("there is no column for deaths in %s", strings.Join(a.Deaths.Without, ", "))
		}
		if a.Deaths.Column {
			why = fmt.Sprintf("no row has a death, where about %.0f would be expected at these ages and follow-up", a.Deaths.Expected)
		}
		add("Deaths not recorded (%s): the unknown dead stay at risk, so every estimate comes out too low, and the cumulative incidence is left empty.", why)
	}
	if c := a.Closing; c.Doubtful() {
		add("The closing date %s stands %d days after the next latest date, %s. It comes from row %d, column %s of %s; if that is a typing error, follow-up is too long and every estimate too low. Set it with --closing-date.",
			c.Day, c.GapDays, c.NextLatest, c.Row, c.Column, a.Files[c.File].Name)
	}
	n = append(n, followUpAssumed(a)...)
	if k := a.Account.Lost; k > 0 {
		add("%s lost to follow-up: last seen more than %s before the closing date, neither revised nor dead. Lost ÷ revised is %s; below 1 is usually asked for. What became of these joints is not known; --worst-case shows the estimates with all of them revised.",
			joints(k), span(a.LostAfter), quotient(k, revised(a)))
	}
	if a.Closing.DeathsEnd {
		add("Deaths are known up to %s, so follow-up ends there.", a.Closing.Day)
	}
	if d := a.DeathList; d.Patients > 0 {
		add("The list of deaths names %d patients, %d of them in the table; %d of its rows could not be used, and %d gave a patient another day (the earlier is used).",
			d.Patients, d.Joined, d.Unusable, d.Contradicting)
	}
	if n := pooled(a, "procedure", cohort.NotRecorded); n > 0 {
		add("The procedure of %s is not recorded, so that hardly any published figure can be set beside them. If they are all total replacements, say so with --assume procedure=total.", text.Counted(n, "joint"))
	}
	if n := elsewhere(a); n > 0 {
		add("%s set aside as the same joint again, of a patient who stands in another table. If the tables number their patients separately, make the numbers distinct.", rows(n))
	}
	if follow := followUp(a); follow == 0 {
		add("Nobody has any follow-up: the closing date is the day of the operations. Give the day up to which follow-up is complete with --closing-date.")
	}
	if len(a.DroppedBy) > 0 {
		add("The table has nothing to group by %s, so that is left out.%s", strings.Join(a.DroppedBy, " or "), notUnderstood(a))
	}
	return n
}

// notesOfRows says which rows are not counted, or may not be what they seem.
func notesOfRows(a *Audit) []string {
	var n []string
	add := func(format string, args ...any) { n = append(n, fmt.Sprintf(format, args...)) }
	if k := a.Account.RevisedUndated; k > 0 {
		add("%s set aside because the joint was revised on a day that is not known. The estimates of its groups are too low because of it: %s counted below, and %d more cannot be.",
			rows(k), revisions(revised(a)), k)
	}
	if k := a.Account.PossibleRevisions; k > 0 {
		joints, row := "1 joint that is not revised stands", "row, which is"
		atMost := ""
		if len(a.Endpoint.Reasons) > 0 {
			atMost = "at most "
		}
		if k > 1 {
			joints, row = strconv.Itoa(k)+" joints that are not revised stand", "rows, which are"
		}
		add("%s in the table a second time; the later %s set aside, may be the revision. If so, the number revised would be %s%d instead of %d.",
			joints, row, atMost, revised(a)+int64(k), revised(a))
	}
	if n := notJoined(a); n != "" {
		add("%s", n)
	}
	for _, f := range a.Files {
		if f.Changed {
			add("%s changed while it was read: what was read may be neither the old table nor the new. Read it again.", f.Title())
		}
	}
	for _, f := range a.Files {
		if f.SeenEarly != "" {
			add("%s: %s.", f.Title(), f.SeenEarly)
		}
	}
	for _, r := range a.Account.Warnings {
		if r.Reason == cohort.CellsMissing {
			add("%s fewer cells than the table has headings, unlike the others: if the rows were cut off, revisions, deaths and days last seen are lost with them. holdfast check lists them.", have(r.Rows))
		}
	}
	if k := reasonRows(a, cohort.OperationTypeNotUnderstood); k > 0 {
		add("%s set aside because the operation type is not understood: each may be a primary or a revision, and none is counted. Say in a settings file what the words stand for, under [words.operation_type].", rows(k))
	}
	if k := reasonRows(a, cohort.OperationAfterClosing); k > 0 && a.Closing.Asked {
		add("%s after the closing date %s and set aside. If the table has grown since that date was given, move it.", operations(k), a.Closing.Day)
	}
	return n
}

// followUpAssumed says how much of the follow-up nobody knows, and what that may
// hide, or asks whether a table without a revision has none.
func followUpAssumed(a *Audit) []string {
	var n []string
	if a.Account.NoRevisions {
		n = append(n, "No revision is recorded at all. None happened, or none was entered? The tables can't tell: what follows holds only if none happened.")
	}
	k := a.Account.Assumed
	if k == 0 {
		return n
	}
	said := fmt.Sprintf("Follow-up of %s to the closing date is assumed: no day last seen says that the joint was still in place, and a revision done elsewhere is not known of.", text.Counted(int64(k), "joint"))
	if a.Account.Known == 0 {
		said += " How many are lost can't be worked out, nor the worst case of these."
	}
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Pooling == AllJoints {
			said += mayHide(g)
		}
	}
	return append(n, said)
}

// mayHide is what the assumed follow-up of all joints of a joint and procedure may
// hide, at the latest year with enough at risk; nothing if there is none.
func mayHide(g *Group) string {
	r := latestOf(g, survival.DefaultMinAtRisk)
	if r == nil || r.Known == nil {
		return ""
	}
	least := ", nobody known to have been followed so long"
	if e := r.Known.Estimate; e == e {
		least = fmt.Sprintf(", %.1f %% if these were followed no further than the day of the operation", 100*e)
	}
	if r.Known.Estimate == r.KaplanMeier.Estimate {
		least = ""
	}
	return fmt.Sprintf(" %s, %s: %d of %d, %.1f %% at %s as assumed%s; each revision not known of adds %s.",
		text.Capital(g.Word("joint")), g.Word("procedure"), g.Assumed, g.Joints, 100*r.KaplanMeier.Estimate, text.InYears(r.Years), least, text.InPoints(g.Adds(r)))
}

// latestOf is a group's last row asked for with so many at risk, or else 10; nil if
// there is none.
func latestOf(g *Group, floor float64) *Row {
	rows := g.Rows()
	for _, least := range []float64{floor, benchmark.FewestAtRisk} {
		for i := range slices.Backward(rows) {
			if r := &rows[i]; r.Requested && r.Reached && r.KaplanMeier.AtRisk >= least {
				return r
			}
		}
	}
	return nil
}

// namesAsked says that some groups may be one; nothing if none may.
func namesAsked(asked []cohort.NameQuestion) string {
	var names []string
	for _, q := range asked[:min(3, len(asked))] {
		names = append(names, fmt.Sprintf("%s (%s) may be %s", q.Name, text.Counted(int64(q.Rows), "row"), q.MayBe[0].Value))
	}
	if names == nil {
		return ""
	}
	if more := len(asked) - len(names); more > 0 {
		names = append(names, fmt.Sprintf("%d more", more))
	}
	return fmt.Sprintf("Names that may be one make groups of their own: %s. holdfast check lists them, with the line of a settings file that settles each.", strings.Join(names, "; "))
}

// notJoined says how many recorded revisions belong to no joint, and what the
// number revised would be at most if each did.
func notJoined(a *Audit) string {
	total := 0
	var why []string
	for _, r := range a.Account.Unjoined {
		total += r.Rows
		switch r.Reason {
		case cohort.RevisionWithoutPrimary:
			why = append(why, fmt.Sprintf("%d whose primary is not in the table", r.Rows))
		case cohort.RevisionBeforePrimary:
			why = append(why, fmt.Sprintf("%d before the primary of the joint", r.Rows))
		case cohort.RevisionUnlinkable:
			why = append(why, fmt.Sprintf("%d without patient, joint or side", r.Rows))
		case cohort.NotPrimary:
			why = append(why, fmt.Sprintf("%d named by the procedure alone, or without a patient", r.Rows))
		}
	}
	whole := ""
	if n := a.Account.UnjoinedOfWhole; n > 0 {
		whole = fmt.Sprintf("Of the table of revisions %d belong to no joint. Whether they belong to the rows looked at here is not known: the audit of all rows counts them.", n)
	}
	if total == 0 {
		return whole
	}
	said := "1 revision that stands in a row of its own is not counted"
	if total > 1 {
		said = fmt.Sprintf("%d revisions that stand in rows of their own are not counted", total)
	}
	said += ", because it could not be joined to a joint in use: " + strings.Join(why, ", ") + "."
	if total > 1 {
		said = strings.Replace(said, "because it could", "because they could", 1)
	}
	if more := a.Account.UnjoinedJoints; more > 0 {
		said += fmt.Sprintf(" If each belonged to a joint in the table, the number revised would be up to %d instead of %d.", revised(a)+int64(more), revised(a))
	}
	return strings.TrimSpace(said + " " + whole)
}

// reasonRows is the number of rows set aside for a reason.
func reasonRows(a *Audit, reason cohort.Reason) int {
	for _, r := range a.Account.Reasons {
		if r.Reason == reason {
			return r.Rows
		}
	}
	return 0
}

func operations(n int) string {
	if n == 1 {
		return "1 operation is"
	}
	return strconv.Itoa(n) + " operations are"
}

// revised is the number revised in all groups that pool everything.
func revised(a *Audit) int64 {
	var n int64
	for _, g := range a.Groups {
		if g.Pooling == AllJoints {
			n += g.Revised
		}
	}
	return n
}

// unshown is the number of joints whose word in a field is not shown.
func unshown(a *Audit, field string) int64 {
	var n int64
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Pooling == OneField && g.Field() == field && (cohort.Word{Typed: g.Word(field)}).FreeText() {
			n += g.Joints
		}
	}
	return n
}

// pooled is the number of joints whose word in a field is the one given.
func pooled(a *Audit, field, word string) int64 {
	var n int64
	for _, g := range a.Groups {
		if g.Pooling == AllJoints && g.Word(field) == word {
			n += g.Joints
		}
	}
	return n
}

// followUp is the total of all follow-up in years.
func followUp(a *Audit) float64 {
	total := 0.0
	for _, g := range a.Groups {
		if g.Pooling == AllJoints {
			total += g.ImplantYears
		}
	}
	return total
}

// elsewhere is the number of rows set aside as repeats of a row of another
// table.
func elsewhere(a *Audit) int { return a.Account.RepeatsElsewhere }

// notUnderstood names headings that no column was found for.
func notUnderstood(a *Audit) string {
	const most = 6
	var names []string
	for _, f := range a.Files {
		for _, h := range f.Headings {
			if h.How == cohort.Unmatched && h.Typed != "" && len(h.Typed) <= 60 && len(names) < most {
				names = append(names, strconv.Quote(h.Typed))
			}
		}
	}
	if len(names) == 0 {
		return ""
	}
	return fmt.Sprintf(" Headings that were not understood: %s. If one of them is meant, say so in a settings file, under [columns].", strings.Join(names, ", "))
}

func revisions(n int64) string {
	if n == 1 {
		return "1 revision is"
	}
	return fmt.Sprintf("%d revisions are", n)
}

func rows(n int) string {
	if n == 1 {
		return "1 row is"
	}
	return strconv.Itoa(n) + " rows are"
}

func have(n int) string {
	if n == 1 {
		return "1 row has"
	}
	return strconv.Itoa(n) + " rows have"
}

func joints(n int) string {
	if n == 1 {
		return "1 joint is"
	}
	return strconv.Itoa(n) + " joints are"
}

// span is a number of days in words: years, if they are whole.
func span(days int) string {
	switch {
	case days == 365 || days == 366:
		return "a year"
	case days > 0 && days%365 <= days/1461+1:
		return fmt.Sprintf("%d years", days/365)
	}
	return fmt.Sprintf("%d days", days)
}

// quotient of lost and revised joints, in words.
func quotient(lost int, revised int64) string {
	if revised == 0 {
		return fmt.Sprintf("%d ÷ 0", lost)
	}
	return fmt.Sprintf("%d ÷ %d = %.1f", lost, revised, float64(lost)/float64(revised))
}

// method says in words how the numbers were made.
func method(a *Audit) []string {
	level, floor := a.Confidence(), a.Floor()
	event := "Event: first revision, any operation that adds, removes or exchanges a component"
	if len(a.Endpoint.Reasons) > 0 {
		event = fmt.Sprintf("Event: first revision, for %s; revision for another reason, or one not recorded, competes, as death does", strings.Join(a.Endpoint.Reasons, " or "))
	}
	intervals := fmt.Sprintf("%s %% intervals: %s", percent(level), a.Interval.Method)
	switch a.Interval.Method {
	case survival.LogLog:
		intervals += ", on log(−log S) for Kaplan–Meier and on log(−log F) for the incidence"
	case survival.Log, survival.BetaProduct:
		intervals += " for Kaplan–Meier; the incidence keeps log-log, on log(−log F)"
	}
	m := []string{
		event + ". Unit: the joint. Time: whole days from operation; a year is 365.25 days, and y years are reached on day 365.25·y rounded down.",
		"Cumulative revision (Kaplan–Meier): what the implant would do if nobody died; for comparing implants.",
		"Cumulative incidence (Aalen–Johansen): what happens to these patients, death competing; for counselling and planning. The two are not compared with each other.",
		"Standard errors: Greenwood variance for both. " + intervals + ". No revision so far: 0 to 1−(α/2)^(1/Y), Y seen to that day; for the incidence Y over the proportion free of revision and death.",
		"Rates: revisions per 100 implant-years with exact Poisson limits; a rate hides a hazard that changes.",
		marks(floor),
	}
	if compared(a) {
		m = append(m,
			"Difference: own − published, limits from both intervals (MOVER). A published figure without limits may be off by its rounding; the reading takes it to have at least the error of its number of joints, where that is published.",
			"Reading, from the own beta product interval (incidence: Clopper–Pearson on the effective number) and the published limits: \"above\" or \"below\" if the difference's limits exclude 0; \"too few to say\" below 10 at risk, or where so few are at risk that even a group without a single revision could not be told from the published figure; else \"compatible with\", which is no evidence of a difference and not \"as good as\".",
			"Beside what is published: each published series meets the own joints that meet everything it states, and is read beside them alone; series of the same own joints are read together. Not read are those of a subset, one centre or surgeon, pooled studies, or other years of operation.",
			"Observed/expected: revisions beside those the published figures would give, each joint counted to the last published year that the closing date reaches, or to its revision, death or last day seen if that is earlier; limits from the exact Poisson limits of the observed count and the published limits. No reading is taken from it.")
	}
	return m
}

// marks says what is marked below a floor, which may be none, and what stands
// for an estimate on very few.
func marks(floor float64) string {
	const few = "Below 10 at risk revised/joints stands instead."
	if floor <= 0 {
		return few
	}
	return fmt.Sprintf("Marked *: fewer than %s at risk, where one more revision moves the estimate by more than %s points. %s",
		trim(floor), trim1(100/floor), few)
}

func compared(a *Audit) bool {
	if len(a.Beside) > 0 {
		return true
	}
	for _, g := range a.Groups {
		for _, r := range g.Kept {
			if len(r.Thresholds) > 0 {
				return true
			}
		}
	}
	return false
}

func trim(x float64) string  { return strconv.FormatFloat(x, 'f', -1, 64) }
func trim1(x float64) string { return strings.TrimSuffix(strconv.FormatFloat(x, 'f', 1, 64), ".0") }

func percent(p float64) string {
	return strings.TrimRight(strings.TrimRight(strconv.FormatFloat(100*p, 'f', 4, 64), "0"), ".")
}

// cautions stand on every report.
func cautions() []string {
	return []string{
		"A description of one practice's own table, not a verdict on it. Small numbers; confounded by case mix; revisions done elsewhere may be missing.",
		"No evidence of a difference is not \"as good as\".",
		"Not a basis for a decision about one patient. It does not replace the national registry, the department's governance, or licensed clinical judgement.",
	}
}

// Event names the end point in words.
func (a *Audit) Event() string { return a.Endpoint.String() }
