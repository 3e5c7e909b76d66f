package gather

import (
	"errors"
	"fmt"
	"time"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/monitor"
)

// Watching says by what a report expects revisions over calendar time: by a source's
// series, else by what became of the joints up to the past's last day. The zero value
// is the past up to the end of the year, [WatchedYears] before the closing date's.
type Watching struct {
	Series []*benchmark.Series
	Past   *cohort.Day
}

// WatchedYears is how many years are watched unless a day is named. It is fixed
// beforehand: a day chosen for what the data show would touch the line more often.
const WatchedYears = 5

// Watched is a cohort over calendar time, or why nothing is expected of it.
type Watched struct {
	By      string // the units' field; "" for all joints together
	Watch   *monitor.Watch
	Nothing string // why there is no watch
}

// Watch watches a cohort's joints, all together or by a field.
func Watch(c *cohort.Cohort, e cohort.Endpoint, by string, o Watching) (*Watched, error) {
	if n := c.Account().Used; n > mostApart {
		return &Watched{By: by, Nothing: fmt.Sprintf("%d joints are more than a report watches: holdfast monitor does", n)}, nil
	}
	q := monitor.Question{By: by, Series: o.Series, Past: o.Past}
	if q.Series == nil && q.Past == nil {
		closing := time.Unix(int64(c.Closing.Day)*24*60*60, 0).UTC()
		// A day on, so that a closing date on the last day of a year is followed by the next.
		end := cohort.Day(time.Date(closing.AddDate(0, 0, 1).Year()-WatchedYears, 1, 0, 0, 0, 0, 0, time.UTC).Unix() / (24 * 60 * 60))
		q.Past = &end
	}
	w, err := monitor.Run(c, e, q)
	if nothing, ok := errors.AsType[*monitor.NothingExpectedError](err); ok {
		return &Watched{By: by, Nothing: nothing.Why}, nil
	}
	if err != nil {
		return nil, err
	}
	return &Watched{By: by, Watch: w}, nil
}

// Of is the part of one unit; nil if it is not watched.
func (w *Watched) Of(word string) *Watched {
	if w == nil || w.Watch == nil {
		return w
	}
	for _, u := range w.Watch.Units {
		if u.Word == word {
			one := *w.Watch
			one.Units = []monitor.Unit{u}
			return &Watched{By: w.By, Watch: &one}
		}
	}
	return nil
}

// Called is the same with other words for the units.
func (w *Watched) Called(words map[string]string) *Watched {
	if w == nil || w.Watch == nil {
		return w
	}
	return &Watched{By: w.By, Watch: w.Watch.Called(words)}
}
