package testtable

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort"
)

// unsaidDamages are those that a table shows no sign of, in families: one way to
// damage, in several places, in few rows or many.
var unsaidDamages = slices.Concat(noDayDamages(), nameDamages(), identifierDamages, strangerDamages(), refusedDamages)

// extent is in how many of the cells that could be damaged one is.
type extent struct {
	name string
	in   func(n int) bool // the n-th of them, from 0
}

var extents = []extent{
	{"in three rows", func(n int) bool { return n < 3 }},
	{"in every second row", func(n int) bool { return n%2 == 0 }},
	{"in every row", func(int) bool { return true }},
}

// noDayDamages fill empty cells for days with what databases and spreadsheets have
// where there is none, and with days that the settings say stand for none.
func noDayDamages() []Damage {
	var all []Damage
	for _, column := range []string{"revision_date", "death_date"} {
		for _, e := range extents {
			fill := func(name, text string, more func(d *Draft)) {
				all = append(all, Damage{Name: fmt.Sprintf("%s as %s %s", name, column, e.name), Does: "a day that stands for none", Kind: EitherFile, stage: cells, groups: []string{"gaps", "open " + column},
					apply: func(d *Draft, _ *rand.Rand) {
						n := 0
						d.each(column, func(c *Cell, _ *Row) {
							if c.Text == "" && c.Book == nil {
								if e.in(n) {
									c.Text = text
								}
								n++
							}
						})
						if more != nil {
							more(d)
						}
					}})
			}
			for _, day := range []string{"0000-00-00", "0001-01-01", "1753-01-01", "1899-12-30", "1900-01-01", "1900-01-01 00:00:00", "1970-01-01", "2099-12-31", "9999-12-31", "31/12/9999"} {
				fill(day, day, nil)
			}
			fill("a day of the settings", "2001-02-03", func(d *Draft) { d.Options.Missing = append(d.Options.Missing, "2001-02-03") })
		}
	}
	return all
}

// nameDamages write names of surgeons and hospitals in other ways that are
// compared as equal. The way of the clean table stays the commonest.
func nameDamages() []Damage {
	type way struct {
		name   string
		change func(string) string
	}
	ways := map[string][]way{
		"surgeon": {
			{"without a title", func(s string) string { return strings.TrimPrefix(s, "Dr ") }},
			{"with another title", func(s string) string { return strings.Replace(s, "Dr ", "Prof. ", 1) }},
			{"with two titles", func(s string) string { return strings.Replace(s, "Dr ", "Prof Dr ", 1) }},
			{"with the title behind", func(s string) string { return strings.TrimPrefix(s, "Dr ") + " (Dr)" }},
			{"with a full stop", func(s string) string { return strings.Replace(s, "Dr ", "Dr.", 1) }},
		},
		"hospital": {{"with a space for the hyphen", func(s string) string { return strings.ReplaceAll(s, "-", " ") }}},
	}
	common := []way{{"in capitals", strings.ToUpper}, {"in small letters", strings.ToLower}, {"with a comma", func(s string) string { return s + "," }}}
	var all []Damage
	for _, column := range []string{"surgeon", "hospital"} {
		for _, w := range append(slices.Clone(common), ways[column]...) {
			for _, e := range []extent{{"once each", func(n int) bool { return n == 0 }}, {"in every fourth row", func(n int) bool { return n%4 == 3 }}} {
				all = append(all, Damage{Name: fmt.Sprintf("%s %s %s", column, w.name, e.name), Does: "one name typed in two ways", Kind: EitherFile, stage: spelling, groups: []string{column},
					apply: func(d *Draft, _ *rand.Rand) {
						seen := make(map[string]int)
						d.each(column, func(c *Cell, _ *Row) {
							name := c.Text
							if e.in(seen[name]) {
								c.Text = w.change(name)
							}
							seen[name]++
						})
					}})
			}
		}
	}
	return all
}

// numbered makes numbers with zeros before them of the patients in every table.
func numbered(d *Draft) {
	d.each("patient", func(c *Cell, _ *Row) { c.Text = "00" + strings.TrimPrefix(c.Text, "ZQX-") })
}

// zerosLost takes the zeros away from the patients of one table.
func zerosLost(t *Table) {
	for _, row := range t.Rows {
		c := &row.Cells[t.at("patient")]
		c.Text = strings.TrimLeft(c.Text, "0")
	}
}

