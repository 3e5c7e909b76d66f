package testtable

import (
	"math/rand/v2"
	"slices"
	"strconv"
)

// unsaved is a formula that no program has worked out.
var unsaved = Formula{Text: `IF(1=1,"","")`}

// errorCell is an error, as text and in a workbook.
func errorCell(s string) Cell { return Cell{Text: s, Book: Fault(s)} }

// everyText calls f with every cell that is text in any file.
func everyText(d *Draft, f func(c *Cell)) {
	for _, t := range d.Tables {
		for _, r := range t.Rows {
			for i := range r.Cells {
				if c := &r.Cells[i]; c.Book == nil && c.Text != "" {
					f(c)
				}
			}
		}
	}
}

var cellDamages = []Damage{
	{Name: "spaces around values", Does: "spaces, no-break spaces and tabs before and after", Kind: EitherFile, stage: cells, groups: []string{"around", "accents"},
		apply: func(d *Draft, r *rand.Rand) {
			pads := []string{"", "", " ", "  ", "\u00a0", " \u00a0", "\t"}
			everyText(d, func(c *Cell) {
				c.Text = pads[r.IntN(len(pads))] + c.Text + pads[r.IntN(len(pads))]
			})
		}},
	{Name: "leading apostrophes", Does: "an apostrophe before some dates, numbers and words, as typed to keep a cell text", Kind: EitherFile, stage: cells, groups: []string{"around"},
		apply: func(d *Draft, r *rand.Rand) {
			for _, column := range slices.Concat(dateColumns, wordyColumns, []string{"patient", "age"}) {
				d.each(column, func(c *Cell, _ *Row) {
					if c.Book == nil && c.Text != "" && r.IntN(3) == 0 {
						c.Text = "'" + c.Text
					}
				})
			}
		}},
	{Name: "numbers as text and as numbers", Does: "ages as numbers in one row and as text in the next", Kind: BookFile, stage: cells, groups: []string{"numbers"},
		apply: func(d *Draft, r *rand.Rand) {
			for _, column := range []string{"age", "revised"} {
				d.each(column, func(c *Cell, _ *Row) {
					if n, err := strconv.Atoi(c.Text); err == nil && r.IntN(2) == 0 {
						c.Book = []any{n, float64(n), Shown{Value: float64(n), Format: "0.00"}}[r.IntN(3)]
					}
				})
			}
		}},
	{Name: "ages by formula", Does: "ages as formulas with their saved values", Kind: BookFile, stage: cells, groups: []string{"numbers"},
		apply: func(d *Draft, _ *rand.Rand) {
			d.each("age", func(c *Cell, _ *Row) {
				if n, err := strconv.Atoi(c.Text); err == nil && c.Book == nil {
					c.Book = Formula{Text: "DATEDIF(A1,B1,\"Y\")", Value: float64(n)}
				}
			})
		}},
	{Name: "formulas without a value where nothing is", Does: "formulas that no program has worked out in empty cells", Kind: BookFile, stage: cells, groups: []string{"gaps"},
		apply: func(d *Draft, r *rand.Rand) {
			for _, column := range []string{"revision_date", "death_date", "bearing", "diagnosis"} {
				d.each(column, func(c *Cell, _ *Row) {
					if c.Text == "" && c.Book == nil && r.IntN(2) == 0 {
						c.Book = unsaved
					}
				})
			}
		}},
	{Name: "text in several fonts", Does: "words whose letters have different fonts", Kind: BookFile, stage: cells, groups: []string{"fonts"},
		apply: func(d *Draft, r *rand.Rand) {
			everyText(d, func(c *Cell) {
				if runes := []rune(c.Text); len(runes) > 2 && r.IntN(4) == 0 {
					c.Book = Rich{string(runes[:1]), string(runes[1:])}
				}
			})
		}},
}
