// Package cohort reads outcomes tables of primary joint replacements, one row
// per joint, checks them, and counts follow-up by group for package survival.
//
//  1. [Read] streams one or more tables (text, workbook, Arrow IPC, Parquet) into
//     rows: dates as whole days, words as canonical words.
//  2. When everything is read, the order of day and month is settled per
//     table and the closing date found. Then the rows of each patient are linked,
//     patient by patient: each is a joint in use, or set aside with a [Reason].
//     Rows read = rows used + rows set aside, always.
//  3. A [Cohort] doesn't change. [Cohort.Where] is a part of it, [Cohort.Account]
//     what became of its rows, [Cohort.WhatIf] what settling a problem otherwise
//     would change.
//  4. [Cohort.Tally] counts the joints in use by group: exit day and cause.
//     [Cohort.Joints] gives them one by one, and [Cohort.Sample] as a sample for
//     robust variances and regression, with patients as clusters.
//
// The unit is the joint. The event is the first revision: any operation that
// adds, removes or exchanges a component. Death is a competing event.
//
// Time is whole days from the operation to the revision, else to the death,
// else to the earlier of the day last seen and the closing date; whoever is
// revised or dies after the closing date was followed to it. On one day a
// revision comes before a death.
//
// Patients' identifiers are compared without spaces and in lower case. What is
// known of a patient's death on one row holds for all of the patient's joints.
// An identifier at primary operations of more than six days is nobody's, and is
// taken as missing.
// Identifiers are hashed while tables are read, and forgotten when the rows of
// each patient are found; initials and names of joints are kept as a hash.
// Neither they nor dates of birth ever stand in an error, a problem or a
// result: row and column do.
package cohort

// NotRecorded is the value of a word that is missing.
const NotRecorded = "not recorded"
