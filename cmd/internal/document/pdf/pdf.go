// Package pdf writes a document as PDF: A4 pages with their numbers, bookmarks,
// embedded fonts, text that can be selected, and figures as vectors.
//
// The file is not tagged for screen readers, which the library can't do; the
// HTML of package html is the form for them.
package pdf

import (
	"bytes"
	"fmt"
	"io"

	"codeberg.org/go-pdf/fpdf"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort/text"
)

// Write writes a document in a font; nil means the one that comes with the
// program. The same document gives the same bytes. Errors are those of the
// writer, and of a figure that can't be drawn.
func Write(w io.Writer, d *document.Document, font *text.Font) error {
	// What stands on which page is known once everything has been laid out.
	first, err := layOut(d, font, marks{})
	if err != nil {
		return err
	}
	second, err := layOut(d, font, marks{pages: first.doc.PageCount(), heading: first.heading})
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := second.doc.Output(&b); err != nil {
		return fmt.Errorf("the PDF can't be made: %w", err)
	}
	_, err = b.WriteTo(w)
	return err
}

// marks are what a first layout finds out for the second.
type marks struct {
	pages   int
	heading map[int]int // page by block
}

// drawing is a figure that can stand on a page.
type drawing interface {
	Size() (width, height float64)
	PlacePDF(doc *fpdf.Fpdf, x, y float64)
}

// Sizes in points.
const (
	mm         = 72 / 25.4
	pageWidth  = 210 * mm
	pageHeight = 297 * mm
	marginX    = 20 * mm
	top        = 16 * mm
	bottom     = 18 * mm
	textWidth  = pageWidth - 2*marginX
)

// style is a way of setting text.
type style struct {
	size, leading float64
	bold, italic  bool
	grey          int
}

var (
	body     = style{size: 9.2, leading: 12.4}
	title    = style{size: 17, leading: 21, bold: true}
	subtitle = style{size: 11, leading: 15, grey: 70}
	captions = style{size: 8.5, leading: 11.5}
	small    = style{size: 7.8, leading: 10.4, grey: 40}
	footer   = style{size: 7.5, leading: 10, grey: 80}
	headings = [...]style{
		1: {size: 13.5, leading: 17, bold: true},
		2: {size: 11, leading: 14.5, bold: true},
		3: {size: 9.5, leading: 13, italic: true},
	}
	above = [...]float64{1: 20, 2: 14, 3: 10}
)

// writer lays blocks out on pages.
type writer struct {
	document *document.Document
	doc      *fpdf.Fpdf
	face     *text.Font
	known    marks
	heading  map[int]int
	links    map[int]int
	y        float64
	figures  int
	pending  []*placed // figures for the next page
}

// placed is a figure with its caption, ready to be drawn.
type placed struct {
	drawing drawing
	scale   float64
	height  float64 // of all of it
	caption string
	notes   []string
}

func layOut(d *document.Document, font *text.Font, known marks) (*writer, error) {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: pageWidth, Ht: pageHeight}})
	doc.SetCatalogSort(true)
	doc.SetCreationDate(d.Day)
	doc.SetModificationDate(d.Day)
	doc.SetProducer("holdfast", true)
	doc.SetCreator("holdfast", true)
	language := d.Language
	if language == "" {
		language = "en-GB"
	}
	doc.SetLang(language)
	whole := d.Title
	if d.Subtitle != "" {
		whole += " – " + d.Subtitle
	}
	doc.SetTitle(whole, true)
	doc.SetMargins(0, 0, 0)
	doc.SetCellMargin(0)
	doc.SetAutoPageBreak(false, 0)
	if font == nil {
		font = text.Default()
	}
	font.Embed(doc)
	w := &writer{document: d, doc: doc, face: font, known: known, heading: make(map[int]int), links: make(map[int]int)}
	for i, b := range d.Blocks {
		if _, ok := b.(document.Heading); ok {
			w.links[i] = doc.AddLink()
		}
	}
	w.newPage()
	if d.Title != "" {
		w.lines(title, d.Title, 0, textWidth)
		w.y += 2
	}
	if d.Subtitle != "" {
		w.lines(subtitle, d.Subtitle, 0, textWidth)
	}
	for i, b := range d.Blocks {
		if err := w.block(i, b); err != nil {
			return nil, err
		}
	}
	w.flush()
	if err := doc.Error(); err != nil {
		return nil, fmt.Errorf("the PDF can't be made: %w", err)
	}
	return w, nil
}

