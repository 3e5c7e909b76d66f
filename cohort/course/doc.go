// Package course describes what becomes of joints in time: for which reasons they are
// revised, how often early and late, and what happens after a first revision.
//
//	c, err := cohort.Read(ctx, sources, cohort.Options{})
//	k, err := course.Run(c, course.Options{})
//	err = course.WriteCSV(os.Stdout, k)
//
// # Reasons
//
// Each reason for revision has its cumulative incidence (Aalen–Johansen; the other
// reasons and death compete). A reason that is not recorded is a reason of its own. At
// every time the reasons, those who died unrevised and those free of both add up to 1:
//
//	Σ_k F_k(t) + F_death(t) + S(t) = 1
//
// One minus Kaplan–Meier for each reason by itself, the others censored, would add up
// to more than the cumulative revision: such figures are not made.
//
// # Early and late
//
// Revisions per 100 implant-years, with exact Poisson limits (Garwood, Biometrika
// 1936;28:437), in the first 90 days, up to 1 year, from 1 to 5 and after 5. A day on a
// bound is before it, and a revision on the day of the operation is in the first. No
// reading is taken from them. On request the hazard is smoothed
// ([survival.SmoothHazard]).
//
// # After the first revision
//
// Joints revised are followed from that day to the next revision that a table of
// revisions or of operations records on a later day; death and the end of follow-up end
// it. The estimate is one minus Kaplan–Meier. Its time is that since the first
// revision, so it never stands on one axis with that since the operation.
package course
