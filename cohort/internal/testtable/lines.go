package testtable

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"example.org/holdfast/cohort"
)

// noRow are the reasons for which a line that is no row of the table is set
// aside: it has no operation date, or a word in its place.
var noRow = []cohort.Reason{cohort.NotAJoint, cohort.OperationDateMissing, cohort.OperationDateImpossible}

// primariesOf calls f with each table of primaries.
func primariesOf(d *Draft, f func(t *Table)) {
	for _, t := range d.Tables {
		if t.Holds == "primaries" {
			f(t)
		}
	}
}

var lineDamages = []Damage{
	{Name: "rows shuffled", Does: "the rows in any order", Kind: EitherFile, stage: lines,
		apply: func(d *Draft, r *rand.Rand) {
			for _, t := range d.Tables {
				r.Shuffle(len(t.Rows), func(i, j int) { t.Rows[i], t.Rows[j] = t.Rows[j], t.Rows[i] })
			}
		}},
	{Name: "blank lines", Does: "blank lines between rows, as between years", Kind: EitherFile, stage: lines,
		apply: func(d *Draft, r *rand.Rand) {
			for _, t := range d.Tables {
				for _, row := range t.Rows {
					row.Blank = r.IntN(10) == 0
				}
			}
		}},
	{Name: "title rows", Does: "titles above the headings, one of which names a patient", Kind: EitherFile, stage: lines, groups: []string{"above"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				t.Above = append(t.Above, []string{"Arthroplasty audit"}, []string{"incl. " + d.Joints[0].cells["patient"]}, []string{}, []string{"Updated", "by secretary"})
			}
		}},
	{Name: "comments above", Does: "lines behind a # above the headings", Kind: EitherFile, stage: lines, groups: []string{"above"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				t.Above = append(t.Above, []string{"# Exported from the clinic"}, []string{"# all rows"})
			}
		}},
	{Name: "totals below", Does: "a row of totals below the rows", Kind: EitherFile, stage: lines, groups: []string{"below"},
		apply: func(d *Draft, _ *rand.Rand) {
			primariesOf(d, func(t *Table) { d.junk(t, len(t.Rows), noRow, "Total", fmt.Sprint(len(t.Rows))) })
		}},
	{Name: "notes below", Does: "two lines of notes below the rows, after a blank one", Kind: EitherFile, stage: lines, groups: []string{"below"},
		apply: func(d *Draft, _ *rand.Rand) {
			primariesOf(d, func(t *Table) {
				d.junk(t, len(t.Rows), noRow, "* checked by the audit nurse")
				t.Rows[len(t.Rows)-1].Blank = true
				d.junk(t, len(t.Rows), noRow, "L = left")
			})
		}},
	{Name: "headings again", Does: "the headings stand again among the rows, as on a printed page", Kind: EitherFile, stage: lines, groups: []string{"again"},
		apply: func(d *Draft, r *rand.Rand) {
			primariesOf(d, func(t *Table) {
				var texts []string
				for _, c := range t.Columns {
					texts = append(texts, c.Heading)
				}
				d.junk(t, 1+r.IntN(len(t.Rows)-1), noRow, texts...)
			})
		}},
	{Name: "hidden rows", Does: "rows that are not shown", Kind: BookFile, stage: lines, Says: []string{"hidden row"},
		apply: func(d *Draft, r *rand.Rand) {
			for _, t := range d.Tables {
				for _, row := range t.Rows {
					row.Hidden = r.IntN(5) == 0
				}
				t.Rows[0].Hidden = true
			}
		}},
}

// written is a damage to how text is written.
func written(name, does string, groups []string, apply func(d *Draft), says ...string) Damage {
	return Damage{Name: name, Does: does, Kind: TextFile, stage: file, groups: groups, Says: says, apply: func(d *Draft, _ *rand.Rand) { apply(d) }}
}

