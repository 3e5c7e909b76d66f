package report

import (
	"example.org/holdfast/cmd/holdfast/internal/document"
	"example.org/holdfast/cohort"
)

// Template says what each column of the outcomes table holds.
func Template() *document.Document {
	p := new(page)
	p.heading(1, "The outcomes table")
	p.paragraph("One row per primary joint replacement: a patient with two joints has two rows. A first row of headings, then the rows. " +
		"Headings may be written in other ways (holdfast check says how each was understood), in any order, and columns of your own are kept. " +
		"Leave a cell empty where something is not known.")
	t := &table{Columns: []column{{Title: "Column"}, {Title: "What it holds", Wraps: true}}}
	for _, c := range cohort.Columns() {
		what := capital(c.Description) + "."
		if c.Identifying {
			what += " Never shown in any output."
		}
		t.Add(c.Name, what)
	}
	p.table(t, nil)
	p.paragraph("An empty table to start with: holdfast template --out mine.csv")
	return &p.Document
}
