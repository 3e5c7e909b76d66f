package document

import (
	"errors"
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
