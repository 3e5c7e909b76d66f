package table

import (
	"cmp"
	"slices"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
)

// aside are the rows of a table that are not kept, since nothing is to be known of
// them but their number and why: those that can't be read, and those that are no
// joints and have no patient and no date.
type aside struct {
	deaths bool // the table is a list of deaths, of which rows without a patient are told
	ranges []store.Range
	rows   int
}

// take notes such a row.
func (a *aside) take(r *store.Record) bool {
	reason := row.Used
	switch {
	case r.Flags&row.FlagUnreadable != 0:
		reason = row.RowUnreadable
	case a.deaths || r.Flags&row.FlagBare == 0 || r.Patient != 0 || r.Flags.RecordsRevision() || r.Dates != [store.DateCount]dates.Raw{}:
		return false
	default:
		reason = row.NotAJoint
	}
	a.rows++
	if last := len(a.ranges) - 1; last >= 0 && a.ranges[last].Reason == reason && a.ranges[last].To == r.Line-1 {
		a.ranges[last].To = r.Line
		return true
	}
	a.ranges = append(a.ranges, store.Range{From: r.Line, To: r.Line, Reason: reason})
	return true
}

// merge adds those of another decoder of the same table.
func (a *aside) merge(o *aside) {
	a.ranges = append(a.ranges, o.ranges...)
	a.rows += o.rows
}

// inOrder are the ranges, with those put together that follow one another.
func (a *aside) inOrder() []store.Range {
	slices.SortFunc(a.ranges, func(x, y store.Range) int { return cmp.Compare(x.From, y.From) })
	var all []store.Range
	for _, r := range a.ranges {
		if last := len(all) - 1; last >= 0 && all[last].Reason == r.Reason && all[last].To == r.From-1 {
			all[last].To = r.To
			continue
		}
		all = append(all, r)
	}
	return slices.Clip(all)
}
