// Package disclose makes an audit that is safe to leave the building. Its rules are
// the common practice of official statistics for small numbers (recoding of groups,
// rounding to a base); no source is claimed for them.
//
//	a, err := disclose.Run(c, audit.Options{})
//	err = audit.WriteCSV(os.Stdout, a)
//
// # What is told
//
//   - Groups of fewer than 8 joints are joined: those of ages and of years of operation
//     with their smaller neighbour ("<65", "2010-2012"), others as "other", the smallest
//     first. A field of which one group would be left shows all joints alone, and a joint
//     and procedure of fewer than 8 nothing.
//   - Every count (joints, at risk, revised, died, patients, rows) is rounded to the nearest
//     5; 1 to 7 are one, and told as 5; 0 is 0. Numbers of joints are so even where they could stand as they
//     are: that some do would tell which could not. The own joints of a
//     published series may be no group. Such a kind is told if it has 8 joints or more
//     and leaves none or 10 or more out of what it is a part of; a kind that is a group
//     which is joined to others is not told.
//   - Groups are joined further where what is told gives a count of 1 to 7 away, or such
//     a difference: between two years, between all joints and a group, between joints and
//     those at risk. See below.
//   - Points are of the whole years asked for. The groups of all fields at once, curves,
//     standard errors, the worst case, units beside their own department and published
//     figures that are not read are left out.
//   - Everything else is made from what is told, and so gives nothing back: estimates from
//     a life table of the numbers at each year, with a lower limit from the least that
//     these can stand for and an upper one from the most; rates, differences and ratios
//     likewise, and expected revisions. Implant-years are rounded to those of about five joints.
//     Published figures are public.
//   - So are readings, and whether a unit lies outside a funnel: above, below, compatible
//     with and outside are said where the numbers shown, the least and the most that they
//     can stand for all say so; else too few to say, or inside.
//   - There are no row numbers, no dates but years, no names of files, no headings and
//     no words as typed: "surgeon 1", "other bearing 2". The names of fields asked for stay.
//
// No count is hidden among others: the audit has no place for what is not told, so
// that nothing can be added up, drawn or written by accident. [Count] is all that the
// numbers are made from.
//
// # What is looked at
//
// A reader knows between what numbers each count told lies; that the groups of a field
// add up to all joints, at every year; that numbers at risk fall and others rise from
// year to year; that who is at risk, revised and gone otherwise are different joints.
// Each count is narrowed by the others until nothing changes; of every count of 1 to 7,
// and every such difference, two values or more must be left. Where one is alone, the
// smallest group of the field is joined to another, and it is looked at again.
//
// The tests attack the files, comparisons among them, with linear programs, which use all of this at once, and
// find none. They also share every table of 8 to 12 joints that fared in so many ways, beside published figures,
// and random ones of two groups with those that differ by one joint to three, and compare all that the shared audits hold:
// of every count of 1 to 7, and every such difference, tables of another are shared alike.
//
// # What is left of an audit
//
// Of the groups, of the estimates with ten or more at risk, and of readings beside an invented
// register (testdata/survives.txt, made by TestWhatSurvives from invented tables), beside the estimates that were
// left when counts of 1 to 7, and others that gave them away, were hidden one by one:
//
//	                            groups told by themselves   estimates told   hidden one by one   read alike
//	the example                 35 of 54, 11 more as 5      101 of 112       14                  77 of 82
//	1,400 joints                34 of 36, 2 more as 1       116 of 116       42                  88 of 98
//	1,400 joints, by surgeon    26 of 37, 12 more as 3      82 of 82         35                  78 of 82
//	20,000 joints               36 of 36                    144 of 144       86                  88 of 120
//	20,000 joints, by surgeon   157 of 181, 24 more as 3    518 of 518       223                 484 of 518
//
// Limits are wider for it: those of a count shown as 5 reach from 1 to 7.
//
// # What this does not protect against
//
// Somebody who knows a patient, and finds that patient's group; two shared reports of
// overlapping scopes, or of the same practice in two years, subtracted from each other,
// which rounding blurs and nothing else; whoever has the table. Which groups
// are joined depends on the exact numbers, as do which kinds of joints and how many lost are
// told, and the order of the numbers that stand for names.
package disclose