func (w *writer) block(i int, b document.Block) error {
	w.waiting()
	switch b := b.(type) {
	case document.Heading:
		w.head(i, b)
	case document.Paragraph:
		w.y += 5
		w.room(w.whole(i, b))
		w.lines(body, b.Text, 0, textWidth)
		w.y += 2
	case document.Answer:
		lead := body
		lead.bold = true
		w.y += 4
		w.room(4 * lead.leading)
		w.lines(lead, b.Lead, 0, textWidth)
		if b.First != "" {
			w.lines(body, b.First, 8, textWidth-8)
		}
		w.items(body, b.Items)
		w.y += 2
	case document.List:
		w.y += 4
		w.items(body, b.Items)
		w.y += 2
	case *document.Table:
		w.table(b)
	case document.Figure:
		return w.figure(i, b)
	case document.Contents:
		w.contents(b)
	case document.Lines:
		w.ruled(i, b)
	}
	return nil
}

// newPage begins a page and writes its foot.
func (w *writer) newPage() {
	w.doc.AddPage()
	y := pageHeight - bottom + 16
	page := fmt.Sprintf("Page %d", w.doc.PageNo())
	if w.known.pages > 0 {
		page += fmt.Sprintf(" of %d", w.known.pages)
	}
	w.set(footer)
	right := w.width(page)
	w.say(pageWidth-marginX-right, y, page)
	name := w.document.Title
	if w.document.Subtitle != "" {
		name += " – " + w.document.Subtitle
	}
	w.say(marginX, y, w.fit(name, textWidth-right-20))
	w.y = top
}

// waiting draws the figures that wait for a page, as many as fit here: between
// blocks, so that none parts a sentence or a table.
func (w *writer) waiting() {
	for len(w.pending) > 0 && (w.y <= top || w.y+w.pending[0].height <= pageHeight-bottom) {
		next := w.pending[0]
		w.pending = w.pending[1:]
		w.place(next)
	}
}

// flush draws all of them.
func (w *writer) flush() {
	for w.waiting(); len(w.pending) > 0; w.waiting() {
		w.newPage()
	}
}

// room makes sure that so much fits on the page, on a new one if need be.
func (w *writer) room(height float64) {
	if w.y+height > pageHeight-bottom && w.y > top {
		w.newPage()
	}
}

func (w *writer) set(s style) {
	w.doc.SetFont(w.face.Face(s.bold, s.italic).Key, "", s.size)
	w.doc.SetTextColor(s.grey, s.grey, s.grey)
}

// say writes one line, its baseline at y. width is a text's width; both are of
// the font set.
func (w *writer) say(x, y float64, s string) { w.doc.Text(x, y, w.face.Printed(s)) }

func (w *writer) width(s string) float64 { return w.doc.GetStringWidth(w.face.Printed(s)) }

// fit cuts a text to a width, and wrap breaks it into lines of one.
func (w *writer) fit(s string, most float64) string { return text.Measure(w.width).Cut(s, most) }

func (w *writer) wrap(s string, most float64) []string { return text.Measure(w.width).Wrap(s, most) }

// lines writes a text wrapped to a width, from the current height down.
func (w *writer) lines(s style, words string, x, width float64) {
	w.set(s)
	for _, line := range w.wrap(words, width) {
		w.room(s.leading)
		w.set(s)
		w.say(marginX+x, w.y+s.size, line)
		w.y += s.leading
	}
}

