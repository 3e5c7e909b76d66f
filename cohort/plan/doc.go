// Package plan says what a series of joints can show before anybody looks at what
// it does show: which numbers revised would read above or below a published
// figure, the smallest ratio that such a series finds in most tries, how many
// joints it takes to show that revision is at most a bound, and when a practice
// will have them.
//
//	r := benchmark.ReachOf(200, figure)
//	above, below := plan.Smallest(r, figure.Revision, 0.8) // ratios found in 80 of 100 such series
//	n, err := plan.JointsNeeded(0.02, 0.05, 0.8, 0.95)     // 338
//
// A [Plan] is all of it as data; text is made from it, and files ([WriteCSV]) of one
// number a row.
//
// Everything is for assumed ratios, never for the one observed: the chance of a
// reading that has been made says nothing that the reading does not say.
package plan
