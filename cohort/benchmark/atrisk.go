package benchmark

import "example.org/holdfast/survival"

// fromAtRisk makes limits for figures published without any from the numbers at
// risk. With r_j at risk at t_j, r_0 the number of joints, S_j = 1 − F_j and
// q_j = 1 − S_j/S_{j−1}, as many as
//
//	n_j = (r_{j−1} + r_j/(1 − q_j))/2
//
// were at risk in an interval, so that Greenwood's variance is about
//
//	V = S²·Σ q_j/(n_j(1 − q_j))
//
// and the limits are Clopper and Pearson's on n* = S(1 − S)/V. Where only the
// number at the figure's own time is known, n* = r/S. The number of joints alone
// gives limits only if follow-up is complete.
func (s *Series) fromAtRisk(complete bool) {
	if s.Estimand == Threshold || s.Estimand == Pooled {
		return
	}
	before, free, sum := float64(s.joints()), 1.0, 0.0
	every := before > 0 // every number at risk so far is known
	for i := range s.Figures {
		f := &s.Figures[i]
		here, r := 1-f.Revision, float64(f.AtRisk)
		every = every && r > 0 && here > 0
		if every {
			q := 1 - here/free
			n := (before + r/(1-q)) / 2
			sum += q / float64(n*(1-q))
		}
		n := 0.0
		switch {
		case f.HasLimits():
		case every && sum > 0:
			n = (1 - here) / float64(here*sum)
		case r > 0 && here > 0:
			n = r / here
		case complete:
			n = float64(f.Joints)
		}
		if n > 0 {
			f.MadeLower, f.MadeUpper = survival.BinomialLimits(float64(f.Revision*n), n, f.level())
		}
		before, free = r, here
	}
}
