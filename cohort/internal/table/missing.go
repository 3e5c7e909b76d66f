package table

import (
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/words"
)

// MissingColumnError says that a table lacks a column that is needed.
type MissingColumnError struct {
	File   string
	Column string
	Found  []string // the headings found
	Near   string   // the nearest of them that are not understood; "" if none is near
	// Known is how many of the headings found are known. If it is 0 they are
	// not named, since they may be somebody's data.
	Known int
	// Unused are headings of the settings that no table has.
	Unused []string
	// Unclear is a heading that may mean the column and others; "" for none.
	Unclear string
	// Sheet is the sheet of a workbook, and OtherSheets are those of the workbook that are not read.
	Sheet       string
	OtherSheets []string
	// Primaries says that the table is one of primaries, not joined to them.
	Primaries bool

	// Described says that the table was read all the same, for what else can be
	// said of it; Index is where it stands among the files if it was.
	Described bool
	Index     int

	// NoHeadings says that the first line looks like a row of data. Found is
	// then empty, since it would hold somebody's data.
	NoHeadings bool

	// Alike are further tables that lack the column, with the same headings.
	Alike []string
	// Others are what else is missing, in this table and in others.
	Others []*MissingColumnError

	open []string // headings found that are not understood
}

// Error says all that is missing, a line each.
func (e *MissingColumnError) Error() string {
	lines := []string{e.alone(nil)}
	before := e
	for _, o := range e.Others {
		lines = append(lines, o.alone(before))
		before = o
	}
	return strings.Join(lines, "\n")
}

// mostAlike is how many tables are named that lack a column alike.
const mostAlike = 20

// alone says what one table lacks. The headings are not listed again after
// another message about the same table.
func (e *MissingColumnError) alone(before *MissingColumnError) string {
	if e.NoHeadings {
		return fmt.Sprintf("%s: no column %s: the first line looks like a row of data. Write the headings above it.", e.File, e.Column)
	}
	var b strings.Builder
	switch {
	case e.Known == 0:
		none := fmt.Sprintf("none of the %d headings is known", len(e.Found))
		if len(e.Found) == 1 {
			none = "its only heading is not known"
		}
		fmt.Fprintf(&b, "%s: no column %s: %s. Put the headings above the rows, and title lines above them behind a #, or say in a settings file what they mean, under [columns].",
			e.File, e.Column, none)
	case before != nil && before.File == e.File:
		fmt.Fprintf(&b, "%s: no column %s either.", e.File, e.Column)
	default:
		fmt.Fprintf(&b, "%s: no column %s. Headings found: %s.", e.File, e.Column, ListHeadings(e.Found))
	}
	if n := len(e.Alike); n > 0 {
		fmt.Fprintf(&b, " The same headings, and no such column: %s", strings.Join(e.Alike[:min(n, mostAlike)], "; "))
		if n > mostAlike {
			fmt.Fprintf(&b, "; and %d more", n-mostAlike)
		}
		b.WriteString(".")
	}
	e.hint(&b)
	return b.String()
}

// hint says what may be done about it.
func (e *MissingColumnError) hint(b *strings.Builder) {
	for _, u := range e.Unused {
		fmt.Fprintf(b, " The settings name a heading %q, which no table has%s.", u, words.DidYouMean(u, e.open))
	}
	switch {
	case e.Known == 0: // what to do is said
	case e.Unclear != "":
		fmt.Fprintf(b, " %q may mean it, or another. If it does, say so in a settings file, under [columns]: %q = %q.", e.Unclear, e.Unclear, e.Column)
	case e.Near != "":
		fmt.Fprintf(b, " Nearest: %q. If it is that one, say so in a settings file, under [columns]: %q = %q.", e.Near, e.Near, e.Column)
	default:
		fmt.Fprintf(b, " If one of them is it, say so in a settings file, under [columns], as \"Its heading\" = %q.", e.Column)
	}
	if e.Column == column.RevisionDate && e.Primaries {
		b.WriteString(" If revisions are recorded apart, name the file with --revisions, or the sheet with --revisions-sheet")
		if name := sheetOf(e.OtherSheets, revisionSheets); name != "" {
			fmt.Fprintf(b, " %q", name)
		}
		fmt.Fprintf(b, "; if each operation has a row of its own, say which column tells primaries from revisions: \"Its heading\" = %q.", column.OperationType)
	}
}

