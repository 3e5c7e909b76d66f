// Package survival estimates, from times to an event, how many subjects have
// had the event by a given time, with standard errors and confidence limits.
// It knows nothing of joints, tables or files.
//
// # The way through
//
//  1. A [Sample] is one row per subject, in columns: when it came under
//     observation, when observation ended, and why.
//  2. [NewTable] turns a sample into a life table, [Table]. Package
//     [example.org/holdfast/survival/tally] builds the same table, to the bit,
//     from whole-day counts, without sorting.
//  3. [KaplanMeier], [CumulativeIncidence] and [NelsonAalen] turn a table into
//     a [Curve] or a [Hazard]; [Both] makes the first two at once. [Robust] takes the
//     sample itself: with sampling weights or clusters the variance can't be had from
//     the table.
//  4. [Curve.At], [Curve.Quantile] and [Curve.RestrictedMean] read a curve, a
//     [Reader] at many times. Confidence limits are made there, from the estimate
//     and its standard error, so an estimate never depends on how its limits are
//     made.
//  5. [LogRank] and [Gray] test, from the tables of groups, whether they differ
//     over their whole follow-up; [Standardise] gives the groups' incidences one
//     mix of strata, and [SmoothHazard] shows when events come. Package
//     [example.org/holdfast/survival/regress] estimates by how much, given
//     other things known of the subjects.
//
// # Notation
//
// Distinct times are t_1 < t_2 < …. At t_i, n_i subjects are at risk just
// before, d_ki have the event of cause k, and d_i = Σ_k d_ki. S(t) is the
// proportion free of every event, F_k(t) the proportion that has had the event
// of cause k; S(t−) is the value just before t.
//
// # Conventions
//
//   - At one time, events come before censoring and before entry: a subject
//     censored at t is at risk for the events of t; a subject that enters at t
//     is not.
//   - Curves are right-continuous: the value at t counts the events at t.
//   - Ties between causes are counted as they stand, never broken.
//   - Nothing is estimated beyond the last time of observation.
//   - The estimate kept is always the cumulative incidence (for Kaplan–Meier,
//     one minus survival); [Point.Survival] is the one place that turns it over.
//   - SE is always the standard error of that incidence, Level is always a
//     confidence level such as 0.95.
//   - What qualifies a result is a [Note] on it, not an error.
//
// Estimates and standard errors are the same to the bit on every machine:
// products are rounded explicitly, so that no compiler fuses them into sums.
package survival
