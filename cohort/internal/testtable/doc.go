// Package testtable makes tables for tests: invented outcomes tables, the ways
// in which tables kept by people differ from them, and files of every kind.
//
// [Clean] makes an outcomes table without a fault, [Damages] lists the ways to
// damage it. Each is applied to a [Draft], and several can follow one another;
// [Draft.Files] then writes the files. The draft remembers which joint each row
// is of, which rows should be set aside and why, and with which options a user
// would read the files.
//
// [WriteParquet], [WriteArrow], [WriteArrowStream] and [WriteWorkbook] write a
// table whose columns have types, or a workbook cell by cell.
//
// Every patient, name and surgeon is invented. Patients' numbers, names and
// dates of birth are such as occur nowhere else, so that a test can look for
// them in whatever the reader prints. Only tests import this package.
package testtable
