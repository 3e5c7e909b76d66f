package text

import (
	"io"
	"slices"
	"strings"
)

// page collects the lines of a text.
type page struct {
	options Options
	width   int
	out     strings.Builder
}

func newPage(o Options) *page {
	w := o.Width
	if w <= 0 {
		w = defaultWidth
	}
	return &page{options: o, width: max(w, leastWidth)}
}

func (p *page) writeTo(w io.Writer) error {
	_, err := io.WriteString(w, p.out.String())
	return err
}

// block writes lines, a blank one before them unless they are the first.
func (p *page) block(lines ...string) {
	if len(lines) == 0 {
		return
	}
	if p.out.Len() > 0 {
		p.out.WriteByte('\n')
	}
	for _, line := range lines {
		p.out.WriteString(line)
		p.out.WriteByte('\n')
	}
}

// heading writes a title: 1 for a part of the report, 2 for a joint and
// procedure, 3 within these.
func (p *page) heading(level int, s string) {
	s = clean(s)
	if p.options.Markdown {
		p.block(strings.Repeat("#", level+1) + " " + escape(s))
		return
	}
	var lines []string
	for _, line := range wrap(s, p.width) {
		rule := width(line)
		if p.options.Bold {
			line = "\x1b[1m" + line + "\x1b[0m"
		}
		lines = append(lines, line)
		if level < 3 {
			lines = append(lines, strings.Repeat([]string{"=", "-"}[level-1], rule))
		}
	}
	p.block(lines...)
}

// paragraph writes sentences, wrapped.
func (p *page) paragraph(sentences ...string) {
	s := clean(strings.Join(sentences, " "))
	switch {
	case s == "":
	case p.options.Markdown:
		p.block(escape(s))
	default:
		p.block(wrap(s, p.width)...)
	}
}

// item is a text with a mark before it.
type item struct{ mark, text string }

// items writes texts under one another, each with its mark before it.
func (p *page) items(items []item) {
	var lines []string
	indent := 0
	for _, i := range items {
		indent = max(indent, width(i.mark)+2)
	}
	for _, i := range items {
		s := clean(i.text)
		if p.options.Markdown {
			mark := "- "
			if trimmed := strings.TrimLeft(i.mark, " "); trimmed != "" && trimmed != bullet {
				mark = spaces(len(i.mark)-len(trimmed)) + "- **" + escape(trimmed) + "** "
			}
			lines = append(lines, mark+escape(s))
			continue
		}
		for n, line := range wrap(s, p.width-indent) {
			if n == 0 {
				lines = append(lines, i.mark+spaces(indent-width(i.mark))+line)
			} else {
				lines = append(lines, spaces(indent)+line)
			}
		}
	}
	p.block(lines...)
}

const bullet = "·"

// bullets writes texts as a list.
func (p *page) bullets(texts []string) {
	var all []item
	for _, t := range texts {
		all = append(all, item{bullet, t})
	}
	p.items(all)
}

// table writes a table, with its footnotes under it.
func (p *page) table(t *table, f *footnotes) {
	if !slices.ContainsFunc(t.rows, func(r row) bool { return r.cells != nil }) {
		return
	}
	for i := range t.rows {
		t.rows[i].section = clean(t.rows[i].section)
		for j, cell := range t.rows[i].cells {
			t.rows[i].cells[j] = clean(cell)
		}
	}
	if p.options.Markdown {
		p.block(t.markdown()...)
	} else {
		p.block(t.plain(p.width)...)
	}
	if f != nil {
		p.items(f.all())
	}
}

// again is a cell that repeats the one above: left empty in plain text, where
// the eye runs down the column.
func (p *page) again(cell string) string {
	if p.options.Markdown {
		return cell
	}
	return ""
}

var escapes = strings.NewReplacer(`\`, `\\`, "`", "\\`", "*", `\*`, "_", `\_`, "[", `\[`, "]", `\]`, "<", `\<`, ">", `\>`, "|", `\|`)

// escape makes a text mean only itself in Markdown.
func escape(s string) string { return escapes.Replace(s) }

// footnotes are the remarks under one table, in the order in which they occur.
type footnotes struct {
	signs   []item
	items   []item
	letters map[string]string
}

func newFootnotes() *footnotes { return &footnotes{letters: make(map[string]string)} }

// letter is the mark of a remark.
func (f *footnotes) letter(text string) string {
	if l, ok := f.letters[text]; ok {
		return l
	}
	l := letters(len(f.letters))
	f.letters[text] = l
	f.items = append(f.items, item{l, text})
	return l
}

// sign explains a mark that is no letter.
func (f *footnotes) sign(mark, text string) {
	for _, it := range f.signs {
		if it.mark == mark {
			return
		}
	}
	f.signs = append(f.signs, item{mark, text})
	slices.SortFunc(f.signs, func(a, b item) int { return strings.Compare(a.mark, b.mark) })
}

// all are the remarks, signs first.
func (f *footnotes) all() []item { return slices.Concat(f.signs, f.items) }

// letters numbers by letters: a to z, then aa, ab and so on.
func letters(n int) string {
	s := string(rune('a' + n%26))
	if n >= 26 {
		return letters(n/26-1) + s
	}
	return s
}
