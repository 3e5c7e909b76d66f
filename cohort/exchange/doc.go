// Package exchange writes what leaves a cohort for other programs and other
// places, as Parquet or Arrow IPC, and reads what comes back.
//
//   - The checked cohort ([WriteJoints]): one row a joint, with exit day and cause, for
//     whoever goes on in another program. It has rows, and is for whoever may have rows.
//   - The tally ([Count]): how many joints of which kind left observation on which day and
//     why, and no row. Tallies of several places are pooled ([NewPool]), and an audit of the
//     pool is that of all rows together. Counts that a database made of a checked cohort
//     become a tally with [Counted].
//
// Life tables and curves of an audit's groups go to other programs as [WriteLifeTables]
// and [WriteCurves] write them.
//
// Nothing that identifies a patient is in any of these files: a patient is a number.
package exchange
