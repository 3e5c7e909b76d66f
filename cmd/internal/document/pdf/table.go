package pdf

import (
	"slices"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort/text"
)

// columnGap is the space between columns, in points.
const columnGap = 9

// sizes that a table's text is tried in, until it fits.
var sizes = []float64{8.1, 7.7, 7.3, 6.8, 6.3}

// grid is a table laid out.
type grid struct {
	table  *document.Table
	style  style
	widths []float64
	whole  []float64 // room before the decimal point, by column
}

// line is a row laid out: a section's heading or a remark where cells are nil.
type line struct {
	document.Row
	cells  [][]string // wrapped
	gap    float64    // above it
	height float64    // with the gap
}

func (l *line) data() bool    { return l.Cells != nil }
func (l *line) heading() bool { return l.Cells == nil && !l.Remark }

// table writes a table: its columns as wide as their cells, made narrower and
// then set smaller until it fits; its header again on each page.
func (w *writer) table(t *document.Table) {
	t = t.Filled()
	g := w.grid(t)
	w.y += 5
	header := w.cells(g, titles(t), true)
	rows := w.rowsOf(g)
	head := height(header, g.style) + 4
	caption := 0.0
	if t.Caption != "" {
		caption = captions.leading
	}
	page := pageHeight - bottom - top
	again := head + g.style.leading // with a section's heading again
	breaks := breaks(rows, page+top-w.y-caption-head, page-again, w.notesHeight(t.Notes, page/2))
	if len(breaks) > 0 && breaks[0] == 0 {
		w.room(page)
		breaks = breaks[1:]
	} else {
		w.room(caption + head)
	}
	if t.Caption != "" {
		bold := captions
		bold.bold = true
		w.lines(bold, t.Caption, 0, textWidth)
	}
	w.header(g, header)
	section := ""
	for i := range rows {
		r := &rows[i]
		parted := len(breaks) > 0 && breaks[0] == i
		switch {
		case parted:
			breaks = breaks[1:]
			if r.heading() {
				section = ""
			}
			w.again(g, header, section)
			if r.data() { // on a new page a row says again what it left out
				r.cells = w.cells(g, r.Cells, false)
			}
		case i > 0:
			w.y += r.gap
		}
		w.lineOf(g, r)
		if r.heading() {
			section = r.Section
		}
	}
	if len(t.Notes) > 0 {
		w.y += 3
		w.items(small, t.Notes)
	}
	w.y += 5
}

// rowsOf lays out a table's rows.
func (w *writer) rowsOf(g *grid) []line {
	rows := make([]line, len(g.table.Rows))
	for i, r := range g.table.Rows {
		l := line{Row: r}
		switch {
		case r.Cells != nil:
			shown := slices.Clone(r.Cells)
			clear(shown[:r.Repeats])
			l.cells = w.cells(g, shown, false)
			l.height = height(l.cells, g.style) + 1
			if r.Apart {
				l.gap = 4
			}
		case r.Remark:
			w.set(g.style)
			l.height = float64(len(w.wrap(r.Section, textWidth-8)))*g.style.leading + 2
		default:
			bold := g.style
			bold.bold = true
			w.set(bold)
			l.height, l.gap = float64(len(w.wrap(r.Section, textWidth)))*g.style.leading, 4
		}
		l.height += l.gap
		rows[i] = l
	}
	return rows
}

// lineOf writes a row, a section's heading or a remark.
func (w *writer) lineOf(g *grid, l *line) {
	switch {
	case l.data():
		w.row(g, l.cells)
	case l.Remark:
		w.lines(g.style, l.Section, 8, textWidth-8)
		w.y += 2
	default:
		bold := g.style
		bold.bold = true
		w.lines(bold, l.Section, 0, textWidth)
	}
}

// notesHeight is the room that notes take, at most so much.
func (w *writer) notesHeight(notes []document.Item, most float64) float64 {
	w.set(small)
	h := 0.0
	for _, n := range notes {
		h += float64(len(w.wrap(n.Text, textWidth-24))) * small.leading * 1.1
	}
	return min(h, most)
}

// together is how many rows of a table stand together at either end of a page.
const together = 4

// breaks says before which rows a table goes on on a new page: so that four rows at
// least stand on either side, no section's heading stands last, a remark stays with its
// row, and the notes with the last rows. 0 stands for a table that had better begin on
// a new page. Room is what there is for rows here, page on a new page.
func breaks(rows []line, room, page, notes float64) []int {
	left := make([]int, len(rows)+1) // rows with cells from here on
	for i := len(rows) - 1; i >= 0; i-- {
		if left[i] = left[i+1]; rows[i].data() {
			left[i]++
		}
	}
	var at []int
	for start := 0; start < len(rows); {
		used, fit := 0.0, start
		for fit < len(rows) && used+rows[fit].height <= room {
			used += rows[fit].height
			fit++
		}
		if fit == len(rows) && used+notes <= room {
			break
		}
		next := 0
		for b := min(fit, len(rows)-1); b > start; b-- {
			if left[start]-left[b] >= together && left[b] >= together && !rows[b-1].heading() && (rows[b].data() || rows[b].heading()) {
				next = b
				break
			}
		}
		switch {
		case next > 0:
		case start == 0 && len(at) == 0 && room < page:
			at, room = append(at, 0), page
			continue
		case fit == len(rows): // the notes alone go on
			return at
		default:
			next = max(fit, start+1)
			if next-1 > start && rows[next-1].heading() {
				next--
			}
		}
		at, start, room = append(at, next), next, page
	}
	return at
}

