package table

import (
	"bytes"
	"io"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/words"
)

// mostLookedAt is how many rows are looked at to tell what a heading means.
const mostLookedAt = 500

// settleHeadings takes headings that may be a column's for it, if no other is and
// the cells of the first rows are like it. It returns the batch that it had to
// read; nil for none.
func settleHeadings(t *sheet.Table, headings []Heading, by map[string]int, cellsOf func([]Heading) []int) (*sheet.Batch, error) {
	may := make(map[int]string)
	with := append([]Heading(nil), headings...)
	for i, h := range headings {
		name := column.Perhaps(h.Typed)
		if _, taken := by[name]; name != "" && !taken && h.Column == "" && h.How == Unmatched {
			may[i], with[i].Column = name, name
		}
	}
	if len(may) == 0 {
		return nil, nil
	}
	t.Select(append(cellsOf(headings), cellsOf(with)...))
	batch, err := t.Next()
	if err == io.EOF {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	for i, name := range may {
		if _, taken := by[name]; !taken && fits(name, batch, i) {
			headings[i] = Heading{Typed: headings[i].Typed, Column: name, How: ByVariant}
			by[name] = i
		}
	}
	return batch, nil
}

// fits says whether the cells under a heading are like those of a column: words that
// it knows, days in half of the rows at most, or names of which few stand twice.
func fits(name string, batch *sheet.Batch, at int) bool {
	rows, filled, like := 0, 0, 0
	different := make(map[string]bool)
	for r := range batch.Rows {
		if rows++; rows > mostLookedAt {
			break
		}
		c := bytes.TrimSpace(cell(r, at))
		if len(c) == 0 || column.Missing(name, string(c)) {
			continue
		}
		filled++
		switch name {
		case column.DeathDate:
			if raw := dates.Parse(c, dates.Options{PivotSet: true}); !raw.Bad() {
				like++
			}
		case column.Patient:
			if different[string(c)] = true; !words.Revised(string(c)).Known {
				like++
			}
		default:
			if column.Understand(name, string(c)).Known || name == column.Fixation && words.TwoFixations(string(c)) {
				like++
			}
		}
	}
	switch name {
	case column.DeathDate:
		return filled > 0 && like == filled && 2*filled <= rows
	case column.Patient:
		return like == filled && 2*len(different) > filled && len(different) > 2
	}
	return filled > 0 && 10*like >= 9*filled
}
