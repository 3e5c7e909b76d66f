package words

import (
	"fmt"
	"strings"
)

// Nearest returns the one of several words that is closest to the typed one,
// for "did you mean". Case, accents and punctuation are not counted. Closeness
// is the number of letters to insert, delete, replace or swap with the next;
// at most a third of the longer word's letters, else the answer is "". Of words
// equally close the first is returned.
func Nearest(typed string, among []string) string {
	want := []rune(strings.ReplaceAll(Fold(typed), " ", ""))
	best, bestDistance := "", -1
	for _, candidate := range among {
		have := []rune(strings.ReplaceAll(Fold(candidate), " ", ""))
		most := max(len(want), len(have)) / 3
		if len(want) == 0 || max(len(want)-len(have), len(have)-len(want)) > most {
			continue // the difference in length alone is too far
		}
		if d := distance(want, have); d <= most && (bestDistance < 0 || d < bestDistance) {
			best, bestDistance = candidate, d
		}
	}
	return best
}

// distance is the Damerau–Levenshtein distance in the form in which no part is
// edited twice.
func distance(a, b []rune) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			replace := last[j-1]
			if a[i-1] != b[j-1] {
				replace++
			}
			row[j] = min(replace, last[j]+1, row[j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

// DidYouMean is that word as part of a message; "" if none is near.
func DidYouMean(typed string, among []string) string {
	if near := Nearest(typed, among); near != "" {
		return fmt.Sprintf(" (did you mean %q?)", near)
	}
	return ""
}
