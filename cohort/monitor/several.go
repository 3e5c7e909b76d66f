package monitor

import (
	"errors"
	"math"
)

// Together are several practices charted at once.
type Together struct {
	// Charts are in the order of the practices.
	Charts []*Chart

	// Chance is that of any of the lines being touched in the period if revisions
	// come as expected everywhere.
	Chance float64
}

// Several charts several surgeons or hospitals, each by its own joints, so that
// the chance of touching any of the lines in the whole period, if revisions come
// as expected everywhere, is at most o.Chance for all of them together: of m
// practices each has the chance
//
//	1 − (1 − chance)^(1/m)
//
// as their revisions come independently of one another (Šidák, J Am Stat Assoc
// 1967;62:626). Lines stand higher than those of a practice watched by itself;
// that is the price of watching many. o.Through, if 0, is the last day of exit
// of them all, and o.From the day of each one's first operation.
//
// An error of the hazards (o.Error) is one and the same for all of them; the lines of all are
// then touched together, and the chance of any is less. It is an error where one of
// the charts is, or if o.Planned is set.
func Several(practices [][]Joint, hazards []Hazard, o Options) (*Together, error) {
	if o.Planned != 0 {
		return nil, errors.New("the number expected in the period can't be laid down for several practices at once")
	}
	o, err := o.resolved(practices, hazards)
	if err != nil {
		return nil, err
	}
	o.Chance = -math.Expm1(math.Log1p(-o.Chance) / float64(len(practices)))
	t, l := &Together{Charts: make([]*Chart, len(practices))}, newLines(o.Ratio, o.Error)
	for i, joints := range practices {
		if t.Charts[i], err = newChart(joints, hazards, o, l); err != nil {
			return nil, err
		}
	}
	for _, x := range l.truths {
		none := 0.0 // logarithm of the chance that none is touched
		for _, c := range t.Charts {
			none += math.Log1p(-math.Min(1, l.at(c.Limit, c.Period, x.ratio)))
		}
		t.Chance += float64(x.weight * -math.Expm1(none))
	}
	return t, nil
}
