// Package exchange writes what leaves a cohort for other programs and other
// places, as Parquet or Arrow IPC, and reads what comes back.
//
//   - The checked cohort ([WriteJoints]): one row a joint, with exit day and cause, for
//     whoever goes on in another program. It has rows, and is for whoever may have rows.
//
// Nothing that identifies a patient is in any of these files: a patient is a number.
package exchange
