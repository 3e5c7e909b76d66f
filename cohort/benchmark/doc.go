// Package benchmark holds published figures of how many implants have been
// revised by when, finds those that cover a group of one's own, and sets one's
// own estimate beside them.
//
// # The way through
//
//  1. [Read] reads a file of published figures into series; [Builtin] are those
//     that come with the package. [Write] writes such a file.
//  2. [NewKind] prepares a series' population, and [Kind.Fit] says whether own
//     joints meet everything it states. Each series meets the own joints of its
//     kind: it does not choose a group, and a group does not choose a series.
//     [Series.Other] says why one is never read.
//  3. [Compare] and [CompareThreshold] make a [Comparison]: difference, limits
//     and reading; [ReadTogether] sums those of one own estimate beside several
//     figures. [ObservedExpected] counts revisions beside those expected over
//     complete intervals, [ShareOf] those of a unit beside its department's.
//  4. [FunnelLimits], [BinomialFunnel] and [FunnelSide] say what chance alone does.
//
// # The file
//
// CSV in UTF-8, separated by commas, or by semicolons and then with decimal
// commas allowed. [Columns] lists the columns, which may be in any order. Headings and
// words are read as those of an outcomes table are: an operation THR is total.
//
// A table may be wide, as reports print it: instead of years and revision_pct a
// column for each year, headed 1 yr, 3 Years or 5y.
//
// Lines that start with # may stand above the headings. What holds for the whole
// file may stand there once, as "# source: …", "# joint: hip", "# estimand: 1-KM",
// "# period: 2003-2023". Four lines say what the figures are:
//
//	# unit: per cent         or fraction; asked for where every figure is below 1
//	# figures: survival      or revision; asked for where every figure is above 50
//	# time: years            asked for where every year is a multiple of 12
//	# follow-up: complete    the number of joints alone gives limits
//
// Figures without limits get some from the numbers at risk ([Figure.MadeLower]),
// or from how they were rounded. A figure printed coarser than its limits is read
// at their centre ([Figure.Centre]).
//
// An empty attribute, "*" or "all" leaves it open: the figure is of all values
// together. A word may be a pattern, in which * stands for any characters and |
// separates alternatives: *-on-crosslinked-polyethylene, cemented|hybrid; after !
// it is anything else that is recorded. Case does not count. A word that is not canonical is kept, with a warning.
//
// Rows alike in all but years and what stands beside a figure are one [Series]; they share one citation. Refused, each with
// its row and column: numbers out of range, one limit without the other, limits
// that do not enclose their figure, a threshold with limits, two figures of a
// series at one time, a series that falls with time, a figure without a
// citation. Limits of which one equals the figure have been rounded away; they
// are treated as absent, with the note [LimitsRounded]. At 0 and 100 % a limit
// may equal its figure.
//
// # The reading
//
// 1-KM meets one's own Kaplan–Meier estimate, the cumulative incidence one's own
// cumulative incidence; nothing else meets. The reading is made at the figure's
// confidence level from limits of the difference ([MOVER]) between
//
//   - the own interval: of the beta product for Kaplan–Meier; for the incidence
//     (and for a curve with a robust variance) of Clopper and Pearson on
//     n* = F(1−F)/SE² and x* = F·n*; where none or all have been revised, the
//     point's own exact limits ([survival.Curve.At]);
//   - and the published limits. A figure without limits has at least the error of
//     as many joints all followed, or where their number is not known that of its
//     rounding, with a note: [LeastError], [RoundingOnly], [ErrorUnknown].
//
// In this order:
//
//  1. too few to say: no own value, or fewer than 10 at risk;
//  2. above: the lower limit of the difference is above 0;
//  3. too few to say: not even zero revised could read below. Y being the number
//     seen to the time ([survival.Point]), the interval 0 to 1 − (α/2)^(1/Y) would not. Against a
//     figure taken as exact this is Y < ln(α/2)/ln(1 − published): 5 % needs 72
//     joints seen to the time, 4.4 % 82, 1 % 368. See [Needed];
//  4. below: the upper limit of the difference is below 0;
//  5. compatible with: no evidence of a difference, which is not evidence that
//     there is none.
//
// The limits printed with a difference are made from the interval that was asked
// for. Where they would read otherwise, the comparison has the note
// [NearTheLine].
//
// Why these intervals: simulated at 50 to 800 joints, with 4 to 8 % revised at
// ten years, read at five and at ten, with deaths and heavy censoring, the log-log interval
// of Kaplan–Meier lies wholly above the truth 2.7 to 3.9 % of the time, and the
// plain one wholly below it 5 to 8 % of the time with 500 joints and far more
// often with fewer, as it has no width until the first revision. The log-log
// interval of the incidence lies wholly below it up to 3.0 % of the time. The beta product
// (up to 2.1 % above, 1.5 % below) and the interval on n* (2.2 and 2.4 %) stay within 2.5 % on either
// side, and so does the reading. SIMULATION.md beside this file has the tables
// and says how to make them again.
//
// # Several figures
//
// Figures of the same own joints, year and estimand are read together
// ([Together]): "above all 3" where each reads above, "above 1 of 3" where none
// reads below, "between them". A word that needs all is an intersection–union
// test: it errs no more often than each reading does.
//
// # The built-in figures
//
// data/figures.csv; data/NOTES.md beside it says where each figure comes from,
// what was left out and why. Only figures with a journal's or a guidance
// document's citation, whose values were seen, are in it. They are mostly of
// whole joints at ten years and more; figures by bearing, and at one, three and
// five years, stand in registries' yearly reports, and users bring them in a
// file of their own.
package benchmark
