package exchange

import (
	"slices"
	"time"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival/tally"
)

// followed is the follow-up of a joint and procedure: what cells don't tell.
type followed struct {
	Joint          string `json:"joint"`
	Procedure      string `json:"procedure"`
	Joints         int64  `json:"joints"`
	Revised        int64  `json:"revised"`
	Died           int64  `json:"died"`
	Living         int64  `json:"neither_revised_nor_dead"`
	Recent         int64  `json:"known_of_recently"`
	NeverSeen      int64  `json:"never_seen"`
	Lost           int64  `json:"lost"`
	Assumed        int64  `json:"assumed"`
	FirstOperation string `json:"first_operation"` // month
	LastOperation  string `json:"last_operation"`
}

const month = "2006-01"

// followedOf is the follow-up of a cohort by joint and procedure.
func followedOf(c *cohort.Cohort) ([]followed, error) {
	all, err := c.FollowUp()
	if err != nil {
		return nil, err
	}
	kinds, err := c.Tally(nil, cohort.Endpoint{})
	if err != nil {
		return nil, err
	}
	keys := kinds.Set.Keys()
	if len(all) > 1 {
		all = all[1:]
	} else if len(keys) == 1 { // it is all joints together, and names no kind
		words := kinds.Set.Words(keys[0], "")
		all[0].Joint, all[0].Procedure = words[0], words[1]
	}
	var said []followed
	for _, f := range all {
		if f.Joints > 0 {
			said = append(said, followed{f.Joint, f.Procedure, f.Joints, f.Revised, f.Died, f.Living, f.Recent, f.NeverSeen, f.Lost, f.Assumed,
				monthOf(f.FirstOperation), monthOf(f.LastOperation)})
		}
	}
	return said, nil
}

func monthOf(d cohort.Day) string { return time.Unix(int64(d)*86400, 0).UTC().Format(month) }

// firstOf is the first day of a month.
func firstOf(s string) (cohort.Day, error) {
	t, err := time.Parse(month, s)
	if err != nil {
		return 0, ErrDamaged
	}
	return cohort.Day(t.Unix() / 86400), nil
}

// followUp is what a header says of the follow-up of its joints.
func (f *followed) followUp() (cohort.FollowUp, error) {
	first, err := firstOf(f.FirstOperation)
	if err != nil {
		return cohort.FollowUp{}, err
	}
	last, err := firstOf(f.LastOperation)
	return cohort.FollowUp{
		Joint: f.Joint, Procedure: f.Procedure, Joints: f.Joints, Revised: f.Revised, Died: f.Died, Living: f.Living, Recent: f.Recent,
		NeverSeen: f.NeverSeen, Lost: f.Lost, Assumed: f.Assumed, FirstOperation: first, LastOperation: last,
	}, err
}

// kinds counts the cells by joint and procedure, and by all together.
func (p *Pool) kinds(causes []string, as func(end cohort.End, day int32) (int, int32)) (kinds, whole *tally.Set, err error) {
	var views []view
	for _, name := range fixed[:2] {
		v, err := p.view(name)
		if err != nil {
			return nil, nil, err
		}
		views = append(views, v)
	}
	if kinds, err = p.ended(views, causes, as); err != nil {
		return nil, nil, err
	}
	whole, err = kinds.Collapse()
	return kinds, whole, err
}

// FollowUp sums up the follow-up of the joints as [cohort.Cohort.FollowUp] does; the
// first and the last operation are the first days of their months.
func (p *Pool) FollowUp() ([]cohort.FollowUp, error) {
	kinds, whole, err := p.kinds([]string{"censored"}, func(end cohort.End, day int32) (int, int32) {
		if end.Cause() == 0 {
			return 1, day
		}
		return 0, day
	})
	if err != nil {
		return nil, err
	}
	var of []cohort.FollowUp
	all := cohort.FollowUp{}
	for key, counts := range kinds.All() {
		words := kinds.Words(key, "")
		sum := cohort.FollowUp{Joint: words[0], Procedure: words[1]}
		for _, t := range p.tallies {
			i := slices.IndexFunc(t.header.FollowUp, func(f followed) bool { return f.Joint == words[0] && f.Procedure == words[1] })
			if i < 0 {
				continue
			}
			one, err := t.header.FollowUp[i].followUp()
			if err != nil {
				return nil, err
			}
			sum = sum.Add(one)
		}
		all = all.Add(sum)
		if sum, err = sum.Over(counts); err != nil {
			return nil, err
		}
		of = append(of, sum)
	}
	counts := whole.Counts(tally.NewKey(tally.All, tally.All))
	if counts == nil { // no joint is in use
		counts = tally.New(1)
	}
	if all, err = all.Over(counts); err != nil {
		return nil, err
	}
	if len(of) == 1 {
		return []cohort.FollowUp{all}, nil
	}
	return append([]cohort.FollowUp{all}, of...), nil
}

// WhatIf says what the estimates would be if every joint lost had been revised when last
// seen. What else [cohort.Cohort.WhatIf] supposes needs rows.
func (p *Pool) WhatIf(years []float64) ([]cohort.Effect, error) {
	causes := []string{cohort.Endpoint{}.String(), cohort.EndDeath.String()}
	any := func(end cohort.End) int {
		if end == cohort.EndOther {
			return cohort.CauseRevision
		}
		return end.Cause()
	}
	now, _, err := p.kinds(causes, func(end cohort.End, day int32) (int, int32) { return any(end), day })
	if err != nil {
		return nil, err
	}
	then, _, err := p.kinds(causes, func(end cohort.End, day int32) (int, int32) {
		if end == cohort.EndLost {
			return cohort.CauseRevision, day
		}
		return any(end), day
	})
	if err != nil {
		return nil, err
	}
	var all []cohort.Effect
	for key, counts := range now.All() {
		words, lost := now.Words(key, ""), then.Counts(key).Total(cohort.CauseRevision)-counts.Total(cohort.CauseRevision)
		if lost == 0 {
			continue
		}
		e, err := cohort.LostEffect(words[0], words[1], int(lost), counts, then.Counts(key), years)
		if err != nil {
			return nil, err
		}
		all = append(all, e)
	}
	return all, nil
}
