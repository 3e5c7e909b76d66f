package survival

import (
	"math"

	"example.org/holdfast/survival/internal/symmetric"
)

// Gray tests whether groups have one cumulative incidence of a cause where
// other causes remove subjects too; the other causes are pooled. strata[s][g]
// is as in [LogRank]. Per stratum, over the times t with an event of any cause,
// for groups with n_k at risk, S_k(t−) free of every event and F_k(t−) the
// incidence so far:
//
//	R_k = n_k/S_k(t−),  H = Σ R_k,  Q = Σ R_k(1−F_k(t−)),  D = Σ d_1k
//	F⁰(t) = F⁰(t−) + D/H,  w = (1−F⁰(t−))^ρ
//	z_k += w·(d_1k − D·R_k(1−F_k(t−))/Q)
//
// and, with a = w·(diag R − RR′/H), c(t) = c(t−) + a·D/(H(1−F⁰(t−))) and
// L_k(t) = c_·k(∞) − c_·k(t), the variance of z is the sum of q·u·u′ over
//
//	events of the cause:  u = a_·k + θ·L_k,  θ = 1 − (1−F⁰(t))/S_k(t) (1 if S_k(t) = 0),
//	                      q = κ·S_k(t−)·D/(H·n_k),  κ = 1 − (D−1)/(H·S_k(t−)−1) if D > 1
//	other events:         u = L_k·(1−F⁰(t))/S_k(t) where S_k(t) > 0,
//	                      q = κ·S_k(t−)²·d_2k/n_k²,  κ = 1 − (d_2k−1)/(n_k−1) if d_2k > 1
//
// κ, else 1, corrects for ties and may be below 0; F⁰ may pass 1 after a group has
// run out. Both are left so. z and its variance are
// summed over strata; the order of groups does not matter. Observed is d_1k and
// Expected is Observed − z. Without other causes this is not the log-rank test,
// but near it.
//
// Errors: those of [LogRank], [ErrTestLate] with late entry, and
// [ErrTestVariance] where there are so few events that the variance is not
// above 0.
//
// Gray, Ann Stat 1988;16:1141. The paper has no ties; those are treated as is
// usual, and agree with R's cmprsk.
func Gray(strata [][]*Table, cause int, o TestOptions) (Test, error) {
	groups, err := comparable(strata, cause, o)
	if err != nil {
		return Test{}, err
	}
	t := newTest(groups)
	together := newSets(groups)
	score := make([]float64, groups)
	for _, tables := range strata {
		for _, table := range tables {
			if table != nil && table.Entered != nil {
				return Test{}, ErrTestLate
			}
		}
		first := newGrayPass(tables, cause, o.Rho)
		for first.next() {
			first.addScore(&t, score, together)
		}
		second := newGrayPass(tables, cause, o.Rho)
		for second.next() {
			second.addVariance(t.Variance, first.c)
		}
	}
	for g := range score {
		t.Expected[g] = t.Observed[g] - score[g]
	}
	err = t.finish(score, together, o)
	return t, err
}

// grayPass walks over the times of one stratum.
type grayPass struct {
	days        *days
	cause       int
	rho         float64
	own, others []float64 // events of the cause and of other causes at this time, d_1k and d_2k
	events      float64   // D

	before, after     []float64 // S_k(t−), S_k(t)
	incidence         []float64 // F_k(t−) until the end of a time
	pooled, poolAfter float64   // F⁰(t−), F⁰(t)
	r                 []float64 // R_k
	h                 float64   // H
	weight            float64   // w
	c                 [][]float64
}

func newGrayPass(tables []*Table, cause int, rho float64) *grayPass {
	column := func() []float64 { return make([]float64, len(tables)) }
	p := &grayPass{
		days: newDays(tables), cause: cause, rho: rho, own: column(), others: column(), before: column(),
		after: column(), incidence: column(), r: column(), c: symmetric.Zero(len(tables)),
	}
	for k := range p.after {
		p.after[k] = 1
	}
	return p
}

// next goes on to the next time with an event, and brings everything but c(t)
// up to it.
func (p *grayPass) next() bool {
	for k := range p.own { // what the last time leaves behind
		if n := p.days.atRisk[k]; n > 0 {
			p.incidence[k] += float64(p.before[k]*p.own[k]) / n
		}
	}
	copy(p.before, p.after)
	p.pooled = p.poolAfter
	for p.days.next() {
		all := 0.0
		p.events = 0
		for k, t := range p.days.tables {
			p.own[k], p.others[k] = p.days.events(k, p.cause), 0
			if t == nil {
				continue
			}
			for c := range t.Event {
				p.others[k] += p.days.events(k, c+1)
			}
			all += p.others[k]
			p.others[k] -= p.own[k]
			p.events += p.own[k]
		}
		if all > 0 {
			p.prepare()
			return true
		}
	}
	return false
}

func (p *grayPass) prepare() {
	p.h = 0
	for k, n := range p.days.atRisk {
		p.r[k] = 0
		if n > 0 {
			p.r[k] = n / p.before[k]
			p.h += p.r[k]
			p.after[k] = float64(p.before[k]*(n-p.own[k]-p.others[k])) / n
		}
	}
	p.weight = 1
	if p.rho != 0 {
		p.weight = math.Pow(1-p.pooled, p.rho)
	}
	p.poolAfter = p.pooled + p.events/p.h
	scale := float64(p.weight*p.events) / float64(p.h*(1-p.pooled))
	for k, r := range p.r {
		p.c[k][k] += float64(scale * r)
		for l, s := range p.r {
			p.c[k][l] -= float64(scale*float64(r*s)) / p.h
		}
	}
}

func (p *grayPass) addScore(t *Test, score []float64, together *sets) {
	q := 0.0
	for k, r := range p.r {
		q += float64(r * (1 - p.incidence[k]))
	}
	for k, n := range p.days.atRisk {
		if n > 0 {
			t.Observed[k] += p.own[k]
			expected := float64(float64(p.events*p.r[k])*(1-p.incidence[k])) / q
			score[k] += float64(p.weight * (p.own[k] - expected))
		}
	}
	if p.events > 0 {
		together.join(p.days.atRisk)
	}
}

// addVariance adds the terms of this time, given c(∞).
func (p *grayPass) addVariance(variance, end [][]float64) {
	u := make([]float64, len(p.r))
	for k, n := range p.days.atRisk {
		if n == 0 {
			continue
		}
		s := p.before[k]
		if p.events > 0 {
			tied := 1.0
			if p.events > 1 {
				tied = 1 - (p.events-1)/(float64(p.h*s)-1)
			}
			theta := 1.0
			if p.after[k] > 0 {
				theta = 1 - (1-p.poolAfter)/p.after[k]
			}
			for l := range u {
				a := -float64(p.r[l]*p.r[k]) / p.h
				if l == k {
					a += p.r[k]
				}
				u[l] = float64(p.weight*a) + float64(theta*(end[l][k]-p.c[l][k]))
			}
			q := float64(float64(tied*s)*p.events) / float64(p.h*n)
			symmetric.AddOuter(variance, q, u, u)
		}
		if other := p.others[k]; other > 0 && p.after[k] > 0 {
			tied := 1.0
			if other > 1 {
				tied = 1 - (other-1)/(n-1)
			}
			for l := range u {
				u[l] = float64((end[l][k]-p.c[l][k])*(1-p.poolAfter)) / p.after[k]
			}
			q := float64(float64(tied*float64(s*s))*other) / float64(n*n)
			symmetric.AddOuter(variance, q, u, u)
		}
	}
}