// Join puts what another table lacks to it: beside a table that lacks the same
// under the same headings, else by itself.
func (e *MissingColumnError) Join(other *MissingColumnError) {
	for _, o := range append([]*MissingColumnError{other}, other.Others...) {
		alike := false
		for _, mine := range append([]*MissingColumnError{e}, e.Others...) {
			if !alike && mine.Column == o.Column && mine.Primaries == o.Primaries && o.Known > 0 && slices.Equal(mine.Found, o.Found) {
				mine.Alike = append(mine.Alike, o.File)
				alike = true
			}
		}
		if !alike {
			one := *o
			one.Others = nil
			e.Others = append(e.Others, &one)
		}
	}
}

// missing says which columns a table lacks that it can't do without; nil if it
// has all.
func (r *Reader) missing(file string, headings []Heading, by map[string]int, holds row.Role) *MissingColumnError {
	var all *MissingColumnError
	shown := shownHeadings(headings)
	var open []string // those that mean no other column
	for i, h := range headings {
		if h.Column == "" && h.How != LeftOut {
			open = append(open, shown[i])
		}
	}
	for _, needed := range r.needed(holds, by) {
		if _, ok := by[needed]; ok {
			continue
		}
		if isData(headings) {
			return &MissingColumnError{File: file, Column: needed, NoHeadings: true}
		}
		m := &MissingColumnError{File: file, Index: len(r.Files), Column: needed, Found: shown, open: open, Primaries: holds == row.Primaries, Near: words.Nearest(needed, open)}
		for _, h := range headings {
			if h.How != Unmatched || len(h.Between) > 0 || slices.ContainsFunc(column.Needed(), func(name string) bool { return strings.Contains(h.Typed, name) }) {
				m.Known++
			}
			if m.Unclear == "" && slices.Contains(h.Between, needed) {
				m.Unclear = h.Typed
			}
		}
		m.Described = m.Known > 0 && r.options.EveryColumn
		if all == nil {
			all = m
		} else if all.Known > 0 {
			all.Others = append(all.Others, m)
		}
	}
	return all
}

// NameUnused puts on the error the headings of the settings that no table has.
func (r *Reader) NameUnused(e *MissingColumnError) {
	for typed := range r.options.Columns {
		if !r.met[column.Plain(typed)] {
			e.Unused = append(e.Unused, typed)
		}
	}
	slices.Sort(e.Unused)
}

// needed are the columns a table can't do without, given the columns it has.
func (r *Reader) needed(holds row.Role, has map[string]int) []string {
	given := func(column string) bool {
		_, found := has[column]
		_, assumed := r.options.Assume[column]
		return found || assumed
	}
	named := given(column.JointID) && r.Present[column.JointID]
	switch holds {
	case row.Deaths:
		if named {
			return []string{column.DeathDate}
		}
		return []string{column.Patient, column.DeathDate}
	case row.Revisions:
		var needed []string
		if !named {
			needed = append(needed, column.Patient)
		}
		if !given(column.OperationDate) {
			needed = append(needed, column.RevisionDate)
		}
		if !named && !given(column.Procedure) {
			if r.onlyJoint() == 0 && !r.unread {
				needed = append(needed, column.Joint)
			}
			needed = append(needed, column.Side)
		}
		return needed
	}
	if given(column.OperationType) || r.options.Revisions { // revisions stand in rows of their own
		return []string{column.OperationDate}
	}
	return column.Needed()
}

// onlyJoint is the joint that all primaries read so far are of, 0 if there are
// several: patient and side then tell which joint a revision is of.
func (r *Reader) onlyJoint() row.Code {
	if values := r.Core[store.Joint].Values; len(values) == 2 {
		return 1
	}
	return 0
}