// items writes texts under one another, each with its mark before it.
func (w *writer) items(s style, items []document.Item) {
	term := s
	indent := 0.0
	w.set(s)
	for _, it := range items {
		if len([]rune(it.Mark)) > 4 {
			term.bold = true
		}
	}
	w.set(term)
	for _, it := range items {
		indent = max(indent, w.width(it.Mark)+6)
	}
	indent = min(indent, textWidth/3)
	for _, it := range items {
		w.room(s.leading)
		w.set(term)
		w.say(marginX, w.y+s.size, w.fit(it.Mark, indent-4))
		w.lines(s, it.Text, indent, textWidth-indent)
		for _, line := range it.Lines {
			w.lines(s, line, indent+12, textWidth-indent-12)
		}
		w.y += s.leading * .1
	}
}

func (w *writer) head(i int, h document.Heading) {
	s := headings[h.Level]
	if h.Level <= 2 {
		w.flush()
	}
	w.y += above[h.Level]
	w.set(s)
	lines := w.wrap(h.Text, textWidth)
	// A heading stands with what it heads.
	w.room(float64(len(lines))*s.leading + w.ahead(i+1))
	w.heading[i] = w.doc.PageNo()
	w.set(s)
	w.doc.Bookmark(h.Text, h.Level-1, w.y)
	w.doc.SetLink(w.links[i], w.y, -1)
	for _, line := range lines {
		w.set(s)
		w.say(marginX, w.y+s.size, line)
		w.y += s.leading
	}
	if h.Level == 1 {
		w.rule(w.y+1, .5)
		w.y += 4
	}
}

// ahead is the least height of what follows a heading that is to stand on the
// same page.
func (w *writer) ahead(i int) float64 {
	const least = 60
	if i >= len(w.document.Blocks) {
		return 0
	}
	switch b := w.document.Blocks[i].(type) {
	case document.Paragraph:
		return w.whole(i, b) + 8
	case document.Lines:
		return float64(b.Number)*lineApart + 40
	case document.Figure: // stands with its heading
		if d, ok := b.Drawing.(drawing); ok {
			_, height, _ := w.sizes(i, d, b)
			return height + 8
		}
	case *document.Table:
		return w.beginning(b)
	case document.Heading:
		s := headings[b.Level]
		return above[b.Level] + s.leading + w.ahead(i+1)
	}
	return least
}

// whole is the room for a short paragraph, which is not parted, with the
// beginning of the table that it leads to.
func (w *writer) whole(i int, p document.Paragraph) float64 {
	w.set(body)
	lines := len(w.wrap(p.Text, textWidth))
	if lines > 6 {
		lines = 2
	}
	height := float64(lines) * body.leading
	if i+1 < len(w.document.Blocks) {
		switch w.document.Blocks[i+1].(type) {
		case *document.Table, document.Lines:
			height += w.ahead(i+1) + 2
		}
	}
	return height
}

// rule draws a line across the page.
func (w *writer) rule(y, thick float64) {
	w.doc.SetDrawColor(110, 110, 110)
	w.doc.SetLineWidth(thick)
	w.doc.Line(marginX, y, pageWidth-marginX, y)
}

