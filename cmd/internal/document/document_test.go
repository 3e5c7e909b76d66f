package document

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

type full struct{}

var errFull = errors.New("full")

func (full) Write([]byte) (int, error) { return 0, errFull }

func TestWriterError(t *testing.T) {
	d := new(Document)
	d.Paragraph("anything")
	if err := WriteText(full{}, d, TextOptions{}); !errors.Is(err, errFull) {
		t.Errorf("got %v", err)
	}
	if err := WriteMarkdown(full{}, d); !errors.Is(err, errFull) {
		t.Errorf("got %v", err)
	}
}

func TestWrap(t *testing.T) {
	for _, c := range []struct {
		text string
		most int
		want []string
	}{
		{"one two three", 7, []string{"one two", "three"}},
		{"about 4.2 % revised", 9, []string{"about", "4.2 %", "revised"}},
		{"metal-on-crosslinked-polyethylene", 22, []string{"metal-on-crosslinked-", "polyethylene"}},
		{"of metal-on-crosslinked-polyethylene", 14, []string{"of metal-on-", "crosslinked-", "polyethylene"}},
		{"abcdefgh", 3, []string{"abc", "def", "gh"}},
		{"陶瓷陶瓷", 5, []string{"陶瓷", "陶瓷"}},
		{"", 5, []string{""}},
	} {
		if diff := cmp.Diff(c.want, wrap(c.text, c.most)); diff != "" {
			t.Errorf("wrap(%q, %d):\n%s", c.text, c.most, diff)
		}
	}
}

// TestWord: a word from right to left keeps its place among others on a page;
// plain text has no marks, nor has anybody's own.
func TestWord(t *testing.T) {
	const hebrew = "שלום"
	if got, want := Word(hebrew), "\u2068"+hebrew+"\u2069"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := Word("\u2069plain\u202e\x1b[1m"); got != "plain[1m" {
		t.Errorf("got %q", got)
	}
	d := new(Document)
	d.Heading(3, "A "+Word(hebrew))
	d.Paragraph("B " + Word(hebrew) + " 4.2 %")
	d.List([]Item{{Mark: Bullet, Text: "C " + Word(hebrew)}})
	table := &Table{Columns: []Column{{Title: "D"}}}
	table.Section("E " + Word(hebrew))
	table.Add("F " + Word(hebrew))
	d.Table(table)
	if p := d.Blocks[1].(Paragraph); p.Text != "B \u2068"+hebrew+"\u2069 4.2 %" {
		t.Errorf("the document has %q", p.Text)
	}
	var plain, markdown strings.Builder
	if err := errors.Join(WriteText(&plain, d, TextOptions{}), WriteMarkdown(&markdown, d)); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{plain.String(), markdown.String()} {
		if strings.ContainsAny(text, "\u2068\u2069") || strings.Count(text, hebrew) != 5 {
			t.Errorf("%q", text)
		}
	}
}

// Lines to be copied stand under their text as they are, however long.
func TestLinesToCopy(t *testing.T) {
	d := new(Document)
	line := `"` + strings.Repeat("long ", 30) + `" = "side"`
	d.List([]Item{{Mark: "1", Text: "Is it?", Lines: []string{"[columns]", line}}})
	var plain, marked strings.Builder
	if err := WriteText(&plain, d, TextOptions{Width: 60}); err != nil {
		t.Fatal(err)
	}
	if err := WriteMarkdown(&marked, d); err != nil {
		t.Fatal(err)
	}
	if want := "1  Is it?\n       [columns]\n       " + line + "\n"; plain.String() != want {
		t.Errorf("got %q, want %q", plain.String(), want)
	}
	if want := "- **1** Is it?\n\n  ```toml\n  [columns]\n  " + line + "\n  ```\n\n"; marked.String() != want {
		t.Errorf("got %q, want %q", marked.String(), want)
	}
}
