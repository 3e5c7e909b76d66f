// Package regress fits regression models to times to an event: by how much does
// the rate of the event differ between subjects, given other things known of
// them? It knows nothing of joints, tables or files.
//
//   - [Cox] fits proportional hazards with Efron's or Breslow's ties, strata, late
//     entry, sampling weights, counts, and the variance by cluster.
//   - [Split] gives a covariate a coefficient for each period of time, and
//     [Fit.Proportional] tests whether a ratio changes.
//   - [Firth] is for few events and groups without any.
//   - [FineGray] is for the cumulative incidence where other events remove
//     subjects.
//
// [Data] are rows, or counts of rows that are alike. They are collapsed before
// anything is fitted: subjects of one stratum, day, reason and pattern of
// covariates are one cell with a weight, so that counts and rows give the same
// numbers, and a whole-day time axis with covariates of few values makes
// millions of joints a matter of a second.
//
// What can't be estimated is an error that names it ([ColumnError]), never a
// number: a constant or collinear column, one that separates those with the
// event from the others, a likelihood without a maximum. No result is NaN.
//
// Conventions are those of package survival: at one time events come before
// censoring and before entry, and subjects are at risk on (entry, exit].
// Estimates rest on logarithms and exponentials, which may differ between
// machines in the last digit: unlike those of package survival they are equal
// to some ten digits, not to the bit.
package regress
