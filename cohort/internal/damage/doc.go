// Package damage makes an invented outcomes table without a fault, and damages
// it in the ways in which tables kept by people differ from it, for tests.
//
// [Clean] makes the table, [All] lists the ways. Each is applied to a [Draft],
// and several can follow one another; [Draft.Files] then writes the files. The
// draft remembers which joint each row is of, which rows should be set aside and
// why, and with which options a user would read the files.
//
// Every patient, name and surgeon is invented. Patients' numbers, names and
// dates of birth are such as occur nowhere else, so that a test can look for
// them in whatever the reader prints.
package damage
