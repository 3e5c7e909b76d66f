package cohort

import (
	"iter"

	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/survival"
)

// Joint is one joint in use.
type Joint struct {
	File, Row int // of its primary; File is an index into Cohort.Files

	// Patient numbers the patients from 0 in the order of their first rows. A
	// joint of which no patient is known has a number of its own.
	Patient int

	Operation Day
	Age       int // completed years at the operation; -1 if not recorded
	Days      int // followed
	Cause     int // how follow-up ended: 0 censored, CauseRevision, CauseDeath or CauseOther

	// Values are the words of the fields asked for, in their order.
	Values []string
}

// Joints gives each joint in use and in scope, in the order of files and rows,
// with its follow-up to an endpoint and its words in the fields named. They are
// for callers who need the joints one by one: counts by group are had from
// [Cohort.Tally], many times faster. An [*UnknownFieldError] says which name is no
// field, an [*OptionError] what is wrong with the endpoint.
func (c *Cohort) Joints(e Endpoint, fields ...string) (iter.Seq[Joint], error) {
	var names []string
	for _, wanted := range fields {
		name, err := c.Field(wanted)
		if err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	k, err := c.newCounter(names, e)
	if err != nil {
		return nil, err
	}
	return func(yield func(Joint) bool) {
		numbers, next := make(map[uint64]int), 0
		for bi, b := range c.store.Blocks {
			if len(c.linked.fates[bi].reason) == 0 {
				continue
			}
			levels, cause := k.readers(bi), k.causesOf(bi)
			for i := range c.used(bi) {
				j := Joint{File: b.Table().File, Row: b.Line(i), Operation: Day(b.Day(store.Operation, i)), Age: -1, Days: int(c.linked.fates[bi].exit[i]), Cause: cause(i)}
				if age := b.Age(i).Years; age >= row.MinAge && age <= row.MaxAge {
					j.Age = int(age)
				}
				known := false
				if who := b.Patient(i); who != 0 && b.Several(i) && !c.linked.fates[bi].warn(i).Has(row.WarnIdentifier) {
					if j.Patient, known = numbers[who]; !known {
						numbers[who] = next
					}
				}
				if !known {
					j.Patient, next = next, next+1
				}
				for d, level := range levels {
					j.Values = append(j.Values, k.dims[d].levels[level(i)])
				}
				if !yield(j) {
					return
				}
			}
		}
	}, nil
}

// Sample is the follow-up of the joints in use and in scope, for estimators that
// need it joint by joint, such as those with robust variances: days followed, and
// how follow-up ended. Clusters are the patients. The rows are in the order of
// files and rows. An [*OptionError] says what is wrong with the endpoint.
func (c *Cohort) Sample(e Endpoint) (survival.Sample, error) {
	var s survival.Sample
	joints, err := c.Joints(e)
	if err != nil {
		return s, err
	}
	for j := range joints {
		s.Exit, s.Cause, s.Cluster = append(s.Exit, float64(j.Days)), append(s.Cause, j.Cause), append(s.Cluster, j.Patient)
	}
	return s, nil
}
