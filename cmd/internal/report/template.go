package report

import (
	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
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

// PublishedTemplate explains the columns of a file of published figures.
func PublishedTemplate() *document.Document {
	p := new(page)
	p.heading(1, "A file of published figures")
	p.paragraph("CSV, one row per figure, or as reports print it, with a column for each year. Headings and words may be typed as in an outcomes table, in any order. " +
		"What holds for the whole file may stand once above the headings, as # source: …, # joint: hip, # estimand: 1-KM, # period: 2003-2023. " +
		"There too: # unit: per cent (or fraction), # figures: revision (or survival), # time: years, # follow-up: complete. Needed are those marked *.")
	t := &table{Columns: []column{{Title: "Column"}, {Title: "What it holds", Wraps: true}}}
	for _, c := range benchmark.Columns() {
		name := c.Name
		if c.Needed {
			name += " *"
		}
		t.Add(name, capital(c.Help))
	}
	p.table(t, nil)
	p.paragraph("An empty file to start with: holdfast template --published --out figures.csv. How a file is understood: holdfast published figures.csv")
	return &p.Document
}
