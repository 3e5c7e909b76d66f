// Package monitor watches practices: it sets the revisions of one or several
// beside those expected of their joints, over calendar time and as ratios drawn
// towards one another.
//
//	chart, err := monitor.New(joints, hazards, monitor.Options{})
//	for _, s := range chart.Stretches {
//		fmt.Println(s.Since, s.Touched, s.Rows)
//	}
//
// [Run] watches the joints of a cohort, beside their own past or a source's published
// figures, together or each surgeon's by themselves. Under it the input is plain: joints with the days of operation and exit, and cumulative
// hazards that say what is expected of them. [New] charts one practice,
// [Several] many with one chance for all of them together, [Limit] and
// [Crossing] are the arithmetic of the line. [Shrink] is for ratios of many
// units at one day.
//
// # What a chart says
//
// If revisions come as expected, the line is touched in at most 5 of 100 such
// periods. A chart that touches it says that revisions came faster than that, since
// about when, and which joints they were; it doesn't say why. Case mix, an
// implant, referrals, better recording and chance are all reasons. A chart that
// doesn't touch it says little: [Chart.Touches] is the chance that it would have
// been touched at twice the revisions expected, and with two or three expected that
// is a third. It is no ranking of people and no verdict on anybody.
//
// SIMULATION.md beside this file has the rates, simulated, and says how to make
// them again.
package monitor
