package text

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
)

// align says how the cells of a column stand under one another.
type align uint8

const (
	left    align = iota
	right         // as whole numbers
	decimal       // with the decimal points of their first numbers in line
)

// column of a table.
type column struct {
	title string
	align align
	wraps bool // may be made narrower than its cells
	least int  // width it is not made narrower than
}

// row of a table: cells, or a heading line within it.
type row struct {
	section string
	cells   []string
	apart   bool // a blank line stands before it
}

// table is a header and rows. Columns without any cell are left out.
type table struct {
	columns []column
	rows    []row
}

func (t *table) add(cells ...string) { t.rows = append(t.rows, row{cells: cells}) }

func (t *table) section(heading string) {
	t.rows = append(t.rows, row{section: heading, apart: len(t.rows) > 0})
}

// columnGap is the space between columns.
const columnGap = 2

// filled leaves out columns whose cells are all empty.
func (t *table) filled() *table {
	var keep []int
	for i := range t.columns {
		if slices.ContainsFunc(t.rows, func(r row) bool { return r.cells != nil && r.cells[i] != "" }) {
			keep = append(keep, i)
		}
	}
	out := &table{}
	for _, i := range keep {
		out.columns = append(out.columns, t.columns[i])
	}
	for _, r := range t.rows {
		if r.cells != nil {
			var cells []string
			for _, i := range keep {
				cells = append(cells, r.cells[i])
			}
			r.cells = cells
		}
		out.rows = append(out.rows, r)
	}
	return out
}

// plain lays a table out in lines of at most so many columns.
func (t *table) plain(most int) []string {
	t = t.filled()
	t.pad()
	widths := t.widths(most)
	header := make([][]string, len(t.columns))
	tall := 0
	for i, c := range t.columns {
		header[i] = wrap(c.title, widths[i])
		tall = max(tall, len(header[i]))
	}
	titles := make([]string, len(t.columns))
	for i, lines := range header {
		titles[i] = strings.Repeat("\n", tall-len(lines)) + strings.Join(lines, "\n")
	}
	var body [][]string
	var heights []int
	for _, r := range t.rows {
		if r.cells == nil {
			continue
		}
		height := 1
		cells := make([]string, len(r.cells))
		for i, cell := range r.cells {
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
	for i, r := range t.rows {
		if r.apart && i > 0 {
			out = append(out, "")
		}
		if r.cells == nil {
			out = append(out, wrap(r.section, most)...)
			continue
		}
		out = append(out, lines[:heights[next]]...)
		lines = lines[heights[next]:]
		next++
	}
	return out
}

// hanging is how much further in the further lines of a cell stand.
const hanging = 2

// hang wraps a cell, its further lines a little further in. Spaces that align
// the cell stay.
func hang(cell string, most int) []string {
	if width(cell) <= most {
		return []string{cell}
	}
	indent := 0
	if most >= 12 {
		indent = hanging
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

// pad brings the decimal points of a column in line.
func (t *table) pad() {
	for i, c := range t.columns {
		if c.align != decimal {
			continue
		}
		widest := 0
		for _, r := range t.rows {
			if r.cells != nil {
				widest = max(widest, wholePart(r.cells[i]))
			}
		}
		for _, r := range t.rows {
			if r.cells != nil && r.cells[i] != "" {
				r.cells[i] = spaces(widest-wholePart(r.cells[i])) + r.cells[i]
			}
		}
	}
}

// wholePart is the width of a cell's first number up to its decimal point.
func wholePart(cell string) int {
	if end := strings.IndexAny(cell, ". /*("); end >= 0 {
		return width(cell[:end])
	}
	return width(cell)
}

// widths of the columns, made narrower until the table fits: first those that
// may wrap, the widest first, then any.
func (t *table) widths(most int) []int {
	widths := make([]int, len(t.columns))
	least := make([]int, len(t.columns))
	total := columnGap * (len(t.columns) - 1)
	for i, c := range t.columns {
		for _, word := range words(c.title) {
			least[i] = max(least[i], width(word))
		}
		least[i] = max(least[i], c.least)
		widths[i] = least[i]
		for _, r := range t.rows {
			if r.cells != nil {
				widths[i] = max(widths[i], width(r.cells[i]))
			}
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
	narrow(func(i int) bool { return t.columns[i].wraps && widths[i] > max(least[i], 10) })
	narrow(func(i int) bool { return widths[i] > max(least[i], 8) })
	narrow(func(i int) bool { return widths[i] > 4 })
	return widths
}

// markdown lays a table out as a Markdown table.
func (t *table) markdown() []string {
	t = t.filled()
	titles := make([]string, len(t.columns))
	for i, c := range t.columns {
		titles[i] = escape(c.title)
	}
	var body [][]string
	for _, r := range t.rows {
		cells := make([]string, len(t.columns))
		if r.cells == nil {
			cells[0] = "**" + escape(r.section) + "**"
		}
		for i, cell := range r.cells {
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
func (t *table) render(titles []string, body [][]string, markdown bool) []string {
	aligns := make([]tw.Align, len(t.columns))
	pads := make([]tw.Padding, len(t.columns))
	for i, c := range t.columns {
		aligns[i] = tw.AlignLeft
		if c.align == right {
			aligns[i] = tw.AlignRight
		}
		pads[i] = tw.Padding{Right: spaces(columnGap), Overwrite: true}
		if i == len(t.columns)-1 {
			pads[i].Right = ""
		}
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