func (w *writer) contents(c document.Contents) {
	w.y += 8
	bold := body
	bold.bold = true
	entries := 1
	for _, b := range w.document.Blocks {
		if h, ok := b.(document.Heading); ok && h.Level == 1 {
			entries++
		}
	}
	w.room(min(float64(entries)*body.leading, pageHeight-bottom-top))
	w.lines(bold, c.Title, 0, textWidth)
	for i, b := range w.document.Blocks {
		h, ok := b.(document.Heading)
		if !ok || h.Level != 1 {
			continue
		}
		w.room(body.leading)
		w.set(body)
		page := fmt.Sprint(w.known.heading[i])
		right := w.width(page)
		name := w.fit(h.Text, textWidth-right-30)
		w.say(marginX, w.y+body.size, name)
		w.say(pageWidth-marginX-right, w.y+body.size, page)
		w.doc.SetDrawColor(150, 150, 150)
		w.doc.SetLineWidth(.4)
		w.doc.SetDashPattern([]float64{.5, 2.5}, 0)
		w.doc.Line(marginX+w.width(name)+5, w.y+body.size, pageWidth-marginX-right-5, w.y+body.size)
		w.doc.SetDashPattern(nil, 0)
		w.doc.Link(marginX, w.y, textWidth, body.leading, w.links[i])
		w.y += body.leading
	}
}

// lineApart is the space between lines to write on.
const lineApart = 22

// mostRuled is how many lines to write on end a document at most.
const mostRuled = 12

// ruled draws lines to write on under a prompt, all on one page. Those that end a
// document take what is left of it.
func (w *writer) ruled(i int, l document.Lines) {
	bold := body
	bold.bold = true
	w.room(float64(l.Number)*lineApart + body.leading + 10)
	w.y += 8
	w.lines(bold, l.Prompt, 0, textWidth)
	if i+1 == len(w.document.Blocks) {
		l.Number = max(l.Number, min(mostRuled, int((pageHeight-bottom-w.y)/lineApart)))
	}
	for range l.Number {
		w.y += lineApart
		w.rule(w.y, .4)
	}
	w.y += 4
}

// figure draws a figure with its caption and remarks under it, all on one page.
func (w *writer) figure(i int, f document.Figure) error {
	d, ok := f.Drawing.(drawing)
	if !ok {
		return fmt.Errorf("figure %q can't be drawn on a page", f.Caption)
	}
	w.figures++
	scale, height, caption := w.sizes(i, d, f)
	next := &placed{d, scale, height, caption, f.Notes}
	w.y += 8
	// Where a figure does not fit, what follows fills the page, and it stands
	// before the first block of the next.
	if len(w.pending) > 0 || w.y+height > pageHeight-bottom && w.y > top {
		w.pending = append(w.pending, next)
		return nil
	}
	w.place(next)
	return nil
}

// place draws a figure here.
func (w *writer) place(f *placed) {
	width, tall := f.drawing.Size()
	x := marginX + (textWidth-f.scale*width)/2
	if f.scale < 1 {
		w.doc.TransformBegin()
		w.doc.TransformScaleXY(100*f.scale, x, w.y)
	}
	f.drawing.PlacePDF(w.doc, x, w.y)
	if f.scale < 1 {
		w.doc.TransformEnd()
	}
	w.y += f.scale*tall + 4
	w.lines(captions, f.caption, 0, textWidth)
	for _, n := range f.notes {
		w.lines(small, n, 0, textWidth)
	}
	w.y += 6
}

// sizes finds how much smaller a figure must be drawn to stand on a page with
// its caption and remarks, and its headings above it, and the height of all but these.
func (w *writer) sizes(i int, d drawing, f document.Figure) (scale, height float64, caption string) {
	width, tall := d.Size()
	caption = fmt.Sprintf("Figure %d. %s", w.figures, f.Caption)
	w.set(captions)
	below := float64(len(w.wrap(caption, textWidth)))*captions.leading + 4
	w.set(small)
	for _, n := range f.Notes {
		below += float64(len(w.wrap(n, textWidth))) * small.leading
	}
	over := 40.0 // one heading
	for ; i > 1; i-- {
		h, heads := w.document.Blocks[i-1].(document.Heading)
		if _, more := w.document.Blocks[i-2].(document.Heading); !heads || !more {
			break
		}
		over += above[h.Level] + headings[h.Level].leading
	}
	scale = min(1, textWidth/width, (pageHeight-top-bottom-below-over)/tall)
	return scale, scale*tall + below + 8, caption
}
