package document

import (
	"strings"

	"github.com/olekukonko/tablewriter/pkg/twwidth"

	"example.org/holdfast/cohort/text"
)

// What a text on a page is made with, see package text.
var (
	Clean = text.Clean
	Word  = text.Word
)

// Width is the number of columns a text takes on a terminal.
func Width(s string) int { return twwidth.WidthWithOptions(s, twwidth.Options{}) }

// columns measures texts for a terminal.
var columns text.Measure = func(s string) float64 { return float64(Width(s)) }

// Cut shortens a text to so many columns.
func Cut(s string, most int) string { return columns.Cut(s, float64(most)) }

// wrap breaks a text into lines of at most so many columns.
func wrap(s string, most int) []string { return columns.Wrap(s, float64(max(most, 2))) }

// spaces is a text of n spaces.
func spaces(n int) string { return strings.Repeat(" ", max(n, 0)) }
