package command

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"example.org/holdfast/cohort/exchange"
	"example.org/holdfast/cohort/text"
)

// inCells measures a text of letters that take one place each.
var inCells text.Measure = func(s string) float64 { return float64(utf8.RuneCountInString(s)) }

// columnsWritten are the sections of help columns on files whose columns say themselves
// what they hold.
func columnsWritten() string {
	var b strings.Builder
	for _, file := range []struct {
		title   string
		columns []exchange.Column
	}{
		{"holdfast check --cohort: a row for each joint, and a column for each further word column", exchange.JointColumns()},
		{"holdfast tally: a row for each group and day, and a column for each further one of --by", exchange.TallyColumns()},
	} {
		fmt.Fprintf(&b, "\n\n%s", file.title)
		for _, c := range file.columns {
			kind := c.Type
			if c.Unit != "" && c.Unit != c.Type {
				kind += ", " + c.Unit
			}
			line := fmt.Sprintf("%s: %s (%s)", c.Name, c.Help, kind)
			for i, part := range inCells.Wrap(line, 78) {
				indent := "\n  "
				if i > 0 {
					indent = "\n    "
				}
				b.WriteString(indent + part)
			}
		}
	}
	return b.String()
}
