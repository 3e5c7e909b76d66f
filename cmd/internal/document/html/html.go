// Package html writes a document as one HTML file: no script, nothing from
// outside, for screens of any width, for print and for screen readers.
package html

import (
	"bytes"
	_ "embed"
	"fmt"
	"html"
	"io"
	"regexp"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
)

//go:embed style.css
var style string

// Write writes a document. Every text is escaped, and the page's own policy
// forbids scripts and everything from outside. The same document gives the same
// bytes. Errors are those of the writer and of drawings.
func Write(w io.Writer, d *document.Document) error {
	p := &page{document: d}
	p.number()
	if err := p.page(); err != nil {
		return err
	}
	_, err := w.Write(p.out.Bytes())
	return err
}

// WriteBody writes the blocks of a document as a part of another page, which has
// the same style sheet. Its ids begin with a prefix of letters, so that several
// parts stand on one page; its headings of level 1 are those of level 2 there.
func WriteBody(w io.Writer, d *document.Document, prefix string) error {
	p := &page{document: d, prefix: prefix}
	p.number()
	if err := p.blocks(); err != nil {
		return err
	}
	_, err := w.Write(p.out.Bytes())
	return err
}

// mark stands at the head of every page, by which [Ours] knows it again.
const mark = `<meta name="generator" content="holdfast">`

// mostHead is how far from its beginning the mark of a page stands.
const mostHead = 1024

// Ours says whether a file's text was written by [Write], and not saved again by
// another program. Errors of the reader make it no.
func Ours(r io.Reader) bool {
	head, err := io.ReadAll(io.LimitReader(r, mostHead))
	return err == nil && bytes.Contains(head, []byte(mark))
}

// page collects a page.
type page struct {
	document *document.Document
	out      bytes.Buffer
	prefix   string         // of all ids
	ids      map[int]string // of headings, by their place among the blocks
	tables   int
	figures  int
	sources  map[string]string // ids of sources, by their marks
	cited    map[string]bool   // marks that a link has led from
	placed   map[string]bool   // marks whose source stands
	body     bool              // what is written is of the body, where links may stand
}

// raw writes markup of our own, text a text that may be anybody's.
func (p *page) raw(parts ...string) {
	for _, s := range parts {
		p.out.WriteString(s)
	}
}

// text writes a text; the marks of sources in it lead to them, and stay with what they are of.
func (p *page) text(s string) {
	if !p.body || len(p.sources) == 0 || !strings.Contains(s, "[") {
		p.raw(html.EscapeString(s))
		return
	}
	at := 0
	for _, m := range marks.FindAllStringIndex(s, -1) {
		before, spaced := strings.CutSuffix(s[at:m[0]], " ")
		p.raw(html.EscapeString(before))
		if spaced {
			p.raw("&nbsp;")
		}
		p.raw("[")
		for i, mark := range strings.Split(s[m[0]+1:m[1]-1], ", ") {
			if i > 0 {
				p.raw(",&nbsp;")
			}
			p.cite(mark)
		}
		at = m[1] - 1
	}
	p.raw(html.EscapeString(s[at:]))
}

// marks are those of sources: [a], [1b, 2c].
var marks = regexp.MustCompile(`\[[0-9]*[a-z]{1,2}(, [0-9]*[a-z]{1,2})*\]`)

// cite leads to a source; the first time it is led back to.
func (p *page) cite(mark string) {
	id, ok := p.sources[mark]
	if !ok {
		p.raw(html.EscapeString(mark))
		return
	}
	p.raw("<a href=", attribute("#"+id))
	if !p.cited[mark] {
		p.cited[mark] = true
		p.raw(" id=", attribute(id+"-from"))
	}
	p.raw(">", html.EscapeString(mark), "</a>")
}

