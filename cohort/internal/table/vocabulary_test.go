package table

import (
	"math/rand/v2"
	"testing"
)

// A cell has the number of its word, wherever it stands in a text and whatever stands
// behind it there.
func TestNumberOfACellAnywhere(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 16))
	text := make([]byte, 400)
	words := typedWords{shared: newVocabulary("surgeon"), number: make(map[string]uint32)}
	numbers := make(map[string]uint32)
	for range 20_000 {
		for i := range 20 { // few letters, so that cells come again
			text[r.IntN(len(text)/20)*20+i] = "ab\x00"[r.IntN(3)]
		}
		from := r.IntN(len(text))
		to := min(from+r.IntN(6)+r.IntN(2)*13, len(text))
		cell := text[from:to]
		if r.IntN(4) == 0 {
			cell = text[from:to:to]
		}
		got := words.numberOf(cell, 2)
		want, known := numbers[string(cell)]
		if !known {
			want = got
			numbers[string(cell)] = got
		}
		if got != want || words.shared.numberOf(string(cell)) != got {
			t.Fatalf("%q has number %d, and had %d", cell, got, want)
		}
	}
}
