package command

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cmd/holdfast/internal/report"
	"example.org/holdfast/cohort"
)

// propose writes a settings file that says how tables were understood, with
// the evidence, and as commented lines what is left to settle. Read back as it
// is, it changes nothing.
func propose(out io.Writer, c *cohort.Cohort, set *settings, names []string) error {
	w := bufio.NewWriter(out)
	line := func(format string, args ...any) { fmt.Fprintf(w, format+"\n", args...) }
	line("# Settings for holdfast, proposed from %s.", comment(strings.Join(names, ", ")))
	line("# A line that begins with # says nothing yet: settle it, and take the # away.")
	line("")
	if d := c.Closing; d.Asked {
		line("closing_date = %s  # given", d.Day)
	} else {
		line("# closing_date = %s  # found in row %d, column %s; up to which day is follow-up complete?", d.Day, d.Row, d.Column)
	}
	proposeDates(line, c, set)
	var bounds []string
	for _, b := range c.AgeBands()[1:] {
		bounds = append(bounds, strconv.Itoa(b.From))
	}
	line("age_bands = [%s]", strings.Join(bounds, ", "))
	if len(set.Missing) > 0 {
		line("missing = %s", list(set.Missing))
	} else {
		line(`# missing = ["99"]  # words of your own for a missing value`)
	}
	for _, key := range []struct {
		name  string
		files []string
	}{{"revisions", set.Revisions}, {"deaths", set.Deaths}, {"published", set.Published}} {
		if len(key.files) > 0 {
			line("%s = %s", key.name, list(key.files))
		}
	}

	line("")
	line(`[columns]  # heading = column; "" leaves a heading out`)
	done := make(map[string]bool)
	for _, k := range c.Completeness() {
		h := k.Heading
		if h.Typed == "" || done[h.Typed] {
			continue
		}
		done[h.Typed] = true
		filled := ""
		if k.Counted {
			filled = fmt.Sprintf("; %d of %d rows have a value", k.Rows-k.Missing, k.Rows)
		}
		switch {
		case h.How == cohort.LeftOut:
			line(`%s = ""  # left out`, report.TOML(h.Typed))
		case h.Column != "":
			line("%s = %s  # %s%s%s", report.TOML(h.Typed), report.TOML(h.Column), h.How, filled, evidence(c, h))
		case len(h.Between) > 0:
			line(`# %s = ""  # not clear: %s%s`, report.TOML(h.Typed), strings.Join(h.Between, " or "), filled)
		default:
			line(`# %s = ""  # %s%s`, report.TOML(h.Typed), h.How, filled)
		}
	}

	proposeWords(line, c, set)
	if len(set.Assume) > 0 {
		line("")
		line("[assume]")
		for _, column := range slices.Sorted(keys(set.Assume)) {
			line("%s = %s", column, report.TOML(set.Assume[column]))
		}
	}
	if len(set.Where) > 0 {
		line("")
		line("[where]")
		for _, column := range slices.Sorted(keys(set.Where)) {
			line("%s = %s", report.TOML(column), list(set.Where[column]))
		}
	}
	return w.Flush()
}

// proposeDates writes the order of day and month, and the pivot.
func proposeDates(line func(string, ...any), c *cohort.Cohort, set *settings) {
	orders := make(map[cohort.DateOrder]bool)
	for _, f := range c.Files {
		for _, o := range f.DateOrders {
			name := map[cohort.DateOrder]string{cohort.DayFirst: "day-first", cohort.MonthFirst: "month-first"}[o.Order]
			switch {
			case orders[o.Order]:
			case o.From == "":
				line("date_order = %q  # given", name)
			default:
				line("# date_order = %q  # settled by the table's own dates in %s", name, o.From)
			}
			orders[o.Order] = true
		}
	}
	if set.Pivot != nil {
		line("pivot = %d", *set.Pivot)
	} else {
		line("# pivot = 30  # two-digit years below it are 20yy, others 19yy; without it they are refused")
	}
}

// proposeWords writes the words explained already, and those that are not
// known.
func proposeWords(line func(string, ...any), c *cohort.Cohort, set *settings) {
	for _, column := range c.Words() {
		explained := set.Words[column.Column]
		var unknown []cohort.Word
		for _, w := range column.Words {
			if !w.Known && !w.FreeText() {
				unknown = append(unknown, w)
			}
		}
		if len(explained) == 0 && len(unknown) == 0 {
			continue
		}
		line("")
		line("[words.%s]", column.Column)
		for _, typed := range slices.Sorted(keys(explained)) {
			line("%s = %s", report.TOML(typed), report.TOML(explained[typed]))
		}
		for _, w := range unknown {
			line(`# %s = ""  # rows: %d; kept as a group of its own`, report.TOML(w.Typed), w.Rows)
		}
	}
}

// evidence names the five commonest words of a heading's column and how many
// of its rows were understood; nothing for a column without words.
func evidence(c *cohort.Cohort, h cohort.Heading) string {
	for _, column := range c.Words() {
		if column.Column != h.Column || h.Column == "" {
			continue
		}
		var common []string
		known := 0
		for i, w := range column.Words {
			if i < 5 {
				common = append(common, fmt.Sprintf("%s (%d)", comment(w.Typed), w.Rows))
			}
			if w.Known {
				known += w.Rows
			}
		}
		return fmt.Sprintf(", %d understood: %s", known, strings.Join(common, ", "))
	}
	return ""
}

// comment is a text that stays within one comment.
func comment(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, s)
}

func list(items []string) string {
	quoted := make([]string, len(items))
	for i, s := range items {
		quoted[i] = report.TOML(s)
	}
	return "[" + strings.Join(quoted, ", ") + "]"
}