var identifierDamages = []Damage{
	{Name: "zeros lost in the table of revisions", Does: "a spreadsheet made numbers of the identifiers of one table", Kind: EitherFile, stage: parts, groups: []string{"tables", "patient"},
		Warns: []cohort.Reason{cohort.IdentifierZerosJoined},
		apply: func(d *Draft, _ *rand.Rand) {
			apart := revisionsTable(d)
			numbered(d)
			zerosLost(apart)
		}},
	{Name: "zeros lost in the list of deaths", Does: "a spreadsheet made numbers of the identifiers of one table", Kind: EitherFile, stage: parts, groups: []string{"deaths", "patient"},
		Warns: []cohort.Reason{cohort.IdentifierZerosJoined},
		apply: func(d *Draft, _ *rand.Rand) {
			apart := deathsTable(d)
			numbered(d)
			zerosLost(apart)
		}},
	{Name: "zeros lost in second rows", Does: "the second joint of a patient has the number without its zeros", Kind: EitherFile, stage: parts, groups: []string{"tables", "age", "patient"},
		apply: func(d *Draft, _ *rand.Rand) {
			t := d.Tables[0]
			told := make(map[string]bool) // patients whose birth a row before tells
			numbered(d)
			t.add(t.at("age"), Column{Name: "birth_date", Heading: "birth_date"}, func(row *Row) Cell {
				patient, age := &row.Cells[t.at("patient")], row.Cells[t.at("age")-1]
				if age.Text == "" { // else the table would say more than the clean one
					return Cell{}
				}
				if whole := patient.Text; told[whole] {
					patient.Text = strings.TrimLeft(whole, "0")
				} else {
					told[whole] = true
				}
				return Cell{Text: d.Joints[row.Joint].birth}
			})
		}},
	{Name: "decimals of identifiers", Does: "7310000.0 in one row and 7310000 in the next", Kind: EitherFile, stage: parts, groups: []string{"patient"},
		apply: func(d *Draft, r *rand.Rand) {
			d.each("patient", func(c *Cell, _ *Row) {
				if c.Text = strings.TrimPrefix(c.Text, "ZQX-"); r.IntN(2) == 0 {
					c.Text += []string{".0", ".00"}[r.IntN(2)]
				}
			})
		}},
	{Name: "the table as its own revisions", Does: "the operations stand in the table of revisions too", Kind: EitherFile, stage: tables, groups: []string{"tables"},
		apply: func(d *Draft, _ *rand.Rand) {
			t := d.Tables[0]
			apart := &Table{Name: "again", Holds: "revisions", Sheet: "Again"}
			names := []string{"patient", "joint", "side", "operation_date"}
			for _, c := range names {
				apart.Columns = append(apart.Columns, Column{Name: c, Heading: c})
			}
			for _, row := range t.Rows {
				one := &Row{Joint: row.Joint}
				for _, c := range names {
					one.Cells = append(one.Cells, row.Cells[t.at(c)])
				}
				apart.Rows = append(apart.Rows, one)
				d.lose(one, cohort.RevisionIsPrimary)
			}
			d.Tables = append(d.Tables, apart)
		}},
}

// strangerDamages put people who are in no table on the list of deaths.
func strangerDamages() []Damage {
	var all []Damage
	for _, n := range []int{2, 60} {
		all = append(all, Damage{Name: fmt.Sprintf("%d strangers on the list of deaths", n), Does: "the list is the hospital's", Kind: EitherFile, stage: tables, groups: []string{"deaths"},
			apply: func(d *Draft, r *rand.Rand) {
				apart := deathsTable(d)
				for i := range n {
					died := date("2013-01-01").AddDate(0, 0, r.IntN(4000))
					apart.Rows = append(apart.Rows, &Row{Joint: -1, Cells: []Cell{{Text: fmt.Sprintf("ZQX-%d", 9910000+i)}, {Text: iso(died)}}})
				}
			}})
	}
	return all
}

func mostSetAside(column string) func(error) bool {
	return func(err error) bool {
		var e *cohort.MostSetAsideError
		return errors.As(err, &e) && e.Column == column
	}
}

var refusedDamages = []Damage{
	{Name: "ages in months", Does: "every age twelve times as high", Kind: EitherFile, Alone: true, stage: parts, Refused: mostSetAside("age"),
		apply: func(d *Draft, _ *rand.Rand) {
			d.each("age", func(c *Cell, _ *Row) {
				if n, err := strconv.Atoi(c.Text); err == nil {
					c.Text = strconv.Itoa(12 * n)
				}
			})
		}},
	{Name: "births as deaths", Does: "the days of birth are headed death_date", Kind: EitherFile, Alone: true, stage: parts, Refused: mostSetAside("death_date"),
		apply: func(d *Draft, _ *rand.Rand) {
			n := 0
			d.each("death_date", func(c *Cell, row *Row) {
				if n++; n%5 != 0 {
					c.Text = d.Joints[row.Joint].birth
				}
			})
		}},
	{Name: "deaths to come", Does: "an age that everybody will reach as the year of death", Kind: EitherFile, Alone: true, stage: parts, Refused: mostSetAside("death_date"),
		apply: func(d *Draft, r *rand.Rand) {
			n := 0
			d.each("death_date", func(c *Cell, _ *Row) {
				if n++; n%5 != 0 {
					c.Text = iso(date("2031-01-01").AddDate(0, 0, 97*n))
				}
			})
		}},
	{Name: "no column of revisions", Does: "a column that is needed is left out", Kind: EitherFile, Alone: true, stage: shape, Refused: func(err error) bool { return strings.Contains(err.Error(), "revision_date") },
		apply: func(d *Draft, _ *rand.Rand) { d.Tables[0].drop("revision_date") }},
}