// findSources gives each source that a list names by its mark an id.
func (p *page) findSources() {
	p.sources, p.cited, p.placed = make(map[string]string), make(map[string]bool), make(map[string]bool)
	for _, b := range p.document.Blocks {
		if list, ok := b.(document.List); ok {
			for _, it := range list.Items {
				if mark := strings.TrimSpace(it.Mark); marks.FindString(mark) == mark && mark != "" {
					mark = mark[1 : len(mark)-1]
					p.sources[mark] = p.prefix + "source-" + mark
				}
			}
		}
	}
}

// attribute is a text as the value of an attribute, quoted.
func attribute(s string) string { return `"` + html.EscapeString(s) + `"` }

// number gives every heading and every source an id.
func (p *page) number() {
	p.findSources()
	p.ids = make(map[int]string)
	n := 0
	for i, b := range p.document.Blocks {
		if _, ok := b.(document.Heading); ok {
			n++
			p.ids[i] = fmt.Sprintf("%spart-%d", p.prefix, n)
		}
	}
}

func (p *page) page() error {
	d := p.document
	language := d.Language
	if language == "" {
		language = "en-GB"
	}
	p.raw("<!DOCTYPE html>\n<html lang=", attribute(language), ">\n<head>\n<meta charset=\"utf-8\">\n",
		`<meta name="viewport" content="width=device-width, initial-scale=1">`, "\n",
		`<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">`, "\n",
		`<meta name="referrer" content="no-referrer">`, "\n", mark, "\n<title>")
	p.text(d.Title)
	if d.Subtitle != "" {
		p.text(" – " + d.Subtitle)
	}
	p.raw("</title>\n<style>\n", style, "</style>\n</head>\n<body>\n")
	if slices.ContainsFunc(d.Blocks, func(b document.Block) bool { _, ok := b.(document.Contents); return ok }) {
		p.raw("<a class=\"skip\" href=", attribute("#"+p.prefix+"contents"), ">To the contents</a>\n")
	}
	p.raw("<main>\n")
	p.body = true
	if d.Title != "" {
		p.raw("<header>\n<h1>")
		p.text(d.Title)
		p.raw("</h1>\n")
		if d.Subtitle != "" {
			p.raw(`<p class="subtitle">`)
			p.text(d.Subtitle)
			p.raw("</p>\n")
		}
		p.raw("</header>\n")
	}
	if err := p.blocks(); err != nil {
		return err
	}
	p.raw("</main>\n</body>\n</html>\n")
	return nil
}

// blocks writes the blocks of the document.
func (p *page) blocks() error {
	for i, b := range p.document.Blocks {
		switch b := b.(type) {
		case document.Heading:
			p.heading(i, b)
		case document.Paragraph:
			p.raw("<p>")
			p.text(b.Text)
			p.raw("</p>\n")
		case document.Answer:
			p.raw("<section>\n<p><strong>")
			p.text(b.Lead)
			p.raw("</strong></p>\n")
			if b.First != "" {
				p.raw("<p>")
				p.text(b.First)
				p.raw("</p>\n")
			}
			p.list(b.Items, "")
			p.raw("</section>\n")
		case document.List:
			p.list(b.Items, "")
		case *document.Table:
			p.table(b, p.headingBefore(i))
		case document.Figure:
			if err := p.figure(b); err != nil {
				return err
			}
		case document.Contents:
			p.contents(b)
		case document.Lines:
			p.raw(`<p class="prompt">`)
			p.text(b.Prompt)
			p.raw("</p>\n<div class=\"lines\" aria-hidden=\"true\">", strings.Repeat("<div></div>", b.Number), "</div>\n")
		}
	}
	return nil
}

func (p *page) heading(i int, h document.Heading) {
	tag := fmt.Sprintf("h%d", h.Level+1)
	p.raw("<", tag, " id=", attribute(p.ids[i]), ">")
	p.text(h.Text)
	p.raw("</", tag, ">\n")
}

