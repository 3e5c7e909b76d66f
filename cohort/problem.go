package cohort

import (
	"fmt"
	"iter"
	"strings"

	"example.org/holdfast/cohort/internal/row"
)

// Problem is one remark on one row.
type Problem struct {
	File   int // index into Cohort.Files
	Row    int // as the file numbers it: the line on which the row starts
	To     int // the last of several rows that follow one another, of which the same is to be said; 0 for one alone
	Column string
	Reason Reason

	// Of is the row this one repeats, for PossibleRevision and DuplicateRow, or
	// another that it belongs to, such as its primary.
	OfFile, Of int

	// At is the row where the value stands that the problem is about, if that is
	// another row: the one of a joined revision, or of a death taken from
	// elsewhere. 0 means the row itself.
	AtFile, At int

	// Missing names the columns without which a revision can't be joined, such
	// as "joint and side"; for RevisionUnlinkable.
	Missing string
}

// Rows is how many rows a problem is of.
func (p Problem) Rows() int { return max(p.To, p.Row) - p.Row + 1 }

// Each gives the problem of each row by itself.
func (p Problem) Each() iter.Seq[Problem] {
	return func(yield func(Problem) bool) {
		one := p
		for one.To = 0; one.Row < p.Row+p.Rows(); one.Row++ {
			if !yield(one) {
				return
			}
		}
	}
}

// Describe says a problem in words: its reason, the row that it repeats or
// belongs to, and the row where the value stands, if that is another.
func (c *Cohort) Describe(p Problem) string {
	said := p.Reason.String()
	if p.Of > 0 {
		of := c.nameRow(p, p.OfFile, p.Of)
		switch p.Reason {
		case DuplicateRow:
			said = "same joint and date again: duplicate of " + of
		case PossibleRevision:
			said = "same joint again: possible revision of " + of
		case OperationTypeNotUnderstood:
			said += ": possible revision of " + of
		default:
			said += " (" + of + ")"
		}
	}
	if p.Missing != "" {
		verb := " is"
		if strings.Contains(p.Missing, " and ") {
			verb = " are"
		}
		said = "a revision whose " + p.Missing + verb + " missing"
	}
	if p.At > 0 {
		said += "; the value stands in " + c.nameRow(p, p.AtFile, p.At)
	}
	return said
}

// nameRow names a row, and its table if that is not the problem's.
func (c *Cohort) nameRow(p Problem, file, line int) string {
	if file == p.File {
		return fmt.Sprintf("row %d", line)
	}
	return fmt.Sprintf("row %d of %s", line, c.Files[file].Title())
}

// Cell is how a spreadsheet names the cell that a problem is about, such as
// "Sheet1!C17": the one where the value stands. It is "" for a table that is no
// workbook, or a problem of the whole row.
func (c *Cohort) Cell(p Problem) string {
	file, line, column := p.File, p.Row, p.Column
	if p.At > 0 {
		file, line = p.AtFile, p.At
		switch f := c.Files[file]; {
		case f.Has(column):
		case column == "dead" || column == "death_date":
			column = map[string]string{"dead": "death_date", "death_date": "dead"}[column]
		case f.Has("revision_date") && f.Holds == row.Revisions.String():
			column = "revision_date"
		default:
			column = "operation_date"
		}
	}
	return c.Files[file].Cell(line, column)
}
