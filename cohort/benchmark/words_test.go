package benchmark

import (
	"math/rand/v2"
	"strings"
	"testing"
)

// A word that is said to be folded is, and every folded one of ASCII is said to be.
func TestFolded(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 20_000 {
		var b strings.Builder
		for range r.IntN(6) {
			b.WriteString([]string{"a", "z", "-", "0", "|", " ", "  ", "A", "Z", "\t", "\n", "\u2013", "é", "É", "\u00a0"}[r.IntN(15)])
		}
		s := b.String()
		slow := strings.Join(strings.Fields(strings.ToLower(dashes.Replace(s))), " ")
		if fold(s) != slow || folded(s) && s != slow {
			t.Fatalf("%q folds to %q, want %q", s, fold(s), slow)
		}
		ascii := strings.IndexFunc(s, func(c rune) bool { return c > 0x7f }) < 0
		if ascii && s == slow && !folded(s) {
			t.Fatalf("%q is not known to be folded", s)
		}
	}
}
