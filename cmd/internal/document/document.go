// Package document holds what is to be read, as headings, paragraphs, lists,
// tables and figures, and writes it as plain text or Markdown. Packages html
// and pdf below it write the same documents as pages.
//
// Texts may come from somebody's table: they are cleaned when they are added
// (see [Clean]), and every writer escapes them.
package document

import (
	"io"
	"slices"
	"strings"
	"time"

	"example.org/holdfast/cohort/text"
)

// Document is a text in blocks, in reading order.
type Document struct {
	// Title and Subtitle head a page; plain text has none. Plain text that
	// stands alone names itself by its first heading.
	Title, Subtitle string
	Language        string    // BCP 47; "" means en-GB
	Day             time.Time // its date in a file's properties, such as the closing date: never the time of writing
	Blocks          []Block
}

// Block is one of [Heading], [Paragraph], [Answer], [List], *[Table], [Figure],
// [Contents] and [Lines].
type Block interface{ block() }

// Heading opens a part: 1 for a part of the report, 2 for one within it (a
// joint and procedure), 3 within these.
type Heading struct {
	Level int
	Text  string
}

// Paragraph is running text.
type Paragraph struct{ Text string }

// Answer is a sentence with what to look at first and the numbers behind it, which
// stand together.
type Answer struct {
	Lead  string
	First string // "" for none
	Items []Item
}

// List is texts under one another, each with its mark before it.
type List struct{ Items []Item }

// Item is a text with a mark before it: [Bullet], a footnote's letter, a term.
// Lines under it stand as they are, to be copied; a heading or word of a table
// in them is quoted by whoever writes them.
type Item struct {
	Mark, Text string
	Lines      []string
}

// Bullet is the mark of an item without one of its own.
const Bullet = "·"

// Align says how the cells of a column stand under one another.
type Align uint8

const (
	Left    Align = iota
	Right         // as whole numbers
	Decimal       // with the decimal points of their first numbers in line
)

// Column of a table.
type Column struct {
	Title string
	Align Align
	Wraps bool // may be made narrower than its cells
	Least int  // characters it is not made narrower than, in plain text
	Heads bool // of the first: its cells stand above their rows where the table is too wide, in plain text
	Close bool // one space, not two, before the next column, in plain text
}

// Row of a table: cells, or a heading line within it.
type Row struct {
	Section string
	Remark  bool     // the heading line is a remark on the rows above it
	Cells   []string // nil for a heading line
	Apart   bool     // a space stands before it
	Repeats int      // so many leading cells repeat those of the row above: left out where the eye runs down the column
}

// Table is a header and rows, with remarks under it. Columns without any cell
// are left out.
type Table struct {
	Columns []Column
	Rows    []Row
	Notes   []Item
	Caption string // for writers that show one
}

// Add adds a row of cells.
func (t *Table) Add(cells ...string) { t.Rows = append(t.Rows, Row{Cells: cells}) }

// Section adds a heading line.
func (t *Table) Section(heading string) {
	t.Rows = append(t.Rows, Row{Section: heading, Apart: len(t.Rows) > 0})
}

// Remark adds a line across the columns that is about the rows above it.
func (t *Table) Remark(s string) {
	t.Rows = append(t.Rows, Row{Section: s, Remark: true})
}

// Empty says whether a table has no row of cells.
func (t *Table) Empty() bool {
	return !slices.ContainsFunc(t.Rows, func(r Row) bool { return r.Cells != nil })
}

// Filled is a table without the columns whose cells are all empty.
func (t *Table) Filled() *Table {
	var keep []int
	for i := range t.Columns {
		if slices.ContainsFunc(t.Rows, func(r Row) bool { return r.Cells != nil && r.Cells[i] != "" }) {
			keep = append(keep, i)
		}
	}
	out := &Table{Notes: t.Notes, Caption: t.Caption}
	for _, i := range keep {
		out.Columns = append(out.Columns, t.Columns[i])
	}
	for _, r := range t.Rows {
		if r.Cells != nil {
			var cells []string
			repeats := 0
			for n, i := range keep {
				cells = append(cells, r.Cells[i])
				if i < r.Repeats {
					repeats = n + 1
				}
			}
			r.Cells, r.Repeats = cells, repeats
		}
		out.Rows = append(out.Rows, r)
	}
	return out
}

// Figure is a drawing with its caption, the remarks under it, and what it shows
// in words for those who cannot see it.
type Figure struct {
	Drawing     Drawing
	Caption     string
	Alternative string
	Notes       []string
}

// Drawing is something drawn. Writers that need more than SVG ask for it.
type Drawing interface {
	WriteSVG(w io.Writer) error
}

// Contents lists the headings of level 1, with links to them.
type Contents struct{ Title string }

// Lines is room to write in by hand, under a prompt.
type Lines struct {
	Prompt string
	Number int
}

// Heading adds a heading.
func (d *Document) Heading(level int, s string) {
	d.Blocks = append(d.Blocks, Heading{level, kept(s)})
}

// Paragraph adds sentences as a paragraph, if there are any.
func (d *Document) Paragraph(sentences ...string) {
	if s := kept(strings.Join(sentences, " ")); s != "" {
		d.Blocks = append(d.Blocks, Paragraph{s})
	}
}

// List adds a list, if it has items.
func (d *Document) List(items []Item) {
	if len(items) > 0 {
		d.Blocks = append(d.Blocks, List{keptItems(items)})
	}
}

// Answer adds an answer.
func (d *Document) Answer(a Answer) {
	d.Blocks = append(d.Blocks, Answer{kept(a.Lead), kept(a.First), keptItems(a.Items)})
}

func keptItems(items []Item) []Item {
	clean := make([]Item, len(items))
	for i, it := range items {
		clean[i] = Item{it.Mark, kept(it.Text), nil}
		for _, line := range it.Lines {
			clean[i].Lines = append(clean[i].Lines, Clean(line))
		}
	}
	return clean
}

// Table adds a table, if it has rows of cells.
func (d *Document) Table(t *Table) {
	if t.Empty() {
		return
	}
	for i := range t.Rows {
		t.Rows[i].Section = kept(t.Rows[i].Section)
		for j, cell := range t.Rows[i].Cells {
			t.Rows[i].Cells[j] = kept(cell)
		}
	}
	for i := range t.Columns {
		t.Columns[i].Title = kept(t.Columns[i].Title)
	}
	for i := range t.Notes {
		t.Notes[i].Text = kept(t.Notes[i].Text)
	}
	d.Blocks = append(d.Blocks, t)
}

// Figure adds a figure.
func (d *Document) Figure(f Figure) {
	f.Caption, f.Alternative = kept(f.Caption), kept(f.Alternative)
	notes := make([]string, len(f.Notes))
	for i, n := range f.Notes {
		notes[i] = kept(n)
	}
	f.Notes = notes
	d.Blocks = append(d.Blocks, f)
}

// Lines adds room to write in.
func (d *Document) Lines(prompt string, number int) {
	d.Blocks = append(d.Blocks, Lines{kept(prompt), number})
}

// Contents adds a list of the parts.
func (d *Document) Contents(title string) { d.Blocks = append(d.Blocks, Contents{kept(title)}) }

func (Heading) block()   {}
func (Answer) block()    {}
func (Paragraph) block() {}
func (List) block()      {}
func (*Table) block()    {}
func (Figure) block()    {}
func (Contents) block()  {}
func (Lines) block()     {}

// kept is a text as a document keeps it: clean, but for the marks of [Word].
func kept(s string) string { return text.Kept(s) }
