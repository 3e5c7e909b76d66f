package cohort

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"example.org/holdfast/cohort/internal/column"
)

// MostSetAsideError says that more than half of a table's rows that are not
// revised would be set aside for what stands in one column: what is left says
// nothing of the others.
type MostSetAsideError struct {
	File    string
	Column  string
	Heading string // as typed
	Rows    int    // set aside for it and not revised
	Of      int    // not revised
	Reason  Reason // of most of them
	Row     int    // one of them
}

func (e *MostSetAsideError) Error() string {
	remedy := "correct it, or say in a settings file what stands for none there, as in missing = [\"1899-12-30\"]"
	if e.Reason == OperationYearShort || e.Reason == RevisionYearShort {
		remedy = "say from which year on two digits mean 19yy, with --pivot 30 for example"
	}
	if !slices.Contains(column.Needed(), e.Column) {
		remedy += fmt.Sprintf(", or leave the column out with %q = \"\" under [columns]", e.Heading)
	}
	return fmt.Sprintf("%s: column %q: %d of the %d rows that are not revised would be set aside for it (%s; row %d for one), and what is left says nothing of them: %s", e.File, e.Heading, e.Rows, e.Of, e.Reason, e.Row, remedy)
}

// fewestToRefuse is how many rows must be set aside for a column before a table is
// refused for it: a handful may all be wrong.
const fewestToRefuse = 5

// mostSetAside finds the column for which most of the rows of a table that are not
// revised are set aside; nil if there is none. Rows are looked at one by one only
// where enough are set aside.
func (c *Cohort) mostSetAside() *MostSetAsideError {
	type place struct {
		file   int
		column string
	}
	all := c.count()
	if all.account.SetAside < fewestToRefuse {
		return nil
	}
	if !slices.ContainsFunc(slices.Collect(maps.Keys(all.ofAValue)), func(file int) bool { return 2*all.ofAValue[file] > all.unrevised[file] }) {
		return nil // of all columns together, let alone of one
	}
	rows := make(map[place][]Problem)
	for _, p := range c.keptAside() {
		if ofAValue[p.Reason] && p.Column != "" && p.Column != column.RevisionDate {
			rows[place{p.File, p.Column}] = append(rows[place{p.File, p.Column}], p)
		}
	}
	for at, set := range rows {
		unrevised := all.unrevised[at.file]
		if len(set) < fewestToRefuse || 2*len(set) <= unrevised {
			continue
		}
		return c.refusal(at.file, at.column, set, unrevised)
	}
	return nil
}

// refusal is the error for one column.
func (c *Cohort) refusal(file int, name string, set []Problem, of int) *MostSetAsideError {
	f := c.Files[file]
	e := &MostSetAsideError{File: f.Title(), Column: name, Heading: name, Rows: len(set), Of: of}
	for _, h := range f.Headings {
		if h.Column == name {
			e.Heading = h.Typed
		}
	}
	count := make(map[Reason]int)
	for _, p := range set {
		count[p.Reason]++
	}
	most := slices.MaxFunc(set, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(count[a.Reason], count[b.Reason]), -cmp.Compare(a.Row, b.Row))
	})
	e.Reason, e.Row = most.Reason, most.Row
	return e
}
