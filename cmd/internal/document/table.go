package document

import (
	"bytes"
	"reflect"
	"slices"
	"strings"
	"sync"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/pkg/twcache"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"

	"example.org/holdfast/cohort/text"
)

// columnGap is the space between columns.
const columnGap = 2

// unmarked is a table whose texts have no marks of direction.
func (t *Table) unmarked() *Table {
	out := *t
	out.Rows = slices.Clone(t.Rows)
	for i, r := range out.Rows {
		out.Rows[i].Section = text.Plain(r.Section)
		for j, cell := range r.Cells {
			if strings.ContainsRune(cell, text.Isolate) {
				out.Rows[i].Cells = slices.Clone(out.Rows[i].Cells)
				out.Rows[i].Cells[j] = text.Plain(cell)
			}
		}
	}
	return &out
}

// plain lays a table out in lines of at most so many columns.
func (t *Table) plain(most int) []string {
	t = t.Filled()
	for _, r := range t.Rows {
		clear(r.Cells[:r.Repeats])
	}
	t.pad()
	if t.Columns[0].Heads && t.wide() > most {
		t.headed()
	}
	widths := t.widths(most)
	header := make([][]string, len(t.Columns))
	tall := 0
	for i, c := range t.Columns {
		header[i] = wrap(c.Title, widths[i])
		tall = max(tall, len(header[i]))
	}
	titles := make([]string, len(t.Columns))
	for i, lines := range header {
		titles[i] = strings.Repeat("\n", tall-len(lines)) + strings.Join(lines, "\n")
	}
	var body [][]string
	var heights []int
	for _, r := range t.Rows {
		if r.Cells == nil {
			continue
		}
		height := 1
		cells := make([]string, len(r.Cells))
		for i, cell := range r.Cells {
			lines := hang(cell, widths[i])
			height = max(height, len(lines))
			cells[i] = strings.Join(lines, "\n")
		}
		for i := range cells {
			cells[i] += strings.Repeat("\n", height-1-strings.Count(cells[i], "\n"))
		}
		body, heights = append(body, cells), append(heights, height)
	}
	lines := t.render(titles, body, false)

	// Section headings run across the columns.
	out := lines[: tall+1 : tall+1]
	lines = lines[tall+1:]
	next := 0
	for i, r := range t.Rows {
		if r.Apart && i > 0 {
			out = append(out, "")
		}
		if r.Cells == nil {
			if !r.Remark {
				out = append(out, wrap(r.Section, most)...)
				continue
			}
			for n, line := range wrap(r.Section, most-2*Hanging) {
				out = append(out, spaces(Hanging*min(n+1, 2))+line)
			}
			continue
		}
		out = append(out, lines[:heights[next]]...)
		lines = lines[heights[next]:]
		next++
	}
	return out
}

// Hanging is how much further in the further lines of a cell stand.
const Hanging = 2

// hang wraps a cell, its further lines a little further in. Spaces that align
// the cell stay.
func hang(cell string, most int) []string {
	if Width(cell) <= most {
		return []string{cell}
	}
	indent := 0
	if most >= 12 && longestPart(cell) <= most-Hanging {
		indent = Hanging
	}
	lines := wrap(strings.TrimLeft(cell, " "), most)
	if len(lines) == 1 {
		return lines
	}
	first := lines[0]
	rest := strings.TrimPrefix(strings.TrimLeft(cell, " ")[len(first):], " ")
	out := []string{first}
	for _, line := range wrap(rest, most-indent) {
		out = append(out, spaces(indent)+line)
	}
	return out
}

// longestPart is the width of the longest part of a cell that wrapping leaves whole.
func longestPart(cell string) (longest int) {
	for _, part := range text.Parts(cell) {
		longest = max(longest, Width(part))
	}
	return longest
}

