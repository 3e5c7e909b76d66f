// Package contrast sets the groups of one's own table against each other: can
// they be told apart, or would chance alone give differences as large?
//
//	c, err := cohort.Read(ctx, sources, cohort.Options{})
//	k, err := contrast.Run(c, contrast.Options{Between: "bearing", Within: []string{"age_band", "sex"}})
//	err = contrast.WriteCSV(os.Stdout, k)
//
// Joint and procedure always stand apart. Joints whose group is not recorded are
// left out and counted. A [Contrast] is plain data; text and files are made from it
// and compute nothing of their own.
//
// # What is compared
//
//   - Observed and expected if alike: the revisions that each group had, and those it
//     would have had if on every day all joints at risk had one rate of revision;
//     with the log-rank test ([survival.LogRank]). Within: the same in each stratum
//     of the fields named, added up. Joints of which such a field is not recorded are
//     a stratum of their own.
//   - Differences of cumulative revision and of cumulative incidence at each year,
//     against one group, with limits by [benchmark.MOVER] from those of both, which
//     are of the method asked for.
//   - Restricted means, the mean time free of revision within some years, against
//     one group, in days: to one time for all groups, the last of the years asked for
//     or, without any, the most whole years to which every group has ten at risk.
//     Groups without ten at risk at the year at which all are shown together
//     ([Part.Year]) are left out, else the smallest would settle the time.
//   - Ratios of rates of revision, adjusted for covariates, by regression.
//
// Deaths and, where the endpoint names reasons, revisions for other reasons end
// follow-up in all of them but the cumulative incidence, Gray's test and the
// regression of Fine and Gray.
//
// Joints of one patient are taken for independent, except in the ratios by patient.
// How many they are is counted ([Part.Bilateral], [Part.Shared]), and noted.
// Simulated with a fifth of the joints being second ones and a frailty of variance 1 of
// patients, a true hypothesis is rejected in up to 6.4 instead of 5 of 100 samples;
// SIMULATION.md has the tables.
//
// # The reading of a difference
//
// From limits by MOVER of two exact intervals at a level of 0.95 (of the beta product;
// for the incidence of Clopper and Pearson on the effective number F(1−F)/SE²), in
// this order:
//
//  1. too few to say: fewer than 10 at risk in either group;
//  2. above or below: the limits exclude 0;
//  3. too few to say: fewer than [FewestToRead] revised by then in both together;
//  4. compatible with: no evidence of a difference, which is not evidence that there
//     is none.
//
// [NoteNear] stands where the printed limits would read otherwise.
//
// # The model
//
// What is fitted hangs on the number of revisions d and of coefficients p:
//
//	d < 5                          none
//	d < 3p                         none; what would fit is said
//	3p ≤ d < 10p, or a group or    the penalised likelihood (regress.Firth),
//	word with fewer than 5 revised with limits by profile
//	else                           proportional hazards (regress.Cox), Efron's ties
//
// Where profiles of the penalised likelihood would take minutes, for thousands of
// joints and many coefficients, Cox stands in its place, joints with a word of which
// nobody is revised are left out, and both are said.
//
// Ten revisions a coefficient are usually asked for (Peduzzi, J Clin Epidemiol
// 1995;48:1503), five to nine are often enough (Vittinghoff & McCulloch, Am J
// Epidemiol 2007;165:710); that three are with a penalty is this project's, by
// simulation. Covariates are never dropped for their p value. Age is linear, per 10
// years; other covariates are taken by their words, against the commonest. Joints of
// which one is not recorded are left out of the model, and counted.
//
// With 30 revisions or more the ratios are tested for change over the years
// ([regress.Fit.Proportional], on the scale of the share failed); with fewer such a
// test would only reassure. Ratios by time since operation, up to 1 year, from 1 to 5
// and after (a day on a cut is before it), are fitted wherever the revisions allow.
//
// # The file
//
// [WriteCSV] writes one row per number: joint, procedure, between, within (of what is
// stratified alone), item, group, against, years, estimand, value, se, lower, upper, df,
// p, notes. The items:
//
//	joints, revised               counts of each group
//	observed, expected            over the whole follow-up, not stratified
//	logrank                       value is χ²
//	expected within, logrank within
//	gray, gray within             if asked for
//	difference                    a proportion, of the estimand 1-KM or cumulative incidence
//	published difference          of the same two groups, where a source has both; notes name it
//	restricted mean difference    in days, to the years
//	hazard ratio                  se is of its logarithm; of a covariate, group and against are FIELD=WORD
//	hazard ratio by patient       limits that allow for several joints of a patient
//	hazard ratio up to 1 year, hazard ratio 1 to 5 years, hazard ratio after 5 years
//	subdistribution hazard ratio  if Gray's test is asked for
//	loglik                        of the model; df and p of its test of likelihood ratio
//	proportional                  the test's term, or all, is the group; value is χ²
//	observed by stratum, expected by stratum, ratio by stratum
//	                              as a source publishes strata (within); the stratum, or all, is the group
//	standardised, standardised difference
//	                              groups of 500 and more at one mix of ages and sexes
//
// Notes are codes: the reading and the notes of points (see package audit), and
//
//	bilateral              some joints are of one patient, which is not allowed for
//	few patients revised   fewer than 20: limits by patient are too narrow
//	fewer than 5 revised   no p value
//	penalised              by the penalised likelihood
//	too few to adjust      fewer revisions than the model needs: no ratio
//	separated: FIELD=WORD  nobody is revised with the word, or nobody with the other
//	not proportional       the ratio changes over the years: one ratio misleads
//	no upper limit, no lower limit
//	in days
package contrast
