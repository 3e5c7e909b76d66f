package report

import (
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
)

// Short names for what documents are made of.
type (
	item   = document.Item
	column = document.Column
	row    = document.Row
	table  = document.Table
)

const (
	right   = document.Right
	decimal = document.Decimal
	bullet  = document.Bullet
)

// page collects what is to be said.
type page struct{ document.Document }

func (p *page) heading(level int, s string)   { p.Heading(level, s) }
func (p *page) paragraph(sentences ...string) { p.Paragraph(sentences...) }
func (p *page) items(items []item)            { p.List(items) }

// bullets adds texts as a list.
func (p *page) bullets(texts []string) {
	var all []item
	for _, t := range texts {
		all = append(all, item{Mark: bullet, Text: t})
	}
	p.items(all)
}

// table adds a table, with its footnotes under it.
func (p *page) table(t *table, f *footnotes) {
	if f != nil {
		t.Notes = f.all()
	}
	p.Table(t)
}

// footnotes are the remarks under one table, in the order in which they occur.
type footnotes struct {
	signs []item
	items []item
	marks map[string]string
}

func newFootnotes() *footnotes { return &footnotes{marks: make(map[string]string)} }

// mark is that of a remark. Letters are the published sources'.
func (f *footnotes) mark(text string) string {
	if m, ok := f.marks[text]; ok {
		return m
	}
	signs := [...]string{"†", "‡", "§", "¶"}
	n := len(f.marks)
	m := strings.Repeat(signs[n%len(signs)], n/len(signs)+1)
	f.marks[text] = m
	f.items = append(f.items, item{Mark: m, Text: text})
	return m
}

// sign explains a mark that stands for itself.
func (f *footnotes) sign(mark, text string) {
	for _, it := range f.signs {
		if it.Mark == mark {
			return
		}
	}
	f.signs = append(f.signs, item{Mark: mark, Text: text})
	slices.SortFunc(f.signs, func(a, b item) int { return strings.Compare(a.Mark, b.Mark) })
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
