package table

import (
	"cmp"
	"fmt"
	"slices"

	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
)

// named are the rows of a list that only the name of their joint joins to the
// primaries.
type named struct {
	list     bool // the table is one
	patients bool // the primaries have any
	rows     []*store.Record
	told     []store.Told // rows that tell their patient too
}

// mostTold is how many of those are looked at.
const mostTold = 1000

// take keeps a row until all of its table are read, if its name is all that joins
// it.
func (n *named) take(r *store.Record) bool {
	if !n.list || r.Name == 0 || r.Flags&row.FlagUnreadable != 0 {
		return false
	}
	if n.patients && r.Patient != 0 {
		if len(n.told) < mostTold {
			n.told = append(n.told, store.Told{Name: r.Name, Patient: r.Patient})
		}
		return false
	}
	one := *r
	one.Codes, one.Words = slices.Clone(r.Codes), 0 // for another writer
	n.rows = append(n.rows, &one)
	return true
}

// join joins the rows kept, and gives them to a writer. It returns what is said of
// it.
func (n *named) join(s *store.Store, w *store.Writer) string {
	if len(n.rows) == 0 {
		return ""
	}
	joined := s.JoinByName(n.rows, n.told)
	slices.SortFunc(n.rows, func(a, b *store.Record) int { return cmp.Compare(a.Line, b.Line) })
	for _, r := range n.rows {
		w.Add(r)
	}
	if joined == 0 {
		return ""
	}
	return fmt.Sprintf("rows without a patient, joined to the primaries by joint_id alone: %d of %d", joined, len(n.rows))
}