// pad brings the decimal points of a column in line.
func (t *Table) pad() {
	for i, c := range t.Columns {
		if c.Align != Decimal {
			continue
		}
		widest := 0
		for _, r := range t.Rows {
			if r.Cells != nil {
				widest = max(widest, wholePart(r.Cells[i]))
			}
		}
		for _, r := range t.Rows {
			if r.Cells != nil && r.Cells[i] != "" {
				r.Cells[i] = spaces(widest-wholePart(r.Cells[i])) + r.Cells[i]
			}
		}
	}
}

// WholePart is where a cell's first number has its decimal point, or would have
// it: the length in bytes of what stands before.
func WholePart(cell string) int {
	if end := strings.IndexAny(cell, ". /*("); end >= 0 {
		return end
	}
	return len(cell)
}

// Alignment brings the decimal points of a table's columns in line where widths
// are not those of a terminal.
type Alignment struct{ widest []int }

// Alignment measures a table's decimal columns.
func (t *Table) Alignment() Alignment {
	a := Alignment{make([]int, len(t.Columns))}
	for i, c := range t.Columns {
		if c.Align != Decimal {
			continue
		}
		for _, r := range t.Rows {
			if r.Cells != nil {
				a.widest[i] = max(a.widest[i], wholePart(r.Cells[i]))
			}
		}
	}
	return a
}

// figureSpace is as wide as a digit.
const figureSpace = "\u2007"

// Pad is the space to put before a cell of a column.
func (a Alignment) Pad(column int, cell string) string {
	if a.widest[column] == 0 || cell == "" {
		return ""
	}
	return strings.Repeat(figureSpace, max(0, a.widest[column]-wholePart(cell)))
}

// wholePart is the width of a cell's first number up to its decimal point.
func wholePart(cell string) int { return Width(cell[:WholePart(cell)]) }

// headed puts what stands in the first column on lines of its own, above the rows that
// it is of.
func (t *Table) headed() {
	var rows []Row
	for _, r := range t.Rows {
		if r.Cells != nil {
			if head := r.Cells[0]; head != "" {
				rows = append(rows, Row{Section: head, Apart: r.Apart})
				r.Apart = false
			}
			r.Cells, r.Repeats = r.Cells[1:], max(0, r.Repeats-1)
		}
		rows = append(rows, r)
	}
	t.Rows, t.Columns = rows, t.Columns[1:]
}

// wide is how wide a table is of which nothing wraps.
func (t *Table) wide() int {
	widths, total := t.widths(1<<30), 0
	for i, w := range widths {
		total += w + t.gap(i)
	}
	return total
}

// widths of the columns, made narrower until the table fits: first those that
// may wrap, the widest first, then any, down to the longest of the parts that are left whole;
// and only then within them.
func (t *Table) widths(most int) []int {
	widths := make([]int, len(t.Columns))
	least := make([]int, len(t.Columns))
	parts := make([]int, len(t.Columns))
	total := 0
	for i, c := range t.Columns {
		total += t.gap(i)
		for _, word := range text.Words(c.Title) {
			least[i] = max(least[i], Width(word))
		}
		least[i] = max(least[i], c.Least)
		widths[i] = least[i]
		for _, r := range t.Rows {
			if r.Cells == nil {
				continue
			}
			widths[i] = max(widths[i], Width(r.Cells[i]))
			parts[i] = max(parts[i], longestPart(r.Cells[i]))
		}
		total += widths[i]
	}
	narrow := func(may func(i int) bool) {
		for total > most {
			widest := -1
			for i := range widths {
				if may(i) && (widest < 0 || widths[i] > widths[widest]) {
					widest = i
				}
			}
			if widest < 0 {
				return
			}
			widths[widest]--
			total--
		}
	}
	narrow(func(i int) bool { return t.Columns[i].Wraps && widths[i] > max(least[i], parts[i], 10) })
	narrow(func(i int) bool { return widths[i] > max(least[i], parts[i], 8) })
	narrow(func(i int) bool { return widths[i] > max(least[i], 8) })
	narrow(func(i int) bool { return widths[i] > 4 })
	return widths
}

