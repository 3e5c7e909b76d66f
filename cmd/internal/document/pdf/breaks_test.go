package pdf

import (
	"slices"
	"testing"

	"example.org/holdfast/cmd/internal/document"
)

// Where a table of rows ten high is parted, counted by hand: "d" is a row, "s" a
// section's heading, "r" a remark.
func TestBreaks(t *testing.T) {
	for _, test := range []struct {
		why               string
		rows              string
		room, page, notes float64
		want              []int
	}{
		{"it fits", "ddddd", 50, 100, 0, nil},
		{"four stay and four go on", "dddddddd", 60, 100, 0, []int{4}},
		{"two would stay: it begins on a new page", "dddddd", 20, 100, 0, []int{0}},
		{"six can't be parted in fours", "dddddd", 50, 100, 0, []int{0}},
		{"no heading stands last", "ddddsdddd", 50, 100, 0, []int{4}},
		{"a remark stays with its row", "dddddrdddd", 50, 100, 0, []int{4}},
		{"notes take the last four with them", "dddddddd", 80, 100, 20, []int{4}},
		{"pages of ten", "dddddddddddddddddddddddd", 50, 100, 0, []int{5, 15}},
		{"four go on, though more fit", "ddddddddddddddddddddddddddd", 50, 100, 0, []int{5, 15, 23}},
		{"longer than a page, three over", "ddddddddddddd", 100, 100, 0, []int{9}},
	} {
		t.Run(test.why, func(t *testing.T) {
			var rows []line
			for _, r := range test.rows {
				l := line{height: 10}
				switch r {
				case 'd':
					l.Row = document.Row{Cells: []string{"x"}}
				case 's':
					l.Row = document.Row{Section: "x"}
				case 'r':
					l.Row = document.Row{Section: "x", Remark: true}
				}
				rows = append(rows, l)
			}
			if got := breaks(rows, test.room, test.page, test.notes); !slices.Equal(got, test.want) {
				t.Errorf("parted before %v, want %v", got, test.want)
			}
		})
	}
}
