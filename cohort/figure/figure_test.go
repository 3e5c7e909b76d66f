package figure

import (
	"bytes"
	"encoding/xml"
	"image"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"codeberg.org/go-fonts/liberation/liberationserifregular"
	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/text"
)

// sampler draws every kind of line and marker, with a word beside each.
type sampler []string

func (l sampler) height(vg.Length) vg.Length { return 20*vg.Length(len(l)) + 60 }

func (l sampler) paint(p *pen, top, width vg.Length) {
	q := &panel{style: labelText, axes: axes{x: evenScale(10, 2), y: percentScale(.1, 10)}, xTitle: "Years since operation", yTitle: "Cumulative revision, %"}
	a := q.axes
	a.area = vg.Rectangle{Min: vg.Point{X: 150, Y: 40}, Max: vg.Point{X: 290, Y: top - 5}}
	p.frame(a, q)
	strokes := []stroke{thickStroke, thickBar, thinStroke, {publishedInk, 1, dashes[1]}}
	for i, w := range l {
		y := top - 15 - 20*vg.Length(i)
		p.text(labelText, vg.Point{X: 0, Y: y}, left, p.fit(labelText, word(w), 100))
		p.line(strokes[i%len(strokes)], vg.Point{X: 160, Y: y}, vg.Point{X: 280, Y: y})
		p.marker(shape(i%2), vg.Point{X: 220, Y: y}, 3, white, ownInk)
	}
}

func sample(words ...string) *Figure {
	data := [][]string{{"word"}}
	for _, w := range words {
		data = append(data, []string{w})
	}
	f := &Figure{Title: "Markers and lines", Subtitle: "Invented.", Alternative: "A line for each.", Notes: []string{"Invented words."}, data: data, groups: words}
	return f.stacked(300, sampler(words))
}

// Words in several scripts and of several kinds of mischief; all invented.
var scripts = []string{
	"cemented", "κεραμικό", "керамика", "קרמיקה 12 (אב)", "陶瓷对陶瓷",
	`<script>alert("x")</script>`, "=1+1", "a\x00b\x1bc\u202eevil\u2066", strings.Repeat("long ", 1000), "Z͑ͫ̓ͪ̂ͫ̽͏̴̙̤̞͉͚̯̞̠͍A", "\xff\xfe bad", "a&b'\"<>",
}

func TestOutputs(t *testing.T) {
	f := sample(scripts...)
	var svg, again, pdf, pdf2 bytes.Buffer
	for _, w := range []*bytes.Buffer{&svg, &again} {
		if err := f.WriteSVG(w); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(svg.Bytes(), again.Bytes()) {
		t.Error("SVG differs the second time")
	}
	d := xml.NewDecoder(bytes.NewReader(svg.Bytes()))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if e, ok := tok.(xml.StartElement); ok && (e.Name.Local == "script" || e.Name.Local == "image") {
			t.Errorf("element %s", e.Name.Local)
		}
	}
	for _, w := range []*bytes.Buffer{&pdf, &pdf2} {
		if err := f.WritePDF(w); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(pdf.Bytes(), pdf2.Bytes()) {
		t.Error("PDF differs the second time")
	}
	if !bytes.Contains(pdf.Bytes(), []byte("/FontFile2")) {
		t.Error("no font in the PDF")
	}
	look(t, f, "sampler")
}

// look leaves pictures of a figure where FIGURES says, for a person to look at,
// and checks the size and that something is drawn.
func look(t *testing.T, f *Figure, name string) {
	t.Helper()
	sizes := []int{96}
	if os.Getenv("FIGURES") != "" {
		sizes = append(sizes, 200)
	}
	for _, dpi := range sizes {
		var b bytes.Buffer
		if err := f.WritePNG(&b, dpi); err != nil {
			t.Fatal(err)
		}
		data := b.Bytes()
		img, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		want := image.Pt(int((f.Width+2*f.margin()).Dots(float64(dpi))+.5), int((f.Height+2*f.margin()).Dots(float64(dpi))+.5))
		if got := img.Bounds().Size(); got != want {
			t.Errorf("%s: %v pixels at %d dpi, want %v", name, got, dpi, want)
		}
		if blank(img) {
			t.Errorf("%s: blank at %d dpi", name, dpi)
		}
		save(t, name+map[int]string{96: "-96", 200: "-200"}[dpi]+".png", data)
	}
	var svg, pdf bytes.Buffer
	if err := f.WriteSVG(&svg); err != nil {
		t.Fatal(err)
	}
	if err := f.WritePDF(&pdf); err != nil {
		t.Fatal(err)
	}
	save(t, name+".svg", svg.Bytes())
	save(t, name+".pdf", pdf.Bytes())
}

func save(t *testing.T, name string, data []byte) {
	t.Helper()
	if dir := os.Getenv("FIGURES"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// blank reports whether an image is of one colour.
func blank(img image.Image) bool {
	b := img.Bounds()
	first := img.At(b.Min.X, b.Min.Y)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if img.At(x, y) != first {
				return false
			}
		}
	}
	return true
}

// A font of the caller's own is measured, drawn and embedded; what is no
// TrueType font is refused.
func TestReadFont(t *testing.T) {
	font, err := text.ReadFont(liberationserifregular.TTF)
	if err != nil {
		t.Fatal(err)
	}
	f := sample(scripts...)
	f.Font = font
	var svg, pdf bytes.Buffer
	if err := f.WriteSVG(&svg); err != nil {
		t.Fatal(err)
	}
	if err := f.WritePDF(&pdf); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(svg.String(), "&#39;Liberation Serif&#39;, Liberation Sans") {
		t.Error("the SVG does not ask for the font")
	}
	if !bytes.Contains(pdf.Bytes(), []byte(font.Regular.Key)) {
		t.Error("the PDF does not have the font")
	}
	look(t, f, "sampler-serif")
	cut := liberationserifregular.TTF
	for name, b := range map[string][]byte{
		"nothing": nil, "text": []byte("not a font at all"), "PostScript outlines": []byte("OTTO\x00\x01"),
		"half a font": cut[:len(cut)/2], "a header alone": cut[:12],
	} {
		if _, err := text.ReadFont(b); err == nil {
			t.Errorf("%s was taken for a font", name)
		}
	}
}

// A document's own settings are as they were after a figure was put on it.
func TestPlacePDF(t *testing.T) {
	doc := fpdf.New("P", "pt", "A4", "")
	doc.SetCompression(false)
	doc.AddPage()
	doc.SetFont("Helvetica", "B", 11)
	doc.SetTextColor(1, 2, 3)
	doc.SetXY(50, 60)
	sample("one", "two").PlacePDF(doc, 40, 100)
	sample("one", "two").Untitled().PlacePDF(doc, 40, 400)
	if err := doc.Error(); err != nil {
		t.Fatal(err)
	}
	x, y := doc.GetXY()
	size, _ := doc.GetFontSize()
	r, g, b := doc.GetTextColor()
	if x != 50 || y != 60 || doc.GetFontFamily() != "helvetica" || doc.GetFontStyle() != "B" || size != 11 || r != 1 || g != 2 || b != 3 {
		t.Errorf("now %v %v %s %s %v, text %d %d %d", x, y, doc.GetFontFamily(), doc.GetFontStyle(), size, r, g, b)
	}
	other := fpdf.New("P", "mm", "A4", "")
	other.AddPage()
	sample("one").PlacePDF(other, 0, 0)
	if other.Error() == nil {
		t.Error("a document in millimetres was taken")
	}
}