var fileDamages = []Damage{
	written("byte order mark", "UTF-8 with a byte order mark", []string{"encoding"}, func(d *Draft) { d.Encoding = utf8bom }),
	written("UTF-16, little-endian", "as spreadsheets save Unicode text", []string{"encoding"}, func(d *Draft) { d.Encoding = utf16le }, "UTF-16"),
	written("UTF-16, big-endian", "the other byte order", []string{"encoding"}, func(d *Draft) { d.Encoding = utf16be }, "UTF-16"),
	written("Windows-1252", "an old encoding, with accented names of surgeons", []string{"encoding"}, func(d *Draft) { d.Encoding = windows1252 }, "read as Windows-1252"),
	written("semicolons", "cells separated by semicolons", []string{"separator"}, func(d *Draft) { d.Delimiter = ";" }, "semicolon"),
	written("tabs", "cells separated by tabs", []string{"separator"}, func(d *Draft) { d.Delimiter = "\t" }, "tab"),
	written("bars", "cells separated by bars", []string{"separator"}, func(d *Draft) { d.Delimiter = "|" }, "bar"),
	written("a line that names the separator", "sep=; above all else", []string{"separator", "above"}, func(d *Draft) { d.Delimiter, d.FirstLine = ";", "sep=;" }, "semicolon"),
	written("CRLF", "line ends of Windows", []string{"ends"}, func(d *Draft) { d.LineEnd = "\r\n" }),
	written("CR alone", "line ends of the old Macintosh", []string{"ends", "cr"}, func(d *Draft) { d.LineEnd = "\r" }, "CR alone"),
	written("everything in quotation marks", "each cell between marks", nil, func(d *Draft) { d.QuoteAll = true }),
	{Name: "marks inside cells", Does: "inch marks in cells that no marks surround", Kind: TextFile, stage: cells, groups: []string{"around"},
		apply: func(d *Draft, r *rand.Rand) {
			d.each("diagnosis", func(c *Cell, _ *Row) {
				if c.Text != "" && r.IntN(4) == 0 {
					c.Text, c.Raw = c.Text+` 12" "old" scar`, true
				}
			})
		}},
	written("no end of the last line", "the file ends with the last cell", nil, func(d *Draft) { d.NoFinalEnd = true }),
	written("trailing separators", "empty cells at the end of each line", []string{"length"}, func(d *Draft) { d.Trailing = 3 }),
	written("short rows", "empty cells at the end of a row are left out", []string{"length"}, func(d *Draft) { d.ShortRows = true }),
}

var notesSheet = Sheet{Name: "Notes", Rows: [][]any{{"How to fill in this table"}, {"side", "L or R"}, {"bearing", "head first"}}}

var bookDamages = []Damage{
	{Name: "other sheets", Does: "a sheet of notes before and an empty one after", Kind: BookFile, stage: file, groups: []string{"sheets"},
		apply: func(d *Draft, _ *rand.Rand) {
			t := d.Tables[0]
			t.Before = append(t.Before, notesSheet)
			t.After = append(t.After, Sheet{Name: "Sheet3"})
		}},
	{Name: "an old copy of the sheet", Does: "a second sheet with the same headings: the sheet must be named", Kind: BookFile, stage: file, groups: []string{"sheets"},
		apply: func(d *Draft, _ *rand.Rand) {
			t := d.Tables[0]
			old := *t
			old.Sheet, old.Rows = "Joints 2019", t.Rows[:len(t.Rows)/2]
			s, _ := old.sheet()
			t.Before = append(t.Before, s)
			d.Options.Sheets = []string{t.Sheet}
		}},
	{Name: "a hidden sheet", Does: "the table stands on a sheet that is not shown", Kind: BookFile, stage: file, groups: []string{"sheets"}, Says: []string{"is hidden; it was read all the same"},
		apply: func(d *Draft, _ *rand.Rand) {
			t := d.Tables[0]
			t.SheetHidden = true
			t.Before = append(t.Before, notesSheet)
		}},
	{Name: "a sheet with a space in its name", Does: "All patients (2)", Kind: BookFile, stage: file, groups: []string{"sheets"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				t.Sheet += " of all (2)"
			}
		}},
	{Name: "headings in two rows", Does: "group titles over several columns, and headings merged over both rows", Kind: EitherFile, stage: file,
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				if d.Kind == BookFile || len(t.Columns) > 4 {
					t.Headers = 1
				}
			}
		}},
	{Name: "merged title", Does: "a title merged over the table", Kind: BookFile, stage: file, groups: []string{"above"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				t.Above = slices.Concat([][]string{{"Joint replacements 2012 to 2024"}}, t.Above)
				t.MergedTitle = true
			}
		}},
	{Name: "table in the middle of the sheet", Does: "empty rows above and empty columns to the left", Kind: BookFile, stage: file,
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				t.Right, t.Down = 2, 3
			}
		}},
}
