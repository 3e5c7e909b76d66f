package cohort_test

import (
	"errors"
	"io"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
)

// A table that needs more memory than there is for it is refused before it is read to
// its end, with the number of its rows and of those that would fit; of a pipe, whose
// rows nobody can count, once too many have come.
func TestTooLarge(t *testing.T) {
	const rows = 30_000
	text := inventedTable(rows)
	for _, test := range []struct {
		name   string
		from   io.Reader
		memory int64
		refuse bool
		pipe   bool
	}{
		{"a file", strings.NewReader(text), 1 << 19, true, false},
		{"a file of which all rows fit", strings.NewReader(text), 1 << 30, false, false},
		{"a file, nobody knows how much there is", strings.NewReader(text), 0, false, false},
		{"a pipe", io.MultiReader(strings.NewReader(text)), 1 << 19, true, true},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := cohort.Read(t.Context(), []cohort.Source{{Name: "large.csv", Reader: test.from}}, cohort.Options{Memory: test.memory, Columns: map[string]string{"joint_id": ""}})
			var large *cohort.TooLargeError
			if errors.As(err, &large) != test.refuse {
				t.Fatal(err)
			}
			if !test.refuse {
				return
			}
			if !test.pipe && (large.More || large.Rows < rows*9/10 || large.Rows > rows*11/10) || large.Rows > rows*11/10 {
				t.Errorf("of %d rows: %v", rows, large)
			}
			if each := large.Need / large.Rows; large.Fit != test.memory/each || large.Fit >= large.Rows {
				t.Errorf("with %d bytes a row: %v", each, large)
			}
			if !strings.Contains(large.Error(), "large.csv: ") {
				t.Error(large)
			}
		})
	}
}
