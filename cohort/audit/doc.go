// Package audit makes one audit of an outcomes table: what was read and set
// aside, cumulative revision by group, and the comparison with published
// figures, as plain data. Text tables, files and figures are made from it and
// compute nothing of their own.
//
//	c, err := cohort.Read(ctx, sources, cohort.Options{})
//	a, err := audit.Run(c, audit.Options{})
//	err = audit.WriteCSV(os.Stdout, a)
//
// # Groups
//
// Joint and procedure always separate the audit: nothing is pooled across
// them. Within each stand first all joints, then each field asked for by
// itself with the others pooled, then the cells of all fields that occur.
//
// # Notes
//
// A row's notes are fixed codes:
//
//	beyond follow-up            nobody was followed that long: own values are empty
//	no events                   no revision so far; limits from the number seen to that time
//	few at risk                 fewer at risk than the floor
//	everybody failed            every joint at risk was revised; limits of the beta product
//	last observation an event   the curve ends in a revision, on very few joints
//	deaths not recorded         the unknown dead stay at risk: the estimates come out too low
//	no own value                there is no own estimate of the published figure's kind
//	published limits rounded    the published limits equal the figure: treated as absent
//	rounding only               no published error is known but rounding, in the difference
//	published error unknown     nor is there a number of joints: the reading rests on rounding alone
//	published error at least that of its joints  the least error the published figure can have is read with
//	made from numbers at risk   published limits are made from published numbers at risk
//	fewer than 10 at risk       nothing is read from fewer
//	zero revised could not read below  so few at risk that not even none revised would
//	published limits reach 0    nothing can read below
//	other level                 the published limits have another level: no difference limits
//	near the line               the printed difference limits would read otherwise
//	diagnosis not recorded: taken as osteoarthritis  no table has a diagnosis, and the series is of osteoarthritis (in comparisons)
//	hidden for sharing          numbers of the row are hidden, see below
//
// # Sharing
//
// [Share] makes of an audit another that is safe to leave the building. Its
// rules are the common practice of official statistics for small numbers; no
// source is claimed for them.
//
//   - Counts of 1 to 7 are hidden (primary suppression). Other counts are rounded
//     to the nearest 5: 8 to 10; 0 stays 0.
//   - Further counts are hidden so that those cannot be worked out (secondary
//     suppression); see below.
//   - Points are of whole years alone, and of years that every group of a joint and
//     procedure has. Curves, life tables, standard errors, the worst case, and the
//     groups of all fields at once are left out.
//   - An estimate is hidden where the joints of the group, the number at risk or the
//     number revised so far is, since each can be worked out from it. One that stays is
//     rounded to a step worth five joints of the group. Its limits are made anew from the
//     rounded estimate and the rounded effective number, and rounded outwards to the step.
//   - Rates, differences and observed/expected are made anew from rounded numbers.
//     Published figures are public and stay. A reading was made from the exact numbers,
//     and stays where the estimate does.
//   - There are no row numbers, no dates but years, no names of files, no headings and
//     no words as typed: "surgeon 1", "other bearing 2". The names of fields asked for stay.
//
// The CSV has the same columns. A hidden number is * there, and the string "*" in
// JSON; what is not defined is empty, as in any audit. In the data a hidden count
// is [Suppressed], another hidden number NaN.
//
// What is hidden further. The groups of one field add up to all joints; at each
// year so do the numbers at risk, revised and dead. Where a group's count is
// hidden and that of all joints is not, others of the same field are hidden with
// it: the smallest that suffices, over the same years; if none does alone, the
// smallest, and so on; if all are hidden already, the count is hidden at one more
// year too, one where it is 0 first; in the end the counts of all groups, with their total. It suffices if,
// to a reader who knows every shown number of its kind exactly, unrounded, at all
// years, who knows that numbers at risk fall and numbers revised rise with the
// years, and that nobody is revised after the last follow-up,
//
//   - all hidden counts of the field together are at least 8, so that no sum is small;
//   - at least five of the values 1 to 7 are possible for a count hidden because it is
//     small, as many as a rounded count stands for;
//   - at least two values are possible for any other hidden count.
//
// That values are possible is not estimated: a whole set of other counts that
// agrees with everything shown is constructed for each. Since the groups of all
// fields at once are left out, and any counts of two fields with the same total
// have a table of both, fields do not give each other away. A count is also
// hidden where rounding hides nothing: 8, 8, 8 and 8 are 32, and no other
// numbers shown as 10, 10, 10 and 10 have a total shown as 30.
//
// A difference between two years, or between joints and revised, is a count too.
// It is protected by rounding: two numbers known to ±2 leave their difference nine
// values, five if it is shown as 0. The tests solve, with linear programs, all that is shown
// of random tables for each hidden count and each difference between years.
//
// What this does not protect against: somebody who knows a patient, and finds
// that patient's group; two shared reports of overlapping scopes, or of the same
// practice in two years, subtracted from each other, which rounding blurs and
// nothing else; whoever has the table. A reader who knows how the
// choice is made may now and then tell which of two hidden counts was small, though
// not its value. Readings, and which rows are hidden, were decided by the exact numbers.
package audit
