package html

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"example.org/holdfast/cmd/internal/document"
)

type drawing struct {
	svg string
	err error
}

func (d drawing) WriteSVG(w io.Writer) error {
	io.WriteString(w, d.svg)
	return d.err
}

const bad = `<script>alert("1")</script>'&`

func written(t *testing.T, d *document.Document) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, d); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestEscapes puts markup wherever a text can stand.
func TestEscapes(t *testing.T) {
	d := &document.Document{Title: bad, Subtitle: bad, Language: bad}
	d.Heading(1, bad)
	d.Paragraph(bad)
	d.List([]document.Item{{Mark: bad, Text: bad}})
	d.List([]document.Item{{Mark: document.Bullet, Text: bad}})
	table := &document.Table{Columns: []document.Column{{Title: bad}, {}}, Caption: bad, Notes: []document.Item{{Mark: bad, Text: bad}}}
	table.Section(bad)
	table.Add(bad, bad)
	table.Rows = append(table.Rows, document.Row{Cells: []string{bad, bad}, Repeats: 1})
	d.Table(table)
	d.Figure(document.Figure{Drawing: drawing{svg: "<?xml?><svg></svg>"}, Caption: bad, Alternative: bad, Notes: []string{bad}})
	d.Contents(bad)
	d.Lines(bad, 2)
	got := written(t, d)
	if strings.Contains(got, "<script") || strings.Contains(got, `alert("`) || strings.Contains(got, "<?xml") {
		t.Errorf("markup of a text is in the page:\n%s", got)
	}
	if n := strings.Count(got, "&lt;script&gt;"); n < 20 {
		t.Errorf("the text stands there %d times", n)
	}
}

func TestStructure(t *testing.T) {
	d := &document.Document{Title: "Title", Subtitle: "Subtitle"}
	d.Contents("Contents")
	d.Heading(1, "Part")
	d.Heading(2, "Within")
	table := &document.Table{Columns: []document.Column{{Title: "Year"}, {Title: "Empty"}, {Title: "Estimate", Align: document.Decimal}}}
	table.Add("1", "", "4.2 (1.0 to 9.9)")
	table.Rows = append(table.Rows, document.Row{Cells: []string{"1", "", "12.5"}, Repeats: 1})
	table.Add("", "", "3.1")
	d.Table(table)
	got := written(t, d)
	for _, want := range []string{
		`<html lang="en-GB">`, "<title>Title – Subtitle</title>", `<h2 id="part-1">Part</h2>`, `<h3 id="part-2">Within</h3>`, `<a href="#part-1">Part</a>`,
		`<th scope="col">Year</th><th scope="col" class="decimal">Estimate</th>`, `>Table 1: Within</caption>`,
		`<th scope="row"><span class="unseen">1</span></th><td class="decimal">12.5</td>`, "<td class=\"decimal\">\u20074.2 (1.0 to 9.9)</td>",
		"<tr><td></td><td class=\"decimal\">\u20073.1", // nothing heads the row
		`content="default-src 'none'; style-src 'unsafe-inline'"`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no %s", want)
		}
	}
	if strings.Contains(got, "Empty") {
		t.Error("a column without a cell is shown")
	}
}

func TestDrawingErrors(t *testing.T) {
	failed := errors.New("failed")
	for _, c := range []drawing{{err: failed}, {svg: "nothing"}} {
		d := new(document.Document)
		d.Figure(document.Figure{Drawing: c})
		if err := Write(io.Discard, d); err == nil || c.err != nil && !errors.Is(err, failed) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// A source is led to from where it is named and led back to, a page with contents leads
// to them first, and a table that a telephone has room for is no stop of the keyboard.
func TestLinks(t *testing.T) {
	d := new(document.Document)
	d.Title = "A report"
	d.Paragraph("Above what is published [a], not [c].")
	d.Contents("Contents")
	d.Heading(1, "Hips")
	narrow := &document.Table{Columns: []document.Column{{Title: "Year"}, {Title: "Joints"}}}
	narrow.Add("2010", "12")
	d.Table(narrow)
	wide := &document.Table{Columns: []document.Column{{Title: "Cumulative"}, {Title: "metal-on-crosslinked-polyethylene"}, {Title: "ceramic-on-polyethylene"}}}
	wide.Add("1", "2", "3")
	d.Table(wide)
	d.List([]document.Item{{Mark: "[a]", Text: "a register"}, {Mark: "[b]", Text: "another"}})
	var b strings.Builder
	if err := Write(&b, d); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`<a class="skip" href="#contents">`, `<nav id="contents"`, `[<a href="#source-a" id="source-a-from">a</a>], not&nbsp;[c].`,
		`<dt id="source-a">[a]</dt><dd>a register <a href="#source-a-from">back</a></dd>`, `<dt id="source-b">[b]</dt><dd>another</dd>`,
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %s in %s", want, b.String())
		}
	}
	if n := strings.Count(b.String(), `tabindex="0"`); n != 1 {
		t.Errorf("%d stops, want that of the wide table", n)
	}
}