// beginning is the room that a table needs to begin on a page: that of its first rows, or
// of all of it where too few would be left for another page.
func (w *writer) beginning(t *document.Table) float64 {
	t = t.Filled()
	g := w.grid(t)
	used, n := height(w.cells(g, titles(t), true), g.style)+9, 0
	rows := w.rowsOf(g)
	whole := 2*together > len(t.Rows)
	for i := range rows {
		if n == together && !whole {
			break
		}
		used += rows[i].height
		if rows[i].data() {
			n++
		}
	}
	if whole {
		used += w.notesHeight(t.Notes, pageHeight/4) + 3
	}
	if t.Caption != "" {
		used += captions.leading
	}
	return min(used, pageHeight/2)
}

// again begins a new page with the table's header.
func (w *writer) again(g *grid, header [][]string, section string) {
	w.newPage()
	w.header(g, header)
	if section != "" {
		bold := g.style
		bold.bold = true
		w.lines(bold, section+" (continued)", 0, textWidth)
	}
}

func (w *writer) header(g *grid, header [][]string) {
	tall := 0
	for _, lines := range header {
		tall = max(tall, len(lines))
	}
	for i, lines := range header { // on the line
		header[i] = append(make([]string, tall-len(lines)), lines...)
	}
	bold := *g
	bold.style.bold = true
	w.row(&bold, header)
	w.doc.SetDrawColor(60, 60, 60)
	w.doc.SetLineWidth(.5)
	total := 0.0
	for _, x := range g.widths {
		total += x + columnGap
	}
	w.doc.Line(marginX, w.y+1, marginX+total-columnGap, w.y+1)
	w.y += 3
}

// row writes cells already wrapped.
func (w *writer) row(g *grid, cells [][]string) {
	w.set(g.style)
	x := marginX
	for i, lines := range cells {
		for n, line := range lines {
			at := x
			switch {
			case g.table.Columns[i].Align == document.Right:
				at += g.widths[i] - w.width(line)
			case g.table.Columns[i].Align == document.Decimal && n == 0 && !g.style.bold:
				at += max(0, g.whole[i]-w.width(line[:document.WholePart(line)]))
			}
			if line != "" {
				w.say(at, w.y+float64(n)*g.style.leading+g.style.size, line)
			}
		}
		x += g.widths[i] + columnGap
	}
	w.y += height(cells, g.style) + 1
}

func height(cells [][]string, s style) float64 {
	most := 1
	for _, lines := range cells {
		most = max(most, len(lines))
	}
	return float64(most) * s.leading
}

func titles(t *document.Table) []string {
	var all []string
	for _, c := range t.Columns {
		all = append(all, c.Title)
	}
	return all
}

// cells wraps the cells of a row.
func (w *writer) cells(g *grid, texts []string, bold bool) [][]string {
	s := g.style
	s.bold = bold
	w.set(s)
	out := make([][]string, len(texts))
	for i, cell := range texts {
		if cell == "" {
			out[i] = []string{""}
			continue
		}
		width := g.widths[i]
		if g.table.Columns[i].Align == document.Decimal && !bold {
			width -= max(0, g.whole[i]-w.width(cell[:document.WholePart(cell)]))
		}
		out[i] = w.wrap(cell, max(width, 8)+.01)
	}
	return out
}

// grid finds the size of a table's text and the widths of its columns.
func (w *writer) grid(t *document.Table) *grid {
	for n, size := range sizes {
		g := &grid{table: t, style: style{size: size, leading: size * 1.28}}
		natural, least := w.measure(g)
		room := textWidth - columnGap*float64(len(t.Columns)-1)
		if sum(natural) <= room {
			g.widths = natural
			return g
		}
		if sum(least) <= room {
			g.widths = share(natural, least, room)
			return g
		}
		if n == len(sizes)-1 { // words are broken
			g.widths = share(least, make([]float64, len(least)), room)
			return g
		}
	}
	panic("unreachable")
}

// measure gives each column's width without a line broken, and that of its
// widest part that is not broken.
func (w *writer) measure(g *grid) (natural, least []float64) {
	t := g.table
	n := len(t.Columns)
	natural, least, g.whole = make([]float64, n), make([]float64, n), make([]float64, n)
	bold := g.style
	bold.bold = true
	w.set(bold)
	for i, c := range t.Columns {
		for _, word := range text.Parts(c.Title) {
			least[i] = max(least[i], w.width(word))
		}
		natural[i] = least[i]
	}
	w.set(g.style)
	for i, c := range t.Columns {
		if c.Align != document.Decimal {
			continue
		}
		for _, r := range t.Rows {
			if r.Cells != nil {
				g.whole[i] = max(g.whole[i], w.width(r.Cells[i][:document.WholePart(r.Cells[i])]))
			}
		}
	}
	for _, r := range t.Rows {
		for i, cell := range r.Cells {
			width, before := w.width(cell), 0.0
			if t.Columns[i].Align == document.Decimal && cell != "" {
				before = max(0, g.whole[i]-w.width(cell[:document.WholePart(cell)]))
			}
			natural[i] = max(natural[i], width+before)
			if !t.Columns[i].Wraps {
				least[i] = max(least[i], min(width+before, 150))
				continue
			}
			for _, word := range text.Parts(cell) {
				least[i] = max(least[i], min(w.width(word)+before, 150))
			}
		}
	}
	return natural, least
}

// share narrows columns to the room there is, each by the same part of what it
// can give.
func share(natural, least []float64, room float64) []float64 {
	give := sum(natural) - sum(least)
	out := make([]float64, len(natural))
	for i := range natural {
		out[i] = natural[i]
		if give > 0 {
			out[i] -= (natural[i] - least[i]) / give * (sum(natural) - room)
		}
	}
	return out
}

func sum(xs []float64) float64 {
	total := 0.0
	for _, x := range xs {
		total += x
	}
	return total
}