// gap is the space after a column.
func (t *Table) gap(i int) int {
	switch {
	case i == len(t.Columns)-1:
		return 0
	case t.Columns[i].Close:
		return 1
	}
	return columnGap
}

// markdown lays a table out as a Markdown table.
func (t *Table) markdown() []string {
	t = t.Filled()
	titles := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		titles[i] = escape(c.Title)
	}
	var body [][]string
	for _, r := range t.Rows {
		cells := make([]string, len(t.Columns))
		if r.Cells == nil {
			if cells[0] = escape(r.Section); !r.Remark {
				cells[0] = "**" + cells[0] + "**"
			}
		}
		for i, cell := range r.Cells {
			cells[i] = escape(cell)
		}
		body = append(body, cells)
	}
	return t.render(titles, body, true)
}

// writer is a tablewriter and where it writes. Making one costs more than
// rendering a table with it, so they are kept.
type writer struct {
	*tablewriter.Table
	out bytes.Buffer
}

var (
	plainWriters = sync.Pool{New: func() any {
		return newWriter(renderer.NewBlueprint(tw.Rendition{
			Borders: tw.BorderNone,
			Symbols: tw.NewSymbols(tw.StyleLight),
			Settings: tw.Settings{
				Separators: tw.Separators{BetweenColumns: tw.Off, BetweenRows: tw.Off},
				Lines:      tw.Lines{ShowTop: tw.Off, ShowBottom: tw.Off, ShowHeaderLine: tw.On, ShowFooterLine: tw.Off},
			},
		}))
	}}
	markdownWriters = sync.Pool{New: func() any { return newWriter(renderer.NewMarkdown()) }}
)

func newWriter(style tw.Renderer) *writer {
	w := new(writer)
	w.Table = tablewriter.NewTable(&w.out,
		tablewriter.WithEastAsian(tw.Off),
		tablewriter.WithRenderer(style),
		tablewriter.WithHeaderAutoFormat(tw.Off), tablewriter.WithRowAutoFormat(tw.Off),
		tablewriter.WithTrimSpace(tw.Off), tablewriter.WithTrimLine(tw.Off), tablewriter.WithTrimTab(tw.Off),
		// Cells are strings already; Reset would make a large cache anew.
		tablewriter.WithStringerCacheCustom(twcache.NewLRU[reflect.Type, reflect.Value](1)),
	)
	return w
}

// render hands cells that fit to tablewriter and gives back its lines.
func (t *Table) render(titles []string, body [][]string, markdown bool) []string {
	aligns := make([]tw.Align, len(t.Columns))
	pads := make([]tw.Padding, len(t.Columns))
	for i, c := range t.Columns {
		aligns[i] = tw.AlignLeft
		if c.Align == Right {
			aligns[i] = tw.AlignRight
		}
		pads[i] = tw.Padding{Right: spaces(t.gap(i)), Overwrite: true}
		if markdown {
			pads[i] = tw.Padding{Left: " ", Right: " ", Overwrite: true}
		}
	}
	cells := tw.CellConfig{
		Formatting: tw.CellFormatting{AutoWrap: tw.WrapNone, AutoFormat: tw.Off},
		Alignment:  tw.CellAlignment{PerColumn: aligns},
		Padding:    tw.CellPadding{PerColumn: pads},
	}
	pool := &plainWriters
	if markdown {
		pool = &markdownWriters
	}
	w := pool.Get().(*writer)
	defer pool.Put(w)
	w.Reset()
	w.out.Reset()
	w.Configure(func(c *tablewriter.Config) { c.Header, c.Row = cells, cells })
	w.Header(titles)
	// Neither can fail: the cells are strings and the writer is a buffer.
	if err := w.Bulk(body); err != nil {
		panic(err)
	}
	if err := w.Render(); err != nil {
		panic(err)
	}
	lines := strings.Split(strings.TrimSuffix(w.out.String(), "\n"), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return lines
}
