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

// table writes a table: its columns as wide as their cells, made narrower and
// then set smaller until it fits; its header again on each page.
func (w *writer) table(t *document.Table) {
	t = t.Filled()
	g := w.grid(t)
	w.y += 5
	header := w.cells(g, titles(t), true)
	// A header stands with its first rows.
	first := height(header, g.style) + 3*g.style.leading
	w.room(first)
	if t.Caption != "" {
		bold := captions
		bold.bold = true
		w.lines(bold, t.Caption, 0, textWidth)
	}
	w.header(g, header)
	section := ""
	for i, r := range t.Rows {
		if r.Cells == nil && r.Remark {
			w.again(g, header, 2*g.style.leading, section)
			w.lines(g.style, r.Section, 8, textWidth-8)
			w.y += 2
			continue
		}
		if r.Cells == nil {
			bold := g.style
			bold.bold = true
			w.set(bold)
			lines := w.wrap(r.Section, textWidth)
			need := float64(len(lines)+1)*g.style.leading + 4
			if i > 0 {
				w.y += 4
			}
			w.again(g, header, need, "")
			section = r.Section
			for _, line := range lines {
				w.set(bold)
				w.say(marginX, w.y+g.style.size, line)
				w.y += g.style.leading
			}
			continue
		}
		if r.Apart && i > 0 {
			w.y += 4
		}
		shown := slices.Clone(r.Cells)
		clear(shown[:r.Repeats])
		cells := w.cells(g, shown, false)
		if h := height(cells, g.style); w.y+h > pageHeight-bottom {
			// On a new page a row says again what it left out.
			cells = w.cells(g, r.Cells, false)
			w.again(g, header, height(cells, g.style), section)
		}
		w.row(g, cells)
	}
	if len(t.Notes) > 0 {
		w.y += 3
		w.items(small, t.Notes)
	}
	w.y += 5
}

// again begins a new page with the table's header if there is no room.
func (w *writer) again(g *grid, header [][]string, need float64, section string) {
	if w.y+need <= pageHeight-bottom {
		return
	}
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