// headingBefore is the text of the last heading before a block: what a table is
// called that has no caption of its own.
func (p *page) headingBefore(i int) string {
	for i--; i >= 0; i-- {
		if h, ok := p.document.Blocks[i].(document.Heading); ok {
			return h.Text
		}
	}
	return p.document.Title
}

// list writes items: bullets as a list, marks as terms with what they stand
// for.
func (p *page) list(items []document.Item, class string) {
	if class != "" {
		class = " class=" + attribute(class)
	}
	bullets := true
	for _, it := range items {
		bullets = bullets && it.Mark == document.Bullet
	}
	if bullets {
		p.raw("<ul", class, ">\n")
		for _, it := range items {
			p.raw("<li>")
			p.text(it.Text)
			p.copied(it.Lines)
			p.raw("</li>\n")
		}
		p.raw("</ul>\n")
		return
	}
	p.raw("<dl", class, ">\n")
	for _, it := range items {
		within := ""
		if strings.HasPrefix(it.Mark, " ") {
			within = ` class="within"`
		}
		mark := strings.TrimSpace(it.Mark)
		id := ""
		if name := strings.Trim(mark, "[]"); class == "" && !p.placed[name] && name != mark {
			id = p.sources[name]
			p.placed[name] = true
		}
		if id == "" {
			p.raw("<div", within, "><dt>", html.EscapeString(mark), "</dt><dd>")
		} else {
			p.raw("<div", within, "><dt id=", attribute(id), ">", html.EscapeString(mark), "</dt><dd>")
		}
		p.text(it.Text)
		if id != "" && p.cited[strings.Trim(mark, "[]")] {
			p.raw(" <a href=", attribute("#"+id+"-from"), ">back</a>")
		}
		p.copied(it.Lines)
		p.raw("</dd></div>\n")
	}
	p.raw("</dl>\n")
}

// copied writes lines that are to be copied.
func (p *page) copied(lines []string) {
	if len(lines) == 0 {
		return
	}
	p.raw("<pre>")
	p.text(strings.Join(lines, "\n"))
	p.raw("</pre>")
}

func (p *page) contents(c document.Contents) {
	p.raw("<nav id=", attribute(p.prefix+"contents"), " aria-label=", attribute(c.Title), ">\n<p class=\"prompt\">")
	p.text(c.Title)
	p.raw("</p>\n<ol>\n")
	for i, b := range p.document.Blocks {
		if h, ok := b.(document.Heading); ok && h.Level == 1 {
			p.raw("<li><a href=", attribute("#"+p.ids[i]), ">")
			p.text(h.Text)
			p.raw("</a></li>\n")
		}
	}
	p.raw("</ol>\n</nav>\n")
}

// table writes a table. It stands in a box that scrolls where a screen is too
// narrow for it, and that the keyboard reaches.
// Least room on a telephone, in CSS pixels, and what letters and the space between
// columns take of it there.
const (
	phone       = 330
	letterWidth = 7.5
	cellGap     = 11.5
)

// widerThanPhone says whether a table can't but be scrolled on a telephone: its cells
// break between words, those with decimals not at all.
func widerThanPhone(t *document.Table) bool {
	total := 0.0
	for i, c := range t.Columns {
		least := 0
		words := func(s string, whole bool) {
			if whole {
				least = max(least, document.Width(s))
				return
			}
			for _, w := range strings.Fields(s) {
				least = max(least, document.Width(w))
			}
		}
		words(c.Title, false)
		for _, r := range t.Rows {
			if r.Cells != nil {
				words(r.Cells[i], c.Align == document.Decimal)
			}
		}
		total += float64(least)*letterWidth + cellGap
	}
	return total > phone
}

