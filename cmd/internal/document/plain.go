package document

import (
	"io"
	"strings"

	"example.org/holdfast/cohort/text"
)

// TextOptions say how plain text is laid out.
type TextOptions struct {
	Width int  // columns; 0 means 100
	Bold  bool // headings in bold, on a terminal that allows it
}

// DefaultWidth is the width of plain text unless told otherwise.
const DefaultWidth = 100

// LeastWidth is the narrowest that tables can be brought to.
const LeastWidth = 60

// WriteText writes a document as plain text: wrapped to a width, decimals in
// line, everything said without colour. Errors are those of the writer.
func WriteText(w io.Writer, d *Document, o TextOptions) error {
	most := o.Width
	if most <= 0 {
		most = DefaultWidth
	}
	return write(w, d, &plain{width: max(most, LeastWidth), bold: o.Bold})
}

// WriteMarkdown writes a document as Markdown, whose lines are not wrapped.
// Errors are those of the writer.
func WriteMarkdown(w io.Writer, d *Document) error { return write(w, d, markdown{}) }

// style lays blocks out in lines.
type style interface {
	heading(h Heading) []string
	paragraph(s string) []string
	answer(a Answer) []string
	items(items []Item) []string
	table(t *Table) []string
}

// write writes blocks with a blank line between them.
func write(w io.Writer, d *Document, s style) error {
	var out strings.Builder
	block := func(lines []string) {
		if len(lines) == 0 {
			return
		}
		if out.Len() > 0 {
			out.WriteByte('\n')
		}
		for _, line := range lines {
			out.WriteString(line)
			out.WriteByte('\n')
		}
	}
	for _, b := range d.Blocks {
		switch b := b.(type) {
		case Heading:
			block(s.heading(b))
		case Paragraph:
			block(s.paragraph(b.Text))
		case Answer:
			block(s.answer(b))
		case List:
			block(s.items(b.Items))
		case *Table:
			block(s.table(b))
			block(s.items(b.Notes))
		case Figure: // told, not drawn
			block(s.paragraph(b.Caption + ". " + b.Alternative))
		case Lines:
			block(s.paragraph(b.Prompt))
		}
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// plain is text for a terminal or a file.
type plain struct {
	width int
	bold  bool
}

func (p *plain) heading(h Heading) []string {
	h.Text = text.Plain(h.Text)
	var lines []string
	for _, line := range wrap(h.Text, p.width) {
		rule := Width(line)
		if p.bold {
			line = "\x1b[1m" + line + "\x1b[0m"
		}
		lines = append(lines, line)
		if h.Level < 3 {
			lines = append(lines, strings.Repeat([]string{"=", "-"}[h.Level-1], rule))
		}
	}
	return lines
}

func (p *plain) paragraph(s string) []string { return wrap(text.Plain(s), p.width) }

func (p *plain) answer(a Answer) []string {
	lines := wrap(text.Plain(a.Lead), p.width)
	if p.bold {
		for i := range lines {
			lines[i] = "\x1b[1m" + lines[i] + "\x1b[0m"
		}
	}
	if a.First != "" {
		for _, line := range wrap(text.Plain(a.First), p.width-Hanging) {
			lines = append(lines, spaces(Hanging)+line)
		}
	}
	narrower := *p
	narrower.width -= Hanging
	for _, line := range narrower.items(a.Items) {
		lines = append(lines, spaces(Hanging)+line)
	}
	return lines
}

func (p *plain) items(items []Item) []string {
	var lines []string
	indent := 0
	for _, i := range items {
		indent = max(indent, Width(i.Mark)+2)
	}
	for _, i := range items {
		for n, line := range wrap(text.Plain(i.Text), p.width-indent) {
			if n == 0 {
				lines = append(lines, i.Mark+spaces(indent-Width(i.Mark))+line)
			} else {
				lines = append(lines, spaces(indent)+line)
			}
		}
		for _, line := range i.Lines { // not broken: they would not be what they are
			lines = append(lines, spaces(indent+copied)+line)
		}
	}
	return lines
}

// copied is how much further in lines stand that are to be copied.
const copied = 4

func (p *plain) table(t *Table) []string { return t.unmarked().plain(p.width) }

// markdown is text with marks for its structure.
type markdown struct{}

func (markdown) heading(h Heading) []string {
	return []string{strings.Repeat("#", h.Level+1) + " " + escape(h.Text)}
}

func (markdown) paragraph(s string) []string { return []string{escape(s)} }

func (m markdown) answer(a Answer) []string {
	lines := []string{"**" + escape(a.Lead) + "**"}
	if a.First != "" {
		lines = append(lines, "", escape(a.First))
	}
	return append(append(lines, ""), m.items(a.Items)...)
}

func (markdown) items(items []Item) []string {
	var lines []string
	for _, i := range items {
		mark := "- "
		if trimmed := strings.TrimLeft(i.Mark, " "); trimmed != "" && trimmed != Bullet {
			mark = spaces(len(i.Mark)-len(trimmed)) + "- **" + escape(trimmed) + "** "
		}
		lines = append(lines, mark+escape(i.Text))
		if len(i.Lines) > 0 {
			within := spaces(len(mark) - len(strings.TrimLeft(mark, " ")) + 2)
			lines = append(lines, "", within+"```toml")
			for _, line := range i.Lines {
				lines = append(lines, within+line)
			}
			lines = append(lines, within+"```", "")
		}
	}
	return lines
}

func (markdown) table(t *Table) []string { return t.unmarked().markdown() }

var escapes = strings.NewReplacer(`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "<", `\<`, ">", `\>`, "|", `\|`)

// escape makes a text mean only itself in Markdown.
func escape(s string) string { return escapes.Replace(text.Plain(s)) }
