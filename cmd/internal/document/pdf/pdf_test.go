package pdf

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strings"
	"testing"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"example.org/holdfast/cmd/internal/document"
)

// square is a drawing of a given size, with its number of times drawn.
type square struct {
	width, height float64
	drawn         *int
}

func (s square) WriteSVG(io.Writer) error { return nil }
func (s square) Size() (w, h float64)     { return s.width, s.height }
func (s square) PlacePDF(doc *fpdf.Fpdf, x, y float64) {
	*s.drawn++
	doc.Rect(x, y, s.width, s.height, "D")
}

// long is a document with a table over several pages, wide cells, figures that
// are too tall and too wide for a page, and letters of every kind.
func long(drawn *int) *document.Document {
	d := &document.Document{Title: "A title", Subtitle: "and another", Day: time.Date(2024, 12, 31, 0, 0, 0, 0, time.UTC)}
	d.Contents("Contents")
	for part := range 4 {
		d.Heading(1, fmt.Sprintf("Part %d", part))
		d.Heading(2, "Ελληνικά, кириллица, עברית, 漢字")
		d.Paragraph(strings.Repeat("words and words ", 120))
		d.List([]document.Item{{Mark: document.Bullet, Text: "one"}, {Mark: "A term", Text: strings.Repeat("what it means ", 30)}})
		t := &document.Table{Columns: []document.Column{
			{Title: "Group", Wraps: true}, {Title: "Number of joints", Align: document.Right}, {Title: "Estimate, %", Align: document.Decimal}, {Title: "Never filled"}, {Title: "Remarks"},
		}, Notes: []document.Item{{Mark: "a", Text: "a remark"}}, Caption: "A caption"}
		for i := range 70 {
			if i%20 == 0 {
				t.Section(fmt.Sprintf("Section %d", i/20))
			}
			t.Add(strings.Repeat("unbroken", i%9*10)+" word", fmt.Sprint(i*997), fmt.Sprintf("%d.%d (1.0 to 2.0)", i%120, i%10), "", strings.Repeat("x", i%3))
			t.Rows[len(t.Rows)-1].Repeats = i % 2
		}
		d.Table(t)
		d.Figure(document.Figure{Drawing: square{480, 300, drawn}, Caption: "One", Notes: []string{"A note."}})
		d.Figure(document.Figure{Drawing: square{480, 2000, drawn}, Caption: "Tall"})
		d.Figure(document.Figure{Drawing: square{900, 100, drawn}, Caption: "Wide"})
		d.Lines("To be filled in", 6)
	}
	d.Paragraph("The end.")
	return d
}

func TestWrite(t *testing.T) {
	drawn := 0
	var a, b bytes.Buffer
	for _, w := range []*bytes.Buffer{&a, &b} {
		if err := Write(w, long(&drawn), nil); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("not the same the second time")
	}
	if drawn != 2*2*12 { // two documents, laid out twice, with twelve figures
		t.Errorf("%d figures were drawn", drawn)
	}
	file := a.String()
	for _, want := range []string{"%PDF-1.", "/Lang (en-GB)", "/Type /Outlines", "/CreationDate (D:20241231000000)", "/ToUnicode"} {
		if !strings.Contains(file, want) {
			t.Errorf("no %q", want)
		}
	}
	for _, bad := range []string{"/JavaScript", "/JS", "/Launch", "/URI"} {
		if strings.Contains(file, bad) {
			t.Errorf("there is %q", bad)
		}
	}
	// A bookmark for each heading; a link for each part in the contents.
	if n := len(regexp.MustCompile(`/Dest \[`).FindAllString(file, -1)); n < 8+4 {
		t.Errorf("%d places are led to, want 8 bookmarks and 4 links", n)
	}
}

// TestNothingRunsOffThePage lays documents out and looks at where the next block
// would begin: within the page.
func TestNothingRunsOffThePage(t *testing.T) {
	drawn := 0
	d := long(&drawn)
	for n := range d.Blocks {
		if testing.Short() && n%5 != 0 {
			continue
		}
		cut := *d
		cut.Blocks = d.Blocks[:n+1]
		w, err := layOut(&cut, nil, marks{})
		if err != nil {
			t.Fatal(err)
		}
		if w.y > pageHeight-bottom+15 {
			t.Errorf("after block %d, %T, at %.0f of %.0f", n, d.Blocks[n], w.y, pageHeight-bottom)
		}
		if len(w.pending) > 0 {
			t.Errorf("after block %d %d figures were left out", n, len(w.pending))
		}
	}
}

// A heading stands on the page of the small table under it, wherever on a page they come; lines
// to write on that end a document fill its page.
func TestHeadingStaysWithItsTable(t *testing.T) {
	for lines := range 60 {
		d := new(document.Document)
		for range lines {
			d.Paragraph("A line.")
		}
		d.Heading(1, "Head")
		table := &document.Table{Columns: []document.Column{{Title: "One"}}}
		for range 7 {
			table.Add("1")
		}
		d.Table(table)
		w, err := layOut(d, nil, marks{})
		if err != nil {
			t.Fatal(err)
		}
		if head, last := w.heading[lines], w.doc.PageNo(); head != last {
			t.Errorf("after %d lines the heading stands on page %d, its table ends on %d", lines, head, last)
		}
		d.Lines("To be filled in", 3)
		if w, err = layOut(d, nil, marks{}); err != nil {
			t.Fatal(err)
		}
		if w.y > pageHeight-bottom+4 {
			t.Errorf("after %d lines, those to write on run off the page", lines)
		}
	}
}

func TestWrap(t *testing.T) {
	w, err := layOut(&document.Document{}, nil, marks{})
	if err != nil {
		t.Fatal(err)
	}
	w.set(body)
	for _, text := range []string{"one two three four", "metal-on-crosslinked-polyethylene", strings.Repeat("unbroken", 40), "4.2 % of 30", "", "漢字漢字漢字漢字", "a"} {
		for _, width := range []float64{5, 20, 60, 200} {
			lines := w.wrap(text, width)
			for _, line := range lines {
				if w.width(line) > width && len([]rune(line)) > 1 {
					t.Errorf("%q at %v: line %q is %.1f wide", text, width, line, w.width(line))
				}
			}
			joined := strings.Join(lines, "")
			if strings.ReplaceAll(joined, " ", "") != strings.ReplaceAll(text, " ", "") {
				t.Errorf("%q at %v: %q", text, width, lines)
			}
		}
	}
}

// plainDrawing can't stand on a page.
type plainDrawing struct{}

func (plainDrawing) WriteSVG(io.Writer) error { return nil }

func TestFigureThatCannotBePlaced(t *testing.T) {
	d := new(document.Document)
	d.Figure(document.Figure{Drawing: plainDrawing{}, Caption: "x"})
	if err := Write(io.Discard, d, nil); err == nil {
		t.Error("no error")
	}
}