func (p *page) table(t *document.Table, called string) {
	t = t.Filled()
	if t.Caption != "" {
		called = t.Caption
	}
	p.tables++
	caption := fmt.Sprintf("%stable-%d", p.prefix, p.tables)
	p.raw("<div class=\"wide\"")
	if widerThanPhone(t) { // a narrower one would be a dead stop of the keyboard
		p.raw(" role=\"region\" tabindex=\"0\" aria-labelledby=", attribute(caption))
	}
	p.raw(">\n<table>\n<caption id=", attribute(caption))
	if t.Caption == "" {
		p.raw(` class="unseen"`)
	}
	p.raw(">")
	if t.Caption == "" {
		called = fmt.Sprintf("Table %d: %s", p.tables, called) // names are unique
	}
	p.text(called)
	p.raw("</caption>\n<thead>\n<tr>")
	for _, c := range t.Columns {
		class := classes[c.Align]
		if c.Title == "" {
			p.raw(`<th scope="col"`, class, `><span class="unseen">Remarks</span></th>`)
			continue
		}
		p.raw(`<th scope="col"`, class, ">")
		p.text(c.Title)
		p.raw("</th>")
	}
	p.raw("</tr>\n</thead>\n<tbody>\n")
	align := t.Alignment()
	for i, r := range t.Rows {
		apart := ""
		if r.Apart && i > 0 {
			apart = ` class="apart"`
		}
		if r.Cells == nil && r.Remark {
			p.raw(`<tr><td class="remark" colspan=`, attribute(fmt.Sprint(len(t.Columns))), ">")
			p.text(r.Section)
			p.raw("</td></tr>\n")
			continue
		}
		if r.Cells == nil {
			if i > 0 {
				p.raw("</tbody>\n<tbody>\n")
			}
			p.raw("<tr", apart, `><th class="section" scope="rowgroup" colspan=`, attribute(fmt.Sprint(len(t.Columns))), ">")
			p.text(r.Section)
			p.raw("</th></tr>\n")
			continue
		}
		p.raw("<tr", apart, ">")
		for j, cell := range r.Cells {
			tag, scope := "td", ""
			if j == 0 && cell != "" {
				tag, scope = "th", ` scope="row"`
			}
			p.raw("<", tag, scope, classes[t.Columns[j].Align], ">")
			if j < r.Repeats {
				p.raw(`<span class="unseen">`)
				p.text(cell)
				p.raw("</span>")
			} else {
				p.raw(align.Pad(j, cell))
				p.text(cell)
			}
			p.raw("</", tag, ">")
		}
		p.raw("</tr>\n")
	}
	p.raw("</tbody>\n</table>\n</div>\n")
	if len(t.Notes) > 0 {
		p.list(t.Notes, "notes")
	}
}

var classes = map[document.Align]string{document.Left: "", document.Right: ` class="right"`, document.Decimal: ` class="decimal"`}

// figure writes a drawing with its caption and remarks.
func (p *page) figure(f document.Figure) error {
	var svg bytes.Buffer
	if err := f.Drawing.WriteSVG(&svg); err != nil {
		return err
	}
	drawing := svg.String()
	start := strings.Index(drawing, "<svg")
	if start < 0 {
		return fmt.Errorf("a drawing has no svg element")
	}
	p.figures++
	// The box scrolls where a screen is too narrow for letters that can be read.
	p.raw(fmt.Sprintf("<figure>\n<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"Figure %d\">\n", p.figures),
		"<div class=\"drawing\" role=\"img\" aria-label=", attribute(f.Alternative), ">\n")
	// What stands for the drawing is its text alternative; a reader need not
	// hear every tick of its axes.
	p.raw(`<div aria-hidden="true">`, "\n", strings.TrimSpace(drawing[start:]), "\n</div>\n</div>\n</div>\n<figcaption>")
	p.raw(fmt.Sprintf("<b>Figure %d.</b> ", p.figures))
	p.text(f.Caption)
	if len(f.Notes) > 0 {
		p.raw("<span class=\"notes\">")
		p.text(" " + strings.Join(f.Notes, " "))
		p.raw("</span>")
	}
	p.raw("</figcaption>\n</figure>\n")
	return nil
}
